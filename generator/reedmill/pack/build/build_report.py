"""The report on the last build, ``last-build.json``: what was done with each file."""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from reedmill.base.below import Folder
from reedmill.pack.build.result import REUSED, Failure, File
from reedmill.pack.keep.ledger import ARCHIVE, FOLDER, LedgerEntry

REPORT = "last-build.json"


def write_report(root: Folder, files: Iterable[File], failed: Iterable[Failure]) -> None:
    """Write what was done with every file into the store *root*."""
    content = {
        "files": [file_row(each) for each in files],
        "failed": [failure_row(each) for each in failed],
    }
    part = f".{REPORT}.part"  # one name: the next build takes what a killed one left
    root.write(part, json.dumps(content, indent=1).encode() + b"\n")
    root.move(part, root, REPORT)


def report_nothing_done(out: Path, files: Iterable[LedgerEntry]) -> None:
    """Write the report of a build that found every file up to date.

    A disk may be read-only, and another build that has begun writes a report of its own.
    """
    with suppress(OSError), Folder.top(out) as top, top.folder(FOLDER) as root:
        lock = root.handle("lock", os.O_RDWR)
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            write_report(root, (File(each, REUSED) for each in files), ())
        finally:
            os.close(lock)


def file_row(file: File) -> dict[str, object]:
    """Return the row of a file: path, hash, step, what was done with it and why."""
    placed = file.placed
    row: dict[str, object] = {
        "path": placed.path, "sha256": placed.sha256, "step": placed.step, "status": file.status,
    }  # fmt: skip
    return row | ({"why": file.why} if file.why else {})


def failure_row(failure: Failure) -> dict[str, str]:
    """Return the row of something that was not made."""
    return {"what": failure.what, "reason": failure.reason}


@dataclass(frozen=True, slots=True)
class StartFiles:
    """The files of a pack that a user opens or hands on: paths in the pack."""

    top: LedgerEntry | None  # the page of everything; of several students, if there are any
    students: dict[str, list[LedgerEntry]]  # by folder: the page of each, and then the archive
    archives: list[LedgerEntry]  # of everything
    books: list[LedgerEntry]  # where there is no page, as for a lesson alone


def doors(files: Iterable[LedgerEntry]) -> StartFiles:
    """Return the entry points of a pack of *files*."""
    found = StartFiles(None, {}, [], [])
    for each in sorted(files, key=lambda file: (file.kind == ARCHIVE, file.path)):
        home, _, name = each.path.rpartition("/")
        if each.kind == "book" and each.lesson:
            found.books.append(each)
        elif each.kind == ARCHIVE or name == "index.html":
            found = _with_door(found, home, each)
    return found


def _with_door(found: StartFiles, home: str, each: LedgerEntry) -> StartFiles:
    if home:
        found.students.setdefault(home, []).append(each)
    elif each.kind == ARCHIVE:
        found.archives.append(each)
    else:
        return replace(found, top=each)
    return found
