"""The keys of a course file, in tables: what each takes, and a line that works.

Messages, their tests and the reference in ``courses/README.md`` derive from these rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from reedmill.base.ranges import REFERENCES_IN_WORDS, TEMPI_IN_WORDS
from reedmill.pack.course.limits import (
    MAX_CHARTS,
    MAX_CHORUSES,
    MAX_DRILLS,
    MAX_EXERCISES,
    MAX_HARPS,
    MAX_LESSONS,
    MAX_LINE,
    MAX_STUDENTS,
    MAX_TEXT,
    MAX_TITLE,
    PACES,
)

NONE = "none"
"""Takes back what defaults or the lesson say of a key."""


@dataclass(frozen=True, slots=True)
class CourseKey:
    """One key a table of a course file may have."""

    name: str
    takes: str  # completes "<name> takes ..."
    example: str  # a line that works


PRACTICE = (
    CourseKey(
        "harps",
        f'harps by name, at most {MAX_HARPS}, or "rotate" or "all"',
        'harps = ["F", "C", "low F"]',
    ),
    CourseKey("key", f"the key of the song, or a list of keys, at most {MAX_HARPS}", 'key = "E"'),
    CourseKey(
        "rotation", "registers in the order they come", 'rotation = ["high", "middle", "low"]'
    ),
    CourseKey("turn", '"exercise" or "lesson": what moves the rotation on', 'turn = "lesson"'),
    CourseKey("positions", "positions from 1 to 12, as numbers or in words", "positions = [2, 3]"),
    CourseKey("tempo", f"whole beats a minute, {TEMPI_IN_WORDS}", "tempo = 60"),
    CourseKey(
        "embouchure",
        "lips, tongue left or tongue right, or a list of plans",
        'embouchure = ["lips", "anchors tongue left, rungs lips"]',
    ),
    CourseKey("hand_out", "kinds of files", 'hand_out = ["sheet", "tab", "audio"]'),
    CourseKey("drone", "the tones of the drone", 'drone = "root+fifth"'),
    CourseKey("click", '"beats" or "offbeats"', 'click = "beats"'),
    CourseKey("count_in", "the bars clicked before the music, 0 to 16", "count_in = 1"),
    CourseKey("repeat", "how often a drill is played, 1 to 100", "repeat = 4"),
    CourseKey("echo", 'the bars played and then left open, 1 to 16, or "all"', "echo = 1"),
    CourseKey("fade_out", "true or false: softer tones at each repeat", "fade_out = true"),
    CourseKey("ladder", "several tempi, one after the other", 'ladder = "60 to 90 by 5"'),
    CourseKey("apart", "true or false: each tempo of the ladder in its own file", "apart = true"),
    CourseKey(
        "stems", "true or false: tones, band, drone and click in files of their own", "stems = true"
    ),
    CourseKey("wide", "true or false: tones left, drone right", "wide = true"),
    CourseKey("loop", "true or false: also a drone that can be looped", "loop = true"),
    CourseKey("pure", "true or false: tones that keep still, to tune by", "pure = true"),
    CourseKey("audio", "types of sound files", 'audio = ["mp3"]'),
    CourseKey(
        "backing",
        "a form and a feel, in curly brackets",
        'backing = { form = "Twelve bars", feel = "Medium shuffle", choruses = 2 }',
    ),
)

TABLES: dict[str, tuple[CourseKey, ...]] = {
    "the course": (
        CourseKey(
            "title", f"a title in quotes, at most {MAX_TITLE} characters", 'title = "Clean bends"'
        ),
        CourseKey(
            "author", f"a name in quotes, at most {MAX_TITLE} characters", 'author = "A. Teacher"'
        ),
        CourseKey(
            "about",
            f"one line in quotes, at most {MAX_LINE} characters",
            'about = "Bends that sing."',
        ),
        CourseKey(
            "harps",
            f"the harps a player is expected to have, 1 to {MAX_HARPS} names",
            'harps = ["F", "C", "A"]',
        ),
        CourseKey("tuning", "the name of a layout", 'tuning = "richter"'),
        CourseKey("intonation", "equal, just5, just7 or blues", 'intonation = "just5"'),
        CourseKey(
            "reference", f"the frequency of A4 in Hz, {REFERENCES_IN_WORDS}", "reference = 442"
        ),
        CourseKey(
            "book",
            "the record book of the class: a file in the folder of the course",
            'book = "class.book"',
        ),
        CourseKey("cautions", "true or false: say how to practise without harm", "cautions = true"),
        CourseKey("page", "a table: how the sheets look", '[page]\npaper = "letter"'),
        CourseKey("defaults", "a table: how every lesson is practised", "[defaults]\ntempo = 60"),
        CourseKey(
            "lessons",
            f"tables with [[lessons]] over each, 1 to {MAX_LESSONS}",
            '[[lessons]]\ntitle = "Home"',
        ),
        CourseKey(
            "students",
            f"tables with [[students]] over each, at most {MAX_STUDENTS}",
            '[[students]]\nname = "Ada"',
        ),
    ),
    "the page table": (
        CourseKey("paper", '"a4" or "letter"', 'paper = "letter"'),
        CourseKey("show", '"both", "notation" or "tab"', 'show = "tab"'),
        CourseKey("large", "true or false: large print", "large = true"),
        CourseKey("black", "true or false: pure black and white", "black = true"),
    ),
    "the defaults": PRACTICE,
    "a lesson": (
        CourseKey("title", f"a title in quotes, at most {MAX_TITLE} characters", 'title = "Home"'),
        CourseKey(
            "goal",
            f"one line in quotes, at most {MAX_LINE} characters",
            'goal = "Every rung stands alone."',
        ),
        CourseKey("text", f"Markdown, at most {MAX_TEXT} characters", 'text = "Play *slowly*."'),
        CourseKey("text_file", "a file in the folder of the course", 'text_file = "week-1.md"'),
        CourseKey("next", "true or false: what each student should practise next", "next = true"),
        CourseKey("minutes", "the minutes that next may last, 3 to 120", "minutes = 20"),
        CourseKey(
            "exercises",
            f"tables with [[lessons.exercises]] over each, at most {MAX_EXERCISES}",
            '[[lessons.exercises]]\ndrill = "Home from every rung"',
        ),
        CourseKey(
            "charts",
            f"tables with [[lessons.charts]] over each, at most {MAX_CHARTS}",
            "[[lessons.charts]]\nreeds = \"-3 -3' -3''\"",
        ),
        *PRACTICE,
    ),
    "an exercise": (
        CourseKey(
            "drill",
            f"the title of a drill in quotes, or a list of them, at most {MAX_DRILLS}",
            'drill = "Home from every rung"',
        ),
        CourseKey("file", "a file in the folder of the course", 'file = "mine.drill"'),
        CourseKey("topic", "a topic of the library", 'topic = "thirds"'),
        CourseKey("level", "a number from 1 (easiest) to 5", "level = 2"),
        CourseKey(
            "note",
            f"one line in quotes, at most {MAX_LINE} characters",
            'note = "Eyes closed, the second time."',
        ),
        *PRACTICE,
    ),
    "a chart": (
        CourseKey("reeds", "the reeds as tab in quotes", "reeds = \"-3 -3' -3''\""),
        CourseKey("harps", 'harps by name, or "rotate" or "all"', 'harps = "C"'),
        CourseKey(
            "key", f"the key of the song, or a list of keys, at most {MAX_HARPS}", 'key = "E"'
        ),
    ),
    "a backing": (
        CourseKey(
            "form",
            "the title of a form in quotes, or a .form file in the folder of the course",
            'form = "Twelve bars"',
        ),
        CourseKey(
            "feel",
            "the title of a feel in quotes, or a .feel file in the folder of the course",
            'feel = "Medium shuffle"',
        ),
        CourseKey("choruses", f"times through the form, 1 to {MAX_CHORUSES}", "choruses = 3"),
        CourseKey(
            "lay", '"loop", "once" or "chords": how the drill lies over it', 'lay = "chords"'
        ),
    ),
    "a student": (
        CourseKey("name", f"a name in quotes, at most {MAX_TITLE} characters", 'name = "Ada"'),
        CourseKey(
            "harps", f"the student's own harps, at most {MAX_HARPS} names", 'harps = ["Bb", "G"]'
        ),
        CourseKey("registers", "the registers they play", 'registers = ["middle", "low"]'),
        CourseKey(
            "pace",
            f"per cent of every tempo, {PACES[0]} to {PACES[-1]}",
            "pace = 80",
        ),
        CourseKey("tuning", "the name of a layout", 'tuning = "country"'),
        CourseKey("intonation", "equal, just5, just7 or blues", 'intonation = "just5"'),
        CourseKey(
            "reference", f"the frequency of A4 in Hz, {REFERENCES_IN_WORDS}", "reference = 442"
        ),
        CourseKey("paper", '"a4" or "letter"', 'paper = "letter"'),
        CourseKey("show", '"both", "notation" or "tab"', 'show = "tab"'),
        CourseKey("large", "true or false: large print", "large = true"),
        CourseKey("black", "true or false: pure black and white", "black = true"),
        CourseKey(
            "without",
            "exercises left out, by drill title or by lesson and exercise, such as 2.3",
            'without = ["Two bars home"]',
        ),
    ),
}

_BY_KEY = {
    "page": "the page table",
    "defaults": "the defaults",
    "lessons": "a lesson",
    "exercises": "an exercise",
    "charts": "a chart",
    "backing": "a backing",
    "students": "a student",
}


def table_at(path: tuple[str | int, ...]) -> str:
    """Return the table in which the key at the end of *path* stands.

    >>> table_at(("lessons", 0, "exercises", 2, "drill", 1))
    'an exercise'
    """
    table = "the course"
    for key, after in pairwise(path):
        if isinstance(key, str) and not (key in _LISTS and isinstance(after, str)):
            table = _BY_KEY.get(key, table)
    return table


_LISTS = {"lessons", "exercises", "charts", "students"}


def key_named(table: str, name: str) -> CourseKey | None:
    """Return the row of *name* in *table*."""
    return next((key for key in TABLES[table] if key.name == name), None)


def homes(name: str) -> list[str]:
    """Return the tables that have a key called *name*."""
    return [table for table in TABLES if key_named(table, name)]
