"""Questions for the ear: the anchor is played, then a rung, and the student says which.

The rungs that are asked for are drawn by a seed.  The laws, which the tests hold:

- Every rung is asked equally often, or once more than another.
- Neither a rung nor a group of rungs comes three times in a row, and four never follow one
  another as on a ladder, so that nobody can guess from what came before; where a few rungs
  leave no such order, the one drawn last is taken.
- Rungs of one pitch, such as draw 2 and blow 3, are one answer: no ear tells them apart.
- Equal drills, choices and seeds give equal questions, on every harp the same rungs.
"""

from __future__ import annotations

import hashlib
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy
from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT, printable
from reedmill.harp.together import OneBreath, holes_tab, holes_words
from reedmill.score.reed_pitches import sounding_reed
from reedmill.score.score import Feel, Meter, Note, Role, Score, SoundingReed

QUESTIONS, PAUSES_S = range(1, 41), range(2, 31)
"""How many questions a recording may have, and the seconds to answer each in."""

CLICKS = 2
"""Clicks before each question, a second apart: there is no other sign that the next one comes."""

# Seconds from tone to tone, each silent for the last eighth: long enough to be taken in without
# hurry.  Chosen by ear, no published source.
_TONE_S, _TOLD_S, _SOUNDS = 2, 1, Fraction(7, 8)
_ALIKE_CENTS = 5.0  # two reeds so near are one pitch to the ear, see Hill and Summers (2007)
_TRIES = 400
_LADDER = 4  # rungs one after the other


@dataclass(frozen=True, slots=True)
class Asking:
    """The choices for a recording of questions."""

    questions: int = 12
    seed: int = 0
    pause_s: int = 6  # to answer in
    told: bool = False  # after the pause the rungs are played, from the highest to the answer

    def __post_init__(self) -> None:
        _check("a recording of {} questions cannot be made", self.questions, QUESTIONS)
        _check("a pause of {} seconds cannot be made", self.pause_s, PAUSES_S)
        _check("a seed of {} cannot be used", self.seed, range(10**9))


def _check(what: str, value: int, allowed: range) -> None:
    if value not in allowed:
        raise InputError(f"{what.format(value)}; write {allowed[0]} to {allowed[-1]:,}.")


@dataclass(frozen=True, slots=True)
class SoundedHoles:
    """The holes of one breath: an anchor or a rung, as it sounds."""

    sounding: tuple[SoundingReed, ...]  # at least one, by hole, the lowest first

    @property
    def reeds(self) -> OneBreath:
        """The reeds, by hole."""
        return tuple(each.reed for each in self.sounding)

    @property
    def top(self) -> SoundingReed:
        """The highest hole, which is heard as the melody."""
        return self.sounding[-1]

    @property
    def tab(self) -> str:
        """The tab of all holes: ``-3'``, ``-2&3``."""
        return holes_tab(self.reeds)

    @property
    def words(self) -> str:
        """The holes in words: ``draw 3 bent a semitone``."""
        return holes_words(self.reeds)

    def sounds_as(self, other: SoundedHoles) -> bool:
        """Tell whether no ear can tell these holes from the *other* ones."""
        ours, theirs = (sorted(each.hz for each in holes.sounding) for holes in (self, other))
        return len(ours) == len(theirs) and all(
            abs(_cents(one, two)) < _ALIKE_CENTS for one, two in zip(ours, theirs, strict=True)
        )


@dataclass(frozen=True, slots=True)
class RungAnswer:
    """The right answer to a question: one rung, or several that sound alike."""

    rungs: tuple[SoundedHoles, ...]  # at least one
    cents_from_natural: float  # of the first's highest hole; less than 0 for bends

    @property
    def tab(self) -> str:
        """The tab of the rungs: ``-3'``, ``-2 or 3``."""
        return " or ".join(each.tab for each in self.rungs)


