"""Where a take is recorded: noise, a room, what sounds beside the player, and what codecs do."""

from __future__ import annotations

import io
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import av
import numpy as np

from hearing.playing import Played
from hearing.sounding import RATE, Samples
from reedmill.score.score import Score
from reedmill.theory.pitch import equal_hz

CONDITIONS = (
    "clean", "pink-20", "pink-10", "room", "drone", "band", "click", "aac", "opus", "8kHz",
)  # fmt: skip


def in_condition(
    name: str, sound: Samples, score: Score, played: Sequence[Played], rng: np.random.Generator
) -> tuple[bytes, str]:
    """The bytes of a file, and what its name ends in."""
    loud = loudness(sound, played)
    if name.startswith("pink"):
        sound = sound + loud * 10 ** (-float(name[5:]) / 20) * pink(len(sound), rng)
    elif name == "room":
        sound = room(sound, 0.5, rng)
    elif name in ("drone", "band", "click"):
        beside = {"drone": drone, "band": band, "click": click}[name]
        sound = sound + loud * beside((len(sound) + 1) / RATE, score, rng)[: len(sound)]
    sound = sound + 1e-4 * rng.normal(0, 1, len(sound))  # no recording is silent
    sound *= min(1.0, 0.89 / np.max(np.abs(sound)))
    if name == "aac":
        return encoded(sound, "ipod", "aac", 64_000, 44_100), ".m4a"
    if name == "opus":
        return encoded(sound, "webm", "libopus", 32_000, 48_000), ".webm"
    if name == "8kHz":
        return encoded(sound, "wav", "pcm_s16le", None, 8_000), ".wav"
    return encoded(sound, "wav", "pcm_s16le", None, RATE), ".wav"


def loudness(sound: Samples, played: Sequence[Played]) -> float:
    """The player's amplitude (root of the mean square) where he plays."""
    parts = [sound[int(each.start_s * RATE) : int(each.end_s * RATE)] for each in played]
    return float(np.sqrt(np.mean(np.concatenate(parts) ** 2))) if parts else 0.1


def unit(sound: Samples) -> Samples:
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


def pink(count: int, rng: np.random.Generator) -> Samples:
    """Noise with as much power in every octave from 20 Hz up, its mean square 1."""
    spectrum = np.fft.rfft(rng.normal(0, 1, count))
    hz = np.fft.rfftfreq(count, 1 / RATE)
    return unit(
        np.fft.irfft(spectrum * np.where(hz < 20, 0, 1 / np.sqrt(np.maximum(hz, 20))), count)
    )


def room(sound: Samples, decay_s: float, rng: np.random.Generator) -> Samples:
    """*sound* a metre from the microphone in a room that takes *decay_s* to fall by 60 dB."""
    seconds = np.arange(int(decay_s * RATE)) / RATE
    tail = rng.normal(0, 1, len(seconds)) * 10 ** (-3 * seconds / decay_s)
    tail[: int(0.004 * RATE)] = 0
    tail *= 0.6 / np.sqrt(np.sum(tail**2))  # the direct sound is some 4 dB stronger
    tail[0] = 1
    size = 1 << (len(sound) + len(tail)).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]


def _tone(hz: float, seconds: float, partials: int, slope: float) -> Samples:
    at = np.arange(int(seconds * RATE)) / RATE
    parts = [k**-slope * np.sin(2 * np.pi * k * hz * at + k) for k in range(1, partials + 1)]
    return np.asarray(np.sum(parts, axis=0))


def drone(seconds: float, score: Score, _rng: np.random.Generator) -> Samples:
    """The root without an end, 12 dB under the player."""
    wave = unit(_tone(score.root_hz, seconds, 8, 1.2))
    wave *= np.clip(np.arange(len(wave)) / (0.3 * RATE), 0, 1)
    return 10 ** (-12 / 20) * wave


def click(seconds: float, score: Score, _rng: np.random.Generator) -> Samples:
    """A short blip on every beat, its peak as high as the player's own."""
    wave = np.zeros(int(seconds * RATE))
    blip = np.sin(2 * np.pi * 1500 * np.arange(int(0.03 * RATE)) / RATE)
    blip *= np.exp(-np.arange(len(blip)) / (0.006 * RATE))
    step = 60 / score.tempo_bpm
    for at in np.arange(0.1, seconds - 0.05, step):
        first = int(at * RATE)
        wave[first : first + len(blip)] += 1.4 * blip
    return wave


