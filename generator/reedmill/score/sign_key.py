"""The key to the signs of several holes, quarter tones, slow slides, lifts and marks of style.

A page explains those that its score has, in these words, whether they are drawn or written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from reedmill.score.score import Note, Score
from reedmill.score.style import COUNTED, Mark


class NoteSign(Enum):
    """A sign that tells what is played besides marks of style."""

    HOLES = "several holes"
    TONGUE = "tongue"
    QUARTER = "quarter tone"
    SLOW_SLIDE = "slow slide"
    LIFT = "lift"


Sign = NoteSign | Mark

MEANINGS: dict[Sign, str] = {
    NoteSign.HOLES: "holes together in one breath",
    NoteSign.TONGUE: "the tongue covers the holes between",
    NoteSign.QUARTER: "a quarter tone lower",
    NoteSign.SLOW_SLIDE: "the slide takes {count} of the note it comes to",
    NoteSign.LIFT: "no new attack: what both notes share sounds on",
    Mark.MUTE: "hands closed around the harp",
    Mark.SLAP: "a chord for an instant, then the note",
    Mark.SCOOP: "in from a bend below",
    Mark.VIBRATO: "{count} a beat",
    Mark.SHAKE: "back and forth between both holes, {count} a beat",
    Mark.FALL: "off into a bend below",
    Mark.PULL: "the note, then a chord for an instant",
}
"""What each asks for, in words a teacher says, with the count of the note that shows it."""


_DRAWN: dict[Sign, str] = {
    NoteSign.TONGUE: "a square for each",
    NoteSign.LIFT: "a tie",
    Mark.SCOOP: "a bow that rises",
    Mark.FALL: "a bow that falls",
    Mark.VIBRATO: "a wave",
    Mark.SHAKE: "an arrow to both sides",
}


@dataclass(frozen=True, slots=True)
class ExplainedSign:
    """A sign as its first note has it, and what it means."""

    sign: Sign
    written: str  # in tab: ``-2&3``, ``vibrato4``, ``~:2``
    meaning: str

    @property
    def drawn(self) -> str:
        """The drawing on the staff in words, where it is not written there; else empty."""
        return _DRAWN.get(self.sign, "")


def explained_signs(score: Score) -> list[ExplainedSign]:
    """Return the signs that *score* has, in the order of ``MEANINGS``, as its first notes do."""
    first: dict[Sign, ExplainedSign] = {}
    for note in score.notes:
        for each in _explained(score, note):
            first.setdefault(each.sign, each)
    return [first[sign] for sign in MEANINGS if sign in first]


def _explained(score: Score, note: Note) -> Iterator[ExplainedSign]:
    if note.tongue_on:
        yield _told(NoteSign.TONGUE, note.tab)
    elif note.beside:
        yield _told(NoteSign.HOLES, note.tab)
    if any(reed.quarter for reed in note.reeds):
        yield _told(NoteSign.QUARTER, note.tab)
    if note.slide_beats is not None:
        beats = "1 beat" if note.slide_beats == 1 else f"{note.slide_beats} beats"
        yield _told(NoteSign.SLOW_SLIDE, f"~:{note.slide_beats}", beats)
    if score.held_over(note):
        yield _told(NoteSign.LIFT, f"~{note.tab}")
    for mark, word in zip(note.style.marks, note.style.words, strict=True):
        yield _told(mark, word, _times(mark, note.style.a_beat) if mark in COUNTED else "")


def _times(mark: Mark, count: int | None) -> str:
    one, more = ("wave", "waves") if mark is Mark.VIBRATO else ("time", "times")
    return f"{count} {one if count == 1 else more}"


def _told(sign: Sign, written: str, count: str = "") -> ExplainedSign:
    return ExplainedSign(sign, written, MEANINGS[sign].format(count=count))
