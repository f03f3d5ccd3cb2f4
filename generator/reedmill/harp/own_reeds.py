"""Deviations of the reeds of one player's harp from their tuning, in cents.

A bend follows its reed, and an overbend the hole's other reed, above which it sounds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NoReturn

from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import ForeignText, printable
from reedmill.harp.layouts import HOLES, Layout
from reedmill.harp.reeds import Breath, Reed

if TYPE_CHECKING:
    from reedmill.base.toml_places import Places

MOST_OWN_CENTS = 60.0
"""A reed further from its place than this is another note, or broken."""


@dataclass(frozen=True, slots=True)
class OwnReeds:
    """Cents by which each of twenty reeds is above its tuning, hole 1 first.

    >>> worn = OwnReeds(printable("mine"), (0.0,) * 10, (0.0, 0.0, -20.0, *(0.0,) * 7))
    >>> worn.cents(Reed.parse("-3''")), worn.cents(Reed.parse("3"))
    (-20.0, 0.0)
    """

    name: ForeignText  # of the file it is kept in
    blow: tuple[float, ...]  # ten values
    draw: tuple[float, ...]  # ten values

    def cents(self, reed: Reed) -> float:
        """Return the cents by which *reed* is above (or, negative, below) its tuning."""
        breath = reed.breath.other if reed.over else reed.breath
        return (self.blow if breath is Breath.BLOW else self.draw)[reed.hole - 1]

    @classmethod
    def of(cls, name: str, cents: Mapping[Reed, float]) -> OwnReeds:
        """Make the reeds of a harp called *name* with these *cents*; 0 for absent ones."""
        rows = {
            breath: tuple(float(cents.get(Reed(hole, breath), 0.0)) for hole in HOLES)
            for breath in Breath
        }
        return cls(printable(name), rows[Breath.BLOW], rows[Breath.DRAW])


@dataclass(frozen=True, slots=True)
class OwnHarp:
    """The content of a file on one harp: its key, layout, A4 and reeds."""

    harp: str  # its name: C, low F
    tuning: str  # the name of its layout
    reference_hz: float  # A4 of the harp as a whole
    reeds: OwnReeds
    places: Places | None = None  # where it says so, for messages

    def check_same(self, name: str, layout: Layout) -> None:
        """Raise ``PatternError`` unless the file is of the harp *name* with this *layout*."""
        if self.harp != name:
            self._refuse(
                "harp", f"this file is of a harp in {self.harp}, and one in {name} is asked for",
                "Ask for the harp that was measured, or measure the other one.",
            )  # fmt: skip
        if self.tuning != layout.name:
            self._refuse(
                "tuning",
                f'this file is of a harp with the tuning "{self.tuning}", and "{layout.name}" is '
                "asked for",
                "Ask for that tuning, or measure a harp that has the other one.",
            )

    def _refuse(self, key: str, fact: str, remedy: str) -> NoReturn:
        if self.places is None:
            raise InputError(f"{fact}. {remedy}")
        raise PatternError(fact, remedy, self.places.value((key,))).with_source(self.places.text)
