"""A course as pieces to be made: the step each file comes from, and its place.

Planning expands every row once and keeps of it what a worker needs, a kilobyte each; rows
that the store has already keep nothing but their names and facts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from reedmill.base.errors import InputError, close_match
from reedmill.base.remedies import Remedy
from reedmill.formats.table import PACK_FORMATS, ROWS, Format, Maker, made_by
from reedmill.pack.course.course import Course, Edition, Lesson, editions
from reedmill.pack.course.embouchures import format_plan
from reedmill.pack.course.tasks import (
    ChartTask,
    Failed,
    LessonRow,
    Task,
    Writable,
    charts,
    expanded,
    planned,
)
from reedmill.pack.keep.ledger import BuildScope
from reedmill.pack.pages.chapter import Chapter, Exercise, exercise_of, front_of
from reedmill.pack.plan.tracks import numbering
from reedmill.pack.steps import work
from reedmill.pack.steps.facts import Facts
from reedmill.pack.steps.steps import Step, step_of
from reedmill.practice.practice import Recording
from reedmill.sound.signal.tags import InAlbum
from reedmill.theory.positions import Position

COVER, CAUTIONS, OPENING, LOG = "cover", "cautions", "opening", "practice-log"


@dataclass(frozen=True, slots=True)
class PlannedItem:
    """The files of one step that belong at one place in the pack."""

    place: str  # path in the pack without the ending
    step: str
    kind: str  # of the step
    kinds: tuple[str, ...]  # of the files that are wanted of it; none: it goes into books alone
    facts: Facts
    edition: str
    lesson: int  # 0: of the whole edition
    exercise: str = ""  # the name of its row
    drill: str = ""  # or what else it is
    harp: str = ""
    position: int = 0
    tempo: int = 0
    embouchure: str = ""  # the plan for the mouth, where the drill has one: "tongue left"
    track: InAlbum | None = None  # of sound: the first of its recordings

    @property
    def key(self) -> str:
        """A key that is unique in the pack."""
        return f"{self.place} {self.kind}"

    @property
    def what(self) -> str:
        """The piece in words: ``Lean on the rung before, C harp, 2nd position``."""
        return ", ".join(filter(None, (self.drill, self.detail)))

    @property
    def detail(self) -> str:
        """Harp, position and embouchure: ``C harp, 2nd position, tongue left``."""
        return ", ".join(filter(None, (self.place_played, self.embouchure)))

    @property
    def place_played(self) -> str:
        """Harp and position: ``C harp, 2nd position``."""
        harp = f"{self.harp} harp" if self.harp else ""
        where = f"{Position(self.position).ordinal} position" if self.position else ""
        return ", ".join(filter(None, (harp, where)))


@dataclass(frozen=True, slots=True)
class EditionPlan:
    """The pieces of one edition, and the words for its pages and site."""

    edition: Edition
    chapters: tuple[Chapter, ...]
    pieces: tuple[PlannedItem, ...]

    def pages_of(self, lesson: int) -> list[PlannedItem]:
        """Return the pieces in the book of *lesson* (0: the whole edition), in order."""
        mine = [each for each in self.pieces if each.lesson == lesson and each.kind in _BOUND]
        return sorted(mine, key=lambda each: _place_in_book(each))


_BOUND = ("sheet", "page", "roles")


def _place_in_book(piece: PlannedItem) -> int:
    name = piece.place.rpartition("/")[2]
    order = {COVER: 0, CAUTIONS: 1, OPENING: 2, LOG: 5}
    return order.get(name, 4 if piece.kind == "roles" else 3)


@dataclass(frozen=True, slots=True)
class PackPlan:
    """The pieces of every edition, the steps the store lacks, and rows that cannot be made."""

    editions: list[EditionPlan] = field(default_factory=list)
    steps: dict[str, Step] = field(default_factory=dict)  # by id, each once
    failed: list[tuple[Edition, Failed]] = field(default_factory=list)

    @property
    def pieces(self) -> list[PlannedItem]:
        """The pieces of all editions."""
        return [piece for each in self.editions for piece in each.pieces]


def build_scope(
    course: Course, student: str | None, lesson: int | None, *, archive: bool
) -> BuildScope:
    """Return the part of *course* for *student* and *lesson*; ``InputError`` if unknown."""
    numbers = [each.number for each in course.lessons]
    if lesson is not None and lesson not in numbers:
        raise InputError(
            f"there is no lesson {lesson} in {course.title}. Its lessons are {numbers[0]} to "
            f"{numbers[-1]}."
        )
    if archive and lesson is not None:
        raise InputError("a ZIP file is of a whole course.", way_out=Remedy.ZIP_OR_LESSON)
    if student is None:
        return BuildScope(None, lesson, archive)
    names = {each.name: each.slug for each in course.students}
    found = names.get(student, student)
    if found not in names.values():
        have = ", ".join(names) or "none"
        raise InputError(
            f'{course.title} has no student "{student:.80}".{close_match(student, names)} '
            f"Its students are: {have}."
        )
    return BuildScope(found, lesson, archive)


def plan_pack(course: Course, scope: BuildScope, has: Callable[[str], bool]) -> PackPlan:
    """Plan *scope* of *course*; *has* tells whether the store has a step."""
    found, writable = PackPlan(), Writable()
    for edition in editions(course):
        if scope.student in (None, edition.slug):
            found.editions.append(_Planner(found, edition, scope, has, writable).planned())
    return found


def folder(edition: Edition, lesson: Lesson | None = None) -> str:
    """Return the folder of *edition*, or of one of its lessons; empty: the pack's top."""
    names = [edition.slug] if edition.student else []
    return "/".join(names + ([lesson.name] if lesson else []))


