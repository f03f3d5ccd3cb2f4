"""The still tone of a reed: the same harmonics for every reed, and nothing that moves."""

from __future__ import annotations

from dataclasses import replace

from reedmill.sound.reed.hole_lines import MUTED_ABOVE_HZ, MUTED_DB
from reedmill.sound.signal.tone import Timbre

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

CLOSED_REED = replace(REED, soft_above_hz=MUTED_ABOVE_HZ, lufs=REED.lufs - MUTED_DB)
"""The tone with the hands closed round the harp."""
