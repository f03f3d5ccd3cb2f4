"""A take in the page: recorded, judged as ``reedmill hear`` judges it, kept, saved, forgotten."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import jsonschema
import numpy as np
import pytest
import soundfile
from playwright.sync_api import Browser, Playwright, sync_playwright

from browsers import AXE, DESK, PHONE, QUIET, chromium_program
from hearing.takes import played
from opened_pages import hearing_browser
from recorded_pages import TakePage, take_file
from reedmill.ear import TAKE_SCHEMA, hear, read_take, take_data
from reedmill.page.practice_page import practice_page
from reedmill.score.score import Score
from tunes import score_from

MUSIC = "-2 -3 -2 -3' -2 -3'' -2:2"
TEMPO = 120
# What the student plays, in cents from each note's place, and what a teacher says of it.
OFF = (0.0, 4.0, -3.0, 32.0, 2.0, -18.0, 1.0)
SAID = ("on", "on", "on", "sharp", "on", "near", "on")
MINUS = "\N{MINUS SIGN}"
MOST_BYTES = 200_000
PARTS_S = 4.0  # when he begins: the count-in lasts two seconds, and a busy machine starts late
TRIES = 3  # a busy machine's microphone stutters, and then hears less than is in the file


@pytest.fixture(scope="module")
def score() -> Score:
    made = score_from(MUSIC, tempo=TEMPO)
    return replace(made, anchor_holes=made.notes[0].reeds)


@pytest.fixture(scope="module")
def file(score: Score, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_bytes(practice_page(score))
    return path


@pytest.fixture(scope="module")
def student(score: Score, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The student's take as a file."""
    notes = played(score, lambda index: OFF[index])
    return take_file(tmp_path_factory.mktemp("take") / "take.wav", notes, PARTS_S)


@pytest.fixture(scope="module")
def truth(score: Score, student: Path) -> dict[str, Any]:
    """What `hear --json` says of that file."""
    said: dict[str, Any] = json.loads(json.dumps(take_data(hear(read_take(student), score))))
    return said


@pytest.fixture(scope="module")
def player() -> Iterator[Playwright]:
    with sync_playwright() as found:
        yield found


def whole(taken: dict[str, Any]) -> bool:
    """True where the microphone gave the whole take."""
    return [note["verdict"] for each in taken["passes"] for note in each["notes"]] == list(SAID)


@pytest.fixture(scope="module")
def recorded(player: Playwright, student: Path, file: Path) -> Iterator[TakePage]:
    """A page in which the student's take has just been recorded."""
    for turn in range(TRIES):
        browser = hearing_browser(player, student)
        page = TakePage(browser.new_page(viewport={"width": DESK[0], "height": DESK[1]}), file)
        page.does("record")
        page.wait_until(
            "takes.length > 0 || document.querySelector('#take-does:not([hidden])')", 30
        )
        taken = page.page.evaluate("takes")
        if (taken and whole(taken[0])) or turn == TRIES - 1:
            yield page
            browser.close()
            return
        browser.close()


@pytest.fixture(scope="module")
def heard(recorded: TakePage) -> dict[str, Any]:
    taken: dict[str, Any] = recorded.page.evaluate("takes[0]")
    return taken


def notes_of(taken: dict[str, Any]) -> list[dict[str, Any]]:
    return [note for each in taken["passes"] for note in each["notes"]]


def test_one_file_gets_the_same_verdicts_by_microphone_and_by_command(
    heard: dict[str, Any], truth: dict[str, Any]
) -> None:
    assert [note["verdict"] for note in notes_of(truth)] == list(SAID)
    for page, command in zip(notes_of(heard), notes_of(truth), strict=True):
        for name in ("index", "tab", "role", "from", "verdict"):
            assert page[name] == command[name]
        assert page["cents"] == pytest.approx(command["cents"], abs=2)
    assert heard["harp_cents"] == pytest.approx(truth["harp_cents"], abs=1)
    assert heard["advice"] == truth["advice"]


def test_a_take_of_the_page_has_the_form_of_every_take(heard: dict[str, Any]) -> None:
    jsonschema.validate(heard, TAKE_SCHEMA)
    assert heard["recorded"].endswith("Z")
    assert heard["harp"] == "C"


