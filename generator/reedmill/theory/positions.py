"""Positions: in which key a harp is played, and what each of its notes is there."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reedmill.base.errors import InputError, close_match
from reedmill.theory.degrees import CHROMATIC, RAISED_FOURTH, Degree, spell
from reedmill.theory.pitch import LETTERS, STEPS, Pitch, tonic_on_fifths

_NICKNAMES = {1: "straight harp", 2: "cross harp"}
_WORDS = {"straight": 1, "cross": 2, "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5}

# Positions whose natural notes have a minor third over the root: dorian, aeolian,
# phrygian and locrian.  They are written with a minor key signature, all others with
# a major one, because those two are what players and MIDI files know.
_MINOR = frozenset({3, 4, 5, 6})
_MOST_SHARPS, _MOST_FLATS = 7, 6  # in a key signature


@dataclass(frozen=True, slots=True)
class Key:
    """The key of the music: a spelled root, and major or minor for its signature.

    >>> Key(1, minor=False).name, Key(-1, minor=True).name
    ('G', 'D')
    """

    sharps: int  # of the signature; negative counts flats
    minor: bool

    @property
    def tonic(self) -> tuple[str, int]:
        """Letter and alteration of the root."""
        return tonic_on_fifths(self.sharps + (3 if self.minor else 0))

    @property
    def name(self) -> str:
        """The root's name alone: ``G``, ``Eb``."""
        return Pitch(*self.tonic, 4).note

    @property
    def pitch_class(self) -> int:
        """The root as semitones above C, 0 to 11."""
        letter, alter = self.tonic
        return (STEPS[LETTERS.index(letter)] + alter) % 12


@dataclass(frozen=True, slots=True)
class Position:
    """Position *n* plays n - 1 fifths above the harp's own key.

    >>> Position(2).label
    '2nd position (cross harp)'
    """

    number: int  # 1 to 12

    @property
    def ordinal(self) -> str:
        """``1st``, ``2nd``, ... ``12th``."""
        ending = {1: "st", 2: "nd", 3: "rd"}.get(self.number, "th")
        return f"{self.number}{ending}"

    @property
    def label(self) -> str:
        """The position in words, with its trade name where it has one."""
        nickname = _NICKNAMES.get(self.number)
        return f"{self.ordinal} position" + (f" ({nickname})" if nickname else "")

    @classmethod
    def parse(cls, text: str) -> Position:
        """The position called *text*: ``2``, ``2nd``, ``second`` or ``cross``."""
        word = text.strip().lower()
        match = re.fullmatch(r"([1-9]\d?)(st|nd|rd|th)?", word)
        number = int(match[1]) if match else _WORDS.get(word, 0)
        if not 1 <= number <= 12:
            raise InputError(
                f'there is no position "{text}".{close_match(word, _WORDS)} '
                "Positions go from 1 to 12; 2 is cross harp."
            )
        return cls(number)

    def key(self, harp_fifths: int) -> Key:
        """The key this position plays in, on a harp *harp_fifths* fifths above C.

        The root is named by counting fifths up from the harp's key to the 7th position
        and down to the others, so that a harp's notes keep the names they have on it.
        Past seven sharps or six flats the other name is simpler and is taken: bends
        lower notes, which flat keys write with double flats and sharp keys with naturals.
        """
        minor = self.number in _MINOR
        steps = self.number - 1 if self.number <= 7 else self.number - 13
        sharps = harp_fifths + steps - (3 if minor else 0)
        if sharps > _MOST_SHARPS:
            sharps -= 12
        elif sharps < -_MOST_FLATS:
            sharps += 12
        return Key(sharps, minor)

    def degree(self, midi: int, key: Key) -> Degree:
        """Which degree of *key* the key number *midi* is.

        The tritone is the b5, but from the 8th to the 12th position it is a
        natural note of the harp above the fourth, and is called #4.
        """
        degree = CHROMATIC[(midi - key.pitch_class) % 12]
        raised = degree.semitones == RAISED_FOURTH.semitones and self.number >= 8
        return RAISED_FOURTH if raised else degree


def spelled(midi: int, degree: Degree, key: Key) -> Pitch:
    """The pitch of *midi* as that *degree* of *key* is written."""
    return spell(midi, degree, key.tonic[0])
