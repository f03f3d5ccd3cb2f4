"""An edition as rows to be made: each drill on its harp, expanded when asked for.

``planned`` lists the rows without expanding anything, which takes no time; ``expanded``
makes the score of one.  ``tasks`` does both, one row after the other, so that a course of a
thousand rows holds one score at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.base.errors import InputError, PatternError
from reedmill.base.ranges import TEMPI_BPM
from reedmill.base.source import Span
from reedmill.base.text import file_slug
from reedmill.expand import expand, versions
from reedmill.expand.expansion import DEFAULT_TEMPO_BPM
from reedmill.expand.taken_over import mistakes_placed_in
from reedmill.formats.table import PACK_FORMATS
from reedmill.formats.writable import check_writable
from reedmill.harp import Harp, Reed
from reedmill.pack.course.backings import with_band
from reedmill.pack.course.course import Chart, Edition, Entry, ExerciseBand, Lesson
from reedmill.pack.course.course_remedies import in_course
from reedmill.pack.course.registers import Every, HarpChoice, InKeys, Named, Rotation
from reedmill.practice.practice import Recording
from reedmill.score.score import Score
from reedmill.theory.positions import Position


@dataclass(frozen=True, slots=True)
class Failed:
    """A row that cannot be made, and why; other rows can."""

    lesson: int
    name: str  # as the row would have been called
    message: str  # for a musician
    place: Span | None = None  # of the exercise or chart in the curriculum
    error: InputError | None = None  # what the row was refused with
    row: LessonRow | None = None

    @property
    def reason(self) -> str:
        """The message with its place: in a drill, or else at the exercise of the course."""
        placed = isinstance(self.error, PatternError) or self.place is None
        return self.message if placed or not self.place else f"{self.place.place}: {self.message}"


@dataclass(frozen=True, slots=True)
class LessonRow:
    """One row of a lesson, not yet expanded: one drill on one harp in one position."""

    lesson: int
    name: str  # safe file stem, unique in the edition
    entry: Entry
    harp: Harp
    position: Position
    version: int  # which embouchure plan of the drill
    edition: Edition


@dataclass(frozen=True, slots=True)
class Task:
    """One row of a lesson with its score, from which all its files are made."""

    lesson: int
    name: str  # safe file stem, unique in the edition
    score: Score
    formats: tuple[str, ...]  # of course.FORMATS
    recording: Recording | None  # set exactly when formats has "audio"
    backing: ExerciseBand | None  # the band that plays under the score
    note: str = ""  # printable: the author's word on it


@dataclass(frozen=True, slots=True)
class ChartTask:
    """One role chart of a lesson."""

    lesson: int
    name: str  # safe file stem, unique among the charts and rows of the edition
    harp: Harp
    reeds: tuple[Reed, ...]


class _Names:
    """Makes file stems from known parts only, no two alike."""

    def __init__(self) -> None:
        self._taken: dict[str, int] = {}  # how many names were made from each

    def name(self, *parts: str) -> str:
        base = name = "-".join(part for part in parts if part)
        again = self._taken.get(base, 0)
        while name in self._taken:
            again += 1
            name = f"{base}-{again + 1}"
        self._taken[base] = again
        self._taken.setdefault(name, 0)
        return name


def tasks(edition: Edition) -> Iterator[Task | Failed]:
    """Yield every row of *edition*, expanded one at a time; a row that fails stops no other."""
    writable = Writable()
    for row in planned(edition):
        yield row if isinstance(row, Failed) else expanded(row, writable)


def planned(edition: Edition) -> Iterator[LessonRow | Failed]:
    """Yield every row of *edition* in the order of the course, without its score."""
    names = _Names()
    turn = 0
    for at, lesson in enumerate(edition.lessons):
        for entry in lesson.entries:
            if edition.leaves_out(lesson, entry):
                turn += 1  # the exercises after it keep their harps
                continue
            yield from _rows(edition, lesson, entry, _turn(entry.harps, at, turn), names)
            turn += 1


def charts(edition: Edition) -> Iterator[ChartTask | Failed]:
    """Yield every role chart of *edition*, in the order of the course."""
    names = _Names()
    for at, lesson in enumerate(edition.lessons):
        for chart in lesson.charts:
            for harp in _places(edition, chart.harps, at, chart.positions):
                name = names.name(f"{lesson.number:02d}", "roles", _harp_slug(harp))
                yield _chart_row(edition, lesson, chart, harp, name)


class Writable:
    """Checks that formats can write each row: once for all keys of harp alike."""

    def __init__(self) -> None:
        self._asked: dict[object, PatternError | None] = {}

    def check(self, row: LessonRow, score: Score, formats: tuple[str, ...]) -> None:
        """Raise ``PatternError`` for a value of *score* that one of *formats* cannot show."""
        same = id(row.entry), row.position, row.harp.layout  # which decide who slides where
        if same not in self._asked:
            self._asked[same] = None
            try:
                with mistakes_placed_in(row.entry.drill):
                    check_writable(score, formats)
            except PatternError as error:
                self._asked[same] = error
        found = self._asked[same]
        if found is not None:
            raise found


def expanded(row: LessonRow, writable: Writable | None = None) -> Task | Failed:
    """Return *row* with its score at the student's pace, or the reason there is none.

    *writable* remembers what it found out of other rows of the same course.
    """
    entry, formats = row.entry, _with_pictures(row.entry.formats)
    tempo, recording = at_pace(row)
    ladder = recording.practice.tempi_bpm if recording else ()
    try:
        score = expand(
            entry.drill,
            row.harp,
            row.position,
            tempo_bpm=tempo,
            intonation=row.edition.intonation,
            reference_hz=row.edition.reference_hz,
            version=row.version,
        )
        if entry.backing:
            score = with_band(score, entry.backing)
        score = _on_ladder(_to_own_goal(score, row), ladder)
        if recording:
            recording.plan(score)  # says now when a slide crosses a cut, or hours are asked for
        (writable or Writable()).check(row, score, formats)
    except InputError as error:
        return Failed(row.lesson, row.name, in_course(error), entry.place, error, row)
    return Task(row.lesson, row.name, score, formats, recording, entry.backing, entry.note)


def at_pace(row: LessonRow) -> tuple[int, Recording | None]:
    """Return the starting tempo of *row* and its recording, both at the student's pace."""
    recording = _paced_recording(row.entry.recording, row.edition.pace_percent)
    ladder = recording.practice.tempi_bpm if recording else ()
    return (ladder[0] if ladder else _own_tempo(row)), recording