def test_every_note_bears_its_verdict_by_shape_figure_and_words(
    recorded: TakePage, heard: dict[str, Any]
) -> None:
    page = recorded.page
    marks = page.locator(".staff.wide .mark").all_text_contents()
    assert [mark[0] for mark in marks] == ["●", "●", "●", "▲", "●", "○", "●"]
    figures = [int(mark[1:].replace(MINUS, "-")) for mark in marks]
    assert figures == [round(note["cents"]) for note in notes_of(heard)]
    label = page.locator('[data-note="3"]').get_attribute("aria-label") or ""
    assert label.endswith(f"; heard: {figures[3]} cents sharp")
    assert recorded.text("take-told").startswith("6 of 7 notes in their place, 1 sharp.")
    assert page.locator("#take-told").get_attribute("role") == "status"
    assert page.locator("#take-advice li").all_text_contents() == heard["advice"]


def test_what_the_page_saves_is_heard_by_the_command_as_by_the_page(
    recorded: TakePage, heard: dict[str, Any], score: Score, tmp_path: Path
) -> None:
    wav = recorded.saved("save", tmp_path)
    assert wav.name.startswith("test-tune-c-2nd-take-20")
    info = soundfile.info(wav)
    assert (info.subtype, info.channels, info.format) == ("PCM_16", 1, "WAV")
    command = take_data(hear(read_take(wav), score))
    for page, ours in zip(notes_of(heard), notes_of(command), strict=True):
        assert page["verdict"] == ours["verdict"]
        assert page["cents"] == pytest.approx(ours["cents"], abs=0.3)
        assert page["start_s"] == pytest.approx(ours["start_s"], abs=0.011)
        assert page["early_ms"] == (
            None if ours["early_ms"] is None else pytest.approx(ours["early_ms"], abs=11)
        )
    saved = recorded.saved("save-data", tmp_path)
    assert json.loads(saved.read_text("utf-8")) == heard


def test_a_take_can_be_played_again(recorded: TakePage) -> None:
    recorded.does("replay")
    recorded.wait_until(
        "document.querySelector('[data-does=replay]').getAttribute('aria-pressed') === 'true'"
    )
    recorded.does("replay")
    assert recorded.page.locator('[data-does="replay"]').get_attribute("aria-pressed") == "false"


def test_the_players_own_anchor_may_be_the_measure(
    recorded: TakePage, heard: dict[str, Any]
) -> None:
    recorded.does("own-anchor")
    marks = recorded.page.locator(".staff.wide .mark").all_text_contents()
    wanted = [
        round(note["cents"] if note["cents_from_anchor"] is None else note["cents_from_anchor"])
        for note in notes_of(heard)
    ]
    assert [int(mark[1:].replace(MINUS, "-")) for mark in marks] == wanted
    assert "Judged against your own anchor." in recorded.text("take-told")
    recorded.does("own-anchor")
    assert "own anchor" not in recorded.text("take-told")


def test_headphones_are_asked_for_once(recorded: TakePage) -> None:
    page = recorded.page
    assert page.locator("#headphones").is_visible()
    recorded.does("headphones")
    assert not page.locator("#headphones").is_visible()
    recorded.does("listen")
    recorded.does("listen")
    assert not page.locator("#headphones").is_visible()
    assert page.evaluate("localStorage.getItem('reedmill:headphones')") == "yes"


def test_takes_are_kept_exported_forgotten_and_taken_in_again(
    recorded: TakePage, heard: dict[str, Any], tmp_path: Path
) -> None:
    page = recorded.page
    page.evaluate("localStorage.setItem('another page', 'stays')")
    page.locator("summary", has_text="My takes").click()
    assert recorded.text("history-told").startswith("One take: 86% of the notes in their place")
    curve = page.locator("#history-curve")
    assert (curve.get_attribute("aria-label") or "") in recorded.text("history-told")
    exported = recorded.saved("export", tmp_path)
    assert json.loads(exported.read_text("utf-8"))["drills"][0]["takes"] == [heard]

    recorded.does("forget")
    assert recorded.text("history-told").startswith("One take")  # it was only asked for
    recorded.does("forget-all")
    assert recorded.text("history-told").startswith("Forgotten: 1 take of 1 drill, and 1 setting.")
    assert page.evaluate("Object.keys(localStorage)") == ["another page"]

    page.locator('[data-sets="import"]').set_input_files(exported)
    recorded.wait_until("document.getElementById('history-told').textContent.startsWith('1 take')")
    assert recorded.saved("export", tmp_path).read_bytes() == exported.read_bytes()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b'{"reedmill_history": 1, "drills": [{}]}', 'has no "known_as"'),
        (b"<script>document.title='run'</script>", "not JSON"),
        (b"\xff\xfe\x00", "not JSON"),
        (b"[" * 5_000_001, "more than 5 MB"),
    ],
)
def test_a_file_that_is_not_a_history_is_refused_in_a_sentence(
    recorded: TakePage, tmp_path: Path, content: bytes, said: str
) -> None:
    path = tmp_path / "history.json"
    path.write_bytes(content)
    before = recorded.page.evaluate("JSON.stringify(localStorage)")
    recorded.page.locator('[data-sets="import"]').set_input_files(path)
    recorded.wait_until(
        f"document.getElementById('history-told').textContent.includes({json.dumps(said)})"
    )
    assert recorded.page.evaluate("JSON.stringify(localStorage)") == before
    assert recorded.page.title() != "run"


