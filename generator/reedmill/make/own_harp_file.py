"""The file of a player's own harp, which never replaces that of another harp."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from reedmill.base.errors import InputError
from reedmill.base.reading import shown_name
from reedmill.base.remedies import Remedy
from reedmill.base.text import joined
from reedmill.base.writing import Parts
from reedmill.harp import Harp, OwnHarp, Reed
from reedmill.harp.own_harp import own_harp_text, read_own_harp
from reedmill.make.made_files import FileName, InTheWayError, PlacedFile, RequestedFile, place
from reedmill.score.file_words import harp_words

ENDING = ".toml"
_WHOSE = "harp of your own"


def keep_own_harp(
    measured: Callable[[str], OwnHarp],
    harp: Harp,
    out: str,
    missing: frozenset[Reed] = frozenset(),
    *,
    replace: bool = False,
) -> PlacedFile:
    """Save a *measured* *harp* at *out*: a file whose name ends in ``.toml``, or a folder.

    *measured* gives the harp by its name.  ``InTheWayError`` when something else is there, or
    another harp.
    """
    path = Path(out)
    if path.suffix.lower() != ENDING:
        path /= joined("my", harp_words(harp), "harp") + ENDING
    own = measured(path.stem)
    if not replace:
        _check_same(path, own)
    wanted = RequestedFile(FileName(path.stem, _WHOSE, (), _WHOSE), path.suffix)
    with Parts() as parts:
        parts.write(path, own_harp_text(own, missing).encode())
        [placed] = place(parts, path.parent, [wanted], replace=replace)
    return placed


def _check_same(path: Path, own: OwnHarp) -> None:
    """Refuse to replace the file of one harp by another."""
    try:
        before = read_own_harp(path)
    except InputError:  # nothing is there, or what is there is looked at when it is placed
        return
    if (before.harp, before.tuning) != (own.harp, own.tuning):
        raise InTheWayError(
            f"{shown_name(path)} is there already and is of a harp in {before.harp}, so it is left "
            "as it is.", way_out=Remedy.FILE_IN_THE_WAY,
        )  # fmt: skip
