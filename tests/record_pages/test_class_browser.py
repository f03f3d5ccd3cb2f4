"""The page of a class in a real browser, from disk: on phones, on a desk, on paper."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from browsers import AXE, DESK, PHONE, SMALL_PHONE
from hostile_students import HOSTILE_STUDENTS
from looked_pages import SIZE_NAMES, SIZES, WIDE, Looked
from reedmill.base.text import ForeignText, printable
from reedmill.cli.classing import make_line
from reedmill.record_pages.class_page import class_page
from sampling import part_of
from simulated_class import COURSE, TODAY, names_of, simulated_class

if TYPE_CHECKING:
    from playwright.sync_api import Browser

LEAST_LETTERS = 11.0  # pixels of CSS
CLASSES = ("nine", "thirty")


def crowd(text: str) -> tuple[ForeignText, ...]:
    """Nine students whose names are alike but for their ends."""
    return tuple(printable(f"{text}{number or ''}") for number in range(9))


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The page of nine students, of thirty, and of classes of hostile ones in hostile courses."""
    folder = tmp_path_factory.mktemp("pages")
    found = {
        "nine": simulated_class(names_of(9)),
        "thirty": simulated_class(names_of(30)),
        **{key: simulated_class(crowd(text), text, f"{text}x")
           for key, text in HOSTILE_STUDENTS.items()},
    }  # fmt: skip
    for key, each in found.items():
        (folder / f"{key}.html").write_bytes(class_page(each, make_line))
    return {key: folder / f"{key}.html" for key in found}


LETTERS = """() => [...document.body.querySelectorAll('*')]
  .filter((each) => [...each.childNodes].some((one) => one.nodeType === 3 && one.data.trim()))
  .map((each) => parseFloat(getComputedStyle(each).fontSize))"""
# Numbers of a table that lie on one another, or stand outside of their cell.
CROWDED = """() => [...document.querySelectorAll('.places tr')].flatMap((row) => {
    const cells = [...row.querySelectorAll('.cents')].map((each) => each.getBoundingClientRect());
    return cells.slice(1).filter((each, at) => each.left < cells[at].right - 0.5);
  }).length"""
CLIPPED = """() => [...document.querySelectorAll('.cents')]
  .filter((each) => each.scrollWidth > each.clientWidth + 1).length"""


@pytest.mark.parametrize("size", SIZES, ids=SIZE_NAMES)
def test_nothing_is_wider_than_the_screen_and_all_can_be_read(
    browser: Browser, files: dict[str, Path], size: tuple[int, int], whole: bool
) -> None:
    """Half of the classes on each screen, the other half on the next."""
    keys = (*CLASSES, "script", "right to left", "wide", "one word")
    for key in part_of(keys, SIZES.index(size), 2, whole=whole):
        with Looked(browser, files[key], size, "light") as it:
            assert it.page.evaluate("document.documentElement.scrollWidth") == size[0], key
            assert it.page.evaluate(WIDE) == [], key
            assert min(it.page.evaluate(LETTERS)) >= LEAST_LETTERS, key
            assert it.page.evaluate(CROWDED) == 0, key
            assert it.page.evaluate(CLIPPED) == 0, key
            assert it.messages == []
            assert it.asked == [files[key].as_uri()]  # it needs nothing but itself


@pytest.mark.parametrize(
    ("key", "size"),
    [("nine", SMALL_PHONE), ("thirty", DESK), ("wide", PHONE), ("right to left", DESK)],
)
def test_axe_finds_no_barrier_in_the_light_or_in_the_dark(
    browser: Browser, files: dict[str, Path], key: str, size: tuple[int, int]
) -> None:
    with Looked(browser, files[key], size, "light") as it:
        it.page.evaluate(AXE)  # by the debugger's door: the page's own policy lets no script in
        for scheme in ("light", "dark"):
            it.page.emulate_media(color_scheme=scheme)
            found = it.page.evaluate("axe.run()")
            barriers = [(each["id"], each["nodes"]) for each in found["violations"]]
            assert barriers == []
            passed = {each["id"] for each in found["passes"]}
            assert passed >= {"color-contrast", "html-has-lang", "th-has-data-cells"}


@pytest.mark.parametrize("key", HOSTILE_STUDENTS)
def test_a_hostile_name_runs_nothing_and_is_shown(
    browser: Browser, files: dict[str, Path], key: str
) -> None:
    text = printable(HOSTILE_STUDENTS[key])
    with Looked(browser, files[key], PHONE, "light") as it:
        it.page.wait_for_timeout(50)
        assert it.page.evaluate("window.pwned") is None
        assert it.page.locator("h1").inner_text() == text
        assert it.page.title() == f"{text}: class"
        assert it.page.locator("h3").filter(has_text=text).count() == 8  # the seventh has no take
        assert it.page.locator("thead .down").first.text_content() == text
        assert it.page.locator("script, img, iframe").count() == 0
        assert it.messages == []


