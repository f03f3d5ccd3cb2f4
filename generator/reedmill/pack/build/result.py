"""The result of a build, as data."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from reedmill.pack.keep.ledger import BuildInputs, LedgerEntry

MADE, RESTORED, REUSED = "made", "restored", "reused"


@dataclass(frozen=True, slots=True)
class CourseSource:
    """The origin of a course: its file, its inputs and the options of the build."""

    curriculum: Path
    inputs_seen: BuildInputs  # everything that was read, and by which code
    options: str  # those that choose what is made: equal, and the same is made


@dataclass(frozen=True, slots=True)
class File:
    """One file of the pack after a build."""

    placed: LedgerEntry
    status: str  # MADE, RESTORED from the store, or REUSED as it was
    why: str = ""  # it was made or restored


@dataclass(frozen=True, slots=True)
class Failure:
    """An item that was not made, and the reason."""

    what: str
    reason: str  # a sentence


@dataclass(frozen=True, slots=True)
class Built:
    """The result of a build; both lists grow while it runs."""

    out: Path
    files: list[File] = field(default_factory=list)
    failed: list[Failure] = field(default_factory=list)
