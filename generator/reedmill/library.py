"""The shipped drills, and lookup of a drill by its title or its file."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from reedmill.base.choosing import chosen_word, known_word
from reedmill.base.errors import InputError, close_match
from reedmill.base.kinds import DRILL, check_file_meant, check_kind
from reedmill.base.remedies import Remedy
from reedmill.base.shipped import patterns_dir as patterns_dir
from reedmill.base.text import same_title
from reedmill.expand import expand, versions
from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.language import Drill, parse_file, parse_together, read_pattern
from reedmill.language.drill import FormPlace
from reedmill.language.words import MAX_TITLE
from reedmill.score.score import Score
from reedmill.score.training import TECHNIQUES, approaches, practised
from reedmill.score.training import techniques as techniques
from reedmill.theory.degrees import Degree
from reedmill.theory.positions import Position

SUFFIX = ".drill"
PHRASES = "phrases"
"""The topic of the phrases."""

_TITLE = re.compile(r'^[ \t]*drill[ \t]*"((?:\\.|[^"\\])*)"', re.MULTILINE)
_PARENT = re.compile(r'^[ \t]*from[ \t]*"((?:\\.|[^"\\])*)"', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Shelved:
    """A drill of the library and its file."""

    drill: Drill
    file: str  # relative to the library, with forward slashes

    @property
    def topic(self) -> str:
        """The topic of the drill: the folder of its file."""
        return self.file.rpartition("/")[0]

    @property
    def score(self) -> Score:
        """The drill on a C harp, in the first position it is meant for."""
        return _score(self)

    @property
    def scores(self) -> tuple[Score, ...]:
        """The same drill in each of its embouchures."""
        return tuple(_score(self, version) for version in versions(self.drill))

    @property
    def holes(self) -> tuple[int, ...]:
        """The holes it uses, low to high."""
        return tuple(sorted({reed.hole for note in self.score.notes for reed in note.reeds}))

    @property
    def practised(self) -> tuple[Reed, ...]:
        """The reeds the drill practises, as ``training`` defines them."""
        return practised(self.score)

    @property
    def practised_holes(self) -> tuple[int, ...]:
        """The holes of the practised reeds and of all rungs, low to high."""
        together = {reed.hole for holes in self.score.rung_holes for reed in holes}
        return tuple(sorted(together | {reed.hole for reed in self.practised}))

    @property
    def approaches(self) -> tuple[tuple[Reed, Reed], ...]:
        """Each note before a practised reed, paired with that reed."""
        return approaches(self.score)

    @property
    def techniques(self) -> tuple[str, ...]:
        """The techniques the drill needs, in any of its embouchures."""
        return _techniques(self)


@cache
def _score(shelved: Shelved, version: int = 0) -> Score:
    drill = shelved.drill
    return expand(drill, Harp("C"), usual_position(drill), version=version)


@cache
def _techniques(shelved: Shelved) -> tuple[str, ...]:
    return techniques(*shelved.scores)


def usual_position(drill: Drill) -> Position:
    """Return cross harp, or the first position *drill* is meant for if that is not one."""
    meant = drill.positions
    return Position(2 if not meant or 2 in meant else meant[0])


def not_meant_for(drill: Drill, harp: Harp, position: Position) -> str:
    """Return a notice where *drill* is meant for other positions than *position*."""
    if not drill.positions or position.number in drill.positions:
        return ""
    meant = " or ".join(Position(number).ordinal for number in drill.positions)
    becomes = _become(drill, harp, position)
    return f'"{drill.title}" is meant for {meant} position; in {position.ordinal} {becomes}.'


def _become(drill: Drill, harp: Harp, position: Position) -> str:
    """Say what the notes of *drill* are in a *position* that it is not meant for.

    The anchor is named first: on it a student hears that home lies elsewhere now.  A tune keeps
    its degrees wherever it is played, and changes its holes.
    """
    if not any(part.phrase or part.play or part.ending for part in drill.parts):
        return "it lies in other holes"
    anchor = drill.anchor.reed if drill.anchor else None
    if anchor is not None and harp.refusal(anchor) is None:
        degree = note_on_harp(harp, position, anchor).degree
        if degree != _ROOT:
            return f"its anchor, {anchor.words}, is {degree.words}"
    return "its notes are other degrees"


_ROOT = Degree(1)


@cache
def _texts() -> dict[str, str]:
    """Return the text of every shipped file, by its place in the library."""
    root = patterns_dir()
    return {
        path.relative_to(root).as_posix(): read_pattern(path)
        for path in sorted(root.rglob(f"*{SUFFIX}"))
    }


@cache
def shipped() -> tuple[Shelved, ...]:
    """Return every drill of the library but its phrases, in the order of folders and files."""
    return tuple(each for each in whole_library() if not each.drill.over)


@cache
def shipped_phrases() -> tuple[Shelved, ...]:
    """Return the phrases of the library, drills of two bars that say which chord they are for.

    They are material to fill a form with, too many and too small to stand among the drills.
    """
    return tuple(each for each in whole_library() if each.drill.over)


@cache
def whole_library() -> tuple[Shelved, ...]:
    """Return drills and phrases together."""
    return tuple(Shelved(drill, drill.span.file) for drill in parse_together(_texts()))


TASKS = "placement"
"""The topic of the ten tasks that tell a level: they are not offered as practice."""


def placement_tasks() -> tuple[Shelved, ...]:
    """Return the ten tasks that tell a level, in their order."""
    return tuple(each for each in shipped() if each.topic == TASKS)


def practice_shelf() -> tuple[Shelved, ...]:
    """Return the drills that are there to be practised: all but the ten tasks."""
    return tuple(each for each in shipped() if each.topic != TASKS)


def shipped_drills() -> Iterator[Drill]:
    """Yield every drill and phrase of the library; none is read before the first is asked for."""
    for each in whole_library():
        yield each.drill


def _shipped_drill(wanted: str) -> Drill | None:
    """Return the shipped drill *wanted*, reading only its file and those it derives from.

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


