"""SoundFont files looked at by ourselves before any C code sees them.

Only the frame is read: the RIFF chunks with their sizes, the version, and the table of
presets.  FluidSynth trusts much of what it reads, so a file that is cut off, that is no
SoundFont, or whose tables do not fit together is refused here, each with its own reason.

Source: SoundFont Technical Specification 2.04, sections 4 and 7, from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO

from reedmill.base.errors import InputError, reason_of
from reedmill.base.reading import open_plain
from reedmill.base.text import printable, whole

# Every table of the pdta list and the bytes of one record; the last record ends the table.
_RECORDS = {
    "phdr": 38, "pbag": 4, "pmod": 10, "pgen": 4,
    "inst": 22, "ibag": 4, "imod": 10, "igen": 4, "shdr": 46,
}  # fmt: skip

# (table, place of the number in its record, table it points into): each number counts up.
_POINTERS = (
    ("phdr", 24, "pbag"), ("pbag", 0, "pgen"), ("pbag", 2, "pmod"),
    ("inst", 20, "ibag"), ("ibag", 0, "igen"), ("ibag", 2, "imod"),
)  # fmt: skip

# (table of generators, number of the generator, table it points into)
_LINKS = (("pgen", 41, "inst"), ("igen", 53, "shdr"))

_LARGEST_TABLES = 64 * 1024 * 1024  # bytes; the largest free fonts have about 2 MB

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
        """1 to 128, as the General MIDI list counts."""
        return self.number + 1


@dataclass(frozen=True, slots=True)
class SoundFont:
    """A file that has the frame of a SoundFont, and the instruments in it."""

    path: Path
    presets: tuple[Preset, ...]  # by bank, then number

    def preset(self, program: int | None = None) -> Preset:
        """The instrument with General MIDI number *program*, from the lowest bank that has it.

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
            f"write the number behind the name, like {self.path.name}:{self.presets[0].program}"
        )


def _listed(presets: tuple[Preset, ...], most: int = 8) -> str:
    shown = [f"{preset.program} ({preset.name})" for preset in presets[:most]]
    more = [f"{len(presets) - most} more"] if len(presets) > most else []
    return ", ".join([*shown, *more])


def parse_voice(text: str) -> tuple[Path, int | None]:
    """File and program of ``font.sf2:23``; the program may be left out.

    A file of just that name comes first, so a colon in a name does no harm.

    >>> parse_voice("band.sf2:23")
    (PosixPath('band.sf2'), 23)
    """
    name, colon, number = text.rpartition(":")
    if not (colon and number.isascii() and number.isdigit()) or Path(text).is_file():
        return Path(text), None
    if not 1 <= (whole(number) or 0) <= 128:
        raise InputError(f"there is no program {number:.20}; programs go from 1 to 128.")
    return Path(name), int(number)


