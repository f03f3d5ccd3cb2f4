"""Voicings: chords laid out for the hands of an organist, a pianist or a guitarist.

Every voicing has the third and the seventh of its chord, where it has them.  What a player of each
instrument learns first decides the rest: common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import cache
from itertools import combinations, pairwise, product
from typing import NamedTuple

from reedmill.band.instruments import COMP_KEYS
from reedmill.theory.chords import Chord

HIGHEST = 71  # B4: no voicing is higher
HIGH = 66  # Gb4: mostly they are not, so that a harp is alone above them
LOW = 52  # E3: all of a voicing is not lower, or a telephone would not let it through
_GROWLS = 50  # D3: below it two voices lie a third apart or more

Voicing = tuple[int, ...]
"""MIDI keys, lowest first."""


class Family(Enum):
    """The instruments whose players voice a chord alike."""

    PIANO = "piano"
    ORGAN = "organ"
    GUITAR = "guitar"
    OTHER = "other"

    @classmethod
    def of(cls, program: int) -> Family:
        """Return the family of a General MIDI program, from 0.

        The families of eight are those of the General MIDI System Level 1 sound set.

        >>> [Family.of(program).value for program in (4, 16, 27, 61)]
        ['piano', 'organ', 'guitar', 'other']
        """
        eights = (cls.PIANO, cls.PIANO, cls.ORGAN, cls.GUITAR)
        return eights[program // 8] if program // 8 < len(eights) else cls.OTHER


@dataclass(frozen=True, slots=True)
class Hand:
    """A player's hand for a while: the instrument, the voices it takes, and its colours."""

    family: Family
    voices: int  # 3 or 4
    coloured: bool  # a dominant seventh may have its ninth and thirteenth
    minor: bool = False  # home is minor: minor sevenths may have their ninth instead


class _Reach(NamedTuple):
    """The distances between voices, in semitones."""

    span: int  # from the lowest to the highest
    gap: int  # between two neighbours
    lowest: int = 49  # C#3: lower is the bass
    rubs: int = 55  # G3: below it no second, which would be mud
    sour: bool = False  # a minor second or ninth between two voices


# Every note of an organ sounds an octave lower too, where it would grind with the bass.
_REACH = {
    Family.PIANO: _Reach(19, 10), Family.ORGAN: _Reach(12, 7, 55, 60),
    Family.GUITAR: _Reach(16, 9), Family.OTHER: _Reach(16, 9),
}  # fmt: skip
_ANY = _Reach(23, 12, 0, 0, sour=True)  # for a chord that has no other voicing
_SOUR = (1, 13)

_THIRDS, _SEVENTHS = ("3", "b3", "4"), ("b7", "7", "bb7", "6")
_OCTAVE = 12
_BESIDE = {("1", "9"), ("5", "13")}  # one stands for the other: never both
_NINTHS_IN_KEY = {False: (2, 9), True: (0, 5)}
"""The roots of minor sevenths whose ninth is in the key, where home is major and minor."""

# The strings of a guitar in standard tuning, E2 to E4, and how it is held.
_STRINGS = (40, 45, 50, 55, 59, 64)
_FRETS, _STRETCH = 14, 4  # the highest; frets between the fingers, open strings apart


@cache
def voicings(chord: Chord, tonic: int, hand: Hand) -> tuple[Voicing, ...]:
    """Return every voicing of *chord* for *hand*, lowest first; *tonic* is that of the key.

    None has the home note of the key on top where there is another one.
    """
    root = (tonic + chord.root.semitones) % 12
    laid_out = list(_laid_out(chord, root, hand))
    fitting = {keys for names, keys in laid_out if _fits(names, keys, hand)}
    any_hand = {keys for _, keys in laid_out if _sounds(keys, _ANY)}
    free = (
        ({keys for keys in found if keys[-1] % _OCTAVE != tonic}) for found in (fitting, any_hand)
    )
    return tuple(sorted(next(filter(None, free), fitting or any_hand)))


def _laid_out(chord: Chord, root: int, hand: Hand) -> Iterator[tuple[dict[int, str], Voicing]]:
    """Yield every way to lay out tones of *chord*, with the name of each key."""
    steps = dict(chord.tones) | _colours(chord, hand)
    for names in _chosen(tuple(steps), chord, hand):
        places = [
            [key for key in COMP_KEYS if key % 12 == (root + steps[name]) % 12 and key <= HIGHEST]
            for name in names
        ]
        for keys in product(*places):
            named = dict(zip(keys, names, strict=True))
            if len(named) == len(names):
                yield named, tuple(sorted(keys))


