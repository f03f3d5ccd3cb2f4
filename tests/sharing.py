"""What is dear to make, made once for all processes of a run of tests, and then only read."""

from __future__ import annotations

import fcntl
import hashlib
import os
import pickle
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

_BELOW: list[Path] = []


def share_below(factory: pytest.TempPathFactory) -> None:
    """Keep what is shared in the folder of this run, which pytest removes after some more runs."""
    base = factory.getbasetemp()  # with pytest-xdist a folder for each process, in that of the run
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "shared"
    folder.mkdir(exist_ok=True)
    _BELOW[:] = [folder]


def shared_folder() -> Path | None:
    """The folder that the processes of this run share; none outside of pytest."""
    return _BELOW[0] if _BELOW else None


def bytes_once(given: object, make: Callable[[], bytes]) -> bytes:
    """What *make* makes of what is *given*, all that it depends on; made by the first who asks."""
    name = hashlib.sha256(pickle.dumps(given)).hexdigest()
    if not _BELOW:
        return make()
    place = _BELOW[0] / name
    if place.is_file():
        return place.read_bytes()
    content = make()
    unfinished = place.with_suffix(f".{os.getpid()}")
    unfinished.write_bytes(content)
    unfinished.rename(place)
    return content


@cache
def made_once(name: str, make: Callable[[Path], None]) -> Path:
    """The folder *name* as *make* leaves it, which is called by the first process that asks.

    Whoever alters anything in it alters a copy.
    """
    [below] = _BELOW
    place = below / name
    with (below / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # let go of when the file is closed
        if not place.is_dir():
            unfinished = below / f"{name}.unfinished"
            unfinished.mkdir()
            make(unfinished)
            unfinished.rename(place)
    return place