def open_soundfont(path: Path) -> SoundFont:
    """The font at *path*; ``InputError`` when it is missing, cut off or no SoundFont."""
    try:
        if not path.is_file():
            raise InputError(_not_there(path))
        with open_plain(path) as file:
            return SoundFont(path, _presets(_Reader(path, file)))
    except (OSError, ValueError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else "it is no file name"
        raise InputError(f"{path} cannot be read ({reason}).") from None


def _not_there(path: Path) -> str:
    if path.exists():
        return f"{path} is no file. Name a SoundFont file, ending in .sf2 or .sf3."
    return f"there is no SoundFont {path}. soundfonts_README.md says where free ones come from."


@dataclass(frozen=True, slots=True)
class _Chunk:
    name: bytes
    start: int  # of its content
    size: int


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

    def chunks(self, start: int, end: int) -> Iterator[_Chunk]:
        """The chunks between two places; a chunk that reaches beyond the second is an error."""
        while start + 8 <= end:
            name, size = struct.unpack("<4sI", self.bytes_at(start, 8))
            start += 8
            if start + size > end:
                raise self.broken(f'its part "{printable(name.decode("latin-1"))}" is too long')
            yield _Chunk(name, start, size)
            start += size
            # RIFF fills odd sizes up with a zero; some writers of SF3 do not
            if size % 2 and start < end and self.bytes_at(start, 1) == b"\0":
                start += 1

    def cut_off(self) -> InputError:
        return InputError(f"{self.path} is cut off: its end is missing. Get the whole file again.")

    def broken(self, why: str) -> InputError:
        return InputError(f"{self.path} is a damaged SoundFont: {why}. Get the file again.")


def _presets(reader: _Reader) -> tuple[Preset, ...]:
    tables = _tables(reader, _lists(reader))
    _check_tables(reader, tables)
    headers = [_record(tables, "phdr", at) for at in range(_count(tables, "phdr") - 1)]
    found = sorted(_preset(header) for header in headers)
    if not found:
        raise reader.broken("it has no instrument")
    return tuple(found)


def _preset(header: bytes) -> Preset:
    name, number, bank = struct.unpack("<20sHH", header[:24])
    text = name.partition(b"\0")[0].decode("latin-1")
    return Preset(bank, number, printable(text).strip() or "without a name")


def _lists(reader: _Reader) -> dict[bytes, list[_Chunk]]:
    """The chunks of INFO, sdta and pdta."""
    there = reader.path.stat().st_size
    head = reader.bytes_at(0, 12) if there >= 12 else b""
    if head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise InputError(
            f"{reader.path} is no SoundFont. Files of that kind end in .sf2 or .sf3; "
            "a packed one must be unpacked first."
        )
    end = 8 + int(struct.unpack("<I", head[4:8])[0])
    if end > there:
        raise reader.cut_off()
    lists = {}
    for chunk in reader.chunks(12, end):
        if chunk.name == b"LIST" and chunk.size >= 4:
            name = reader.bytes_at(chunk.start, 4)
            lists[name] = list(reader.chunks(chunk.start + 4, chunk.start + chunk.size))
    for needed in (b"INFO", b"sdta", b"pdta"):
        if needed not in lists:
            raise reader.broken(f'its part "{needed.decode()}" is missing')
    _check_version(reader, lists[b"INFO"])
    if not any(chunk.name == b"smpl" and chunk.size for chunk in lists[b"sdta"]):
        raise reader.broken("it holds no sound")
    return lists


def _check_version(reader: _Reader, info: list[_Chunk]) -> None:
    version = next((chunk for chunk in info if chunk.name == b"ifil" and chunk.size == 4), None)
    if version is None:
        raise reader.broken("it does not say its version")
    major = struct.unpack("<H", reader.bytes_at(version.start, 2))[0]
    if major not in (2, 3):
        raise InputError(f"{reader.path} is a SoundFont of version {major}; 2 and 3 are played.")


def _tables(reader: _Reader, lists: dict[bytes, list[_Chunk]]) -> dict[str, bytes]:
    chunks = {chunk.name.decode("latin-1"): chunk for chunk in lists[b"pdta"]}
    if sum(chunk.size for chunk in chunks.values()) > _LARGEST_TABLES:
        raise reader.broken("its tables are too large")
    tables = {}
    for name, size in _RECORDS.items():
        chunk = chunks.get(name)
        if chunk is None or chunk.size < size or chunk.size % size:
            raise reader.broken(f'its table "{name}" is missing or has a wrong size')
        tables[name] = reader.bytes_at(chunk.start, chunk.size)
    return tables


def _count(tables: dict[str, bytes], name: str) -> int:
    return len(tables[name]) // _RECORDS[name]


def _record(tables: dict[str, bytes], name: str, at: int) -> bytes:
    size = _RECORDS[name]
    return tables[name][at * size : (at + 1) * size]


def _numbers(tables: dict[str, bytes], name: str, place: int) -> list[int]:
    """One 16-bit number of every record."""
    size = _RECORDS[name]
    layout = struct.Struct(f"<{place}xH{size - place - 2}x")
    return [number for (number,) in layout.iter_unpack(tables[name])]


def _check_tables(reader: _Reader, tables: dict[str, bytes]) -> None:
    """Refuse tables that point outside each other: C code would follow them."""
    for name, place, into in _POINTERS:
        numbers = _numbers(tables, name, place)
        if any(a > b for a, b in pairwise(numbers)) or numbers[-1] >= _count(tables, into):
            raise reader.broken(f'its table "{name}" points outside the table "{into}"')
    for name, generator, into in _LINKS:
        kinds, amounts = _numbers(tables, name, 0), _numbers(tables, name, 2)
        used = [amount for kind, amount in zip(kinds, amounts, strict=True) if kind == generator]
        if any(amount >= _count(tables, into) - 1 for amount in used):
            raise reader.broken(f'its table "{name}" points outside the table "{into}"')
