"""The library by what it practises: each rung of the harp, each way to play it, its drills."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.harp import HOLES, RICHTER, Reed, bend_depth, bending_breath, overbend
from reedmill.library import Shelved
from reedmill.score.rung_ways import WAYS, ways_practised


@dataclass(frozen=True, slots=True)
class Unplayed:
    """Rungs and ways that no drill practises, with the reason."""

    reeds: tuple[Reed, ...]
    ways: tuple[str, ...]
    reason: str


def bending_rungs() -> tuple[Reed, ...]:
    """Return each note of a Richter harp that bends with its bends, hole by hole."""
    return tuple(
        Reed(hole, bending_breath(RICHTER, hole), bend)
        for hole in HOLES
        for depth in [bend_depth(RICHTER, hole)]
        for bend in range(depth + 1 if depth else 0)
    )


def overbends() -> tuple[Reed, ...]:
    """Return the overblows and overdraws of a Richter harp, hole by hole."""
    return tuple(reed for hole in HOLES for reed in [overbend(RICHTER, hole)] if reed)


def unplayed() -> tuple[Unplayed, ...]:
    """Return what nobody plays, and why; common practice, no published source."""
    left, right = "tongue left", "tongue right"
    first, last = _of_hole(HOLES[0]), _of_hole(HOLES[-1])
    over = overbends()
    others = tuple(reed for reed in over if reed not in last)
    return (
        Unplayed(over, ("slide",), "an overbend jumps to its note: no slide leads there"),
        Unplayed(first, (left,), "left of hole 1 there is no hole for the tongue to cover"),
        Unplayed(last, (right,), "right of hole 10 there is no hole for the tongue to cover"),
        Unplayed(others, (right,), "nobody overbends at the left corner of a tongue block"),
    )


def _of_hole(hole: int) -> tuple[Reed, ...]:
    return tuple(reed for reed in (*bending_rungs(), *overbends()) if reed.hole == hole)


@dataclass(frozen=True, slots=True)
class CoveredRung:
    """A rung, with the titles of the drills that practise it in each way."""

    reed: Reed
    drills: dict[str, tuple[str, ...]]


def coverage(found: Sequence[Shelved]) -> tuple[CoveredRung, ...]:
    """Return which of *found* practise each rung in each way, in any of their embouchures."""
    practised = [(each.drill.title, _practised_by(each)) for each in found]
    return tuple(
        CoveredRung(
            reed,
            {
                way.name: tuple(title for title, cells in practised if (reed, way.name) in cells)
                for way in WAYS
            },
        )
        for reed in (*bending_rungs(), *overbends())
    )


def coverage_data(found: Sequence[Shelved]) -> dict[str, list[dict[str, object]]]:
    """Return the coverage of *found* as plain data: what ``drills --coverage --json`` prints."""
    return {
        "coverage": [
            {
                "rung": each.reed.tab,
                "ways": [
                    {"way": way, "drills": list(titles)} for way, titles in each.drills.items()
                ],
            }
            for each in coverage(found)
        ],
        "ways": [{"way": way.name, "meaning": f"the rung {way.meaning}"} for way in WAYS],
        "unplayed": [
            {
                "rungs": [reed.tab for reed in each.reeds],
                "ways": list(each.ways),
                "reason": each.reason,
            }
            for each in unplayed()
        ],
    }


def _practised_by(each: Shelved) -> set[tuple[Reed, str]]:
    return {
        (reed, name)
        for score in each.scores
        for reed, names in ways_practised(score).items()
        for name in names
    }
