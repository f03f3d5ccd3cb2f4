"""The part of the builder that reads music: notes, groups and values."""

from __future__ import annotations

import re
from contextvars import ContextVar
from dataclasses import replace
from fractions import Fraction
from typing import Any, TypeVar

from lark import Token, Transformer

from reedmill.base.errors import PatternError, close_match
from reedmill.base.source import Span
from reedmill.base.text import MOST_DIGITS, ForeignText, printable, whole_number
from reedmill.harp import HOLES, Breath, Reed
from reedmill.harp.habits import in_our_tab, tab_suggestion
from reedmill.harp.together import OneBreath, holes_tab, low_to_high, together_refusal
from reedmill.language.drill import BarCheck, Drill, Event, Group, Item, Sung
from reedmill.language.mistakes import drill_mistake
from reedmill.language.printed import BREATHE, HELD, PrintedSign
from reedmill.language.words import (
    LENGTH_PARTS,
    MAX_LENGTH_BEATS,
    MAX_NESTING,
    MAX_REPEATS,
    OTHER_STYLES,
    REST,
    ROLES,
    STYLES,
)
from reedmill.score.style import COUNTED, COUNTS, PLAIN, Mark, Style
from reedmill.theory.degrees import Degree

# What a word processor makes of ' and -, and how players type two ticks, still mean tab; a
# flat or sharp sign means b or #.
TYPOGRAPHY = str.maketrans(
    {
        "\u2019": "'", "\u2032": "'", "\u00b4": "'", '"': "''", "\u2033": "''", "\u201d": "''",
        "\u2212": "-", "\u2013": "-", "\u2014": "-", "\u266d": "b", "\u266f": "#",
    }
)  # fmt: skip
# Habits from elsewhere that are easily read and should be answered, not refused in passing.
REEDS = ("REED", "HOLES", "OTHER_TAB", "RUN_TOGETHER")
"""The tokens that stand for a reed or several; the last two kinds are answered, not read."""
_DRAW_OR_BLOW = ("draw", "blow", "d", "D")
_NOTE_NAME = re.compile(r"[A-G](b|is|es|sharp|flat)?")
_RESTS = ("rest", "pause", "R")
_ALTER = {"b": -1, "#": 1}
_NOT_DIGITS = "-+'^q"  # of a reed's tab
_DIGITS = "0123456789"
_MOST_TICKS = 40  # no reed bends so deep, and a message can show them
_OCTAVES = 3  # the most a tune may go up or down from its home octave

READING: ContextVar[str] = ContextVar("reading", default="pattern")
"""The name of the file being read, for spans; one parser then serves every file."""

ABOVE: ContextVar[int] = ContextVar("above", default=0)
"""The lines of that file above the text being read, when it is read in pieces."""


_Part = TypeVar("_Part")

Volta = tuple[Token, tuple[Item, ...]]
"""The ordinal of an ending and what it plays."""


