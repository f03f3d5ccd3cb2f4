"""Takes of several holes at once, marks of style and slow slides, whose truth is known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from hearing.playing import Played, Shape, lifted
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.pitch_curve import pitch_curve
from reedmill.score.score import Note, Score
from reedmill.score.style import Mark
from reedmill.theory.positions import Position

BEGIN_S, GAP_S = 0.8, 0.05

TONGUE_BLOCKS = """drill "Tongue blocks"
  tempo 84
  play -1&4 -2&3:2 slap -2 shake -4&5:2 scoop -3q fall -4:2 pull 5 -1&2&3 vibrato4 -4:2
    -3:1~:2 -3'':3 -2 -3~-3' 4 5 2&3&4:2 r
"""


TONGUE_LIFTS = """drill "Tongue lifts"
  tempo 84
  play -3 -2 -4:2~-1&2&3&4:2 -1&2&3&4:2~-4:2 -3 -3' -4~-1&4~-4:2 -2:2 -3 r
"""


def score_of_text(text: str, harp: str = "C") -> Score:
    """The drill written in *text* on a *harp* in cross harp."""
    [drill] = parse(text, "together.drill")
    return expand(drill, Harp(harp), Position(2))


def in_time(
    score: Score, off: Callable[[int], float] = lambda _: 0.0, *, pace: float = 1.0,
    begin_s: float = BEGIN_S,
) -> list[Played]:  # fmt: skip
    """*score* as it is written, but that single note n is *off(n)* cents from its place.

    Tones stand beside each other in the list; holes that sound together begin together.
    """
    found: list[Played] = []
    for number, note in enumerate(score.notes):
        after = score.notes[number + 1] if number + 1 < len(score.notes) else None
        gap_s = 0.0 if after is not None and after.joined else GAP_S
        start_s = begin_s + pace * float(score.performed_s(note.start))
        end_s = begin_s + pace * float(score.performed_s(note.end)) - gap_s
        if Mark.SHAKE in note.style:
            found += _shaken(score, note, number, start_s, end_s, pace)
        elif note.beside:
            found += [_held(each.hz, number, start_s, end_s) for each in note.sounded]
        else:
            found += _single(score, number, start_s, end_s, off(number), pace)
    return found


def _held(hz: float, number: int, start_s: float, end_s: float) -> Played:
    return Played(number, start_s, end_s, hz, hz, 0.0, Shape.PLAIN, False, 0.0, "not-judged")


def _shaken(
    score: Score, note: Note, number: int, start_s: float, end_s: float, pace: float
) -> Iterator[Played]:
    half_s = pace * float(score.seconds(Fraction(1))) / (2 * (note.style.a_beat or 1))
    turns = round((end_s - start_s) / half_s)
    for turn in range(turns):
        at_s = start_s + turn * half_s
        yield _held(note.sounded[turn % 2].hz, number, at_s, at_s + half_s)


def _single(
    score: Score, number: int, start_s: float, end_s: float, off: float, pace: float
) -> Iterator[Played]:
    """Tones of one hole: an instant of its neighbours, the note with its way in, and its fall."""
    note = score.notes[number]
    hz = lifted(note.hz, off)
    curve = pitch_curve(score, note, score.notes[number - 1] if number and note.joined else None)
    into = next((each for each in curve.glides if each.start_s == 0), None)
    off_it = next((each for each in curve.glides if each.start_s > 0), None)
    moving_s = 0.0 if into is None else into.lasting_s * (pace if note.slide_beats else 1.0)
    shape = Shape.VIBRATO if curve.wave else Shape.SCOOP if into else Shape.PLAIN
    from_hz = hz if into is None else lifted(hz, into.from_cents)
    away_s = end_s if off_it is None else end_s - off_it.lasting_s
    if Mark.SLAP in note.style or Mark.PULL in note.style:
        at_s = start_s if Mark.SLAP in note.style else end_s - 0.06
        yield from (_held(hz * share, number, at_s, at_s + 0.06) for share in (0.8, 0.64))
    yield Played(number, start_s, away_s, hz, from_hz, moving_s, shape, note.joined, 0.0, "on")
    if off_it is not None:
        fallen = lifted(hz, off_it.to_cents)
        lasting_s = off_it.lasting_s
        yield Played(number, away_s, end_s, fallen, hz, lasting_s, Shape.SINK, True, 0.0, "on")
