"""A bar of pieces: how many of a few things there are, as full pieces beside empty ones."""

from __future__ import annotations

from dataclasses import dataclass

WIDTH = 240  # units of the drawing
_GAP = 2.0
_MOST_APART = 40  # pieces with gaps between them; more would be thinner than these


@dataclass(frozen=True, slots=True)
class CountedPiece:
    """One piece of a bar."""

    x: float
    width: float
    full: bool


def piece_bar(full: int, of: int) -> tuple[CountedPiece, ...]:
    """Return *of* pieces, the first *full* of them full.

    >>> [(each.x, each.width, each.full) for each in piece_bar(1, 2)]
    [(0.0, 119.0, True), (121.0, 119.0, False)]
    """
    if of > _MOST_APART:
        ends = round(WIDTH * full / of, 1)
        whole = (CountedPiece(0.0, ends, True), CountedPiece(ends, WIDTH - ends, False))
        return tuple(each for each in whole if each.width)
    step = (WIDTH + _GAP) / max(of, 1)
    return tuple(
        CountedPiece(round(number * step, 1), round(step - _GAP, 1), number < full)
        for number in range(of)
    )
