"""The listening check: measures the pitch of every note in a finished sound file.

The detector knows nothing of the target.  It takes a spectrum through a Gaussian window,
whose logarithm is a parabola around every partial, so that three points give a partial's
frequency; then the highest fundamental on whose multiples the partials lie, and the mean of
what each says of it.  Measured on every reed of twenty harps, 0.2 s and 0.4 s long: at most
0.001 cent from music21's frequencies.
"""

from __future__ import annotations

import wave
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import cast

import numpy as np
from numpy.typing import NDArray

from reedmill.base.reading import open_plain
from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.practice.tone_check import MeasuredNote
from reedmill.score.score import Note
from reedmill.sound.signal.clock import sample_at
from reedmill.sound.signal.loudness import Samples

Reader = Callable[[int, int], Samples]
"""A function from first and last sample to what a file holds there, the louder channel."""

_LONGEST_S = 0.4  # of a note, from its middle; more gives nothing more
_LEAST_PERIODS = 6  # fewer, and neighbouring partials run into one another
_WINDOW_SIGMAS = 4  # from the middle of the window to its ends
_PADDED = 4  # times as many points in the spectrum
_FUNDAMENTALS_HZ = (50.0, 9000.0)  # of every reed, with room on both sides
_FLOOR_DB = -50.0  # partials weaker than this against the strongest are not used
_SILENT = 1e-4  # of full scale, -80 dB: softer than any note here
_MOST_PARTIALS, _HIGHEST_STRONG = 12, 8  # used; the strongest three are among the first eight
_ON_A_MULTIPLE = 0.03  # of the fundamental
_EXPLAINED = 0.95  # of the partials' amplitudes


def listen(path: Path, plan: RecordingPlan) -> list[MeasuredNote]:
    """Measure every note that *plan* lets sound in the file *path*, which holds its tones.

    ``OSError`` when it cannot be read.
    """
    with _open(path) as (read, rate):
        return [
            _heard(heard, note, read, rate, last=note is breath[-1])
            for heard in plan.passes
            if heard.guide > 0
            for breath in heard.attacks()
            for note in breath
        ]


def _heard(heard: Pass, note: Note, read: Reader, rate: int, *, last: bool) -> MeasuredNote:
    begin = sample_at(heard, note.start, rate)
    end = sample_at(heard, note.end, rate)
    # Measured where it is steady: after attack or slide, before the release.
    first = begin + round((heard.score.glide_s(note) if note.joined else 0.01) * rate)
    until = end - round((0.025 if last else 0.0) * rate)
    at_s = begin / rate
    if (until - first) / rate * note.hz < _LEAST_PERIODS:
        return MeasuredNote(note, at_s, None, too_short=True)
    spare = max(0, until - first - round(_LONGEST_S * rate)) // 2
    return MeasuredNote(note, at_s, pitch_hz(read(first + spare, until - spare), rate))


def pitch_hz(sound: Samples, rate: int) -> float | None:
    """Return the fundamental in Hz of a steady tone with harmonics; ``None`` when silent."""
    if not len(sound) or np.max(np.abs(sound)) < _SILENT:
        return None
    partials_hz, amplitudes = _partials(sound, rate)
    if not len(partials_hz):
        return None
    near = _fundamental(partials_hz, amplitudes)
    multiples = np.rint(partials_hz / near)
    fits = _on_multiple(partials_hz, near)
    # A partial of number n measures the fundamental n times as sharply.
    weights = (amplitudes[fits] * multiples[fits]) ** 2
    return float(np.sum(weights * partials_hz[fits] / multiples[fits]) / np.sum(weights))


def _partials(sound: Samples, rate: int) -> tuple[Samples, Samples]:
    """Return frequencies in Hz and amplitudes of the strongest partials."""
    places = np.linspace(-_WINDOW_SIGMAS, _WINDOW_SIGMAS, len(sound))
    size = 1 << (_PADDED * len(sound) - 1).bit_length()
    power = np.abs(np.fft.rfft(sound * np.exp(-(places**2) / 2), size)) ** 2
    level_db = 10 * np.log10(np.maximum(power, 1e-30))
    lowest = int(_FUNDAMENTALS_HZ[0] * size / rate)
    inner = level_db[1:-1]
    tops = (inner > level_db[:-2]) & (inner >= level_db[2:]) & (inner > level_db.max() + _FLOOR_DB)
    peaks: NDArray[np.int64] = np.flatnonzero(tops) + 1
    peaks = peaks[peaks >= lowest]
    peaks = peaks[np.argsort(-level_db[peaks], kind="stable")[:_MOST_PARTIALS]]
    below, at, above = (level_db[peaks + step] for step in (-1, 0, 1))
    beside = 0.5 * (below - above) / (below - 2 * at + above)
    return (peaks + beside) * (rate / size), 10 ** (at / 20)


def _fundamental(partials_hz: Samples, amplitudes: Samples) -> float:
    """Return the highest frequency whose multiples hold (nearly) all of the sound."""
    guesses = {hz / number for hz in partials_hz[:3] for number in range(1, _HIGHEST_STRONG + 1)}
    low, high = _FUNDAMENTALS_HZ
    best, most = float(partials_hz[0]), 0.0
    for guess in sorted((each for each in guesses if low <= each <= high), reverse=True):
        share = float(np.sum(amplitudes[_on_multiple(partials_hz, guess)]) / np.sum(amplitudes))
        if share > _EXPLAINED:
            return float(guess)
        if share > most:
            best, most = float(guess), share
    return best


def _on_multiple(partials_hz: Samples, fundamental_hz: float) -> NDArray[np.bool_]:
    times = partials_hz / fundamental_hz
    return (np.abs(times - np.rint(times)) < _ON_A_MULTIPLE) & (times > 0.5)


# --- reading files -----------------------------------------------------------------------


@contextmanager
def _open(path: Path) -> Iterator[tuple[Reader, int]]:
    """Open a reader of *path*, which reads only what is asked for, with its sample rate."""
    if path.suffix == ".wav":
        with open_plain(path) as plain, wave.open(plain) as file:
            yield _wave_reader(file), file.getframerate()
        return
    import soundfile

    with open_plain(path) as plain, soundfile.SoundFile(plain.fileno(), closefd=False) as file:
        yield _soundfile_reader(file), file.samplerate


def _wave_reader(file: wave.Wave_read) -> Reader:
    channels, width = file.getnchannels(), file.getsampwidth()

    def read(first: int, last: int) -> Samples:
        file.setpos(first)
        steps = np.frombuffer(file.readframes(last - first), np.uint8).reshape(-1, width)
        # The bytes of each step, moved up to the top of 32 bits so that the sign is right.
        wide = np.zeros((len(steps), 4), np.uint8)
        wide[:, 4 - width :] = steps
        return _louder(wide.view("<i4").reshape(-1, channels) / 2.0**31)

    return read


def _soundfile_reader(file: object) -> Reader:
    from soundfile import SoundFile

    opened = cast("SoundFile", file)

    def read(first: int, last: int) -> Samples:
        opened.seek(first)
        return _louder(opened.read(last - first, always_2d=True))

    return read


def _louder(channels: Samples) -> Samples:
    powers = np.sum(channels**2, axis=0)
    loudest: Samples = channels[:, int(np.argmax(powers))]
    return loudest
