"""Whole choruses from phrases: a form filled two bars at a time, on one harp."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.band.accompany import USUAL_FEEL, with_tempo_notice
from reedmill.band.arranger import arrange
from reedmill.band.phrase_picking import (
    PHRASES_A_FOUR,
    Phrase,
    PickedPhrase,
    form_slots,
    picked_phrases,
)
from reedmill.band.shelf import find_feel, find_form
from reedmill.base.articles import with_article
from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import NO_TEXT, ForeignText, printable
from reedmill.expand import expand
from reedmill.expand.over import in_meter_of, joined_over_band
from reedmill.harp import Harp, Reed
from reedmill.language.drill import Drill
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Caution, Embouchure, Score
from reedmill.theory.intonation import EQUAL, Intonation
from reedmill.theory.positions import Position

USUAL_PHRASE_CHORUSES = 2
"""The choruses of phrases: one goes round again and one ends."""


@dataclass(frozen=True, slots=True)
class ChorusPlan:
    """The form and feel that phrases fill, and which phrases may be taken."""

    form: str  # a title, or a .form file
    feel: str = USUAL_FEEL  # a title, or a .feel file
    choruses: int | None = None  # None: as usual
    seed: int = 0  # each number picks other phrases, and draws what the band chooses
    level: int | None = None  # the highest that is taken; None: all
    rungs: tuple[Reed, ...] | None = None  # the only bends and overbends that are; None: all
    tempo_bpm: int | None = None  # None: the slow end of the feel


@dataclass(frozen=True, slots=True)
class PhrasedChorus:
    """A form filled with phrases: its score, and which phrase stands where and why."""

    score: Score
    picked: tuple[PickedPhrase, ...]

    def data(self) -> dict[str, object]:
        """Return which phrases it took as plain data: a row of ``expand --phrases --json``."""
        return {
            "title": self.score.title,
            "harp": self.score.harp.full_name,
            "position": self.score.position.number,
            "picked": [
                {
                    "chorus": each.slot.chorus + 1,
                    "bar": each.slot.bar + 1,
                    "over": each.slot.place.name,
                    "phrase": each.phrase.drill.title,
                    "level": each.phrase.drill.level,
                    "because": each.reason,
                }
                for each in self.picked
            ],
        }


def phrased(
    phrases: Sequence[Drill],
    harp: Harp,
    position: Position,
    plan: ChorusPlan,
    *,
    intonation: Intonation = EQUAL,
    reference_hz: float = 440.0,
    embouchure: Embouchure | None = None,
) -> PhrasedChorus:
    """Fill the form of *plan* with *phrases* on *harp* in *position*.

    Drills that say nothing of what they stand over are passed over, and those that are meant for
    other positions.  ``InputError`` where nothing fits, or as ``expand``.
    """
    form, feel = find_form(plan.form), find_feel(plan.feel)
    choruses = USUAL_PHRASE_CHORUSES if plan.choruses is None else plan.choruses
    tempo = feel.tempo_bpm if plan.tempo_bpm is None else plan.tempo_bpm
    band = arrange(
        form, feel, harp.key_in(position), choruses=choruses, tempo_bpm=tempo, seed=plan.seed
    )
    known, lost = list[Phrase](), list[Drill]()
    for drill in _meant_for(phrases, position):
        try:
            score = expand(
                drill, harp, position, tempo_bpm=tempo, intonation=intonation,
                reference_hz=reference_hz, embouchure=embouchure,
            )  # fmt: skip
        except PatternError as error:
            if error.key not in _OF_THE_HARP:
                raise
            lost.append(drill)
            continue
        known.append(Phrase(drill, in_meter_of(score, band)))
    if not known:
        raise InputError(_none_meant(phrases, position))
    picked = picked_phrases(known, form_slots(form, choruses), band, _lack(plan), plan.seed)
    score = with_tempo_notice(_joined(picked, band, plan, lost), feel)
    return PhrasedChorus(replace(score, embouchure=embouchure), tuple(picked))


def _none_meant(phrases: Sequence[Drill], position: Position) -> str:
    numbers = sorted({number for drill in phrases if drill.over for number in drill.positions})
    if not numbers:
        return (
            "there are no phrases here that this harp can play. A phrase has a line that says what "
            "it is over, such as: over I"
        )
    *most, last = (Position(number).ordinal for number in numbers)
    meant = f"{', '.join(most)} or {last}" if most else last
    return f"no phrase here is meant for {position.ordinal} position; they are for {meant}."


# a harp that lacks a reed, which is no mistake of a phrase: it was written for another tuning
_OF_THE_HARP = frozenset({
    "bend-too-deep", "no-note-to-bend-to", "bend-of-the-other-reed", "no-overbend",
    "no-reed-for-degree", "degree-needs-overbend", "no-slide-between-degrees",
    "no-breath-for-degrees",
})  # fmt: skip


def _meant_for(phrases: Sequence[Drill], position: Position) -> list[Drill]:
    return [
        drill
        for drill in phrases
        if drill.over and (not drill.positions or position.number in drill.positions)
    ]


def _lack(plan: ChorusPlan) -> Callable[[Phrase], str]:
    """Return a function that says what a player lacks for a phrase; nothing where he is ready."""

    def lacking(phrase: Phrase) -> str:
        level = phrase.drill.level or 1
        if plan.level is not None and level > plan.level:
            return f'"{phrase.drill.title}" is of level {level}.'
        learned = {reed.tab for reed in plan.rungs or ()}
        new = phrase.bends - learned
        if plan.rungs is not None and new:
            return f'"{phrase.drill.title}" needs {" ".join(sorted(new))}.'
        return ""

    return lacking


def _joined(
    picked: Sequence[PickedPhrase], band: Arrangement, plan: ChorusPlan, lost: Sequence[Drill]
) -> Score:
    whole = joined_over_band([(_starts_at(each, band), each.phrase.score) for each in picked], band)
    levels = [each.phrase.drill.level for each in picked if each.phrase.drill.level]
    return replace(
        whole,
        title=printable("Whole choruses"),
        sections=_fours(picked, band),
        about=printable("Two bars at a time, each phrase for the chord it stands over."),
        listen=NO_TEXT,
        level=max(levels, default=None),
        variant=_variant(plan, band),
        warnings=(*whole.warnings, *_left_out(lost, whole)),
    )


def _fours(
    picked: Sequence[PickedPhrase], band: Arrangement
) -> tuple[tuple[Fraction, ForeignText], ...]:
    """Return a section for every two phrases of a chorus, named by both and by its chorus."""
    found: list[tuple[Fraction, ForeignText]] = []
    for number in range(band.choruses):
        chorus = [each for each in picked if each.slot.chorus == number]
        for at in range(0, len(chorus), PHRASES_A_FOUR):
            four = chorus[at : at + PHRASES_A_FOUR]
            titles = ", ".join(each.phrase.drill.title for each in four)
            head = f"Chorus {number + 1}: " if at == 0 and band.choruses > 1 else ""
            found.append((_starts_at(four[0], band), printable(head + titles)))
    return tuple(found)


def _starts_at(picked: PickedPhrase, band: Arrangement) -> Fraction:
    """Return the beat at which a phrase begins."""
    bar = picked.slot.chorus * band.bars_a_chorus + picked.slot.bar
    return Fraction(bar * band.meter.beats)


def _left_out(lost: Sequence[Drill], whole: Score) -> list[Caution]:
    """Return a warning where phrases need what the harp does not have."""
    if not lost:
        return []
    count = (
        f"{len(lost)} phrases need notes" if len(lost) > 1 else f'"{lost[0].title}" needs a note'
    )
    were = "were" if len(lost) > 1 else "was"
    return [
        Caution(
            f"{count} that {with_article(whole.harp.label)} does not have, and {were} left out",
            lost[0].span,
        )
    ]


def _variant(plan: ChorusPlan, band: Arrangement) -> tuple[str, ...]:
    """Name every unusual choice, in words for file names."""
    rungs = [f"{reed.breath.value} {reed.hole} {_depth(reed)}" for reed in plan.rungs or ()]
    words = {
        band.feel: band.feel != USUAL_FEEL,
        f"{band.tempo_bpm} bpm": plan.tempo_bpm is not None,
        f"{band.choruses} chorus{'' if band.choruses == 1 else 'es'}": plan.choruses is not None,
        f"seed {plan.seed}": plan.seed != 0,
        f"level {plan.level}": plan.level is not None,
        f"rungs {' '.join(rungs) or 'none'}": plan.rungs is not None,
    }
    return tuple(word for word, unusual in words.items() if unusual)


def _depth(reed: Reed) -> str:
    if reed.over:
        return "over"
    return f"bent {reed.bend}{' quarter' if reed.quarter else ''}"
