"""The shipped drills, and finding a drill by its title or its file."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from reedmill.errors import InputError, close_match
from reedmill.expand import expand
from reedmill.harp import Harp, Kind, Reed
from reedmill.language import Drill, parse_file, parse_together, read_pattern
from reedmill.language.words import MAX_TITLE
from reedmill.score import Score
from reedmill.text import slug
from reedmill.theory.positions import Position

SUFFIX = ".drill"


@dataclass(frozen=True, slots=True)
class Shelved:
    """A drill of the library with what one wants to know before choosing it."""

    drill: Drill
    file: str  # relative to the library, with forward slashes
    holes: tuple[int, ...]
    techniques: tuple[str, ...]


def patterns_dir() -> Path:
    """The folder of shipped drills: inside the installed package, or in a checkout's root."""
    package = Path(__file__).resolve().parent
    inside = package / "patterns"
    return inside if inside.is_dir() else package.parents[1] / "patterns"


@cache
def shipped() -> tuple[Shelved, ...]:
    """Every drill of the library, in the order of folders and files."""
    root = patterns_dir()
    texts = {
        path.relative_to(root).as_posix(): read_pattern(path)
        for path in sorted(root.rglob(f"*{SUFFIX}"))
    }
    return tuple(map(_shelved, parse_together(texts)))


def _shelved(drill: Drill) -> Shelved:
    score = expand(drill, Harp("C"), Position(2))
    return Shelved(drill, drill.span.file, _holes(score), techniques(score))


def search(
    words: Sequence[str] = (), *, level: int | None = None, hole: int | None = None
) -> list[Shelved]:
    """The shipped drills with all of *words*, on *level*, using *hole*; easiest first."""
    found = [
        each
        for each in shipped()
        if level in (None, each.drill.level)
        and (hole is None or hole in each.holes)
        and all(word.lower() in _searched(each) for word in words)
    ]
    return sorted(found, key=lambda each: each.drill.level or 0)


def drills_data(shelved: Sequence[Shelved]) -> dict[str, Any]:
    """The library, or a part of it, as plain data: what ``drills --json`` prints."""
    return {
        "drills": [
            {
                "title": each.drill.title,
                "file": each.file,
                "level": each.drill.level,
                "about": each.drill.about or "",
                "holes": list(each.holes),
                "techniques": list(each.techniques),
            }
            for each in shelved
        ]
    }


def _searched(each: Shelved) -> str:
    texts = (each.drill.title, each.drill.about or "", each.file, *each.techniques)
    return " ".join(texts).lower()


def _holes(score: Score) -> tuple[int, ...]:
    return tuple(sorted({note.reed.hole for note in score.notes}))


def techniques(score: Score) -> tuple[str, ...]:
    """What a player must be able to do for *score*, in the order it is usually learnt."""
    reeds = {note.reed for note in score.notes}
    wanted = {
        "draw bend": any(_bends(reed, "draw") for reed in reeds),
        "blow bend": any(_bends(reed, "blow") for reed in reeds),
        "overbend": any(reed.over for reed in reeds),
        "slide": any(note.joined for note in score.notes),
    }
    return tuple(name for name, needed in wanted.items() if needed) or ("single notes",)


def _bends(reed: Reed, breath: str) -> bool:
    return reed.kind is Kind.BEND and reed.breath.value == breath


def find_drills(wanted: str) -> tuple[Drill, ...]:
    """The drills *wanted* names: all those of a ``.drill`` file, or one of the library.

    A title may be given in any case or as the name of its output files.  Raises
    ``InputError`` with the nearest title when there is none.
    """
    if wanted.endswith(SUFFIX) or os.path.isfile(wanted):  # noqa: PTH113  no error for odd names
        return parse_file(Path(wanted), tuple(each.drill for each in shipped()))
    for each in shipped():
        if slug(each.drill.title) == slug(wanted):
            return (each.drill,)
    titles = [each.drill.title for each in shipped()]
    raise InputError(
        f'there is no drill "{wanted:.{MAX_TITLE}}".{close_match(wanted, titles)} '
        "List them with: reedmill drills. A file of your own ends in .drill."
    )
