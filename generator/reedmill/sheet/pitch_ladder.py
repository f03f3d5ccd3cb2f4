"""The pitch ladder: the rungs of one hole as fixed places, beside the keys of a piano.

A bend has no fret, so students slide about in it; the figure shows that its notes have
places as firm as those of a keyboard.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from reedmill.harp import Breath, Reed, bend_depth, bending_breath, note_on_harp
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
    coloured,
    lilypond_string,
    overlay,
    polyline,
    resized,
    small,
)

if TYPE_CHECKING:
    from reedmill.score.footprints import Footprints

# Staff spaces to a semitone; more where cents are to be seen, or quarter tones between.
_STEP, _MARKED_STEP, _SHADED_STEP = 2.3, 3.6, 4.4
_USED, _MARKED = 0.75, 0.3  # how thick a rung is that the drill uses; thinner under footprints
_DASH = (0.25, 1.0)  # staff spaces: the shortest and the longest footprint
_LONG_TAB = 4  # letters, a q among them, that fit before the ladder at the usual size
_MOST_DASHES = 24  # on one rung
_RAIL, _RUNG = 4.4, 9.0  # where the ladder starts, how wide it is
# Staff spaces from the left edge, set by eye: names and degrees clear of the longest tab.
_NAME, _DEGREE = _RAIL + _RUNG + 1.2, _RAIL + _RUNG + 5.0
_KEYS, _WHITE, _BLACK = _DEGREE + 4.0, 7.0, 4.4  # a black key is five eighths of a white one
LADDER_WIDTH = _KEYS + _WHITE
_BLACK_KEYS = {1, 3, 6, 8, 10}  # semitones above C


def ladder_hole(score: Score) -> int | None:
    """Return the hole whose rungs *score* uses most; ``None`` when it bends none."""
    bent = {reed for reed in _used(score) if reed.bend or reed.quarter}
    if not bent:
        return None
    count = Counter(reed.hole for reed in bent)
    return max(count, key=lambda hole: (count[hole], -hole))


def _used(score: Score) -> set[Reed]:
    return {reed for note in score.notes for reed in note.reeds}


def _step(score: Score, hole: int, *, marked: bool) -> float:
    """Return the staff spaces of a semitone: more where a quarter tone or a dash stands between."""
    if any(reed.quarter and reed.hole == hole for reed in _used(score)):
        return _SHADED_STEP
    return _MARKED_STEP if marked else _STEP


def ladder_room(score: Score) -> float:
    """Return staff spaces from the left edge to what is beside the figure, 0 without one."""
    return 0.0 if ladder_hole(score) is None else LADDER_WIDTH + 5


def ladder_height(score: Score, *, marked: bool = False) -> float:
    """Return the staff spaces of the figure with its heading, 0 without one."""
    hole = ladder_hole(score)
    if hole is None:
        return 0.0
    step = _step(score, hole, marked=marked)
    return (bend_depth(score.harp.layout, hole) + 2) * step + 3


def ladder_top(score: Score, hole: int, *, marked: bool = False) -> float:
    """Return the staff spaces from the heading down to the highest rung."""
    step = _step(score, hole, marked=marked)
    return _STEP + 0.9 if step == _STEP else step / 2 + 2.05


def pitch_ladder(score: Score, hole: int, prints: Footprints | None = None) -> str:
    """Return the figure for *hole* as markup, ``LADDER_WIDTH`` staff spaces wide.

    With *prints* of a take each try has a dash where it came to rest, the first at the left.
    """
    step = _step(score, hole, marked=prints is not None)
    bending = bending_breath(score.harp.layout, hole)
    depth = bend_depth(score.harp.layout, hole)
    rungs = [Reed(hole, bending, bend) for bend in range(depth + 1)]
    floor = Reed(hole, bending.other)
    used = _used(score)
    shades = sorted((reed for reed in used if reed.quarter and reed.hole == hole), key=_depth)
    layers = [_rails(depth + 2, step)]
    thick = _USED if prints is None else _MARKED
    places = [*enumerate([*rungs, floor]), *((_depth(reed), reed) for reed in shades)]
    for place, reed in places:
        layers += _rung(score, reed, -place * step, step, thick if reed in used else 0.0)
    if prints is not None:
        for place, reed in places:
            layers += _dashes(score, prints, reed, -place * step, (step / 2, -(depth + 1.5) * step))
    word = "draw" if bending is Breath.DRAW else "blow"
    said = "every note has its place" if prints is None else "a dash for each try"
    heading = at(
        0, ladder_top(score, hole, marked=prints is not None), small(f"hole {hole} {word}: {said}")
    )
    return overlay(heading, *layers)


def _depth(reed: Reed) -> float:
    """Return the semitones that *reed* is bent, a quarter tone being half of one."""
    return reed.bend + reed.quarter / 2


def _dashes(
    score: Score, prints: Footprints, reed: Reed, y: float, bounds: tuple[float, float]
) -> list[str]:
    """Draw a dash for each of the latest tries of *reed*, from left to right, at its true distance.

    What came to rest beyond the ladder has none.
    """
    from reedmill.score.footprints import tries_of  # few sheets show a take

    step = _step(score, reed.hole, marked=True)
    tries = tries_of(score, prints, reed)[-_MOST_DASHES:]
    apart = (_RUNG - 1.0) / max(len(tries), 6)
    width = min(_DASH[1], max(_DASH[0], 0.7 * apart))
    found = []
    for number, each in enumerate(tries):
        x = _RAIL + 0.5 + apart * (number + 0.5) - width / 2
        middle = y + (each.cents or 0.0) / 100 * step
        if bounds[1] <= middle <= bounds[0]:
            ground = box(x - 0.1, middle - 0.26, width + 0.2, 0.52, filled=True, line=0.05)
            dash = polyline([(x, middle), (x + width, middle)], 0.32)
            found += [coloured(PAPER, ground), coloured(INK, dash)]
    return found


def _rails(rungs: int, step: float) -> str:
    bottom = -(rungs - 1) * step - step / 2
    height = rungs * step
    return overlay(
        *(
            coloured(INK, box(x, bottom, 0.18, height, filled=True, line=0.05))
            for x in (_RAIL, _RAIL + _RUNG - 0.18)
        )
    )


def _rung(score: Score, reed: Reed, y: float, step: float, thick: float) -> list[str]:
    """Draw one rung with tab, name, degree and piano key; thin where *thick* is 0."""
    heard = note_on_harp(score.harp, score.position, reed)
    used = thick > 0
    ink = ACCENT if used else FAINT
    weight = "\\bold " if used else ""
    thickness = thick or 0.14
    small_tab = -2 if reed.quarter and len(reed.tab) > _LONG_TAB else -1
    bar = box(_RAIL, y - thickness / 2, _RUNG, thickness, filled=True, line=0.05)
    return [
        at(
            _RAIL - 0.8,
            y - 0.6,
            _text(ink, f"\\right-align {weight}{resized(small_tab, lilypond_string(reed.tab))}"),
        ),
        coloured(ink, bar),
        at(_NAME, y - 0.6, _text(ink, weight + resized(-1, accidental(heard.pitch.note)))),
        at(_DEGREE, y - 0.6, _text(ink, weight + resized(-1, accidental(heard.degree.name)))),
        *(_between_keys(y) if reed.quarter else _key(heard.midi, y, step, used)),
    ]


def _text(colour: str, markup: str) -> str:
    return coloured(colour, f"\\sans {markup}")


def _key(midi: int, y: float, step: float, used: bool) -> list[str]:
    """Draw a piano key on its side: long and open for white, short and filled for black."""
    bottom = y - step / 2
    layers = [coloured(LINE, box(_KEYS, bottom, _WHITE, step, filled=False, line=0.12))]
    black = midi % 12 in _BLACK_KEYS
    if black:
        key = box(_KEYS, bottom + 0.2, _BLACK, step - 0.4, filled=True, line=0.05)
        layers.append(coloured(INK, key))
    if used:
        layers.append(_played_key(_BLACK + 1.2 if black else _WHITE - 1.4, y))
    return layers


def _between_keys(y: float) -> list[str]:
    """Mark the place of a quarter tone, which no key has: on the line between two."""
    return [_played_key(_WHITE - 1.4, y)]


def _played_key(x: float, y: float) -> str:
    dot = box(_KEYS + x - 0.55, y - 0.55, 1.1, 1.1, filled=True, line=0.05)
    return coloured(ACCENT, dot)
