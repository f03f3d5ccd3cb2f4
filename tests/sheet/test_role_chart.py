"""The role chart as it is printed: read out of the page, and worked out again by music21.

What a reed sounds comes from the published layout (OEIS A291810, in ``oracles``); scales and
chords from music21, which knows nothing of harps.
"""

from __future__ import annotations

import ctypes
import io
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations, pairwise

import music21
import pypdf
import pypdfium2
import pytest
from pypdfium2 import raw

import oracles
from drawn_pages import pages_of
from reedmill.base.errors import InputError
from reedmill.harp import Harp, Reed
from reedmill.harp.chord_roles import chord_role, parse_chords
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.role_chart import role_chart
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position

HARPS = ("C", "Bb", "F#", "low D")
TABS = "1 -1 -1' 2 -2 -2'' -3 -3' -3'' -3''' 4 -6' 7 8' 10 10''".split()  # noqa: SIM905


@dataclass(frozen=True, slots=True)
class Sign:
    """A letter or a sign of music on the page, in points from its lower left corner."""

    name: str  # flats and sharps as b and #
    left: float
    low: float
    right: float
    high: float
    white: bool  # painted in the colour of the paper


# Emmentaler, LilyPond's music font, has its flat and its sharp here (LilyPond 2.24's font files).
ACCIDENTALS = {0xE013: "#", 0xE021: "b"}


def printed(harp: str, tabs: list[str], look: Look) -> list[list[Sign]]:
    """The signs of each page of the chart."""
    reeds = [Reed.parse(tab) for tab in tabs]
    with Engraver() as engraver:
        engraver.feed(role_chart(Harp.parse(harp), reeds, look))
        [pdf] = engraver.sheets(1)
    about = pypdf.PdfReader(io.BytesIO(pdf)).metadata
    assert about is not None
    key = harp.replace("b", "\u266d").replace("#", "\u266f")
    assert about.title == f"Roles on the {key} harp"
    return [list(signs_on(page)) for page in pypdfium2.PdfDocument(pdf)]


def signs_on(page: pypdfium2.PdfPage) -> Iterator[Sign]:
    text = page.get_textpage()
    for at in range(text.count_chars()):
        left, low, right, high = text.get_charbox(at)
        name = text.get_text_range(at, 1)
        if right - left > 0 and high - low > 0 and name.strip():
            paint = [ctypes.c_uint() for _ in range(4)]
            raw.FPDFText_GetFillColor(text, at, *paint)
            white = all(part.value == 255 for part in paint)
            yield Sign(ACCIDENTALS.get(ord(name[0]), name), left, low, right, high, white)


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one row under one reed."""

    text: str
    white: bool


def rows_of(signs: list[Sign], columns: list[float]) -> list[tuple[str, str, list[Cell]]]:
    """Each row of the chart, downwards: its label, its key, and a cell for each column.

    *columns* are the middles of the columns; a row is what stands on one line.
    """
    lines: dict[int, list[Sign]] = defaultdict(list)
    for sign in sorted(signs, key=lambda each: each.left):
        near = [low for low in lines if abs(low - (sign.low + sign.high) / 2) < 9]
        lines[near[0] if near else round((sign.low + sign.high) / 2)].append(sign)
    return [row_of(lines[low], columns) for low in sorted(lines, reverse=True)]


def row_of(line: list[Sign], columns: list[float]) -> tuple[str, str, list[Cell]]:
    """A row by where its signs stand; label and key are left of all columns."""
    half = (columns[1] - columns[0]) / 2
    parts: dict[int, list[Sign]] = defaultdict(list)
    for sign in line:
        middle = (sign.left + sign.right) / 2
        parts[next((n for n, x in enumerate(columns) if abs(middle - x) <= half), -1)].append(sign)
    before = parts[-1]
    label = "".join(sign.name for sign in before if sign.left < KEY_LEFT)
    key = "".join(sign.name for sign in before if sign.left >= KEY_LEFT)
    cells = [
        Cell("".join(sign.name for sign in parts[n]), any(sign.white for sign in parts[n]))
        for n in range(len(columns))
    ]
    return label, key, cells


KEY_LEFT = 105.0  # the keys of the positions stand in a column of their own, near here
ORDINALS = "1st 2nd 3rd 4th 5th 6th 7th 8th 9th 10th 11th 12th".split()  # noqa: SIM905


def columns_of(signs: list[Sign], count: int) -> list[float]:
    """The middles of the columns: of the roots, which stand on filled ground, by the top rows."""
    whole = sorted({round((s.left + s.right) / 2, 1) for s in signs if s.white and s.name == "1"})
    first, last = whole[0], whole[-1]
    step = (last - first) / (count - 1)
    return [first + n * step for n in range(count)]


@cache
def chart(harp: str) -> list[tuple[str, str, list[Cell]]]:
    """The fifteen rows of the chart on *harp*: twelve positions, three chords."""
    [signs] = printed(harp, TABS, Look())
    rows = rows_of(signs, columns_of(signs, len(TABS)))
    full = [row for row in rows if all(cell.text for cell in row[2])]
    return full[-15:]  # over them stand the tabs and their names


def sounds(harp: str, tab: str) -> int:
    """The pitch class of *tab*."""
    return oracles.sounding(harp, tab) % 12


def pitch_class(scale: music21.scale.MajorScale, degree: str) -> int:
    """The pitch class of a degree such as b3: the scale's note, lowered or raised."""
    step = scale.pitchFromDegree(int(degree.lstrip("b#")))
    return int(step.midi - degree.count("b") + degree.count("#")) % 12


