"""From written strokes to performed ones: swing, dynamics, and how players lean on the beat.

Each player leans by what the feel says, drifts slowly around that, and strikes each note a little
off it; and nobody strikes equally hard twice.  What a player strikes together stays together.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.band.feel import BandFeel
from reedmill.band.harmony import PlayedBar
from reedmill.band.hit import Hit
from reedmill.band.instruments import DRUMS
from reedmill.band.moods import Mood, chance
from reedmill.score.arrangement import MOST_OFF, Part, Struck, swung

LOOSENESS = range(4)
USUAL_LOOSENESS = 1
_SHARES = (0.0, 1.0, 1.5, 2.5)  # of the feel's drift and spread, by looseness
_STROKES_OFF = 0.4  # of the drift: how far single strokes are off it

# On top of a player's loudness, in velocities: fewer strokes are softer already, and more of them
# louder.  Chosen so that the softest and the loudest chorus are 2 to 5 LU apart.
_MOODS = {Mood.QUIET: -3, Mood.EVEN: 0, Mood.FULL: 5}
_RISES = 0.6  # of the way up to a stronger mood in its first chorus: a second one is stronger still
_GOES_ON = 1  # in a second chorus of the usual mood
_HOME = 2  # in the last chorus of a set that ends full
_BUILDS = 3  # from the first bar of a chorus to its last
ACCENTED, _ON_ONE, _BETWEEN = 7, 10, 5  # the last: a bass is softer between two taps

_ORDER = {part: place for place, part in enumerate(Part)}
_PLAYERS = {Part.BASS: "bass", Part.COMP: "comp", Part.DRUMS: "drums"}
_DRUM_WORDS = {key: word for word, key in DRUMS.items()}
_TENTHS = 10  # offsets are whole tenths of a millisecond
_DRIFT_BARS = 2  # from one point of a drift to the next


@dataclass(frozen=True, slots=True)
class Performance:
    """A feel, a tempo, a seed and a looseness, by which strokes are performed."""

    feel: BandFeel
    bars: tuple[PlayedBar, ...]
    tempo_bpm: int
    seed: int
    looseness: int  # one of LOOSENESS; 0 puts every stroke exactly on its place

    @property
    def beats_per_ms(self) -> Fraction:
        """The beats, exactly, that a millisecond lasts."""
        return self.tempo_bpm * self.feel.meter.pulse / 60_000

    @property
    def most_off(self) -> Fraction:
        """The most beats a stroke is off its place."""
        return MOST_OFF * self.feel.meter.pulse


def performed(hits: list[Hit], by: Performance) -> tuple[Struck, ...]:
    """Return the strokes as performed, in time order; none sounds after the last bar.

    The first beat of a chorus is never early, and no stroke is off by more than ``MOST_OFF``.
    """
    hits = sorted(hits, key=lambda hit: (hit.start, _ORDER[hit.part], hit.key))
    length = by.bars[-1].end
    offsets, volumes = _Offsets(by), _Volumes(by)
    swing = by.feel.swing_at(by.tempo_bpm)
    heard: list[Struck] = []
    for hit in hits:
        start, end = hit.start, hit.end
        if swing != 1:
            start, end = swung(start, swing), swung(end, swing)
        later = Fraction(0)
        if by.looseness:
            later = min(offsets.of(hit) + hit.spread_ms * by.beats_per_ms, by.most_off)
        start, end = max(start + later, Fraction(0)), min(end + later, length)
        heard.append(Struck(hit.part, start, end - start, hit.key, volumes.of(hit)))
    return tuple(_apart(sorted(heard, key=_time_order)))


def _time_order(note: Struck) -> tuple[Fraction, int, int]:
    return note.start, _ORDER[note.part], note.key


class _Offsets:
    """The offset of each stroke from its written place, in beats."""

    def __init__(self, by: Performance) -> None:
        self._by = by
        self._opening = {bar.start for bar in by.bars if bar.number == 0}
        self._points: dict[tuple[str, int], float] = {}
        self._found: dict[tuple[str, Fraction], Fraction] = {}

    def of(self, hit: Hit) -> Fraction:
        """Return the beats by which *hit* comes later than written; less than 0 is early."""
        who = _who(hit)
        known = self._found.get((who, hit.start))
        if known is None:
            known = self._found[who, hit.start] = self._off(who, hit)
        return known

    def _off(self, who: str, hit: Hit) -> Fraction:
        feel, share = self._by.feel, _SHARES[self._by.looseness]
        late_ms = feel.late_ms(who, _PLAYERS[hit.part])
        stroke = chance(self._by.seed, "off", who, hit.start).uniform(-1, 1)
        drift = self._drift(_PLAYERS[hit.part], hit.start)
        swim = (drift * (1 - _STROKES_OFF) + stroke * _STROKES_OFF) * feel.timing_ms * share
        off = Fraction(round((late_ms + swim) * _TENTHS), _TENTHS) * self._by.beats_per_ms
        off = max(-self._by.most_off, min(self._by.most_off, off))
        return abs(off) if hit.start in self._opening else off

    def _drift(self, player: str, start: Fraction) -> float:
        """Return where *player* has drifted to, from -1 to 1: straight from point to point."""
        every = _DRIFT_BARS * self._by.feel.meter.beats
        number, inside = divmod(start, every)
        here, there = self._point(player, number), self._point(player, number + 1)
        return here + (there - here) * float(inside / every)

    def _point(self, player: str, number: int) -> float:
        known = self._points.get((player, number))
        if known is None:
            known = chance(self._by.seed, "drift", player, number).uniform(-1, 1)
            self._points[player, number] = known
        return known


class _Volumes:
    """The velocity of each stroke, from its player, mood, place in the chorus, and chance."""

    def __init__(self, by: Performance) -> None:
        self._by = by
        self._starts = [bar.start for bar in by.bars]
        self._lengths = {
            chorus: max(bar.number for bar in by.bars if bar.chorus == chorus) + 1
            for chorus in {bar.chorus for bar in by.bars}
        }
        self._levels = _levels(by.bars)
        self._found: dict[tuple[str, Fraction], int] = {}

    def of(self, hit: Hit) -> int:
        """Return the velocity of *hit*: two drums are not struck equally hard, a chord is."""
        who = _who(hit)
        known = self._found.get((who, hit.start))
        if known is None:
            known = self._found[who, hit.start] = self._beside(who, hit)
        return min(127, max(1, self._by.feel.loud(hit.part) + hit.louder + known))

    def _beside(self, who: str, hit: Hit) -> int:
        feel = self._by.feel
        bar = self._by.bars[max(bisect_right(self._starts, hit.start) - 1, 0)]
        builds = round(_BUILDS * bar.number / self._lengths[bar.chorus])
        inside = hit.start - bar.start
        accent = ACCENTED if inside in feel.accents else 0
        if hit.part is Part.BASS:  # whatever the others accent, the bass says where one is
            accent = _ON_ONE if not inside else accent // 2
            accent -= _BETWEEN * (inside % feel.meter.pulse != 0)
        spread = 0 if hit.steady else feel.velocity * _SHARES[self._by.looseness]
        off = chance(self._by.seed, "volume", who, hit.start).triangular(-spread, spread)
        return builds + accent + round(self._levels[bar.chorus] + off)


def _levels(bars: Sequence[PlayedBar]) -> dict[int, float]:
    """Return how much louder the band is in each chorus."""
    moods = {bar.chorus: bar.mood for bar in bars}
    found: dict[int, float] = {}
    for chorus, mood in moods.items():
        here = float(_MOODS[mood])
        before = _MOODS[moods.get(chorus - 1, mood)]
        found[chorus] = here if here <= before else before + (here - before) * _RISES
        found[chorus] += _GOES_ON * (moods.get(chorus - 1) is mood is Mood.EVEN)
    last = max(moods)
    found[last] += _HOME * (moods[last] is Mood.FULL)
    return found


def _who(hit: Hit) -> str:
    """Return what a feel calls the player of *hit*, or the drum."""
    return _DRUM_WORDS[hit.key] if hit.part is Part.DRUMS else _PLAYERS[hit.part]


def _apart(notes: Sequence[Struck]) -> Iterator[Struck]:
    """Release each key of a player before it is struck again."""
    following: dict[tuple[Part, int], Fraction] = {}
    found: list[Struck] = []
    for note in reversed(notes):
        again = following.get((note.part, note.key))
        if again is not None and note.start + note.length > again > note.start:
            note = replace(note, length=again - note.start)
        following[note.part, note.key] = note.start
        found.append(note)
    yield from reversed(found)
