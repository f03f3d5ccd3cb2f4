"""The drummer's groove: which bar of a written pattern comes when, by ear for bass and comp.

That drummers listen, and what they leave out, is common practice; the numbers are chosen by ear,
no published source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from reedmill.band.feel import ACCENT, GHOST, BandFeel, FeelStroke, Pattern
from reedmill.band.harmony import PHRASE, PlayedBar
from reedmill.band.hit import Hit
from reedmill.band.moods import Mood, chance
from reedmill.band.ways import strokes_of
from reedmill.score.arrangement import Part

TIMEKEEPERS = ("ride", "ride bell", "closed hat", "open hat")
_ANCHORS = ("claves", "side stick")  # what they play loudly is where a figure is
_COMES_AND_GOES = ("kick", "snare", "side stick", "floor tom", "low tom", "mid tom", "high tom")
_FANCY, _WHIM = 0.9, 0.4  # what chance speaks against a bar, at most: in a phrase, and each time
_AWAY = 0.25  # against each bar but the first; at the end of a phrase against the first
_ONCE_MORE = 0.6  # against a bar for the third time in a row
_LONELY_KICK, _LONELY_SNARE, _LONELY_BASS = 1.0, 0.7, 0.15  # against strokes that nobody shares
_GHOSTS_KEPT = 0.7  # of those between the taps of the foot: a drummer plays them as they come
_SKIPPED = {Mood.QUIET: 0.2, Mood.EVEN: 0.14, Mood.FULL: 0.08}
"""How often the hand that keeps time leaves out a stroke between two taps."""

_STEADY = 0.6  # of that where nothing swings
_EIGHTH = Fraction(1, 2)  # of a tap
_ROLLS, _ROLL_KEPT = 6, 0.9  # strokes of a snare in a bar that keeps time, as wheels on rails do


@dataclass(frozen=True, slots=True)
class Heard:
    """The places in a bar, in beats, where bass and comp strike."""

    bass: frozenset[Fraction]
    comp: frozenset[Fraction]


def heard_by_bar(bars: Iterable[PlayedBar], hits: Iterable[Hit]) -> dict[Fraction, Heard]:
    """Return what a drummer hears of *hits* in each of *bars*, by its start."""
    starts: dict[Part, set[Fraction]] = {part: set() for part in Part}
    for hit in hits:
        starts[hit.part].add(hit.start)
    bass, comp = (sorted(starts[part]) for part in (Part.BASS, Part.COMP))
    return {bar.start: Heard(_inside(bar, bass), _inside(bar, comp)) for bar in bars}


def _inside(bar: PlayedBar, starts: list[Fraction]) -> frozenset[Fraction]:
    first, after = bisect_left(starts, bar.start), bisect_left(starts, bar.end)
    return frozenset(at - bar.start for at in starts[first:after])


class Groove:
    """A drummer who plays the bars of each pattern as they suit what is heard."""

    def __init__(self, feel: BandFeel, seed: int) -> None:
        self._feel, self._seed = feel, seed
        self._before: dict[int, tuple[int, ...]] = {}  # the last two bars of each layer

    def strokes(self, bar: PlayedBar, heard: Heard) -> list[FeelStroke]:
        """Return the strokes of *bar*, without those that are left out this time."""
        draw = chance(self._seed, "groove", bar.chorus, bar.number)
        found: list[FeelStroke] = []
        for layer, pattern in enumerate(self._feel.drums.in_mood(bar.mood)[0]):
            found += self._layer(layer, pattern, bar, heard, draw)
        rolls = sum(each.word == "snare" for each in found) >= _ROLLS
        return [each for each in found if not self._is_left_out(each, bar.mood, draw, rolls=rolls)]

    def _layer(
        self, layer: int, pattern: Pattern, bar: PlayedBar, heard: Heard, draw: Random
    ) -> tuple[FeelStroke, ...]:
        """Return the bar of *pattern* that suits best, by chance another that suits nearly so."""
        if len(pattern) < 2 or _is_one_figure(pattern):
            return strokes_of(pattern, bar)
        before = self._before.get(layer, ())
        ends = (bar.number + 1) % PHRASE == 0
        fancy = chance(self._seed, "groove", layer, bar.chorus, bar.phrase)
        speaks = [
            self._against(strokes, heard)
            + _FANCY * fancy.random()
            + _WHIM * draw.random()
            + _AWAY * ((at == 0) == ends)
            + _ONCE_MORE * (before == (at, at))
            for at, strokes in enumerate(pattern)
        ]
        chosen = speaks.index(min(speaks))
        self._before[layer] = (*before, chosen)[-2:]
        return pattern[chosen]

    def _against(self, strokes: tuple[FeelStroke, ...], heard: Heard) -> float:
        """Measure how many strokes of kick and snare stand alone, and how many of the bass."""
        kicks = {each.at for each in strokes if each.word == "kick"}
        loud = {each.at for each in strokes if each.word == "kick" and each.louder != GHOST}
        snares = [each for each in strokes if each.word == "snare"]
        snares = [each for each in snares if each.louder == 0 and len(snares) < _ROLLS]
        off_beat = {each.at for each in snares if each.at % self._feel.meter.pulse}
        against = _LONELY_KICK * len(loud - heard.bass)
        against += _LONELY_SNARE * len(off_beat - heard.comp)
        return against + (_LONELY_BASS * len(heard.bass - kicks) if kicks else 0)

    def _is_left_out(self, stroke: FeelStroke, mood: Mood, draw: Random, *, rolls: bool) -> bool:
        """Return by chance True for a stroke between two taps that no groove hangs on."""
        between = stroke.at % self._feel.meter.pulse
        if not between or stroke.louder == ACCENT:
            return False
        if stroke.word in _COMES_AND_GOES:
            time = rolls and stroke.word == "snare" and not self._is_skip(between)
            return stroke.louder == GHOST and draw.random() > (_ROLL_KEPT if time else _GHOSTS_KEPT)
        if stroke.word not in TIMEKEEPERS:
            return False
        # Hats that shuffle are the time itself; those of a ride come and go.
        hat = stroke.word != "ride" and between % _EIGHTH == 0
        skips = (self._is_skip(between) and not hat) or stroke.louder == GHOST
        return skips and draw.random() < _SKIPPED[mood] * (1 if self._feel.swing > 1 else _STEADY)

    def _is_skip(self, between: Fraction) -> bool:
        """Return True for a place that ornaments time: even eighths are what time is made of."""
        if self._feel.meter.compound:
            return between == 1
        return self._feel.swing > 1 or between % _EIGHTH != 0


def _is_one_figure(pattern: Pattern) -> bool:
    """Return True where accents, claves or side stick tie bars into one figure, such as a clave."""
    tied = {
        frozenset(
            each.at
            for each in bar
            if each.louder == ACCENT or (each.word in _ANCHORS and each.louder == 0)
        )
        for bar in pattern
    }
    return len(tied) > 1
