"""The music of a practice page: what is drawn is what sounds, on every screen and on paper.

What is drawn is read from the pictures as an eye reads it: digits, ticks and arrows for the tab,
figures for the degree, and the height of a head on the treble staff, whose middle line is B.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import lxml.etree
import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, FloatRect
from pypdf import PdfReader

from browsers import AXE
from opened_pages import OpenedPage
from reedmill.base.errors import RenderError
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import find_drills, usual_position
from reedmill.pack.course.backings import with_band
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.shipped_courses import shipped_courses
from reedmill.pack.course.tasks import LessonRow, planned
from reedmill.page.page_music import PageMusic, page_music
from reedmill.page.picture_shapes import shapes
from reedmill.page.practice_page import PageBand, practice_pages
from reedmill.score.score import Score

HARPS = ("C", "low F", "Db", "G", "A", "F#")
TITLES = (
    "Twelve slow bars", "Home from every rung", "Stairs in one breath", "Dip and return",
    "Triplets down the rungs", "Triplets on one note", "First time, second time",
    "The semitone as a blues figure", "Accents on the move", "Pick-up to the root",
    "Answer in one bar", "Answer in two bars", "Answer the rung", "Shuffle walk",
    "Major above, minor below", "Twelve eight sway", "Three, three, two", "Overblow 4",
    "Overblow 1", "Long tones down draw 3", "Long tones down blow 10", "Every semitone",
    "Two bends an octave apart", "Two thirds at the top", "Lean on the rung before, four rungs",
    "Fifth position, low octave", "First position, top octave",
)  # fmt: skip
OWN = """\
drill "Ties, slides and quick notes"
  tempo 60
  play -2:1/4 -3:1/4 -3':1/4 -3'':1/4 -3:1/2 ~-3'':3 -2:3 10:1 10':1 10'':5/2

drill "Again and again"
  tempo 60
  pickup 1
  play -2:1 | (-3'':1 ~-3:1 -2:2)x3 | -2:4

