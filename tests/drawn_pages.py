"""What stands on a finished page, read from its PDF, and what is wrong with how it stands there.

PDFium (through pypdfium2) gives every letter, every sign of music and every line with its place;
nothing here knows how a page is made.  Points are the PDF's, 1/72 inch, y up (PDF 32000-1:2008,
8.3.2.3).  Signs of music are named by LilyPond's own font, read with fontTools.
"""

from __future__ import annotations

import ctypes
import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path

import lilypond
import pypdfium2
from fontTools.ttLib import TTFont
from pypdfium2 import raw

MM = 72 / 25.4
TOUCH = 0.25
"""Points that two things may share: less than a tenth of a millimetre."""

CLEAR = 2.0
"""Points that a word keeps clear of a rule, at the least."""

CROWDED = 3.0
"""Points between two words of different print on one level under which they read as one."""

MUSIC_FONT = "Emmentaler"
# An accidental beside a letter is smaller than the letter by so much, as the sheets set it.
_OWN_SIGN = range(100, 145)  # hundredths: size of its font over that of the letter
_STRETCH = 0.35  # of the size of print: a wider gap parts two words


@dataclass(frozen=True, slots=True)
class Ink:
    """A word, or a sign of music, with the rectangle of its ink."""

    name: str
    left: float
    low: float
    right: float
    high: float
    size: float = 0.0  # of its font, in points
    font: str = ""
    colour: tuple[int, ...] = ()

    @property
    def is_sign(self) -> bool:
        """True for a sign of music."""
        return self.font.startswith(MUSIC_FONT)

    def __str__(self) -> str:
        return f"{self.name!r} at {self.left:.0f}, {self.low:.0f}"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A drawn line or outline: its points in order, and half its thickness."""

    points: tuple[tuple[float, float], ...]
    half: float
    left: float
    low: float
    right: float
    high: float

    @property
    def is_rule(self) -> bool:
        """True for a level line."""
        return self.high - self.low < 2 and self.right - self.left > 40

    def __str__(self) -> str:
        return f"line from {self.left:.0f}, {self.low:.0f} to {self.right:.0f}, {self.high:.0f}"


@dataclass(frozen=True, slots=True)
class PageInk:
    """All that is drawn on one page."""

    width: float
    height: float
    words: tuple[Ink, ...]
    signs: tuple[Ink, ...]
    strokes: tuple[Stroke, ...]
    letters: tuple[Ink, ...] = ()  # of the words

    @property
    def inks(self) -> tuple[Ink, ...]:
        """Words and signs."""
        return self.words + self.signs

    def count(self, name: str) -> int:
        """How many signs of music have names that begin so."""
        return sum(sign.name.startswith(name) for sign in self.signs)

    @property
    def has_music(self) -> bool:
        """True where there is a note or a rest."""
        return any(sign.name.startswith(("noteheads", "rests")) for sign in self.signs)


# --- reading ---------------------------------------------------------------------------


def pages_of(pdf: bytes) -> list[PageInk]:
    """The pages of *pdf*."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [_page(document[n]) for n in range(len(document))]
    finally:
        document.close()


def _page(page: pypdfium2.PdfPage) -> PageInk:
    letters = list(_letters(page))
    signs = tuple(each for each in letters if each.is_sign)
    plain = tuple(each for each in letters if not each.is_sign)
    width, height = page.get_size()
    return PageInk(width, height, tuple(_words(plain)), signs, tuple(_strokes(page)), plain)


def _letters(page: pypdfium2.PdfPage) -> Iterator[Ink]:
    text = page.get_textpage()
    fonts: dict[int, str] = {}
    matrix, parts = raw.FS_MATRIX(), [ctypes.c_uint() for _ in range(4)]
    for index in range(text.count_chars()):
        left, low, right, high = text.get_charbox(index)
        code = raw.FPDFText_GetUnicode(text, index)
        name = chr(code)
        if right - left <= 0 or high - low <= 0 or not name.strip():
            continue
        holder = ctypes.addressof(raw.FPDFText_GetTextObject(text, index).contents)
        if holder not in fonts:
            fonts[holder] = _font(text, index)
        raw.FPDFText_GetMatrix(text, index, matrix)
        raw.FPDFText_GetFillColor(text, index, *parts)
        font = fonts[holder]
        yield Ink(
            _sign_names().get(code, name) if font.startswith(MUSIC_FONT) else name,
            left, low, right, high,
            raw.FPDFText_GetFontSize(text, index) * math.hypot(matrix.a, matrix.b),
            font,
            tuple(part.value for part in parts[:3]),
        )  # fmt: skip
    text.close()


