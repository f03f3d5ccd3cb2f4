"""A small pack as a student gets it, made by the program: real sheets, sounds and books."""

from __future__ import annotations

import hashlib
import io
import pickle
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from PIL import Image

from reedmill.base.writing import write_files
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.make.made_files import LIST
from reedmill.make.material import Made, make
from reedmill.pack.course.course import Course, Edition, Entry, Lesson, Student
from reedmill.pack.course.registers import Named
from reedmill.pack.course.tasks import Task, tasks
from reedmill.pack.pages.book import Book, BookSection, join
from reedmill.pack.pages.chapter import Chapter, Front, chapter_of, front_of
from reedmill.pack.pages.cover import cover_body
from reedmill.pack.pages.lesson_pages import cautions_body, engraved, lesson_body
from reedmill.pack.pages.practice_log import log_body
from reedmill.pack.site.app_files import ICONS, packaged
from reedmill.pack.site.index_page import Site, site_html
from reedmill.pack.site.manifest import PackFile
from reedmill.pack.site.playlist import listened_first, playlist
from reedmill.practice.practice import Recording
from reedmill.sheet.look import Look
from reedmill.theory.positions import Position
from sharing import made_once

LOOK = Look()
FORMATS = ("sheet", "png", "midi", "tab", "musicxml", "page", "audio")
TEXT = """\
# Hear it first

Sing the **anchor**, then the *rung*. Nothing `-3'` is a slide; see
[how it sits](#how-it-sits) and [a page](https://example.org/a?b=1&c=2).

## How it sits

1. Play draw 2 until it is steady.
2. Play draw 3.
   - softly first
   - then as loud as draw 2

> Slow is smooth.

```
-2 -3' -2 |
```
"""


def entry(title: str, *harps: str, types: tuple[str, ...] = ("wav",)) -> Entry:
    [drill] = find_drills(title)
    chosen = Named(tuple(map(Harp.parse, harps)))
    recording = Recording(drone=("root",), types=types, stems=True)
    return Entry(drill, chosen, (Position(2),), FORMATS, recording, note="Slower than you think.")


@cache
def course() -> Course:
    return Course(
        title="Bends as places",
        slug="bends-as-places",
        harps=(Harp.parse("C"), Harp.parse("low F")),
        author="Mara Holt",
        about="From the first bend to a phrase that sits.",
        lessons=(
            Lesson(1, "Come home", "Hear the anchor.", TEXT,
                   (entry("Home from every rung", "C", "low F"),)),
            Lesson(2, "Two bars", "", "", (entry("Answer in one bar", "C", types=("mp3",)),)),
        ),
        students=(Student("Jon Weaver", "jon-weaver"),),
    )  # fmt: skip


@dataclass(frozen=True)
class SmallPack:
    """The pack and what it was made from."""

    folder: Path
    front: Front
    chapters: tuple[Chapter, ...]
    files: tuple[PackFile, ...]
    lesson_books: tuple[Book, ...]
    book: Book

    def read(self, path: str) -> bytes:
        """The bytes of the file at *path*."""
        return (self.folder / path).read_bytes()


def make_pack(folder: Path) -> SmallPack:
    """Make all of it in *folder*."""
    [edition] = [Edition(course(), student) for student in course().students]
    rows = [each for each in tasks(edition) if isinstance(each, Task)]
    chapters = tuple(chapter_of(lesson, rows) for lesson in edition.lessons)
    front = front_of(edition)
    files = _exercises(folder, rows)
    (folder / LIST).unlink()  # a pack has a list of its own
    lesson_books, book = _books(folder, front, chapters, files)
    for n, each in enumerate(lesson_books, start=1):
        files.append(_written(folder, f"lesson-{n}.pdf", join(each), "book", lesson=n))
    files.append(_written(folder, "course.pdf", join(book), "book"))
    music = playlist(front.title, listened_first(files))
    files.append(_written(folder, "course.m3u8", music, "playlist"))
    for icon, *_ in ICONS:
        files.append(_written(folder, icon, packaged(icon), "icon"))
    site = Site(front, chapters, tuple(files))
    files.append(_written(folder, "index.html", site_html(site), "page"))
    return SmallPack(folder, front, chapters, tuple(files), lesson_books, book)


def _exercises(folder: Path, rows: list[Task]) -> list[PackFile]:
    files = []
    for row in rows:
        made = make(
            [row.score], folder, ("sheet", "png", "midi", "tab", "musicxml", "page", "wav"),
            recording=row.recording,
        )  # fmt: skip
        files += [_row(folder, row, each) for each in made]
    return files


def _row(folder: Path, task: Task, made: Made) -> PackFile:
    content = made.path.read_bytes()
    row = PackFile(
        made.path.relative_to(folder).as_posix(), made.kind, len(content),
        hashlib.sha256(content).hexdigest(), task.lesson, task.name, made.drill, made.harp,
        made.position, made.tempo, made.stem or "",
    )  # fmt: skip
    if made.kind == "audio" and task.recording:
        return replace(row, seconds=float(task.recording.plan(task.score).length_s))
    if made.kind != "sheet-png":
        return row
    width, height = Image.open(io.BytesIO(content)).size
    return replace(row, width=width, height=height)


def _written(
    folder: Path, name: str, content: bytes, kind: str, *, lesson: int | None = None
) -> PackFile:
    write_files([(folder / name, content)])
    return PackFile(name, kind, len(content), hashlib.sha256(content).hexdigest(), lesson)


def _books(
    folder: Path, front: Front, chapters: tuple[Chapter, ...], files: list[PackFile]
) -> tuple[tuple[Book, ...], Book]:
    bodies = [cover_body(front, LOOK), cautions_body(LOOK)]
    for chapter in chapters:
        bodies += [lesson_body(front.title, chapter, LOOK), log_body(chapter, LOOK)]
    cover, cautions, *rest = engraved(bodies, LOOK)
    sheets = {each.exercise: folder / each.path for each in files if each.kind == "sheet-pdf"}
    lessons = []
    for chapter, opening, log in zip(chapters, rest[::2], rest[1::2], strict=True):
        lessons.append(
            (
                BookSection(chapter.title, opening, label=str(chapter.number)),
                *(
                    BookSection(
                        each.title, sheets[each.name].read_bytes(), detail=each.where, deep=True
                    )
                    for each in chapter.exercises
                ),
                BookSection("Practice log", log, deep=True),
            )
        )
    own = tuple(
        Book(each[0].title, each, LOOK, front.author, running=front.title) for each in lessons
    )
    before = (BookSection(front.title, cover), BookSection("Take care of yourself", cautions))
    sections = (*before, *(section for each in lessons for section in each))
    return own, Book(
        front.title, sections, LOOK, front.author, front.about, cover=True, contents=True
    )


@cache
def small_pack() -> SmallPack:
    """The pack, made once for all tests, which only read it."""
    place = made_once("small-pack", _make_and_tell)
    pack: SmallPack = pickle.loads((place / "told").read_bytes())  # noqa: S301  our own
    return replace(pack, folder=place / "pack")


def _make_and_tell(folder: Path) -> None:
    (folder / "told").write_bytes(pickle.dumps(make_pack(folder / "pack")))
