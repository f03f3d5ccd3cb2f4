"""Each rung of a Richter harp in each way a teacher asks for it: the library has a drill for it.

How far each hole bends: strictly between its two notes of A291810 (see ``oracles``).  The seven
overbends, the ways to practise a note and what nobody plays are common practice, no published
source.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from click.testing import CliRunner

import oracles
from reedmill.cli import cli
from reedmill.coverage import CoveredRung, coverage, unplayed
from reedmill.expand import expand
from reedmill.formats.data import score_data
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import shipped
from reedmill.score.rung_ways import WAYS, ways_practised
from reedmill.theory.positions import Position
from together import together

BENDING = [tab for hole in range(1, 11) if oracles.bend_depth(hole) for tab in oracles.run(hole)]
OVERBENDS = ["1^", "4^", "5^", "6^", "-7^", "-9^", "-10^"]


@cache
def library() -> dict[str, CoveredRung]:
    return {row.reed.tab: row for row in coverage(shipped())}


def never() -> set[tuple[str, str]]:
    return {(reed.tab, way) for each in unplayed() for reed in each.reeds for way in each.ways}


def test_every_rung_has_a_drill_in_every_way_or_stands_among_what_nobody_plays() -> None:
    assert list(library()) == [*BENDING, *OVERBENDS]
    empty = {
        (tab, way.name)
        for tab, row in library().items()
        for way in WAYS
        if not row.drills[way.name]
    }
    assert empty == never()


def test_what_nobody_plays_is_little_and_has_its_reason() -> None:
    assert len(never()) <= 0.1 * len(library()) * len(WAYS)
    assert all(re.fullmatch(r"[a-z].+[a-z0-9]", each.reason) for each in unplayed())
    bends = {(tab, way) for tab, way in never() if "^" not in tab}
    # at either end of the harp one side of the mouth has no hole: nothing else is left out
    ends = {("-1", "left"), ("-1'", "left"), *((tab, "right") for tab in oracles.run(10))}
    assert bends == {(tab, f"tongue {side}") for tab, side in ends}


@together(
    ("music", "rung", "ways"),
    [
        ("-2:2 -3' -2 r -2 -3' -2:2", "-3'", "anchor start"),
        ("-2 -3' -2 -2 r -3' -2:2", "-3'", "anchor start"),  # a rest between changes nothing
        ("-2 -3' -4 r -2 -3' -4 r", "-3'", "start"),  # never back to the anchor
        ("-3 -3' -3 -3' -2:2", "-3'", "step"),
        ("-3 -3'' -3 -3'' -2:2", "-3''", ""),  # two rungs away is no step, and the hole is the same
        ("-3 r -3'' r -3 r -3'' r", "-3''", "start"),
        ("-3~-3' -2 -3'':2~-3' -2", "-3'", "slide"),
        ("3 -4' 3 -4' -2:4", "-4'", "turn start"),
        ("4 -4' 4 -4' -2:4", "-4'", "turn"),
        ("4 r -4' 4 r -4' 4 r", "-4'", "start"),  # the breath had time to turn
        ("-3:1/2 -3:1/2 -3 r:2", "-3", "eighths"),
        ("triplet(-3:1/2 -3:1/2 -3:1/2) -3 r:2", "-3", "triplets"),
        ("-3:1/4 -3:1/4 -3:1/4 -3:1/4 -3 r:2", "-3", "sixteenths"),
        ("-2 8' -2 8' -2:2", "8'", "turn anchor start"),
        ("6 6^ 6 6^ r 6", "6^", "step"),
        ("-3' r:3", "-3'", ""),  # once is chance
    ],
)  # fmt: skip
def test_ways_by_their_definition(music: str, rung: str, ways: str) -> None:
    """One drill of plain music, with draw 2 as the note that it leaves and comes back to."""
    [drill] = parse(f'drill "Mine"\n  anchor -2\n  play {music}\n')
    found = ways_practised(expand(drill, Harp("C"), Position(2)))
    by_tab = {reed.tab: names for reed, names in found.items()}
    assert by_tab.get(rung, frozenset()) == set(ways.split())


@together(
    ("lines", "rung", "way", "is_so"),
    [
        (["play -2 -3' 4 -3' -4 -2:3 |"], "-3'", "riff", True),
        (["anchor -2", "play -2 -3' 4 -3' -4 -2:3 |"], "-3'", "riff", False),
        (["play -2 -3' 4 -3' -2:4 |"], "-3'", "riff", False),  # three reeds
        (["play -2 -3' 4 -3' -2 -4:3 |"], "-3'", "riff", False),  # it ends on the fifth
        (["echo", "play -2 -3' -3' -2 |"], "-3'", "ear", True),
        (["play -2 -3' -3' -2 |"], "-3'", "ear", False),
        (["rungs -3' -3''", "phrase rung rung", "echo", "ending -4 -4"], "-3''", "ear", True),
        (["rungs -3' -3''", "phrase rung rung", "echo", "ending -4 -4"], "-4", "ear", False),
        (["embouchure tongue left", "play -3' -3'"], "-3'", "tongue left", True),
        (["embouchure tongue left", "play -3' -3'"], "-3'", "tongue right", False),
        (["embouchure tongue left", "play -2&3 -2&3"], "-3", "tongue left", False),
    ],
)  # fmt: skip
def test_music_ear_and_tongue_by_their_definition(
    lines: list[str], rung: str, way: str, is_so: bool
) -> None:
    [drill] = parse("\n  ".join(['drill "Mine"', *lines]) + "\n")
    found = ways_practised(expand(drill, Harp("C"), Position(2)))
    assert (
        way in {name for reed, names in found.items() for name in names if reed.tab == rung}
    ) is is_so


# --- the same again, stated from the tab, the beats and the words of the data alone ---


SINGLE = re.compile(r"(-?)(\d+)('*)(\^?)")


def of_tab(tab: str) -> tuple[str, str, int, bool]:
    """Sign, hole, ticks and whether it is overbent."""
    match = SINGLE.fullmatch(tab)
    assert match, tab
    return match[1], match[2], len(match[3]), bool(match[4])


def told_again(score: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Each single hole of *score*, with each of five ways that it is asked for in."""
    silent_from = Fraction(0)
    before = ""
    for row in score["notes"]:
        start, length = Fraction(row["start"]), Fraction(row["length"])
        if SINGLE.fullmatch(row["tab"]):
            if row["embouchure"] == "tongue block, tongue to the right":
                yield row["tab"], "tongue right"
            if not row["joined"]:
                if length == Fraction(1, 4) and score["meter"].endswith("/4"):
                    yield row["tab"], "sixteenths"
                at_once = before != "" and start == silent_from
                for way in ways_from(before, row["tab"]) if at_once else ["start"]:
                    yield row["tab"], way
        before, silent_from = row["tab"], start + length


