"""The cache of SoundFont measurements, in the user's cache folder.

A file there is found by the hash of the font's content, is safe to delete, and is believed
only when its version, hash, program and every number in it are what they should be; any
other is measured anew and written over.  A folder that cannot be written costs time, no more.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from io import BufferedReader
from pathlib import Path
from typing import Any, NamedTuple

from reedmill.base.errors import InputError, RenderError, reason_of
from reedmill.base.reading import open_plain
from reedmill.base.scratch import sweep
from reedmill.base.writing import write_files
from reedmill.sound.soundfont.file import Preset, SoundFont

VERSION = 1
"""To be raised whenever a measurement would come out differently."""


class CachedRow(NamedTuple):
    """The kept measurement of one key: the fields of ``tuning.KeyTuning`` as JSON holds them."""

    key: int  # MIDI
    fault: str  # the value of a ``tuning.Fault``
    hz: float
    wavers_cents: float
    settles_s: float
    after_cents: float


_LARGEST = 1_000_000  # bytes; 128 keys need some 10,000


def cache_folder() -> Path:
    """Return the folder where this system keeps data that programs can make again."""
    try:
        home = Path.home()
    except RuntimeError:  # nobody whose home it would be: nothing is found or kept there
        home = Path(os.devnull)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "reedmill"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "reedmill"
    chosen = os.environ.get("XDG_CACHE_HOME", "")
    # the XDG Base Directory Specification: a relative path is to be ignored
    return (Path(chosen) if Path(chosen).is_absolute() else home / ".cache") / "reedmill"


def content_hash(font: SoundFont) -> str:
    """Return the SHA-256 of the font in hex; ``InputError`` when it cannot be read."""
    try:
        with open_plain(font.path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:  # it was there a moment ago
        raise InputError(f"{font.path} cannot be read ({reason_of(error)}).") from None


def _place(digest: str, preset: Preset) -> Path:
    return cache_folder() / "soundfonts" / f"{digest}-{preset.bank}-{preset.number}.json"


def load(digest: str, preset: Preset) -> dict[int, CachedRow]:
    """Return the rows kept for a preset, by key; none when there are none or they are damaged."""
    place = _place(digest, preset)
    sweep(place.parent)  # of what a killed run was keeping
    try:
        with open_plain(place, follow=False) as file:
            if not _ours(file):
                return {}
            kept = json.loads(file.read(_LARGEST))
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(kept, dict) or _head(kept) != _head(_content(digest, preset, ())):
        return {}
    rows = kept.get("keys")
    try:
        if not isinstance(rows, list) or not all(map(_is_row, rows)):
            return {}
    except OverflowError:  # a whole number too large for a float
        return {}
    return {row[0]: CachedRow(row[0], row[1], *map(float, row[2:])) for row in rows}


def _ours(file: BufferedReader) -> bool:
    """Tell whether an open file is the user's own: another's could say anything."""
    return sys.platform == "win32" or os.fstat(file.fileno()).st_uid == os.geteuid()


def _head(kept: dict[str, object]) -> dict[str, Any]:
    return {name: value for name, value in kept.items() if name != "keys"}


def _is_row(row: object) -> bool:
    """Tell whether *row* has the shape of a ``CachedRow``: text and finite numbers in range."""
    if not isinstance(row, list) or len(row) != 6:
        return False
    key, fault, *numbers = row
    if type(key) is not int or not 0 <= key <= 127 or not isinstance(fault, str):
        return False
    if not all(type(number) in (int, float) and math.isfinite(number) for number in numbers):
        return False
    hz, wavers, settles_s, after = map(float, numbers)
    return 0 <= hz < 20_000 and 0 <= wavers < 2400 and 0 <= settles_s < 2 and abs(after) < 2400


def save_tunings(digest: str, preset: Preset, rows: Iterable[CachedRow]) -> None:
    """Keep *rows*; do nothing where the folder cannot be written."""
    place = _place(digest, preset)
    content = json.dumps(_content(digest, preset, rows), indent=0)
    with suppress(RenderError):
        write_files([(place, content.encode())])


def _content(digest: str, preset: Preset, rows: Iterable[CachedRow]) -> dict[str, object]:
    return {
        "version": VERSION, "sha256": digest, "bank": preset.bank, "program": preset.number,
        "keys": [list(row) for row in rows],
    }  # fmt: skip
