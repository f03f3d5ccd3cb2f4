"""Drum synthesis: skins as sines that fall in pitch, metal and snares as band-limited noise.

The keys are those of the General MIDI percussion map, 35 to 81.  The numbers are chosen by
ear; no published source.  The noise is the same every time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from reedmill.base.errors import InputError
from reedmill.sound.signal.loudness import Samples

KEYS = range(35, 82)
"""The General MIDI percussion map."""

_ATTACK_S = 0.0003  # no click, and still a stroke
_OVER = 7.0  # times the longest 1/e: what is left then is 60 dB down


@dataclass(frozen=True, slots=True)
class DrumMode:
    """One mode of something struck: a sine that falls in level and a little in pitch."""

    hz: float
    decay_s: float  # to 1/e
    level: float = 1.0
    bend: float = 0.0  # how much higher it starts, as a share of hz
    bends_s: float = 0.02


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise between two frequencies that falls in level."""

    low_hz: float
    high_hz: float
    decay_s: float
    level: float = 1.0
    attack_s: float = 0.0


Drum = tuple["DrumMode | Noise", ...]


def _bar(hz: float, decay_s: float) -> Drum:
    """Return a struck bar or bell made of inharmonic modes."""
    # 2.76 is the second mode of a free bar (Fletcher and Rossing, from memory); the rest by ear
    modes = ((1.0, 1.0), (1.5, 0.6), (2.76, 0.35))
    return tuple(DrumMode(hz * times, decay_s / times, level) for times, level in modes)


def _tom(hz: float) -> Drum:
    return DrumMode(hz, 0.22, bend=0.5, bends_s=0.05), Noise(300, 2500, 0.02, 0.2)


def _hand(hz: float, decay_s: float) -> Drum:
    return DrumMode(hz, decay_s, bend=0.12), Noise(800, 5000, 0.006, 0.3)


def _shaker(decay_s: float, attack_s: float = 0.012) -> Drum:
    return (Noise(4500, 14_000, decay_s, attack_s=attack_s),)


def _metal(decay_s: float, bell_hz: float) -> Drum:
    bell = tuple(
        DrumMode(bell_hz * times, decay_s * 0.5, 0.13) for times in (1.0, 1.47, 2.09, 2.56)
    )
    return (*bell, Noise(5000, 16_000, decay_s, 0.8), Noise(3000, 9000, 0.02, 0.5))


# Skins start higher and fall as the stretched skin slackens; metal rings inharmonically under
# noise.  Chosen by ear, see above.
_KICK: Drum = (DrumMode(52, 0.13, bend=2.2, bends_s=0.025), Noise(1500, 5000, 0.004, 0.25))
_SNARE: Drum = (
    DrumMode(185, 0.07, 0.6, bend=0.3),
    DrumMode(330, 0.05, 0.3),
    Noise(1200, 9000, 0.09, 0.7),
)
_CRASH = _metal(0.7, 430)
_RIDE = _metal(0.45, 610)

