"""Chord tones among the notes of a score, and the target notes among them."""

from __future__ import annotations

from reedmill.score.score import Note, Score


def chord_tone(score: Score, note: Note) -> str | None:
    """Return which tone of its chord *note* is (``1``, ``b3``, ``b7``); ``None`` for no tone of it.

    ``None`` too where nothing plays under the score.
    """
    if score.band is None:
        return None
    return score.band.chord_at(note.start).tone(note.degree.semitones)


def is_target(score: Score, note: Note) -> bool:
    """Return True for a chord tone where the chord changes, or on a first beat.

    Common practice, no published source: players aim at these and pass through the others.
    """
    if score.band is None or chord_tone(score, note) is None:
        return False
    return score.band.changes_at(note.start) or note.start % score.meter.beats == 0