@pytest.mark.parametrize("harp", HARPS)
def test_degrees_of_all_twelve_positions_are_those_of_music21s_scales(harp: str) -> None:
    for ordinal, (label, key, cells) in zip(ORDINALS, chart(harp)[:12], strict=True):
        root = oracles.root(harp, ORDINALS.index(ordinal) + 1)
        assert label == ordinal
        assert music21.pitch.Pitch(key.replace("b", "-")).pitchClass == root.pitchClass
        scale = music21.scale.MajorScale(root)
        for tab, cell in zip(TABS, cells, strict=True):
            assert pitch_class(scale, cell.text) == sounds(harp, tab), (ordinal, tab)


@pytest.mark.parametrize("harp", HARPS)
def test_the_roots_are_filled_and_nothing_else_of_the_positions(harp: str) -> None:
    for number, (_, _, cells) in enumerate(chart(harp)[:12], start=1):
        root = oracles.root(harp, number).pitchClass
        assert [cell.white for cell in cells] == [sounds(harp, tab) == root for tab in TABS]


@pytest.mark.parametrize("harp", HARPS)
def test_chord_tones_are_filled_and_named_from_the_root_of_their_chord(harp: str) -> None:
    """I, IV and V of cross harp as dominant sevenths, built by music21."""
    tonic = oracles.root(harp, 2)
    if music21.key.Key(tonic.name).sharps > 6:  # which nobody asks for: Db for C#
        tonic = tonic.getEnharmonic()
    scale = music21.scale.MajorScale(tonic)
    rows = chart(harp)[12:]
    assert [label for label, _, _ in rows] == ["I7", "IV7", "V7"]
    for step, (_, symbol, cells) in zip((1, 4, 5), rows, strict=True):
        root = scale.pitchFromDegree(step)
        assert music21.pitch.Pitch(symbol.removesuffix("7").replace("b", "-")).name == root.name
        chord = music21.harmony.ChordSymbol(f"{root.name}7").pitchClasses
        own = music21.scale.MajorScale(root)
        for tab, cell in zip(TABS, cells, strict=True):
            assert cell.white == (sounds(harp, tab) in chord), (step, tab)
            assert pitch_class(own, cell.text) == sounds(harp, tab), (step, tab)


@pytest.mark.parametrize(("chord", "step"), [("I7", 1), ("IV7", 4), ("V7", 5)])
def test_a_reed_is_in_a_chord_what_music21_finds_it_to_be(chord: str, step: int) -> None:
    for harp in oracles.HARPS:
        root = music21.scale.MajorScale(oracles.root(harp, 2)).pitchFromDegree(step)
        tones = music21.harmony.ChordSymbol(f"{root.name}7").pitchClasses
        scale = music21.scale.MajorScale(root)
        for tab in oracles.PLAIN_TABS:
            role = chord_role(Harp.parse(harp), Position(2), Reed.parse(tab), Chord.parse(chord))
            assert (role.tone is not None) == (sounds(harp, tab) in tones), (harp, tab)
            assert pitch_class(scale, role.name) == sounds(harp, tab), (harp, tab)


def test_what_a_teacher_would_say_of_hole_three_over_the_three_chords() -> None:
    """Counted by hand on a C harp in cross harp: B Bb A Ab over G7, C7 and D7."""
    said = [
        [
            chord_role(Harp("C"), Position(2), Reed.parse(tab), Chord.parse(chord)).word
            for chord in ("I7", "IV7", "V7")
        ]
        for tab in ("-3", "-3'", "-3''", "-3'''")
    ]
    assert [each[0] for each in said[:1]] == ["third"]
    assert said[1][1] == "b7"
    assert said[2][2] == "fifth"
    assert said[3] == ["tension", "tension", "tension"]


