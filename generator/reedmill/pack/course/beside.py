"""Files in the folder of a course, and names that are safe on any system."""

from __future__ import annotations

import errno
import re
from pathlib import Path, PurePosixPath

from reedmill.base.errors import InputError, reason_of
from reedmill.base.text import file_slug
from reedmill.pack.course.limits import MAX_PATH

# Names that mean a device to Windows, with any ending: Microsoft, "Naming Files, Paths, and
# Namespaces".
DEVICES = frozenset(
    ["con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))]
)
_UNSAFE = re.compile(r'[\x00-\x1f\x7f\\:*?"<>|]')


def safe_slug(text: str) -> str:
    """Return *text* as a file or folder name that no system takes for a device.

    >>> safe_slug("Ada's lessons"), safe_slug("Con")
    ('adas-lessons', 'con-')
    """
    name = file_slug(text)
    return f"{name}-" if name in DEVICES else name


def beside(folder: Path, text: str, suffix: str) -> Path:
    """Return the path of the file *text* in *folder* or a folder inside it.

    Raises ``InputError`` for a name that leads anywhere else, also by a link, for one that
    does not end in *suffix*, and for what is not a file.
    """
    check_beside(text, suffix)
    path = folder / text
    try:
        whole = path.resolve(strict=True)
    except FileNotFoundError:
        raise InputError(
            f'there is no file "{text}" in the folder of the course. '
            f"Put it into the folder {folder.resolve()}, or write its name as it is spelled there."
        ) from None
    except (OSError, RuntimeError) as error:  # a loop of links is a RuntimeError before 3.13
        looped = isinstance(error, RuntimeError) or error.errno == errno.ELOOP
        reason = "its links lead nowhere" if looped else reason_of(error)
        raise InputError(f'"{text}" cannot be read ({reason}). Choose another file.') from None
    if not whole.is_relative_to(folder.resolve()):
        raise InputError(
            f'"{text}" is a link that leads out of the folder of the course. '
            "Put the file itself there."
        )
    if not whole.is_file():
        raise InputError(f'"{text}" is not a file. Name one that ends in {suffix}.')
    return whole


def check_beside(text: str, suffix: str) -> None:
    """Raise ``InputError`` where *text* cannot name a file in a folder, or in one inside it.

    Whether there is such a file is not asked.
    """
    unsafe = _UNSAFE.search(text)
    parts = text.split("/")
    if len(text) > MAX_PATH:
        fact = f"a file name of {len(text)} characters is too long"
    elif unsafe:
        fact = f'a file name has no {_said(unsafe[0])}, as "{text}" has'
    elif text.startswith("/") or ".." in parts:
        fact = f'"{text}" leads out of the folder of the course'
    elif any(part.strip(" .") != part or not part for part in parts):
        fact = f'"{text}" is not a plain file name'
    elif any(part.split(".")[0].strip().lower() in DEVICES for part in parts):
        fact = f'"{text}" is the name of a device on some computers'
    elif PurePosixPath(text).suffix != suffix:
        fact = f'"{text}" does not end in {suffix}'
    else:
        return
    raise InputError(
        f"{fact}. Write the name of a file in the folder of the course, such as "
        f"week-1{suffix} or texts/week-1{suffix}"
    )


def _said(sign: str) -> str:
    return "backslash" if sign == "\\" else sign if sign.isprintable() else f"U+{ord(sign):04X}"
