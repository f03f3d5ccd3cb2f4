"""What is asked for, and in which order: laws of what a seed draws, and of right answers.

Key numbers come from the published layout (OEIS A291810, in ``oracles``).
"""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

import oracles
from reedmill.base.errors import InputError
from reedmill.base.text import printable
from reedmill.expand import expand
from reedmill.harp import Harp, Reed
from reedmill.harp.own_reeds import OwnHarp, OwnReeds
from reedmill.language import parse
from reedmill.library import find_drills, shipped, usual_position
from reedmill.score.rung_questions import (
    CLICKS,
    PAUSES_S,
    QUESTIONS,
    Asking,
    drawn_order,
    drill_number,
    rung_questions,
)
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from together import together


def score_of(lines: str, harp: str = "C") -> Score:
    return expand(parse(f'drill "Asked"\n  {lines}')[0], Harp.parse(harp), Position(2))


FOUR = "anchor -2\n  rungs all of -3\n  phrase anchor rung"


# --- the order --------------------------------------------------------------------------


def comes_three_times(order: tuple[int, ...]) -> bool:
    """Whether any group of answers follows itself twice, looked for place by place."""
    return any(
        all(order[at + n] == order[at + n + size] for n in range(2 * size))
        for size in range(1, len(order) // 3 + 1)
        for at in range(len(order) - 3 * size + 1)
    )


def climbs_a_ladder(order: tuple[int, ...]) -> bool:
    """Whether four answers in a row go from neighbour to neighbour one way."""
    steps = [there - here for here, there in pairwise(order)]
    return any(steps[at : at + 3] in ([1] * 3, [-1] * 3) for at in range(len(steps)))


@given(
    answers=st.integers(2, 10),
    questions=st.integers(QUESTIONS[0], QUESTIONS[-1]),
    seed=st.integers(0, 10**6),
)
def test_every_rung_is_asked_as_often_and_nothing_can_be_foreseen(
    answers: int, questions: int, seed: int
) -> None:
    order = drawn_order(answers, questions, seed)
    counts = [Counter(order)[each] for each in range(answers)]
    assert sum(counts) == len(order) == questions
    assert max(counts) - min(counts) <= 1
    assert not comes_three_times(order)
    assert not climbs_a_ladder(order)
    assert drawn_order(answers, questions, seed) == order


def test_every_seed_draws_another_order_and_a_seed_does_not_favour_a_rung() -> None:
    orders = [drawn_order(3, 12, seed) for seed in range(200)]
    assert len(set(orders)) > 190
    for place in range(12):  # 200 draws among three: a mean of 67, six deviations are 40
        assert max(Counter(order[place] for order in orders).values()) < 67 + 40


def test_one_question_too_many_or_one_too_few_of_a_rung_are_spread_by_chance() -> None:
    asked_less = Counter(min(range(4), key=drawn_order(4, 11, seed).count) for seed in range(200))
    assert set(asked_less) == set(range(4))


# --- the answers --------------------------------------------------------------------------


@together("harp", ["low F", "A", "C", "F"])
def test_the_answers_are_the_rungs_of_the_published_layout(harp: str) -> None:
    asked = rung_questions(score_of(FOUR, harp), Asking(questions=40, seed=7))
    assert [answer.tab for answer in asked.answers] == ["-3", "-3'", "-3''", "-3'''"]
    assert asked.given.top.pitch.midi == oracles.sounding(harp, "-2")
    natural = oracles.sounding(harp, "-3")
    for question in asked.questions:
        [[sounding]] = [each.sounding for each in question.answer.rungs]
        key = oracles.sounding(harp, sounding.reed.tab)
        assert sounding.pitch.midi == key
        assert math.isclose(sounding.hz, oracles.tempered_hz(key))
        assert math.isclose(question.answer.cents_from_natural, 100 * (key - natural), abs_tol=1e-9)
        spelled = oracles.degree_by_spelling(
            oracles.root(harp, 2).name.replace("-", "b"), sounding.pitch.name[:-1]
        )
        assert sounding.degree.name == spelled


def test_the_same_rungs_are_asked_for_on_every_harp() -> None:
    harps = [rung_questions(score_of(FOUR, harp), Asking(seed=3)) for harp in ("low F", "C", "F#")]
    assert len({each.order for each in harps}) == 1
    assert len({drill_number(each.drill) for each in harps}) == 1


def test_two_reeds_of_one_pitch_are_one_answer() -> None:
    score = score_of("anchor -1\n  rungs -2 -2' 3 -2''\n  phrase anchor rung")
    assert [each.tab for each in rung_questions(score, Asking()).answers] == [
        "-2 or 3", "-2'", "-2''",
    ]  # fmt: skip


def test_on_a_harp_out_of_tune_two_reeds_of_one_name_are_two_answers() -> None:
    drill = parse('drill "Asked"\n  anchor -1\n  rungs -2 3\n  phrase anchor rung')[0]
    out = OwnHarp(
        "C", "richter", 440.0, OwnReeds(printable("mine"), (0.0,) * 10, (0.0, -20.0, *[0.0] * 8))
    )
    score = expand(drill, Harp("C").kept(out), Position(2))
    answers = rung_questions(score, Asking()).answers
    assert [each.tab for each in answers] == ["3", "-2"]


def test_rungs_of_several_holes_are_asked_for_too() -> None:
    score = score_of("anchor 1&4\n  rungs -1&4 -2&5 -2&3\n  phrase anchor rung")
    asked = rung_questions(score, Asking())
    assert [each.tab for each in asked.answers] == ["-2&5", "-1&4", "-2&3"]
    keys = [[each.pitch.midi for each in answer.rungs[0].sounding] for answer in asked.answers]
    assert keys == [
        [oracles.sounding("C", tab) for tab in tabs]
        for tabs in (("-2", "-5"), ("-1", "-4"), ("-2", "-3"))
    ]
    first = asked.played().notes[0]
    assert first.tab == asked.given.tab == "1&4"


def test_a_drill_without_an_anchor_is_measured_by_the_natural_note() -> None:
    asked = rung_questions(score_of("rungs bends of -3\n  phrase rung rung"), Asking())
    assert asked.given.top.reed == Reed.parse("-3")


def test_an_overblow_lies_over_its_natural_note() -> None:
    asked = rung_questions(score_of("anchor 6\n  rungs 6^ -6 -6'\n  phrase anchor rung"), Asking())
    cents = {each.tab: round(each.cents_from_natural) for each in asked.answers}
    assert cents == {"6^": 300, "-6": 0, "-6'": -100}


@together(
    ("lines", "told"),
    [
        ("play -2 -3'", "has no rungs"),
        ("rungs -3'\n  phrase rung", "one rung alone, -3'"),
        ("rungs -2 3\n  phrase rung", "one rung alone, -2 or 3"),
    ],
)
def test_where_nothing_can_be_told_apart_nothing_is_asked(lines: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        rung_questions(score_of(lines), Asking())


@together(
    ("wrong", "told"),
    [
        ((0, 0, 6), "write 1 to 40"),
        ((41, 0, 6), "a recording of 41 questions"),
        ((12, 0, 1), "write 2 to 30"),
        ((12, -1, 6), "a seed of -1 cannot be used"),
    ],
)
def test_what_may_be_asked_for_is_bounded(wrong: tuple[int, int, int], told: str) -> None:
    with pytest.raises(InputError, match=told):
        Asking(*wrong)


# --- when -------------------------------------------------------------------------------------


@given(
    questions=st.integers(QUESTIONS[0], QUESTIONS[-1]),
    pause_s=st.integers(PAUSES_S[0], PAUSES_S[-1]),
    told=st.booleans(),
)
def test_a_question_is_its_anchor_its_rung_and_silence_to_answer_in(
    questions: int, pause_s: int, told: bool
) -> None:
    asked = rung_questions(score_of(FOUR), Asking(questions, 1, pause_s, told))
    played = asked.played()
    each_s = Fraction(asked.lasting_s - CLICKS)
    assert played.length == each_s * questions
    assert played.seconds(Fraction(1)) == 1
    for number, question in enumerate(asked.questions):
        assert question.number == number + 1
        assert question.start_s == number * asked.lasting_s
        first, rung, *again = played.between(each_s * number, each_s * (number + 1))
        [right] = [each.top for each in question.answer.rungs]
        assert (first.reed, rung.reed) == (Reed.parse("-2"), right.reed)
        silent_to = again[0].start if again else each_s * (number + 1)
        assert silent_to - rung.end >= pause_s
        depth = right.reed.bend  # the answer is counted out: one tone for -3, two for -3'
        assert [note.reed.bend for note in again] == (list(range(depth + 1)) if told else [])


def test_the_drills_of_the_library_have_numbers_of_their_own() -> None:
    scores = [expand(each.drill, Harp("C"), usual_position(each.drill)) for each in shipped()[::5]]
    numbers = [drill_number(score) for score in scores]
    assert all(10_000 <= number <= 99_999 for number in numbers)
    assert len(set(numbers)) == len(numbers)
    [again] = find_drills(scores[0].title)
    assert drill_number(expand(again, Harp("A"), Position(3))) == numbers[0]