drill "Thirty-two quick ones"
  tempo 60
  play (-3''':1/8 -3'':1/8)x16
"""
SLIM, TABLET, BESIDE = "narrow", "middle", "wide"
MOST_BYTES = 200_000
LEAST_DIGITS = 18  # pixels of CSS, on a phone of 360
WIDTHS = (320, 360, 768, 1280)


def sample() -> list[Score]:
    drills = [drill for title in TITLES for drill in find_drills(title)] + list(parse(OWN))
    harps = [Harp.parse(HARPS[number % len(HARPS)]) for number in range(len(drills))]
    return [
        expand(drill, harp, usual_position(drill))
        for drill, harp in zip(drills, harps, strict=True)
    ]


@dataclass(frozen=True)
class Made:
    """A page that was made, and its score."""

    score: Score
    page: bytes

    @property
    def timeline(self) -> list[dict[str, Any]]:
        """The notes as they are played, from the data of the page."""
        found = re.search(rb'id="reedmill-timeline">(.*?)</script>', self.page)
        assert found
        notes: list[dict[str, Any]] = json.loads(found[1])["drills"][0]["notes"]
        return notes


@pytest.fixture(scope="module")
def pages() -> list[Made]:
    scores = sample()
    return [Made(*each) for each in zip(scores, practice_pages(scores), strict=True)]


@pytest.fixture(scope="module")
def folder(pages: list[Made], tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("pages")
    for made in pages:
        (place / f"{made.score.title}.html").write_bytes(made.page)
    return place


# --- what is drawn --------------------------------------------------------------------------


@dataclass(frozen=True)
class Seen:
    """A note as it is to be read in a picture."""

    plays: tuple[int, ...]
    tab: str  # nothing under a head that is tied to another
    degree: str
    step: int  # of the head over the middle line
    x: float


class Screen:
    """The pictures for one width."""

    def __init__(self, page: bytes, name: str) -> None:
        text = page.decode()
        self.symbols = {
            each.get("id"): each
            for each in lxml.etree.fromstring(_table(text)).iter("g")
            if each.get("id")
        }
        blocks = re.findall(rf'<div class="staff {name}".*?</div>', text, re.S)
        lines = [svg for block in blocks for svg in re.findall("<svg.*?</svg>", block, re.S)]
        self.lines = [lxml.etree.fromstring(line) for line in lines]

    def notes(self) -> Iterator[Seen]:
        """All notes, line by line."""
        for line in self.lines:
            middle = staff_middle(line)
            for group in line.iter("g"):
                if group.get("data-plays"):
                    yield self._seen(group, middle)

    def _seen(self, group: Any, middle: float) -> Seen:
        head, *marks = group.iter("use")
        parts = [row for mark in marks for row in self._whole(mark).iter("g")]
        rows = {row.get("class"): row for row in parts if row.get("class")}
        return Seen(
            tuple(map(int, group.get("data-plays").split())),
            tab_of(rows["tab"]) if "tab" in rows else "",
            degree_of(rows["degree"]) if "degree" in rows else "",
            round((middle - float(head.get("y"))) / 3),  # half a staff space is 3 pixels
            float(head.get("x")),
        )

    def _whole(self, use: Any) -> Any:
        """What *use* shows: a copy in which whatever it uses stands itself."""
        shown = deepcopy(self.symbols[use.get("href")[1:]])
        for inner in list(shown.iter("use")):
            inner.append(self._whole(inner))
        return shown


def _table(text: str) -> str:
    found = re.search('<svg class="symbols".*?</svg>', text, re.S)
    assert found
    return found[0]


def staff_middle(line: Any) -> float:
    """The height of the third of five level lines that are equally long and wide apart."""
    levels: dict[tuple[str, str], set[float]] = {}
    for path in line.iter("path"):
        for x, y, to in re.findall(r"M([\d.]+) ([\d.]+)H([\d.]+)", path.get("d")):
            levels.setdefault((x, to), set()).add(float(y))
    [staff] = [sorted(each) for each in levels.values() if len(each) == 5]
    assert [round(high - low, 1) for low, high in pairwise(staff)] == [6.0] * 4
    return staff[2]


def tab_of(mark: Any) -> str:
    """The plain tab that digits, ticks and arrow say: down is drawn, a bow down a blow bend."""
    digits, *signs = [str(text.text) for text in mark.iter("text")]
    shaft, wings = [path.get("d") for path in mark.iter("path")]
    feet, tip = [float(y) for y in re.findall(r"[ML]-?[\d.]+ (-?[\d.]+)", wings)]
    drawn = tip > feet and "C" not in shaft
    return ("-" if drawn else "") + digits + "".join(signs)


def degree_of(mark: Any) -> str:
    """The figure, with ? for a sign before it."""
    [figure] = [str(text.text) for text in mark.iter("text")]
    return "?" * sum(1 for _ in mark.iter("use")) + figure


def steps_over_middle(name: str) -> int:
    """Steps of the note *name* over B, without octaves: 0 to 6."""
    return ("CDEFGAB".index(name[0]) - "CDEFGAB".index("B")) % 7


@pytest.mark.parametrize("width", [SLIM, TABLET, BESIDE])
def test_every_written_note_is_the_note_that_sounds(pages: list[Made], width: str) -> None:
    """By tab, by degree and by the height of its head, on 30 drills and six harps."""
    assert len(pages) >= 30
    for made in pages:
        where: dict[int, list[Seen]] = {}
        for seen in Screen(made.page, width).notes():
            for number in seen.plays:
                where.setdefault(number, []).append(seen)
        notes = made.timeline
        assert sorted(where) == list(range(len(notes))), made.score.title
        for number, note in enumerate(notes):
            told = f"{made.score.title}, note {number}"
            [main] = [seen for seen in where[number] if seen.tab]
            assert main.tab == note["tab"], told
            assert main.degree == re.sub("[b#]", "?", note["degree"]), told
            for seen in where[number]:  # a tied head is lit too, at the same height
                assert seen.step % 7 == steps_over_middle(note["name"]), told


def test_a_repeat_is_written_once_and_lights_up_each_time(pages: list[Made]) -> None:
    """Three times the same bar after a pick-up, counted by hand."""
    [made] = [each for each in pages if each.score.title == "Again and again"]
    found = [seen.plays for seen in Screen(made.page, SLIM).notes()]
    assert found == [(0,), (1, 4, 7), (2, 5, 8), (3, 6, 9), (10,)]


def test_a_note_over_a_bar_line_lights_both_of_its_heads(pages: list[Made]) -> None:
    [made] = [each for each in pages if each.score.title == "Ties, slides and quick notes"]
    heads = [seen for seen in Screen(made.page, SLIM).notes() if 5 in seen.plays]
    assert [bool(seen.tab) for seen in heads] == [True, False, False]  # 1/2, 2 and 1/2 beats


def test_notes_stand_in_the_order_in_which_they_are_played(pages: list[Made]) -> None:
    for made in pages:
        for line in Screen(made.page, SLIM).lines:
            boxes = [each.get("data-box") for each in line.iter("g")]
            lefts = [int(box.split()[0]) for box in boxes]
            assert lefts == sorted(lefts), made.score.title


def test_every_page_of_the_sample_is_under_200_kb(pages: list[Made]) -> None:
    assert max(len(made.page) for made in pages) < MOST_BYTES


def test_the_longest_exercises_of_the_courses_are_under_200_kb_in_their_pack() -> None:
    """With a way back and a band; the benchmark measures the library and every exercise."""
    scores = [
        expand(row.entry.drill, row.harp, row.position)
        if row.entry.backing is None
        else with_band(expand(row.entry.drill, row.harp, row.position), row.entry.backing)
        for shipped in shipped_courses()
        for edition in editions(read_course(shipped.path))
        for row in planned(edition)
        if isinstance(row, LessonRow)
    ]
    longest = sorted(scores, key=lambda score: len(score.notes))[-3:]
    assert len(longest[0].notes) > 60
    band = PageBand(ending=".backing.flac", first_s=2.5, tempo=100, tones=False)
    pages = practice_pages(longest, home="../index.html", bands=[band] * 3)
    assert max(map(len, pages)) < MOST_BYTES


def test_pictures_hold_numbers_and_words_of_ours_alone(pages: list[Made]) -> None:
    allowed = {
        "svg": {"viewBox", "data-boxes"}, "g": {"class", "data-plays", "data-box"}, "text": {
            "x", "y", "font-size", "font-weight", "font-style", "font-family", "textLength",
            "lengthAdjust", "class",
        },
        "use": {"href", "x", "y", "class"},
        "path": {"d", "fill", "stroke", "stroke-width", "class"},
    }  # fmt: skip
    for made in pages:
        for width in (SLIM, TABLET, BESIDE):
            for line in Screen(made.page, width).lines:
                for each in line.iter():
                    assert set(each.attrib) <= allowed[each.tag], (each.tag, each.attrib)
        assert b" style=" not in made.page.partition(b"<body>")[2].partition(b"<script>")[0]


@pytest.mark.parametrize(
    "inside",
    [
        "<script>1</script>",
        "<foreignObject><b/></foreignObject>",
        '<image href="https://example.org/x.png"/>',
        '<a href="javascript:1"><path d="M0 0"/></a>',
        '<path d="M0 0 url(#x)"/>',
        '<path transform="matrix(1 0 0 1 0 0)" d="M0 0"/>',
        '<g transform="rotate(3)"/>',
        '<rect x="0" y="0" width="calc(1)" height="1"/>',
        '<g data-note="1" data-row="x onload=1"/>',
        '<text transform="scale(2)">2</text>',
        "<animate/>",
    ],
)
def test_what_no_music_is_drawn_with_is_refused(inside: str) -> None:
    with pytest.raises(RenderError, match="LilyPond drew the music for a page with"):
        shapes(f'<svg xmlns="http://www.w3.org/2000/svg">{inside}</svg>'.encode())


@pytest.mark.parametrize(
    "page", ['<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>', "<svg", "", "\ufffe"]
)
def test_a_picture_that_declares_or_breaks_off_is_refused(page: str) -> None:
    with pytest.raises(RenderError, match="LilyPond drew the music for a page with"):
        shapes(page.encode())


def test_what_runs_in_a_browser_does_not_get_past_the_numbers() -> None:
    """An attribute that is not asked for is not there afterwards; a text is text."""
    [drawn] = sample()[:1]
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" onload="run()">'
        '<line onclick="run()" style="x" x1="0" y1="0" x2="50" y2="0" stroke="javascript:run()"/>'
        '<g data-note="0" data-row="head" onload="run()"><path transform="scale(0.004, -0.004)" '
        'd="M0 0l1 1" fill="url(javascript:run())"/></g>'
        "<text><tspan>&lt;script&gt;run()&lt;/script&gt;</tspan></text></svg>"
    )
    music = page_music(drawn, [[0]] * 3, [[svg.encode()]] * 3)
    text = str(music.symbols) + "".join(each.lines[0].picture for each in music.screens)
    assert "&lt;script&gt;" in text
    assert not re.search(r"<script|onload|onclick|javascript|style", text)
    assert isinstance(music, PageMusic)


# --- in a browser ---------------------------------------------------------------------------


class Opened(OpenedPage):
    """A page in a browser window of a width."""

    def __init__(self, browser: Browser, file: Path, width: int = 360, **how: Any) -> None:
        super().__init__(browser.new_page(viewport={"width": width, "height": 740}, **how), file)

    def digits(self) -> list[float]:
        """Heights of the tab's figures as they are shown, in pixels of CSS."""
        found: list[float] = self.page.evaluate(
            """[...document.querySelectorAll('.staff')].filter((e) => e.checkVisibility())
               .flatMap((e) => [...e.querySelectorAll('.written use:last-child')]).map((use) => {
                 const marks = document.querySelector(use.getAttribute('href'));
                 const tab = marks.querySelector('use')?.getAttribute('href');
                 const text = tab && document.querySelector(tab + ' .tab text');
                 const line = use.closest('svg');
                 const size = text ? text.getAttribute('font-size') : Infinity;
                 return size * line.getBoundingClientRect().width / line.viewBox.baseVal.width;
               })"""
        )
        return found


@pytest.mark.parametrize("title", [*TITLES[:3], "Long tones down blow 10", "Again and again"])
def test_music_fits_the_screen(browser: Browser, folder: Path, title: str) -> None:
    with Opened(browser, folder / f"{title}.html") as opened:
        for width in WIDTHS:
            opened.page.set_viewport_size({"width": width, "height": 740})
            wide = opened.page.evaluate("document.documentElement.scrollWidth")
            assert wide <= width
            if width >= 360:
                assert min(opened.digits()) >= LEAST_DIGITS, width
            shown = opened.page.evaluate(
                "[...document.querySelectorAll('.staff')].filter((e) => e.checkVisibility())"
                ".map((e) => e.className)"
            )
            assert len(set(shown)) == 1, shown
        assert opened.messages == []


@pytest.mark.parametrize(
    ("bytes_over", "widths"),
    [
        # From 640 pixels on the wide music is there, as large as on a phone at the least.
        (0, {360: "staff narrow", 680: "staff wide alone", 1280: "staff wide alone"}),
        (10**6, dict.fromkeys((360, 680, 1280), "staff narrow only")),
    ],
)
def test_a_very_large_page_is_set_for_fewer_widths_and_fits_them_all(
    browser: Browser,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    bytes_over: int,
    widths: dict[int, str],
) -> None:
    [whole] = practice_pages(sample()[1:2])
    monkeypatch.setattr("reedmill.page.practice_page._MOST_BYTES", len(whole) - bytes_over)
    [page] = practice_pages(sample()[1:2])
    path = tmp_path / "large.html"
    path.write_bytes(page)
    with Opened(browser, path) as opened:
        for width, shown in widths.items():
            opened.page.set_viewport_size({"width": width, "height": 740})
            staffs = opened.page.locator(".staff:visible")
            assert staffs.count() == 1
            assert staffs.get_attribute("class") == shown
            assert min(opened.digits()) >= LEAST_DIGITS
            assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
        opened.page.emulate_media(media="print")
        assert opened.page.locator(".staff:visible").count() == 1
        assert opened.messages == []


def box_of(opened: Opened, number: int) -> FloatRect:
    """Where the box of a note is on the screen."""
    place = opened.page.locator(f'.staff:visible .written[data-plays~="{number}"] rect').first
    place.scroll_into_view_if_needed()
    found = place.bounding_box()
    assert found
    return found


def middle_of(box: FloatRect) -> tuple[float, float]:
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def press_loop(opened: Opened) -> None:
    """Press it wherever it is: a phone may keep it with the other controls."""
    opened.page.locator('[data-does="loop"]').evaluate("button => button.click()")


def told(opened: Opened) -> str:
    return opened.page.locator("#told").text_content() or ""


def marked(opened: Opened, kind: str) -> list[int]:
    """The numbers of the notes that are shown as *kind*, the first of each that is written."""
    found: list[int] = opened.page.evaluate(
        f"""[...document.querySelectorAll('.staff')].filter((e) => e.checkVisibility())
           .flatMap((e) => [...e.querySelectorAll('.written.{kind}')])
           .map((e) => parseInt(e.getAttribute('data-plays')))"""
    )
    return found


def heard_first(opened: Opened) -> int:
    """The first note that sounds."""
    for _ in range(200):
        if opened.page.evaluate("window.begun.length"):
            return int(opened.page.evaluate("window.begun[0]"))
        opened.page.wait_for_timeout(50)
    pytest.fail("nothing sounded")


@pytest.fixture
def phone(browser: Browser, folder: Path) -> Iterator[Opened]:
    with Opened(browser, folder / "Again and again.html") as opened:
        opened.page.evaluate(
            """() => {
              window.begun = [];
              document.addEventListener('reedmill-note', (e) => window.begun.push(e.detail.index));
            }"""
        )
        opened.page.locator(".staff:visible").first.scroll_into_view_if_needed()
        yield opened
        assert opened.messages == []


def test_a_touch_on_a_note_starts_there_and_the_staff_shows_it(phone: Opened) -> None:
    phone.page.mouse.click(*middle_of(box_of(phone, 2)))
    assert heard_first(phone) == 2
    assert marked(phone, "lit") == [2]
    phone.page.keyboard.press("Escape")
    assert marked(phone, "lit") == []


def test_a_finger_drawn_over_notes_plays_them_over_and_over(phone: Opened) -> None:
    begin, end = (middle_of(box_of(phone, number)) for number in (3, 1))
    phone.page.mouse.move(*begin)
    phone.page.mouse.down()
    phone.page.mouse.move(*end, steps=4)
    phone.page.mouse.up()
    assert told(phone) == "Looping from -3'' to -2."
    assert phone.page.locator('[data-does="loop"]').get_attribute("aria-pressed") == "true"
    assert phone.page.locator(".staff:visible .loop").count() == 1
    press_loop(phone)
    assert phone.page.locator(".staff:visible .loop").count() == 0


def test_two_touches_set_a_loop_after_its_button(phone: Opened) -> None:
    press_loop(phone)
    for number in (1, 3):
        phone.page.mouse.click(*middle_of(box_of(phone, number)))
    assert told(phone) == "Looping from -3'' to -2."


def test_keys_reach_every_note_and_the_staff_shows_where_they_are(phone: Opened) -> None:
    """Also the third time of a repeat, which is written where the first is."""
    buttons = phone.page.locator("[data-note]")
    assert buttons.count() == 11
    assert (buttons.nth(7).get_attribute("aria-label") or "").startswith(
        "draw 3 bent two semitones"
    )
    buttons.nth(7).focus()
    assert marked(phone, "focused") == [1]
    box = box_of(phone, 1)
    above = phone.page.locator(".ladders").bounding_box()
    below = phone.page.locator(".controls").bounding_box()
    assert above
    assert below
    assert above["y"] + above["height"] <= box["y"]
    assert box["y"] + box["height"] <= below["y"]
    phone.page.keyboard.press("Enter")
    assert heard_first(phone) == 7


@pytest.mark.parametrize(
    "how",
    [
        {}, {"color_scheme": "dark"}, {"contrast": "more"}, {"forced_colors": "active"},
        {"forced_colors": "active", "color_scheme": "dark"},
        {"contrast": "more", "color_scheme": "dark"},
    ],
)  # fmt: skip
def test_what_sounds_is_framed_in_every_scheme_and_axe_finds_nothing(
    browser: Browser, folder: Path, how: dict[str, Any]
) -> None:
    """A frame of at least 2 pixels, and ink of 4.5 to 1 at least (WCAG 2.1, 1.4.3 and 1.4.11)."""
    with Opened(browser, folder / "Twelve slow bars.html", **how) as opened:
        opened.page.evaluate(AXE)
        found = opened.page.evaluate("axe.run()")["violations"]
        assert [each["id"] for each in found if each["impact"] in {"serious", "critical"}] == []
        opened.page.evaluate(
            "document.querySelectorAll('.written').forEach((e) => e.classList.add('lit'))"
        )
        frame, ink, tab, paper = opened.page.evaluate(
            """() => {
              const of = (what) => getComputedStyle(document.querySelector('.narrow ' + what));
              const rect = of('.written rect');
              const tab = getComputedStyle(document.querySelector('.symbols .tab'));
              return [[parseFloat(rect.strokeWidth), rect.stroke], of('svg').color, tab.color,
                      getComputedStyle(document.body).backgroundColor];
            }"""
        )
        assert frame[0] >= 2
        assert contrast(frame[1], paper) >= 3
        assert contrast(ink, paper) >= 4.5
        assert contrast(tab, paper) >= 4.5
        assert opened.messages == []


def test_the_tab_is_in_the_accent_and_the_notes_in_ink(browser: Browser, folder: Path) -> None:
    """As they are painted: what a sign inherits where it is used, no style of the page tells."""
    with Opened(browser, folder / "Home from every rung.html") as opened:
        box = box_of(opened, 0)
        picture = Image.open(io.BytesIO(opened.page.screenshot())).convert("RGB")
        left, top = round(box["x"]), round(box["y"])
        middle = top + round(box["height"] * 0.45)  # between the staff and the tab
        right, bottom = left + round(box["width"]), top + round(box["height"])
        assert not greens(picture.crop((left, top, right, middle)))
        assert greens(picture.crop((left, middle, right, bottom))) > 30


def greens(picture: Image.Image) -> int:
    """Pixels that are more green than red."""
    red, green, _ = np.moveaxis(np.asarray(picture, dtype=int), 2, 0)
    return int(np.count_nonzero(green - red > 40))


def contrast(one: str, other: str) -> float:
    """Contrast of two colours (WCAG 2.1, relative luminance)."""
    lights = sorted(map(light, (one, other)))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def light(colour: str) -> float:
    parts = [int(each) / 255 for each in re.findall(r"\d+", colour)[:3]]
    linear = [
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    ]
    return float(
        sum(share * each for share, each in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    )


def test_pages_scroll_at_once_for_whoever_asked_for_still_ones(
    browser: Browser, folder: Path
) -> None:
    for motion, behaviour in (("reduce", "instant"), ("no-preference", "smooth")):
        with Opened(browser, folder / "Twelve slow bars.html", reduced_motion=motion) as opened:
            opened.page.evaluate(
                """() => { window.scrolled = [];
                           window.scrollBy = (how) => window.scrolled.push(how.behavior); }"""
            )
            opened.page.evaluate(
                "document.querySelector('[data-note=\"50\"]').focus({preventScroll: true})"
            )
            assert opened.page.evaluate("window.scrolled") == [behaviour]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_paper_gets_the_music_and_none_of_the_controls(
    browser: Browser, folder: Path, paper: str
) -> None:
    with Opened(browser, folder / "Twelve slow bars.html", color_scheme="dark") as opened:
        pdf = PdfReader(io.BytesIO(opened.page.pdf(format=paper, print_background=True)))
        text = pdf.pages[0].extract_text()
        assert len(pdf.pages) == 1
        assert "Twelve slow bars" in text
        assert not re.search("Play|Loop|Listen,|Record|Skip|thick line|dizzy", text)
        opened.page.emulate_media(media="print", color_scheme="dark")
        shown = opened.page.locator(".staff:visible").evaluate_all(
            "all => all.map((e) => e.className)"
        )
        assert set(shown) == {"staff wide"}
        colour = opened.page.locator(".staff.wide svg").first.evaluate(
            "e => getComputedStyle(e).color"
        )
        assert colour == "rgb(0, 0, 0)"
