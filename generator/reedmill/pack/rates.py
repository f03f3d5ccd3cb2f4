"""How long steps take and how big they get: measured in this folder, or else as usual."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reedmill.pack.records import Record

_USUAL = {  # seconds of one processor and bytes, for an amount of one
    "sheet": (0.4, 190_000.0),  # with its picture
    "drawing": (0.8, 400_000.0),
    "page": (0.3, 40_000.0),
    "roles": (0.8, 60_000.0),
    "book": (0.02, 70_000.0),  # for a sheet or page in it
    "audio": (0.004, 90_000.0),  # for a second of sound
    "midi": (0.005, 800.0),
    "tab": (0.002, 1_000.0),
    "musicxml": (0.005, 20_000.0),
}
_ENOUGH = 5  # steps of a kind that are worth more than the usual values


@dataclass(frozen=True, slots=True)
class Rate:
    """What an amount of one costs."""

    seconds: float
    size: float  # bytes
    measured: bool


def rates(records: Iterable[Record]) -> dict[str, Rate]:
    """The rate of every kind of step."""
    found = {kind: Rate(seconds, size, measured=False) for kind, (seconds, size) in _USUAL.items()}
    sums: dict[str, list[float]] = {}
    for each in records:
        row = sums.setdefault(each.kind, [0.0, 0.0, 0.0, 0.0])
        size = float(sum(part.size for part in each.parts))
        for at, value in enumerate((1.0, each.amount, each.seconds, size)):
            row[at] += value
    for kind, (number, amount, seconds, size) in sums.items():
        if number >= _ENOUGH and amount > 0:
            found[kind] = Rate(seconds / amount, size / amount, measured=True)
    return found