@dataclass(frozen=True, slots=True)
class RungQuestion:
    """One question of a recording."""

    number: int  # from 1
    start_s: Fraction  # seconds from the start of the recording to its clicks
    answer: RungAnswer


@dataclass(frozen=True, slots=True)
class RungQuestions:
    """The questions about the rungs of one drill, in their order."""

    drill: Score
    asking: Asking
    given: SoundedHoles  # heard first in each: the anchor, or a natural note where there is none
    answers: tuple[RungAnswer, ...]  # that may be given, the highest pitch first
    order: tuple[int, ...]  # which of them each question asks for

    @property
    def lasting_s(self) -> int:
        """The seconds of each question, its clicks included."""
        told = _TOLD_S * (len(self.answers) + 1) if self.asking.told else 0
        return CLICKS + 2 * _TONE_S + self.asking.pause_s + told

    @property
    def questions(self) -> tuple[RungQuestion, ...]:
        """The questions, as a page shows them."""
        return tuple(
            RungQuestion(number, Fraction((number - 1) * self.lasting_s), self.answers[each])
            for number, each in enumerate(self.order, start=1)
        )

    def played(self) -> Score:
        """Return all questions as a score of a second a beat, without their clicks and its name.

        Each begins after a whole number of times ``lasting_s`` less the clicks.
        """
        each_s = self.lasting_s - CLICKS
        notes = [
            note
            for number, answer in enumerate(self.order)
            for note in self._tones(answer, Fraction(number * each_s))
        ]
        score = self.drill
        return Score(
            title=printable(questions_title(score)), about=NO_TEXT, level=None,
            tempo_bpm=60, meter=Meter(1, 4), harp=score.harp, position=score.position,
            notes=tuple(notes), length=Fraction(each_s * len(self.order)),
            intonation=score.intonation, reference_hz=score.reference_hz, feel=Feel.STRAIGHT,
        )  # fmt: skip

    def _tones(self, answer: int, start: Fraction) -> list[Note]:
        """Return the tones of a question; told, its answer is the last of the rungs played."""
        rung = self.answers[answer].rungs[0]
        tones = [_tone(self.given, start, _TONE_S, Role.ANCHOR)]
        tones.append(_tone(rung, start + _TONE_S, _TONE_S, Role.RUNG))
        if self.asking.told:
            again = start + 2 * _TONE_S + self.asking.pause_s
            tones += [
                _tone(each.rungs[0], again + number * _TOLD_S, _TOLD_S, Role.RUNG)
                for number, each in enumerate(self.answers[: answer + 1])
            ]
        return tones


def _tone(holes: SoundedHoles, start: Fraction, beats: int, role: Role) -> Note:
    top = holes.top
    return Note(
        start, beats * _SOUNDS, top.reed, top.pitch, top.degree, top.hz, role, Span("", 1, 1),
        beside=holes.sounding[:-1],
    )  # fmt: skip


def rung_questions(score: Score, asking: Asking) -> RungQuestions:
    """Return the questions about the rungs of *score*; ``InputError`` where it has not two."""
    if not score.rung_holes:
        raise InputError(
            f'"{score.title}" has no rungs: it is music that is written out, and nothing in it is '
            "practised rung by rung.",
            way_out=Remedy.RUNGS_TO_ASK,
        )
    answers = _answers(score)
    if len(answers) < 2:
        raise InputError(
            f'to the ear "{score.title}" has one rung alone, {answers[0].tab}, so there is nothing '
            "to tell apart.",
            way_out=Remedy.RUNGS_TO_ASK,
        )
    natural = tuple(reed.natural for reed in score.rung_holes[0])
    given = _sounded(score, score.anchor_holes or natural)
    order = drawn_order(len(answers), asking.questions, asking.seed)
    return RungQuestions(score, asking, given, answers, order)


