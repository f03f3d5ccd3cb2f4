"""An Arrangement as a Standard MIDI File: chords, bass, comp and drums.

Written as ``formats.midi`` writes a drill: RP-001, format 1, General MIDI.  Swing and
looseness are in the ticks; what MIDI has no event for is left out: which form and feel
made it but for their titles, and the written places of the notes.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mido import MetaMessage

from reedmill.arrangement import Arrangement, Part
from reedmill.base.text import printable
from reedmill.formats.midi_file import (
    PERCUSSION,
    Event,
    Voice,
    conductor,
    file_bytes,
    held,
    opening,
    ticks,
)


def backing_midi_bytes(arrangement: Arrangement) -> bytes:
    """*arrangement* as a file: equal arrangements give equal bytes.

    Track 0 holds title, tempo, signatures and no notes, track 1 the chord symbols of the
    key as markers; then come bass, comp and drums, these on channel 10 alone.  Ticks are
    rounded once, from absolute time.
    """
    quarter_s = arrangement.seconds(Fraction(arrangement.meter.unit, 4))
    title = printable(f"{arrangement.form}, {arrangement.feel}, in {arrangement.key.name}")
    tracks = [
        conductor(title, quarter_s, arrangement.meter, arrangement.key),
        *band_tracks(arrangement, bass=0, comp=1),
    ]
    return file_bytes(tracks, _tick(arrangement, arrangement.length))


def band_tracks(arrangement: Arrangement, *, bass: int, comp: int) -> list[Iterator[Event]]:
    """The chords and the players on these channels, from 0; drums on the percussion channel."""
    channels = {Part.BASS: bass, Part.COMP: comp, Part.DRUMS: PERCUSSION}
    players = (_played(arrangement, part, channel) for part, channel in channels.items())
    return [_chords(arrangement), *players]


def _tick(arrangement: Arrangement, beats: Fraction) -> int:
    return round(ticks(beats, arrangement.meter))


def _chords(arrangement: Arrangement) -> Iterator[Event]:
    """The symbol of each chord where it starts; the beat is written, swing does not move it."""
    yield 0, MetaMessage("track_name", name="Chords")
    for start, chord in arrangement.chords:
        yield _tick(arrangement, start), MetaMessage("marker", text=chord.symbol(arrangement.key))


def _played(arrangement: Arrangement, part: Part, channel: int) -> Iterator[Event]:
    voice = Voice(part.value, channel, arrangement.program(part), velocity=64)
    yield from opening(voice)
    for note in arrangement.of(part):
        start, end = note.start, note.start + note.length
        yield from held(
            voice, note.key, _tick(arrangement, start), _tick(arrangement, end),
            velocity=note.velocity,
        )  # fmt: skip
