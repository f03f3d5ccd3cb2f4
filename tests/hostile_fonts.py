"""SoundFonts made to hurt whoever opens them: each a function that makes the bytes.

Every one is small on disk or quick to make; what it costs is in the playing.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import soundfile

from soundfonts import RATE, Font, Generator, Header, Modulator, Named, Zone, assembled, chunk

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
    said = header or Header(0, RATE // 10, RATE // 10 - 100, RATE // 10)
    zone = Zone((LOOPS, *generators, (SAMPLE, 0)), modulators)
    use = Zone((*preset, (INSTRUMENT, 0)))
    return Font(
        [Named("Bomb", [use] * layers)], [Named("bomb", [zone] * zones)], [said],
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


# --- the tables ------------------------------------------------------------------------------

MODULATOR: Modulator = (2, 48, 10, 0, 0)
GOOD = Header(0, RATE // 10, RATE // 10 - 100, RATE // 10)
HELD = Header(0, RATE - 50, 0, RATE - 50)  # one second that repeats
LINKS = (41, 43, 44, 53, 54)  # generators that are not amounts


def told(**changes: Any) -> bytes:
    """A good font but for what the header of its sample says."""
    return font(header=replace(GOOD, **changes)).content()


def many_instruments() -> bytes:
    """60,000 instruments, the last of which is asked for again and again."""
    made = font()
    last = [Zone(((INSTRUMENT, 59_999),))] * 20_000
    instruments = [*([Named("", ())] * 59_999), *made.instruments]
    return Font([Named("Bomb", last)], instruments, made.samples, made.sound).content()


def many_samples() -> bytes:
    """60,000 samples, the last of which is asked for again and again."""
    zones = [Zone((LOOPS, (43, 1), (SAMPLE, 59_999)))] * 20_000
    made = font()
    return Font(made.presets, [Named("bomb", zones)], [GOOD] * 60_000, made.sound).content()


def packed_bomb() -> bytes:
    """A few kilobytes that unpack to a gigabyte: silence, over and over."""
    silence = packed(100)
    ends = range(len(silence), len(silence) + 120)
    return packed_font(silence + bytes(120), tuple(ends))


def extremes(amount: int) -> bytes:
    """Every setting of a zone at its limit."""
    return font(*[(kind, amount) for kind in range(59) if kind not in LINKS]).content()


def nested() -> bytes:
    """A list in a list in a list, where the tables should be."""
    inside = b""
    for _ in range(2000):
        inside = chunk(b"LIST", b"pdta" + inside)
    return chunk(b"RIFF", b"sfbk" + inside)


def crumbs() -> bytes:
    """A hundred thousand parts of no size."""
    version = chunk(b"ifil", struct.pack("<2H", 2, 1))
    return chunk(
        b"RIFF", b"sfbk" + chunk(b"LIST", b"INFO" + version + chunk(b"xxxx", b"") * 99_999)
    )


def parts(*order: bytes) -> bytes:
    """The parts of a good font in another *order*, or more than once."""
    content, found, at = font().content(), {}, 12
    while at < len(content):
        size = 8 + int.from_bytes(content[at + 4 : at + 8], "little")
        found[content[at + 8 : at + 12]] = content[at : at + size]
        at += size
    return chunk(b"RIFF", b"sfbk" + b"".join(found[name] for name in order))


def unlike(count: int) -> tuple[Modulator, ...]:
    """Modulators of which no two are alike."""
    return tuple((2 + at % 127, at % 59, at % 32_767, 0, 0) for at in range(count))


LONG = "would take too long to load: "
VOICES = "samples at once on MIDI key"
MEMORY = "needs too much memory: its samples come to more than 160 MB."
OUTSIDE = 'its sample "tone" lies outside the file.'
NO_RATE = 'its sample "tone" has a sample rate that does not exist.'
NOT_PACKED = 'its sample "tone" is not packed as Ogg Vorbis in mono.'
LISTS = LONG + "its lists of instruments and samples are too long."
WORK = "FluidSynth needs more time or memory for"

REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "zones of zones": (
        lambda: font((43, 1), zones=1400, layers=1400).content(),
        LONG + "its instruments are layered into more than 60,000 zones.",
    ),
    "256 voices": (lambda: font(zones=256).content(), "sounds 256 " + VOICES),
    "33 voices": (lambda: font(zones=33).content(), "sounds 33 " + VOICES),
    "voices of layers": (lambda: font(zones=40, layers=40).content(), "sounds 1600 " + VOICES),
    "modulators": (
        lambda: font(modulators=(MODULATOR,) * 60_000).content(),
        LONG + "one of its zones has more than 64 modulators.",
    ),
    "modulators unlike": (
        lambda: font(modulators=unlike(60_000)).content(),
        LONG + "one of its zones has more than 64 modulators.",
    ),
    "settings": (
        lambda: font(*[(48, 0)] * 60_000).content(),
        LONG + "one of its zones has more than 256 settings.",
    ),
    "instruments": (many_instruments, LISTS),
    "samples": (many_samples, LISTS),
    "rows": (
        lambda: with_tables(font(), shdr=bytes(46 * 65_537)),
        'its table "shdr" has more than 65,536 rows.',
    ),
    "packed bomb": (packed_bomb, MEMORY),
    "packed lie": (lambda: packed_font(lying(packed(), 1 << 30)), MEMORY),
    "packed larger lie": (lambda: packed_font(lying(packed(), 1 << 40)), MEMORY),
    "packed negative": (lambda: packed_font(lying(packed(), -5)), NOT_PACKED),
    "packed stereo": (lambda: packed_font(packed(channels=2)), NOT_PACKED),
    "packed twice": (lambda: packed_font(packed() + packed()), NOT_PACKED),
    "packed text": (lambda: packed_font(b"OggS, or so it says" * 900), NOT_PACKED),
    "packed nothing": (lambda: packed_font(bytes(900)), NOT_PACKED),
    "rate 0": (lambda: told(rate=0), NO_RATE),
    "rate 1": (lambda: told(rate=1), NO_RATE),
    "rate 2**32": (lambda: told(rate=2**32 - 1), NO_RATE),
    "sample too long": (lambda: told(end=900_000), OUTSIDE),
    "sample backwards": (lambda: told(start=4000, end=3000), OUTSIDE),
    "sample of nothing": (lambda: told(start=4000, end=4000), OUTSIDE),
    "sample to 2**32": (lambda: told(end=2**32 - 1), OUTSIDE),
    "sample from 2**32": (lambda: told(start=2**32 - 1), OUTSIDE),
    "tuned up": (lambda: font((51, 327), (52, 32_767)).content(), WORK),
    "tuned by an envelope": (lambda: font((7, 12_000), (51, 120)).content(), WORK),
    "no presets": (lambda: with_tables(font(), phdr=bytes(38)), "it has no instrument."),
    "no instruments": (
        lambda: with_tables(font(), inst=bytes(22)),
        'its table "pgen" points outside the table "inst".',
    ),
    "no samples": (
        lambda: with_tables(font(), shdr=bytes(46)),
        'its table "igen" points outside the table "shdr".',
    ),
    "nested": (nested, 'its part "INFO" is missing.'),
    "crumbs": (crumbs, "it has more parts than a SoundFont can have."),
    "parts twice": (
        lambda: parts(b"INFO", b"sdta", b"pdta", b"pdta"),
        'it has two parts "pdta".',
    ),
    "parts in disorder": (
        lambda: parts(b"INFO", b"pdta", b"sdta"),
        "its parts are not in their order.",
    ),
}
"""Fonts that are bad input, and what is said of each."""

HARMLESS: dict[str, Callable[[], bytes]] = {
    "loop too long": lambda: told(loop_end=900_000),
    "loop of nothing": lambda: told(loop=4000, loop_end=4000),
    "loop of one sample": lambda: told(loop=4000, loop_end=4001),
    "loop backwards": lambda: told(loop=4000, loop_end=3000),
    "loop at 2**32": lambda: told(loop=2**32 - 16, loop_end=2**32 - 1),
    "a constant": lambda: font(
        sound=np.full(RATE, 20_000, "<i2").tobytes(), header=HELD
    ).content(),
    "a click": lambda: font(sound=b"\xff\x7f" * 9 + bytes(2 * RATE), header=HELD).content(),
    "the quietest": lambda: font(sound=b"\1\0\xff\xff" * RATE, header=HELD).content(),
    "a short loop tuned up": lambda: font((51, 120), header=replace(GOOD, loop=4000)).content(),
    "the loudest": lambda: font((48, 32_768), (9, 32_767), (8, 32_767)).content(),
    "highest": lambda: extremes(32_767),
    "lowest": lambda: extremes(32_768),
    "preset of nothing": lambda: Font([Named("x", ())], [], [], wave()).content(),
    "instrument of nothing": lambda: Font(
        [Named("x", [Zone(((INSTRUMENT, 0),))])], [Named("y", ())], [GOOD], wave()
    ).content(),
    "names": lambda: Font(
        [Named("\x1b[2J\x07\x9b31m", [Zone(((INSTRUMENT, 0),))])],
        [Named("\0\xff", [Zone((LOOPS, (SAMPLE, 0)))])],
        [replace(GOOD, name="\r\n\x08")], wave(),
    ).content(),
    "the same preset twice": lambda: Font(
        [Named("x", [Zone(((INSTRUMENT, 0),))])] * 2,
        [Named("y", [Zone((LOOPS, (SAMPLE, 0)))])], [GOOD], wave(),
    ).content(),
}  # fmt: skip
"""Fonts that sound strange, or not at all; that is measured as of any other."""
