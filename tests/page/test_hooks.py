"""What other programs may rely on: docs/PAGE_HOOKS.md and the page name the same hooks."""

from __future__ import annotations

import re
from pathlib import Path

import reedmill
from reedmill.page.practice_page import PageBand, practice_page, practice_pages
from tunes import score_from

PACKAGE = Path(reedmill.__file__).parent
SOURCES = PACKAGE.parent / "page" / "src"
DOCUMENT = (PACKAGE.parents[1] / "docs" / "PAGE_HOOKS.md").read_text("utf-8")


def rows(heading: str) -> list[list[str]]:
    """The cells of the table under *heading*, without the signs of code."""
    part = DOCUMENT.partition(f"## {heading}\n")[2].partition("\n## ")[0]
    lines = [line for line in part.splitlines() if line.startswith("| `")]
    return [[cell.strip(" `") for cell in line.strip("|").split(" | ")] for line in lines]


def test_every_control_is_documented_and_every_documented_one_is_there() -> None:
    band = PageBand(".backing.ogg", first_s=0.0, tempo=80, tones=False)
    [made] = practice_pages([score_from("-2 -3 -2 -3'", tempo=80)], bands=[band])
    page = made.decode()
    body = page.partition("<body>")[2].partition("<script")[0]
    found = set(re.findall(r'(data-does|data-sets)="([^"]*)"', body))
    told = {(attribute, value) for attribute, value, _ in rows("Controls")}
    assert told - {("data-note", "0, 1, 2...")} == found
    assert 'data-note="0"' in body


def test_every_event_is_documented_and_every_documented_one_is_told() -> None:
    program = "".join(path.read_text("utf-8") for path in SOURCES.rglob("*.js"))
    assert {name for name, *_ in rows("Events")} == set(
        re.findall(r"new CustomEvent\('([^']+)'", program)
    )


def test_the_block_of_the_score_is_where_the_document_says() -> None:
    page = practice_page(score_from("-2 -3", tempo=80)).decode()
    assert '<script type="application/json" id="reedmill-timeline">' in page
    assert 'id="reedmill-timeline">` has the notes' in DOCUMENT
