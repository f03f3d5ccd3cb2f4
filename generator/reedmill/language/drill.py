"""A drill as written: the result of parsing, before any harp is chosen."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT, ForeignText
from reedmill.harp import Reed
from reedmill.language.words import VALUES
from reedmill.score.score import Embouchure, Feel, Meter
from reedmill.score.style import PLAIN, Style
from reedmill.theory.chords import Chord
from reedmill.theory.degrees import Degree


@dataclass(frozen=True, slots=True)
class Sung:
    """A degree in an octave: the notes of a tune line."""

    degree: Degree  # perhaps a quarter tone lower
    octave: int = 0  # octaves above the one that starts on the tune's home root

    @property
    def semitones(self) -> int:
        """Semitones above the root of octave 0."""
        return 12 * self.octave + self.degree.semitones


@dataclass(frozen=True, slots=True)
class Event:
    """One note or rest of a phrase.

    Exactly one of ``reed``, ``role`` and ``sung`` is set for a note; a rest has none.  Where
    several holes are played at once, it is the highest of them.
    """

    span: Span
    reed: Reed | None = None
    role: str | None = None  # a word of words.ROLES
    sung: Sung | None = None
    length: Fraction | None = None  # beats; None: the drill's usual length
    joined: bool = False  # slides in from the note before
    accent: bool = False
    beside: tuple[Reed, ...] = ()  # the other holes of the breath, the lowest first
    sung_beside: tuple[Sung, ...] = ()  # the other degrees of the breath, the lowest first
    style: Style = PLAIN
    slide_beats: Fraction | None = None  # None: as quick as usual

    @property
    def reeds(self) -> tuple[Reed, ...]:
        """The reeds that are written, by hole, the lowest first."""
        return (*self.beside, self.reed) if self.reed else ()

    @property
    def rest(self) -> bool:
        """True for silence."""
        return self.reed is None and self.role is None and self.sung is None

    @property
    def count(self) -> int:
        """The number of events when played: one."""
        return 1


@dataclass(frozen=True, slots=True)
class BarCheck:
    """A ``|``: the writer's claim that a bar is full here."""

    span: Span

    @property
    def count(self) -> int:
        """The number of events to limit by: none are played, but each costs time to check."""
        return 1


@dataclass(frozen=True, slots=True)
class Group:
    """Items in brackets, played *times* times, perhaps with a different ending each time."""

    span: Span
    items: tuple[Item, ...]
    times: int
    count: int  # events it makes when it is played
    nesting: int  # brackets inside brackets, 1 for a group of events
    endings: tuple[tuple[Item, ...], ...] = ()  # as many as times, or none
    triplet: bool = False  # three in the time of two
    style: Style = PLAIN  # of each of its notes, besides their own

    @property
    def passes(self) -> list[tuple[Item, ...]]:
        """The items of each pass."""
        if self.endings:
            return [self.items + ending for ending in self.endings]
        return [self.items] * self.times


Item = Event | BarCheck | Group
Music = tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class RungItem:
    """A reed of the rungs line, several in one breath, or a run of reeds down one hole.

    ``how`` is ``one``, ``all`` (the natural note and its bends) or ``bends``; ``floor``
    is the deepest one wanted.
    """

    span: Span
    reed: Reed  # the highest, where several holes are played at once
    how: str = "one"
    floor: Reed | None = None
    beside: tuple[Reed, ...] = ()  # the other holes of the breath, the lowest first


@dataclass(frozen=True, slots=True)
class Anchor:
    """The reed to come home to, or several in one breath.

    ``None`` is the root of the position nearest to the rungs.
    """

    span: Span
    reed: Reed | None  # the highest, where several holes are played at once
    beside: tuple[Reed, ...] = ()  # the other holes of the breath, the lowest first


@dataclass(frozen=True, slots=True)
class TuneOctave:
    """The octave of the harp in which the home root of the drill's tunes lies.

    ``number`` is 0 from hole 1 blow up, 1 an octave higher, 2 two.
    """

    span: Span
    number: int


@dataclass(frozen=True, slots=True)
class Parent:
    """The drill that a from line names."""

    span: Span
    title: ForeignText


@dataclass(frozen=True, slots=True)
class Move:
    """The holes by which the lines taken over from the parent are shifted."""

    span: Span
    holes: int  # up the harp; negative is down


