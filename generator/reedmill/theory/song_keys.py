"""The key of a song as players say it: ``E``, ``Bb``, ``F sharp minor``, ``G blues``.

Common practice, no published source: flats and sharps are said, written with a sign, with b
and #, or in the German way (Es, Fis, H for B, moll and Dur).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from reedmill.base.errors import InputError, close_match
from reedmill.theory.modes import MAJOR_THIRD, MINOR_THIRD, MODES
from reedmill.theory.pitch import Pitch, pitch_class, place_on_fifths, tonic_on_fifths

PLAIN, MAJOR, MINOR, BLUES = "", "major", "minor", "blues"

# What may be said after the root, and what it makes of the song.
_KINDS = {
    "": PLAIN, "major": MAJOR, "maj": MAJOR, "dur": MAJOR, "minor": MINOR, "min": MINOR,
    "mi": MINOR, "m": MINOR, "moll": MINOR, "blues": BLUES, "minor blues": MINOR,
    "natural minor": "aeolian", "harmonic minor": MINOR, "melodic minor": MINOR,
    "major pentatonic": MAJOR, "minor pentatonic": MINOR,
    # the chord it begins and ends on
    "7": PLAIN, "maj7": MAJOR, "major 7": MAJOR, "m7": MINOR, "min7": MINOR, "minor 7": MINOR,
} | {mode: mode for mode in MODES}  # fmt: skip
_SIGNS = str.maketrans({"\N{MUSIC FLAT SIGN}": "b", "\N{MUSIC SHARP SIGN}": "#"})
_SPELLED = re.compile(
    r"(?P<letter>[A-H])(?:[ -]?(?P<sign>flat|sharp|[b#]|is|(?<=[CDFG])es|(?<=[AE])s))?",
    re.IGNORECASE,
)
_LETTER = re.compile(r"(?P<letter>[A-H])(?P<sign>)", re.IGNORECASE)
_MOST_LETTERS = 60
_MOST_SPLIT = 12  # as many as there are keys
_SHORT = 3  # letters of a kind that nothing is like
_MOST_SHARPS = 6  # in a key signature: all twelve keys need no more
# How many places on the line of fifths the root is above that of the signature.
_ABOVE = {MINOR: 3, "ionian": 0, "dorian": 2, "phrygian": 4, "lydian": -1, "mixolydian": 1,
          "aeolian": 3, "locrian": 5}  # fmt: skip
_WRITE = 'Write for example: E, Bb, "F# minor" or "G blues".'


@dataclass(frozen=True, slots=True)
class SongKey:
    """The key of a song: its root and what is said of it.

    >>> SongKey.parse("F sharp minor"), SongKey.parse("bb").label
    (SongKey(letter='F', alter=1, kind='minor'), 'Bb')
    """

    letter: str
    alter: int
    kind: str  # major, minor, blues, the name of a mode, or empty where only the root is known

    @property
    def name(self) -> str:
        """The root alone: ``Bb``."""
        return Pitch(self.letter, self.alter, 4).note

    @property
    def label(self) -> str:
        """The key in words: ``Bb``, ``E minor``, ``G blues``."""
        return f"{self.name} {self.kind}".rstrip()

    @property
    def pitch_class(self) -> int:
        """The root as semitones above C, 0 to 11."""
        return pitch_class(self.letter, self.alter)

    @property
    def third(self) -> int | None:
        """The third that is said, in semitones: 3, 4, or ``None`` where either may be meant."""
        if self.kind in (PLAIN, BLUES):
            return None
        minor = self.kind == MINOR or MINOR_THIRD in MODES.get(self.kind, ())
        return MINOR_THIRD if minor else MAJOR_THIRD

    @classmethod
    def parse(cls, text: str) -> SongKey:
        """Parse the key of a song; ``InputError`` with what to write instead.

        A root that would need more than six sharps or flats takes its other name.
        """
        said = _without_what_is_said_before(" ".join(in_letters(text).split()))
        found = _split(said) if len(said) <= _MOST_LETTERS else None
        if found is None:
            raise InputError(_refusal(text))
        root, kind = found
        return cls(*_simplest(root, kind), kind)

    @classmethod
    def parse_list(cls, *texts: str) -> tuple[SongKey, ...]:
        """Parse keys with commas or ``and`` between; each once, in order.

        >>> [each.label for each in SongKey.parse_list("E, Am and Bb", "E")]
        ['E', 'A minor', 'Bb']
        """
        words = (word for text in texts for word in re.split(r",|\s+(?:and|&)\s+", text))
        return tuple(dict.fromkeys(map(cls.parse, words)))


def in_letters(text: str) -> str:
    """Return *text* with the real signs of flats and sharps as b and #."""
    return text.translate(_SIGNS)


