"""The manners in which an organist, a pianist and a guitarist strike and hold a chord.

Common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from reedmill.band.chord_strokes import ChordStroke
from reedmill.band.feel import GHOST, BandFeel
from reedmill.band.harmony import PlayedBar
from reedmill.band.hit import Hit
from reedmill.band.moods import Mood, chance
from reedmill.band.voicing import Family, Voicing
from reedmill.score.arrangement import Part

Voiced = tuple[ChordStroke, Voicing]

_SHELL = -6  # velocity of a pianist's left hand
_AGAIN = Fraction(3, 4)  # of its length, when the same chord is struck once more in a bar
_CRUSHED = Fraction(1, 12)  # of a tap of the foot: a note that falls into the third
_CRUSHES = {Mood.QUIET: 0.0, Mood.EVEN: 0.05, Mood.FULL: 0.08}  # how often
_A_STRING = 5  # milliseconds from one string to the next
_SCRATCH, _SCRATCHED = Fraction(1, 16), 2  # of a tap of the foot; strings
_UP = -7  # velocity of a stroke upwards
_SWELL = 4  # velocity from the first bar of a chorus to its last
_MAJOR_THIRD = 4


def struck_by(
    family: Family, voiced: Iterable[Voiced], feel: BandFeel, tonic: int, seed: int
) -> list[Hit]:
    """Return the strokes of *voiced* as a player of *family* plays them."""
    if family is Family.ORGAN:
        return _organ(list(voiced))
    if family is Family.GUITAR:
        return [hit for each in voiced for hit in _strummed(each, feel)]
    if family is Family.PIANO:
        return list(_piano(list(voiced), feel, tonic, seed))
    return [hit for each in voiced for hit in _together(each)]


def _together(voiced: Voiced) -> Iterator[Hit]:
    stroke, keys = voiced
    for key in keys:
        yield Hit(Part.COMP, stroke.start, stroke.end, key, stroke.stroke.louder)


def _strummed(voiced: Voiced, feel: BandFeel) -> Iterator[Hit]:
    """Yield a chord string by string: down on the beat, up and softer between beats.

    A ghost stroke is a scratch over the strings that the hand still holds.
    """
    stroke, keys = voiced
    if stroke.stroke.ghost:
        stroke = replace(stroke, end=min(stroke.end, stroke.start + feel.meter.pulse * _SCRATCH))
        keys = keys[-_SCRATCHED:]
    up = (stroke.start - stroke.bar.start) % feel.meter.pulse != 0
    for at, hit in enumerate(_together((stroke, keys[::-1] if up else keys))):
        yield replace(hit, spread_ms=at * _A_STRING, louder=hit.louder + (_UP if up else 0))


def _organ(voiced: list[Voiced]) -> list[Hit]:
    """Return chords that keep the keys they have in common, and swell over a chorus."""
    hits: list[Hit] = []
    sounding: dict[int, int] = {}  # each key of the last chord, and its place in *hits*
    swells = _swells(stroke.bar for stroke, _ in voiced)
    for stroke, keys in voiced:
        common = set(keys) & set(sounding) if _tied(stroke, keys, hits, sounding) else set[int]()
        now: dict[int, int] = {}
        for hit in _together((stroke, keys)):
            if hit.key in common:
                now[hit.key] = sounding[hit.key]
                hits[now[hit.key]] = replace(hits[now[hit.key]], end=hit.end)
            else:
                now[hit.key] = len(hits)
                hits.append(replace(hit, louder=hit.louder + swells[stroke.bar.start], steady=True))
        sounding = now
    return hits


def _tied(stroke: ChordStroke, keys: Voicing, hits: list[Hit], sounding: dict[int, int]) -> bool:
    """Return True for a held chord that another one goes over into without a gap."""
    if not sounding or stroke.stroke.word != "held" or set(keys) == set(sounding):
        return False
    opens = stroke.bar.number == 0 and stroke.start == stroke.bar.start
    return not opens and all(hits[at].end == stroke.start for at in sounding.values())


def _swells(bars: Iterable[PlayedBar]) -> dict[Fraction, int]:
    """Return how much louder each of *bars* is, by its start: from below 0 to above it."""
    known = {bar.start: bar for bar in bars}
    last: dict[int, int] = {}
    for bar in known.values():
        last[bar.chorus] = max(last.get(bar.chorus, 1), bar.number)
    return {
        start: round(_SWELL * bar.number / last[bar.chorus]) - _SWELL // 2
        for start, bar in known.items()
    }


def _piano(voiced: list[Voiced], feel: BandFeel, tonic: int, seed: int) -> Iterator[Hit]:
    """Yield a soft shell under the right hand; the same chord again is shorter."""
    before: Voiced | None = None
    crushed: PlayedBar | None = None
    for each in voiced:
        stroke, keys = each
        length = stroke.end - stroke.start
        if before and before[1] == keys and _is_again(before[0], stroke):
            length *= _AGAIN
        free = before[0].end if before else Fraction(0)
        if stroke.bar is not crushed:  # once in a bar
            for hit in _crushed(each, free, feel, tonic, seed):
                crushed = stroke.bar
                yield hit
        for at, hit in enumerate(_together(each)):
            softer = _SHELL if at < 2 else 0
            yield replace(hit, end=stroke.start + length, louder=hit.louder + softer)
        before = each


def _is_again(before: ChordStroke, stroke: ChordStroke) -> bool:
    """Return True for a second stroke in a bar whose length is the player's to choose."""
    open_end = stroke.stroke.length is None and stroke.stroke.word != "held"
    same = before.bar is stroke.bar and before.run == stroke.run
    return open_end and same and not stroke.bar.last


def _crushed(
    voiced: Voiced, free: Fraction, feel: BandFeel, tonic: int, seed: int
) -> Iterator[Hit]:
    """Yield by chance a short minor third before a chord, which falls into its major one.

    There is time for it after *free*.
    """
    stroke, keys = voiced
    start = stroke.start - feel.meter.pulse * _CRUSHED
    root = tonic + stroke.chord.root.semitones
    third = next((key for key in keys[1:] if (key - root) % 12 == _MAJOR_THIRD), None)
    if third is None or {third - 1, third - 2} & set(keys) or start < max(free, stroke.bar.start):
        return
    if chance(seed, "crushed", stroke.start).random() < _CRUSHES[stroke.bar.mood]:
        yield Hit(Part.COMP, start, stroke.start, third - 1, GHOST // 2 + stroke.stroke.louder)
