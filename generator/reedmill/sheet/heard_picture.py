"""A picture of a take: time from left to right, pitch on rungs at true distances.

A bend has no fret, so here are its frets: the rungs of the drill's holes with their tab, name and
degree, and across them the pitch that was heard.  Each wanted note is a box as high as a note may
be out and still be nearly in place.  Long takes flow over rows and pages.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise

from reedmill.harp import Reed, note_on_harp
from reedmill.score.footprints import Aside, Footprint, Footprints, Trace
from reedmill.score.score import Score
from reedmill.score.verdicts import Verdict
from reedmill.sheet.blocks import foot, title
from reedmill.sheet.heard_marks import figure_of, sentences, verdict_key, verdict_shape
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    LINE,
    PAPER,
    accidental,
    at,
    box,
    coloured,
    lilypond_string,
    named,
    overlay,
    polyline,
    resized,
    small,
    wrapped,
)
from reedmill.theory.pitch import equal_hz, with_signs

MOST_ROWS = 120
"""Of one picture, some twenty pages; a longer take is shown up to there, and that is said."""

_LEFT, _RIGHT = 7.0, 9.0  # staff spaces beside the rungs, for their names
_STEP, _HIGHEST = 3.6, 36.0  # staff spaces of a semitone, and of a row, at the most
_BEYOND_CENTS = 110.0  # that a row shows over and under the drill's own notes
_ROW_S = (3.0, 8.0)  # how long a row is
_APART = 4.4  # staff spaces from one note to the next that their figures need
_BEFORE_S, _AFTER_S = 0.25, 0.1  # of a row before its first note and after the last of all
_BREAK_S = 0.05  # from the end of a row to the note that has no room in it
_LENGTHS_TRIED = 24  # of rows, from too short to the longest
_NAMES_APART = 1.5  # staff spaces between two names
# Widths of lines in staff spaces: rungs in use, their edges, others, and the pitch, which is what
# the eye should find first.  Chosen by eye.
_THICK, _DOUBLE, _THIN, _PEN = 0.2, 0.12, 0.08, 0.42
_LEAST_POINTS = 3  # of a line: fewer are a click or what a row cuts off
_ALIKE_CENTS = 50.0  # from one reed to another of the same pitch
_JUMP_CENTS = 90.0  # from one point to the next: no slide is so fast
_FIGURE = -4  # size of the figures at the notes
_KEY = (
    "line: the pitch heard; box: the note wanted, as high as it may be out and nearly be in place"
)


@dataclass(frozen=True, slots=True)
class _Rung:
    """One rung of the picture: a reed and its pitch."""

    reed: Reed
    cents: float  # above 440 Hz
    used: bool


@dataclass(frozen=True, slots=True)
class _Neck:
    """The measures shared by all rows of the picture."""

    rungs: tuple[_Rung, ...]
    low: float  # cents above 440 Hz of the lower edge
    high: float
    semitone: float  # staff spaces
    width: float  # staff spaces of *row_s*
    row_s: float

    def y(self, cents: float) -> float:
        """Return staff spaces above the lower edge."""
        return (cents - self.low) / 100 * self.semitone

    def x(self, seconds: float) -> float:
        """Return staff spaces from the left rail at *seconds* into a row."""
        return seconds / self.row_s * self.width


def picture(score: Score, prints: Footprints, look: Look | None = None) -> str:
    """Return LilyPond input for the picture of a take of *score*, as ``sheet-0``."""
    from reedmill.sheet.frame import block, preamble

    chosen = look or Look()
    width = chosen.width
    rows, row_s = _even_rows(prints, _row_seconds(prints, _neck_width(chosen)))
    neck = _neck(score, chosen, row_s)
    head = [
        *title(score, width), "\\vspace #0.3", small(_facts(score, prints)),
        *(coloured(INK, resized(-0.5, wrapped(each, width))) for each in sentences(prints)),
        "\\vspace #0.2", verdict_key(prints, width), small(_KEY), "\\vspace #0.6",
    ]  # fmt: skip
    drawn = [block(3, _row(score, prints, neck, *row), "\\vspace #1") for row in rows[:MOST_ROWS]]
    if len(rows) > MOST_ROWS:
        drawn.append(block(3, coloured(INK, resized(-0.5, wrapped(_goes_on(rows), width)))))
    return preamble(chosen) + "\n".join(
        [
            '\\book { \\bookOutputName "sheet-0"',
            f"\\header {{ title = {named(score.title)} subject = {named(prints.take)} }}",
            "\\paper { oddHeaderMarkup = ##f evenHeaderMarkup = ##f",
            f"  oddFooterMarkup = \\markup {foot(score, width)}",
            "  evenFooterMarkup = \\oddFooterMarkup }",
            block(3, *head),
            *drawn,
            "}",
        ]
    )


def _facts(score: Score, prints: Footprints) -> str:
    return f"{prints.take} · {with_signs(score.harp.label)}, {score.position.label}"


def _goes_on(rows: Sequence[_Seconds]) -> str:
    shown, whole = rows[MOST_ROWS - 1][1], rows[-1][1]
    return (
        f"The picture ends here, at {shown / 60:.1f} minutes; the take goes on to "
        f"{whole / 60:.1f}. Cut the rest into a take of its own to see it."
    )


# --- the neck -------------------------------------------------------------------------------


def _neck_width(look: Look) -> float:
    return look.width - _LEFT - _RIGHT


def _neck(score: Score, look: Look, row_s: float) -> _Neck:
    wanted = [_above_a(note.hz) for note in score.notes]
    low, high = min(wanted) - _BEYOND_CENTS, max(wanted) + _BEYOND_CENTS
    semitone = min(_STEP, _HIGHEST / ((high - low) / 100))
    return _Neck(_rungs(score, low, high), low, high, semitone, _neck_width(look), row_s)


def _row_seconds(prints: Footprints, width: float) -> float:
    """Return the length of a row that gives room to figures of all but the shortest notes."""
    starts = sorted(each.start_s for each in prints.tries)
    apart = sorted(there - here for here, there in pairwise(starts))
    if not apart:
        return _ROW_S[1]
    short = max(0.02, apart[len(apart) // 5])
    return min(_ROW_S[1], max(_ROW_S[0], width * short / _APART))


def _rungs(score: Score, low: float, high: float) -> tuple[_Rung, ...]:
    """Return the reeds of the drill's holes from *low* to *high*, one for each pitch."""
    used = {note.reed: _above_a(note.hz) for note in score.notes}
    holes = {reed.hole for reed in used}
    found = [_Rung(reed, cents, used=True) for reed, cents in used.items()]
    for reed in score.harp.reeds(overbends=False):
        hz = score.harp.tuned(reed, equal_hz(score.harp.midi(reed), score.reference_hz))
        cents = _above_a(hz)
        beside = reed.hole in holes and reed not in used and low <= cents <= high
        if beside and all(abs(cents - each.cents) >= _ALIKE_CENTS for each in found):
            found.append(_Rung(reed, cents, used=False))
    return tuple(sorted(found, key=lambda each: each.cents))


