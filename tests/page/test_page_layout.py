"""What a student sees of a page: nothing is hidden, cut or unsaid, on any screen and on paper."""

from __future__ import annotations

import html
import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from bands import arrangement, under
from opened_pages import OpenedPage, blocks
from reedmill.base.text import printable
from reedmill.ear import Take
from reedmill.expand.expansion import expand
from reedmill.harp import Harp, OwnReeds, Reed
from reedmill.library import find_drills, usual_position
from reedmill.listening import Told, told_by
from reedmill.page.page_ladders import PageLadder, ladders
from reedmill.page.page_takes import take_facts
from reedmill.page.practice_page import practice_pages
from reedmill.score.score import Score
from reedmill.theory.intonation import JUST_5
from reedmill.theory.positions import Position
from tunes import score_from

MUSIC = "-2 -3 -2 -3' -2 -2' -2 -2'' -2 4 -4 5 -5 6 -6 -4"
OWN_NAME = "<b>my harp</b>"
# CSS pixels: small and usual phones upright; a phone on its side; a desk of 1280 x 800 magnified
# twice, and one of 1280 x 1024 four times (WCAG 2.1, 1.4.10).
UPRIGHT = ((320, 568), (360, 640), (390, 844))
LOW = ((568, 320), (640, 400), (320, 256))
WIDE = ((768, 1024), (1280, 800))
LEAST_LETTERS = 12  # pixels of CSS, of a ladder on any screen


@pytest.fixture(scope="module")
def scores() -> dict[str, Score]:
    made = score_from(MUSIC, tempo=60)
    made = replace(made, anchor_holes=made.notes[0].reeds, about=printable("About it."))
    own = OwnReeds.of(OWN_NAME, {Reed.parse("-2"): 9.0})
    tuned = replace(
        made, harp=replace(made.harp, own=own), reference_hz=442.5, intonation=JUST_5,
        variant=("large <b>",),
    )  # fmt: skip
    return {"plain": made, "tuned": tuned, "band": under(made, arrangement(beats=16))}


@pytest.fixture(scope="module")
def made(scores: dict[str, Score]) -> dict[str, bytes]:
    return dict(
        zip(scores, practice_pages(list(scores.values()), home="../index.html"), strict=True)
    )


@pytest.fixture(scope="module")
def file(made: dict[str, bytes], tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_bytes(made["plain"])
    return path


def opened(browser: Browser, file: Path, size: tuple[int, int]) -> OpenedPage:
    viewport: Any = {"width": size[0], "height": size[1]}
    return OpenedPage(browser.new_page(viewport=viewport, reduced_motion="reduce"), file)


# Whether an element is in sight whole: in the window, and nothing else on its corners and middle.
SEEN = """() => { window.seen = (element, part = element) => {
  const { left, top, right, bottom } = part.getBoundingClientRect();
  if (top < -0.5 || bottom > innerHeight + 0.5) return false;
  if (left < -0.5 || right > innerWidth + 0.5) return false;
  const places = [[left + 4, top + 4], [right - 4, top + 4], [left + 4, bottom - 4],
    [right - 4, bottom - 4], [(left + right) / 2, (top + bottom) / 2]];
  return places.every(([x, y]) => {
    const there = document.elementFromPoint(x, y);
    return there !== null && (element.contains(there) || there.contains(element));
  });
}; }"""


def seen(page: OpenedPage, selector: str) -> bool:
    page.page.evaluate(SEEN)
    found: bool = page.page.evaluate("(what) => seen(document.querySelector(what))", selector)
    return found


PLACES = """() => [scrollY, ...[...document.querySelectorAll(
    '.staff, .ladders, .controls [data-does=play], .controls summary')]
  .filter((e) => e.checkVisibility()).map((e) => e.getBoundingClientRect().top)]"""


def test_what_the_page_says_is_seen_beside_the_controls_and_moves_nothing(
    browser: Browser, file: Path
) -> None:
    with opened(browser, file, (360, 640)) as page:
        before = page.page.evaluate(PLACES)
        page.page.click('[data-does="listen"]')
        page.wait_until("document.getElementById('told').textContent !== ''")
        assert seen(page, "#told")
        assert page.page.locator("#told").get_attribute("role") == "status"
        assert page.page.evaluate(PLACES) == before

        # What is said of a take stands under the music: while that is out of sight, here too.
        page.page.evaluate("document.getElementById('take-told').textContent = '6 of 7 in place.'")
        page.wait_until("!document.getElementById('take-said').hidden")
        assert seen(page, "#take-said")
        assert page.page.locator("#take-said").text_content() == "6 of 7 in place."
        page.page.locator("#take-told").scroll_into_view_if_needed()
        page.wait_until("document.getElementById('take-said').hidden")
        page.page.evaluate("document.getElementById('headphones').hidden = false")
        for what in ("headphones", "speakers"):
            assert seen(page, f'[data-does="{what}"]')

        # The next press takes the old words away, and may bring its own.
        page.page.click('[data-does="slower"]')
        assert page.page.locator("#told").text_content() == ""
        page.page.click(".more summary")
        page.page.click('[data-does="loop"]')
        assert seen(page, "#told")
        for what in ("loop", "tones", "faster"):
            assert seen(page, f'[data-does="{what}"]')


def test_a_message_does_not_stay_over_music_that_is_played(browser: Browser, file: Path) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 640})
    page.clock.install()
    with OpenedPage(page, file) as it:
        tell = "(words) => { document.getElementById('told').textContent = words; }"
        for playing in (True, False):
            page.evaluate(
                "(on) => document.querySelector('[data-does=play]')"
                ".setAttribute('aria-pressed', String(on))",
                playing,
            )
            page.evaluate(tell, f"Said while it plays: {playing}.")
            page.clock.run_for(2_000)
            assert seen(it, "#told")
            page.clock.run_for(10_000)
            assert seen(it, "#told") is not playing


