"""Pitches, keys, positions, degrees and tunings, against music21 and published tables."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21.scale import scala

from oracles import degree_by_spelling
from reedmill.base.errors import InputError
from reedmill.harp import Harp, layout_named
from reedmill.theory.degrees import CHROMATIC, RAISED_FOURTH, Degree, spell
from reedmill.theory.intonation import (
    BLUE_NOTES,
    EQUAL,
    INTONATIONS,
    JUST_5,
    JUST_7,
    intonation_named,
)
from reedmill.theory.meter import Meter
from reedmill.theory.pitch import LETTERS, Pitch, equal_hz, tonic_on_fifths
from reedmill.theory.positions import Key, Position, spelled
from together import together

# The keys harps are sold in and the major signature of each: music21's circle of fifths.
HARPS = ["G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#"]
POSITIONS = range(1, 13)
every_harp = together("harp", HARPS)
every_position = together("number", POSITIONS)

# Octaves from 0: music21 would read the minus of C-1 as a flat.
pitches = st.builds(Pitch, st.sampled_from(LETTERS), st.integers(-2, 2), st.integers(0, 9))


def in_music21(name: str) -> Any:
    """The music21 pitch of a name of ours, whose flats are b where music21 writes -."""
    return music21.pitch.Pitch(name.replace("b", "-"))


@cache
def signature(tonic: str, mode: str) -> int:
    """Sharps of a key, flats negative, as music21 knows them."""
    return int(music21.key.Key(tonic.replace("b", "-"), mode).sharps)


@cache
def position_pitch_class(harp: str, number: int) -> int:
    """The root of a position: number - 1 perfect fifths above the harp's key."""
    root = in_music21(harp)
    for _ in range(number - 1):
        root = root.transpose("P5")
    return int(root.pitchClass)


@cache
def natural_classes(harp: str) -> frozenset[int]:
    return frozenset(
        p.pitchClass for p in music21.scale.MajorScale(harp.replace("b", "-")).getPitches()
    )


def key_of(harp: str, number: int) -> Key:
    return Position(number).key(signature(harp, "major"))


# --- pitches ---


@given(pitches)
def test_a_pitch_has_the_key_number_and_frequency_music21_gives_its_name(pitch: Pitch) -> None:
    """ISO 16:1975 for A4 = 440 Hz."""
    theirs = in_music21(pitch.name)
    assert pitch.midi == theirs.ps  # ps, not midi, which music21 folds into 0..127
    assert equal_hz(pitch.midi) == pytest.approx(theirs.frequency, rel=1e-12)


@given(pitches)
def test_parsing_a_pitch_name_gives_the_pitch_back(pitch: Pitch) -> None:
    assert Pitch.parse(pitch.name) == pitch


@pytest.mark.parametrize("name", ["", "H4", "c4", "C", "Cbbb4", "C#b4", "4C", "C4 ", "C--4"])
def test_other_words_are_no_pitch(name: str) -> None:
    with pytest.raises(ValueError, match="not a pitch name"):
        Pitch.parse(name)


@pytest.mark.parametrize(
    ("name", "hz"),
    # Printed in many tables of equal temperament at A4 = 440 Hz (ISO 16:1975), to 4 digits.
    [("C4", 261.6256), ("F2", 87.3071), ("B4", 493.8833), ("A4", 440.0), ("C8", 4186.0090)],
)
def test_frequencies_of_equal_temperament(name: str, hz: float) -> None:
    assert equal_hz(Pitch.parse(name).midi) == pytest.approx(hz, abs=5e-5)


def test_a_reference_of_442_moves_every_note_alike() -> None:
    assert equal_hz(60, 442.0) == pytest.approx(in_music21("C4").frequency * 442 / 440, rel=1e-12)


@pytest.mark.parametrize("fifths", range(-12, 13))
def test_the_line_of_fifths(fifths: int) -> None:
    root = in_music21("C")
    for _ in range(abs(fifths)):
        root = root.transpose("P5" if fifths > 0 else "-P5")
    letter, alter = tonic_on_fifths(fifths)
    assert (letter, alter) == (root.step, root.alter)


# --- positions ---