def _font(text: pypdfium2.PdfTextPage, index: int) -> str:
    name = ctypes.create_string_buffer(64)
    raw.FPDFText_GetFontInfo(text, index, name, len(name), None)
    return name.value.decode().rpartition("+")[2]


@cache
def _sign_names() -> dict[int, str]:
    """What LilyPond calls the signs of its font: ``noteheads.s2``, ``accidentals.flat``."""
    [path] = Path(lilypond.executable()).parents[1].rglob("emmentaler-20.otf")
    with TTFont(path, lazy=True) as font:
        return dict(font.getBestCmap())


def _words(letters: Sequence[Ink]) -> Iterator[Ink]:
    """*letters* joined where they are of one print, on one line and near."""
    lines: dict[tuple[object, ...], list[Ink]] = {}
    for each in letters:
        lines.setdefault((each.font, round(each.size, 1), each.colour), []).append(each)
    for alike in lines.values():
        yield from _joined(alike)


def _joined(letters: Sequence[Ink]) -> Iterator[Ink]:
    open_words: list[list[Ink]] = []
    for each in letters:
        for word in reversed(open_words[-3:]):
            last = word[-1]
            near = -0.5 * each.size < each.left - last.right < _STRETCH * each.size
            middle = max(letter.high for letter in word) + min(letter.low for letter in word)
            if near and abs(middle - each.high - each.low) < each.size * 1.1:
                word.append(each)
                break
        else:
            open_words.append([each])
    for word in open_words:
        yield Ink(
            "".join(each.name for each in word),
            min(each.left for each in word), min(each.low for each in word),
            max(each.right for each in word), max(each.high for each in word),
            word[0].size, word[0].font, word[0].colour,
        )  # fmt: skip


def _strokes(page: pypdfium2.PdfPage) -> Iterator[Stroke]:
    for each in page.get_objects(max_depth=6):
        if each.type == raw.FPDF_PAGEOBJ_PATH:
            yield from _path(each)


def _path(path: pypdfium2.PdfObject) -> Iterator[Stroke]:
    matrix = path.get_matrix()
    fill, stroked = ctypes.c_int(), ctypes.c_int()
    raw.FPDFPath_GetDrawMode(path, fill, stroked)
    width = ctypes.c_float()
    raw.FPDFPageObj_GetStrokeWidth(path, width)
    scale = math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c))
    half = width.value * scale / 2 if stroked.value else 0.0
    run: list[tuple[float, float]] = []
    x, y = ctypes.c_float(), ctypes.c_float()
    for n in range(raw.FPDFPath_CountSegments(path)):
        segment = raw.FPDFPath_GetPathSegment(path, n)
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        if raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_MOVETO and run:
            yield _stroke(run, half)
            run = []
        run.append(matrix.on_point(x.value, y.value))
        if raw.FPDFPathSegment_GetClose(segment):
            run.append(run[0])
    if len(run) > 1:
        yield _stroke(run, half)


def _stroke(points: Sequence[tuple[float, float]], half: float) -> Stroke:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Stroke(
        tuple(points), half, min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half
    )


# --- judging ---------------------------------------------------------------------------


def overlaps(page: PageInk) -> list[str]:
    """Pairs of things that share ink though they should not."""
    pairs = [*_near(page.inks, -TOUCH)]
    found = [f"{one} on {two}" for one, two in pairs if _may_not_share(one, two)]
    found += [
        f"{word} on {stroke}"
        for word, stroke in _word_and_stroke(page, 0.0)
        if _crosses(stroke, word, -TOUCH)
    ]
    return found


