"""The ledger of a course: the files of its last build, their facts, and its inputs.

One ledger a curriculum, in two files: the first is all a build needs that finds nothing to
do, the second the facts that ``explain`` compares.  Only the standard library is imported.
Both come with the pack, so they may come from a stranger: every value is looked at, and a
file with one that we would not have written counts as damaged.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from itertools import groupby
from pathlib import Path
from typing import Any

from reedmill.base.below import Folder
from reedmill.base.text import is_name
from reedmill.formats.table import PACK_FORMATS

FOLDER = ".reedmill"
"""The store, in the folder of a pack."""

PACKS = "packs"
"""The folder of the ledgers, in the store."""

_MOST_BYTES = 64_000_000  # of a ledger: ten times that of the largest course
_MOST_FACTS = 256_000_000  # bytes
_NAME = re.compile(r"[0-9a-f]{24}\.json", re.ASCII)
_DEEPEST = 4  # names in a path
_FORMAT = 2  # of the ledger; one of another format is not read
_MOST_BYTES = 200_000_000  # of a ledger; that of 10,000 pieces takes some 20 MB
_LINE = {"separators": (",", ":")}  # in ASCII: the name of a course's file may not be UTF-8


@dataclass(frozen=True, slots=True)
class Seen:
    """A file's size and times when it was known to hold the right bytes."""

    size: int
    changed_ns: int
    moved_ns: int  # ctime: also tells of a file whose time was set back


@dataclass(frozen=True, slots=True)
class LedgerEntry:
    """The entry of a ledger for one file of the pack."""

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
    embouchure: str = ""
    track: str = ""  # of audio: a digest of its place in the album, which only the copy tells

    def row(self, out: Path) -> dict[str, object]:
        """Return the row for ``--json``; ``stem`` only for audio, ``embouchure`` if planned."""
        row: dict[str, object] = {
            "path": str(out / self.path),
            "kind": self.kind if self.kind in _EXERCISE_KINDS else "page",
            "drill": self.drill if self.exercise else "",
            "harp": self.harp,
            "position": self.position or None,
            "tempo": self.tempo or None,
            "lesson": self.lesson or None,
        }
        row |= {"embouchure": self.embouchure} if self.embouchure else {}
        return row | ({"stem": self.stem} if self.stem else {})


@dataclass(frozen=True, slots=True)
class BuildScope:
    """The part of a course that a build makes."""

    student: str | None = None  # the slug of one
    lesson: int | None = None  # the number of one
    archive: bool = False  # zipped too

    @property
    def whole(self) -> bool:
        """True when no student and no lesson is left out."""
        return self.student is None and self.lesson is None

    def holds(self, edition: str, lesson: int) -> bool:
        """Return True for an edition and lesson in the scope."""
        return self.student in (None, edition) and self.lesson in (None, lesson)

    def has_file(self, file: LedgerEntry) -> bool:
        """Return True for a file in the scope."""
        return self.holds(file.edition, file.lesson) and (self.archive or file.kind != ARCHIVE)


ARCHIVE = "archive"
"""The kind of file that is made only when it is asked for."""

_EXERCISE_KINDS = {row.kind for row in PACK_FORMATS.values()} | {ARCHIVE}


@dataclass(frozen=True, slots=True)
class BuildInputs:
    """The inputs of a build: where they are equal again, there is nothing to build."""

    code: str  # versions.everything_version
    inputs: dict[str, str]  # each file that was read, and its SHA-256


@dataclass(frozen=True, slots=True)
class Finished:
    """A build that made everything in its scope."""

    inputs_seen: BuildInputs
    scope: BuildScope


@dataclass(frozen=True, slots=True)
class Origin:
    """The facts of the step that made a piece."""

    kind: str
    step: str
    edition: str
    lesson: int
    drill: str
    facts: dict[str, str]


@dataclass(frozen=True, slots=True)
class Ledger:
    """The last builds of one course."""

    curriculum: str
    builds: dict[str, Finished] = field(default_factory=dict)  # by the options they had
    files: dict[str, LedgerEntry] = field(default_factory=dict)  # by path


def is_file_name(path: str) -> bool:
    """Return True for slugs below the pack's folder, with ``/`` between them."""
    names = path.split("/")
    slugs = all(is_name(name, also="._") and name == name.lower() for name in names)
    return slugs and len(names) <= _DEEPEST


def ledger_name(curriculum: Path) -> str:
    """Return the name of the ledger of *curriculum*."""
    whole = os.fsencode(whole_path(curriculum))
    return f"{hashlib.sha256(whole).hexdigest()[:24]}.json"


def whole_path(curriculum: Path) -> str:
    """Return *curriculum* as an absolute path, links unresolved."""
    return os.path.abspath(curriculum)  # noqa: PTH100


def ledger_names(packs: Folder) -> list[str]:
    """Return the ledgers in the folder *packs*; files with other names are not ours."""
    return [name for name in packs.names() if _NAME.fullmatch(name)]


def is_there(curriculum: str) -> bool:
    """Return True when the file *curriculum* exists; a ledger may hold any text."""
    try:
        return Path(curriculum).is_file()
    except (OSError, ValueError):
        return False


def other_files(packs: Folder, mine: str) -> dict[str, str]:
    """Return the files of all ledgers but *mine* and their courses, where those still exist."""
    found: dict[str, str] = {}
    for name in ledger_names(packs):
        if name == mine:
            continue
        ledger = read_ledger(packs, name)
        if is_there(ledger.curriculum):
            found |= dict.fromkeys(ledger.files, ledger.curriculum)
    return found


