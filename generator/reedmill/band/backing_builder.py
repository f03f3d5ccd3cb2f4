"""Build forms and feels from their parsed lines, with every value checked against its range."""

from __future__ import annotations

from fractions import Fraction
from typing import Any, NamedTuple

from lark import Token, Transformer

from reedmill.band import beats
from reedmill.band.backing_keywords import (
    MAX_BARS,
    MAX_CHORDS,
    MAX_LINES,
    MAX_ON_A_FILE,
    MAX_PATTERN_BARS,
    MAX_SWING,
    PLAYERS,
    SOUNDING,
    SWING_PARTS,
    TIMINGS_MS,
    VELOCITIES,
    VELOCITY_SPREAD,
)
from reedmill.band.backing_mistakes import backing_mistake
from reedmill.band.backing_values import (
    chord_in,
    number_in,
    player_in,
    position_in,
    text_in,
    title_in,
    token_span,
    whole_in,
)
from reedmill.band.feel import (
    LOUDNESS,
    ON_ONE,
    PROGRAMS,
    BandFeel,
    FeelStroke,
    Layers,
    Lean,
    Pattern,
)
from reedmill.band.form import Form, FormBar, Slice
from reedmill.band.instruments import DRUMS, drum_named
from reedmill.band.instruments import PROGRAMS as INSTRUMENTS
from reedmill.band.moods import Mood, Ways
from reedmill.base.errors import close_match
from reedmill.base.gathering import apart
from reedmill.base.ranges import TEMPI_BPM
from reedmill.language.words import MAX_TEXT, MAX_TITLE, METER_BEATS, METER_UNITS
from reedmill.score.arrangement import Part
from reedmill.score.score import Meter
from reedmill.theory.positions import SAID_AFTER

_GOES_ON = ("bars", "bass", "comp", "drums", "fill")  # lines that may come several times

BackingLine = tuple[Token, Any]
"""The word a line starts with, and what follows it, read."""


class WrittenBar(NamedTuple):
    """A bar of a form as it is written: its chords or a repeat sign, and how many times."""

    chords: FormBar  # none where it is a repeat sign
    times: int
    again: Token | None = None  # the repeat sign


class WrittenWay(NamedTuple):
    """One line of what a player plays: the mood it is for, and its bars."""

    mood: Mood
    bars: list[list[beats.Strokes]]


