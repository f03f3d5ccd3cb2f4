"""How densely a sheet is set, and where its pages break.

What does not fit a page gives way in a set order: first the lines for notes, then the size
of the map, then the room between bars.  What still does not fit flows on to more pages,
broken here and not by chance, so that no line of music stands alone.

Heights are staff spaces with the gaps around them, measured on finished pages and rounded
up: a page that is nearly full makes LilyPond squeeze it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from reedmill.score import Note, Score
from reedmill.sheet.harp_map import map_height
from reedmill.sheet.look import Look
from reedmill.sheet.music import NOTES_A_LINE, busy_bars, clef, lines
from reedmill.sheet.pitch_ladder import ladder_height
from reedmill.theory.pitch import LETTERS

NOTE_LINES = 3
_SMALL_MAP = 0.78
# Lines for notes and the size of the map, in the order in which they give way.
_GIVING_WAY = ((NOTE_LINES, 1.0), (1, 1.0), (0, 1.0), (1, _SMALL_MAP), (0, _SMALL_MAP))
_HEAD, _MAP_REST, _BOXES, _TAB_REST = 21.5, 6.5, 18.0, 4.0
_SECTION, _NOTE_LINE, _TEXT_LINE = 1.6, 4.2, 2.75
_RUNNING_HEAD, _SLACK = 7.0, 3.0

_USUAL_WIDTH = Look().width
_ROWS = 14.8  # a staff with its rows and the gap to the next
_EDGE = 2.2  # what stems and beams take above and below it
_MARKS = 1.0  # accents, triplets and hints above it
_LOWEST_LINE = 4 * 7 + LETTERS.index("E")  # E4, the lowest line of the treble staff


@dataclass(frozen=True, slots=True)
class Fit:
    """How densely a sheet is set."""

    by_line: tuple[int, ...]  # bars to each line of music
    note_lines: int = NOTE_LINES
    map_scale: float = 1.0
    page_ends: frozenset[int] = frozenset()  # lines after which a page ends, from 1
    boxes_apart: bool = False  # practice boxes and tab start a page of their own


def fit(score: Score, look: Look, tab_rows: int) -> Fit:
    """The roomiest arrangement that fits one page, or for a long drill one with few pages.

    *tab_rows* is how many lines the plain tab takes.
    """
    room = look.height - _SLACK
    busy = busy_bars(score)
    heads = {scale: _head(score, look, scale) for scale in (1.0, _SMALL_MAP)}
    rests = {notes: _rest(score, notes, tab_rows) for notes in (0, 1, NOTE_LINES)}
    for most in _notes_a_line(look):
        by_line = tuple(lines(busy, most))
        music = sum(line_heights(score, by_line))
        for notes, scale in _GIVING_WAY:
            if heads[scale] + music + rests[notes] <= room:
                return Fit(by_line, notes, scale)
    by_line = tuple(lines(busy, _notes_a_line(look)[1]))
    return _flowing(score, by_line, room, heads[1.0], rests)


def _notes_a_line(look: Look) -> list[int]:
    """The densities to try on this paper and size of print."""
    return [round(most * look.width / _USUAL_WIDTH) for most in NOTES_A_LINE]


def _head(score: Score, look: Look, map_scale: float) -> float:
    about = (len(score.about) * 1.05 // look.width) * _TEXT_LINE
    title = 4.0 if len(score.title) > 60 else 0.0
    plan = _TEXT_LINE if score.embouchure else 0.0
    return _HEAD + title + about + plan + map_height(score) * map_scale + _MAP_REST


def _rest(score: Score, note_lines: int, tab_rows: int) -> float:
    """Everything under the music."""
    notes = note_lines * _NOTE_LINE + (3.0 if note_lines else 0.0)
    tab = (tab_rows + 1) * _TEXT_LINE + _TAB_REST
    return max(_BOXES, ladder_height(score) + 4) + notes + tab


def _flowing(
    score: Score, by_line: tuple[int, ...], room: float, head: float, rests: Mapping[int, float]
) -> Fit:
    """Several pages: as many lines to each as it holds, the last ones shared out evenly."""
    heights = line_heights(score, by_line)
    pages = list(_filled(heights, room - head, room - _RUNNING_HEAD))
    if len(pages) > 1 and pages[-1] == 1 and pages[-2] > 2:
        pages[-2:] = [pages[-2] - 1, 2]
    ends = list(accumulate(pages))
    last = sum(heights[ends[-2] if len(ends) > 1 else 0 :])
    left = room - (head if len(pages) == 1 else _RUNNING_HEAD) - last
    apart = left < rests[0]
    notes = NOTE_LINES if apart or left >= rests[NOTE_LINES] else 0
    return Fit(by_line, notes, 1.0, frozenset(ends[:-1]), apart)


def _filled(heights: Sequence[float], first: float, later: float) -> Iterator[int]:
    """How many lines each page takes, at least one."""
    count, room = 0, first
    for height in heights:
        if count and height > room:
            yield count
            count, room = 0, later
        count += 1
        room -= height
    yield count


def line_heights(score: Score, by_line: Sequence[int]) -> list[float]:
    """The height of each line of music, from how far its notes reach beyond the staff."""
    beats = [bar * score.meter.beats for bar in accumulate(by_line, initial=0)]
    starts = {start for start, _ in score.sections}
    shift = {"treble": 0, "treble_8": 7, "treble^8": -7}[clef(score)]
    begins = [note.start for note in score.notes]
    found = []
    for here, there in pairwise(beats):
        notes = score.notes[bisect_left(begins, here) : bisect_left(begins, there)]
        steps = [_step(note) + shift for note in notes] or [_LOWEST_LINE]
        over = (max(steps) - _LOWEST_LINE - 8) / 2 + 1
        under = (_LOWEST_LINE - min(steps)) / 2 + 1
        marked = any(note.accent or note.embouchure for note in notes) or score.triplet_beats
        echoed = any(here <= start < there for start, _ in score.echoes)
        section = _SECTION if any(here <= start < there for start in starts) else 0.0
        marks = _MARKS if marked or echoed else 0.0
        found.append(_ROWS + max(_EDGE, over) + max(_EDGE, under) + marks + section)
    return found


def _step(note: Note) -> int:
    """The staff step of a note, seven to an octave."""
    return note.pitch.octave * 7 + LETTERS.index(note.pitch.letter)
