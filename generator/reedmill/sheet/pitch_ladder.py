"""The pitch ladder: the rungs of one hole as fixed places, beside the keys of a piano.

A bend has no fret, so students slide about in it; the figure shows that its notes have
places as firm as those of a keyboard.
"""

from __future__ import annotations

from collections import Counter

from reedmill.harp import Breath, Reed, bend_depth, bending_breath, note_on_harp
from reedmill.score.score import Score
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    LINE,
    accidental,
    at,
    box,
    coloured,
    lilypond_string,
    overlay,
    resized,
    small,
)

_STEP = 2.3  # staff spaces to a semitone
_RAIL, _RUNG = 4.4, 9.0  # where the ladder starts, how wide it is
_NAME, _DEGREE = _RAIL + _RUNG + 1.2, _RAIL + _RUNG + 5.0
_KEYS, _WHITE, _BLACK = _DEGREE + 4.0, 7.0, 4.4
LADDER_WIDTH = _KEYS + _WHITE
_BLACK_KEYS = {1, 3, 6, 8, 10}


def ladder_hole(score: Score) -> int | None:
    """The hole whose rungs *score* uses most of; ``None`` when it bends none."""
    bent = {note.reed for note in score.notes if note.reed.bend}
    if not bent:
        return None
    count = Counter(reed.hole for reed in bent)
    return max(count, key=lambda hole: (count[hole], -hole))


def ladder_room(score: Score) -> float:
    """Staff spaces from the left edge to what stands beside the figure, 0 without one."""
    return 0.0 if ladder_hole(score) is None else LADDER_WIDTH + 5


def ladder_height(score: Score) -> float:
    """Staff spaces the figure takes with its heading, 0 without one."""
    hole = ladder_hole(score)
    return 0.0 if hole is None else (bend_depth(score.harp.layout, hole) + 2) * _STEP + 3


def pitch_ladder(score: Score, hole: int) -> str:
    """The figure for *hole* as markup, ``LADDER_WIDTH`` staff spaces wide."""
    bending = bending_breath(score.harp.layout, hole)
    depth = bend_depth(score.harp.layout, hole)
    rungs = [Reed(hole, bending, bend) for bend in range(depth + 1)]
    floor = Reed(hole, bending.other)
    used = {note.reed for note in score.notes}
    layers = [_rails(depth + 2)]
    for place, reed in enumerate([*rungs, floor]):
        layers += _rung(score, reed, -place * _STEP, reed in used)
    word = "draw" if bending is Breath.DRAW else "blow"
    heading = at(0, _STEP + 0.9, small(f"hole {hole} {word}: every note has its place"))
    return overlay(heading, *layers)


def _rails(rungs: int) -> str:
    bottom = -(rungs - 1) * _STEP - _STEP / 2
    height = rungs * _STEP
    return overlay(
        *(
            coloured(INK, box(x, bottom, 0.18, height, filled=True, line=0.05))
            for x in (_RAIL, _RAIL + _RUNG - 0.18)
        )
    )


def _rung(score: Score, reed: Reed, y: float, used: bool) -> list[str]:
    """One rung with its tab, name and degree, and the piano key it is."""
    heard = note_on_harp(score.harp, score.position, reed)
    ink = ACCENT if used else FAINT
    weight = "\\bold " if used else ""
    thickness = 0.75 if used else 0.14
    bar = box(_RAIL, y - thickness / 2, _RUNG, thickness, filled=True, line=0.05)
    return [
        at(
            _RAIL - 0.8,
            y - 0.6,
            _text(ink, f"\\right-align {weight}{resized(-1, lilypond_string(reed.tab))}"),
        ),
        coloured(ink, bar),
        at(_NAME, y - 0.6, _text(ink, weight + resized(-1, accidental(heard.pitch.note)))),
        at(_DEGREE, y - 0.6, _text(ink, weight + resized(-1, accidental(heard.degree.name)))),
        *_key(heard.midi, y, used),
    ]


def _text(colour: str, markup: str) -> str:
    return coloured(colour, f"\\sans {markup}")


def _key(midi: int, y: float, used: bool) -> list[str]:
    """A piano key lying on its side: long and open, or short and filled."""
    bottom = y - _STEP / 2
    layers = [coloured(LINE, box(_KEYS, bottom, _WHITE, _STEP, filled=False, line=0.12))]
    black = midi % 12 in _BLACK_KEYS
    if black:
        key = box(_KEYS, bottom + 0.2, _BLACK, _STEP - 0.4, filled=True, line=0.05)
        layers.append(coloured(INK, key))
    if used:
        x = _KEYS + (_BLACK + 1.2 if black else _WHITE - 1.4)
        dot = box(x - 0.55, y - 0.55, 1.1, 1.1, filled=True, line=0.05)
        layers.append(coloured(ACCENT, dot))
    return layers