class MusicBuilder(Transformer[Token, list[Drill]]):
    """Builds events and groups from the parse tree; each method is named after its rule."""

    # --- notes ---------------------------------------------------------------------

    def note(self, parts: list[Token]) -> Item:
        """Build a reed, a role or a rest, perhaps repeated."""
        return self._note(parts, in_tune=False)

    def sung(self, parts: list[Token]) -> Item:
        return self._note(parts, in_tune=True)

    def slide(self, parts: list[Token]) -> Event:
        return self._slide(parts, in_tune=False)

    def sung_slide(self, parts: list[Token]) -> Event:
        return self._slide(parts, in_tune=True)

    def _note(self, parts: list[Token], *, in_tune: bool) -> Item:
        times = parts.pop() if parts[-1].type == "TIMES" else None
        event = self._event(parts, in_tune=in_tune)
        return self._group((event,), event.span, times) if times is not None else event

    def _slide(self, parts: list[Token], *, in_tune: bool) -> Event:
        written = parts[1] if parts[1].type == "LENGTH" else None
        event = self._event(parts[2 if written else 1 :], in_tune=in_tune)
        if event.rest:
            raise drill_mistake("slide-into-rest", self._span(parts[0]))
        if event.accent:
            raise drill_mistake("accent-on-slide", event.span)
        for mark in event.style.marks:
            if mark.needs_attack:
                raise drill_mistake("mark-on-slide", event.span, mark=mark.value)
        slide = self._beats(written, written[1:]) if written else None
        return replace(event, joined=True, slide_beats=slide)

    def _event(self, parts: list[Token], *, in_tune: bool) -> Event:
        style, parts = self._styled(parts)
        head, marks = parts[0], {part.type: part for part in parts[1:]}
        length = marks.get("LENGTH")
        event = Event(
            self._span(head).until(self._span(parts[-1])),
            length=self._beats(length, length[1:]) if length else None,
            accent="ACCENT" in marks,
            style=style,
        )
        if head.type in REEDS:
            *beside, reed = self._holes(head)
            return replace(event, reed=reed, beside=tuple(beside))
        if head.type in ("DEGREE", "DEGREES"):
            *others, sung = self._degrees(head)
            return replace(event, sung=sung, sung_beside=tuple(others))
        if head != REST:
            return replace(event, role=self._role(head, in_tune=in_tune))
        if event.accent:
            raise drill_mistake("accent-on-rest", event.span)
        if style.marks:
            raise drill_mistake("mark-on-rest", event.span, mark=style.marks[0].value)
        return event

    def _styled(self, parts: list[_Part]) -> tuple[Style, list[_Part]]:
        """Return the style that the first of *parts* are the words of, and the other parts."""
        words = [part for part in parts if isinstance(part, Token) and part.type == "STYLE"]
        if not words:
            return PLAIN, parts
        found: dict[Mark, Token] = {}
        a_beat = None
        for word in words:
            mark = Mark(word.rstrip(_DIGITS))
            if mark in found:
                raise drill_mistake("mark-twice", self._span(word), mark=mark.value)
            found[mark] = word
            digits = word.removeprefix(mark.value)
            if digits:
                a_beat = self._whole(word, digits)
                if a_beat not in COUNTS:
                    raise drill_mistake(
                        "count-out-of-range", self._span(word), word=word, mark=mark.value,
                        most=COUNTS[-1],
                    )  # fmt: skip
        if all(mark in found for mark in COUNTED):
            raise drill_mistake("vibrato-and-shake", self._span(found[Mark.SHAKE]))
        marks = tuple(mark for mark in Mark if mark in found)
        return Style(marks, a_beat), parts[len(words) :]

    def _role(self, head: Token, *, in_tune: bool) -> str:
        if head in ROLES:
            return str(head)
        if head in _DRAW_OR_BLOW:
            raise drill_mistake("breath-in-words", self._span(head), word=head)
        if head in _RESTS:
            raise drill_mistake("rest-in-words", self._span(head), word=head)
        if in_tune:
            raise drill_mistake("unknown-degree", self._span(head), word=head)
        if head == "b":  # the start of b3, or the end of 3b
            raise drill_mistake("degree-among-reeds", self._span(head))
        if _NOTE_NAME.fullmatch(head):
            raise drill_mistake("note-name", self._span(head), word=head)
        ours = OTHER_STYLES.get(head.lower(), "")
        hint = f' Write "{ours}" for it.' if ours else close_match(head, [*ROLES, *STYLES])
        raise drill_mistake("unknown-note", self._span(head), word=head, hint=hint)

    def _degrees(self, token: Token) -> list[Sung]:
        """Return degrees of one breath, the lowest first."""
        found = [self._degree(token, word.strip()) for word in token.split("&")]
        if len({each.semitones for each in found}) < len(found):
            raise drill_mistake("degree-twice", self._span(token), degrees=token)
        return sorted(found, key=lambda each: each.semitones)

    def _degree(self, token: Token, word: str) -> Sung:
        text = word.translate(TYPOGRAPHY)
        number = self._whole(token, text.lstrip("b#").rstrip("+-").rstrip("q"))
        up = text.count("+") - text.count("-")
        octave = up + (number - 1) // 7
        mixed = "+" in text and "-" in text
        if not 1 <= number <= 14 or mixed or abs(octave) > _OCTAVES:
            raise drill_mistake("no-such-degree", self._span(token), degree=word)
        alter = _ALTER.get(text[0], 0)
        return Sung(Degree((number - 1) % 7 + 1, alter, "q" in text), octave)

    # --- groups ----------------------------------------------------------------------

    def group(self, parts: list[object]) -> Group:
        """Build ``( items )`` with a repeat count or endings after it."""
        style, parts = self._styled(parts)
        return replace(self._plain_group(parts), style=style)

    def _plain_group(self, parts: list[object]) -> Group:
        opening, items, behind = _bracketed(parts)
        if not behind:
            self._check_bracketed(items)
        if behind and isinstance(behind[0], Token):
            return self._group(items, self._span(opening), behind[0])
        endings: list[tuple[Item, ...]] = []
        voltas: list[Volta] = behind
        for place, (ordinal, ending) in enumerate(voltas, start=1):
            if int(ordinal[0]) != place:
                span = self._span(ordinal)
                raise drill_mistake("ending-out-of-order", span, ordinal=ordinal, place=place)
            endings.append(ending)
        if not endings:
            return self._group(items, self._span(opening), None)
        return self._grown(Group(self._span(opening), items, len(endings), 0, 0, tuple(endings)))

    def _check_bracketed(self, items: tuple[Item, ...]) -> None:
        """Refuse a hole alone in brackets, which some read as draw, others as blow."""
        match items:
            case (
                Event(
                    reed=Reed(bend=0, over=False) as reed, length=None, accent=False,
                    style=Style(marks=()),
                ),
            ):  # fmt: skip
                # its sign was written where its text is longer than its number
                if reed.breath is Breath.BLOW and items[0].span.width == len(str(reed.hole)):
                    raise drill_mistake("hole-in-brackets", items[0].span, hole=reed.hole)

    def volta(self, parts: list[object]) -> Volta:
        ordinal, *bracketed = parts
        assert isinstance(ordinal, Token)  # noqa: S101  the grammar puts it first
        return ordinal, _bracketed(bracketed)[1]

    def triplet(self, parts: list[object]) -> Group:
        style, (word, *bracketed) = self._styled(parts)
        assert isinstance(word, Token)  # noqa: S101  the grammar puts it first
        _, items, behind = _bracketed(bracketed)
        times = behind[0] if behind else None
        group = self._group(items, self._span(word), times)
        return replace(group, triplet=True, style=style)

    def _group(self, items: tuple[Item, ...], span: Span, times: Token | None) -> Group:
        repeats = self._whole(times, times[1:]) if times is not None else 1
        if not 1 <= repeats <= MAX_REPEATS:
            at = self._span(times) if times is not None else span
            raise drill_mistake("repeats-out-of-range", at, times=times)
        return self._grown(Group(span, items, repeats, 0, 0))

    def _grown(self, group: Group) -> Group:
        """Return *group* with its size computed from its parts, and limited."""
        inside = [*group.items, *(item for ending in group.endings for item in ending)]
        nesting = 1 + max((item.nesting for item in inside if isinstance(item, Group)), default=0)
        if nesting > MAX_NESTING:
            raise drill_mistake("brackets-too-deep", group.span, most=MAX_NESTING)
        count = group.times * sum(item.count for item in group.items)
        count += sum(item.count for ending in group.endings for item in ending)
        return replace(group, count=count, nesting=nesting)

    def bar(self, parts: list[Token]) -> BarCheck:
        return BarCheck(self._span(parts[0]))

    # --- signs of printed tab -----------------------------------------------------------

    def SILENT(self, token: Token) -> Event:  # noqa: N802  a token of that name
        return Event(self._span(token))

    def HELD(self, token: Token) -> PrintedSign:  # noqa: N802
        return PrintedSign(self._span(token), HELD)

    def BREATHE(self, token: Token) -> PrintedSign:  # noqa: N802
        return PrintedSign(self._span(token), BREATHE)

    # --- values ---------------------------------------------------------------------

    def _span(self, token: Token) -> Span:
        line = ABOVE.get() + (token.line or 1)
        return Span(READING.get(), line, token.column or 1, max(1, len(token)))

    def _text(self, token: Token, most: int, what: str) -> ForeignText:
        inside = token[1:-1]
        if len(inside) > most:
            span = self._span(token)
            raise drill_mistake("text-too-long", span, what=what, count=len(inside), most=most)
        return printable(unescaped(inside))

    def _number(self, parts: list[Token], allowed: range) -> int:
        word, token = parts
        number = self._whole(token, token)
        if number not in allowed:
            raise drill_mistake(
                "number-out-of-range", self._span(token), word=word, number=token,
                least=allowed[0], most=allowed[-1],
            )  # fmt: skip
        return number

    def _reed(self, token: Token) -> Reed:
        if token.type == "OTHER_TAB":
            raise self._other_tab(token)
        self._whole(token, token.translate(TYPOGRAPHY).strip(_NOT_DIGITS))
        reed = read_reed(token)
        if reed.hole not in HOLES:
            raise drill_mistake("no-such-hole", self._span(token), hole=reed.hole)
        return reed

    def _holes(self, token: Token, apart: str = "for one after the other") -> OneBreath:
        """Return the reeds of one breath; the first sign is for all of them.

        *apart* says what they are with spaces between; empty where they cannot be that.
        """
        if token.type == "RUN_TOGETHER":
            raise self._run_together(token, apart)
        if token.type != "HOLES":
            return (self._reed(token),)
        words = [word.strip() for word in token.split("&")]
        for word in words:
            self._whole(token, word.translate(TYPOGRAPHY).strip(_NOT_DIGITS))
        reeds = read_holes(token)
        for reed in reeds:
            if reed.hole not in HOLES:
                raise drill_mistake("no-such-hole", self._span(token), hole=reed.hole)
        refusal = together_refusal(reeds)
        if refusal is not None:
            key, values = refusal
            raise drill_mistake(key, self._span(token), **values)
        return low_to_high(reeds)

    def _run_together(self, token: Token, apart: str) -> PatternError:
        """Return the error for reeds without a space between: one breath, or several notes."""
        text = token.translate(TYPOGRAPHY)
        words = re.findall(r"[-+]?\d+'*", text)
        reeds = [read_reed(word) for word in words]
        ways = [f"{' '.join(reed.tab for reed in reeds)} {apart}"] if apart else []
        if together_refusal(reeds) is None:
            ways.insert(0, f"{holes_tab(low_to_high(reeds))} for all of them at once")
        told = ", or ".join(ways) or f"{reeds[0].tab} alone"
        return drill_mistake("holes-run-together", self._span(token), word=token, ways=told)

    def _other_tab(self, token: Token) -> PatternError:
        """Return the error for a reed written in another notation."""
        hole = in_our_tab(token)[0].hole
        if hole not in HOLES:
            return drill_mistake("no-such-hole", self._span(token), hole=hole)
        ours = tab_suggestion(token)
        return drill_mistake("tab-of-another-kind", self._span(token), word=token, ours=ours)

    def _whole(self, token: Token, digits: str) -> int:
        """Return the number *digits* writes, a part of *token*."""
        number = whole_number(digits)
        if number is None:
            raise drill_mistake(
                "number-too-long", self._span(token), digits=len(digits), most=MOST_DIGITS
            )
        return number

    def _beats(self, token: Token, text: str) -> Fraction:
        if re.search(r"\.\d", text):
            raise drill_mistake("decimal-length", self._span(token), length=text)
        undotted = text.rstrip(".")
        above, _, below = undotted.partition("/")
        bottom = self._whole(token, below) if below else 1
        if bottom not in LENGTH_PARTS:
            raise drill_mistake("uncountable-length", self._span(token), length=text)
        dots = len(text) - len(undotted)
        if dots > 2:
            raise drill_mistake("too-many-dots", self._span(token), length=text)
        # a dot adds half of the value, a second one half of that
        beats = Fraction(self._whole(token, above), bottom) * (2 - Fraction(1, 2**dots))
        if not 0 < beats <= MAX_LENGTH_BEATS:
            raise drill_mistake("unplayable-length", self._span(token), length=text)
        return beats


