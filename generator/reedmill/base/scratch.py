"""Temporary folders of our own, and the removal of those a killed run left behind.

Whoever makes one holds a lock on it, which the system lets go of however its owner dies.  A
folder of that name, of this user, whose lock is free is therefore waste, and the next run
removes it; one that is in use is never touched, nor anything by another name.  Where a file
system knows no locks, nothing is swept.
"""

from __future__ import annotations

import atexit
import fcntl
import os
import re
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from reedmill.base.stopping import held

_BESIDE = re.compile(r"\.reedmill-[0-9a-f]{16}\.part")  # in a folder of the player's: hidden
_APART = re.compile(r"reedmill-[0-9a-f]{16}\.scratch")  # in the folder for temporary files
_TRIES, _TRY_S = 20, 0.02  # whoever was killed in a folder may need a moment to be gone

_OURS: set[Scratch] = set()


class Scratch:
    """A new temporary folder, removed when the block ends, or at the latest when Python ends.

    Inside *folder*, hidden there; in the system's folder for temporary files if it is ``None``.
    What killed runs left in the same place is removed first.  ``OSError`` when it cannot be made.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._lock = -1
        name = "reedmill-{}.scratch" if folder is None else ".reedmill-{}.part"
        place = temporary_folder() if folder is None else folder
        sweep(place)
        with held():
            while self._lock < 0:
                self.path = place / name.format(os.urandom(8).hex())
                self.path.mkdir(mode=0o700)
                self._lock = _locked(self.path)
            _OURS.add(self)

    def remove(self) -> None:
        """Remove the folder and all that is in it, once."""
        with held():
            if self in _OURS:
                _remove(self.path)
                os.close(self._lock)
                _OURS.discard(self)

    def __enter__(self) -> Scratch:
        return self

    def __exit__(self, *_: object) -> None:
        self.remove()


def temporary_folder() -> Path:
    """Return the system's temporary folder, and make Python's ``tempfile`` use it.

    ``tempfile`` tries a folder out by a file of a random name, which a KILL at that moment
    leaves for good: nobody knows whose it was.  So the folder is only asked whether it can be
    written; where none can, ``tempfile`` says so in its ``OSError``.
    """
    if tempfile.tempdir is None:
        named = [os.environ.get(name) for name in ("TMPDIR", "TEMP", "TMP")]
        for place in [*filter(None, named), "/tmp", "/var/tmp", "/usr/tmp"]:  # noqa: S108
            if Path(place).is_dir() and os.access(place, os.W_OK | os.X_OK):
                tempfile.tempdir = str(Path(place).absolute())
                break
    return Path(tempfile.gettempdir())


def _locked(path: Path) -> int:
    """Open the folder and lock it; return -1 when somebody swept it before that."""
    try:
        opened = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except FileNotFoundError:
        return -1
    try:
        fcntl.flock(opened, fcntl.LOCK_EX)
    except OSError:  # no locks here: then nobody else gets one either
        return opened
    try:
        if path.stat().st_ino == os.fstat(opened).st_ino:
            return opened
    except FileNotFoundError:
        pass
    os.close(opened)
    return -1


def sweep(folder: Path | None = None) -> None:
    """Remove what dead runs left in *folder*, or in the folder for temporary files."""
    place = temporary_folder() if folder is None else folder
    with suppress(OSError):
        for path in list(place.iterdir()):
            if _BESIDE.fullmatch(path.name) or _APART.fullmatch(path.name):
                _sweep_one(path)


def _sweep_one(path: Path) -> None:
    try:
        opened = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
    except OSError:  # a link or a file is none of ours
        return
    try:
        if os.fstat(opened).st_uid == os.geteuid():
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
            _remove(path)
    except OSError:  # it is in use
        pass
    finally:
        os.close(opened)


def _remove(path: Path) -> None:
    for _ in range(_TRIES):
        shutil.rmtree(path, ignore_errors=True)
        if not path.exists():
            return
        time.sleep(_TRY_S)


@atexit.register
def remove_all() -> None:
    """Remove every scratch folder of this process that still exists."""
    for each in tuple(_OURS):
        each.remove()