def crowded(page: PageInk) -> list[str]:
    """Words that run together though each is a thing of its own, or stand on a rule."""
    found = [
        f"{one} beside {two}"
        for one, two in _near(page.inks, CROWDED)
        if _side_by_side(one, two) and not _belong_together(one, two)
    ]
    found += [
        f"{word} beside {stroke}"
        for word, stroke in _word_and_stroke(page, CLEAR)
        if stroke.is_rule and _crosses(stroke, word, CLEAR)
    ]
    return found


# Signs that LilyPond sets close on purpose, in pairs without order.
_CLOSE = ({"flags", "noteheads"}, {"flags", "dots"}, {"flags", "accidentals"}, {"flags", "rests"})
_SOLID = {"noteheads", "accidentals", "rests", "clefs", "flags", "dots", "scripts"}


def _kind(sign: Ink) -> str:
    return sign.name.partition(".")[0]


def _may_not_share(one: Ink, two: Ink) -> bool:
    if one.is_sign and two.is_sign:
        kinds = {_kind(one), _kind(two)}
        # flats of a key, digits of a meter, heads of a chord
        alike = len(kinds) == 1 and (kinds != {"noteheads"} or _in_a_chord(one, two))
        return not alike and kinds <= _SOLID and kinds not in _CLOSE
    if one.is_sign or two.is_sign:
        sign, word = (one, two) if one.is_sign else (two, one)
        return not (_kind(sign) == "clefs" and word.name == "8")
    alike = one.font == two.font and abs(one.size - two.size) < 0.05
    return not (alike and {one.name.strip("·"), two.name.strip("·")} & _LIGATURES)


def _in_a_chord(one: Ink, two: Ink) -> bool:
    """Two heads on one stem at different heights: over one another, or a second side by side."""
    wide, apart = one.right - one.left, abs(one.left - two.left)
    return abs(one.low - two.low) > 0.2 * wide and min(apart, abs(apart - wide)) < 0.12 * wide


_LIGATURES = {"ff", "fi", "fl", "ffi", "ffl"}  # read as letters that share one place


def _side_by_side(one: Ink, two: Ink) -> bool:
    shared = min(one.high, two.high) - max(one.low, two.low)
    return shared > 0.3 * min(one.high - one.low, two.high - two.low)


def _belong_together(one: Ink, two: Ink) -> bool:
    """A letter and its accidental; a note and its tempo; a hole and its ticks; bold in a text.

    A hole has a smaller letter too, where it is played a quarter tone lower.
    """
    if one.is_sign and two.is_sign:
        if {_kind(one), _kind(two)} != {"accidentals"}:
            return True  # the staff is LilyPond's to space
        return abs(one.size - two.size) < 0.05 * one.size
    if one.is_sign or two.is_sign:
        sign, word = (one, two) if one.is_sign else (two, one)
        if _kind(sign) != "accidentals":
            return True
        return round(100 * sign.size / word.size) in _OWN_SIGN
    if two.name == "q" and one.name.strip("'").isdigit():
        return one.font == two.font
    level = abs(one.high - two.high) < 0.45 * one.size or abs(one.low - two.low) < 0.45 * one.size
    return abs(one.size - two.size) < 0.15 and (one.font == two.font or level)


def _near(inks: Sequence[Ink], apart: float) -> Iterator[tuple[Ink, Ink]]:
    """All pairs whose rectangles, *apart* points larger, share some ground."""
    waiting: list[Ink] = []
    for each in sorted(inks, key=lambda ink: ink.left):
        waiting = [other for other in waiting if other.right + apart > each.left]
        for other in waiting:
            if other.low < each.high + apart and each.low < other.high + apart:
                yield other, each
        waiting.append(each)


def _word_and_stroke(page: PageInk, apart: float) -> Iterator[tuple[Ink, Stroke]]:
    words = sorted(page.words, key=lambda word: word.left)
    lefts = [word.left for word in words]
    widest = max((word.right - word.left for word in words), default=0.0)
    for stroke in page.strokes:
        first = bisect_left(lefts, stroke.left - apart - widest)
        for word in words[first : bisect_right(lefts, stroke.right + apart)]:
            if (
                word.right + apart > stroke.left
                and word.low < stroke.high + apart
                and stroke.low < word.high + apart
            ):
                yield word, stroke


