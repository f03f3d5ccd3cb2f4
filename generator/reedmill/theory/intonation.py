"""Intonation of the degrees against the root: equal temperament or just ratios."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.base.choosing import chosen_word
from reedmill.base.errors import InputError
from reedmill.theory.degrees import Degree
from reedmill.theory.pitch import equal_hz

MOST_OFFSET_CENTS = 50.0
"""Half a semitone: beyond it lies the next note."""

_SIGNS = str.maketrans({"\N{MUSIC FLAT SIGN}": "b", "\N{MUSIC SHARP SIGN}": "#"})
_OFFSET = re.compile(r"([b#]?)([1-7])\s*=\s*([+-]?\d{1,3}(?:\.\d{1,3})?)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Intonation:
    """Twelve intervals over the root, one for each semitone.

    ``ratios`` is empty for equal temperament, ``offsets_cents`` where nothing is moved.
    """

    name: str
    words: str
    ratios: tuple[Fraction, ...] = ()
    offsets_cents: tuple[float, ...] = ()  # added to the twelve

    def cents(self, semitones: int) -> float:
        """Return the cents of the note *semitones* above the root (any octave, either way).

        >>> round(JUST_5.cents(4), 3), round(JUST_5.cents(-8), 3)
        (386.314, -813.686)
        """
        octaves, step = divmod(semitones, 12)
        moved = self.offsets_cents[step] if self.offsets_cents else 0.0
        if not self.ratios:
            return 100.0 * semitones + moved
        return 1200.0 * (octaves + math.log2(self.ratios[step])) + moved

    def with_offsets(self, text: str) -> Intonation:
        """Return the same intonation with degrees moved by the player's own cents.

        *text* is ``b3=-12, b7=-31``; ``InputError`` for a degree that is none, one given
        twice, or more than ``MOST_OFFSET_CENTS`` either way.

        >>> round(EQUAL.with_offsets("b3=-12").cents(3), 3)
        288.0
        """
        offsets = _offsets(text)
        row = [0.0] * 12
        for degree, cents in offsets.items():
            row[degree.semitones % 12] += cents
        told = ", ".join(f"{degree.name} {cents:+g}" for degree, cents in offsets.items())
        return replace(
            self,
            name=f"{self.name} with offsets",
            words=f"{self.words}, {told} cents",
            offsets_cents=tuple(row),
        )

    def hz(self, midi: int, root_class: int, reference_hz: float) -> float:
        """Return the frequency in Hz of *midi* where the root has pitch class *root_class*.

        The drone's root stays at its equal-tempered place for *reference_hz*, and so does
        the note itself unless its own degree has an offset.
        """
        above = (midi - root_class) % 12
        return equal_hz(midi - above, reference_hz) * math.exp2(self.cents(above) / 1200)


def _offsets(text: str) -> dict[Degree, float]:
    """Parse the degrees and cents of ``b3=-12, b7=-31``, in that order."""
    found: dict[Degree, float] = {}
    for word in (part.strip() for part in text.split(",")):
        match = _OFFSET.fullmatch(word.lower().translate(_SIGNS))
        if match is None:
            raise InputError(
                f'"{word:.40}" moves no degree. Write a degree from 1 to 7, an equals sign and '
                "cents, with commas between: b3=-12, b7=-31"
            )
        sign, number, cents = match.groups()
        degree = Degree(int(number), {"b": -1, "": 0, "#": 1}[sign])
        _check_offset(degree, float(cents), found)
        found[degree] = float(cents)
    return found


def _check_offset(degree: Degree, cents: float, found: dict[Degree, float]) -> None:
    if abs(cents) > MOST_OFFSET_CENTS:
        raise InputError(
            f"an offset of {cents:+g} cents would make {degree.name} another note; "
            f"write at most {MOST_OFFSET_CENTS:g} either way."
        )
    same = [each.name for each in found if each.semitones % 12 == degree.semitones % 12]
    if same:
        raise InputError(
            f"{degree.name} is given an offset twice, the other time as {same[0]}. Write it once."
        )


def _ratios(text: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(word) for word in text.split())


EQUAL = Intonation("equal", "equal temperament")
# Thirds, fourths, fifths, sixths, 9/5 and 15/8: Ellis in Helmholtz, "On the Sensations
# of Tone", pp. 17 and 466-468.  16/15 and 45/32 complete the row (the diatonic semitone
# and the third over the major second).
JUST_5 = Intonation(
    "just5", "5-limit just intonation",
    _ratios("1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
)  # fmt: skip
# The natural seventh 7/4 is in Ellis's table too; 7/6 and 7/5 are its fifth and its
# third below, the septimal minor third and flat five.
JUST_7 = Intonation(
    "just7", "7-limit just intonation",
    _ratios("1 16/15 9/8 7/6 5/4 4/3 7/5 3/2 8/5 5/3 7/4 15/8"),
)  # fmt: skip

# The flat three, flat five and flat seven as they are sung in the blues, the rest as in 5 limits.
# Measured in fifteen early recordings (Cutting, "Microtonal Analysis of 'Blue Notes' and the Blues
# Scale", Empirical Musicology Review 13, 2018, doi 10.18061/emr.v13i1-2.6316): clusters with means
# of 319.1, 582.8 and 1037.9 cents, close to 6/5, 7/5 and 9/5, the flat seven at two more places,
# and a neutral third as well.  6/5 is the flat three of 5 limits already; here it is the neutral
# one: 11/9, 347 cents, four below the middle of 6/5 and 5/4.  That choice is common practice.
BLUE_NOTES = Intonation(
    "blues", "blues intonation with a neutral third",
    _ratios("1 16/15 9/8 11/9 5/4 4/3 7/5 3/2 8/5 5/3 9/5 15/8"),
)  # fmt: skip

INTONATIONS = {each.name: each for each in (EQUAL, JUST_5, JUST_7, BLUE_NOTES)}


def intonation_named(name: str) -> Intonation:
    """Return the intonation *name*; ``InputError`` with the list when there is none."""
    return INTONATIONS[chosen_word("intonation", name, INTONATIONS)]
