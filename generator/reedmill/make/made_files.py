"""The list in a folder of the files Reedmill made there, and for what purpose.

The list, ``.reedmill-made.json``, has a row for each file: what it was made for, and the
SHA-256 of what was in it.  So a file that Reedmill did not make, made for something else, or
that was changed since, is never replaced unless that is asked for; and the same request
finds its own files again.

The list is written before the files it speaks of, and keeps the digest of what each replaces:
a run that is killed between leaves files that the next run still knows.  Two runs in one
folder take turns at a lock while they place their files.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from reedmill.base.errors import InputError
from reedmill.base.reading import bounded, open_plain, shown_name
from reedmill.base.remedies import Remedy
from reedmill.base.text import joined
from reedmill.base.writing import Parts

LIST = ".reedmill-made.json"
_FORMAT = 1
_MOST_BYTES = 32_000_000  # of a list: some hundred thousand files
_PIECE = 1 << 20
_STEMS = ("tones", "backing", "drone", "click")
_SOUND = re.compile(r"(?P<base>.+?)(?P<mix>\.mix)?(?P<kind>\.[a-z0-9]+)")
_PAGE = re.compile(r"(?P<base>.+?)(-page(?P<number>\d+))?(?P<kind>\.(png|svg))")


class InTheWayError(InputError):
    """A file in the place of another, which may not be replaced."""


class Before(Enum):
    """The state of a place before a file was put there."""

    NOTHING = "nothing"
    OWN = "own"  # made for the same request
    OTHER = "other"  # anything else, replaced because that was asked for


@dataclass(frozen=True, slots=True)
class FileName:
    """The name a file should have, and its purpose: others may have the name already."""

    title: str  # a slug: of the drill's title
    whose: str  # what that title is: the title as it is written, and where it comes from
    words: tuple[str, ...]  # slugs: all else that tells the file apart
    purpose: str  # whose, and what no word can tell apart


@dataclass(frozen=True, slots=True)
class RequestedFile:
    """A file to be made: its name, and its ending (``.mix.wav``)."""

    name: FileName
    ending: str


@dataclass(frozen=True, slots=True)
class PlacedFile:
    """A file in its place, with what it replaced."""

    path: Path
    before: Before
    outdated: tuple[str, ...] = ()  # names of our own files that belonged to what was before


@dataclass(frozen=True, slots=True)
class MadeFile:
    """One file Reedmill made."""

    purpose: str  # what it was made for: equal for the same request
    digests: tuple[str, ...]  # SHA-256 of what is in it, then of our own file it replaces


@dataclass(slots=True)
class MadeFiles:
    """The files Reedmill made in *folder*, as listed there and as made now."""

    folder: Path
    names: dict[str, str] = field(default_factory=dict)  # what files begin with: the purpose
    rows: dict[str, MadeFile] = field(default_factory=dict)  # by the file's name
    replace: bool = False  # whatever is in the way may go

    @classmethod
    def of(cls, folder: Path, *, replace: bool = False) -> MadeFiles:
        """Read the list in *folder*; empty where there is none that can be read."""
        names, rows = _read(folder / LIST)
        return cls(folder, names, rows, replace)

    def file_name(self, wanted: RequestedFile) -> str:
        """Return the name for *wanted* in this folder, numbered where another file has it."""
        title = self._own(wanted.name.title, wanted.name.whose)
        return self._own(joined(title, *wanted.name.words), wanted.name.purpose) + wanted.ending

    def _own(self, wanted: str, purpose: str) -> str:
        """Return a name for *purpose*: "Song 5" and "Song, 5!" want the same name.

        The purpose that came first in this folder has the name, and the same purpose always
        finds its own name again.
        """
        name, again = wanted, 1
        while self.names.setdefault(name, purpose) != purpose:
            again += 1
            name = f"{wanted}-{again}"
        return name

    def seen(self, name: str, purpose: str) -> tuple[Before, str]:
        """Return what is at *name*, for a file of *purpose*, and its digest.

        ``InTheWayError`` when something is there that may not be replaced.
        """
        path = self.folder / name
        digest = _sha256(path)
        if digest is None:
            return Before.NOTHING, ""
        row = self.rows.get(name)
        if row is not None and row.purpose == purpose and digest in row.digests:
            return Before.OWN, digest
        if not self.replace:
            raise InTheWayError(_in_the_way(path, row, digest), way_out=Remedy.FILE_IN_THE_WAY)
        return Before.OTHER, digest

    def note(self, name: str, purpose: str, new: str, old: str) -> None:
        """Record that *name* is made for *purpose*, perhaps in place of our file *old*."""
        digests = (new, old) if old not in ("", new) else (new,)
        self.rows[name] = MadeFile(purpose, digests)

    def content(self) -> bytes:
        """Return the list as a file, sorted by name: equal rows give equal bytes."""
        rows = {name: [row.purpose, *row.digests] for name, row in sorted(self.rows.items())}
        names = dict(sorted(self.names.items()))
        data = {"reedmill_made": _FORMAT, "names": names, "files": rows}
        return json.dumps(data, ensure_ascii=False, indent=0).encode() + b"\n"

    def outdated(self, name: str, made: set[str]) -> Iterator[str]:
        """Yield our own unchanged files of *name* that were not *made* again this time.

        They are the stems of a mix, and the pages of a picture.
        """
        purpose = self.rows[name].purpose
        for other in set(_belonging(name, self.rows)) - made:
            row = self.rows[other]
            if row.purpose == purpose and _sha256(self.folder / other) in row.digests:
                yield other


def check_free(folder: Path, wanted: Sequence[RequestedFile], *, replace: bool = False) -> None:
    """Raise ``InTheWayError`` when one of *wanted* would replace what it may not."""
    made = MadeFiles.of(folder, replace=replace)
    for each in wanted:
        made.seen(made.file_name(each), each.name.purpose)


def tentative(folder: Path, wanted: RequestedFile) -> Path:
    """Return the likely path of *wanted*; ``place`` decides."""
    return folder / (joined(wanted.name.title, *wanted.name.words) + wanted.ending)


def place(
    parts: Parts, folder: Path, wanted: Sequence[RequestedFile], *, replace: bool = False
) -> list[PlacedFile]:
    """Give the files of *parts*, all of them in *folder*, the names *wanted*.

    ``InTheWayError`` when one would replace what it may not; then none is placed.
    """
    with _locked(folder):
        made = MadeFiles.of(folder, replace=replace)
        names = [made.file_name(each) for each in wanted]
        seen = [
            made.seen(name, each.name.purpose) for name, each in zip(names, wanted, strict=True)
        ]
        changed = _noted(made, parts, names, wanted, seen)
        gone = {name: tuple(sorted(made.outdated(name, set(names)))) for name in changed}
        for each in {other for others in gone.values() for other in others}:
            made.rows.pop(each)
        parts.rename([folder / name for name in names])
        parts.write(folder / LIST, made.content(), first=True)
        parts.finish()
        for each in {other for others in gone.values() for other in others}:
            with suppress(OSError):  # not there is what it should be
                (folder / each).unlink()
    return [
        PlacedFile(folder / name, before, gone.get(name, ()))
        for name, (before, _) in zip(names, seen, strict=True)
    ]


def _noted(
    made: MadeFiles,
    parts: Parts,
    names: Sequence[str],
    wanted: Sequence[RequestedFile],
    seen: Sequence[tuple[Before, str]],
) -> list[str]:
    """Record every file with the digest of its content; return those that change a file."""
    changed = []
    for name, each, part, (before, old) in zip(names, wanted, parts.parts, seen, strict=True):
        new = _sha256(part) or ""
        # another's file is not ours, also where we are killed before it is replaced
        made.note(name, each.name.purpose, new, old if before is Before.OWN else "")
        if new != old:
            changed.append(name)
    return changed


def _belonging(name: str, names: Sequence[str] | dict[str, MadeFile]) -> Iterator[str]:
    page = _PAGE.fullmatch(name)
    if page:
        for other in names:
            found = _PAGE.fullmatch(other)
            if found and (found["base"], found["kind"]) == (page["base"], page["kind"]):
                yield other
    elif sound := _SOUND.fullmatch(name):
        stems = (f"{sound['base']}.{stem}{sound['kind']}" for stem in _STEMS)
        yield from (stem for stem in stems if stem in names)


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Keep other runs from placing files in *folder*, where the system supports locks."""
    try:
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError:  # not to be opened: writing to it will say so better
        yield
        return
    try:
        with suppress(OSError):  # a file system without locks
            fcntl.flock(opened, fcntl.LOCK_EX)
        yield
    finally:
        os.close(opened)


