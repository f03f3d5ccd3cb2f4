"""An evening as files: a course that a pack is built from, and the drills written for it.

The texts are ours, tab and numbers: no text of anybody else comes into them.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from reedmill.base.toml_text import toml_quoted
from reedmill.coaching.evening import Evening
from reedmill.coaching.planning import EveningPart, PracticeBlock

COURSE_FILE, DRILLS_FILE = "evening.toml", "evening.drill"

_WORDS = {
    EveningPart.WARM_UP: "To warm up: easy, with nothing bent.",
    EveningPart.SURVEY: "To be heard: play each rung as you know it, and record it.",
    EveningPart.FASTER: "A little faster than it went well.",
    EveningPart.MUSIC: "A piece of music to end with.",
}
_TIMES = {1: "Once", 2: "Twice", 3: "Three times", 4: "Four times"}

CAUTION = (
    "Put the harp down for half a minute after each. Breathe normally and stop when you feel "
    "dizzy; rest lips and jaw often. Pain or dizziness that comes back is a matter for a teacher "
    "or a doctor."
)
"""What is said with every evening."""

_TEXT = f"""
Take them in their order. {CAUTION}

Record a take of each: what is heard of it tells what comes next.
"""


def drills_text(found: Evening) -> str:
    """Return the text of the drills that were written for the evening; empty for none."""
    return "\n".join(_texts(found))


def _texts(found: Evening) -> Iterator[str]:
    yield from dict.fromkeys(block.offer.pattern for block in found.blocks if block.offer.pattern)


def course_text(found: Evening, day: date) -> str:
    """Return the course file of the evening of *day*."""
    harps = ", ".join(
        toml_quoted(name) for name in dict.fromkeys(b.offer.harp for b in found.blocks)
    )
    exercises = "".join(_exercise(found, block) for block in found.blocks)
    return (
        "# An evening of practice, chosen from what was heard.\n\n"
        f'title = "{day.day} {day:%B %Y}"\n'
        f"harps = [{harps}]\n\n"
        "[defaults]\n"
        'hand_out = ["sheet", "page", "tab", "audio"]\n'
        'drone    = "root"\n'
        "count_in = 1\n\n"
        "[[lessons]]\n"
        f'title = "{round(found.minutes)} minutes"\n'
        f'text  = """{_TEXT}"""\n'
        f"{exercises}"
    )


def _exercise(found: Evening, block: PracticeBlock) -> str:
    offer = block.offer
    file = f"  file      = {toml_quoted(DRILLS_FILE)}\n" if offer.pattern else ""
    return (
        "\n  [[lessons.exercises]]\n"
        f"  drill     = {toml_quoted(offer.title)}\n{file}"
        f"  harps     = {toml_quoted(offer.harp)}\n"
        f"  positions = {offer.position}\n"
        f"  tempo     = {offer.tempo}\n"
        f"  repeat    = {block.passes}\n"
        f"  note      = {toml_quoted(note(found, block))}\n"
    )


def note(found: Evening, block: PracticeBlock) -> str:
    """Return how often a block is played and what it is for, in sentences."""
    return f"{_TIMES[block.passes]}. {purpose(found, block)}"


def purpose(found: Evening, block: PracticeBlock) -> str:
    """Return what a block is for, in a sentence."""
    why = found.why(block)
    return _WORDS.get(block.part) or f"{why[:1].upper()}{why[1:]}."