@dataclass(frozen=True, slots=True)
class FormPlace:
    """The place of a form that a phrase is for: a chord of it, its turnaround or its ending."""

    name: str  # as it is written: I, iv, turnaround
    chord: Chord | None = None  # None for turnaround and ending

    @classmethod
    def parse(cls, text: str) -> FormPlace:
        """Parse a chord as forms write it, or a word for the end of a chorus; else ``InputError``.

        >>> FormPlace.parse("bVI7").name, FormPlace.parse("Ending").name
        ('bVI7', 'ending')
        """
        if text.lower() in VALUES["over"]:
            return cls(text.lower())
        chord = Chord.parse(text)
        return cls(chord.name, chord)

    def serves(self, other: FormPlace) -> bool:
        """Tell whether what is meant for this place is meant for the *other* one too.

        Any chord on the same degree will do, but what is for a minor chord is for no major one.

        >>> FormPlace.parse("IV").serves(FormPlace.parse("iv7"))
        True
        """
        if self.chord is None or other.chord is None:
            return self == other
        return self.chord.root == other.chord.root and (
            other.chord.is_minor or not self.chord.is_minor
        )


@dataclass(frozen=True, slots=True)
class Section:
    """A named part of a drill with music of its own; what it lacks comes from the drill."""

    span: Span  # of the name
    name: ForeignText
    length: Fraction | None = None
    order: tuple[str, ...] = ()
    phrase: Music = ()
    ending: Music = ()
    play: Music = ()
    tune: Music = ()
    echo: bool = False


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill of a pattern file; an unwritten line is ``None`` or empty."""

    span: Span  # of the title
    title: ForeignText
    about: ForeignText | None = None
    listen: ForeignText | None = None  # what to listen for
    level: int | None = None
    positions: tuple[int, ...] = ()  # the ones it is meant for; empty: all twelve
    over: tuple[FormPlace, ...] = ()  # of a phrase of two bars: where it is meant to stand
    tempo_bpm: int | None = None
    tempo_goal_bpm: int | None = None  # the end of the suggested range
    meter: Meter | None = None
    feel: Feel | None = None
    pickup: Fraction | None = None  # beats before the first whole bar
    length: Fraction | None = None  # usual length of a note, in beats
    overbends: bool = False  # whether a tune may use them
    octave: TuneOctave | None = None  # of its tunes; None: the lowest that has all their notes
    embouchures: tuple[Embouchure, ...] = ()  # each makes a version of the drill
    anchor: Anchor | None = None
    rungs: tuple[RungItem, ...] = ()
    order: tuple[str, ...] = ()  # words of words.DIRECTIONS
    phrase: Music = ()
    ending: Music = ()
    play: Music = ()
    tune: Music = ()  # as degrees
    echo: bool = False  # the same time again, left open, after every phrase
    sections: tuple[Section, ...] = ()
    parent: Parent | None = None
    move: Move | None = None
    texts: dict[str, str] = field(default_factory=dict, compare=False, repr=False)
    # the nearest move of what it took over: its own, or that of a drill it is made from
    moved: Move | None = field(default=None, compare=False, repr=False)
    # True where mistakes were gathered, and something of the drill is missing because of one
    broken: bool = field(default=False, compare=False, repr=False)

    def stands_over(self, place: FormPlace) -> bool:
        """Tell whether the drill is a phrase that is meant for *place*."""
        return any(each.serves(place) for each in self.over)

    @property
    def parts(self) -> tuple[Section, ...]:
        """The drill's own music as a section without a name, then its sections.

        Each comes with the length, order and echo it inherits.
        """
        own = Section(
            self.span, NO_TEXT, self.length, self.order, self.phrase, self.ending, self.play,
            self.tune, self.echo,
        )  # fmt: skip
        named = (
            Section(
                each.span, each.name, each.length or self.length, each.order or self.order,
                each.phrase, each.ending, each.play, each.tune, each.echo or self.echo,
            )
            for each in self.sections
        )  # fmt: skip
        has_music = self.phrase or self.play or self.tune or self.ending
        return (*([own] if has_music else []), *named)

    def count(self, rungs: int) -> int:
        """Return the events of the drill when its rungs line comes to *rungs* reeds."""
        found = 0
        for part in self.parts:
            turns = rungs * len(part.order or ("listed",))
            found += turns * sum(item.count for item in part.phrase)
            found += sum(item.count for item in part.play + part.tune + part.ending)
        return found
