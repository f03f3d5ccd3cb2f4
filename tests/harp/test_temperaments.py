"""Temperaments of harps: chords in exact ratios, told by the beats of their partials.

The ratios are those of the harmonic series, written here as whole numbers for whole chords and not
taken from the tables.  That harps are tuned so is common practice, no published source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest

import oracles
from reedmill import api
from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.harp import HOLES, LAYOUTS, Breath, Harp, Layout, Reed
from reedmill.harp.temperaments import TEMPERAMENTS, tempered
from reedmill.language import parse
from reedmill.theory.positions import Position


def hz(harp: Harp, tab: str) -> list[float]:
    """The frequencies of *tab* on *harp*, as tones and targets have them."""
    [drill] = parse(f'drill "Chord"\n  play {tab}\n')
    return [note.hz for note in expand(drill, harp, Position(2)).notes]


def beats_hz(sounding: list[float], numbers: list[int]) -> float:
    """The quickest beat between partials that a chord in these whole numbers has in common.

    Of two notes in the ratio p to q, partial q of the first is partial p of the second.
    """
    pairs = combinations(zip(sounding, numbers, strict=True), 2)
    return max(
        abs(a * Fraction(q, p).numerator - b * Fraction(q, p).denominator)
        for (a, p), (b, q) in pairs
    )


@pytest.mark.parametrize("key", ["C", "low F", "Bb"])
@pytest.mark.parametrize(
    ("layout", "name", "tab", "numbers"),
    [
        ("richter", "just", "1 2 3 4 5 6", [4, 5, 6, 8, 10, 12]),
        ("richter", "just", "7 8 9 10", [4, 5, 6, 8]),
        ("richter", "just", "-2 -3 -4 -5 -6", [4, 5, 6, 7, 9]),
        ("richter", "just", "-1 -2 -7 -8 -9 -10", [3, 4, 10, 12, 14, 18]),
        ("richter", "just", "3 -2", [1, 1]),
        ("country", "just", "-2 -3 -4 -5 -6", [8, 10, 12, 15, 18]),
        ("country", "just", "-7 -8 -9 -10", [5, 6, 7, 9]),
        ("natural-minor", "just", "1 2 3 4", [10, 12, 15, 20]),
        ("natural-minor", "just", "-2 -3 -4 -5", [10, 12, 15, 18]),
        ("richter", "just19", "1 2 3", [4, 5, 6]),
        ("richter", "just19", "-2 -3 -4", [4, 5, 6]),
        ("richter", "just19", "-4 -5 -6", [16, 19, 24]),
        ("country", "just19", "-8 -9 -10", [16, 19, 24]),
    ],
)
def test_a_chord_of_a_just_harp_has_no_beats(
    key: str, layout: str, name: str, tab: str, numbers: list[int]
) -> None:
    equal = Harp.parse(key, LAYOUTS[layout])
    assert beats_hz(hz(tempered(equal, name), tab), numbers) < 1e-6
    assert len(set(numbers)) == 1 or beats_hz(hz(equal, tab), numbers) > 0.5


def test_draw_5_of_a_just_harp_is_the_natural_seventh_of_draw_2() -> None:
    root, seventh = hz(tempered(Harp("C"), "just"), "-2 -5")
    assert seventh / root == pytest.approx(7 / 4, rel=1e-12)


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda each: each.name)
def test_a_compromise_is_half_of_the_way_for_every_reed(layout: Layout) -> None:
    just, half = (TEMPERAMENTS[name].reeds(layout) for name in ("just", "compromise"))
    for reed in (Reed(hole, breath) for hole in HOLES for breath in Breath):
        assert half.cents(reed) == pytest.approx(just.cents(reed) / 2, abs=1e-9)
    assert abs(just.cents(Reed.parse("-5"))) > 5


@pytest.mark.parametrize("name", TEMPERAMENTS)
@pytest.mark.parametrize("key", oracles.HARPS)
def test_the_key_of_the_harp_stays_in_its_place_and_bends_follow_their_reed(
    key: str, name: str
) -> None:
    equal = Harp.parse(key)
    moved = tempered(equal, name)
    assert hz(moved, "1 4 7 10") == hz(equal, "1 4 7 10")
    natural, bent = (
        there / here for here, there in zip(hz(equal, "-3 -3''"), hz(moved, "-3 -3''"), strict=True)
    )
    assert bent == pytest.approx(natural, rel=1e-12)
    assert natural < 1  # a just third is under the tempered one


def test_equal_moves_nothing_and_other_words_are_answered() -> None:
    assert tempered(Harp("C"), "Equal") == Harp("C")
    with pytest.raises(InputError, match=r'there is no temperament "jus"\. Did you mean "just"\?'):
        api.tempered(Harp("C"), "jus")


def test_a_tuning_the_temperament_does_not_know_is_told_so(tmp_path: Path) -> None:
    """Natural minor has no chord with the 19th harmonic; a file may be called like a tuning."""
    with pytest.raises(InputError, match="only for richter and country"):
        tempered(Harp("C", "", LAYOUTS["natural-minor"]), "just19")
    file = tmp_path / "richter.toml"
    row = ", ".join(str(semitones) for semitones in range(10))
    file.write_text(f"blow = [{row}]\ndraw = [{row}]\n", "utf-8")
    with pytest.raises(InputError, match='how a "richter" harp is tuned'):
        tempered(Harp("C", "", api.layout_named(str(file))), "just")
