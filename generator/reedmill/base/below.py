"""An open folder and its contents, reached by single names and never through a link.

A pack may come from a stranger, and somebody may change it while it is built.  A path is
looked up anew each time it is used, so a check of it says nothing about its next use.  The
folder of a pack is therefore opened once, and everything below is reached from there, a name
at a time: whatever happens to the path, what is open stays the folder it was.

A link, a pipe or a device where a file or folder of ours should be raises
``StrangeEntryError``, a sentence.  Everything else that the system refuses is an ``OSError``,
which ``os_errors_worded`` turns into one.  Nothing heavy is imported: a build of nothing needs
this.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from errno import ELOOP, ENOTDIR, EXDEV
from io import BufferedReader
from itertools import count
from pathlib import Path
from types import TracebackType
from typing import IO

from reedmill.base.errors import RenderError, reason_of

# O_NONBLOCK: what turns out to be a pipe is not waited for.  It means nothing for files.
_SAFE = os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK | os.O_NOCTTY
_FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC | os.O_NONBLOCK

_KINDS = {
    stat.S_IFLNK: "a link to another place",
    stat.S_IFIFO: "a named pipe",
    stat.S_IFSOCK: "a socket",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFDIR: "a folder",
    stat.S_IFREG: "a file",
}


class StrangeEntryError(RenderError):
    """An entry at *path* that is not the plain file or folder it should be."""

    def __init__(self, path: Path, mode: int | None, wanted: str) -> None:
        self.path = path
        self.is_link = mode is not None and stat.S_ISLNK(mode)
        kind = _KINDS.get(stat.S_IFMT(mode or 0), "something else")
        super().__init__(
            f"{path} is {kind}, where Reedmill keeps a {wanted} of its own, so it is left alone. "
            "Move it away and try again, or write another folder."
        )


class Folder:
    """An open folder; use it as a context manager, which closes it.

    *path* is for messages alone.  Names are single ones: no ``/``, no ``..``.
    """

    __slots__ = ("_handle", "path")

    def __init__(self, handle: int, path: Path) -> None:
        self._handle, self.path = handle, path

    @classmethod
    def top(cls, path: Path, *, make: bool = False) -> Folder:
        """Open the folder *path* that the user chose; links in that path are followed."""
        try:
            return cls(os.open(path, _FOLDER), path)
        except FileNotFoundError:
            if not make:
                raise
        path.mkdir(parents=True, exist_ok=True)
        return cls(os.open(path, _FOLDER), path)

    def __enter__(self) -> Folder:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        os.close(self._handle)

    # --- folders in it ------------------------------------------------------------------

    def folder(self, name: str, *, make: bool = False) -> Folder:
        """Open the folder *name*, created if it is missing and *make* is true."""
        path = self.path / _single(name)
        if make:
            with suppress(FileExistsError):
                os.mkdir(name, dir_fd=self._handle)
        try:
            return Folder(os.open(name, _FOLDER | _SAFE, dir_fd=self._handle), path)
        except OSError as error:
            if error.errno in (ELOOP, ENOTDIR):
                raise self._odd(name, "folder") from None
            raise

    def below(self, path: str, *, make: bool = False) -> Folder:
        """Open the folder at *path*, names with ``/`` between them; an empty path is this one."""
        here = Folder(os.dup(self._handle), self.path)
        for name in path.split("/") if path else ():
            with here:
                inner = here.folder(name, make=make)
            here = inner
        return here

    # --- looking and reading ------------------------------------------------------------

    def look(self, name: str) -> os.stat_result | None:
        """Return the status of *name*, of a link itself; ``None`` when there is nothing."""
        try:
            return os.stat(_single(name), dir_fd=self._handle, follow_symlinks=False)
        except FileNotFoundError:
            return None

    def itself(self) -> os.stat_result:
        """Return the status of the folder itself."""
        return os.fstat(self._handle)

    def pinned(self) -> Path:
        """Return a path for other processes, which keeps meaning this folder while it is open.

        Linux has such paths (proc(5), /proc/pid/fd); elsewhere it is the path it has now.
        """
        pinned = Path(f"/proc/{os.getpid()}/fd/{self._handle}")
        with suppress(OSError):
            if os.path.samestat(pinned.stat(), self.itself()):
                return pinned
        return Path(os.path.realpath(self.path))

    def free(self) -> int:
        """Return how many bytes are free on the folder's disk."""
        disk = os.fstatvfs(self._handle)
        return disk.f_bavail * disk.f_frsize

    def names(self) -> list[str]:
        """Return the names in the folder, sorted."""
        return sorted(os.listdir(self._handle))  # noqa: PTH208  of what is open

    def handle(self, name: str, flags: int) -> int:
        """Open the plain file *name* as a descriptor; ``StrangeEntryError`` for anything else."""
        self.refuse_odd(name)  # before it is opened: to open a device may do something
        try:
            handle = os.open(name, flags | _SAFE, 0o666, dir_fd=self._handle)
        except OSError as error:
            if error.errno == ELOOP:
                raise self._odd(name, "file") from None
            raise
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            os.close(handle)
            raise self._odd(name, "file")
        return handle

    def reading(self, name: str) -> BufferedReader:
        """Open the plain file *name* for reading."""
        return os.fdopen(self.handle(name, os.O_RDONLY), "rb")

    def content(self, name: str, most: int) -> bytes:
        """Return the bytes of the plain file *name*; ``ValueError`` above *most* bytes."""
        with self.reading(name) as file:
            content = file.read(most + 1)
        if len(content) > most:
            raise ValueError(f"more than {most} bytes")
        return content

    def refuse_odd(self, name: str) -> None:
        """Raise ``StrangeEntryError`` when *name* exists and is not a plain file."""
        found = self.look(name)
        if found is not None and not stat.S_ISREG(found.st_mode):
            raise StrangeEntryError(self.path / name, found.st_mode, "file")

    def _odd(self, name: str, wanted: str) -> StrangeEntryError:
        found = self.look(name)
        return StrangeEntryError(self.path / name, found.st_mode if found else None, wanted)

    # --- changing -----------------------------------------------------------------------

    def creating(self, name: str) -> IO[bytes]:
        """Create the file *name* for writing and reading; first remove a plain file of that name.

        Never an old file with new content: another name of it may lie elsewhere.
        """
        self.refuse_odd(name)
        with suppress(FileNotFoundError):
            self.remove(name)
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | _SAFE
        return os.fdopen(os.open(name, flags, 0o666, dir_fd=self._handle), "w+b")

    def write(self, name: str, content: bytes) -> None:
        """Create the file *name* with *content*, flushed to the disk."""
        with self.creating(name) as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())

    def move(self, name: str, target: Folder, new: str) -> None:
        """Move the file *name* to *new* in *target*, where at most a plain file is replaced."""
        self.refuse_odd(name)
        target.refuse_odd(new)
        os.replace(name, new, src_dir_fd=self._handle, dst_dir_fd=target._handle)

    def remove(self, name: str) -> None:
        """Remove the entry *name*; of a link, the link itself."""
        os.unlink(_single(name), dir_fd=self._handle)

    def remove_folder(self, name: str) -> None:
        """Remove the empty folder *name*."""
        os.rmdir(_single(name), dir_fd=self._handle)

    def remove_tree(self, name: str) -> None:
        """Remove the folder *name* and everything in it.

        Links go, and never what they lead to.  A folder that is another disk is left, with
        an ``OSError``.
        """
        with self.folder(name) as inner:
            inner._empty()
        self.remove_folder(name)

    def _empty(self) -> None:
        """Empty the folder, moving nested folders up into it so that no depth is too deep."""
        numbers = count()
        while names := self.names():
            for name in names:
                if self._is_folder(name):
                    with self.folder(name) as inner:
                        inner._bring_up(self, numbers)
                    self.remove_folder(name)
                else:
                    self.remove(name)

    def _bring_up(self, top: Folder, numbers: Iterator[int]) -> None:
        for name in self.names():
            if self._is_folder(name):
                new = f"swept-{next(numbers)}"
                os.rename(name, new, src_dir_fd=self._handle, dst_dir_fd=top._handle)
            else:
                self.remove(name)

    def _is_folder(self, name: str) -> bool:
        found = self.look(name)
        if found is None or not stat.S_ISDIR(found.st_mode):
            return False
        if found.st_dev != self.itself().st_dev:
            raise OSError(EXDEV, os.strerror(EXDEV))
        return True


def _single(name: str) -> str:
    if name in ("", ".", "..") or "/" in name or "\0" in name:
        raise RenderError(f"{name[:200]!r} is not the name of a file.")
    return name


def open_own_file(path: Path) -> BufferedReader:
    """Open the plain file *path* for reading; ``StrangeEntryError`` for anything else."""
    with Folder.top(path.parent) as folder:
        return folder.reading(path.name)


@contextmanager
def os_errors_worded(path: Path) -> Iterator[None]:
    """Turn an ``OSError`` inside the block into a sentence about *path*."""
    try:
        yield
    except OSError as error:
        raise RenderError(f"{path}: cannot be written ({reason_of(error)}).") from None
