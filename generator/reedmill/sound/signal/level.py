"""Loudness of a whole recording, and the factor to the common target level.

Integrated loudness by EBU R 128 (ITU-R BS.1770-4: K-weighting, blocks of 400 ms, gates at
-70 LUFS and 10 LU under the rest) and true peak by four times oversampling, both from a
stream of blocks, in memory that does not grow with the recording.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.sound.signal.loudness import OFFSET_DB, Samples, k_gain

TARGET_LUFS = -18.0
"""What every file is brought to.  Two under the level of a steady tone of the reed voice, so
that a mix with drone and click stays under the peak limit without a limiter."""

UNDER_LU = 6.0
"""How far the band lies under a steady tone of the guide, in loudness units."""

PEAK_LIMIT_DBTP = -1.5
"""No file's true peak goes over it; half a decibel is kept for what lossy codecs add."""

# Gating blocks of 400 ms that overlap by 75%, and both gates: ITU-R BS.1770-4, annex 1.
_HOP_S, _HOPS_A_GATE = 0.1, 4
_HOPS_A_CHUNK = 10  # a second at a time, which bounds the memory
_ABSOLUTE_GATE_LUFS, _RELATIVE_GATE_LU = -70.0, -10.0
_REACH_S = 0.05  # of the filter either way; the high-pass has fallen by 100 dB there
_HEARD_HZ = 24_000.0  # half of 48 kHz, for which BS.1770 gives its filter
_NEAR_PEAK = 0.8  # between samples lower than this share of the peak none is expected


@dataclass(frozen=True, slots=True)
class Level:
    """The measured loudness and true peak of a recording."""

    lufs: float  # minus infinity when it is silent or shorter than 400 ms
    true_peak: float  # amplitude, 1 is full scale

    @property
    def factor(self) -> float:
        """The amplitude factor to the target, or as near to it as the peak limit allows."""
        if self.true_peak == 0:
            return 1.0
        wanted = float(10 ** ((TARGET_LUFS - self.lufs) / 20)) if np.isfinite(self.lufs) else 1.0
        return min(wanted, float(10 ** (PEAK_LIMIT_DBTP / 20)) / self.true_peak)


def measured(blocks: Iterable[Samples], rate: int) -> Level:
    """Measure the level of a recording given as blocks of shape (samples, channels), in order."""
    hop = round(_HOP_S * rate)
    reach = round(_REACH_S * rate)
    energies: list[Samples] = []
    peak = 0.0
    for chunk in _chunks(blocks, hop * _HOPS_A_CHUNK, reach):
        peak = _true_peak(chunk, reach, peak)
        weighted = _weighted(chunk, rate)[reach : len(chunk) - reach]
        whole = len(weighted) // hop * hop
        powers = np.sum(weighted[:whole] ** 2, axis=1).reshape(-1, hop)
        energies.append(powers.mean(axis=1))
    return Level(_gated_lufs(np.concatenate(energies) if energies else np.zeros(0)), peak)


def _chunks(blocks: Iterable[Samples], size: int, reach: int) -> Iterator[Samples]:
    """Yield the recording in *size* samples, each with *reach* more on both sides."""
    held: Samples | None = None
    for block in blocks:
        held = np.concatenate([_silence(reach, block) if held is None else held, block])
        while len(held) >= size + 2 * reach:
            yield held[: size + 2 * reach]
            held = held[size:]
    if held is not None and len(held) > reach:
        yield np.concatenate([held, _silence(reach, held)])


def _silence(count: int, like: Samples) -> Samples:
    return np.zeros((count, like.shape[1]))


def _weighted(chunk: Samples, rate: int) -> Samples:
    """Apply the K-weighting to *chunk* without its phase, which moves no energy far."""
    count = 1 << (len(chunk) - 1).bit_length()
    spectrum = np.fft.rfft(chunk.T, count)
    spectrum *= _gains(count, rate)
    return np.fft.irfft(spectrum, count)[:, : len(chunk)].T


@lru_cache(maxsize=4)
def _gains(count: int, rate: int) -> Samples:
    return k_gain(np.minimum(np.fft.rfftfreq(count, 1 / rate), _HEARD_HZ))


def _gated_lufs(hops: Samples) -> float:
    """Return the integrated loudness from the mean square of every 100 ms."""
    if len(hops) < _HOPS_A_GATE:
        return float("-inf")
    blocks = np.convolve(hops, np.full(_HOPS_A_GATE, 1 / _HOPS_A_GATE), mode="valid")
    heard = blocks[blocks > _power(_ABSOLUTE_GATE_LUFS)]
    if not len(heard):
        return float("-inf")
    heard = heard[heard > heard.mean() * 10 ** (_RELATIVE_GATE_LU / 10)]
    return float(OFFSET_DB + 10 * np.log10(heard.mean()))


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - OFFSET_DB) / 10))


# --- true peak ---------------------------------------------------------------------------

_TAPS = 24  # either side; as a window over the sinc: Kaiser, beta 8


def _between_samples() -> NDArray[np.float64]:
    """Return rows that interpolate at a quarter, a half and three quarters of a sample."""
    steps = np.arange(-_TAPS + 1, _TAPS + 1)
    rows = []
    for part in (0.25, 0.5, 0.75):
        window = np.i0(8 * np.sqrt(1 - ((steps - part) / (_TAPS + 1)) ** 2)) / np.i0(8)
        rows.append(np.sinc(steps - part) * window)
    return np.array(rows)


_BETWEEN = _between_samples()


def _true_peak(chunk: Samples, reach: int, peak: float) -> float:
    """Return the peak at four times the rate of *chunk*, without *reach* on both sides.

    *peak* itself when that is higher.
    """
    for channel in chunk.T:
        loud = np.abs(channel[reach - 1 : len(channel) - reach + 1])  # and a sample either side
        inner = loud[1:-1]
        peak = max(peak, float(inner.max(initial=0.0)))
        tops = inner >= np.maximum(loud[:-2], loud[2:])
        found_at = np.flatnonzero(tops & (inner > _NEAR_PEAK * peak)) + reach
        around = np.lib.stride_tricks.sliding_window_view(channel, 2 * _TAPS)
        # the gaps before and after each; a row starts _TAPS - 1 samples before its gap
        gaps = np.concatenate([found_at - 1, found_at]) - _TAPS + 1
        rows = around[gaps]
        # not a matrix product: starting the threads of BLAS takes longer than all the rest
        found = np.einsum("ij,kj->ik", rows, _BETWEEN)
        peak = max(peak, float(np.abs(found).max(initial=0.0)))
    return peak
