"""A walking bass: bar by bar from one root to the next, and never the same way for long.

A player thinks of a bar as a way from where the hand is to where the next bar begins: chord tones
on the strong beats, small steps between them, a step or a fifth into the next root.  Among the
good ways the one is taken that the last bars have not had, that says the third and the fifth of
the chord where these are still missing, and that keeps a line rising or falling for a few bars.
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
FIFTHS = (7, -5)  # so too the fifth of the next root, over it or under it

# By semitones: steps are best, then thirds and fourths; a tritone is harder to hear as a line than
# a fifth, a repeated note stands still, an octave is a skip for now and then.  Common practice.
_STEP_COSTS = {0: 4, 1: 0, 2: 0, 3: 0, 4: 1, 5: 1, 6: 6, 7: 2, 8: 6, 9: 5, 12: 4}
_FAST_STEP_COSTS = {0: 1, 1: 0, 2: 0, 3: 1, 4: 2, 5: 2, 6: 8, 7: 3, 12: 6}
_PASSING, _TURN, _TOWARDS = 1, 1, 2  # a tone between those of the chord, a change of direction
_STANDS = 9  # a note struck three times
_OUTSIDE = 2  # for each semitone a key is outside COMFORT
_WRONG_WAY, _FAR, _STAYS = 3, 8, 4  # a bar that goes against the line; its most semitones; none
_LACKS, _OWED = 3, 30  # a bar without the third or fifth; with the one that the last bar owes
_SAME_CONTOUR, _SAME_BAR, _THIRD_TIME = 3, 9, 500
_HEARD_BEFORE = 4  # in this bar of an earlier chorus
_OFF_ROOT = 3  # a bar of the same chord that begins on another tone than the root
_FANCY = 7.0  # how far chance weighs against all that

_BEAM, _KEPT = 48, 32  # lines kept while one is built, and for one way in all

# What lies between the tones of a chord, in semitones above its root: the scale players
# think of over it: mixolydian, dorian, major, locrian, diminished, whole tones, or the fifth
# mode of harmonic minor.  Common practice, no published source.
_DIMINISHED = (0, 2, 3, 5, 6, 8, 9, 11)
_SCALES = {
    "m7b5": (0, 1, 3, 5, 6, 8, 10), "dim": _DIMINISHED, "dim7": _DIMINISHED,
    "maj7": (0, 2, 4, 5, 7, 9, 11), "7b5": (0, 2, 4, 6, 8, 10), "7b9": (0, 1, 4, 5, 7, 8, 10),
}  # fmt: skip
_MIXOLYDIAN, _DORIAN = (0, 2, 4, 5, 7, 9, 10), (0, 2, 3, 5, 7, 9, 10)


def scale_of(chord: Chord) -> tuple[int, ...]:
    """Return the scale that goes with *chord*, in semitones above its root."""
    small = chord.name.lstrip("b#").startswith(("i", "v"))
    return _SCALES.get(chord.quality, _DORIAN if small else _MIXOLYDIAN)


@dataclass(frozen=True, slots=True)
class WalkedBar:
    """What a line has to get through: one chord within one bar, and what comes after it."""

    chord: Chord
    root: int  # pitch class
    strong: tuple[bool, ...]  # for each note: is it on a strong beat
    goals: tuple[int, ...]  # the keys its line may lead to: roots of the next chord
    goes_on: bool  # the next bar has the same chord
    place: tuple[int, int]  # bar of the chorus, and chord of that bar
    fast: bool = False


@dataclass(slots=True)
class _Lately:
    """What the last bars of a line were."""

    chord: Chord | None = None
    shapes: tuple[tuple[int, ...], ...] = ()  # semitones above the root of their chord
    contour: tuple[int, ...] = ()
    owed: frozenset[int] = frozenset()  # tones that the bar before did not say
    off_root: bool = False


@dataclass(slots=True)
class Walker:
    """A player who walks, and remembers where the line has been."""

    rising: bool = True
    _lately: _Lately = field(default_factory=_Lately)
    _heard: dict[tuple[int, int], set[tuple[int, ...]]] = field(default_factory=dict)

    def walk(self, bar: WalkedBar, start: int, fancy: Random) -> tuple[tuple[int, ...], int]:
        """Return the keys of *bar* from *start*, and the key that the next bar begins with."""
        self._turn(start)
        lately = self._lately if self._lately.chord == bar.chord else _Lately()
        best: tuple[float, tuple[int, ...], int] | None = None
        for target, wish in self._targets(bar, start):
            for cost, line in _ways(bar, start, target):
                total = (
                    cost + wish + self._cost(bar, line, target, lately) + fancy.random() * _FANCY
                )
                if best is None or total < best[0]:
                    best = total, line, target
        if best is None:  # a way so narrow that only the root is left
            return (start,) * len(bar.strong), min(bar.goals, key=lambda key: abs(key - start))
        _, line, target = best
        self._remember(bar, line, target, lately)
        return line, target

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
        tones = _tone_keys(bar) if bar.goes_on and start % 12 == bar.root else set()
        goals = roots | tones
        for key in sorted(goals):
            away = key - start
            against = _OUTSIDE * _outside(key) + max(0, abs(away) - _FAR)
            if not away:
                against += _STAYS
            elif (away > 0) != self.rising:
                against += _WRONG_WAY
            yield key, against + (0 if key in roots else _OFF_ROOT)

    def _cost(self, bar: WalkedBar, line: tuple[int, ...], target: int, lately: _Lately) -> float:
        """Measure what the bars before have against *line*."""
        shape, said = _shape(bar, line), {(key - bar.root) % 12 for key in line}
        cost = _OWED * len(lately.owed - said) + _LACKS * len(_outline(bar.chord) - said)
        cost += _SAME_BAR * (shape in lately.shapes)
        cost += _THIRD_TIME * (lately.shapes[-2:] == (shape, shape))
        cost += _SAME_CONTOUR * (_contour(line, target) == self._lately.contour)
        return cost + _HEARD_BEFORE * (shape in self._heard.get(bar.place, ()))

    def _remember(
        self, bar: WalkedBar, line: tuple[int, ...], target: int, lately: _Lately
    ) -> None:
        shape, said = _shape(bar, line), {(key - bar.root) % 12 for key in line}
        self._lately = _Lately(
            bar.chord,
            (*lately.shapes[-1:], shape),
            _contour(line, target),
            _outline(bar.chord) - said,
        )
        self._heard.setdefault(bar.place, set()).add(shape)


def _shape(bar: WalkedBar, line: tuple[int, ...]) -> tuple[int, ...]:
    """Return *line* in semitones above the root, the same in every octave."""
    lowest = (line[0] - bar.root) % 12 - line[0]
    return tuple(key + lowest for key in line)


def _contour(line: tuple[int, ...], target: int) -> tuple[int, ...]:
    """Return where a line goes up (1), down (-1) and stays."""
    after = (*line[1:], target)
    return tuple((b > a) - (b < a) for a, b in zip(line, after, strict=True))


@cache
def _outline(chord: Chord) -> frozenset[int]:
    """Return the third and the fifth of *chord*, in semitones above its root."""
    return frozenset(step % 12 for name, step in chord.tones if name.lstrip("b#") in ("3", "5"))


def _tone_keys(bar: WalkedBar) -> set[int]:
    """Return the keys of the chord's tones in the comfortable range."""
    classes = {(bar.root + step) % 12 for _, step in bar.chord.tones}
    return {key for key in COMFORT if key % 12 in classes}


