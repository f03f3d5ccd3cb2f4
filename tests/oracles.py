"""What the world outside says about harps: published tables, read by music21.

Nothing here comes from the project: tab is read with a pattern of its own.
"""

from __future__ import annotations

import importlib.util
import re
from functools import cache
from pathlib import Path
from typing import Any

import music21
from music21.scale import scala

# The sequence A291810 in the On-Line Encyclopedia of Integer Sequences: semitones above
# hole 1 blow, blow and draw in turn from hole 1.
A291810 = [0, 2, 4, 7, 7, 11, 12, 14, 16, 17, 19, 21, 24, 23, 28, 26, 31, 29, 36, 33]

# Hole 1 blow: a C harp starts at middle C, harps in G to B lie below it and Db to F#
# above (encyclopaedia articles on the Richter-tuned harmonica); low harps are an octave
# under (common practice, no published source).  In music21's names.
HOLE_1 = {
    "G": "G3", "Ab": "A-3", "A": "A3", "Bb": "B-3", "B": "B3", "C": "C4", "Db": "D-4",
    "D": "D4", "Eb": "E-4", "E": "E4", "F": "F4", "F#": "F#4",
    "low F": "F3", "low D": "D3", "low C": "C3",
}  # fmt: skip

HARPS = tuple(HOLE_1)
POSITIONS = range(1, 13)


def in_music21(name: str) -> Any:
    """The music21 pitch of a name whose flats are written b where music21 writes -."""
    return music21.pitch.Pitch(name.replace("b", "-"))


@cache
def key_number(name: str) -> int:
    """The MIDI key number of a pitch name."""
    return int(in_music21(name).midi)


@cache
def tempered_hz(key: int) -> float:
    """Frequency in Hz of a MIDI key at A4 = 440 Hz, ISO 16:1975."""
    return float(music21.pitch.Pitch(midi=key).frequency)


def plain_semitones(tab: str) -> int:
    """Semitones over hole 1 blow of a natural note or a bend, which lowers by its ticks."""
    match = re.fullmatch(r"(-?)(\d+)('*)", tab)
    assert match, tab
    sign, hole, ticks = match.groups()
    return A291810[2 * int(hole) - 2 + bool(sign)] - len(ticks)


@cache
def sounding(harp: str, tab: str) -> int:
    """The MIDI key number that *tab* sounds on the Richter harp called *harp*."""
    return int(music21.pitch.Pitch(HOLE_1[harp]).midi) + plain_semitones(tab)


@cache
def root(harp: str, position: int) -> Any:
    """The music21 pitch of a position's root: position - 1 perfect fifths over the harp's key."""
    pitch = music21.pitch.Pitch(HOLE_1[harp])
    for _ in range(position - 1):
        pitch = pitch.transpose("P5")
    return pitch


@cache
def degree_by_spelling(tonic: str, note: str) -> str:
    """The degree of a note by its name, against music21's major scale on *tonic*."""
    scale = music21.scale.MajorScale(tonic.replace("b", "-"))
    number, accidental = scale.getScaleDegreeAndAccidentalFromPitch(in_music21(note))
    sign = "" if accidental is None else {"flat": "b", "sharp": "#"}[accidental.name]
    return f"{sign}{number}"


@cache
def most_sharps_or_flats(tonic: str) -> int:
    """The size of the key signature, of the major or the minor key on *tonic*, the smaller one."""
    name = tonic.replace("b", "-")
    return min(abs(int(music21.key.Key(name, mode).sharps)) for mode in ("major", "minor"))


def _cents(name: str) -> list[float]:
    """Cents over the root of a twelve-note tuning in the Scala archive, the root first."""
    return [0.0, *map(float, scala.parse(name).getCentsAboveTonic())][:12]


def published_cents() -> dict[str, list[float]]:
    """Cents over the root of the twelve semitones, root first, in each intonation.

    5-limit is A. J. Ellis's duodene.  7-limit is ``ji_12a.scl`` with the sixth 5/3
    of ``handblue.scl``: the Scala archive, as music21 carries it.
    """
    seven = _cents("ji_12a.scl")
    seven[9] = _cents("handblue.scl")[9]
    return {
        "equal": [100.0 * step for step in range(12)],
        "just5": _cents("duodene.scl"),
        "just7": seven,
    }


def bend_depth(hole: int) -> int:
    """Semitones strictly between the hole's two notes (Bahnson, Antaki and Beery, 1998)."""
    blow, draw = A291810[2 * hole - 2 : 2 * hole]
    return max(0, abs(blow - draw) - 1)


def run(hole: int) -> list[str]:
    """The tab of the hole's bending reed and all its bends, highest first."""
    blow, draw = A291810[2 * hole - 2 : 2 * hole]
    natural = f"-{hole}" if draw > blow else f"{hole}"
    return [natural + "'" * bend for bend in range(bend_depth(hole) + 1)]


# Every natural note and bend of a Richter harp, in tab.
PLAIN_TABS = [
    tab
    for hole in range(1, 11)
    for tab in (f"{hole}", f"-{hole}", *run(hole)[1:])
]  # fmt: skip


def beside(package: str, inner: str) -> str:
    """A file inside an installed package, which is not imported for it."""
    spec = importlib.util.find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return str(Path(spec.origin).parent / inner)
