"""What the practice page sounds like: its own sources, rendered by a browser without a speaker.

Pitch is read by Praat (parselmouth), onsets where the sound begins to rise; neither shares code
with us.  Targets are MIDI keys of the MIDI standard's table in equal temperament, A4 = 440 Hz,
and beats at a tempo.
"""

from __future__ import annotations

from base64 import b64decode
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import numpy as np
import parselmouth
import pytest
from markupsafe import Markup
from numpy.typing import NDArray
from playwright.sync_api import Page, sync_playwright

import reedmill
from browsers import QUIET, chromium_program
from opened_pages import blocks
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import find_drills
from reedmill.page.page_music import PageMusic
from reedmill.page.practice_page import page_around, practice_page
from reedmill.practice.practice import Practice, plan_recording
from reedmill.score.score import Note, Score
from reedmill.theory.intonation import JUST_5
from reedmill.theory.positions import Position

RATE = 48_000
LEAD_S = 0.08  # before the first tone, for the clock to be ahead of it
SHARES = (0.5, 1.0, 1.5)
NO_MUSIC = PageMusic(Markup(), ())
RENDERED = """async ({drill, page, wishes, seconds, rate, still}) => {
  if (still) delete page.sounds.manner.air;
  const { Player } = await import('/player.js');
  const { Timeline } = await import('/timeline.js');
  const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
  const { pulse, bar_beats: barBeats, sounds: { shapes } } = page;
  const timeline = new Timeline(drill, { pulse, barBeats, shapes });
  const player = new Player(context, timeline, page.sounds);
  player.play({ share: 1, loop: false, from: 0, to: timeline.length, click: false, countIn: 0,
    tones: true, drone: null, ...wishes });
  player.schedule(seconds);
  clearInterval(player.timer);
  const sound = await context.startRendering();
  const bytes = new Uint8Array(sound.getChannelData(0).buffer);
  let text = '';
  for (let n = 0; n < bytes.length; n += 32768) {
    text += String.fromCharCode(...bytes.subarray(n, n + 32768));
  }
  return btoa(text);
}"""