LINES = """() => {
  const line = [...document.querySelectorAll('.staff')].find((e) => e.checkVisibility())
    .querySelector('svg');
  line.scrollIntoView({ block: 'nearest' });
  return seen(line.closest('.music'), line);
}"""


@pytest.mark.parametrize("size", [*UPRIGHT, *LOW, *WIDE])
def test_on_every_screen_a_line_of_music_has_room_and_ladders_can_be_read(
    browser: Browser, file: Path, size: tuple[int, int]
) -> None:
    with opened(browser, file, size) as page:
        page.page.evaluate(SEEN)
        bar = page.page.locator(".controls").bounding_box()
        assert bar
        assert bar["height"] < 70  # one row of controls
        page.page.evaluate("scrollTo(0, document.body.scrollHeight)")
        assert page.page.evaluate(LINES)
        page.page.evaluate("scrollTo(0, 0)")
        assert page.page.evaluate(LINES)
        page.page.evaluate(OPEN_ALL)
        assert page.page.evaluate("document.documentElement.scrollWidth") <= size[0]
        page.page.select_option('[data-sets="mode"]', "note")
        assert page.page.evaluate(CUT) == []
        page.page.select_option('[data-sets="mode"]', "drill")
        # They are measured, and grow, once the picture has its new size.
        page.wait_until(f"(({LETTERS})()).length > 0")
        page.wait_until(f"Math.min(...({LETTERS})()) >= {LEAST_LETTERS - 0.2}")
        assert page.messages == []


OPEN_ALL = """() => {
  for (const each of document.querySelectorAll('details')) each.open = true;
  for (const each of document.querySelectorAll('.row')) each.hidden = false;
}"""
# Options that their select cannot show whole beside its arrow.
CUT = """() => {
  const ruler = document.createElement('canvas').getContext('2d');
  return [...document.querySelectorAll('select')].filter((e) => e.checkVisibility())
    .flatMap((select) => {
      const style = getComputedStyle(select);
      ruler.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
      const beside = parseFloat(style.paddingLeft) + parseFloat(style.paddingRight) + 20;
      const room = select.clientWidth - beside;
      return [...select.options].map((each) => each.text)
        .filter((text) => ruler.measureText(text).width > room);
    });
}"""
LETTERS = """() => [...document.querySelectorAll('.ladders figure svg')]
  .filter((e) => e.checkVisibility({ visibilityProperty: true }) && e.childElementCount)
  .map((e) => [e.getScreenCTM().a, getComputedStyle(e.querySelector('text')).fontSize])
  .map(([scale, size]) => scale * parseFloat(size))"""

