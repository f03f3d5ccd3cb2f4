"""How a sheet looks: paper, size of print, ink, and what it shows.  Data only.

One ink and one accent.  The accent marks what a drill uses; breath shows by place and
arrow, never by colour, so nothing is lost in black or to a colour-blind reader.  Contrast
against white paper, by the formula of WCAG 2.1 (W3C): ink 16.7 to 1, accent 7.8 to 1, faint
text 5.2 to 1.  The red and blue parts of every colour are equal because the PNG writer of
LilyPond 2.24 exchanges the two.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.base.choosing import chosen_word

MARGIN_MM = 16
_INDENT = 6.3  # of the music, for the names of its rows, in staff spaces
_PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
_SHOWS = ("both", "notation", "tab")
_STAFF_POINTS, _LARGE_STAFF_POINTS = 20, 26
_MM_A_POINT = 25.4 / 72.27  # LilyPond's point

Colour = tuple[float, float, float]

COLOURS: dict[str, Colour] = {
    "ink": (0.11, 0.12, 0.11),
    "faint": (0.41, 0.43, 0.41),
    "hairline": (0.70, 0.72, 0.70),
    "paper": (1.0, 1.0, 1.0),
    "accent": (0.13, 0.37, 0.13),
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
    large: bool = False  # print three tenths larger
    black: bool = False  # pure black and white
    show: str = "both"  # "notation", "tab"

    @property
    def staff_points(self) -> int:
        """Height of a staff in points, from which everything else follows."""
        return _LARGE_STAFF_POINTS if self.large else _STAFF_POINTS

    @property
    def space_mm(self) -> float:
        """One staff space in millimetres."""
        return self.staff_points / 4 * _MM_A_POINT

    @property
    def width(self) -> float:
        """Of the printed area, in staff spaces."""
        return (_PAPERS_MM[self.paper][0] - 2 * MARGIN_MM) / self.space_mm

    @property
    def indent_mm(self) -> float:
        """How far the music starts from the margin, where the names of its rows stand."""
        return _INDENT * self.space_mm

    @property
    def music_width(self) -> float:
        """Of a line of music, in staff spaces."""
        return self.width - _INDENT

    @property
    def height(self) -> float:
        """Of the printed area, in staff spaces."""
        return (_PAPERS_MM[self.paper][1] - 27) / self.space_mm

    @property
    def colours(self) -> dict[str, Colour]:
        """The colours by name."""
        return BLACK if self.black else COLOURS


def look_named(paper: str, show: str = "both", *, large: bool, black: bool) -> Look:
    """The look with these choices; ``InputError`` for a paper or show that is none."""
    return Look(
        chosen_word("paper", paper, _PAPERS_MM), large, black, chosen_word("show", show, _SHOWS)
    )
