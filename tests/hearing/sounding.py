"""An additive voice of the tests' own: harmonics, a reed's attack, breath noise, small wavering."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hearing.playing import Played, Shape

RATE = 44_100
Samples = NDArray[np.float64]


@dataclass(frozen=True)
class Tone:
    """How one student's harp sounds."""

    partials: tuple[float, ...]  # amplitudes
    attack_s: float = 0.02
    breath_db: float = -42.0
    wavering_cents: float = 1.0


def drawn_tone(rng: np.random.Generator) -> Tone:
    """A bright or dull reed, now and then with a weak first partial."""
    slope = rng.uniform(0.7, 1.5)
    partials = np.arange(1, 17) ** -slope * 10 ** (rng.uniform(-5, 5, 16) / 20)
    if rng.random() < 0.25:
        partials[0] *= 10 ** (-rng.uniform(8, 16) / 20)
    return Tone(tuple(partials / np.sqrt(np.sum(partials**2))), rng.uniform(0.01, 0.035))


def sound(
    played: Sequence[Played], tone: Tone, length_s: float, rng: np.random.Generator
) -> Samples:
    """*played* as samples from -1 to 1, some 20 dB under full scale."""
    whole = np.zeros(int(length_s * RATE))
    for breath in breaths_of(played):
        start = int(breath[0].start_s * RATE)
        tones = _breath(breath, tone, rng)[: len(whole) - start]
        whole[start : start + len(tones)] += tones
    return 0.14 * whole


def breaths_of(played: Sequence[Played]) -> list[list[Played]]:
    """*played* in groups that one attack begins."""
    groups: list[list[Played]] = []
    for each in played:
        if each.slid and groups:
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups


def _breath(breath: Sequence[Played], tone: Tone, rng: np.random.Generator) -> Samples:
    count = int((breath[-1].end_s - breath[0].start_s) * RATE)
    passed = np.arange(count) / RATE
    curve = curve_of(breath, passed, rng)
    knots = rng.normal(0, tone.wavering_cents, max(2, count // 2205 + 2))
    curve += np.interp(passed * 20, np.arange(len(knots)), knots)
    hz = 440 * 2 ** (curve / 1200)
    cycles = np.cumsum(hz) / RATE
    wave = np.zeros(count)
    for number, amplitude in enumerate(tone.partials, 1):
        if number * hz.max() < 0.45 * RATE:
            wave += amplitude * np.sin(2 * np.pi * number * cycles + number * 1.7)
    wave += 10 ** (tone.breath_db / 20) * rng.normal(0, 1, count)
    loud = np.concatenate(
        [
            np.full(int(each.end_s * RATE) - int(each.start_s * RATE) + 2, each.level_db)
            for each in breath
        ]
    )[:count]
    loud = np.pad(loud, (0, count - len(loud)), mode="edge")
    smooth = np.convolve(np.pad(loud, 220, mode="edge"), np.ones(441) / 441, "valid")[:count]
    attack = 1 - np.exp(-passed / (tone.attack_s / 2))
    release = np.clip((passed[-1] - passed) / 0.03, 0, 1)
    return np.asarray(wave * attack * release * 10 ** (smooth / 20))


def curve_of(breath: Sequence[Played], passed_s: Samples, rng: np.random.Generator) -> Samples:
    """Cents over 440 Hz so many seconds after the beginning of *breath*."""
    curve = np.zeros(len(passed_s))
    for number, each in enumerate(breath):
        before = breath[number - 1].hz if number else each.from_hz
        at = each.start_s - breath[0].start_s
        here = (passed_s >= at) & (passed_s < each.end_s - breath[0].start_s + 1 / RATE)
        curve[here] = _curve(each, before, passed_s[here] - at, rng)
    return curve


def _curve(each: Played, before_hz: float, at_s: Samples, rng: np.random.Generator) -> Samples:
    """Cents over 440 Hz along one note."""
    rest = 1200 * np.log2(each.hz / 440)
    if each.shape is Shape.VIBRATO:
        rate, depth = rng.uniform(4.5, 6.5), rng.uniform(8, 22)
        waves = np.clip(at_s / 0.2, 0, 1) * np.sin(2 * np.pi * rate * at_s)
        return np.asarray(rest + depth * waves)
    if not each.moving_s:
        return np.full(len(at_s), rest)
    share = np.clip(at_s / each.moving_s, 0, 1)
    start = 1200 * np.log2(before_hz / 440)
    return np.asarray(start + (rest - start) * share * share * (3 - 2 * share))
