"""A worker process: reads works from standard input, writes their outcomes to its output.

It never outlives whoever started it: when its input ends, for whatever reason, it stops at
once, and LilyPond with it.
"""

from __future__ import annotations

import os
import pickle
import signal
import struct
import sys
import threading
from pathlib import Path
from queue import SimpleQueue
from typing import IO, Any

_LENGTH = struct.Struct("<Q")


def send(stream: IO[bytes], message: object) -> None:
    """Write *message* with its length before it."""
    content = pickle.dumps(message, protocol=5)
    stream.write(_LENGTH.pack(len(content)) + content)
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """Return the next message; ``EOFError`` when there is none."""
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    return pickle.loads(_exactly(stream, length))  # noqa: S301  from a process of our own


def _exactly(stream: IO[bytes], count: int) -> bytes:
    content = stream.read(count)
    if len(content) < count:
        raise EOFError
    return content


def main() -> None:
    """Carry out works until the input ends."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    jobs: SimpleQueue[tuple[list[bytes], str]] = SimpleQueue()
    threading.Thread(target=_listen, args=(sys.stdin.buffer, jobs), daemon=True).start()
    from reedmill.pack.run.render import measured_in_turn  # in the process that is to do it
    from reedmill.pack.steps.work import unpack_work  # in the process that is to do it

    while True:
        packed, folder = jobs.get()
        works = [unpack_work(each) for each in packed]
        for measured in measured_in_turn(works, Path(folder)):
            send(answers, measured)


def _listen(stream: IO[bytes], jobs: SimpleQueue[tuple[list[bytes], str]]) -> None:
    """Pass jobs on; at the end of the input, end this process and all it started."""
    try:
        while True:
            jobs.put(receive(stream))
    except EOFError:
        if os.getpgrp() == os.getpid():
            os.killpg(0, signal.SIGKILL)
        os._exit(1)


if __name__ == "__main__":
    main()