def _crosses(stroke: Stroke, word: Ink, apart: float) -> bool:
    """True when the line itself, not the ground it encloses, comes within *apart* of *word*."""
    grow = apart + stroke.half
    box = (word.left - grow, word.low - grow, word.right + grow, word.high + grow)
    if box[0] >= box[2] or box[1] >= box[3]:
        return False
    return any(_cuts(one, two, box) for one, two in pairwise(stroke.points))


def _cuts(
    one: tuple[float, float], two: tuple[float, float], box: tuple[float, float, float, float]
) -> bool:
    """Whether a stretch of line enters *box* (Liang and Barsky's clipping)."""
    (x, y), (across, along) = one, (two[0] - one[0], two[1] - one[1])
    enters, leaves = 0.0, 1.0
    for step, room in (
        (-across, x - box[0]), (across, box[2] - x), (-along, y - box[1]), (along, box[3] - y),
    ):  # fmt: skip
        if step == 0:
            if room < 0:
                return False
        elif step < 0:
            enters = max(enters, room / step)
        else:
            leaves = min(leaves, room / step)
    return enters < leaves


def _everything(page: PageInk) -> tuple[Ink | Stroke, ...]:
    return (*page.inks, *page.strokes)


def past_margins(page: PageInk, side: float, edge: float) -> list[str]:
    """What stands nearer than *side* points to the left or right edge, *edge* to top or foot.

    A letter may lean a point out of its place, as an A does.
    """
    return [
        str(each)
        for each in _everything(page)
        if each.left < side - 1
        or each.right > page.width - side + 1
        or each.low < edge - 1
        or each.high > page.height - edge + 1
    ]


def empty_share(page: PageInk, edge: float, foot: str = "Rest") -> float:
    """How much of the height between the margins is empty over the foot, 0 to 1.

    The foot begins with the rule over the word *foot*; without one it is the margin.
    """
    begins = [
        word for word in page.words if word.name.startswith(foot) and word.low < page.height / 4
    ]
    floor = max((word.high for word in begins), default=edge) + 9
    above = [each.low for each in _everything(page) if each.low > floor]
    if not above:
        return 1.0
    return (min(above) - floor) / (page.height - edge - floor)


def small_type(page: PageInk, least: float) -> list[str]:
    """Words smaller than *least* points."""
    return [f"{word} is {word.size:.1f} pt" for word in page.words if word.size < least - 0.05]


@dataclass(slots=True)
class Verdict:
    """What is wrong on some sheets, counted, with the first places of each kind."""

    sheets: int = 0
    pages: int = 0
    several: int = 0  # sheets of more than one page
    faults: Counter[str] = field(default_factory=Counter)
    sheets_with: Counter[str] = field(default_factory=Counter)
    places: dict[str, list[str]] = field(default_factory=dict)

    def add(self, name: str, pages: Sequence[PageInk], *, large: bool, side: float) -> None:
        """Judge one sheet whose music stands on *pages*."""
        self.sheets += 1
        self.pages += len(pages)
        self.several += len(pages) > 1
        for kind, found in judged(pages, large=large, side=side).items():
            self.faults[kind] += len(found)
            self.sheets_with[kind] += bool(found)
            self.places.setdefault(kind, []).extend(f"{name}: {each}" for each in found)


KINDS = (
    "overlaps", "crowded", "past the margins", "mostly empty", "boxes alone", "type under 11 pt",
)  # fmt: skip


def judged(pages: Sequence[PageInk], *, large: bool, side: float) -> dict[str, list[str]]:
    """All that is wrong with one sheet, by kind, each with its page."""
    found: dict[str, list[str]] = {kind: [] for kind in KINDS}
    for number, page in enumerate(pages, start=1):
        empty = empty_share(page, 11 * MM)
        judged_here = {
            "overlaps": overlaps(page),
            "crowded": crowded(page),
            "past the margins": past_margins(page, side, 11 * MM),
            "mostly empty": [f"{empty:.0%}"] if len(pages) > 1 and empty > 0.45 else [],
            "boxes alone": [] if number == 1 or page.has_music else ["no music"],
            "type under 11 pt": small_type(page, 11) if large else [],
        }
        for kind, places in judged_here.items():
            found[kind] += [f"page {number}, {each}" for each in places]
    return found
