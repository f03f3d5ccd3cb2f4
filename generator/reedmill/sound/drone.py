"""The drone: the root of the key, held, for the ear to measure every note against."""

from __future__ import annotations

import numpy as np

from reedmill.score import Score
from reedmill.sound.clock import RATE, TAIL_S, sample_count
from reedmill.sound.loudness import Samples
from reedmill.sound.tone import Timbre, period

# Softer than the reed: a flute stop with its octave and twelfth.  The upper harmonics
# let a small speaker give a low root.  Chosen by ear, no published source.
ORGAN = Timbre((1.0, 0.55, 0.30, 0.16, 0.08, 0.05, 0.025, 0.012), soft_above_hz=1200.0, lufs=-25.0)

_FADE_S = float(TAIL_S)


def drone(score: Score, rate: int = RATE) -> Samples:
    """The root of *score* held through all its bars; it fades in at once and out in the tail."""
    count = sample_count(score, rate)
    cycles = np.arange(count, dtype=np.float64) * (score.root_hz / rate)
    tone = period(ORGAN, score.root_hz, rate).along(cycles)
    fade = min(round(_FADE_S * rate), count // 2)
    rising = np.sin(np.pi / 2 * np.arange(fade) / max(fade, 1)) ** 2
    tone[:fade] *= rising
    tone[count - fade :] *= rising[::-1]
    return tone
