"""The pitch ladder: the rungs of a hole as fixed places, beside the keys of a piano.

A bend has no fret, so students slide about in it; the figure shows that its notes have
places as firm as those of a keyboard.  Where several holes are bent each has a ladder, and what
tells them apart matters more than the keys, which are left out.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
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
_RAIL = 4.4  # where a ladder starts
_RUNG, _ONE_OF_SEVERAL = 9.0, 6.0  # how wide it is
_NAME, _DEGREE = 1.2, 5.0  # from its right rail: set by eye, clear of each other
_KEYS, _WHITE, _BLACK = _DEGREE + 4.0, 7.0, 4.4  # a black key is five eighths of a white one
_BLACK_KEYS = {1, 3, 6, 8, 10}  # semitones above C
_APART = 5.0  # from a figure to what is beside it
_NECK_TO_NECK = _RAIL + _ONE_OF_SEVERAL + _DEGREE + 3.6  # set by eye
_LEAST_BESIDE = 38.0  # staff spaces that the tempo boxes beside several ladders keep


MOST_LADDERS = 3
"""On a sheet, side by side."""


def ladder_figure(
    score: Score, width: float, most: int = MOST_LADDERS, *, marked: bool = False
) -> LadderFigure | None:
    """Return the ladders of the holes that *score* bends; ``None`` when there are none.

    Those it bends most, *most* of them and no more than go beside the tempo boxes on a page
    *width* staff spaces wide.  *marked* leaves room for what was heard in a take.
    """
    count = Counter(reed.hole for reed in _used(score) if reed.bend or reed.quarter)
    if not count or not most:
        return None
    fitting = max(1, int((width - _LEAST_BESIDE - _APART) // _NECK_TO_NECK))
    by_use = sorted(count, key=lambda hole: (-count[hole], hole))
    return LadderFigure(score, tuple(sorted(by_use[: min(most, fitting)])), marked)


def _used(score: Score) -> set[Reed]:
    return {reed for note in score.notes for reed in note.reeds}


@dataclass(frozen=True, slots=True)
class LadderFigure:
    """The ladders of a sheet, from the lowest hole up; lengths are in staff spaces."""

    score: Score
    holes: tuple[int, ...]
    marked: bool  # with what was heard in a take

    @property
    def room(self) -> float:
        """From the left edge to what is beside the figure."""
        if len(self.holes) > 1:
            return len(self.holes) * _NECK_TO_NECK + _APART - 2
        return _RAIL + _RUNG + _KEYS + _WHITE + _APART

    @property
    def height(self) -> float:
        """Of the figure with its heading."""
        depths = [bend_depth(self.score.harp.layout, hole) for hole in self.holes]
        return (max(depths) + 2) * self.step + 3

    @property
    def step(self) -> float:
        """To a semitone; the same on all ladders, so that they can be compared."""
        return max(_step(self.score, hole, marked=self.marked) for hole in self.holes)

    @property
    def top(self) -> float:
        """From the heading down to the highest rung."""
        return _STEP + 0.9 if self.step == _STEP else self.step / 2 + 2.05

    def drawn(self, prints: Footprints | None = None) -> str:
        """Return the figure as markup; with *prints* of a take each try has a dash.

        A dash is where the try came to rest, the first at the left.
        """
        necks = [
            _Neck(self.score, hole, self.step, prints, among_others=len(self.holes) > 1)
            for hole in self.holes
        ]
        if len(necks) == 1:
            return necks[0].drawn(self.top)
        drawn = (at(n * _NECK_TO_NECK, 0, neck.drawn(self.top)) for n, neck in enumerate(necks))
        return overlay(*drawn)


def _step(score: Score, hole: int, *, marked: bool) -> float:
    """Return the staff spaces of a semitone: more where a quarter tone or a dash stands between."""
    if any(reed.quarter and reed.hole == hole for reed in _used(score)):
        return _SHADED_STEP
    return _MARKED_STEP if marked else _STEP


@dataclass(frozen=True, slots=True)
class _Neck:
    """The ladder of one hole, its highest rung at height 0."""

    score: Score
    hole: int
    step: float  # staff spaces to a semitone
    prints: Footprints | None
    among_others: bool

    @property
    def rung_width(self) -> float:
        return _ONE_OF_SEVERAL if self.among_others else _RUNG

    def drawn(self, top: float) -> str:
        """Return it as markup, its heading *top* above the highest rung."""
        bending = bending_breath(self.score.harp.layout, self.hole)
        depth = bend_depth(self.score.harp.layout, self.hole)
        rungs = [Reed(self.hole, bending, bend) for bend in range(depth + 1)]
        floor = Reed(self.hole, bending.other)
        used = _used(self.score)
        shades = sorted(
            (reed for reed in used if reed.quarter and reed.hole == self.hole), key=_depth
        )
        layers = [self._rails(depth + 2)]
        thick = _USED if self.prints is None else _MARKED
        places = [*enumerate([*rungs, floor]), *((_depth(reed), reed) for reed in shades)]
        for place, reed in places:
            layers += self._rung(reed, -place * self.step, thick if reed in used else 0.0)
        if self.prints is not None:
            bounds = (self.step / 2, -(depth + 1.5) * self.step)
            for place, reed in places:
                layers += self._dashes(self.prints, reed, -place * self.step, bounds)
        return overlay(at(0, top, small(self._heading(bending))), *layers)

    def _heading(self, bending: Breath) -> str:
        word = "draw" if bending is Breath.DRAW else "blow"
        if self.among_others:
            return f"hole {self.hole} {word}"
        said = "every note has its place" if self.prints is None else "a dash for each try"
        return f"hole {self.hole} {word}: {said}"

    def _dashes(
        self, prints: Footprints, reed: Reed, y: float, bounds: tuple[float, float]
    ) -> list[str]:
        """Draw a dash for each of the latest tries of *reed*, from left to right, at its distance.

        What came to rest beyond the ladder has none.
        """
        from reedmill.score.footprints import tries_of  # few sheets show a take

        tries = tries_of(self.score, prints, reed)[-_MOST_DASHES:]
        apart = (self.rung_width - 1.0) / max(len(tries), 6)
        width = min(_DASH[1], max(_DASH[0], 0.7 * apart))
        found = []
        for number, each in enumerate(tries):
            x = _RAIL + 0.5 + apart * (number + 0.5) - width / 2
            middle = y + (each.cents or 0.0) / 100 * self.step
            if bounds[1] <= middle <= bounds[0]:
                ground = box(x - 0.1, middle - 0.26, width + 0.2, 0.52, filled=True, line=0.05)
                dash = polyline([(x, middle), (x + width, middle)], 0.32)
                found += [coloured(PAPER, ground), coloured(INK, dash)]
        return found

    def _rails(self, rungs: int) -> str:
        bottom = -(rungs - 1) * self.step - self.step / 2
        height = rungs * self.step
        return overlay(
            *(
                coloured(INK, box(x, bottom, 0.18, height, filled=True, line=0.05))
                for x in (_RAIL, _RAIL + self.rung_width - 0.18)
            )
        )

    def _rung(self, reed: Reed, y: float, thick: float) -> list[str]:
        """Draw one rung with tab, name, degree and piano key; thin where *thick* is 0."""
        heard = note_on_harp(self.score.harp, self.score.position, reed)
        used = thick > 0
        ink = ACCENT if used else FAINT
        weight = "\\bold " if used else ""
        thickness = thick or 0.14
        small_tab = -2 if reed.quarter and len(reed.tab) > _LONG_TAB else -1
        bar = box(_RAIL, y - thickness / 2, self.rung_width, thickness, filled=True, line=0.05)
        tab = f"\\right-align {weight}{resized(small_tab, lilypond_string(reed.tab))}"
        name, degree = (accidental(each) for each in (heard.pitch.note, heard.degree.name))
        right = _RAIL + self.rung_width
        return [
            at(_RAIL - 0.8, y - 0.6, _text(ink, tab)),
            coloured(ink, bar),
            at(right + _NAME, y - 0.6, _text(ink, weight + resized(-1, name))),
            at(right + _DEGREE, y - 0.6, _text(ink, weight + resized(-1, degree))),
            *([] if self.among_others else self._keys(reed, heard.midi, y, used=used)),
        ]

    def _keys(self, reed: Reed, midi: int, y: float, *, used: bool) -> list[str]:
        """Draw a piano key on its side: long and open for white, short and filled for black."""
        left = _RAIL + self.rung_width + _KEYS
        if reed.quarter:  # which no key has: on the line between two
            return [_played_key(left + _WHITE - 1.4, y)]
        bottom = y - self.step / 2
        white = box(left, bottom, _WHITE, self.step, filled=False, line=0.12)
        layers = [coloured(LINE, white)]
        black = midi % 12 in _BLACK_KEYS
        if black:
            key = box(left, bottom + 0.2, _BLACK, self.step - 0.4, filled=True, line=0.05)
            layers.append(coloured(INK, key))
        if used:
            layers.append(_played_key(left + (_BLACK + 1.2 if black else _WHITE - 1.4), y))
        return layers


def _depth(reed: Reed) -> float:
    """Return the semitones that *reed* is bent, a quarter tone being half of one."""
    return reed.bend + reed.quarter / 2


def _text(colour: str, markup: str) -> str:
    return coloured(colour, f"\\sans {markup}")


def _played_key(x: float, y: float) -> str:
    dot = box(x - 0.55, y - 0.55, 1.1, 1.1, filled=True, line=0.05)
    return coloured(ACCENT, dot)