def test_latency_is_set_by_hand_or_by_tapping_and_kept(recorded: TakePage) -> None:
    page = recorded.page
    page.locator("summary", has_text="Latency").click()
    field = page.locator('[data-sets="latency"]')
    field.fill("60")
    field.press("Tab")
    assert recorded.text("latency-told") == "60 ms are taken off."
    assert page.evaluate("localStorage.getItem('reedmill:latency')") == "60"
    recorded.does("tap-click")
    recorded.wait_until(
        "document.getElementById('latency-told').textContent.startsWith('Tap with the click')"
    )
    recorded.does("tap")
    page.wait_for_timeout(200)
    recorded.does("tap-click")
    assert recorded.text("latency-told") == "Only 1 tap: tap at least 4 times with the click."
    assert field.input_value() == "60"


def test_nothing_of_a_take_left_the_page_and_nothing_went_wrong(recorded: TakePage) -> None:
    assert recorded.messages == []
    assert {each[:5] for each in recorded.asked} <= {"file:", "data:", "blob:"}
    assert len([each for each in recorded.asked if each.startswith("file:")]) == 1


# --- the live ladder ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def holding(
    player: Playwright, score: Score, file: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[TakePage]:
    """A page whose microphone hears draw 3 bent two semitones, 14 cents sharp, held and held."""
    [bent] = [note for note in played(score, lambda _: 14.0) if note.index == 5]
    held = replace(bent, start_s=0.0, end_s=60.0)
    take = take_file(tmp_path_factory.mktemp("held") / "held.wav", [held], 1.0)
    browser = hearing_browser(player, take)
    page = TakePage(browser.new_page(viewport={"width": DESK[0], "height": DESK[1]}), file)
    page.page.evaluate(
        "() => { window.readings = [];"
        "document.addEventListener('reedmill-reading', (e) => readings.push(e.detail)); }"
    )
    page.does("listen")
    page.wait_until("readings.filter((each) => each.tab === \"-3''\").length > 10")
    yield page
    browser.close()


def test_one_note_held_long_has_its_seconds_and_steadiness(holding: TakePage) -> None:
    page = holding.page
    page.locator("summary", has_text="More").click()
    page.locator('[data-sets="mode"]').select_option("held")
    page.locator('[data-sets="chosen"]').select_option("-3''")
    holding.wait_until(
        r"/^held [1-9][\d.]* s, within [0-4] cents/.test("
        "document.getElementById('mode-words').textContent)"
    )
    assert holding.text("chosen-words") == "Hole 3 draw"
    assert holding.text("heard-words") == "cents above -3'': bend a little deeper"
    page.locator('[data-sets="chosen"]').select_option("4")
    holding.wait_until(
        "document.getElementById('heard-words').textContent === 'is what you play; play 4'"
    )


def test_the_map_of_the_harp_marks_the_hole_that_is_heard(holding: TakePage) -> None:
    holding.page.locator('[data-sets="mode"]').select_option("map")
    holding.wait_until("document.querySelectorAll('#harp-map .heard-here').length > 0")
    lit = holding.page.locator("#harp-map .heard-here").all_text_contents()
    assert lit == ["-3''"]
    assert holding.text("mode-words") == "draw 3 bent two semitones"
    assert holding.page.locator("#harp-map th[scope=col]").all_text_contents() == [
        str(hole) for hole in range(1, 11)
    ]


