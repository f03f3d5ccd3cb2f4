"""Scores made by hand for tests of the renderers, without the pattern language."""

from __future__ import annotations

from fractions import Fraction

from reedmill.base.source import Span
from reedmill.base.text import ForeignText
from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.score.score import Meter, Note, Role, Score
from reedmill.theory.intonation import intonation_named
from reedmill.theory.positions import Position


def score_from(
    music: str,
    *,
    harp: str = "C",
    position: int = 2,
    tempo: int = 60,
    meter: tuple[int, int] = (4, 4),
    title: str = "Test tune",
    about: str = "",
    intonation: str = "equal",
    reference_hz: float = 440.0,
) -> Score:
    """A score from words like ``-2 -3:1/2 ~-3':3/2 r:2``: tab, length in beats, ~ to slide in."""
    on, where = Harp.parse(harp), Position(position)
    key, tuning = where.key(on.fifths), intonation_named(intonation)
    notes: list[Note] = []
    now = Fraction(0)
    for column, word in enumerate(music.split(), start=1):
        tab, _, length_text = word.lstrip("~").partition(":")
        length = Fraction(length_text or 1)
        if tab != "r":
            heard = note_on_harp(on, where, Reed.parse(tab))
            hz = tuning.hz(heard.midi, key.pitch_class, reference_hz)
            span = Span("tune", 1, column, len(word))
            notes.append(
                Note(now, length, heard.reed, heard.pitch, heard.degree, hz, Role.FREE, span,
                     joined=word.startswith("~"))
            )  # fmt: skip
        now += length
    bars = -(-now // meter[0])
    return Score(
        title=ForeignText(title), about=ForeignText(about), level=None, tempo_bpm=tempo,
        meter=Meter(*meter), harp=on, position=where, notes=tuple(notes),
        length=Fraction(bars * meter[0]), intonation=tuning, reference_hz=reference_hz,
    )  # fmt: skip