class Sources(SimpleHTTPRequestHandler):
    """The page's sources as modules, beside an empty page to run them in."""

    extensions_map = {".js": "text/javascript", "": "text/html"}  # noqa: RUF012  as the base has it

    def do_GET(self) -> None:
        """Serve a module, or the empty page."""
        if self.path.endswith(".js"):
            super().do_GET()
            return
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Print nothing."""


@pytest.fixture(scope="module")
def browser_page() -> Iterator[Page]:
    sources = Path(reedmill.__file__).parent.parent / "page" / "src"
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Sources, directory=str(sources)))
    Thread(target=server.serve_forever, daemon=True).start()
    with sync_playwright() as found:
        browser = found.chromium.launch(executable_path=chromium_program(), args=QUIET)
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{server.server_port}/")
        yield page
        browser.close()
    server.shutdown()
    server.server_close()


def rendered(
    page: Page, score: Score, seconds: float,
    made: Callable[[Score], bytes] = practice_page, still: bool = True, **wishes: object,
) -> NDArray[np.float32]:  # fmt: skip
    """What the page plays of *score*; *still* is without the noise of the breath, for its pitch."""
    data = blocks(made(score))
    facts: dict[str, Any] = {
        "drill": data["reedmill-timeline"]["drills"][0], "page": data["reedmill-page"],
        "wishes": wishes, "seconds": seconds, "rate": RATE, "still": still,
    }  # fmt: skip
    return np.frombuffer(b64decode(page.evaluate(RENDERED, facts)), "<f4")


def cents_of(sound: NDArray[np.float32], near_hz: float) -> float:
    pitch = parselmouth.Sound(sound.astype(np.float64), RATE).to_pitch_ac(
        time_step=0.005, pitch_floor=near_hz * 0.6, pitch_ceiling=near_hz * 1.9, very_accurate=True
    )
    found = np.asarray(pitch.selected_array["frequency"])
    assert len(found) > 2
    assert found.min() > 0, "Praat hears no pitch"
    return float(np.max(np.abs(1200 * np.log2(found / near_hz))))


def onset_s(sound: NDArray[np.float32], from_s: float, to_s: float) -> float:
    """Where the sound leaves silence between two moments."""
    first, last = int(from_s * RATE), int(to_s * RATE)
    loud = np.flatnonzero(np.abs(sound[first:last]) > 1e-4)
    assert len(loud), "no sound"
    return float(first + loud[0]) / RATE


def drill(title: str, harp: str) -> Score:
    [found] = find_drills(title)
    return expand(found, Harp.parse(harp), Position(2))


def key_hz(note: Note) -> float:
    return 440.0 * 2 ** ((note.pitch.midi - 69) / 12)


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize(
    ("title", "harp"),
    [
        ("Home from every rung", "low F"),
        ("Stairs in one breath", "C"),
        ("Triplets on one note", "A"),
        ("Shuffle walk", "F#"),
        ("Pick-up to the root", "Db"),
    ],
)
def test_every_tone_is_in_tune_and_in_time_at_any_tempo(
    browser_page: Page, title: str, harp: str, share: float
) -> None:
    score = drill(title, harp)
    scale = 1 / share
    most = min(float(score.seconds(score.length)) * scale, 30.0)
    sound = rendered(browser_page, score, most + 1, share=share)
    before_s = 0.0
    for attack in score.attacks():
        starts = [LEAD_S + scale * float(score.performed_s(note.start)) for note in attack]
        silent = [score.seconds(score.silent_from(note)) for note in attack]
        ends = [LEAD_S + scale * float(each_s) for each_s in silent]
        if ends[-1] > most:
            break
        assert onset_s(sound, before_s, ends[-1]) == pytest.approx(starts[0], abs=0.001)
        for note, start_s, end_s in zip(attack, starts, ends, strict=True):
            glide_s = min(0.08, (end_s - start_s) / 2) if note.joined else 0.003
            steady = sound[int((start_s + glide_s + 0.005) * RATE) : int((end_s - 0.022) * RATE)]
            if len(steady) > 8 * RATE / key_hz(note):
                assert cents_of(steady, key_hz(note)) < 0.5, (note.reed.tab, start_s)
        before_s = ends[-1] - 0.002  # the end of a breath is silent
    assert before_s > 0


def test_a_tone_that_breathes_is_in_tune_on_the_page(browser_page: Page) -> None:
    """Praat's mean over three seconds with the noise of the breath, by its own lowest pitch."""
    [found] = parse("drill \"Held\"\n  tempo 60\n  play 2:3 -3'':3 ~-3:3 8:3")
    score = expand(found, Harp("C"), Position(2))

    def made(each: Score) -> bytes:
        return page_around(each, NO_MUSIC)

    breathing, still = (
        rendered(browser_page, score, 13.0, made, still=each) for each in (False, True)
    )
    for number, note in enumerate(score.notes):
        first = int((LEAD_S + 3 * number + 0.1) * RATE)
        sound = parselmouth.Sound(breathing[first : first + int(2.2 * RATE)].astype(float), RATE)
        pitch = sound.to_pitch_ac(pitch_ceiling=1.9 * note.hz, very_accurate=True)
        off = 1200 * np.log2(pitch.selected_array["frequency"] / key_hz(note))
        assert abs(float(np.mean(off))) < 0.05, note.reed.tab
        assert 15 < np.median(sound.to_harmonicity_cc().values) < 25
    assert cents_of(still[int(10 * RATE) : int(11 * RATE)], key_hz(score.notes[-1])) < 0.01


def test_the_page_follows_an_intonation_and_another_a4(browser_page: Page) -> None:
    """The minor third of just intonation is 6/5 of the root, the major third 5/4."""
    [found] = find_drills("Home from every rung")
    score = expand(found, Harp("C"), Position(2), intonation=JUST_5, reference_hz=443.0)
    root_hz = 443.0 * 2 ** (-2 / 12)  # G under A4
    sound = rendered(browser_page, score, 12.0)
    ratios = {"1": 1.0, "♭3": 6 / 5, "3": 5 / 4}
    heard = set()
    for note in score.notes:
        start_s, end_s = (
            LEAD_S + float(score.performed_s(each)) for each in (note.start, note.end)
        )
        if note.degree.printed in ratios and end_s < 12:
            wanted = root_hz * ratios[note.degree.printed]
            wanted *= 2.0 ** round(np.log2(note.hz / wanted))
            steady = sound[int((start_s + 0.01) * RATE) : int((end_s - 0.03) * RATE)]
            assert cents_of(steady, wanted) < 0.5
            heard.add(note.degree.printed)
    assert heard == set(ratios)


