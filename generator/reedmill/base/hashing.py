"""The SHA-256 and size of a file."""

from __future__ import annotations

import hashlib
from io import BufferedReader
from pathlib import Path


def hashed(path: Path) -> tuple[str, int]:
    """Return the SHA-256 in hexadecimal and the size in bytes of the file at *path*.

    ``OSError`` when it cannot be read.
    """
    with path.open("rb") as file:
        return hashed_file(file)


def hashed_file(file: BufferedReader) -> tuple[str, int]:
    """Return the SHA-256 in hexadecimal of *file* from its position, and its end position."""
    sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return sha256, file.tell()
