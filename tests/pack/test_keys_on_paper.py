"""Keys and harps are read with the real signs of music wherever a page or a screen says them.

Standard practice of engraving: U+266D and U+266F of Unicode's Miscellaneous Symbols (or the signs
of the music font), never a letter b or a number sign.  File names keep plain letters.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pypdfium2
import pytest

from reedmill.band.arranger import arrange
from reedmill.band.shelf import find_feel, find_form
from reedmill.base.text import file_slug, printable
from reedmill.expand import expand
from reedmill.formats.musicxml import musicxml_bytes
from reedmill.formats.web_page import html_bytes
from reedmill.harp import Harp, Reed
from reedmill.library import find_drills
from reedmill.pack.pages.chapter import Chapter, Exercise, Front
from reedmill.pack.pages.contents import ContentsLine, contents_body
from reedmill.pack.pages.cover import cover_body
from reedmill.pack.pages.lesson_pages import lesson_body, source
from reedmill.pack.pages.practice_log import log_body
from reedmill.score.footprints import Footprint, Footprints
from reedmill.score.score import Score
from reedmill.score.verdicts import Tolerance
from reedmill.sheet.chord_chart import chord_chart
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.heard_picture import picture
from reedmill.sheet.look import Look
from reedmill.sheet.page import pages
from reedmill.sheet.role_chart import role_chart
from reedmill.theory.positions import Position

PLAIN_KEY = re.compile(r"(?<![\w'-])[A-G][b#]+(?![\w'#])")
SIGNED = {"Db": "D\u266d", "low F#": "low F\u266f", "C": "C"}
LOOK = Look()


def score_on(harp: str, title: str = "Home from every rung") -> Score:
    return expand(find_drills(title)[0], Harp.parse(harp), Position(2))


def exercise_on(harp: str) -> Exercise:
    key = Harp.parse(harp).key_words(Position(2))
    return Exercise("a", "Home from every rung", harp, 2, key, 56, 84, number="1.1")


def chart_on(harp: str) -> str:
    key = Position(2).key(Harp.parse(harp).fifths)
    band = arrange(find_form("Twelve bars"), find_feel("Medium shuffle"), key, choruses=2)
    return chord_chart(band, Harp.parse(harp), Position(2), LOOK)


def taken_on(harp: str) -> str:
    score = score_on(harp)
    tries = tuple(
        Footprint(n, Tolerance().verdict(1.0), 1.0 + n, 1.9 + n, 1.0)
        for n in range(len(score.notes))
    )
    return picture(score, Footprints(printable("monday.m4a"), tries, 1, Tolerance()))


def bound(body: str) -> str:
    return source([body], LOOK)


def chapter_on(harp: str) -> Chapter:
    return Chapter(1, "Lean on it", "", "", (exercise_on(harp),))


PAGES: dict[str, Callable[[str], str]] = {
    "sheet": lambda harp: pages([score_on(harp)]),
    "sheet of several pages": lambda harp: pages([score_on(harp, "Answer in one bar")]),
    "chord chart": chart_on,
    "role chart": lambda harp: role_chart(Harp.parse(harp), [Reed.parse("-3'")], LOOK),
    "picture of a take": taken_on,
    "cover": lambda harp: bound(cover_body(Front("x", "", "", "", (harp, "C"), 8), LOOK)),
    "lesson": lambda harp: bound(lesson_body("x", chapter_on(harp), LOOK)),
    "log": lambda harp: bound(log_body(chapter_on(harp), LOOK)),
    "contents": lambda harp: bound(
        contents_body(
            [ContentsLine("x", 2), ContentsLine("y", 3, "1.1", f"{harp} harp, 2nd", deep=True)],
            LOOK,
        )
    ),
}
IN_SMALL_PRINT = ("sheet", "sheet of several pages", "chord chart", "role chart", "contents")


def printed(source: str) -> list[str]:
    with Engraver() as engraver:
        engraver.feed(source)
        [pdf] = engraver.sheets(1)
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_range() for page in document]


@pytest.mark.parametrize("harp", ["Db", "low F#"])
@pytest.mark.parametrize("kind", PAGES)
def test_no_page_says_a_key_with_plain_letters(kind: str, harp: str) -> None:
    for page in printed(PAGES[kind](harp)):
        assert not PLAIN_KEY.findall(page)
        if kind in IN_SMALL_PRINT:
            assert f"{SIGNED[harp]} harp, 2nd" in "".join(page.splitlines())


def test_a_harp_without_a_sign_stays_as_it_is() -> None:
    [page] = printed(PAGES["sheet"]("C"))
    assert "C harp, 2nd position" in page


@pytest.mark.parametrize("harp", ["Db", "low F#"])
@pytest.mark.parametrize("made", [html_bytes, musicxml_bytes])
def test_a_sheet_on_the_screen_and_one_for_other_programs_say_it_so_too(
    made: Callable[[Score], bytes], harp: str
) -> None:
    text = made(score_on(harp)).decode()
    shown = re.sub(r"<(miscellaneous|creator|style)\b.*?</\1>", "", text, flags=re.DOTALL)
    assert f"{SIGNED[harp]} harp" in shown
    assert not PLAIN_KEY.findall(re.sub(r"<[^>]*>", " ", shown))


def test_words_about_an_exercise_have_signs_and_file_names_plain_letters() -> None:
    assert exercise_on("low F#").where == "low F\u266f harp, 2nd position"
    assert file_slug("low Db") == "low-db"
