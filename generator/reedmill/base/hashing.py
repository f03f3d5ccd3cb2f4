"""The SHA-256 of what is in a file, and its size."""

from __future__ import annotations

import hashlib
from io import BufferedReader
from pathlib import Path


def hashed(path: Path) -> tuple[str, int]:
    """SHA-256 in hexadecimal and size in bytes of what is in the file *path*.

    ``OSError`` when it cannot be read.
    """
    with path.open("rb") as file:
        return hashed_file(file)


def hashed_file(file: BufferedReader) -> tuple[str, int]:
    """SHA-256 in hexadecimal of *file* from where it stands, and its place at the end."""
    sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return sha256, file.tell()
