"""Read a course file.

TOML text -> plain data and its places -> tables that were checked -> course.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from reedmill.base.gathering import apart, is_gathering
from reedmill.base.toml_text import toml_data
from reedmill.pack.course.course import Course
from reedmill.pack.course.course_mistakes import all_mistakes, first_mistake
from reedmill.pack.course.course_text import file_text
from reedmill.pack.course.lessons import built
from reedmill.pack.course.models import validated
from reedmill.pack.course.pointing import Pointer


def read_course(path: Path) -> Course:
    """Read the course file at *path*; files it names are in its folder.

    Raises ``InputError`` for a file that cannot be read, ``PatternError`` with the place for
    anything in it, or in a file it names, that is wrong.
    """
    return parse_course(file_text(path), str(path), path.parent)


def parse_course(text: str, file: str, folder: Path) -> Course:
    """Parse the course in *text*; messages name *file*, *folder* holds its files.

    ``PatternError`` with its place for the first mistake, or each where they are gathered.
    """
    data, places = toml_data(text, file)
    try:
        tables = validated(data)
    except ValidationError as error:
        if not is_gathering():
            raise first_mistake(error, places).with_source(text) from None
        *others, last = all_mistakes(error, places)
        for each in others:
            with apart():
                raise each.with_source(text) from None
        raise last.with_source(text) from None
    return built(tables, Pointer(text, places), folder)
