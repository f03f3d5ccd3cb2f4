"""The staff of a page: lines of music as SVG pictures for three widths of screen.

LilyPond draws them in one run (``sheet.screens``).  Of what it draws the numbers are taken and
written anew, small: each sign of music, and each stack of marks under a note, stands once in a
table that all pictures share, and lines of one look in a picture are one path.  A head and its
marks are one group, which lights up and has the numbers of the notes it is played as; a head tied
to it is another, with the same numbers.

Lengths in pictures are pixels of CSS on a screen just as wide as the picture is made for; others
show it smaller or larger.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from html import escape
from math import ceil, floor

from markupsafe import Markup

from reedmill.page.picture_shapes import (
    Drawn,
    Glyph,
    Lettering,
    MarkPlace,
    Shape,
    outline_box,
    pairs,
    shapes,
)
from reedmill.score.score import Score
from reedmill.sheet.look import COLOURS
from reedmill.sheet.screens import SCREENS, Screen, plays

SPACE = 6.0
"""Pixels of a staff space."""

# Widths of letters by their size, of Helvetica and so of Arial and Nimbus Sans, in bold (Adobe
# Core 14 AFM).  A browser that has other letters sets these as wide, so that ticks stand clear.
_DIGIT, _OTHERS = 0.556, {"'": 0.238, "^": 0.584}
_ASCENT, _DESCENT = 0.76, 0.23  # of a line of letters, by its size
_EDGE = 2.0  # left free above and below a picture
_BOX_HALF, _BOX_ABOVE, _BOX_BELOW, _BOX_BESIDE = 10.0, 8.0, 5.0, 3.0  # round a note that sounds
_HEAD_HALF = 4.0  # about half a notehead
_TOUCHING = 0.5  # staff spaces between an accidental, its brackets and its head, at most
_STAFF_LINE = 20.0  # no shorter line is one of the staff


@dataclass(frozen=True, slots=True)
class MusicLine:
    """One line of music."""

    bar: int  # in which it starts, from 0
    picture: Markup  # an svg element


@dataclass(frozen=True, slots=True)
class ScreenLines:
    """The music for one width of screen."""

    name: str
    lines: tuple[MusicLine, ...]

    def between(self, bar: int, end: int) -> tuple[MusicLine, ...]:
        """Return the lines that start from *bar* to just before *end*."""
        return tuple(each for each in self.lines if bar <= each.bar < end)


@dataclass(frozen=True, slots=True)
class PageMusic:
    """The music of a page."""

    symbols: Markup  # an svg element with what the pictures share
    screens: tuple[ScreenLines, ...]

    def slimmer(self) -> PageMusic:
        """Return the music in a width fewer, the others taking its place.

        The middle one goes first, then the wide one; a phone's stays, which any screen can show.
        """
        narrow, *_, wide = self.screens
        if len(self.screens) == len(SCREENS):
            return replace(self, screens=(narrow, replace(wide, name=f"{wide.name} alone")))
        return replace(self, screens=(replace(narrow, name=f"{narrow.name} only"),))


def page_music(
    score: Score, first_bars: Sequence[Sequence[int]], pictures: Sequence[Sequence[bytes]]
) -> PageMusic:
    """Return the music of *score* from its *pictures* by LilyPond, those of each of ``SCREENS``.

    *first_bars* are the bars that the lines of each start in.
    """
    symbols = _Symbols()
    played = plays(score)
    screens = []
    for screen, bars, lines in zip(SCREENS, first_bars, pictures, strict=True):
        drawn = (_picture(shapes(line), screen, played, symbols) for line in lines)
        found = tuple(map(MusicLine, bars, drawn))
        screens.append(ScreenLines(screen.name, found))
    return PageMusic(symbols.picture(), tuple(screens))


class _Symbols:
    """The table of what is drawn, each once, by the names it has in a page."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}

    def named(self, drawing: str) -> str:
        """Return the name of a *drawing*: SVG around 0, 0."""
        return self._names.setdefault(drawing, f"s{len(self._names)}")

    def picture(self) -> Markup:
        """Return the table as an svg element that shows nothing."""
        inside = "".join(f'<g id="{name}">{each}</g>' for each, name in self._names.items())
        hidden = 'class="symbols" aria-hidden="true" width="0" height="0"'
        return _made(f"<svg {hidden}><defs>{inside}</defs></svg>")


def _made(svg: str) -> Markup:
    """Trust *svg* that was written here: numbers, our names, texts that ``escape`` has seen."""
    return Markup(svg)  # noqa: S704  see above


