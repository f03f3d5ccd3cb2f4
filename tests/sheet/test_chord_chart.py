"""The chord chart: what stands in its boxes, and where it says the notes are.

music21 (from the registries) spells the chords and knows their notes; pypdfium2 reads the page.
"""

from __future__ import annotations

import re
from functools import cache

import music21
import numpy as np
import pypdfium2
import pytest

import oracles
from reedmill.band.arranger import arrange
from reedmill.band.backing_parser import parse_band
from reedmill.band.shelf import find_feel, find_form, shipped_forms
from reedmill.harp import Harp
from reedmill.score.arrangement import Arrangement
from reedmill.sheet.chart_grid import LEAST_CAPITAL_MM, chart_bars
from reedmill.sheet.chart_notes import where_its_tones_are
from reedmill.sheet.chord_chart import chord_chart
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position
from shelf_samples import forms_of_each_shape

FORMS = [str(form.title) for form in shipped_forms()]


def band(form: str, harp: str = "C", position: int = 2, choruses: int = 3) -> Arrangement:
    key = Position(position).key(Harp.parse(harp).fifths)
    return arrange(find_form(form), find_feel("Rumba"), key, choruses=choruses)


def drawn(played: Arrangement, harp: str, position: int, look: Look) -> pypdfium2.PdfDocument:
    with Engraver() as engraver:  # which refuses whatever LilyPond has to say
        engraver.feed(chord_chart(played, Harp.parse(harp), Position(position), look))
        [pdf] = engraver.sheets(1)
    return pypdfium2.PdfDocument(pdf)


@pytest.mark.parametrize("chord", ["I7", "IV9", "V7", "ii7", "i7", "bVI7", "#ivdim7"])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_the_reeds_of_a_tone_sound_what_music21_finds_in_the_chord(chord: str, number: int) -> None:
    for harp in oracles.HARPS:
        root = oracles.root(harp, number)
        name = Chord.parse(chord)
        kind = {"": "major"}.get(name.quality, name.quality)
        above = music21.pitch.Pitch(midi=60 + (root.pitchClass + name.root.semitones) % 12)
        symbol = music21.harmony.ChordSymbol(f"{above.name}{kind}")
        found = where_its_tones_are(name, Harp.parse(harp), Position(number))
        tabs = [tab for several in found.values() for tab in several]
        inside = {
            tab
            for tab in oracles.PLAIN_TABS
            if oracles.sounding(harp, tab) % 12 in symbol.pitchClasses
        }
        assert set(tabs) == inside
        assert len(tabs) == len(inside)
        roots = {oracles.sounding(harp, tab) % 12 for tab in found["1"]}
        assert roots <= {symbol.root().pitchClass}


@pytest.mark.parametrize("form", FORMS)
def test_a_chart_has_every_bar_of_the_form_with_its_chords(form: str) -> None:
    played, written = band(form), find_form(form)
    for chorus, last in ((0, False), (2, True)):
        bars = chart_bars(played, chorus)
        assert [bar.number for bar in bars] == list(range(1, len(written.bars) + 1))
        said = [[chord.name for _, chord in bar.chords] for bar in bars]
        meant = [[each.chord.name for each in bar] for bar in written.chorus(last=last)]
        assert said == meant


CROWD = """\
form "Crowd"
  bars I7 vi7 ii7 V7 | #ivdim7 iim7b5 V7#9 bII7 | I7 IV7:3 | I7 V7
  bars I7 x4
  ending bVIImaj7 V7 ii7 V7 | I7
"""
# 64 bars, the most a form may have.
LONG = "form \"Long way round\"\n" + 8 * (
    "  bars I7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7\n  bars IV7 | #ivdim7 | I7 VI7 | ii7 V7\n"
) + "  ending ii7 V7 | I7\n"  # fmt: skip


PAGES = {
    "twelve on A4": ("Twelve bars", Look()),
    "twelve in large print": ("Twelve bars", Look("letter", large=True)),
    "a crowd on Letter": (CROWD, Look("letter")),
    "a crowd in large print": (CROWD, Look(large=True)),
    "long on A4": (LONG, Look()),
    "long in large print": (LONG, Look("letter", large=True)),
}
every_page = pytest.mark.parametrize(("form", "look"), PAGES.values(), ids=PAGES)


def played(form: str, harp: str, position: int) -> Arrangement:
    """A form of the shelf by its name, or the text of one, in a swung feel."""
    found = parse_band(form, "mine.form")[0] if "\n" in form else find_form(form)
    key = Position(position).key(Harp.parse(harp).fifths)
    return arrange(found, find_feel("Medium shuffle"), key, choruses=3)  # type: ignore[arg-type]


@cache
def chart(form: str, harp: str, position: int, look: Look) -> pypdfium2.PdfDocument:
    return drawn(played(form, harp, position), harp, position, look)


# A root with a sharp, a meter with its swing, a position with its name: all are long.
WIDEST = ("low F#", 3)

Box = tuple[float, float, float, float]  # left, bottom, right and top in points


def letters(page: pypdfium2.PdfPage) -> list[tuple[str, Box]]:
    text = page.get_textpage()
    found = [(text.get_text_range(n, 1), text.get_charbox(n)) for n in range(text.count_chars())]
    return [(letter, box) for letter, box in found if box[2] > box[0] and box[3] > box[1]]