class BandBuilder(Transformer[Token, list[Any]]):
    """Builds forms and feels from the parse tree; each method is named after its grammar rule."""

    # --- the file -------------------------------------------------------------------

    def start(self, found: list[Form | BandFeel]) -> list[Form | BandFeel]:
        check_backing_titles(found)
        return found

    def form(self, parts: list[Any]) -> Form:
        title, lines = title_in(parts[0], "form"), _lines(parts[1:], "form")
        if "bars" not in lines:
            raise backing_mistake("no-bars", token_span(parts[0]))
        written = [bar for _, some in lines["bars"] for bar in some]
        bars = _unrolled(lines["bars"][-1][0], written)
        turnaround, ending = (_tail(lines, word, len(bars)) for word in ("turnaround", "ending"))
        spans = {word: _only(lines, word, range(0)) for word in ("stops", "breaks")}
        _check_spans(lines, spans, len(bars))
        last = bars[-1][-1].chord
        if not ending and last.root.semitones:
            raise backing_mistake("ends-away", token_span(lines["bars"][-1][0]), chord=last.name)
        return Form(
            token_span(parts[0]), title, bars,
            about=_only(lines, "about", ""), positions=_only(lines, "positions", ()),
            turnaround=turnaround, ending=ending, stops=spans["stops"], breaks=spans["breaks"],
        )  # fmt: skip

    def feel(self, parts: list[Any]) -> BandFeel:
        title, lines = title_in(parts[0], "feel"), _lines(parts[1:], "feel")
        meter: Meter = _only(lines, "meter", Meter(4, 4))
        swing = _only(lines, "swing", Fraction(1))
        if swing != 1 and meter.compound:
            raise backing_mistake(
                "swing-in-threes", token_span(lines["swing"][0][0]), meter=meter.name
            )
        if not {"bass", "comp", "drums"} & set(lines):
            raise backing_mistake("nobody-plays", token_span(parts[0]))
        tempo, goal = _only(lines, "tempo", (100, None))
        timing, velocity = _only(lines, "loose", (0, 0))
        return BandFeel(
            token_span(parts[0]), title, meter,
            about=_only(lines, "about", ""), tempo_bpm=tempo, tempo_goal_bpm=goal, swing=swing,
            programs=_with(PROGRAMS, _only(lines, "sounds", ())),
            loudness=_with(LOUDNESS, _only(lines, "loudness", ())),
            timing_ms=timing, velocity=velocity,
            leans=_only(lines, "lean", ()),
            accents=tuple(each.at for each in _struck(lines, "accents", meter)),
            drums=_drums(lines.get("drums", []), meter),
            fills=_fills(lines.get("fill", []), meter),
            stops=_struck(lines, "stops", meter) or ON_ONE,
            ending=_struck(lines, "ending", meter) or ON_ONE,
            **{word: _ways(lines.get(word, []), meter, word) for word in ("bass", "comp")},
        )  # fmt: skip

    # --- lines with one value ----------------------------------------------------------

    def about(self, parts: list[Token]) -> BackingLine:
        return parts[0], text_in(parts[1], MAX_TEXT, "text")

    def positions(self, parts: list[Token]) -> BackingLine:
        said = [part for part in parts[1:] if part != ","]
        places = [part for part in said if part.lower() not in SAID_AFTER] or said
        numbers = [position_in(parts[0], part) for part in places]
        return parts[0], tuple(dict.fromkeys(numbers))

    def meter(self, parts: list[Token]) -> BackingLine:
        count, unit = (whole_in(parts[1], part) for part in parts[1].split("/"))
        if count not in METER_BEATS or unit not in METER_UNITS:
            raise backing_mistake("no-such-meter", token_span(parts[1]), meter=parts[1])
        return parts[0], Meter(count, unit)

    def tempo(self, parts: list[Token]) -> BackingLine:
        slow = number_in(parts[0], parts[1], TEMPI_BPM)
        fast = number_in(parts[0], parts[3], TEMPI_BPM) if len(parts) > 2 else None
        if fast is not None and fast < slow:
            raise backing_mistake(
                "tempo-backwards", token_span(parts[3]), slow=parts[1], fast=parts[3]
            )
        return parts[0], (slow, fast)

    def swing(self, parts: list[Token]) -> BackingLine:
        _, first, _, second = parts
        one, two = whole_in(first, first), whole_in(second, second)
        playable = one in SWING_PARTS and two in SWING_PARTS and two <= one <= MAX_SWING * two
        if not playable:
            raise backing_mistake(
                "swing-out-of-range", token_span(first), first=first, second=second
            )
        return parts[0], Fraction(one, two)

    def sounds(self, parts: list[Any]) -> BackingLine:
        return parts[0], tuple(part for part in parts[1:] if part != ",")

    loudness = sounds

    def sound(self, parts: list[Token]) -> tuple[Part, int]:
        player = player_in(parts[0], SOUNDING)
        name = text_in(parts[1], MAX_TITLE, "name")
        known = [each.lower() for each in INSTRUMENTS]
        if name.lower() not in known:
            hint = close_match(name, INSTRUMENTS)
            raise backing_mistake("unknown-instrument", token_span(parts[1]), name=name, hint=hint)
        return player, known.index(name.lower())

    def loud(self, parts: list[Token]) -> tuple[Part, int]:
        return player_in(parts[0], PLAYERS), number_in(parts[0], parts[1], VELOCITIES)

    def loose(self, parts: list[Token]) -> BackingLine:
        numbers = [part for part in parts if part.type == "NUMBER"]
        timing = number_in(parts[1], numbers[0], TIMINGS_MS)
        return parts[0], (timing, number_in(parts[-2], numbers[1], VELOCITY_SPREAD))

    def lean(self, parts: list[Token | tuple[Token, Lean]]) -> BackingLine:
        word, leans = parts[0], [part for part in parts if isinstance(part, tuple)]
        seen: set[str] = set()
        for token, each in leans:
            if each.who in seen:
                raise backing_mistake("leans-twice", token_span(token), who=each.who)
            seen.add(each.who)
        assert isinstance(word, Token)  # noqa: S101  the line's own
        return word, tuple(each for _, each in leans)

    def leaning(self, parts: list[Token]) -> tuple[Token, Lean]:
        names, number, way = parts[:-2], parts[-2], parts[-1]
        who = " ".join(names)
        found = who if who in PLAYERS else drum_named(who)
        if not found:
            raise backing_mistake(
                "unknown-leaner", token_span(names[0]).until(token_span(names[-1])),
                word=who, hint=close_match(who, (*PLAYERS, *DRUMS)),
            )  # fmt: skip
        late = number_in(names[0], number, TIMINGS_MS)
        return names[0], Lean(found, -late if way == "early" else late)

    def accents(self, parts: list[Token]) -> BackingLine:
        return parts[0], [[beats.Strokes((), tuple(parts[1:]))]]

    # --- bars of chords ------------------------------------------------------------------

    def bars(self, parts: list[Any]) -> BackingLine:
        return parts[0], parts[1:]

    turnaround = last_bars = bars

    def stopped_bars(self, parts: list[Token]) -> BackingLine:
        first, last = parts[1], parts[-1]
        low, high = (number_in(parts[0], each, range(1, MAX_BARS + 1)) for each in (first, last))
        if high < low:
            raise backing_mistake("bars-backwards", token_span(last), first=first, last=last)
        return parts[0], range(low - 1, high)

    broken_bars = stopped_bars

    def bar(self, parts: list[Any]) -> WrittenBar:
        times = parts.pop() if _is(parts[-1], "TIMES") else None
        count = whole_in(times, times[1:]) if times is not None else 1
        if times is not None and not count:
            raise backing_mistake(
                "repeats-out-of-range", token_span(times), times=times, most=MAX_BARS
            )
        if _is(parts[0], "AGAIN"):
            return WrittenBar((), count, parts[0])
        shares = sum(each.share for _, each in parts)
        if shares > MAX_CHORDS:
            raise backing_mistake(
                "too-many-chords", token_span(parts[0][0]).until(token_span(parts[-1][0])),
                count=shares, most=MAX_CHORDS,
            )  # fmt: skip
        return WrittenBar(tuple(each for _, each in parts), count)

    def slice(self, parts: list[Token]) -> tuple[Token, Slice]:
        share = whole_in(parts[1], parts[1][1:]) if len(parts) > 1 else 1
        if not share:
            raise backing_mistake("empty-share", token_span(parts[1]), share=parts[1])
        return parts[0], Slice(chord_in(parts[0]), share)

    # --- bars of beats ---------------------------------------------------------------------

    def bass(self, parts: list[Any]) -> BackingLine:
        mood = Mood(parts.pop(1)) if _is(parts[1], "MOOD") else Mood.EVEN
        return parts[0], WrittenWay(mood, parts[1:])

    comp = drums = fill = bass

    def beat_bar(self, parts: list[Any]) -> list[beats.Strokes]:
        return [] if _is(parts[0], "REST") else parts

    def strokes(self, parts: list[Token]) -> beats.Strokes:
        return beats.Strokes(
            tuple(part for part in parts if part.type == "NAME"),
            tuple(part for part in parts if part.type == "PLACE"),
        )

    def last_beats(self, parts: list[Token]) -> BackingLine:
        return parts[0], [[self.strokes(parts[1:])]]

    stops = last_beats


