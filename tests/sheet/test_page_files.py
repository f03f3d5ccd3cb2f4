"""What a program that opens a page is told of it: its paper, its language, its resolution.

pypdf and pypdfium2 read the PDF, Pillow the PNG.  Paper: ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import io
from functools import cache

import pypdf
import pypdfium2
import pytest
from PIL import Image

from reedmill.harp import Harp, Reed
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import Look
from reedmill.sheet.page import pages
from reedmill.sheet.page_files import finished_pdf, finished_png
from reedmill.sheet.role_chart import role_chart
from tunes import score_from

# In points of 1/72 inch: 210 by 297 mm, and 8.5 by 11 inches.
PAPERS = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (612.0, 792.0)}
TITLE = "Größe (and \\ brackets)"


@cache
def drawn(paper: str) -> tuple[bytes, list[bytes]]:
    """A drill of several pages as a PDF and as pictures."""
    score = score_from("-2 -3' -3:1/2 4:1/2 -4 " * 40, title=TITLE)
    with Engraver(png=True) as engraver:
        engraver.feed(pages([score], Look(paper)))
        [pdf], [pngs] = engraver.sheets(1), engraver.pictures(1, "png")
    return pdf, pngs


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_has_the_exact_size_of_its_paper(paper: str) -> None:
    pdf, _ = drawn(paper)
    found = pypdf.PdfReader(io.BytesIO(pdf), strict=True).pages
    assert len(found) > 1
    for page in found:
        sides = float(page.mediabox.width), float(page.mediabox.height)
        assert sides == pytest.approx(PAPERS[paper], abs=0.005)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_pdf_names_its_language_and_shows_its_title(paper: str) -> None:
    """ISO 32000-1, 14.9.2 and 12.2: what a screen reader asks for, and the window's name."""
    reader = pypdf.PdfReader(io.BytesIO(drawn(paper)[0]), strict=True)
    assert reader.metadata is not None
    assert reader.metadata.title == TITLE
    assert str(reader.root_object["/Lang"]) == "en"
    preferences = reader.root_object["/ViewerPreferences"].get_object()
    assert str(preferences["/DisplayDocTitle"]) == "True"  # type: ignore[index]


def test_every_object_is_where_the_table_says() -> None:
    """Strict pypdf reads each by its offset; PDFium draws what it drew before."""
    pdf, _ = drawn("a4")
    reader = pypdf.PdfReader(io.BytesIO(pdf), strict=True)
    for number in range(1, int(str(reader.trailer["/Size"]))):
        assert reader.get_object(number) is not None
    assert len(pypdfium2.PdfDocument(pdf)) == len(reader.pages)
    assert finished_pdf(pdf) == pdf  # once is enough


def test_what_is_no_pdf_of_this_form_is_left_alone() -> None:
    for content in (b"", b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\n", b"xref\n0 1\n"):
        assert finished_pdf(content) == content


def test_a_role_chart_has_all_this_too() -> None:
    with Engraver() as engraver:
        engraver.feed(role_chart(Harp("Bb"), [Reed.parse("-3'")], Look()))
        [pdf] = engraver.sheets(1)
    reader = pypdf.PdfReader(io.BytesIO(pdf), strict=True)
    assert str(reader.root_object["/Lang"]) == "en"
    assert float(reader.pages[0].mediabox.right) == pytest.approx(PAPERS["a4"][0], abs=0.005)
    lines = [line.strip() for line in reader.pages[0].extract_text().splitlines() if line.strip()]
    assert any("Roles on the" in line for line in lines)  # its foot, as sheets have one
    assert any(line.startswith("Rest lips and jaw") for line in lines)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_picture_says_how_large_it_is(paper: str) -> None:
    """As Pillow reads it, in dots an inch: the picture has the size of the paper."""
    for png in drawn(paper)[1]:
        picture = Image.open(io.BytesIO(png))
        picture.load()
        across, down = picture.info["dpi"]
        assert (across, down) == pytest.approx((150, 150), abs=0.02)
        size = [side / 150 * 72 for side in picture.size]
        assert size == pytest.approx(list(PAPERS[paper]), abs=1)
        assert finished_png(png, 150) == png
