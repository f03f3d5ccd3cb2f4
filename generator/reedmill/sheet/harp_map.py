"""The map of the harp: every note in its place, the drill's notes filled, the anchor ringed.

Blow notes stand above the hole numbers and draw notes below them, bends further out,
overbends furthest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from reedmill.harp import HOLES, Breath, Harp, Reed, ReedKind, note_on_harp
from reedmill.score.score import Score
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    LINE,
    PAPER,
    accidental,
    at,
    box,
    breath_arrow,
    coloured,
    lilypond_string,
    overlay,
    resized,
)

_LABELS = 11.0  # width of the label column, in staff spaces like all sizes here
_PAD = 0.7  # from the edge of a cell to what stands in it
_CAPITAL = 1.58  # height of a capital at size 0


@dataclass(frozen=True, slots=True)
class _Rows:
    """The height of the map's rows, and the size of the names in them."""

    cell: float
    gap: float
    comb: float  # the row of hole numbers
    name: float  # size of a note's name, in steps

    @property
    def step(self) -> float:
        """The distance from one row to the next."""
        return self.cell + self.gap

    @property
    def rise(self) -> float:
        """The distance from the foot of a cell to the baseline of its text."""
        return (self.cell - _CAPITAL * 2 ** (self.name / 6)) / 2


# Roomy rows are as high as a name reads well beside an instrument; low ones as its letters allow.
# Chosen by eye, no published source.
_ROOMY, _LOW = _Rows(3.0, 0.36, 2.6, 0.0), _Rows(2.35, 0.26, 2.3, -1.0)


def _set_as(low: bool) -> _Rows:
    return _LOW if low else _ROOMY


def legend(score: Score) -> list[str]:
    """Return what the marks of the map mean, for the marks that *score* has."""
    return [
        "filled: this drill",
        *(["ringed: the anchor"] if score.anchor_holes else []),
        "small figure: degree of the key",
        "arrow: the breath",
        *(_CHORD_WORDS if score.band else []),
    ]


_CHORD_WORDS = ("chord: R its root, · not in it", "bold: a tone on a new chord or first beat")


@dataclass(frozen=True, slots=True)
class _Grid:
    """The positions of all parts of a map *width* staff spaces wide."""

    width: float
    rows: tuple[float, ...]  # 1 next to the hole numbers, negative below them
    set_as: _Rows

    @property
    def cell(self) -> float:
        return (self.width - _LABELS) / 10 - self.set_as.gap

    def x(self, hole: int) -> float:
        return _LABELS + (hole - 1) * (self.cell + self.set_as.gap)

    def y(self, row: float) -> float:
        """Return the bottom of a row; rows without a note take no room."""
        step = self.set_as.step
        if row > 0:
            return self.set_as.comb + sum(1 for each in self.rows if 0 < each < row) * step
        return -sum(1 for each in self.rows if row <= each < 0) * step


def map_height(score: Score, *, low: bool = False) -> float:
    """Return staff spaces from the top row to the bottom row; *low* rows take less."""
    rows = _set_as(low)
    return rows.comb + len(set(_shown(score).values())) * rows.step


def harp_map(score: Score, width: float, *, low: bool = False) -> str:
    """Return the map for *score*, *width* staff spaces wide; *low* where room is short."""
    used = _used(score)
    reeds = _shown(score)
    grid = _Grid(width, tuple(sorted(set(reeds.values()))), _set_as(low))
    cells = [_cell(score, grid, reed, row, used) for reed, row in reeds.items()]
    edge = at(0, 0, "\\null")  # keeps the left edge where the labels are shorter
    return "\\sans " + overlay(edge, *_comb(grid), *_labels(score, grid), *cells)


def _used(score: Score) -> set[Reed]:
    return {reed for note in score.notes for reed in note.reeds}


def _shown(score: Score) -> Mapping[Reed, float]:
    """Return every note of the harp with its row.

    Overbends and quarter tones are there only where the drill uses some.
    """
    used = _used(score)
    quarters = frozenset(reed for reed in used if reed.quarter)
    return _rows(score.harp, any(reed.over for reed in used), quarters)