def _above_a(hz: float) -> float:
    return 1200 * math.log2(hz / 440)


# --- rows -----------------------------------------------------------------------------------


_Seconds = tuple[float, float]
"""The first and the last second of a row, or of a tone."""


def _even_rows(prints: Footprints, most_s: float) -> tuple[list[_Seconds], float]:
    """Return the rows, as few as have room in *most_s* each, and how long all of them are.

    They are as short as that number of them allows, and the last two share their tones, so that
    no tone is left alone in the last row.
    """
    rows = list(_rows(prints, most_s))
    count = len(rows)
    if not 1 < count <= MOST_ROWS:
        return rows, most_s
    for step in range(_LENGTHS_TRIED):
        row_s = most_s * (count - 1 + step / _LENGTHS_TRIED) / count
        shorter = list(islice(_rows(prints, row_s), count + 1))
        if len(shorter) <= count:
            return _last_two_shared(shorter, prints, row_s), row_s
    return _last_two_shared(rows, prints, most_s), most_s


def _last_two_shared(rows: list[_Seconds], prints: Footprints, row_s: float) -> list[_Seconds]:
    """Return *rows* with the break before the last where both sides have most nearly as many tones.

    It stays where no other break lets both rows be as short as *row_s*.
    """
    if len(rows) < 2:
        return rows
    (begin, _), (_, end) = rows[-2:]
    end = min(end, max(last for _, last in _tones(prints)) + _AFTER_S)
    starts = [each.start_s for each in prints.tries if each.start_s >= begin]
    breaks = [
        (abs(2 * number - len(starts)), start - _BREAK_S)
        for number, start in enumerate(starts)
        if number and start - _BREAK_S - begin <= row_s and end - (start - _BREAK_S) <= row_s
    ]
    if not breaks:
        return rows
    _, at_s = min(breaks)
    return [*rows[:-2], (begin, at_s), (at_s, end)]