def check_backing_titles(found: list[Form | BandFeel]) -> None:
    """Refuse two blocks with one title in a file, and more blocks than a file may hold."""
    if len(found) > MAX_ON_A_FILE:
        span = found[MAX_ON_A_FILE].span
        raise backing_mistake("too-many", span, count=len(found), most=MAX_ON_A_FILE)
    seen: set[tuple[type, str]] = set()
    for each in found:
        block = "form" if isinstance(each, Form) else "feel"
        with apart():
            if (type(each), each.title) in seen:
                raise backing_mistake("same-title", each.span, block=block, title=each.title)
        seen.add((type(each), each.title))


def _is(part: object, kind: str) -> bool:
    return isinstance(part, Token) and part.type == kind


def _lines(lines: list[BackingLine], block: str) -> dict[str, list[BackingLine]]:
    """Return the lines by their first words; raise ``PatternError`` where one comes twice."""
    found: dict[str, list[BackingLine]] = {}
    for word, value in lines:
        if word in found and word not in _GOES_ON:
            raise backing_mistake("second-line", token_span(word), block=block, word=word)
        found.setdefault(str(word), []).append((word, value))
    return found


def _only(lines: dict[str, list[BackingLine]], word: str, default: Any) -> Any:
    return lines[word][0][1] if word in lines else default


