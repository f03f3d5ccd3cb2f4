"""How densely a sheet is set, and where its pages break.

What does not fit a page gives way in a set order: first the lines for notes, then the size
of the map, then the room between bars.  What still does not fit flows on to more pages,
broken here and not by chance, so that no line of music stands alone.

Heights are staff spaces with the gaps around them, measured on finished pages and rounded
up: a page that is nearly full makes LilyPond squeeze it.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from reedmill.score.notation import staff_octave, staff_step
from reedmill.score.repeats import printed
from reedmill.score.score import Score
from reedmill.sheet.blocks import PLAN_LEFT, band_words, plan_in_words, title_size
from reedmill.sheet.harp_map import map_height
from reedmill.sheet.lines import NOTES_A_LINE, BarPiece, bar_pieces, line_ends
from reedmill.sheet.look import Look
from reedmill.sheet.pitch_ladder import ladder_height, ladder_room
from reedmill.sheet.wrapping import wide_letters
from reedmill.theory.pitch import LETTERS

NOTE_LINES = 3
_SMALL_MAP = 0.78
# Lines for notes and the size of the map, in the order in which they give way.
_GIVING_WAY = ((NOTE_LINES, 1.0), (1, 1.0), (0, 1.0), (1, _SMALL_MAP), (0, _SMALL_MAP))
_HEAD, _MAP_REST, _BOXES, _TAB_REST = 18.0, 6.5, 11.5, 4.0
_LETTER, _PLAN_LETTER, _NAME_LETTER, _TITLE_LINE = (
    1.12,
    0.95,
    1.2,
    3.0,
)  # widths, and the height of a line at size 0
_SECTION, _NOTE_LINE, _TEXT_LINE = 2.4, 4.2, 2.75
_RUNNING_HEAD, _SLACK = 7.0, 3.0

_USUAL_WIDTH = Look().width
_ROWS = 14.8  # a staff with its rows and the gap to the next
_EDGE = 2.2  # what stems and beams take above and below it
_ENDING = 1.6  # the bracket of an ending, or how often a repeat is played
_CHORD_ROWS = 5.6  # chord symbols over it, and their tones in a third row
_MARKS = 1.0  # accents, triplets and hints above it
_LOWEST_LINE = 4 * 7 + LETTERS.index("E")  # E4, the lowest line of the treble staff


@dataclass(frozen=True, slots=True)
class Fit:
    """How densely a sheet is set."""

    line_ends: tuple[Fraction, ...]  # the beats at which lines of music end
    note_lines: int = NOTE_LINES
    map_scale: float = 1.0
    page_ends: frozenset[int] = frozenset()  # lines after which a page ends, 0 for the map
    boxes_apart: bool = False  # practice boxes and tab start a page of their own


def fit(score: Score, look: Look, tab_rows: int) -> Fit:
    """The roomiest arrangement that fits one page, or for a long drill one with few pages.

    *tab_rows* is how many lines the plain tab takes.
    """
    sections = bar_pieces(score, look.music_width)
    rests = {notes: _rest(score, look, notes, tab_rows) for notes in (0, 1, NOTE_LINES)}
    heads = {size: _head(score, look, size) for size in (1.0, _SMALL_MAP)}
    for most in _notes_a_line(look):
        ends = line_ends(score, sections, most, look.music_width)
        music = sum(line_heights(score, ends, look.music_width))
        for notes, size in _GIVING_WAY:
            if heads[size] + music + rests[notes] <= look.height - _SLACK:
                return Fit(ends, notes, size)
    return _flowing(score, look, sections, heads, rests)


def _notes_a_line(look: Look) -> list[int]:
    """The densities to try on this paper and size of print."""
    return [round(most * look.width / _USUAL_WIDTH) for most in NOTES_A_LINE]


def _head(score: Score, look: Look, map_scale: float) -> float:
    size, letter = title_size(score, look.width)
    title = (_text_lines(score.title, letter, look.width) - 1) * _TITLE_LINE * 2 ** (size / 6)
    about = (_text_lines(score.about, _LETTER, look.width) - 1) * _TEXT_LINE
    plan = 0.0
    if score.embouchure:
        words, room = plan_in_words(score.embouchure), look.width - PLAN_LEFT
        plan = _text_lines(words, _PLAN_LETTER, room) * _TEXT_LINE + 0.7
    band = (
        _text_lines(band_words(score.band), _PLAN_LETTER, look.width - PLAN_LEFT) * _TEXT_LINE + 0.7
        if score.band
        else 0.0
    )
    return _HEAD + title + about + plan + band + map_height(score) * map_scale + _MAP_REST


def _text_lines(text: str, letter: float, width: float) -> int:
    """How many lines *text* takes where letters are *letter* wide, both in staff spaces."""
    return max(1, math.ceil(wide_letters(text) * letter / width))


def _rest(score: Score, look: Look, note_lines: int, tab_rows: int) -> float:
    """Everything under the music."""
    notes = note_lines * _NOTE_LINE + (3.0 if note_lines else 0.0)
    tab = (tab_rows + 1) * _TEXT_LINE + _TAB_REST
    beside = look.width - ladder_room(score)
    listen = 3.0 + _text_lines(score.listen, _LETTER, beside) * _TEXT_LINE if score.listen else 0.0
    return max(_BOXES + listen, ladder_height(score) + 4) + notes + tab


def _flowing(
    score: Score,
    look: Look,
    sections: Sequence[list[BarPiece]],
    heads: Mapping[float, float],
    rests: Mapping[int, float],
) -> Fit:
    """Several pages, the first way to set them that leaves no line of music alone on one."""
    ways = list(_until_good(_ways(score, look, sections, heads)))
    pages, ends, heights, size = ways[-1] if _in_company(ways[-1][0]) else ways[0]
    stops = list(accumulate(pages))
    left = _later(look) - sum(heights[stops[-2] :]) if len(pages) > 1 else 0.0
    apart = left < rests[0]
    notes = NOTE_LINES if apart or left >= rests[NOTE_LINES] else 0
    return Fit(ends, notes, size, frozenset(stops[:-1]), apart)


_Way = tuple[list[int], tuple[Fraction, ...], list[float], float]
"""Lines to each page, where they end, how high they are, and the size of the map."""


def _until_good(ways: Iterator[_Way]) -> Iterator[_Way]:
    for way in ways:
        yield way
        if _in_company(way[0]):
            return


def _in_company(lines: Sequence[int]) -> bool:
    """True when no page but the first, which has the map, is to hold one line of music."""
    return 1 not in lines[1:]


def _ways(
    score: Score, look: Look, sections: Sequence[list[BarPiece]], heads: Mapping[float, float]
) -> Iterator[_Way]:
    """Densities and sizes of map to try; at last all the music after the map's page."""
    _, usual, *_ = densities = _notes_a_line(look)
    firsts = [(size, look.height - _SLACK - head) for size, head in heads.items()]
    for size, first in [*firsts, (1.0, 0.0)]:
        for most in sorted(densities, key=lambda each: each != usual):
            ends = line_ends(score, sections, most, look.music_width)
            heights = line_heights(score, ends, look.music_width)
            yield _pages(heights, first, _later(look)), ends, heights, size