def _tones(prints: Footprints) -> list[_Seconds]:
    """Return the beginning and end of all that is drawn, in time order."""
    return sorted(
        [(each.start_s, each.end_s) for each in prints.tries]
        + [(each.start_s, each.start_s + each.step_s * len(each.cents)) for each in prints.traces]
    )


def _rows(prints: Footprints, row_s: float) -> Iterator[_Seconds]:
    """Yield first and last second of each row; a row begins with a tone, and none is empty."""
    spans = _tones(prints)
    at_s = -math.inf
    while True:
        left = [(start, end) for start, end in spans if end > at_s + 0.01]
        if not left:
            return
        begin = max(at_s, min(start for start, _ in left) - _BEFORE_S, 0.0)
        end = _row_end(left, begin, row_s)
        yield begin, end
        at_s, spans = end, left


def _row_end(spans: Sequence[tuple[float, float]], begin: float, row_s: float) -> float:
    """Return the end of a row: before a tone without room, unless that leaves half of it empty."""
    whole = begin + row_s
    cut = [start - _BREAK_S for start, end in spans if start < whole < end]
    fair = [each for each in cut if each > begin + row_s / 2]
    return min([whole, *fair])


def _row(score: Score, prints: Footprints, neck: _Neck, begin: float, end: float) -> str:
    top = neck.y(neck.high)
    layers = [
        at(0, top, "\\null"),
        *_neck_lines(score, neck),
        *_seconds(neck, begin, end, long=any(each.end_s > 100 for each in prints.tries)),
    ]
    tries = [each for each in prints.tries if begin <= each.start_s < end]
    boxes = [_wanted_box(score, prints, neck, each, begin, end) for each in tries]
    traces = [line for each in prints.traces for line in _trace(each, neck, begin, end)]
    layers += [at(_LEFT, 0, each) for each in [*boxes, *traces]]
    layers += [at(_LEFT, 0, _said(score, prints, neck, each, begin)) for each in tries]
    layers += [at(_LEFT, 0, _put_in(each, neck, begin)) for each in prints.asides
               if begin <= each.start_s < end]  # fmt: skip
    return overlay(*layers)


def _neck_lines(score: Score, neck: _Neck) -> list[str]:
    """Return rails and rungs with the names at both sides."""
    layers = []
    for x in (_LEFT, _LEFT + neck.width):
        rail = polyline([(x, -0.2), (x, neck.y(neck.high) + 0.2)], 0.18)
        layers.append(coloured(INK, rail))
    for rung in neck.rungs:
        layers += _rung_line(neck, rung, double=rung.reed == score.anchor)
    named_at: list[float] = []
    for rung in sorted(neck.rungs, key=lambda each: not each.used):
        y = neck.y(rung.cents)
        if all(abs(y - other) >= _NAMES_APART for other in named_at):
            named_at.append(y)
            layers += _names(score, rung, _tabs(neck, rung), y, _LEFT + neck.width)
    return layers


def _rung_line(neck: _Neck, rung: _Rung, *, double: bool) -> list[str]:
    y = neck.y(rung.cents)
    if not rung.used:
        return [coloured(LINE, _across(neck, y, _THIN))]
    if double:
        return [coloured(ACCENT, _across(neck, y + side * 0.2, _DOUBLE)) for side in (-1, 1)]
    return [coloured(ACCENT, _across(neck, y, _THICK))]


def _across(neck: _Neck, y: float, thick: float) -> str:
    return polyline([(_LEFT, y), (_LEFT + neck.width, y)], thick)


def _tabs(neck: _Neck, rung: _Rung) -> str:
    """Return the tab of *rung*, and of others in use that have the same pitch."""
    alike = [
        each.reed.tab
        for each in neck.rungs
        if each.used and each is not rung and abs(each.cents - rung.cents) < _ALIKE_CENTS
    ]
    return " ".join([rung.reed.tab, *alike]) if rung.used else rung.reed.tab


