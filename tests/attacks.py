"""Where a tone rises, found from its samples alone, for tests and benchmarks of a band."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import oracles
from bands import KICK
from reedmill.practice.practice import PLAIN_BAND
from reedmill.score.arrangement import Part
from reedmill.sound.band.soundfont import font_tones
from reedmill.sound.band.synth import plain_tones
from reedmill.sound.band.tones import Tone, ToneSamples
from reedmill.sound.soundfont.file import open_soundfont
from reedmill.sound.soundfont.player import default_soundfont

RATE = 44_100
STEEP = 0.6  # of the steepest
EVERY_BAND = {
    "package": str(default_soundfont()),
    "FluidR3": "/usr/share/sounds/sf2/FluidR3_GM.sf2",
    "MuseScore": "/usr/share/sounds/sf3/MuseScore_General_Lite.sf3",
    "built-in": PLAIN_BAND,
}


def tones_of(
    band: str, part: Part, programs: Iterable[int], keys: Sequence[int], seconds: float = 0.5
) -> Mapping[Tone, ToneSamples]:
    """The tones of *keys*, soft and loud, by every program."""
    wanted = {
        Tone(part.name, program, key, strength): round(seconds * RATE)
        for program in programs for key in keys for strength in (64, 112)
    }  # fmt: skip
    if band == PLAIN_BAND:
        return plain_tones(wanted, 440.0, RATE)
    return font_tones(open_soundfont(Path(band)), wanted, 440.0, RATE)


def steepest_ms(sound: NDArray[np.float32], hz: float) -> float:
    """Where the envelope first rises steeply in the 60 ms around a stroke, in ms after it.

    Steep is as steep as it is anywhere, or nearly: a tone that swells later has its attack still.

    The envelope is the mean of the absolute samples in a Hann window as long as two periods,
    10 ms at the least: over fewer every period of a low string rises anew.  A sine needs two of
    them for an envelope without ripple.
    """
    window = np.hanning(round(min(max(2 / hz, 0.01), 0.05) * RATE))
    before = RATE // 10
    padded = np.concatenate([np.zeros(before), np.abs(sound[: RATE // 3]), np.zeros(before)])
    size = 1 << (len(padded) + len(window)).bit_length()
    smooth = np.fft.irfft(np.fft.rfft(padded, size) * np.fft.rfft(window, size), size)
    smooth = smooth[len(window) // 2 :]
    first = before - round(0.03 * RATE)
    rises = np.diff(smooth[first : before + round(0.06 * RATE)])
    tops = np.flatnonzero((rises[1:-1] >= rises[:-2]) & (rises[1:-1] >= rises[2:])) + 1
    steep = tops[rises[tops] >= STEEP * rises.max()]
    return (int(steep[0]) + first - before) / RATE * 1000


def late_ms(tones: Mapping[Tone, ToneSamples]) -> list[float]:
    """Where each of *tones* rises; of a kick the skin is about 60 Hz, other drums are high."""
    return [steepest_ms(sound, _hz(each)) for each, sound in tones.items()]


def _hz(tone: Tone) -> float:
    if tone.part is Part.DRUMS:
        return 60.0 if tone.key == KICK else 200.0
    return oracles.tempered_hz(tone.key)