@every_harp
@every_position
def test_the_root_of_a_position_lies_fifths_above_the_harp(harp: str, number: int) -> None:
    key = key_of(harp, number)
    assert key.pitch_class == position_pitch_class(harp, number)
    assert in_music21(key.name).pitchClass == key.pitch_class


@every_harp
@every_position
def test_signatures_are_those_of_music21_and_roots_keep_the_harps_side(
    harp: str, number: int
) -> None:
    key = key_of(harp, number)
    mode = "minor" if key.minor else "major"
    assert key.sharps == signature(key.name, mode)
    assert -6 <= key.sharps <= 6  # twelve keys of each mode, see the circle of fifths
    root = in_music21(harp.split()[-1].replace("b", "-"))
    for _ in range(number - 1 if number <= 7 else 13 - number):
        root = root.transpose("P5" if number <= 7 else "-P5")
    counted = signature(root.name.replace("-", "b"), mode) if abs(root.alter) < 2 else 99
    if -6 <= counted <= 6:  # the fifths counted from the harp's own name can be written
        assert key.name == root.name.replace("-", "b")


# Common practice, no published source; the scales themselves are music21's.
MODES = {
    1: music21.scale.MajorScale,  # ionian
    2: music21.scale.MixolydianScale,
    3: music21.scale.DorianScale,
    4: music21.scale.MinorScale,  # aeolian
    5: music21.scale.PhrygianScale,
    6: music21.scale.LocrianScale,
    12: music21.scale.LydianScale,
}


@every_harp
@pytest.mark.parametrize("number", MODES)
def test_natural_notes_form_the_mode_of_the_position(harp: str, number: int) -> None:
    key = key_of(harp, number)
    scale = MODES[number](key.name.replace("b", "-"))
    theirs = {degree_by_spelling(key.name, p.name.replace("-", "b")) for p in scale.getPitches()}
    lowest = in_music21(f"{harp}4").midi
    ours = {Position(number).degree(lowest + above, key).name for above in (0, 2, 4, 5, 7, 9, 11)}
    assert ours == theirs
    # Written with a minor signature exactly when the mode has a minor third.
    assert key.minor == ("b3" in theirs)


@every_harp
@pytest.mark.parametrize(
    ("number", "mode"),
    [(1, "ionian"), (2, "mixolydian"), (3, "dorian"), (4, "aeolian"), (5, "phrygian"),
     (6, "locrian"), (12, "lydian")],
)  # fmt: skip
def test_a_mode_has_the_signature_of_the_harp(harp: str, number: int, mode: str) -> None:
    """Whichever of two names the root got, the two signatures are twelve fifths apart."""
    in_mode = signature(key_of(harp, number).name, mode)
    assert (in_mode - signature(harp, "major")) % 12 == 0


# What players say after the root: the mode's own name, "major" and "minor" for ionian and
# aeolian, and nothing in cross harp.  Common practice; the order of the modes is music21's.
SAID = {1: "major", 2: "", 3: "dorian", 4: "minor", 5: "phrygian", 6: "locrian", 12: "lydian"}


@every_harp
@every_position
def test_a_position_is_called_by_its_mode_and_cross_harp_by_its_root(
    harp: str, number: int
) -> None:
    words = Harp(harp).key_words(Position(number))
    name, _, mode = words.partition(" ")
    assert mode == SAID.get(number, "")
    assert in_music21(name).pitchClass == position_pitch_class(harp, number)


@pytest.mark.parametrize(
    ("layout", "number", "words"),
    # Their natural notes by hand: a Country harp has F# for F, so that its 2nd position is the
    # G major scale and its 1st lydian but for draw 5 alone; Natural Minor is made for cross harp.
    [("country", 2, "G major"), ("natural-minor", 2, "G minor")],
)
def test_another_layout_is_called_by_the_scale_it_has(layout: str, number: int, words: str) -> None:
    assert Harp("C", layout=layout_named(layout)).key_words(Position(number)) == words


