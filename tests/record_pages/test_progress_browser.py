"""The page of a student's progress in a real browser, from disk: on phones, on a desk, on paper."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from browsers import AXE, DESK, PHONE, SMALL_PHONE
from hostile_students import HOSTILE_STUDENTS
from looked_pages import SIZE_NAMES, SIZES, WIDE, Looked
from reedmill.base.text import printable
from reedmill.record import PlayedTake, progress_of
from reedmill.record.demo_book import PLAYERS, demo_takes
from reedmill.record.kept_take import KeptTake
from reedmill.record_pages.progress_page import progress_page
from reedmill.record_pages.retention_chart import RetentionCurve
from sampling import part_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser

NOW = datetime(2027, 3, 1, 19, tzinfo=UTC)
LEAST_LETTERS = 11.0  # pixels of CSS


def curves() -> list[RetentionCurve]:
    day = date(2027, 3, 1)
    points = tuple((day + timedelta(n), 0.95 * 0.9**n) for n in range(12))
    return [RetentionCurve("-3'' from -2 (C harp, 2nd)", points, day + timedelta(9))]


def with_title(take: KeptTake, title: str) -> KeptTake:
    return KeptTake({**take.data, "drill": {**take.data["drill"], "title": title}})


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A page of each player, and of hostile students who play hostile drills."""
    folder = tmp_path_factory.mktemp("pages")
    every = {each.student: each.takes for each in demo_takes(NOW)}
    takes = {player.first_name: (player.name, every[player.name]) for player in PLAYERS}
    few = every[PLAYERS[0].name][-15:]
    for key, text in HOSTILE_STUDENTS.items():
        takes[key] = printable(text), tuple(with_title(each, text) for each in few)
    for key, (name, kept) in takes.items():
        found = progress_of(PlayedTake(str(each.data["recorded"]), each) for each in kept)
        (folder / f"{key}.html").write_bytes(progress_page(name, found, curves()))
    return {key: folder / f"{key}.html" for key in takes}


OPEN_ALL = "for (const each of document.querySelectorAll('details')) each.open = true;"
# How large letters in drawings are on the screen, and which of them stand outside their drawing.
LETTERS = """() => [...document.querySelectorAll('svg text')]
  .map((each) => each.getScreenCTM().a * parseFloat(getComputedStyle(each).fontSize))"""
OUTSIDE = """() => [...document.querySelectorAll('svg text')].filter((each) => {
    const one = each.getBoundingClientRect();
    const all = each.ownerSVGElement.getBoundingClientRect();
    return one.left < all.left - 0.5 || one.right > all.right + 0.5
      || one.top < all.top - 0.5 || one.bottom > all.bottom + 0.5;
  }).map((each) => each.textContent)"""
# Texts of one drawing that lie on one another.
CROWDED = """() => [...document.querySelectorAll('svg')].flatMap((drawing) => {
    const texts = [...drawing.querySelectorAll('text')]
      .map((each) => [each.textContent, each.getBoundingClientRect()]);
    return texts.flatMap(([word, one], at) => texts.slice(at + 1)
      .filter(([, other]) => one.left < other.right && other.left < one.right
        && one.top + 2 < other.bottom && other.top + 2 < one.bottom)
      .map(([other]) => `${word} / ${other}`));
  })"""


@pytest.mark.parametrize("size", SIZES, ids=SIZE_NAMES)
def test_nothing_is_wider_than_the_screen_and_all_can_be_read(
    browser: Browser, files: dict[str, Path], size: tuple[int, int], whole: bool
) -> None:
    """Half of the students on each screen, the other half on the next."""
    keys = ("Ben", "Cleo", "script", "right to left", "wide", "one word")
    for key in part_of(keys, SIZES.index(size), 2, whole=whole):
        with Looked(browser, files[key], size, "light") as it:
            it.page.evaluate(OPEN_ALL)
            assert it.page.evaluate("document.documentElement.scrollWidth") == size[0], key
            assert it.page.evaluate(WIDE) == [], key
            letters = it.page.evaluate(LETTERS)
            assert min(letters) >= LEAST_LETTERS, key
            assert it.page.evaluate(OUTSIDE) == [], key
            assert it.page.evaluate(CROWDED) == [], key
            assert it.messages == []
            assert it.asked == [files[key].as_uri()]  # it needs nothing but itself


