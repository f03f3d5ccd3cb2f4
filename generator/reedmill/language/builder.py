"""From the grammar's rules to the parts of a drill, with every value bounded."""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import replace
from fractions import Fraction

from lark import Token, Transformer

from reedmill.errors import PatternError, close_match
from reedmill.harp import HOLES, Reed
from reedmill.language.drill import (
    Anchor,
    BarCheck,
    Drill,
    Event,
    Group,
    Item,
    Parent,
    RungItem,
)
from reedmill.language.words import (
    DIRECTIONS,
    LENGTH_PARTS,
    LEVELS,
    MAX_DRILLS,
    MAX_LENGTH_BEATS,
    MAX_NESTING,
    MAX_REPEATS,
    MAX_TEXT,
    MAX_TITLE,
    METER_BEATS,
    METER_UNITS,
    REST,
    ROLES,
    TEMPI,
)
from reedmill.score import Meter
from reedmill.source import Span
from reedmill.text import printable

# A word processor turns ' into a curly quote and - into a dash; both still mean tab.
_TYPOGRAPHY = str.maketrans({"\u2019": "'", "\u2032": "'", "\u2212": "-", "\u2013": "-"})


READING: ContextVar[str] = ContextVar("reading", default="pattern")
"""The name of the file being read, for spans; one parser then serves every file."""


