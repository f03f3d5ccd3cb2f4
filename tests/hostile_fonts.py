"""SoundFonts made to hurt whoever opens them: each a function that makes the bytes.

Every one is small on disk or quick to make; what it costs is in the playing.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from functools import cache

import numpy as np
import soundfile

from soundfonts import RATE, Font, Generator, Header, Modulator, Named, Zone, assembled, sine

SAMPLE, INSTRUMENT, LOOPS = 53, 41, (54, 1)
VORBIS = 0x10  # of the kind of a sample; FluidSynth and SF3 writers agree on it


def wave(count: int = RATE // 10) -> bytes:
    """A sine of 441 Hz, with the 46 silent samples the specification asks for after it."""
    one = np.rint(20_000 * np.sin(2 * np.pi * np.arange(count) / 100)).astype("<i2")
    return bytes(one.tobytes()) + bytes(92)


def font(
    *generators: Generator,
    header: Header | None = None,
    sound: bytes | None = None,
    modulators: tuple[Modulator, ...] = (),
    preset: tuple[Generator, ...] = (),
    zones: int = 1,
    layers: int = 1,
) -> Font:
    """One sample on every key, *zones* times, of an instrument named *layers* times."""
    told = header or Header(0, RATE // 10, RATE // 10 - 100, RATE // 10)
    zone = Zone((LOOPS, *generators, (SAMPLE, 0)), modulators)
    use = Zone((*preset, (INSTRUMENT, 0)))
    return Font(
        [Named("Bomb", [use] * layers)], [Named("bomb", [zone] * zones)], [told],
        wave() if sound is None else sound,
    )  # fmt: skip


def with_tables(made: Font, **tables: bytes) -> bytes:
    """*made* with some of its tables replaced."""
    changed = {name.encode(): content for name, content in tables.items()}
    return assembled({**made.tables(), **changed}, made.sound)


# --- packed samples ------------------------------------------------------------------------


@cache
def packed(seconds: int = 1, channels: int = 1, rate: int = RATE, loud: float = 0.0) -> bytes:
    """An Ogg Vorbis file of a sine, or of silence, which takes next to no room."""
    out = io.BytesIO()
    tone = loud * np.sin(2 * np.pi * 441 * np.arange(rate) / rate)
    second = np.repeat(tone[:, np.newaxis], channels, axis=1)
    with soundfile.SoundFile(out, "w", rate, channels, "VORBIS", format="OGG") as file:
        for _ in range(seconds):
            file.write(second)
    return out.getvalue()


def ogg_pages(content: bytes) -> list[bytearray]:
    """The pages of an Ogg file (RFC 3533, section 6)."""
    pages, at = [], 0
    while at < len(content):
        count = content[at + 26]
        size = 27 + count + sum(content[at + 27 : at + 27 + count])
        pages.append(bytearray(content[at : at + size]))
        at += size
    return pages


def _crc_table() -> list[int]:
    table = []
    for at in range(256):
        left = at << 24
        for _ in range(8):
            left = (left << 1) ^ (0x04C11DB7 if left & 0x80000000 else 0)
        table.append(left & 0xFFFFFFFF)
    return table


_CRC = _crc_table()


def sealed(page: bytearray) -> bytes:
    """*page* with the checksum that belongs to it (RFC 3533, section 6)."""
    page[22:26] = bytes(4)
    crc = 0
    for byte in page:
        crc = (crc << 8 & 0xFFFFFFFF) ^ _CRC[crc >> 24 ^ byte]
    page[22:26] = struct.pack("<I", crc)
    return bytes(page)


def lying(content: bytes, samples: int) -> bytes:
    """An Ogg file whose last page says that so many samples have been played by its end."""
    pages = ogg_pages(content)
    pages[-1][6:14] = struct.pack("<q", samples)
    return b"".join([*map(bytes, pages[:-1]), sealed(pages[-1])])


def packed_font(sound: bytes, ends: tuple[int, ...] = (), kind: int = VORBIS | 1) -> bytes:
    """A font of packed samples that all begin at 0 and end at each of *ends*."""
    every = [Header(0, end, 0, 1000, kind=kind) for end in ends or (len(sound),)]
    zones = [Zone(((43, at % 128 * 257), (SAMPLE, at))) for at in range(len(every))]
    return Font(
        [Named("Bomb", [Zone(((INSTRUMENT, 0),))])], [Named("bomb", zones)], every, sound, 3
    ).content()  # fmt: skip


# --- the table -------------------------------------------------------------------------------

MODULATOR: Modulator = (2, 48, 10, 0, 0)
GOOD = Header(0, RATE // 10, RATE // 10 - 100, RATE // 10)


def at(header: Header, **changes: int) -> Font:
    return font(
        header=Header(**{**{n: getattr(header, n) for n in header.__dataclass_fields__}, **changes})
    )


def many_instruments() -> bytes:
    """60,000 zones of 60,000 instruments, the last of which is asked for again and again."""
    made = font()
    few = Font(
        [Named("Bomb", [Zone(((INSTRUMENT, 59_999),))] * 20_000)],
        [*([Named("", ())] * 59_999), *made.instruments], made.samples, made.sound,
    )  # fmt: skip
    return few.content()


def many_samples() -> bytes:
    made = font(zones=20_000)
    zone = Zone((LOOPS, (43, 1), (SAMPLE, 59_999)))
    return Font(
        made.presets, [Named("bomb", [zone] * 20_000)], [GOOD] * 60_000, made.sound
    ).content()  # fmt: skip


HOSTILE: dict[str, Callable[[], bytes]] = {
    "zones times zones": lambda: font((43, 1), zones=1400, layers=1400).content(),
    "zones times zones, some": lambda: font((43, 1), zones=400, layers=400).content(),
    "256 voices a key": lambda: font(zones=256).content(),
    "2000 voices a key": lambda: font(zones=2000).content(),
    "64 voices a key": lambda: font(zones=64).content(),
    "60,000 modulators": lambda: font(modulators=(MODULATOR,) * 60_000).content(),
    "60,000 unlike modulators": lambda: font(
        modulators=tuple((2 + n % 127, n % 59, n % 32_767, 0, 0) for n in range(60_000))
    ).content(),
    "200 modulators a voice": lambda: font(
        modulators=tuple((2, n % 59, n, 0, 0) for n in range(200)), zones=30
    ).content(),
    "60,000 generators": lambda: font(*[(48, 0)] * 60_000).content(),
    "many instruments": many_instruments,
    "many samples": many_samples,
    "a packed bomb": lambda: packed_font(
        packed(400), tuple(len(packed(400)) - at for at in range(60))
    ),
    "a packed sample that lies": lambda: packed_font(lying(packed(), 1 << 30)),
    "a packed sample that lies more": lambda: packed_font(lying(packed(), 1 << 40)),
    "a packed sample of negative length": lambda: packed_font(lying(packed(), -5)),
    "a packed sample in stereo": lambda: packed_font(packed(channels=2)),
    "a packed sample of text": lambda: packed_font(b"OggS, or so it says" * 900),
    "rate 0": lambda: at(GOOD, rate=0).content(),
    "rate 1": lambda: at(GOOD, rate=1).content(),
    "rate 4294967295": lambda: at(GOOD, rate=0xFFFFFFFF).content(),
    "sample beyond the end": lambda: at(GOOD, end=900_000).content(),
    "sample of negative length": lambda: at(GOOD, start=4000, end=3000).content(),
    "sample of no length": lambda: at(GOOD, start=4000, end=4000).content(),
    "sample ends at 4294967295": lambda: at(GOOD, end=0xFFFFFFFF).content(),
    "sample starts at 4294967295": lambda: at(GOOD, start=0xFFFFFFFF).content(),
    "loop beyond the end": lambda: at(GOOD, loop_end=900_000).content(),
    "loop of no length": lambda: at(GOOD, loop=4000, loop_end=4000).content(),
    "loop of one sample": lambda: at(GOOD, loop=4000, loop_end=4001).content(),
    "loop backwards": lambda: at(GOOD, loop=4000, loop_end=3000).content(),
    "loop at 4294967295": lambda: at(GOOD, loop=0xFFFFFFF0, loop_end=0xFFFFFFFF).content(),
    "a constant": lambda: font(
        sound=np.full(RATE, 20_000, "<i2").tobytes(), header=Header(0, RATE - 50, 0, RATE - 50)
    ).content(),
    "a click": lambda: font(
        sound=b"\xff\x7f" * 9 + bytes(2 * RATE), header=Header(0, RATE - 50, 0, RATE - 50)
    ).content(),
    "tuned up by 327 semitones": lambda: font((51, 327), (52, 32_767)).content(),
    "tuned up by 120 semitones, loop of one sample": lambda: font(
        (51, 120), header=Header(0, 4410, 4000, 4001)
    ).content(),
    "tuned by the key alone": lambda: font((56, 32_767)).content(),
    "the loudest": lambda: font((48, -32_768 & 0xFFFF), (9, 32_767), (8, 32_767)).content(),
    "all generators at their highest": lambda: font(
        *[(number, 32_767) for number in range(59) if number not in (41, 43, 44, 53, 54)]
    ).content(),
    "all generators at their lowest": lambda: font(
        *[(number, 32_768) for number in range(59) if number not in (41, 43, 44, 53, 54)]
    ).content(),
    "no presets": lambda: with_tables(font(), phdr=bytes(38)),
    "no instruments": lambda: with_tables(font(), inst=bytes(22)),
    "no samples": lambda: with_tables(font(), shdr=bytes(46)),
    "a preset of nothing": lambda: Font([Named("x", ())], [], [], wave()).content(),
    "an instrument of nothing": lambda: Font(
        [Named("x", [Zone(((INSTRUMENT, 0),))])], [Named("y", ())], [GOOD], wave()
    ).content(),
    "names of control characters": lambda: Font(
        [Named("\x1b[2J\x07\x9b31m", [Zone(((INSTRUMENT, 0),))])], [Named("\0\xff", [])],
        [Header(0, 900, 0, 900, name="\r\n\x08")], wave(),
    ).content(),
}  # fmt: skip

_ = sine
