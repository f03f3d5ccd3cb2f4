"""The store inside a pack's folder: what every step made, by content, and who may write.

    DIR/.reedmill/lock        held by whoever builds; the system lets go of it when they die
                  journal     one line for every step done and every file put into the pack
                  objects/    what was made, named by its SHA-256
                  packs/      for each curriculum what it came to last time, see ledger.py
                  scratch/    files on their way; whatever is in it when nobody builds is waste

The journal only grows, by whole lines, each written at once: a line that a power cut left
torn is cut off.  Objects are believed only after their size, and before use their hash, was
looked at.  What stands in the pack is a copy, never a link: an edited file of the pack
changes neither the store nor the same file elsewhere in the pack.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Any

from reedmill.base.errors import RenderError, reason_of
from reedmill.base.reading import open_plain
from reedmill.pack.records import Fresh, Part, Record

FOLDER = ".reedmill"

_SWEEPS, _SWEEP_S = 20, 0.02
_README = """\
Reedmill keeps here what it made, so that a lesson pack is rebuilt in a moment, and which
files of the pack are its own.  To start over, remove the whole pack.
"""


class Store:
    """The store of one pack folder.  Use as a context manager; one build at a time has it.

    *wait* is called once when another build has it, before waiting for that one.
    ``RenderError`` when the folder cannot be written.
    """

    def __init__(self, out: Path, wait: Callable[[], None] = lambda: None) -> None:
        self.root = out / FOLDER
        self.scratch = self.root / "scratch"
        self._wait = wait
        self._lock = self._journal = -1
        self.records: dict[str, Record] = {}
        self.placed: dict[str, set[str]] = {}  # path in the pack: hashes we ever put there

    def __enter__(self) -> Store:
        with told(self.root):
            self._open()
        return self

    def _open(self) -> None:
        _refuse_link(self.root)
        new = not self.root.exists()
        self.root.mkdir(parents=True, exist_ok=True)
        self._lock = os.open(self.root / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            self._take_lock()
            for folder in (self.scratch, self.root / "objects", self.root / "packs"):
                _refuse_link(folder)
            if new:
                (self.root / "README").write_text(_README, "utf-8")
            sweep(self.scratch)  # of builds that were killed
            self.scratch.mkdir(exist_ok=True)
            self._open_journal()
        except BaseException:
            self._close()
            raise

    def _take_lock(self) -> None:
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self._wait()
            fcntl.flock(self._lock, fcntl.LOCK_EX)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        sweep(self.scratch)
        self._close()

    def _close(self) -> None:
        for opened in (self._journal, self._lock):
            if opened >= 0:
                os.close(opened)
        self._journal = self._lock = -1

    # --- the journal --------------------------------------------------------------------

    def _open_journal(self) -> None:
        path = self.root / "journal"
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC | os.O_NOFOLLOW
        self._journal = os.open(path, flags, 0o644)
        whole = 0
        with open_plain(path, follow=False) as file:
            for line in file:
                if not line.endswith(b"\n"):
                    break
                self._remember(line)
                whole += len(line)
        os.ftruncate(self._journal, whole)

    def _remember(self, line: bytes) -> None:
        """Take one line of the journal in; what is no line of ours, or of another release, not."""
        with suppress(ValueError, KeyError, TypeError, RecursionError):
            row = json.loads(line)
            if "step" in row:
                parts = tuple(Part(*part) for part in row["parts"])
                record = Record(row["kind"], parts, row["seconds"], row["amount"])
                self.records[row["step"]] = record
            else:
                self.placed.setdefault(row["placed"], set()).add(row["sha256"])

    def _write_down(self, row: dict[str, Any]) -> None:
        line = json.dumps(row, separators=(",", ":")).encode() + b"\n"
        before = os.fstat(self._journal).st_size
        try:
            if os.write(self._journal, line) < len(line):
                raise OSError(28, os.strerror(28))
        except OSError:
            with suppress(OSError):  # no torn line stays before the next one
                os.ftruncate(self._journal, before)
            raise

    def rewrite(self, records: dict[str, Record], placed: dict[str, set[str]]) -> None:
        """Make the journal anew, with these lines alone."""
        rows = [_step_row(*each) for each in records.items()]
        rows += [_placed_row(path, each) for path, all_ in placed.items() for each in sorted(all_)]
        lines = "".join(json.dumps(row, separators=(",", ":")) + "\n" for row in rows)
        replace_file(self.root / "journal", lines.encode(), self.scratch)
        self.records, self.placed = dict(records), dict(placed)
        os.close(self._journal)
        self._journal = -1
        self._open_journal()

    # --- steps and objects --------------------------------------------------------------

    def has(self, step: str) -> bool:
        """True when everything *step* made is here, by the size of the files."""
        record = self.records.get(step)
        return record is not None and all(map(self._is_here, record.parts))

    def _is_here(self, part: Part) -> bool:
        try:
            return self.object(part.sha256).stat().st_size == part.size
        except OSError:
            return False

    def is_sound(self, part: Part) -> bool:
        """True when the bytes of *part* are here and are the right ones."""
        try:
            with open_plain(self.object(part.sha256)) as file:
                return hashlib.file_digest(file, "sha256").hexdigest() == part.sha256
        except OSError:
            return False

    def object(self, sha256: str) -> Path:
        """Where the bytes with this hash are, when they are here."""
        return self.root / "objects" / sha256[:2] / sha256

    def keep(self, step: str, record: Record, fresh: tuple[Fresh, ...]) -> None:
        """Put away what *step* made, and write it down; ``OSError`` when that cannot be done."""
        for each in fresh:
            place = self.object(each.part.sha256)
            place.parent.mkdir(parents=True, exist_ok=True)
            os.replace(each.file, place)  # noqa: PTH105  a string it is
        self._write_down(_step_row(step, record))
        self.records[step] = record

    def note_placed(self, path: str, sha256: str) -> None:
        """Write down that we are about to put these bytes at *path* in the pack."""
        if sha256 not in self.placed.get(path, ()):
            self._write_down(_placed_row(path, sha256))
            self.placed.setdefault(path, set()).add(sha256)

    def objects(self) -> Iterator[Path]:
        """Every object."""
        return (self.root / "objects").glob("??/*")


def _step_row(step: str, record: Record) -> dict[str, Any]:
    return {
        "step": step, "kind": record.kind, "seconds": round(record.seconds, 4),
        "amount": round(record.amount, 3), "parts": [part.data() for part in record.parts],
    }  # fmt: skip


def _placed_row(path: str, sha256: str) -> dict[str, Any]:
    return {"placed": path, "sha256": sha256}


def read_records(out: Path) -> dict[str, Record]:
    """The steps done in *out*, read without taking the store: for a plan."""
    store = Store(out)
    with suppress(OSError), open_plain(store.root / "journal") as file:
        for line in file:
            store._remember(line)
    return {step: record for step, record in store.records.items() if store.has(step)}


def sweep(folder: Path) -> None:
    """Remove *folder*; whoever was killed in it may need a moment to be gone."""
    for _ in range(_SWEEPS):
        shutil.rmtree(folder, ignore_errors=True)
        if not folder.exists():
            return
        time.sleep(_SWEEP_S)


def replace_file(path: Path, content: bytes, scratch: Path) -> None:
    """Give *path* new content at once: it always is the old or the new one, whole."""
    part = scratch / f"to-{path.name}"
    with part.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def _refuse_link(path: Path) -> None:
    if path.is_symlink():
        raise RenderError(
            f"{path} is a link to another place. Remove the link, or write another folder."
        )


@contextmanager
def told(path: Path) -> Iterator[None]:
    """An ``OSError`` inside becomes a sentence about *path*."""
    try:
        yield
    except OSError as error:
        raise RenderError(f"{path}: cannot be written ({reason_of(error)}).") from None
