"""The page of a pack in a real browser, from disk and without a network.

Chromium opens it as a student does: by double click, on a phone and on a desk.  What is
accessible is judged by axe-core, the rules of which follow WCAG 2.1 (W3C).
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import pytest

from browsers import AXE, DESK, GOT_THROUGH, PHONE, SMALL_PHONE, TABLET
from reedmill.pack.pages.chapter import Chapter, Front
from reedmill.pack.site.index_page import Site, site_html
from small_pack import small_pack

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Request


class Watched:
    """The page of the pack, opened from disk, and all the browser had to say about it."""

    def __init__(self, browser: Browser, size: tuple[int, int], scheme: Any = "light") -> None:
        self.said: list[str] = []
        self.asked: list[str] = []
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=scheme
        )
        self.page: Page = context.new_page()
        self.page.set_default_timeout(20_000)
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("requestfailed", self._fail)
        self.page.goto((small_pack().folder / "index.html").as_uri())

    def _fail(self, request: Request) -> None:
        if request.failure != "net::ERR_ABORTED":  # it has read as much of a sound as it wants
            self.said.append(f"{request.failure}: {request.url}")

    def open_sheets(self) -> None:
        """Open every sheet and wait until all are there."""
        self.page.evaluate(
            """async () => {
                for (const each of document.querySelectorAll("details")) each.open = true;
                for (const each of document.images) each.loading = "eager";
                await Promise.all([...document.images].map((each) => each.decode()));
            }"""
        )


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_it_opens_from_disk_without_an_error_or_a_network(
    browser: Browser, size: tuple[int, int]
) -> None:
    opened = Watched(browser, size)
    opened.open_sheets()
    assert opened.page.title() == "Bends as places"
    assert opened.page.locator("h1").inner_text() == "Bends as places"
    assert (
        opened.page.evaluate("[...document.images].map((each) => each.naturalWidth > 1000)")
        == [True] * 4
    )
    assert opened.said == []
    assert len(opened.asked) >= 5
    assert [url for url in opened.asked if not url.startswith("file:///")] == []


def test_every_player_finds_its_sound_when_it_is_asked(browser: Browser) -> None:
    opened = Watched(browser, DESK)
    before = [url for url in opened.asked if url.endswith((".wav", ".mp3"))]
    assert before == []
    lengths = opened.page.evaluate(
        """() => Promise.all([...document.querySelectorAll("audio")].map((each) =>
            new Promise((resolve) => {
                each.addEventListener("loadedmetadata",
                    () => resolve([each.readyState, each.duration]));
                each.lastElementChild.addEventListener("error", () => resolve([0, 0]));
                each.preload = "metadata";
                each.load();
            })))"""
    )
    assert len(lengths) == 9
    shown = opened.page.locator("figcaption span").all_inner_texts()
    for (ready, seconds), text in zip(lengths, shown, strict=True):
        assert ready >= 1
        assert 16 < seconds < 35
        minutes, rest = text.split(":")
        assert abs(60 * int(minutes) + int(rest) - seconds) <= 1, text
    assert opened.said == []


def test_only_one_player_plays_at_a_time(browser: Browser) -> None:
    opened = Watched(browser, DESK)
    playing = opened.page.evaluate(
        """async () => {
            const players = [...document.querySelectorAll("audio")];
            for (const each of players.slice(0, 3)) { each.muted = true; await each.play(); }
            await new Promise((resolve) => setTimeout(resolve, 50));
            return players.map((each) => !each.paused);
        }"""
    )
    assert playing == [False, False, True] + [False] * 6


def test_the_first_lesson_begins_on_the_first_screen_of_a_phone(browser: Browser) -> None:
    opened = Watched(browser, PHONE)
    assert opened.page.locator(".holes").is_hidden()
    [top, sound] = opened.page.evaluate(
        """() => ["h2[id^=lesson]", "audio"].map((each) =>
            document.querySelector(each).getBoundingClientRect().top)"""
    )
    assert top < PHONE[1]
    assert sound < 3 * PHONE[1]
    assert Watched(browser, DESK).page.locator(".holes").is_visible()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_long_contents_are_folded_on_a_phone_alone(
    browser: Browser, size: tuple[int, int], tmp_path: Path
) -> None:
    chapters = tuple(Chapter(number, f"Part {number}") for number in range(1, 9))
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    page = context.new_page()
    path = tmp_path / "index.html"
    path.write_bytes(site_html(Site(Front("Many parts"), chapters, ())))
    page.goto(path.as_uri())
    links = page.locator("nav a:visible")
    assert links.count() == (8 if size == DESK else 0)
    page.locator("nav summary").click()
    assert links.count() == (0 if size == DESK else 8)


@pytest.mark.parametrize(
    "size", [SMALL_PHONE, PHONE, TABLET, DESK], ids=["small", "phone", "tablet", "desk"]
)
def test_nothing_is_wider_than_the_screen(browser: Browser, size: tuple[int, int]) -> None:
    opened = Watched(browser, size)
    opened.open_sheets()
    assert opened.page.evaluate("document.documentElement.scrollWidth") == size[0]
    wide = opened.page.evaluate(
        """() => [...document.body.querySelectorAll("*")]
            .filter((each) => each.getBoundingClientRect().right > innerWidth + 0.5
                && getComputedStyle(each).position !== "absolute")
            .map((each) => each.outerHTML.slice(0, 80))"""
    )
    assert wide == []


def test_what_is_tapped_is_large_enough_for_a_finger(browser: Browser) -> None:
    """WCAG 2.2 (W3C), 2.5.8: 24 CSS pixels; links inside a sentence are excepted."""
    opened = Watched(browser, PHONE)
    assert opened.page.locator(".practice a").count() == 3
    small = opened.page.evaluate(
        """() => [...document.querySelectorAll(
                ".practice a, .files a, nav a, nav label, summary, audio")]
            .filter((each) => each.getBoundingClientRect().height < 24)
            .map((each) => each.outerHTML)"""
    )
    assert small == []


def focused(page: Page) -> str:
    found: str = page.evaluate(
        """() => {
            const each = document.activeElement;
            if (each === document.body) return "";
            const name = each.getAttribute("href") || each.getAttribute("aria-label");
            return each.tagName.toLowerCase() + " " + (name || each.value || "");
        }"""
    )
    return found


def test_tab_reaches_every_link_sheet_and_player_in_order(browser: Browser) -> None:
    opened = Watched(browser, DESK)
    places: list[str] = []
    for _ in range(400):
        opened.page.keyboard.press("Tab")
        place = focused(opened.page)
        if not place:
            break
        if not places or places[-1] != place:  # a player has buttons of its own inside
            places.append(place)
    assert places[0] == "a #lessons"
    expected = opened.page.evaluate(
        """() => [...document.querySelectorAll("a, summary, audio")]
            .filter((each) => each.checkVisibility())
            .map((each) => each.tagName.toLowerCase() + " "
                + (each.getAttribute("href") || each.getAttribute("aria-label") || ""))"""
    )
    inside = [each for each in places if each.split()[0] in {"a", "summary", "audio"}]
    assert inside == expected
    assert sum(each.startswith("audio") for each in inside) == 9


def test_the_focus_can_be_seen(browser: Browser) -> None:
    opened = Watched(browser, DESK)
    for _ in range(3):
        opened.page.keyboard.press("Tab")
        style = opened.page.evaluate(
            "(({outlineStyle, outlineWidth}) => [outlineStyle, outlineWidth])"
            "(getComputedStyle(document.activeElement))"
        )
        assert style == ["solid", "3px"]


def test_the_skip_link_leads_past_the_contents(browser: Browser) -> None:
    opened = Watched(browser, PHONE)
    opened.page.keyboard.press("Tab")
    skip = opened.page.locator(".skip").bounding_box()
    assert skip is not None
    assert skip["x"] >= 0
    opened.page.keyboard.press("Enter")
    assert opened.page.evaluate("document.activeElement.id") == "lessons"


def test_one_harp_can_be_chosen_by_keyboard(browser: Browser) -> None:
    opened = Watched(browser, DESK)
    shown = opened.page.locator("article:visible")
    assert shown.count() == 3
    opened.page.locator("input[name=harp]").first.focus()
    opened.page.keyboard.press("ArrowRight")
    assert shown.evaluate_all("(all) => all.map((each) => each.dataset.harp)") == ["C", "C"]
    opened.page.keyboard.press("ArrowRight")
    assert shown.evaluate_all("(all) => all.map((each) => each.dataset.harp)") == ["low F"]
    assert opened.said == []


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_axe_finds_no_barrier_in_the_light_or_in_the_dark(
    browser: Browser, size: tuple[int, int]
) -> None:
    opened = Watched(browser, size)
    opened.open_sheets()
    opened.page.evaluate(AXE)  # by the debugger's door: the page's own policy lets no script in
    schemes: list[Literal["light", "dark"]] = ["light", "dark"]
    for scheme in schemes:
        opened.page.emulate_media(color_scheme=scheme)
        found = opened.page.evaluate("axe.run()")
        barriers = [(each["id"], each["impact"], each["nodes"]) for each in found["violations"]]
        assert barriers == []
        passed = {each["id"] for each in found["passes"]}
        assert passed >= {"color-contrast", "image-alt", "label", "link-name", "html-has-lang"}


def test_the_dark_page_is_dark_and_its_sheets_are_white(browser: Browser) -> None:
    opened = Watched(browser, DESK, "dark")
    grounds = opened.page.evaluate(
        """() => [document.body, document.images[0]]
            .map((each) => getComputedStyle(each).backgroundColor)"""
    )
    assert all(int(part) < 40 for part in re.findall(r"\d+", grounds[0]))
    assert grounds[1] == "rgb(255, 255, 255)"


def test_without_a_script_everything_is_there_but_the_choice_of_harps(browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((small_pack().folder / "index.html").as_uri())
    assert page.locator("article:visible").count() == 3
    assert page.locator("audio:visible").count() == 9
    assert page.locator("fieldset:visible").count() == 0


def test_players_and_sheets_are_not_printed(browser: Browser) -> None:
    opened = Watched(browser, DESK)
    opened.page.emulate_media(media="print")
    assert opened.page.locator("audio:visible, nav:visible, details:visible").count() == 0
    assert opened.page.locator("h2:visible").count() >= 3


def test_the_policy_keeps_out_what_a_hostile_text_might_bring(browser: Browser) -> None:
    """Should a letter ever get through, the browser still runs and fetches nothing for it."""
    opened = Watched(browser, DESK)
    opened.page.evaluate(GOT_THROUGH)
    opened.page.wait_for_timeout(100)
    assert opened.page.evaluate("window.pwned") is None
    assert "csp: https://example.org/x.png" in opened.said  # stopped before it left
    assert sum("Content Security Policy" in each for each in opened.said) >= 2
