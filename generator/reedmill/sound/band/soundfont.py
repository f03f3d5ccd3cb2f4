"""A band from a SoundFont: each tone recorded once, its tuning measured and corrected.

A tone is read at the speed that brings its measured pitch to the one it should have, which
is done in its spectrum: exact, whatever FluidSynth can be told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.base.errors import InputError
from reedmill.score.arrangement import Part
from reedmill.sound.band.tones import LATEST_RISE_S, Tone, ToneLengths, ToneSamples, on_time
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.rumble import tone_without_rumble
from reedmill.sound.soundfont.file import Preset, SoundFont
from reedmill.sound.soundfont.pitch_tracking import track
from reedmill.sound.soundfont.player import SYNTH_RATE, Ask, play_notes
from reedmill.theory.pitch import equal_hz

_DRUM_BANK = 128  # where SoundFonts keep percussion (specification 2.04, 7.2, from memory)
_SETTLED_S, _MEASURED_S = 0.08, 0.9  # from when to when a tone is measured
_FRAME_S = 0.2  # eight periods of the lowest string of a bass
_OCTAVE = 1200.0  # cents
_MOST_CENTS = 100.0  # further out, and the pitch heard is not that of the key
_FASTEST = 1.25  # a semitone flat, and an A of 490 Hz
_A_RUN_S = 120  # of sound from one start of FluidSynth, to bound the memory
_LONGEST_S = 900  # of all tones together
_LATE = 0.01  # of a tone's peak: under it nothing is heard yet
_LATEST_S = 0.03  # later than that it is a slow attack and part of the tone
_FADED_S = 0.005  # at the end of a tone, so that it does not click
_QUIET = 512  # samples of silence, so that end and beginning do not meet in the spectrum


def font_tones(
    font: SoundFont, wanted: ToneLengths, reference_hz: float, rate: int
) -> dict[Tone, ToneSamples]:
    """Return the *wanted* tones of *font*, tuned to A4 = *reference_hz*, at *rate*.

    A drum that dies away may be shorter than it was wanted.  ``InputError`` when the font
    lacks an instrument or a drum; and whatever ``play_notes`` raises.
    Each is mono, 32-bit, from its onset on.
    """
    tones = sorted(wanted)
    asks = [_ask(font, tone, wanted[tone], rate) for tone in tones]
    if sum(ask.samples for ask in asks) > _LONGEST_S * SYNTH_RATE:
        raise InputError(
            "the notes of this band are too long for a SoundFont. "
            "Choose a faster tempo, or the plain band."
        )
    found: dict[Tone, ToneSamples] = {}
    for tone, sound in zip(tones, _played(font, asks), strict=True):
        if not np.any(sound):
            raise InputError(_silent(font, tone))
        heard, speed = _from_its_onset(sound), 1.0
        if tone.part is Part.DRUMS:
            heard = tone_without_rumble(heard, SYNTH_RATE)
        else:
            speed = _speed(sound, tone.key, reference_hz)
            heard = on_time(heard, equal_hz(tone.key), SYNTH_RATE)
        found[tone] = _read(heard, speed * SYNTH_RATE / rate, wanted[tone])
    return found


def _ask(font: SoundFont, tone: Tone, count: int, rate: int) -> Ask:
    preset = _preset(font, tone)
    seconds = count / rate * _FASTEST + _LATEST_S + _FADED_S
    if tone.part is not Part.DRUMS:
        seconds = max(seconds + LATEST_RISE_S, _SETTLED_S + _MEASURED_S)
    length = round(seconds * SYNTH_RATE)
    return Ask(preset.bank, preset.number, tone.key, tone.strength, length)


def _preset(font: SoundFont, tone: Tone) -> Preset:
    drums = tone.part is Part.DRUMS
    for preset in font.presets:
        if (preset.bank == _DRUM_BANK) == drums and preset.number == tone.program:
            return preset
    what = "drums (bank 128)" if drums else f"program {tone.program + 1}"
    raise InputError(
        f"{font.path} has no {what}, which the band's {tone.part.value.lower()} needs. "
        "Choose a font with the whole General MIDI set, or the plain band."
    )


def _silent(font: SoundFont, tone: Tone) -> str:
    what = "drum" if tone.part is Part.DRUMS else "sound"
    return (
        f"{font.path} has no {what} on MIDI key {tone.key}, which the band's "
        f"{tone.part.value.lower()} needs. Choose another font, or the plain band."
    )


def _played(font: SoundFont, asks: Sequence[Ask]) -> Iterator[Samples]:
    run: list[Ask] = []
    for ask in asks:
        if run and sum(each.samples for each in run) + ask.samples > _A_RUN_S * SYNTH_RATE:
            yield from play_notes(font, run)
            run = []
        run.append(ask)
    if run:
        yield from play_notes(font, run)


def _speed(sound: Samples, key: int, reference_hz: float) -> float:
    """Return how many times as fast to read *sound* to give *key* its pitch.

    Where another octave is heard (an organ's lowest stop) the tuning is that of the octave;
    where no pitch is, or that of another note, the font is believed.
    """
    start, end = round(_SETTLED_S * SYNTH_RATE), round((_SETTLED_S + _MEASURED_S) * SYNTH_RATE)
    heard = track(sound[start:end], SYNTH_RATE, _FRAME_S)
    cents = 0.0
    if len(heard.hz):
        out = 1200 * float(np.log2(np.median(heard.hz) / equal_hz(key)))
        out -= _OCTAVE * round(out / _OCTAVE)
        cents = out if abs(out) <= _MOST_CENTS else 0.0
    return float(reference_hz / 440.0 * 2 ** (-cents / 1200))


def _from_its_onset(sound: Samples) -> Samples:
    """Return *sound* without the silence some recordings begin with, to be on time."""
    late = np.abs(sound[: round(_LATEST_S * SYNTH_RATE)]) > _LATE * np.abs(sound).max()
    return sound[max(int(np.argmax(late)) - 4, 0) :]


def _read(sound: Samples, speed: float, count: int) -> ToneSamples:
    """Read *sound* *speed* times as fast: *count* samples, or fewer where it has ended."""
    if speed != 1.0:
        sound = _resampled(sound[: int(count * speed) + _QUIET], speed)
    sound = sound[:count]
    # 80 dB under the peak a tone has died away
    loud = np.flatnonzero(np.abs(sound) > 1e-4 * np.abs(sound).max(initial=0.0))
    heard = sound[: int(loud[-1]) + 1 if len(loud) else 0].astype(np.float32)
    fade = min(round(_FADED_S * SYNTH_RATE), len(heard))
    if fade:
        heard[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
    return heard


def _resampled(sound: Samples, speed: float) -> Samples:
    """Read *sound* *speed* times as fast, within a tenth of a cent.

    The spectrum is kept, and the number of samples it is turned back into makes the speed.
    """
    count, into = _sizes(len(sound) + _QUIET, speed)
    spectrum = np.fft.rfft(sound, count)
    kept = np.zeros(into // 2 + 1, dtype=np.complex128)
    lines = min(len(spectrum), len(kept))
    kept[:lines] = spectrum[:lines]
    whole = np.fft.irfft(kept, into)[: int(len(sound) / speed)]
    return np.asarray(whole * (into / count), dtype=np.float64)


def _sizes(least: int, speed: float) -> tuple[int, int]:
    """Return two sizes in the ratio *speed*, the first at least *least*, fast to transform."""
    sizes = _quick_sizes(1 << (3 * least).bit_length())
    # a fifth more samples gives enough ratios to choose from, at little cost
    counts = sizes[(sizes >= least) & (sizes <= 1.2 * least)]
    after = np.clip(np.searchsorted(sizes, counts / speed), 1, len(sizes) - 1)
    pairs = [(counts, sizes[after]), (counts, sizes[after - 1])]
    found = np.concatenate([np.stack(pair) for pair in pairs], axis=1)
    best = np.argmin(np.abs(np.log(found[0] / found[1] / speed)))
    return int(found[0, best]), int(found[1, best])


@lru_cache(maxsize=32)
def _quick_sizes(most: int) -> NDArray[np.int64]:
    """Return the numbers up to *most* with no factor over 23, in order."""
    found = np.ones(1, dtype=np.int64)
    # pocketfft, which NumPy uses, is slow for large prime factors
    for prime in (2, 3, 5, 7, 11, 13, 17, 19, 23):
        powers = prime ** np.arange(int(np.log(most) / np.log(prime)) + 1)
        found = np.outer(found, powers).ravel()
        found = found[found <= most]
    return np.sort(found)
