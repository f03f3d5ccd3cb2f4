"""What a score trains: its reeds, how they are reached, and what a player must know for it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from reedmill.harp import Reed
from reedmill.score.score import Feel, LipShape, Score
from reedmill.score.training import approaches, practised, techniques
from tunes import score_from


def tabs(reeds: tuple[Reed, ...]) -> list[str]:
    return [reed.tab for reed in reeds]


def test_rungs_are_what_is_practised_however_often_the_anchor_sounds() -> None:
    rungs = tuple(map(Reed.parse, ["-4", "-3'", "-4"]))
    score = replace(score_from("-2 -2 -4 -2 -3' -4"), rungs=rungs)
    assert tabs(practised(score)) == ["-4", "-3'"]
    assert [(a.tab, b.tab) for a, b in approaches(score)] == [
        ("-2", "-4"),
        ("-2", "-3'"),
        ("-3'", "-4"),
    ]


def test_without_rungs_it_is_the_bends_and_overbends() -> None:
    assert tabs(practised(score_from("4 4 -3'' 6^ 4 -3'' 10'"))) == ["-3''", "6^", "10'"]


def test_without_bends_it_is_the_reeds_that_are_played_most() -> None:
    assert tabs(practised(score_from("4 -4 5 -4 4"))) == ["4", "-4"]


def test_silence_practises_nothing() -> None:
    assert practised(score_from("r:4")) == ()
    assert approaches(score_from("r:4")) == ()


def test_a_rest_changes_nothing_and_a_pair_counts_once() -> None:
    found = approaches(score_from("4 r -4' 4 -4' 5 -4'"))
    assert [(a.tab, b.tab) for a, b in found] == [("4", "-4'"), ("5", "-4'")]


def held(score: Score, hold: LipShape) -> Score:
    return replace(score, notes=tuple(replace(note, embouchure=hold) for note in score.notes))


@pytest.mark.parametrize(
    ("score", "needed"),
    [
        (score_from("4 -4"), ("single notes",)),
        (score_from("4 -4'"), ("draw bend",)),
        (score_from("8' 8"), ("blow bend",)),
        (score_from("6^ 6"), ("overbend",)),
        (score_from("-3 ~-3'"), ("draw bend", "slide")),
        (score_from("4:1/3 5:1/3 6:1/3"), ("triplets",)),
        (replace(score_from("4 -4"), feel=Feel.SHUFFLE), ("shuffle",)),
        (replace(score_from("4 -4"), echoes=((Fraction(2), Fraction(4)),)), ("echo",)),
        (held(score_from("4 5"), LipShape.LIPS), ("single notes",)),
        (held(score_from("4 5"), LipShape.TONGUE_LEFT), ("tongue block",)),
        (held(score_from("4 5"), LipShape.TONGUE_RIGHT), ("tongue block",)),
    ],
)
def test_what_a_player_must_know(score: Score, needed: tuple[str, ...]) -> None:
    assert techniques(score) == needed


def test_several_drills_need_what_each_of_them_needs_in_the_order_it_is_learnt() -> None:
    """Common practice: a draw bend comes before a blow bend, and that before an overbend."""
    found = techniques(score_from("6^"), score_from("4"), score_from("9'"), score_from("-2'"))
    assert found == ("draw bend", "blow bend", "overbend")
