"""A table of the drills that practise each rung in each way, for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.cli.picture import text_columns
from reedmill.coverage import CoveredRung, Unplayed, coverage, overbends, unplayed
from reedmill.harp import Reed
from reedmill.library import Shelved
from reedmill.score.rung_ways import LEAST_TIMES, WAYS

_NOT_PLAYED = "-"
_TIMES = {2: "twice"}
_INDENT = "  "


def coverage_text(found: Sequence[Shelved]) -> str:
    """Return the counts of drills, bends and overbends apart, and under them what they mean."""
    rows, over = coverage(found), frozenset(overbends())
    bends = _counts([row for row in rows if row.reed not in over], "bend")
    overs = _counts([row for row in rows if row.reed in over], "over")
    often = _TIMES.get(LEAST_TIMES, f"{LEAST_TIMES} times")
    meant = [(way.head, way.meaning) for way in WAYS]
    return "\n\n".join(
        [
            bends,
            overs,
            f"The numbers are drills in which, {often} or more, the rung\n"
            + _indented(text_columns(*_heads_and_rows(meant))),
            f"Nobody plays what is marked {_NOT_PLAYED}:\n"
            + "\n".join(f"{_INDENT}{_said(each)}" for each in unplayed()),
        ]
    )


def _counts(rows: Sequence[CoveredRung], first: str) -> str:
    never = {(reed, way) for each in unplayed() for reed in each.reeds for way in each.ways}
    cells = [(row.reed.tab, *(_count(row, way.name, never) for way in WAYS)) for row in rows]
    return text_columns((first, *(way.head for way in WAYS)), cells)


def _count(row: CoveredRung, way: str, never: set[tuple[Reed, str]]) -> str:
    drills = row.drills[way]
    return _NOT_PLAYED if not drills and (row.reed, way) in never else str(len(drills))


def _heads_and_rows(
    rows: Sequence[tuple[str, str]],
) -> tuple[tuple[str, str], Sequence[tuple[str, str]]]:
    """Return the first of *rows* and the others: a table without heads."""
    return rows[0], rows[1:]


def _indented(text: str) -> str:
    return "\n".join(f"{_INDENT}{line}" for line in text.split("\n"))


def _said(each: Unplayed) -> str:
    heads = {way.name: way.head for way in WAYS}
    ways = ", ".join(heads[way] for way in each.ways)
    rungs = " ".join(reed.tab for reed in each.reeds)
    return f"{ways} of {rungs}:\n{_INDENT * 2}{each.reason}"
