"""A quick check, before all else, whether a build has anything to do.

Nothing is read but the ledger, the files the curriculum is made of and our own; the files
of the pack are only looked at.  Nothing heavy is imported.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from reedmill.base.below import Folder
from reedmill.base.errors import InputError, RenderError
from reedmill.base.reading import bounded, open_plain
from reedmill.base.toml_text import toml_table
from reedmill.pack.course.course_text import file_text
from reedmill.pack.keep.ledger import (
    FOLDER,
    PACKS,
    BuildInputs,
    Ledger,
    LedgerEntry,
    all_as_seen,
    ledger_name,
    read_ledger,
)
from reedmill.pack.steps.versions import everything_version
from reedmill.sheet.fonts import font_folders

_BIG = 4_000_000  # bytes: a larger input, such as a SoundFont, is known by size and time


def inputs_of_build(curriculum: Path) -> BuildInputs:
    """Return all inputs of a build of *curriculum*: its files and our own code.

    A word of the file that is the name of a file beside it counts as one, whatever it is
    for; too many only rebuild too often.
    """
    inputs = {curriculum.name: _known_by(curriculum)}
    folder = curriculum.parent
    for name in sorted({each for each in _words(_table(curriculum)) if _lies_beside(each)}):
        for path in (folder / name, folder / name.partition(":")[0]):
            with suppress(OSError, ValueError):
                if path.is_file():
                    inputs[path.relative_to(folder).as_posix()] = _known_by(path)
    return BuildInputs(f"{everything_version()} {font_folders()}", inputs)


def _lies_beside(name: str) -> bool:
    return not name.startswith("/") and ".." not in name.split("/")


def _table(curriculum: Path) -> Any:
    try:
        return toml_table(file_text(curriculum), str(curriculum))
    except InputError:  # told by whoever reads it for good
        return {}


def _words(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        if len(value) < 256:
            yield value
    elif isinstance(value, list | dict):
        for each in value.values() if isinstance(value, dict) else value:
            yield from _words(each)


def _known_by(path: Path) -> str:
    try:
        with open_plain(path) as file:
            content = bounded(file, _BIG)
            seen = os.fstat(file.fileno())
        if content is None:
            return f"{seen.st_size} bytes of {seen.st_mtime_ns}"
        return hashlib.sha256(content).hexdigest()
    except OSError:
        return "unreadable"


def unchanged(
    curriculum: Path, out: Path, options: str, inputs_seen: BuildInputs
) -> tuple[Ledger, list[LedgerEntry]] | None:
    """Return ledger and files of a build with nothing to do; ``None`` when in doubt.

    *options* are those that choose what is made.
    """
    try:
        with Folder.top(out) as top, top.folder(FOLDER) as root:
            if root.look("scratch") or _busy(root):
                return None
            with root.folder(PACKS) as packs:
                ledger = read_ledger(packs, ledger_name(curriculum))
            finished = ledger.builds.get(options)
            if finished is None or finished.inputs_seen != inputs_seen:
                return None
            files = [each for each in ledger.files.values() if finished.scope.has_file(each)]
            return (ledger, files) if all_as_seen(top, files) else None
    except (OSError, RenderError):  # told by the build that follows
        return None


def _busy(root: Folder) -> bool:
    """Return True while another build locks the store; ``OSError`` when there is none."""
    lock = root.handle("lock", os.O_RDONLY)
    try:
        fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    finally:
        os.close(lock)
    return False
