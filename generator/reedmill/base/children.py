"""Programs that we start; none outlives us, because ``guard.py`` runs between.

Between us and each stands a process that learns from a pipe that we are gone, even when we
were killed, and then kills the program and whatever that started.  It costs a few
milliseconds, and works on every POSIX system.
"""

from __future__ import annotations

import os
import select
import shutil
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from subprocess import TimeoutExpired
from typing import Any, BinaryIO

from reedmill.base import guard
from reedmill.base.stopping import held

__all__ = ["Child", "TimeoutExpired", "run_into"]

_END_S = 10  # a guard needs milliseconds


class Child:
    """A running program; leaving the block ends it and every process it started.

    *settings* are those of ``subprocess.Popen``.  ``OSError`` when it cannot be started.
    """

    def __init__(self, command: Sequence[str], **settings: Any) -> None:
        found = shutil.which(command[0])
        if found is None:
            open(command[0], "rb").close()  # noqa: PTH123  says what is wrong with it
            raise PermissionError(13, os.strerror(13), command[0])
        self._stopping = threading.Lock()
        program = str(Path(found).absolute())  # the command may run in another folder
        with held():
            line, self._line = os.pipe()
            guarded = [sys.executable, "-I", "-S", guard.__file__, str(line), program]
            try:
                self.process: subprocess.Popen[bytes] = subprocess.Popen(
                    [*guarded, *command[1:]], pass_fds=(line,), start_new_session=True, **settings
                )
            except BaseException:
                os.close(self._line)
                raise
            finally:
                os.close(line)

    def end(self) -> None:
        """Ask for the end of the program and all it started, without waiting; from any thread."""
        self.process.terminate()  # the guard does the rest

    def wait(self, seconds: float) -> int:
        """Return the exit code once there is one; raise ``TimeoutExpired`` after *seconds*.

        Python looks for that up to twenty times a second; Linux tells it at once.
        """
        if self.process.returncode is None and hasattr(os, "pidfd_open"):
            with suppress(OSError):  # an old kernel, or no more files: then Python looks
                _told(self.process.pid, seconds)
                seconds = 0
        return self.process.wait(seconds)

    def stop(self) -> None:
        """End the program and all it started, and wait until it is gone."""
        with held(), self._stopping:
            if self._line >= 0:
                os.close(self._line)
                self._line = -1
            try:
                self.process.wait(_END_S)
            except TimeoutExpired:
                self.process.kill()
                self.process.wait()
            for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
                if stream is not None:
                    with suppress(OSError):  # what it did not read before it ended
                        stream.close()

    def __enter__(self) -> Child:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()


def _told(pid: int, seconds: float) -> None:
    """Return when our child *pid* has ended, or after *seconds*."""
    opened = os.pidfd_open(pid)
    try:
        ended = select.poll()
        ended.register(opened, select.POLLIN)
        ended.poll(1000 * seconds)
    finally:
        os.close(opened)


def run_into(
    command: Sequence[str], given: bytes, out: BinaryIO, err: BinaryIO, limit_s: float
) -> int:
    """Run *command* with *given* as input and *out*, *err* as output files; return its exit code.

    ``OSError`` when it cannot be started, ``TimeoutExpired`` when it is not done
    within *limit_s* seconds, by when it is ended.
    """
    with Child(command, stdin=subprocess.PIPE, stdout=out, stderr=err) as child:
        child.process.communicate(given, timeout=limit_s)
        return child.process.returncode
