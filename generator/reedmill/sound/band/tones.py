"""Single tones of a band, whichever way they are made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.score.arrangement import Part

ToneSamples = NDArray[np.float32]
"""Mono samples of one tone, -1 to 1.  Half the memory of ``Samples``; there are hundreds."""

STRENGTHS = (40, 64, 88, 112)
"""The velocities that tones are made at; those between take the nearest and its level."""


@dataclass(frozen=True, slots=True, order=True)
class Tone:
    """One key of one player, struck at one strength."""

    player: str  # the name of a Part, so that tones can be put in order
    program: int  # General MIDI, from 0
    key: int  # MIDI
    strength: int  # one of STRENGTHS

    @property
    def part(self) -> Part:
        """The player of the tone."""
        return Part[self.player]


ToneLengths = Mapping[Tone, int]
"""The tones some music needs, and for how many samples each at the most."""


@lru_cache(maxsize=4096)
def tone_for(part: Part, program: int, key: int, velocity: int) -> tuple[Tone, float]:
    """Return the tone for a stroke, and the amplitude it is played at.

    Amplitude goes with the square of the velocity: General MIDI Level 2 (RP-024), from
    memory, gives 40 log(velocity / 127) decibels.

    >>> tone_for(Part.BASS, 33, 40, 88)
    (Tone(player='BASS', program=33, key=40, strength=88), 1.0)
    """
    strength = min(STRENGTHS, key=lambda each: abs(each - velocity))
    return Tone(part.name, program, key, strength), (velocity / strength) ** 2
