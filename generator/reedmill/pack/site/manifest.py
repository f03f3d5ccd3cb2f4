"""The files of a pack as rows, and the manifest that lists them for other programs."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass

from reedmill.base.errors import InputError
from reedmill.base.text import is_name, printable
from reedmill.pack.course.beside import DEVICES

MANIFEST = "manifest.json"
_LONGEST_PATH = 240
# Of a name in ASCII: letters, digits, dot, hyphen and underscore; none is hidden, climbs, names
# a drive, or ends in the dot that Windows drops.
_NAME = r"[A-Za-z0-9_](?:[A-Za-z0-9._-]*[A-Za-z0-9_-])?"
_SAFE = re.compile(_NAME)


@dataclass(frozen=True, slots=True)
class PackFile:
    """One file of a pack; ``InputError`` for a path that is not safe, see ``safe_path``."""

    path: str  # from the folder of the edition, with / between names
    kind: str  # sheet-pdf, sheet-png, audio, midi, book, page, ...
    size: int = 0  # bytes
    sha256: str = ""  # hexadecimal
    lesson: int | None = None
    exercise: str = ""  # the name of its row, which all files of one exercise share
    drill: str = ""  # the title
    harp: str = ""
    position: int | None = None
    tempo: int | None = None  # beats a minute
    stem: str = ""  # of audio: mix, tones, drone, click, backing
    seconds: float | None = None  # of audio
    width: int = 0  # of a picture, in pixels
    height: int = 0
    embouchure: str = ""  # the plan for the mouth, where the drill has one

    def __post_init__(self) -> None:
        safe_path(self.path)

    def data(self) -> dict[str, object]:
        """Return the row for JSON, without empty fields."""
        always = {"path", "kind", "size", "sha256"}
        row = asdict(self)
        return {name: row[name] for name in row if name in always or row[name] not in (None, "", 0)}


def safe_path(path: str) -> str:
    r"""Return *path* when it can only name a file inside the folder it is unpacked in.

    ``InputError`` for one that is absolute, climbs, names a drive or a device, or holds a
    sign that some system or program takes for more than a letter.

    >>> safe_path("lessons/01-come-home/sheet.pdf")
    'lessons/01-come-home/sheet.pdf'
    >>> safe_path("../x")
    Traceback (most recent call last):
    ...
    reedmill.base.errors.InputError: a pack holds no file "../x"; its names are made of letters, ...
    """
    if len(path) > _LONGEST_PATH or not all(map(_is_safe, path.split("/"))):
        raise InputError(
            f'a pack holds no file "{printable(path[:120])}"; its names are made of letters, '
            "digits, . - and _ alone, with / between folders."
        )
    if any(name.split(".")[0].lower() in DEVICES for name in path.split("/")):
        raise InputError(
            f'a pack holds no file "{path}"; on some computers that is the name of a device. '
            "Choose another name."
        )
    return path


def _is_safe(name: str) -> bool:
    if name.isascii():
        return _SAFE.fullmatch(name) is not None
    return is_name(name, also="._") and not name.endswith(".")


def manifest_json(title: str, edition: str, files: Iterable[PackFile]) -> bytes:
    """Return the manifest of *edition*, a slug, of the course *title*: rows sorted by path."""
    rows = [each.data() for each in sorted(files, key=lambda each: each.path)]
    content = {"course": title, "edition": edition, "files": rows}
    return json.dumps(content, ensure_ascii=False, indent=1).encode() + b"\n"
