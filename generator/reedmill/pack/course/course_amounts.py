"""The size of a course, computed before any of it is made.

Lessons, drills, harps, positions, embouchures, ladders and students multiply: a few lines may
ask for thousands of hours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.expand.over import choruses_for
from reedmill.pack.course.course import Course, Entry, editions
from reedmill.pack.course.limits import MAX_NOTES, MAX_SOUND_HOURS, MAX_TASKS
from reedmill.pack.course.tasks import LessonRow, at_pace, charts, planned
from reedmill.score.score import Score


@dataclass(frozen=True, slots=True)
class Amount:
    """The pieces, notes and seconds of sound of a course, or of a row of it."""

    pieces: int
    notes: int = 0
    sound_s: float = 0.0  # in all files together

    def __add__(self, other: Amount) -> Amount:
        """Return the sum of both amounts."""
        return Amount(
            self.pieces + other.pieces, self.notes + other.notes, self.sound_s + other.sound_s
        )

    @property
    def excess(self) -> str:
        """Say what exceeds its limit; empty when nothing does."""
        if self.pieces > MAX_TASKS:
            return f"{MAX_TASKS:,} pieces"
        if self.notes > MAX_NOTES:
            return f"{MAX_NOTES:,} notes"
        return f"{MAX_SOUND_HOURS} hours of sound" if self.sound_s > MAX_SOUND_HOURS * 3600 else ""


def excess(course: Course) -> str:
    """Say what *course* has too much of, counted over all students; empty when nothing.

    Counting stops where there is too much.
    """
    return next(filter(None, (each.excess for each in accumulate(_amounts(course)))), "")


def _amounts(course: Course) -> Iterator[Amount]:
    """Yield the amount of every row of every edition."""
    lengths: dict[int, Score | None] = {}  # by the id of its entry, which the course keeps alive
    known: dict[tuple[int, int], Amount] = {}  # and by the pace of the student
    for edition in editions(course):
        for row in planned(edition):
            if not isinstance(row, LessonRow):
                yield Amount(1)
                continue
            key = (id(row.entry), edition.pace_percent)
            if key not in known:
                known[key] = _amount(row, lengths)
            yield known[key]
        yield from (Amount(1) for _ in charts(edition))


def _amount(row: LessonRow, lengths: dict[int, Score | None]) -> Amount:
    """Return the amount of one row; it is the same on every harp and in every position."""
    at = id(row.entry)
    if at not in lengths:
        lengths[at] = _played(row)
    score = lengths[at]
    if score is None:
        return Amount(1)
    tempo, recording = at_pace(row)
    if recording is None:
        return Amount(1, len(score.notes))
    paced = replace(score, tempo_bpm=tempo)
    return Amount(1, len(score.notes), float(recording.sound_s(paced)))


def _played(row: LessonRow) -> Score | None:
    """Return the score of *row* over its band; ``None`` when it cannot be made."""
    try:
        score = expand(row.entry.drill, row.harp, row.position)
        return _over_band(score, row.entry)
    except InputError:
        return None  # told of that row when it is made


def _over_band(score: Score, entry: Entry) -> Score:
    if entry.backing is None:
        return score
    form, meter = entry.backing.form, entry.backing.feel.meter
    choruses = entry.backing.choruses or choruses_for(score, len(form.bars), meter)
    length = Fraction(len(form.bars) * choruses * meter.beats)
    return replace(score, length=length, meter=meter)
