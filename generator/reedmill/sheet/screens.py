"""The music of a score alone, set anew for narrow, middle and wide screens.

Every line of music is a page of its own, and so a picture of its own: a browser puts them under
one another, and paper breaks between them.  All have one size of staff, so that they can share
their signs; how large it is shown is the width of the screen by that of the line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from reedmill.score.notation import check_drawn
from reedmill.score.repeats import printed
from reedmill.score.score import Score
from reedmill.sheet.frame import preamble, swept
from reedmill.sheet.hole_row import LARGE_TAB
from reedmill.sheet.lines import Rows, bar_pieces, full_line_ends, last_is_short, line_ends
from reedmill.sheet.look import INDENT, Look
from reedmill.sheet.markup import named
from reedmill.sheet.music import ForScreens, music

_LOOK = Look()
_HEIGHT = 70.0  # of a page: more than any line of music takes
_EDGE = 0.3  # left free at both sides
_ABOVE = 12.0  # over the staff, for marks and ledger lines


@dataclass(frozen=True, slots=True)
class Screen:
    """A width of music; all lengths are staff spaces."""

    name: str
    width: float  # of a line with what stands before it
    indent: float  # what stands before it: the number of the bar, and the names of the rows
    most_notes: int  # of a line, where there are that many at all
    even: bool = True  # lines have the same bars; else as few lines as can be, to scroll less

    @property
    def rows_named(self) -> bool:
        """True where there is room for the names of the rows."""
        return self.indent >= INDENT


# A staff space is 6 pixels of CSS on the narrowest screen that each is for, and more on others:
# the numbers of the tab row are then at least 19 pixels high.
SCREENS = (
    Screen("narrow", 58.0, 3.0, 12, even=False),  # 348 pixels: a phone held upright
    Screen("middle", 88.0, INDENT, 14),
    Screen("wide", 106.0, INDENT, 16),
)


@dataclass(frozen=True, slots=True)
class ScreenMusic:
    """LilyPond input for one or more scores on all ``SCREENS``, and what will come of it."""

    source: str  # sheet n is of score n // len(SCREENS), for the screen n % len(SCREENS)
    first_bars: tuple[tuple[int, ...], ...]  # of each sheet: the bar each line starts in, from 0


def music_for_screens(scores: Sequence[Score]) -> ScreenMusic:
    """Return the music of *scores* for every screen; ``PatternError`` for too short a value."""
    books: list[str] = []
    bars: list[tuple[int, ...]] = []
    for score in scores:
        check_drawn(score)
        ends = {screen.name: _ends(score, screen) for screen in SCREENS}
        written = _written(score, ends)
        for screen in SCREENS:
            books.append(written + _book(len(books), score, screen, ends[screen.name]))
            bars.append(tuple(_first_bars(score, ends[screen.name])))
            written = ""  # once for all of them
    notes = [len(score.notes) for score in scores for _ in SCREENS]
    return ScreenMusic(preamble(_LOOK) + _PAGE + swept(books, notes), tuple(bars))


def _ends(score: Score, screen: Screen) -> tuple[Fraction, ...]:
    """Return the beats at which the lines of *score* end."""
    width = screen.width - screen.indent - 2 * _EDGE
    pieces = bar_pieces(score, width, Rows(tab_size=LARGE_TAB))
    lines = line_ends if screen.even else full_line_ends
    return lines(score, pieces, screen.most_notes, width)


def _first_bars(score: Score, ends: Sequence[Fraction]) -> list[int]:
    starts = [score.first_beat, *ends[:-1]]
    return [int(start // score.meter.beats) for start in starts]


def _written(score: Score, ends: Mapping[str, Sequence[Fraction]]) -> str:
    """Return the music of *score* under a name, with what each screen has of its own in tags."""
    roomy = [screen.name for screen in SCREENS if screen.rows_named]
    screens = ForScreens(_numbers(score), ends, roomy)
    staff = music(score, tab_size=LARGE_TAB, screens=screens)
    return f"{_MUSIC} = {staff}\n"


_MUSIC = "forScreens"


def _book(number: int, score: Score, screen: Screen, ends: Sequence[Fraction]) -> str:
    indent = f"{screen.indent * _LOOK.space_mm:.3f}\\mm"
    ragged = "##t" if last_is_short(score, ends) else "##f"
    return "\n".join(
        [
            f'\\book {{ \\bookOutputName "sheet-{number}"',
            f"\\header {{ title = {named(screen.name)} }}",
            f"\\paper {{ paper-width = {screen.width * _LOOK.space_mm:.3f}\\mm"
            f" indent = {indent} short-indent = {indent} }}",
            f"\\score {{\n\\keepWithTag #'{screen.name} \\{_MUSIC}",
            f"\\layout {{ indent = {indent} short-indent = {indent} ragged-last = {ragged} }}\n}}",
            "}",
        ]
    )


def _numbers(score: Score) -> dict[Fraction, int]:
    """Return the number, from 0, of the note that each written value of *score* shows."""
    places = {note.start: number for number, note in enumerate(score.notes)}
    return {
        each.start: places[each.note.start]
        for bar in printed(score)
        for each in bar.written
        if each.note is not None
    }


def plays(score: Score) -> dict[int, tuple[int, ...]]:
    """Return by the number of each written note the numbers of all notes it is played as.

    A note of a repeat is written once and played several times; its own number is the first.
    """
    places = {note.start: number for number, note in enumerate(score.notes)}
    return {
        places[each.start]: tuple(places[each.start + later] for later in (Fraction(0), *bar.again))
        for bar in printed(score)
        for each in bar.written
        if each.note is not None and not each.tied_on
    }


_PAGE = rf"""
\paper {{
  paper-height = {_HEIGHT * _LOOK.space_mm:.3f}\mm
  left-margin = {_EDGE * _LOOK.space_mm:.3f}\mm right-margin = {_EDGE * _LOOK.space_mm:.3f}\mm
  top-margin = 0 bottom-margin = 0
  print-page-number = ##f oddHeaderMarkup = ##f evenHeaderMarkup = ##f
  oddFooterMarkup = ##f evenFooterMarkup = ##f
  top-system-spacing = #'((basic-distance . {_ABOVE:g}) (minimum-distance . {_ABOVE:g})
                          (padding . 1))
}}
\layout {{
  \context {{ \Score
    \override StaffSymbol.thickness = #1.25  % a hair on paper is less than a pixel
  }}
}}
"""