def inside(folder: str, name: str) -> str:
    """Return the path of *name* in *folder*."""
    return f"{folder}/{name}" if folder else name


class _Planner:
    """Plans one edition."""

    def __init__(
        self,
        found: PackPlan,
        edition: Edition,
        scope: BuildScope,
        has: Callable[[str], bool],
        writable: Writable,
    ) -> None:
        self._found, self._edition, self._has = found, edition, has
        self._lessons = [each for each in edition.lessons if scope.lesson in (None, each.number)]
        self._whole = scope.lesson is None
        self._writable = writable
        self._tracks = numbering(edition)
        self._pieces: list[PlannedItem] = []
        self._exercises: dict[int, list[Exercise]] = {each.number: [] for each in self._lessons}
        self._charts: dict[int, list[tuple[str, str]]] = {each.number: [] for each in self._lessons}

    def planned(self) -> EditionPlan:
        by_number = {each.number: each for each in self._lessons}
        for row in (*planned(self._edition), *charts(self._edition)):
            if row.lesson in by_number:
                made = expanded(row, self._writable) if isinstance(row, LessonRow) else row
                self._take(made, by_number)
        chapters = tuple(map(self._chapter, self._lessons))
        self._plan_pages(chapters)
        return EditionPlan(self._edition, chapters, tuple(self._pieces))

    def _take(self, task: Task | ChartTask | Failed, lessons: dict[int, Lesson]) -> None:
        if isinstance(task, Failed):
            self._found.failed.append((self._edition, task))
            return
        lesson = lessons[task.lesson]
        place = inside(folder(self._edition, lesson), task.name)
        if isinstance(task, ChartTask):
            self._charts[lesson.number].append((task.name, task.harp.full_name))
            roles = work.Roles(task.harp, task.reeds, self._edition.look)
            self._add(
                roles,
                place,
                ("role-chart",),
                lesson.number,
                (task.name, "Role chart", task.harp.full_name),
            )
            return
        mine = self._exercises[lesson.number]
        mine.append(exercise_of(task, len(mine) + 1))
        score = task.score
        told = (
            task.name,
            score.title,
            score.harp.full_name,
            score.position.number,
            score.tempo_bpm,
            format_plan(score.embouchure),
        )
        for each, kinds in self._works(task, lesson):
            self._add(each, place, kinds, lesson.number, told)

    def _works(self, task: Task, lesson: Lesson) -> Iterator[tuple[work.Work, tuple[str, ...]]]:
        """Yield the works of *task*, and the kinds of file wanted of each."""
        course, look, wanted = self._edition.course, self._edition.look, task.formats
        for drawn, rows in _sheets(wanted):
            kinds = tuple(row.kind for row in rows)
            if drawn:
                yield work.drawing(task.score, look), kinds
            else:
                yield (
                    work.sheet(task.score, look, png=".png" in {row.ending for row in rows}),
                    kinds,
                )
        for row in sorted(made_by(Maker.WRITER, wanted, PACK_FORMATS), key=ROWS.index):
            recording = task.recording or _silent(task)
            yield work.score_file(task.score, row.kind, recording), (row.kind,)
        if task.recording:
            art = (course.title, f"Lesson {lesson.number}")
            kinds = tuple(row.kind for row in made_by(Maker.SOUND, wanted, PACK_FORMATS))
            yield work.sound(task.score, task.recording, art), kinds

    def _chapter(self, lesson: Lesson) -> Chapter:
        exercises, roles = self._exercises[lesson.number], self._charts[lesson.number]
        return Chapter(
            lesson.number, lesson.title, lesson.goal, lesson.text, tuple(exercises), tuple(roles)
        )

    def _plan_pages(self, chapters: tuple[Chapter, ...]) -> None:
        """Plan the pages of the books besides the sheets."""
        from reedmill.pack.pages.cover import cover_body
        from reedmill.pack.pages.lesson_pages import cautions_body, lesson_body
        from reedmill.pack.pages.practice_log import log_body

        course, look = self._edition.course, self._edition.look
        if self._whole:
            self._page(cover_body(front_of(self._edition), look), COVER, None)
            if course.cautions:
                self._page(cautions_body(look), CAUTIONS, None)
        for lesson, chapter in zip(self._lessons, chapters, strict=True):
            self._page(lesson_body(course.title, chapter, look), OPENING, lesson)
            if chapter.exercises:
                self._page(log_body(chapter, look), LOG, lesson)

    def _page(self, body: str, name: str, lesson: Lesson | None) -> None:
        place = inside(folder(self._edition, lesson), name)
        title = f"{lesson.title}, {name.replace('-', ' ')}" if lesson else name.capitalize()
        page = work.Page(body, self._edition.look)
        self._add(page, place, (), lesson.number if lesson else 0, ("", title))

    def _add(
        self, each: work.Work, place: str, kinds: tuple[str, ...], lesson: int,
        about: tuple[Any, ...],
    ) -> None:  # fmt: skip
        step, facts = step_of(each)
        track = self._tracks.of(about[0]) if step.kind == "audio" else None
        if track:  # in the pack's copy alone, see tracks.py
            facts |= {"album": track.album, "track": f"{track.number} of {track.total}"}
        if step.id not in self._found.steps and not self._has(step.id):
            self._found.steps[step.id] = step
        piece = PlannedItem(
            place, step.id, step.kind, kinds, facts, self._edition.slug, lesson, *about
        )
        self._pieces.append(replace(piece, track=track))


def _silent(task: Task) -> Recording | None:
    """Return the recording MIDI follows where no sound is handed out: the band on the sheet."""
    return Recording(backing=True) if task.backing else None


def _sheets(wanted: tuple[str, ...]) -> Iterator[tuple[bool, list[Format]]]:
    """Yield the *wanted* pages by the LilyPond run that makes them; SVG last."""
    rows = made_by(Maker.LILYPOND, wanted, PACK_FORMATS)
    for drawn in (False, True):
        of_run = [row for row in rows if (row.ending == ".svg") is drawn]
        if of_run:
            yield drawn, of_run
