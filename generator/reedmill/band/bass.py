"""The bass player: applies the bass line of a feel to the chords of a form."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from random import Random

from reedmill.band.feel import GHOST, BandFeel, FeelStroke
from reedmill.band.harmony import ChordSpan, Duty, PlayedBar
from reedmill.band.hit import Hit, strokes_of, way_for
from reedmill.band.instruments import BASS_KEYS
from reedmill.band.moods import chance
from reedmill.band.walking import COMFORT, WalkedBar, Walker, scale_of
from reedmill.score.arrangement import Part
from reedmill.theory.chords import Chord

_FIRST_NEAR = 36  # C2: the first root is the one nearest to it
_TOP, _TOO_HIGH = 47, 5  # B2: what speaks against each semitone a figure is higher
_OUTSIDE = 9  # what speaks against one that is not in the scale of a chord that goes on
_LEADS = {-1: 0, 1: 0, -2: 0, 2: 0, 7: 6, -5: 6}
"""Semitones from the next root to a note that leads there, and what speaks against each."""

_FAST_BPM = 200  # beyond it a line that walks keeps to plain tones
_SKIP = GHOST // 2  # a note between two steps of a line is half a ghost

# The tones of a chord a word of the bass may mean, the first there is.
_TONES = {
    "third": ("3", "b3", "4"), "fifth": ("5", "b5", "#5"), "seventh": ("b7", "7", "bb7", "6"),
}  # fmt: skip
_SIXTH, _OCTAVE = 9, 12
_LOW = "low "  # before a tone that lies below the root


@dataclass(frozen=True, slots=True)
class Cue:
    """One stroke of the bass whose note is still to be chosen."""

    start: Fraction  # beats from the start of the music
    stroke: FeelStroke

    @property
    def walks(self) -> bool:
        """True for a note of a line that finds its own way."""
        return self.stroke.word == "walk"


@dataclass(frozen=True)
class _Stint:
    """The strokes of the bass on one chord within one bar."""

    bar: PlayedBar
    place: int  # of the chord in the bar
    cues: tuple[Cue, ...]
    root: int  # pitch class
    silent_after: bool = False  # the bass rests in the bar after it

    @property
    def stretch(self) -> ChordSpan:
        return self.bar.stretches[self.place]

    @property
    def chord(self) -> Chord:
        return self.stretch.chord

    @cached_property
    def walks(self) -> bool:
        return any(cue.walks for cue in self.cues)

    @cached_property
    def above(self) -> tuple[int, ...]:
        """The semitones above the root, or below it, of the figure that is played."""
        words = {cue.stroke.word for cue in self.cues} - {"lead", "walk"} | {"root"}
        return tuple(semitones_above(self.chord, word) for word in words)

    @cached_property
    def roots(self) -> tuple[int, ...]:
        """The keys of the root over which the whole figure is within reach of the instrument."""
        known = [key for key in BASS_KEYS if key % 12 == self.root]
        fitting = [key for key in known if all(key + each in BASS_KEYS for each in self.above)]
        # Over Ab a fifth below and an octave above are not both in reach: that fifth is then above.
        return tuple(fitting or [key for key in known if key + max(self.above) in BASS_KEYS])

    def goes_on_from(self, before: _Stint) -> bool:
        """Return True where a line goes on over the chord of *before*, and the form with it."""
        restated = self.bar.number == 0 and self.place == 0
        return self.chord == before.chord and self.cues[0].walks and not restated


def bass_line(
    feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int = 0, tempo_bpm: int = 0
) -> list[Hit]:
    """Return every note of the bass; *tonic* is the pitch class of the key.

    A new chord always begins with its root, also where the feel has no stroke.
    """
    if not feel.bass:
        return []
    stints = _stints(feel, bars, tonic, seed)
    player = _BassPlayer(feel, seed, fast=tempo_bpm > _FAST_BPM)
    found: list[tuple[Cue, int, Fraction]] = []
    for stint, following in pairwise([*stints, *stints[-1:]]):
        until = stint.bar.end if stint.silent_after else bars[-1].end
        found += [(cue, key, until) for cue, key in player.played(stint, following)]
    return list(_sounding(found, bars[-1].end))


class _BassPlayer:
    """One bass player, who knows where the hand is and where it is due."""

    def __init__(self, feel: BandFeel, seed: int, *, fast: bool) -> None:
        self._feel, self._seed, self._fast = feel, seed, fast
        self._walker = Walker()
        self._root = _FIRST_NEAR
        self._due: int | None = None  # the key that the next chord has been led to

    def played(self, stint: _Stint, following: _Stint) -> Iterator[tuple[Cue, int]]:
        """Yield the strokes of *stint* with their keys."""
        start = self._start(stint)
        if stint.walks:
            yield from self._walked(stint, following, start)
        else:
            yield from zip(stint.cues, self._figure(stint, following, start), strict=True)

    def _start(self, stint: _Stint) -> int:
        """Return the key to begin with: the one that was led to, or the nearest root."""
        due, self._due = self._due, None
        if due is not None and (stint.walks or due in stint.roots):
            self._root = due
        else:
            self._root = _nearest(stint, self._root)
        return self._root

    def _figure(self, stint: _Stint, following: _Stint, root: int) -> list[int]:
        """Return the keys of a figure as it is written, in one octave of its chord."""
        found: list[int] = []
        for cue in stint.cues:
            if cue.stroke.word == "lead":
                before = found[-1] if found else root
                self._due, key = self._led(stint, following, before)
                found.append(key)
            else:
                key = root + semitones_above(stint.chord, cue.stroke.word)
                found.append(key if key >= BASS_KEYS[0] else key + _OCTAVE)
        return found

    def _led(self, stint: _Stint, following: _Stint, before: int) -> tuple[int, int]:
        """Return a root of the next chord that is at hand, and a note near *before* before it.

        The note is a step from that root, in the scale where the chord goes on, or its fifth
        where a step would be a leap away.
        """
        draw = self._fancy(stint, "lead")
        found: list[tuple[float, int, int]] = []
        for root in following.roots:
            for away, against in _LEADS.items():
                key = root + away
                if key == before or key not in BASS_KEYS:
                    continue
                outside = following.chord == stint.chord and not self._in_scale(stint, key)
                cost = _leap(key - before) + against + _OUTSIDE * outside
                cost += _TOO_HIGH * _high(following, root) + 3 * draw.random()
                found.append((cost, root, key))
        _, root, key = min(found)
        return root, key

    @staticmethod
    def _in_scale(stint: _Stint, key: int) -> bool:
        return (key - stint.root) % 12 in scale_of(stint.chord)

    def _walked(self, stint: _Stint, following: _Stint, start: int) -> Iterator[tuple[Cue, int]]:
        """Yield the strokes of a line; one between two of its steps repeats the first of them."""
        steps = [cue for cue in stint.cues if self._is_step(stint, cue)]
        goals = tuple(key for key in following.roots if key in COMFORT) or following.roots
        asked = WalkedBar(
            stint.chord,
            stint.root,
            tuple(self._is_strong(stint, cue) for cue in steps),
            goals,
            following.goes_on_from(stint),
            (stint.bar.number, stint.place),
            self._fast,
        )
        keys, self._due = self._walker.walk(asked, start, self._fancy(stint, "walk"))
        line = dict(zip(steps, keys, strict=True))
        key = start
        for cue in stint.cues:
            if cue in line:
                key = line[cue]
                yield cue, key
            elif cue.walks:
                softer = _SKIP if not cue.stroke.louder else cue.stroke.louder
                yield Cue(cue.start, replace(cue.stroke, louder=softer)), key
            else:
                near = _nearest(stint, key)
                yield cue, near + semitones_above(stint.chord, cue.stroke.word)

    def _is_step(self, stint: _Stint, cue: Cue) -> bool:
        """Return True for a stroke that is a step of the line of its bar."""
        if cue == stint.cues[0]:
            return True
        on_tap = (cue.start - stint.bar.start) % self._feel.meter.pulse == 0
        return cue.stroke.word == "lead" or (cue.walks and on_tap)

    def _is_strong(self, stint: _Stint, cue: Cue) -> bool:
        """Return True on the first beat of a bar, and on every second one where they are even."""
        pulse, inside = self._feel.meter.pulse, cue.start - stint.bar.start
        even = self._feel.meter.beats / pulse % 2 == 0
        return inside % (2 * pulse) == 0 if even else inside == 0

    def _fancy(self, stint: _Stint, *what: str) -> Random:
        return chance(self._seed, *what, stint.bar.start, stint.place)


def _stints(feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int) -> list[_Stint]:
    """Return what the bass plays on each chord of each bar, and nothing where it rests."""
    found: list[_Stint] = []
    before: Chord | None = None
    for bar in bars:
        here: list[_Stint] = []
        for place, stretch in enumerate(bar.stretches):
            changed = stretch.chord != before or (not place and not bar.number)
            cues = tuple(_cues(feel, bar, stretch, seed, changed=changed))
            here.append(_Stint(bar, place, cues, (tonic + stretch.chord.root.semitones) % 12))
            before = stretch.chord
        here = [stint for stint in here if stint.cues]
        if found and not here and not found[-1].silent_after:
            found[-1] = replace(found[-1], silent_after=True)
        found += here
    return found


def _cues(
    feel: BandFeel, bar: PlayedBar, stretch: ChordSpan, seed: int, *, changed: bool
) -> list[Cue]:
    """Return the strokes that fall on one chord, with its root where it starts."""
    if bar.duty in (Duty.NOBODY, Duty.DRUMS):
        return []
    cues = [Cue(bar.start + each.at, each) for each in _pattern(feel, bar, seed)]
    cues = [cue for cue in cues if stretch.start <= cue.start < stretch.end]
    if bar.last or bar.duty is not Duty.ALL:
        cues = [Cue(cue.start, _stopped(feel, bar, cue.stroke)) for cue in cues]
    here = cues[0].stroke if cues and cues[0].start == stretch.start else None
    if not changed or (here is not None and here.word == "walk"):
        return cues
    if here is None and not bar.last and bar.duty is not Duty.ALL:
        return cues  # a chord between two stops
    at = stretch.start - bar.start
    root = replace(here, word="root") if here else FeelStroke("root", at)
    return [Cue(stretch.start, root), *cues[1 if here else 0 :]]


def _pattern(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    if bar.last:
        return feel.ending
    if bar.duty is Duty.ALL:
        return strokes_of(way_for(feel.bass.in_mood(bar.mood), bar, seed, "bass"), bar)
    return feel.stops if bar.duty is Duty.STOPS else feel.stops[:1]


def _stopped(feel: BandFeel, bar: PlayedBar, stroke: FeelStroke) -> FeelStroke:
    """Return a stop as the bass plays it: the root, as short as the chord where silence follows."""
    return replace(stroke, word="root", length=None if bar.last else feel.meter.pulse / 2)


def semitones_above(chord: Chord, word: str) -> int:
    """Return the semitones above the root of *chord* of the tone called *word*.

    Less than 0 lies below it.

    >>> [semitones_above(Chord.parse("ii7"), word) for word in ("third", "low fifth", "octave")]
    [3, -5, 12]
    """
    if word.startswith(_LOW):
        return semitones_above(chord, word.removeprefix(_LOW)) - _OCTAVE
    if word == "root":
        return 0
    if word == "octave":
        return _OCTAVE
    if word == "sixth":
        return _SIXTH - (chord.quality == "m7b5")
    tones = dict(chord.tones)
    found = next((tones[name] for name in _TONES[word] if name in tones), None)
    return _OCTAVE if found is None else found


def _nearest(stint: _Stint, key: int) -> int:
    """Return the root for a figure that is nearest to *key* and leaves it low."""
    return min(
        stint.roots, key=lambda root: (abs(root - key) + _TOO_HIGH * _high(stint, root), root)
    )


def _high(stint: _Stint, root: int) -> int:
    """Return how many semitones the figure over *root* is higher than a bass mostly is."""
    return max(0, root + max(stint.above) - _TOP)


def _leap(semitones: int) -> float:
    """Measure how far it is to the next note; more than a fifth is far."""
    return abs(semitones) + 3.0 * max(0, abs(semitones) - 7)


def _sounding(found: list[tuple[Cue, int, Fraction]], end: Fraction) -> Iterator[Hit]:
    """Yield each note held until the next one or its own end, or as long as the feel says."""
    starts = [cue.start for cue, _, _ in found] + [end]
    for (cue, key, latest), (start, following) in zip(found, pairwise(starts), strict=True):
        until, length = min(following, latest), cue.stroke.length
        stop = until if length is None else min(until, start + length)
        yield Hit(Part.BASS, start, stop, key, cue.stroke.louder)