# --- a line of music -----------------------------------------------------------------------


@dataclass
class _Written:
    """A notehead with the marks under it."""

    heads: list[Glyph] = field(default_factory=list)
    rows: dict[str, list[Shape]] = field(default_factory=lambda: defaultdict(list))


def _picture(
    found: Sequence[Shape], screen: Screen, played: dict[int, tuple[int, ...]], symbols: _Symbols
) -> Markup:
    notes: dict[tuple[int, int], _Written] = {}
    ground: list[Shape] = []
    for shape in found:
        if shape.around.mark is None:
            ground.append(shape)
        else:
            _sort_in(notes, shape, shape.around.mark)
    top, bottom = _extent(found)
    frame = _Frame(top, *_box_heights(found))
    signs = sorted((each for each in ground if isinstance(each, Glyph)), key=_right)
    written = "".join(
        _note(each, played[number], frame, symbols, signs)
        for (number, _), each in sorted(notes.items(), key=lambda item: item[1].heads[0].around.x)
    )
    right = max(screen.width, max(_right(shape) for shape in found) + _EDGE / SPACE)
    size = f"{_number(right * SPACE)} {_number(bottom - top)}"
    behind = [*_drawings(ground, frame), *_signs(ground, frame, symbols), *_texts(ground, frame)]
    boxes = f"{floor(frame.box_top - top)} {ceil(frame.box_bottom - frame.box_top)}"
    inside = "".join(behind) + written
    return _made(f'<svg viewBox="0 0 {size}" data-boxes="{boxes}">{inside}</svg>')


def _sort_in(notes: dict[tuple[int, int], _Written], shape: Shape, mark: MarkPlace) -> None:
    """Put a *shape* to its note; each head tied to another stands by itself."""
    if mark.row == "tied":
        assert isinstance(shape, Glyph)  # noqa: S101  a notehead
        notes[mark.note, 1 + len(notes)] = _Written([shape])
    elif mark.row == "head":
        assert isinstance(shape, Glyph)  # noqa: S101  a notehead
        notes.setdefault((mark.note, 0), _Written()).heads.append(shape)
    else:
        notes.setdefault((mark.note, 0), _Written()).rows[mark.row].append(shape)


@dataclass(frozen=True, slots=True)
class _Frame:
    """The frame of a line of music in its picture, in pixels."""

    top: float  # of LilyPond's page at which the picture begins
    box_top: float  # of the boxes round notes that sound, on LilyPond's page
    box_bottom: float

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Return the place in pixels of one in staff spaces of LilyPond's page."""
        return x * SPACE, y * SPACE - self.top


def _note(
    written: _Written,
    played: Sequence[int],
    frame: _Frame,
    symbols: _Symbols,
    signs: Sequence[Glyph],
) -> str:
    """Return the group of a note: its head, its marks, and where the box that shows it is.

    The program makes the box, which nobody needs without it.
    """
    middle = _middle(written)
    uses = [_used(each, frame, symbols) for each in written.heads]
    if written.rows:
        uses.append(_marks(written, middle, frame, symbols))
    left, right = _box_sides(written, middle, signs)
    box = f"{floor(left)} {ceil(right) - floor(left)}"
    numbers = " ".join(map(str, played))
    return f'<g data-plays="{numbers}" data-box="{box}">{"".join(uses)}</g>'


def _marks(written: _Written, middle: float, frame: _Frame, symbols: _Symbols) -> str:
    """Return all marks under a note as one sign: on one harp a reed always has the same degree."""
    rows = [row for row in _ROWS if row in written.rows]
    first = _baseline(written, rows[0])
    drawn = [_row(written, row, middle, symbols) for row in rows]
    ups = [(_baseline(written, row) - first) * SPACE for row in rows]
    signs = [_use(symbols.named(each), 0, up) for each, up in zip(drawn, ups, strict=True)]
    return _use(symbols.named("".join(signs)), *frame.place(middle, first))


def _row(written: _Written, row: str, middle: float, symbols: _Symbols) -> str:
    """Return the mark in one *row* under a note, around the middle of its baseline."""
    baseline = _baseline(written, row)
    inside = (_relative(one, middle, baseline, symbols) for one in written.rows[row])
    return f'<g class="{row}">{"".join(inside)}</g>'


def _baseline(written: _Written, row: str) -> float:
    texts = (one.around.y for one in written.rows[row] if isinstance(one, Lettering))
    return next(texts, written.heads[0].around.y)


_ROWS = ("tab", "degree", "chord")


