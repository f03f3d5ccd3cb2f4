"""The air that the shipped drills take, at the tempo they are written for.

The limits are common practice, no published source: who draws for long without a rest gets dizzy.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from air import Air, air_of
from reedmill.band.phrased import ChorusPlan, phrased
from reedmill.band.shelf import shipped_forms
from reedmill.expand import expand
from reedmill.formats.data import score_data
from reedmill.harp import Harp
from reedmill.library import Shelved, shipped, shipped_phrases, usual_position
from reedmill.theory.positions import Position

MOST_S, FIRST_LEVELS_S = 10, 6


def air_on(harp: str, shelved: Shelved) -> Air:
    score = expand(shelved.drill, Harp.parse(harp), usual_position(shelved.drill))
    return air_of(score_data(score))


@pytest.mark.parametrize("harp", ["C", "low F"])
def test_no_drill_goes_one_way_for_more_than_ten_seconds(harp: str) -> None:
    """And none of the first two levels for more than six, net or in one stretch; nor a phrase."""
    for shelved in (*shipped(), *shipped_phrases()):
        found = air_on(harp, shelved)
        most = FIRST_LEVELS_S if shelved.drill.level in (1, 2) else MOST_S
        assert found.one_way_s <= most, shelved.drill.title
        assert found.net_s <= most, shelved.drill.title


def test_choruses_of_easy_phrases_leave_time_to_breathe() -> None:
    phrases = [each.drill for each in shipped_phrases()]
    for seed, form in enumerate(shipped_forms()):
        plan = ChorusPlan(form.title, level=2, seed=seed)
        position = Position(form.positions[0] if form.positions else 2)
        found = air_of(score_data(phrased(phrases, Harp("C"), position, plan).score))
        assert max(found.one_way_s, found.net_s) <= FIRST_LEVELS_S, form.title


def test_on_a_c_harp_there_is_time_for_every_breath() -> None:
    assert [each.drill.title for each in shipped() if each.score.warnings] == []


@pytest.mark.parametrize(
    ("tempo", "meter", "one_way", "net"),
    [(60, "4/4", "3", "4"), (120, "4/4", "3/2", "2"), (60, "12/8", "4/3", "5/3")],
)
def test_the_counting_itself(tempo: int, meter: str, one_way: str, net: str) -> None:
    """Three beats in, two out, three in, a rest of one beat, one more in.

    At 120 that rest is a breath still; in 12/8 at 60 a beat is a third of a second and it is not.
    """
    rows = [(0, 3, "-2"), (3, 2, "2"), (5, 3, "-2'"), (9, 1, "-3")]
    notes = [
        {"sounding_start": str(start), "sounding_length": str(length), "tab": tab}
        for start, length, tab in rows
    ]
    found = air_of({"tempo": tempo, "meter": meter, "notes": notes})
    assert (found.one_way_s, found.net_s) == (Fraction(one_way), Fraction(net))