FOCUSED = """() => {
  const at = document.activeElement;
  if (at === document.body) return null;
  const box = at.dataset.note === undefined ? at : [...document.querySelectorAll('.focused rect')]
    .find((e) => e.checkVisibility());
  return [at.dataset.does ?? at.dataset.sets ?? at.dataset.note ?? at.textContent.trim(),
          seen(at.dataset.note === undefined ? at : box.closest('svg'), box)];
}"""


@pytest.mark.parametrize("size", [(360, 640), (568, 320), (320, 256)])
def test_whatever_has_the_focus_is_in_sight_and_nothing_lies_on_it(
    browser: Browser, file: Path, size: tuple[int, int]
) -> None:
    with opened(browser, file, size) as page:
        page.page.evaluate(SEEN)
        page.page.evaluate(
            "document.querySelectorAll('.takes details').forEach((e) => { e.open = true; })"
        )
        found: list[list[Any]] = []
        while len(found) < 100:
            page.page.keyboard.press("Tab")
            there = page.page.evaluate(FOCUSED)
            if there is None:
                break
            found.append(there)
            if there[0] == "More":
                page.page.keyboard.press("Enter")
        names = [name for name, _ in found]
        assert {"0", "15", "export", "import", "latency", "play", "climb", "tempo"} <= {*names}
        assert [name for name, shown in found if not shown] == []
        assert "" not in names  # what has nothing in it is not stopped at


def test_keys_skip_to_the_music_and_escape_closes_more(browser: Browser, file: Path) -> None:
    with opened(browser, file, (360, 640)) as page:
        keys = page.page.keyboard
        keys.press("Tab")
        skip = page.page.locator(":focus")
        assert skip.text_content() == "Skip to the music"
        assert seen(page, ".skips a")
        keys.press("Enter")
        assert page.page.evaluate("document.activeElement.className") == "music"
        ladder, music = (page.page.locator(each).bounding_box() for each in (".ladders", ".music"))
        assert ladder
        assert music
        assert ladder["y"] + ladder["height"] <= music["y"] + 1
        keys.press("Tab")
        assert page.page.evaluate("document.activeElement.dataset.note") == "0"

        page.page.click('[data-does="play"]')
        page.page.click(".more summary")
        page.page.locator('[data-sets="echo"]').focus()
        keys.press("Escape")
        assert not page.page.evaluate("document.querySelector('.more').open")
        assert page.page.evaluate("document.activeElement.textContent") == "More"
        playing = page.page.locator('[data-does="play"]')
        assert playing.get_attribute("aria-pressed") == "true"  # one Escape does one thing
        keys.press("Escape")
        assert playing.get_attribute("aria-pressed") == "false"


def test_a_phone_shows_the_ladder_of_the_note_that_is_played(browser: Browser, file: Path) -> None:
    with opened(browser, file, (360, 640)) as page:
        shown = page.page.locator("figcaption:visible")
        for tab, words in {
            "-3'": "Hole 3 draw",
            "-2''": "Hole 2 draw",
            "-2": "Hole 2 draw",
        }.items():
            page.page.evaluate(
                "(tab) => document.dispatchEvent("
                "new CustomEvent('reedmill-note', { detail: { index: 0, tab } }))",
                tab,
            )
            assert shown.all_text_contents() == [words]
        before = page.page.evaluate(PLACES)
        page.page.evaluate(
            "document.dispatchEvent(new CustomEvent('reedmill-note', "
            '{ detail: { index: 0, tab: "-3\'" } }))'
        )
        assert page.page.evaluate(PLACES) == before


def test_paper_has_the_drill_and_nothing_of_the_program(browser: Browser, file: Path) -> None:
    with opened(browser, file, (1280, 800)) as page:
        page.page.evaluate("document.getElementById('told').textContent = 'Listening.'")
        text = PdfReader(io.BytesIO(page.page.pdf(format="A4"))).pages[0].extract_text()
        for word in ("Test tune", "C harp", "position", "G", "A = 440 Hz", "About it."):
            assert word in text
        assert not re.search(
            "Listen|Play|Record|Skip|All lessons|take|dizzy|Hole|signs mean|More", text
        )