def _in_the_way(path: Path, row: MadeFile | None, digest: str) -> str:
    if row is None:
        why = "is there already, and Reedmill has no note of having made it"
    elif digest not in row.digests:
        why = "was changed since Reedmill made it"
    else:
        why = "is there already, made for something else"
    return f"{shown_name(path)} {why}, so it is left as it is."


def _sha256(path: Path) -> str | None:
    """Return the digest of the plain file at *path*; ``None`` for none, a mark for others."""
    try:
        with open_plain(path, follow=False) as file:
            digest = hashlib.sha256()
            while piece := file.read(_PIECE):
                digest.update(piece)
        return digest.hexdigest()
    except (FileNotFoundError, NotADirectoryError):  # writing says better what is wrong
        return None
    except OSError:
        return "not a plain file"


def _read(path: Path) -> tuple[dict[str, str], dict[str, MadeFile]]:
    """Return names and rows of the list at *path*; another file counts as empty."""
    try:
        with open_plain(path, follow=False) as file:
            raw = bounded(file, _MOST_BYTES)
        data = json.loads(raw or b"{}")
        if data["reedmill_made"] != _FORMAT:
            return {}, {}
        names = {_text(name): _text(purpose) for name, purpose in data["names"].items()}
        rows = {_text(name): _row(row) for name, row in data["files"].items()}
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}, {}
    return names, rows


def _row(value: object) -> MadeFile:
    if not isinstance(value, list):
        raise TypeError(type(value).__name__)
    purpose, *digests = map(_text, value)
    return MadeFile(purpose, tuple(digests))


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(type(value).__name__)
    value.encode()  # half a character cannot be written down again
    return value
