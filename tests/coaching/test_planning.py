"""What is practised next is the weakest rung, found soon; and that gets a student there sooner.

The students are simulated by a model that is not the estimates' (``simulated_students.py``).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import groupby

import numpy as np
import pytest

from reedmill.base.errors import InputError
from reedmill.coaching.estimating import Estimate, LearnedRung
from reedmill.coaching.evening import Evening, evening
from reedmill.coaching.needs import Needs
from reedmill.coaching.planning import EveningPart, Offer, plan
from reedmill.coaching.practice_history import PastTake, PracticeHistory
from reedmill.harp import Harp
from reedmill.record import KeptTake
from reedmill.record.record_book import PlayedTake
from reedmill.theory.positions import Position
from simulated_students import (
    HARDEST,
    HARPS,
    NOW,
    Student,
    as_chosen,
    at_random,
    finds_the_weakest,
    in_order,
    mean_needed,
)
from taken import take

FIRST, OTHER = LearnedRung("-3''", "-2", "middle"), LearnedRung("-4'", "4", "middle")
STUDENTS = 40  # of the 500 of tests/benchmarks/next_practice.py


def test_the_weakest_of_forty_rungs_is_found_within_six_takes() -> None:
    found = sum(finds_the_weakest(seed) for seed in range(STUDENTS))
    print(f"found for {found} of {STUDENTS} students")
    assert found >= 0.9 * STUDENTS


def test_who_practises_what_is_chosen_is_there_sooner() -> None:
    needed = {each.__name__: mean_needed(each, range(3))[0]
              for each in (in_order, at_random, as_chosen)}  # fmt: skip
    print({name: round(takes) for name, takes in needed.items()})
    assert needed["as_chosen"] <= 0.7 * needed["in_order"]
    assert needed["as_chosen"] < needed["at_random"]


def needs(**cents: float) -> Needs:
    return Needs({FIRST: Estimate(cents.get("first", 30.0), 3.0, 40),
                  OTHER: Estimate(cents.get("other", 30.0), 3.0, 40)})  # fmt: skip


@pytest.mark.parametrize("nearer", [5.0, 12.0, 20.0])
def test_what_is_further_out_gains_more(nearer: float) -> None:
    known = needs(first=nearer, other=nearer + 8)
    assert known.gain(OTHER, 4) > known.gain(FIRST, 4) > 0


def test_a_rung_that_is_due_gains_more_than_one_that_is_not() -> None:
    known = needs(first=8.0, other=8.0)
    assert replace(known, due={FIRST}).gain(FIRST, 4) > known.gain(FIRST, 4)


def test_what_is_hardly_known_is_worth_hearing() -> None:
    sure = Needs({FIRST: Estimate(18.0, 2.0, 90), OTHER: Estimate(18.0, 15.0, 1)})
    assert sure.gain(OTHER, 2) > sure.gain(FIRST, 2)


def test_what_was_never_heard_comes_after_what_is_known_to_be_out() -> None:
    known = Needs({FIRST: Estimate(16.0, 4.0, 20), OTHER: Estimate(22.0, 20.0, 0)})
    assert known.gain(FIRST, 4) > known.gain(OTHER, 4) > 0


def test_blocks_on_one_harp_stand_together() -> None:
    found = evening(played(3, 12), 30)
    harps = [b.offer.harp for b in found.blocks if b.part is EveningPart.RUNGS]
    assert len(list(groupby(harps))) == len(set(harps))


def test_each_further_try_of_an_evening_gains_less() -> None:
    gains = [needs().gain(FIRST, 4, done) for done in (0, 4, 8, 12, 40)]
    assert gains == sorted(gains, reverse=True)


def offer(title: str, *tries: LearnedRung, **more: object) -> Offer:
    return replace(Offer(title, "C", 2, 60, 30.0, tries=dict.fromkeys(tries, 5)), **more)  # type: ignore[arg-type]


def test_the_most_urgent_rung_comes_first_and_its_reason_says_so() -> None:
    there = [offer("other", OTHER), offer("first", FIRST)]
    [block, *_] = plan(there, needs(first=40.0, other=6.0), 5)
    assert (block.offer.title, block.aims[0]) == ("first", FIRST)


def test_a_drill_of_the_library_is_preferred_to_a_written_one_that_is_a_little_better() -> None:
    there = [offer("library", FIRST), offer("written", FIRST, pattern="drill", seconds=25.0)]
    assert plan(there, needs(), 5)[0].offer.title == "library"
    far_better = offer("written", FIRST, pattern="drill", seconds=8.0)
    assert plan([there[0], far_better], needs(), 5)[0].offer.title == "written"


def played(seed: int, takes: int) -> PracticeHistory:
    student = Student(np.random.default_rng(seed))
    for _ in range(takes):
        block = student.next_block()
        student.play(block.offer.tries, block.passes)
    return student.history


@pytest.mark.parametrize("takes", [0, 3, 20])
@pytest.mark.parametrize("minutes", [3, 5, 10, 15, 30, 60])
def test_an_evening_never_lasts_longer_than_there_is_time(minutes: int, takes: int) -> None:
    found = evening(played(minutes, takes), minutes)
    assert 0 < found.minutes <= minutes
    named = [(block.offer.title, block.offer.harp) for block in found.blocks]
    assert len(set(named)) == len(named)
    if minutes >= 10:
        parts = [block.part for block in found.blocks]
        assert parts[0] is EveningPart.WARM_UP
        assert parts[-1] is EveningPart.MUSIC
        assert not found.blocks[0].offer.tries  # nothing is bent before lips are warm
        if takes:  # lips that never bent a note have enough of less
            assert found.minutes > 0.7 * min(minutes, 30)


def test_every_block_about_rungs_says_what_it_is_for() -> None:
    found = evening(played(4, 9), 30)
    for block in found.blocks:
        if block.part in (EveningPart.RUNGS, EveningPart.SURVEY):
            assert "draw" in found.why(block) or "blow" in found.why(block)


def at_tempo(in_place: float, tempo: float, title: str = "Home from every rung") -> PracticeHistory:
    takes = tuple(
        PastTake(title, Harp("C"), 2, NOW - timedelta(days=day), tempo, in_place,
                 ((FIRST, 4.0),) * 9)
        for day in (3, 2, 1)
    )  # fmt: skip
    return PracticeHistory(takes, NOW)


def tempo_of(found: Evening, title: str = "Home from every rung") -> list[tuple[int, int]]:
    return [(block.offer.tempo, block.offer.faster_than) for block in found.blocks
            if block.offer.title == title]  # fmt: skip


def test_what_is_in_place_goes_faster_up_to_its_goal() -> None:
    """The drill is written with a tempo of 56 to 84."""
    assert tempo_of(evening(at_tempo(0.95, 60.0), 30)) == [(65, 60)]
    assert tempo_of(evening(at_tempo(0.95, 82.0), 30)) == [(84, 82)]
    assert all(not faster for _, faster in tempo_of(evening(at_tempo(0.95, 84.0), 60)))


def test_nobody_plays_a_rung_that_is_out_much_faster_than_he_tried_it() -> None:
    """A tenth faster at most: common practice, slow first."""
    take = PastTake("Home from every rung", Harp("C"), 2, NOW, 50.0, 0.5, ((FIRST, 32.0),) * 20)
    found = evening(PracticeHistory((take,), NOW), 30)
    tempi = [b.offer.tempo for b in found.blocks if FIRST in b.offer.tries]
    assert tempi
    assert max(tempi) <= 55


def test_one_rung_does_not_take_up_the_whole_evening() -> None:
    take = PastTake("Home from every rung", Harp("C"), 2, NOW, 50.0, 0.5, ((FIRST, 45.0),) * 60)
    found = evening(PracticeHistory((take,), NOW), 60)
    assert sum(b.aims[:1] == (FIRST,) for b in found.blocks) <= 3


def test_a_long_evening_has_more_music_than_a_short_one() -> None:
    def music(minutes: int) -> float:
        found = evening(played(5, 12), minutes).blocks
        return sum(b.seconds for b in found if b.part is EveningPart.MUSIC)

    assert music(60) > 1.5 * music(15) > 0


def test_a_take_of_a_few_notes_says_nothing_of_the_drill() -> None:
    """Eight clear notes at least, common practice: three right ones are no drill played well."""
    three = take([("-2", None, 2.0), ("-3", "-2", 3.0), ("-2", "-3", 1.0)])
    whole = take([("-3", "-2", 3.0)] * 8)
    moment = "2027-03-01T18:00:00Z"
    shares = [PastTake.of(PlayedTake(moment, KeptTake(each))).in_place for each in (three, whole)]
    assert shares == [3 / 8, 1.0]


def test_what_was_played_in_one_position_is_not_faster_in_another() -> None:
    found = evening(at_tempo(0.95, 60.0), 30, position=Position(1))
    assert all(block.offer.faster_than == 0 for block in found.blocks)


def test_what_is_not_in_place_does_not_go_faster() -> None:
    assert all(not faster for _, faster in tempo_of(evening(at_tempo(0.7, 60.0), 60)))


def test_a_beginner_gets_nothing_but_the_first_level() -> None:
    from reedmill.library import shipped  # the drills are read once for all tests

    levels = {str(each.drill.title): each.drill.level for each in shipped()}
    found = evening(PracticeHistory((), NOW), 30)
    assert {levels[block.offer.title] for block in found.blocks} == {1}


def test_who_plays_well_is_offered_one_level_more() -> None:
    hard = PastTake(HARDEST, HARPS[1], 2, NOW, 60.0, 0.9, ((FIRST, 4.0),) * 4)
    found = evening(PracticeHistory((hard,), NOW), 60)
    assert any(block.offer.level > 1 for block in found.blocks)


def test_only_harps_that_were_asked_for_are_needed() -> None:
    found = evening(played(7, 6), 30, [Harp("D")])
    assert {block.offer.harp for block in found.blocks} == {"D"}


@pytest.mark.parametrize("minutes", [0, 2.9, 121, float("nan")])
def test_an_odd_time_is_refused_with_what_can_be_had(minutes: float) -> None:
    with pytest.raises(InputError, match="from 3 to 120"):
        evening(PracticeHistory((), NOW), minutes)


@pytest.mark.parametrize("name", ["A country", "low F natural minor", "Bb"])
def test_a_harp_is_named_so_that_it_is_found_again(name: str) -> None:
    found = evening(PracticeHistory((), NOW), 10, [Harp.parse(name)])
    assert {Harp.parse(block.offer.harp) for block in found.blocks} == {Harp.parse(name)}
