"""The tables of a course file to a course: lessons, charts, students."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.errors import InputError
from reedmill.base.gathering import apart
from reedmill.base.kinds import HEAD_BYTES, other_kind
from reedmill.base.reading import bounded, decoded, head_of, open_plain, unreadable
from reedmill.base.text import printable
from reedmill.base.toml_places import TablePath
from reedmill.harp import Harp, Layout, Reed, layout_named
from reedmill.harp.harp_registers import register
from reedmill.pack.course.backings import Bandstand
from reedmill.pack.course.beside import beside, check_beside, safe_slug
from reedmill.pack.course.bookshelf import Bookshelf
from reedmill.pack.course.course import Chart, Course, Entry, Lesson, Student
from reedmill.pack.course.course_amounts import excess
from reedmill.pack.course.evenings import Evenings
from reedmill.pack.course.exercises import Exercises
from reedmill.pack.course.left_out import LeftOutWords
from reedmill.pack.course.limits import MAX_REEDS, MAX_TASKS, MAX_TEXT
from reedmill.pack.course.markdown import read_markdown
from reedmill.pack.course.markdown_limits import check_markup
from reedmill.pack.course.pointing import Pointer
from reedmill.pack.course.settling import Layer, Settled
from reedmill.sheet.look import Look, look_named
from reedmill.theory.intonation import intonation_named
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.pack.course.models import CourseTable, LessonTable, PageTable, StudentTable

BOOK_SUFFIX = ".book"
"""How the name of a record book ends that a course names."""

_USUAL_LOOK = Look()
_MOST_BYTES = 4  # of one character in UTF-8


def built(tables: CourseTable, pointer: Pointer, folder: Path) -> Course:
    """Return the course that *tables* describe; files it names are sought in *folder*.

    Raises ``PatternError`` with the place in the file for everything that does not go
    together.
    """
    layout = layout_named(tables.tuning)
    exercises = Exercises(pointer, Bookshelf(folder), Bandstand(folder), layout)
    builder = _Builder(pointer, folder, exercises, layout)
    book = builder.book(tables.book)
    evenings = Evenings(pointer, exercises, tables, folder / book if book else None)
    with apart():
        evenings.check()
    lessons = tuple(builder.lessons(tables))
    look = Look()
    with apart():
        look = builder.look(tables.page)
    course = Course(
        title=tables.title,
        slug=safe_slug(tables.title),
        harps=builder.harps(tables.harps),
        lessons=lessons,
        author=tables.author,
        about=tables.about,
        look=look,
        intonation=intonation_named(tables.intonation),
        reference_hz=tables.reference,
        layout=layout,
        book=book,
        cautions=tables.cautions,
        students=tuple(builder.students(tables, lessons, evenings)),
        notices=tuple(evenings.notices()),
    )
    _check_amount(course, pointer)
    return course


def _check_amount(course: Course, pointer: Pointer) -> None:
    """Refuse a course that exceeds the limits."""
    too_much = excess(course)
    if too_much:
        path: TablePath = ("students",) if course.students else ("lessons",)
        raise pointer.error(
            path,
            f"this course comes to more than {too_much}, counted over all students",
            "Name fewer harps, positions or drills, or give some students a file of their own."
            if "sound" not in too_much
            else "Write fewer repeats, shorter ladders or fewer types of audio, or give some "
            "students a file of their own.",
        )


def _lesson_text(text: str, name: str) -> str:
    """Return the Markdown *text* of a lesson with printable lines; *name* is for messages.

    ``InputError`` for markup that cannot be used, such as a link that leads nowhere.
    """
    check_markup(text, name)  # whose lines are counted as they are in the file
    text = "\n".join(printable(line) for line in text.expandtabs(4).split("\n")).rstrip("\n")
    read_markdown(text)
    return text


@dataclass(frozen=True, slots=True)
class _Builder:
    """Builds the parts of a course, which share its folder, pointer and layout."""

    pointer: Pointer
    folder: Path
    exercises: Exercises
    layout: Layout
    texts: dict[str, str] = field(default_factory=dict)  # files of lesson text read so far

    def book(self, name: str | None) -> str:
        """Return the name of the record book, which may not be there yet; empty for none."""
        with apart(), self.pointer.at(("book",)):
            if name is not None:
                check_beside(name, BOOK_SUFFIX)
        return name or ""

    def look(
        self, page: PageTable | StudentTable, path: TablePath = ("page",), usual: Look = _USUAL_LOOK
    ) -> Look:
        """Return the look of the sheets: the keys of *page* at *path*, and else *usual*."""
        paper, show = page.paper or usual.paper, page.show or usual.show
        for name, known in (("paper", (paper, "both")), ("show", ("a4", show))):
            with self.pointer.at((*path, name)):
                look_named(*known, large=False, black=False)
        large = usual.large if page.large is None else page.large
        black = usual.black if page.black is None else page.black
        return look_named(paper, show, large=large, black=black)

    def harps(self, names: Sequence[str], tuning: str | None = None) -> tuple[Harp, ...]:
        """Return the harps *names*, each once; *tuning* is the layout where none is named."""
        layout = layout_named(tuning) if tuning else self.layout
        return tuple(dict.fromkeys(Harp.parse(name, layout) for name in names))

    # --- students -------------------------------------------------------------------------

    def students(
        self, tables: CourseTable, lessons: Sequence[Lesson], evenings: Evenings
    ) -> Iterator[Student]:
        """Yield the students, each with a folder name of their own."""
        exercises = LeftOutWords(self.pointer, lessons)
        page = self.look(tables.page)
        taken: dict[str, str] = {}
        for at, table in enumerate(tables.students):
            with apart():
                self._check_student(("students", at), table, tables, taken)
            name = base = safe_slug(table.name)
            again = 1
            while name in taken:
                again += 1
                name = f"{base}-{again}"
            taken[name] = table.name
            path: TablePath = ("students", at)
            wanted, there = table.registers, self.harps(table.harps or tables.harps, table.tuning)
            playing = tuple(each for each in there if not wanted or register(each) in wanted)
            yield Student(
                name=table.name,
                slug=name,
                harps=self.harps(table.harps or (), table.tuning),
                evenings=tuple(evenings.of(table.name, playing)),
                registers=tuple(table.registers or ()),
                pace_percent=table.pace,
                look=self.look(table, path, page),
                layout=layout_named(table.tuning) if table.tuning else None,
                intonation=intonation_named(table.intonation) if table.intonation else None,
                reference_hz=table.reference,
                without=exercises.named(table.without, (*path, "without")),
            )

    def _check_student(
        self, path: TablePath, table: StudentTable, tables: CourseTable, taken: dict[str, str]
    ) -> None:
        if table.name in taken.values():
            raise self.pointer.error(
                (*path, "name"),
                f'two students are called "{table.name}"',
                'Tell them apart: name = "Ada B."',
            )
        harps = self.harps(table.harps or tables.harps, table.tuning)
        wanted = table.registers
        if wanted and not any(register(harp) in wanted for harp in harps):
            have = ", ".join(f"{harp.name} ({register(harp)})" for harp in harps)
            raise self.pointer.error(
                (*path, "registers"),
                f"{table.name} plays {' and '.join(wanted)} harps, and has none: {have}",
                "Add a harp of that register, or leave registers out to play them all.",
            )

    # --- lessons --------------------------------------------------------------------------

    def lessons(self, tables: CourseTable) -> Iterator[Lesson]:
        """Yield the lessons, numbered from 1."""
        top: Layer = (("defaults",), tables.defaults)
        with apart():
            self.exercises.check_harps(top)
        room = MAX_TASKS
        for at, table in enumerate(tables.lessons):
            path: TablePath = ("lessons", at)
            layers = (top, (path, table))
            with apart():
                self.exercises.check_harps(layers[1])
            found = tuple(islice(self._entries(layers, table, path), room + 1))
            room -= len(found)
            if room < 0:
                raise self.pointer.error(
                    path,
                    f"with this lesson the course has more than {MAX_TASKS:,} drills",
                    "Make two courses of it.",
                )
            text = ""
            with apart():
                text = self._text(table, path)
            yield Lesson(
                number=at + 1,
                title=table.title,
                goal=table.goal,
                text=text,
                entries=found,
                charts=tuple(self._charts(Settled(layers), table, path)),
            )

    def _entries(
        self, layers: tuple[Layer, ...], lesson: LessonTable, path: TablePath
    ) -> Iterator[Entry]:
        for at, table in enumerate(lesson.exercises):
            layer: Layer = ((*path, "exercises", at), table)
            with apart():
                self.exercises.check_harps(layer)
            with apart():
                yield from self.exercises.entries(Settled((*layers, layer)), table, layer[0])

    def _text(self, table: LessonTable, path: TablePath) -> str:
        """Return the lesson's Markdown with every line of it printable."""
        text = table.text
        if table.text_file is not None:
            if text:
                raise self.pointer.error(
                    (*path, "text_file"),
                    "this lesson has both text and text_file",
                    "Leave one of the two out.",
                )
            with self.pointer.at((*path, "text_file")):
                return self._text_beside(table.text_file)
        with self.pointer.at((*path, "text")):
            return _lesson_text(text, "a lesson's text")

    def _text_beside(self, name: str) -> str:
        """Return the text in the file called *name*, which is read only once."""
        if name not in self.texts:
            self.texts[name] = _lesson_text(self._file_beside(name), f'"{name}"')
        return self.texts[name]

    def _file_beside(self, name: str) -> str:
        path = beside(self.folder, name, ".md")
        try:
            with open_plain(path) as file:
                raw = bounded(file, MAX_TEXT * _MOST_BYTES)
        except OSError as error:
            raise unreadable(name, error) from None
        other = other_kind((raw or head_of(path))[:HEAD_BYTES])
        if other:
            raise other.refused(f'"{name}" is {other.name}, not plain text.')
        text = decoded(raw or b"", str(self.folder / name))
        if raw is None or len(text) > MAX_TEXT:
            raise InputError(
                f'the text in "{name}" is longer than {MAX_TEXT:,} characters. '
                "Make two lessons of it."
            )
        return text.replace("\r\n", "\n")

    # --- charts ---------------------------------------------------------------------------

    def _charts(self, settled: Settled, lesson: LessonTable, path: TablePath) -> Iterator[Chart]:
        for at, table in enumerate(lesson.charts):
            here: TablePath = (*path, "charts", at)
            with apart():
                self.exercises.check_harps((here, table))
                choice = self.exercises.choice(Settled((*settled.layers, (here, table))))
                place = self.pointer.places.value((*here, "reeds"))
                reeds = self._reeds(table.reeds, (*here, "reeds"))
                positions = dict.fromkeys(settled.value("positions", (2,)))
                yield Chart(choice, reeds, place, tuple(map(Position, positions)))

    def _reeds(self, tab: str, path: TablePath) -> tuple[Reed, ...]:
        reeds = [self._reed(word, path) for word in tab.replace(",", " ").split()]
        if not 1 <= len(reeds) <= MAX_REEDS:
            raise self.pointer.error(
                path,
                f"a chart has room for 1 to {MAX_REEDS} reeds; these are {len(reeds)}",
                "Make two charts of them.",
            )
        return tuple(reeds)

    def _reed(self, word: str, path: TablePath) -> Reed:
        try:
            reed = Reed.parse(word)
        except ValueError:
            raise self.pointer.error(
                path,
                f'"{word:.40}" is not a reed',
                "Write -3 for draw 3, 3 for blow 3, a tick ' for each semitone of bend.",
            ) from None
        refusal = Harp("C", layout=self.layout).refusal(reed)
        if refusal:
            fact, remedy = refusal
            raise self.pointer.error(path, fact, *remedy.split("\n  "))
        return reed
