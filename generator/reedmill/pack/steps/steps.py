"""A step: work that is done once and kept, named by everything that decides its bytes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from reedmill.formats.table import STEPS, Maker, slowest_first
from reedmill.pack.steps.facts import Facts, digest, step_id
from reedmill.pack.steps.versions import code_facts
from reedmill.pack.steps.work import (
    Drawing,
    Page,
    Sheet,
    SoundWork,
    Volume,
    Work,
    facts_of,
    fonts_used,
    kind_of,
    pack_work,
)

SHEETS_A_RUN = 20
"""One LilyPond process draws many sheets faster than many processes do."""

TOGETHER = {kind for kind, row in STEPS.items() if row.drawn} | {"page", "roles"}
"""The kinds of which a run is drawn in one go; of the others each step is done by itself."""

_LEAST_A_RUN = 4

# Seconds that steps may take: some, and so many for each unit of their amount.  Ten to fifty
# times what is usual, for a busy or a slow machine; no honest work comes near it.
_MAKERS_S = {Maker.LILYPOND: (120.0, 15.0), Maker.SOUND: (120.0, 1.0), Maker.WRITER: (60.0, 0.0)}
_LIMITS_S = {
    "page": _MAKERS_S[Maker.LILYPOND],
    "roles": _MAKERS_S[Maker.LILYPOND],
    "book": (120.0, 5.0),
} | {kind: _MAKERS_S[Maker.LILYPOND if row.drawn else row.maker] for kind, row in STEPS.items()}


@dataclass(frozen=True, slots=True)
class Step:
    """A piece of work to be carried out, named by a hash of its facts."""

    id: str  # equal ids, equal bytes
    kind: str
    packed: bytes  # the work, see ``work.unpack_work``
    batch: str  # steps with the same one may be carried out in one run
    amount: float  # how much it is: sheets, or seconds of sound in all its files
    forms: tuple[str, ...] = ()  # of sound: its types of file, by name
    channels: int = 1  # of sound


def step_of(work: Work) -> tuple[Step, Facts]:
    """Return the step of *work*, and the facts its id was made from."""
    kind = kind_of(work)
    facts = facts_of(work) | code_facts(kind)
    step = Step(step_id(kind, facts), kind, pack_work(work), _batch(work), _amount(work))
    if isinstance(work, SoundWork):
        of = work.recording
        step = replace(step, forms=tuple(sorted(of.types)), channels=2 if of.wide else 1)
    return step, facts


def batches(steps: Iterable[Step], workers: int) -> Iterator[tuple[Step, ...]]:
    """Group *steps* that can share a run, as many as keep all *workers* busy.

    What takes longest comes first, so that the small ones fill up the end.
    """
    groups: dict[str, list[Step]] = {}
    for step in steps:
        groups.setdefault(f"{step.kind} {step.batch}", []).append(step)
    for group in sorted(groups.values(), key=lambda each: _ORDER.index(each[0].kind)):
        size = _run_size(len(group), _A_RUN.get(group[0].kind, SHEETS_A_RUN), workers)
        for start in range(0, len(group), size):
            yield tuple(group[start : start + size])


def limit_s(steps: Sequence[Step]) -> float:
    """Return after how many seconds *steps*, done in one go, are given up."""
    fixed, each = _LIMITS_S[steps[0].kind]
    return fixed + each * sum(step.amount for step in steps)


def _run_size(number: int, most: int, workers: int) -> int:
    """Return how many of *number* go into a run, so that every worker gets the same share.

    >>> _run_size(100, 20, 2), _run_size(20, 20, 2), _run_size(3, 20, 2)
    (17, 10, 4)
    """
    runs = -(-number // most)
    runs = -(-runs // workers) * workers
    return max(min(_LEAST_A_RUN, most), -(-number // runs))


_WRITTEN = slowest_first(Maker.WRITER)
_ORDER = (
    *slowest_first(Maker.LILYPOND), *(kind for kind in _WRITTEN if STEPS[kind].drawn),
    "page", "roles", "book",
    *slowest_first(Maker.SOUND), *(kind for kind in _WRITTEN if not STEPS[kind].drawn),
)  # fmt: skip
_MAKERS_RUN = {Maker.LILYPOND: SHEETS_A_RUN, Maker.SOUND: 4, Maker.WRITER: 40}
_A_RUN = {"roles": 1, "book": 1} | {
    kind: SHEETS_A_RUN if row.drawn else _MAKERS_RUN[row.maker] for kind, row in STEPS.items()
}


def _batch(work: Work) -> str:
    match work:
        case Sheet(_, look, png):
            return f"{digest(look)} {png} {fonts_used(work)}"
        case Drawing(_, look) | Page(_, look):
            return f"{digest(look)} {fonts_used(work)}"  # one run sees the same fonts
        case _:
            return ""


def _amount(work: Work) -> float:
    match work:
        case SoundWork(score, recording):
            return float(recording.sound_s(score))
        case Volume():
            return float(len(work.leaves))
        case _:
            return 1.0
