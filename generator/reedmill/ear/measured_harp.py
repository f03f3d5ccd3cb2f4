"""The harp test: every natural note once, slowly, and the deviation of each reed.

What is played is a score like any other, so that a take of it is heard, refused and drawn as
every take.  Blow and draw may come in turn, hole by hole, or all blows before all draws.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from reedmill.base.errors import InputError
from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT
from reedmill.ear.hear import (
    HARP_TEST,
    AnotherDrillError,
    expected_of,
    heard_in,
    likeliest_harp,
    on_another_harp,
)
from reedmill.ear.heard_take import HeardTake
from reedmill.ear.take import Take, check_audible
from reedmill.ear.track import track_pitch
from reedmill.harp import HOLES, Breath, Harp, OwnHarp, OwnReeds, Reed, note_on_harp
from reedmill.harp.own_reeds import MOST_OWN_CENTS
from reedmill.score.score import Meter, Note, Role, Score
from reedmill.theory.pitch import equal_hz
from reedmill.theory.positions import Position

WORN_CENTS = 15.0
"""From here on a reed is said to stand out against the rest of its harp: a teacher's ear hears it
in an octave.  Common practice, no published source."""

_BEATS, _TEMPO_BPM = Fraction(2), 60  # two seconds a reed: time to settle and to measure
_LEAST_REEDS = 12  # of twenty: with fewer the middle of a harp depends on which were heard
_HOW = "Play blow and draw of hole 1, then of hole 2, up to 10, each for two seconds."


@dataclass(frozen=True, slots=True)
class ReedHeard:
    """One natural note of a harp test."""

    reed: Reed
    wanted_hz: float  # in equal temperament, at the A4 that was asked for
    hz: float | None  # None where it was not heard clearly
    cents: float | None  # over its place in the harp as a whole

    @property
    def stands_out(self) -> bool:
        """True where the reed is so far out that its neighbours do not hide it."""
        return self.cents is not None and abs(self.cents) >= WORN_CENTS


@dataclass(frozen=True, slots=True)
class HarpTested:
    """A harp as a harp test measured it."""

    harp: Harp
    heard: HeardTake
    reference_hz: float  # A4 of the harp as a whole
    reeds: tuple[ReedHeard, ...]  # hole by hole, blow and draw

    @property
    def missing(self) -> frozenset[Reed]:
        """The reeds that were not heard clearly."""
        return frozenset(each.reed for each in self.reeds if each.cents is None)

    def own_harp(self, name: str) -> OwnHarp:
        """Return the harp to be saved under *name* as the player's own.

        ``InputError`` where a reed is so far out that it is another note.
        """
        kept_hz = round(self.reference_hz, 1)
        moved = 1200 * math.log2(self.reference_hz / kept_hz)  # by which A4 is rounded
        cents = {each.reed: round(each.cents + moved, 1) for each in self.reeds
                 if each.cents is not None}  # fmt: skip
        far = [each for each, value in cents.items() if abs(value) > MOST_OWN_CENTS]
        if far:
            raise InputError(
                f"{far[0].words} is {abs(cents[far[0]]):.0f} cents from its place, and more than "
                f"{MOST_OWN_CENTS:g} is another note or a broken reed. Have it tuned, or play it "
                "again without bending it."
            )
        reeds = OwnReeds.of(name, cents)
        return OwnHarp(self.harp.name, self.harp.layout.name, kept_hz, reeds)


def harp_test_score(harp: Harp, reference_hz: float = 440.0, *, in_turn: bool = True) -> Score:
    """Return the score of a harp test: 1 blow, 1 draw, 2 blow... or all blows first."""
    harp = replace(harp, own=None)
    reeds = [Reed(hole, breath) for hole in HOLES for breath in Breath]
    if not in_turn:
        reeds.sort(key=lambda reed: reed.breath is Breath.DRAW)
    notes = tuple(
        _note(harp, reed, Fraction(number) * _BEATS, reference_hz)
        for number, reed in enumerate(reeds)
    )
    return Score(
        title=HARP_TEST, about=NO_TEXT, level=None, tempo_bpm=_TEMPO_BPM, meter=Meter(4, 4),
        harp=harp, position=Position(1), notes=notes, length=len(reeds) * _BEATS,
        reference_hz=reference_hz,
    )  # fmt: skip


def _note(harp: Harp, reed: Reed, start: Fraction, reference_hz: float) -> Note:
    named = note_on_harp(harp, Position(1), reed)
    hz = equal_hz(named.midi, reference_hz)
    span = Span(HARP_TEST, 1, 1)
    return Note(start, _BEATS, reed, named.pitch, named.degree, hz, Role.FREE, span)


def hear_harp(take: Take, harp: Harp, reference_hz: float = 440.0) -> HarpTested:
    """Measure the reeds of *harp* in *take*, a recorded harp test.

    ``InputError`` as of ``hear``, where too few reeds are heard to tell of the whole harp, and
    where another harp has more of what is heard.
    """
    check_audible(take)
    orders = [harp_test_score(harp, reference_hz, in_turn=each) for each in (True, False)]
    track = track_pitch(take, expected_of(orders[0]))
    found: list[HeardTake] = []
    refusals: list[InputError] = []
    for score in orders:
        try:
            found.append(heard_in(take, track, score))
        except InputError as refusal:
            refusals.append(refusal)
    if not found:
        another = next((each for each in refusals if not isinstance(each, AnotherDrillError)), None)
        raise another or _no_test(take, harp)
    heard = max(found, key=_measured)
    if _measured(heard) < len(heard.score.notes):  # harps a fifth or an octave apart share reeds
        likeliest = likeliest_harp(take, *orders)
        if likeliest not in (None, harp):
            raise on_another_harp(take, heard.score, likeliest)
    if _measured(heard) < _LEAST_REEDS:
        raise InputError(
            f"{take.name}: only {_measured(heard)} of the twenty reeds are heard clearly here. "
            f"{_HOW}"
        )
    return _tested(harp, heard, reference_hz)


def _no_test(take: Take, harp: Harp) -> InputError:
    return InputError(
        f"{take.name}: what is played here is not every natural note of {harp.spoken}, one "
        f"after another. {_HOW}"
    )


def _measured(heard: HeardTake) -> int:
    return len({note.reed for note in heard.notes if note.cents is not None})


def _tested(harp: Harp, heard: HeardTake, reference_hz: float) -> HarpTested:
    tries: dict[Reed, list[float]] = defaultdict(list)
    for note in heard.notes:
        if note.cents is not None:
            tries[note.reed].append(note.cents + heard.harp_cents)
    over = {reed: float(np.median(each)) for reed, each in tries.items()}
    middle = heard.harp_cents
    wanted = {note.reed: note.hz for note in heard.score.notes}
    return HarpTested(
        harp,
        heard,
        reference_hz * math.exp2(middle / 1200),
        tuple(
            ReedHeard(
                reed, wanted[reed],
                wanted[reed] * math.exp2(over[reed] / 1200) if reed in over else None,
                over[reed] - middle if reed in over else None,
            )
            for reed in (Reed(hole, breath) for hole in HOLES for breath in Breath)
        ),
    )  # fmt: skip
