"""The top page of a pack for several students: each one's pages and books.

Its HTML is in ``templates/students.html``, in the frame of the students' own pages; it has no
script.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.pack.course.course import Course, Edition
from reedmill.pack.site.lesson import Fact, named_values
from reedmill.pack.site.playlist import relative
from reedmill.pack.site.templating import rendered
from reedmill.theory.pitch import with_signs

_PAPERS = {"a4": "A4", "letter": "Letter"}
_SHOWN = {"both": "", "notation": "notation alone", "tab": "tab alone"}


@dataclass(frozen=True, slots=True)
class StudentLink:
    """The link to one student's pages."""

    edition: Edition
    page: str = ""  # path of their page in the pack; empty: it has not been made yet
    books: tuple[str, ...] = ()  # paths of their book, or of its parts


@dataclass(frozen=True, slots=True)
class BookView:
    """A book, or a part of one."""

    name: str
    address: str


@dataclass(frozen=True, slots=True)
class StudentView:
    """One student as the page shows them."""

    name: str
    called: str  # inside a sentence
    page: str  # its address; empty: it has not been made yet
    facts: list[Fact]
    books: list[BookView]


@dataclass(frozen=True, slots=True)
class TopView:
    """The values the template shows."""

    title: str
    about: str
    author: str
    facts: list[Fact]
    students: list[StudentView]


def top_html(course: Course, doors: Sequence[StudentLink]) -> bytes:
    """Return ``index.html`` for the top of a pack of *course* that leads through *doors*."""
    return rendered("students.html", top_view(course, doors))


def top_view(course: Course, doors: Sequence[StudentLink]) -> TopView:
    """Return the values the template shows of *course* and *doors*."""
    counts = [("Students", str(len(doors))), ("Lessons", str(len(course.lessons)))]
    return TopView(
        course.title,
        course.about,
        course.author,
        facts=named_values([*counts, ("By", course.author)]),
        students=[_student(door) for door in doors],
    )


def _student(door: StudentLink) -> StudentView:
    student = door.edition.student
    return StudentView(
        student.name if student else "Everyone",
        student.name if student else "everyone",
        relative(door.page) if door.page else "",
        facts=named_values(_facts(door.edition)),
        books=_books(door.books),
    )


def _facts(edition: Edition) -> Iterator[tuple[str, str]]:
    course = edition.course
    yield "Harps", ", ".join(with_signs(harp.full_name) for harp in edition.harps) or "none"
    yield "Lessons", str(len(edition.lessons))
    if edition.pace_percent != 100:
        yield "Tempi", f"{edition.pace_percent} % of the course's"
    yield "Sheets", _look(edition)
    yield "Tuning", _tuning(edition)
    yield (
        "Left out",
        "; ".join(
            dict.fromkeys(
                f"{entry.drill.title} (lesson {lesson.number})"
                for lesson in course.lessons
                for entry in lesson.entries
                if edition.leaves_out(lesson, entry)
            )
        ),
    )


def _look(edition: Edition) -> str:
    look = edition.look
    words = (_PAPERS[look.paper], "large print" if look.large else "",
             "black and white" if look.black else "", _SHOWN[look.show])  # fmt: skip
    return ", ".join(filter(None, words))


def _tuning(edition: Edition) -> str:
    """Return the tuning where it differs from the course: the intonation, and A4."""
    course = edition.course
    intonation = edition.intonation.words if edition.intonation != course.intonation else ""
    a4 = f"A4 = {edition.reference_hz:g} Hz" if edition.reference_hz != course.reference_hz else ""
    return ", ".join(filter(None, (intonation, a4)))


def _books(paths: Sequence[str]) -> list[BookView]:
    several = len(paths) > 1
    return [
        BookView(f"Book{f', part {number}' if several else ''}, PDF", relative(path))
        for number, path in enumerate(paths, start=1)
    ]
