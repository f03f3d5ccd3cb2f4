r"""LilyPond markup, built from numbers and quoted text only.

LilyPond runs Scheme it finds in its input and has no safe mode.  So foreign text goes
through ``lilypond_string`` and nothing else: inside a quoted string ``#``, ``$``, ``{`` and
``\include`` are plain characters once backslash and quote are escaped, in that order.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from reedmill.base.text import from_right, printable
from reedmill.harp import Breath, Reed
from reedmill.sheet.letters import on_paper
from reedmill.sheet.wrapping import never_parted, unspaced, whole_pieces, words
from reedmill.theory.pitch import LETTERS

# Colours by the names the page defines for its look.
INK, FAINT, LINE = "inkColour", "faintColour", "hairlineColour"
PAPER, ACCENT = "paperColour", "accentColour"

NOTHING = "\\null"
"""Markup that draws nothing and takes no room."""

ROOM_BELOW = 0.6
"""Staff spaces kept free under the last line of a text that may have several."""


def lilypond_string(text: str) -> str:
    r"""Return *text* to be drawn: a LilyPond string literal that can hold no code.

    Letters that nothing here can draw are left out, see ``letters``.

    >>> print(lilypond_string('x" #(system "touch pwned") "'))
    "x\" #(system \"touch pwned\") \""
    """
    return named(on_paper(printable(text)))


def named(text: str) -> str:
    """Return *text* as a string literal that is not drawn, such as the title of a PDF."""
    return '"' + printable(text).replace("\\", "\\\\").replace('"', '\\"') + '"'


def coloured(colour: str, markup: str) -> str:
    """Return *markup* in *colour*, one of the constants here."""
    return f"\\with-color #{colour} {markup}"


def resized(steps: float, markup: str) -> str:
    r"""Return *markup* larger (or, negative, smaller) by *steps*; six double its size.

    The page defines ``\\print``, which sets nothing smaller than its look allows.
    """
    return f"\\print #{_number(steps)} {markup}"


def at(x: float, y: float, markup: str) -> str:
    """Return *markup* moved by *x*, *y* staff spaces."""
    return f"\\translate #'({_number(x)} . {_number(y)}) {markup}"


def overlay(*layers: str) -> str:
    """Draw the markups over one another, the first at the back."""
    return "\\overlay { " + "\n".join(layers) + " }"


def wrapped(text: str, width: float) -> str:
    r"""Flow *text* over lines *width* staff spaces long; a word longer than that is parted.

    The page defines ``\roomy``, which keeps what follows clear of the last line.
    """
    shown = on_paper(printable(text))
    way = "\\left-align \\override #'(text-direction . -1) " if from_right(shown) else ""
    line = f"\\roomy \\override #'(line-width . {_number(width)}) {way}"
    if not unspaced(shown):
        flowing = " ".join(map(_long_word, words(shown)))
        return f"{line}\\wordwrap {{ {flowing} }}"
    return f"{line}\\override #'(word-space . 0) \\wordwrap {{ {' '.join(_unspaced(shown))} }}"


def _unspaced(text: str) -> Iterator[str]:
    """Yield the pieces of *text*, which mostly has no spaces, with spaces kept at word ends."""
    right_to_left = from_right(text)
    for word in words(text):
        *inner, last = whole_pieces(word)
        yield from map(_long_word, inner)
        if len(last) < _LONG:
            yield with_space([lilypond_string(last)], right_to_left=right_to_left)
        else:
            yield from (_long_word(last), named(" "))


def _long_word(word: str) -> str:
    r"""Return *word*, which ``\parted`` breaks where it is longer than a line.

    The page measures it with its own font; here we only say where its letters hold together.
    """
    if len(word) < _LONG:
        return lilypond_string(word)
    places = " ".join(map(str, never_parted(word)))
    return f"\\parted #'({places}) {lilypond_string(word)}"


_LONG = 20  # letters of a word: no measure is so narrow that a shorter one is parted


def with_space(parts: list[str], *, right_to_left: bool) -> str:
    """Return the word that *parts* make, with a space after it in the text's direction."""
    space = named(" ")
    return f"\\concat {{ {' '.join([space, *parts] if right_to_left else [*parts, space])} }}"


def accidental(name: str, raised: float = 0.45) -> str:
    """Return *name* (``Bb``, ``b3``, ``F##``) with real flat and sharp signs, as markup.

    A note a quarter tone lower (``Bbq``) has the sign that a staff gives it; a degree keeps its
    letter.  *raised* is how high signs stand, in staff spaces; more in large print.
    """
    signs = _SIGNS | _QUARTER_SIGNS if name[:1] in LETTERS else _SIGNS
    parts = [
        f"\\hspace #0.12 \\raise #{_number(raised)} \\fontsize #-3.5 {signs[part]}"
        if part in signs
        else lilypond_string(part)
        for part in _NAME_PARTS.findall(name)
    ]
    return "\\concat { " + " ".join(parts) + " }"


_NAME_PARTS = re.compile("bb|##|(?<=[A-G])[b#]?q|.")
_SIGNS = {"bb": "\\doubleflat", "##": "\\doublesharp", "b": "\\flat", "#": "\\sharp"}
_QUARTER_SIGNS = {"q": "\\semiflat", "bq": "\\sesquiflat", "#q": "\\semisharp"}


def box(x: float, y: float, width: float, height: float, *, filled: bool, line: float) -> str:
    """Draw a box with rounded corners; *x*, *y* is its lower left corner, all in staff spaces."""
    radius, right, top = 0.45, x + width, y + height
    corners = [
        ("moveto", x + radius, y),
        ("lineto", right - radius, y),
        ("curveto", right, y, right, y, right, y + radius),
        ("lineto", right, top - radius),
        ("curveto", right, top, right, top, right - radius, top),
        ("lineto", x + radius, top),
        ("curveto", x, top, x, top, x, top - radius),
        ("lineto", x, y + radius),
        ("curveto", x, y, x, y, x + radius, y),
    ]
    return _path(corners, line, filled=filled)


