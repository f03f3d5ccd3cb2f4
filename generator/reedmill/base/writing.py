"""The one way to write a file whole: beside its place, flushed to the disk, then renamed.

A final name only ever holds a whole file.  However it ends early (an error, a full disk,
Ctrl-C), nothing of what was on its way stays; after a KILL the next run removes it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from reedmill.base.errors import RenderError, reason_of
from reedmill.base.scratch import Scratch, sweep
from reedmill.base.stopping import check, held

Content = bytes | Callable[[Path], None]
"""The bytes of a file, or what writes them to a path that does not exist yet."""


def write_files(files: Sequence[tuple[Path, Content]]) -> None:
    """Write all of *files* or none; raise ``RenderError`` when that cannot be done."""
    with Parts() as parts:
        for path, content in files:
            parts.write(path, content)
        parts.finish()


class Parts:
    """Files being written: each at once beside its place, all renamed together."""

    under_way: tuple[Path, Path] | None = None
    """The file being written and where it is until it is whole, for whoever shows progress."""

    def __init__(self) -> None:
        self._parts: list[tuple[Path, Path]] = []
        self._beside: dict[Path, Scratch] = {}
        self._folders: list[Path] = []
        self._written = 0

    @property
    def parts(self) -> list[Path]:
        """The temporary path of each file, in the order they were written."""
        return [part for _, part in self._parts]

    def rename(self, paths: Sequence[Path]) -> None:
        """Change the final paths of the files to *paths*, in the same folders."""
        self._parts = [(path, part) for path, (_, part) in zip(paths, self._parts, strict=True)]

    def __enter__(self) -> Parts:
        sweep()
        return self

    def write(self, path: Path, content: Content, *, first: bool = False) -> None:
        """Write the content of *path*, to be renamed before all others if it is to be *first*.

        ``RenderError`` when that cannot be done.
        """
        check()
        with self._told(path):
            if path.parent not in self._beside:
                self._make_folder(path.parent)
                self._beside[path.parent] = Scratch(path.parent)
            part = self._beside[path.parent].path / f"{self._written}{path.suffix}"
            self._written += 1
            self._parts.insert(0 if first else len(self._parts), (path, part))
            Parts.under_way = path, part
            if isinstance(content, bytes):
                save(part, content)
            else:
                content(part)
        Parts.under_way = None

    def finish(self) -> None:
        """Rename every file to its final name."""
        check()
        with held():  # all of them, or none
            for path, part in self._parts:
                with self._told(path):
                    if path.is_dir():
                        raise IsADirectoryError(21, os.strerror(21))
                    part.stat()
            for path, part in self._parts:
                with self._told(path):
                    part.replace(path)
            self._folders.clear()

    def __exit__(self, *_: object) -> None:
        with held():
            Parts.under_way = None
            for scratch in self._beside.values():
                scratch.remove()
            for folder in reversed(self._folders):
                with suppress(OSError):  # when it holds something by now
                    folder.rmdir()

    def _make_folder(self, folder: Path) -> None:
        missing = [each for each in (folder, *folder.parents) if not each.exists()]
        self._folders += reversed(missing)
        folder.mkdir(parents=True, exist_ok=True)

    @contextmanager
    def _told(self, path: Path) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            beside = self._beside.get(path.parent)
            if beside is not None and not beside.path.exists():
                raise RenderError(
                    f"{path}: cannot be written, because the folder it was being made in was "
                    "removed meanwhile. Make it again."
                ) from None
            raise RenderError(
                f"{path}: cannot be written ({reason_of(error)}).{_way_out(path)}"
            ) from None


def _way_out(path: Path) -> str:
    """Explain what is in the way of *path*, where its folders tell, and what to do."""
    with suppress(OSError):
        there = next(each for each in path.parents if each.exists())
        if not there.is_dir():
            return f" {there} is a file, and a folder is wanted. Name another folder."
        if not os.access(there, os.W_OK | os.X_OK):
            return f" You may not write into the folder {there.absolute()}. Name one of your own."
    return ""


def save(path: Path, content: bytes, *, mode: int = 0o666) -> None:
    """Write *content* to *path*, which must not exist, and flush it to the disk.

    *mode* are its permissions, of which the process takes its own away.
    """
    with _new(path, mode) as file:
        file.write(content)
        settle(file)


def save_pieces(path: Path, pieces: Iterable[str], *, mode: int = 0o666) -> None:
    """Write *pieces* of text to *path* as ``save`` does, without holding all of them at once."""
    with _new(path, mode) as file:
        for each in pieces:
            file.write(each.encode("utf-8"))
        settle(file)


def jot(path: Path, content: bytes) -> None:
    """Write *content* to *path* in a scratch folder, where nothing has to outlast a power cut.

    What is there already is replaced.
    """
    path.unlink(missing_ok=True)
    with _new(path, 0o666) as file:
        file.write(content)


def _new(path: Path, mode: int) -> IO[bytes]:
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb")


def settle(file: IO[bytes]) -> None:
    """Flush *file* to the disk; a full disk shows at the latest here."""
    file.flush()
    os.fsync(file.fileno())
