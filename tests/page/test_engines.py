"""The practice page in three engines: Chromium's, Firefox's and WebKit's.

Each opens the page from the disk, plays, loops and listens; none has anything to say on its
console, and no word of a stranger is run by any of them.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Page, sync_playwright

from browsers import QUIET, chromium_program
from engines import FAKE_HZ, Engine, firefox, wait_until, webkit
from pack_builds import built, write_course
from reedmill.base.text import ForeignText
from reedmill.pack.pages.chapter import Chapter, Exercise, Front
from reedmill.pack.site.app_files import ICONS, packaged
from reedmill.pack.site.index_page import Site, site_html
from reedmill.page.practice_page import PageBand, practice_page, practice_pages
from reedmill.score.score import Score
from serving import serving
from tunes import score_from

MUSIC = "-2 -3 -2 -3' -2 -3'' -2:2"
NEAR_CENTS = 2
BAND_S = 0.06  # a browser's own clock of a media element may step by a buffer


class Chromium:
    """Chromium over Playwright."""

    def __init__(self, page: Page) -> None:
        self._page = page
        self._said: list[str] = []
        page.on("console", lambda message: self._said.append(message.text))
        page.on("pageerror", lambda error: self._said.append(str(error)))

    def open(self, address: str) -> None:
        """Open *address* and wait until it is loaded."""
        self._said.clear()
        self._page.goto(address)

    def evaluate(self, expression: str) -> Any:
        """The value of *expression* in the page, which may be a promise."""
        return self._page.evaluate(f"async () => await ({expression})")

    def click(self, selector: str) -> None:
        """Click on what *selector* finds, as a person does."""
        self._page.locator(selector).first.click()

    def said(self) -> list[str]:
        """The messages on the console, and errors nobody caught."""
        return self._said


@contextmanager
def chromium() -> Iterator[Chromium]:
    microphone = ["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream"]
    with sync_playwright() as player:
        found = player.chromium.launch(
            executable_path=chromium_program(), args=[*QUIET, *microphone]
        )
        yield Chromium(found.new_page())
        found.close()


ENGINES: dict[str, Callable[[], AbstractContextManager[Engine]]] = {
    "chromium": chromium, "firefox": firefox, "webkit": webkit,
}  # fmt: skip


@pytest.fixture(scope="module", params=ENGINES)
def named(request: pytest.FixtureRequest) -> Iterator[tuple[str, Engine]]:
    with ENGINES[request.param]() as found:
        yield request.param, found


@pytest.fixture
def engine(named: tuple[str, Engine]) -> Engine:
    return named[1]


@pytest.fixture(scope="module")
def score() -> Score:
    return score_from(MUSIC, tempo=120)


@pytest.fixture(scope="module")
def address(score: Score, tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_bytes(practice_page(score))
    return path.as_uri()


def opened(engine: Engine, address: str) -> None:
    """Open the page and note what it tells."""
    engine.open(address)
    engine.evaluate(
        """(() => {
          window.readings = []; window.lit = [];
          document.addEventListener('reedmill-reading', (e) => readings.push(e.detail));
          document.addEventListener('reedmill-note', (e) => lit.push(e.detail.index));
        })()"""
    )


def test_it_plays_and_lights_every_note_in_turn(engine: Engine, address: str) -> None:
    opened(engine, address)
    engine.click('[data-does="play"]')
    wait_until(engine, "lit.length >= 7")
    assert engine.evaluate("lit") == list(range(7))
    wait_until(engine, "document.querySelector('[data-does=play]').ariaPressed === 'false'")
    assert engine.said() == []


def test_it_loops_between_two_notes_that_are_chosen(engine: Engine, address: str) -> None:
    opened(engine, address)
    engine.click('[data-does="loop"]')
    for number in (1, 2):  # by the buttons that keys and screen readers reach
        engine.evaluate(f"document.querySelector('[data-note=\"{number}\"]').click()")
    engine.click('[data-does="play"]')
    wait_until(engine, "lit.length >= 6")
    assert engine.evaluate("lit.slice(0, 6)") == [1, 2] * 3
    engine.click('[data-does="play"]')
    assert engine.said() == []


def _sing(engine: Engine, hz: float) -> None:
    """Give the page a microphone in which *hz* sounds.

    WebKit's mock microphone has bleeps alone, and Chromium's too: a tone of the browser's own
    oscillator comes the same way, as a stream.
    """
    engine.evaluate(
        f"""(() => {{
          navigator.mediaDevices.getUserMedia = async () => {{
            const context = new AudioContext();
            const out = context.createMediaStreamDestination();
            const tone = new OscillatorNode(context, {{ frequency: {hz} }});
            tone.connect(new GainNode(context, {{ gain: 0.3 }})).connect(out);
            tone.start();
            await context.resume();
            return out.stream;
          }};
        }})()"""
    )


def test_it_hears_a_steady_tone_as_what_it_is(named: tuple[str, Engine], address: str) -> None:
    """440 Hz is MIDI key 69, draw 3 bent two semitones on a C harp."""
    name, engine = named
    opened(engine, address)
    if name != "firefox":  # whose fake microphone sings it
        _sing(engine, FAKE_HZ)
    engine.click('[data-does="listen"]')
    wait_until(engine, "readings.filter((each) => each.hz).length >= 40")
    heard = [each for each in engine.evaluate("readings") if each["hz"]]
    cents = 1200 * np.log2([each["hz"] / FAKE_HZ for each in heard[10:]])
    assert np.abs(cents).max() < NEAR_CENTS
    assert {each["tab"] for each in heard[10:]} == {"-3''"}
    engine.click('[data-does="listen"]')
    assert engine.said() == []


def test_it_hears_the_microphone_that_the_browser_gives(
    named: tuple[str, Engine], address: str
) -> None:
    """Bleeps of no known pitch in Chromium and WebKit, but they come."""
    _, engine = named
    opened(engine, address)
    engine.click('[data-does="listen"]')
    wait_until(engine, "readings.length >= 20")
    assert engine.evaluate("document.getElementById('told').textContent").startswith("Listening")
    engine.click('[data-does="listen"]')
    assert engine.evaluate("document.getElementById('told').textContent") == ""
    assert engine.said() == []


def test_a_take_is_recorded_and_judged(named: tuple[str, Engine], tmp_path: Path) -> None:
    """A held note of the pitch that is sung, 440 Hz: it is in its place in every engine."""
    name, engine = named
    path = tmp_path / "page.html"
    path.write_bytes(practice_page(score_from("-3'':4", tempo=120)))
    opened(engine, path.as_uri())
    engine.evaluate(
        "(() => { window.takes = [];"
        "document.addEventListener('reedmill-take', (e) => takes.push(e.detail)); })()"
    )
    if name != "firefox":
        _sing(engine, FAKE_HZ)
    engine.click('[data-does="record"]')
    wait_until(engine, "document.querySelector('[data-does=record]').ariaPressed === 'true'")
    time.sleep(5)
    engine.click('[data-does="record"]')
    wait_until(engine, "takes.length > 0")
    [note] = engine.evaluate("takes[0].passes[0].notes")
    assert note["verdict"] == "on"
    assert abs(note["cents"]) < NEAR_CENTS
    assert engine.evaluate("document.querySelectorAll('.staff.wide .mark').length") == 1
    engine.click('[data-does="listen"]')
    assert engine.said() == []


def test_the_band_plays_along_from_a_disk(engine: Engine, tmp_path: Path) -> None:
    """Twelve beats of half a second; in the first seven it is led to where the page is."""
    score = score_from("-2 -3 -2 -3' -2 -3'' -2 -4 -2 -3 -2 -4", tempo=120)
    path = tmp_path / "tune.page.html"
    band = PageBand(ending=".band.wav", first_s=1.0, tempo=120, tones=False)
    path.write_bytes(practice_pages([score], bands=[band])[0])
    hum = 0.1 * np.sin(2 * np.pi * 110 * np.arange(8 * 44_100) / 44_100)
    soundfile.write(tmp_path / "tune.band.wav", hum, 44_100)
    opened(engine, path.as_uri())
    engine.evaluate(
        """(() => {
          const Real = Audio;
          window.Audio = function () { window.band = new Real(); return band; };
          window.off = [];
          document.addEventListener('reedmill-note', (event) => {
            if (event.detail.index > 6) off.push(band.currentTime - 1 - event.detail.index / 2);
          });
          document.querySelector('details.more').open = true;
        })()"""
    )
    engine.evaluate("document.querySelector('[data-does=band]').click()")
    engine.click('[data-does="play"]')
    wait_until(engine, "off.length >= 5")
    assert np.median(np.abs(engine.evaluate("off"))) < BAND_S
    wait_until(engine, "document.querySelector('[data-does=play]').ariaPressed === 'false'")
    assert engine.evaluate("band.paused")
    assert engine.said() == []


RUN = "window.canary = 1"
HOSTILE = [
    f"</script><script>{RUN}</script>",
    f'"><img src=x onerror="{RUN}"><svg onload="{RUN}">',
    f"\u2028'+({RUN})+'`${{{RUN}}}`",
    f"<!--<script>{RUN}//",
    f"</title></style><iframe srcdoc='<script>parent.{RUN}</script>'>",
    "{{ 7 * 7 }}{% raw %}",
]


def _of_a_drill(score: Score, text: str) -> bytes:
    words = ForeignText(text)
    return practice_page(
        replace(score, title=words, about=words, listen=words, sections=((Fraction(0), words),))
    )


def _of_a_course(_: Score, text: str) -> bytes:
    exercise = Exercise("01-a", text, text, 2, text, 60, 70, text, text)
    chapter = Chapter(1, text, text, f"# {text}\n\n{text}", (exercise,))
    return site_html(Site(Front(text, text, text, text, (text, "C"), 1), (chapter,), ()))


@pytest.mark.parametrize("page", [_of_a_drill, _of_a_course])
def test_no_word_of_a_stranger_is_run(
    engine: Engine, score: Score, tmp_path: Path, page: Any
) -> None:
    for icon, *_ in ICONS:
        (tmp_path / icon).write_bytes(packaged(icon))
    for number, text in enumerate(HOSTILE):
        path = tmp_path / f"{number}.html"
        path.write_bytes(page(score, text))
        engine.open(path.as_uri())
        time.sleep(0.1)
        assert engine.evaluate("window.canary ?? 0") == 0, text
        assert engine.evaluate("document.querySelector('h1').textContent") == text
        assert engine.evaluate("document.querySelectorAll('img, iframe').length") == 0
        assert engine.said() == []


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pack")
    course = write_course(folder, formats='"page", "audio"', more='audio = ["mp3"]')
    built(course, folder / "out")
    return folder / "out"


def test_a_pack_that_was_kept_opens_sounds_and_plays_when_the_server_is_gone(
    engine: Engine, pack: Path
) -> None:
    """By its service worker, in every engine; a player jumps by asking for a range of bytes."""
    with serving(pack) as server:
        engine.open(f"{server.address}index.html")
        wait_until(engine, "navigator.serviceWorker.controller !== null")
        wait_until(engine, "!document.querySelector('.offline').hidden")
        engine.click('[data-does="keep"]')
        wait_until(engine, "document.getElementById('kept').textContent.startsWith('Everything')")
        assert engine.said() == []
        server.stop()
        engine.open(server.address)
        assert engine.evaluate("document.querySelector('h1').textContent") == "Evenings"
        at_s = engine.evaluate(
            """new Promise((resolve) => {
              const player = document.querySelector('audio');
              player.muted = true;
              player.preload = 'auto';
              player.addEventListener('canplay', () => { player.currentTime = 0.4; });
              player.addEventListener('seeked', () => resolve(player.currentTime));
              player.load();
            })"""
        )
        assert at_s == pytest.approx(0.4, abs=0.05)
        opened(engine, engine.evaluate("document.querySelector('.practice a').href"))
        engine.click('[data-does="play"]')
        wait_until(engine, "lit.length >= 2")
        assert engine.evaluate("lit") == [0, 1]
        assert engine.said() == []
