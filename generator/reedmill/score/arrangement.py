"""An arrangement: every stroke of every player of a band, as heard, and the chords."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from fractions import Fraction

from reedmill.base.choosing import chosen_word
from reedmill.base.errors import InputError
from reedmill.base.text import ForeignText
from reedmill.theory.chords import Chord
from reedmill.theory.meter import Meter
from reedmill.theory.positions import Key

MOST_OFF = Fraction(1, 32)
"""The most a player is off the beat, as a share of the pulse: neighbours never change places."""

_FOUR = 5  # semitones from the root of the key to that of its four chord


class Part(Enum):
    """The players of a band; the value is the name that is shown."""

    BASS = "Bass"
    COMP = "Comp"
    DRUMS = "Drums"


@dataclass(frozen=True, slots=True)
class Struck:
    """One stroke of one player, at the time it is heard, swing and looseness included."""

    part: Part
    start: Fraction  # beats from the start
    length: Fraction  # beats, more than 0
    key: int  # MIDI key; for DRUMS one of the General MIDI percussion map, 35 to 81
    velocity: int  # 1 to 127


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A form played by a band in one key for a number of choruses.

    A beat is the lower number of the meter and the tempo counts ``Meter.pulse``, as in a
    score.
    """

    form: ForeignText  # its title
    feel: ForeignText  # its title
    key: Key
    meter: Meter
    tempo_bpm: int  # pulses a minute
    choruses: int
    seed: int  # what the band draws its choices by
    bars_a_chorus: int
    chords: tuple[tuple[Fraction, Chord], ...]  # where each starts, over all choruses, in order
    notes: tuple[Struck, ...]  # in time order
    length: Fraction  # beats to the end of the last bar
    programs: tuple[tuple[Part, int], ...]  # General MIDI programs from 0; DRUMS is a kit
    swing: Fraction = Fraction(1)  # first half of a beat to the second: 2 in a shuffle
    intro_bars: int = 0  # before the first chorus
    looseness: int = 0  # 0: every stroke exactly on its place; up to 3
    choices: tuple[str, ...] = ()  # what is unusual about the set, in words for file names
    stops: tuple[int, ...] = ()  # bars from 0, of every chorus, in which it strikes stops alone
    breaks: tuple[int, ...] = ()  # bars of every chorus in which it is silent after one beat
    road: str = ""  # what happens in the set besides the chords, for those who read the chart
    absent: tuple[Part, ...] = ()  # players who are left out, so that somebody else can play
    origins: tuple[str, ...] = field(default=(), compare=False, repr=False)
    """The files of its form and its feel, as their places name them."""

    def without(self, *players: Part) -> Arrangement:
        """Return the same arrangement with *players* left out.

        ``InputError`` when nobody is left who plays in it.
        """
        absent = tuple(part for part in Part if part in {*self.absent, *players})
        notes = tuple(note for note in self.notes if note.part not in absent)
        if absent and not notes:
            raise InputError(
                f"without {_listed(absent)} nobody of the band is left to play. Leave out fewer "
                "players."
            )
        return replace(self, absent=absent, notes=notes)

    @property
    def early(self) -> Fraction:
        """Beats before a bar line in which a stroke may belong to the bar after it."""
        return MOST_OFF * self.meter.pulse if self.looseness else Fraction(0)

    def chorus_start(self, chorus: int) -> Fraction:
        """Return the beat at which *chorus*, counted from 0, begins."""
        return Fraction((self.intro_bars + chorus * self.bars_a_chorus) * self.meter.beats)

    def bars_of(self, chorus: int) -> int:
        """Return the bars of *chorus*, counted from 0; the last may go on beyond the form."""
        if chorus < self.choruses - 1:
            return self.bars_a_chorus
        return int((self.length - self.chorus_start(chorus)) / self.meter.beats)

    @property
    def key_words(self) -> str:
        """The key as players say it: ``E``, ``E minor``, ``E dorian``."""
        return f"{self.key.name} {self.mode}".rstrip()

    @property
    def mode(self) -> str:
        """The word after the root: ``minor`` where the home chord has a minor third.

        The position alone does not tell: a form in minor may be played in 2nd position, and
        one in major in 3rd.  A minor home beside a major four is dorian, whose natural sixth
        is that chord's third.  Major keys have their name alone, because most forms have a
        flat seventh in the chord at home.  Common practice, no published source.
        """
        chords = [chord for _, chord in self.chords]
        thirds = {each.root.semitones: "b3" in dict(each.tones) for each in reversed(chords)}
        if not thirds.get(0, self.key.minor):
            return ""
        fours = [each for each in chords if each.root.semitones == _FOUR]
        dorian = bool(fours) and all("3" in dict(each.tones) for each in fours)
        return "dorian" if dorian else "minor"

    def seconds(self, beats: Fraction) -> Fraction:
        """Return exact seconds that *beats* last at this tempo."""
        return beats * 60 / (self.tempo_bpm * self.meter.pulse)

    def performed(self, beats: Fraction) -> Fraction:
        """Return when the notated place *beats* is heard, in beats."""
        return swung(beats, self.swing)

    def chord_at(self, beats: Fraction) -> Chord:
        """Return the chord in force at the notated place *beats*."""
        return self.chords[max(0, bisect_right(self.chords, beats, key=_start) - 1)][1]

    def changing(self, start: Fraction, end: Fraction) -> tuple[tuple[Fraction, Chord], ...]:
        """Return the chords that start from *start* to just before *end*, with their beats."""
        first = bisect_left(self.chords, start, key=_start)
        return self.chords[first : bisect_left(self.chords, end, lo=first, key=_start)]

    def changes_at(self, beats: Fraction) -> bool:
        """Return True where a chord starts at *beats*."""
        at = bisect_left(self.chords, beats, key=_start)
        return at < len(self.chords) and self.chords[at][0] == beats

    def program(self, part: Part) -> int:
        """Return the General MIDI program of *part*, from 0."""
        return dict(self.programs)[part]

    def of(self, part: Part) -> tuple[Struck, ...]:
        """Return the strokes of one player, in time order."""
        return tuple(note for note in self.notes if note.part is part)


def _start(change: tuple[Fraction, Chord]) -> Fraction:
    return change[0]


def parse_players(text: str) -> tuple[Part, ...]:
    """Parse players with commas between.

    ``InputError`` for one that there is not.

    >>> parse_players("drums, bass")
    (<Part.BASS: 'Bass'>, <Part.DRUMS: 'Drums'>)
    """
    names = {part.value.lower(): part for part in Part}
    words = [word.strip() for word in text.split(",") if word.strip()]
    asked = {names[chosen_word("player", word, names)] for word in words}
    return tuple(part for part in Part if part in asked)


def _listed(players: Sequence[Part]) -> str:
    *others, last = (part.value.lower() for part in players)
    return f"{', '.join(others)} and {last}" if others else last


def swung(beats: Fraction, ratio: Fraction) -> Fraction:
    """Return *beats* as moved by a swing of *ratio*: the half beat comes late.

    The first half of each beat lasts *ratio* times the second; what lies between is
    stretched alike.

    >>> swung(Fraction(5, 2), Fraction(2)), swung(Fraction(3), Fraction(2))
    (Fraction(8, 3), Fraction(3, 1))
    """
    beat, inside = divmod(beats, 1)
    first = ratio / (ratio + 1)
    half = Fraction(1, 2)
    if inside <= half:
        return beat + inside * 2 * first
    return beat + first + (inside - half) * 2 * (1 - first)