_DRUMS: dict[int, Drum] = {
    35: _KICK,
    36: _KICK,
    37: (
        DrumMode(1700, 0.012),
        DrumMode(520, 0.02, 0.7),
        Noise(2500, 8000, 0.004, 0.5),
    ),  # side stick
    38: _SNARE,
    39: (Noise(900, 3500, 0.06), Noise(900, 3500, 0.004, 0.6)),  # clap
    40: _SNARE,
    **dict(zip((41, 43, 45, 47, 48, 50), map(_tom, (82, 98, 116, 138, 160, 190)), strict=True)),
    42: (Noise(6500, 15_000, 0.025),),  # closed hat
    44: (Noise(5000, 12_000, 0.03, 0.7),),  # pedal hat
    46: (Noise(6500, 15_000, 0.22),),  # open hat
    49: _CRASH,
    51: _RIDE,
    52: _metal(0.5, 350),  # china
    53: _bar(930, 0.4),  # ride bell
    54: (Noise(6000, 14_000, 0.07), Noise(6000, 14_000, 0.01, 0.6)),  # tambourine
    55: _metal(0.3, 560),  # splash
    56: (DrumMode(560, 0.09), DrumMode(845, 0.07, 0.7)),  # cowbell
    57: _CRASH,
    58: (Noise(1500, 5000, 0.25), DrumMode(210, 0.1, 0.4)),  # vibraslap
    59: _RIDE,
    60: _hand(420, 0.06),
    61: _hand(300, 0.08),
    62: _hand(260, 0.03),
    63: _hand(250, 0.12),
    64: _hand(180, 0.15),
    65: _hand(360, 0.12),
    66: _hand(250, 0.15),
    67: _bar(900, 0.12),
    68: _bar(650, 0.14),
    69: _shaker(0.05, 0.02),  # cabasa
    70: _shaker(0.03, 0.008),  # maracas
    71: (DrumMode(2300, 0.08),),
    72: (DrumMode(2300, 0.25),),
    73: (Noise(2500, 8000, 0.06, attack_s=0.02),),
    74: (Noise(2500, 8000, 0.2, attack_s=0.05),),
    75: (DrumMode(2500, 0.03), DrumMode(6900, 0.01, 0.2)),  # claves
    76: _bar(1050, 0.04),
    77: _bar(760, 0.05),
    78: _hand(700, 0.06),
    79: _hand(480, 0.12),
    80: (DrumMode(4100, 0.06), DrumMode(6700, 0.05, 0.5)),
    81: (DrumMode(4100, 0.6), DrumMode(6700, 0.5, 0.5), DrumMode(9400, 0.4, 0.3)),  # triangle
}


def drum(key: int, count: int, rate: int) -> Samples:
    """Return the drum on MIDI *key*, *count* samples or until it has died away; its peak is 1.

    ``InputError`` when the percussion map has none there.
    """
    if key not in _DRUMS:
        raise InputError(
            f"there is no drum on MIDI key {key}. "
            f"The percussion of General MIDI has keys {KEYS[0]} to {KEYS[-1]}."
        )
    return _made(key, rate)[:count]


@lru_cache(maxsize=64)
def _made(key: int, rate: int) -> Samples:
    parts = _DRUMS[key]
    longest_s = max(part.decay_s for part in parts)
    seconds = np.arange(round(_OVER * longest_s * rate)) / rate
    sound = np.zeros_like(seconds)
    for place, part in enumerate(parts):
        heard = _skin(part, seconds) if isinstance(part, DrumMode) else _noise(part, seconds, place)
        sound += part.level * heard
    sound *= np.clip(seconds / _ATTACK_S, 0, 1) * (1 - seconds / seconds[-1])
    sound /= np.abs(sound).max()
    sound.flags.writeable = False  # it is shared
    return sound


def _skin(part: DrumMode, seconds: Samples) -> Samples:
    bent = part.bend * part.bends_s * (1 - np.exp(-seconds / part.bends_s))
    turns = part.hz * (seconds + bent)
    return np.asarray(np.sin(2 * np.pi * turns) * np.exp(-seconds / part.decay_s))


def _noise(part: Noise, seconds: Samples, seed: int) -> Samples:
    """Return white noise cut to its band, at a level that does not depend on the band."""
    # the raw numbers of a bit generator are the same in every version of NumPy
    numbers = np.random.PCG64(seed).random_raw(len(seconds))
    white = (numbers >> np.uint64(11)) * (2.0 / 2**53) - 1.0
    rate = 1 / seconds[1]
    spectrum = np.fft.rfft(white)
    hz = np.arange(len(spectrum)) * (rate / len(white))
    # edges of an octave's third, so that nothing rings
    up, down = (np.clip(3 * np.log2(np.maximum(hz, 1) / edge) + 1, 0, 1)
                for edge in (part.low_hz, part.high_hz))  # fmt: skip
    band = np.fft.irfft(spectrum * np.sin(np.pi / 2 * up) * np.cos(np.pi / 2 * down), len(white))
    # this root mean square puts its peaks near full scale, whatever the band
    band *= 0.35 / np.sqrt(np.mean(band**2))
    falls = np.exp(-seconds / part.decay_s)
    if part.attack_s:
        falls *= 1 - np.exp(-seconds / part.attack_s)
    return np.asarray(band * falls)