def shown(page: bytes, inside: str) -> str:
    """What stands between the tags of the only element that *inside* matches."""
    [found] = re.findall(inside, page.decode(), re.S)
    return html.unescape(re.sub("<[^>]*>", "", found))


TUNING = r"<dt>tuning</dt><dd>(.*?)</dd>"


def test_a_page_says_how_it_is_tuned(made: dict[str, bytes]) -> None:
    assert shown(made["plain"], TUNING) == "A = 440 Hz, equal temperament"
    tuned = f"A = 442.5 Hz, 5-limit just intonation, tuned as {OWN_NAME}"
    assert shown(made["tuned"], TUNING) == tuned
    assert OWN_NAME.encode() not in made["tuned"]


def test_what_is_saved_of_a_take_is_called_as_the_file_of_its_page(
    made: dict[str, bytes],
) -> None:
    ears = {name: blocks(page)["reedmill-page"]["ear"] for name, page in made.items()}
    assert ears["plain"]["file"] == "test-tune-c-2nd"
    assert ears["tuned"]["file"] == "test-tune-c-2nd-tuned-as-b-my-harp-b-large-b-a442-5-just5"


def test_a_take_that_a_page_saved_tells_hear_how_it_was_tuned() -> None:
    """`hear` reads drill, harp, position, A4 and intonation from a file's name."""
    [drill] = find_drills("Home from every rung")
    score = expand(drill, Harp.parse("Bb"), Position(2), intonation=JUST_5, reference_hz=442.5)
    name = f"{take_facts(score)['file']}-take-2027-01-31-18-05-00.wav"
    told = told_by(Take.of(np.zeros(10), name))
    assert told == Told(drill.title, "bb", "2nd", None, 442.5, "just5")


def test_chords_of_a_band_are_explained_where_they_stand(made: dict[str, bytes]) -> None:
    assert "the band's chords" in shown(made["band"], r'<p class="chords">(.*?)</p>')
    assert b'class="chords"' not in made["plain"]


# --- which reeds have a ladder ----------------------------------------------------------------


def of(title: str) -> tuple[PageLadder, ...]:
    [drill] = find_drills(title)
    return ladders(expand(drill, Harp.parse("C"), usual_position(drill)))


def tabs(ladder: PageLadder) -> list[str]:
    return [rung.tab for rung in ladder.rungs]


def test_a_drill_without_bends_has_ladders_of_the_notes_that_may_sink() -> None:
    """Draw 2, 3 and 4 of a Richter harp bend by 2, 3 and 1 semitones; blow 6 does not bend."""
    found = {ladder.words: ladder for ladder in of("The home chord")}
    assert set(found) == {"hole 2 draw", "hole 3 draw", "hole 4 draw"}
    assert tabs(found["hole 2 draw"])[:3] == ["-2", "-2'", "-2''"]
    used = {rung.tab for ladder in found.values() for rung in ladder.rungs if rung.used}
    assert used == {"-2", "-3", "-4"}


def test_notes_that_cannot_bend_have_no_ladder_and_no_empty_card() -> None:
    score = score_from("4 5 6 5 4", tempo=60)
    assert ladders(score) == ()
    [page] = practice_pages([score])
    assert page.count(b"<figure") == 1  # that of the note a student chooses
    assert b"Press Listen, then play" in page


def test_the_ladder_of_an_overblow_has_both_notes_of_its_hole_under_it() -> None:
    """Overblow 6 of a C harp is B flat, a semitone over draw 6 (A); blow 6 is G."""
    [ladder] = of("Overblow 6")
    assert ladder.words == "hole 6 blow"
    assert [(rung.tab, rung.name) for rung in ladder.rungs] == [
        ("6^", "B\N{MUSIC FLAT SIGN}"), ("-6", "A"), ("6", "G"),
    ]  # fmt: skip


def test_an_anchor_more_than_an_octave_away_is_not_on_the_ladder() -> None:
    score = score_from("3 -6 3 -6'", tempo=60)  # G4 and A5, on a C harp
    [ladder] = ladders(replace(score, anchor_holes=score.notes[0].reeds))
    assert tabs(ladder) == ["-6", "-6'"]