def test_a_reading_on_a_tone_of_the_page_is_not_the_players_without_headphones(
    holding: TakePage,
) -> None:
    """The microphone hears -3'' on and on, which the page plays as its sixth note."""
    page = holding.page
    page.locator('[data-sets="mode"]').select_option("drill")
    page.evaluate("readings.length = 0")
    holding.does("play")
    holding.wait_until(
        "document.getElementById('told').textContent.startsWith('A pitch that the page itself')",
        30,
    )
    assert page.evaluate("readings.some((each) => each.hz === null && each.clarity > 0.8)")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Escape")
    assert holding.messages == []


# --- storage that is not there, and screens ---------------------------------------------------

GONE = """Object.defineProperty(window, 'localStorage', {
  get() { throw new DOMException('no', 'SecurityError'); } });"""


def test_a_page_without_storage_works_and_says_so(player: Playwright, file: Path) -> None:
    browser = player.chromium.launch(executable_path=chromium_program(), args=QUIET)
    page = browser.new_page()
    page.add_init_script(GONE)
    opened = TakePage(page, file)
    assert "keeps nothing for this page" in opened.text("history-told")
    page.locator("summary", has_text="My takes").click()
    opened.does("forget")
    opened.does("forget-all")
    assert opened.text("history-told").startswith("Forgotten: 0 takes of 0 drills")
    assert opened.messages == []
    browser.close()


def test_without_a_microphone_nothing_is_recorded_and_the_reason_is_told(
    player: Playwright, file: Path
) -> None:
    browser = player.chromium.launch(
        executable_path=chromium_program(), args=[*QUIET, "--deny-permission-prompts"]
    )
    opened = TakePage(browser.new_page(), file)
    opened.does("record")
    opened.wait_until("document.getElementById('told').textContent !== ''")
    assert opened.text("told").endswith("The page plays without it.")
    assert opened.page.locator('[data-does="record"]').get_attribute("aria-pressed") == "false"
    browser.close()


def test_silence_is_told_and_no_note_is_judged(
    player: Playwright, file: Path, tmp_path: Path
) -> None:
    quiet = tmp_path / "quiet.wav"
    soundfile.write(quiet, np.zeros(48_000 * 20), 48_000, subtype="PCM_16")
    browser = hearing_browser(player, quiet)
    opened = TakePage(browser.new_page(), file)
    opened.does("record")
    opened.wait_until("document.getElementById('take-told').textContent.startsWith('Recording')")
    opened.page.wait_for_timeout(4000)
    opened.does("record")
    opened.wait_until(
        "document.getElementById('take-told').textContent.startsWith("
        "'The microphone heard only silence.')"
    )
    assert opened.page.locator(".mark").count() == 0
    assert opened.page.evaluate("takes.length") == 0
    assert opened.messages == []
    browser.close()


def test_a_page_that_hears_takes_is_still_small(file: Path) -> None:
    assert file.stat().st_size < MOST_BYTES


@pytest.fixture(scope="module")
def plain(player: Playwright) -> Iterator[Browser]:
    browser = player.chromium.launch(executable_path=chromium_program(), args=QUIET)
    yield browser
    browser.close()


OPEN_ALL = """() => {
  for (const each of document.querySelectorAll('details')) each.open = true;
  for (const each of document.querySelectorAll('[hidden]')) each.hidden = false;
  document.querySelector('.ladders').style.position = 'static';
  document.querySelector('.controls').style.position = 'static';
}"""


@pytest.mark.parametrize("size", [PHONE, (768, 1000), DESK])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_all_of_a_take_fits_its_screen_and_is_accessible(
    plain: Browser, file: Path, size: tuple[int, int], scheme: Literal["light", "dark"]
) -> None:
    width, height = size
    page = plain.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
    opened = TakePage(page, file)
    row = page.evaluate("document.querySelector('.controls').getBoundingClientRect().height")
    assert row < 70  # one row of controls for the thumb
    assert page.locator(".ladders figure").first.is_visible()
    page.evaluate(OPEN_ALL)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, summary, input')]"
        ".filter((e) => e.checkVisibility())"
        ".map((e) => [e.dataset.does ?? e.dataset.sets ?? e.textContent,"
        " e.getBoundingClientRect().width, e.getBoundingClientRect().height])"
        ".filter(([, wide, high]) => wide < 44 || high < 44)"
    )
    assert small == []
    page.evaluate(AXE)
    found = page.evaluate("axe.run()")["violations"]
    assert [each["id"] for each in found] == []
    assert opened.messages == []
    page.close()
