"""The frequencies of several harmonic tones at once, by nonlinear least squares.

Variable projection (G. H. Golub and V. Pereyra, SIAM J. Numer. Anal. 10(2), 1973, from memory):
for given fundamentals the amplitudes of all partials follow by linear least squares, so only
the fundamentals are searched, by Gauss and Newton.  It shares no code with the package.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]

_STEP = 0.05  # cents, for the slope
_PARTIALS = 6
_STAGES_S = (0.06, 0.12, 0.25)  # a short look finds it from further off, a longer one finer


def fundamentals_hz(sound: Samples, rate: int, near_hz: Sequence[float]) -> list[float]:
    """The fundamentals in Hz that fit the beginning of *sound* best, searched from *near_hz* on."""
    hz = np.array(near_hz)
    for lasting_s in _STAGES_S:
        looked_at = sound[: round(lasting_s * rate)]
        for _ in range(4):
            step = _step_cents(looked_at, rate, hz)
            hz = hz * 2 ** (np.clip(step, -10, 10) / 1200)
            if np.max(np.abs(step)) < 0.01:
                break
    return [float(each) for each in hz]


def _step_cents(sound: Samples, rate: int, hz: Samples) -> Samples:
    """The step of Gauss and Newton: what to add to the fundamentals *hz*, in cents."""
    left = _left(sound, rate, hz)
    slopes = []
    for number in range(len(hz)):
        moved = hz.copy()
        moved[number] *= 2 ** (_STEP / 1200)
        slopes.append((_left(sound, rate, moved) - left) / _STEP)
    return np.asarray(np.linalg.lstsq(np.array(slopes).T, -left, rcond=None)[0])


def amplitudes(
    sound: Samples, rate: int, tones_hz: Sequence[float], partials: int = 2
) -> list[float]:
    """The root of the summed squares of the partials of each of *tones_hz*, as amplitudes."""
    base = _base(len(sound), rate, np.array(tones_hz), partials)
    found = np.linalg.lstsq(base, _windowed(sound), rcond=None)[0]
    rows = found.reshape(len(tones_hz), -1)
    return [float(np.sqrt(np.sum(row**2))) for row in rows]


def _windowed(sound: Samples) -> Samples:
    return np.asarray(sound * np.hanning(len(sound) + 2)[1:-1], dtype=np.float64)


def _left(sound: Samples, rate: int, tones_hz: Samples) -> Samples:
    """What is left of the sound when the best sum of these tones is taken away."""
    base, heard = _base(len(sound), rate, tones_hz, _PARTIALS), _windowed(sound)
    best = np.linalg.lstsq(base.T @ base, base.T @ heard, rcond=None)[0]
    return np.asarray(heard - base @ best, dtype=np.float64)


def _base(count: int, rate: int, tones_hz: Samples, partials: int) -> Samples:
    """Cosine and sine of every partial, windowed: one column each."""
    seconds = (np.arange(count) - count / 2) / rate
    columns = [
        _windowed(wave(2 * np.pi * number * hz * seconds))
        for hz in tones_hz
        for number in range(1, partials + 1)
        for wave in (np.cos, np.sin)
    ]
    return np.array(columns).T


def line_hz(sound: Samples, rate: int, near_hz: float, reach_hz: float) -> float:
    """The strongest line of the spectrum near *near_hz*: a parabola through its logarithm."""
    size = 1 << (8 * len(sound) - 1).bit_length()
    lines = np.abs(np.fft.rfft(sound * np.blackman(len(sound)), size))
    first = round((near_hz - reach_hz) * size / rate)
    top = first + int(np.argmax(lines[first : round((near_hz + reach_hz) * size / rate) + 1]))
    left, here, right = np.log(lines[top - 1 : top + 2])
    return float((top + 0.5 * (left - right) / (left - 2 * here + right)) * rate / size)
