"""The shipped drills, and finding a drill by its title or its file."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from reedmill.base.errors import InputError, close_match
from reedmill.base.shipped import patterns_dir as patterns_dir
from reedmill.base.text import same_title
from reedmill.expand import expand
from reedmill.harp import Harp, Kind, Reed
from reedmill.language import Drill, parse_file, parse_together, read_pattern
from reedmill.language.words import MAX_TITLE
from reedmill.score import Feel, Hold, Score
from reedmill.theory.positions import Position

SUFFIX = ".drill"
_TITLE = re.compile(r'^[ \t]*drill[ \t]*"((?:\\.|[^"\\])*)"', re.MULTILINE)
_PARENT = re.compile(r'^[ \t]*from[ \t]*"((?:\\.|[^"\\])*)"', re.MULTILINE)
TECHNIQUES = (
    "single notes", "draw bend", "blow bend", "overbend", "slide", "tongue block", "triplets",
    "shuffle", "echo",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shelved:
    """A drill of the library and where it stands."""

    drill: Drill
    file: str  # relative to the library, with forward slashes

    @property
    def topic(self) -> str:
        """The folder it is in."""
        return self.file.rpartition("/")[0]

    @property
    def score(self) -> Score:
        """The drill on a C harp, in the first position it is meant for."""
        return _score(self)

    @property
    def holes(self) -> tuple[int, ...]:
        """The holes it uses, low to high."""
        return tuple(sorted({note.reed.hole for note in self.score.notes}))

    @property
    def techniques(self) -> tuple[str, ...]:
        """What a player must be able to do for it."""
        return techniques(self.score)


@cache
def _score(shelved: Shelved) -> Score:
    return expand(shelved.drill, Harp("C"), usual_position(shelved.drill))


def usual_position(drill: Drill) -> Position:
    """Cross harp, or the first position *drill* is meant for when that is not among them."""
    meant = drill.positions
    return Position(2 if not meant or 2 in meant else meant[0])


@cache
def _texts() -> dict[str, str]:
    """The text of every shipped file, by its place in the library."""
    root = patterns_dir()
    return {
        path.relative_to(root).as_posix(): read_pattern(path)
        for path in sorted(root.rglob(f"*{SUFFIX}"))
    }


@cache
def shipped() -> tuple[Shelved, ...]:
    """Every drill of the library, in the order of folders and files."""
    return tuple(Shelved(drill, drill.span.file) for drill in parse_together(_texts()))


def _shipped_drill(wanted: str) -> Drill | None:
    """The shipped drill called *wanted*, reading only its file and those it derives from.

    Reading the whole library would take longer than drawing a sheet's music.
    """
    homes = {
        same_title(title): file for file, text in _texts().items() for title in _named(_TITLE, text)
    }
    if same_title(wanted) not in homes:
        return None
    files, ahead = set[str](), {homes[same_title(wanted)]}
    while ahead:
        files |= ahead
        parents = {name for file in ahead for name in _named(_PARENT, _texts()[file])}
        ahead = {homes[same_title(name)] for name in parents if same_title(name) in homes} - files
    drills = parse_together({file: _texts()[file] for file in sorted(files)})
    return next((drill for drill in drills if same_title(drill.title) == same_title(wanted)), None)


def _named(line: re.Pattern[str], text: str) -> list[str]:
    return [name.replace('\\"', '"') for name in line.findall(text)]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a drill should be; ``None`` or empty does not matter."""

    words: tuple[str, ...] = ()  # all of them somewhere in title, purpose, topic, techniques
    level: int | None = None
    hole: int | None = None
    topic: str | None = None
    position: int | None = None  # it is meant for this position
    technique: str | None = None

    def fits(self, each: Shelved) -> bool:
        """True for a drill that is all of it."""
        meant = each.drill.positions
        return (
            self.level in (None, each.drill.level)
            and self.topic in (None, each.topic)
            and (self.position is None or not meant or self.position in meant)
            and (self.hole is None or self.hole in each.holes)
            and (self.technique is None or self.technique in each.techniques)
            and all(word.lower() in _searched(each) for word in self.words)
        )


def search(wanted: Wanted) -> list[Shelved]:
    """The shipped drills that are as *wanted*, easiest first.

    Raises ``InputError`` for a topic or technique the library does not have.
    """
    _check_known("topic", wanted.topic, sorted({each.topic for each in shipped()}))
    _check_known("technique", wanted.technique, TECHNIQUES)
    found = [each for each in shipped() if wanted.fits(each)]
    return sorted(found, key=lambda each: each.drill.level or 0)


def _check_known(what: str, name: str | None, known: Sequence[str]) -> None:
    if name is not None and name not in known:
        raise InputError(
            f'there is no {what} "{name}".{close_match(name, known)} '
            f"Choose from: {', '.join(known)}."
        )


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


def techniques(score: Score) -> tuple[str, ...]:
    """What a player must be able to do for *score*, in the order it is usually learnt."""
    notes = score.notes
    needed = {
        "draw bend": any(_bends(note.reed, "draw") for note in notes),
        "blow bend": any(_bends(note.reed, "blow") for note in notes),
        "overbend": any(note.reed.over for note in notes),
        "slide": any(note.joined for note in notes),
        "tongue block": any(note.embouchure not in (None, Hold.LIPS) for note in notes),
        "triplets": bool(score.triplet_beats),
        "shuffle": score.feel is Feel.SHUFFLE,
        "echo": bool(score.echoes),
    }
    return tuple(name for name in TECHNIQUES if needed.get(name)) or TECHNIQUES[:1]


def _bends(reed: Reed, breath: str) -> bool:
    return reed.kind is Kind.BEND and reed.breath.value == breath


def find_drills(wanted: str) -> tuple[Drill, ...]:
    """The drills *wanted* names: all those of a ``.drill`` file, or one of the library.

    A title may be given in any case or as the name of its output files.  Raises
    ``InputError`` with the nearest title when there is none.
    """
    if wanted.endswith(SUFFIX) or os.path.isfile(wanted):  # noqa: PTH113  no error for odd names
        return parse_file(Path(wanted), tuple(each.drill for each in shipped()))
    found = _shipped_drill(wanted)
    if found:
        return (found,)
    titles = [each.drill.title for each in shipped()]
    raise InputError(
        f'there is no drill "{wanted:.{MAX_TITLE}}".{close_match(wanted, titles)} '
        "Put a whole title in quotes; reedmill drills lists them. A file of your own ends in "
        ".drill."
    )
