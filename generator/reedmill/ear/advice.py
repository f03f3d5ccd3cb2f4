"""What the verdicts come to: every rung by where it was reached from, and a teacher's sentences."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from reedmill.ear.heard_take import HeardNote, Rung
from reedmill.harp import Reed, ReedKind
from reedmill.score.verdicts import Tolerance, Verdict

MOST_SENTENCES = 3

_SCATTERED_CENTS = 14.0
_SLOW_S = 0.25
_MOSTLY = 0.9  # of the notes, before the tempo goes up


def by_rung(notes: Sequence[HeardNote]) -> tuple[Rung, ...]:
    """The measured notes by reed and by the reed before, the furthest from its place first."""
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
    """At most ``MOST_SENTENCES`` sentences, what matters most first."""
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
    """The two rungs furthest out, each with where from it is right."""
    out = [each for each in rungs if abs(each.median_cents) > tolerance.on_cents]
    return [_out_of_place(each, rungs, tolerance) for each in out[:2]]


def _out_of_place(rung: Rung, rungs: Sequence[Rung], tolerance: Tolerance) -> str:
    side = 1 if rung.median_cents > 0 else -1
    out = [each for each in rung.tries_cents if side * each > tolerance.on_cents]
    each_time = len(out) == rung.count
    cents = rung.median_cents if each_time else float(np.median(out))
    often = f" in {len(out)} of {rung.count} tries" if rung.count > 1 else ""
    said = (
        f"{_named(rung)} is {abs(cents):.0f} cents {'sharp' if side > 0 else 'flat'}{often}: "
        f"{_cause(rung.reed, sharp=side > 0, each_time=each_time)}."
    )
    right = next(
        (each.before for each in rungs
         if each.reed == rung.reed and each.before not in (None, rung.before)
         and abs(each.median_cents) <= tolerance.on_cents), None,
    )  # fmt: skip
    return f"{said} From {right.words} it is right." if right else said


def _cause(reed: Reed, *, sharp: bool, each_time: bool) -> str:
    if reed.kind is ReedKind.BEND:
        return "you stop too early; go on down" if sharp else "you go too far down; stop earlier"
    if reed.kind is not ReedKind.NATURAL:
        return "let it sink a little" if sharp else "it has not come up all the way"
    if not sharp:
        return "it sinks as a bend does; open up, and breathe more softly"
    if each_time:
        return "no player pulls a reed far up, so the reed itself may be sharp; a harp test tells"
    return "hold it long and compare it with the anchor"


def _named(rung: Rung) -> str:
    start = rung.reed.words[0].upper() + rung.reed.words[1:]
    return f"{start}, from {rung.before.words}," if rung.before else start


def _of_other_notes(notes: Sequence[HeardNote]) -> list[str]:
    """The reed that came out as another most often."""
    counts: dict[tuple[Reed, Reed], int] = defaultdict(int)
    for note in notes:
        if note.verdict is Verdict.ANOTHER_NOTE and note.heard_as is not None:
            counts[note.reed, note.heard_as] += 1
    if not counts:
        return []
    (reed, heard), count = max(counts.items(), key=lambda each: each[1])
    of = sum(note.reed == reed for note in notes)
    start = reed.words[0].upper() + reed.words[1:]
    return [f"{start} came out at the pitch of {heard.words} in {count} of {of} tries: aim "
            "first, then breathe."]  # fmt: skip


def _of_missed(notes: Sequence[HeardNote]) -> list[str]:
    missed = sum(note.verdict is Verdict.MISSED for note in notes)
    if not missed or missed < 0.1 * len(notes):
        return []
    return [f"{missed} of {len(notes)} notes were not heard: play more slowly until all of them "
            "speak."]  # fmt: skip


def _of_scatter(rungs: Sequence[Rung]) -> list[str]:
    wide = [each for each in rungs if each.spread_cents > _SCATTERED_CENTS
            and (each.count >= 3 or (not each.on and _on_both_sides(each)))]  # fmt: skip
    if not wide:
        return []
    worst = max(wide, key=lambda each: each.spread_cents)
    return [f"{_named(worst)} is somewhere else each time: hold it long and compare it with the "
            "anchor."]  # fmt: skip


def _on_both_sides(rung: Rung) -> bool:
    return min(rung.tries_cents) < 0 < max(rung.tries_cents)


def _of_time(notes: Sequence[HeardNote]) -> list[str]:
    """The reed that takes longest to find its pitch."""
    times: dict[Reed, list[float]] = defaultdict(list)
    for note in notes:
        if note.found_after_s is not None and note.verdict.measured:
            times[note.reed].append(note.found_after_s)
    slow = {reed: float(np.median(each)) for reed, each in times.items() if len(each) >= 2}
    slow = {reed: time for reed, time in slow.items() if time > _SLOW_S}
    if not slow:
        return []
    reed = max(slow, key=lambda each: slow[each])
    start = reed.words[0].upper() + reed.words[1:]
    return [f"{start} takes {slow[reed]:.1f} s to find its pitch: have the mouth in place before "
            "the air moves."]  # fmt: skip


def _praise(notes: Sequence[HeardNote]) -> str:
    good = sum(note.verdict.in_place for note in notes)
    share = good / max(1, len(notes))
    if share < _MOSTLY:
        return f"{good} of {len(notes)} notes were in their place: stay at this tempo."
    return f"{good} of {len(notes)} notes were in their place: try it a little faster."
