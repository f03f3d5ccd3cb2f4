"""The file that a score's drill was read from, known by its digest."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from reedmill.base.errors import InputError
from reedmill.base.reading import read_bytes
from reedmill.base.shipped import patterns_dir
from reedmill.score.score import Score

_MOST_BYTES = 10_000_000  # more than any drill may have


def source_sha256(score: Score) -> str:
    """Return the SHA-256 of the file that the drill of *score* is in; empty where there is none."""
    for path in _sources(score.origin):
        with suppress(InputError):
            return hashlib.sha256(read_bytes(path, _MOST_BYTES)).hexdigest()
    return ""


def _sources(origin: str) -> Iterator[Path]:
    if origin:
        yield Path(origin)
        yield patterns_dir() / origin
