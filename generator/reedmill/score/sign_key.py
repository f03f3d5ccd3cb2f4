"""What the signs of several holes, quarter tones, slow slides and marks of style mean.

A page explains those that its score has, in these words, whether they are drawn or written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from reedmill.score.score import Note, Score
from reedmill.score.style import COUNTED, Mark


class NoteSign(Enum):
    """A sign that tells what is played besides marks of style; its value is what it means."""

    HOLES = "holes together in one breath"
    TONGUE = "the tongue covers the holes between"
    QUARTER = "a quarter tone lower"
    SLOW_SLIDE = "how many beats the slide takes"


Sign = NoteSign | Mark

MARK_MEANINGS: dict[Mark, str] = {
    Mark.MUTE: "hands closed around the harp",
    Mark.SLAP: "the chord for an instant, then the note",
    Mark.SCOOP: "in from a bend below",
    Mark.VIBRATO: "waves in a beat",
    Mark.SHAKE: "back and forth, times in a beat",
    Mark.FALL: "off into a bend below",
    Mark.PULL: "the chord for an instant at the end",
}
"""What each mark asks for, in words a teacher says."""


@dataclass(frozen=True, slots=True)
class ExplainedSign:
    """A sign as it is written in tab, and what it means."""

    sign: Sign
    written: str  # an example: ``-2&3``, ``vibrato4``
    meaning: str


def meaning_of(sign: Sign) -> str:
    """Return what *sign* means."""
    return MARK_MEANINGS[sign] if isinstance(sign, Mark) else sign.value


def signs_used(score: Score) -> tuple[Sign, ...]:
    """Return the signs that *score* has, in the order of their tables, each once."""
    used = {sign for note in score.notes for sign in signs_of(note)}
    return tuple(sign for sign in (*NoteSign, *Mark) if sign in used)


def signs_of(note: Note) -> Iterator[Sign]:
    """Yield the signs that *note* needs."""
    if note.beside:
        yield NoteSign.HOLES
    if note.tongue_on:
        yield NoteSign.TONGUE
    if any(reed.quarter for reed in note.reeds):
        yield NoteSign.QUARTER
    if note.slide_beats is not None:
        yield NoteSign.SLOW_SLIDE
    yield from note.style.marks


_EXAMPLES = {
    NoteSign.HOLES: "-2&3", NoteSign.TONGUE: "-1&4", NoteSign.QUARTER: "-3q",
    NoteSign.SLOW_SLIDE: "~:2",
}  # fmt: skip


def explained_signs(score: Score) -> list[ExplainedSign]:
    """Return the signs that *score* has as tab writes them, with their meanings."""
    return [ExplainedSign(sign, _example(sign), meaning_of(sign)) for sign in signs_used(score)]


def _example(sign: Sign) -> str:
    if isinstance(sign, NoteSign):
        return _EXAMPLES[sign]
    return f"{sign.value}4" if sign in COUNTED else sign.value
