"""The courses that come with Reedmill, and lookup by title or file."""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from reedmill.base.errors import InputError, close_match
from reedmill.base.kinds import COURSE, check_file_meant, check_kind
from reedmill.base.shipped import courses_dir
from reedmill.base.text import same_title
from reedmill.base.toml_text import toml_table
from reedmill.pack.course.course_text import file_text
from reedmill.pack.course.limits import MAX_TITLE

SUFFIX = ".toml"


@dataclass(frozen=True, slots=True)
class ShippedCourse:
    """A shipped course, before it is read."""

    path: Path
    title: str
    about: str
    lessons: int


@cache
def shipped_courses() -> tuple[ShippedCourse, ...]:
    """Return every shipped course, in the order of their files."""
    found = []
    for path in sorted(courses_dir().glob(f"*{SUFFIX}")):
        table = toml_table(file_text(path), path.name)
        found.append(
            ShippedCourse(path, table["title"], table.get("about", ""), len(table["lessons"]))
        )
    return tuple(found)


def find_course(wanted: str) -> Path:
    """Return the path of the course file *wanted*: a path ending in .toml, or a shipped title.

    A title may be given in any case or as the name of its file.  Raises ``InputError`` with
    the nearest title when there is none.
    """
    if wanted.endswith(SUFFIX) or os.path.isfile(wanted):  # noqa: PTH113  no error for odd names
        return Path(wanted)
    for each in shipped_courses():
        if same_title(wanted) in (same_title(each.title), same_title(each.path.stem)):
            return each.path
    check_kind(b"", wanted, COURSE)  # its ending tells
    check_file_meant(wanted, SUFFIX)
    titles = [each.title for each in shipped_courses()]
    raise InputError(
        f'there is no course "{wanted:.{MAX_TITLE}}".{close_match(wanted, titles)} '
        f"Ours are: {'; '.join(titles)}. A file of your own ends in .toml."
    )
