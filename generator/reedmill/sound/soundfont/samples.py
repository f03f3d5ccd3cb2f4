"""The samples that notes of a SoundFont need, checked before FluidSynth unpacks them.

FluidSynth takes the samples of a whole preset into memory, and those of an ``.sf3`` unpacked.
What an Ogg Vorbis stream becomes is said by the positions on its pages, which FluidSynth
makes room for: silence unpacks to a thousand times its size.

Sources: SoundFont Technical Specification 2.04, section 7.10, from memory; RFC 3533, section 6,
for the pages of Ogg; the Vorbis I specification, section 4.2.2, for the header.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedmill.base.errors import InputError, reason_of
from reedmill.base.reading import open_plain
from reedmill.base.text import printable
from reedmill.sound.soundfont.file import ANOTHER, SoundFont
from reedmill.sound.soundfont.tables import Numbers, preset_zones

MOST_VOICES = 32
"""Samples that one key may sound at once; the fonts in use have up to 8."""

_MOST_BYTES = 160_000_000  # of samples in memory at once; the largest piano in use has 100 MB

_LOWEST_HZ, _HIGHEST_HZ = 100, 400_000  # sample rates; the specification wants 400 to 50,000
_ROM, _PACKED = 0x8000, 0x10  # bits of a sample's kind


class KeyStroke(NamedTuple):
    """A key of a preset, struck at one strength."""

    bank: int
    number: int  # of the preset in its bank, from 0
    key: int  # MIDI
    velocity: int  # MIDI, 1 to 127


def check_notes(font: SoundFont, notes: Iterable[KeyStroke]) -> None:
    """Refuse *notes* that would take FluidSynth too long or too much memory.

    ``InputError`` too when a sample of their presets lies outside the file.
    """
    wanted: dict[tuple[int, int], set[tuple[int, int]]] = {}
    for bank, number, key, velocity in notes:
        wanted.setdefault((bank, number), set()).add((key, velocity))
    needed: set[int] = set()
    for (bank, number), struck in wanted.items():
        found = preset_zones(font.tables, bank, number)
        most, key = max((found.voices(key, velocity), key) for key, velocity in struck)
        if most > MOST_VOICES:
            raise InputError(
                f"program {number + 1} of {font.path} sounds {most} samples at once on MIDI key "
                f"{key}; up to {MOST_VOICES} are played. Choose another program. {ANOTHER}"
            )
        needed |= set(np.unique(found.sample).tolist())
    _check_samples(font, np.array(sorted(needed), dtype=np.int64))


def _check_samples(font: SoundFont, rows: Numbers) -> None:
    samples = font.tables.shdr[rows]
    samples = samples[(samples["kind"] & _ROM) == 0]
    packed = (samples["kind"] & _PACKED) != 0
    # where a sample is packed its places are bytes, else samples of 16 bits
    ends = np.where(packed, font.sound.size, font.sound.size // 2)
    _refuse(font, samples, (samples["start"] >= samples["end"]) | (samples["end"] > ends),
            "lies outside the file")  # fmt: skip
    rates = samples["rate"]
    _refuse(font, samples, (rates < _LOWEST_HZ) | (rates > _HIGHEST_HZ),
            "has a sample rate that does not exist")  # fmt: skip
    sizes = samples["end"].astype(np.int64) - samples["start"]
    in_memory = font.sample_bytes * int(sizes[~packed].sum())
    _limit(font, in_memory + int(sizes[packed].sum()))
    for sample, content in zip(samples[packed], _contents(font, samples[packed]), strict=True):
        length = vorbis_samples(content)
        if length is None:
            raise InputError(_bad(font, sample, "is not packed as Ogg Vorbis in mono"))
        in_memory += 2 * length
        _limit(font, in_memory)


def _contents(font: SoundFont, packed: NDArray[np.void]) -> Iterator[bytes]:
    """Yield the bytes in the file for each of *packed*."""
    try:
        with open_plain(font.path) as file:
            for sample in packed:
                file.seek(font.sound.start + int(sample["start"]))
                yield file.read(int(sample["end"]) - int(sample["start"]))
    except OSError as error:
        raise InputError(f"{font.path} cannot be read ({reason_of(error)}).") from None


def _limit(font: SoundFont, in_memory: int) -> None:
    if in_memory > _MOST_BYTES:
        raise InputError(
            f"{font.path} needs too much memory: its samples come to more than "
            f"{_MOST_BYTES // 1_000_000} MB. Choose another program. {ANOTHER}"
        )


def _refuse(font: SoundFont, samples: NDArray[np.void], bad: NDArray[np.bool_], why: str) -> None:
    if np.any(bad):
        raise InputError(_bad(font, samples[int(np.argmax(bad))], why))


def _bad(font: SoundFont, sample: np.void, why: str) -> str:
    name = printable(bytes(sample["name"]).partition(b"\0")[0].decode("latin-1"))
    return f'{font.path} is a damaged SoundFont: its sample "{name}" {why}. {ANOTHER}'


def vorbis_samples(content: bytes) -> int | None:
    """Return the samples a mono Ogg Vorbis stream claims; ``None`` when it is not one.

    The number is the furthest position of any page: a reader that looks for the last page alone
    cannot find more.  A second stream after the first is refused.
    """
    head = content[:58]
    if len(head) < 58 or head[:4] != b"OggS" or head[28:35] != b"\x01vorbis" or head[39] != 1:
        return None
    most, begins, at = 0, 0, 0
    while (at := content.find(b"OggS\0", at)) >= 0 and at + 14 <= len(content):
        flags, position = struct.unpack_from("<Bq", content, at + 5)
        at += 5
        if flags > 7:  # four letters by chance
            continue
        begins += flags >> 1 & 1
        most = max(most, position)
        if position < -1:  # -1: no packet ends on this page
            return None
    return most if begins == 1 else None
