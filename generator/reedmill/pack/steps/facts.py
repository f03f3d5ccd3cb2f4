"""Facts that decide the bytes of an output: hashed for its id, compared to explain changes.

Facts are few and in a musician's words ("tempo", "harp"); what is long, such as the notes,
stands as a digest.  Places in pattern files are none: a line moved changes no music.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

from reedmill.base.reading import open_plain
from reedmill.base.source import Span
from reedmill.harp import Reed
from reedmill.practice.practice import Recording
from reedmill.score.score import Embouchure, Note, Score
from reedmill.sheet.look import Look
from reedmill.theory.intonation import Intonation

Facts = dict[str, str]

_DIGEST = 16  # hexadecimal digits: enough to tell apart, short enough to keep
_ID = 40

_SCORE_NAMES = {
    "title": "drill", "about": "purpose", "tempo_bpm": "tempo", "tempo_goal_bpm": "tempo goal",
    "tempi_bpm": "tempo ladder",
    "length": "length", "reference_hz": "reference pitch", "listen": "what to listen for",
    "pickup": "pick-up", "embouchure": "embouchure", "anchor_holes": "anchor",
    "rung_holes": "rungs",
}  # fmt: skip
_WRITTEN = (
    "start", "length", "reed", "role", "joined", "embouchure", "accent", "style", "slide_beats",
)  # fmt: skip
_SHORT = 80  # characters of a fact that is kept as it is


def step_id(kind: str, facts: Facts) -> str:
    """Return the id of the step with these facts: equal facts, equal bytes."""
    return hashlib.sha256(json.dumps([kind, facts], sort_keys=True).encode()).hexdigest()[:_ID]


def score_facts(score: Score) -> Facts:
    """Return everything of *score* that can reach a renderer.

    The notes as they are written stand apart from what the harp, the position and the
    tuning make of them, so that another harp does not count as other notes.
    """
    written = [
        [*(getattr(note, name) for name in _WRITTEN), note.reeds[:-1]] for note in score.notes
    ]
    facts = {
        "harp": score.harp.name,
        "layout": digest(score.harp.layout),
        "position": str(score.position.number),
        "meter": score.meter.name,
        "notes": digest(written),
        "pitches": digest([_sounding(note) for note in score.notes]),
    }
    if score.harp.own:
        facts["own harp"] = digest(score.harp.own)
    apart = {"harp", "position", "meter", "notes", "warnings"}
    return facts | _named(score, _SCORE_NAMES, apart)


def _sounding(note: Note) -> list[object]:
    return [getattr(note, each.name) for each in fields(note) if each.name not in _WRITTEN]


def recording_facts(recording: Recording) -> Facts:
    """Return everything of *recording*; a SoundFont by its content."""
    facts = _named(recording, {"types": "type of sound file", "click": "click"}, {"practice"})
    facts |= _named(recording.practice, {"tempi_bpm": "tempo ladder"}, set())
    fonts = {"voice's SoundFont": recording.voice, "band's SoundFont": recording.band}
    return facts | {name: _file_digest(font) for name, font in fonts.items() if font}


def look_facts(look: Look) -> Facts:
    """Return paper, size of print, ink and what is shown."""
    return _named(look, {"large": "large print", "black": "black and white"}, set())


def plain_facts(**named: object) -> Facts:
    """Return facts from plain values."""
    return {name.replace("_", " "): shown(value) for name, value in named.items()}


def _named(value: Any, names: dict[str, str], without: set[str]) -> Facts:
    return {
        names.get(each.name, each.name.replace("_", " ")): shown(getattr(value, each.name))
        for each in fields(value)
        if each.compare and each.name not in without
    }


def shown(value: object) -> str:
    """Return *value* as a fact: itself when it is short and plain, else a digest.

    >>> shown(80), shown(None), shown(("root", "fifth")), shown(Fraction(3, 2))
    ('80', 'none', 'root, fifth', '3/2')
    """
    text = _plain(value)
    if text is None or len(text) > _SHORT:
        return "#" + digest(value)  # a sign no plain fact begins with
    return text


def _plain(value: object) -> str | None:
    """Return *value* in words; ``None`` when it has no short ones."""
    match value:
        case None | ():
            return "none"
        case bool():
            return "yes" if value else "no"
        case str():
            return None if value.startswith("#") else value
        case float():
            return repr(value).removesuffix(".0")
        case int() | Fraction():
            return str(value)
        case tuple():
            return _listed([_plain(each) for each in value])
        case _:
            return _musical(value)


def _listed(parts: list[str | None]) -> str | None:
    simple = all(part is not None and ", " not in part for part in parts)
    return ", ".join(part or "" for part in parts) if simple else None


def _musical(value: object) -> str | None:
    match value:
        case Enum():
            return str(value.value)
        case Reed():
            return value.tab
        case Embouchure():
            return value.short
        case Intonation():
            return value.words
        case _:
            return None


def digest(value: object) -> str:
    """Return a short name for *value* and everything in it but places in text."""
    canon = "".join(_canonical(value)).encode("utf-8", "surrogatepass")
    return hashlib.sha256(canon).hexdigest()[:_DIGEST]


def _canonical(value: object) -> Iterator[str]:
    """Yield *value* as text that differs wherever the value does."""
    match value:
        case Enum():
            yield f"{type(value).__name__}.{value.name}"
        case list() | tuple():
            yield f"[{','.join(''.join(_canonical(part)) for part in value)}]"
        case dict():
            yield from _canonical(sorted(value.items()))
        case set() | frozenset():
            yield from _canonical(sorted(value))
        case str():
            yield json.dumps(value)
        case None | bool() | int() | float() | Fraction():
            yield f"{type(value).__name__}:{value!r}"
        case Span():
            yield "place"  # every place is alike: a line moved changes no music
        case _:
            yield from _canonical_record(value)


def _canonical_record(value: object) -> Iterator[str]:
    if isinstance(value, type) or not is_dataclass(value):
        raise TypeError(f"{type(value).__name__} has no canonical text")
    yield type(value).__name__
    for each in fields(value):
        content = getattr(value, each.name)
        if each.compare:
            yield f"({each.name}={''.join(_canonical(content))})"


def _file_digest(font: str) -> str:
    """Return a digest of the file of *font*, after which a colon and a number may stand."""
    paths = (Path(name) for name in (font, font.rpartition(":")[0]) if name)
    path = next((each for each in paths if each.is_file()), None)
    if path is None:
        return "none"
    with open_plain(path) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:_DIGEST]
