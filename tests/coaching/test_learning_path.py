"""A path through the library: one new thing at a time, hole by hole, and the same every time."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from reedmill.base.errors import InputError
from reedmill.coaching.learning_path import PathStep, learning_path
from reedmill.coaching.placement import RungCount
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import TASKS, practice_shelf, shipped
from reedmill.theory.positions import Position

SHELF = {str(each.drill.title): each for each in shipped()}
CROSS = (Position(2),)

# The order in which teachers take the bends, and up to which a player of a level has come:
# common practice, no published source.  Those of one row are learned together.
LADDER = [
    ("-4'",), ("-1'",), ("-6'",), ("-3'",), ("-3''",), ("-2'", "-2''"), ("-3'''",), ("8'",),
    ("9'",), ("10'", "10''"), ("6^",), ("5^",), ("4^",), ("1^",), ("-7^",), ("-9^",), ("-10^",),
]  # fmt: skip
MET = {1: [], 2: ["-4'", "-1'", "-3'"], 3: ["-4'", "-1'", "-6'", "-3'", "-3''", "-2'", "-2''"]}
MET[4] = [*MET[3], "-3'''", "8'", "9'", "-3q", "-5q"]
MET[5] = [*MET[4], "10'", "10''", "6^", "5^"]
NEEDED = {"single notes", "draw bend", "blow bend", "overbend", "quarter tone"}


def path(level: int, harp: str = "C", fallen: Iterable[RungCount] = ()) -> tuple[PathStep, ...]:
    return learning_path(level, Harp.parse(harp), CROSS, {each.tab: each for each in fallen})


def bends_of(step: PathStep) -> set[str]:
    score = expand(SHELF[step.title].drill, Harp("C"), Position(step.position))
    return {reed.tab for note in score.notes for reed in note.reeds if reed.tab[-1] in "'^q"}


def together(tabs: Iterable[str]) -> set[tuple[str, ...]]:
    """The things that *tabs* are: rows of the ladder, and quarter tones each for itself."""
    return {next((row for row in LADDER if tab in row), (tab,)) for tab in tabs}


@pytest.mark.parametrize("level", range(1, 6))
def test_each_step_has_one_new_thing_at_most_while_any_drill_is_so(level: int) -> None:
    met, techniques = set(MET[level]), set[str]()
    for each in practice_shelf():
        if (each.drill.level or 0) < level:
            techniques |= set(each.techniques)
    steps = path(level)
    for at, step in enumerate(steps):
        new = bends_of(step) - met
        begins = set(SHELF[step.title].techniques) - NEEDED - techniques
        assert set(step.new) == new
        assert set(step.begins) == begins
        if len(together(new)) + len(begins) > 1:
            left = [len(together(bends_of(each) - met))
                    + len(set(SHELF[each.title].techniques) - NEEDED - techniques)
                    for each in steps[at:]]  # fmt: skip
            assert min(left) == left[0], step.title
        met |= new
        techniques |= begins
        assert step.level <= level + 1
        assert step.topic != TASKS
    assert steps
    assert len({step.title for step in steps}) == len(steps)


@pytest.mark.parametrize("level", range(1, 6))
def test_bends_are_met_hole_by_hole(level: int) -> None:
    """Each that a drill brings alone, in the order of the ladder."""
    order = [tab for row in LADDER for tab in row]
    brought = [step.new for step in path(level) if len(together(step.new)) == 1 and not step.begins]
    alone = [new[0] for new in brought if new[0] in order]
    assert [order.index(tab) for tab in alone] == sorted(order.index(tab) for tab in alone)


def test_a_beginner_begins_on_hole_4() -> None:
    new = [step.new for step in path(1) if step.new]
    assert new[:2] == [("-4'",), ("-1'",)]


def test_the_path_is_the_whole_shelf_of_two_levels_in_the_positions_that_are_asked_for() -> None:
    for positions in ((2,), (1,), (3, 2)):
        found = learning_path(2, Harp("A"), tuple(map(Position, positions)))
        wanted = {
            title: next(p for p in positions if p in (meant or positions))
            for title, each in SHELF.items()
            if each.drill.level in (2, 3) and each.topic != TASKS
            for meant in [each.drill.positions]
            if not meant or set(meant) & set(positions)
        }
        assert {step.title: step.position for step in found} == wanted
        assert {step.harp for step in found} == {"A"}


def test_what_fell_out_comes_first_with_drills_of_lower_levels_too() -> None:
    first = path(3, fallen=[RungCount("-4'", 4, 1)])[0]
    assert first.level < 3
    assert [each.tab for each in first.fallen] == ["-4'"]
    assert first.why == "-4' fell out (1 of 4 in place)"
    assert first.new == ()


def test_it_is_the_same_every_time() -> None:
    assert path(2) == path(2)


@pytest.mark.parametrize("level", [0, 6])
def test_another_level_is_refused(level: int) -> None:
    with pytest.raises(InputError, match=f"there are levels 1 to 5, and {level} is not one"):
        path(level)
