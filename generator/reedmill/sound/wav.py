"""WAV files: 16-bit PCM, mono, made in memory."""

from __future__ import annotations

import io
import wave

import numpy as np

from reedmill.errors import RenderError
from reedmill.sound.clock import RATE
from reedmill.sound.loudness import Samples

_FULL_SCALE = 32_767


def write_wav(samples: Samples, *, sample_rate: int = RATE) -> bytes:
    """*samples* (mono, -1 to 1) as a WAV file; nothing but the sound is written.

    ``RenderError`` when a sample lies outside -1 to 1 or is no number: sound is never
    clipped silently.

    >>> len(write_wav(np.zeros(100)))
    244
    """
    peak = float(max(samples.max(), -samples.min())) if len(samples) else 0.0
    if not peak <= 1.0:  # written so that NaN fails too
        raise RenderError(
            f"the sound reaches {peak:.3f}, beyond full scale (1.0), and would be clipped. "
            "Scale it down before it is written."
        )
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(sample_rate)
        out.writeframes(np.rint(samples * _FULL_SCALE).astype("<i2").tobytes())
    return file.getvalue()