@pytest.mark.parametrize(("key", "size"), [("Ben", SMALL_PHONE), ("Ben", DESK), ("wide", PHONE)])
def test_axe_finds_no_barrier_in_the_light_or_in_the_dark(
    browser: Browser, files: dict[str, Path], key: str, size: tuple[int, int]
) -> None:
    with Looked(browser, files[key], size, "light") as it:
        it.page.evaluate(OPEN_ALL)
        it.page.evaluate(AXE)  # by the debugger's door: the page's own policy lets no script in
        for scheme in ("light", "dark"):
            it.page.emulate_media(color_scheme=scheme)
            found = it.page.evaluate("axe.run()")
            barriers = [(each["id"], each["nodes"]) for each in found["violations"]]
            assert barriers == []
            passed = {each["id"] for each in found["passes"]}
            assert passed >= {"color-contrast", "svg-img-alt", "html-has-lang"}


@pytest.mark.parametrize("key", HOSTILE_STUDENTS)
def test_a_hostile_name_runs_nothing_and_is_shown(
    browser: Browser, files: dict[str, Path], key: str
) -> None:
    with Looked(browser, files[key], PHONE, "light") as it:
        it.page.wait_for_timeout(50)
        assert it.page.evaluate("window.pwned") is None
        assert it.page.locator("h1").inner_text() == printable(HOSTILE_STUDENTS[key])
        assert it.page.title() == f"{printable(HOSTILE_STUDENTS[key])}: progress"
        assert it.page.locator("figcaption").last.inner_text() == printable(HOSTILE_STUDENTS[key])
        assert it.page.locator("script, img, iframe").count() == 0
        assert it.messages == []


def test_a_name_that_is_read_from_the_right_stands_so(
    browser: Browser, files: dict[str, Path]
) -> None:
    with Looked(browser, files["right to left"], DESK, "light") as it:
        direction = "getComputedStyle(document.querySelector('h1 span')).direction"
        assert it.page.evaluate(direction) == "rtl"
        assert it.page.evaluate("getComputedStyle(document.body).direction") == "ltr"


def test_the_policy_stops_what_might_get_in(browser: Browser, files: dict[str, Path]) -> None:
    with Looked(browser, files["Ada"], DESK, "light") as it:
        it.check_policy()


def test_what_a_colour_says_a_line_says_too(browser: Browser, files: dict[str, Path]) -> None:
    """Thick dashes are the newest week's, a dashed trend is unsure, an open dot no mastery."""
    style = (
        "(what) => { const s = getComputedStyle(document.querySelector(what)); return "
        "[parseFloat(s.strokeWidth), s.strokeDasharray, s.fill, s.stroke]; }"
    )
    with Looked(browser, files["Ben"], DESK, "light") as it:
        older, newest, trend, unsure, mastered, not_yet, due = (
            it.page.evaluate(style, what) for what in (
                ".dash:not(.newest)", ".newest", ".trend:not(.unsure)", ".unsure", ".mastered",
                ".not-yet", ".due",
            )
        )  # fmt: skip
        assert newest[0] > 1.5 * older[0]
        assert (trend[1], unsure[1] == "none", due[1] == "none") == ("none", False, False)
        assert mastered[2] != not_yet[2]


def test_the_dark_page_is_dark_and_the_printed_one_is_black_on_white(
    browser: Browser, files: dict[str, Path]
) -> None:
    ground = "getComputedStyle(document.body).backgroundColor"
    ink = "getComputedStyle(document.querySelector('svg .share')).fill"
    with Looked(browser, files["Ada"], DESK, "dark") as it:
        assert it.page.evaluate(ground) == "rgb(19, 22, 19)"
        it.page.emulate_media(media="print")
        assert it.page.evaluate(ground) == "rgb(255, 255, 255)"
        assert it.page.evaluate(ink) == "rgb(0, 0, 0)"


def test_paper_has_everything_but_what_is_folded(browser: Browser, files: dict[str, Path]) -> None:
    with Looked(browser, files["Cleo"], DESK, "dark") as it:
        pages = PdfReader(io.BytesIO(it.page.pdf(format="A4"))).pages
        text = " ".join(" ".join(each.extract_text().split()) for each in pages)
    assert 2 <= len(pages) <= 8
    for word in (
        "Cleo (simulated)",
        "Nearer to their place",
        "Hole 4 draw",
        "All rungs",
        "By register",
        "Home from every rung",
        "1 Mar 2027",
    ):
        assert word in text
    assert "Week by week" not in text


def test_without_a_script_figures_unfold(browser: Browser, files: dict[str, Path]) -> None:
    page = browser.new_context(java_script_enabled=False).new_page()
    page.goto(files["Ben"].as_uri())
    table = page.locator("details table").first
    assert table.is_hidden()
    page.locator("summary").first.click()
    assert table.is_visible()
    page.context.close()
