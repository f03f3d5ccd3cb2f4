"""The tuning of the harp itself, told apart from what its player does."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from reedmill.harp import Reed, ReedKind, bending_breath
from reedmill.harp.harp import Harp

MOST_HARP_CENTS = 50.0
"""Half a semitone: a harp further off is a harp in another key."""

SAME_HARP_CENTS = 2.0
"""A harp fewer whole cents than this from its reference is at it: a take tells no more."""

_NEAR_CENTS = 10.0  # from the median: as far as reeds of one harp differ, common practice


def harp_cents(harp: Harp, naturals: Iterable[tuple[Reed, float]]) -> float | None:
    """Return how many cents *harp* is above its nominal pitch; ``None`` if nothing tells.

    *naturals* are unbent notes with their distance from the target.  A reed that cannot bend
    down says most, for no player can move it far; an anchor played twenty times is still one
    reed.  The answer is the middle of the reeds, each by its own middle.
    """
    heard: dict[Reed, list[float]] = defaultdict(list)
    for reed, cents in naturals:
        if reed.kind is ReedKind.NATURAL and abs(cents) <= MOST_HARP_CENTS + 15:
            heard[reed].append(cents)
    if not heard:
        return None
    values = [_middle(each, [1.0] * len(each)) for each in heard.values()]
    weights = [_weight(harp, reed, len(each)) for reed, each in heard.items()]
    return _middle(values, weights)


def _weight(harp: Harp, reed: Reed, count: int) -> float:
    bends = bending_breath(harp.layout, reed.hole) is reed.breath
    # a mean of n tries is surer by the root of n, and a reed that does not bend twice as sure
    return float(np.sqrt(count)) * (1.0 if bends else 2.0)


def _middle(values: list[float], weights: list[float]) -> float:
    """Return the mean of values near the median: an outlier counts for nothing."""
    place = weighted_median(values, weights)
    at, own = np.array(values), np.array(weights)
    for _ in range(5):
        near = own * np.exp(-0.5 * ((at - place) / _NEAR_CENTS) ** 2)
        place = float(np.sum(near * at) / np.sum(near))
    return place


def weighted_median(values: Iterable[float], weights: Iterable[float]) -> float:
    """Return the value with half of the weight on either side, interpolated.

    ``ValueError`` where there are no values.

    >>> weighted_median([0.0, 10.0], [1, 1])
    5.0
    """
    pairs = sorted(zip(values, weights, strict=True))
    heights = np.array([pair[0] for pair in pairs])
    share = np.array([pair[1] for pair in pairs], dtype=float)
    centres = (np.cumsum(share) - share / 2) / share.sum()
    return round(float(np.interp(0.5, centres, heights)), 6)
