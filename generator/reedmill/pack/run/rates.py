"""Time and size of steps: measured in this folder, or else the usual values.

The usual values were taken on one processor of 2023 that did nothing else.  What is measured
in a folder is time of the processors of that machine too: waiting is not work, so that a busy
day does not make the next plan longer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from reedmill.formats.table import STEPS, Maker
from reedmill.pack.steps.records import Record
from reedmill.pack.steps.steps import Step

_USUAL = {  # seconds of one processor and bytes, for an amount of one
    "page": (0.13, 45_000.0),
    "roles": (0.55, 49_000.0),
    "book": (0.06, 47_000.0),  # for a sheet or page in it
} | {kind: row.cost for kind, row in STEPS.items() if row.maker is not Maker.SOUND}
_USUAL_FORMS = {  # the same for a second of sound in one channel, by type of file
    "wav": (0.0025, 88_200.0),  # of 16 bits, 44,100 times a second
    "flac": (0.003, 30_500.0),
    "ogg": (0.0055, 7_300.0),
    "mp3": (0.0135, 6_500.0),
}
_SECOND_CHANNEL = {"wav": 1.0, "flac": 0.2, "ogg": 0.6, "mp3": 0.3}  # of the bytes of the first
_EACH_S = 0.2  # of every recording, however short: its voice is made ready
_USUAL_PAGES = {"page": 1.05, "roles": 1.0} | {
    kind: row.pack.step.pages for kind, row in STEPS.items() if row.pack and row.pack.step.pages
}
_ENOUGH = 5  # steps of a kind that are worth more than the usual values


@dataclass(frozen=True, slots=True)
class Rate:
    """The cost of one unit of a step, in seconds and bytes."""

    seconds: float
    size: float  # bytes
    measured: bool


@dataclass(frozen=True, slots=True)
class Rates:
    """The measured rates of each kind of step, and of sound by its file types."""

    measured: dict[tuple[str, tuple[str, ...]], Rate] = field(default_factory=dict)
    pages: dict[str, float] = field(default_factory=dict)  # of a PDF of each kind, on average

    def of(self, step: Step) -> Rate:
        """Return the cost of one unit of *step*."""
        known = self.measured.get((step.kind, step.forms))
        if known and (step.channels == 1 or "wav" not in step.forms):
            return known
        if step.kind != "audio":
            return Rate(*_USUAL[step.kind], measured=False)
        return _usual_sound(step)

    def pages_of(self, kind: str) -> float:
        """Return how many pages a PDF of this *kind* of step has, on average."""
        return self.pages.get(kind, _USUAL_PAGES.get(kind, 0.0))


def _usual_sound(step: Step) -> Rate:
    rows = [(*_USUAL_FORMS[form], _SECOND_CHANNEL[form]) for form in step.forms]
    wide = step.channels - 1
    seconds = sum(each * (1 + 0.8 * wide) for each, _, _ in rows) / len(rows)
    size = sum(each * (1 + more * wide) for _, each, more in rows) / len(rows)
    return Rate(seconds + _EACH_S / max(step.amount, 1.0), size, measured=False)


def rates(records: Iterable[Record]) -> Rates:
    """Return the rates of every kind of step among *records*."""
    sums: dict[tuple[str, tuple[str, ...]], list[float]] = {}
    pages: dict[str, list[float]] = {}
    for each in records:
        row = sums.setdefault((each.kind, forms_of(each)), [0.0, 0.0, 0.0, 0.0])
        size = float(sum(part.size for part in each.parts))
        for at, value in enumerate((1.0, each.amount, each.seconds, size)):
            row[at] += value
        pages.setdefault(each.kind, []).extend(part.pages for part in each.parts if part.pages)
    measured = {
        key: Rate(seconds / amount, size / amount, measured=True)
        for key, (number, amount, seconds, size) in sums.items()
        if number >= _ENOUGH and amount > 0
    }
    return Rates(measured, {kind: sum(of) / len(of) for kind, of in pages.items() if of})


def forms_of(record: Record) -> tuple[str, ...]:
    """Return the types of sound file a record holds, by name."""
    if record.kind != "audio":
        return ()
    return tuple(sorted({part.ending.rpartition(".")[2] for part in record.parts}))