def _with(
    usual: tuple[tuple[Part, int], ...], own: tuple[tuple[Part, int], ...]
) -> tuple[tuple[Part, int], ...]:
    return tuple((dict(usual) | dict(own)).items())


def _unrolled(word: Token, written: list[WrittenBar]) -> tuple[FormBar, ...]:
    """Return the bars with every repeat sign carried out; *word* starts their last line."""
    count = sum(each.times for each in written)
    if count > MAX_BARS:
        raise backing_mistake("too-many-bars", token_span(word), count=count, most=MAX_BARS)
    bars: list[FormBar] = []
    for each in written:
        if each.again is not None and not bars:
            raise backing_mistake("nothing-to-repeat", token_span(each.again))
        bars += [each.chords if each.again is None else bars[-1]] * each.times
    return tuple(bars)


def _tail(lines: dict[str, list[BackingLine]], word: str, most: int) -> tuple[FormBar, ...]:
    """Return the bars of a turnaround or ending, at most as many as the form has."""
    if word not in lines:
        return ()
    [(token, written)] = lines[word]
    tail = _unrolled(token, written)
    if len(tail) > most:
        raise backing_mistake(
            "tail-too-long", token_span(token), word=word, count=len(tail), bars=most
        )
    return tail


def _check_spans(lines: dict[str, list[BackingLine]], spans: dict[str, range], bars: int) -> None:
    """Refuse stops and breaks in bars that the form does not have."""
    for word, span in spans.items():
        if span and span[-1] >= bars:
            at = token_span(lines[word][0][0])
            raise backing_mistake("no-such-bars", at, word=word, last=span[-1] + 1, bars=bars)


def _struck(lines: dict[str, list[BackingLine]], word: str, meter: Meter) -> tuple[FeelStroke, ...]:
    """Return the strokes of a line that the whole band strikes together."""
    if word not in lines:
        return ()
    token, written = lines[word][0]
    return _pattern(token, written, meter, "ending")[0]


def _pattern(
    token: Token, written: list[list[beats.Strokes]], meter: Meter, player: str
) -> Pattern:
    if len(written) > MAX_PATTERN_BARS:
        raise backing_mistake(
            "too-many-pattern-bars", token_span(token), word=token, count=len(written),
            most=MAX_PATTERN_BARS,
        )  # fmt: skip
    return tuple(beats.bar_of(each, meter, player) for each in written)


def _ways(lines: list[BackingLine], meter: Meter, player: str) -> Ways[Pattern]:
    """Return the ways of a player whose every line is one."""
    _check_lines(lines)
    return Ways(
        **{
            mood.value: tuple(
                _pattern(token, way.bars, meter, player) for token, way in lines if way.mood is mood
            )
            for mood in Mood
        }
    )


def _fills(lines: list[BackingLine], meter: Meter) -> Ways[tuple[FeelStroke, ...]]:
    ways = _ways(lines, meter, "drums")
    return Ways(**{mood.value: tuple(bar for (bar,) in ways.of(mood)) for mood in Mood})


def _drums(lines: list[BackingLine], meter: Meter) -> Ways[Layers]:
    """Return the one way of the drums in each mood; their lines sound together."""
    layers = _ways(lines, meter, "drums")
    return Ways(**{mood.value: (layers.of(mood),) if layers.of(mood) else () for mood in Mood})


def _check_lines(lines: list[BackingLine]) -> None:
    if len(lines) > MAX_LINES:
        span = token_span(lines[MAX_LINES][0])
        raise backing_mistake(
            "too-many-lines-of-one", span, word=lines[0][0], count=len(lines), most=MAX_LINES
        )
