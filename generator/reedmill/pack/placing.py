"""The writing edge: the one place where files of a pack come into being.

Names are made from slugs long before, and checked here all the same.  A file is copied
from the store to the scratch folder, settled on the disk and renamed, so that a final name
only ever holds a whole file.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Mapping
from pathlib import Path

from reedmill.base.errors import RenderError
from reedmill.base.reading import open_plain
from reedmill.pack.ledger import Placed, Seen, seen_now
from reedmill.pack.records import Part
from reedmill.pack.render import hashed
from reedmill.pack.store import Store, told

_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,199}", re.ASCII)
_DEEPEST = 4
_INSIDE = 1 << 30  # bytes copied within the system at once


class Placing:
    """Puts what the store has where it belongs in the folder *out*."""

    def __init__(
        self, out: Path, store: Store, before: dict[str, Placed], others: Mapping[str, str]
    ) -> None:
        self._out, self._store, self._before = out, store, before
        self._others = others  # paths of other curricula's files, and the curriculum
        self._safe: set[Path] = set()  # folders known to lie inside

    def state(self, path: str, part: Part) -> tuple[str, Seen | None]:
        """``right``, ``missing`` or ``altered``, and how the file looks when it is right.

        A file that looks as it did when it was right is right; any other is read.
        """
        place = self._out / path
        seen = seen_now(place)
        if seen is None:
            return ("altered" if os.path.lexists(place) else "missing"), None
        known = self._before.get(path)
        if known and known.seen == seen and known.sha256 == part.sha256:
            return "right", seen
        try:
            same = seen.size == part.size and hashed(place)[0] == part.sha256
        except OSError:  # what cannot be read is not known to be right
            same = False
        return ("right", seen) if same else ("altered", None)

    def put(self, path: str, part: Part, made: Path | None = None) -> Seen:
        """Put *part* at *path*; ``RenderError`` when it cannot be, or must not be, written.

        It is in the store, or else a scratch file that is given away: *made*.
        """
        place = self._out / checked_name(path)
        with told(place):
            self._make_folder(place.parent)
            self._spare(path, place, part)
            self._store.note_placed(path, part.sha256)
            scratch = made or self._store.scratch / "place"
            if made is None:
                copy(self._store.object(part.sha256), scratch)
            scratch.replace(place)
            found = place.lstat()
        return Seen(found.st_size, found.st_mtime_ns, found.st_ctime_ns)

    def _make_folder(self, folder: Path) -> None:
        if folder in self._safe:
            return
        for _ in range(2):  # before and after what is missing of it is made
            if not is_inside(self._out, folder):
                raise RenderError(
                    f"{folder} is a link that leads out of {self._out}, so nothing is written "
                    "there. Remove the link, or choose another folder with --out."
                )
            folder.mkdir(parents=True, exist_ok=True)
        self._safe.add(folder)

    def _spare(self, path: str, place: Path, part: Part) -> None:
        """Refuse to write over a file that is somebody else's, or another curriculum's."""
        if path in self._others:
            raise RenderError(
                f"{place} belongs to the pack of {self._others[path]}, which was built in the "
                "same folder. Choose another folder with --out, so that both keep their files."
            )
        if not os.path.lexists(place) or path in self._store.placed:
            return
        if place.is_dir() or place.is_symlink() or hashed(place)[0] != part.sha256:
            raise RenderError(
                f"{place} is there already and was not made for this pack. Move it away, or "
                "choose another folder with --out."
            )


def is_inside(out: Path, folder: Path) -> bool:
    """True when *folder* lies in *out*, wherever links lead."""
    return folder.resolve().is_relative_to(out.resolve())


def checked_name(path: str) -> str:
    """*path* itself; ``RenderError`` when it is anything but slugs below the pack's folder.

    >>> checked_name("01-home/home-c.mix.wav")
    '01-home/home-c.mix.wav'
    """
    names = path.split("/")
    if len(names) > _DEEPEST or not all(_NAME.fullmatch(name) for name in names):
        raise RenderError(f"{path[:200]!r} is no name for a file of a pack, so it is not written.")
    return path


def copy(source: Path, target: Path) -> None:
    """Copy a file and settle it on the disk.

    Where the file system can, both share their blocks until one is changed.
    """
    with open_plain(source) as there, target.open("wb") as here:
        if not _copied_inside(there.fileno(), here.fileno()):
            there.seek(0)
            here.seek(0)
            shutil.copyfileobj(there, here, 1 << 20)
        here.flush()
        os.fsync(here.fileno())


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