def _later(look: Look) -> float:
    """The room for music on a page that is not the first."""
    return look.height - _SLACK - _RUNNING_HEAD


def _pages(heights: Sequence[float], first: float, later: float) -> list[int]:
    """How many lines each page takes; none on the first where not even one has room."""
    pages, room = [0], first
    for height in heights:
        if height > room and (pages[-1] or len(pages) == 1):
            pages.append(0)
            room = later
        pages[-1] += 1
        room -= height
    # under the map one line is in company, on a later page it would be alone
    least = 1 if len(pages) == 2 else 2
    if len(pages) > 1 and pages[-1] == 1 and pages[-2] > least:
        pages[-2:] = [pages[-2] - 1, 2]
    return pages


def line_heights(score: Score, line_ends: Sequence[Fraction], width: float) -> list[float]:
    """The height of each line of music, from how far its notes reach beyond the staff."""
    names = dict(score.sections)
    signs = sorted(bar.end for bar in printed(score) if bar.ending or bar.closes > 2)
    octave = staff_octave(score)
    echoes = sorted(start for start, _ in score.echoes)
    found = []
    for here, there in pairwise([Fraction(0), *line_ends]):
        notes = score.between(here, there)
        steps = [staff_step(note, octave) for note in notes] or [_LOWEST_LINE]
        over = (max(steps) - _LOWEST_LINE - 8) / 2 + 1
        under = (_LOWEST_LINE - min(steps)) / 2 + 1
        marked = any(note.accent or note.embouchure for note in notes) or score.triplet_beats
        echoed = bisect_left(echoes, here) < bisect_left(echoes, there)
        section = _SECTION * _text_lines(names[here], _NAME_LETTER, width) if here in names else 0
        marks = _MARKS if marked or echoed else 0.0
        marks += _CHORD_ROWS if score.band else 0.0
        marks += _ENDING if bisect_right(signs, here) < bisect_right(signs, there) else 0.0
        found.append(_ROWS + max(_EDGE, over) + max(_EDGE, under) + marks + section)
    return found
