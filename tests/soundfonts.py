"""SoundFonts made for tests, a few kilobytes each, whose tuning is known by arithmetic.

Layout: SoundFont Technical Specification 2.04, sections 4 to 7, from memory; that FluidSynth
plays them at the pitch computed here is itself a check.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

RATE = 44_100
A4 = 69


@dataclass(frozen=True)
class Sample:
    """A recording of A4 that repeats from *loop* to its end while the key is held."""

    wave: NDArray[np.float64]
    loop: int
    cents: int = 0  # the correction its header asks for, -128 to 127


def sine(hz: float, periods: int, attack_hz: float | None = None) -> Sample:
    """A sine whose loop is *periods* long, cut to whole samples as the fonts in use do it.

    With *attack_hz* a tenth of a second at that pitch comes before it.
    """
    count = round(periods * RATE / hz)
    loop = np.sin(2 * np.pi * periods * np.arange(count) / count)
    before = np.sin(2 * np.pi * (attack_hz or hz) * np.arange(RATE // 10) / RATE)
    return Sample(np.concatenate([before, loop]), len(before))


def vibrato(hz: float, cents: float, beats_a_second: int) -> Sample:
    """One second of a sine that goes *cents* up and down."""
    seconds = np.arange(RATE) / RATE
    curve = hz * 2 ** (cents * np.sin(2 * np.pi * beats_a_second * seconds) / 1200)
    cycles = np.cumsum(curve) / RATE
    return Sample(np.sin(2 * np.pi * cycles), 0)


def noise() -> Sample:
    return Sample(np.random.default_rng(7).uniform(-1, 1, RATE), 0)


def soundfont(
    *samples: Sample, name: str = "Sine", number: int = 22, keys: tuple[int, int] = (0, 127)
) -> bytes:
    """A font with one instrument in which all *samples* sound at once, on the *keys* alone."""
    sound, headers, zones = b"", b"", []
    for at, sample in enumerate(samples):
        start = len(sound) // 2
        sound += np.rint(sample.wave * 20_000).astype("<i2").tobytes()
        end = len(sound) // 2
        sound += bytes(2 * 46)
        headers += struct.pack(
            "<20sIIIIIBbHH", b"tone", start, end, start + sample.loop, end, RATE, A4,
            sample.cents, 0, 1,
        )  # fmt: skip
        zones.append([(43, keys[0] | keys[1] << 8), (54, 1), (53, at)])
    bags = [sum(map(len, zones[:at])) for at in range(len(zones) + 1)]
    generators = [pair for zone in zones for pair in zone]
    tables = {
        b"phdr": _preset(name, number, 0) + _preset("EOP", 0, 1),
        b"pbag": struct.pack("<4H", 0, 0, 1, 0),
        b"pmod": bytes(10),
        b"pgen": struct.pack("<4H", 41, 0, 0, 0),
        b"inst": struct.pack("<20sH20sH", b"tones", 0, b"EOI", len(zones)),
        b"ibag": b"".join(struct.pack("<2H", bag, 0) for bag in bags),
        b"imod": bytes(10),
        b"igen": b"".join(struct.pack("<2H", *pair) for pair in [*generators, (0, 0)]),
        b"shdr": headers + struct.pack("<20s26x", b"EOS"),
    }
    info = _chunk(b"ifil", struct.pack("<2H", 2, 1)) + _chunk(b"isng", b"EMU8000\0")
    info += _chunk(b"INAM", b"A test\0\0")
    parts = [
        _chunk(b"LIST", b"INFO" + info),
        _chunk(b"LIST", b"sdta" + _chunk(b"smpl", sound)),
        _chunk(b"LIST", b"pdta" + b"".join(_chunk(*pair) for pair in tables.items())),
    ]
    return _chunk(b"RIFF", b"sfbk" + b"".join(parts))


def _preset(name: str, number: int, bag: int) -> bytes:
    return struct.pack("<20s3H3I", name.encode("latin-1"), number, 0, bag, 0, 0, 0)


def _chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content


def write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path