@pytest.mark.parametrize("text", ["", "I7 " * 9, "H7", "iimaj7"])
def test_what_is_no_chord_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="chord"):
        parse_chords(text)


# --- the page --------------------------------------------------------------------------

# The widest tabs there are, the widest next to each other.
WIDE = "-3''' -3'' -3' -2'' 10'' 10' -10^ -9^ -7^ 9' 8' -2' 1^ 4^ 5^ 6^".split()  # noqa: SIM905
LETTER_POINTS = (612.0, 792.0)  # ANSI/ASME Y14.1: 8.5 by 11 inches, of 72 points each


@pytest.mark.parametrize("tabs", [WIDE, TABS, ["-3''"]])
def test_the_chart_is_one_page_with_nothing_outside_its_margins_or_on_top(tabs: list[str]) -> None:
    """Letters of one word may lean into each other by less than a point."""
    [signs] = printed("F#", tabs, Look("letter", large=True))
    edge, (width, height) = MARGIN_MM * 72 / 25.4 - 1, LETTER_POINTS
    for sign in signs:
        assert edge < sign.left < sign.right < width - edge, sign
        assert 0 < sign.low < sign.high < height, sign
    for one, two in combinations(signs, 2):
        across = min(one.right, two.right) - max(one.left, two.left)
        along = min(one.high, two.high) - max(one.low, two.low)
        assert not (across > 0.9 and along > 0.9), (one, two)


@pytest.mark.parametrize("look", [Look(), Look("letter", large=True)])
def test_the_tabs_over_the_columns_keep_apart(look: Look) -> None:
    """Letter by letter the heading is the tabs; between two of them is more room than inside."""
    [signs] = printed("C", WIDE, look)
    heading = [first_of(signs, tab) for tab in WIDE]
    for one, two in pairwise(heading):
        gap = two[0].left - one[-1].right
        assert gap > 0.2 * (one[-1].high - one[0].low), (one, two)


@pytest.mark.parametrize("look", [Look(), Look("letter"), Look(large=True)])
@pytest.mark.parametrize("tabs", [["-3''"], ["-2", "-3", "-3'", "-3''"], WIDE])
def test_the_chart_fills_its_page(tabs: list[str], look: Look) -> None:
    """From the title to the foot no more than a tenth of the page is empty in one piece."""
    [signs] = printed("Bb", tabs, look)
    height = {"a4": 841.89, "letter": LETTER_POINTS[1]}[look.paper]
    levels = sorted({round(sign.low) for sign in signs} | {round(sign.high) for sign in signs})
    assert max(two - one for one, two in pairwise(levels)) < 0.1 * height
    assert levels[0] < 0.1 * height
    assert levels[-1] > 0.9 * height


@pytest.mark.parametrize("look", [Look(), Look("letter"), Look(large=True)])
def test_keys_and_the_degrees_of_ten_reeds_are_read_at_two_metres(look: Look) -> None:
    """A letter a two hundred and fiftieth of the distance high: common practice of signs."""
    least = 0.98 * 2000 / 250 / 25.4 * 72
    [signs] = printed("C", WIDE[:10], look)
    tall = [sign for sign in signs if sign.high - sign.low >= least]
    degrees = [sign for sign in tall if sign.name in "1234567"]
    keys = [sign for sign in tall if sign.name in "ABCDEFG"]
    assert len(degrees) >= (12 + 3) * 10
    assert len(keys) >= 12 + 3


def test_roots_of_a_chart_are_no_further_apart_than_the_eye_follows_a_row() -> None:
    """Every row has a rule under it from its name to its last degree."""
    with Engraver() as engraver:
        engraver.feed(role_chart(Harp("C"), [Reed.parse("-3''")], Look()))
        [page] = pages_of(engraver.sheets(1)[0])
    rules = {round(stroke.low) for stroke in page.strokes if stroke.is_rule}
    assert len(rules) >= 1 + 12 + 1 + 3  # head, positions, chords and what stands over them


def first_of(signs: list[Sign], tab: str) -> list[Sign]:
    """The letters of *tab* where they first follow one another on the page."""
    for n in range(len(signs)):
        found = signs[n : n + len(tab) + 1]
        if [sign.name for sign in found[:-1]] == list(tab) and found[-1].name not in "'^":
            return found[:-1]
    raise AssertionError(tab)


@pytest.mark.parametrize("count", [0, 17])
def test_a_chart_of_none_or_of_more_than_sixteen_reeds_is_refused(count: int) -> None:
    with pytest.raises(InputError, match=f"room for 1 to 16 reeds; these are {count}"):
        role_chart(Harp("C"), [Reed.parse("-3")] * count, Look())
