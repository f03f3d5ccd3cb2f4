"""Positions: the key in which a harp is played, and the degree of each note there."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

from reedmill.base.errors import InputError, close_match
from reedmill.theory.degrees import CHROMATIC, RAISED_FOURTH, Degree, spell
from reedmill.theory.modes import MAJOR_SCALE, MODES
from reedmill.theory.pitch import Pitch, pitch_class, tonic_on_fifths

_NICKNAMES = {1: "straight harp", 2: "cross harp"}
_IN_WORDS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
    "eleventh", "twelfth",
)  # fmt: skip
_WORDS = {"straight": 1, "cross": 2} | {
    word: number for number, word in enumerate(_IN_WORDS, start=1)
}
POSITION_WORDS = tuple(_WORDS)
"""The words for positions; ``2`` and ``2nd`` are read besides."""
SAID_AFTER = ("harp", "position", "positions", "pos")
"""What may be said after a position and adds nothing."""

_MOST_SHARPS, _MOST_FLATS = 6, 6  # in a key signature: all twelve keys need no more

# Of the modes that the positions of a harp give by themselves, those that have a name of their
# own after the root.  Ionian is said as major and aeolian as minor.  Mixolydian, which is cross
# harp, has nothing said after it: its seventh is flat and its third is played flat and natural,
# so that it is "G", and never "G major".  Common practice of harp players, no published source.
_SAID = ("dorian", "phrygian", "lydian", "locrian")


_KEY_SAID = " A key is not a position: it follows from the harp and the position."


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
    def mode(self) -> str:
        """The mode of the signature: ``major`` or ``minor``."""
        return "minor" if self.minor else "major"

    @property
    def label(self) -> str:
        """The key as players say it: ``G``, ``D minor``."""
        return self.name + (" minor" if self.minor else "")

    @property
    def pitch_class(self) -> int:
        """The root as semitones above C, 0 to 11."""
        return pitch_class(*self.tonic)


@dataclass(frozen=True, slots=True)
class Position:
    """Position *n* plays n - 1 fifths above the harp's own key.

    The numbering by fifths is common practice, no published source.

    >>> Position(2).label
    '2nd position (cross harp)'
    """

    number: int  # 1 to 12

    @property
    def ordinal(self) -> str:
        """The number as an ordinal: ``1st``, ``2nd``, ... ``12th``."""
        ending = {1: "st", 2: "nd", 3: "rd"}.get(self.number, "th")
        return f"{self.number}{ending}"

    @property
    def label(self) -> str:
        """The position in words, with its trade name where it has one."""
        nickname = _NICKNAMES.get(self.number)
        return f"{self.ordinal} position" + (f" ({nickname})" if nickname else "")

    @classmethod
    def parse(cls, text: str) -> Position:
        """Parse a position: ``2``, ``2nd``, ``second``, ``cross`` or ``cross harp``.

        Command line, drills, forms and courses all ask here.
        ``InputError`` with an example for anything else.
        """
        word = _without_what_it_is(text)
        match = re.fullmatch(r"([1-9]\d?)(st|nd|rd|th)?", word)
        number = int(match[1]) if match else _WORDS.get(word, 0)
        if not 1 <= number <= 12:
            raise InputError(
                f'there is no position "{text.strip():.40}".{close_match(word[:40], _WORDS)} '
                "Positions go from 1 to 12; 2 is cross harp."
                + _KEY_SAID
                * bool(re.fullmatch("[a-h](b|#|is|s| ?flat| ?sharp)?m?", word))
            )
        return cls(number)

    @classmethod
    def parse_list(cls, *texts: str) -> tuple[Position, ...]:
        """Parse positions, words or numbers with commas between; each once, in order.

        >>> [each.number for each in Position.parse_list("2nd, cross, 3", "first")]
        [2, 3, 1]
        """
        words = (word for text in texts for word in text.split(","))
        return tuple(dict.fromkeys(map(cls.parse, words)))

    def key(self, harp_fifths: int, naturals: Collection[int] = MAJOR_SCALE) -> Key:
        """Return the key of this position on a harp *harp_fifths* fifths above C.

        *naturals* are the natural notes of the harp, 0 to 11 semitones above its own key.
        Where the root is one of them and its minor third too, but not its major third, the
        key is minor: the 3rd to 6th position of a Richter harp (dorian, aeolian, phrygian,
        locrian), the 1st and 2nd of one in natural minor.  All others are major, because
        these two are the signatures players and MIDI files know.

        The root is named by counting fifths up from the harp's key to the 7th position
        and down to the others, so that a harp's notes keep the names they have on it.
        Past six sharps or six flats the other name is simpler and is taken: cross harp on an
        F# harp is Db with five flats, not C# with seven sharps.
        """
        root = (self.number - 1) * 7 % 12
        third = (root + 3) % 12 in naturals and (root + 4) % 12 not in naturals
        minor = root in naturals and third
        steps = self.number - 1 if self.number <= 7 else self.number - 13
        sharps = harp_fifths + steps - (3 if minor else 0)
        if sharps > _MOST_SHARPS:
            sharps -= 12
        elif sharps < -_MOST_FLATS:
            sharps += 12
        return Key(sharps, minor)

    def mode(self, naturals: Collection[int] = MAJOR_SCALE) -> str:
        """Return the mode after the root of the position's key, from its natural notes.

        Empty for cross harp, and where the root is a bend.  *naturals* are those of ``key``.

        >>> [Position(number).mode() for number in (1, 2, 3, 4)]
        ['major', '', 'dorian', 'minor']
        """
        root = (self.number - 1) * 7 % 12
        if root not in naturals:
            return ""
        scale = {(each - root) % 12 for each in naturals}
        thirds = "minor" if self.key(0, naturals).minor else "major" * (11 in scale)
        return next((mode for mode in _SAID if MODES[mode] == scale), thirds)

    def degree(self, midi: int, key: Key) -> Degree:
        """Return the degree of *key* that the key number *midi* is.

        The tritone is the b5, but from the 8th to the 12th position it is a
        natural note of the harp above the fourth, and is called #4.
        """
        degree = CHROMATIC[(midi - key.pitch_class) % 12]
        raised = degree.semitones == RAISED_FOURTH.semitones and self.number >= 8
        return RAISED_FOURTH if raised else degree


def _without_what_it_is(text: str) -> str:
    """Return *text* in lower case without a final ``harp`` or ``position``."""
    words = text.lower().split()
    return " ".join(words[:-1] if len(words) > 1 and words[-1] in SAID_AFTER else words)


def spelled(midi: int, degree: Degree, key: Key) -> Pitch:
    """Return the pitch of *midi*, spelled as that *degree* of *key*."""
    return spell(midi, degree, key.tonic[0])