class Builder(Transformer[Token, list[Drill]]):
    """Grammar rules to drill parts.  Each method is named after its rule."""

    # --- the file and its lines -------------------------------------------------

    def start(self, drills: list[Drill]) -> list[Drill]:
        if len(drills) > MAX_DRILLS:
            raise PatternError(
                f"there are {len(drills)} drills in this file; the most is {MAX_DRILLS}",
                "Split it into several files.",
                drills[MAX_DRILLS].span,
            )
        return drills

    def drill(self, parts: list[object]) -> Drill:
        title, *lines = parts
        assert isinstance(title, Token)  # noqa: S101  the grammar puts it first
        found: dict[str, object] = {}
        for line in lines:
            assert isinstance(line, tuple)  # noqa: S101  every line rule returns _line(...)
            word, field, value = line
            if field == "play" and field in found:
                found[field] = (*found[field], *value)  # type: ignore[misc]
            elif field in found:
                raise PatternError(
                    f"this drill has a second {word} line",
                    "Keep one of them. (Only play may go on over several lines.)",
                    self._span(word),
                )
            else:
                found[field] = value
        text = self._text(title, MAX_TITLE, "title")
        if not text.strip():
            raise PatternError(
                "this title is empty",
                'Give the drill a name, such as: drill "Home from every rung"',
                self._span(title),
            )
        return Drill(self._span(title), text, **found)  # type: ignore[arg-type]

    def about(self, parts: list[Token]) -> object:
        return parts[0], "about", self._text(parts[1], MAX_TEXT, "text")

    def level(self, parts: list[Token]) -> object:
        return parts[0], "level", self._number(parts, LEVELS)

    def tempo(self, parts: list[Token]) -> object:
        return parts[0], "tempo_bpm", self._number(parts, TEMPI)

    def meter(self, parts: list[Token]) -> object:
        beats, unit = (int(part[:9]) for part in parts[1].split("/"))
        if beats not in METER_BEATS or unit not in METER_UNITS:
            raise PatternError(
                f"there is no meter {parts[1]}",
                "The first number is 1 to 16, the second 2, 4 or 8: meter 4/4, meter 12/8.",
                self._span(parts[1]),
            )
        return parts[0], "meter", Meter(beats, unit)

    def length(self, parts: list[Token]) -> object:
        return parts[0], "length", self._beats(parts[1], str(parts[1]))

    def anchor(self, parts: list[Token]) -> object:
        return parts[0], "anchor", Anchor(self._span(parts[1]), self._reed(parts[1]))

    def from_(self, parts: list[Token]) -> object:
        title = self._text(parts[1], MAX_TITLE, "title")
        return parts[0], "parent", Parent(self._span(parts[1]), title)

    # --- rungs and order ---------------------------------------------------------

    def rungs(self, parts: list[object]) -> object:
        return parts[0], "rungs", tuple(parts[1:])

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

    def order(self, parts: list[Token]) -> object:
        names = [part for part in parts[1:] if part != ","]
        for name in names:
            if name not in DIRECTIONS:
                raise PatternError(
                    f'"{name:.40}" is no order of rungs.{close_match(name, DIRECTIONS)}',
                    f"Write one or more of {', '.join(DIRECTIONS)}: order down, up.",
                    self._span(name),
                )
        return parts[0], "order", tuple(str(name) for name in names)

    # --- music ---------------------------------------------------------------------

    def phrase(self, parts: list[object]) -> object:
        return parts[0], "phrase", tuple(parts[1:])

    def ending(self, parts: list[object]) -> object:
        return parts[0], "ending", tuple(parts[1:])

    def play(self, parts: list[object]) -> object:
        return parts[0], "play", tuple(parts[1:])

    def event(self, parts: list[Token]) -> Item:
        head, *rest = parts
        times = rest.pop() if rest and rest[-1].type == "TIMES" else None
        event = self._event(head, rest[0] if rest else None)
        return self._group((event,), event.span, times) if times is not None else event

    def slide(self, parts: list[Token]) -> Event:
        event = self._event(parts[1], parts[2] if len(parts) > 2 else None)
        if event.rest:
            raise PatternError(
                "a rest cannot be slid into",
                "Put ~ between two notes of one reed, such as -3~-3'.",
                self._span(parts[0]),
            )
        return replace(event, joined=True)

    def _event(self, head: Token, length: Token | None) -> Event:
        span = self._span(head).until(self._span(length)) if length else self._span(head)
        beats = self._beats(length, length[1:]) if length else None
        if head.type == "REED":
            return Event(span, reed=self._reed(head), length=beats)
        if head == REST:
            return Event(span, length=beats)
        if head in ("draw", "blow"):
            raise PatternError(
                f'"{head}" is said with a sign here: -3 is draw 3, 3 is blow 3',
                "Write the hole alone, with a minus sign for a draw.",
                self._span(head),
            )
        if head not in ROLES:
            raise PatternError(
                f'"{head:.40}" is no note.{close_match(head, ROLES)}',
                f"Write a reed such as -3', r for a rest, or one of {', '.join(ROLES)}.",
                self._span(head),
            )
        return Event(span, role=str(head), length=beats)

    def group(self, parts: list[object]) -> Group:
        opening, *items = parts
        assert isinstance(opening, Token)  # noqa: S101  the bracket
        last = items.pop()
        times = last if isinstance(last, Token) and last.type == "TIMES" else None
        if times is not None:
            items.pop()  # the closing bracket
        return self._group(tuple(items), self._span(opening), times)  # type: ignore[arg-type]

    def _group(self, items: tuple[Item, ...], span: Span, times: Token | None) -> Group:
        repeats = int(times[1:9]) if times is not None else 1
        if not 1 <= repeats <= MAX_REPEATS:
            raise PatternError(
                f"{times:.12} asks for too many or too few repeats",
                f"Repeat between 1 and {MAX_REPEATS} times, such as (-2 -3)x4.",
                self._span(times) if times is not None else span,
            )
        nesting = 1 + max((item.nesting for item in items if isinstance(item, Group)), default=0)
        if nesting > MAX_NESTING:
            raise PatternError(
                f"brackets stand inside brackets more than {MAX_NESTING} deep here",
                "Write the music out, or take a pair of brackets away.",
                span,
            )
        return Group(span, items, repeats, repeats * sum(item.count for item in items), nesting)

    def bar(self, parts: list[Token]) -> BarCheck:
        return BarCheck(self._span(parts[0]))

    # --- values ---------------------------------------------------------------------

    def _span(self, token: Token) -> Span:
        return Span(READING.get(), token.line or 1, token.column or 1, max(1, len(token)))

    def _text(self, token: Token, most: int, what: str) -> str:
        inside = token[1:-1]
        if len(inside) > most:
            raise PatternError(
                f"this {what} has {len(inside):,} characters; the most is {most}",
                "Shorten it. Longer thoughts fit in a comment, after a # sign.",
                self._span(token),
            )
        return printable(_unescaped(inside))

    def _number(self, parts: list[Token], allowed: range) -> int:
        word, token = parts
        number = int(token[:9])
        if number not in allowed:
            raise PatternError(
                f"{word} {token:.12} is out of range",
                f"A {word} is a whole number from {allowed[0]} to {allowed[-1]}.",
                self._span(token),
            )
        return number

    def _reed(self, token: Token) -> Reed:
        reed = Reed.parse(token.translate(_TYPOGRAPHY)[:40])
        if reed.hole not in HOLES:
            raise PatternError(
                f"there is no hole {reed.hole}",
                "A harp has holes 1 to 10: -3 is draw 3, 3 is blow 3.",
                self._span(token),
            )
        return reed

    def _beats(self, token: Token, text: str) -> Fraction:
        above, _, below = text.partition("/")
        bottom = int(below[:9]) if below else 1
        if bottom not in LENGTH_PARTS:
            raise PatternError(
                f"a length of {text:.20} cannot be counted",
                "Lengths are beats and halves, thirds, quarters, sixths or eighths of a beat: "
                ":2, :1/2, :3/2.",
                self._span(token),
            )
        beats = Fraction(int(above[:9]), bottom)
        if not 0 < beats <= MAX_LENGTH_BEATS:
            raise PatternError(
                f"a length of {text:.20} beats cannot be played",
                f"A note lasts more than 0 and at most {MAX_LENGTH_BEATS} beats.",
                self._span(token),
            )
        return beats


# "from" is a word of Python's, so its rule cannot be a plain method name.
setattr(Builder, "from", Builder.from_)


def _unescaped(inside: str) -> str:
    r"""The text between quotes: ``\"`` is a quote, ``\\`` a backslash, all else itself."""
    return "\\".join(piece.replace('\\"', '"') for piece in inside.split("\\\\"))
