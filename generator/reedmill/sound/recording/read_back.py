"""The samples of a finished sound file, as the check of the tones asks for them."""

from __future__ import annotations

import wave
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import cast

import numpy as np

from reedmill.base.reading import open_plain
from reedmill.sound.signal.loudness import Samples

PartReader = Callable[[int, int], Samples]
"""A function from first and last sample to what a file holds there, the louder channel."""

# An MP3 decoder that has just been moved has not heard the frames before; measured: two suffice.
_WARM_UP = 4 * 1152


@contextmanager
def opened_sound(path: Path) -> Iterator[tuple[PartReader, int]]:
    """Open *path* as sound: a reader and its samples a second; it reads only what is asked for.

    ``OSError`` when it cannot be read.
    """
    if path.suffix == ".wav":
        with open_plain(path) as plain, wave.open(plain) as file:
            yield _wave_reader(file), file.getframerate()
        return
    import soundfile

    with open_plain(path) as plain, soundfile.SoundFile(plain.fileno(), closefd=False) as file:
        yield _soundfile_reader(file), file.samplerate


def _wave_reader(file: wave.Wave_read) -> PartReader:
    channels, width = file.getnchannels(), file.getsampwidth()

    def read(first: int, last: int) -> Samples:
        file.setpos(first)
        steps = np.frombuffer(file.readframes(last - first), np.uint8).reshape(-1, width)
        # The bytes of each step, moved up to the top of 32 bits so that the sign is right.
        wide = np.zeros((len(steps), 4), np.uint8)
        wide[:, 4 - width :] = steps
        return _louder(wide.view("<i4").reshape(-1, channels) / 2.0**31)

    return read


def _soundfile_reader(file: object) -> PartReader:
    from soundfile import SoundFile

    opened = cast("SoundFile", file)

    def read(first: int, last: int) -> Samples:
        begin = max(first - _WARM_UP, 0)
        opened.seek(begin)
        return _louder(opened.read(last - begin, always_2d=True)[first - begin :])

    return read


def _louder(channels: Samples) -> Samples:
    powers = np.sum(channels**2, axis=0)
    loudest: Samples = channels[:, int(np.argmax(powers))]
    return loudest
