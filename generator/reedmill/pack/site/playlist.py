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
    """The playlist of the audio in *files*, in their order, for a place in *folder*.

    Its paths are relative to *folder*, so that a pack can be moved.
    """
    lines = ["#EXTM3U", f"#PLAYLIST:{printable(title)}"]
    heard = [each for each in files if each.kind == "audio"]
    times = Counter(each.exercise for each in heard)
    for each in heard:
        seconds = _UNKNOWN if each.seconds is None else math.ceil(each.seconds)
        name = _name(each, with_tempo=times[each.exercise] > 1)
        lines += [f"#EXTINF:{seconds},{name}", relative(each.path, folder)]
    return ("\n".join(lines) + "\n").encode()


def relative(path: str, folder: str = "") -> str:
    """*path* as seen from *folder*, both from the top of the pack, ready for a URL.

    >>> relative("audio/a.flac", "lessons/01"), relative("lessons/01/a.flac", "lessons/01")
    ('../../audio/a.flac', 'a.flac')
    """
    safe_path(path)
    return quote(posixpath.relpath(path, folder or "."))


def _name(each: PackFile, *, with_tempo: bool) -> str:
    """What players show.  A comma would end the length, but only the first one does."""
    position = f", position {each.position}" if each.position else ""
    tempo = f", tempo {each.tempo}" if with_tempo and each.tempo else ""
    mouth = f", {each.embouchure}" if each.embouchure else ""
    stem = f" ({each.stem})" if each.stem else ""
    return printable(f"{each.drill} - {each.harp} harp{position}{mouth}{tempo}{stem}")


def listened_first(files: Iterable[PackFile]) -> list[PackFile]:
    """One audio file for each exercise, tempo and order of *files*: the fullest there is."""
    best: dict[tuple[str, int | None], PackFile] = {}
    for each in files:
        if each.kind == "audio":
            key = (each.exercise, each.tempo)
            best[key] = min(best.get(key, each), each, key=lambda file: fullness(file.stem))
    return list(best.values())


def fullness(stem: str) -> int:
    """A number to sort stems by: low for what there is most to hear in."""
    return _MIXED_FIRST.index(stem) if stem in _MIXED_FIRST else len(_MIXED_FIRST)
