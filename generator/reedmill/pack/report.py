"""What the last build did with each file, for whoever wants to know: ``last-build.json``."""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from reedmill.pack.ledger import Placed
from reedmill.pack.result import REUSED, Failure, File

REPORT = "last-build.json"


def write_report(root: Path, files: Iterable[File], failed: Iterable[Failure]) -> None:
    """Write what was done with every file to the store *root*."""
    content = {
        "files": [file_row(each) for each in files],
        "failed": [failure_row(each) for each in failed],
    }
    part = root / f".{REPORT}.part"  # one name: the next build takes what a killed one left
    part.write_bytes(json.dumps(content, indent=1).encode() + b"\n")
    part.replace(root / REPORT)


def report_nothing_done(root: Path, files: Iterable[Placed]) -> None:
    """The report of a build that found every file as it should be; a disk may be read-only."""
    with suppress(OSError):
        write_report(root, (File(each, REUSED) for each in files), ())


def file_row(file: File) -> dict[str, Any]:
    """A file: its place in the pack, its hash, the step that made it, what was done and why."""
    placed = file.placed
    row = {
        "path": placed.path, "sha256": placed.sha256, "step": placed.step, "status": file.status,
    }  # fmt: skip
    return row | ({"why": file.why} if file.why else {})


def failure_row(failure: Failure) -> dict[str, str]:
    """Something that was not made."""
    return {"what": failure.what, "reason": failure.reason}
