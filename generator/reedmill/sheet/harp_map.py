"""The map of the harp: every note in its place, this drill's notes filled, the anchor ringed.

Blow notes stand above the hole numbers and draw notes below them, bends further out.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.harp import HOLES, Breath, Reed, hear
from reedmill.score import Score
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
    overlay,
    quoted,
    sized,
)

MAP_LABELS = 11.0  # width of the label column, in staff spaces like all sizes here
_CELL_WIDTH = 8.68
_CELL_HEIGHT = 3.0
_GAP = 0.36
_COMB = 2.6  # height of the row of hole numbers
MAP_WIDTH = MAP_LABELS + 10 * (_CELL_WIDTH + _GAP)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a reed stands: its hole, and how many rows out from the hole numbers."""

    reed: Reed
    row: int  # 1 next to the numbers; negative below them

    @property
    def x(self) -> float:
        return MAP_LABELS + (self.reed.hole - 1) * (_CELL_WIDTH + _GAP)

    @property
    def y(self) -> float:
        return _row_bottom(self.row)


def _row_bottom(row: int) -> float:
    step = _CELL_HEIGHT + _GAP
    return _COMB + _GAP + (row - 1) * step if row > 0 else row * step


def harp_map(score: Score) -> str:
    """The map for *score* as markup, ``MAP_WIDTH`` staff spaces wide."""
    used = {note.reed for note in score.notes}
    places = [
        _Place(reed, _row(reed)) for reed in score.harp.reeds() if not reed.over or reed in used
    ]
    cells = [_cell(score, place, used) for place in places]
    edge = at(0, 0, "\\null")  # keeps the left edge where the labels are shorter
    return "\\sans " + overlay(edge, *_comb(), *_labels({place.row for place in places}), *cells)


def _row(reed: Reed) -> int:
    out = 2 if reed.over else 1 + reed.bend
    return out if reed.breath is Breath.BLOW else -out


def _cell(score: Score, place: _Place, used: set[Reed]) -> str:
    heard = hear(score.harp, score.position, place.reed)
    sounding = place.reed in used
    size = (place.x, place.y, _CELL_WIDTH, _CELL_HEIGHT)
    back = coloured(ACCENT if sounding else LINE, box(*size, filled=sounding, line=0.12))
    ink = PAPER if sounding else INK
    name = coloured(ink, sized(0, accidental(heard.pitch.note)))
    degree = coloured(PAPER if sounding else FAINT, sized(-3, accidental(heard.degree.name)))
    baseline = place.y + 0.82
    layers = [back]
    if place.reed == score.anchor:
        layers.append(coloured(INK, _ring(*size)))
    if sounding:
        name = "\\bold " + name
    return overlay(
        *layers,
        at(place.x + 1.0, baseline, name),
        at(place.x + _CELL_WIDTH - 1.0, baseline, f"\\right-align {degree}"),
    )


def _ring(x: float, y: float, width: float, height: float) -> str:
    out = 0.16
    return box(x - out, y - out, width + 2 * out, height + 2 * out, filled=False, line=0.38)


def _comb() -> list[str]:
    """The hole numbers in a row."""
    width = 10 * (_CELL_WIDTH + _GAP) - _GAP
    band = coloured(INK, box(MAP_LABELS, 0, width, _COMB - _GAP, filled=False, line=0.12))
    numbers = [
        at(
            MAP_LABELS + (hole - 0.5) * (_CELL_WIDTH + _GAP) - _GAP / 2,
            0.4,
            coloured(INK, f"\\center-align \\bold {quoted(str(hole))}"),
        )
        for hole in HOLES
    ]
    return [band, *numbers]


def _labels(rows: set[int]) -> list[str]:
    labels = [
        at(MAP_LABELS - 1, 0.5, coloured(FAINT, f"\\right-align {sized(-2, quoted('hole'))}"))
    ]
    for row in sorted(rows):
        bends = abs(row) - 1
        words = f"bend {bends}" if bends else ("blow" if row > 0 else "draw")
        y = _row_bottom(row) + 0.82
        weight = "" if bends else "\\bold "
        text = f"\\right-align {weight}{sized(-2, quoted(words))}"
        labels.append(at(MAP_LABELS - 2.6, y, coloured(INK, text)))
        points = 1.7 if row > 0 else -1.7
        labels.append(coloured(INK, arrow(MAP_LABELS - 1.3, y + 0.5, points)))
    return labels


LEGEND = "filled: this drill     ringed: the anchor     small figure: degree of the key"
