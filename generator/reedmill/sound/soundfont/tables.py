"""The tables of a SoundFont, and the cost of playing it, known before anything is played.

A font of a few kilobytes can name a million sounding zones, or a gigabyte of samples packed
into nothing.  FluidSynth would build all of that; here it is only counted.

Source: SoundFont Technical Specification 2.04, section 7, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.int64]

# One record of each table of the pdta list; the last record of a table ends it.
RECORDS: Mapping[str, np.dtype[np.void]] = {
    name: np.dtype([(field, kind) for field, kind in fields])
    for name, fields in {
        "phdr": (("name", "S20"), ("number", "<u2"), ("bank", "<u2"), ("bag", "<u2"),
                 ("rest", "V12")),
        "pbag": (("gen", "<u2"), ("mod", "<u2")),
        "pmod": (("rest", "V10"),),
        "pgen": (("kind", "<u2"), ("amount", "<u2")),
        "inst": (("name", "S20"), ("bag", "<u2")),
        "ibag": (("gen", "<u2"), ("mod", "<u2")),
        "imod": (("rest", "V10"),),
        "igen": (("kind", "<u2"), ("amount", "<u2")),
        "shdr": (("name", "S20"), ("start", "<u4"), ("end", "<u4"), ("loop", "<u4"),
                 ("loop_end", "<u4"), ("rate", "<u4"), ("key", "u1"), ("cents", "i1"),
                 ("link", "<u2"), ("kind", "<u2")),
    }.items()
}  # fmt: skip

MOST_RECORDS = 65_536
"""Of any table: what its 16-bit numbers can point to."""

# What a font may cost to load.  Beside each limit: the most that the three fonts of
# soundfonts_README.md need.
_MOST_PAIRS = 60_000  # 18,082 zones of presets, each with every zone of its instrument
_MOST_STEPS = 60_000_000  # 4 million places in the lists through which FluidSynth walks
_MOST_GENERATORS = 256  # 27 in a zone; the specification knows 59 kinds
_MOST_MODULATORS = 64  # 7 in a zone; FluidSynth heeds 64

_KEY_RANGE, _VELOCITY_RANGE, _INSTRUMENT, _SAMPLE = 43, 44, 41, 53


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """The nine tables, each an array of ``RECORDS``."""

    phdr: NDArray[np.void]
    pbag: NDArray[np.void]
    pmod: NDArray[np.void]
    pgen: NDArray[np.void]
    inst: NDArray[np.void]
    ibag: NDArray[np.void]
    imod: NDArray[np.void]
    igen: NDArray[np.void]
    shdr: NDArray[np.void]


@dataclass(frozen=True, slots=True, eq=False)
class PresetZones:
    """The zones of a preset: a row for each of them and each zone of its instrument."""

    sample: Numbers  # the row of ``shdr``
    low: Numbers  # MIDI key
    high: Numbers
    softest: Numbers  # velocity
    loudest: Numbers

    def voices(self, key: int, velocity: int) -> int:
        """Return how many samples sound at once when a key is struck."""
        keys = (self.low <= key) & (key <= self.high)
        return int(np.count_nonzero(keys & (self.softest <= velocity) & (velocity <= self.loudest)))


@dataclass(frozen=True, slots=True, eq=False)
class _Zones:
    """The zones of all presets, or of all instruments."""

    owner_bags: Numbers  # where the zones of each owner begin, and where the last ones end
    link: Numbers  # the instrument or sample of each zone, -1 where it has none
    low: Numbers
    high: Numbers
    softest: Numbers
    loudest: Numbers


def broken_pointer(tables: Tables) -> tuple[str, str] | None:
    """Return the first table that points outside another, and that other; C would follow."""
    t = tables
    for name, numbers, into in (
        ("phdr", t.phdr["bag"], "pbag"), ("pbag", t.pbag["gen"], "pgen"),
        ("pbag", t.pbag["mod"], "pmod"), ("inst", t.inst["bag"], "ibag"),
        ("ibag", t.ibag["gen"], "igen"), ("ibag", t.ibag["mod"], "imod"),
    ):  # fmt: skip
        if np.any(numbers[:-1] > numbers[1:]) or numbers[-1] >= len(getattr(t, into)):
            return name, into
    for name, kind, into in (("pgen", _INSTRUMENT, "inst"), ("igen", _SAMPLE, "shdr")):
        table = getattr(t, name)
        if np.any(table["amount"][table["kind"] == kind] >= len(getattr(t, into)) - 1):
            return name, into
    return None


def too_much(tables: Tables) -> str:
    """Say why loading the font would take too long or too much memory; nothing if it would not."""
    for bags in (tables.pbag, tables.ibag):
        if np.diff(bags["gen"].astype(np.int64)).max(initial=0) > _MOST_GENERATORS:
            return f"one of its zones has more than {_MOST_GENERATORS} settings"
        if np.diff(bags["mod"].astype(np.int64)).max(initial=0) > _MOST_MODULATORS:
            return f"one of its zones has more than {_MOST_MODULATORS} modulators"
    presets, instruments = _preset_zones(tables), _instrument_zones(tables)
    uses = presets.link[presets.link >= 0]
    if int(np.diff(instruments.owner_bags)[uses].sum()) > _MOST_PAIRS:
        return f"its instruments are layered into more than {_MOST_PAIRS:,} zones"
    lists = sum(len(table) ** 2 // 2 for table in (tables.phdr, tables.inst, tables.shdr))
    walked = sum(int(each.link.clip(0).sum()) for each in (presets, instruments))
    if lists + walked > _MOST_STEPS:
        return "its lists of instruments and samples are too long"
    return ""


def preset_zones(tables: Tables, bank: int, number: int) -> PresetZones:
    """Return the zones of a preset; of all of them where several have the same number."""
    presets, instruments = _preset_zones(tables), _instrument_zones(tables)
    heads = tables.phdr[:-1]
    owners = np.flatnonzero((heads["bank"] == bank) & (heads["number"] == number))
    begins, ends = presets.owner_bags[owners], presets.owner_bags[owners + 1]
    zones = _runs(begins, ends - begins)
    zones = zones[presets.link[zones] >= 0]
    used = presets.link[zones]
    counts = np.diff(instruments.owner_bags)[used]
    inner = _runs(instruments.owner_bags[used], counts)
    outer = np.repeat(zones, counts)
    heard = instruments.link[inner] >= 0
    inner, outer = inner[heard], outer[heard]
    return PresetZones(
        instruments.link[inner],
        np.maximum(presets.low[outer], instruments.low[inner]),
        np.minimum(presets.high[outer], instruments.high[inner]),
        np.maximum(presets.softest[outer], instruments.softest[inner]),
        np.minimum(presets.loudest[outer], instruments.loudest[inner]),
    )


def _runs(starts: Numbers, counts: Numbers) -> Numbers:
    """Return runs of whole numbers, each from one of *starts* and as long as its count.

    >>> _runs(np.array([5, 20]), np.array([2, 3])).tolist()
    [5, 6, 20, 21, 22]
    """
    before = np.cumsum(counts) - counts
    found: Numbers = np.arange(int(counts.sum())) + np.repeat(starts - before, counts)
    return found


def _preset_zones(tables: Tables) -> _Zones:
    return _zones(tables.phdr["bag"], tables.pbag["gen"], tables.pgen, _INSTRUMENT)


def _instrument_zones(tables: Tables) -> _Zones:
    return _zones(tables.inst["bag"], tables.ibag["gen"], tables.igen, _SAMPLE)


def _zones(
    owner_bags: NDArray[np.void], bags: NDArray[np.void], gens: NDArray[np.void], link_kind: int
) -> _Zones:
    starts = bags[:-1].astype(np.int64)
    counts = np.diff(bags.astype(np.int64))
    kinds, amounts = gens["kind"].astype(np.int64), gens["amount"].astype(np.int64)
    last = len(gens) - 1
    # A range counts only where the specification wants it: keys first, velocities after them.
    keyed = (counts > 0) & (kinds[starts.clip(0, last)] == _KEY_RANGE)
    second = (starts + keyed).clip(0, last)
    struck = (counts > keyed) & (kinds[second] == _VELOCITY_RANGE)
    keys = np.where(keyed, amounts[starts.clip(0, last)], 127 << 8)
    velocities = np.where(struck, amounts[second], 127 << 8)
    return _Zones(
        owner_bags.astype(np.int64),
        _links(starts, kinds, amounts, int(bags[-1]), link_kind),
        keys & 255, keys >> 8, velocities & 255, velocities >> 8,
    )  # fmt: skip


def _links(starts: Numbers, kinds: Numbers, amounts: Numbers, end: int, link_kind: int) -> Numbers:
    """Return what each zone names: its first generator of *link_kind*, as FluidSynth reads it."""
    found = np.full(len(starts), -1, dtype=np.int64)
    places = np.flatnonzero(kinds[:end] == link_kind)[::-1]
    places = places[places >= (starts[0] if len(starts) else end)]
    # from the last to the first, so that the first of a zone is written over the others
    found[np.searchsorted(starts, places, "right") - 1] = amounts[places]
    return found
