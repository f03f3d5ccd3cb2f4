"""A set from its way in to its end: what the band does in each chorus, read from its strokes.

What quiet, stops, breaks, trading fours, an intro from the five and a tag are is common practice,
with no published source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest

from reedmill.band.arranger import BandSet, arrange_set
from reedmill.band.harmony import Duty, set_bars
from reedmill.band.set_plan import ChorusKind, plan_named, plan_text, usual_plan
from reedmill.band.shelf import find_feel, find_form
from reedmill.band.way_in_and_out import Ending, Intro
from reedmill.base.errors import InputError
from reedmill.score.arrangement import Arrangement, Part, Struck
from reedmill.theory.positions import Key

C = Key(0, minor=False)
TWELVE, SHUFFLE = find_form("Twelve bars"), find_feel("Medium shuffle")


def played(
    plan: str = "", intro: Intro = Intro.NONE, ending: Ending = Ending.WRITTEN, **asked: int
) -> Arrangement:
    kinds = plan_named(plan) if plan else ()
    choruses = asked.pop("choruses", len(kinds) or 2)
    wanted = BandSet(choruses, plan=kinds, intro=intro, ending=ending, looseness=0, **asked)
    return arrange_set(TWELVE, SHUFFLE, C, wanted)


def of_bar(music: Arrangement, chorus: int, bar: int) -> list[Struck]:
    """The strokes of a bar, both counted from 0."""
    start = music.chorus_start(chorus) + bar * music.meter.beats
    return [note for note in music.notes if start <= note.start < start + music.meter.beats]


def hardness(music: Arrangement, chorus: int) -> float:
    return mean(
        note.velocity
        for bar in range(2, 10)
        for note in of_bar(music, chorus, bar)
        if note.part is Part.BASS  # as busy in one chorus as in the next
        and abs(note.start - round(note.start)) < Fraction(1, 8)  # no ghost strokes, between beats
    )


@pytest.mark.parametrize("choruses", [1, 2, 3, 4, 5, 6, 8, 12, 13, 50])
def test_a_set_builds_and_ends_full(choruses: int) -> None:
    plan = usual_plan(choruses)
    assert len(plan) == choruses
    if choruses > 1:
        assert plan[0] is not plan[-1] is ChorusKind.FULL
    if choruses > 6:
        assert ChorusKind.QUIET in plan[2:-1]  # it relaxes on the way
        assert ChorusKind.FULL in plan[1:-2]
    music = played(choruses=choruses)
    assert music.length == choruses * 12 * 4


def test_a_plan_is_read_as_it_is_written() -> None:
    plan = plan_named(" Quiet x2, STOPS,full X 2 ")
    assert plan_text(plan) == "quiet x2, stops, full x2"
    assert plan_named(plan_text(plan)) == plan
    with pytest.raises(InputError, match='the plan has "loud"'):
        plan_named("loud")


def test_a_plan_that_is_shorter_goes_on_as_it_ended() -> None:
    assert BandSet(4, plan=plan_named("quiet, even")).kinds() == plan_named("quiet, even x3")


def test_a_plan_of_more_choruses_than_are_played_is_refused() -> None:
    with pytest.raises(InputError, match="the plan has 3 choruses, and the form is played 2 times"):
        played("quiet, stops, full", choruses=2)
    with pytest.raises(InputError, match="2 choruses, and the form is played once"):
        played("quiet, full", choruses=1)


def test_full_choruses_are_played_harder_than_quiet_ones() -> None:
    music = played("quiet, even x2, full x2")
    quiet, _, even, full, last = (hardness(music, chorus) for chorus in range(5))
    assert quiet + 2 < even < full - 1 < last - 3


def test_each_chorus_differs_from_the_one_before_and_each_seed_from_the_next() -> None:
    music, other = played("even x4"), played("even x4", seed=1)

    def drums(heard: Arrangement, chorus: int) -> list[tuple[Fraction, int]]:
        start = heard.chorus_start(chorus)
        return [
            (note.start - start, note.key)
            for bar in range(11)
            for note in of_bar(heard, chorus, bar)
            if note.part is Part.DRUMS
        ]

    for here, there in pairwise(range(3)):
        assert drums(music, here) != drums(music, there)
    assert drums(music, 1) != drums(other, 1)
    assert music.notes == played("even x4").notes


def test_in_stops_the_whole_band_strikes_one_and_is_silent_after_it() -> None:
    music = played("even, stops, even")
    for bar in range(3):  # the fourth leads back
        notes = of_bar(music, 1, bar)
        start = music.chorus_start(1) + bar * 4
        assert {note.start for note in notes} == {start}
        assert {note.part for note in notes} == set(Part)
        assert music.chord_at(start).name == "I7"
        assert {n.key % 12 for n in notes if n.part is Part.BASS} == {0}
    back = [note.start - music.chorus_start(1) for note in of_bar(music, 1, 3)]
    assert [at for at in back if at != 12]  # a fill leads back
    assert all(at == 12 or at >= 15 for at in back)
    assert len({note.start for note in of_bar(music, 1, 4)}) > 4


def test_a_chord_of_a_stop_is_short() -> None:
    music = played("even, stops, even")
    ends = [note.start + note.length for note in of_bar(music, 1, 0) if note.part is not Part.DRUMS]
    assert max(ends) <= music.chorus_start(1) + 1


def test_in_a_break_the_player_is_alone() -> None:
    music = played("breaks, even")
    first, second = of_bar(music, 0, 10), of_bar(music, 0, 11)
    assert {note.start for note in first} == {Fraction(40)}
    assert all(note.part is Part.DRUMS and note.start >= 47 for note in second)
    sounding = [note for note in music.notes if note.start < 44 < note.start + note.length]
    assert not sounding


def test_in_trading_the_drums_have_every_second_four_bars() -> None:
    music = played("even, trade, even")
    parts = [{note.part for note in of_bar(music, 1, bar)} for bar in range(12)]
    assert all(each == set(Part) for each in (*parts[:4], *parts[8:11]))
    assert all(each == {Part.DRUMS} for each in parts[4:8])
    ends = [n.start + n.length for n in music.notes if n.part is Part.BASS and n.start < 64]
    assert max(ends) <= music.chorus_start(1) + 16


def test_the_last_bars_are_played_whatever_the_plan() -> None:
    for plan in ("stops", "breaks", "trade"):
        music = played(plan)
        assert {note.part for note in of_bar(music, 0, 11)} == set(Part)


@pytest.mark.parametrize(
    ("intro", "chords"),
    [
        (Intro.FIVE, ["V7", "IV7", "I7", "I7"]),
        (Intro.TURNAROUND, ["I7", "I7"]),
        (Intro.DRUMS, ["I7", "I7"]),
    ],
)
def test_a_way_in_comes_before_the_first_chorus(intro: Intro, chords: list[str]) -> None:
    music, without = played(intro=intro), played()
    count = len(chords)
    assert music.intro_bars == count
    assert music.chorus_start(0) == count * 4
    assert music.length == without.length + count * 4
    assert [music.chord_at(Fraction(4 * bar)).name for bar in range(count)] == chords
    early = {note.part for note in music.notes if note.start < count * 4}
    assert early == ({Part.DRUMS} if intro is Intro.DRUMS else set(Part))


def test_a_tag_plays_the_way_home_twice_more() -> None:
    music = played(ending=Ending.TAG)
    names = [
        [chord.name for at, chord in music.changing(Fraction(4 * bar), Fraction(4 * bar + 4))]
        for bar in range(22, 28)
    ]
    assert music.bars_of(1) == 16
    assert music.length == 28 * 4
    assert names[0][-1] == "IV7"
    assert names[-2][-1] == "V7"
    assert names[-1] == ["I7"]


def test_a_held_ending_holds_the_last_chord_two_bars_more() -> None:
    music, plain = played(ending=Ending.HELD), played()
    assert music.length == plain.length + 8
    assert len(music.notes) == len(plain.notes)
    last = [n for n in music.notes if n.start >= 23 * 4 and n.part is not Part.DRUMS]
    assert {note.start + note.length for note in last} == {music.length}


def test_bars_of_a_form_that_stop_do_so_in_every_chorus_but_at_the_end() -> None:
    form = replace(TWELVE, stops=range(4), breaks=range(10, 12))
    bars = set_bars(form, SHUFFLE.meter, plan_named("even x2"))
    duties = [bar.duty for bar in bars]
    assert duties[:4] == [Duty.STOPS] * 4
    assert duties[4:10] == [Duty.ALL] * 6
    assert duties[10:12] == [Duty.FIRST_BEAT, Duty.NOBODY]
    assert duties[12:16] == [Duty.STOPS] * 4
    assert duties[22:] == [Duty.ALL] * 2
    assert [at for at, bar in enumerate(bars) if bar.returns] == [3, 15]
