"""The pitch, degree and frequency of a reed where it is played: on a harp, in a position."""

from __future__ import annotations

from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.score.score import SoundingReed
from reedmill.theory.intonation import Intonation
from reedmill.theory.pitch import quarter_lower
from reedmill.theory.positions import Position


def sounding_reed(
    harp: Harp, position: Position, intonation: Intonation, reference_hz: float, reed: Reed
) -> SoundingReed:
    """Return what *reed* sounds, with its frequency in Hz as this very harp is tuned.

    A4 is at *reference_hz*.

    >>> from reedmill.theory.intonation import EQUAL
    >>> sounding_reed(Harp("C"), Position(2), EQUAL, 440.0, Reed.parse("-3'")).pitch.name
    'Bb4'
    """
    heard = note_on_harp(harp, position, reed)
    hz = intonation.hz(heard.midi, harp.key_in(position).pitch_class, reference_hz)
    hz = harp.tuned(reed, quarter_lower(hz) if reed.quarter else hz)
    return SoundingReed(reed, heard.pitch, heard.degree, hz)
