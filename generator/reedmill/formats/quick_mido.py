"""Import of mido's MIDI file writer alone, without its ports, sockets and version lookup.

Those take two thirds of the time that mido takes to import.
"""

from __future__ import annotations

import sys

from reedmill.base.unread import IMPORTING, begin

__all__ = ["Message", "MetaMessage", "MidiFile", "MidiTrack"]

with IMPORTING:
    if "mido" not in sys.modules:
        begin("mido")
    from mido.messages import Message
    from mido.midifiles import MetaMessage, MidiFile, MidiTrack
