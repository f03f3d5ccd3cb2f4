"""Interruption by Ctrl-C, SIGTERM or a closed terminal; all three end a command tidily.

A signal becomes an exception, and exceptions get lost: a library that calls back into Python
from C prints what it cannot pass on and goes on, and so do destructors.  So the signal is also
remembered, and nobody who gives files their names does it before asking ``check``.  What must
not be cut in half (a child being started, a folder being removed, a call into such a library)
stands in ``held``, which puts the exception off to its end.
"""

from __future__ import annotations

import signal
import sys
import threading
import time
from types import FrameType

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP")
_PATIENCE_S = 1.0  # so long a second signal is taken for the first: terminals send two at once


class Stopped(BaseException):
    """The user stopped us; not an ``Exception``, so that no handler takes it for a failure."""

    def __init__(self, number: int) -> None:
        self.exit_code = 128 + number
        """As shells say it: 130 after Ctrl-C, 143 after TERM, 129 after HUP."""
        super().__init__(number)


class _Now:
    """The state of signals in this process; only its main thread receives any."""

    heeding = False  # ``heed`` was called
    held = 0  # how many ``held`` blocks the main thread stands in
    number = 0  # the signal that came, if one did
    raised_s = float("-inf")  # when it was last made an exception
    kept = ""  # what a player is told besides


def heed() -> None:
    """Make the three signals raise ``Stopped`` from now on; called once by commands.

    A signal that is being ignored stays ignored: ``nohup`` means it.
    """
    _Now.heeding = True
    for name in _NAMES:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _heard)


def _heard(number: int, _frame: FrameType | None) -> None:
    _Now.number = _Now.number or number
    if not _Now.held and time.monotonic() - _Now.raised_s > _PATIENCE_S:
        _raise()


def _raise() -> None:
    _Now.raised_s = time.monotonic()
    raise Stopped(_Now.number)


def _noted(number: int, _frame: FrameType | None) -> None:
    _Now.number = number


def check() -> None:
    """Raise ``Stopped`` if a signal came, even where its exception got lost."""
    if _Now.number and _Now.heeding:
        _raise()


def stop_heeding() -> int:
    """Ignore signals from now on; return the exit code if one had come."""
    _Now.held += 1
    return 128 + _Now.number if _Now.number else 0


class held:  # noqa: N801  it reads as a statement
    """Delays signals until the block is done, which is then whole.

    It must be short.  Without ``heed``, in a program that uses us as a library, it does the
    same for Ctrl-C, whose ``KeyboardInterrupt`` follows at the end of the block.
    """

    def __enter__(self) -> held:
        self._in_main = threading.current_thread() is threading.main_thread()
        self._borrowed = False
        if self._in_main:
            if not _Now.heeding and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
                signal.signal(signal.SIGINT, _noted)
                self._borrowed = True
            _Now.held += 1
        return self

    def __exit__(self, *_: object) -> None:
        if not self._in_main:
            return
        _Now.held -= 1
        if self._borrowed:
            signal.signal(signal.SIGINT, signal.default_int_handler)
            came, _Now.number = _Now.number, 0
            if came:
                raise KeyboardInterrupt
        elif _Now.heeding and _Now.number and not _Now.held and _Now.raised_s < 0:
            _raise()


def keeps(sentence: str) -> None:
    """Remember what is kept when the command is stopped from now on; empty: nothing to tell of.

    *sentence* is one printable line, with how to go on.
    """
    _Now.kept = sentence


def told_when_stopped() -> list[str]:
    """Return the lines that a stopped command ends with."""
    return ["Stopped. Nothing unfinished was left behind.", *filter(None, [_Now.kept])]


def say_so() -> None:
    """Print that the command was stopped and what is kept, if there still is a screen."""
    try:
        sys.stderr.write("".join(f"{line}\n" for line in told_when_stopped()))
        sys.stderr.flush()
    except (OSError, ValueError):  # the terminal was closed
        sys.stderr = None