@every_page
def test_nothing_is_printed_over_anything_or_outside_the_margins(form: str, look: Look) -> None:
    """Position and key, swing and tempo, chords and numerals of one bar: all keep apart.

    Letters of one word may lean into each other by less than a point.
    """
    edge = MARGIN_MM * 72 / 25.4 - 1
    for page in chart(form, *WIDEST, look):
        left, low, right, high = np.array([box for _, box in letters(page)]).T
        assert (left > edge).all()
        assert (right < page.get_width() - edge).all()
        across = np.minimum.outer(right, right) - np.maximum.outer(left, left)
        along = np.minimum.outer(high, high) - np.maximum.outer(low, low)
        over = np.argwhere(np.triu((across > 0.9) & (along > 0.9), 1))
        assert not len(over), [letters(page)[n] for n in over[0]]


def below_the_title(page: pypdfium2.PdfPage) -> float:
    """Under the large letters of a title, 25 mm from the top."""
    return float(page.get_height()) - 25 / 25.4 * 72


@every_page
def test_the_root_of_every_chord_is_read_at_two_metres(form: str, look: Look) -> None:
    """A letter a two hundred and fiftieth of the distance high: common practice of signs."""
    least = 2000 / 250 / 25.4 * 72
    assert LEAST_CAPITAL_MM == 8
    tall = [
        letter
        for page in chart(form, *WIDEST, look)
        for letter, (_, bottom, _, top) in letters(page)
        if letter in "ABCDEFG" and top - bottom >= 0.99 * least and top < below_the_title(page)
    ]
    bars = [*chart_bars(played(form, *WIDEST), 0)]
    last = chart_bars(played(form, *WIDEST), 2)
    bars += last[next(n for n, bar in enumerate(last) if bars[n] != bar) :]
    assert sum(len(bar.chords) for bar in bars) == len(tall)


@pytest.mark.parametrize("form", [str(form.title) for form in forms_of_each_shape()])
def test_a_chart_of_the_shelf_fills_one_page(form: str) -> None:
    """No more than a seventh of the page is empty in one piece.

    Forms of more than sixteen bars may have the notes of their chords on a page after them.
    """
    document = chart(form, "F#", 3, Look("letter" if FORMS.index(form) % 2 else "a4"))
    pages = [page.get_textpage().get_text_range() for page in document]
    assert len(pages) == 1 or (len(pages) == 2 and len(find_form(form).bars) > 16)
    said = " ".join(pages)
    for words in (form, "F", "3rd", "where their notes are", "root"):
        assert words in said
    dark = np.asarray(document[0].render(scale=1).to_pil().convert("L")).min(axis=1) < 200
    inked = np.flatnonzero(dark)
    assert np.diff(inked).max() < document[0].get_height() / 7


@pytest.mark.parametrize(("form", "look"), [*PAGES.values()][2:], ids=[*PAGES][2:])
def test_every_page_has_its_head_and_foot_and_no_heading_stands_alone(
    form: str, look: Look
) -> None:
    document = chart(form, *WIDEST, look)
    name = played(form, *WIDEST).form
    foot = f"{name} · low F\u266f harp, 3rd position"
    assert 1 < len(document) < 6
    for number, page in enumerate(document, start=1):
        lines = page.get_textpage().get_text_range().split("\r\n")
        lines = [line.strip() for line in lines if line.strip()]
        whole = "".join(lines).replace(" ", "")  # a sign of another font may break a line
        head = foot.replace("\u266f", "").replace(" ", "")  # there it comes after the words
        assert lines[0] == name if number == 1 else whole.startswith(head)
        assert number == 1 or "continued" in " ".join(lines[:4])
        assert whole.endswith(foot.replace(" ", ""))
        caution = next(n for n, line in enumerate(lines) if line.startswith("Rest lips"))
        over = " ".join(lines[max(0, caution - 3) : caution])
        assert "the last time" not in over
        assert "where their notes are" not in over


def test_usual_forms_take_one_page_in_large_print_too() -> None:
    assert len(chart("Sixteen bars", "F#", 3, Look("letter", large=True))) == 1
    assert len(chart("Twelve bars", *WIDEST, Look("letter", large=True))) == 1


def test_equal_charts_are_equal_bytes() -> None:
    played = band("Twelve bars")
    source = [chord_chart(played, Harp("C"), Position(2), Look()) for _ in range(2)]
    assert source[0] == source[1]


def test_a_title_is_text_and_never_a_command() -> None:
    title = 'x\\" #(system \\"touch pwned\\") \\\\include'
    [form] = parse_band(f'form "{title}"\n  bars I7 | V7 | I7\n', "hostile.form")
    key = Position(2).key(0)
    played = arrange(form, find_feel("Rumba"), key, choruses=1)  # type: ignore[arg-type]
    page = drawn(played, "C", 2, Look())[0].get_textpage().get_text_range()
    assert "#(system" in page


def test_a_chart_tells_in_their_bars_what_stops_and_where_you_are_alone() -> None:
    for form, word, bars in (
        ("Twelve bars, stop-time", "stop", [1, 2, 3, 4]),
        ("Twelve bars with a break", "break", [3, 4]),
    ):
        marked = {bar.number: bar.word for bar in chart_bars(band(form), 0) if bar.word}
        assert marked == dict.fromkeys(bars, word)
        said = chart(form, "C", 2, Look())[0].get_textpage().get_text_range()
        assert len(re.findall(rf"\b\d+ *{word}\b", said)) == len(bars)


def test_no_page_is_turned_inside_a_form_for_larger_bars() -> None:
    bars, notes = chart("Thirty-two bars with a bridge", "C", 1, Look())
    numbers = set(bars.get_textpage().get_text_range().split())
    assert {str(number) for number in range(1, 33)} <= numbers
    assert "the last time" in bars.get_textpage().get_text_range()
    assert "where their notes are" in notes.get_textpage().get_text_range()