def _bracketed(parts: list[Any]) -> tuple[Token, tuple[Item, ...], list[Any]]:
    """Return the opening bracket, the items inside, and what follows the closing one."""
    opening = parts[0]
    assert isinstance(opening, Token)  # noqa: S101  the grammar puts a bracket first
    closing = next(at for at, part in enumerate(parts) if part == ")")
    return opening, tuple(parts[1:closing]), parts[closing + 1 :]


def read_reed(text: str) -> Reed:
    """Parse a reed the grammar has recognised, in any spelling.

    >>> read_reed("\u22123\u2019").tab, read_reed("+03").tab
    ("-3'", '3')
    """
    tab = text.translate(TYPOGRAPHY)
    hole = int(tab.strip(_NOT_DIGITS))
    bend = min(tab.count("'"), _MOST_TICKS)
    breath = Breath.DRAW if "-" in tab else Breath.BLOW
    return Reed(hole, breath, bend, tab.endswith("^"), "q" in tab)


def read_holes(text: str) -> tuple[Reed, ...]:
    """Parse reeds with ``&`` between, in written order; one without a sign has the first's breath.

    >>> [reed.tab for reed in read_holes("\u22122 & 3'")], len(read_holes("2&-3"))
    (['-2', "-3'"], 2)
    """
    first, *words = (word.strip() for word in text.translate(TYPOGRAPHY).split("&"))
    sign = first[0] if first[0] in "-+" else ""
    return (
        read_reed(first),
        *(read_reed(word if word[0] in "-+" else sign + word) for word in words),
    )


def unescaped(inside: str) -> str:
    r"""Return the text between quotes: ``\"`` is a quote, ``\\`` a backslash, the rest as is."""
    return "\\".join(piece.replace('\\"', '"') for piece in inside.split("\\\\"))
