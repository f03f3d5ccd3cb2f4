"""The role of a reed in a chord: which rung fits which chord of a form."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy
from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.theory.chords import Chord
from reedmill.theory.degrees import CHROMATIC
from reedmill.theory.positions import Position

MOST_CHORDS = 8
BLUES = tuple(map(Chord.parse, ("I7", "IV7", "V7")))


@dataclass(frozen=True, slots=True)
class ChordRole:
    """The role of one reed in one chord: root, third, b7, tension..."""

    name: str  # counted from the chord's root: b7, 9 as 2
    tone: str | None  # as the chord counts its tones; None for no tone of it
    word: str  # root, third, fifth, b7, tension or passing


def chord_role(harp: Harp, position: Position, reed: Reed, chord: Chord) -> ChordRole:
    """Return the role of *reed* in *chord* of the key that *harp* plays in *position*.

    A note outside the chord is a tension or passes, see ``Chord.role``: common practice.

    >>> chord_role(Harp("C"), Position(2), Reed.parse("-3'"), Chord.parse("IV7")).word
    'b7'
    """
    semitones = note_on_harp(harp, position, reed).degree.semitones
    above = (semitones - chord.root.semitones) % 12
    return ChordRole(CHROMATIC[above].name, chord.tone(semitones), chord.role(semitones))


def parse_chords(text: str) -> tuple[Chord, ...]:
    """Parse the chords of ``I7 IV7 V7``; ``InputError`` for none, too many or a bad one."""
    words = re.split(r"[\s,|]+", text.strip())
    if not text.strip() or len(words) > MOST_CHORDS:
        raise InputError(
            f"1 to {MOST_CHORDS} chords can be looked at.",
            way_out=Remedy.CHORDS_NAMED,
            most=str(MOST_CHORDS),
        )
    return tuple(map(Chord.parse, words))
