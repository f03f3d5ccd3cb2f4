"""Line breaks of the music: how much fits a line, and how much reads well.

A bar wider than the page is cut between its beats, where two systems can meet without a
bar line; nothing is ever set smaller for it, so that large print stays large.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from reedmill.score.notation import NotatedValue
from reedmill.score.repeats import PrintedBar, printed
from reedmill.score.score import Note, Score
from reedmill.sheet.hole_row import (
    BOX_WIDTHS,
    USUAL_TAB,
    degrees_width,
    tab_extent,
    tab_growth,
)

NOTES_A_LINE = (12, 16, 20, 26)
"""What reads well first, then what there is room for when a page must hold it."""

MARKS_APART = 1.2
"""Staff spaces between two marks of a row, at the least."""

_BARS_A_LINE = 4  # more only where notes are set closer than reads best
# Measured on finished pages.  _LEFT is what an accidental needs before its note, _BAR what
# a bar line and a breath mark take; _SIGNS clef, meter and the end of the line.
_LEFT, _REST, _BAR = 1.2, 2.5, 2.5
_DEGREE, _HEAD = 1.1, 0.7  # half of a degree, and of a notehead
_SIGNS, _SIGNATURE = 11.5, 1.1
_SLIDE = 0.8  # more than two marks of a row need, for the line between two heads


@dataclass(frozen=True, slots=True)
class BarPiece:
    """A bar, or a part of one that is wider than a line."""

    end: Fraction  # beats from the start of the score
    notes: int  # at least 1
    width: float  # staff spaces, at the least


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows under the staff, which need more width than the notes."""

    tab: bool = True
    tab_size: float = USUAL_TAB
    boxes: float = 0.0  # how wide the empty boxes are that stand in place of both; 0 for none


def bar_pieces(score: Score, music_width: float, rows: Rows) -> list[list[BarPiece]]:
    """Return what must stay together on a line *music_width* wide, for each section."""
    room = _room(score, music_width)
    starts = sorted({Fraction(0), *(start for start, _ in score.sections)})
    sections: list[list[BarPiece]] = [[] for _ in starts]
    for bar in printed(score):
        section = sections[bisect_left(starts, bar.end) - 1]
        section += _pieces(bar, score.meter.pulse, room, rows)
    return [section for section in sections if section]  # before a pick-up there is no bar


def box_width(score: Score, music_width: float) -> float:
    """Return how wide boxes may be, so that those of any beat fit a line *music_width* wide."""
    room = _room(score, music_width)
    for width in BOX_WIDTHS:
        sections = bar_pieces(score, music_width, Rows(boxes=width))
        if all(piece.width <= room for section in sections for piece in section):
            break
    return width


def line_ends(
    score: Score, sections: Sequence[list[BarPiece]], most: int, music_width: float
) -> tuple[Fraction, ...]:
    """Return the beats where lines of at most *most* notes end; sections start new lines.

    *sections* is what ``bar_pieces`` gives.
    """
    room = _room(score, music_width)
    return tuple(end for section in sections for end in _even_lines(section, most, room))


def full_line_ends(
    score: Score, sections: Sequence[list[BarPiece]], most: int, music_width: float
) -> tuple[Fraction, ...]:
    """Return ``line_ends`` in as few lines as can be: bars of rests do not wait for wide ones.

    Of all ways with so few lines it is one whose widest line is as narrow as can be.
    """
    room = _room(score, music_width)
    return tuple(end for section in sections for end in _full_lines(section, most, room))


def last_is_short(score: Score, line_ends: Sequence[Fraction]) -> bool:
    """Return True for a last line of half the beats before it, or fewer: it keeps its own width."""
    written = [each for bar in printed(score) for each in bar.written]
    ends = [each.start + each.length for each in written]
    beats = [
        sum(each.length for each in written[bisect_right(ends, here) : bisect_right(ends, there)])
        for here, there in pairwise([Fraction(0), *line_ends])
    ]
    return len(beats) > 1 and beats[-1] * 2 <= beats[-2]


_HALVINGS = 8  # of the room, to find how little of it so few lines need


