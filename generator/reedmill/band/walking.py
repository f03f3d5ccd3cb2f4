"""A walking bass: bar by bar from one root to the next, and never the same way for long.

A player thinks of a bar as a way from where the hand is to where the next bar begins: chord tones
on the strong beats, small steps between them, a step or a fifth into the next root.  Among the
good ways the one is taken that the last bars have not had, that says the third and the fifth of
the chord where these are still missing, and that keeps a line rising or falling for a few bars.
No note of it rubs against the chord that others strike with it: see ``clashes``.
Common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from random import Random

from reedmill.band.instruments import BASS_KEYS
from reedmill.theory.chords import Chord

COMFORT = range(BASS_KEYS[0], 51)  # E1 to D3, where a line mostly is
APPROACHES = (-1, 1, -2, 2)  # semitones from the next root, the best first
_FIFTHS = (7, -5)  # so too the fifth of the next root, over it or under it

# By semitones: steps are best, then thirds and fourths; a tritone is harder to hear as a line than
# a fifth, a repeated note stands still, an octave is a skip for now and then.  Common practice.
_STEP_COSTS = {0: 4, 1: 0, 2: 0, 3: 1, 4: 2, 5: 2, 6: 6, 7: 3, 8: 8, 9: 8, 12: 4}
_FAST_STEP_COSTS = {0: 3, 1: 0, 2: 0, 3: 1, 4: 2, 5: 2, 6: 8, 7: 3, 12: 6}
_PASSING, _TURN, _TOWARDS = 0, 1, 2  # a tone between those of the chord, a change of direction
_STANDS = 9  # a note struck three times
_FIFTH, _FOLDED = 7, 9  # a line that is only cut and goes on in another octave
_OUTSIDE = 2  # for each semitone a key is outside COMFORT
_WRONG_WAY, _FAR, _STAYS = 5, 9, 6  # a bar that goes against the line; its most semitones; none
_LACKS, _OWED = 5, 30  # a bar without the third or fifth; with the one that is due in it
_SAME_CONTOUR, _SAME_BAR, _THIRD_TIME = 3, 9, 500
_HEARD_BEFORE = 4  # in this bar of an earlier chorus
_ROOM = 2  # notes that are a root and the way to the next one
_OFF_ROOT = 3  # a bar of the same chord that begins on another tone than the root
_FANCY = 6.0  # how far chance weighs against all that

_BEAM, _KEPT = 40, 24  # lines kept while one is built, and for one way in all

# What lies between the tones of a chord, in semitones above its root: the scale players
# think of over it: mixolydian, dorian, major, locrian, whole tones, or the fifth mode of harmonic
# minor; a diminished chord passes too soon for more than its own.  Common practice, no published
# source.
_DIMINISHED = (0, 3, 6, 9)
_SCALES = {
    "m7b5": (0, 1, 3, 5, 6, 8, 10), "dim": _DIMINISHED, "dim7": _DIMINISHED,
    "maj7": (0, 2, 4, 5, 7, 9, 11), "7b5": (0, 2, 4, 6, 8, 10), "7b9": (0, 1, 4, 5, 7, 8, 10),
}  # fmt: skip
_MINOR_THIRD, _MAJOR_THIRD = 3, 4
_MIXOLYDIAN, _DORIAN = (0, 2, 4, 5, 7, 9, 10), (0, 2, 3, 5, 7, 9, 10)


def scale_of(chord: Chord) -> tuple[int, ...]:
    """Return the scale that goes with *chord*, in semitones above its root."""
    small = chord.name.lstrip("b#").startswith(("i", "v"))
    return _SCALES.get(chord.quality, _DORIAN if small else _MIXOLYDIAN)


@cache
def clashes(chord: Chord) -> frozenset[int]:
    """Return the semitones above the root that rub against *chord* while it is struck.

    They are foreign to its scale, and a semitone below one of its tones or the other third.

    >>> sorted(clashes(Chord.parse("I7"))), sorted(clashes(Chord.parse("ii7")))
    ([3, 6, 11], [4, 6, 11])
    """
    tones = {step % 12 for _, step in chord.tones}
    below = {(step - 1) % 12 for step in tones}
    other = {_MAJOR_THIRD} if _MINOR_THIRD in tones else set()
    return frozenset((below | other) - set(scale_of(chord)) - tones)


@dataclass(frozen=True, slots=True)
class WalkedBar:
    """One chord within one bar for a line to get through, and the places after it."""

    chord: Chord
    root: int  # pitch class
    scale: frozenset[int]  # its tones and what lies between them, in semitones above the root
    strong: tuple[bool, ...]  # for each note: is it on a strong beat
    goals: tuple[int, ...]  # the keys its line may lead to: roots of the next chord
    goes_on: bool  # the next bar has the same chord
    place: tuple[int, int]  # bar of the chorus, and chord of that bar
    fast: bool = False
    homing: bool = False  # the next bar begins with its root: a stop, a figure, the end


@dataclass(frozen=True, slots=True)
class _Way:
    """A line for a bar, in semitones above a root that its first note is on or over."""

    cost: int
    line: tuple[int, ...]
    contour: tuple[int, ...]  # where it goes up (1), down (-1) and stays
    lacks: frozenset[int]  # those of the third and the fifth that it does not say
    lowest: int
    highest: int


@dataclass(frozen=True, slots=True)
class _Lately:
    """Memory of the last bars of a line."""

    chord: Chord | None = None
    lines: tuple[tuple[int, ...], ...] = ()  # two at most, from their root
    contour: tuple[int, ...] = ()
    lacks: frozenset[int] = frozenset()  # tones that the last one did not say


@dataclass(slots=True)
class Walker:
    """A player who walks, and remembers where the line has been."""

    rising: bool = True
    _before: int | None = None  # the last key of the last bar
    _lately: _Lately = field(default_factory=_Lately)
    _heard: dict[tuple[int, int], set[tuple[int, ...]]] = field(default_factory=dict)

    def walk(self, bar: WalkedBar, start: int, fancy: Random) -> tuple[tuple[int, ...], int]:
        """Return the keys of *bar* from *start*, and the key that the next bar begins with."""
        self._turn(start)
        lately = self._lately if self._lately.chord == bar.chord else _Lately()
        base = start - (start - bar.root) % 12
        best: tuple[float, _Way, int] | None = None
        for target, wish in self._targets(bar, start):
            for way in _ways(bar, start - base, target - base):
                if base + way.lowest < BASS_KEYS[0] or base + way.highest > BASS_KEYS[-1]:
                    continue
                high = _OUTSIDE * max(0, base + way.highest - COMFORT[-1])
                cost = wish + high + self._cost(bar, way, lately) + fancy.random() * _FANCY
                cost += _FOLDED * self._folds(tuple(base + step for step in way.line[:3]))
                if best is None or cost < best[0]:
                    best = cost, way, target
        if best is None:  # nothing is in reach: the root alone is left
            return (start,) * len(bar.strong), min(bar.goals, key=lambda key: abs(key - start))
        _, way, target = best
        self._lately = _Lately(bar.chord, (*lately.lines[-1:], way.line), way.contour, way.lacks)
        self._heard.setdefault(bar.place, set()).add(way.line)
        self._before = base + way.line[-1]
        return tuple(base + each for each in way.line), target

    def _folds(self, keys: tuple[int, ...]) -> bool:
        """Return True for a bar that goes on with the line before it in another octave."""
        if self._before is None or len(keys) < 3:
            return False
        into, jump, on = keys[0] - self._before, keys[1] - keys[0], keys[2] - keys[1]
        return abs(jump) > _FIFTH and into * jump < 0 < into * on

    def _turn(self, start: int) -> None:
        """Rise from the bottom of the range, fall from its top, and go on between them."""
        if start <= BASS_KEYS[0] + 5:
            self.rising = True
        elif start >= COMFORT[-1] - 6:
            self.rising = False

    def _targets(self, bar: WalkedBar, start: int) -> Iterator[tuple[int, float]]:
        """Yield the keys the next bar may begin with, and how much speaks against each."""
        roots = set(bar.goals)
        # A bar that begins off the root is followed by one that begins on it.
        free = bar.goes_on and start % 12 == bar.root and not bar.homing
        tones = _tone_keys(bar) if free else set()
        goals = roots | tones
        for key in sorted(goals):
            away = key - start
            against = _OUTSIDE * _outside(key) + max(0, abs(away) - _FAR)
            if not away:
                against += _STAYS
            elif (away > 0) != self.rising:
                against += _WRONG_WAY
            yield key, against + (0 if key in roots else _OFF_ROOT)

    def _cost(self, bar: WalkedBar, way: _Way, lately: _Lately) -> int:
        """Measure what the bars before have against *way*."""
        # A chord of one bar has no other for its third; half a bar has no room for it.
        alone = not bar.goes_on and lately.chord is None and len(bar.strong) > _ROOM
        owed = lately.lacks | (_thirds(bar.chord) if alone else frozenset())
        cost = way.cost + _OWED * len(owed & way.lacks)
        if way.line in lately.lines:
            cost += _THIRD_TIME if lately.lines == (way.line, way.line) else _SAME_BAR
        if way.contour == self._lately.contour:
            cost += _SAME_CONTOUR
        return cost + _HEARD_BEFORE * (way.line in self._heard.get(bar.place, ()))


def _contour(line: tuple[int, ...], target: int) -> tuple[int, ...]:
    """Return where a line goes up (1), down (-1) and stays."""
    after = (*line[1:], target)
    return tuple((b > a) - (b < a) for a, b in zip(line, after, strict=True))


@cache
def _outline(chord: Chord) -> frozenset[int]:
    """Return the third and the fifth of *chord*, in semitones above its root."""
    return frozenset(step % 12 for name, step in chord.tones if name.lstrip("b#") in ("3", "5"))


@cache
def _thirds(chord: Chord) -> frozenset[int]:
    """Return the third of *chord*, if it has one."""
    return frozenset(step % 12 for name, step in chord.tones if name.lstrip("b#") == "3")


def _tone_keys(bar: WalkedBar) -> set[int]:
    """Return the keys of the chord's tones in the comfortable range."""
    classes = {(bar.root + step) % 12 for _, step in bar.chord.tones}
    return {key for key in COMFORT if key % 12 in classes}


