"""SoundFonts made for tests, a few kilobytes each, whose tuning is known by arithmetic.

Layout: SoundFont Technical Specification 2.04, sections 4 to 7, from memory; that FluidSynth
plays them at the pitch computed here is itself a check.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
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
    sound, headers, zones = b"", [], []
    for at, sample in enumerate(samples):
        start = len(sound) // 2
        sound += np.rint(sample.wave * 20_000).astype("<i2").tobytes()
        end = len(sound) // 2
        sound += bytes(2 * 46)
        headers.append(Header(start, end, start + sample.loop, end, cents=sample.cents))
        zones.append(Zone(((43, keys[0] | keys[1] << 8), (54, 1), (53, at))))
    return Font([Named(name, [Zone(((41, 0),))], number)], [Named("tones", zones)], headers, sound
    ).content()  # fmt: skip


# --- fonts of any shape --------------------------------------------------------------------

Generator = tuple[int, int]
Modulator = tuple[int, int, int, int, int]


@dataclass(frozen=True)
class Zone:
    """Generators as (number, amount); the last of them, 41 or 53, names what sounds."""

    generators: Sequence[Generator] = ()
    modulators: Sequence[Modulator] = ()


@dataclass(frozen=True)
class Named:
    """A preset or an instrument."""

    name: str
    zones: Sequence[Zone]
    number: int = 22
    bank: int = 0


@dataclass(frozen=True)
class Header:
    """What a font says of one sample, in samples of the ``smpl`` chunk (bytes when packed)."""

    start: int
    end: int
    loop: int = 0
    loop_end: int = 0
    rate: int = RATE
    key: int = A4
    cents: int = 0
    kind: int = 1
    name: str = "tone"

    def packed(self) -> bytes:
        """The record of 46 bytes."""
        return struct.pack(
            "<20s5IBbHH", self.name.encode("latin-1"), self.start, self.end, self.loop,
            self.loop_end, self.rate, self.key, self.cents, 0, self.kind,
        )  # fmt: skip


@dataclass(frozen=True)
class Font:
    """A font by its tables, which may be as wrong as a test wants them."""

    presets: Sequence[Named]
    instruments: Sequence[Named]
    samples: Sequence[Header]
    sound: bytes
    version: int = 2

    def tables(self) -> dict[bytes, bytes]:
        """The nine tables in the order of the specification."""
        pbag, pmod, pgen, first = _zones(self.presets)
        ibag, imod, igen, at = _zones(self.instruments)
        heads = [_preset(*pair) for pair in zip(self.presets, first, strict=False)]
        names = [(each.name, bag) for each, bag in zip(self.instruments, at, strict=False)]
        return {
            b"phdr": b"".join([*heads, _preset(Named("EOP", (), 0), first[-1])]),
            b"pbag": pbag, b"pmod": pmod, b"pgen": pgen,
            b"inst": b"".join(
                struct.pack("<20sH", name.encode("latin-1"), bag)
                for name, bag in [*names, ("EOI", at[-1])]
            ),
            b"ibag": ibag, b"imod": imod, b"igen": igen,
            b"shdr": b"".join([*(each.packed() for each in self.samples), b"EOS" + bytes(43)]),
        }  # fmt: skip

    def content(self) -> bytes:
        """The whole file."""
        return assembled(self.tables(), self.sound, self.version)


def _zones(named: Sequence[Named]) -> tuple[bytes, bytes, bytes, list[int]]:
    """Bags, modulators and generators of all zones, and the first bag of each of *named*."""
    zones = [zone for each in named for zone in each.zones]
    gens, mods, bags = [0], [0], [0]
    for zone in zones:
        gens.append(gens[-1] + len(zone.generators))
        mods.append(mods[-1] + len(zone.modulators))
    for each in named:
        bags.append(bags[-1] + len(each.zones))
    packed = [
        b"".join(struct.pack("<2H", *pair) for pair in zip(gens, mods, strict=True)),
        b"".join(struct.pack("<2HhHH", *each) for zone in zones for each in zone.modulators),
        b"".join(struct.pack("<2H", *each) for zone in zones for each in zone.generators),
    ]
    return packed[0], packed[1] + bytes(10), packed[2] + bytes(4), bags


def assembled(tables: dict[bytes, bytes], sound: bytes, version: int = 2) -> bytes:
    """A file of these tables and samples."""
    info = chunk(b"ifil", struct.pack("<2H", version, 1)) + chunk(b"isng", b"EMU8000\0")
    info += chunk(b"INAM", b"A test\0\0")
    parts = [
        chunk(b"LIST", b"INFO" + info),
        chunk(b"LIST", b"sdta" + chunk(b"smpl", sound)),
        chunk(b"LIST", b"pdta" + b"".join(chunk(*pair) for pair in tables.items())),
    ]
    return chunk(b"RIFF", b"sfbk" + b"".join(parts))


def _preset(named: Named, bag: int) -> bytes:
    name = named.name.encode("latin-1")
    return struct.pack("<20s3H3I", name, named.number, named.bank, bag, 0, 0, 0)


def chunk(name: bytes, content: bytes) -> bytes:
    """One part of a RIFF file."""
    return name + struct.pack("<I", len(content)) + content


def write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path
