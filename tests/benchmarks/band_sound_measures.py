"""Figures of a band's recording: how alike two choruses sound, and how loudness moves.

Loudness is that of ITU-R BS.1770 by pyloudnorm; the short-term one is taken over 3 s each
second (EBU Tech 3341).  The file may begin with silence: its first sound is the first stroke.
"""

from __future__ import annotations

import warnings
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
from band_measures import Figures
from numpy.typing import NDArray
from performed import Performed

Samples = NDArray[np.float64]

ENVELOPE_HZ, SLOW_HZ = 100, 10  # the slow one does not hear looseness
SHORT_S, HOP_S = 3.0, 1.0
MOST_LAG_S = 0.05
SILENT = 0.01  # of the peak; a first sound is louder
SECOND, THIRTEENTH = 1, 12  # the choruses that are compared


def sound_figures(path: Path, piece: Performed, choruses: int) -> Figures:
    """Return the figures of a WAV file of *piece*, which has more than thirteen choruses."""
    sound, rate = soundfile.read(path, always_2d=True)
    mono: Samples = np.ascontiguousarray(sound.mean(axis=1))
    begun = _lead(mono, rate, piece)
    chorus_s = piece.bars // choruses * piece.pulses_a_bar * 60 / piece.bpm
    cuts = [round((begun + at * chorus_s) * rate) for at in range(choruses + 1)]
    parts = [mono[a:b] for a, b in pairwise(cuts)]
    return {
        **_alike(parts[SECOND], parts[THIRTEENTH], rate),
        **_loudness(sound, cuts, rate),
        **_beats(mono[cuts[0] : cuts[-1]], rate, 60 / piece.bpm),
        "lead-in": begun,
    }


def _lead(mono: Samples, rate: int, piece: Performed) -> float:
    """Return the seconds before bar 1, from the first sound and the first stroke."""
    first = int(np.argmax(np.abs(mono) > SILENT * np.abs(mono).max())) / rate
    struck = min(each.start for rows in piece.strokes.values() for each in rows)
    lead = first - struck * 60 / piece.bpm
    return max(0.0, round(lead, 1))


def envelope(mono: Samples, rate: int, hz: int) -> Samples:
    """Return the root mean square of each stretch of sound, *hz* of them a second."""
    hop = rate // hz
    whole = mono[: len(mono) // hop * hop].reshape(-1, hop)
    return np.asarray(np.sqrt((whole**2).mean(axis=1)))


def _alike(one: Samples, other: Samples, rate: int) -> Figures:
    return {
        "envelope": _together(one, other, rate, ENVELOPE_HZ),
        "slow envelope": _together(one, other, rate, SLOW_HZ),
        "samples": _best(one, other, rate),
    }


def _together(one: Samples, other: Samples, rate: int, hz: int) -> float:
    first, second = (envelope(each, rate, hz) for each in (one, other))
    long = min(len(first), len(second))
    return float(np.corrcoef(first[:long], second[:long])[0, 1])


def _best(one: Samples, other: Samples, rate: int) -> float:
    """Return the greatest correlation of two sounds at any small lag."""
    long = min(len(one), len(other))
    one, other = one[:long] - one[:long].mean(), other[:long] - other[:long].mean()
    size = 2 * long
    around = np.fft.irfft(np.fft.rfft(one, size) * np.conj(np.fft.rfft(other, size)), size)
    most = round(MOST_LAG_S * rate)
    near = np.concatenate((around[:most], around[-most:]))
    return float(near.max() / np.sqrt((one**2).sum() * (other**2).sum()))


def _loudness(sound: Samples, cuts: list[int], rate: int) -> Figures:
    meter = pyloudnorm.Meter(rate)
    by_chorus = [meter.integrated_loudness(sound[a:b]) for a, b in pairwise(cuts)]
    whole = meter.integrated_loudness(sound[cuts[0] : cuts[-1]])
    found = {f"LU {at}": each - whole for at, each in enumerate(by_chorus, 1)}
    short = _short_term(sound[cuts[0] : cuts[-1]], rate)
    return found | {
        "LUFS": whole,
        "LU range": max(by_chorus) - min(by_chorus),
        "short-term range": float(np.percentile(short, 95) - np.percentile(short, 10)),
    }


def _short_term(sound: Samples, rate: int) -> list[float]:
    """Return the loudness of 3 s at each second."""
    meter = pyloudnorm.Meter(rate, block_size=SHORT_S)
    long, hop = round(SHORT_S * rate), round(HOP_S * rate)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of a silent window's logarithm
        rows = [
            meter.integrated_loudness(sound[at : at + long])
            for at in range(0, len(sound) - long, hop)
        ]
    return [row for row in rows if np.isfinite(row)]


def _beats(mono: Samples, rate: int, pulse_s: float) -> Figures:
    """Return how the level goes from one beat to the next, in dB."""
    count = int(len(mono) / rate / pulse_s)
    cuts = [round(at * pulse_s * rate) for at in range(count + 1)]
    levels = [10 * np.log10(np.mean(mono[a:b] ** 2) + 1e-12) for a, b in pairwise(cuts)]
    return {
        "beat sd": float(np.std(levels)),
        "beat to beat": float(np.mean(np.abs(np.diff(levels)))),
    }