def strength(sound: NDArray[np.float32], hz: float) -> float:
    """How strong a sine of *hz* is in *sound*."""
    turns = np.exp(-2j * np.pi * hz * np.arange(len(sound)) / RATE) * np.hanning(len(sound))
    return float(np.abs(np.mean(sound * turns)))


def test_several_holes_and_marks_of_style_sound_as_they_are_written(browser_page: Page) -> None:
    """At 60 beats a minute a beat is a second; notes by the MIDI standard's table."""
    g4, bes4, b4, d5, f5 = (440.0 * 2 ** ((key - 69) / 12) for key in (67, 70, 71, 74, 77))
    text = """drill "Held"
  tempo 60
  play -2&3:2 shake6 -4&5:1 r -3:1~:2 -3'':3 slap -4:2 vibrato4 -4:2
"""
    score = expand(parse(text)[0], Harp("C"), Position(2))
    whole = rendered(browser_page, score, 13.0, lambda each: page_around(each, NO_MUSIC))

    def at(from_s: float, to_s: float) -> NDArray[np.float32]:
        return whole[int((LEAD_S + from_s) * RATE) : int((LEAD_S + to_s) * RATE)]

    chord = at(0.1, 1.9)
    assert strength(chord, g4) > 0.3 * strength(chord, b4) > 0.09 * strength(chord, g4)
    for out in (2 ** (-10 / 1200), 2 ** (10 / 1200)):  # 10 cents beside it there is less
        assert all(strength(chord, hz * out) < 0.5 * strength(chord, hz) for hz in (g4, b4))
    for turn in range(12):  # six times to and fro in a beat, the lower hole first
        half = at(2 + turn / 12 + 0.01, 2 + (turn + 1) / 12 - 0.01)
        lower = strength(half, d5) > 2 * strength(half, f5)
        assert lower == (turn % 2 == 0), turn
        assert lower or strength(half, f5) > 2 * strength(half, d5)
    assert cents_of(at(4.1, 4.9), b4) < 0.5
    assert cents_of(at(5.95, 6.05), bes4) < 15  # half way from B to A
    assert cents_of(at(7.05, 7.9), 440.0) < 0.5
    assert strength(at(8.0, 8.06), b4) > 20 * strength(at(8.3, 8.36), b4)
    assert cents_of(at(8.2, 9.9), d5) < 0.5
    assert cents_of(at(10.1, 11.9), d5) == pytest.approx(20, abs=1.5)


@pytest.mark.parametrize("bars", [0, 1, 2, 4])
def test_an_echo_leaves_open_what_a_recording_leaves_open(browser_page: Page, bars: int) -> None:
    for title in (
        "Home from every rung",
        "Stairs in one breath",
        "Shuffle walk",
        "Pick-up to the root",
    ):
        score = drill(title, "C")
        data = blocks(practice_page(score))
        open_bars = browser_page.evaluate(
            """async ({drill, page, bars}) => {
              const { Timeline, stretchesOf } = await import('/timeline.js');
              const timeline = new Timeline(drill, { pulse: page.pulse, barBeats: page.bar_beats });
              const found = stretchesOf(timeline, 0, timeline.length, bars);
              return found.map((each) => [each.first, each.last, each.open]);
            }""",
            {
                "drill": data["reedmill-timeline"]["drills"][0],
                "page": data["reedmill-page"],
                "bars": bars,
            },
        )
        plan = plan_recording(score, Practice(echo_bars=bars))
        assert open_bars == [[each.first, each.last, each.guide == 0] for each in plan.passes]
