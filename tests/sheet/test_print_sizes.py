"""The sizes that docs/PRINT.md sets beside engraving practice are those of finished pages."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from drawn_pages import MM, Ink, PageInk, pages_of
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.pack.pages.book import binding_shift
from reedmill.sheet.chart_grid import LEAST_CAPITAL_MM
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.frame import preamble
from reedmill.sheet.lines import MARKS_APART
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages
from reedmill.theory.positions import Position

PAGE = Path(__file__).parents[2] / "docs" / "PRINT.md"
LOOKS = {"usual": Look(), "large": Look(large=True)}


@cache
def drawn(look: str) -> PageInk:
    """A sheet with text, music and plain tab, which fits one page in large print too."""
    [drill, *_] = find_drills("Long plain tones")
    score = expand(drill, Harp("C"), Position(2))
    with Engraver() as engraver:
        engraver.feed(pages([score], LOOKS[look]))
        [page] = pages_of(engraver.sheets(1)[0])
    return page


def told() -> dict[str, tuple[str, str]]:
    """The rows of the tables: what, with both numbers as they are printed."""
    rows = re.findall(r"^\| ([^|]+) \| ([\d.]+) \| ([\d.]+) \|", PAGE.read_text("utf-8"), re.M)
    return {what: (usual, large) for what, usual, large in rows}


def measured(look: str) -> dict[str, float]:
    """The same, as it is on the page."""
    page, chosen = drawn(look), LOOKS[look]
    staff = sorted(rule.high for rule in page.strokes if rule.is_rule and rule.left > 70)
    thick = [rule.half * 2 / MM for rule in page.strokes if rule.is_rule and rule.left > 70]
    return {
        "height of the staff, mm": (staff[4] - staff[0]) / MM,
        "thickness of a staff line, mm": thick[0],
        "hole numbers under the staff, pt": max(
            it.size for it in page.words if it.font.startswith("NimbusSans")
        ),
        "degrees, pt": beside(page, "degree").size,
        "text to read: about, listen for, pt": starting(page, "Hold").size,
        "facts: harp, key, tempo, pt": under(page, "meter").size,
        "notes on the map of the harp, pt": beside(page, "blow").size,
        "plain tab, pt": next(it.size for it in page.words if "Mono" in it.font),
        "labels and headings of boxes, pt": starting(page, "filled").size,
        "foot, pt": starting(page, "Rest").size,
        "title, pt": max(it.size for it in page.words),
        "least room between two marks of a row, mm": (
            MARKS_APART * chosen.space_mm * chosen.music_scale
        ),
        "margin at the sides, mm": min(it.left for it in page.strokes) / MM,
        "margin at the binding of a book, mm": MARGIN_MM + binding_shift(1) / MM,
        "margin at the top, mm": margin("top", chosen),
        "margin at the foot, mm": min(it.low for it in page.words) / MM,
        "least capital of a root on a chord chart, mm": LEAST_CAPITAL_MM,
    }


def margin(side: str, look: Look) -> float:
    """What LilyPond is told: the first letter hangs lower than the margin by its own shape."""
    found = re.search(rf"{side}-margin = (\d+)\\mm", preamble(look))
    assert found is not None
    return float(found[1])


def starting(page: PageInk, letters: str) -> Ink:
    return next(it for it in page.words if it.name.startswith(letters))


def beside(page: PageInk, label: str) -> Ink:
    """The first word at the right of the *label* of a row, on its line."""
    place = min((it for it in page.words if it.name == label), key=lambda it: it.left)
    level = [it for it in page.words if abs(it.low - place.low) < 4 and it.left > place.right]
    return min(level, key=lambda it: it.left)


def under(page: PageInk, label: str) -> Ink:
    """The nearest word under *label*, from the same left edge."""
    place = starting(page, label)
    below = [it for it in page.words if it.high < place.low and abs(it.left - place.left) < 4]
    return max(below, key=lambda it: it.high)


@pytest.mark.parametrize("look", LOOKS)
def test_the_page_on_print_tells_the_sizes_of_finished_sheets(look: str) -> None:
    column = list(LOOKS).index(look)
    found = measured(look)
    assert set(told()) == set(found)
    for what, numbers in told().items():
        places = len(numbers[column].partition(".")[2])
        assert numbers[column] == f"{found[what]:.{places}f}", what


def test_text_is_at_least_what_clear_print_asks_or_the_page_says_why() -> None:
    """Clear print asks for 12 points (UKAAF G003); what is smaller by a point has a reason."""
    reasons = PAGE.read_text("utf-8").split("## Where ours differ", 1)[1].lower()
    small = [what for what, (usual, _) in told().items() if "pt" in what and float(usual) < 11]
    for what in small:
        name = what.split(",", 1)[0].split(" ", 1)[0]
        assert name in reasons, what
