"""What a score trains: its reeds, how they are reached, and what a player must know for it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from reedmill.expand import expand
from reedmill.harp import Harp, Reed
from reedmill.language import parse
from reedmill.score.score import Feel, LipShape, Score
from reedmill.score.training import approaches, practised, techniques
from reedmill.theory.positions import Position
from tunes import score_from


def written(music: str) -> Score:
    """*music* in the words of the pattern language, on a C harp in cross harp."""
    return expand(parse(f'drill "Test"\n  play {music}\n')[0], Harp("C"), Position(2))


def tabs(reeds: tuple[Reed, ...]) -> list[str]:
    return [reed.tab for reed in reeds]


def test_rungs_are_what_is_practised_however_often_the_anchor_sounds() -> None:
    rungs = tuple((Reed.parse(tab),) for tab in ["-4", "-3'", "-4"])
    score = replace(score_from("-2 -2 -4 -2 -3' -4"), rung_holes=rungs)
    assert tabs(practised(score)) == ["-4", "-3'"]
    assert [(a.tab, b.tab) for a, b in approaches(score)] == [
        ("-2", "-4"),
        ("-2", "-3'"),
        ("-3'", "-4"),
    ]


def test_rungs_of_several_holes_are_practised_where_there_are_no_others() -> None:
    two, split = (Reed.parse("-2"), Reed.parse("-3")), (Reed.parse("-1"), Reed.parse("-4"))
    score = replace(score_from("-4"), rung_holes=(two, split, two))
    assert tabs(practised(score)) == ["-2", "-3", "-1", "-4"]
    mixed = replace(score, rung_holes=(two, (Reed.parse("-4"),), split))
    assert tabs(practised(mixed)) == ["-4"]  # what can be heard by itself
    assert mixed.rungs == practised(mixed)


def test_without_rungs_it_is_the_bends_and_overbends() -> None:
    assert tabs(practised(score_from("4 4 -3'' 6^ 4 -3'' 10'"))) == ["-3''", "6^", "10'"]


def test_without_bends_it_is_the_reeds_that_are_played_most() -> None:
    assert tabs(practised(score_from("4 -4 5 -4 4"))) == ["4", "-4"]


def test_the_holes_of_a_chord_are_no_practised_reeds_beside_single_notes() -> None:
    """Each is heard as itself, and a chord is not: nothing of it is judged."""
    score = written("-2&3 -2&3 -4 -2&3 4 -1&4 -4 5")
    assert tabs(practised(score)) == ["-4"]
    assert [(a.tab, b.tab) for a, b in approaches(score)] == []
    assert tabs(practised(written("-2&3 -2&3 3&4"))) == ["-2", "-3"]


@pytest.mark.parametrize(
    ("music", "needed"),
    [
        ("-2&3", {"double stop"}),
        ("-1&2&3", {"chord"}),
        ("-1&4", {"tongue block", "octave split"}),
        ("shake -4&5", {"shake"}),
        ("slap -4", {"tongue block", "slap"}),
        ("pull 4", {"tongue block", "pull"}),
        ("mute vibrato4 4:2", {"hand mute", "vibrato"}),
        ("scoop -3' fall -4", {"draw bend", "scoop", "fall"}),
        ("-3q", {"draw bend", "quarter tone"}),
        ("-3:1~:1 -3':2", {"draw bend", "slide", "slow slide"}),
        ("-2'&3'", {"draw bend", "double stop"}),
    ],
)
def test_several_holes_and_marks_of_style_have_a_technique_each(
    music: str, needed: set[str]
) -> None:
    assert set(techniques(written(music))) == needed


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