def is_title(wanted: str) -> bool:
    """Tell whether a shipped drill has this title, in any case or as in file names."""
    titles = (title for text in _texts().values() for title in _named(_TITLE, text))
    return same_title(wanted) in map(same_title, titles)


def _named(line: re.Pattern[str], text: str) -> list[str]:
    return [name.replace('\\"', '"') for name in line.findall(text)]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Search terms for drills; ``None`` or an empty value matches every drill."""

    words: tuple[str, ...] = ()  # all of them somewhere in title, purpose, topic, techniques
    level: int | None = None
    hole: int | None = None  # it practises a reed of this hole
    topic: str | None = None
    position: int | None = None  # it is meant for this position
    technique: str | None = None
    rungs: tuple[Reed, ...] = ()  # it practises all of them
    come_from: tuple[Reed, ...] = ()  # from each of them it comes to one of the rungs
    over: str | None = None  # it is a phrase for this chord, or for turnaround or ending

    @property
    def phrases(self) -> bool:
        """True where phrases are looked for too: by what they are over, or by words or topic."""
        return bool(self.over or self.words) or self.topic == PHRASES

    def fits(self, each: Shelved) -> bool:
        """Return True for a drill that matches every term."""
        meant = each.drill.positions
        return (
            self.level in (None, each.drill.level)
            and self.topic in (None, each.topic)
            and (self.position is None or not meant or self.position in meant)
            and all(_found(word.lower(), _searched(each)) for word in self.words)
            and (self.hole is None or self.hole in each.practised_holes)
            and set(self.rungs) <= set(each.practised)
            and (not self.come_from or self._approached(each))
            and (self.technique is None or self.technique in each.techniques)
            and (self.over is None or _suits(each, FormPlace.parse(self.over)))
        )

    def _approached(self, each: Shelved) -> bool:
        came = {before for before, reed in each.approaches if reed in (self.rungs or (reed,))}
        return set(self.come_from) <= came


def _suits(each: Shelved, place: FormPlace) -> bool:
    """Tell whether a phrase is meant for *place*, and has no major third over a minor chord."""
    if not each.drill.stands_over(place) or place.chord is None or not place.chord.is_minor:
        return each.drill.stands_over(place)
    third = (place.chord.root.semitones + _MAJOR_THIRD) % 12
    degrees = (note.degree for note in each.score.notes)
    return all(degree.semitones != third or degree.quarter for degree in degrees)


_MAJOR_THIRD = 4  # semitones


def search(wanted: Wanted) -> list[Shelved]:
    """Return the shipped drills that match *wanted*, easiest first.

    Topics and techniques may be written in any case and in the plural.  Phrases are among them
    where the search is for what they are over, by words or in their topic.  Raises
    ``InputError`` for a topic or technique the library does not have, or a chord that is none.
    """
    if wanted.over is not None:
        FormPlace.parse(wanted.over)
    wanted = replace(
        wanted,
        topic=_known("topic", wanted.topic, topics()),
        technique=_known("technique", wanted.technique, TECHNIQUES),
    )
    shelf = whole_library() if wanted.phrases else shipped()
    found = [each for each in shelf if wanted.fits(each)]
    return sorted(found, key=lambda each: each.drill.level or 0)


def topics() -> tuple[str, ...]:
    """Return the topics of the library: its folders, by name."""
    return tuple(sorted({each.topic for each in whole_library()}))


def _known(what: str, name: str | None, known: Sequence[str]) -> str | None:
    if name is None:
        return None
    in_singular = (known_word(form, known) for form in singulars(name))
    return next(filter(None, in_singular), None) or chosen_word(what, name, known)


def singulars(word: str) -> tuple[str, ...]:
    """Return *word* and the words it may be the plural of.

    >>> singulars("bends"), singulars("echoes"), singulars("bass")
    (('bends', 'bend'), ('echoes', 'echoe', 'echo'), ('bass',))
    """
    if len(word) < _SHORTEST_PLURAL or not word.endswith("s") or word.endswith("ss"):
        return (word,)
    return (word, word[:-1], *([word[:-2]] if word.endswith("es") else []))


_SHORTEST_PLURAL = 4  # letters


def _found(word: str, text: str) -> bool:
    """Tell whether *text* contains *word*, or a word it is the plural of."""
    return any(form in text for form in singulars(word))


def topics_data(found: Sequence[Shelved]) -> dict[str, list[dict[str, Any]]]:
    """Return the number of drills of each topic: what ``drills --topics --json`` prints."""
    count = Counter(each.topic for each in found)
    rows: list[dict[str, Any]] = [
        {"topic": name, "drills": count[name]} for name in topics() if count[name]
    ]
    return {"topics": rows}


def techniques_data(found: Sequence[Shelved]) -> dict[str, list[dict[str, Any]]]:
    """Return the number of drills for each technique, as ``drills --techniques --json``."""
    count = Counter(name for each in found for name in each.techniques)
    rows: list[dict[str, Any]] = [
        {"technique": name, "drills": count[name]} for name in TECHNIQUES if count[name]
    ]
    return {"techniques": rows}


def drills_data(shelved: Sequence[Shelved]) -> dict[str, list[dict[str, object]]]:
    """Return drills as plain data: what ``drills --json`` prints.

    The schema ``drills`` of ``formats.schemas`` says what each field means.
    """
    return {
        "drills": [
            {
                "title": each.drill.title,
                "file": each.file,
                "level": each.drill.level,
                "about": each.drill.about or "",
                "holes": list(each.holes),
                "techniques": list(each.techniques),
                "topic": each.topic,
                "positions": list(each.drill.positions),
                "over": [place.name for place in each.drill.over],
                "practised": [reed.tab for reed in each.practised],
                "practised_holes": list(each.practised_holes),
                "approaches": [
                    {"from": before.tab, "to": reed.tab} for before, reed in each.approaches
                ],
            }
            for each in shelved
        ]
    }


def _searched(each: Shelved) -> str:
    texts = (each.drill.title, each.drill.about or "", each.file, *each.techniques)
    return " ".join(texts).lower()


_MOST_BESIDE = 1000  # names of a folder that are looked at


def _drill_files_beside(wanted: str) -> list[str]:
    """Return the drill files in the folder of *wanted*, if it has an ending as files have."""
    folder, name = os.path.split(wanted)
    if not re.search(r"\.\w{1,6}$", name):
        return []
    with suppress(OSError, ValueError):
        names = sorted(os.listdir(folder or "."))[:_MOST_BESIDE]  # noqa: PTH208  odd names, too
        start = wanted.removesuffix(name)
        return [f"{start}{each}" for each in names if each.endswith(SUFFIX)]
    return []


def find_drills(wanted: str) -> tuple[Drill, ...]:
    """Return the drills *wanted* names: all of a ``.drill`` file, or one of the library.

    A title may be given in any case or as the name of its output files.  Raises
    ``InputError`` with the nearest title when there is none.
    """
    if wanted.endswith(SUFFIX) or os.path.isfile(wanted):  # noqa: PTH113  no error for odd names
        return parse_file(Path(wanted), shipped_drills())
    found = _shipped_drill(wanted)
    if found:
        return (found,)
    check_kind(b"", wanted, DRILL)  # its ending tells
    check_file_meant(wanted, SUFFIX)
    known = _drill_files_beside(wanted) or [each.drill.title for each in whole_library()]
    raise InputError(
        f'there is no drill "{wanted:.{MAX_TITLE}}".{close_match(wanted, known)}',
        way_out=Remedy.FIND_DRILL,
    )
