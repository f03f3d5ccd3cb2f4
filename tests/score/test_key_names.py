"""What the key of a drill is called: as players say it, by what is played in it.

The degrees are counted by hand on a C harp.  Common practice, no published source.
"""

from __future__ import annotations

import pytest

from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.expand import expand
from reedmill.formats.data import score_data
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from tunes import score_from


@pytest.mark.parametrize(
    ("music", "position", "words"),
    [
        ("-2 -3 -4", 2, "G"),  # 1 3 5
        ("-2 -3' -4 -5", 2, "G blues"),  # 1 b3 5 b7
        ("-2 -3' -4", 2, "G"),  # no seventh is played
        ("4 -4 5", 1, "C major"),
        ("4 8' 10''", 1, "C blues"),  # 1 b3 b7
        ("4 8' 10'' 10'", 1, "C major"),  # and a natural seventh
        ("-4 -5 5 -3", 3, "D dorian"),  # b3 is its own, not a blue note
        ("-4 -5 4", 3, "D dorian"),
    ],
)
def test_a_key_is_called_by_what_is_played(music: str, position: int, words: str) -> None:
    assert score_from(music, position=position).key_words == words


def over(form: str, position: int) -> Score:
    drill = expand(parse('drill "D"\n  play -2:4')[0], Harp("C"), Position(position))
    return accompanied(drill, Accompaniment(form, "Rumba", "loop", 1, 0))


@pytest.mark.parametrize(
    ("form", "position", "words"),
    [
        ("Twelve bars", 2, "G"),
        ("Twelve bars in minor", 2, "G minor"),  # iv7: its third is the flat sixth
        ("Dorian vamp", 3, "D dorian"),  # i7 and IV7, whose third is the natural sixth
        ("Twelve bars", 3, "D"),
    ],
)
def test_over_a_band_the_key_is_that_of_its_chords(form: str, position: int, words: str) -> None:
    assert over(form, position).key_words == words


def test_data_keeps_the_signature_as_a_field_of_its_own() -> None:
    """The field is documented as major or minor, for programs."""
    assert score_data(score_from("-4 -5", position=3))["mode"] == "minor"
    assert score_data(score_from("-2 -3'"))["mode"] == "major"
