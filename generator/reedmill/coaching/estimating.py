"""Estimates of how far out each rung is, also where few tries tell of it.

What a place is out is taken as the sum of what is common to all (the player), the rung, the way
it is reached, the register of the harp, the rung in that register, and the place itself, each
normal about nothing; a try differs from it by chance.  The exact posterior is that of a Gaussian
process whose covariance counts the parts two places share (Rasmussen and Williams, "Gaussian
Processes for Machine Learning", 2006, equations 2.25 and 2.26): a place with many tries is
estimated by them, one with few is drawn to its neighbours.  Older tries count for less.  The
sizes of the parts are common practice of teachers, no published source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reedmill.record.rung_sums import HALF_LIFE_DAYS as HALF_LIFE_DAYS
from reedmill.record.rung_sums import LearnedRung as LearnedRung

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

USUAL_CENTS = 22.0
"""How far out a place is taken to be of which nothing is known."""

TRY_SD_CENTS = 12.0
"""By how much one try of a place differs from what it is out in the long run."""

# Standard deviations of the parts, in cents.
_PLAYER, _RUNG, _REACHED, _REGISTER, _RUNG_IN_REGISTER, _OWN = 12.0, 9.0, 8.0, 5.0, 6.0, 9.0
_PRIOR = sum(
    sd**2 for sd in (_PLAYER, _RUNG, _REACHED, _REGISTER, _RUNG_IN_REGISTER, _OWN)
)  # the variance of a place of which nothing is known


@dataclass(frozen=True, slots=True)
class Tally:
    """The tries of one place, summed up: older ones count for less than one."""

    tries: int
    weight: float  # what they count, all together
    out_cents: float  # the mean of how far out they were, each by what it counts


@dataclass(frozen=True, slots=True)
class Estimate:
    """The distance a place is likely to be out, and how sure that is."""

    cents: float  # the mean of what is likely
    sd: float  # the standard deviation of what is likely, in cents
    tries: int


def weight(days_ago: float) -> float:
    """Return what a try counts that was made *days_ago*.

    >>> weight(0.0), weight(7.0), weight(14.0)
    (1.0, 0.5, 0.25)
    """
    return float(0.5 ** (max(0.0, days_ago) / HALF_LIFE_DAYS))


def tallies(tries: Iterable[tuple[LearnedRung, float, float]]) -> dict[LearnedRung, Tally]:
    """Return the tally of each place from *tries*: place, cents out, days ago."""
    counts: dict[LearnedRung, int] = defaultdict(int)
    weights: dict[LearnedRung, float] = defaultdict(float)
    sums: dict[LearnedRung, float] = defaultdict(float)
    for place, out_cents, days_ago in tries:
        counted = weight(days_ago)
        counts[place] += 1
        weights[place] += counted
        sums[place] += counted * out_cents
    return {
        place: Tally(count, weights[place], sums[place] / weights[place])
        for place, count in counts.items()
    }


def estimates(
    heard: Mapping[LearnedRung, Tally], places: Sequence[LearnedRung]
) -> dict[LearnedRung, Estimate]:
    """Return the estimate of each of *places*, heard or not, from all that was *heard*."""
    known, above, covariance = _heard(heard)
    across = _shared(known, places)
    solved = np.linalg.solve(covariance, np.column_stack([above, across]))
    middle = USUAL_CENTS + across.T @ solved[:, 0]
    variance = _PRIOR - np.einsum("kp,kp->p", across, solved[:, 1:])
    return {
        place: Estimate(
            cents=float(middle[number]),
            sd=float(np.sqrt(max(0.0, variance[number]))),
            tries=heard[place].tries if place in heard else 0,
        )
        for number, place in enumerate(places)
    }


def likely_cents(heard: Mapping[LearnedRung, Tally]) -> dict[LearnedRung, float]:
    """Return how far out each place that was *heard* is likely to be: the cents of ``estimates``.

    How sure that is, is not reckoned, which for a class of many takes most of the time.
    """
    known, above, covariance = _heard(heard)
    found = USUAL_CENTS + _shared(known, known) @ np.linalg.solve(covariance, above)
    return dict(zip(known, map(float, found), strict=True))


def _heard(heard: Mapping[LearnedRung, Tally]) -> tuple[list[LearnedRung], Array, Array]:
    """Return the places that count, and of these the vector and the matrix of the equations.

    The vector says how far each is beyond what is usual, in cents; the matrix is the covariance
    of that, the chance of its tries included.
    """
    known = [place for place, tally in heard.items() if tally.weight > 0]
    noise = [TRY_SD_CENTS**2 / heard[place].weight for place in known]
    above = np.array([heard[place].out_cents - USUAL_CENTS for place in known])
    return known, above, _shared(known, known) + np.diag(noise)


def _shared(some: Sequence[LearnedRung], others: Sequence[LearnedRung]) -> Array:
    """Return the covariance of each of *some* with each of *others*, in square cents."""
    rung = _same(some, others, lambda each: each.tab)
    reached = rung & _same(some, others, lambda each: each.came_from)
    register = _same(some, others, lambda each: each.register)
    found: Array = (
        _PLAYER**2
        + _RUNG**2 * rung
        + _REACHED**2 * reached
        + _REGISTER**2 * register
        + _RUNG_IN_REGISTER**2 * (rung & register)
        + _OWN**2 * (reached & register)
    )
    return found


def _same(
    some: Sequence[LearnedRung], others: Sequence[LearnedRung], of: Callable[[LearnedRung], object]
) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Tell for each of *some* and each of *others* whether they are alike in what *of* returns."""
    numbers: dict[object, int] = {}
    left = np.array([numbers.setdefault(of(each), len(numbers)) for each in some])
    right = left
    if others is not some:
        right = np.array([numbers.setdefault(of(each), len(numbers)) for each in others])
    same: np.ndarray[tuple[int, ...], np.dtype[np.bool_]] = np.equal.outer(left, right)
    return same
