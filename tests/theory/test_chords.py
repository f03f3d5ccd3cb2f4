"""Chords: their names, symbols and tones against music21, which knows both notations."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from typing import Any

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bands import alone, arrangement
from oracles import beside
from reedmill.base.errors import InputError
from reedmill.formats.chord_symbols import _KINDS, harmonies
from reedmill.theory.chords import QUALITIES, Chord, semitones_of, sign_in_front
from reedmill.theory.degrees import Degree
from reedmill.theory.positions import Key

# The major keys of up to six sharps or flats, as music21 writes their tonics; the number is
# that of the sharps, flats below 0 (the circle of fifths).
KEYS = {
    "G-": -6, "D-": -5, "A-": -4, "E-": -3, "B-": -2, "F": -1, "C": 0, "G": 1, "D": 2, "A": 3,
    "E": 4, "B": 5, "F#": 6,
}  # fmt: skip

# The same chord as music21 writes it in a major key, where a plain 7 is the scale's own.
IN_MUSIC21 = {
    "I": "I", "i": "i", "I7": "Ib7", "i7": "ib7", "IV7": "IVb7", "V7": "V7", "ii7": "ii7",
    "iv7": "iv7", "vi7": "vi7", "VI7": "VI7", "bVI7": "bVIb7", "bVII": "bVII",
    "bVII7": "bVIIb7", "bIII7": "bIIIb7", "Imaj7": "I7", "IVmaj7": "IV7", "I6": "I[add6]",
    "V9": "V9", "ii9": "ii9", "#ivdim7": "#ivo7", "iim7b5": "iiø7", "viim7b5": "viiø7",
    "viidim": "viio", "Iaug": "I+", "I7#9": "Ib7[add#9]", "V7b9": "V7[addb9]",
    "VI7b9": "VI7[addb9]",
}  # fmt: skip

# Every quality on C as music21 reads it on a lead sheet, with the one alternative name of a
# tone that it does not choose: its thirteenth chord also has the eleventh, which players
# leave out because it rubs against the third (common practice).
LEFT_OUT = {"13": {5}}


def pitch_classes(chord: Chord, key: Key) -> set[int]:
    root = key.pitch_class + chord.root.semitones
    return {(root + step) % 12 for _, step in chord.tones}


def in_music21(symbol: str) -> Any:
    """The chord of a symbol: only its root's own flat is written - there."""
    root = symbol[:2] if symbol[1:2] in ("b", "#") else symbol[:1]
    return music21.harmony.ChordSymbol(root.replace("b", "-") + symbol[len(root) :])


@pytest.mark.parametrize("name", IN_MUSIC21)
def test_a_degree_is_the_roman_numeral_of_music21_in_every_key(name: str) -> None:
    chord = Chord.parse(name)
    for tonic, sharps in KEYS.items():
        numeral = music21.roman.RomanNumeral(IN_MUSIC21[name], music21.key.Key(tonic))
        key = Key(sharps, minor=False)
        assert pitch_classes(chord, key) == {pitch.pitchClass for pitch in numeral.pitches}
        root = numeral.root().name.replace("-", "b")
        if len(root) < 3:  # Abb is written G
            assert chord.symbol(key).startswith(root), (tonic, root)


@pytest.mark.parametrize("quality", QUALITIES)
def test_a_symbol_means_the_same_tones_on_a_lead_sheet(quality: str) -> None:
    for sharps in range(-6, 7):
        key = Key(sharps, minor=False)
        chord = Chord(Degree(1), quality)
        read = {pitch.pitchClass for pitch in in_music21(chord.symbol(key)).pitches}
        extra = {(key.pitch_class + step) % 12 for step in LEFT_OUT.get(quality, ())}
        assert pitch_classes(chord, key) == read - extra


