"""Temperaments of harps: how the reeds of a harp are tuned against each other; data only.

Few harps are tuned equal.  Tuned just, the chords that a harp gives by itself have no beats: the
blow notes stand as 4:5:6 over the key, and the draw notes of a Richter harp as 4:5:6:7:9 over draw
2, which is blow 3.  A compromise goes part of the way, so that single notes are less far out.

The ratios of the chords are those of the harmonic series.  That harps are tuned to them, to the
19th harmonic in place of the 7th, or about half of the way, is common practice; there is no
published source, and makers differ.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.base.choosing import chosen_word
from reedmill.base.errors import InputError
from reedmill.harp.harp import Harp
from reedmill.harp.layouts import HOLES, LAYOUTS, Layout
from reedmill.harp.own_reeds import OwnReeds
from reedmill.harp.reeds import Breath, Reed

Ratios = Mapping[int, Fraction]
"""Ratios over the key of the harp by semitones over it, 0 to 11."""


@dataclass(frozen=True, slots=True)
class TunedChords:
    """The ratios of the blow notes and of the draw notes of one layout."""

    blow: Ratios
    draw: Ratios


@dataclass(frozen=True, slots=True)
class Temperament:
    """A way to tune harps: the chords of each layout it is for, and how much of it is done.

    The key of the harp stays at its place in equal temperament.
    """

    name: str
    words: str  # of a harp tuned so, with its article
    chords: Mapping[str, TunedChords]  # by the name of the layout
    share: Fraction = Fraction(1)  # of the way from equal temperament to the ratios

    def reeds(self, layout: Layout) -> OwnReeds:
        """Return how far each reed is from equal temperament on a harp with *layout*.

        ``InputError`` for a layout the temperament does not know.

        >>> from reedmill.harp.layouts import RICHTER
        >>> just = TEMPERAMENTS["just"].reeds(RICHTER)
        >>> [round(just.cents(Reed.parse(tab)), 1) for tab in ("1", "2", "-2", "-3", "-5", "-6")]
        [0.0, -13.7, 2.0, -11.7, -29.2, 5.9]
        """
        chords = self.chords.get(layout.name)
        if chords is None or LAYOUTS[layout.name] != layout:  # a stranger's file may be called so
            known = " and ".join(self.chords)
            raise InputError(
                f'how a "{layout.name:.40}" harp is tuned in the temperament "{self.name}" is not '
                f"known, only for {known}. Measure the harp with a harp test, and use its file."
            )
        cents = {}
        for row, breath, ratios in (
            (layout.blow, Breath.BLOW, chords.blow), (layout.draw, Breath.DRAW, chords.draw),
        ):  # fmt: skip
            for hole, semitones in zip(HOLES, row, strict=True):
                step = semitones % 12
                cents[Reed(hole, breath)] = float(self.share) * _over_equal(ratios[step], step)
        return OwnReeds.of(self.words, cents)


def _over_equal(ratio: Fraction, semitones: int) -> float:
    return 1200 * math.log2(ratio) - 100 * semitones


def _ratios(text: str) -> dict[int, Fraction]:
    """Parse semitones and ratios: ``4=5/4 7=3/2``."""
    pairs = (word.split("=") for word in text.split())
    return {int(semitones): Fraction(ratio) for semitones, ratio in pairs}


# Over C: C E G as 4:5:6.  Over draw 2 (G, 3/2): G B D F A as 4:5:6:7:9.
_RICHTER_7 = TunedChords(_ratios("0=1 4=5/4 7=3/2"), _ratios("2=9/8 5=21/16 7=3/2 9=27/16 11=15/8"))
# Draw 5 is F#, which stands as 8:15 over G.
_COUNTRY_7 = replace(_RICHTER_7, draw={**_RICHTER_7.draw, 6: Fraction(45, 32)})
# Minor chords as 10:12:15, and the draw chord as 10:12:15:18: its F is a fifth over Bb.
_NATURAL_MINOR = TunedChords(
    _ratios("0=1 3=6/5 7=3/2"), _ratios("2=9/8 5=27/20 7=3/2 9=27/16 10=9/5")
)
# D F A as 16:19:24: F is near its tempered place, and the 7th harmonic is given up for it.
_RICHTER_19 = replace(_RICHTER_7, draw={**_RICHTER_7.draw, 5: Fraction(171, 128)})
_COUNTRY_19 = replace(_COUNTRY_7, draw={**_COUNTRY_7.draw, 5: Fraction(171, 128)})
_JUST = {"richter": _RICHTER_7, "country": _COUNTRY_7, "natural-minor": _NATURAL_MINOR}

TEMPERAMENTS = {
    each.name: each
    for each in (
        Temperament("just", "a just harp", _JUST),
        Temperament(
            "just19", "a 19-limit just harp", {"richter": _RICHTER_19, "country": _COUNTRY_19}
        ),
        Temperament("compromise", "a compromise harp", _JUST, Fraction(1, 2)),
    )
}

TEMPERED = ("equal", *TEMPERAMENTS)
"""The names of all temperaments; ``equal`` moves nothing."""


def tempered(harp: Harp, name: str) -> Harp:
    """Return *harp* with its reeds tuned in the temperament *name*.

    ``InputError`` with the list for a name that is none, and where the temperament is not known
    for the layout of the harp.

    >>> tempered(Harp("C"), "just").own.name
    'a just harp'
    """
    chosen = chosen_word("temperament", name, TEMPERED)
    if chosen == "equal":
        return harp
    return replace(harp, own=TEMPERAMENTS[chosen].reeds(harp.layout))
