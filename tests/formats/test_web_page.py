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


def without(page: Any, hidden: str) -> Any:
    """*page* without what matches the XPath *hidden*."""
    left = lxml.html.document_fromstring(lxml.html.tostring(page, encoding="unicode"))
    for each in left.xpath(hidden):
        each.drop_tree()
    return left


def seen(page: Any) -> Any:
    return without(page, "//*[@class='said']")


def heard(page: Any) -> Any:
    """What a screen reader reads: WAI-ARIA 1.2 (W3C), 6.6, leaves out what is aria-hidden."""
    return without(page, "//*[@aria-hidden='true']")


def rows(page: Any) -> list[list[str]]:
    return [[cell.text_content().strip() for cell in row] for row in page.iter("tr")]


def items(page: Any) -> list[str]:
    return [each.text_content().strip() for each in page.iter("li")]


def test_every_bar_is_a_row_with_tab_notes_and_degrees() -> None:
    """Counted by hand: on a Bb harp draw 4 is C, draw 2 F, draw 3 bent once Ab."""
    assert rows(seen(read(call()))) == [
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
    found = [row[1] for row in rows(seen(page))[1:]]
    assert found == ["B♭7", "F7", "E♭7", "E♭7", "B♭7", "F7", "B♭7 E♭7", "B♭7"]
    assert rows(heard(page))[7][1] == "B flat 7, E flat 7"


def test_a_screen_reader_is_told_every_sign_in_words() -> None:
    """It leaves out ticks, colons and commas as punctuation, and a minus is a hyphen to it."""
    page = heard(read(call()))
    assert rows(page) == [
        ["Bar", "Tab", "Notes", "Degrees"],
        ["Call"],
        ["0", "draw 4", "C5", "5"],
        ["1", "draw 2 for 2 beats; draw 3 bent a semitone for 2 beats, accented", "F4, A flat 4",
         "1, flat 3"],
        ["2", "rest for 4 beats", "", ""],
        ["3", "rest for 4 beats", "", ""],
        ["Home"],
        ["4", "draw 2 for 4 beats", "F4", "1"],
    ]  # fmt: skip
    assert "draw 3 bent a semitone: A flat 4, degree flat 3" in items(page)
    assert {
        "apostrophe: a semitone of bend",
        "comma, out: breathe out",
        "comma, in: breathe in",
        "minus 3 draw",
    } <= set(items(page))
    assert next(page.iter("dd")).text_content().strip() == "B flat harp"


def test_every_way_to_play_a_note_has_words() -> None:
    drill = """drill "D"\n  play -3''~-3':1/2 -3:3/2 r | 6^:4 | -2:6 r:2 | 10'':4\n"""
    tab = [row[1] for row in rows(heard(read(expand(parse(drill)[0], Harp("C"), Position(2)))))]
    assert tab[1:] == [
        "draw 3 bent two semitones; slide to draw 3 bent a semitone for half a beat; "
        "draw 3 for 1 and a half beats; rest",
        "overblow 6 for 4 beats",
        "draw 2 for 4 beats",
        "draw 2 goes on for 2 beats; rest for 2 beats",
        "blow 10 bent two semitones for 4 beats",
    ]


def test_a_breath_is_said_with_its_way_after_the_note_it_is_taken_from() -> None:
    """Eight seconds at 60 are the most: out after the second bar, a beat of it as a rest."""
    for music, tab, words in (
        ("-2:4 -3:4 -2:4", "-3:3 ,out r", "draw 3 for 3 beats; breathe out; rest"),
        ("2:4 3:4 2:4", "3:3 ,in r", "blow 3 for 3 beats; breathe in; rest"),
    ):
        page = read(expand(parse(f'drill "D"\n  play {music}')[0], Harp("C"), Position(2)))
        assert rows(seen(page))[2][1] == tab
        assert rows(heard(page))[2][1] == words


def test_no_sign_of_tab_or_music_is_left_to_be_heard() -> None:
    signs = """drill "D"\n  play -3'' -3'~-3 6^ r:1/2 -2!:3/2 10''\n"""
    for score in (call(), expand(parse(signs)[0], Harp("F#"), Position(2))):
        table = heard(read(score)).find(".//table").text_content()
        assert not set("'^!~:-\u266d\u266f") & set(table)


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
    told = items(seen(read(call())))
    assert "bar 2 beat 1: your turn, 5 beats" in told
    assert "-3': A\u266d4, degree \u266d3" in told


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
