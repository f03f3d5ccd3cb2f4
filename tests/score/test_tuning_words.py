"""How a score is tuned, in words and in the names of its files, and where its drone lies."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

import bands
from reedmill.harp import Harp
from reedmill.harp.own_reeds import OwnReeds
from reedmill.score.file_words import score_words, tuning_words
from reedmill.score.footprints import Footprint, Footprints, tries_of
from reedmill.score.how_tuned import how_tuned, unusual_tuning
from reedmill.score.score import Embouchure, LipShape
from reedmill.score.verdicts import Tolerance, Verdict
from reedmill.theory.chords import Chord
from reedmill.theory.intonation import EQUAL, JUST_5
from tunes import score_from

PLAIN = score_from("-2 -3 -2")


def test_the_usual_tuning_is_said_where_all_is_and_not_where_only_what_differs_is() -> None:
    assert how_tuned(PLAIN) == ("A = 440 Hz", EQUAL.words)
    assert unusual_tuning(PLAIN) == ()
    assert list(tuning_words(440.0, EQUAL)) == []


def test_another_pitch_intonation_and_harp_are_said() -> None:
    own = Harp("C", own=OwnReeds.of("Old Brass", {}))
    score = replace(PLAIN, reference_hz=442.5, intonation=JUST_5, harp=own)
    said = ("A = 442.5 Hz", JUST_5.words, "tuned as Old Brass")
    assert how_tuned(score) == said
    assert set(unusual_tuning(score)) == set(said)
    assert list(tuning_words(442.5, JUST_5)) == ["a442.5", "just5"]
    moved = EQUAL.with_offsets("b3=-12, #4=7")
    assert list(tuning_words(440.0, moved)) == ["b3 down 12", "b5 up 7"]


@pytest.mark.parametrize(
    ("tempi", "words"),
    [((60,), "ladder 60"), ((60, 66), "60 to 66 by 6"), ((60, 70, 80), "60 to 80 by 10"),
     ((80, 72, 64), "80 to 64 by 8")],
)  # fmt: skip
def test_the_file_of_a_ladder_says_its_first_and_last_tempo_and_the_step(
    tempi: tuple[int, ...], words: str
) -> None:
    assert list(score_words(replace(PLAIN, tempi_bpm=tempi))) == ["c", "2nd", words]


def test_the_file_of_a_score_says_all_that_tells_it_from_another_in_one_order() -> None:
    own = Harp("F#", own=OwnReeds.of("Old Brass", {}))
    plan = Embouchure(LipShape.LIPS, LipShape.TONGUE_LEFT)
    score = replace(
        PLAIN, harp=own, embouchure=plan, band=bands.arrangement(beats=4), variant=("48 bpm",),
        tempi_bpm=(60, 66), reference_hz=442.0,
    )  # fmt: skip
    said = [
        "f-sharp", "2nd", "tuned as Old Brass", "anchors lips rungs tongue left", "over A form",
        "48 bpm", "60 to 66 by 6", "a442",
    ]  # fmt: skip
    assert list(score_words(score)) == said
    assert list(score_words(replace(score, notes=()))) == [*said[:4], *said[5:]]


@pytest.mark.parametrize(
    ("music", "harp", "position", "root"),
    # MIDI's table: C2 is 36, F2 41, C3 48, G3 55, A3 57, E4 64.  A harp's 1st position is its own
    # key; the drone is the root at or below the lowest note, brought between F2 and E4.
    [("1 -1", "C", 1, 60), ("-2 -3", "C", 2, 67), ("2 -1", "C", 2, 55), ("1 1", "low C", 1, 48),
     ("4 4", "high G", 1, 67), ("1 1", "low C", 8, 49), ("1 1", "low C", 12, 41),
     ("1 1", "E", 1, 64)],
)  # fmt: skip
def test_a_drone_is_a_root_that_small_speakers_give_and_that_stays_under_the_music(
    music: str, harp: str, position: int, root: int
) -> None:
    found = score_from(music, harp=harp, position=position).root_midi
    assert found == (root - 12 if root > 64 else root)


@pytest.mark.parametrize(
    ("music", "words"),
    [("-2 -3' -4 -5", "G blues"), ("-2 -3' -5", "G blues"), ("-2 -3' -4", "G"), ("-2 -5", "G"),
     ("-3' -5", "G blues"),
     ("-2 -3' -5 5 -2", "G blues")],
)  # fmt: skip
def test_blues_is_flat_thirds_and_sevenths_in_a_major_key(music: str, words: str) -> None:
    """Draw 3 bent one is the flat third of G and draw 5 its flat seventh (F)."""
    assert score_from(music).key_words == words


def over(*names: str) -> str:
    chords = tuple((Fraction(4 * at), Chord.parse(name)) for at, name in enumerate(names))
    return replace(bands.arrangement(beats=8), chords=chords).key_words


def test_a_band_names_its_key_with_its_mode() -> None:
    assert (over("I"), over("i"), over("i", "IV"), over("i", "iv")) == (
        "C", "C minor", "C dorian", "C minor",
    )  # fmt: skip


def test_tries_of_a_reed_are_those_with_a_pitch() -> None:
    heard = [(0, Verdict.ON, 3.0), (1, Verdict.SHARP, 40.0), (2, Verdict.MISSED, None)]
    prints = Footprints(
        PLAIN.title, tuple(Footprint(index, verdict, index, index + 1, cents)
                           for index, verdict, cents in heard), 1, Tolerance(),
    )  # fmt: skip
    root, third, _ = (note.reed for note in PLAIN.notes)
    assert [each.cents for each in tries_of(PLAIN, prints, root)] == [3.0]
    assert [each.cents for each in tries_of(PLAIN, prints, third)] == [40.0]