@pytest.mark.parametrize("number", [7, 8, 9, 10, 11])
def test_positions_on_a_note_the_harp_lacks_are_written_as_major(number: int) -> None:
    """A convention of this project; that the root is not a natural note is music21's word."""
    for harp in HARPS:
        assert position_pitch_class(harp, number) not in natural_classes(harp)
        assert not key_of(harp, number).minor


# What players call the first two positions: common practice, no published source.
POSITION_WORDS = {
    "cross harp": 2, "2nd position": 2, "Third pos": 3, "1st harp": 1,
    "2": 2, "12": 12, "2nd": 2, "1st": 1, "3rd": 3, "11th": 11, "cross": 2, "straight": 1,
    "Second": 2, " third ": 3, "fifth": 5,
}  # fmt: skip


@pytest.mark.parametrize(("text", "number"), POSITION_WORDS.items())
def test_positions_by_number_and_by_name(text: str, number: int) -> None:
    assert Position.parse(text) == Position(number)


@every_position
def test_a_position_reads_its_own_ordinal(number: int) -> None:
    assert Position.parse(Position(number).ordinal) == Position(number)


@pytest.mark.parametrize(
    ("number", "label"),
    [
        (1, "1st position (straight harp)"),
        (2, "2nd position (cross harp)"),
        (3, "3rd position"),
        (11, "11th position"),
        (12, "12th position"),
    ],
)
def test_labels(number: int, label: str) -> None:
    assert Position(number).label == label


POSITION_REFUSALS = {
    "13": 'there is no position "13". Positions go from 1 to 12; 2 is cross harp.',
    "0": 'there is no position "0". Positions go from 1 to 12; 2 is cross harp.',
    "-2": 'there is no position "-2". Positions go from 1 to 12; 2 is cross harp.',
    "": 'there is no position "". Positions go from 1 to 12; 2 is cross harp.',
    "cros": 'there is no position "cros". Did you mean "cross"? '
    "Positions go from 1 to 12; 2 is cross harp.",
}