def _colours(chord: Chord, hand: Hand) -> dict[str, int]:
    """Return the tones that *hand* may add to *chord*, in semitones above its root."""
    if not hand.coloured or hand.family is Family.OTHER:
        return {}
    if chord.quality == "7":
        return {} if hand.minor else {"9": 14, "13": 21}
    own = chord.root.semitones in _NINTHS_IN_KEY[hand.minor]
    return {"9": 14} if chord.quality == "m7" and own else {}


def _chosen(names: tuple[str, ...], chord: Chord, hand: Hand) -> Iterator[tuple[str, ...]]:
    """Yield the tones for each voice: third and seventh, what the name tells of, and others."""
    own = tuple(name for name, _ in chord.tones)
    needed = [name for name in own if name in (*_THIRDS, *_SEVENTHS)]
    needed += [name for name in reversed(own) if name not in (*needed, "1", "5")]
    needed = needed[: hand.voices]
    others = [name for name in names if name not in needed]
    free = hand.voices - len(needed)
    if free > len(others):  # a triad in four voices: one of them is doubled
        others += ["1", "5"] if "5" in own else ["1"]
    for some in sorted(set(combinations(others, free))):
        if not any({one, other} <= {*some, *needed} for one, other in _BESIDE):
            yield (*needed, *some)


def _fits(names: dict[int, str], keys: Voicing, hand: Hand) -> bool:
    """Return True for a voicing as players of the instrument have it under their hands."""
    if not _sounds(keys, _REACH[hand.family]):
        return False
    if hand.family is Family.PIANO:
        return _in_two_hands(names, keys)
    return hand.family is not Family.GUITAR or _under_the_fingers(keys)


def _sounds(keys: Voicing, reach: _Reach) -> bool:
    """Return True where no voices growl or rub, and none is lost far away."""
    gaps = [upper - lower for lower, upper in pairwise(keys)]
    if max(gaps) > reach.gap or keys[-1] - keys[0] > reach.span or keys[0] < reach.lowest:
        return False
    if not reach.sour and any(two - one in _SOUR for one, two in combinations(keys, 2)):
        return False
    low = [gap for key, gap in zip(keys, gaps, strict=False) if key < reach.rubs]
    return min(low, default=3) >= 3 and (gaps[0] >= 3 or keys[0] >= _GROWLS)


def _in_two_hands(names: dict[int, str], keys: Voicing) -> bool:
    """Return True where the left hand has a shell, or one hand has the whole of a close chord.

    A shell is two of root, third and seventh.
    """
    shell = {names[key] for key in keys[:2]} <= {"1", *_THIRDS, *_SEVENTHS}
    return shell or keys[-1] - keys[0] <= _OCTAVE


@cache
def _under_the_fingers(keys: Voicing) -> bool:
    """Return True where neighbouring strings of a guitar have the keys within a hand's stretch."""
    return any(
        _held(tuple(key - string for key, string in zip(keys, _STRINGS[at:], strict=False)))
        for at in range(len(_STRINGS) - len(keys) + 1)
    )


def _held(frets: tuple[int, ...]) -> bool:
    pressed = [fret for fret in frets if fret]
    return min(frets) >= 0 and max(frets) <= _FRETS and max(pressed) - min(pressed) <= _STRETCH


_THIRD, _FIFTH = 4, 7
_SWAYS = {0: 0, _THIRD: 1, _FIFTH: 2, 9: 0, 10: 2}  # semitones each tone moves by


def neighbour(voicing: Voicing, chord: Chord, tonic: int) -> Voicing:
    """Return the chord that sways from *chord* and back: its fourth and sixth over the same root.

    The third goes up to the fourth, the fifth to the sixth and a seventh to the root.  Nothing
    where *voicing* has no fifth or a colour, or the home note of the key would be on top.

    >>> neighbour((55, 58, 64), Chord.parse("I7"), 0), neighbour((64, 67, 70), Chord.parse("I7"), 0)
    ((57, 60, 65), ())
    """
    root = (tonic + chord.root.semitones) % 12
    ways = _SWAYS if chord.quality in ("", "6", "7") else {}
    classes = [(key - root) % _OCTAVE for key in voicing]
    if not {_THIRD, _FIFTH} <= set(classes) or not set(classes) <= set(ways):
        return ()
    found = {key + ways[away] for key, away in zip(voicing, classes, strict=True)}
    top = max(found)
    within = top <= HIGH + 2 and top % _OCTAVE != tonic and len(found) == len(voicing)
    return tuple(sorted(found)) if within else ()
