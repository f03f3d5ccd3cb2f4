"""What a curriculum came to the last time it was built: its files, their facts, what was read.

One ledger a curriculum, in two files: the first is all a build needs that finds nothing to
do, the second the facts that ``explain`` compares.  Only the standard library is imported.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

_FORMAT = 1  # of the ledger; one of another format is not read
_LINE = {"separators": (",", ":")}  # in ASCII: the name of a course's file may not be UTF-8


@dataclass(frozen=True, slots=True)
class Seen:
    """A file as it was when it was known to hold the right bytes."""

    size: int
    changed_ns: int
    moved_ns: int  # ctime: also tells of a file whose time was set back


@dataclass(frozen=True, slots=True)
class Placed:
    """One file of the pack."""

    path: str  # in the pack, with forward slashes
    sha256: str
    seen: Seen
    step: str  # that made it
    edition: str  # empty: of the whole pack
    lesson: int  # 0: of the whole edition
    kind: str
    exercise: str = ""
    drill: str = ""
    harp: str = ""
    position: int = 0
    tempo: int = 0
    stem: str = ""

    def row(self, out: Path) -> dict[str, Any]:
        """The row for ``--json``; ``stem`` only for audio."""
        row: dict[str, Any] = {
            "path": str(out / self.path),
            "kind": self.kind if self.kind in _EXERCISE_KINDS else "page",
            "drill": self.drill if self.exercise else "",
            "harp": self.harp,
            "position": self.position or None,
            "tempo": self.tempo or None,
            "lesson": self.lesson or None,
        }
        return row | ({"stem": self.stem} if self.stem else {})


@dataclass(frozen=True, slots=True)
class Share:
    """What of a course is made."""

    student: str | None = None  # the slug of one
    lesson: int | None = None  # the number of one
    archive: bool = False  # zipped too

    @property
    def whole(self) -> bool:
        """True when no student and no lesson is left out."""
        return self.student is None and self.lesson is None

    def holds(self, edition: str, lesson: int) -> bool:
        """True for what belongs to it."""
        return self.student in (None, edition) and self.lesson in (None, lesson)

    def has_file(self, file: Placed) -> bool:
        """True for a file that belongs to it."""
        return self.holds(file.edition, file.lesson) and (self.archive or file.kind != ARCHIVE)


_EXERCISE_KINDS = (
    "sheet-pdf", "sheet-png", "sheet-svg", "midi", "audio", "tab", "musicxml", "archive",
)  # fmt: skip
ARCHIVE = "archive"
"""The kind of file that is made only when it is asked for."""


@dataclass(frozen=True, slots=True)
class Fed:
    """What was fed into a build: equal again, and there is nothing to do."""

    code: str  # versions.everything_version
    inputs: dict[str, str]  # each file that was read, and its SHA-256


@dataclass(frozen=True, slots=True)
class Finished:
    """A build that made all there was to make."""

    fed: Fed
    share: Share


@dataclass(frozen=True, slots=True)
class Origin:
    """Why a piece is as it is: the facts of the step that made it."""

    kind: str
    step: str
    edition: str
    lesson: int
    drill: str
    facts: dict[str, str]


@dataclass(frozen=True, slots=True)
class Ledger:
    """The last builds of one curriculum."""

    curriculum: str
    builds: dict[str, Finished] = field(default_factory=dict)  # by the options they had
    files: dict[str, Placed] = field(default_factory=dict)  # by path


def ledger_path(root: Path, curriculum: Path) -> Path:
    """Where in the store *root* the ledger of *curriculum* is."""
    whole = os.fsencode(whole_path(curriculum))
    return root / "packs" / f"{hashlib.sha256(whole).hexdigest()[:24]}.json"


def whole_path(curriculum: Path) -> str:
    """*curriculum* from the root on; a link stays the name it is."""
    return os.path.abspath(curriculum)  # noqa: PTH100


def other_files(mine: Path) -> dict[str, str]:
    """The files of all ledgers but *mine*, and whose they are; of curricula still there alone."""
    found: dict[str, str] = {}
    for path in sorted(mine.parent.glob("*.json")):
        ledger = read_ledger(path)
        if path.name != mine.name and Path(ledger.curriculum).is_file():
            found |= dict.fromkeys(ledger.files, ledger.curriculum)
    return found


def read_ledger(path: Path, curriculum: str = "") -> Ledger:
    """The ledger at *path*; an empty one when there is none that can be read."""
    try:
        data = json.loads(path.read_bytes())
        if data["format"] != _FORMAT:
            return Ledger(curriculum)
        files = [Placed(row[0], row[1], Seen(*row[2]), *row[3:]) for row in data["files"]]
        builds = {
            options: Finished(Fed(code, inputs), Share(*share))
            for options, (code, inputs, share) in data["builds"].items()
        }
        return Ledger(data["curriculum"], builds, {each.path: each for each in files})
    except (OSError, ValueError, KeyError, TypeError, IndexError):
        return Ledger(curriculum)


def ledger_bytes(ledger: Ledger) -> bytes:
    """What ``read_ledger`` reads."""
    data = {
        "format": _FORMAT,
        "curriculum": ledger.curriculum,
        "builds": {
            options: [each.fed.code, each.fed.inputs, _values(each.share)]
            for options, each in ledger.builds.items()
        },
        "files": [_file_row(each) for each in ledger.files.values()],
    }
    return json.dumps(data, **_LINE).encode()  # type: ignore[arg-type]


def _file_row(each: Placed) -> list[Any]:
    path, sha256, seen, *rest = _values(each)
    return [path, sha256, _values(seen), *rest]


def _values(record: Any) -> list[Any]:
    return [getattr(record, each.name) for each in fields(record)]


def origins_path(path: Path) -> Path:
    """Where the facts that belong to the ledger at *path* are."""
    return path.with_suffix(".facts")


def read_origins(path: Path) -> dict[str, Origin]:
    """The facts of every piece, by place and kind; none when they cannot be read."""
    try:
        rows = [json.loads(line) for line in origins_path(path).read_bytes().splitlines()]
        return {row[0]: Origin(*row[1:]) for row in rows}
    except (OSError, ValueError, TypeError, IndexError):
        return {}


def origins_bytes(origins: Iterable[tuple[str, Origin]]) -> bytes:
    """What ``read_origins`` reads."""
    rows = (
        [key, each.kind, each.step, each.edition, each.lesson, each.drill, each.facts]
        for key, each in origins
    )
    return "".join(json.dumps(row, **_LINE) + "\n" for row in rows).encode()  # type: ignore[arg-type]


def seen_now(path: Path) -> Seen | None:
    """How *path* looks now; ``None`` for what is no plain file."""
    try:
        found = path.lstat()
    except OSError:
        return None
    if not os.path.isfile(path) or os.path.islink(path):  # noqa: PTH113, PTH114
        return None
    return Seen(found.st_size, found.st_mtime_ns, found.st_ctime_ns)