def _own_tempo(row: LessonRow) -> int:
    own = row.entry.tempo_bpm or row.entry.drill.tempo_bpm or DEFAULT_TEMPO_BPM
    return paced(own, row.edition.pace_percent)


def _to_own_goal(score: Score, row: LessonRow) -> Score:
    """Return *score* with its goal at the student's pace, as its tempo is."""
    if score.tempo_goal_bpm is None:
        return score
    goal = paced(score.tempo_goal_bpm, row.edition.pace_percent)
    ahead = (score.tempo_goal_bpm < score.tempo_bpm) == (goal < score.tempo_bpm)
    return replace(score, tempo_goal_bpm=goal if ahead and goal != score.tempo_bpm else None)


def _on_ladder(score: Score, tempi_bpm: tuple[int, ...]) -> Score:
    """Return *score* for a tempo ladder of *tempi_bpm*, so that every page names these."""
    if not tempi_bpm:
        return score
    goal = tempi_bpm[-1] if tempi_bpm[-1] > tempi_bpm[0] else None
    return replace(score, tempo_goal_bpm=goal, tempi_bpm=tempi_bpm)


def _with_pictures(formats: tuple[str, ...]) -> tuple[str, ...]:
    """Add to *formats* the pictures of a sheet, which the page of the pack shows.

    >>> _with_pictures(("sheet", "tab")), _with_pictures(("audio",))
    (('sheet', 'png', 'tab'), ('audio',))
    """
    packs = [row.pack for name, row in PACK_FORMATS.items() if name in formats and row.pack]
    wanted = {*formats, *(name for pack in packs for name in pack.brings)}
    return tuple(name for name in PACK_FORMATS if name in wanted)


def paced(tempo_bpm: int, percent: int) -> int:
    """Return *percent* of a tempo in whole beats a minute, within the playable range.

    >>> paced(60, 75), paced(25, 50)
    (45, 20)
    """
    whole = int(Fraction(tempo_bpm * percent, 100) + Fraction(1, 2))
    return min(max(whole, TEMPI_BPM[0]), TEMPI_BPM[-1])


