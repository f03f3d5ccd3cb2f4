"""Stems and their sum: what a score sounds like, as samples or as a WAV file.

The stems are levelled so that their peaks together stay under -1 dBFS: the guide below
0.46 at any pitch a harp has, the drone below 0.15, a click at 0.25 or less.
"""

from __future__ import annotations

from collections.abc import Callable

from reedmill.errors import InputError, close_match
from reedmill.score import Score
from reedmill.sound.click import click as click_stem
from reedmill.sound.clock import RATE, checked_rate
from reedmill.sound.drone import drone as drone_stem
from reedmill.sound.loudness import Samples
from reedmill.sound.voice import guide
from reedmill.sound.wav import write_wav

STEMS: dict[str, Callable[[Score, int], Samples]] = {
    "guide": guide,
    "drone": drone_stem,
    "click": click_stem,
}
"""Every stem by name; all stems of a score have the same length."""


def stem(score: Score, name: str, *, sample_rate: int = RATE) -> Samples:
    """The stem called *name* of *score*: ``guide``, ``drone`` or ``click``; mono, -1 to 1.

    ``InputError`` for another name, or for a sample rate out of range.
    """
    if name not in STEMS:
        raise InputError(
            f'there is no stem "{name}".{close_match(name, STEMS)} Choose from: {", ".join(STEMS)}.'
        )
    return STEMS[name](score, checked_rate(sample_rate))


def render(
    score: Score, *, drone: bool = False, click: bool = False, sample_rate: int = RATE
) -> Samples:
    """The guide of *score*, with drone and click if asked for: shape (samples,), mono.

    Exactly the sum of the stems, 0.3 s longer than the bars, its peak below -1 dBFS.
    """
    sound = stem(score, "guide", sample_rate=sample_rate)
    for name, wanted in (("drone", drone), ("click", click)):
        if wanted:
            sound += stem(score, name, sample_rate=sample_rate)
    return sound


def wav_bytes(
    score: Score, *, drone: bool = False, click: bool = False, sample_rate: int = RATE
) -> bytes:
    """``render`` as a WAV file; equal scores give equal bytes."""
    sound = render(score, drone=drone, click=click, sample_rate=sample_rate)
    return write_wav(sound, sample_rate=sample_rate)
