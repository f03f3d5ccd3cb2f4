"""The practice page: one file, which plays what is written and hears what is played."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
import soundfile
from markupsafe import Markup
from playwright.sync_api import Browser, Page, Playwright, sync_playwright

from browsers import AXE, DESK, PHONE, QUIET, SMALL_PHONE, chromium_program
from opened_pages import OpenedPage, blocks, hearing_browser
from reedmill.base.errors import RenderError
from reedmill.base.source import Span
from reedmill.base.text import ForeignText
from reedmill.expand import expand
from reedmill.harp import Harp, OwnReeds
from reedmill.language import parse
from reedmill.page.page_ladders import every_note, ladders
from reedmill.page.page_music import PageMusic
from reedmill.page.practice_page import page_around, practice_page, practice_pages
from reedmill.score.score import Caution, Score
from reedmill.sheet.screens import music_for_screens
from reedmill.theory.positions import Position
from tunes import score_from

MUSIC = "-2 -3 -2 -3' -2 -3'' -2:2"
TEMPO = 120
# Five natural notes and three bends by the MIDI standard's table of keys, A4 = 440 Hz.
KEYS = {"-3": 71, "1": 60, "-2": 67, "4": 72, "-4": 74, "-3'": 70, "-3''": 69, "-2'": 66}
PLAYED_CENTS = dict(zip(KEYS, (0.0, 6.0, -8.0, -12.0, 9.0, 14.0, 25.0, -21.0), strict=True))
MOST_BYTES = 200_000
RATE = 48_000


def hz(key: int, cents: float = 0.0) -> float:
    return 440.0 * 2 ** ((key - 69 + cents / 100) / 12)


@pytest.fixture(scope="module")
def score() -> Score:
    made = score_from(MUSIC, tempo=TEMPO)
    return replace(made, anchor_holes=made.notes[0].reeds)


@pytest.fixture(scope="module")
def made(score: Score) -> bytes:
    return practice_page(score)


@pytest.fixture(scope="module")
def file(made: bytes, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_bytes(made)
    return path


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five held notes and three bends of known cents, as sums of sines."""
    parts = [np.zeros(RATE // 2)]
    for tab, cents in PLAYED_CENTS.items():
        time_s = np.arange(RATE) / RATE
        phase = 2 * np.pi * hz(KEYS[tab], cents) * time_s
        tone = sum(share * np.sin((n + 1) * phase) for n, share in enumerate((1, 0.7, 0.5, 0.3)))
        parts += [
            0.1 * tone * np.minimum(1, 50 * np.minimum(time_s, 1 - time_s)),
            np.zeros(RATE // 5),
        ]
    path = tmp_path_factory.mktemp("take") / "take.wav"
    soundfile.write(path, np.concatenate(parts), RATE, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def player() -> Iterator[Playwright]:
    with sync_playwright() as found:
        yield found


@pytest.fixture(scope="module")
def listening(player: Playwright, take: Path) -> Iterator[Browser]:
    browser = hearing_browser(player, take)
    yield browser
    browser.close()


class Opened(OpenedPage):
    """An open page that notes its readings, and when notes light up."""

    def __init__(self, page: Page, file: Path) -> None:
        super().__init__(
            page,
            file,
            """window.readings = []; window.lit = [];
            document.addEventListener('reedmill-reading', (e) => readings.push(e.detail));
            document.addEventListener('reedmill-note',
              (e) => lit.push([performance.now(), e.detail]));""",
        )


@pytest.fixture
def opened(listening: Browser, file: Path) -> Iterator[Opened]:
    page = listening.new_page(viewport={"width": DESK[0], "height": DESK[1]})
    yield Opened(page, file)
    page.close()


def test_a_page_is_one_small_file_that_may_connect_nowhere(made: bytes) -> None:
    assert len(made) < MOST_BYTES
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', made.decode())
    assert policy
    assert "default-src 'none'" in policy[1]
    assert "connect-src 'none'" in policy[1]
    assert "unsafe" not in policy[1]
    assert not re.search(r"""(?:src|href)=["']?https?:""", made.decode())


def test_the_rungs_of_a_ladder_lie_where_the_reeds_are(score: Score) -> None:
    (ladder,) = ladders(score)
    assert ladder.words == "hole 3 draw"
    assert [(rung.tab, rung.name, rung.degree) for rung in ladder.rungs] == [
        ("-3", "B", "3"), ("-3'", "B♭", "♭3"), ("-3''", "A", "2"),
        ("-3'''", "A♭", "♭2"), ("-2", "G", "1"),
    ]  # fmt: skip
    assert [rung.used for rung in ladder.rungs] == [True, True, True, False, True]
    assert [rung.anchor for rung in ladder.rungs] == [False, False, False, False, True]
    for rung in ladder.rungs:
        assert rung.hz == pytest.approx(hz({**KEYS, "-3'''": 68}[rung.tab]), abs=1e-3)


def test_every_pitch_of_the_harp_is_known_once(score: Score) -> None:
    """A Richter harp with its bends and overbends is chromatic over three octaves."""
    pitches = [each for _, each in every_note(score)]
    cents = 1200 * np.diff(np.log2(pitches))
    assert np.allclose(cents, 100, atol=0.1)
    assert pitches[0] == pytest.approx(hz(60), abs=1e-3)  # blow 1 of a C harp
    assert pitches[-1] == pytest.approx(hz(97), abs=1e-3)  # draw 10 bent up: over its blow C


def test_the_wave_a_page_plays_is_that_of_the_reference_tones(made: bytes) -> None:
    """A table's amplitudes and phases are those that NumPy finds in a period of our sound."""
    from reedmill.harp import Reed
    from reedmill.sound.reed.colour import colour_of, colour_waves
    from reedmill.sound.signal.tone import period_of

    sounds = blocks(made)["reedmill-page"]["sounds"]
    for table in sounds["tables"]:
        colour = colour_of(Reed.parse(table["tab"]))
        wave = period_of(colour_waves(colour, table["hz"], table["hz"], RATE))
        spectrum = np.fft.rfft(wave.values) / 4096
        count = len(table["harmonics"])
        told = (
            np.array(table["harmonics"]) / 100_000 * np.exp(1j * np.array(sounds["phases"][:count]))
        )
        assert np.allclose(spectrum[1 : count + 1], told, atol=2e-5)


HOSTILE = [
    "</script><script>document.title='run'</script>",
    "<img src=x onerror=\"document.title='run'\">",
    "\u2028'+(document.title='run')+'",
    "<!--<script>",
    "]]>&lt;b&gt;",
    "{{ 7 * 7 }}{% raw %}",
    'x" #(system "touch pwned") "',
    '\\" #(system "touch pwned") } \\include "/etc/passwd"',
    "</div></svg><svg onload=\"document.title='run'\">",
    "</style><style>* { display: none }",
]


def with_words(score: Score, text: str) -> Score:
    """*score* with *text* wherever a stranger's words can stand."""
    words = ForeignText(text)
    layout = replace(score.harp.layout, name=words)
    own = OwnReeds.of(text, {score.notes[0].reed: 9.0})
    span = Span(text, 1, 1)
    return replace(
        score, title=words, about=words, listen=words, sections=((Fraction(0), words),),
        harp=replace(score.harp, layout=layout, own=own), origin=text, variant=(text,),
        notes=tuple(replace(note, span=span) for note in score.notes),
        warnings=(Caution(text, span),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def hostile_pages(score: Score) -> dict[str, bytes]:
    scores = [with_words(score, text) for text in HOSTILE]
    return dict(zip(HOSTILE, practice_pages(scores), strict=True))


@pytest.mark.parametrize("text", HOSTILE)
def test_a_strangers_words_are_shown_and_never_run(
    listening: Browser, hostile_pages: dict[str, bytes], tmp_path: Path, text: str
) -> None:
    path = tmp_path / "hostile.html"
    path.write_bytes(hostile_pages[text])
    page = listening.new_page()
    opened = Opened(page, path)
    assert page.title() != "run"
    assert page.locator("h1").text_content() == text
    assert page.locator(".music h2").text_content() == text
    assert page.locator("img").count() == 0
    assert page.locator("script").count() == 3
    assert opened.messages == []
    page.close()


def test_no_word_of_a_stranger_reaches_lilypond_or_changes_the_music(
    score: Score, hostile_pages: dict[str, bytes]
) -> None:
    """Names of sections stand over the staff as text of the page, not in its picture."""
    plain = music_for_screens([with_words(score, "plain")]).source
    for text, page in hostile_pages.items():
        assert music_for_screens([with_words(score, text)]).source == plain
        assert staffs(page) == staffs(hostile_pages[HOSTILE[0]])


def staffs(page: bytes) -> list[str]:
    found = re.findall('<div class="staff .*?</div>', page.decode(), re.S)
    assert len(found) == 3
    return found


def test_without_lilypond_a_page_is_refused_as_a_sheet_is(
    score: Score, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page without its staff would be half a page."""
    monkeypatch.setitem(sys.modules, "lilypond", None)
    monkeypatch.setenv("PATH", "/nowhere")
    with pytest.raises(RenderError, match="LilyPond is missing, which draws the sheets"):
        practice_page(score)


class Words(HTMLParser):
    """What a screen reader is told of the notes."""

    def __init__(self) -> None:
        super().__init__()
        self.notes: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what a note is called."""
        named = dict(attrs)
        if tag == "button" and "data-note" in named:
            self.notes.append(named["aria-label"] or "")


def test_every_note_says_what_it_is(score: Score, made: bytes) -> None:
    reader = Words()
    reader.feed(made.decode())
    assert len(reader.notes) == len(score.notes)
    assert reader.notes[3] == "draw 3 bent a semitone, B♭, degree ♭3, 1 beat"
    assert reader.notes[6] == "draw 2, G, degree 1, 2 beats"


def test_five_held_notes_and_three_bends_are_shown_within_two_cents(
    opened: Opened, score: Score
) -> None:
    opened.page.click('[data-does="listen"]')
    opened.page.wait_for_timeout(11_000)
    readings = [each for each in opened.page.evaluate("readings") if each["hz"]]
    for tab, cents in PLAYED_CENTS.items():
        heard = [each["cents"] for each in readings if each["tab"] == tab]
        assert len(heard) > 10, tab
        assert np.median(heard) == pytest.approx(cents, abs=2)
    # How many a try leaves is the Node tests' matter: a busy machine's microphone stutters.
    marks = opened.page.locator(".footprints line").all()
    on_ladders = set(PLAYED_CENTS) & {note.reed.tab for note in score.notes}
    assert len({round(float(mark.get_attribute("y1") or "nan")) for mark in marks}) == len(
        on_ladders
    )
    assert opened.messages == []
    assert len(opened.asked) == 1  # the page itself
    assert {each[:5] for each in opened.asked} <= {"file:", "data:"}


def test_notes_light_up_in_time(opened: Opened) -> None:
    opened.page.click('[data-does="play"]')
    opened.wait_until("lit.length >= 7")
    lit = opened.page.evaluate("lit")
    assert [detail["index"] for _, detail in lit] == list(range(7))
    moments_s = np.array([at for at, _ in lit]) / 1000
    # 120 beats a minute; a picture lasts 17 ms, and a busy machine drops some of them.
    assert np.allclose(moments_s - moments_s[0], 0.5 * np.arange(7), atol=0.12)
    assert opened.messages == []


def test_a_microphone_that_is_refused_is_told_in_a_sentence(player: Playwright, file: Path) -> None:
    browser = player.chromium.launch(
        executable_path=chromium_program(), args=[*QUIET, "--deny-permission-prompts"]
    )
    opened = Opened(browser.new_page(), file)
    opened.page.click('[data-does="listen"]')
    opened.wait_until("document.getElementById('told').textContent !== ''")
    said = opened.page.locator("#told").text_content() or ""
    assert said.startswith(("The microphone is not allowed here.", "No microphone was found."))
    assert said.endswith("The page plays without it.")
    browser.close()


@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE, (768, 1000), DESK])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_page_fits_its_screen_and_is_accessible(
    listening: Browser, file: Path, size: tuple[int, int], scheme: Literal["light", "dark"]
) -> None:
    width, height = size
    page = listening.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
    opened = Opened(page, file)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for box in page.evaluate(
        "[...document.querySelectorAll('button, select, summary')]"
        ".filter((e) => e.checkVisibility())"
        ".map((e) => [e.getBoundingClientRect().width, e.getBoundingClientRect().height])"
    ):
        assert min(box) >= 44, box
    page.evaluate(AXE)
    found = page.evaluate("axe.run()")["violations"]
    assert [each["id"] for each in found if each["impact"] in {"serious", "critical"}] == []
    assert opened.messages == []
    page.close()


@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE, DESK])
def test_open_controls_lie_over_the_ladder_and_can_all_be_reached(
    listening: Browser, file: Path, size: tuple[int, int]
) -> None:
    page = listening.new_page(viewport={"width": size[0], "height": size[1]})
    page.goto(file.as_uri())
    page.click('summary:has-text("More")')
    reached = page.evaluate(
        """() => [...document.querySelectorAll('.controls button, .controls select')]
          .filter((each) => each.offsetParent !== null)
          .map((each) => {
            each.scrollIntoView({ block: 'nearest' });
            const { left, top, width, height } = each.getBoundingClientRect();
            const there = document.elementFromPoint(left + width / 2, top + height / 2);
            return [each.dataset.does ?? each.dataset.sets, each.contains(there), height >= 44];
          })"""
    )
    assert len(reached) > 8
    assert [name for name, on_top, large in reached if not (on_top and large)] == []
    page.close()


def test_a_page_explains_the_signs_it_has_and_no_others() -> None:
    def signs(music: str) -> list[str]:
        [drill] = parse(f'drill "Signs"\n  play {music}\n')
        played = expand(drill, Harp("C"), Position(2))
        page = page_around(played, PageMusic(Markup(), ())).decode()
        listed = page.partition("What the signs mean")[2].partition("</ul>")[0]
        return re.findall("<li>(.*)</li>", listed)

    usual = signs("-2 -3'")
    assert [each for each in signs("-1&4 slap -2 vibrato4 -4:2 -3q") if each not in usual] == [
        "-1&amp;4 (a square for each): the tongue covers the holes between.",
        "-3q: a quarter tone lower.",
        "slap: a chord for an instant, then the note.",
        "vibrato4 (a wave): 4 waves a beat.",
    ]
