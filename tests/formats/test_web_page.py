"""The page of a drill in HTML: all that the sheet has, in the order in which it is read.

lxml reads the page, Chromium shows it, and axe-core (Deque Systems, by the rules of WCAG 2.1)
judges it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import lxml.html
import pytest

from browsers import AXE
from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.expand import expand
from reedmill.formats.web_page import html_bytes
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from tunes import score_from

if TYPE_CHECKING:
    from playwright.sync_api import Browser

CALL = """
drill "Call & <b>answer</b>"
  about "\\"Quoted\\" <script>alert(1)</script>"
  listen "Both."
  tempo 60
  pickup 1
  embouchure anchors tongue left, rungs lips
  anchor -2
  section "Call"
  play -4 | -2:2 -3'!:2
  echo
  section "Home"
  play -2:4
"""


def call() -> Score:
    return expand(parse(CALL)[0], Harp("Bb"), Position(2))


def read(score: Score) -> Any:
    return lxml.html.document_fromstring(html_bytes(score).decode())


def rows(page: Any) -> list[list[str]]:
    return [[cell.text_content() for cell in row] for row in page.iter("tr")]


def test_every_bar_is_a_row_with_tab_notes_and_degrees() -> None:
    """Counted by hand: on a Bb harp draw 4 is C, draw 2 F, draw 3 bent once Ab."""
    assert rows(read(call())) == [
        ["Bar", "Tab", "Notes", "Degrees"],
        ["Call"],
        ["0", "-4", "C5", "5"],
        ["1", "-2:2 -3'!:2", "F4 A\u266d4", "1 \u266d3"],
        ["2", "r:4", "", ""],
        ["3", "r:4", "", ""],
        ["Home"],
        ["4", "-2:4", "F4", "1"],
    ]


def test_over_a_band_every_bar_has_its_chords() -> None:
    drill = expand(parse('drill "D"\n  play (-2:4)x8')[0], Harp("Eb"), Position(2))
    page = read(accompanied(drill, Accompaniment("Eight bars", "Rumba", "loop", 1, 0)))
    found = [row[1] for row in rows(page)[1:]]
    assert found == ["B♭7", "F7", "E♭7", "E♭7", "B♭7", "F7", "B♭7 E♭7", "B♭7"]


def test_a_page_has_its_title_its_language_and_nothing_that_runs_or_loads() -> None:
    page = read(call())
    assert page.get("lang") == "en"
    assert page.findtext(".//title") == page.findtext(".//h1") == "Call & <b>answer</b>"
    assert '"Quoted" <script>alert(1)</script>' in page.text_content()
    tags = {each.tag for each in page.iter()}
    assert not tags & {"script", "img", "link", "iframe", "object", "form", "a", "b"}
    names = {name for each in page.iter() for name in each.attrib}
    assert not {name for name in names if name.startswith("on")} | (names & {"src", "href"})


def test_it_says_what_stands_over_single_notes_and_where_notes_are() -> None:
    items = [each.text for each in read(call()).iter("li")]
    assert "bar 2 beat 1: your turn, 5 beats" in items
    assert "-3': A\u266d4, degree \u266d3" in items


@pytest.mark.parametrize("score", [call(), score_from("-2 -3:1/2 r:1/2 4", title="שיר")])
def test_axe_finds_nothing_that_keeps_anybody_out(browser: Browser, score: Score) -> None:
    page = browser.new_page(bypass_csp=True)
    page.set_content(html_bytes(score).decode())
    page.evaluate(AXE)
    found = page.evaluate("axe.run()")
    page.close()
    assert [each["id"] for each in found["violations"]] == []
    assert found["passes"]


def test_equal_scores_give_equal_bytes() -> None:
    assert html_bytes(call()) == html_bytes(call())
