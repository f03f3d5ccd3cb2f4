"""A look-ahead limiter for sound with high peaks, such as drums.

The gain is found on a grid of short steps counted from the start of the recording, each from
the peaks around it alone, so any stretch comes out as it does in the whole.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from reedmill.sound.signal.loudness import Samples

Stem = Callable[[int, int], Samples]
"""A function from first and last sample to what sounds between them, mono."""

_STEP_S = 0.002  # with _REACH the gain turns over 20 ms, so that nobody hears it turn
_REACH = 10  # steps either way in which a peak turns the gain down, and over which it turns


def limited(raw: Stem, ceiling: float, rate: int) -> Stem:
    """Return *raw* with no sample over *ceiling*: turned down around its peaks, else as it is."""
    step = round(_STEP_S * rate)

    def block(first: int, last: int) -> Samples:
        # whole steps, with what turns their gain down, and one more to draw the line to
        low, high = first // step - 2 * _REACH - 2, -(-last // step) + 2 * _REACH + 2
        sound = np.zeros((high - low) * step)
        begin = max(low * step, 0)
        sound[begin - low * step :] = raw(begin, high * step)
        gains = _gains(np.abs(sound).reshape(-1, step).max(axis=1), ceiling)
        middles = (np.arange(low, high) + 0.5) * step
        inside = sound[first - low * step : last - low * step]
        return inside * np.interp(np.arange(first, last), middles, gains)

    return block


def _gains(peaks: Samples, ceiling: float) -> Samples:
    """Return the gain in the middle of each step: the mean of the lowest needed around it.

    Every value in a mean is low enough for the step itself, so the mean is; and the line
    between two middles is as low as the peak in either step needs.
    """
    needed = ceiling / np.maximum(peaks, ceiling)
    lowest = _over_neighbours(np.minimum, needed, _REACH + 1)
    return _over_neighbours(np.add, lowest, _REACH) / (2 * _REACH + 1)


def _over_neighbours(
    join: Callable[[Samples, Samples], Samples], values: Samples, reach: int
) -> Samples:
    """Join each value with *reach* neighbours on both sides, always in the same order."""
    padded = np.pad(values, reach, mode="edge")
    found = padded[: len(values)].copy()
    for shift in range(1, 2 * reach + 1):
        found = join(found, padded[shift : shift + len(values)])
    return found
