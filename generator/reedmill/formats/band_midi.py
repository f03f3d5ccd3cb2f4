"""The band of an Arrangement as tracks of a Standard MIDI File: chords, bass, comp, drums.

Swing and looseness are in the ticks; what MIDI has no event for is left out: which form and
feel made it but for their titles, and the written places of the notes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from reedmill.formats.midi_clock import PassTicks
from reedmill.formats.midi_file import PERCUSSION, MidiVoice, TimedMessage, held, opening
from reedmill.formats.quick_mido import MetaMessage
from reedmill.score.arrangement import Arrangement, Part, Struck
from reedmill.theory.chords import Chord


def band_tracks(
    arrangement: Arrangement, stretches: Sequence[PassTicks], *, bass: int, comp: int
) -> list[Iterator[TimedMessage]]:
    """Return the tracks of chords and players; *bass* and *comp* are channels from 0."""
    channels = {Part.BASS: bass, Part.COMP: comp, Part.DRUMS: PERCUSSION}
    players = (_played(arrangement, stretches, part, channel) for part, channel in channels.items())
    return [_chords(arrangement, stretches), *players]


def _chords(arrangement: Arrangement, stretches: Sequence[PassTicks]) -> Iterator[TimedMessage]:
    """Yield each chord symbol where it starts; the beat is written, swing does not move it."""
    yield 0, MetaMessage("track_name", name="Chords")
    for stretch in stretches:
        for start, chord in _in_force(arrangement, stretch):
            symbol = chord.symbol(arrangement.key)
            yield round(stretch.sounding(start)), MetaMessage("marker", text=symbol)


def _in_force(arrangement: Arrangement, stretch: PassTicks) -> Iterator[tuple[Fraction, Chord]]:
    """Yield the chords in force in the bars of *stretch*, the first of them at its start."""
    first, last = stretch.heard.first, stretch.heard.last
    if all(start != first for start, _ in arrangement.chords):
        yield first, arrangement.chord_at(first)
    yield from ((start, chord) for start, chord in arrangement.chords if first <= start < last)


def _played(
    arrangement: Arrangement, stretches: Sequence[PassTicks], part: Part, channel: int
) -> Iterator[TimedMessage]:
    voice = MidiVoice(part.value, channel, arrangement.program(part), velocity=64)
    yield from opening(voice)
    for stretch in stretches:
        for note in _of_bars(arrangement, part, stretch):
            start = stretch.sounding(note.start)
            end = stretch.sounding(note.start + note.length)
            yield from held(
                voice, note.key, max(round(start), 0), round(end), velocity=note.velocity
            )


def _of_bars(arrangement: Arrangement, part: Part, stretch: PassTicks) -> Iterator[Struck]:
    """Yield the strokes of *part* in *stretch*; an early stroke belongs to the bar it leads to."""
    early = arrangement.early
    first, last = stretch.heard.first, stretch.heard.last
    for note in arrangement.of(part):
        begun = first == 0 or note.start >= first - early
        if begun and (last == arrangement.length or note.start < last - early):
            yield note
