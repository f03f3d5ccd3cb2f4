"""Facts with which a page hears a take: the ear's, the harp's, and what its takes are known by."""

from __future__ import annotations

import json
from hashlib import sha256

from reedmill.base.text import file_slug, joined
from reedmill.ear.ear_facts import ear_facts
from reedmill.harp import Reed, note_on_harp
from reedmill.page.page_ladders import every_note
from reedmill.score.file_words import score_words
from reedmill.score.score import Note, Score
from reedmill.theory.pitch import with_signs


def harp_notes(score: Score) -> list[dict[str, object]]:
    """Return every note of the harp, one of each pitch, with its name and degree."""
    return [_named(score, tab, hz) for tab, hz in every_note(score)]


def _named(score: Score, tab: str, hz: float) -> dict[str, object]:
    heard = note_on_harp(score.harp, score.position, Reed.parse(tab))
    named = {"name": with_signs(heard.pitch.note), "degree": heard.degree.printed}
    return {"tab": tab, "hz": hz, **named}


def take_facts(score: Score) -> dict[str, object]:
    """Return the facts for hearing takes of *score*, and what they are known and called by.

    Takes of a drill are known by its music as it is played and tuned, so that a remark in its
    file or another drill beside it there changes nothing.
    """
    music = json.dumps([_played(note) for note in score.notes]).encode()
    return ear_facts(score) | {
        "known_as": sha256(music).hexdigest(),
        "file": joined(*map(file_slug, (score.title, *score_words(score)))),
    }


def _played(note: Note) -> list[object]:
    """Return what makes a note the same note in a later version of the page too."""
    played = [str(note.start), str(note.length), note.tab, f"{note.hz:.2f}", note.joined]
    slow = [] if note.slide_beats is None else [str(note.slide_beats)]
    return [*played, *note.style.words, *slow]
