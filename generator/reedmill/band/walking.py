"""A walking bass: from one root to the next by the smoothest line.

All lines of so many notes are compared by what bass players are taught: small steps,
chord tones on the strong beats, the last note a semitone or a whole tone from the next
root, nothing struck twice.  Common practice, no published source.
"""

from __future__ import annotations

from functools import cache

from reedmill.band.instruments import BASS_KEYS
from reedmill.theory.chords import Chord

COMFORT = range(31, 49)  # G1 to C3, where a walking line mostly is
APPROACHES = (-1, 1, -2, 2)  # semitones from the next root, the best first

# By semitones: a whole tone is best, then semitones and thirds; a tritone is harder to hear as a
# line than a fifth, and a repeated note stands still.  Common practice, as above.
_STEP_COSTS = {0: 9, 1: 1, 2: 0, 3: 1, 4: 1, 5: 2, 6: 4, 7: 3}
_LEAP = 5  # for anything wider, and one more for each semitone
_PASSING, _PASSING_ON_A_STRONG_BEAT = 2, 5  # a tone that is not of the chord
_OUT_OF_COMFORT, _WRONG_WAY = 3, 1  # a key outside COMFORT; a step against the line's way

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


@cache
def walk(
    root: int, chord: Chord, root_class: int, next_class: int, notes: int, *, rising: bool
) -> tuple[tuple[int, ...], int]:
    """Return *notes* keys from *root*, and the key of the next root they lead to.

    *root_class* and *next_class* are the pitch classes of this chord's root and the
    next one's.  One note alone is the root.
    """
    if notes == 1:
        return (root,), nearest_bass_key(next_class, root)
    tones = {(root_class + step) % 12 for _, step in chord.tones}
    scale = {(root_class + step) % 12 for step in scale_of(chord)} | tones
    best: dict[int, tuple[int, tuple[int, ...]]] = {root: (0, (root,))}
    for at in range(1, notes - 1):
        middle = {key: _place_cost(key, at, tones) for key in BASS_KEYS if key % 12 in scale}
        best = _stepped(best, middle, rising)
    targets = [key for key in BASS_KEYS if key % 12 == next_class]
    ways = [
        (cost + order + _target_cost(target), line, target)
        for target in targets
        for order, away in enumerate(APPROACHES)
        if target + away in BASS_KEYS
        for cost, line in _stepped(best, {target + away: 0}, rising).values()
    ]
    _, line, target = min(ways)
    return line, target


def nearest_bass_key(pitch_class: int, key: int) -> int:
    """Return the key of *pitch_class* nearest to *key*, in the comfortable range if it can be."""
    fitting = [each for each in BASS_KEYS if each % 12 == pitch_class]
    return min(fitting, key=lambda each: (abs(each - key) + 2 * _outside(each), each))


def _stepped(
    best: dict[int, tuple[int, tuple[int, ...]]], places: dict[int, int], rising: bool
) -> dict[int, tuple[int, tuple[int, ...]]]:
    """Extend the cheapest lines so far by one note, to each of *places*."""
    return {
        key: min(
            (cost + _step_cost(before, key, rising) + own, (*line, key))
            for before, (cost, line) in best.items()
        )
        for key, own in places.items()
    }


def _step_cost(before: int, key: int, rising: bool) -> int:
    distance = abs(key - before)
    wrong = _WRONG_WAY if (key < before) == rising and distance else 0
    return _STEP_COSTS.get(distance, _LEAP + distance) + wrong


def _place_cost(key: int, at: int, tones: set[int]) -> int:
    passing = 0 if key % 12 in tones else _PASSING if at % 2 else _PASSING_ON_A_STRONG_BEAT
    return passing + _OUT_OF_COMFORT * min(1, _outside(key))


def _target_cost(target: int) -> int:
    return _OUT_OF_COMFORT * _outside(target)


def _outside(key: int) -> int:
    """Return how many semitones *key* is outside the comfortable range."""
    return max(0, COMFORT[0] - key, key - COMFORT[-1])
