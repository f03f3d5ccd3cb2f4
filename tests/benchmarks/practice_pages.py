"""What a practice page costs beside its sheet alone, and how large pages are.

A page has its music three times, for three widths of screen; its time is compared with that of
the drill's sheet.  Sizes are of every drill of the library on a low, a middle and a high harp, and
of every exercise of the courses, over their bands too.  Run it with
``python tests/benchmarks/practice_pages.py`` (some minutes; ``sizes`` or ``time`` for one half).
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from interleaved import report, run

from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import shipped_drills, usual_position
from reedmill.pack.course.backings import with_band
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.shipped_courses import shipped_courses
from reedmill.pack.course.tasks import LessonRow, planned
from reedmill.page.practice_page import practice_pages
from reedmill.score.score import Score

MOST_TIME, MOST_BYTES = 1.5, 200_000
DRILLS = ("Home from every rung", "Twelve slow bars")
HARPS = ("C", "low F", "F#")
A_RUN = 20


def main() -> None:
    wanted = sys.argv[1:] or ["time", "sizes"]
    if "time" in wanted:
        for drill in DRILLS:
            compare(drill)
    if "sizes" in wanted:
        for harp in HARPS:
            tell(f"the library on a {harp} harp", library(Harp.parse(harp)))
        tell("the courses", courses())


def compare(drill: str) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        report(
            f'the practice page of "{drill}" against its sheet',
            lambda: make(drill, "page", Path(scratch)),
            lambda: make(drill, "sheet", Path(scratch)),
            MOST_TIME,
            rounds=9,
        )


def make(drill: str, to: str, scratch: Path) -> None:
    """The command, as a user runs it."""
    code = "from reedmill.cli import main; main()"
    run([sys.executable, "-c", code, "make", drill, "--to", to, "--out", str(scratch)])


def library(harp: Harp) -> Iterator[Score]:
    """Every drill of the library that *harp* can play."""
    for drill in shipped_drills():
        try:
            yield expand(drill, harp, usual_position(drill))
        except InputError:
            continue


def courses() -> Iterator[Score]:
    """Every exercise of the shipped courses, on its harp and over its band."""
    for shipped in shipped_courses():
        for edition in editions(read_course(shipped.path)):
            for row in planned(edition):
                if isinstance(row, LessonRow):
                    score = expand(row.entry.drill, row.harp, row.position)
                    backing = row.entry.backing
                    yield score if backing is None else with_band(score, backing)


def tell(what: str, scores: Iterator[Score]) -> None:
    """Print the sizes of the pages of *scores*: the largest and the middle one."""
    sizes: list[tuple[int, str, int]] = []
    while some := list(islice(scores, A_RUN)):
        pages = practice_pages(some)
        sizes += [
            (len(page), score.title, len(score.notes))
            for page, score in zip(pages, some, strict=True)
        ]
    sizes.sort()
    largest, title, notes = sizes[-1]
    print(f"{what}: {len(sizes)} pages, half of them up to {sizes[len(sizes) // 2][0]} bytes")
    print(f'  the largest is "{title}", {notes} notes: {largest} bytes (at most {MOST_BYTES})')


if __name__ == "__main__":
    main()
