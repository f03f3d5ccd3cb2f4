"""SoundFont files parsed and checked before any C code opens them.

Only the frame is read: the RIFF chunks with their sizes, the version, and the tables.
FluidSynth trusts much of what it reads, so a file that is cut off, that is not a SoundFont,
whose tables do not fit together or that would take minutes to load is refused here, each
with its own reason.

Source: SoundFont Technical Specification 2.04, sections 4 and 7, from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np

from reedmill.base.errors import InputError, reason_of
from reedmill.base.kinds import HEAD_BYTES, kind_in_words
from reedmill.base.reading import open_plain
from reedmill.base.text import printable, whole_number
from reedmill.sound.soundfont.tables import MOST_RECORDS, RECORDS, Tables, broken_pointer, too_much

_LARGEST_FILE = 1024**3  # bytes; all of it is read once, to know it again by its hash
_MOST_CHUNKS = 64  # in one list; the specification knows 12

ANOTHER = "Use another font; soundfonts_README.md says where free ones come from."
"""What is left to do when a font cannot be played."""

HARMONICA = 23
"""The General MIDI program of a harmonica, counted from 1 as the standard prints it."""


@dataclass(frozen=True, slots=True, order=True)
class Preset:
    """One instrument of a font."""

    bank: int
    number: int  # 0 to 127, as MIDI sends it
    name: str  # printable

    @property
    def program(self) -> int:
        """The General MIDI number, 1 to 128."""
        return self.number + 1


@dataclass(frozen=True, slots=True)
class Chunk:
    """A chunk of the file: its name, and the place of its content."""

    name: bytes
    start: int  # bytes from the beginning of the file
    size: int  # bytes


@dataclass(frozen=True, slots=True)
class SoundFont:
    """A file with the structure of a SoundFont, and its presets."""

    path: Path
    presets: tuple[Preset, ...]  # by bank, then number
    tables: Tables = field(repr=False, compare=False)
    sound: Chunk = field(repr=False)  # the samples, or what they are packed into
    sample_bytes: int  # of one sample that is not packed: 3 where the font has 24 bits

    def preset(self, program: int | None = None) -> Preset:
        """Return the instrument *program* (General MIDI), from the lowest bank with it.

        Without a number: the harmonica, or the only instrument there is.  ``InputError``
        when there is none.
        """
        wanted = HARMONICA if program is None else program
        for preset in self.presets:
            if preset.program == wanted:
                return preset
        if program is None and len(self.presets) == 1:
            return self.presets[0]
        raise InputError(
            f"{self.path} has no program {wanted}. It has {_listed(self.presets)}; "
            f"write the number after the name, like {self.path.name}:{self.presets[0].program}"
        )


def _listed(presets: tuple[Preset, ...], most: int = 8) -> str:
    shown = [f"{preset.program} ({preset.name})" for preset in presets[:most]]
    more = [f"{len(presets) - most} more"] if len(presets) > most else []
    return ", ".join([*shown, *more])


def parse_voice(text: str) -> tuple[Path, int | None]:
    """Split ``font.sf2:23`` into file and program; the program may be left out.

    A file of just that name comes first, so a colon in a name does no harm.

    ``InputError`` for a program that is not 1 to 128.

    >>> parse_voice("band.sf2:23")
    (PosixPath('band.sf2'), 23)
    """
    name, colon, number = text.rpartition(":")
    if not (colon and number.isascii() and number.isdigit()) or _is_file(text):
        return Path(text), None
    if not 1 <= (whole_number(number) or 0) <= 128:
        raise InputError(f"there is no program {number:.20}; programs go from 1 to 128.")
    return Path(name), int(number)


def _is_file(text: str) -> bool:
    try:
        return Path(text).is_file()
    except OSError:  # longer than a file name can be
        return False


def open_soundfont(path: Path) -> SoundFont:
    """Parse and check the font at *path*.

    ``InputError`` when it is missing, cut off, not a SoundFont or too much to load.
    """
    try:
        if not path.is_file():
            raise InputError(_not_there(path))
        with open_plain(path) as file:
            return _read(_Reader(path, file))
    except (OSError, ValueError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else "that is not a file name"
        raise InputError(f"{path} cannot be read ({reason}).") from None


def _not_there(path: Path) -> str:
    if path.exists():
        return f"{path} is not a file. Name a SoundFont file, ending in .sf2 or .sf3."
    return f"there is no SoundFont {path}. soundfonts_README.md says where free ones come from."


@dataclass(frozen=True, slots=True)
class _Reader:
    path: Path
    file: BinaryIO

    def bytes_at(self, start: int, size: int) -> bytes:
        self.file.seek(start)
        found = self.file.read(size)
        if len(found) != size:
            raise self.cut_off()
        return found

    def chunks(self, start: int, end: int) -> Iterator[Chunk]:
        """Yield the chunks between two places; raise for one that goes beyond the second."""
        found = 0
        while start + 8 <= end:
            found += 1
            if found > _MOST_CHUNKS:
                raise self.broken("it has more parts than a SoundFont can have")
            name, size = struct.unpack("<4sI", self.bytes_at(start, 8))
            start += 8
            if start + size > end:
                raise self.broken(f'its part "{printable(name.decode("latin-1"))}" is too long')
            yield Chunk(name, start, size)
            start += size
            # RIFF fills odd sizes up with a zero; some writers of SF3 do not
            if size % 2 and start < end and self.bytes_at(start, 1) == b"\0":
                start += 1

    def cut_off(self) -> InputError:
        return InputError(f"{self.path} is cut off: its end is missing. Get the whole file again.")

    def broken(self, why: str) -> InputError:
        return InputError(f"{self.path} is a damaged SoundFont: {why}. Get the file again.")


def _read(reader: _Reader) -> SoundFont:
    lists = _lists(reader)
    tables = _tables(reader, lists[b"pdta"])
    pointer = broken_pointer(tables)
    if pointer:
        raise reader.broken('its table "{}" points outside the table "{}"'.format(*pointer))
    much = too_much(tables)
    if much:
        raise InputError(f"{reader.path} would take too long to load: {much}. {ANOTHER}")
    found = sorted(map(_preset, tables.phdr[:-1]))
    if not found:
        raise reader.broken("it has no instrument")
    sound, *more = lists[b"sdta"]
    deep = any(chunk.name == b"sm24" for chunk in more)
    return SoundFont(reader.path, tuple(found), tables, sound, 3 if deep else 2)


def _preset(header: np.void) -> Preset:
    name = bytes(header["name"]).partition(b"\0")[0].decode("latin-1")
    text = printable(name).strip() or "without a name"
    return Preset(int(header["bank"]), int(header["number"]), text)


def _lists(reader: _Reader) -> dict[bytes, list[Chunk]]:
    """Return the chunks of INFO, sdta and pdta, which must be in this order."""
    lists: dict[bytes, list[Chunk]] = {}
    for chunk in reader.chunks(12, _end(reader)):
        if chunk.name == b"LIST" and chunk.size >= 4:
            name = reader.bytes_at(chunk.start, 4)
            if name in lists:
                raise reader.broken(f'it has two parts "{printable(name.decode("latin-1"))}"')
            lists[name] = list(reader.chunks(chunk.start + 4, chunk.start + chunk.size))
    needed = (b"INFO", b"sdta", b"pdta")
    for name in needed:
        if name not in lists:
            raise reader.broken(f'its part "{name.decode()}" is missing')
    if tuple(lists)[:3] != needed:
        raise reader.broken("its parts are not in their order")
    _check_version(reader, lists[b"INFO"])
    first = next(iter(lists[b"sdta"]), None)
    if first is None or first.name != b"smpl" or not first.size:
        raise reader.broken("it holds no sound")
    return lists


def _head(reader: _Reader, there: int) -> bytes:
    return reader.bytes_at(0, min(there, HEAD_BYTES))


def _end(reader: _Reader) -> int:
    """Return the end the font states, once the file is known to reach it at a bounded size."""
    there = reader.path.stat().st_size
    head = reader.bytes_at(0, 12) if there >= 12 else b""
    if head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise InputError(
            f"{reader.path} {kind_in_words(_head(reader, there), 'a SoundFont')}. Files of that "
            "kind end in .sf2 or .sf3; a packed one must be unpacked first."
        )
    end = 8 + int(struct.unpack("<I", head[4:8])[0])
    if end > there:
        raise reader.cut_off()
    if there > _LARGEST_FILE:
        raise InputError(f"{reader.path} is larger than 1 GB. {ANOTHER}")
    return end


def _check_version(reader: _Reader, info: list[Chunk]) -> None:
    version = next((chunk for chunk in info if chunk.name == b"ifil" and chunk.size == 4), None)
    if version is None:
        raise reader.broken("it does not say its version")
    major = struct.unpack("<H", reader.bytes_at(version.start, 2))[0]
    if major not in (2, 3):
        raise InputError(f"{reader.path} is a SoundFont of version {major}; 2 and 3 are played.")


def _tables(reader: _Reader, chunks: list[Chunk]) -> Tables:
    """Return the nine tables, which must be in the order of the specification."""
    tables = {}
    for at, (name, record) in enumerate(RECORDS.items()):
        chunk = chunks[at] if at < len(chunks) else None
        right = chunk is not None and chunk.name == name.encode() and chunk.size > 0
        if chunk is None or not right or chunk.size % record.itemsize:
            raise reader.broken(f'its table "{name}" is missing or has a wrong size')
        if chunk.size // record.itemsize > MOST_RECORDS:
            raise reader.broken(f'its table "{name}" has more than {MOST_RECORDS:,} rows')
        tables[name] = np.frombuffer(reader.bytes_at(chunk.start, chunk.size), record)
    return Tables(**tables)
