"""The bass player: applies the bass line of a feel to the chords of a form."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from random import Random

from reedmill.band.bass_stints import Cue, Stint, stints_of
from reedmill.band.feel import GHOST, BandFeel, FeelStroke
from reedmill.band.harmony import PHRASE, PlayedBar
from reedmill.band.hit import Hit
from reedmill.band.instruments import BASS_KEYS
from reedmill.band.moods import chance
from reedmill.band.walking import COMFORT, WalkedBar, Walker, clashes
from reedmill.score.arrangement import Part

_FIRST_NEAR = 36  # C2: the first root is the one nearest to it
_TOP, _TOO_HIGH = 46, 3  # Bb2: what speaks against each semitone a figure is higher
_OUTSIDE = 9  # what speaks against one that is not in the scale of a chord that goes on
_CHROMATIC = 1  # and against it anywhere
_FOURTH = 4  # and against the fourth of a major chord
_UNHEARD = 3  # and against one, long and slow, foreign to the chord
_RUBS = 30  # what speaks against one that rubs against the chord that is struck with it
_SLOW_RUB = 12  # and against one a semitone below a tone of the chord
_AGAIN = 4  # against the way by which this root was come to last time
_FIFTHS = (7, -5)
_MAJOR_THIRD, _ABOVE_THIRD, _SIXTH, _OCTAVE = 4, 5, 9, 12
_LEADS = {-1: 0, 1: 0, -2: 0, 2: 0, 7: 6, -5: 6}
"""Semitones from the next root to a note that leads there, and what speaks against each."""

_FAST_BPM = 200  # beyond it a line that walks keeps to plain tones
_SKIP = GHOST // 2  # a note between two steps of a line is half a ghost
_SKIPS, _FAST_SKIPS = 0.8, 0.3  # of the phrases of a line that swings have one more of them
_DEAD = 0.4  # of these are dead notes: a stopped string, struck

# How long before the next note a finger lets go, as a share of the pulse: a line that walks speaks
# note by note, a slow one sings.  Common practice, no published source.
_LETS_GO, _WALK_LETS_GO = (2, 10), (5, 15)  # hundredths, drawn
_SINGS_BPM = 80  # pulses a minute under which notes are full
_MOST_CUT = Fraction(3, 10)  # of a note
_ONCE_MORE = Fraction(1, 5)  # of a note that is struck again after it


def bass_line(
    feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int, tempo_bpm: int
) -> list[Hit]:
    """Return every note of the bass; *tonic* is the pitch class of the key.

    *tempo_bpm* counts pulses a minute.  A new chord always begins with its root, also where the
    feel has no stroke.
    """
    if not feel.bass:
        return []
    stints = stints_of(feel, bars, tonic, seed)
    full = tempo_bpm < _SINGS_BPM
    player = _BassPlayer(feel, seed, fast=tempo_bpm > _FAST_BPM, slow=full)
    found: list[_Played] = []
    for stint, following in pairwise([*stints, *stints[-1:]]):
        until = stint.bar.end if stint.silent_after else bars[-1].end
        touch = chance(seed, "touch", stint.bar.start, stint.place)
        for cue, key in player.played(stint, following):
            least, most = _WALK_LETS_GO if stint.walks else _LETS_GO
            early = Fraction(0 if full else touch.randint(least, most), 100)
            found.append(_Played(cue, key, until, early))
    swing = feel.swing_at(tempo_bpm)
    return list(_sounding(found, feel.meter.pulse * (1 + swing) / 2, bars[-1].end))


@dataclass(frozen=True, slots=True)
class _Played:
    """One note of the bass, before it is known how long it sounds."""

    cue: Cue
    key: int
    latest: Fraction  # to which it may sound, in beats
    early: Fraction  # pulses before the next note at which it ends


class _BassPlayer:
    """One bass player, who knows where the hand is and where it is due."""

    def __init__(self, feel: BandFeel, seed: int, *, fast: bool, slow: bool) -> None:
        self._feel, self._seed, self._fast, self._slow = feel, seed, fast, slow
        self._walker = Walker()
        self._key = _FIRST_NEAR  # the last one played
        self._due: int | None = None  # the key that the next chord has been led to
        self._ways: dict[int, int] = {}  # for each root, from how far away it was last led to

    def played(self, stint: Stint, following: Stint) -> Iterator[tuple[Cue, int]]:
        """Yield the strokes of *stint* with their keys."""
        start = self._start(stint)
        if stint.walks:
            played = list(self._walked(stint, following, start))
        else:
            keys = self._figure(stint, following, start)
            played = list(zip(stint.cues, keys, strict=True))
        self._key = played[-1][1]
        yield from played

    def _start(self, stint: Stint) -> int:
        """Return the key to begin with: the one that was led to, or the nearest root."""
        due, self._due = self._due, None
        if stint.bar.last and stint.aim is not None:
            return stint.aim
        if due is not None and (stint.walks or due in stint.reach):
            return due
        return _nearest(stint, self._key)

    def _figure(self, stint: Stint, following: Stint, root: int) -> list[int]:
        """Return the keys of a figure as it is written, in one octave of its chord."""
        found: list[int] = []
        for cue in stint.cues:
            leads = cue.stroke.word == "lead"
            key = root if leads else root + stint.semitones(cue.stroke.word)
            key = key if key >= BASS_KEYS[0] else key + _OCTAVE
            if leads or self._makes_way(stint, following, cue, key):
                before = found[-1] if found else root
                self._due, key = self._led(stint, following, before, cue)
            found.append(key)
        return found

    def _makes_way(self, stint: Stint, following: Stint, cue: Cue, key: int) -> bool:
        """Return True for a last tone that does not go well into another chord.

        It comes so late that this may already be struck, or more than a sixth away.
        """
        if cue != stint.cues[-1] or following.chord == stint.chord or len(stint.cues) < 2:
            return False
        if following.stretch.start != stint.stretch.end:
            return False
        late = cue.start > following.stretch.start - self._feel.meter.pulse
        leaps = abs(_nearest(following, key) - key) > _SIXTH and cue.stroke.word != "root"
        leaps = leaps and not self._is_strong(stint, cue)
        return leaps or (late and not self._on_tap(stint, cue))

    def _pushed(self, stint: Stint, following: Stint, cue: Cue) -> bool:
        """Return True where the comp may strike the next chord ahead of its beat, with *cue*."""
        end = stint.stretch.end - stint.bar.start
        ahead = end - self._feel.meter.pulse / 2
        if following.chord == stint.chord or cue.start - stint.bar.start < ahead:
            return False
        ways = self._feel.comp.in_mood(stint.bar.mood)
        return any(ahead <= each.at < end for way in ways for bar in way for each in bar)

    def _led(self, stint: Stint, following: Stint, before: int, cue: Cue) -> tuple[int, int]:
        """Return a root of the next chord that is at hand, and a note near *before* before it.

        The note is a step from that root, in the scale where the chord goes on, or its fifth
        where a step would be a leap away.  It suits the chord that the comp strikes with it, and
        where this may be the next one already, both.
        """
        draw = self._fancy(stint, "lead")
        pushed = self._pushed(stint, following, cue)
        lasts = self._slow and self._on_tap(stint, cue)
        found: list[tuple[float, int, int]] = []
        fifth = {step for _, step in following.chord.tones}
        for root in following.reach:
            for away, against in _LEADS.items():
                key = root + away
                if key == before or key not in BASS_KEYS:
                    continue
                if away in _FIFTHS and away % _OCTAVE not in fifth:
                    continue
                outside = not self._in_scale(stint, key)
                strict = following.chord == stint.chord or lasts or key - root in _FIFTHS
                strict = strict or stint.chord.quality.startswith("dim")
                cost = _leap(key - before) + against
                cost += _OUTSIDE * (outside and strict) + _CHROMATIC * outside
                if lasts and not self._in_chord(stint, key):
                    cost += _UNHEARD + _SLOW_RUB * self._in_chord(stint, key + 1)
                cost += _AGAIN * (self._ways.get(following.root) == away)
                cost += _TOO_HIGH * _high(following, root) + 3 * draw.random()
                cost += 0 if following.aim is None else abs(root - following.aim)
                cost += _FOURTH * (
                    (key - stint.root) % 12 == _ABOVE_THIRD and _MAJOR_THIRD in stint.scale
                )
                cost += _RUBS * ((key - stint.root) % 12 in clashes(stint.chord))
                cost += _RUBS * (pushed and not self._in_scale(following, key))
                found.append((cost, root, key))
        _, root, key = min(found)
        self._ways[following.root] = key - root
        return root, key

    @staticmethod
    def _in_scale(stint: Stint, key: int) -> bool:
        return (key - stint.root) % 12 in stint.scale

    @staticmethod
    def _in_chord(stint: Stint, key: int) -> bool:
        return (key - stint.root) % 12 in {step % 12 for _, step in stint.chord.tones}

    def _on_tap(self, stint: Stint, cue: Cue) -> bool:
        return (cue.start - stint.bar.start) % self._feel.meter.pulse == 0

    def _walked(self, stint: Stint, following: Stint, start: int) -> Iterator[tuple[Cue, int]]:
        """Yield the strokes of a line; one between two of its steps repeats the first of them."""
        steps = [cue for cue in stint.cues if self._is_step(stint, cue)]
        goals = tuple(key for key in following.roots if key in COMFORT) or following.roots
        if following.aim is not None and abs(following.aim - start) <= _OCTAVE:
            goals = (following.aim,)
        asked = WalkedBar(
            stint.chord,
            stint.root,
            stint.scale,
            tuple(self._is_strong(stint, cue) for cue in steps),
            goals,
            following.goes_on_from(stint),
            (stint.bar.number, stint.place),
            self._fast,
            following.bar.last or not following.cues[0].walks,
        )
        keys, self._due = self._walker.walk(asked, start, self._fancy(stint, "walk"))
        line = dict(zip(steps, keys, strict=True))
        key = start
        for cue in sorted([*stint.cues, *self._skips(stint, steps)], key=lambda cue: cue.start):
            if cue in line:
                key = line[cue]
                yield cue, key
            elif cue.walks:
                softer = _SKIP if not cue.stroke.louder else cue.stroke.louder
                yield Cue(cue.start, replace(cue.stroke, louder=softer)), key
            else:
                near = _nearest(stint, key)
                yield cue, near + stint.semitones(cue.stroke.word)

    def _skips(self, stint: Stint, steps: list[Cue]) -> Iterator[Cue]:
        """Yield what a line that swings has between two steps in one bar of most phrases."""
        if self._feel.swing == 1 or len(steps) <= 2 or len(steps) < len(stint.cues):
            return
        draw = chance(self._seed, "skip", stint.bar.chorus, stint.bar.phrase)
        here = draw.randrange(PHRASE) == stint.bar.number % PHRASE
        if here and draw.random() < (_FAST_SKIPS if self._fast else _SKIPS):
            step = draw.choice(steps[1:])
            dead = draw.random() < _DEAD
            half = self._feel.meter.pulse / 2
            stroke = FeelStroke("walk", step.stroke.at + half, GHOST if dead else 0)
            yield Cue(step.start + half, replace(stroke, length=half / 4) if dead else stroke)

    def _is_step(self, stint: Stint, cue: Cue) -> bool:
        """Return True for a stroke that is a step of the line of its bar."""
        if cue == stint.cues[0]:
            return True
        return cue.stroke.word == "lead" or (cue.walks and self._on_tap(stint, cue))

    def _is_strong(self, stint: Stint, cue: Cue) -> bool:
        """Return True on the first beat of a bar, and on every second one where they are even."""
        pulse, inside = self._feel.meter.pulse, cue.start - stint.bar.start
        even = self._feel.meter.beats / pulse % 2 == 0
        return inside % (2 * pulse) == 0 if even else inside == 0

    def _fancy(self, stint: Stint, *what: str) -> Random:
        return chance(self._seed, *what, stint.bar.start, stint.place)


def _nearest(stint: Stint, key: int) -> int:
    """Return the root for a figure that is nearest to *key* and leaves it low."""
    return min(
        stint.roots, key=lambda root: (_leap(root - key) + _TOO_HIGH * _high(stint, root), root)
    )


def _high(stint: Stint, root: int) -> int:
    """Return how many semitones the figure over *root* is higher than a bass mostly is."""
    return max(0, root + max(stint.above) - _TOP)


def _leap(semitones: int) -> float:
    """Measure how far it is to the next note; more than a fifth is far."""
    return abs(semitones) + 3.0 * max(0, abs(semitones) - 7)


def _sounding(found: list[_Played], stretch: Fraction, end: Fraction) -> Iterator[Hit]:
    """Yield each note held until shortly before the next one, or as long as the feel says.

    *stretch* beats are written for a pulse of the second half of a beat, which swing shortens.
    """
    starts = [each.cue.start for each in found] + [end]
    keys = [*(each.key for each in found[1:]), None]
    for each, (start, following), key in zip(found, pairwise(starts), keys, strict=True):
        until, length = min(following, each.latest), each.cue.stroke.length
        early = each.early * stretch
        full = until == end or length is not None
        cut = min(early, (until - start) * _MOST_CUT)
        if key == each.key:  # or it would not be heard twice
            cut = max(cut, (until - start) * _ONCE_MORE)
        stop = until if full else until - cut
        stop = stop if length is None else min(stop, start + length)
        yield Hit(Part.BASS, start, stop, each.key, each.cue.stroke.louder)
