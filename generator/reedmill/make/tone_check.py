"""Results of the check of finished tones: each note of a sound file, target and measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.score.score import Note

MOST_CENTS = 1.0
"""A reference tone further than this from its target fails the check."""

MOST_LATE_MS = 20.0
"""So does an attack that is earlier or later; the ear hears when to some 5 milliseconds."""


@dataclass(frozen=True, slots=True)
class MeasuredNote:
    """One note as it sounds in a file; of several holes at once, each is one."""

    note: Note
    at_s: float  # seconds from the start of the file to where its attack should be
    heard_hz: float | None  # None when there was no tone, or too little of one
    too_short: bool = False  # fewer periods of it are steady than can be measured
    not_measured: str = ""  # why its pitch is not measured at all: "a shake"; empty: it is
    late_ms: float | None = None  # of its attack; None where none is heard apart from others

    @property
    def cents(self) -> float | None:
        """Cents above (or, negative, below) its target."""
        return None if self.heard_hz is None else 1200 * math.log2(self.heard_hz / self.note.hz)

    @property
    def in_tune(self) -> bool:
        """False when it is out of tune or missing; a note that is not measured is not judged."""
        if self.cents is None:
            return self.too_short or bool(self.not_measured)
        return abs(self.cents) <= MOST_CENTS

    @property
    def in_time(self) -> bool:
        """False when its attack is heard elsewhere than it should be."""
        return self.late_ms is None or abs(self.late_ms) <= MOST_LATE_MS

    @property
    def right(self) -> bool:
        """True when it is in tune and in time."""
        return self.in_tune and self.in_time


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
            "late_ms": None if each.late_ms is None else round(each.late_ms, 1),
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
        words = f" {_why_no_pitch(each):>19}"
    else:
        words = f" {each.heard_hz:10.3f} {each.cents:+8.3f}{'' if each.in_tune else '  WRONG'}"
    return start + words + ("" if each.in_time else _moment(each.late_ms or 0.0))


def _why_no_pitch(each: MeasuredNote) -> str:
    if each.not_measured:
        return f"not measured: {each.not_measured}"
    return "too short to measure" if each.too_short else "NOT HEARD"


def _moment(late_ms: float) -> str:
    return f"  {abs(late_ms):.0f} ms {'LATE' if late_ms > 0 else 'EARLY'}"


def hearing_summary(heard: Sequence[MeasuredNote]) -> str:
    """Return a sentence on pitches and one on attacks: how many were measured, what is wrong."""
    found = [abs(each.cents) for each in heard if each.cents is not None]
    worst = f", the worst {max(found):.2f} cent off" if found else ""
    verdict = _verdict(sum(not each.in_tune for each in heard), f"{MOST_CENTS:g} cent")
    timed = [each for each in heard if each.late_ms is not None]
    attacks = _verdict(sum(not each.in_time for each in timed), f"{MOST_LATE_MS:g} ms")
    when = f" {len(timed)} attacks heard: {attacks}." if timed else ""
    left = dict.fromkeys(each.not_measured for each in heard if each.not_measured)
    why = f" Not measured: {', '.join(left)}." if left else ""
    return f"{len(found)} of {len(heard)} notes measured: {verdict}{worst}.{why}{when}"


def _verdict(wrong: int, limit: str) -> str:
    return f"{wrong} NOT within {limit}" if wrong else f"all within {limit}"