@pytest.mark.parametrize(("text", "message"), POSITION_REFUSALS.items())
def test_other_words_are_no_position(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        Position.parse(text)
    assert str(caught.value) == message


# --- degrees ---

# What players call the twelve notes over a root: common practice, no published source.
PLAYERS_DEGREES = ["1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"]


@every_harp
@every_position
def test_every_degree_is_what_music21_reads_from_its_spelling(harp: str, number: int) -> None:
    key, position = key_of(harp, number), Position(number)
    root = position_pitch_class(harp, number)
    for midi in range(43, 104):  # low G, hole 1 blow, to the overdraw of hole 10 on an F#
        degree = position.degree(midi, key)
        pitch = spelled(midi, degree, key)
        above = (midi - root) % 12
        # The tritone is #4 where the harp has it instead of a fourth.
        lydian = above == 6 and (root + 5) % 12 not in natural_classes(harp)
        assert degree.name == ("#4" if lydian else PLAYERS_DEGREES[above])
        assert degree.name == degree_by_spelling(key.name, pitch.note)
        assert in_music21(pitch.name).midi == midi


@pytest.mark.parametrize("degree", [*CHROMATIC, RAISED_FOURTH], ids=lambda d: d.name)
def test_semitones_of_a_degree(degree: Degree) -> None:
    natural = music21.scale.MajorScale("C").pitchFromDegree(degree.number).pitchClass
    assert degree.semitones == natural + degree.alter


@given(st.integers(24, 119), st.sampled_from([*CHROMATIC, RAISED_FOURTH]))
def test_spelling_keeps_the_key_number(midi: int, degree: Degree) -> None:
    """On any root the note has that degree of, natural, sharp or flat."""
    root = (midi - degree.semitones) % 12
    for tonic in (f"{letter}{sign}" for letter in LETTERS for sign in ("b", "", "#")):
        if in_music21(tonic).pitchClass == root:
            pitch = spell(midi, degree, tonic[0])
            assert in_music21(pitch.name).ps == midi
            assert degree_by_spelling(tonic, pitch.note) == degree.name


@pytest.mark.parametrize(
    ("harp", "number", "midi", "name"),
    # Which letter a degree takes is music21's; the cases are the awkward ones.
    [
        ("C", 2, 70, "Bb4"),  # b3 of G
        ("C", 7, 72, "C5"),  # b5 of F#
        ("C", 12, 71, "B4"),  # #4 of F
        ("Db", 3, 71, "Cb5"),  # b6 of Eb
        ("F#", 3, 66, "F#4"),  # b7 of G#
        ("F#", 3, 67, "F##4"),  # 7 of G#
        ("B", 5, 60, "B#3"),  # 6 of D#
        ("Db", 12, 64, "Fb4"),  # b7 of Gb
    ],
)
def test_awkward_spellings(harp: str, number: int, midi: int, name: str) -> None:
    key, position = key_of(harp, number), Position(number)
    assert in_music21(name).midi == midi
    assert spelled(midi, position.degree(midi, key), key).name == name


# --- intonation ---


def published_cents(name: str) -> list[float]:
    """Cents over the root of a tuning in the Scala archive, as music21 carries it."""
    return [float(c) for c in scala.parse(name).getCentsAboveTonic()]


def test_five_limit_intonation_is_the_duodene() -> None:
    """A. J. Ellis's duodene, as the Scala archive gives it."""
    ours = [JUST_5.cents(step) for step in range(1, 13)]
    assert ours == pytest.approx(published_cents("duodene.scl"), abs=0.001)


@pytest.mark.parametrize("step", range(1, 12))
def test_just_intervals_are_in_published_tables(step: int) -> None:
    """Ellis's Harmonical (Helmholtz, pp. 17, 466-468), and two 7-limit scales of twelve."""
    tables = [*published_cents("harmonical.scl"), *published_cents("ji_12a.scl"),
              *published_cents("handblue.scl")]  # fmt: skip
    assert min(abs(JUST_7.cents(step) - cents) for cents in tables) < 0.001


def test_seven_limit_intonation_differs_by_a_step_from_each_published_one() -> None:
    ours = [JUST_7.cents(step) for step in range(1, 13)]
    for name, odd in {"ji_12a.scl": 9, "handblue.scl": 8}.items():
        theirs = published_cents(name)
        unlike = [n for n in range(12) if abs(ours[n] - theirs[n]) > 0.001]
        assert unlike == [odd - 1], name


def test_the_just_thirds_sevenths_and_sixths_of_the_harmonical() -> None:
    theirs = published_cents("harmonical.scl")  # 10/9 9/8 6/5 5/4 4/3 3/2 8/5 5/3 7/4 9/5 15/8
    five, seven = {2: 1, 3: 2, 4: 3, 5: 4, 7: 5, 8: 6, 9: 7, 10: 9, 11: 10}, {4: 3, 7: 5, 10: 8}
    for intonation, places in ((JUST_5, five), (JUST_7, seven)):
        for step, place in places.items():
            assert intonation.cents(step) == pytest.approx(theirs[place], abs=0.001)


def test_blue_notes_are_where_singers_were_measured_or_between_their_thirds() -> None:
    """Means of 319.1, 582.8 and 1037.9 cents, and neutral thirds (Cutting 2018, see the table).

    Ellis's thirds are 315.641 and 386.314 cents, and a neutral one lies in the middle.
    """
    flat_three, flat_five, flat_seven = (BLUE_NOTES.cents(step) for step in (3, 6, 10))
    assert 319.1 < flat_three < 386.314
    assert flat_three == pytest.approx((315.641 + 386.314) / 2, abs=4)
    assert flat_five == pytest.approx(582.8, abs=1)
    others = [each.cents(10) for each in (EQUAL, JUST_5, JUST_7)]
    assert abs(flat_seven - 1037.9) == min(abs(each - 1037.9) for each in [*others, flat_seven])
    for step in {*range(12)} - {3, 6}:
        assert BLUE_NOTES.cents(step) == JUST_5.cents(step)
    assert JUST_7.cents(3) < 319.1 - 50  # far under what was measured
    assert JUST_5.cents(3) == pytest.approx(319.1, abs=4)


def test_equal_temperament_has_a_hundred_cents_a_semitone() -> None:
    assert [EQUAL.cents(step) for step in (-13, 0, 7)] == [-1300, 0, 700]


any_intonation = st.sampled_from(list(INTONATIONS.values()))


@given(any_intonation, st.integers(-48, 48))
def test_octaves_are_pure(intonation: Any, step: int) -> None:
    assert intonation.cents(step + 12) == pytest.approx(intonation.cents(step) + 1200, abs=1e-9)


@given(any_intonation, st.integers(0, 127), st.sampled_from([415.0, 440.0, 442.0]))
def test_the_root_stays_at_its_tempered_place(intonation: Any, midi: int, a4: float) -> None:
    root = music21.pitch.Pitch(midi=midi).frequency * a4 / 440
    assert intonation.hz(midi, midi % 12, a4) == pytest.approx(root, rel=1e-12)


@pytest.mark.parametrize(
    ("intonation", "name", "root", "ratio"),
    [
        (JUST_5, "B4", "G4", Fraction(5, 4)),
        (JUST_5, "F5", "G4", Fraction(9, 5)),
        (JUST_7, "F5", "G4", Fraction(7, 4)),
        (JUST_7, "D4", "G3", Fraction(3, 2)),
        (JUST_5, "F4", "A3", Fraction(8, 5)),
    ],
)
def test_just_frequencies(intonation: Any, name: str, root: str, ratio: Fraction) -> None:
    """The ratios of Ellis in Helmholtz over the tempered root."""
    midi, below = in_music21(name).midi, in_music21(root)
    expected = below.frequency * 442 / 440 * float(ratio)
    assert intonation.hz(midi, below.pitchClass, 442.0) == pytest.approx(expected, rel=1e-12)


def test_intonations_by_name() -> None:
    assert [intonation_named(name) for name in ("equal", "just5", "just7", "blues")] == [
        EQUAL, JUST_5, JUST_7, BLUE_NOTES,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "message"),
    [
        (
            "just",
            'there is no intonation "just". Did you mean "just7"? '
            "Choose from: equal, just5, just7, blues.",
        ),
        ("pure", 'there is no intonation "pure". Choose from: equal, just5, just7, blues.'),
    ],
)
def test_other_words_are_no_intonation(name: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        intonation_named(name)
    assert str(caught.value) == message


def test_a_degree_is_given_one_offset_in_whatever_spelling() -> None:
    """A sharp four and a flat five are one key; a flat three and a flat seven are two."""
    moved = EQUAL.with_offsets("b3=-12, b7=-31")
    assert [moved.cents(step) for step in (0, 3, 4, 10)] == [0, 288, 400, 969]
    for twice in ("b3=-12, b3=-12", "#4=5, b5=-5"):
        with pytest.raises(InputError, match="is given an offset twice"):
            EQUAL.with_offsets(twice)


@pytest.mark.parametrize("signature", ["2/4", "3/4", "4/4", "6/4", "3/8", "6/8", "9/8", "12/8"])
def test_a_beat_has_three_parts_in_compound_time(signature: str) -> None:
    """Compound time is music21's word; here a quarter is always a pulse, 3/8 counted in eighths.

    6/4 is compound there and six quarters here: common practice of harp music, which has none.
    """
    beats, unit = map(int, signature.split("/"))
    theirs = music21.meter.TimeSignature(signature).beatDivisionCountName
    assert Meter(beats, unit).compound == (theirs == "Compound" and unit == 8)
    assert Meter(beats, unit).pulse == (3 if theirs == "Compound" and unit == 8 else 1)


@pytest.mark.parametrize(
    ("degree", "printed"), [(Degree(3, -1), "♭3"), (RAISED_FOURTH, "♯4"), (Degree(5), "5")]
)
def test_a_degree_is_printed_with_the_signs_of_music(degree: Degree, printed: str) -> None:
    assert degree.printed == printed


def test_a_degree_may_be_moved_by_half_a_semitone_and_no_more() -> None:
    assert EQUAL.with_offsets("b3=-50").cents(3) == pytest.approx(250)
    assert EQUAL.with_offsets("#7=5").cents(0) == pytest.approx(5)  # it sounds as the root
    for offset in ("b3=-51", "5=50.5"):
        with pytest.raises(InputError, match="would make"):
            EQUAL.with_offsets(offset)