def slab(x: float, y: float, width: float, height: float) -> str:
    """Draw a filled box with sharp corners; *x*, *y* is its lower left corner."""
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    first, *others = [("moveto" if corner == corners[0] else "lineto", *corner)
                      for corner in corners]  # fmt: skip
    return _path([first, *others, ("closepath",)], 0.05, filled=True)


def rule(width: float, colour: str = LINE) -> str:
    """Draw a horizontal line *width* staff spaces long."""
    return coloured(colour, f"\\draw-line #'({_number(width)} . 0)")


def small(text: str, colour: str = FAINT) -> str:
    """Return *text* as the small print of headings and labels."""
    return coloured(colour, f"\\sans {resized(-3, lilypond_string(text))}")


def small_lines(phrases: Sequence[str], width: float) -> str:
    """Return *phrases* as small print, well apart; lines break only between them."""
    words = " ".join(map(lilypond_string, phrases))
    line = f"\\override #'(line-width . {_number(width)}) \\override #'(word-space . 1.9)"
    flowing = f"{line} \\wordwrap {{ {words} }}"
    return coloured(FAINT, f"\\sans {resized(-3, flowing)}")


def circle(x: float, y: float, radius: float) -> str:
    """Draw an open circle centred on *x*, *y*."""
    return at(x, y, f"\\draw-circle #{_number(radius)} #0.12 ##f")


def arrow(x: float, y: float, height: float, scale: float = 1.0) -> str:
    """Draw an arrow centred on *x*, *y*; a negative *height* points down."""
    half, head = height / 2, 0.32 * scale
    point = 0.45 * scale
    tip, neck = y + half, y + half - (point if height > 0 else -point)
    shaft = _path([("moveto", x, y - half), ("lineto", x, neck)], 0.16 * scale, filled=False)
    wings = [
        ("moveto", x - head, neck), ("lineto", x + head, neck), ("lineto", x, tip), ("closepath",),
    ]  # fmt: skip
    return overlay(shaft, _path(wings, 0.05, filled=True))


def polyline(points: Sequence[tuple[float, float]], line: float) -> str:
    """Draw a line *line* thick through *points*, at least two."""
    (x, y), *others = points
    steps: list[tuple[str | float, ...]] = [("moveto", x, y)]
    return _path([*steps, *(("lineto", x, y) for x, y in others)], line, filled=False)


Point = tuple[float, float]
"""A place, x and y in staff spaces."""


def curve(start: Point, bows: Sequence[tuple[Point, Point, Point]], line: float) -> str:
    """Draw a line from *start* through *bows*: of each its two control points and its end."""
    steps: list[tuple[str | float, ...]] = [("moveto", *start)]
    return _path(
        [*steps, *(("curveto", *first, *second, *end) for first, second, end in bows)],
        line, filled=False,
    )  # fmt: skip


def triangle(x: float, y: float, half: float, *, up: bool) -> str:
    """Draw a filled triangle centred on *x*, *y* that points up or down."""
    tip = y + (half if up else -half)
    foot = y - (half if up else -half)
    corners = [("moveto", x - half, foot), ("lineto", x + half, foot), ("lineto", x, tip),
               ("closepath",)]  # fmt: skip
    return _path(corners, 0.05, filled=True)


def dot(x: float, y: float, radius: float, *, filled: bool) -> str:
    """Draw a filled or an open circle centred on *x*, *y*."""
    return at(x, y, f"\\draw-circle #{_number(radius)} #0.16 {'##t' if filled else '##f'}")


def cross(x: float, y: float, half: float) -> str:
    """Draw two lines that cross at *x*, *y*."""
    rising = polyline([(x - half, y - half), (x + half, y + half)], 0.16)
    return overlay(rising, polyline([(x - half, y + half), (x + half, y - half)], 0.16))


def breath_arrow(reed: Reed, x: float, y: float, scale: float = 1.0) -> str:
    """Draw the arrow of the breath for *reed*, centred on *x*, *y*: up is blown, down is drawn.

    That of a blow bend turns down, because its note is lower than the natural one.
    """
    if reed.breath is Breath.BLOW and reed.bend and not reed.over:
        return turned_arrow(x, y, 1.7 * scale)
    return arrow(x, y, 1.7 * scale if reed.breath is Breath.BLOW else -1.7 * scale, scale)


def turned_arrow(x: float, y: float, height: float) -> str:
    """Draw an arrow centred on *x*, *y* that goes up and turns down: blown, yet a lower note."""
    half, side, head = height / 2, height / 4, height / 5
    left, right, top, neck = x - side, x + side, y + half, y - height / 16
    bow = top - side
    shaft = _path(
        [
            ("moveto", left, y - half), ("lineto", left, bow),
            ("curveto", left, top, right, top, right, bow), ("lineto", right, neck),
        ],
        height / 11, filled=False,
    )  # fmt: skip
    wings = [
        ("moveto", right - head, neck), ("lineto", right + head, neck),
        ("lineto", right, neck - height / 3.4), ("closepath",),
    ]  # fmt: skip
    return overlay(shaft, _path(wings, 0.05, filled=True))


def _path(steps: list[tuple[str | float, ...]], line: float, *, filled: bool) -> str:
    drawn = " ".join(
        "(" + " ".join(part if isinstance(part, str) else _number(part) for part in step) + ")"
        for step in steps
    )
    fill = "\\override #'(filled . #t) " if filled else ""
    return f"{fill}\\path #{_number(line)} #'({drawn})"


def _number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")