def _full_lines(section: list[BarPiece], most: int, room: float) -> list[Fraction]:
    ends, too_narrow, enough = _filled(section, most, room), 0.0, room
    for _ in range(_HALVINGS):
        tried = (too_narrow + enough) / 2
        found = _filled(section, most, tried)
        if len(found) == len(ends):
            ends, enough = found, tried
        else:
            too_narrow = tried
    return ends


def _filled(section: list[BarPiece], most: int, room: float) -> list[Fraction]:
    """Return ends of lines each of which takes what it can."""
    ends: list[Fraction] = []
    line: list[BarPiece] = []
    for piece in section:
        if line and not _fits([*line, piece], most, room):
            ends.append(line[-1].end)
            line = []
        line.append(piece)
    return [*ends, line[-1].end]


def _room(score: Score, music_width: float) -> float:
    return music_width - _SIGNS - _SIGNATURE * abs(score.key.sharps)


def _pieces(bar: PrintedBar, pulse: Fraction, room: float, rows: Rows) -> list[BarPiece]:
    """Return the bar whole where it fits, else in parts as few and as even as possible."""
    beats = list(_beats(list(bar.written), pulse))
    for many in range(1, len(beats) + 1):
        parts = [
            _piece([each for beat in beats[here:there] for each in beat], rows)
            for here, there in pairwise(_even(len(beats), many))
        ]
        if all(part.width <= room for part in parts):
            break
    return parts


def _beats(bar: list[NotatedValue], pulse: Fraction) -> Iterator[list[NotatedValue]]:
    """Cut the bar wherever a value starts on a beat and no triplet is open."""
    cut = 0
    for at, each in enumerate(bar):
        open_triplet = each.tuplet is not None and each.tuplet < each.start
        if at and each.start % pulse == 0 and not open_triplet:
            yield bar[cut:at]
            cut = at
    yield bar[cut:]


def _piece(part: list[NotatedValue], rows: Rows) -> BarPiece:
    heads = [each.note for each in part if each.note is not None]
    width = _BAR + _REST * (len(part) - len(heads))
    width += sum(_mark_width(note, rows) for note in heads)
    width += sum(_SLIDE for note in heads if note.joined)
    last = part[-1]
    return BarPiece(last.start + last.length, max(1, len(heads)), width)


def _mark_width(note: Note, rows: Rows) -> float:
    """Return the width of a note by its tab: half its hole numbers, then half with their ticks.

    Without one it is the degree, or the head with its accidental.  The degrees of several holes,
    and accidentals beside one another, may be wider.
    """
    if rows.boxes:
        return rows.boxes + MARKS_APART
    left, right = (
        (each * tab_growth(rows.tab_size) for each in tab_extent(note))
        if rows.tab
        else (_HEAD, _DEGREE)
    )
    left = max(_LEFT + (0.0 if rows.tab else _HEAD), left)
    if note.beside or note.degree.quarter:
        half = degrees_width(note) / 2
        signs = _LEFT * sum(1 for reed in note.reeds if reed.bend or reed.quarter)
        left, right = max(left, half, signs + _HEAD), max(right, half)
    return left + right + MARKS_APART


def _even_lines(section: list[BarPiece], most: int, room: float) -> list[Fraction]:
    """Return ends of lines as even as possible, none too full where that can be."""
    count = len(section)
    for a_line in range(min(max(_BARS_A_LINE, most // 3 - 1), count), 0, -1):
        ends = _even(count, -(-count // a_line))
        if all(_fits(section[here:there], most, room) for here, there in pairwise(ends)):
            break
    return [section[end - 1].end for end in ends[1:]]


def _fits(line: list[BarPiece], most: int, room: float) -> bool:
    width = sum(piece.width for piece in line)
    return sum(piece.notes for piece in line) <= most and width <= room


def _even(count: int, parts: int) -> list[int]:
    """Return where to cut *count* things into *parts*, longer parts first, with both ends.

    >>> _even(5, 2)
    [0, 3, 5]
    """
    short, longer = divmod(count, parts)
    return list(accumulate([short + 1] * longer + [short] * (parts - longer), initial=0))
