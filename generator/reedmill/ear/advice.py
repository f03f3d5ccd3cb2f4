"""Advice from the verdicts: every rung by the note it was reached from, and a few sentences."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from reedmill.ear.advice_words import SENTENCES
from reedmill.ear.heard_take import HeardNote, Rung
from reedmill.harp import Reed, ReedKind
from reedmill.score.verdicts import Tolerance, Verdict

MOST_SENTENCES = 3  # as many things as a student can work on at once: common practice

# Common practice, no published source.
_SCATTERED_CENTS = 14.0  # from the median for half of the tries: a place not found yet
_SLOW_S = 0.25  # to find a pitch: half a beat at 120
_OFTEN_MISSED = 0.1  # of the notes: fewer are a slip, and no reason to slow down
_MOSTLY = 0.9  # of the notes, before the tempo goes up


def by_rung(notes: Sequence[HeardNote]) -> tuple[Rung, ...]:
    """Group the measured notes by reed and by the reed before, the furthest out first."""
    groups: dict[tuple[Reed, Reed | None], list[HeardNote]] = defaultdict(list)
    for note in notes:
        if note.cents is not None:
            groups[note.reed, note.before].append(note)
    rungs = [_rung(reed, before, tries) for (reed, before), tries in groups.items()]
    return tuple(sorted(rungs, key=lambda each: -abs(each.median_cents)))


def _rung(reed: Reed, before: Reed | None, tries: Sequence[HeardNote]) -> Rung:
    cents = np.array([note.cents for note in tries], dtype=float)
    middle = float(np.median(cents))
    return Rung(
        reed=reed,
        before=before,
        role=tries[0].role,
        count=len(tries),
        median_cents=middle,
        spread_cents=float(np.median(np.abs(cents - middle))),
        on=sum(note.verdict.in_place for note in tries),
        tries_cents=tuple(float(each) for each in cents),
    )


def advise(
    notes: Sequence[HeardNote], rungs: Sequence[Rung], tolerance: Tolerance
) -> tuple[str, ...]:
    """Return at most ``MOST_SENTENCES`` sentences of advice, the most important first.

    Notes that are not judged count neither as played nor as missed.
    """
    notes = [note for note in notes if note.verdict is not Verdict.NOT_JUDGED]
    said = [
        *_of_pitch(rungs, tolerance),
        *_of_other_notes(notes),
        *_of_missed(notes),
        *_of_scatter(rungs),
        *_of_time(notes),
    ]
    if not said:
        said = [_praise(notes)]
    return tuple(said[:MOST_SENTENCES])


def _of_pitch(rungs: Sequence[Rung], tolerance: Tolerance) -> list[str]:
    """Return advice on the two rungs furthest out, each with an approach that is right."""
    out = [each for each in rungs if abs(each.median_cents) > tolerance.on_cents]
    return [_out_of_place(each, rungs, tolerance) for each in out[:2]]


def _out_of_place(rung: Rung, rungs: Sequence[Rung], tolerance: Tolerance) -> str:
    side = 1 if rung.median_cents > 0 else -1
    out = [each for each in rung.tries_cents if side * each > tolerance.on_cents]
    each_time = len(out) == rung.count
    cents = rung.median_cents if each_time else float(np.median(out))
    often = _said("often", out=len(out), count=rung.count) if rung.count > 1 else ""
    said = _said(
        "out", rung=_named(rung), cents=f"{abs(cents):.0f}", often=often,
        side=SENTENCES["sharp" if side > 0 else "flat"],
        cause=_cause(rung.reed, sharp=side > 0, each_time=each_time),
    )  # fmt: skip
    right = next(
        (each.before for each in rungs
         if each.reed == rung.reed and each.before not in (None, rung.before)
         and abs(each.median_cents) <= tolerance.on_cents), None,
    )  # fmt: skip
    return said + _said("right", reed=right.words) if right else said


def _cause(reed: Reed, *, sharp: bool, each_time: bool) -> str:
    side = "sharp" if sharp else "flat"
    if reed.kind is ReedKind.BEND:
        return SENTENCES[f"bend-{side}"]
    if reed.kind is not ReedKind.NATURAL:
        return SENTENCES[f"overbend-{side}"]
    return SENTENCES["natural-sharp-always" if sharp and each_time else f"natural-{side}"]


def _said(which: str, **what: object) -> str:
    return SENTENCES[which].format(**what)


def _capital(reed: Reed) -> str:
    return reed.words[0].upper() + reed.words[1:]


def _named(rung: Rung) -> str:
    start = _capital(rung.reed)
    return _said("from", reed=start, before=rung.before.words) if rung.before else start


def _of_other_notes(notes: Sequence[HeardNote]) -> list[str]:
    """Return advice on the reed that came out as another most often."""
    counts: dict[tuple[Reed, Reed], int] = defaultdict(int)
    for note in notes:
        if note.verdict is Verdict.ANOTHER_NOTE and note.heard_as is not None:
            counts[note.reed, note.heard_as] += 1
    if not counts:
        return []
    (reed, heard), count = max(counts.items(), key=lambda each: each[1])
    of = sum(note.reed == reed for note in notes)
    return [_said("another", reed=_capital(reed), heard=heard.words, count=count, of=of)]


def _of_missed(notes: Sequence[HeardNote]) -> list[str]:
    missed = sum(note.verdict is Verdict.MISSED for note in notes)
    if not missed or missed < _OFTEN_MISSED * len(notes):
        return []
    return [_said("missed", missed=missed, of=len(notes))]


def _of_scatter(rungs: Sequence[Rung]) -> list[str]:
    wide = [each for each in rungs if each.spread_cents > _SCATTERED_CENTS
            and (each.count >= 3 or (not each.on and _on_both_sides(each)))]  # fmt: skip
    if not wide:
        return []
    worst = max(wide, key=lambda each: each.spread_cents)
    return [_said("scattered", rung=_named(worst))]


def _on_both_sides(rung: Rung) -> bool:
    return min(rung.tries_cents) < 0 < max(rung.tries_cents)


def _of_time(notes: Sequence[HeardNote]) -> list[str]:
    """Return advice on the reed that takes longest to find its pitch."""
    times: dict[Reed, list[float]] = defaultdict(list)
    for note in notes:
        if note.slide_s is not None:  # it is slow because that is written
            continue
        if note.found_after_s is not None and note.verdict.measured:
            times[note.reed].append(note.found_after_s)
    slow = {reed: float(np.median(each)) for reed, each in times.items() if len(each) >= 2}
    slow = {reed: time for reed, time in slow.items() if time > _SLOW_S}
    if not slow:
        return []
    reed = max(slow, key=lambda each: slow[each])
    return [_said("slow", reed=_capital(reed), seconds=f"{slow[reed]:.1f}")]


def _praise(notes: Sequence[HeardNote]) -> str:
    good = sum(note.verdict.in_place for note in notes)
    share = good / max(1, len(notes))
    return _said("stay" if share < _MOSTLY else "faster", good=good, of=len(notes))
