"""Pitches: a key number, its name on the staff, and its frequency."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

LETTERS = "CDEFGAB"
STEPS = (0, 2, 4, 5, 7, 9, 11)  # semitones of each letter above C
_FIFTHS = "FCGDAEB"  # letters along the line of fifths
_ACCIDENTALS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_SIGNED = re.compile(r"\b([A-G])(bb|b|##|#)(?!(?!q\b)[A-Za-z])")
_NAME = re.compile(r"([A-G])(bb|b|##|#|)(q?)(-?\d+)")


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch: Bb4 and A#4 are two pitches with one key number.

    >>> Pitch.parse("Bb4").midi, Pitch.parse("C4").midi
    (70, 60)
    """

    letter: str  # "C" to "B"
    alter: int  # semitones: -2 double flat to 2 double sharp
    octave: int  # scientific: C4 is middle C, and the octave turns at C
    quarter: bool = False  # a quarter tone lower than that

    @property
    def midi(self) -> int:
        """The MIDI key number: 60 for C4, 69 for A4; of the note a quarter tone is below."""
        return 12 * (self.octave + 1) + STEPS[LETTERS.index(self.letter)] + self.alter

    @property
    def note(self) -> str:
        """The name without its octave: ``Bb``, or ``Bq`` a quarter tone under B."""
        return self.letter + _ACCIDENTALS[self.alter] + ("q" if self.quarter else "")

    @property
    def name(self) -> str:
        """The name with its octave: ``Bb4``."""
        return f"{self.note}{self.octave}"

    @classmethod
    def parse(cls, name: str) -> Pitch:
        """Parse a pitch with its octave; ``ValueError`` when *name* is not one."""
        match = _NAME.fullmatch(name)
        if match is None:
            raise ValueError(f"not a pitch name: {name!r}")
        letter, accidental, quarter, octave = match.groups()
        alter = next(a for a, sign in _ACCIDENTALS.items() if sign == accidental)
        return cls(letter, alter, int(octave), bool(quarter))


def tonic_on_fifths(index: int) -> tuple[str, int]:
    """Return letter and alteration at *index* on the line of fifths; C is 0, G 1, F -1.

    The index is also the number of sharps (or, negative, flats) in the major key there.

    >>> tonic_on_fifths(6), tonic_on_fifths(-5)
    (('F', 1), ('D', -1))
    """
    alter, place = divmod(index + 1, 7)
    return _FIFTHS[place], alter


def pitch_class(letter: str, alter: int) -> int:
    """Return the semitones of a named note above C, 0 to 11.

    >>> pitch_class("B", -1), pitch_class("C", -1)
    (10, 11)
    """
    return (STEPS[LETTERS.index(letter)] + alter) % 12


def place_on_fifths(letter: str, alter: int) -> int:
    """Return the index of a tonic on the line of fifths: inverse of ``tonic_on_fifths``.

    >>> place_on_fifths("F", 1), place_on_fifths("D", -1)
    (6, -5)
    """
    return _FIFTHS.index(letter) - 1 + 7 * alter


QUARTER_CENTS = 50.0
"""How far a quarter tone is, in cents: half of a tempered semitone."""


def quarter_lower(hz: float) -> float:
    """Return the frequency a quarter tone under *hz*.

    >>> round(quarter_lower(440.0), 2)
    427.47
    """
    return hz * math.exp2(-QUARTER_CENTS / 1200)


def equal_hz(midi: float, reference_hz: float = 440.0) -> float:
    """Return the Hz of *midi* in equal temperament, A4 (key 69) at *reference_hz*.

    440 Hz is the standard pitch of ISO 16:1975.

    >>> round(equal_hz(60), 4)
    261.6256
    """
    return reference_hz * math.exp2((midi - 69) / 12)


def with_signs(words: str) -> str:
    """Return *words* with the flats and sharps of names as real signs, U+266D and U+266F.

    >>> with_signs("low Bb harp"), with_signs("F# minor"), with_signs("Abb"), with_signs("G blues")
    ('low B♭ harp', 'F♯ minor', 'A♭♭', 'G blues')
    """
    return _SIGNED.sub(
        lambda found: found[1] + found[2].replace("b", "\u266d").replace("#", "\u266f"), words
    )


def signs_in_words(words: str) -> str:
    """Return *words* with the real signs of flats and sharps as they are said.

    >>> signs_in_words("low B\u266d harp"), signs_in_words("F\u266f4"), signs_in_words("1 \u266d3")
    ('low B flat harp', 'F sharp 4', '1 flat 3')
    """
    said = words.replace("\u266d", " flat ").replace("\u266f", " sharp ")
    return " ".join(said.split()) if said != words else words


def signature_alter(sharps: int, letter: str) -> int:
    """Return how a key signature of *sharps* (flats when negative) alters *letter*.

    Sharps come in the order F C G D A E B and flats in the reverse: common practice.

    >>> signature_alter(1, "F"), signature_alter(-2, "E"), signature_alter(2, "G")
    (1, -1, 0)
    """
    if sharps >= 0:
        return int(letter in _FIFTHS[:sharps])
    return -int(letter in _FIFTHS[sharps:])