def test_a_name_from_the_right_turns_nothing_around_it(
    browser: Browser, files: dict[str, Path]
) -> None:
    """Where names are listed, a comma stands after each, and the sentence runs from the left."""
    with Looked(browser, files["right to left"], DESK, "light") as it:
        assert it.page.evaluate("getComputedStyle(document.body).direction") == "ltr"
        direction = "getComputedStyle(document.querySelector('{}')).direction"
        for what in ("h1 span", ".students h3 span", "thead .down"):
            assert it.page.evaluate(direction.format(what)) == "rtl", what
        assert it.page.evaluate(direction.format("code")) == "ltr"
        first, second = (it.page.locator("#stuck ~ .cards article p bdi").nth(n).bounding_box()
                         for n in (0, 1))  # fmt: skip
        assert first
        assert second
        assert (first["y"], first["x"]) < (second["y"], second["x"])


def test_the_policy_stops_what_might_get_in(browser: Browser, files: dict[str, Path]) -> None:
    with Looked(browser, files["nine"], DESK, "light") as it:
        it.check_policy()


FRAME = """(what) => { const s = getComputedStyle(document.querySelector(what));
  return [s.backgroundColor, s.borderTopColor, s.color]; }"""


@pytest.mark.parametrize("media", ["screen", "print"])
def test_how_far_out_is_told_without_any_colour(
    browser: Browser, files: dict[str, Path], media: str
) -> None:
    """A number that is stuck is filled, one that is out is framed, one in tune is neither."""
    clear = "rgba(0, 0, 0, 0)"
    with Looked(browser, files["thirty"], DESK, "light") as it:
        it.page.emulate_media(media="print" if media == "print" else "screen")
        ink = it.page.evaluate("getComputedStyle(document.body).color")
        stuck, out, fine = (
            it.page.evaluate(FRAME, f"td .{how}") for how in ("stuck", "out", "fine")
        )
        assert stuck[:2] == [ink, ink]
        assert stuck[2] == "rgb(255, 255, 255)"
        assert out[:2] == [clear, ink]
        assert fine[:2] == [clear, clear]
        full, empty = (
            it.page.evaluate(f"getComputedStyle(document.querySelector('rect.{how}')).fill")
            for how in ("full", "empty")
        )
        assert (full, empty) == (ink, "none")


def test_the_dark_page_is_dark_and_the_printed_one_is_black_on_white(
    browser: Browser, files: dict[str, Path]
) -> None:
    ground, ink = (f"getComputedStyle(document.body).{what}" for what in
                   ("backgroundColor", "color"))  # fmt: skip
    with Looked(browser, files["nine"], DESK, "dark") as it:
        assert it.page.evaluate(ground) == "rgb(19, 22, 19)"
        it.page.emulate_media(media="print")
        assert it.page.evaluate(ground) == "rgb(255, 255, 255)"
        assert it.page.evaluate(ink) == "rgb(0, 0, 0)"


@pytest.mark.parametrize(("key", "most"), [("nine", 3), ("thirty", 8)])
def test_a_class_is_printed_on_few_sheets_and_all_of_it(
    browser: Browser, files: dict[str, Path], key: str, most: int
) -> None:
    with Looked(browser, files[key], DESK, "dark") as it:
        pages = PdfReader(io.BytesIO(it.page.pdf(format="A4"))).pages
        text = " ".join(" ".join(each.extract_text().split()) for each in pages)
    assert 2 <= len(pages) <= most
    assert TODAY.isoformat() == "2027-03-01"
    for word in (
        COURSE,
        "1 Mar 2027",
        "Where most are stuck",
        "Student by student",
        "No take yet Gus",
        "In the book, but not in the course",
        "All sheets at once",
        *names_of(9),
    ):
        assert word in text, word
    first = " ".join(pages[0].extract_text().split())
    assert "How far out" in first  # the class at a glance is on the first sheet


def test_one_press_takes_the_whole_command(browser: Browser, files: dict[str, Path]) -> None:
    for what in (".facts code", "pre"):
        with Looked(browser, files["nine"], PHONE, "light") as it:
            code = it.page.locator(what).first
            code.click()
            taken = it.page.evaluate("getSelection().toString()")
            assert taken.strip().splitlines() == code.inner_text().strip().splitlines()
            assert taken.startswith("reedmill make ")
            assert "\n" not in taken.strip() or what == "pre"
