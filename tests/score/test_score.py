"""A score asked about itself: its times, its drone, its groups of notes, the band under it.

Key numbers, frequencies and intervals come from music21; what lies where is found by going
through everything, one after another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

import bands
from reedmill.base.remedies import Remedy
from reedmill.base.source import Span
from reedmill.score.arrangement import Arrangement, Part, swung
from reedmill.score.score import (
    Caution,
    Embouchure,
    Feel,
    LipShape,
    Meter,
    Note,
    Score,
    glide_share,
)
from reedmill.score.targets import chord_tone, is_target
from reedmill.theory.chords import Chord
from together import together
from tunes import score_from

LOWEST, HIGHEST = music21.pitch.Pitch("F2").midi, music21.pitch.Pitch("E4").midi
TUNE = "-2 r -3:3/2 4:1/2 r:2 ~-4:1/3 5:2/3 -2:1"
places = st.integers(-8, 80).map(lambda n: Fraction(n, 6))


def on(starts: Sequence[int], *chords: str) -> tuple[tuple[Fraction, Chord], ...]:
    return tuple((Fraction(at), Chord.parse(name)) for at, name in zip(starts, chords, strict=True))


def band(chords: tuple[tuple[Fraction, Chord], ...], **others: object) -> Arrangement:
    return replace(bands.arrangement(beats=8), chords=chords, **others)  # type: ignore[arg-type]


# --- time ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("meter", "tempo", "beats", "seconds"),
    [
        ((4, 4), 60, "1", "1"),
        ((4, 4), 120, "4", "2"),
        ((3, 4), 90, "3/2", "1"),
        ((6, 8), 60, "3", "1"),  # the tempo counts dotted quarters
        ((12, 8), 40, "1", "1/2"),
    ],
)
def test_beats_last_what_the_tempo_says(
    meter: tuple[int, int], tempo: int, beats: str, seconds: str
) -> None:
    score = score_from("-2", meter=meter, tempo=tempo)
    under = replace(bands.arrangement(beats=meter[0], tempo=tempo), meter=Meter(*meter))
    assert score.seconds(Fraction(beats)) == Fraction(seconds)
    assert under.seconds(Fraction(beats)) == Fraction(seconds)


def test_a_shuffle_plays_halves_as_the_outer_notes_of_a_triplet() -> None:
    score = replace(score_from("-2:1/2 -3:1/2 4 5:1/3 4:1/3 5:1/3"), feel=Feel.SHUFFLE)
    heard = [score.sounding(note) for note in score.notes]
    assert heard[:3] == [(0, Fraction(2, 3)), (Fraction(2, 3), Fraction(1, 3)), (1, 1)]
    assert score.performed(Fraction(1, 4)) == Fraction(1, 3)
    assert score.performed(Fraction(3, 4)) == Fraction(5, 6)
    assert [start for start, _ in heard[3:]] == [2, Fraction(7, 3), Fraction(8, 3)]
    assert score.performed(Fraction(5, 2)) == Fraction(5, 2)  # in a beat of triplets
    assert score.performed_s(Fraction(1, 2)) == Fraction(2, 3)


def test_a_straight_score_is_played_as_it_is_written() -> None:
    score = replace(score_from("-2:1/2 -3:1/2"), band=band(on([0], "I"), swing=Fraction(2)))
    assert score.swing == 1
    assert score.performed(Fraction(1, 2)) == Fraction(1, 2)


@pytest.mark.parametrize(("of_band", "heard"), [("1", "2"), ("3/2", "3/2"), ("3", "3")])
def test_a_shuffle_swings_with_its_band_and_two_to_one_over_a_straight_one(
    of_band: str, heard: str
) -> None:
    shuffle = replace(score_from("-2:1/2 -3:1/2"), feel=Feel.SHUFFLE)
    under = band(on([0], "I"), swing=Fraction(of_band))
    assert shuffle.swing == 2
    assert replace(shuffle, band=under).swing == Fraction(heard)
    assert under.performed(Fraction(1, 2)) == swung(Fraction(1, 2), Fraction(of_band))


@given(places.filter(lambda place: place >= 0), st.sampled_from(["1", "3/2", "2", "3"]))
def test_swing_moves_nothing_past_a_beat_and_keeps_the_order(place: Fraction, ratio: str) -> None:
    """The two halves of a beat last as *ratio* to one."""
    beat, swing = place // 1, Fraction(ratio)
    half = swung(beat + Fraction(1, 2), swing)
    assert (half - beat) / (beat + 1 - half) == swing
    assert swung(Fraction(beat), swing) == beat
    assert swung(place, swing) < swung(place + Fraction(1, 24), swing)


def test_a_pickup_begins_where_its_last_beats_do() -> None:
    assert replace(score_from("r:3 -2"), pickup=Fraction(1)).first_beat == 3
    assert replace(score_from("r:5/2 -2:3/2"), pickup=Fraction(3, 2)).first_beat == Fraction(5, 2)
    assert score_from("-2").first_beat == 0
    assert score_from("-2:9", meter=(3, 4)).bars == 3


def test_a_slide_takes_80_milliseconds_or_half_its_note() -> None:
    score = score_from("-3 ~-3':1 -4:1/10 ~-4':1/10")
    assert [score.glide_s(note) for note in score.notes] == pytest.approx([0.08, 0.08, 0.05, 0.05])
    quick = score_from("-3 ~-3':1/4", tempo=120)
    assert quick.glide_s(quick.notes[1]) == pytest.approx(0.0625)


def test_a_slide_leaves_and_arrives_slowly() -> None:
    """A smooth step: a quarter of the time covers 5/32 of the way, three quarters 27/32."""
    assert glide_share(0.25) == pytest.approx(5 / 32)
    assert glide_share(0.75) == pytest.approx(27 / 32)


# --- places and groups -----------------------------------------------------------------------


@given(places, places)
def test_notes_are_found_at_a_place_and_between_two(one: Fraction, two: Fraction) -> None:
    score, (start, end) = score_from(TUNE), sorted([one, two])
    begun = next((note for note in score.notes if note.start == one), None)
    held = next((note for note in score.notes if note.start < one < note.end), None)
    assert list(score.between(start, end)) == [n for n in score.notes if start <= n.start < end]
    assert score.beginning_at(one) == begun
    assert score.sounding_over(one) == held


def test_an_attack_has_the_slides_after_it() -> None:
    score = score_from("~-2 -3 ~-3' ~-3'' 4 -4 ~-4'")
    columns = [[note.span.column for note in group] for group in score.attacks()]
    assert columns == [[1], [2, 3, 4], [5], [6, 7]]


def test_beats_are_triplets_where_an_edge_lies_on_a_third() -> None:
    score = score_from("-2:4/3 -3:2/3 4:1/2 5:1/2 6:2/3 4:1/3")
    assert score.triplet_beats == {1, 3}


def test_what_is_not_said_of_music_is_the_plain_way() -> None:
    """Struck, neither slid into nor stressed; straight, from the first beat, at 440 Hz (ISO 16)."""
    given_score = score_from("-2")
    [note] = given_score.notes
    plain_note = Note(
        note.start, note.length, note.reed, note.pitch, note.degree, note.hz, note.role, note.span
    )
    assert (plain_note.joined, plain_note.accent, plain_note.embouchure) == (False, False, None)
    plain = Score(
        given_score.title, given_score.about, None, 60, Meter(4, 4), given_score.harp,
        given_score.position, (plain_note,), Fraction(4),
    )  # fmt: skip
    assert plain.feel is Feel.STRAIGHT
    assert plain.swing == 1
    assert plain.pickup == plain.first_beat == 0
    assert plain.reference_hz == 440.0
    assert plain == given_score


# --- the drone -------------------------------------------------------------------------------


@together("position", [1, 2, 3, 5, 12])
@together("harp", ["C", "G", "F#", "Ab", "low F", "high G"])
@together("music", ["1", "-2 1 4", "-4 5", "6 -6", "10 -10", "-2''"])
def test_the_drone_is_the_root_under_the_tune_from_f2_to_e4(
    harp: str, position: int, music: str
) -> None:
    """The nearest root under the tune where that lies within the range, else in the range."""
    score = score_from(music, harp=harp, position=position)
    lowest = min(
        music21.pitch.Pitch(note.pitch.name.replace("b", "-")).midi for note in score.notes
    )
    root = music21.pitch.Pitch(score.key.name.split()[0].replace("b", "-")).pitchClass
    roots = [key for key in range(128) if key % 12 == root]
    nearest = max(key for key in roots if key <= lowest)
    inside = [key for key in roots if LOWEST <= key <= HIGHEST]
    expected = min(inside, key=lambda key: abs(key - nearest))
    assert score.root_midi == expected
    shown = music21.pitch.Pitch(midi=expected)
    assert score.root_hz == pytest.approx(shown.frequency)
    assert replace(score, reference_hz=442.0).root_hz == pytest.approx(shown.frequency * 442 / 440)


def test_the_drone_of_silence_lies_under_middle_c() -> None:
    assert score_from("r", harp="C", position=1).root_midi == music21.pitch.Pitch("C4").midi
    assert score_from("r", harp="C", position=2).root_midi == music21.pitch.Pitch("G3").midi
    assert score_from("r", harp="Db", position=1).root_midi == music21.pitch.Pitch("D-3").midi


# --- words -----------------------------------------------------------------------------------


def test_a_plan_for_the_mouth_is_said_once_where_it_is_one() -> None:
    lips = Embouchure(LipShape.LIPS, LipShape.LIPS)
    split = Embouchure(LipShape.LIPS, LipShape.TONGUE_RIGHT)
    assert (lips.split, lips.label, lips.short) == (False, "lip purse", "lips")
    assert split.split
    assert split.label == "anchors lip purse; rungs tongue block, tongue to the right"
    assert split.short == "anchors lips rungs tongue right"


def test_a_caution_is_placed_and_says_a_way_out_where_there_is_one() -> None:
    span = Span("warm.drill", 3, 5)
    words = {Remedy.ONE_JOB: "{stem}, so play one note."}
    assert Caution("It is long.", span).worded(words) == f"{span.place}: It is long."
    told = Caution("It is long.", span, Remedy.ONE_JOB).worded(words)
    assert told == f"{span.place}: It is long, so play one note."


# --- the band under it -----------------------------------------------------------------------

CHORDS = on([0, 2, 3, 6], "I7", "IV", "I", "V7")


@given(places, places)
def test_a_chord_holds_until_the_next(one: Fraction, two: Fraction) -> None:
    under, (start, end) = band(CHORDS), sorted([one, two])
    begun = [chord for at, chord in CHORDS if at <= one]
    assert under.chord_at(one) == (begun[-1] if begun else CHORDS[0][1])
    assert under.changes_at(one) == (one in [at for at, _ in CHORDS])
    assert list(under.changing(start, end)) == [each for each in CHORDS if start <= each[0] < end]


def test_a_player_has_a_program_and_the_strokes_that_are_its_own() -> None:
    under = bands.arrangement(
        *bands.row(Part.BASS, [40, 43]), *bands.drums(bands.KICK, 0), beats=4, comp=bands.ORGAN
    )
    assert [f"{each.start} {each.key}" for each in under.of(Part.BASS)] == ["0 40", "1 43"]
    assert [each.key for each in under.of(Part.DRUMS)] == [36]
    assert under.of(Part.COMP) == ()
    assert (under.program(Part.BASS), under.program(Part.COMP)) == (33, 16)


def test_a_band_whose_feel_says_nothing_of_swing_is_straight() -> None:
    under = bands.arrangement(beats=4)
    assert under.swing == 1
    assert under.performed(Fraction(1, 2)) == Fraction(1, 2)


def test_the_same_music_is_equal_wherever_its_files_are() -> None:
    """And is shown alike, without their paths and without what follows from its notes."""
    under, score = band(CHORDS), score_from("-2")
    found = replace(under, origins=("forms/twelve.form",))
    taken = replace(score, origin="mine.drill", variant=("48 bpm",))
    assert (found, taken) == (under, score)
    assert (repr(found), repr(taken)) == (repr(under), repr(score))
    assert "triplet_beats" not in repr(score)
    assert replace(under, seed=1) != under


def tones(score: Score) -> list[str | None]:
    return [chord_tone(score, note) for note in score.notes]


def aimed_at(score: Score) -> list[int]:
    found: list[Note] = [note for note in score.notes if is_target(score, note)]
    return [note.span.column for note in found]


def test_a_note_is_what_it_is_in_the_chord_under_it() -> None:
    """On a C harp in second position I7 is G B D F and IV is C E G."""
    under = band(CHORDS)
    score = replace(score_from("-2:1/2 -3:1/2 -4:1/2 -5:1/2 -2:1/2 5:1/2"), band=under)
    assert tones(score) == ["1", "3", "5", "b7", "5", "3"]
    assert tones(replace(score_from("4 4 -3"), band=under)) == [None, None, None]
    assert tones(score_from("-2 -3")) == [None, None]


def test_aim_at_chord_tones_on_first_beats_and_where_the_chord_changes() -> None:
    """The chord changes on the third and fourth beats of the first bar, not on its second."""
    under = band(CHORDS)
    assert aimed_at(replace(score_from("-2 -2 4 -2 -3 -3 -4 -2"), band=under)) == [1, 3, 4, 5, 7]
    assert aimed_at(replace(score_from("4 -2 -3 4 4 -3 -3 -4"), band=under)) == []
    assert aimed_at(score_from("-2 -2 4 -2")) == []


def test_a_plan_for_the_mouth_is_said_in_words_and_marked_where_it_changes() -> None:
    lips, left, right = LipShape.LIPS, LipShape.TONGUE_LEFT, LipShape.TONGUE_RIGHT
    one, two = Embouchure(left, left), Embouchure(lips, right)
    assert one.words == one.label == "tongue block, tongue to the left"
    assert (one.short, one.mark(left)) == ("tongue left", "tongue left")
    assert two.label == "anchors lip purse; rungs tongue block, tongue to the right"
    assert two.words == f"{two.label} (marked L and TR)"
    assert two.short == "anchors lips rungs tongue right"
    assert [two.mark(hold) for hold in (lips, left, right)] == ["L", "TL", "TR"]
