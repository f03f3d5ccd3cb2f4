"""Loudness of a steady tone, computed from its harmonics.

Tones of equal power differ by several LU between the ends of the harp, so tones are
levelled by the K-weighting of ITU-R BS.1770 instead.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]

# ITU-R BS.1770-4, annex 1, tables 1 and 2: the filters at 48 kHz, numerator and denominator.
_DESIGN_HZ = 48_000.0
_SHELF = (1.53512485958697, -2.69169618940638, 1.19839281085285), (
    1.0, -1.69065929318241, 0.73248077421585,
)  # fmt: skip
_HIGH_PASS = (1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)
OFFSET_DB = -0.691  # the standard's own, for the gain of the shelf at 1 kHz


def k_gain(hz: Samples) -> Samples:
    """Return the amplitude gain of the K-weighting at *hz*, below 24,000 Hz.

    >>> round(float(20 * np.log10(k_gain(np.array([997.0])))[0]), 2)
    0.69
    """
    z = np.exp(-2j * np.pi * hz / _DESIGN_HZ)
    gains = [
        np.abs((b[0] + b[1] * z + b[2] * z**2) / (a[0] + a[1] * z + a[2] * z**2))
        for b, a in (_SHELF, _HIGH_PASS)
    ]
    return np.asarray(gains[0] * gains[1], dtype=np.float64)


def scale_to_lufs(amplitudes: Samples, hz: Samples, lufs: float) -> float:
    """Return the factor that brings sines (peak *amplitudes* at *hz*) to *lufs*."""
    mean_square = float(np.sum((amplitudes * k_gain(hz)) ** 2) / 2)
    wanted = 10.0 ** ((lufs - OFFSET_DB) / 10)
    return float(np.sqrt(wanted / mean_square))
