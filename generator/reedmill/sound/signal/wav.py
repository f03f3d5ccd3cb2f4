"""WAV files: 16 or 24-bit PCM, written as a stream, with an ID3 tag where one is given.

RIFF WAVE as in "Multimedia Programming Interface and Data Specifications 1.0" (1991).
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from reedmill.base.errors import RenderError
from reedmill.sound.signal.clock import RATE
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.tags import Tags, id3


def write_wav(samples: Samples, *, sample_rate: int = RATE) -> bytes:
    """Return *samples* (mono, -1 to 1) as a 16-bit WAV file with no tags.

    Raises as ``checked``.

    >>> len(write_wav(np.zeros(100)))
    244
    """
    return b"".join(wav_stream([samples[:, np.newaxis]], len(samples), rate=sample_rate))


def wav_stream(
    blocks: Iterable[Samples],
    count: int,
    *,
    rate: int,
    channels: int = 1,
    bits: int = 16,
    tags: Tags | None = None,
) -> Iterator[bytes]:
    """Yield a WAV file of *count* samples in pieces; *blocks* have shape (samples, channels)."""
    size = count * channels * bits // 8
    tail = _chunk(b"id3 ", id3(tags)) if tags else b""
    form = struct.pack(
        "<HHIIHH", 1, channels, rate, rate * channels * bits // 8, channels * bits // 8, bits
    )
    yield b"RIFF" + struct.pack("<I", 4 + 24 + 8 + size + size % 2 + len(tail)) + b"WAVE"
    yield _chunk(b"fmt ", form) + b"data" + struct.pack("<I", size)
    for block in blocks:
        yield _packed(integers(block, bits), bits)
    yield bytes(size % 2) + tail


def integers(samples: Samples, bits: int) -> NDArray[np.int32]:
    """Return *samples* (-1 to 1) as integers of *bits* bits; raises as ``checked``."""
    return np.asarray(np.rint(checked(samples) * (2 ** (bits - 1) - 1)), dtype=np.int32)


def checked(samples: Samples) -> Samples:
    """Return *samples*; ``RenderError`` when one is outside -1 to 1 or is not a number.

    Sound is never clipped silently.
    """
    peak = float(max(samples.max(), -samples.min())) if samples.size else 0.0
    if not peak <= 1.0:  # written so that NaN fails too
        raise RenderError(
            f"the sound reaches {peak:.3f}, beyond full scale (1.0), and would be clipped. "
            "Scale it down before it is written."
        )
    return samples


def _packed(steps: NDArray[np.int32], bits: int) -> bytes:
    if bits == 16:
        return steps.astype("<i2").tobytes()
    return steps.astype("<i4").reshape(-1, 1).view(np.uint8)[:, :3].tobytes()


def _chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content + bytes(len(content) % 2)
