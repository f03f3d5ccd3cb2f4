"""The shape of every note, whichever voice plays it: envelope, accents and slides."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import cast

import numpy as np

from reedmill.practice.practice import Pass
from reedmill.score.score import Note, glide_share
from reedmill.sound.signal.loudness import Samples

RELEASE_S = 0.015  # how fast a reed falls silent without a click; chosen by ear
REED_ATTACK_S = 0.003  # of a still tone: so quick that the onset marks the beat exactly
SPEAK_S, SPEAKS = 0.002, 0.6
"""In which a reed that breathes speaks, and the amplitude it then has.

The rest comes with its brightness, as in a real reed.  Measured and rejected: all of it slowly,
with which an onset was detected up to 12 ms late.
"""
SWELL_S, SLOWER_S, SLOW_HZ = 0.012, 0.018, 262.0
GAP_S = 0.005  # silence before the next attack, taken from the note's own end

BESIDE_ACCENTS = 0.71  # 3 dB under an accented note

# The curve is plain arithmetic: it takes an array as well as a number.
_glide_shares = cast("Callable[[Samples], Samples]", glide_share)


def swell_s(hz: float) -> float:
    """Return the seconds in which a reed of *hz* comes to its loudness and its brightness.

    30 ms up to middle C, where reeds are slow, and half of it two octaves above.  By ear.
    """
    return SWELL_S + SLOWER_S * min(1.0, SLOW_HZ / hz)


def sounding_attacks(heard: Pass) -> Iterator[tuple[tuple[Note, ...], float]]:
    """Yield every attack of a pass with audible tones, and its amplitude.

    Where some notes are accented the others step back: the level of the whole stays put.
    """
    if heard.guide == 0:
        return
    plain = BESIDE_ACCENTS if any(note.accent for note in heard.score.notes) else 1.0
    for breath in heard.attacks():
        yield breath, heard.guide * (1.0 if breath[0].accent else plain)


def slide_hz(
    from_hz: float, to_hz: float, count: int, first: int = 0, last: int | None = None
) -> Samples:
    """Return a slide of *count* samples: the frequency between each sample and the next.

    Of its samples from *first* to *last*; usually of all.
    """
    places = np.arange(first, count if last is None else last)
    shares = _glide_shares((places + 0.5) / max(count, 1))
    return np.asarray(from_hz * (to_hz / from_hz) ** shares, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Outline:
    """The envelope of one attack of *count* samples: it rises, holds, falls and is silent.

    A reed that breathes speaks at once, but swells before it is as loud as it will be; and it
    darkens as it falls silent, as it was dark when it began.
    """

    count: int
    rise: int  # samples
    fall: int
    gap: int
    swell: int = 0
    speaks: float = 1.0  # the amplitude after its rise

    def give(self, sound: Samples, first: int = 0) -> None:
        """Apply the envelope to *sound*, which begins at sample *first* of the attack.

        The rise is a quarter sine: steep at once, so that the onset is heard where it is
        written, and smooth on arrival.
        """
        rising = sound[: max(self.rise - first, 0)]
        rising *= np.sin(np.pi / 2 * (first + np.arange(len(rising))) / max(self.rise, 1))
        swelling = sound[: max(self.swell - first, 0)]
        swelling *= 1 - (1 - self.speaks) * self._begun(first, len(swelling))
        falls_at = self.count - self.gap - self.fall
        at = max(falls_at - first, 0)
        falling = sound[at:]
        fallen = (first + at - falls_at + np.arange(len(falling))) / max(self.fall, 1)
        falling *= np.cos(np.pi / 2 * np.minimum(fallen, 1.0)) ** 2
        sound[max(self.count - self.gap - first, 0) :] = 0.0

    def dark(self, first: int, last: int) -> Iterator[tuple[int, Samples]]:
        """Yield where it is dark between samples *first* and *last*, and how dark, 0 to 1."""
        if not self.swell:
            return
        until = min(self.swell, last)
        if first < until:
            yield first, self._begun(first, until - first)
        falls_at = self.count - self.gap - self.fall
        begin, until = max(falls_at, first), min(self.count - self.gap, last)
        if begin < until:
            fallen = (begin - falls_at + np.arange(until - begin)) / max(self.fall, 1)
            yield begin, np.sin(np.pi / 2 * fallen) ** 2

    def _begun(self, first: int, count: int) -> Samples:
        """Return how far *count* samples from *first* are from the end of the swell, 1 to 0."""
        passed = (first + np.arange(count)) / max(self.swell, 1)
        return np.asarray(np.cos(np.pi / 2 * passed) ** 2, dtype=np.float64)


def outline(
    count: int, rise_s: float, rate: int, swell_s: float = 0.0, speaks: float = 1.0
) -> Outline:
    """Return the envelope of *count* samples; a very short one keeps half its length."""
    return Outline(
        count,
        # eighths and a quarter: half of the shortest note is left to sound
        rise=min(round(rise_s * rate), count // 8),
        fall=min(round(RELEASE_S * rate), count // 4),
        gap=min(round(GAP_S * rate), count // 8),
        swell=min(round(swell_s * rate), count // 4),
        speaks=speaks,
    )