def _used(head: Glyph, frame: _Frame, symbols: _Symbols) -> str:
    place = frame.place(head.around.x, head.around.y)
    return _use(symbols.named(_outlined(head)), *place)


def _box_sides(written: _Written, middle: float, signs: Sequence[Glyph]) -> tuple[float, float]:
    """Return the left and right side of a note's box in pixels: round its marks and accidental."""
    marks = [one for some in written.rows.values() for one in some]
    left = min([_with_accidental(written.heads[0], signs), *(one.around.x for one in marks)])
    right = max([middle, *map(_right, marks)])
    return (
        min(middle * SPACE - _BOX_HALF, left * SPACE - _BOX_BESIDE),
        max(middle * SPACE + _BOX_HALF, right * SPACE + _BOX_BESIDE),
    )


def _with_accidental(head: Glyph, signs: Sequence[Glyph]) -> float:
    """Return where *head* begins with the signs that touch it; *signs* are sorted by their ends."""
    left = head.around.x
    while True:
        end = bisect_right(signs, left + _TOUCHING, key=_right)
        begin = bisect_left(signs, left - _TOUCHING, hi=end, key=_right)
        level = [
            each.around.x for each in signs[begin:end]
            if abs(each.around.y - head.around.y) < _TOUCHING and each.around.x < left
        ]  # fmt: skip
        if not level:
            return left
        left = min(level)


def _middle(written: _Written) -> float:
    """Return the middle of a note's column: that of its breath's arrow, or of its head."""
    arrow = next((one for one in written.rows.get("tab", ()) if isinstance(one, Drawn)), None)
    return written.heads[0].around.x + _HEAD_HALF / SPACE if arrow is None else arrow.around.x


def _box_heights(found: Iterable[Shape]) -> tuple[float, float]:
    """Return top and height of boxes, in pixels: staff or highest head to the last row of marks."""
    staff = [shape.around.y for shape in found if _is_staff_line(shape)]
    heads = [shape.around.y - 0.5 for shape in found if _row_of(shape) in ("head", "tied")]
    texts = [shape.around.y for shape in found if isinstance(shape, Lettering) and _row_of(shape)]
    above = min([*staff, *heads]) * SPACE - _BOX_ABOVE
    return above, max([*staff, *heads, *texts]) * SPACE + _BOX_BELOW


def _row_of(shape: Shape) -> str:
    return shape.around.mark.row if shape.around.mark else ""


def _is_staff_line(shape: Shape) -> bool:
    if not isinstance(shape, Drawn) or shape.kind != "line":
        return False
    (_, (left, begins)), (_, (right, ends)) = shape.steps
    return begins == ends and right - left >= _STAFF_LINE


# --- what does not light up ------------------------------------------------------------------


def _drawings(ground: Iterable[Shape], frame: _Frame) -> Iterator[str]:
    """Return lines and surfaces, all of one kind in one path."""
    alike: dict[tuple[str, float, str, bool], list[str]] = defaultdict(list)
    for shape in ground:
        if isinstance(shape, Drawn):
            kind = (shape.kind, shape.width, _colour(shape), shape.filled)
            x, y = shape.around.x, shape.around.y - frame.top / SPACE
            alike[kind].append(_steps(shape, x, y))
    for (_, width, colour, filled), steps in alike.items():
        yield _stroked("".join(steps), width, colour, filled=filled)


def _signs(ground: Iterable[Shape], frame: _Frame, symbols: _Symbols) -> Iterator[str]:
    for shape in ground:
        if isinstance(shape, Glyph):
            x, y = frame.place(shape.around.x, shape.around.y)
            yield _use(symbols.named(_outlined(shape)), x, y, _colour(shape))


def _texts(ground: Iterable[Shape], frame: _Frame) -> Iterator[str]:
    for shape in ground:
        if isinstance(shape, Lettering):
            yield _lettered(shape, *frame.place(shape.around.x, shape.around.y), _colour(shape))


def _colour(shape: Shape) -> str:
    return _FAINT_CLASS if shape.around.colour == _FAINT else ""


_FAINT_CLASS = "faint"
_FAINT = tuple(100 * part for part in COLOURS["faint"])


# --- elements ----------------------------------------------------------------------------


def _relative(shape: Shape, x: float, y: float, symbols: _Symbols) -> str:
    """Write *shape* as SVG around a place."""
    here, there = (shape.around.x - x) * SPACE, (shape.around.y - y) * SPACE
    if isinstance(shape, Lettering):
        known = _known_width(shape.text) if shape.bold else 0.0
        return _lettered(shape, here, there, known=known)
    if isinstance(shape, Glyph):
        return _use(symbols.named(_outlined(shape)), here, there)
    steps = _steps(shape, shape.around.x - x, shape.around.y - y)
    return _stroked(steps, shape.width, "", filled=shape.filled)


