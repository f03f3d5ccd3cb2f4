"""The look of a sheet (paper, size of print, ink, what it shows); data only.

One ink and one accent.  The accent marks what a drill uses; breath shows by place and
arrow, never by colour, so nothing is lost in black or to a colour-blind reader.  Contrast
against white paper, by the formula of WCAG 2.1 (W3C): ink 16.7 to 1, accent 10.1 to 1, faint
text 5.2 to 1, hairline 3.1 to 1, because frames and lines to write on carry meaning.  The red
and blue parts of every colour are equal because the PNG writer of LilyPond 2.24 exchanges the
two.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.base.choosing import chosen_word, known_word
from reedmill.base.errors import InputError, close_match

MARGIN_MM = 16  # room for two-hole punches (ISO 838: centres 12 mm from the edge, 6 mm wide)
INDENT = 6.3
"""How far the music starts from the margin, where its rows are named, in its staff spaces."""

# ISO 216 for A4, ANSI/ASME Y14.1 for letter.
_PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
_SHOWS = ("both", "notation", "tab")
# 20 points is LilyPond's usual staff and a common size of single parts.
_STAFF_POINTS, _LARGE_STAFF_POINTS = 20, 32  # 1.6 times, for notes, tab and degrees
_LARGE_TEXT_POINTS = 24  # what is not music grows less, so that a page still holds a drill
_LEAST_POINTS = 11  # of large print, whatever it is
_MM_A_POINT = 25.4 / 72.27  # LilyPond's point

Colour = tuple[float, float, float]

COLOURS: dict[str, Colour] = {
    "ink": (0.11, 0.12, 0.11),
    "faint": (0.41, 0.43, 0.41),
    "hairline": (0.57, 0.58, 0.57),
    "paper": (1.0, 1.0, 1.0),
    "accent": (0.08, 0.30, 0.08),
}
BLACK: dict[str, Colour] = {
    "ink": (0.0, 0.0, 0.0),
    "faint": (0.0, 0.0, 0.0),
    "hairline": (0.0, 0.0, 0.0),
    "paper": (1.0, 1.0, 1.0),
    "accent": (0.0, 0.0, 0.0),
}


@dataclass(frozen=True, slots=True)
class Look:
    """The choices for a sheet."""

    paper: str = "a4"  # or "letter"
    large: bool = False  # music 1.6 times as large, other words 1.2 times, nothing under 11 pt
    black: bool = False  # pure black and white
    show: str = "both"  # "notation", "tab"

    @property
    def text_points(self) -> int:
        """The staff height in points that sets the size of all but the music."""
        return _LARGE_TEXT_POINTS if self.large else _STAFF_POINTS

    @property
    def staff_points(self) -> int:
        """The height of the staff of the music in points."""
        return _LARGE_STAFF_POINTS if self.large else _STAFF_POINTS

    @property
    def least_points(self) -> int:
        """The smallest size of letters in points; 0 for no limit."""
        return _LEAST_POINTS if self.large else 0

    def grown(self, steps: float) -> float:
        """Return the factor by which letters of this size grow so that none is too small."""
        points = 11 * self.text_points / 20 * 2 ** (steps / 6)
        return max(1.0, self.least_points / points)

    @property
    def space_mm(self) -> float:
        """One staff space of the page in millimetres: the unit of all but the music."""
        return self.text_points / 4 * _MM_A_POINT

    @property
    def music_scale(self) -> float:
        """The ratio of the music's staff space to that of the page."""
        return self.staff_points / self.text_points

    @property
    def width(self) -> float:
        """The width of the printed area, in staff spaces."""
        return (_PAPERS_MM[self.paper][0] - 2 * MARGIN_MM) / self.space_mm

    @property
    def indent_mm(self) -> float:
        """The indent of the music from the margin, where the names of its rows stand."""
        return INDENT * self.space_mm * self.music_scale

    @property
    def music_width(self) -> float:
        """The width of a line of music, in staff spaces of the music."""
        return self.width / self.music_scale - INDENT

    @property
    def height(self) -> float:
        """The height of the printed area, in staff spaces."""
        return (_PAPERS_MM[self.paper][1] - 27) / self.space_mm

    @property
    def colours(self) -> dict[str, Colour]:
        """The colours by name."""
        return BLACK if self.black else COLOURS


def look_named(paper: str, show: str = "both", *, large: bool, black: bool) -> Look:
    """Return the look with these choices; ``InputError`` for an unknown paper or show."""
    return Look(chosen_word("paper", paper, _PAPERS_MM), large, black, _shown(show))


def _shown(word: str) -> str:
    found = known_word(word, _SHOWS)
    if found is None:
        raise InputError(
            f'"{word:.40}" is not something a sheet can show.{close_match(word, _SHOWS)} '
            "Write both, notation or tab."
        )
    return found