@lru_cache(maxsize=32)
def _rows(harp: Harp, overbends: bool, quarters: frozenset[Reed]) -> Mapping[Reed, float]:
    """Return how many rows each reed is from the hole numbers, negative below them.

    *quarters* stand in rows of their own, half a row below the note they shade.  Overbends stand
    beyond the deepest bend.  Kept, because a page asks for it many times.
    """
    deepest = dict.fromkeys(Breath, 0)
    for reed in harp.reeds(overbends=False):
        deepest[reed.breath] = max(deepest[reed.breath], reed.bend)
    ordered = sorted(quarters, key=lambda reed: (reed.hole, reed.bend))
    reeds = [*harp.reeds(overbends=overbends), *ordered]
    return {reed: _row(reed, deepest[reed.breath]) for reed in reeds}


def _row(reed: Reed, deepest: int) -> float:
    out = 2 + deepest if reed.over else 1 + reed.bend + reed.quarter / 2
    return out if reed.breath is Breath.BLOW else -out


def _cell(score: Score, grid: _Grid, reed: Reed, row: float, used: set[Reed]) -> str:
    heard = note_on_harp(score.harp, score.position, reed)
    sounding, ringed = reed in used, reed in score.anchor_holes
    x, y = grid.x(reed.hole), grid.y(row)
    rows = grid.set_as
    inset = 0.4 if ringed else 0.0  # so that the ring keeps clear of its neighbours
    body = (x + inset, y + inset, grid.cell - 2 * inset, rows.cell - 2 * inset)
    layers = [coloured(ACCENT if sounding else LINE, box(*body, filled=sounding, line=0.12))]
    if ringed:
        layers.append(coloured(INK, box(x, y, grid.cell, rows.cell, filled=False, line=0.28)))
    ink = PAPER if sounding else INK
    weight = "\\bold " if sounding else ""
    size = rows.name - (_QUARTER_SMALLER if reed.quarter and grid.cell < _NARROW else 0.0)
    name = coloured(ink, weight + resized(size, accidental(heard.pitch.note)))
    degree = coloured(PAPER if sounding else FAINT, resized(-3, accidental(heard.degree.name)))
    return overlay(
        *layers,
        at(x + _PAD, y + rows.rise, name),
        at(x + grid.cell - _PAD, y + rows.rise, f"\\right-align {degree}"),
    )


def _comb(grid: _Grid) -> list[str]:
    """Return the hole numbers in a row."""
    width = grid.x(10) + grid.cell - _LABELS
    height = grid.set_as.comb - grid.set_as.gap
    band = coloured(INK, box(_LABELS, 0, width, height, filled=False, line=0.12))
    numbers = [
        at(
            grid.x(hole) + grid.cell / 2,
            (height - _CAPITAL) / 2,
            coloured(INK, f"\\center-align \\bold {lilypond_string(str(hole))}"),
        )
        for hole in HOLES
    ]
    return [band, *numbers]


def _labels(score: Score, grid: _Grid) -> list[str]:
    labels = [at(_LABELS - 1, 0.5, _label("hole", FAINT))]
    examples = {row: reed for reed, row in _shown(score).items()}
    for row in grid.rows:
        reed = examples[row]
        words = _row_name(reed)
        y = grid.y(row) + (grid.set_as.cell - _SMALL_CAPITAL) / 2
        weight = "\\bold " if reed.kind is ReedKind.NATURAL else ""
        labels.append(at(_LABELS - 2.6, y, _label(words, INK, weight)))
        labels.append(coloured(INK, breath_arrow(reed, _LABELS - 1.3, y + 0.6)))
    return labels


# In a narrow cell, as of large print, a quarter tone's name and degree are wide: steps smaller.
_NARROW, _QUARTER_SMALLER = 8.0, 3.0
_SMALL_CAPITAL = 1.25  # height in staff spaces, measured on LilyPond's sans at that size


def _row_name(reed: Reed) -> str:
    if reed.kind is ReedKind.NATURAL:
        return reed.breath.value
    if reed.over:
        return str(reed.kind.value)
    half = "\N{VULGAR FRACTION ONE HALF}" if reed.quarter else ""
    return f"bend {reed.bend or ''}{half}"


def _label(words: str, colour: str, weight: str = "") -> str:
    return coloured(colour, f"\\right-align {weight}{resized(-2, lilypond_string(words))}")