def _ways(bar: WalkedBar, start: int, target: int) -> tuple[_Way, ...]:
    """Return the good lines of *bar* from *start* to *target*, in semitones above its root."""
    return _known_ways(
        bar.chord, bar.scale, start, target, bar.strong, goes_on=bar.goes_on, fast=bar.fast
    )


@cache
def _known_ways(
    chord: Chord,
    scale: frozenset[int],
    start: int,
    target: int,
    strong: tuple[bool, ...],
    *,
    goes_on: bool,
    fast: bool,
) -> tuple[_Way, ...]:
    tones = frozenset(step % 12 for _, step in chord.tones)
    outline, rubs = _outline(chord), clashes(chord)
    return tuple(
        _Way(
            cost + _LACKS * len(outline - {key % 12 for key in line}),
            line,
            _contour(line, target),
            outline - {key % 12 for key in line},
            min(line),
            max(line),
        )
        for cost, line in _lines(tones, scale, rubs, start, target, strong, goes_on, fast)
    )


@cache
def _lines(
    tones: frozenset[int],
    scale: frozenset[int],
    rubs: frozenset[int],
    start: int,
    target: int,
    strong: tuple[bool, ...],
    goes_on: bool,
    fast: bool,
) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Return the best lines from *start* to just before *target*, in semitones above a root."""
    costs = _FAST_STEP_COSTS if fast else _STEP_COSTS
    around = range(min(start, target) - 7, max(start, target) + 8)
    lines: list[tuple[int, tuple[int, ...]]] = [(0, (start,))]
    for at, heavy in enumerate(strong[1:], 1):
        if at == len(strong) - 1:
            entries = _entries(target, scale, tones, goes_on=goes_on)
            places = {key: own for key, own in entries.items() if key % 12 not in rubs}
        else:
            passing = _PASSING + 2 * fast
            places = {
                key: 0 if key % 12 in tones else passing
                for key in around
                if key % 12 in (tones if heavy else scale)
                and (key != target or at < len(strong) - 2)
            }
        left = len(strong) - at
        lines = sorted(
            (cost + own + costs[abs(key - line[-1])] + _turned(line, key), (*line, key))
            for cost, line in lines
            for key, own in places.items()
            if abs(key - line[-1]) in costs and abs(target - key) <= 7 * left
        )[:_BEAM]
    return tuple(
        (cost + costs.get(abs(target - line[-1]), _TOWARDS), line) for cost, line in lines
    )[:_KEPT]


def _entries(
    target: int, scale: frozenset[int], tones: frozenset[int], *, goes_on: bool
) -> dict[int, int]:
    """Return the notes a line may enter *target* by; in the same chord also a tone near it."""
    found = {target + away: order // 2 for order, away in enumerate(APPROACHES)}
    if not goes_on:
        return {target + away: 3 for away in _FIFTHS} | found
    near = {target + away for away in range(-5, 6) if away and (target + away) % 12 in scale}
    return {key: 1 + 2 * (key % 12 not in scale) for key in found} | {
        key: 0 if abs(key - target) < 3 else 2 if key % 12 in tones else 3 for key in near
    }


def _turned(line: tuple[int, ...], key: int) -> int:
    """Measure how a line turns or stands at its last note, when *key* follows."""
    if len(line) < 2:
        return 0
    before, after = line[-1] - line[-2], key - line[-1]
    if not before and not after:
        return _STANDS
    cost = _TURN if before * after < 0 else 0
    far = abs(before) > _FIFTH and len(line) > 2 and before * after < 0
    return cost + (_FOLDED if far and (line[-2] - line[-3]) * after > 0 else 0)


def _outside(key: int) -> int:
    """Return how many semitones *key* is outside the comfortable range."""
    return max(0, COMFORT[0] - key, key - COMFORT[-1])
