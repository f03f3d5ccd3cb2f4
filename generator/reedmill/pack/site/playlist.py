"""Playlists: extended M3U in UTF-8, which the players of phones and computers open.

The format has no standard; the two tags used, ``#EXTM3U`` and ``#EXTINF``, are named in
RFC 8216 (HTTP Live Streaming, 2017), which builds on it.
"""

from __future__ import annotations

import math
import posixpath
from collections import Counter
from collections.abc import Iterable
from urllib.parse import quote

from reedmill.base.text import printable
from reedmill.pack.site.manifest import PackFile, safe_path

_UNKNOWN = -1
_MIXED_FIRST = ("backing", "mix", "tones", "drone", "click")


def playlist(title: str, files: Iterable[PackFile], folder: str = "") -> bytes:
    """Return a playlist of the audio in *files*, in their order, to be stored in *folder*.

    The paths are relative to *folder*, so that a pack can be moved, and stand in their own
    letters: most players take a line for the name of a file, and ``%D0`` for three signs of it.
    To those that take it for an address it is one too, for a path of a pack has no sign in it
    that an address must hide.
    """
    lines = ["#EXTM3U", f"#PLAYLIST:{printable(title)}"]
    heard = [each for each in files if each.kind == "audio"]
    times = Counter(each.exercise for each in heard)
    for each in heard:
        seconds = _UNKNOWN if each.seconds is None else math.ceil(each.seconds)
        name = _name(each, with_tempo=times[each.exercise] > 1)
        lines += [f"#EXTINF:{seconds},{name}", _relative(each.path, folder)]
    return ("\n".join(lines) + "\n").encode()


def relative(path: str, folder: str = "") -> str:
    """Return *path* as seen from *folder*, both from the top of the pack, as a URL.

    >>> relative("audio/a.flac", "lessons/01"), relative("lessons/01/a.flac", "lessons/01")
    ('../../audio/a.flac', 'a.flac')
    """
    return quote(_relative(path, folder))


def _relative(path: str, folder: str) -> str:
    """Return *path* as seen from *folder*, unencoded."""
    return posixpath.relpath(safe_path(path), folder or ".")


def _name(each: PackFile, *, with_tempo: bool) -> str:
    """Return a track's name for players; only the comma after the length is a separator."""
    position = f", position {each.position}" if each.position else ""
    tempo = f", tempo {each.tempo}" if with_tempo and each.tempo else ""
    mouth = f", {each.embouchure}" if each.embouchure else ""
    stem = f" ({each.stem})" if each.stem else ""
    return printable(f"{each.drill} - {each.harp} harp{position}{mouth}{tempo}{stem}")


def listened_first(files: Iterable[PackFile]) -> list[PackFile]:
    """Return the fullest audio file for each exercise and tempo, in the order of *files*."""
    best: dict[tuple[str, int | None], PackFile] = {}
    for each in files:
        if each.kind == "audio":
            key = (each.exercise, each.tempo)
            best[key] = min(best.get(key, each), each, key=lambda file: fullness(file.stem))
    return list(best.values())


def fullness(stem: str) -> int:
    """Return a sort key for stems: lowest for the fullest mix."""
    return _MIXED_FIRST.index(stem) if stem in _MIXED_FIRST else len(_MIXED_FIRST)
