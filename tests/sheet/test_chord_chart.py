"""The chord chart: what stands in its boxes, and where it says the notes are.

music21 (from the registries) spells the chords and knows their notes; pypdfium2 reads the page.
"""

from __future__ import annotations

from functools import cache

import music21
import pypdfium2
import pytest

import oracles
from reedmill.band.arranger import arrange
from reedmill.band.backing_parser import parse_band
from reedmill.band.shelf import find_feel, find_form, shipped_forms
from reedmill.harp import Harp
from reedmill.score.arrangement import Arrangement
from reedmill.sheet.chord_chart import chart_bars, chord_chart, where_its_tones_are
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position

FORMS = [form.title for form in shipped_forms()]


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


LOOKS = [Look(), Look("letter", large=True)]


@cache
def chart(form: str, look: Look) -> pypdfium2.PdfDocument:
    return drawn(band(form, "F#", 3), "F#", 3, look)


@pytest.mark.parametrize("look", LOOKS, ids=["a4", "large"])
@pytest.mark.parametrize("form", ["Twelve bars", "Sixteen bars", "Two and five"])
def test_a_chart_is_one_page_within_its_margins(form: str, look: Look) -> None:
    document = chart(form, look)
    assert len(document) == 1
    page = document[0]
    text = page.get_textpage()
    edge, width = MARGIN_MM * 72 / 25.4 - 1, page.get_width()
    for index in range(text.count_chars()):
        left, _, right, _ = text.get_charbox(index)
        assert left == right or edge < left < right < width - edge
    said = text.get_text_range()
    for words in (form, "F", "3rd", "the last time", "where their notes are", "root"):
        assert words in said


def test_a_form_with_crowded_bars_keeps_its_chords_apart() -> None:
    """Every letter of a box ends before the next chord of it begins."""
    text = 'form "Crowd"\n  bars I7 #ivdim7 | iim7b5 V7#9 bII7 V7\n  ending bVIImaj7 | I7\n'
    [form] = parse_band(text, "crowd.form")
    key = Position(2).key(Harp("Bb").fifths)
    played = arrange(form, find_feel("Rumba"), key, choruses=2)  # type: ignore[arg-type]
    page = drawn(played, "Bb", 2, Look())[0].get_textpage()
    boxes = [page.get_charbox(index) for index in range(page.count_chars())]
    inked = [box for box in boxes if box[2] > box[0] and box[3] > box[1]]
    for at, one in enumerate(inked):
        for two in inked[at + 1 :]:
            across = min(one[2], two[2]) - max(one[0], two[0])
            along = min(one[3], two[3]) - max(one[1], two[1])
            assert not (across > 0.9 and along > 0.9), (one, two)


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