def _answers(score: Score) -> tuple[RungAnswer, ...]:
    """Return the pitches of the rungs, the highest first; those that sound alike are one."""
    groups: list[list[SoundedHoles]] = []
    found = [_sounded(score, holes) for holes in dict.fromkeys(score.rung_holes)]
    for each in sorted(found, key=lambda holes: -holes.top.hz):
        alike = next((group for group in groups if group[0].sounds_as(each)), None)
        if alike is None:
            groups.append([each])
        else:
            alike.append(each)
    return tuple(RungAnswer(tuple(group), _over_natural(score, group[0].top)) for group in groups)


def _over_natural(score: Score, sounding: SoundingReed) -> float:
    """Return the cents by which a reed sounds over its own natural note."""
    [natural] = _sounded(score, (sounding.reed.natural,)).sounding
    return _cents(sounding.hz, natural.hz)


def _sounded(score: Score, holes: OneBreath) -> SoundedHoles:
    return SoundedHoles(
        tuple(
            sounding_reed(score.harp, score.position, score.intonation, score.reference_hz, reed)
            for reed in holes
        )
    )


def _cents(hz: float, over_hz: float) -> float:
    return 1200 * math.log2(hz / over_hz)


# --- what is drawn ------------------------------------------------------------------------


def drawn_order(answers: int, questions: int, seed: int) -> tuple[int, ...]:
    """Return which of *answers*, from 0, each question asks for, drawn by *seed*."""
    chance = random.Random(f"{seed} {answers} {questions}")  # noqa: S311  no secret
    for _ in range(_TRIES):
        order = _drawn(answers, questions, chance)
        if not any(foreseen(order[:end]) for end in range(1, questions + 1)):
            break
    return order


def _drawn(answers: int, questions: int, chance: random.Random) -> tuple[int, ...]:
    """Draw from as many of each answer as there are, none that can be foreseen if it helps."""
    every, more = divmod(questions, answers)
    once_more = sorted(range(answers), key=lambda _: chance.random())[:more]
    left = [every + (each in once_more) for each in range(answers)]
    order: tuple[int, ...] = ()
    while any(left):
        there = [each for each in range(answers) if left[each]]
        free = [each for each in there if not foreseen((*order, each))] or there
        place = chance.random() * sum(left[each] for each in free)
        while len(free) > 1 and place >= left[free[0]]:
            place -= left[free.pop(0)]
        order = (*order, free[0])
        left[free[0]] -= 1
    return order


def foreseen(order: Sequence[int]) -> bool:
    """Tell whether the last of *order* completes a pattern.

    That is a group that came twice just before it, or a ladder.

    >>> foreseen((0, 1, 0, 1, 0, 1)), foreseen((2, 0, 1, 2, 3)), foreseen((0, 1, 1, 0, 2))
    (True, True, False)
    """
    last = list(order[-_LADDER:])
    ladder = list(range(last[0], last[0] + _LADDER)) if last else []
    if last in (ladder, [2 * last[0] - each for each in ladder] if last else None):
        return True
    return any(
        order[-size:] == order[-2 * size : -size] == order[-3 * size : -2 * size]
        for size in range(1, len(order) // 3 + 1)
    )


# --- names that give nothing away -----------------------------------------------------------


def drill_number(score: Score) -> int:
    """Return a number of five digits for the drill of *score*, whose title may tell its holes.

    A page for the ear and its answers have it, on every harp the same.
    """
    digest = hashlib.sha256(f"{score.title}\0{score.about}".encode("utf-8", "replace")).digest()
    return 10_000 + int.from_bytes(digest[:4], "big") % 90_000


def questions_title(score: Score) -> str:
    """Return the title of a recording of questions about the rungs of *score*, and of its page."""
    return f"Which rung was it? {drill_number(score)}"


def dictation_title(score: Score) -> str:
    """Return the title of the dictation of *score*, and of its tones."""
    return f"Dictation {drill_number(score)}"


def without_plan(score: Score) -> Score:
    """Return *score* without its plan for the mouth, which no ear can hear."""
    notes = tuple(replace(note, embouchure=None) for note in score.notes)
    return replace(score, embouchure=None, notes=notes)