def _ways(bar: WalkedBar, start: int, target: int) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Yield the good lines of *bar* from *start* to *target*, with what they cost."""
    tones = frozenset(step % 12 for _, step in bar.chord.tones)
    scale = frozenset(scale_of(bar.chord)) | tones
    base = start - (start - bar.root) % 12
    for cost, line in _lines(
        tones, scale, start - base, target - base, bar.strong, bar.goes_on, bar.fast
    ):
        keys = tuple(base + each for each in line)
        if min(keys) in BASS_KEYS and max(keys) in BASS_KEYS:
            yield cost + _OUTSIDE * sum(map(_outside, keys)), keys


@cache
def _lines(
    tones: frozenset[int],
    scale: frozenset[int],
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
            places = _entries(target, scale, tones, goes_on=goes_on)
        else:
            passing = _PASSING + fast
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
        return {target + away: 2 for away in FIFTHS} | found
    near = {target + away for away in range(-5, 6) if away and (target + away) % 12 in scale}
    return {key: 1 + 2 * (key % 12 not in scale) for key in found} | {
        key: 0 if key % 12 in tones or abs(key - target) < 3 else 1 for key in near
    }


def _turned(line: tuple[int, ...], key: int) -> int:
    """Measure how a line turns or stands at its last note, when *key* follows."""
    if len(line) < 2:
        return 0
    before, after = line[-1] - line[-2], key - line[-1]
    if not before and not after:
        return _STANDS
    return _TURN if before * after < 0 else 0


def _outside(key: int) -> int:
    """Return how many semitones *key* is outside the comfortable range."""
    return max(0, COMFORT[0] - key, key - COMFORT[-1])
