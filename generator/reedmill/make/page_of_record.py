"""Files of pages about students and classes: named after them, readable by their owner alone."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from reedmill.base.reading import shown_name
from reedmill.base.remedies import Remedy
from reedmill.base.text import file_slug
from reedmill.base.writing import Content, Parts, save, write_files
from reedmill.make.made_files import (
    Before,
    FileName,
    InTheWayError,
    PlacedFile,
    RequestedFile,
    check_free,
    place,
    tentative,
)

ENDING = ".html"
_MODE = 0o600  # a page has names of people, and how they play


def named_file(out: str) -> Path | None:
    """Return the file that *out* names; ``None`` where it names a folder.

    >>> named_file("lesson/ada.html"), named_file("lesson")
    (PosixPath('lesson/ada.html'), None)
    """
    path = Path(out)
    return path if path.suffix.lower() == ENDING else None


@dataclass(frozen=True, slots=True)
class PageSubject:
    """A student or a class of a record book; the same of another book has another page."""

    kind: str  # with which the name of its file begins
    about: str  # a student, or a course
    book: Path


def check_page_place(out: str, subject: PageSubject, *, replace: bool = False) -> None:
    """Raise ``InTheWayError`` where ``place_record_page`` would replace what it may not."""
    path = named_file(out)
    if path is None:
        check_free(Path(out), [_wanted(subject)], replace=replace)
    elif os.path.lexists(path) and not replace:
        raise InTheWayError(
            f"{shown_name(path)} is there already, so it is left as it is.",
            way_out=Remedy.FILE_IN_THE_WAY,
        )


def place_record_page(
    out: str, subject: PageSubject, page: bytes, *, replace: bool = False
) -> PlacedFile:
    """Write the *page* about *subject* into the file or folder *out*.

    In a folder it is called after that, and the page about the same is made anew where it is; a
    file that is named itself is replaced only where that is asked for.  ``InTheWayError`` when
    something is there that may not be replaced, ``RenderError`` when it cannot be written.
    """
    content: Content = partial(save, content=page, mode=_MODE)
    path = named_file(out)
    if path is None:
        wanted = _wanted(subject)
        with Parts() as parts:
            parts.write(tentative(Path(out), wanted), content)
            [placed] = place(parts, Path(out), [wanted], replace=replace)
        return placed
    check_page_place(out, subject, replace=replace)
    before = Before.OTHER if os.path.lexists(path) else Before.NOTHING
    write_files([(path, content)])
    return PlacedFile(path, before)


def _wanted(subject: PageSubject) -> RequestedFile:
    """Return the file of a page; students whose names make the same words have files apart.

    The list of what was made in a folder may be read by others, and has no name in it.
    """
    kind, about = subject.kind, subject.about
    whose = hashlib.sha256(about.encode() + b"\0" + os.fsencode(os.path.realpath(subject.book)))
    name = FileName(kind, f"{kind} pages", (file_slug(about),), f"{kind} of {whose.hexdigest()}")
    return RequestedFile(name, ENDING)