@pytest.mark.parametrize("quality", QUALITIES)
def test_each_tone_is_the_interval_its_name_says(quality: str) -> None:
    """Interval sizes: music21."""
    for name, semitones in Chord(Degree(1), quality).tones:
        number = int(name.lstrip("b#"))
        plain = music21.scale.MajorScale("C4").pitchFromDegree((number - 1) % 7 + 1)
        altered = name.count("#") - name.count("b")
        above = plain.midi - 60 + 12 * ((number - 1) // 7)
        assert semitones == semitones_of(name) == above + altered


@given(
    st.integers(1, 7), st.integers(-1, 1), st.sampled_from(sorted(QUALITIES)), st.integers(-6, 7)
)
def test_a_name_is_read_back_and_its_case_tells_the_third(
    number: int, alter: int, quality: str, sharps: int
) -> None:
    chord = Chord(Degree(number, alter), quality)
    assert Chord.parse(chord.name) == chord
    small = chord.name.lstrip("b#")[0].islower()
    assert small == ("b3" in dict(chord.tones))
    symbol = chord.symbol(Key(sharps, minor=False))
    assert "bb" not in symbol
    assert "##" not in symbol
    assert (
        in_music21(symbol).root().pitchClass
        == (Key(sharps, minor=False).pitch_class + chord.root.semitones) % 12
    )


def kinds_of_musicxml() -> set[str]:
    """The names of kinds of chord in the schema of MusicXML 4.0."""
    schema = ET.parse(beside("musicxml", "generate_classes/musicxml_4_0.xsd"))  # noqa: S314
    xs = "{http://www.w3.org/2001/XMLSchema}"
    [kinds] = [t for t in schema.iter(f"{xs}simpleType") if t.get("name") == "kind-value"]
    return {each.attrib["value"] for each in kinds.iter(f"{xs}enumeration")}


def test_every_quality_is_a_chord_of_musicxml_that_music21_reads() -> None:
    assert set(_KINDS) == set(QUALITIES)
    kinds = kinds_of_musicxml()
    for at, quality in enumerate(QUALITIES):
        chord = Chord(Degree(1 + at % 7), quality)
        band = replace(arrangement(beats=4), chords=((Fraction(0), chord),))
        score = alone(band)
        [(_, element)] = harmonies(score)
        assert element.findtext("kind") in kinds
        read = music21.musicxml.xmlToM21.MeasureParser().xmlToChordSymbol(element)
        root = score.key.pitch_class + chord.root.semitones
        extra = {(root + step) % 12 for step in LEFT_OUT.get(quality, ())}
        heard = {pitch.pitchClass for pitch in read.pitches}
        assert heard - extra == pitch_classes(chord, score.key), quality


# How lead sheets write the same chords: common practice, no published source.
SAME = {
    "ii7": "IIm7", "iim7b5": "ii\u00f87", "viidim7": "VII\u00b07", "Imaj7": "IM7", "i7": "i-7",
    "bVII": "\u266dVII", "#ivdim7": "\u266fivo7", "V7sus4": "v7sus", "Iaug": "I+",
}  # fmt: skip


# A flat or sharp behind the numeral, as some say it aloud, by hand; "Vb9" leaves a doubt.
BEHIND = {
    "VIIb7": "bVII7",
    "VIIb": "bVII",
    "IIIb9": "",
    "iv#dim7": "#ivdim7",
    "Vb9": "",
    "Vb": "bV",
}


@pytest.mark.parametrize(("text", "meant"), BEHIND.items())
def test_a_flat_behind_its_numeral_is_put_in_front(text: str, meant: str) -> None:
    assert sign_in_front(text) == meant
    with pytest.raises(InputError, match=f"write {meant}" if meant else "Write one of"):
        Chord.parse(text)


@pytest.mark.parametrize(("name", "also"), SAME.items())
def test_other_habits_of_writing_are_read(name: str, also: str) -> None:
    assert Chord.parse(also).name == name


@pytest.mark.parametrize(
    "text", ["", "7", "C7", "F", "VIII", "Iv7", "I77", "iimaj7", "bbVII", "b", "I 7", "H", "I7 "]
)
def test_what_is_no_chord_is_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(InputError, match=r"Write (its degree|one of)"):
        Chord.parse(text)


@given(st.text(max_size=12))
def test_any_text_is_a_chord_or_a_message(text: str) -> None:
    try:
        chord = Chord.parse(text)
    except InputError:
        return
    assert Chord.parse(chord.name) == chord


def test_roles_of_the_notes_over_the_three_chords_of_cross_harp() -> None:
    """By hand: over G7 of G, the b7 is F; over C7, Bb; B rubs against both C and Bb."""
    one, four = Chord.parse("I7"), Chord.parse("IV7")
    assert [one.role(step) for step in (0, 4, 7, 10, 22)] == ["root", "third", "fifth", "b7", "b7"]
    assert [four.role(step) for step in (5, 9, 0, 3)] == ["root", "third", "fifth", "b7"]
    assert one.role(5) == four.role(4) == "tension"
    assert one.role(2) == "passing"
    assert Chord.parse("i7").role(3) == "b3"
    assert one.tone(5) is None
