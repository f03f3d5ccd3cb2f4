"""The page at the top of a pack for several students: what each of them has, and where.

Style, policy and escaping are those of the students' own pages, see ``site``; it has no script.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from reedmill.pack.course.course import Course, Edition
from reedmill.pack.site.index_page import asset, policy
from reedmill.pack.site.lesson import facts_html, with_signs
from reedmill.pack.site.playlist import relative

_PAPERS = {"a4": "A4", "letter": "Letter"}
_SHOWN = {"both": "", "notation": "notation alone", "tab": "tab alone"}


@dataclass(frozen=True, slots=True)
class Door:
    """One student's way in."""

    edition: Edition
    page: str = ""  # path of their page in the pack; empty: it has not been made yet
    books: tuple[str, ...] = ()  # paths of their book, or of its parts


def top_html(course: Course, doors: Sequence[Door]) -> bytes:
    """``index.html`` for the top of a pack of *course* that leads through *doors*."""
    style = asset("site.css")
    title = escape(course.title)
    about = f"<p>{escape(course.about)}</p>" if course.about else ""
    facts = [("Students", str(len(doors))), ("Lessons", str(len(course.lessons))),
             ("By", course.author)]  # fmt: skip
    by = f" by {escape(course.author)}" if course.author else ""
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy(style)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{title}</title>",
        f"<style>{style}</style>",
        "</head>",
        "<body>",
        f"<header>\n<div>\n<h1>{title}</h1>\n{about}\n</div>\n{facts_html(facts)}\n</header>",
        '<main class="top">\n<h2>Students</h2>\n<ul class="students">',
        *map(_door, doors),
        "</ul>\n</main>",
        f"<footer>\n<p>{title}{by}. Made with Reedmill; opens without a network.</p>\n</footer>",
        "</body>\n</html>\n",
    ]
    return "\n".join(parts).encode()


def _door(door: Door) -> str:
    name = escape(door.edition.student.name if door.edition.student else "Everyone")
    if door.page:
        name = f'<a href="{relative(door.page)}">{name}</a>'
    else:
        name += " (not built yet)"
    return f"<li>\n<h3>{name}</h3>\n{facts_html(_facts(door.edition))}\n{_books(door)}</li>"


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
    """What differs from the course: the intonation, and A4."""
    course = edition.course
    intonation = edition.intonation.words if edition.intonation != course.intonation else ""
    a4 = f"A4 = {edition.reference_hz:g} Hz" if edition.reference_hz != course.reference_hz else ""
    return ", ".join(filter(None, (intonation, a4)))


def _books(door: Door) -> str:
    name = escape(door.edition.student.name if door.edition.student else "everyone")
    several = len(door.books) > 1
    rows = "\n".join(
        f'<li><a href="{relative(path)}">Book{f", part {number}" if several else ""}, PDF'
        f'<span class="visually-hidden"> for {name}</span></a></li>'
        for number, path in enumerate(door.books, start=1)
    )
    return f'<ul class="files">\n{rows}\n</ul>\n' if rows else ""
