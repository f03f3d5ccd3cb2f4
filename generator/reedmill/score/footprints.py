"""Footprints of a recorded take: where every try of a note came to rest.

Whoever listens fills these values and whoever draws takes them, so that neither knows the other.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from reedmill.base.text import ForeignText
from reedmill.harp import Reed
from reedmill.score.score import Score
from reedmill.score.verdicts import Tolerance, Verdict


@dataclass(frozen=True, slots=True)
class Footprint:
    """One try of one note of a score."""

    index: int  # of the note in the score, from 0
    verdict: Verdict
    start_s: float  # seconds of the take; of a note that was missed, where it was due
    end_s: float
    cents: float | None = None  # over its place; of another note too; None where nothing is known
    heard_as: Reed | None = None  # the reed another note belongs to


@dataclass(frozen=True, slots=True)
class Trace:
    """The pitch of one unbroken tone over time."""

    start_s: float
    step_s: float  # from one reading to the next
    cents: tuple[float, ...]  # above 440 Hz, what the harp itself is sharp taken off


@dataclass(frozen=True, slots=True)
class Aside:
    """A tone that is not a note of the score."""

    start_s: float
    cents: float  # above 440 Hz, what the harp itself is sharp taken off
    nearest: Reed | None  # the reed it is nearest to


@dataclass(frozen=True, slots=True)
class Footprints:
    """A whole take as shown beside its score."""

    take: ForeignText  # the name of its file
    tries: tuple[Footprint, ...]  # in time order, all passes
    passes: int
    tolerance: Tolerance
    harp_cents: float = 0.0  # what the harp itself is sharp, taken off everywhere
    advice: tuple[str, ...] = ()  # sentences, our own
    traces: tuple[Trace, ...] = ()
    asides: tuple[Aside, ...] = ()


@dataclass(frozen=True, slots=True)
class Summary:
    """The verdict and the median of all tries of one written note."""

    verdict: Verdict
    cents: float | None  # the median of those that were measured
    in_place: int  # how many were on or near
    count: int
    heard_as: Reed | None = None  # of the commonest other note


def summary_of(tries: Sequence[Footprint], tolerance: Tolerance) -> Summary | None:
    """Summarize *tries*; return ``None`` for none.

    Where at least half were measured their median is judged, otherwise what was said most often.
    """
    if not tries:
        return None
    good = sum(each.verdict.in_place for each in tries)
    measured = [each.cents for each in tries if each.verdict.measured and each.cents is not None]
    if 2 * len(measured) >= len(tries):
        middle = median(measured)
        return Summary(tolerance.verdict(middle), middle, good, len(tries))
    said = Counter(each.verdict for each in tries if not each.verdict.measured)
    verdict = said.most_common(1)[0][0]
    reeds = Counter(each.heard_as for each in tries if each.verdict is verdict)
    return Summary(verdict, None, good, len(tries), reeds.most_common(1)[0][0])


def tries_of(score: Score, prints: Footprints, reed: Reed) -> list[Footprint]:
    """Return the tries of *reed* with a known pitch, in time order."""
    return [
        each for each in prints.tries
        if each.cents is not None and score.notes[each.index].reed == reed
    ]  # fmt: skip
