"""An SVG shown by a browser that has none of LilyPond's fonts, and what is in it.

fontTools reads the faces inside; Chromium, through playwright, lays the texts out.
"""

from __future__ import annotations

import base64
import io
import re
from functools import cache
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from fontTools.ttLib import TTFont

from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import Look
from reedmill.sheet.page import pages
from tunes import score_from

if TYPE_CHECKING:
    from playwright.sync_api import Browser

TITLE = "Größe & <b> ]]> from every rung"
SVG = "{http://www.w3.org/2000/svg}"
FACE = re.compile(r"@font-face \{ font-family: '([\w-]+)'; font-weight: (\w+); .*?base64,([^)]+)\)")


@cache
def page() -> bytes:
    score = score_from("-2 -3' -3:1/2 4:1/2 -4", title=TITLE, about="Lean, and come home.")
    with Engraver(svg=True) as engraver:
        engraver.feed(pages([score], Look(), ids=True))
        [[svg]] = engraver.pictures(1, "svg")
    return svg


def faces() -> dict[tuple[str, str], TTFont]:
    """By family and weight."""
    return {
        (family, weight): TTFont(io.BytesIO(base64.b64decode(data)))
        for family, weight, data in FACE.findall(page().decode())
    }


def test_every_letter_of_the_page_is_in_the_face_that_draws_it() -> None:
    found = faces()
    drawn = 0
    for text in ET.fromstring(page()).iter(f"{SVG}text"):  # noqa: S314  our own file
        family = text.attrib["font-family"].split(",")[0].strip("'")
        weight = text.attrib.get("font-weight", "normal")
        letters = set("".join(text.itertext())) - set("\n")
        assert letters <= set(map(chr, found[family, weight].getBestCmap())), letters
        drawn += len(letters)
    assert drawn > 200


def test_a_face_has_no_letters_but_those_of_the_page_and_says_under_which_licence() -> None:
    said = set("".join(ET.fromstring(page()).itertext())) | {"["}  # noqa: S314
    # the mirror of "]", which right-to-left text would need (Unicode Annex 9)
    for font in faces().values():
        assert set(map(chr, font.getBestCmap())) <= said
        assert font.flavor == "woff"
    assert len(page()) < 250_000


def test_a_page_has_its_title_and_its_language() -> None:
    root = ET.fromstring(page())  # noqa: S314
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == TITLE
    assert root.attrib["{http://www.w3.org/XML/1998/namespace}lang"] == "en"


def test_a_browser_lays_every_word_out_with_the_faces_of_the_file(browser: Browser) -> None:
    """Each is as wide as its face makes it, but for kerning: other faces are a tenth wider."""
    opened = browser.new_page()
    opened.set_content(page().decode())
    opened.evaluate("document.fonts.ready")
    found = faces()
    measured = opened.evaluate(
        """() => [...document.querySelectorAll("svg text")].map((text) => ({
          words: text.textContent.trim(), width: text.getComputedTextLength(),
          size: parseFloat(text.getAttribute("font-size")),
          family: text.getAttribute("font-family").split(",")[0].replaceAll("'", ""),
          weight: text.getAttribute("font-weight") || "normal",
        }))"""
    )
    off = []
    for each in measured:
        font = found[each["family"], each["weight"]]
        names, widths = font.getBestCmap(), font["hmtx"]
        units = sum(widths[names[ord(letter)]][0] for letter in each["words"])
        wide = units / font["head"].unitsPerEm * each["size"]
        off.append(abs(each["width"] - wide) > 0.03 * wide + 0.05)
    assert len(off) > 50
    assert sum(off) <= len(off) / 50
