"""From chord to chord with small moves, and on to another place of the hand in each chorus."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from random import Random

from reedmill.band.chord_strokes import ChordStroke
from reedmill.band.feel import BandFeel
from reedmill.band.harmony import PlayedBar
from reedmill.band.moods import Mood, chance
from reedmill.band.voicing import HIGH, LOW, Family, Hand, Voicing, neighbour, voicings
from reedmill.score.arrangement import Part

# Where the highest voice is, as the middle of a chorus.  Chosen by ear, no published source.
_TOPS = (59.0, 64.5)
_FULLER = 1.0  # higher in a full chorus
_LED, _PULL, _FANCY = 0.7, 1.0, 5.0  # for each semitone of movement; away; by chance
_TOO_HIGH, _TOO_LOW = 5.0, 0.7  # for each over HIGH and under LOW

_COLOURED = 0.6  # of the choruses that may have ninths and thirteenths
_MOVES, _SWAYS = 0.6, {Mood.QUIET: 0.15, Mood.EVEN: 0.3, Mood.FULL: 0.4}
_STEP, _FARTHEST = range(1, 7), 16  # semitones of the top voice when it moves; of all together


class VoiceLeader:
    """A comper who chooses a voicing for each stroke."""

    def __init__(self, feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int) -> None:
        self._feel, self._tonic, self._seed = feel, tonic, seed
        self.family = Family.of(dict(feel.programs)[Part.COMP])
        self._major = not _minor_home(bars)
        self._may_colour = self._major and _bluesy(feel)

    def voiced(self, strokes: tuple[ChordStroke, ...]) -> Iterator[tuple[ChordStroke, Voicing]]:
        """Yield each of *strokes* with its voicing."""
        base: Voicing = ()  # the last voicing that is of the chord itself
        swayed = False
        for at, stroke in enumerate(strokes):
            before = strokes[at - 1] if at else None
            following = strokes[at + 1] if at + 1 < len(strokes) else None
            draw = chance(self._seed, "voicing", stroke.start)
            goes_on = before is not None and before.run == stroke.run
            sways: Voicing = ()
            if before is None or not goes_on:
                base = self._led(base, stroke, draw)
            elif before.bar is not stroke.bar:
                base = self._moved(base, stroke, draw)
            elif not swayed and following is not None and self._may_sway(stroke, following):
                sways = self._swayed(base, stroke, draw)
            swayed = bool(sways)
            yield stroke, sways or base

    def _hand(self, bar: PlayedBar) -> tuple[Hand, float]:
        return _hand(self._seed, bar.chorus, bar.mood, self.family, may_colour=self._may_colour)

    def _led(self, before: Voicing, stroke: ChordStroke, draw: Random) -> Voicing:
        """Return a voicing of a new chord with small moves from the one before."""
        hand, top = self._hand(stroke.bar)
        return min(
            voicings(stroke.chord, self._tonic, hand),
            key=lambda each: (
                _LED * movement(before, each) + _away(each, top) + draw.random() * _FANCY
            ),
        )

    def _moved(self, before: Voicing, stroke: ChordStroke, draw: Random) -> Voicing:
        """Return *before*, or by chance a voicing of the same chord with another top voice."""
        if draw.random() >= _MOVES:
            return before
        hand, top = self._hand(stroke.bar)
        near = [
            each
            for each in voicings(stroke.chord, self._tonic, hand)
            if abs(each[-1] - before[-1]) in _STEP and movement(before, each) <= _FARTHEST
        ]
        return min(near, key=lambda each: _away(each, top) + draw.random() * _FANCY, default=before)

    def _may_sway(self, stroke: ChordStroke, following: ChordStroke) -> bool:
        """Return True on a weak beat that the same chord follows soon in the same bar."""
        pulse, inside = self._feel.meter.pulse, stroke.start - stroke.bar.start
        soon = following.start - stroke.start <= 2 * pulse and following.bar is stroke.bar
        weak = inside % (2 * pulse) != 0
        return self._major and weak and soon and following.run == stroke.run

    def _swayed(self, base: Voicing, stroke: ChordStroke, draw: Random) -> Voicing:
        if draw.random() >= _SWAYS[stroke.bar.mood]:
            return ()
        return neighbour(base, stroke.chord, self._tonic)


def movement(before: Voicing, after: Voicing) -> int:
    """Return the total semitones the voices move, highest to highest and so on downwards."""
    return sum(abs(a - b) for a, b in zip(reversed(before), reversed(after), strict=False))


def _away(voicing: Voicing, top: float) -> float:
    """Measure how far a voicing is from where the hand is, and from where a harp is alone."""
    outside = _TOO_HIGH * max(0, voicing[-1] - HIGH) + _TOO_LOW * max(0, LOW - voicing[0])
    return _PULL * abs(voicing[-1] - top) + outside


@cache
def _hand(
    seed: int, chorus: int, mood: Mood, family: Family, *, may_colour: bool
) -> tuple[Hand, float]:
    """Draw how a player voices in a chorus, and about where the highest voice is."""
    draw = chance(seed, "hand", chorus)
    some = draw.choice((3, 4, 4))
    voices = {Mood.QUIET: 3, Mood.EVEN: some, Mood.FULL: 4}[mood]
    coloured = draw.random() < _COLOURED and may_colour and mood is not Mood.QUIET
    top = draw.uniform(*_TOPS) + (_FULLER if mood is Mood.FULL else 0)
    return Hand(family, voices, coloured), top


def _bluesy(feel: BandFeel) -> bool:
    """Return True for a feel in threes, where a dominant seventh has its colours.

    Common practice, no published source.
    """
    return feel.swing != 1 or feel.meter.compound


def _minor_home(bars: Iterable[PlayedBar]) -> bool:
    """Return True where home is minor: a dominant seventh then has no colours of the major key."""
    chords = {span.chord for bar in bars for span in bar.stretches}
    return any(chord.is_minor and not chord.root.semitones for chord in chords)
