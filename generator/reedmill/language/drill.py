"""A drill as it was written: the result of parsing, before any harp is chosen."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from reedmill.harp import Reed
from reedmill.score import Meter
from reedmill.source import Span


@dataclass(frozen=True, slots=True)
class Event:
    """One note or rest of a phrase.

    Exactly one of ``reed`` and ``role`` is set for a note; a rest has neither.
    """

    span: Span
    reed: Reed | None = None
    role: str | None = None  # a word of words.ROLES
    length: Fraction | None = None  # beats; None: the drill's usual length
    joined: bool = False  # slides in from the note before

    @property
    def rest(self) -> bool:
        """True for silence."""
        return self.reed is None and self.role is None

    @property
    def count(self) -> int:
        """Events this makes when it is played: one."""
        return 1


@dataclass(frozen=True, slots=True)
class BarCheck:
    """A ``|``: the writer's claim that a bar is full here."""

    span: Span

    @property
    def count(self) -> int:
        """Events this makes when it is played: none, but it costs as much to look at."""
        return 1


@dataclass(frozen=True, slots=True)
class Group:
    """Items in brackets, played *times* times."""

    span: Span
    items: tuple[Item, ...]
    times: int
    count: int  # events it makes when it is played
    nesting: int  # brackets inside brackets, 1 for a group of events


Item = Event | BarCheck | Group
Music = tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class RungItem:
    """A reed of the rungs line, or a run of them down one hole.

    ``how`` is ``one``, ``all`` (the natural note and its bends) or ``bends``; ``floor``
    is the deepest one wanted.
    """

    span: Span
    reed: Reed
    how: str = "one"
    floor: Reed | None = None


@dataclass(frozen=True, slots=True)
class Anchor:
    """The reed to come home to."""

    span: Span
    reed: Reed


@dataclass(frozen=True, slots=True)
class Parent:
    """The drill that a from line names."""

    span: Span
    title: str


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill of a pattern file.  A line that was not written is ``None`` or empty."""

    span: Span  # of the title
    title: str
    about: str | None = None
    level: int | None = None
    tempo_bpm: int | None = None
    meter: Meter | None = None
    length: Fraction | None = None  # usual length of a note, in beats
    anchor: Anchor | None = None
    rungs: tuple[RungItem, ...] = ()
    order: tuple[str, ...] = ()  # words of words.DIRECTIONS
    phrase: Music = ()
    ending: Music = ()
    play: Music = ()
    parent: Parent | None = None
    texts: dict[str, str] = field(default_factory=dict, compare=False, repr=False)

    @property
    def usual_length(self) -> Fraction:
        """Beats of a note without a length of its own."""
        return self.length or Fraction(1)
