"""The map of the harp: every note in its place, this drill's notes filled, the anchor ringed.

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
    arrow,
    at,
    box,
    coloured,
    lilypond_string,
    overlay,
    resized,
)

_LABELS = 11.0  # width of the label column, in staff spaces like all sizes here
_CELL_HEIGHT = 3.0
_GAP = 0.36
_COMB = 2.6  # height of the row of hole numbers


def legend(score: Score) -> str:
    """What the marks of the map mean, as far as *score* has them."""
    ringed = "     ringed: the anchor" if score.anchor else ""
    chord = "     chord: R its root, · not in it, bold: a tone on a new chord or first beat"
    band = chord if score.band else ""
    return f"filled: this drill{ringed}     small figure: degree of the key{band}"


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where everything stands in a map *width* staff spaces wide."""

    width: float
    rows: tuple[int, ...]  # 1 next to the hole numbers, negative below them

    @property
    def cell(self) -> float:
        return (self.width - _LABELS) / 10 - _GAP

    def x(self, hole: int) -> float:
        return _LABELS + (hole - 1) * (self.cell + _GAP)

    def y(self, row: int) -> float:
        """The bottom of a row; rows without a note take no room."""
        step = _CELL_HEIGHT + _GAP
        if row > 0:
            return _COMB + sum(1 for each in self.rows if 0 < each < row) * step
        return -sum(1 for each in self.rows if row <= each < 0) * step


def map_height(score: Score) -> float:
    """Staff spaces from the top row to the bottom row."""
    return _COMB + len(set(_shown(score).values())) * (_CELL_HEIGHT + _GAP)


def harp_map(score: Score, width: float) -> str:
    """The map for *score* as markup, *width* staff spaces wide."""
    used = {note.reed for note in score.notes}
    reeds = _shown(score)
    grid = _Grid(width, tuple(sorted(set(reeds.values()))))
    cells = [_cell(score, grid, reed, row, used) for reed, row in reeds.items()]
    edge = at(0, 0, "\\null")  # keeps the left edge where the labels are shorter
    return "\\sans " + overlay(edge, *_comb(grid), *_labels(score, grid), *cells)


def _shown(score: Score) -> Mapping[Reed, int]:
    """Every note of the harp with its row; overbends only where the drill uses some."""
    return _rows(score.harp, any(note.reed.over for note in score.notes))


@lru_cache(maxsize=32)
def _rows(harp: Harp, overbends: bool) -> Mapping[Reed, int]:
    """How many rows each reed is out from the hole numbers, negative below them.

    Overbends stand beyond the deepest bend.  Kept, because a page asks for it many times.
    """
    deepest = dict.fromkeys(Breath, 0)
    for reed in harp.reeds(overbends=False):
        deepest[reed.breath] = max(deepest[reed.breath], reed.bend)
    return {reed: _row(reed, deepest[reed.breath]) for reed in harp.reeds(overbends=overbends)}


def _row(reed: Reed, deepest: int) -> int:
    out = 2 + deepest if reed.over else 1 + reed.bend
    return out if reed.breath is Breath.BLOW else -out


def _cell(score: Score, grid: _Grid, reed: Reed, row: int, used: set[Reed]) -> str:
    heard = note_on_harp(score.harp, score.position, reed)
    sounding, ringed = reed in used, reed == score.anchor
    x, y = grid.x(reed.hole), grid.y(row)
    inset = 0.5 if ringed else 0.0  # so that the ring keeps clear of its neighbours
    body = (x + inset, y + inset, grid.cell - 2 * inset, _CELL_HEIGHT - 2 * inset)
    layers = [coloured(ACCENT if sounding else LINE, box(*body, filled=sounding, line=0.12))]
    if ringed:
        layers.append(coloured(INK, box(x, y, grid.cell, _CELL_HEIGHT, filled=False, line=0.28)))
    ink = PAPER if sounding else INK
    weight = "\\bold " if sounding else ""
    name = coloured(ink, weight + resized(0, accidental(heard.pitch.note)))
    degree = coloured(PAPER if sounding else FAINT, resized(-3, accidental(heard.degree.name)))
    return overlay(
        *layers,
        at(x + 0.9, y + 0.82, name),
        at(x + grid.cell - 0.9, y + 0.82, f"\\right-align {degree}"),
    )


def _comb(grid: _Grid) -> list[str]:
    """The hole numbers in a row."""
    width = grid.x(10) + grid.cell - _LABELS
    band = coloured(INK, box(_LABELS, 0, width, _COMB - _GAP, filled=False, line=0.12))
    numbers = [
        at(
            grid.x(hole) + grid.cell / 2,
            0.4,
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
        y = grid.y(row) + 0.82
        weight = "\\bold " if reed.kind is ReedKind.NATURAL else ""
        labels.append(at(_LABELS - 2.6, y, _label(words, INK, weight)))
        labels.append(coloured(INK, arrow(_LABELS - 1.3, y + 0.5, 1.7 if row > 0 else -1.7)))
    return labels


def _row_name(reed: Reed) -> str:
    if reed.kind is ReedKind.NATURAL:
        return reed.breath.value
    return reed.kind.value if reed.over else f"bend {reed.bend}"


def _label(words: str, colour: str, weight: str = "") -> str:
    return coloured(colour, f"\\right-align {weight}{resized(-2, lilypond_string(words))}")
