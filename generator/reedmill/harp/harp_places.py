"""A harp in a position: the scale of its natural notes, its home, and what it is good for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import TYPE_CHECKING

from reedmill.harp.harp import Harp, note_on_harp
from reedmill.theory.modes import FIFTH, MAJOR_THIRD, MINOR_THIRD, scales_in
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reedmill.harp.reeds import Reed


class SongFit(Enum):
    """The share of songs that a harp in a position is ready for."""

    GOOD = "good"
    CARE = "with care"  # a note of the scale is foreign to most songs
    HARD = "hard"  # home or its fifth is a bend


@dataclass(frozen=True, slots=True)
class PlaceUse:
    """A row of the table of uses."""

    scale: str  # of the natural notes
    fit: SongFit
    good_for: str
    position: int | None = None  # None: any that no other row names
    in_minor: str = ""  # instead, for a song in minor


# What a position is good for: common practice of players and teachers, no published source.
# Only what is played there stands here: which notes, homes and thirds a position has is derived
# from the harp.
_USES = (
    PlaceUse(
        "mixolydian", SongFit.GOOD, "blues, rock and country: most harp playing is done here", 2,
        "songs in minor over which the band plays a blues: the natural third is major, and you "
        "bend it down",
    ),
    PlaceUse("mixolydian", SongFit.GOOD, "rock and folk tunes in major whose seventh is flat"),
    PlaceUse("ionian", SongFit.GOOD, "tunes in major: folk songs, hymns, waltzes"),
    PlaceUse("dorian", SongFit.GOOD, "minor blues, and rock, jazz and folk tunes in minor"),
    PlaceUse(
        "aeolian", SongFit.GOOD, "songs in natural minor: ballads, laments, folk and rock songs"
    ),
    PlaceUse("harmonic minor", SongFit.GOOD, "songs in minor whose five chord is major"),
    PlaceUse(
        "phrygian", SongFit.CARE,
        "Spanish colours; most songs in minor have no flat second, so try it before you count on "
        "it",
    ),
    PlaceUse(
        "lydian", SongFit.CARE,
        "bright tunes in major; most have no sharp fourth, so try it before you count on it",
    ),
    PlaceUse(
        "locrian", SongFit.HARD, "studies: its own fifth is flat, and hardly any song rests here"
    ),
)  # fmt: skip
_NO_HOME = PlaceUse("", SongFit.HARD, "players who bend in tune: no natural note is home")
_NO_FIFTH = PlaceUse(
    "", SongFit.HARD, "studies: no natural note is the fifth, and hardly any song rests here"
)
_OTHER = PlaceUse("", SongFit.CARE, "tunes that need no more than its notes")


@dataclass(frozen=True)
class HarpPlace:
    """One harp in one position.

    >>> place = HarpPlace(Harp("C"), Position(2))
    >>> place.scale, place.degrees, [reed.tab for reed in place.home]
    ('mixolydian', ('1', '2', '3', '4', '5', '6', 'b7'), ['-2', '3', '6', '9'])
    """

    harp: Harp
    position: Position

    @property
    def root(self) -> int:
        """Home, as semitones above C, 0 to 11."""
        return self.harp.key_in(self.position).pitch_class

    @cached_property
    def steps(self) -> tuple[int, ...]:
        """The natural notes in semitones above home, rising, each once."""
        above = (self.position.number - 1) * FIFTH
        return tuple(sorted((each - above) % 12 for each in self.harp.layout.naturals))

    @property
    def scales(self) -> tuple[str, ...]:
        """The scales that the natural notes give from home; none where home is not natural."""
        return tuple(each.name for each in scales_in(self.steps))

    @property
    def scale(self) -> str:
        """The scales in words: ``mixolydian``, ``ionian and mixolydian``, or nothing."""
        return " and ".join(self.scales)

    @property
    def degrees(self) -> tuple[str, ...]:
        """The degrees that natural notes give, rising; none where home is not natural."""
        if not self.home:
            return ()
        key = self.harp.key_in(self.position)
        return tuple(self.position.degree(self.root + each, key).name for each in self.steps)

    @cached_property
    def home(self) -> tuple[Reed, ...]:
        """The natural notes that are home, low to high."""
        return tuple(reed for reed in self._at(0) if reed == reed.natural and not reed.over)

    @property
    def bent_home(self) -> tuple[Reed, ...]:
        """The bends that are home, or the overbends where no bend is."""
        bends = tuple(reed for reed in self._at(0) if reed.bend)
        return bends or tuple(reed for reed in self._at(0) if reed.over)

    @property
    def bent_thirds(self) -> tuple[Reed, ...]:
        """The bends that are the flat third."""
        return tuple(reed for reed in self._at(MINOR_THIRD) if reed.bend)

    @property
    def third(self) -> str:
        """The third that natural notes give: major, minor, both, or empty for none."""
        if not self.home:
            return ""
        minor, major = MINOR_THIRD in self.steps, MAJOR_THIRD in self.steps
        return {(True, True): "both", (True, False): "minor", (False, True): "major"}.get(
            (minor, major), ""
        )

    @property
    def fit(self) -> SongFit:
        """The share of songs that it is ready for."""
        return self._use.fit

    def good_for(self, *, in_minor: bool = False) -> str:
        """Return what it is good for, in words: for any song, or for one *in_minor*."""
        return (self._use.in_minor if in_minor else "") or self._use.good_for

    @property
    def _use(self) -> PlaceUse:
        if not self.home:
            return _NO_HOME
        if FIFTH not in self.steps and "locrian" not in self.scales:
            return _NO_FIFTH
        fitting = [
            row
            for row in _USES
            if row.scale in self.scales and row.position in (None, self.position.number)
        ]
        return fitting[0] if fitting else _OTHER

    def _at(self, semitones: int) -> Iterator[Reed]:
        """Yield the reeds that sound *semitones* above home, low to high."""
        heard = (note_on_harp(self.harp, self.position, reed) for reed in self.harp.reeds())
        found = [each for each in heard if each.degree.semitones == semitones]
        return (each.reed for each in sorted(found, key=lambda each: each.midi))