def _paced_recording(recording: Recording | None, percent: int) -> Recording | None:
    if recording is None or percent == 100:
        return recording
    tempi = dict.fromkeys(paced(each, percent) for each in recording.practice.tempi_bpm)
    return replace(recording, practice=replace(recording.practice, tempi_bpm=tuple(tempi)))


def _rows(
    edition: Edition, lesson: Lesson, entry: Entry, turn: int, names: _Names
) -> Iterator[LessonRow | Failed]:
    title = file_slug(entry.drill.title)
    number = f"{lesson.number:02d}"
    places = _places(edition, entry.harps, turn, entry.positions)
    if not places:
        message = _no_harp(edition, entry.harps)
        yield Failed(lesson.number, names.name(number, title), message, entry.place)
    for harp, positions in places.items():
        if edition.lacks(harp):
            name = names.name(number, title, _harp_slug(harp))
            message = _not_owned(edition, harp, entry.harps, positions)
            yield Failed(lesson.number, name, message, entry.place)
            continue
        for position in positions:
            for version in versions(entry.drill):
                parts = (title, _harp_slug(harp), position.ordinal, _plan_slug(entry, version))
                name = names.name(number, *parts)
                yield LessonRow(lesson.number, name, entry, harp, position, version, edition)


def _chart_row(
    edition: Edition, lesson: Lesson, chart: Chart, harp: Harp, name: str
) -> ChartTask | Failed:
    if edition.lacks(harp):
        message = _not_owned(edition, harp, chart.harps, chart.positions)
        return Failed(lesson.number, name, message, chart.place)
    for refusal in filter(None, map(harp.refusal, chart.reeds)):
        # of a layout of the student's own
        return Failed(lesson.number, name, ". ".join(refusal), chart.place)
    return ChartTask(lesson.number, name, harp, chart.reeds)


def _turn(choice: HarpChoice, lesson: int, exercise: int) -> int:
    by_lesson = isinstance(choice, Rotation) and choice.turn == "lesson"
    return lesson if by_lesson else exercise


def _places(
    edition: Edition, choice: HarpChoice, turn: int, positions: Sequence[Position]
) -> Mapping[Harp, Sequence[Position]]:
    """Return the harps of *choice*, each with those of *positions* in which it is played."""
    if isinstance(choice, InKeys):
        own = edition.student and edition.student.layout
        return choice.harps(edition.harps, positions, own or edition.course.layout)
    return dict.fromkeys(_harps(edition, choice, turn), positions)


def _harps(edition: Edition, choice: Named | Every | Rotation, turn: int) -> tuple[Harp, ...]:
    match choice:
        case Named(harps):
            return tuple(dict.fromkeys(map(edition.retuned, harps)))
        case Every():
            return edition.harps
        case Rotation():
            harp = choice.harp(edition.harps, turn)
            return (harp,) if harp else ()


def _harp_slug(harp: Harp) -> str:
    return file_slug(harp.full_name.replace("#", " sharp"))


def _plan_slug(entry: Entry, version: int) -> str:
    plans = entry.drill.embouchures
    return file_slug(plans[version].short) if plans else ""


def _not_owned(
    edition: Edition, harp: Harp, choice: HarpChoice, positions: Sequence[Position]
) -> str:
    have = ", ".join(each.full_name for each in edition.harps) or "none"
    lacking = f"{_who(edition)} has no {harp.label}, only: {have}. Add it to their harps, or"
    if not isinstance(choice, InKeys):
        return f'{lacking} write harps = "rotate" for this exercise.'
    roots = {harp.key_in(each).pitch_class: each for each in positions}
    key = next(each for each in choice.keys if each.pitch_class in roots)
    where = roots[key.pitch_class].ordinal
    return f"{lacking} choose another key than {key.label}, or another position than {where}."


def _no_harp(edition: Edition, choice: HarpChoice) -> str:
    have = ", ".join(each.full_name for each in edition.harps) or "none"
    wanted = " or ".join(choice.registers) if isinstance(choice, Rotation) else "any"
    return (
        f"{_who(edition)} has no {wanted} harp to play it on, only: {have}. "
        "Add one to their harps, or name another register in the rotation."
    )


def _who(edition: Edition) -> str:
    return edition.student.name if edition.student else "the course"
