"""New text for an existing file, which keeps its owner, permissions and links.

A link stays a link and what it leads to gets the text; permissions, owner and further names
(hard links) stay.  Whoever stops us, the old or the new text is there, whole.
"""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from reedmill.base.errors import RenderError, reason_of
from reedmill.base.reading import open_plain, shown_name
from reedmill.base.writing import save


class _HalfWrittenError(RenderError):
    """A file that could be written only in part; its whole text is beside it."""


def rewrite(path: Path, before: bytes, after: bytes) -> None:
    """Replace the content *before* of the file at *path* by *after*, if it has not changed.

    ``RenderError`` when it may not be written, cannot be, or has changed meanwhile.
    """
    with _told(path):
        place = path.resolve()  # a new file would replace the link
        seen = place.stat()
        if not seen.st_mode & 0o222 or not os.access(place, os.W_OK):
            raise RenderError(
                f"{shown_name(path)}: this file is write-protected, so it stays as it is. "
                "Give yourself permission to write it, or tidy a copy."
            )
        part = place.with_name(f".{place.name[:60]}.{secrets.token_hex(6)}.part")
        try:
            save(part, after, mode=0o600)
            _check_same(path, place, before)
            if seen.st_nlink == 1 and _dressed(part, place, seen):
                part.replace(place)
            else:
                _exchange(path, place, part, before, after)
        except _HalfWrittenError:
            raise  # and part stays: it is the one whole text
        except BaseException:
            with suppress(OSError):
                part.unlink()
            raise
        part.unlink(missing_ok=True)
        _settle(place.parent)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except PermissionError:
        raise RenderError(
            f"{shown_name(path)}: cannot be written: its folder is write-protected. "
            "Give yourself permission to write there, or tidy a copy in another folder."
        ) from None
    except (OSError, RuntimeError) as error:  # a loop of links is a RuntimeError before 3.13
        raise RenderError(f"{shown_name(path)}: cannot be written ({reason_of(error)}).") from None


def _check_same(path: Path, place: Path, before: bytes) -> None:
    if not _holds(place, before):
        raise RenderError(
            f"{shown_name(path)}: another program changed this file meanwhile, so it stays as "
            "it is. Try again."
        )


def _holds(place: Path, content: bytes) -> bool:
    with open_plain(place) as file:
        return file.read(len(content) + 1) == content


def _dressed(part: Path, place: Path, seen: os.stat_result) -> bool:
    """Give *part* the owner, permissions and attributes of *place*; false where not allowed."""
    try:
        if hasattr(os, "chown"):
            os.chown(part, seen.st_uid, seen.st_gid)
        part.chmod(stat.S_IMODE(seen.st_mode))  # after the owner, who may drop some of them
        for name in os.listxattr(place) if hasattr(os, "listxattr") else ():
            os.setxattr(part, name, os.getxattr(place, name))
    except OSError as error:
        return error.errno == errno.ENOTSUP
    return True


def _exchange(path: Path, place: Path, part: Path, before: bytes, after: bytes) -> None:
    """Write *after* over the file in place, so that all its hard links keep it.

    What stops that half-way is undone; if even that fails, *part* beside it keeps the text.
    """
    try:
        _write_into(place, after)
    except BaseException as error:
        try:
            _write_into(place, before)
        except OSError:
            raise _HalfWrittenError(
                f"{shown_name(path)}: only a part of it could be written ({reason_of(error)}). "
                f"Its whole text, tidied, is in {part}"
            ) from None
        raise


def _write_into(place: Path, content: bytes) -> None:
    opened = os.open(place, os.O_WRONLY | getattr(os, "O_NOFOLLOW", 0))
    with os.fdopen(opened, "wb", buffering=0) as file:
        at = 0
        while at < len(content):
            at += file.write(content[at:]) or 0
        file.truncate(len(content))
        os.fsync(file.fileno())


def _settle(folder: Path) -> None:
    """Flush the folder entry to the disk, where the system can."""
    with suppress(OSError):
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
