"""The chord player: four-part voicings with the smallest voice movement."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import combinations, pairwise, product

from reedmill.band.feel import BandFeel, FeelStroke
from reedmill.band.harmony import Duty, PlayedBar
from reedmill.band.hit import Hit, stretch_at, strokes_of
from reedmill.band.instruments import COMP_KEYS
from reedmill.band.moods import way_in_turn
from reedmill.score.arrangement import Part
from reedmill.theory.chords import Chord

_MIDDLE = 59  # B3: voicings gather round it, most of them below what a harp plays
_WIDEST = 16  # semitones from the lowest voice to the highest
_LESS_NEEDED = ("1", "5", "b5")  # left out first where a chord has more than four tones
_VOICES = 4  # a seventh chord whole, in one hand: common practice

Voicing = tuple[int, ...]
"""MIDI keys, lowest first."""


def comp(feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int = 0) -> list[Hit]:
    """Return every chord that is struck; *tonic* is the pitch class of the key."""
    if not feel.comp:
        return []
    hits: list[Hit] = []
    voicing: Voicing = ()
    for bar in bars:
        strokes = _strokes(feel, bar, seed)
        for at, stroke in enumerate(strokes):
            start = bar.start + stroke.at
            stretch = stretch_at(bar, start)
            voicing = nearest_voicing(voicing, stretch.chord, tonic)
            until = stretch.end
            if at + 1 < len(strokes):
                until = min(until, bar.start + strokes[at + 1].at)
            end = min(until, start + _length(stroke, feel, bar, until - start))
            hits += [Hit(Part.COMP, start, end, key, stroke.louder) for key in voicing]
    return hits


def _strokes(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    """Return the strokes of a bar; a held chord is struck again where the next chord starts."""
    if bar.duty in (Duty.NOBODY, Duty.DRUMS):
        return ()
    if bar.last:
        strokes = feel.ending
    elif bar.duty is not Duty.ALL:
        return feel.stops if bar.duty is Duty.STOPS else feel.stops[:1]
    else:
        way = way_in_turn(feel.comp.in_mood(bar.mood), bar.phrase, seed, "comp", bar.chorus)
        strokes = strokes_of(way, bar)
        if not any(stroke.word == "held" for stroke in strokes):
            return strokes
    taken = {stroke.at for stroke in strokes}
    starts = [stretch.start - bar.start for stretch in bar.stretches]
    added = [FeelStroke("held", at) for at in starts if at not in taken and at >= min(taken)]
    return tuple(sorted([*strokes, *added], key=lambda stroke: stroke.at))


def _length(stroke: FeelStroke, feel: BandFeel, bar: PlayedBar, room: Fraction) -> Fraction:
    """Return how many beats a stroke lasts undisturbed; *room* is the most there is."""
    if stroke.length is not None:
        return stroke.length
    if bar.last or stroke.word == "held":
        return room
    return feel.meter.pulse / (4 if stroke.word == "short" else 2)


def nearest_voicing(before: Voicing, chord: Chord, tonic: int) -> Voicing:
    """Return the voicing of *chord* that moves the fewest semitones from *before*.

    Every voicing has the third and the seventh of the chord, where there are any.
    """
    known = voicings(chord, tonic)
    return min(known, key=lambda each: (movement(before, each) + _pull(each), each))


def movement(before: Voicing, after: Voicing) -> int:
    """Return the total semitones the voices move, lowest to lowest and so on upwards."""
    return sum(abs(a - b) for a, b in zip(before, after, strict=False))


def _pull(voicing: Voicing) -> int:
    """Measure how far a voicing is from the middle, so that a long song does not drift away."""
    return abs(2 * sum(voicing) - 2 * _VOICES * _MIDDLE) // _VOICES


@cache
def voicings(chord: Chord, tonic: int) -> tuple[Voicing, ...]:
    """Return every close four-part voicing of *chord* within ``COMP_KEYS``, lowest first."""
    root = (tonic + chord.root.semitones) % 12
    found: set[Voicing] = set()
    for names in _chosen(tuple(name for name, _ in chord.tones)):
        steps = dict(chord.tones)
        places = [
            [key for key in COMP_KEYS if key % 12 == (root + steps[name]) % 12] for name in names
        ]
        found |= {tuple(sorted(keys)) for keys in product(*places)}
    return tuple(sorted(keys for keys in found if _close(keys)))


def _chosen(names: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Choose four tones: double root or fifth of a triad, leave out the least needed of five."""
    extra = len(names) - _VOICES
    if extra < 0:
        return [(*names, doubled) for doubled in (names[0], names[-1])]
    left_out = [names.index(name) for name in _LESS_NEEDED if name in names][:extra]
    kept = tuple(name for at, name in enumerate(names) if at not in left_out)
    return list(combinations(kept, _VOICES))


def _close(keys: Voicing) -> bool:
    """Return True for four keys a hand can play: none doubled, no wide gap."""
    gaps = [upper - lower for lower, upper in pairwise(keys)]
    # Inner gaps up to a major sixth, and no semitone at the bottom, where it would growl.
    # Common practice, no published source.
    return keys[-1] - keys[0] <= _WIDEST and min(gaps) > 0 and max(gaps) <= 9 and gaps[0] > 1
