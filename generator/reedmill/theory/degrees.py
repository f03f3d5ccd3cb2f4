"""Scale degrees, counted from the root of the position against the major scale."""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.theory.pitch import LETTERS, STEPS, Pitch


@dataclass(frozen=True, slots=True, order=True)
class Degree:
    """A degree of the key: 1 to 7, lowered or raised against the major scale.

    >>> Degree(3, -1).name, Degree(3, -1).semitones
    ('b3', 3)
    """

    number: int  # 1 to 7
    alter: int = 0  # -1 flat, 0, 1 sharp
    quarter: bool = False  # a quarter tone lower than that

    @property
    def name(self) -> str:
        """The degree in plain text: ``b3``, ``5``, ``#4``, ``3q`` a quarter tone under 3."""
        quarter = "q" if self.quarter else ""
        return {-1: "b", 0: "", 1: "#"}[self.alter] + str(self.number) + quarter

    @property
    def printed(self) -> str:
        """The name with the real signs of music, for people: ``♭3``."""
        return with_real_signs(self.name)

    @property
    def words(self) -> str:
        """The degree as it is said.

        >>> [each.words for each in (Degree(1), Degree(5), Degree(7, -1), Degree(3, 0, True))]
        ['the root', 'the 5th', 'the flat 7th', 'a quarter tone under the 3rd']
        """
        ending = {2: "nd", 3: "rd"}.get(self.number, "th")
        signed = {-1: "flat ", 0: "", 1: "raised "}[self.alter] + f"{self.number}{ending}"
        whole = "the root" if self.number == 1 else f"the {signed}"
        return f"a quarter tone under {whole}" if self.quarter else whole

    @property
    def semitones(self) -> int:
        """Semitones above the root, 0 to 11; a quarter tone is not counted."""
        return STEPS[self.number - 1] + self.alter


def with_real_signs(name: str) -> str:
    """Return the degree *name* with a real flat or sharp sign, U+266D or U+266F.

    >>> with_real_signs("b3"), with_real_signs("#4"), with_real_signs("5")
    ('♭3', '♯4', '5')
    """
    return name.replace("b", "\u266d").replace("#", "\u266f")


RAISED_FOURTH = Degree(4, 1)

# The twelve degrees in the names blues and harp players use: flats throughout, the
# tritone as the flat five.  Common practice, no published source.
CHROMATIC = (
    Degree(1), Degree(2, -1), Degree(2), Degree(3, -1), Degree(3), Degree(4),
    Degree(5, -1), Degree(5), Degree(6, -1), Degree(6), Degree(7, -1), Degree(7),
)  # fmt: skip


def spell(midi: int, degree: Degree, tonic_letter: str) -> Pitch:
    """Return key number *midi* spelled as *degree* of a key on *tonic_letter*.

    A degree owns one letter, so the b3 of G is Bb and never A#.

    >>> spell(70, Degree(3, -1), "G").name
    'Bb4'
    """
    place = (LETTERS.index(tonic_letter) + degree.number - 1) % 7
    alter = (midi - STEPS[place] + 6) % 12 - 6
    octave = (midi - alter - STEPS[place]) // 12 - 1
    return Pitch(LETTERS[place], alter, octave, degree.quarter)
