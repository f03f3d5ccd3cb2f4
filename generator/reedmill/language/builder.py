"""Build drills from their parsed lines, with every value checked against its range."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from lark import Token

from reedmill.base.errors import InputError, close_match
from reedmill.base.ranges import TEMPI_BPM
from reedmill.language.drill import (
    Anchor,
    Drill,
    FormPlace,
    Move,
    Parent,
    RungItem,
    Section,
    TuneOctave,
)
from reedmill.language.mistakes import drill_mistake
from reedmill.language.music_builder import ABOVE, READING, REEDS, MusicBuilder
from reedmill.language.printed import BELOW, PrintedSign, as_music
from reedmill.language.words import (
    DIRECTIONS,
    LEVELS,
    MAX_DRILLS,
    MAX_PLANS,
    MAX_RUNGS,
    MAX_TEXT,
    MAX_TITLE,
    METER_BEATS,
    METER_UNITS,
    MUSIC_LINES,
    VALUES,
)
from reedmill.score.score import Embouchure, Feel, LipShape, Meter
from reedmill.theory.chords import sign_in_front
from reedmill.theory.positions import POSITION_WORDS, SAID_AFTER, Position

_HOLDS = {"lips": LipShape.LIPS, "left": LipShape.TONGUE_LEFT, "right": LipShape.TONGUE_RIGHT}
_SYNONYMS = {"swing": "shuffle", "swung": "shuffle", "even": "straight"}
_SYNONYMS |= {"top": "high", "upper": "high", "bottom": "low", "lower": "low", "mid": "middle"}
_OF_A_SECTION = frozenset(each.name for each in fields(Section)) - {"span", "name"}

DrillLine = tuple[Token, dict[str, Any]]
"""The word a line starts with, and the fields of the drill it sets."""


class Builder(MusicBuilder):
    """Builds drills from the parse tree; each method is named after its grammar rule."""

    # --- the file and its drills -------------------------------------------------

    def start(self, drills: list[Drill]) -> list[Drill]:
        if len(drills) > MAX_DRILLS:
            raise drill_mistake(
                "too-many-drills", drills[MAX_DRILLS].span, count=len(drills), most=MAX_DRILLS
            )
        return drills

    def drill(self, parts: list[Any]) -> Drill:
        title: Token = parts[0]
        lines: list[DrillLine] = parts[1:]
        text = self._text(title, MAX_TITLE, "title")
        if not text.strip():
            raise drill_mistake("empty-title", self._span(title))
        own, sections = self._sorted(lines)
        return Drill(self._span(title), text, sections=sections, **own)

    def _sorted(self, lines: list[DrillLine]) -> tuple[dict[str, Any], tuple[Section, ...]]:
        """Return the fields of the drill, and its sections with theirs."""
        own: dict[str, Any] = {}
        sections: list[dict[str, Any]] = []
        for word, found in lines:
            if word == "section":
                sections.append(dict(found))
                continue
            into = sections[-1] if sections else own
            for field, value in found.items():
                if sections and field not in _OF_A_SECTION:
                    raise drill_mistake("line-inside-section", self._span(word), word=word)
                if field in into and word not in ("play", "tune"):
                    where = "section" if sections else "drill"
                    raise drill_mistake("second-line", self._span(word), where=where, word=word)
                into[field] = into[field] + value if field in into else value
        for each in (own, *sections):
            if "play" in each:
                each["play"] = as_music(each["play"])
        return own, tuple(Section(**each) for each in sections)

    # --- lines with one value --------------------------------------------------------

    def about(self, parts: list[Token]) -> DrillLine:
        return parts[0], {"about": self._text(parts[1], MAX_TEXT, "text")}

    def listen(self, parts: list[Token]) -> DrillLine:
        return parts[0], {"listen": self._text(parts[1], MAX_TEXT, "text")}

    def section(self, parts: list[Token]) -> DrillLine:
        name = self._text(parts[1], MAX_TITLE, "name")
        if not name.strip():
            raise drill_mistake("empty-section", self._span(parts[1]))
        return parts[0], {"span": self._span(parts[1]), "name": name}

    def level(self, parts: list[Token]) -> DrillLine:
        return parts[0], {"level": self._number(parts, LEVELS)}

    def positions(self, parts: list[Token]) -> DrillLine:
        said = [part for part in parts[1:] if part != ","]
        places = [part for part in said if part.lower() not in SAID_AFTER] or said
        numbers = [self._position(parts[0], part) for part in places]
        return parts[0], {"positions": tuple(dict.fromkeys(numbers))}

    def _position(self, word: Token, token: Token) -> int:
        """Return the position *token* names, in the words of the command line."""
        if token.isdigit():
            return self._number([word, token], range(1, 13))
        try:
            return Position.parse(token).number
        except InputError:
            hint = close_match(token[:MAX_TITLE], POSITION_WORDS)
            raise drill_mistake(
                "no-such-position", self._span(token), word=token, hint=hint
            ) from None

    def over(self, parts: list[Token]) -> DrillLine:
        places = [self._form_place(part) for part in parts[1:] if part != ","]
        return parts[0], {"over": tuple(dict.fromkeys(places))}

    def _form_place(self, token: Token) -> FormPlace:
        """Return the place of a form that *token* names: a chord as forms write it, or a word."""
        try:
            return FormPlace.parse(token)
        except InputError:
            meant = sign_in_front(token[:MAX_TITLE])
            words = close_match(token[:MAX_TITLE], list(VALUES["over"]))
            hint = f" Its sign comes first: {meant}." if meant else words
            raise drill_mistake("no-such-place", self._span(token), word=token, hint=hint) from None

    def tempo(self, parts: list[Token]) -> DrillLine:
        found = {"tempo_bpm": self._number(parts[:2], TEMPI_BPM)}
        if len(parts) == 4:  # tempo 60 to 80
            found["tempo_goal_bpm"] = self._number([parts[0], parts[3]], TEMPI_BPM)
        return parts[0], found

    def meter(self, parts: list[Token]) -> DrillLine:
        beats, unit = (self._whole(parts[1], part) for part in parts[1].split("/"))
        if beats not in METER_BEATS or unit not in METER_UNITS:
            raise drill_mistake("no-such-meter", self._span(parts[1]), meter=parts[1])
        return parts[0], {"meter": Meter(beats, unit)}

    def feel(self, parts: list[Token]) -> DrillLine:
        name = self._one_of(parts[1], [feel.value for feel in Feel], "a feel")
        return parts[0], {"feel": Feel(name)}

    def pickup(self, parts: list[Token]) -> DrillLine:
        return parts[0], {"pickup": self._beats(parts[1], str(parts[1]))}

    def length(self, parts: list[Token]) -> DrillLine:
        return parts[0], {"length": self._beats(parts[1], str(parts[1]))}

    def allow(self, parts: list[Token]) -> DrillLine:
        self._one_of(parts[1], ["overbends"], "a thing to allow")
        return parts[0], {"overbends": True}

    def octave(self, parts: list[Token]) -> DrillLine:
        names = list(VALUES["octave"])
        name = self._one_of(parts[1], names, "an octave of the harp")
        return parts[0], {"octave": TuneOctave(self._span(parts[1]), names.index(name))}

    def echo(self, parts: list[Token]) -> DrillLine:
        return parts[0], {"echo": True}

    def from_(self, parts: list[Token]) -> DrillLine:
        title = self._text(parts[1], MAX_TITLE, "title")
        return parts[0], {"parent": Parent(self._span(parts[1]), title)}

    def move(self, parts: list[Token]) -> DrillLine:
        way = self._one_of(parts[1], ["up", "down"], "a way to move")
        holes = self._number([parts[0], parts[2]], range(1, 10))
        span = self._span(parts[1]).until(self._span(parts[2]))
        return parts[0], {"move": Move(span, holes if way == "up" else -holes)}

    def _one_of(self, token: Token, known: list[str], what: str) -> str:
        if token not in known:
            meant = next((word for word in known if word == _SYNONYMS.get(token.lower())), "")
            hint = f' Write "{meant}" for it.' if meant else close_match(token, known)
            raise drill_mistake(
                "unknown-choice", self._span(token), word=token, what=what, hint=hint,
                choices=" or ".join(known),
            )  # fmt: skip
        return str(token)

    # --- embouchure ----------------------------------------------------------------

    def embouchure(self, parts: list[Any]) -> DrillLine:
        plans = tuple(part for part in parts[1:] if part != "or")
        if len(plans) > MAX_PLANS:
            raise drill_mistake(
                "too-many-plans", self._span(parts[0]), count=len(plans), most=MAX_PLANS
            )
        return parts[0], {"embouchures": plans}

    def plan(self, parts: list[Any]) -> Embouchure:
        [only] = parts
        return only if isinstance(only, Embouchure) else Embouchure(only, only)

    def split(self, parts: list[Any]) -> Embouchure:
        anchors, rungs = (part for part in parts if isinstance(part, LipShape))
        return Embouchure(anchors, rungs)

    def hold(self, parts: list[Token]) -> LipShape:
        return _HOLDS[parts[-1]]

    # --- anchor, rungs and order -----------------------------------------------------

    def anchor(self, parts: list[Token]) -> DrillLine:
        span = self._span(parts[1])
        if parts[1].type in REEDS:
            *beside, reed = self._holes(parts[1], apart="")
            return parts[0], {"anchor": Anchor(span, reed, tuple(beside))}
        if parts[1] != "root":
            hint = close_match(parts[1], ["root"])
            raise drill_mistake("unknown-anchor", span, word=parts[1], hint=hint)
        return parts[0], {"anchor": Anchor(span, None)}

    def rungs(self, parts: list[Any]) -> DrillLine:
        rungs: list[RungItem] = parts[1:]
        if len(rungs) > MAX_RUNGS:
            span = rungs[MAX_RUNGS].span
            raise drill_mistake("too-many-rungs", span, count=len(rungs), most=MAX_RUNGS)
        return parts[0], {"rungs": tuple(rungs)}

    def one(self, parts: list[Token]) -> RungItem:
        *beside, reed = self._holes(parts[0], apart="for a rung each")
        return RungItem(self._span(parts[0]), reed, beside=tuple(beside))

    def all(self, parts: list[Token]) -> RungItem:
        return self._run("all", parts)

    def bends(self, parts: list[Token]) -> RungItem:
        return self._run("bends", parts)

    def _run(self, how: str, parts: list[Token]) -> RungItem:
        """Return a run of bends: ``all of -3 down to -3''``."""
        top, floor = self._reed(parts[2]), self._reed(parts[5]) if len(parts) > 3 else None
        if top != top.natural:
            raise drill_mistake(
                "run-from-a-bend", self._span(parts[2]), how=how, reed=top.tab,
                natural=top.natural.tab,
            )  # fmt: skip
        if floor is not None and floor.natural != top:
            raise drill_mistake(
                "run-into-another-hole", self._span(parts[5]), how=how, reed=top.tab,
                floor=floor.tab,
            )  # fmt: skip
        return RungItem(self._span(parts[0]).until(self._span(parts[-1])), top, how, floor)

    def order(self, parts: list[Token]) -> DrillLine:
        names = [part for part in parts[1:] if part != ","]
        for name in names:
            if name not in DIRECTIONS:
                raise drill_mistake(
                    "unknown-order", self._span(name), word=name,
                    hint=close_match(name, DIRECTIONS), choices=", ".join(DIRECTIONS),
                )  # fmt: skip
        return parts[0], {"order": tuple(str(name) for name in names)}


def _music_line(_builder: Builder, parts: list[Any]) -> DrillLine:
    word, items = parts[0], tuple(parts[1:])
    if word == "play" and items[0].span.line > (word.line or 1):
        items = (PrintedSign(items[0].span, BELOW), *items)
    return word, {str(word): items}


# The lines that hold music are read alike; and "from" is a word of Python's, so its rule
# cannot be a plain method name.
for _word in MUSIC_LINES:
    setattr(Builder, _word, _music_line)
setattr(Builder, "from", Builder.from_)

__all__ = ["ABOVE", "READING", "Builder"]
