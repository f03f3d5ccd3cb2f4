"""The density of a sheet: notes a line, sizes, and page breaks.

What does not fit a page gives way in a set order: first the lines for notes, then the height
of the map's rows, the ladders of all holes but one, the size of the hole numbers, the room between
bars, the plain tab, which the row under the staff says too, and the last ladder.  What still does
not fit flows on to more pages, broken here and not by chance: no page holds practice boxes alone.

Heights are staff spaces of the page with the gaps around them, measured on finished pages and
rounded up: a page that is nearly full makes LilyPond squeeze it.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

from reedmill.score.notation import LOWEST_LINE, staff_octave, staff_step
from reedmill.score.repeats import printed
from reedmill.score.score import Feel, Score
from reedmill.sheet.blocks import (
    ABOUT_LETTER,
    CAUTION,
    PLAN_LEFT,
    TEMPO_HEADING,
    TITLE_AIR,
    TITLE_LINE,
    band_words,
    tab_heading,
    title_size,
)
from reedmill.sheet.harp_map import legend, map_height
from reedmill.sheet.heard_marks import heard_row, sentences
from reedmill.sheet.hole_row import LARGE_TAB, USUAL_TAB, tab_growth
from reedmill.sheet.lines import NOTES_A_LINE, Rows, bar_pieces, line_ends
from reedmill.sheet.look import Look
from reedmill.sheet.pitch_ladder import MOST_LADDERS, ladder_figure
from reedmill.sheet.style_signs import SIGN_ROW, key_phrases, signs_over
from reedmill.sheet.wrapping import wide_letters

if TYPE_CHECKING:
    from reedmill.score.footprints import Footprints

NOTE_LINES = 3  # ruled lines for the student: fewer are hardly worth their room
_MOST_NOTE_LINES = 6  # on a last page that has the room
_HEAD, _MAP_REST, _BOXES, _TAB_REST = 15.4, 6.5, 11.4, 1.4
_PLAN_LETTER, _NAME_LETTER = 0.95, 1.2  # mean widths of letters
# Mean widths of letters in small print and in the foot, the gap of phrases, a line of small print.
_SMALL_LETTER, _FOOT_LETTER, _PHRASES_APART, _SMALL_LINE = 0.84, 0.7, 1.9, 2.2
_SECTION, _NOTE_LINE, _NOTE_HEADING, _TEXT_LINE = 3.2, 6.0, 2.9, 2.75
_TAB_APART = 0.9  # more, where it follows boxes and a page is not short of room
_RUNNING_HEAD, _SLACK = 7.0, 6.9  # the second with what keeps clear of the foot
_FULL = 3.0  # more, for a page of several
_HEARD_LETTER, _HEARD_LINE = 1.0, 2.7  # of what was heard, in words
_KEY_AIR = 1.0  # between two keys to signs
_KEY, _KEY_LETTER = "m" * 100, 0.85  # the key to the shapes is as wide as so many letters

_USUAL_WIDTH = Look().width
# A staff with its rows, in staff spaces of the music as all up to _TAB_ROW; and what lies between
# two lines of any size: the page's own staff spaces.
_ROWS = {"both": 6.2, "tab": 7.0, "notation": 2.2}
_BETWEEN, _LEAST_LINE = 8.0, 16.4
_EDGE = 2.2  # what stems and beams take above and below it
_OCTAVE = 2.8  # what a clef takes on the side where it bears an 8
_ENDING = 1.6  # the bracket of an ending, or how often a repeat is played
_CHORD_ROWS = 5.0  # chord symbols over it, and their tones in a third row
_CHORDS_BETWEEN = 2.2  # more between two such lines, of any size
_MARKS = 1.7  # accents, triplets and hints above it
_TAB_ROW = 2.0  # height of a hole number of usual size


@dataclass(frozen=True, slots=True)
class Fit:
    """The density and page breaks of a sheet."""

    line_ends: tuple[Fraction, ...]  # the beats at which lines of music end
    note_lines: int = NOTE_LINES
    low_map: bool = False
    tab_size: float = USUAL_TAB
    plain_tab: bool = True
    ladders: int = MOST_LADDERS  # pitch ladders at most, where there are any
    page_ends: frozenset[int] = frozenset()  # lines after which a page ends, 0 for the map


@dataclass(frozen=True, slots=True)
class _Way:
    """The blocks besides the music that a page has room for."""

    note_lines: int
    low_map: bool = False
    plain_tab: bool = True
    ladders: int = MOST_LADDERS


_UNDER = ((NOTE_LINES, False), (2, False), (1, False), (0, False), (1, True), (0, True))
_FIRST = tuple(
    _Way(lines, low_map=low, ladders=ladders)
    for ladders in (MOST_LADDERS, 1)
    for lines, low in _UNDER
)
_THEN = (
    _Way(1, low_map=True, plain_tab=False, ladders=1),
    _Way(0, low_map=True, plain_tab=False, ladders=1),
    _Way(0, low_map=True, plain_tab=False, ladders=0),
)
"""The order in which things give way: the second only where no density helps."""


@dataclass(frozen=True, slots=True)
class _Page:
    """A sheet to be fitted, with the measurements of its blocks."""

    score: Score
    look: Look
    tab_rows: int  # of the plain tab, 0 for none
    prints: Footprints | None  # of a take, which need room of their own

    @property
    def room(self) -> float:
        """For everything but the foot."""
        return self.look.height - _SLACK - _foot_more(self.look)

    @property
    def full(self) -> float:
        """The space a page of several leaves free: LilyPond reckons with more than it needs."""
        return _FULL

    @property
    def later(self) -> float:
        """The height on a page that is not the first."""
        return self.room - _RUNNING_HEAD

    def rest(self, way: _Way) -> float:
        """Return the height of everything under the music."""
        score, look = self.score, self.look
        more = _SMALL_LINE * (look.grown(-3) - 1)  # for each heading that is set larger
        notes = way.note_lines * _NOTE_LINE + (_NOTE_HEADING + more if way.note_lines else 0.0)
        marked = self.prints is not None
        ladders = ladder_figure(score, look.width, way.ladders, marked=marked)
        beside = look.width - (ladders.room if ladders else 0.0)
        boxes = _BOXES + (_small_lines((TEMPO_HEADING,), look, beside) - 1) * _SMALL_LINE + more
        if self.prints is not None:
            boxes += self._heard(self.prints, beside)
        elif score.listen:
            boxes += 3.0 + more + _text_lines(score.listen, ABOUT_LETTER, beside) * _TEXT_LINE
        figure = ladders.height + 4 if ladders else 0.0
        apart = 0.0 if way.note_lines or look.large else _TAB_APART
        return max(boxes, figure) + notes + (self._tab(apart) if way.plain_tab else 0.0)

    def _heard(self, prints: Footprints, beside: float) -> float:
        lines = sum(_text_lines(each, _HEARD_LETTER, beside) for each in sentences(prints))
        return 3.0 + lines * _HEARD_LINE + _text_lines(_KEY, _KEY_LETTER, beside) * 2.4

    def _tab(self, apart: float) -> float:
        if not self.tab_rows:
            return 0.0
        heading = _small_lines(tab_heading(self.score), self.look, self.look.width) * _SMALL_LINE
        return self.tab_rows * _TEXT_LINE + _TAB_REST + apart + heading

    def head(self, *, low: bool) -> float:
        """Return the height of everything over the music on the first page."""
        score, look = self.score, self.look
        size, letter = title_size(score.title, look.width)
        title_lines = _text_lines(score.title, letter, look.width)
        about_lines = _text_lines(score.about, ABOUT_LETTER, look.width)
        title = (title_lines - 1) * TITLE_LINE * 2 ** (size / 6) + TITLE_AIR * (title_lines > 1)
        about = (about_lines - 1) * _TEXT_LINE + TITLE_AIR * (about_lines > 1)
        plans = [score.embouchure.words] if score.embouchure else []
        plans += [band_words(score.band)] if score.band else []
        room = look.width - PLAN_LEFT
        planned = sum(_text_lines(it, _PLAN_LETTER, room) * _TEXT_LINE + 0.7 for it in plans)
        marks = (_small_lines(legend(score), look, look.width) - 1) * _SMALL_LINE
        if phrases := key_phrases(score):
            marks += _KEY_AIR + _small_lines(phrases, look, look.width) * _SMALL_LINE
        return _HEAD + title + about + planned + map_height(score, low=low) + _MAP_REST + marks


def fit(score: Score, look: Look, tab_rows: int, prints: Footprints | None = None) -> Fit:
    """Return the roomiest arrangement on one page, or for a long drill on the fewest pages.

    *tab_rows* is how many lines the plain tab takes, 0 where none is shown.  *prints* of a take
    need room of their own.
    """
    page = _Page(score, look, tab_rows, prints)
    settings = list(_settings(score, look, prints))
    for stage in (_FIRST, _THEN):
        rests = {way: page.head(low=way.low_map) + page.rest(way) for way in stage}
        for size, ends, heights in settings:
            for way in stage:
                if sum(heights) + rests[way] <= page.room:
                    return Fit(
                        ends, way.note_lines, way.low_map, size, way.plain_tab, way.ladders
                    )  # fmt: skip
    return _flowing(page, settings)


_Setting = tuple[float, tuple[Fraction, ...], list[float]]
"""The size of hole numbers, where lines of music end, and how high each is."""


def _settings(score: Score, look: Look, prints: Footprints | None) -> Iterator[_Setting]:
    """Yield densities and sizes of the hole numbers, the roomiest first."""
    has_tab = look.show != "notation"
    sizes = (LARGE_TAB, USUAL_TAB) if has_tab and not look.large else (USUAL_TAB,)
    rows = {size: Rows(has_tab, size) for size in sizes}
    sections = {size: bar_pieces(score, look.music_width, rows[size]) for size in sizes}
    for most in _notes_a_line(look):
        for size in sizes:
            ends = line_ends(score, sections[size], most, look.music_width)
            yield size, ends, line_heights(score, ends, look, size, prints)


def _notes_a_line(look: Look) -> list[int]:
    """Return the densities to try on this paper and size of print."""
    return [round(most * look.width / look.music_scale / _USUAL_WIDTH) for most in NOTES_A_LINE]


def _text_lines(text: str, letter: float, width: float) -> int:
    """Return how many lines *text* takes with letters *letter* wide, in staff spaces."""
    return max(1, math.ceil(wide_letters(text) * letter / width))


def _small_lines(phrases: Sequence[str], look: Look, width: float) -> int:
    """Return how many lines of small print *phrases* take."""
    letter = _SMALL_LETTER * look.grown(-3)
    wide = sum(wide_letters(each) * letter + _PHRASES_APART for each in phrases)
    return max(1, math.ceil(wide / width))


def _foot_more(look: Look) -> float:
    """Return the staff spaces that the foot takes beyond the usual."""
    lines = _text_lines(CAUTION, _FOOT_LETTER * look.grown(-4), look.width)
    return (lines - 1) * 2.0 + 2 * (look.grown(-4) - 1)


def _flowing(page: _Page, settings: Sequence[_Setting]) -> Fit:
    """Plan several pages, as few as can be, the last with practice boxes under its music.

    Of those with equally many the map's rows give way before the plain tab or the ladder does.
    """
    ways = [_Flow.of(page, setting, low=low) for low in (False, True) for setting in settings]
    return min(ways, key=_Flow.given_up).fit()


@dataclass(frozen=True, slots=True)
class _Flow:
    """One way to lay a sheet out on several pages."""

    setting: _Setting
    lines: tuple[int, ...]  # of music on each page
    below: _Way  # what stands under the music of the last one
    low: bool  # the map

    @classmethod
    def of(cls, page: _Page, setting: _Setting, *, low: bool) -> _Flow:
        """Break *setting* into pages, and choose the most that fits under the last one."""
        _, _, heights = setting
        least = min(map(page.rest, _THEN)) - page.full  # what LilyPond does not know is the music's
        first = page.room - page.head(low=low) - page.full
        lines = spread(heights, first, page.later - page.full, least)
        left = page.later - sum(heights[len(heights) - lines[-1] :]) - page.full
        below = next((way for way in _last(low) if page.rest(way) <= left), _THEN[-1])
        return cls(setting, tuple(lines), below, low)

    def given_up(self) -> tuple[int, bool, bool, bool]:
        """Return a sort key: pages, a page without music, no plain tab, no pitch ladder."""
        return len(self.lines), 0 in self.lines, not self.below.plain_tab, not self.below.ladders

    def fit(self) -> Fit:
        """Return the arrangement."""
        size, ends, _ = self.setting
        stops = frozenset(list(accumulate(self.lines))[:-1])
        below = self.below
        return Fit(ends, below.note_lines, self.low, size, below.plain_tab, below.ladders, stops)


def _last(low: bool) -> Iterator[_Way]:
    """Yield the choices of blocks for a last page, the fullest first."""
    for ladders in (MOST_LADDERS, 1):
        yield from (_Way(n, low, ladders=ladders) for n in range(_MOST_NOTE_LINES, -1, -1))
    yield from _THEN


def spread(heights: Sequence[float], first: float, later: float, boxes: float) -> list[int]:
    """Return how many lines of music each page takes.

    The first has room for *first*, each other one for *later*, of which the last gives *boxes*
    to what stands under its music.  The earlier pages are full, so that three lines are two and
    one; none but the first is without music, and that only where not even one line has room.

    >>> spread([20, 20, 20], 45, 90, 30)
    [2, 1]
    >>> spread([20] * 7, 45, 90, 30)
    [2, 3, 2]
    """
    pages, room = [0], first
    for height in heights:
        if height > room and (pages[-1] or len(pages) == 1):
            pages.append(0)
            room = later
        pages[-1] += 1
        room -= height
    last = list(heights[len(heights) - pages[-1] :])
    if len(pages) == 1 or sum(last) + boxes > later:
        pages[-1:] = _parted(last, later - boxes, 0 if len(pages) == 1 else _HALF_FULL * later)
    if pages[-1] == 1 and len(pages) > 1 and pages[-2] >= _MANY:
        stays = sum(heights[sum(pages[:-2]) : len(heights) - 2])
        if len(pages) == 2 or stays >= _HALF_FULL * later:
            pages[-2:] = [pages[-2] - 1, 2]
    return pages


_HALF_FULL = 0.6  # of a page in the middle
_MANY = 4  # lines of a page that can give one to a page with a single one


def _parted(lines: Sequence[float], room: float, least: float) -> list[int]:
    """Part *lines* of one page on two, the second of which has *room* under them for boxes.

    Both hold as many as can be without the second being over-full, but the first is filled up to
    *least*, so that no page in the middle is half empty.
    """
    most = sum(taken <= room for taken in accumulate(reversed(lines)))
    second = max(1, min(most, len(lines) // 2))
    while second > 1 and sum(lines[: len(lines) - second]) < least:
        second -= 1
    return [len(lines) - second, second]


def line_heights(
    score: Score,
    line_ends: Sequence[Fraction],
    look: Look,
    tab_size: float = USUAL_TAB,
    prints: Footprints | None = None,
) -> list[float]:
    """Return each line's height, from how far its notes reach beyond the staff.

    On a staff of one line, which shows the rhythm alone, notes reach nowhere beyond it.
    """
    names = dict(score.sections)
    signs = sorted(bar.end for bar in printed(score) if bar.ending or bar.closes > 2)
    octave = 0 if look.show == "tab" else staff_octave(score)
    echoes = sorted(start for start, _ in score.echoes)
    triplets = sorted(score.triplet_beats)
    flat = look.show == "tab"
    stacks = _stacks(score)
    rows = _ROWS[look.show] + heard_row(prints)
    if look.show != "notation":
        rows += _TAB_ROW * (tab_growth(tab_size) - 1)
    found = []
    for here, there in pairwise([Fraction(0), *line_ends]):
        notes = score.between(here, there)
        heads = [each for note in notes for each in note.sounded if not flat]
        steps = [staff_step(each, octave) for each in heads] or [LOWEST_LINE]
        over = max(_edge(octave), (max(steps) - LOWEST_LINE - 8) / 2 + 1.6)
        under = 0.0 if flat else max(_edge(-octave), (LOWEST_LINE - min(steps)) / 2 + 1)
        threes = bisect_left(triplets, here) < bisect_left(triplets, there)
        marked = threes or any(note.accent or note.embouchure for note in notes)
        hinted = here == 0 and score.feel is Feel.SHUFFLE
        echoed = bisect_left(echoes, here) < bisect_left(echoes, there)
        section = (
            _SECTION * _text_lines(names[here], _NAME_LETTER, look.music_width)
            if here in names
            else 0
        )
        marks = _MARKS if marked or echoed or hinted else 0.0
        stacked = [many for start, many in stacks if here <= start < there]
        marks += SIGN_ROW * max(stacked, default=0)
        marks += _CHORD_ROWS if score.band else 0.0
        marks += _ENDING if bisect_right(signs, here) < bisect_right(signs, there) else 0.0
        line = (rows + over + under + marks) * look.music_scale + _BETWEEN
        line += _CHORDS_BETWEEN if score.band else 0.0
        found.append(max(line, _LEAST_LINE) + section * look.music_scale)
    return found


def _stacks(score: Score) -> list[tuple[Fraction, int]]:
    """Return where signs of style stand over a note, and how many over one another."""
    if not any(note.style.marks or note.slide_beats is not None for note in score.notes):
        return []
    written = (each for bar in printed(score) for each in bar.written)
    stacks = ((each.start, len(signs_over(each))) for each in written)
    return [stack for stack in stacks if stack[1]]


def _edge(octave: int) -> float:
    """Return what a line takes beyond its staff, with or without an 8 at its clef on that side."""
    return _OCTAVE if octave > 0 else _EDGE
