"""Chord symbols in MusicXML 4.0: a ``harmony`` element with root, kind and degrees."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction

from reedmill.score.score import Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key

# The names of the standard's kind-value type; what it has no name for is a kind with a
# degree added or, where the kind has it already, altered: (value, alter, type).
_KINDS: dict[str, tuple[str, tuple[int, int, str] | None]] = {
    "": ("major", None), "m": ("minor", None), "7": ("dominant", None),
    "m7": ("minor-seventh", None), "maj7": ("major-seventh", None), "6": ("major-sixth", None),
    "m6": ("minor-sixth", None), "9": ("dominant-ninth", None), "m9": ("minor-ninth", None),
    "13": ("dominant-13th", None), "7#9": ("dominant", (9, 1, "add")),
    "7b9": ("dominant", (9, -1, "add")), "7b5": ("dominant", (5, -1, "alter")),
    "dim": ("diminished", None),
    "dim7": ("diminished-seventh", None), "m7b5": ("half-diminished", None),
    "aug": ("augmented", None), "sus4": ("suspended-fourth", None),
    "7sus4": ("suspended-fourth", (7, -1, "add")),
}  # fmt: skip
_ALTERS = {"": 0, "b": -1, "#": 1}


def harmonies(score: Score) -> Iterator[tuple[Fraction, ET.Element]]:
    """Yield the chords under *score*, each with the beat where it starts."""
    if score.band is not None:
        for start, chord in score.band.chords:
            if start < score.length:
                yield start, _harmony(chord, score.key)


def _harmony(chord: Chord, key: Key) -> ET.Element:
    element = ET.Element("harmony")
    symbol = chord.symbol(key)
    name = symbol.removesuffix(chord.quality)
    root = ET.SubElement(element, "root")
    ET.SubElement(root, "root-step").text = name[0]
    if alter := _ALTERS[name[1:]]:
        ET.SubElement(root, "root-alter").text = str(alter)
    kind, more = _KINDS[chord.quality]
    ET.SubElement(element, "kind", text=chord.quality).text = kind
    if more:
        degree = ET.SubElement(element, "degree")
        value, alter, way = more
        ET.SubElement(degree, "degree-value").text = str(value)
        ET.SubElement(degree, "degree-alter").text = str(alter)
        ET.SubElement(degree, "degree-type").text = way
    return element
