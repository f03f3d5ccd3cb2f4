"""The looks of a sheet: colours people can tell apart, papers, sizes of print, and pictures.

Colours are judged by published formulas, finished pages by programs that know nothing of
ours: PDFium (through pypdfium2), pypdf, Pillow and the XML parser of Python.
"""

from __future__ import annotations

import ctypes
import io
import re
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pypdfium2
import pytest
from PIL import Image
from pypdf.generic import ContentStream
from pypdfium2 import raw

from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.harp import Harp, Reed
from reedmill.language import parse
from reedmill.library import find_drills
from reedmill.make.material import make
from reedmill.score.score import Score
from reedmill.sheet import letters
from reedmill.sheet.blocks import ladder_tempos
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import BLACK, COLOURS, Colour, Look, look_named
from reedmill.sheet.page import pages
from reedmill.sheet.role_chart import role_chart
from reedmill.theory.positions import Position
from tunes import score_from

# --- colours ---------------------------------------------------------------------------


def luminance(colour: Colour) -> float:
    """Relative luminance (WCAG 2.1, W3C Recommendation 2018, definition)."""
    red, green, blue = (linear(part) for part in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def linear(part: float) -> float:
    return part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4


def contrast(one: Colour, two: Colour) -> float:
    """Contrast ratio (WCAG 2.1, definition), 1 to 21."""
    dark, light = sorted((luminance(one), luminance(two)))
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_published_extremes() -> None:
    """WCAG 2.1: black on white is 21 to 1; 767676 is the lightest grey at 4.5 (from memory)."""
    assert contrast((0, 0, 0), (1, 1, 1)) == pytest.approx(21)
    grey, lighter = 0x76 / 255, 0x77 / 255
    assert contrast((grey,) * 3, (1, 1, 1)) > 4.5 > contrast((lighter,) * 3, (1, 1, 1))


def test_text_is_as_dark_as_wcag_asks_and_as_the_module_says() -> None:
    """WCAG 2.1: 4.5 to 1 for text (1.4.3), 7 to 1 for its highest level (1.4.6)."""
    against_paper = {name: contrast(each, COLOURS["paper"]) for name, each in COLOURS.items()}
    assert against_paper["ink"] > 7
    assert against_paper["accent"] > 7
    assert against_paper["faint"] > 4.5
    assert against_paper["hairline"] > 3  # frames and lines to write on (1.4.11)
    said = dict(re.findall(r"(ink|accent|hairline|faint\s+text) ([\d.]+) to 1", look_doc()))
    stated = {name.split()[0]: float(ratio) for name, ratio in said.items()}
    names = ("ink", "accent", "faint", "hairline")
    assert stated == {name: round(against_paper[name], 1) for name in names}


def look_doc() -> str:
    from reedmill.sheet import look

    assert look.__doc__
    return look.__doc__


def luma(colour: Colour) -> float:
    """What a grey printer makes of it, 0 to 1 (ITU-R BT.601)."""
    red, green, blue = colour
    return 0.299 * red + 0.587 * green + 0.114 * blue


def test_a_grey_printer_keeps_accent_hairline_and_paper_apart() -> None:
    """A fourth of the way from black to white lies between any two."""
    greys = [luma(COLOURS[name]) for name in ("accent", "hairline", "paper")]
    assert all(two - one > 0.25 for one, two in combinations(greys, 2))


# Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency" (2009), severity 1.0; from memory.  They act on linear red, green and blue.
BLINDNESS = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


@pytest.mark.parametrize("kind", BLINDNESS)
def test_a_colour_blind_reader_sees_what_the_drill_uses(kind: str) -> None:
    """3 to 1 is what WCAG 2.1 asks of parts of a picture (1.4.11), 4.5 to 1 of text."""
    matrix = np.array(BLINDNESS[kind])
    assert matrix.sum(axis=1) == pytest.approx([1, 1, 1], abs=1e-5)  # white stays white
    accent, hairline, paper = (seen(matrix, COLOURS[n]) for n in ("accent", "hairline", "paper"))
    assert (paper + 0.05) / (accent + 0.05) > 4.5
    assert (hairline + 0.05) / (accent + 0.05) > 3


def seen(matrix: Any, colour: Colour) -> float:
    """The luminance of *colour* as seen."""
    parts = np.clip(matrix @ np.array([linear(part) for part in colour]), 0, 1)
    return float(parts @ [0.2126, 0.7152, 0.0722])


def test_red_equals_blue_in_every_colour_and_black_is_black() -> None:
    """LilyPond 2.24's PNG writer exchanges the two."""
    assert all(red == blue for red, _, blue in COLOURS.values())
    assert set(BLACK) == set(COLOURS)
    assert {part for colour in BLACK.values() for part in colour} == {0.0, 1.0}


# --- pages -----------------------------------------------------------------------------

PLANS = """
drill "Anchors, bends and an overblow"
  about  "All a map can show."
  listen "The root."
  allow  overbends
  embouchure anchors tongue left, rungs lips
  anchor -2
  rungs  -3 -3' 4^
  phrase anchor rung~rung
  ending anchor:2
"""


def scores() -> list[Score]:
    drills = [*find_drills("Home from every rung"), *parse(PLANS)]
    return [expand(drill, Harp.parse("Bb"), Position(2)) for drill in drills]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What LilyPond drew in one look."""

    look: Look
    pdfs: list[bytes]
    pngs: list[list[bytes]]


LOOKS = {
    "usual": Look(),
    "black": Look(black=True),
    "letter": Look(paper="letter"),
    "large": Look(large=True),
    "tab": Look(show="tab"),
    "notation": Look(show="notation"),
}


def draw(look: Look) -> Drawn:
    with Engraver(png=True) as engraver:
        engraver.feed(pages(scores(), look))
        count = len(scores())
        return Drawn(look, engraver.sheets(count), engraver.pictures(count, "png"))


@pytest.fixture(scope="module")
def drawn() -> dict[str, Drawn]:
    return {name: draw(look) for name, look in LOOKS.items()}


@pytest.fixture(scope="module")
def again() -> Drawn:
    """The usual look once more."""
    return draw(Look())


def test_a_second_run_gives_the_same_bytes(drawn: dict[str, Drawn], again: Drawn) -> None:
    assert again.pdfs == drawn["usual"].pdfs
    assert again.pngs == drawn["usual"].pngs


def test_every_font_of_every_look_is_embedded_as_a_subset(drawn: dict[str, Drawn]) -> None:
    """PDF 32000-1:2008, 9.6.4 and 9.9: six capitals and +, and a font file."""
    chart = charted(role_chart(Harp("Bb"), [Reed.parse("-3'")], Look()))
    for pdf in [*(pdf for each in drawn.values() for pdf in each.pdfs), chart]:
        fonts = list(fonts_of(pdf))
        assert len(fonts) >= 2
        for font in fonts:
            assert re.match(r"/[A-Z]{6}\+", font["/FontName"]), font["/FontName"]
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(font), font["/FontName"]


def charted(source: str) -> bytes:
    with Engraver() as engraver:
        engraver.feed(source)
        [pdf] = engraver.sheets(1)
    return pdf


def fonts_of(pdf: bytes) -> Iterator[Any]:
    """The descriptor of each font among the objects of the file."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    for number in range(1, len(reader.xref[0]) if reader.xref else 0):
        found = reader.get_object(number)
        if isinstance(found, dict) and found.get("/Type") == "/FontDescriptor":
            yield found


def test_every_look_names_its_drill_and_fixes_its_date(drawn: dict[str, Drawn]) -> None:
    for each in drawn.values():
        for pdf, score in zip(each.pdfs, scores(), strict=True):
            about = pypdf.PdfReader(io.BytesIO(pdf)).metadata
            assert about is not None
            assert (about.title, about.subject) == (score.title, score.about)
            assert "20200101000000" in str(about["/CreationDate"])


# ISO 216 and ANSI/ASME Y14.1 (8.5 by 11 inches); a point of the PDF is 1/72 inch.
SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def test_each_paper_has_its_size(drawn: dict[str, Drawn]) -> None:
    for each in drawn.values():
        for pdf in each.pdfs:
            for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
                left, low, right, high = map(float, page.mediabox)
                size = [(right - left) * 25.4 / 72, (high - low) * 25.4 / 72]
                assert size == pytest.approx(SIZES_MM[each.look.paper], abs=0.005)


def test_the_black_look_has_no_colour_and_no_grey_of_its_own(drawn: dict[str, Drawn]) -> None:
    for page in flat(drawn["black"].pngs):
        pixels = np.asarray(page.convert("RGB"), dtype=int)
        assert (pixels.max(axis=2) == pixels.min(axis=2)).all()
    for pdf in drawn["black"].pdfs:
        assert fills(pdf) == {0.0, 1.0}


def fills(pdf: bytes) -> set[float]:
    """Every part of every colour that the PDF paints with (PDF 32000-1:2008, 8.6.8)."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    found: set[float] = set()
    for page in reader.pages:
        for stream in streams(page, reader):
            for operands, operator in stream.operations:
                if operator in (b"rg", b"RG", b"g", b"G"):
                    found |= {float(part) for part in operands}
    return found


def streams(page: Any, reader: pypdf.PdfReader) -> Iterator[ContentStream]:
    yield ContentStream(page.get_contents(), reader)
    for each in page["/Resources"].get("/XObject", {}).values():
        if each.get_object().get("/Subtype") == "/Form":
            yield ContentStream(each.get_object(), reader)


def flat(pictures: Sequence[Sequence[bytes]]) -> list[Image.Image]:
    return [Image.open(io.BytesIO(page)) for sheet in pictures for page in sheet]


def test_a_page_in_black_says_all_that_the_coloured_one_says(drawn: dict[str, Drawn]) -> None:
    for coloured, black in zip(drawn["usual"].pdfs, drawn["black"].pdfs, strict=True):
        assert signs(coloured) == signs(black)
        # what is filled, outlined and ruled is drawn by the same strokes
        assert strokes(coloured) == strokes(black)


def test_what_the_drill_uses_is_seen_in_black_by_more_than_colour(
    drawn: dict[str, Drawn],
) -> None:
    """Its cells of the map are filled: a letter on a filled cell is white, elsewhere black."""
    for pdf, score in zip(drawn["black"].pdfs, scores(), strict=True):
        white = Counter(name for name, colour in painted(pdf) if colour == (255, 255, 255))
        names = [note.pitch.letter for note in {n.reed: n for n in score.notes}.values()]
        assert Counter(names) <= white


def signs(pdf: bytes) -> list[tuple[str, list[float]]]:
    """Each sign of text or music with its place, in tenths of a point."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        text = page.get_textpage()
        for at in range(text.count_chars()):
            box = [round(float(side), 1) for side in text.get_charbox(at)]
            found.append((text.get_text_range(at, 1), box))
    return found


def painted(pdf: bytes) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Each sign with the red, green and blue it is painted in, 0 to 255."""
    for page in pypdfium2.PdfDocument(pdf):
        text = page.get_textpage()
        for at in range(text.count_chars()):
            parts = [ctypes.c_uint() for _ in range(4)]
            raw.FPDFText_GetFillColor(text, at, *parts)
            yield text.get_text_range(at, 1), tuple(part.value for part in parts[:3])


def strokes(pdf: bytes) -> list[Counter[bytes]]:
    """How often each page's content draws what."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    painting = {b"f", b"f*", b"S", b"s", b"B", b"m", b"l", b"c", b"re", b"Tj", b"TJ"}
    drawn = [
        [operator for stream in streams(page, reader) for _, operator in stream.operations]
        for page in reader.pages
    ]
    return [Counter(each for each in page if each in painting) for page in drawn]


def test_the_picture_has_the_colours_of_the_look(drawn: dict[str, Drawn]) -> None:
    """Also as PDFium paints the PDF, so that no channel of the PNG is exchanged."""
    for name in ("accent", "ink", "hairline"):
        wanted = tuple(round(part * 255) for part in COLOURS[name])
        for picture, pdf in zip(flat(drawn["usual"].pngs), drawn["usual"].pdfs, strict=True):
            painted_pdf = pypdfium2.PdfDocument(pdf)[0].render(scale=150 / 72).to_pil()
            for image in (picture.convert("RGB"), painted_pdf.convert("RGB")):
                off = np.abs(np.asarray(image, dtype=int) - wanted).max(axis=2)
                assert (off <= 1).sum() > 500, name


def test_large_print_is_six_tenths_larger_in_its_music_and_two_tenths_elsewhere(
    drawn: dict[str, Drawn],
) -> None:
    """A staff of 32 points against 20, measured on the page; small print is 11 points at least."""
    assert [len(sheet) for sheet in drawn["usual"].pngs] == [1, 1]
    assert all(len(sheet) in (1, 2) for sheet in drawn["large"].pngs)
    for usual, large in zip(drawn["usual"].pdfs, drawn["large"].pdfs, strict=True):
        assert clef_height(large) / clef_height(usual) == pytest.approx(1.6, rel=0.02)
        assert letter_height(large) / letter_height(usual) > 1.2


def clef_height(pdf: bytes) -> float:
    """The tallest sign on the page is the clef."""
    return max(top - bottom for _, (_, bottom, _, top) in signs(pdf))


def letter_height(pdf: bytes) -> float:
    """The median letter of small print."""
    text = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    start = text.get_text_range().index("filled:")
    boxes = [text.get_charbox(at) for at in range(start, start + 20)]
    return float(np.median([top - bottom for _, bottom, _, top in boxes if top > bottom]))


@pytest.mark.parametrize("drill", ["Two thirds at the top", "Dip and return"])
def test_on_two_pages_bars_stand_closer_before_the_plain_tab_is_given_up(drill: str) -> None:
    """The order is that of ``sheet.fit``: the row under the staff says the tab too, in parts."""
    score = expand(find_drills(drill)[0], Harp("C"), Position(2))
    with Engraver() as engraver:
        engraver.feed(pages([score], Look("letter", large=True)))
        [pdf] = engraver.sheets(1)
    first, last = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    assert "plain tab" in last
    assert "tempo ladder" in last
    assert "plain tab" not in first


def test_notation_alone_has_no_tab_row_and_tab_alone_no_clef(drawn: dict[str, Drawn]) -> None:
    for name, labels in (("usual", True), ("tab", True), ("notation", False)):
        for pdf in drawn[name].pdfs:
            lines = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range().split()
            assert ("tab" in without_heading(lines)) == labels, name
            assert "degree" in lines
    for usual, tab in zip(drawn["usual"].pdfs, drawn["tab"].pdfs, strict=True):
        assert clef_height(tab) < clef_height(usual) / 1.5


def without_heading(words: list[str]) -> list[str]:
    """*words* without the heading "plain tab"."""
    return [two for one, two in zip(["", *words], words, strict=False) if one != "plain"]


@pytest.mark.parametrize(
    ("paper", "show", "said"),
    [("a5", "both", '"a5".* Choose from: a4, letter'), ("a4", "tabs", 'Did you mean "tab"')],
)
def test_a_look_that_does_not_exist_is_refused(paper: str, show: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        look_named(paper, show, large=False, black=False)


# --- SVG -------------------------------------------------------------------------------

SVG = "{http://www.w3.org/2000/svg}"
TUNE = score_from(
    "-2:3/2 ~-3'':1/2 r 4^ -1:3 10'':1/3 -10:2/3 6:5",
    title='<script>alert(1)</script> & "x" <b onclick="x">',
    about="</text></svg> ]]>",
)


def svg_pages(look: Look) -> list[list[bytes]]:
    with Engraver(svg=True) as engraver:
        engraver.feed(pages([TUNE, *scores()], look, ids=True))
        return engraver.pictures(3, "svg")


@pytest.fixture(scope="module")
def svgs() -> list[list[bytes]]:
    return svg_pages(Look())


def test_every_note_of_an_svg_can_be_found_with_all_it_is(svgs: list[list[bytes]]) -> None:
    for score, sheet in zip([TUNE, *scores()], svgs, strict=True):
        notes = {}
        for page in sheet:
            for each in ET.fromstring(page).iter(f"{SVG}g"):  # noqa: S314  our own file
                if "data-hole" in each.attrib:
                    notes[each.attrib["id"]] = each.attrib
        assert notes == {
            f"note-{number}": {
                "id": f"note-{number}",
                "data-hole": str(note.reed.hole),
                "data-breath": note.reed.breath.value,
                "data-bend": str(note.reed.bend),
                "data-kind": note.reed.kind.value,
                "data-degree": note.degree.name,
                "data-start": str(note.start),
                "data-length": str(note.length),
            }
            for number, note in enumerate(score.notes, start=1)
        }


def test_an_id_stands_on_the_head_it_names(svgs: list[list[bytes]]) -> None:
    """Home from every rung goes down the rungs and up: so do its heads, by LilyPond's moves."""
    [page] = svgs[1]
    places = {}
    for each in ET.fromstring(page).iter(f"{SVG}g"):  # noqa: S314
        if "data-hole" in each.attrib:
            moved = re.search(r"translate\(([\d.]+), ([\d.]+)\)", each[0].attrib["transform"])
            assert moved
            places[int(each.attrib["id"].removeprefix("note-"))] = float(moved[1]), float(moved[2])
    places_in_order = [places[number] for number in range(1, 14)]
    lefts, heights = zip(*places_in_order, strict=True)
    turn = next(n for n in range(1, 13) if lefts[n] < lefts[n - 1])  # where the second line starts
    assert list(lefts[:turn]) == sorted(lefts[:turn])
    assert list(lefts[turn:]) == sorted(lefts[turn:])
    anchor, first, _, second = heights[:4]  # -2 -3 -2 -3': F, A and A flat on this harp
    assert first == pytest.approx(second)
    assert anchor - first == pytest.approx(1.0)  # a third is one staff space


def test_an_svg_is_well_formed_with_ids_of_its_own_and_nothing_that_runs(
    svgs: list[list[bytes]],
) -> None:
    for page in (page for sheet in svgs for page in sheet):
        elements = list(ET.fromstring(page).iter())  # noqa: S314
        ids = [each.attrib["id"] for each in elements if "id" in each.attrib]
        assert len(ids) == len(set(ids))
        tags = {each.tag.removeprefix(SVG).lower() for each in elements}
        assert not tags & {"script", "foreignobject", "iframe", "image", "a"}
        names = {name.rpartition("}")[2].lower() for each in elements for name in each.attrib}
        assert not {name for name in names if name.startswith("on") or name == "href"}


def test_the_words_of_an_svg_are_those_of_the_drill(svgs: list[list[bytes]]) -> None:
    [page] = svgs[0]
    words = " ".join(ET.fromstring(page).itertext()).split()  # noqa: S314
    for text in (TUNE.title, TUNE.about):
        sought = text.split()
        assert any(words[n : n + len(sought)] == sought for n in range(len(words)))


def test_tab_alone_stands_on_one_line_and_notation_on_five(svgs: list[list[bytes]]) -> None:
    assert staff_lines(svgs[1]) == 5 * 2
    assert staff_lines(svg_pages(Look(show="tab"))[1]) == 1 * 2


def staff_lines(sheet: list[bytes]) -> int:
    """Lines as long as a line of music, which starts right of the rules of the page."""
    found = 0
    for page in sheet:
        for line in ET.fromstring(page).iter(f"{SVG}line"):  # noqa: S314
            length = float(line.attrib["x2"]) - float(line.attrib["x1"])
            found += 90 < length < 100
    return found


def test_a_second_run_gives_the_same_svg(svgs: list[list[bytes]]) -> None:
    assert svg_pages(Look()) == svgs


# --- letters ---------------------------------------------------------------------------


def test_titles_in_three_scripts_are_printed_as_they_are() -> None:
    titles = [
        "Γυρίζω στη βάση από κάθε σκαλοπάτι",
        "Возвращение домой с каждой ступени",  # noqa: RUF001
        "Zażółć gęślą jaźń, æøå ÆØÅ, Größe, señal, çà et là, ő",
    ]
    with Engraver() as engraver:
        engraver.feed(pages([score_from("-2 -3'", title=title, about=title) for title in titles]))
        pdfs = engraver.sheets(len(titles))
    for title, pdf in zip(titles, pdfs, strict=True):
        text = pypdfium2.PdfDocument(pdf)[0].get_textpage()
        said = " ".join(text.get_text_range().split())
        assert said.count(title) >= 2, said[:200]  # over the page and under it
        start = text.get_text_range().index(title.split()[0])
        for at in range(start, start + len(title.split()[0])):
            left, bottom, right, top = text.get_charbox(at)
            assert right - left > 1, title
            assert top - bottom > 1, title


def test_every_sign_the_fonts_lack_is_named_wherever_it_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Chinese, Arabic and an emoji: names from the Unicode standard."""
    text = """
drill "Home 漢"
  listen "The root مرحبا"
  section "Done \N{GRINNING FACE}"
  play -2
"""
    monkeypatch.setattr(letters, "fonts_for", lambda _: ())  # a machine without other fonts
    [made] = make([expand(parse(text)[0], Harp("C"), Position(2))], tmp_path, ["sheet"])
    for sign, code in (("漢", "U+6F22"), ("م", "U+0645"), ("\N{GRINNING FACE}", "U+1F600")):
        assert f"{sign} ({code})" in made.notice
    printed = pypdfium2.PdfDocument(made.path)[0].get_textpage().get_text_range()
    for left in ("Home", "The root", "Done"):
        assert left in printed


def test_boxes_of_a_range_that_goes_down_go_down() -> None:
    [drill] = parse('drill "A"\n tempo 60 to 40\n play -4:2~:1 -4\':1', "a.drill")
    score = expand(drill, Harp("C"), Position(2))
    assert ladder_tempos(score) == [60, 56, 52, 48, 44, 40]
