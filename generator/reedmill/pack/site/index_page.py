"""The page that opens a pack: one HTML file beside its sheets and sounds, read offline.

Its HTML is in ``templates/index.html``, style and script in ``assets/``; both stand inside the
file and are named by their digests in its Content Security Policy, which lets in nothing else
but pictures, sounds, web app manifest and service worker from beside it.  Every address is a
safe relative path of the pack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.harp import HOLES, Breath
from reedmill.harp.layouts import Layout
from reedmill.harp.reeds import bend_depth, bending_breath
from reedmill.pack.pages.chapter import Chapter, Front
from reedmill.pack.site.lesson import (
    Fact,
    LessonView,
    Link,
    downloads,
    lesson_view,
    named_values,
)
from reedmill.pack.site.manifest import PackFile
from reedmill.pack.site.templating import asset, rendered
from reedmill.sheet.blocks import CAUTION
from reedmill.theory.pitch import with_signs

_HEARING = "Listen at a moderate level, especially with headphones."


@dataclass(frozen=True, slots=True)
class Site:
    """The content of the page; files are found by their lesson and exercise."""

    front: Front
    chapters: tuple[Chapter, ...]
    files: tuple[PackFile, ...]
    cautions: bool = True


@dataclass(frozen=True, slots=True)
class Cell:
    """A note in the drawing of the ten holes."""

    kind: str  # plain or bend
    x: int
    y: int


@dataclass(frozen=True, slots=True)
class HoleView:
    """A hole in the drawing: its number and its notes."""

    number: int
    middle: int
    cells: list[Cell]


@dataclass(frozen=True, slots=True)
class Choice:
    """A button that shows one harp's exercises; without a value, those of all."""

    value: str
    name: str


@dataclass(frozen=True, slots=True)
class IndexView:
    """The values the template shows."""

    title: str
    about: str
    author: str
    facts: list[Fact]
    files: list[Link]
    playlists: list[Link]
    holes: list[HoleView]
    choices: list[Choice]
    care: str
    lessons: list[LessonView]


def site_html(site: Site) -> bytes:
    """Return ``index.html`` for the folder in which the paths of *site*'s files start."""
    return rendered("index.html", index_view(site), asset("site.js", "install.js"))


def index_view(site: Site) -> IndexView:
    """Return the values the template shows of *site*."""
    front = site.front
    whole = [each for each in site.files if each.lesson is None]
    return IndexView(
        front.title,
        front.about,
        front.author,
        facts=_facts(front),
        files=downloads([each for each in whole if each.kind != "playlist"]),
        playlists=downloads([each for each in whole if each.kind == "playlist"]),
        holes=_holes(front.layout),
        choices=_choices(site.chapters),
        care=f"{_HEARING} {CAUTION}" if site.cautions else "",
        lessons=[lesson_view(each, site.files) for each in site.chapters],
    )


def _facts(front: Front) -> list[Fact]:
    return named_values(
        [
            ("For", front.student),
            ("Harps", ", ".join(map(with_signs, front.harps))),
            ("Lessons", str(front.lessons or "")),
            ("By", front.author),
        ]
    )


def _holes(layout: Layout) -> list[HoleView]:
    """Return the harp as the covers show it: ten holes, their notes, every bend filled."""
    holes = []
    for n, hole in enumerate(HOLES):
        way = -1 if bending_breath(layout, hole) is Breath.BLOW else 1
        bends = range(1, bend_depth(layout, hole) + 1)
        cells = [_cell("plain", n, row) for row in (-1, 1)]
        cells += [_cell("bend", n, way * (bend + 1)) for bend in bends]
        holes.append(HoleView(hole, n * 20 + 9, cells))
    return holes


def _cell(kind: str, hole: int, row: int) -> Cell:
    return Cell(kind, hole * 20, 45 + row * 15)


def _choices(chapters: Sequence[Chapter]) -> list[Choice]:
    """Return a button for all and for each harp; hidden until the script makes them work."""
    names = dict.fromkeys(each.harp for chapter in chapters for each in chapter.exercises)
    if len(names) < 2:
        return []
    return [Choice("", "All"), *(Choice(name, with_signs(name)) for name in names)]
