"""From the lines of a drill to its parts, with every value bounded."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from lark import Token

from reedmill.errors import PatternError, close_match
from reedmill.language.drill import Anchor, Drill, Move, Parent, RungItem, Section
from reedmill.language.music_builder import READING, MusicBuilder
from reedmill.language.words import (
    DIRECTIONS,
    LEVELS,
    MAX_DRILLS,
    MAX_TEXT,
    MAX_TITLE,
    METER_BEATS,
    METER_UNITS,
    MUSIC_LINES,
    TEMPI,
)
from reedmill.score import Embouchure, Feel, Hold, Meter

_HOLDS = {"lips": Hold.LIPS, "left": Hold.TONGUE_LEFT, "right": Hold.TONGUE_RIGHT}
_OF_A_SECTION = frozenset(each.name for each in fields(Section)) - {"span", "name"}

Line = tuple[Token, dict[str, Any]]
"""The word a line starts with, and the fields of the drill it sets."""


class Builder(MusicBuilder):
    """Grammar rules to drill parts.  Each method is named after its rule."""

    # --- the file and its drills -------------------------------------------------

    def start(self, drills: list[Drill]) -> list[Drill]:
        if len(drills) > MAX_DRILLS:
            raise PatternError(
                f"there are {len(drills)} drills in this file; the most is {MAX_DRILLS}",
                "Split it into several files.",
                drills[MAX_DRILLS].span,
            )
        return drills

    def drill(self, parts: list[Any]) -> Drill:
        title: Token = parts[0]
        lines: list[Line] = parts[1:]
        text = self._text(title, MAX_TITLE, "title")
        if not text.strip():
            raise PatternError(
                "this title is empty",
                'Give the drill a name, such as: drill "Home from every rung"',
                self._span(title),
            )
        own, sections = self._sorted(lines)
        return Drill(self._span(title), text, sections=sections, **own)

    def _sorted(self, lines: list[Line]) -> tuple[dict[str, Any], tuple[Section, ...]]:
        """The fields of the drill, and its sections with theirs."""
        own: dict[str, Any] = {}
        sections: list[dict[str, Any]] = []
        for word, found in lines:
            if word == "section":
                sections.append(dict(found))
                continue
            into = sections[-1] if sections else own
            for field, value in found.items():
                if sections and field not in _OF_A_SECTION:
                    raise PatternError(
                        f"this {word} line stands inside a section",
                        f"Put it above the first section line: {word} holds for the whole drill.",
                        self._span(word),
                    )
                self._add(into, word, field, value)
        return own, tuple(Section(**each) for each in sections)

    def _add(self, into: dict[str, Any], word: Token, field: str, value: Any) -> None:
        if field in into and word in ("play", "tune"):
            into[field] += value
        elif field in into:
            raise PatternError(
                f"this drill has a second {word} line",
                "Keep one of them. (Only play and tune may go on over several lines.)",
                self._span(word),
            )
        else:
            into[field] = value

    # --- lines with one value --------------------------------------------------------

    def about(self, parts: list[Token]) -> Line:
        return parts[0], {"about": self._text(parts[1], MAX_TEXT, "text")}

    def listen(self, parts: list[Token]) -> Line:
        return parts[0], {"listen": self._text(parts[1], MAX_TEXT, "text")}

    def section(self, parts: list[Token]) -> Line:
        name = self._text(parts[1], MAX_TITLE, "name")
        return parts[0], {"span": self._span(parts[1]), "name": name}

    def level(self, parts: list[Token]) -> Line:
        return parts[0], {"level": self._number(parts, LEVELS)}

    def positions(self, parts: list[Token]) -> Line:
        numbers = [
            self._number([parts[0], part], range(1, 13)) for part in parts[1:] if part != ","
        ]
        return parts[0], {"positions": tuple(dict.fromkeys(numbers))}

    def tempo(self, parts: list[Token]) -> Line:
        found = {"tempo_bpm": self._number(parts[:2], TEMPI)}
        if len(parts) > 2:
            found["tempo_goal_bpm"] = self._number([parts[0], parts[3]], TEMPI)
            if found["tempo_goal_bpm"] < found["tempo_bpm"]:
                raise PatternError(
                    f"tempo {parts[1]} to {parts[3]} goes backwards",
                    f"The slower tempo comes first: tempo {parts[3]} to {parts[1]}.",
                    self._span(parts[3]),
                )
        return parts[0], found

    def meter(self, parts: list[Token]) -> Line:
        beats, unit = (int(part[:9]) for part in parts[1].split("/"))
        if beats not in METER_BEATS or unit not in METER_UNITS:
            raise PatternError(
                f"there is no meter {parts[1]:.20}",
                "The first number is 1 to 16, the second 2, 4 or 8: meter 4/4, meter 12/8.",
                self._span(parts[1]),
            )
        return parts[0], {"meter": Meter(beats, unit)}

    def feel(self, parts: list[Token]) -> Line:
        name = self._one_of(parts[1], [feel.value for feel in Feel], "feel")
        return parts[0], {"feel": Feel(name)}

    def pickup(self, parts: list[Token]) -> Line:
        return parts[0], {"pickup": self._beats(parts[1], str(parts[1]))}

    def length(self, parts: list[Token]) -> Line:
        return parts[0], {"length": self._beats(parts[1], str(parts[1]))}

    def allow(self, parts: list[Token]) -> Line:
        self._one_of(parts[1], ["overbends"], "thing to allow")
        return parts[0], {"overbends": True}

    def echo(self, parts: list[Token]) -> Line:
        return parts[0], {"echo": True}

    def from_(self, parts: list[Token]) -> Line:
        title = self._text(parts[1], MAX_TITLE, "title")
        return parts[0], {"parent": Parent(self._span(parts[1]), title)}

    def move(self, parts: list[Token]) -> Line:
        way = self._one_of(parts[1], ["up", "down"], "way to move")
        holes = self._number([parts[0], parts[2]], range(1, 10))
        span = self._span(parts[1]).until(self._span(parts[2]))
        return parts[0], {"move": Move(span, holes if way == "up" else -holes)}

    def _one_of(self, token: Token, known: list[str], what: str) -> str:
        if token not in known:
            raise PatternError(
                f'"{token:.40}" is no {what}.{close_match(token, known)}',
                f"Write {' or '.join(known)}.",
                self._span(token),
            )
        return str(token)

    # --- embouchure ----------------------------------------------------------------

    def embouchure(self, parts: list[Any]) -> Line:
        return parts[0], {"embouchures": tuple(part for part in parts[1:] if part != "or")}

    def plan(self, parts: list[Any]) -> Embouchure:
        [only] = parts
        return only if isinstance(only, Embouchure) else Embouchure(only, only)

    def split(self, parts: list[Any]) -> Embouchure:
        anchors, rungs = (part for part in parts if isinstance(part, Hold))
        return Embouchure(anchors, rungs)

    def hold(self, parts: list[Token]) -> Hold:
        return _HOLDS[parts[-1]]

    # --- anchor, rungs and order -----------------------------------------------------

    def anchor(self, parts: list[Token]) -> Line:
        span = self._span(parts[1])
        if parts[1].type == "REED":
            return parts[0], {"anchor": Anchor(span, self._reed(parts[1]))}
        self._one_of(parts[1], ["root"], "anchor")
        return parts[0], {"anchor": Anchor(span, None)}

    def rungs(self, parts: list[Any]) -> Line:
        return parts[0], {"rungs": tuple(parts[1:])}

    def one(self, parts: list[Token]) -> RungItem:
        return RungItem(self._span(parts[0]), self._reed(parts[0]))

    def all(self, parts: list[Token]) -> RungItem:
        return self._run("all", parts)

    def bends(self, parts: list[Token]) -> RungItem:
        return self._run("bends", parts)

    def _run(self, how: str, parts: list[Token]) -> RungItem:
        """``all of -3 down to -3''``: the words, the reed, and perhaps the floor."""
        top, floor = self._reed(parts[2]), self._reed(parts[5]) if len(parts) > 3 else None
        if top.bend or top.over:
            raise PatternError(
                f'"{how} of" starts from a natural note, and {top.tab} is none',
                f"Write {how} of {top.natural.tab}.",
                self._span(parts[2]),
            )
        if floor is not None and floor.natural != top:
            raise PatternError(
                f"{floor.tab} is not on the way down from {top.tab}",
                f"A run stays in one hole: {how} of {top.tab} down to {top.tab}''.",
                self._span(parts[5]),
            )
        return RungItem(self._span(parts[0]).until(self._span(parts[-1])), top, how, floor)

    def order(self, parts: list[Token]) -> Line:
        names = [part for part in parts[1:] if part != ","]
        for name in names:
            if name not in DIRECTIONS:
                raise PatternError(
                    f'"{name:.40}" is no order of rungs.{close_match(name, DIRECTIONS)}',
                    f"Write one or more of {', '.join(DIRECTIONS)}: order down, up.",
                    self._span(name),
                )
        return parts[0], {"order": tuple(str(name) for name in names)}


def _music_line(_builder: Builder, parts: list[Any]) -> Line:
    return parts[0], {str(parts[0]): tuple(parts[1:])}


# The lines that hold music are read alike; and "from" is a word of Python's, so its rule
# cannot be a plain method name.
for _word in MUSIC_LINES:
    setattr(Builder, _word, _music_line)
setattr(Builder, "from", Builder.from_)

__all__ = ["READING", "Builder"]
