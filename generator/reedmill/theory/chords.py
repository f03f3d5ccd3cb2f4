"""Chords as players name them: a degree of the key, and the quality of the chord on it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reedmill.base.errors import InputError
from reedmill.theory.degrees import Degree
from reedmill.theory.pitch import LETTERS, STEPS, Pitch
from reedmill.theory.positions import Key

ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
_NAME = re.compile(
    r"([b#\u266d\u266f]?)(VII|VI|IV|V|III|II|I)(?![IViv])(\S*)", re.IGNORECASE | re.ASCII
)
_ALTER = {"bb": -2, "b": -1, "\u266d": -1, "": 0, "#": 1, "\u266f": 1}
_TONE = re.compile(r"(bb|b|#|)(\d+)", re.ASCII)
# A flat or sharp after the numeral; "Vb9" more likely means V7b9 than bV9.
_BEHIND = re.compile(
    r"(VII|VI|IV|V|III|II|I)([b#\u266d\u266f])(?!5|9|11|13)(\S*)", re.IGNORECASE | re.ASCII
)


@dataclass(frozen=True, slots=True)
class Quality:
    """The quality of a chord: its tones, and the ending of its name."""

    name: str  # also the ending of a chord symbol: Gm7
    tones: str  # counted from the chord's root against its major scale
    written: str  # the ending after a Roman numeral, whose case tells the third
    also: str = ""  # other endings that are read as this one

    @property
    def minor_third(self) -> bool:
        """True for a quality with a minor third, whose numeral is lower-case."""
        return "b3" in self.tones.split()

    @property
    def either_case(self) -> bool:
        """True where either case of the numeral is clear: "IIm7" is as good as "ii7"."""
        return "3" not in self.tones.split()


# The tones and symbols every book of harmony gives; the bare seventh is the dominant one.
# Common practice, no published source.
_TABLE = (
    Quality("", "1 3 5", "", "maj M"),
    Quality("m", "1 b3 5", "", "m min -"),
    Quality("7", "1 3 5 b7", "7", "dom7"),
    Quality("m7", "1 b3 5 b7", "7", "m7 min7 -7"),
    Quality("maj7", "1 3 5 7", "maj7", "M7 \u0394 \u03947"),
    Quality("6", "1 3 5 6", "6", "maj6"),
    Quality("m6", "1 b3 5 6", "6", "m6 min6 -6"),
    Quality("9", "1 3 5 b7 9", "9"),
    Quality("m9", "1 b3 5 b7 9", "9", "m9 min9 -9"),
    Quality("13", "1 3 5 b7 9 13", "13"),
    Quality("7#9", "1 3 5 b7 #9", "7#9"),
    Quality("7b9", "1 3 5 b7 b9", "7b9"),
    Quality("7b5", "1 3 b5 b7", "7b5"),
    Quality("dim", "1 b3 b5", "dim", "o \u00b0"),
    Quality("dim7", "1 b3 b5 bb7", "dim7", "o7 \u00b07"),
    Quality("m7b5", "1 b3 b5 b7", "m7b5", "7b5 min7b5 \u00f8 \u00f87"),
    Quality("aug", "1 3 #5", "aug", "+"),
    Quality("sus4", "1 4 5", "sus4", "sus"),
    Quality("7sus4", "1 4 5 b7", "7sus4", "7sus"),
)
QUALITIES = {each.name: each for each in _TABLE}
# What each ending means after a lower-case numeral (True) and an upper-case one.  "iimaj7" is
# nothing: it would have a third of both kinds.
_ENDINGS = {(each.written, each.minor_third): each.name for each in _TABLE}
for _each in _TABLE:
    for _ending in (_each.written, *_each.also.split()):
        _ENDINGS.setdefault((_ending, False), _each.name)
        if _each.either_case:
            _ENDINGS.setdefault((_ending, True), _each.name)

_SPOKEN = {"1": "root", "3": "third", "5": "fifth"}


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord on a degree of the key.

    >>> Chord.parse("bVII7").name, Chord.parse("ii7").quality
    ('bVII7', 'm7')
    >>> Chord.parse("IV7").symbol(Key(0, minor=False))
    'F7'
    """

    root: Degree
    quality: str  # a name of QUALITIES

    @classmethod
    def parse(cls, text: str) -> Chord:
        """Parse a chord written as a Roman numeral; ``InputError`` when it is not one.

        Upper-case numerals have a major third, lower-case ones a minor: I7, ii7, bVII, #ivdim7.
        """
        match = _NAME.fullmatch(text)
        sign, numeral, ending = match.groups() if match else ("", "", "")
        meant = sign_in_front(text)
        if meant:
            raise InputError(
                f'"{text:.20}" has its flat or sharp after the numeral. It comes first: '
                f"write {meant}."
            )
        if numeral not in (numeral.upper(), numeral.lower()) or not numeral:
            raise InputError(
                f'"{text:.20}" is not a chord. Write its degree as a Roman numeral, upper case for '
                "a major third and lower case for a minor one: I7, IV7, ii7, bVII."
            )
        root = Degree(ROMAN.index(numeral.upper()) + 1, _ALTER[sign])
        return cls(root, _quality(text, ending, small=numeral.islower()))

    @property
    def is_minor(self) -> bool:
        """True for a chord with a minor third."""
        return QUALITIES[self.quality].minor_third

    @property
    def name(self) -> str:
        """The Roman numeral: ``I7``, ``ii7``, ``bVII7``, ``#ivdim7``."""
        quality = QUALITIES[self.quality]
        numeral = ROMAN[self.root.number - 1]
        sign = self.root.name.rstrip("1234567")
        return sign + (numeral.lower() if quality.minor_third else numeral) + quality.written

    def symbol(self, key: Key) -> str:
        """Return the name on a lead sheet in *key*: ``F7``.

        The root is written as that degree of the key is, or by its simpler name where
        that would take two sharps or flats.
        """
        return "".join(self.symbol_parts(key))

    def symbol_parts(self, key: Key) -> tuple[str, str]:
        """Return the two parts of ``symbol``: the root's name, and the ending for its quality."""
        return _root_name(self.root, key), self.quality

    @property
    def tones(self) -> tuple[tuple[str, int], ...]:
        """Each tone's name within the chord and its semitones above the root, lowest first.

        >>> Chord.parse("V9").tones
        (('1', 0), ('3', 4), ('5', 7), ('b7', 10), ('9', 14))
        """
        return tuple((tone, semitones_of(tone)) for tone in QUALITIES[self.quality].tones.split())

    def tone(self, semitones: int) -> str | None:
        """Return the chord tone *semitones* above the key's root, in any octave; None for none.

        >>> Chord.parse("IV7").tone(9), Chord.parse("IV7").tone(10)
        ('3', None)
        """
        above = (semitones - self.root.semitones) % 12
        return next((name for name, step in self.tones if step % 12 == above), None)

    def role(self, semitones: int) -> str:
        """Return the role in this chord of a note *semitones* above the root of the key.

        A chord tone is ``root``, ``third``, ``fifth`` or its number (``b3``, ``b7``, ``9``).
        Of all others, one a semitone from a chord tone is a ``tension``, which wants to move
        there, and one between two whole tones is ``passing``.

        >>> [Chord.parse("I7").role(semitones) for semitones in (0, 4, 10, 5, 2)]
        ['root', 'third', 'b7', 'tension', 'passing']
        """
        tone = self.tone(semitones)
        if tone:
            return _SPOKEN.get(tone, tone)
        near = self.tone(semitones - 1) or self.tone(semitones + 1)
        return "tension" if near else "passing"


