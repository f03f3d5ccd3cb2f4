"""Results of the listening check: each note of a finished sound file, target and measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.score.score import Note

MOST_CENTS = 1.0
"""A reference tone further than this from its target fails the check."""


@dataclass(frozen=True, slots=True)
class MeasuredNote:
    """One note as it sounds in a file."""

    note: Note
    at_s: float  # seconds from the start of the file
    heard_hz: float | None  # None when there was no tone, or too little of one
    too_short: bool = False  # fewer periods of it are steady than can be measured

    @property
    def cents(self) -> float | None:
        """Cents above (or, negative, below) its target."""
        return None if self.heard_hz is None else 1200 * math.log2(self.heard_hz / self.note.hz)

    @property
    def right(self) -> bool:
        """False when out of tune or missing; a note too short to measure is not judged."""
        return self.too_short if self.cents is None else abs(self.cents) <= MOST_CENTS


def hearing_data(heard: Sequence[MeasuredNote]) -> list[dict[str, object]]:
    """Return the rows for ``--json``: Hz and cents to four places, null where not measured."""
    return [
        {
            "at": round(each.at_s, 4),
            "tab": each.note.reed.tab,
            "name": each.note.pitch.name,
            "target_hz": round(each.note.hz, 4),
            "heard_hz": each.heard_hz and round(each.heard_hz, 4),
            "cents": None if each.cents is None else round(each.cents, 4),
            "right": each.right,
        }
        for each in heard
    ]


def hearing_table(heard: Sequence[MeasuredNote]) -> str:
    """Return target, measured Hz and difference of every note, and a summary line."""
    head = f"  {'at s':>8}  {'tab':<6} {'note':<4} {'target Hz':>10} {'heard Hz':>10} {'cents':>8}"
    return "\n".join([head, *map(_row, heard), "  " + hearing_summary(heard)])


def _row(each: MeasuredNote) -> str:
    note = each.note
    start = f"  {each.at_s:8.3f}  {note.reed.tab:<6} {note.pitch.name:<4} {note.hz:10.3f}"
    if each.heard_hz is None or each.cents is None:
        return f"{start} {'too short to measure' if each.too_short else 'NOT HEARD':>19}"
    return f"{start} {each.heard_hz:10.3f} {each.cents:+8.3f}{'' if each.right else '  WRONG'}"


def hearing_summary(heard: Sequence[MeasuredNote]) -> str:
    """Return one sentence: how many notes were measured, the worst, and what is wrong."""
    found = [abs(each.cents) for each in heard if each.cents is not None]
    wrong = sum(not each.right for each in heard)
    verdict = "all within" if not wrong else f"{wrong} NOT within"
    worst = f", the worst {max(found):.3f} cent off" if found else ""
    return f"{len(found)} of {len(heard)} notes measured: {verdict} {MOST_CENTS:g} cent{worst}."
