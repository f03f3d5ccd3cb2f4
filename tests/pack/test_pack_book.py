"""A book of many sheets: what PDF readers find in it (pypdf and PDFium).

"ISO 32000-1" is the standard of PDF 1.7 (2008): 12.3.2.2 destinations, 12.3.3 outline,
12.4.2 page labels, 14.4 file identifiers.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest

import reedmill
from reedmill.pack.pages.book import Book, BookSection, join
from reedmill.pack.pages.lesson_pages import cautions_body, engraved
from small_pack import LOOK, SmallPack, small_pack

MM = 72 / 25.4  # points


@cache
def joined() -> bytes:
    return pack().read("course.pdf")


def pack() -> SmallPack:
    return small_pack()


@cache
def reader() -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(joined()), strict=True)


@cache
def pdfium() -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(joined())


def text_in(page: int, left: float, bottom: float, right: float, top: float) -> str:
    """What PDFium reads in a part of a page (index from 0), in points from its lower left."""
    found = pdfium()[page].get_textpage().get_text_bounded(left, bottom, right, top)
    return " ".join(str(found).split())


def contents_links() -> list[tuple[str, int]]:
    """The text of each line of the contents, and the index of the page it leads to."""
    [page] = [n for n, each in enumerate(reader().pages) if "/Annots" in each]
    found = []
    annotations: Any = reader().pages[page]["/Annots"]
    for annotation in annotations:
        link = annotation.get_object()
        assert link["/Subtype"] == "/Link"
        target = link["/Dest"][0].get_object()
        index = next(n for n, each in enumerate(reader().pages) if each.get_object() == target)
        found.append((text_in(page, *map(float, link["/Rect"])), index))
    return found


def test_each_line_of_the_contents_names_the_page_it_leads_to() -> None:
    links = contents_links()
    listed = pack().book.sections[1:]  # all but the cover
    assert len(links) == len(listed)
    for (line, index), section in zip(links, listed, strict=True):
        assert line.startswith(f"{section.label} {section.title}".strip())
        assert section.detail in line
        assert int(line.split()[-1]) == index + 1
        assert section.title in reader().pages[index].extract_text()


def test_a_section_of_two_pages_moves_what_follows_it_by_two() -> None:
    sheets = [index for line, index in contents_links() if "Answer in one bar" in line]
    log = [index for line, index in contents_links() if line.startswith("Practice log")][-1]
    assert [log] == [sheets[0] + 2]


def test_every_page_but_the_cover_bears_its_number() -> None:
    width, height = map(float, reader().pages[0].mediabox[2:])
    outside = [(width - 30 * MM, width), (0, 30 * MM)]  # of a right page and of a left one
    numbers = [
        text_in(n, outside[n % 2][0], height - 13 * MM, outside[n % 2][1], height)
        for n in range(len(pdfium()))
    ]
    assert numbers[0] == ""
    assert [number.split()[0] for number in numbers[1:]] == [
        str(n) for n in range(2, len(pdfium()) + 1)
    ]


def test_heads_name_the_course_and_the_lesson() -> None:
    width, height = map(float, reader().pages[0].mediabox[2:])
    heads = [text_in(n, 0, height - 13 * MM, width, height) for n in range(len(pdfium()))]
    assert heads[:4] == [
        "", "2 Bends as places", "Bends as places · Take care of yourself 3",
        "4 Bends as places · Come home",
    ]  # fmt: skip
    last = len(pdfium())
    assert heads[-1].replace(str(last), "").strip() == "Bends as places · Two bars"


def test_pages_keep_off_the_binding() -> None:
    """For two sides: the text of a right page is moved to the right, of a left one to the left."""
    shift = 4 * MM
    for index, section in starts(pack().book):
        if index:
            own = ink_of(section.pdf, 0)
            bound = ink_of(joined(), index)
            assert bound - own == pytest.approx(shift if index % 2 == 0 else -shift, abs=0.1)


def ink_of(pdf: bytes, page: int) -> float:
    """The left end of the first large letter, which no head has."""
    text = pypdfium2.PdfDocument(pdf)[page].get_textpage()
    boxes = [text.get_charbox(at) for at in range(text.count_chars())]
    return float(next(left for left, low, _, high in boxes if high - low > 8))


def test_an_exercise_of_two_pages_lies_open_at_once() -> None:
    """A left page has an even number; before it a page to write on fills what is left."""
    two = [
        index
        for index, section in starts(pack().book)
        if section.deep and len(pypdf.PdfReader(io.BytesIO(section.pdf)).pages) == 2
    ]
    assert two
    for index in two:
        assert (index + 1) % 2 == 0
        before = pdfium()[index - 1].get_textpage().get_text_range()
        assert index - 1 in dict(starts(pack().book)) or "what I heard" in before


def test_a_head_lies_in_the_margin_that_a_sheet_leaves_free() -> None:
    """Under it every letter of a page stands as before, but for the way off the binding."""
    of = dict(starts(pack().book))
    for index in sorted(of)[2:]:
        shift = 4 * MM if index % 2 == 0 else -4 * MM
        before = [(name, x + shift, y) for name, x, y in letters(of[index].pdf, 0)]
        after = letters(joined(), index)
        strip = 842 - 13 * MM
        assert all(y < strip for _, _, y in before)
        head = [(x, y) for _, x, y in after if y >= strip]
        assert head
        assert all(11 * MM < x < 199 * MM and y < 842 - 5 * MM for x, y in head)
        under = [each for each in after if each[2] < strip]
        assert [name for name, _, _ in under] == [name for name, _, _ in before]
        for (_, x, y), (_, own_x, own_y) in zip(under, before, strict=True):
            assert (x, y) == pytest.approx((own_x, own_y), abs=0.1)


def letters(pdf: bytes, page: int) -> list[tuple[str, float, float]]:
    """Every letter and sign of a page that is drawn, with its left end and foot, in points."""
    text = pypdfium2.PdfDocument(pdf)[page].get_textpage()
    found = []
    for at in range(text.count_chars()):
        left, low, right, _ = text.get_charbox(at)
        if right > left and text.get_text_range(at, 1).strip():
            found.append((text.get_text_range(at, 1), left, low))
    return found


def starts(book: Book) -> Iterator[tuple[int, BookSection]]:
    """The index of the first page of each section; a page of contents follows the cover."""
    at = 0
    for n, section in enumerate(book.sections):
        pages = len(pypdf.PdfReader(io.BytesIO(section.pdf)).pages)
        at += section.deep and pages == 2 and at % 2 == 0  # a page for notes before it
        yield at, section
        at += pages + (n == 0)


def outline(items: list[Any], depth: int = 0) -> list[tuple[int, str, int]]:
    found: list[tuple[int, str, int]] = []
    for item in items:
        if isinstance(item, list):
            found += outline(item, depth + 1)
        else:
            page = reader().get_destination_page_number(item)
            assert page is not None
            found.append((depth, item.title, page))
    return found


def test_bookmarks_lead_to_every_section_in_its_lesson() -> None:
    expected = [(int(section.deep), section.title, index) for index, section in starts(pack().book)]
    expected.insert(1, (0, "Contents", 1))
    found = [
        (depth, re.sub(r"^\d+ |, .*", "", title), page)
        for depth, title, page in outline(reader().outline)
    ]
    assert found == expected


def test_page_labels_are_the_printed_numbers() -> None:
    count = len(reader().pages)
    assert reader().page_labels == ["Cover", *map(str, range(2, count + 1))]
    assert pdfium().get_page_label(4) == "5"


def test_facts_of_the_file_are_those_of_the_course() -> None:
    facts = pdfium().get_metadata_dict()
    assert facts["Title"] == "Bends as places"
    assert facts["Author"] == "Mara Holt"
    assert facts["Subject"] == "From the first bend to a phrase that sits."
    assert facts["CreationDate"] == facts["ModDate"] == "D:20200101000000Z"
    root: Any = reader().trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]


def test_every_font_is_still_embedded_and_a_subset() -> None:
    fonts = [each for each in objects(reader()) if each.get("/Type") == "/FontDescriptor"]
    assert len(fonts) > 10
    for font in fonts:
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(font)
        assert re.match(r"/[A-Z]{6}\+", font["/FontName"])  # ISO 32000-1, 9.6.4: a subset's tag


def objects(pdf: pypdf.PdfReader) -> Iterator[Any]:
    for number in pdf.xref[0]:
        found = pdf.get_object(number)
        if isinstance(found, dict):
            yield found


def test_nothing_is_left_of_what_the_book_was_made_with() -> None:
    for each in objects(reader()):
        assert "/StructParent" not in each
        assert "/StructParents" not in each
        assert each.get("/S") not in ("/URI", "/JavaScript", "/Launch")


def test_what_is_alike_is_kept_once() -> None:
    """The same sheet ten times, from different files, is hardly longer than once."""
    sheet = pack().book.sections[3]
    once = len(join(replace(pack().lesson_books[0], sections=(sheet,))))
    copies = tuple(replace(sheet, pdf=sheet.pdf + b"\n%%%d" % n) for n in range(10))
    many = len(join(replace(pack().lesson_books[0], sections=copies)))
    assert many < 1.5 * once


def test_the_book_is_smaller_than_its_parts() -> None:
    assert len(joined()) < sum(len(section.pdf) for section in pack().book.sections)


def test_equal_books_are_equal_bytes_and_others_have_another_id() -> None:
    book = pack().lesson_books[1]
    assert join(book) == pack().read("lesson-2.pdf")
    other = join(replace(book, author="Someone Else"))
    ids = [pypdf.PdfReader(io.BytesIO(pdf)).trailer["/ID"] for pdf in (join(book), other)]
    assert ids[0] != ids[1]


def test_another_process_makes_the_same_bytes(tmp_path: Path) -> None:
    """Python shuffles sets anew in each process."""
    [page] = engraved([cautions_body(LOOK)], LOOK)
    (tmp_path / "page.pdf").write_bytes(page)
    program = (
        "import sys, pathlib\n"
        "from reedmill.pack.pages.book import Book, BookSection, join\n"
        f"page = pathlib.Path({str(tmp_path / 'page.pdf')!r}).read_bytes()\n"
        "book = Book('A', (BookSection('A', page), BookSection('B', page)), contents=True)\n"
        "sys.stdout.buffer.write(join(book))\n"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", program], env={"PYTHONHASHSEED": seed, "PYTHONPATH": path()},
            capture_output=True, check=True, timeout=120,
        ).stdout
        for seed in ("1", "2")
    ]  # fmt: skip
    assert runs[0] == runs[1]
    assert len(pypdf.PdfReader(io.BytesIO(runs[0])).pages) == 3


def path() -> str:
    return str(Path(reedmill.__file__).parents[1])


def test_a_lesson_is_a_book_of_its_own_from_page_1() -> None:
    lesson = pypdf.PdfReader(io.BytesIO(pack().read("lesson-1.pdf")), strict=True)
    assert lesson.page_labels == [str(n) for n in range(1, len(lesson.pages) + 1)]
    titles = [item.title for item in lesson.outline if not isinstance(item, list)]
    assert titles == ["1 Come home"]
    assert "Bends as places · Come home" in lesson.pages[1].extract_text()


@pytest.mark.parametrize("cover", [False, True])
def test_contents_of_many_pages_count_themselves(cover: bool) -> None:
    [page] = engraved([cautions_body(LOOK)], LOOK)
    sections = tuple(BookSection(f"Part {n}", page, str(n), deep=n % 5 > 0) for n in range(120))
    book = Book("Many", sections, contents=True, cover=cover)
    pdf = pypdf.PdfReader(io.BytesIO(join(book)))
    found: dict[int, int] = {}
    for each in pdf.pages:
        for annotation in each.get("/Annots", []):
            target = annotation.get_object()["/Dest"][0].get_object()
            found[len(found)] = next(n for n, p in enumerate(pdf.pages) if p.get_object() == target)
    pages_of_contents = len(pdf.pages) - len(sections)
    assert pages_of_contents >= 3
    assert list(found.values()) == [pages_of_contents + n for n in range(int(cover), 120)]
    printed = "".join(p.extract_text() for p in pdf.pages if "/Annots" in p)
    assert re.search(rf"Part 119 {pages_of_contents + 120}\b", printed)