def read_tonic(text: str) -> tuple[str, int] | None:
    """Return letter and alteration of a note's name alone; ``None`` when *text* is none.

    >>> read_tonic("B flat"), read_tonic("Fis"), read_tonic("h"), read_tonic("Am")
    (('B', -1), ('F', 1), ('B', 0), None)
    """
    found = _SPELLED.fullmatch(in_letters(text))
    return _tonic(found) if found else None


def _tonic(found: re.Match[str]) -> tuple[str, int]:
    sign = (found["sign"] or "").lower()
    alter = {"": 0, "sharp": 1, "#": 1, "is": 1}.get(sign, -1)
    letter = found["letter"].upper()
    return ("B" if letter == "H" else letter), alter


def _simplest(root: tuple[str, int], kind: str) -> tuple[str, int]:
    """Return *root* by the name that needs six sharps or flats at the most."""
    place = place_on_fifths(*root)
    sharps = place - _ABOVE.get(kind, 0)
    if sharps > _MOST_SHARPS:
        place -= 12
    elif sharps < -_MOST_SHARPS:
        place += 12
    return tonic_on_fifths(place)


def _without_what_is_said_before(said: str) -> str:
    """Return *said* without ``the key of``, ``in``, or ``key`` and ``mode`` at its end."""
    said = re.sub(r"(?i)^(?:in |the |key |of )+(?=[a-h])", "", said)
    return re.sub(r"(?i)(?<=.)[ ](?:key|mode|scale|song|tune)$", "", said)


def _split(said: str) -> tuple[tuple[str, int], str] | None:
    """Return the root and the kind of song in *said*; ``None`` where it is not a key."""
    for found in filter(None, (_SPELLED.match(said), _LETTER.match(said))):
        kind = _kind(said[found.end() :])
        if kind is not None:
            return _tonic(found), kind
    return None


def _kind(rest: str) -> str | None:
    """Return the kind of song that *rest*, after a root, says; ``None`` for none."""
    word = rest.strip(" -")
    if word == "M":
        return None
    return MAJOR if word == "M7" else _KINDS.get(word.lower())


def _refusal(text: str) -> str:
    """Return the message for *text*, which is not the key of a song."""
    said, shown = " ".join(in_letters(text).split()), f"{text.strip():.40}"
    if not said:
        return f"no key is named. {_WRITE}"
    if re.fullmatch(r"\d{1,2}(st|nd|rd|th)?( position)?", said.lower()):
        return f'"{shown}" is a position, and a key is a note. {_WRITE}'
    harp = re.sub(r"(?i)^(?:low|high) | harp$", "", said)
    if harp != said:
        key = SongKey.parse(harp).label if _split(harp) else ""
        return (
            f'"{shown}" is a harp, not the key of a song. '
            f"{f'For a song in {key} write {key}.' if key else _WRITE}"
        )
    return _refused_root(said, shown)


def _refused_root(said: str, shown: str) -> str:
    """Return the message for what is neither empty nor a position or a harp."""
    found = _SPELLED.match(said)
    if found is None:
        return f'there is no key "{shown}". Keys are A to G, alone or with flat or sharp. {_WRITE}'
    root, more = SongKey(*_tonic(found), PLAIN).name, said[found.end() :].strip(" -")
    if more == "M":
        return f'"{shown}" may be major or minor. Write {root} for major, {root}m for minor.'
    words = re.split(r"[\s,]+", said)[:_MOST_SPLIT]
    if len(words) > 1 and all(map(_split, words)):
        return f'"{shown}" is several keys. Write commas between them: {", ".join(words)}'
    letter = _SPELLED.match(said[:1]) or found  # E blus is no Eb
    roots = dict.fromkeys((SongKey(*_tonic(letter), PLAIN).name, root))
    known = [f"{each} {kind}" for each in roots for kind in _KINDS if len(kind) > _SHORT]
    near = close_match(said[:_MOST_LETTERS], known) if len(more) >= _SHORT else ""
    return f'there is no key "{shown}".{near} {_WRITE}'
