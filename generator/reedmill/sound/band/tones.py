"""Single tones of a band, whichever way they are made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.score.arrangement import Part
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.rumble import tone_without_rumble

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


# --- on the beat ---------------------------------------------------------------------------

# A stroke is felt where its loudness rises fastest.  A bass recorded from its string begins to
# sound long before that, and a bow later still: what comes before is left out, but for a fade.
_STEP_S = 0.0005  # of what is measured
_SEARCHED_S = 0.25  # of a tone; a rise that is later is no attack
_SMOOTH_S = (0.01, 0.05)  # at the least and at the most
_RISEN = 0.7  # of the loudest: from there on a swell is part of the tone
_ON_TIME_S = 0.0015  # so late a rise is on the beat
_FADE_SHARE, _FADE_S = 0.25, (0.005, 0.03)  # of the lateness, at the least and at the most
_TIMES = 6  # what is left out moves the steepest place; the best is taken

LATEST_RISE_S = 2 * _SEARCHED_S
"""Seconds of a tone that ``on_time`` may leave out."""


def on_time(sound: Samples, hz: float, rate: int) -> Samples:
    """Return the tone *sound* of *hz* from just before it rises fastest, without its rumble.

    What takes the rumble away makes a low tone rise later, and so it is heard out first.
    """
    found: list[tuple[float, Samples]] = []
    for _ in range(_TIMES):
        late_s = rises_at_s(_head_without_rumble(sound, rate), hz, rate)
        found.append((abs(late_s), sound))
        if late_s <= _ON_TIME_S:
            break
        sound = _begun_later(sound, late_s, rate)
    return tone_without_rumble(min(found, key=_lateness)[1], rate)


def _lateness(found: tuple[float, Samples]) -> float:
    return found[0]


def _head_without_rumble(sound: Samples, rate: int) -> Samples:
    return tone_without_rumble(sound[: round(2 * _SEARCHED_S * rate)], rate)


def _begun_later(sound: Samples, late_s: float, rate: int) -> Samples:
    """Return *sound* from just before *late_s*, faded in."""
    fade_s = min(max(_FADE_SHARE * late_s, _FADE_S[0]), _FADE_S[1])
    rest = sound[round(max(late_s - fade_s / 2, _ON_TIME_S) * rate) :].copy()
    fade = min(round(fade_s * rate), len(rest))
    rest[:fade] *= np.sin(np.pi / 2 * np.arange(fade) / max(fade, 1)) ** 2
    return rest


def rises_at_s(sound: Samples, hz: float, rate: int) -> float:
    """Return the seconds after which the loudness of a tone of *hz* rises fastest at its attack.

    Loudness is the mean size of its samples over two periods, in a window that falls off to
    both sides: over fewer, each period of a low string would be an attack.
    """
    step = max(round(_STEP_S * rate), 1)
    count = min(len(sound), round(_SEARCHED_S * rate)) // step
    if not count:
        return 0.0
    sizes = np.abs(sound[: count * step]).reshape(-1, step).mean(axis=1)
    smooth_s = min(max(2 / hz, _SMOOTH_S[0]), _SMOOTH_S[1])
    window = np.hanning(round(smooth_s * rate / step) + 2)[1:-1]
    before = len(window)
    loud = np.convolve(np.concatenate([np.zeros(before), sizes]), window, "same")
    risen = int(np.argmax(loud >= _RISEN * loud.max()))
    rises = np.diff(loud[: risen + 1])
    return (int(np.argmax(rises)) + 1 - before) * step / rate if len(rises) else 0.0