def sign_in_front(text: str) -> str:
    """Correct a chord with a flat or sharp after its numeral; return nothing for others.

    >>> sign_in_front("VIIb7"), sign_in_front("iv#dim7"), sign_in_front("bVII7")
    ('bVII7', '#ivdim7', '')
    """
    match = _BEHIND.fullmatch(text)
    if match is None:
        return ""
    try:
        return Chord.parse(match[2] + match[1] + match[3]).name
    except InputError:
        return ""


def semitones_of(tone: str) -> int:
    """Return the semitones of a tone counted on the major scale: ``b7`` is 10, ``9`` 14.

    ``ValueError`` for a tone that is not written so.
    """
    match = _TONE.fullmatch(tone)
    if match is None:
        raise ValueError(f"not a tone of a chord: {tone!r}")
    octave, place = divmod(int(match[2]) - 1, 7)
    return 12 * octave + STEPS[place] + _ALTER[match[1]]


def _quality(text: str, ending: str, *, small: bool) -> str:
    """Return the quality for *ending* after an upper-case or, *small*, a lower-case numeral."""
    found = _ENDINGS.get((ending, small))
    if found is not None:
        return found
    known = ", ".join(each.written for each in _TABLE if each.minor_third == small and each.written)
    raise InputError(
        f'the chord "{text:.20}" ends in "{ending:.20}", which no chord here does after '
        f"{'a lower-case' if small else 'an upper-case'} numeral. "
        f"Write one of: {known}; or the numeral alone."
    )


def _root_name(root: Degree, key: Key) -> str:
    letter, alter = key.tonic
    semitones = (STEPS[LETTERS.index(letter)] + alter + root.semitones) % 12
    place = (LETTERS.index(letter) + root.number - 1) % 7
    needed = (semitones - STEPS[place] + 6) % 12 - 6
    if abs(needed) > 1:  # Abb is written G, F## too
        place = STEPS.index(semitones) if semitones in STEPS else STEPS.index(semitones - 1)
        needed = semitones - STEPS[place]
    return Pitch(LETTERS[place], needed, 4).note
