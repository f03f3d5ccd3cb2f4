"""From chord to chord with small moves, and on to another place of the hand in each chorus."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from random import Random

from reedmill.band.chord_strokes import ChordStroke
from reedmill.band.feel import BandFeel
from reedmill.band.harmony import PHRASE, PlayedBar
from reedmill.band.moods import Mood, chance
from reedmill.band.voicing import HIGH, LOW, Family, Hand, Voicing, neighbour, voicings
from reedmill.score.arrangement import Part
from reedmill.theory.chords import Chord

# Where the highest voice is, as the middle of a chorus.  Chosen by ear, no published source.
_TOPS = (59.0, 64.5)
_ORGAN_HIGHER = 2.0  # an organ, whose low notes are the bass's
_FULLER = 2.0  # higher in a full chorus
_LED, _PULL, _FANCY = 0.7, 1.0, 2.0  # for each semitone of movement; away; by chance
_TOO_HIGH, _TOO_LOW = 5.0, 0.7  # for each over HIGH and under LOW
_UNHEARD = 25.0  # against a change of chord that moves no voice, or the whole shape
_LEAPS = 20.0  # for each semitone over a fifth in the line of the highest voices

_PLAIN = 2.5  # against a chord with its root in a full chorus, where a colour may stand for it
_DRIVEN = (29, 30)  # overdriven and distorted guitars, whose thick chords are mud
_SLOW_BPM = 100
_COLOURED, _NOW_AND_THEN = 0.75, 0.25  # of the choruses that may have ninths and thirteenths
_SWAYS = {Mood.QUIET: 0.15, Mood.EVEN: 0.3, Mood.FULL: 0.4}
_SWAY_ON = (0, 5)  # I and IV: over V they would be home too early, over others of another key
_FIFTH, _STEP, _FARTHEST = 7, 5, 16  # semitones of the top voice; when it moves; of all together

# A second melody under that of the harp: where the highest voice goes in four bars, two places in
# each, in steps from the middle.  Our own; that a comper thinks of one is common practice.
_LINES = (
    (0, 1, 2, 1, 0, -1, 0, 1),
    (1, 0, -1, 0, 1, 2, 1, 0),
    (-1, 0, 1, 2, 1, 2, 1, 0),
    (2, 1, 0, 1, 0, -1, 0, -1),
    (0, -1, 0, 1, 0, 1, 2, 1),
    (0, 1, 0, -1, -2, -1, 0, 1),
)
_HOMEWARD = ((1, 2, 1, 2, 1, 0, -1, -2), (0, 1, 2, 1, 2, 1, 0, -1))  # down the turnaround
_A_STEP = 2.0  # semitones
_MOVES, _MOVES_INSIDE = 0.8, 0.35  # into a new bar; to the second place of one
_LONG, _STAYS = 3, 1.5  # places that it may stay for; against each of them
_BACK = 2.5  # against going where it came from


@dataclass(slots=True)
class _Line:
    """The way that the highest voice has gone."""

    now: int = 0
    before: int = 0  # another key, where it came from
    stays: int = 0  # places it has been on *now* for, after the first

    def goes_to(self, key: int) -> None:
        """Go on to *key* at a new place."""
        if key == self.now:
            self.stays += 1
        else:
            self.before, self.now, self.stays = self.now, key, 0

    def dull(self, key: int) -> float:
        """Measure how dull *key* is: the same for long, or there and back."""
        return _STAYS * self.stays if key == self.now else _BACK * (key == self.before)


class VoiceLeader:
    """A comper who chooses a voicing for each stroke."""

    def __init__(self, feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int) -> None:
        self._feel, self._tonic, self._seed = feel, tonic, seed
        self.family = Family.of(dict(feel.programs)[Part.COMP])
        self._major = not _minor_home(bars)
        self._last_phrase = {bar.chorus: bar.phrase for bar in bars}
        self._driven = dict(feel.programs)[Part.COMP] in _DRIVEN
        self._often = _COLOURED if _jazzy(feel) else _NOW_AND_THEN if _bluesy(feel) else 0.0
        self._higher = _ORGAN_HIGHER if self.family is Family.ORGAN else 0.0

    def voiced(self, strokes: tuple[ChordStroke, ...]) -> Iterator[tuple[ChordStroke, Voicing]]:
        """Yield each of *strokes* with its voicing."""
        struck = [each for each in strokes if not self._dead(each)]
        found = dict(zip((each.start for each in struck), self._voiced(struck), strict=True))
        of_chord = {each.run: found[each.start] for each in reversed(struck)}
        last: Voicing = ()
        run = -1
        for stroke in strokes:
            if stroke.start in found:
                last = found[stroke.start]
            elif stroke.run != run:
                last = of_chord.get(stroke.run, last)
            run = stroke.run
            if last:
                yield stroke, last

    def _dead(self, stroke: ChordStroke) -> bool:
        """Return True for a stroke over muted strings, which has no chord of its own."""
        return self.family is Family.GUITAR and stroke.stroke.ghost

    def _voiced(self, strokes: list[ChordStroke]) -> Iterator[Voicing]:
        base: Voicing = ()  # the last voicing that is of the chord itself
        line = _Line()
        swayed: PlayedBar | None = None  # the bar that has had its neighbour chord
        for before, stroke, following in zip(
            [None, *strokes], strokes, [*strokes[1:], None], strict=False
        ):
            draw = chance(self._seed, "voicing", stroke.start)
            sways: Voicing = ()
            goes_on = before is not None and before.run == stroke.run
            if before is None or not goes_on:
                base = self._led(base, stroke, line, draw)
            elif self._place(before) != self._place(stroke):
                moves = _MOVES_INSIDE if before.bar is stroke.bar else _MOVES
                if line.stays >= _LONG or draw.random() < moves:
                    base = self._moved(base, stroke, line, draw)
            elif stroke.bar is not swayed and following and self._may_sway(stroke, following):
                sways = self._swayed(base, stroke, draw)
                swayed = stroke.bar if sways else swayed
            if before is None or self._place(before) != self._place(stroke):
                line.goes_to(base[-1])
            yield sways or base

    def _hand(self, bar: PlayedBar) -> tuple[Hand, float]:
        hand, top = _hand(self._seed, bar.chorus, bar.mood, self.family, self._often)
        hand = replace(hand, minor=not self._major)
        return (replace(hand, voices=3) if self._driven else hand), top

    def _place(self, stroke: ChordStroke) -> int:
        """Return the place of a stroke in the line of its four bars: two in each bar."""
        bar = stroke.bar
        half = 2 * (stroke.start - bar.start) >= self._feel.meter.beats
        return 2 * (bar.number % PHRASE) + half

    def _top(self, stroke: ChordStroke) -> tuple[Hand, float]:
        """Return the hand, and where the line wants the highest voice."""
        hand, middle = self._hand(stroke.bar)
        bar = stroke.bar
        lines = _HOMEWARD if bar.phrase == self._last_phrase[bar.chorus] > 0 else _LINES
        line = chance(self._seed, "line", bar.chorus, bar.phrase).choice(lines)
        return hand, middle + self._higher + _A_STEP * line[self._place(stroke)]

    def _away(self, voicing: Voicing, top: float) -> float:
        """Measure how far a voicing is from where the hand is, and from where a harp is alone."""
        too_high = max(0.0, voicing[-1] - HIGH - self._higher)
        outside = _TOO_HIGH * too_high + _TOO_LOW * max(0, LOW - voicing[0])
        return _PULL * abs(voicing[-1] - top) + outside

    def _led(self, before: Voicing, stroke: ChordStroke, line: _Line, draw: Random) -> Voicing:
        """Return a voicing of a new chord with small moves from the one before.

        The highest voice, which has stayed for some time, is the freer to move.
        """
        hand, top = self._top(stroke)
        known = voicings(stroke.chord, self._tonic, hand)
        if all(_leap(before, each) for each in known):
            known += voicings(stroke.chord, self._tonic, _other(hand))
        return min(
            known,
            key=lambda each: (
                _LED * movement(before, each)
                + self._away(each, top)
                + _leap(before, each)
                + line.dull(each[-1])
                + _UNHEARD * _slid(before, each)
                + self._plain(each, stroke, hand)
                + draw.random() * _FANCY
            ),
        )

    def _moved(self, base: Voicing, stroke: ChordStroke, line: _Line, draw: Random) -> Voicing:
        """Return a voicing of the same chord with another top voice near that of *base*."""
        hand, top = self._top(stroke)
        near = self._near(base, stroke.chord, hand) or self._near(base, stroke.chord, _other(hand))
        return min(
            near,
            key=lambda each: (
                _LED * movement(base, each) / 2
                + self._away(each, top)
                + line.dull(each[-1])
                + self._plain(each, stroke, hand)
                + draw.random() * _FANCY
            ),
            default=base,
        )

    def _plain(self, voicing: Voicing, stroke: ChordStroke, hand: Hand) -> float:
        """Measure how plain a dominant seventh is where a band gives all it has."""
        full = stroke.bar.mood is Mood.FULL and self._often == _COLOURED
        if not full or not hand.coloured or stroke.chord.quality != "7":
            return 0.0
        root = (self._tonic + stroke.chord.root.semitones) % 12
        return _PLAIN * any(key % 12 == root for key in voicing)

    def _near(self, base: Voicing, chord: Chord, hand: Hand) -> list[Voicing]:
        """Return the voicings of a chord with another top voice near that of *base*."""
        return [
            each
            for each in voicings(chord, self._tonic, hand)
            if 0 < abs(each[-1] - base[-1]) <= _STEP
            and movement(base, each) <= _FARTHEST
            and each[-1] <= max(HIGH + 2 + self._higher, base[-1])
        ]

    def _may_sway(self, stroke: ChordStroke, following: ChordStroke) -> bool:
        """Return True on a weak beat that the same chord follows soon in the same bar.

        It is I or IV, both strokes are heard, and the beat has no accent.
        """
        pulse, inside = self._feel.meter.pulse, stroke.start - stroke.bar.start
        soon = following.start - stroke.start <= 2 * pulse and following.bar is stroke.bar
        weak = inside % (2 * pulse) != 0 and inside not in self._feel.accents
        heard = not stroke.stroke.ghost and not following.stroke.ghost
        of_the_key = stroke.chord.root.semitones in _SWAY_ON
        return (
            self._major and of_the_key and weak and soon and heard and following.run == stroke.run
        )

    def _swayed(self, base: Voicing, stroke: ChordStroke, draw: Random) -> Voicing:
        if draw.random() >= _SWAYS[stroke.bar.mood]:
            return ()
        return neighbour(base, stroke.chord, self._tonic)


def movement(before: Voicing, after: Voicing) -> int:
    """Return the total semitones the voices move, highest to highest and so on downwards."""
    return sum(abs(a - b) for a, b in zip(reversed(before), reversed(after), strict=False))


def _slid(before: Voicing, after: Voicing) -> bool:
    """Return True where no voice moves, or all of them far and alike."""
    moves = {b - a for a, b in zip(before, after, strict=False)}
    alike = len(moves) == 1 and len(before) == len(after)
    return alike and (0 in moves or abs(min(moves)) > _A_STEP)


def _leap(before: Voicing, after: Voicing) -> float:
    """Measure how far over a fifth the highest voice leaps."""
    return _LEAPS * max(0, abs(after[-1] - before[-1]) - _FIFTH) if before else 0.0


def _other(hand: Hand) -> Hand:
    """Return a hand with a voice more or less, where the usual one has nothing near."""
    return replace(hand, voices=7 - hand.voices)


@cache
def _hand(seed: int, chorus: int, mood: Mood, family: Family, often: float) -> tuple[Hand, float]:
    """Draw how a player voices in a chorus, and about where the highest voice is."""
    draw = chance(seed, "hand", chorus)
    some = draw.choice((3, 4, 4))
    voices = {Mood.QUIET: 3, Mood.EVEN: some, Mood.FULL: 4}[mood]
    coloured = draw.random() < (1.0 if mood is Mood.FULL and often == _COLOURED else often)
    top = draw.uniform(*_TOPS) + (_FULLER if mood is Mood.FULL else 0)
    return Hand(family, voices, coloured), top


def _jazzy(feel: BandFeel) -> bool:
    """Return True for a feel with a walking bass, sixteenths or slow beats: sevenths have colours.

    Common practice, no published source.
    """
    walks = any(each.word == "walk" for way in feel.bass for bar in way for each in bar)
    sixteenths = any(
        each.at % feel.meter.pulse not in (0, feel.meter.pulse / 2)
        for way in feel.comp
        for bar in way
        for each in bar
    )
    return walks or sixteenths or (feel.tempo_goal_bpm or feel.tempo_bpm) <= _SLOW_BPM


def _bluesy(feel: BandFeel) -> bool:
    """Return True for a feel in threes, where they have them now and then; as above."""
    return feel.swing != 1 or feel.meter.compound


def _minor_home(bars: Iterable[PlayedBar]) -> bool:
    """Return True where home is minor: a dominant seventh then has no colours of the major key."""
    chords = {span.chord for bar in bars for span in bar.stretches}
    return any(chord.is_minor and not chord.root.semitones for chord in chords)
