"""The one way to open a foreign file: plain, of bounded size, and UTF-8 where it is text.

A name says nothing about what it leads to.  A pipe would wait for ever for somebody to write
into it, a device never ends, a file of the system says it has no bytes and has many, and
another program may still be writing.  So a file is looked at before it is opened and again
when it is open, opened without waiting, and read up to a bound whatever it says of its size.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Sequence
from io import BufferedReader
from pathlib import Path

from reedmill.base.errors import InputError, PatternError, reason_of
from reedmill.base.kinds import HEAD_BYTES, check_kind
from reedmill.base.source import Span

NOT_UTF8 = (
    "this is not UTF-8 text: byte 0x{byte:02X} cannot be read",
    "Save the file again with the encoding UTF-8 (most editors offer it in Save As).",
)
"""What is said of text in another encoding, and what to do; filled with the byte."""

_PIECE = 1 << 20
_LONGEST_NAME = 200  # characters of one that are shown
# Not there on every system, and without a meaning where they are not.
_FLAGS = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)  # a pipe nobody writes into is not waited for
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_NOCTTY", 0)
    | getattr(os, "O_BINARY", 0)
)

# What is not a plain file, in words, by the test that knows it.
_OTHERS = (
    (stat.S_ISDIR, "it is a folder"),
    (stat.S_ISFIFO, "it is a pipe between programs, not a plain file"),
    (stat.S_ISSOCK, "it is a socket, not a plain file"),
    (stat.S_ISCHR, "it is a device, not a plain file"),
    (stat.S_ISBLK, "it is a device, not a plain file"),
    (stat.S_ISLNK, "it is a link"),
)
_NOT_PLAIN = "it is not a plain file"

# The system's reasons that have better words, and what to do about each.
_REASONS = {
    errno.ENOENT: ("it is not there", "Check how its name and its folder are spelled."),
    errno.ENOTDIR: (
        "its path leads through a file as if that were a folder",
        "Check how its folder is spelled.",
    ),
    errno.EACCES: (
        "you have no permission to read it",
        "Give yourself permission, or copy the file into a folder of your own.",
    ),
    errno.ENAMETOOLONG: ("its name is too long", "Give it a shorter one."),
    errno.ELOOP: ("its links lead in a circle", "Name the file itself, or make the link anew."),
}
_REMEDY = "Name a plain file, or copy what you need of it into one."


class NotPlainError(OSError):
    """A path to a folder, pipe, device or socket instead of a plain file, or an impossible name."""


def open_plain(path: Path | str, *, follow: bool = True) -> BufferedReader:
    """Open the plain file at *path* for reading bytes; refuse a link unless *follow*.

    ``OSError`` with a reason in words when it cannot be opened; ``NotPlainError``, which is
    one, when it is anything but a plain file.
    """
    try:
        _check_plain(Path(path).stat(follow_symlinks=follow))  # to open a device can be an act
        opened = os.open(path, _FLAGS | (0 if follow else getattr(os, "O_NOFOLLOW", 0)))
    except ValueError:  # a NUL, or half of a character
        raise NotPlainError(
            errno.EINVAL, "its name has a character in it that no file name can have"
        ) from None
    try:
        _check_plain(os.fstat(opened))  # it may have been exchanged since
        return os.fdopen(opened, "rb")
    except BaseException:
        os.close(opened)
        raise


def _check_plain(seen: os.stat_result) -> None:
    if not stat.S_ISREG(seen.st_mode):
        what = next((said for is_one, said in _OTHERS if is_one(seen.st_mode)), _NOT_PLAIN)
        number = errno.EISDIR if stat.S_ISDIR(seen.st_mode) else errno.EINVAL
        raise NotPlainError(number, what)


def read_bytes(
    path: Path, most: int, instead: str = "Split it into several files.", kinds: Sequence[str] = ()
) -> bytes:
    """Return the bytes of the plain file at *path*; refuse more than *most*.

    ``InputError`` when it cannot be read or is larger; *instead* says what to do then.  Where
    *kinds* of ``kinds`` are named, a file that is plainly something else is called what it is.
    """
    try:
        with open_plain(path) as file:
            if kinds:
                check_kind(_head(file), shown_name(path), *kinds)
            raw = bounded(file, most)
    except OSError as error:
        raise unreadable(path, error) from None
    if raw is None:
        raise InputError(
            f"{shown_name(path)}: this file is larger than {most // 1000} kB. {instead}"
        )
    return raw


def _head(file: BufferedReader) -> bytes:
    """Return the first bytes of *file*, and go back to its start."""
    head = os.read(file.fileno(), HEAD_BYTES)
    os.lseek(file.fileno(), 0, os.SEEK_SET)
    return head


def head_of(path: Path | str) -> bytes:
    """Return the first bytes of the file at *path*, which tell its kind; none if unreadable."""
    try:
        with open_plain(path) as file:
            return _head(file)
    except OSError:
        return b""


def bounded(file: BufferedReader, most: int) -> bytes | None:
    """Return the bytes of the plain *file*; ``None`` when it is, or claims to be, above *most*."""
    if os.fstat(file.fileno()).st_size > most:
        return None
    pieces, left = [], most + 1
    while left > 0 and (piece := os.read(file.fileno(), min(left, _PIECE))):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces) if left > 0 else None


def read_text(
    path: Path, most: int, instead: str = "Split it into several files.", kinds: Sequence[str] = ()
) -> str:
    """Return the text of the UTF-8 file at *path*, as ``read_bytes``; else ``PatternError``."""
    return decoded(read_bytes(path, most, instead, kinds), str(path))


def decoded(raw: bytes, name: str) -> str:
    r"""Decode the UTF-8 bytes of the file called *name*; raise ``PatternError`` for others.

    A byte order mark at the start is left out.

    >>> decoded(b"\xef\xbb\xbfHome", "mine.drill")
    'Home'
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The codec leaves a byte order mark out before it counts.
        mark = len(raw) - len(error.object)
        at = error.start + mark
        before = raw[:at]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8-sig", "replace")) + 1
        fact, remedy = NOT_UTF8
        span = Span(name, line, column)
        raise PatternError(fact.format(byte=raw[at]), remedy, span, key="not-utf-8") from None


def unreadable(path: Path | str, error: OSError) -> InputError:
    """Return the error for a file that cannot be opened or read, with what to do about it.

    >>> print(unreadable("mine.drill", FileNotFoundError(errno.ENOENT, "No such file")))
    mine.drill: cannot read this file: it is not there. Check how its name and its folder are \
spelled.
    """
    reason, remedy = reason_of(error), _REMEDY
    if not isinstance(error, NotPlainError):
        reason, remedy = _REASONS.get(error.errno or 0, (reason, remedy))
    elif error.errno == errno.EISDIR:
        remedy = "Name a file in it."
    return InputError(f"{shown_name(path)}: cannot read this file: {reason}. {remedy}")


def shown_name(path: Path | str) -> str:
    """Return *path* as messages show it, with the middle of a very long one left out."""
    name = str(path)
    if len(name) <= _LONGEST_NAME:
        return name
    half = _LONGEST_NAME // 2
    return f"{name[:half]}...{name[-half:]}"
