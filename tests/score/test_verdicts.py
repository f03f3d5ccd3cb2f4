"""Verdicts and their tolerances, and what several tries of one note come to."""

from __future__ import annotations

import pytest

from reedmill.base.errors import InputError
from reedmill.harp import Reed
from reedmill.score.footprints import Footprint, summary_of
from reedmill.score.verdicts import Tolerance, Verdict

USUAL = Tolerance()


@pytest.mark.parametrize(
    ("cents", "verdict"),
    [(0.0, "on"), (10.0, "on"), (-10.0, "on"), (10.1, "near"), (25.0, "near"), (-25.0, "near"),
     (25.1, "sharp"), (-25.1, "flat"), (49.0, "sharp"), (-60.0, "flat")],
)  # fmt: skip
def test_a_bound_belongs_to_the_better_verdict(cents: float, verdict: str) -> None:
    assert USUAL.verdict(cents).value == verdict


def test_which_verdicts_are_in_place_and_which_have_cents() -> None:
    assert {each for each in Verdict if each.in_place} == {Verdict.ON, Verdict.NEAR}
    assert {each for each in Verdict if each.measured} == {
        Verdict.ON, Verdict.NEAR, Verdict.SHARP, Verdict.FLAT,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "limits"),
    [("10,25", (10, 25)), ("10", (10, 25)), ("5", (5, 12.5)), ("8, 20", (8, 20)), ("1/1", (1, 1)),
     ("30", (30, 50)), ("50", (50, 50)), (" 7.5 15 ", (7.5, 15))],
)  # fmt: skip
def test_a_tolerance_is_read_as_it_is_written(text: str, limits: tuple[float, float]) -> None:
    found = Tolerance.parse(text)
    assert (found.on_cents, found.near_cents) == limits


@pytest.mark.parametrize("text", ["", "x", "0", "0.9", "51", "10,51", "25,10", "-5", "10,25,40"])
def test_another_tolerance_is_refused(text: str) -> None:
    """Half a semitone is the most: what is further off is nearer to another note."""
    with pytest.raises(InputError, match="10,25"):
        Tolerance.parse(text)


def tries(*cents: float | str) -> list[Footprint]:
    """Tries by their cents, by ``missed``, or by the tab of another note."""
    found: list[Footprint] = []
    for number, each in enumerate(cents):
        if each == "missed":
            found.append(Footprint(0, Verdict.MISSED, number, number + 1))
        elif isinstance(each, str):
            other = Reed.parse(each)
            found.append(
                Footprint(0, Verdict.ANOTHER_NOTE, number, number + 1, 200.0, heard_as=other)
            )
        else:
            found.append(Footprint(0, USUAL.verdict(each), number, number + 1, each))
    return found


@pytest.mark.parametrize(
    ("cents", "verdict", "middle", "in_place"),
    [((12.0,), "near", 12.0, 1), ((40.0, 4.0, 30.0), "sharp", 30.0, 1),
     ((40.0, "missed"), "sharp", 40.0, 0), ((4.0, "missed", "missed"), "missed", None, 1),
     (("-4", "-4", "missed"), "another-note", None, 0)],
)  # fmt: skip
def test_tries_come_to_their_middle_where_half_were_measured(
    cents: tuple[float | str, ...], verdict: str, middle: float | None, in_place: int
) -> None:
    found = summary_of(tries(*cents), USUAL)
    assert found is not None
    assert (found.verdict.value, found.cents) == (verdict, middle)
    assert (found.in_place, found.count) == (in_place, len(cents))


def test_the_commonest_other_note_is_named() -> None:
    found = summary_of(tries("-4", "-3", "-4", "missed"), USUAL)
    assert found is not None
    assert found.heard_as == Reed.parse("-4")
    assert summary_of([], USUAL) is None
