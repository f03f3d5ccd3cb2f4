"""The store in a pack's folder: the result of every step by content hash, with its lock.

    DIR/.reedmill/lock        held by whoever builds; the system lets go of it when they die
                  journal     one line for every step done and every file put into the pack
                  objects/    what was made, named by its SHA-256
                  packs/      for each curriculum what it came to last time, see ledger.py
                  scratch/    files on their way; whatever is in it when nobody builds is waste

The journal only grows, by whole lines, each written at once: a line that a power cut left
torn is cut off.  Objects are believed only after their size, and before use their hash, was
looked at.  What stands in the pack is a copy, never a link: an edited file of the pack
changes neither the store nor the same file elsewhere in the pack.

A pack may come from a stranger.  Everything here is reached through open folders and never
through a link (``below.py``); a pipe, a device or a link where we keep something is refused
with a sentence and stays.  The journal is not written to where the file has a second name,
which may lie outside: it is made anew first.

Why plain files and not a database such as SQLite:

* What is kept are files of up to many megabytes, which the system copies into the pack without
  us and shares their blocks where it can.  They would lie beside a database anyway, and two
  things that must agree can disagree.
* Only two things are ever asked: "is this hash here" and "all lines, once, at the start".  A
  folder and a file answer both; there is nothing to search, join or sort.
* One process writes, the one that holds the lock.  What a database does for many writers is
  not needed, and a stop at any moment needs no journal of a journal: a rename, and one write
  of one line, are whole or are not.
* A pack travels, on sticks and in archives, to disks where a database's locks and write-ahead
  files do not work or are left out.
* What arrives may be hostile.  A line of text is checked value by value (``journal.py``) and
  an object by its hash; the pages of a database file are read by its engine before we see them.
* Whatever is lost or spoilt costs the making of that one thing, and is found by looking, with
  any tool.

A database would be the better choice if several programs wrote at once, if questions were asked
of the journal that need more than one pass over it, or if it grew past what is read at the
start of a build (``journal.MOST_BYTES``).
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from io import BufferedReader
from pathlib import Path
from types import TracebackType

from reedmill.base.below import Folder, StrangeEntryError, os_errors_worded
from reedmill.base.errors import RenderError
from reedmill.pack.keep.journal import (
    MOST_BYTES,
    Remembered,
    is_sha256,
    line_of,
    lines_of,
    placed_row,
    step_row,
)
from reedmill.pack.keep.ledger import FOLDER, PACKS
from reedmill.pack.steps.records import Fresh, Record, StepFile

_SWEEPS, _SWEEP_S = 20, 0.02
_OBJECTS, _SCRATCH, _JOURNAL, _REPORT = "objects", "scratch", "journal", "last-build.json"
_README = b"""\
Reedmill keeps here what it made, so that a lesson pack is rebuilt in a moment, and which
files of the pack are its own.  To start over, remove the whole pack.
"""


class Store:
    """The store of one pack folder; as a context manager it locks out other builds.

    *wait* is called once when another build has it, before waiting for that one.
    ``RenderError`` when the folder cannot be written, or has something odd in a place of ours.

    While it is open: ``top`` is the pack's folder, ``inside`` that of the store, ``packs`` that
    of the ledgers and ``working`` that of scratch files.
    """

    top: Folder
    inside: Folder
    packs: Folder
    working: Folder
    _objects: Folder

    def __init__(self, out: Path, wait: Callable[[], None] = lambda: None) -> None:
        self.out, self.root = out, out / FOLDER
        self.scratch = self.root / _SCRATCH  # for workers; absolute and pinned once it is open
        self._wait = wait
        self._lock = self._journal = -1
        self._opened = ExitStack()
        self._known = Remembered()

    @property
    def records(self) -> dict[str, Record]:
        """The steps that were done."""
        return self._known.records

    @property
    def placed(self) -> dict[str, set[str]]:
        """For each path in the pack, the hashes we ever put there."""
        return self._known.placed

    def __enter__(self) -> Store:
        try:
            with os_errors_worded(self.root):
                self._open()
        except BaseException:
            self._close()
            raise
        return self

    def _open(self) -> None:
        self.top = self._opened.enter_context(Folder.top(self.out, make=True))
        self.inside = self._folder(self.top, FOLDER)
        self._lock = self.inside.handle("lock", os.O_RDWR | os.O_CREAT)
        self._take_lock()
        for name in (_REPORT, f".{_REPORT}.part", "README"):
            self.inside.refuse_odd(name)  # now, and not after an hour of work
        self._objects = self._folder(self.inside, _OBJECTS)
        self.packs = self._folder(self.inside, PACKS)
        self._sweep()  # of builds that were killed
        self.working = self._folder(self.inside, _SCRATCH)
        self.scratch = self.working.pinned()
        if self.inside.look("README") is None:
            self.inside.write("README", _README)
        self._open_journal()

    def _folder(self, parent: Folder, name: str) -> Folder:
        return self._opened.enter_context(parent.folder(name, make=True))

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
        with suppress(OSError, RenderError):
            self._sweep()
        self._close()

    def _close(self) -> None:
        self._opened.close()
        for opened in (self._journal, self._lock):
            if opened >= 0:
                os.close(opened)
        self._journal = self._lock = -1

    def _sweep(self) -> None:
        """Remove the scratch folder; a process just killed in it may need a moment."""
        for _ in range(_SWEEPS):
            with suppress(OSError):
                self.inside.remove_tree(_SCRATCH)
            if self.inside.look(_SCRATCH) is None:
                return
            time.sleep(_SWEEP_S)

    def drop_scratch(self, name: str) -> None:
        """Remove the folder *name* of scratch files as far as possible; the rest is swept."""
        with suppress(OSError, RenderError):
            self.working.remove_tree(name)

    def check_there(self) -> None:
        """Raise ``RenderError`` when the pack or its store was removed or moved meanwhile."""
        with suppress(OSError):
            found = self.root.lstat()
            if os.path.samestat(found, self.inside.itself()):
                return
        raise RenderError(
            f"{self.out} was removed or moved while its pack was being built. Build it again."
        )

    # --- the journal --------------------------------------------------------------------

    def _open_journal(self) -> None:
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND
        self._journal = self.inside.handle(_JOURNAL, flags)
        whole = self._take_in(self._journal)
        found = os.fstat(self._journal)
        if found.st_nlink > 1:  # what is written here would stand elsewhere too
            self.rewrite(self.records, self.placed)
        elif found.st_size != whole:
            os.ftruncate(self._journal, whole)

    def _take_in(self, journal: int) -> int:
        """Read *journal*; return the length of its whole lines."""
        size = os.fstat(journal).st_size
        if size > MOST_BYTES:
            raise RenderError(
                f"{self.root / _JOURNAL} is {size:,} bytes long, and Reedmill writes at most "
                f"{MOST_BYTES:,} there. Move it away and try again; the pack is then made anew."
            )
        with os.fdopen(os.dup(journal), "rb") as file:
            return self._known.take(file)

    def _write_down(self, row: dict[str, object]) -> None:
        line = line_of(row)
        before = os.fstat(self._journal).st_size
        try:
            if os.write(self._journal, line) < len(line):
                raise OSError(28, os.strerror(28))
        except OSError:
            with suppress(OSError):  # no torn line stays before the next one
                os.ftruncate(self._journal, before)
            raise

    def rewrite(self, records: dict[str, Record], placed: dict[str, set[str]]) -> None:
        """Write the journal anew, with these lines alone."""
        rows = [step_row(*each) for each in records.items()]
        rows += [placed_row(path, each) for path, all_ in placed.items() for each in sorted(all_)]
        self.replace(self.inside, _JOURNAL, lines_of(rows))
        self._known = Remembered(dict(records), {path: set(all_) for path, all_ in placed.items()})
        os.close(self._journal)
        self._journal = -1
        self._journal = self.inside.handle(_JOURNAL, os.O_RDWR | os.O_APPEND)

    def replace(self, folder: Folder, name: str, content: bytes) -> None:
        """Replace the content of *name* in *folder* at once: it is always the old or the new."""
        self.working.write(f"to-{name}", content)
        self.working.move(f"to-{name}", folder, name)

    # --- steps and objects --------------------------------------------------------------

    def has(self, step: str) -> bool:
        """Return True when everything *step* made is stored, by the size of the files."""
        record = self.records.get(step)
        return record is not None and all(map(self._is_here, record.parts))

    def _is_here(self, part: StepFile) -> bool:
        try:
            with self._objects.folder(part.sha256[:2]) as folder:
                found = folder.look(part.sha256)
        except (OSError, StrangeEntryError):
            return False
        return found is not None and stat.S_ISREG(found.st_mode) and found.st_size == part.size

    def is_sound(self, part: StepFile) -> bool:
        """Return True when the stored bytes of *part* match its hash."""
        try:
            with self.reading(part.sha256) as file:
                return hashlib.file_digest(file, "sha256").hexdigest() == part.sha256
        except (OSError, StrangeEntryError):
            return False

    def object(self, sha256: str) -> Path:
        """Return where the bytes with this hash are, when they are stored."""
        return self.root / _OBJECTS / sha256[:2] / sha256

    def reading(self, sha256: str) -> BufferedReader:
        """Open the bytes with this hash for reading."""
        with self._objects.folder(sha256[:2]) as folder:
            return folder.reading(sha256)

    def keep(self, step: str, record: Record, fresh: tuple[Fresh, ...]) -> None:
        """Store and record what *step* made; raise ``OSError`` when that fails."""
        for each in fresh:
            sha256 = each.part.sha256
            path, name = os.path.split(os.path.relpath(each.file, self.scratch))
            with (
                self.working.below(path) as made,
                self._objects.folder(sha256[:2], make=True) as place,
            ):
                made.move(name, place, sha256)
        self._write_down(step_row(step, record))
        self.records[step] = record

    def note_placed(self, path: str, sha256: str) -> None:
        """Record that these bytes are about to be put at *path* in the pack."""
        if sha256 not in self.placed.get(path, ()):
            self._write_down(placed_row(path, sha256))
            self.placed.setdefault(path, set()).add(sha256)

    def objects(self) -> Iterator[tuple[Folder, str]]:
        """Yield every plain file with the name of an object, and its folder."""
        for short in self._objects.names():
            found = self._objects.look(short)
            if len(short) != 2 or found is None or not stat.S_ISDIR(found.st_mode):
                continue
            with self._objects.folder(short) as folder:
                for name in folder.names():
                    if is_sha256(name) and name.startswith(short) and _is_plain(folder, name):
                        yield folder, name


def _is_plain(folder: Folder, name: str) -> bool:
    found = folder.look(name)
    return found is not None and stat.S_ISREG(found.st_mode)


def read_records(out: Path) -> dict[str, Record]:
    """Return the steps done in *out*, without locking the store: for a plan."""
    store = Store(out)
    with suppress(OSError), ExitStack() as opened:
        top = opened.enter_context(Folder.top(out))
        store.inside = opened.enter_context(top.folder(FOLDER))
        with store.inside.reading(_JOURNAL) as file:
            store._take_in(file.fileno())
        store._objects = opened.enter_context(store.inside.folder(_OBJECTS))
        return {step: record for step, record in store.records.items() if store.has(step)}
    return {}


@contextmanager
def ledgers_of(out: Path) -> Iterator[Folder]:
    """Open the folder of ledgers in *out* without locking; ``OSError`` without one."""
    with Folder.top(out) as top, top.below(f"{FOLDER}/{PACKS}") as packs:
        yield packs
