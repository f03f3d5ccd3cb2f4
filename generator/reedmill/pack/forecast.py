"""What a build would make, what it would take, and why: without making anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reedmill.pack.course import Course
from reedmill.pack.explain import Reasons
from reedmill.pack.ledger import Origin, Share, ledger_name, read_origins
from reedmill.pack.plan import Plan, plan
from reedmill.pack.rates import Rate, rates
from reedmill.pack.report import failure_row
from reedmill.pack.result import Failure
from reedmill.pack.store import ledgers_of, read_records


@dataclass(frozen=True, slots=True)
class Row:
    """One kind of step."""

    kind: str
    number: int  # to be made
    ready: int  # made before
    seconds: float  # of one processor
    size: float  # bytes
    measured: bool  # in this folder; else as usual


@dataclass(frozen=True, slots=True)
class Forecast:
    """The plan in numbers."""

    rows: tuple[Row, ...]
    reasons: list[tuple[str, str]]  # place and why, for what would be made
    failed: list[Failure]

    @property
    def seconds(self) -> float:
        """Of one processor, in all."""
        return sum(row.seconds for row in self.rows)

    @property
    def size(self) -> float:
        """Bytes in all."""
        return sum(row.size for row in self.rows)

    def data(self, workers: int) -> dict[str, Any]:
        """The plan for ``--json``."""
        kinds = [
            {
                "kind": row.kind, "make": row.number, "ready": row.ready,
                "seconds": round(row.seconds, 1), "bytes": round(row.size),
                "measured": row.measured,
            }
            for row in self.rows
        ]  # fmt: skip
        return {
            "plan": kinds,
            "seconds": round(self.seconds / workers, 1),
            "bytes": round(self.size),
            "make": [{"path": place, "why": why} for place, why in self.reasons],
            "failed": [failure_row(each) for each in self.failed],
        }


def forecast(course: Course, curriculum: Path, out: Path, share: Share) -> Forecast:
    """What building *share* of *course* in *out* would come to."""
    records = read_records(out)
    found = plan(course, share, records.__contains__)
    origins: dict[str, Origin] = {}
    with suppress(OSError), ledgers_of(out) as packs:
        origins = read_origins(packs, ledger_name(curriculum))
    reasons = Reasons(origins, found.pieces, share)
    made = [piece for piece in found.pieces if piece.step in found.steps]
    failed = [
        Failure(f"{row.name} in lesson {row.lesson} for {edition.slug}", row.message)
        for edition, row in found.failed
    ]
    told = [(f"{piece.place} ({piece.kind})", reasons.why(piece)) for piece in made]
    return Forecast(tuple(_rows(found, rates(records.values()))), told, failed)


def _rows(found: Plan, cost: dict[str, Rate]) -> Iterable[Row]:
    amounts: Counter[str] = Counter()
    for step in found.steps.values():
        amounts[step.kind] += step.amount  # type: ignore[assignment]
    missing = Counter(step.kind for step in found.steps.values())
    every = {piece.step: piece.kind for piece in found.pieces}
    for kind, number in Counter(every.values()).items():
        rate, amount = cost[kind], amounts[kind]
        ready = number - missing[kind]
        yield Row(
            kind, missing[kind], ready, amount * rate.seconds, amount * rate.size, rate.measured
        )