def _names(score: Score, rung: _Rung, tabs: str, y: float, right: float) -> list[str]:
    heard = note_on_harp(score.harp, score.position, rung.reed)
    ink, weight = (ACCENT, "\\bold ") if rung.used else (FAINT, "")
    tab = f"\\right-align {weight}{resized(-2, lilypond_string(tabs))}"
    texts = [
        (_LEFT - 0.8, tab),
        (right + 1.0, weight + resized(-2, accidental(heard.pitch.note))),
        (right + 5.0, weight + resized(-2, accidental(heard.degree.name))),
    ]
    return [at(x, y - 0.55, coloured(ink, f"\\sans {text}")) for x, text in texts]


def _seconds(neck: _Neck, begin: float, end: float, *, long: bool) -> list[str]:
    """Return a tick and a figure for every whole second."""
    layers = []
    for second in range(math.ceil(begin), math.floor(end) + 1):
        x = _LEFT + neck.x(second - begin)
        layers.append(coloured(FAINT, polyline([(x, -0.2), (x, -0.8)], _THIN)))
        told = f"{second // 60}:{second % 60:02}" if long else f"{second}"
        layers.append(
            at(
                x,
                -2.3,
                coloured(FAINT, f"\\sans \\center-align {resized(-5, lilypond_string(told))}"),
            )
        )
    layers.append(at(0, -2.3, small("minutes" if long else "seconds")))
    return layers


# --- what was wanted and what was heard -----------------------------------------------------


def _half(prints: Footprints, neck: _Neck) -> float:
    """Return half the height of a box."""
    return max(0.5, prints.tolerance.near_cents / 100 * neck.semitone)


def _wanted_box(
    score: Score, prints: Footprints, neck: _Neck, each: Footprint, begin: float, end: float
) -> str:
    half = _half(prints, neck)
    y = neck.y(_above_a(score.notes[each.index].hz))
    left, right = neck.x(each.start_s - begin), neck.x(min(each.end_s, end) - begin)
    frame = (left, y - half, max(1.0, right - left), 2 * half)
    ground = coloured(PAPER, box(*frame, filled=True, line=0.05))
    inside = polyline([(left + 0.3, y), (left + frame[2] - 0.3, y)], _DOUBLE)
    colour = LINE if each.verdict is Verdict.MISSED else FAINT
    edge = coloured(colour, box(*frame, filled=False, line=0.14))
    return overlay(ground, coloured(ACCENT, inside), edge)


def _trace(trace: Trace, neck: _Neck, begin: float, end: float) -> Iterator[str]:
    """Yield the lines of *trace* in one row, cut where it leaves the neck or jumps."""
    points: list[tuple[float, float]] = []
    before = math.nan
    for number, cents in enumerate(trace.cents):
        second = trace.start_s + number * trace.step_s
        inside = begin <= second <= end and neck.low <= cents <= neck.high
        if not inside or abs(cents - before) > _JUMP_CENTS:
            yield from _line(points)
            points = []
        if inside:
            points.append((neck.x(second - begin), neck.y(cents)))
        before = cents
    yield from _line(points)


def _line(points: Sequence[tuple[float, float]]) -> Iterator[str]:
    if len(points) > _LEAST_POINTS:  # what a row cuts off is not a tone
        yield coloured(INK, polyline(points, _PEN))


def _put_in(aside: Aside, neck: _Neck, begin: float) -> str:
    """Return a plus sign, and the tab, over a tone that is not a note of the drill."""
    y = min(max(neck.y(aside.cents), 0.0), neck.y(neck.high) - 1.4)
    tab = f" {aside.nearest.tab}" if aside.nearest else ""
    words = f"\\sans \\italic {resized(_FIGURE, lilypond_string(f'extra{tab}'))}"
    return at(neck.x(aside.start_s - begin), y + 0.5, coloured(INK, words))


def _said(score: Score, prints: Footprints, neck: _Neck, each: Footprint, begin: float) -> str:
    """Return shape and figure, on the side of a box away from the pitch."""
    y = neck.y(_above_a(score.notes[each.index].hz))
    over = each.verdict is not Verdict.SHARP and (each.cents or 0) <= prints.tolerance.near_cents
    y += _half(prints, neck) + 0.85 if over else -_half(prints, neck) - 0.85
    x = neck.x(each.start_s - begin) + 0.5
    tab = each.heard_as.tab if each.heard_as else None
    shape = at(x, y, coloured(INK, verdict_shape(each.verdict)))
    figure = figure_of(each.verdict, each.cents, tab)
    if not figure:
        return shape
    return overlay(
        shape,
        at(x + 0.8, y - 0.5, coloured(INK, f"\\sans {resized(_FIGURE, lilypond_string(figure))}")),
    )
