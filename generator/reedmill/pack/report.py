"""What the last build did with each file, for whoever wants to know: ``last-build.json``."""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

MADE, RESTORED, REUSED, FAILED = "made", "restored", "reused", "failed"
REPORT = "last-build.json"


def write_report(root: Path, rows: Iterable[tuple[str, str, str]]) -> None:
    """Write path, status and reason of every file to the store *root*."""
    listed = [
        {"path": path, "status": status, **({"why": why} if why else {})}
        for path, status, why in rows
    ]
    part = root / f".{REPORT}.part"
    part.write_bytes(json.dumps({"files": listed}, ensure_ascii=False, indent=1).encode() + b"\n")
    part.replace(root / REPORT)


def report_nothing_done(root: Path, paths: Iterable[str]) -> None:
    """The report of a build that found every file as it should be; a disk may be read-only."""
    with suppress(OSError):
        write_report(root, ((path, REUSED, "") for path in paths))