def _use(name: str, x: float, y: float, kind: str = "") -> str:
    places = {"x": _number(x), "y": _number(y)}
    where = "".join(f' {axis}="{place}"' for axis, place in places.items() if place != "0")
    return f'<use href="#{name}"{where}{_classed(kind)}/>'


def _classed(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


def _outlined(glyph: Glyph) -> str:
    scale = f"{glyph.scale * SPACE:.4f}".rstrip("0")
    return f'<path transform="scale({scale} -{scale})" d="{glyph.outline}"/>'


def _stroked(steps: str, width: float, colour: str, *, filled: bool) -> str:
    """Write a path; the style of the page draws a ``line``, and what is filled needs no word."""
    kind = " ".join(
        filter(None, (colour, "" if filled else "line", "edge" * (filled and width > 0)))
    )
    stroke = f' stroke-width="{_number(width * SPACE)}"' if width else ""
    return f'<path{_classed(kind)} d="{steps}"{stroke}/>'


def _steps(drawn: Drawn, x: float, y: float) -> str:
    """Return the steps of a path, moved by *x* and *y* staff spaces, in pixels."""
    found: list[str] = []
    here = ("", "")
    for letter, values in drawn.steps:
        places = [
            (_number((left + x) * SPACE), _number((up + y) * SPACE)) for left, up in pairs(values)
        ]
        if letter == "L" and places[0][1] == here[1]:
            found.append(f"H{places[0][0]}")
        elif letter == "L" and places[0][0] == here[0]:
            found.append(f"V{places[0][1]}")
        else:
            found.append(letter + " ".join(f"{left} {up}" for left, up in places))
        here = places[-1] if places else ("", "")
    return "".join(found)


def _lettered(text: Lettering, x: float, y: float, colour: str = "", known: float = 0.0) -> str:
    """Write a text; one whose width is *known*, by its size, is set as wide whatever the font."""
    size = text.size * SPACE
    how = ' font-weight="bold"' if text.bold else ""
    how += ' font-style="italic"' if text.italic else ""
    how += ' font-family="serif"' if text.serif else ""
    if known:
        how += f' textLength="{_number(known * size)}" lengthAdjust="spacingAndGlyphs"'
    place = f'x="{_number(x)}" y="{_number(y)}" font-size="{_number(size)}"'
    return f"<text {place}{how}{_classed(colour)}>{escape(text.text)}</text>"


def _known_width(text: str) -> float:
    """Return the width of *text* by its size, 0 where it is not known."""
    if text.isascii() and text.isdigit():
        return _DIGIT * len(text)
    return _OTHERS.get(text, 0.0)


def _number(value: float) -> str:
    """Write *value* to a tenth of a pixel, as short as can be.

    >>> _number(12.04), _number(-0.04), _number(3.25)
    ('12', '0', '3.2')
    """
    shown = f"{value:.1f}".removesuffix(".0")
    return "0" if shown == "-0" else shown


# --- extents -----------------------------------------------------------------------------


def _extent(found: Iterable[Shape]) -> tuple[float, float]:
    """Return the top and the bottom of everything, in pixels of LilyPond's page, with an edge."""
    spans = [_span(shape) for shape in found]
    top, bottom = min(low for low, _ in spans), max(high for _, high in spans)
    return top * SPACE - _EDGE, bottom * SPACE + _EDGE


def _span(shape: Shape) -> tuple[float, float]:
    y = shape.around.y
    if isinstance(shape, Glyph):
        _, lowest, _, highest = outline_box(shape.outline)
        return y - highest * shape.scale, y - lowest * shape.scale
    if isinstance(shape, Lettering):
        return y - _ASCENT * shape.size, y + _DESCENT * shape.size
    heights = [up for _, values in shape.steps for _, up in pairs(values)]
    return y + min(heights) - shape.width / 2, y + max(heights) + shape.width / 2


def _right(shape: Shape) -> float:
    """Return how far *shape* reaches to the right, in staff spaces of LilyPond's page."""
    x = shape.around.x
    if isinstance(shape, Glyph):
        return x + outline_box(shape.outline)[2] * shape.scale
    if isinstance(shape, Lettering):
        return x + (_known_width(shape.text) or _DIGIT * len(shape.text)) * shape.size
    return x + max(across for _, values in shape.steps for across, _ in pairs(values))
