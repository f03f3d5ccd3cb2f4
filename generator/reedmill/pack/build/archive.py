"""The ZIP archive of a pack: the same bytes on every machine, and safe to unpack."""

from __future__ import annotations

import os
import shutil
import stat
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import IO

from reedmill.base.below import StrangeEntryError, open_own_file
from reedmill.base.errors import InputError, RenderError, reason_of
from reedmill.pack.site.manifest import safe_path

_TIME = (2020, 1, 1, 0, 0, 0)
_MODE = stat.S_IFREG | 0o644
_UNIX = 3  # the system whose permissions are meant
_PIECE = 1 << 20
# Already compressed: to do it again takes time and saves nothing.
_STORED = (".png", ".flac", ".ogg", ".mp3", ".pdf", ".zip")


def write_archive(
    file: IO[bytes],
    members: Iterable[tuple[str, Path]],
    opened: Callable[[Path], IO[bytes]] = open_own_file,
) -> None:
    """Write a ZIP of *members* (path inside it, file on disk) to *file*, block by block.

    *opened* opens such a file and refuses what is not a plain one.

    Members stand in order of their paths.  ``InputError`` for a path that is not safe or
    comes twice (also where only its capitals differ), ``RenderError`` for a file that
    cannot be read, is a link, or is not a plain file.
    """
    sources = _sorted(members)
    with zipfile.ZipFile(file, "w") as archive:
        for name, path in sources:
            _add(archive, name, path, opened)


def _sorted(members: Iterable[tuple[str, Path]]) -> list[tuple[str, Path]]:
    seen: set[str] = set()
    sources = sorted(members)
    for name, _ in sources:
        if safe_path(name).lower() in seen:
            raise InputError(f'a pack holds "{name}" once; it would come twice in its ZIP.')
        seen.add(name.lower())
    return sources


def _add(
    archive: zipfile.ZipFile, name: str, path: Path, opened: Callable[[Path], IO[bytes]]
) -> None:
    try:
        with opened(path) as source:
            size = os.fstat(source.fileno()).st_size
            with archive.open(_entry(name, size), "w") as target:
                shutil.copyfileobj(source, target, _PIECE)
    except StrangeEntryError:
        raise RenderError(f"{path}: is not a plain file and cannot go into the ZIP.") from None
    except OSError as error:
        reason = reason_of(error)
        raise RenderError(f"{path}: cannot go into the ZIP ({reason}).") from None


def _entry(name: str, size: int) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _TIME)
    entry.create_system = _UNIX
    entry.external_attr = _MODE << 16
    entry.file_size = size  # known beforehand, so that large ones get large fields
    plain = not name.lower().endswith(_STORED)
    entry.compress_type = zipfile.ZIP_DEFLATED if plain else zipfile.ZIP_STORED
    return entry