def ways_from(before: str, tab: str) -> Iterator[str]:
    """The ways of a new attack on *tab* right after *before*."""
    sign, hole, ticks, over = of_tab(tab)
    if hole not in re.findall(r"\d+", before):
        yield "start"
    if before.startswith("-") != bool(sign):
        yield "turn"
    if SINGLE.fullmatch(before):
        beside = of_tab(before)
        if beside[:2] == (sign, hole) and abs(beside[2] - ticks) + (beside[3] ^ over) == 1:
            yield "step"


def test_five_ways_stated_again_from_the_data_find_the_same_drills() -> None:
    """A turn by a slide there is not, so that leaving slides out changes nothing for turns."""
    again: dict[tuple[str, str], set[str]] = {}
    for each in shipped():
        for score in each.scores:
            for cell, times in Counter(told_again(score_data(score))).items():
                if times >= 2:
                    again.setdefault(cell, set()).add(each.drill.title)
    for tab, row in library().items():
        for way in ("start", "turn", "step", "sixteenths", "tongue right"):
            assert set(row.drills[way]) == again.get((tab, way), set()), (tab, way)


# --- how it is shown ---


def shown(*options: str) -> str:
    result = CliRunner().invoke(cli, ["drills", "--coverage", *options])
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture(scope="module")
def table() -> str:
    return shown()


def test_the_table_fits_a_terminal_and_agrees_with_the_data(table: str) -> None:
    lines = table.split("\n")
    assert max(map(len, lines)) <= 80  # columns of a terminal: the VT100's, from memory
    data = {row["rung"]: row["ways"] for row in json.loads(shown("--json"))["coverage"]}
    for tab, ways in data.items():
        [line] = [line for line in lines if line.startswith(f"{tab} ")]
        cells = [str(len(way["drills"])) for way in ways]
        assert [cell.replace("-", "0") for cell in line.split()[1:]] == cells
    for each in unplayed():
        assert each.reason in table
    assert lines[0].split()[1:] == [way.head for way in WAYS]


def test_the_coverage_of_a_part_counts_that_part_alone() -> None:
    rows = json.loads(shown("--topic", "leaps", "--json"))["coverage"]
    leaps = {each.drill.title for each in shipped() if each.topic == "leaps"}
    named = {title for row in rows for way in row["ways"] for title in way["drills"]}
    assert named
    assert named <= leaps
