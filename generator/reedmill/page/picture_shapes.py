"""The shapes of a picture by LilyPond: what we know of SVG, and nothing else.

LilyPond writes a small part of SVG.  Each element is read into numbers and plain words here, and
what goes into a page is written anew from these, so that nothing else can get there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from xml.etree import ElementTree as ET

from reedmill.base.errors import RenderError
from reedmill.base.text import printable

Place = tuple[float, float]

_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = r"-?(?:\d+\.?\d*|\.\d+)"
_NUMBERS = re.compile(_NUMBER)
_TRANSLATE = re.compile(rf"translate\(({_NUMBER}), ({_NUMBER})\)")
_SCALE = re.compile(
    rf"(?:translate\(({_NUMBER}), ({_NUMBER})\) )?scale\(({_NUMBER}), -({_NUMBER})\)"
)
_OUTLINE = re.compile(rf"(?:[MmLlHhVvCcSsZz]|{_NUMBER}|[\s,])*")
_STEP = re.compile(r"([A-Za-z])([^A-Za-z]*)")
_COLOUR = re.compile(rf"rgb\(({_NUMBER})%, ({_NUMBER})%, ({_NUMBER})%\)")
_PAIRS = {"M": 2, "L": 2, "C": 6, "S": 4, "H": 1, "V": 1}
_SPARE = re.compile(r" (?=[-A-Za-z])|(?<=[A-Za-z]) ")  # spaces that an outline does without
_STEM = 0.25  # staff spaces
_ROWS = ("head", "tied", "tab", "degree", "chord")


@dataclass(frozen=True, slots=True)
class MarkPlace:
    """The note a shape belongs to, by its number, and the row of it."""

    note: int
    row: str  # of _ROWS


@dataclass(frozen=True, slots=True)
class Around:
    """The facts that the groups around an element give of it."""

    x: float = 0.0
    y: float = 0.0
    colour: tuple[float, ...] = ()  # per cent of red, green and blue; none: ink
    mark: MarkPlace | None = None


@dataclass(frozen=True, slots=True)
class Glyph:
    """A sign of music: an outline in units of its font, and how large those are."""

    around: Around
    outline: str
    scale: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """A line or a surface: steps of a path, in staff spaces of the picture."""

    around: Around
    kind: str  # of element
    steps: tuple[tuple[str, tuple[float, ...]], ...]  # M, L and C with absolute places, Z
    width: float  # of the line, 0 for none
    filled: bool


@dataclass(frozen=True, slots=True)
class Lettering:
    """A text that begins at a place."""

    around: Around
    text: str
    size: float
    bold: bool
    italic: bool
    serif: bool


Shape = Glyph | Drawn | Lettering


def shapes(svg: bytes) -> list[Shape]:
    """Return all shapes of a picture; ``RenderError`` for what is not a drawing of music."""
    if b"<!" in svg.replace(b"<![CDATA[", b""):
        raise _unknown("a declaration")
    try:
        root = ET.fromstring(svg)  # noqa: S314  declares nothing, see above
    except ET.ParseError:
        raise _unknown("what is not XML") from None
    return list(_inside(root, Around()))


def _unknown(what: str) -> RenderError:
    return RenderError(
        f"LilyPond drew the music for a page with {printable(what)[:60]}, which pages do not know. "
        "Take the release of LilyPond that comes with Reedmill: pip install lilypond==2.24.3."
    )


def _inside(parent: ET.Element, around: Around) -> Iterator[Shape]:
    for child in parent:
        kind = child.tag.removeprefix(_SVG)
        if kind == "g":
            yield from _inside(child, _grouped(child, around))
        elif kind == "text":
            yield _lettering(child, around)
        elif kind in _READ:
            yield _READ[kind](child, around)
        elif kind != "style":
            raise _unknown(f"the element {kind}")


def _grouped(group: ET.Element, around: Around) -> Around:
    x, y, colour, mark = around.x, around.y, around.colour, around.mark
    if moved := group.get("transform"):
        found = _TRANSLATE.fullmatch(moved)
        if not found:
            raise _unknown(f"the change {moved}")
        x, y = x + float(found[1]), y + float(found[2])
    if named := group.get("color"):
        shade = _COLOUR.fullmatch(named)
        colour = tuple(map(float, shade.groups())) if shade else colour
    if number := group.get("data-note"):
        row = group.get("data-row", "")
        if row not in _ROWS:
            raise _unknown(f"the row {row}")
        mark = MarkPlace(int(number), row)
    return Around(x, y, colour, mark)


# --- elements ----------------------------------------------------------------------------


def _lettering(element: ET.Element, around: Around) -> Lettering:
    if element.get("text-anchor", "start") != "start" or element.get("transform"):
        raise _unknown("a text that does not begin at its place")
    parts = [element.text or "", *((each.text or "") + (each.tail or "") for each in element)]
    return Lettering(
        around, printable("".join(parts).strip("\n")), _value(element, "font-size"),
        element.get("font-weight") == "bold", element.get("font-style") == "italic",
        element.get("font-family") == "serif",
    )  # fmt: skip


def _path(element: ET.Element, around: Around) -> Shape:
    outline = _plain_outline(element.get("d", ""))
    if scaled := element.get("transform"):
        found = _SCALE.fullmatch(scaled)
        if not found or found[3] != found[4]:
            raise _unknown(f"the change {scaled}")
        x, y = around.x + float(found[1] or 0), around.y + float(found[2] or 0)
        moved = replace(around, x=x, y=y)
        return Glyph(moved, outline, float(found[3]))
    return Drawn(around, "path", _steps_of(outline), _line_width(element), _is_filled(element))


def _rect(element: ET.Element, around: Around) -> Drawn:
    x, y, width, height = (_value(element, name) for name in ("x", "y", "width", "height"))
    if 0 < width <= _STEM:  # a stem or a bar line: a thick line is as good, and shorter
        steps = (("M", (x + width / 2, y)), ("L", (x + width / 2, y + height)))
        return Drawn(around, "stem", steps, width, filled=False)
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    return Drawn(around, "rect", _closed(corners), 0.0, filled=True)


def _line(element: ET.Element, around: Around) -> Drawn:
    x1, y1, x2, y2 = (_value(element, name) for name in ("x1", "y1", "x2", "y2"))
    steps = (("M", (x1, y1)), ("L", (x2, y2)))
    return Drawn(around, "line", steps, _line_width(element), filled=False)


def _polygon(element: ET.Element, around: Around) -> Drawn:
    numbers = _numbers(element.get("points", ""))
    corners = list(zip(numbers[::2], numbers[1::2], strict=True))
    if len(corners) < 3:
        raise _unknown("a surface without corners")
    return Drawn(around, "polygon", _closed(corners), _line_width(element), _is_filled(element))


_READ = {"path": _path, "rect": _rect, "line": _line, "polygon": _polygon}


def _closed(corners: list[Place]) -> tuple[tuple[str, tuple[float, ...]], ...]:
    first, *others = corners
    return (("M", first), *(("L", each) for each in others), ("Z", ()))


def _is_filled(element: ET.Element) -> bool:
    return element.get("fill") != "none"


def _line_width(element: ET.Element) -> float:
    return _value(element, "stroke-width") if element.get("stroke") else 0.0


def _value(element: ET.Element, name: str) -> float:
    found = _NUMBERS.fullmatch(element.get(name, "0"))
    if not found:
        raise _unknown(f"a {name} that is not a number")
    return float(found[0])


def _numbers(text: str) -> list[float]:
    return [float(each) for each in _NUMBERS.findall(text)]


@cache  # a page has few signs, each many times
def _plain_outline(outline: str) -> str:
    """Strip *outline* of spare spaces; ``RenderError`` for one of other steps than we know."""
    if not _OUTLINE.fullmatch(outline):
        raise _unknown("an outline of other steps")
    return _SPARE.sub("", " ".join(outline.split()))


# --- outlines ----------------------------------------------------------------------------


@cache  # the arrows under the notes are a few, each many times
def _steps_of(outline: str) -> tuple[tuple[str, tuple[float, ...]], ...]:
    """Return the steps of *outline* as ``_absolute`` gives them."""
    return tuple(_absolute(outline))


def _absolute(outline: str) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Return the steps of *outline* as M, L, C and Z with absolute places."""
    here = start = (0.0, 0.0)
    handle = here  # the last one of the curve before, which S takes up
    for letter, numbers in _STEP.findall(outline):
        kind, values = letter.upper(), _numbers(numbers)
        if kind == "Z":
            here = handle = start
            yield "Z", ()
            continue
        for first in range(0, len(values), _PAIRS[kind]):
            some = values[first : first + _PAIRS[kind]]
            places = _places(kind, some, here, relative=letter.islower())
            before, here = here, places[-1]
            if kind == "S":
                places = [(2 * before[0] - handle[0], 2 * before[1] - handle[1]), *places]
            handle = places[-2] if kind in "CS" else here
            step = "C" if kind in "CS" else "M" if kind == "M" and first == 0 else "L"
            start = here if step == "M" else start
            yield step, tuple(value for place in places for value in place)


def _places(kind: str, values: list[float], here: Place, *, relative: bool) -> list[Place]:
    x, y = here if relative else (0.0, 0.0)
    if kind == "H":
        return [(x + values[0], here[1])]
    if kind == "V":
        return [(here[0], y + values[0])]
    return [(x + left, y + up) for left, up in zip(values[::2], values[1::2], strict=True)]


@cache
def outline_box(outline: str) -> tuple[float, float, float, float]:
    """Left, lowest, right and highest place of *outline* and of its handles, in its own units."""
    values = [place for _, some in _steps_of(outline) for place in pairs(some)]
    across, up = [x for x, _ in values], [y for _, y in values]
    return min(across), min(up), max(across), max(up)


def pairs(values: tuple[float, ...]) -> list[Place]:
    """Pair *values* up as places.

    >>> pairs((1.0, 2.0, 3.0, 4.0))
    [(1.0, 2.0), (3.0, 4.0)]
    """
    return list(pairwise(values))[::2]