def read_ledger(packs: Folder, name: str, curriculum: str = "") -> Ledger:
    """Return the ledger *name* in *packs*; an empty one when none can be read."""
    return sound_ledger(packs, name) or Ledger(curriculum)


def sound_ledger(packs: Folder, name: str) -> Ledger | None:
    """Return the ledger *name*; ``None`` when missing, damaged or of another format.

    ``NotPlainError`` for what is not a plain file.
    """
    try:
        data = json.loads(packs.content(name, _MOST_BYTES))
        if data["format"] != _FORMAT or type(data["curriculum"]) is not str:
            return None
        files = [_placed(row) for row in data["files"]]
        builds = {options: _finished(*row) for options, row in data["builds"].items()}
        return Ledger(data["curriculum"], builds, {each.path: each for each in files})
    except _DAMAGED:
        return None


_DAMAGED = (
    OSError, ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError,
)  # fmt: skip
"""What comes of reading a file that is not there, or not as we wrote it."""

_ROW = (str, str, list, str, str, int, str, str, str, str, int, int, str, str, str)
_SEEN = (int, int, int)
_ORIGIN = (str, str, str, str, int, str, dict)


def _typed(row: list[Any], types: tuple[type, ...]) -> list[Any]:
    """Return *row*; raise ``ValueError`` unless its values are of these *types*."""
    if tuple(map(type, row)) != types:
        raise ValueError("a row that is not ours")
    return row


def _placed(row: list[Any]) -> LedgerEntry:
    path, sha256, seen, *rest = _typed(row, _ROW)
    if not is_file_name(path):
        raise ValueError("a path that is not ours")
    return LedgerEntry(path, sha256, Seen(*_typed(seen, _SEEN)), *rest)


def _finished(code: Any, inputs: Any, scope: Any) -> Finished:
    student, lesson, archive = scope
    _typed([code, archive], (str, bool))
    _texts(inputs)
    if type(student) not in (str, type(None)) or type(lesson) not in (int, type(None)):
        raise ValueError("a share that is not ours")
    return Finished(BuildInputs(code, inputs), BuildScope(student, lesson, archive))


def _texts(value: Any) -> dict[str, str]:
    if not all(type(each) is str for each in value.values()):
        raise ValueError("something that is not text")
    return value  # type: ignore[no-any-return]


def ledger_bytes(ledger: Ledger) -> bytes:
    """Return *ledger* as the bytes that ``read_ledger`` reads."""
    data = {
        "format": _FORMAT,
        "curriculum": ledger.curriculum,
        "builds": {
            options: [each.inputs_seen.code, each.inputs_seen.inputs, _values(each.scope)]
            for options, each in ledger.builds.items()
        },
        "files": [_file_row(each) for each in ledger.files.values()],
    }
    return json.dumps(data, **_LINE).encode()  # type: ignore[arg-type]


def _file_row(each: LedgerEntry) -> list[Any]:
    path, sha256, seen, *rest = _values(each)
    return [path, sha256, _values(seen), *rest]


def _values(record: Any) -> list[Any]:
    return [getattr(record, each.name) for each in fields(record)]


def origins_name(name: str) -> str:
    """Return the name of the file with the facts for the ledger *name*."""
    return name.removesuffix(".json") + ".facts"


def read_origins(packs: Folder, name: str) -> dict[str, Origin]:
    """Return the facts of every piece of ledger *name*, by place and kind; none if damaged.

    ``NotPlainError`` for what is not a plain file.
    """
    try:
        lines = packs.content(origins_name(name), _MOST_FACTS).splitlines()
        return dict(map(_origin, map(json.loads, lines)))
    except _DAMAGED:
        return {}


def _origin(row: list[Any]) -> tuple[str, Origin]:
    key, *rest = _typed(row, _ORIGIN)
    _texts(rest[-1])
    return key, Origin(*rest)


def origins_bytes(origins: Iterable[tuple[str, Origin]]) -> bytes:
    """Return *origins* as the bytes that ``read_origins`` reads."""
    rows = (
        [key, each.kind, each.step, each.edition, each.lesson, each.drill, each.facts]
        for key, each in origins
    )
    return "".join(json.dumps(row, **_LINE) + "\n" for row in rows).encode()  # type: ignore[arg-type]


def seen_now(folder: Folder, name: str) -> Seen | None:
    """Return how *name* in *folder* looks now; ``None`` for anything but a plain file."""
    found = folder.look(name)
    return seen_as(found) if found is not None and stat.S_ISREG(found.st_mode) else None


def seen_as(found: os.stat_result) -> Seen:
    """Return the size and times to remember of a file."""
    return Seen(found.st_size, found.st_mtime_ns, found.st_ctime_ns)


def all_as_seen(top: Folder, files: Iterable[LedgerEntry]) -> bool:
    """Return True when each of *files* in *top* looks as it did; ``OSError`` if no folder.

    The files of a folder stand one after the other in a ledger, so that it is opened once.
    """
    for path, those in groupby(files, lambda each: each.path.rpartition("/")[0]):
        with top.below(path) as folder:
            if not all(seen_now(folder, each.path[each.path.rfind("/") + 1 :]) == each.seen
                       for each in those):  # fmt: skip
                return False
    return True
