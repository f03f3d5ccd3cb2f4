"""A course file as text."""

from __future__ import annotations

from pathlib import Path

from reedmill.base.kinds import COURSE
from reedmill.base.reading import read_text
from reedmill.pack.course.limits import MAX_FILE_BYTES


def file_text(path: Path) -> str:
    """Return the text of the course file at *path*, with plain line feeds.

    ``InputError`` when it cannot be read, is too large, or is not UTF-8.
    """
    apart = 'Put the texts of the lessons into files of their own: text_file = "week-1.md"'
    return read_text(path, MAX_FILE_BYTES, apart, (COURSE,)).replace("\r\n", "\n")
