"""What a page does with its microphone while it plays: asked for once, let go, not deceived."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import sync_playwright

from browsers import DESK
from hearing.takes import played
from opened_pages import blocks, hearing_browser
from recorded_pages import TakePage, take_file
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.page.practice_page import practice_page
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from tunes import score_from

WATCHED = """() => {
    window.readings = 0;
    window.notes = [];
    window.streams = [];
    document.addEventListener('reedmill-reading', (e) => { readings += e.detail.hz ? 1 : 0; });
    document.addEventListener('reedmill-note', (e) => notes.push(e.detail.index));
    const asked = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    navigator.mediaDevices.getUserMedia = async (what) => {
        const stream = await asked(what);
        streams.push(stream);
        return stream;
    };
}"""
PRESSED = "document.querySelector('[data-does={}]').getAttribute('aria-pressed') === '{}'"


@pytest.fixture(scope="module")
def score() -> Score:
    return score_from("-2 -3 -2:2", tempo=240)


@pytest.fixture(scope="module")
def holding(score: Score, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TakePage]:
    """A page whose microphone hears draw 2 held for two minutes, at a second harmonic of its drone.

    The root of second position is draw 2, so the drone has partials where he plays.
    """
    folder = tmp_path_factory.mktemp("holding")
    (folder / "page.html").write_bytes(practice_page(score))
    [first, *_] = played(score, lambda _: 3.0)
    take = take_file(folder / "held.wav", [replace(first, start_s=0.0, end_s=120.0)], 1.0)
    with sync_playwright() as player:
        browser = hearing_browser(player, take)
        tab = browser.new_page(viewport={"width": DESK[0], "height": DESK[1]})
        page = TakePage(tab, folder / "page.html")
        page.page.evaluate(WATCHED)
        yield page
        browser.close()


def test_two_presses_while_the_browser_asks_open_one_microphone(holding: TakePage) -> None:
    holding.page.evaluate(
        "() => { const listen = document.querySelector('[data-does=listen]');"
        "listen.click(); listen.click(); document.querySelector('[data-does=record]').click(); }"
    )
    holding.wait_until("readings > 5")
    assert holding.page.evaluate("streams.length") == 1
    holding.page.evaluate("document.querySelector('[data-does=record]').click()")
    holding.wait_until(PRESSED.format("record", "false"))


def test_a_microphone_switched_off_is_let_go_and_nothing_more_is_read(holding: TakePage) -> None:
    page = holding.page
    holding.does("listen")
    assert page.evaluate("streams[0].getTracks().every((each) => each.readyState === 'ended')")
    page.wait_for_timeout(100)
    before = page.evaluate("readings")
    page.wait_for_timeout(500)
    assert page.evaluate("readings") == before
    assert holding.text("heard-words") == ""
    holding.does("listen")
    holding.wait_until(f"readings > {before + 3}")
    page.evaluate("document.querySelector('details.more').open = true")
    holding.does("stop")
    assert page.locator('[data-does="listen"]').get_attribute("aria-pressed") == "false"
    assert page.evaluate("streams.every((one) => one.getTracks()[0].readyState === 'ended')")
    holding.does("listen")
    holding.wait_until(PRESSED.format("listen", "true"))


@pytest.mark.parametrize(("control", "choice"), [("fade", "3"), ("climb", "4")])
def test_a_pass_is_recorded_once_though_more_passes_are_asked_for(
    holding: TakePage, control: str, choice: str
) -> None:
    """The bar and its count-in last two seconds; he holds his note, so eight more are waited."""
    page = holding.page
    page.evaluate("takes.length = 0; document.querySelector('details.more').open = true")
    page.locator(f'[data-sets="{control}"]').select_option(choice)
    holding.does("record")
    holding.wait_until(PRESSED.format("record", "true"))
    holding.wait_until(PRESSED.format("record", "false"), 20)
    holding.wait_until("!document.getElementById('take-told').textContent.startsWith('Comparing')")
    page.locator(f'[data-sets="{control}"]').select_option("off")


def test_the_ear_is_not_deaf_to_the_root_after_the_drone_has_ended(holding: TakePage) -> None:
    page = holding.page
    page.locator('[data-sets="drone"]').select_option("root")
    holding.does("play")
    page.wait_for_timeout(700)
    before = page.evaluate("readings")
    page.wait_for_timeout(300)
    assert page.evaluate("readings") == before  # while it sounds it cannot be told from the page
    holding.wait_until(PRESSED.format("play", "false"))
    holding.wait_until(f"readings > {before + 5}")


def test_a_touched_note_begins_once_and_play_begins_at_the_start(holding: TakePage) -> None:
    page = holding.page
    page.locator('[data-sets="drone"]').select_option("off")
    page.evaluate("notes.length = 0")
    page.locator('[data-note="1"]').press("Enter")
    holding.wait_until("notes.length > 0")
    holding.wait_until(PRESSED.format("play", "false"))
    holding.does("play")
    holding.wait_until("notes.includes(0)")
    assert page.evaluate("notes")[0] == 1
    holding.does("play")
    assert holding.messages == []


def test_changes_while_it_plays_ask_for_no_more_pictures(holding: TakePage) -> None:
    """Each picture asks for the next one: two rows of them would do all work twice."""
    page = holding.page
    page.evaluate("document.querySelector('details.more').open = true")
    page.evaluate(
        """() => { window.asked = 0; const ask = requestAnimationFrame.bind(window);
        window.requestAnimationFrame = (then) => { asked += 1; return ask(then); }; }"""
    )
    holding.does("loop")
    holding.does("play")
    holding.wait_until("asked > 3")

    def asked_in_half_a_second() -> int:
        before: int = page.evaluate("asked")
        page.wait_for_timeout(500)
        now: int = page.evaluate("asked")
        return now - before

    at_first = asked_in_half_a_second()
    for _ in range(6):
        holding.does("click")
    assert asked_in_half_a_second() < 2 * at_first
    holding.does("play")
    holding.does("loop")


def known_as(text: str, title: str, reference_hz: float = 440.0) -> str:
    [drill] = [each for each in parse(text, "mine.drill") if each.title == title]
    score = expand(drill, Harp.parse("C"), Position(2), reference_hz=reference_hz)
    found: str = blocks(practice_page(score))["reedmill-page"]["ear"]["known_as"]
    return found


def test_takes_are_known_by_the_music_and_not_by_its_file() -> None:
    one = 'drill "One"\n  play -2 -3 -2 r |\n'
    other = 'drill "Other"\n  play -2 -3\' -2 r |\n'
    first = known_as(one + other, "One")
    assert first != known_as(one + other, "Other")
    assert first == known_as("# a remark\n" + one, "One")
    assert first != known_as(one + other, "One", reference_hz=443.0)
