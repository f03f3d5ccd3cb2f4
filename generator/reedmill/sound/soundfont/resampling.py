"""Resampling of a recorded tone, by which a SoundFont's tuning is corrected.

Reading a recording *r* times as fast raises its pitch by exactly *r*; FluidSynth's own means
are coarser (bends and tunings in whole cents, bends scaled by 127/128).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from reedmill.sound.signal.loudness import Samples

_TAPS = 16  # samples looked at on either side
_PHASES = 512  # places between two samples; the kernel is interpolated between these
_KAISER_BETA = 9.0  # side lobes about 90 dB down (Kaiser's formula)
_BLOCK = 4096  # output samples at a time: what stays in a processor's cache is faster


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """A recording of one steady tone, to be read along a phase.

    It stands in for ``tone.Period``: the same ``along``, though what it gives for a phase
    is another sample in each period, and it ends where the recording ends.
    """

    sound: Samples  # mono, with silence on both sides for the kernel to reach into
    start: float  # the sample of the recording that phase 0 is
    period: float  # samples to one period of the recorded tone
    cutoff: float  # of the recording's own bandwidth: less than 1 when it is read faster

    def along(self, cycles: Samples) -> Samples:
        """Return the tone at every phase of *cycles*, in periods from 0 up.

        The result has the shape of *cycles*.
        """
        found = np.empty_like(cycles)
        for first in range(0, len(cycles), _BLOCK):
            block = slice(first, first + _BLOCK)
            found[block] = self._at(self.start + cycles[block] * self.period)
        return found

    def _at(self, places: Samples) -> Samples:
        """Interpolate the recording between its samples by a windowed sinc."""
        before = np.floor(places).astype(np.int64)
        phase = (places - before) * _PHASES
        row = phase.astype(np.int64)
        table = _kernels(self.cutoff)
        kernel = table[row]
        kernel += (phase - row)[:, np.newaxis] * (table[row + 1] - kernel)
        around = np.lib.stride_tricks.sliding_window_view(self.sound, 2 * _TAPS)
        inside = np.clip(before + 1, 0, len(around) - 1)  # beyond its end lies silence
        return np.asarray(np.einsum("ij,ij->i", around[inside], kernel))


def recorded(sound: Samples, start: float, period: float, speed: float) -> Recorded:
    """Prepare *sound* with phase 0 at sample *start*, to be read up to *speed* times as fast."""
    quiet = np.zeros(2 * _TAPS)
    # the window that belongs to a place begins _TAPS - 1 samples before it
    return Recorded(
        np.concatenate([quiet, sound, quiet]),
        start + _TAPS, period, min(1.0, 0.97 / speed),
    )  # fmt: skip


@lru_cache(maxsize=64)
def _kernels(cutoff: float) -> Samples:
    """Return a row of weights for every place between two samples, from one to the next."""
    part = np.arange(_PHASES + 1)[:, np.newaxis] / _PHASES
    steps = np.arange(-_TAPS + 1, _TAPS + 1) - part
    inside = np.clip(1 - (steps / _TAPS) ** 2, 0, None)
    window = np.i0(_KAISER_BETA * np.sqrt(inside)) / np.i0(_KAISER_BETA)
    rows = cutoff * np.sinc(cutoff * steps) * window
    rows /= rows.sum(axis=1, keepdims=True)
    rows.flags.writeable = False  # it is shared
    return np.asarray(rows)
