"""The reed voice: the reference tones, one attack for each breath of the score."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import cast

import numpy as np

from reedmill.score import Note, Score, glide_share
from reedmill.sound.clock import RATE, sample_at, sample_count
from reedmill.sound.loudness import Samples
from reedmill.sound.tone import Timbre, period

# A free reed chops the air into pulses: even and odd harmonics, many of them, the second
# and third nearly as strong as the first.  Chosen by ear, no published source.
REED = Timbre(
    (
        1.0, 0.62, 0.71, 0.45, 0.38, 0.30, 0.24, 0.19, 0.15, 0.12, 0.095, 0.075,
        0.060, 0.047, 0.037, 0.030, 0.024, 0.019, 0.015, 0.012, 0.0095, 0.0075, 0.0060, 0.0047,
    ),
    soft_above_hz=2500.0,
    lufs=-16.0,
)  # fmt: skip

_ATTACK_S = 0.003
_RELEASE_S = 0.015
_GAP_S = 0.005  # silence before the next attack, taken from the note's own end

_BESIDE_ACCENTS = 0.71  # 3 dB under an accented note

# The curve is plain arithmetic: it takes an array as well as a number.
_glide_shares = cast("Callable[[Samples], Samples]", glide_share)


def guide(score: Score, rate: int = RATE) -> Samples:
    """The reference tones of *score*: mono samples, -1 to 1, bars and tail."""
    sound = np.zeros(sample_count(score, rate))
    # Where some notes are accented the others step back: the level of the whole stays put.
    plain = _BESIDE_ACCENTS if any(note.accent for note in score.notes) else 1.0
    for breath in score.attacks():
        start = sample_at(score, breath[0].start, rate)
        tone = _breath(score, breath, rate)
        sound[start : start + len(tone)] = tone * (1.0 if breath[0].accent else plain)
    return sound


def _breath(score: Score, breath: tuple[Note, ...], rate: int) -> Samples:
    """One attack and the slides after it.

    The harmonics are those of its highest note, so a slide upwards stays band-limited.
    """
    highest_hz = max(note.hz for note in breath)
    cycles = _cycles(_hz_curve(score, breath, rate), rate)
    tone = period(REED, highest_hz, rate).along(cycles)
    _shape(tone, rate)
    return tone


def _hz_curve(score: Score, breath: tuple[Note, ...], rate: int) -> Samples:
    """The frequency between each sample and the next, in Hz."""
    ends = [*(note.start for note in breath), breath[-1].end]
    bounds = [sample_at(score, beats, rate) for beats in ends]
    curve = np.repeat([note.hz for note in breath], np.diff(bounds))
    for (before, note), start in zip(pairwise(breath), bounds[1:], strict=False):
        count = round(score.glide_s(note) * rate)
        curve[start - bounds[0] :][:count] = _glide(before.hz, note.hz, count)
    return curve


def _glide(from_hz: float, to_hz: float, count: int) -> Samples:
    """A slide in *count* steps, each taken at its middle."""
    shares = _glide_shares((np.arange(count) + 0.5) / count)
    return np.asarray(from_hz * (to_hz / from_hz) ** shares, dtype=np.float64)


def _cycles(hz_curve: Samples, rate: int) -> Samples:
    """Periods passed since the attack, at each sample: phase without a break."""
    cycles = np.zeros_like(hz_curve)
    np.cumsum(hz_curve[:-1], out=cycles[1:])
    cycles /= rate
    return cycles


def _shape(tone: Samples, rate: int) -> None:
    """Give *tone* its attack, its release and the gap, in place.

    The attack is a quarter sine: steep at once, so that the onset is heard where it is
    written, and smooth on arrival.  Very short notes keep at least half their length.
    """
    count = len(tone)
    attack = min(round(_ATTACK_S * rate), count // 8)
    release = min(round(_RELEASE_S * rate), count // 4)
    gap = min(round(_GAP_S * rate), count // 8)
    tone[:attack] *= np.sin(np.pi / 2 * np.arange(attack) / max(attack, 1))
    tone[count - gap :] = 0.0
    falling = np.arange(release) / max(release, 1)
    tone[count - gap - release : count - gap] *= np.cos(np.pi / 2 * falling) ** 2
