"""Marks of style: vibrato, shake, scoop, fall, slap, pull and hand mute.

How each is played, how deep and how long, is common practice, no published source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Mark(Enum):
    """One way to shape a note; its value is its word in the pattern language."""

    MUTE = "mute"  # the hands closed round the harp
    SLAP = "slap"  # a chord for an instant, then the tongue leaves the written holes
    SCOOP = "scoop"  # in from a bend below
    VIBRATO = "vibrato"
    SHAKE = "shake"  # to and fro between two holes
    FALL = "fall"  # off into a bend below
    PULL = "pull"  # the tongue is pulled away, and the chord sounds for an instant

    @property
    def needs_attack(self) -> bool:
        """True where it shapes the beginning of a note, which a slide does not have."""
        return self in (Mark.SLAP, Mark.SCOOP)

    @property
    def ends(self) -> bool:
        """True where it shapes the end of a note, from which no slide can leave."""
        return self in (Mark.FALL, Mark.PULL, Mark.SHAKE)


COUNTED = (Mark.VIBRATO, Mark.SHAKE)
"""The marks that go to and fro, so many times a beat."""

VIBRATO_HZ, SHAKE_HZ = 5.0, 6.0
"""The speed that a vibrato and a shake take the nearest count a beat to, where none is written."""

COUNTS = range(1, 13)
"""How many times a beat a vibrato or a shake may go to and fro."""

VIBRATO_CENTS = 20.0
"""How far a vibrato goes to either side of its note, in cents; the mean stays in tune."""

SCOOP_S, FALL_S = 0.12, 0.25
"""How long a scoop and a fall take, in seconds, where the note is long enough for them."""

BURST_S = 0.06
"""How long the chord of a slap or a pull sounds, in seconds, where the note is long enough."""

BURST_HOLES = 3
"""The holes of the chord of a slap or a pull of one hole, that one among them."""


@dataclass(frozen=True, slots=True)
class Style:
    """The marks of one note, in the order of ``Mark``, each once."""

    marks: tuple[Mark, ...] = ()
    a_beat: int | None = None  # how often a vibrato or shake goes to and fro in a beat

    def __contains__(self, mark: Mark) -> bool:
        return mark in self.marks

    @property
    def words(self) -> tuple[str, ...]:
        """The words of the pattern language, in order: ``slap``, ``vibrato4``."""
        return tuple(
            f"{mark.value}{self.a_beat or ''}" if mark in COUNTED else mark.value
            for mark in self.marks
        )

    @property
    def said(self) -> tuple[str, ...]:
        """The words as a teacher reads them: ``slap``, ``vibrato, 4 a beat``."""
        return tuple(
            f"{mark.value}, {self.a_beat} a beat" if mark in COUNTED and self.a_beat else mark.value
            for mark in self.marks
        )

    def under(self, outer: Style) -> Style:
        """Return the style of a note inside brackets that have an *outer* one."""
        if not outer.marks:
            return self
        own = [mark for mark in self.marks if mark in COUNTED]
        marks = {*self.marks, *(each for each in outer.marks if not own or each not in COUNTED)}
        a_beat = self.a_beat or (None if own else outer.a_beat)
        return Style(tuple(mark for mark in Mark if mark in marks), a_beat)

    def without(self, *marks: Mark) -> Style:
        """Return the style without some *marks*."""
        left = tuple(mark for mark in self.marks if mark not in marks)
        return Style(left, self.a_beat if any(mark in COUNTED for mark in left) else None)

    def counted(self, beats_a_second: float) -> Style:
        """Return the style with the count a beat that comes nearest to the usual speed."""
        wanted = {Mark.VIBRATO: VIBRATO_HZ, Mark.SHAKE: SHAKE_HZ}
        hz = next((wanted[mark] for mark in self.marks if mark in wanted), None)
        if hz is None or self.a_beat is not None:
            return self
        return Style(self.marks, min(COUNTS, key=lambda count: abs(count * beats_a_second - hz)))


PLAIN = Style()
"""A note without marks of style."""
