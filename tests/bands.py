"""Arrangements made by hand for tests of the band's sound, without forms and feels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from reedmill.base.text import printable
from reedmill.harp import Harp
from reedmill.make.backing import silent_score
from reedmill.score.arrangement import Arrangement, Part, Struck
from reedmill.score.score import Meter, Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key, Position

FINGER_BASS, PIANO, ELECTRIC_PIANO, ORGAN, NYLON_GUITAR = 33, 0, 4, 16, 24  # General MIDI, from 0
KICK, STICK, SNARE, CLOSED, PEDAL, OPEN, CRASH, CLAVES = 36, 37, 38, 42, 44, 46, 49, 75

Stroke = tuple[Part, Fraction | int | str, Fraction | int | str, int, int]
"""Player, start and length in beats, MIDI key, velocity."""


def drums(key: int, *beats: Fraction | int | str, velocity: int = 100) -> list[Stroke]:
    return [(Part.DRUMS, beat, "1/4", key, velocity) for beat in beats]


def row(part: Part, keys: Sequence[int], length: int = 1, velocity: int = 90) -> list[Stroke]:
    """One key after another."""
    return [(part, at * length, length, key, velocity) for at, key in enumerate(keys)]


def arrangement(
    *strokes: Stroke,
    beats: int,
    tempo: int = 60,
    meter: tuple[int, int] = (4, 4),
    comp: int = PIANO,
    looseness: int = 0,
) -> Arrangement:
    notes = [
        Struck(part, Fraction(start), Fraction(length), key, velocity)
        for part, start, length, key, velocity in strokes
    ]
    return Arrangement(
        form=printable("A form"), feel=printable("A feel"), key=Key(0, minor=False),
        meter=Meter(*meter),
        tempo_bpm=tempo, choruses=1, seed=0, looseness=looseness, bars_a_chorus=beats // meter[0],
        chords=((Fraction(0), Chord.parse("I")),),
        notes=tuple(sorted(notes, key=lambda note: (note.start, note.key))),
        length=Fraction(beats),
        programs=((Part.BASS, FINGER_BASS), (Part.COMP, comp), (Part.DRUMS, 0)),
    )  # fmt: skip


def under(score: Score, band: Arrangement) -> Score:
    """*score* with *band* under it, as long as the band plays."""
    return replace(score, band=band, length=band.length, tempo_bpm=band.tempo_bpm)


def alone(band: Arrangement, reference_hz: float = 440.0) -> Score:
    return silent_score(band, Harp.parse("C"), Position(2), reference_hz)