def band(seconds: float, score: Score, rng: np.random.Generator) -> Samples:
    """Bass, chords and drums in the key, 15 dB under the player."""
    wave = np.zeros(int(seconds * RATE) + 3 * RATE)
    step = 60 / score.tempo_bpm
    root = score.root_midi
    chord = [0, 4, 7, 10]
    for beat, at in enumerate(np.arange(0.0, seconds, step)):
        first = int(at * RATE)
        moved = (0, 0, 5, 7)[(beat // 4) % 4]
        bass = _tone(equal_hz(root - 24 + moved + (0, 4, 7, 9)[beat % 4]), step * 0.9, 6, 1.0)
        bass *= np.exp(-np.arange(len(bass)) / (0.4 * RATE))
        wave[first : first + len(bass)] += bass
        if beat % 2:
            for key in chord:
                hit = _tone(equal_hz(root + moved + key), 0.25, 8, 1.0)
                hit *= 0.4 * np.exp(-np.arange(len(hit)) / (0.12 * RATE))
                wave[first : first + len(hit)] += hit
        for half in (0, step / 2):
            hat = rng.normal(0, 0.5, int(0.05 * RATE)) * np.exp(-np.arange(int(0.05 * RATE)) / 400)
            begin = first + int(half * RATE)
            wave[begin : begin + len(hat)] += hat
    return 10 ** (-15 / 20) * unit(wave[: int(seconds * RATE)])


def speech_like(seconds: float, rng: np.random.Generator) -> Samples:
    """Voiced syllables whose pitch glides between 100 and 250 Hz, with formants and pauses."""
    count = int(seconds * RATE)
    knots = rng.uniform(100, 250, int(seconds * 4) + 2)
    hz = np.interp(np.arange(count) / RATE * 4, np.arange(len(knots)), knots)
    cycles = np.cumsum(hz) / RATE
    formants = rng.uniform([400, 1000, 2300], [800, 1800, 2800])
    wave = np.zeros(count)
    for number in range(1, 25):
        gain = sum(1 / (1 + ((number * 175 - f) / 150) ** 2) for f in formants)
        wave += gain * np.sin(2 * np.pi * number * cycles)
    loud = rng.uniform(0, 1, int(seconds * 5) + 2) * (rng.random(int(seconds * 5) + 2) < 0.75)
    return 0.1 * unit(wave * np.interp(np.arange(count) / RATE * 5, np.arange(len(loud)), loud))


def coughs(seconds: float, rng: np.random.Generator) -> Samples:
    """Bursts of noise, a quarter of a second each."""
    wave = np.zeros(int(seconds * RATE))
    for at in np.arange(0.7, seconds - 0.5, 1.3):
        first = int((at + rng.uniform(0, 0.3)) * RATE)
        count = min(int(0.25 * RATE), len(wave) - first)
        burst = rng.normal(0, 1, count) * np.exp(-np.arange(count) / (0.07 * RATE))
        wave[first : first + count] += np.convolve(burst, np.ones(12) / 12, "same")
    return 0.3 * wave


def encoded(sound: Samples, container: str, codec: str, bit_rate: int | None, rate: int) -> bytes:
    """*sound* as a file of a phone, a browser or a recorder."""
    target = io.BytesIO()
    with av.open(target, "w", format=container) as file:
        stream: Any = file.add_stream(codec, rate=rate, layout="mono")
        if bit_rate:
            stream.bit_rate = bit_rate
        whole = np.clip(sound, -1, 1).astype(np.float32)[None, :]
        frame = av.AudioFrame.from_ndarray(whole, format="flt", layout="mono")
        frame.sample_rate, frame.pts = RATE, 0
        frame.time_base = Fraction(1, RATE)
        size = stream.codec_context.frame_size or 4096
        form = stream.codec_context.format.name
        resampler = av.AudioResampler(form, "mono", rate, frame_size=size)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            file.mux(stream.encode(part))
        file.mux(stream.encode(None))
    return target.getvalue()
