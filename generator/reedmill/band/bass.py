"""The bass player: applies the bass line of a feel to the chords of a form."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from reedmill.band.feel import BandFeel, FeelStroke
from reedmill.band.harmony import ChordSpan, Duty, PlayedBar
from reedmill.band.hit import Hit, strokes_of
from reedmill.band.instruments import BASS_KEYS
from reedmill.band.moods import way_in_turn
from reedmill.band.walking import APPROACHES, COMFORT, nearest_bass_key, walk
from reedmill.score.arrangement import Part
from reedmill.theory.chords import Chord

_FIRST_NEAR = 36  # C2: the first root is the one nearest to it
# The tones of a chord a word of the bass may mean, the first there is.
_TONES = {
    "third": ("3", "b3", "4"), "fifth": ("5", "b5", "#5"), "seventh": ("b7", "7", "bb7", "6"),
}  # fmt: skip
_SIXTH, _OCTAVE = 9, 12


@dataclass(frozen=True, slots=True)
class Cue:
    """One stroke of the bass whose note is still to be chosen."""

    start: Fraction  # beats from the start of the music
    stroke: FeelStroke


def bass_line(feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int = 0) -> list[Hit]:
    """Return every note of the bass; *tonic* is the pitch class of the key.

    A new chord always begins with its root, also where the feel has no stroke.
    """
    if not feel.bass:
        return []
    found: list[tuple[Cue, int]] = []
    root, due = nearest_bass_key(tonic, _FIRST_NEAR), None
    before: Chord | None = None
    stretches = [(bar, stretch) for bar in bars for stretch in bar.stretches]
    for at, (bar, stretch) in enumerate(stretches):
        chord = stretch.chord
        root = due if due is not None else nearest_bass_key(_class(chord, tonic), root)
        cues = _cues(feel, bar, stretch, seed, changed=chord != before)
        following = stretches[min(at + 1, len(stretches) - 1)][1].chord
        keys, due = _keys(cues, stretch, root, following, tonic, rising=at % 2 == 0)
        found += zip(cues, keys, strict=True)
        before = chord
    return list(_sounding(found, bars))


def _class(chord: Chord, tonic: int) -> int:
    return (tonic + chord.root.semitones) % 12


def _cues(
    feel: BandFeel, bar: PlayedBar, stretch: ChordSpan, seed: int, *, changed: bool
) -> list[Cue]:
    """Return the strokes that fall on one chord, with its root where it starts."""
    pattern = _pattern(feel, bar, seed)
    if bar.duty in (Duty.NOBODY, Duty.DRUMS):
        return []
    stopped = bar.last or bar.duty is not Duty.ALL
    cues = [Cue(bar.start + each.at, each) for each in pattern]
    cues = [cue for cue in cues if stretch.start <= cue.start < stretch.end]
    if stopped:
        cues = [
            Cue(cue.start, FeelStroke("root", cue.stroke.at, cue.stroke.louder)) for cue in cues
        ]
    here = cues[0].stroke if cues and cues[0].start == stretch.start else None
    if not changed or (here is not None and here.word == "walk"):
        return cues
    at = stretch.start - bar.start
    louder, length = (here.louder, here.length) if here else (0, None)
    return [Cue(stretch.start, FeelStroke("root", at, louder, length)), *cues[1 if here else 0 :]]


def _pattern(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    if bar.last:
        return feel.ending
    if bar.duty is Duty.ALL:
        way = way_in_turn(feel.bass.in_mood(bar.mood), bar.phrase, seed, "bass", bar.chorus)
        return strokes_of(way, bar)
    return feel.stops if bar.duty is Duty.STOPS else feel.stops[:1]


def _keys(
    cues: list[Cue], stretch: ChordSpan, root: int, following: Chord, tonic: int, *, rising: bool
) -> tuple[list[int], int | None]:
    """Choose the keys of the strokes on one chord, and the root that the next chord is led to."""
    chord = stretch.chord
    walkers = sum(cue.stroke.word == "walk" for cue in cues)
    line: Iterator[int] = iter(())
    due = None
    if walkers:
        classes = _class(chord, tonic), _class(following, tonic)
        keys, due = walk(root, chord, *classes, walkers, rising=rising)
        line = iter(keys)
    found: list[int] = []
    for cue in cues:
        word = cue.stroke.word
        if word == "walk":
            found.append(next(line))
        elif word == "lead":
            due = nearest_bass_key(_class(following, tonic), root)
            found.append(_leading(due, found[-1] if found else root))
        else:
            highest = BASS_KEYS[-1] if word == "octave" else COMFORT[-1]
            found.append(_above(root, _semitones(chord, word), highest))
    return found, due


def _leading(target: int, before: int) -> int:
    """Return an approach note to *target*: the nearest to *before* that differs from it."""
    steps = [target + away for away in APPROACHES if target + away in BASS_KEYS]
    return min(steps, key=lambda key: (key == before, abs(key - before), steps.index(key)))


def _semitones(chord: Chord, word: str) -> int:
    """Return the semitones above the chord's root of the tone called *word*."""
    if word == "root":
        return 0
    if word == "octave":
        return _OCTAVE
    if word == "sixth":
        return _SIXTH - (chord.quality == "m7b5")
    tones = dict(chord.tones)
    found = next((tones[name] for name in _TONES[word] if name in tones), None)
    return _OCTAVE if found is None else found


def _above(root: int, semitones: int, highest: int) -> int:
    """Return the tone over *root*, or under it where it would be higher than *highest*."""
    key = root + semitones
    return key if key <= highest or key - _OCTAVE < BASS_KEYS[0] else key - _OCTAVE


def _sounding(found: list[tuple[Cue, int]], bars: tuple[PlayedBar, ...]) -> Iterator[Hit]:
    """Yield each note held until the next one, or as long as the feel says; the last to the end."""
    end = bars[-1].stretches[-1].end
    starts = [cue.start for cue, _ in found] + [end]
    for (cue, key), (start, until) in zip(found, pairwise(starts), strict=True):
        length = cue.stroke.length
        stop = until if length is None else min(until, start + length)
        yield Hit(Part.BASS, start, stop, key, cue.stroke.louder)
