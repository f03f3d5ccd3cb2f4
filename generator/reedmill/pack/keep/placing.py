"""The one place where files of a pack are written.

Names are made from slugs long before, and checked here all the same.  A file is copied
from the store to the scratch folder, settled on the disk and renamed, so that a final name
only ever holds a whole file.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from io import BufferedReader
from pathlib import Path
from typing import IO

from reedmill.base.below import Folder, StrangeEntryError, os_errors_worded
from reedmill.base.errors import RenderError
from reedmill.base.hashing import hashed_file
from reedmill.base.remedies import Remedy
from reedmill.base.writing import settle
from reedmill.pack.keep.ledger import LedgerEntry, Seen, is_file_name, seen_as, seen_now
from reedmill.pack.keep.store import Store
from reedmill.pack.steps.records import StepFile
from reedmill.sound.recording.album import put_in_album
from reedmill.sound.signal.tags import InAlbum

_INSIDE = 1 << 30  # bytes copied within the system at once


class Placing:
    """Places files of the store in the folder *out*."""

    def __init__(
        self, out: Path, store: Store, before: dict[str, LedgerEntry], others: Mapping[str, str]
    ) -> None:
        self._out, self._store, self._before = out, store, before
        self._others = others  # paths of other curricula's files, and the curriculum

    def state(self, path: str, part: StepFile) -> tuple[str, Seen | None]:
        """Return ``right``, ``missing`` or ``altered``, and how a right file looks.

        A file that looks as it did when it was right is right; any other is read.
        """
        parent, _, name = path.rpartition("/")
        try:
            with self._store.top.below(parent) as folder:
                seen = seen_now(folder, name)
                if seen is None:
                    return ("altered" if folder.look(name) else "missing"), None
                known = self._before.get(path)
                if known and known.seen == seen and known.sha256 == part.sha256:
                    return "right", seen
                return self._read(folder, name, part)
        except FileNotFoundError:
            return "missing", None
        except (OSError, StrangeEntryError):  # what cannot be read is not known to be right
            return "altered", None

    def _read(self, folder: Folder, name: str, part: StepFile) -> tuple[str, Seen | None]:
        with folder.reading(name) as file:
            seen = seen_as(os.fstat(file.fileno()))
            same = seen.size == part.size and hashed_file(file)[0] == part.sha256
        return ("right", seen) if same else ("altered", None)

    def opened(self, path: Path) -> BufferedReader:
        """Open the plain file at *path* in the pack's folder for reading."""
        with self._store.top.below(path.parent.as_posix().removeprefix(".")) as folder:
            return folder.reading(path.name)

    def put(self, path: str, part: StepFile, made: str = "") -> Seen:
        """Put *part* at *path*; ``RenderError`` when it cannot or must not be written.

        *part* is in the store, or else in the scratch file *made*, which is given away.
        """
        place = self._out / checked_name(path)
        working = self._store.working
        with os_errors_worded(place), self._made_folder(path.rpartition("/")[0]) as folder:
            self._spare(path, folder, part)
            self._store.note_placed(path, part.sha256)
            if not made:
                with self.copied(part.sha256, "place"):
                    pass
            working.move(made or "place", folder, place.name)
            found = folder.look(place.name)
            if found is None:
                raise FileNotFoundError(2, os.strerror(2))
        return seen_as(found)

    @contextmanager
    def copied(self, sha256: str, name: str) -> Iterator[IO[bytes]]:
        """Make a scratch file *name* with the bytes of the store that have this hash."""
        with (
            self._store.reading(sha256) as source,
            self._store.working.creating(name) as target,
        ):
            copy(source, target)
            yield target

    def numbered(self, part: StepFile, track: InAlbum, name: str) -> StepFile:
        """Make a scratch file *name*: the stored sound *part* as this *track* of an album.

        ``RenderError`` when that cannot be done.
        """
        kind = part.ending.rpartition(".")[2]
        with (
            os_errors_worded(self._store.working.path / name),
            self.copied(part.sha256, name) as file,
        ):
            put_in_album(file, kind, track)
            settle(file)
            file.seek(0)
            whole = hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type]
            return replace(part, sha256=whole, size=file.seek(0, os.SEEK_END))

    def _made_folder(self, path: str) -> Folder:
        """Return the folder at *path* in the pack, made where it is missing."""
        try:
            return self._store.top.below(path, make=True)
        except StrangeEntryError as odd:
            if not odd.is_link:
                raise
            leads = "leads to another place in" if is_inside(self._out, odd.path) else (
                "leads out of"
            )  # fmt: skip
            raise RenderError(
                f"{odd.path} is a link that {leads} {self._out}, so nothing is written there.",
                way_out=Remedy.LINK_IN_THE_WAY,
            ) from None

    def _spare(self, path: str, folder: Folder, part: StepFile) -> None:
        """Refuse to overwrite a file of the user's, or of another course."""
        place = self._out / path
        if path in self._others:
            raise RenderError(
                f"{place} belongs to the pack of {self._others[path]}, which was built in the "
                "same folder.",
                way_out=Remedy.OTHER_PACK_THERE,
            )
        if not self._is_ours(path, folder, place.name, part):
            raise RenderError(
                f"{place} is there already and was not made for this pack.",
                way_out=Remedy.STRANGE_FILE_THERE,
            )

    def _is_ours(self, path: str, folder: Folder, name: str, part: StepFile) -> bool:
        """Return True for a free place, or a plain file we put there or would make.

        That we put it there the journal says; where that was lost, the ledger and its hash.
        """
        if folder.look(name) is None:
            return True
        if seen_now(folder, name) is None:
            return False
        if path in self._store.placed:
            return True
        known = self._before.get(path)
        with folder.reading(name) as file:
            return hashed_file(file)[0] in {part.sha256, known.sha256 if known else ""}


def is_inside(out: Path, folder: Path) -> bool:
    """Return True when *folder* is in *out*, links resolved; for a message."""
    try:
        return folder.resolve().is_relative_to(out.resolve())
    except (OSError, RuntimeError):  # a link that leads round in a circle
        return False


def checked_name(path: str) -> str:
    """Return *path*; ``RenderError`` when it is anything but slugs below the pack's folder.

    >>> checked_name("01-home/home-c.mix.wav")
    '01-home/home-c.mix.wav'
    """
    if not is_file_name(path):
        raise RenderError(
            f"{path[:200]!r} cannot be the name of a file of a pack, so it is not written."
        )
    return path


def copy(source: IO[bytes], target: IO[bytes]) -> None:
    """Copy a file and flush it to the disk.

    Where the file system can, both share their blocks until one is changed.
    """
    if not _copied_inside(source.fileno(), target.fileno()):
        source.seek(0)
        target.seek(0)
        shutil.copyfileobj(source, target, 1 << 20)
    settle(target)


def _copied_inside(there: int, here: int) -> bool:
    if not hasattr(os, "copy_file_range"):
        return False
    left = os.fstat(there).st_size
    try:
        while left > 0:
            done = os.copy_file_range(there, here, min(left, _INSIDE))
            if done == 0:
                return False
            left -= done
    except OSError as error:
        if error.errno == 28:  # ENOSPC: no other way would have more room
            raise
        return False
    return True
