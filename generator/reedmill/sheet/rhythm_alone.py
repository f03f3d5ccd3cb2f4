"""Printed bars without anything that tells which holes they are: the rhythm, and nothing else.

Every note is changed into the same one before it is drawn, so that what gives a note away cannot
be forgotten: heads, accidentals, the way of a slide, signs of style, plans for the mouth, and
breaths, which say whether one blew or drew before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reedmill.base.text import NO_TEXT
from reedmill.harp import Breath, Harp, Reed
from reedmill.score.repeats import PrintedBar
from reedmill.score.score import Note, Role, Score
from reedmill.score.style import PLAIN
from reedmill.theory.degrees import Degree
from reedmill.theory.pitch import Pitch
from reedmill.theory.positions import Position

_REED, _PITCH, _DEGREE = Reed(5, Breath.BLOW), Pitch("C", 0, 5), Degree(1)


def rhythm_bars(shown: Sequence[PrintedBar]) -> list[PrintedBar]:
    """Return the bars *shown* with one and the same note in place of all.

    They are those of the whole drill: music whose repeats differ in pitch alone stays written out.
    """
    same: dict[int, Note] = {}  # whose values may be tied, and must stay one note
    found = []
    for bar in shown:
        written = [
            each
            if each.note is None
            else replace(each, note=same.setdefault(id(each.note), rhythm_note(each.note)))
            for each in bar.written
        ]
        found.append(replace(bar, written=tuple(written)))
    return found


def rhythm_note(note: Note) -> Note:
    """Return *note* as all others are: when it comes, its accent, and whether it is slid to."""
    return replace(
        note, reed=_REED, pitch=_PITCH, degree=_DEGREE, hz=1.0, role=Role.FREE, embouchure=None,
        beside=(), style=PLAIN, slide_beats=None,
    )  # fmt: skip


def rhythm_score(score: Score) -> Score:
    """Return *score* without its texts, key, plan, breaths and band, for the marks over its bars.

    Its notes are changed too; bars must not be made of it, since more of them would look alike.
    """
    return replace(
        score, title=NO_TEXT, about=NO_TEXT, listen=NO_TEXT, harp=Harp("C"), position=Position(1),
        notes=tuple(map(rhythm_note, score.notes)), anchor_holes=(), rung_holes=(), embouchure=None,
        sections=(), breaths=(), band=None,
    )  # fmt: skip
