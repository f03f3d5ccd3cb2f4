"""The two long courses: bends in order, levels, positions, minutes, and what texts say of notes.

Semitones come from the published table of the Richter harp (``oracles.py``), degrees and keys
from music21. That -4' and -1' come first, then -3', then -3'' and draw 2, and -3''' last is
common practice in teaching; there is no published source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise

import music21
import pytest

from oracles import A291810, in_music21, plain_semitones
from reedmill.base.shipped import courses_dir
from reedmill.pack.course.course import Course, Lesson, editions
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.shipped_courses import find_course
from reedmill.pack.course.tasks import Task, tasks

WEEKS = {"Eight weeks of clean bends": 8, "Twelve weeks of first and third": 12}
long_courses = pytest.mark.parametrize("title", WEEKS)

# How late each bend comes.  Draw 6 may come with draw 4 and draw 1, which it is like.
STEPS = (("-4'", "-1'"), ("-3'",), ("-3''", "-2'", "-2''"), ("-3'''",), ("8'", "9'", "10'", "10''"))


@cache
def course_called(title: str) -> Course:
    return read_course(find_course(title))


@cache
def made(title: str) -> tuple[Task, ...]:
    [edition] = editions(course_called(title))
    return tuple(each for each in tasks(edition) if isinstance(each, Task))


def weeks(title: str) -> tuple[Lesson, ...]:
    return course_called(title).lessons[: WEEKS[title]]


def bends_met(title: str) -> list[str]:
    """Every bend in the order in which a student meets it."""
    notes = (note for task in made(title) for note in task.score.notes)
    return list(dict.fromkeys(reed.tab for note in notes for reed in note.reeds if reed.bend))


@long_courses
def test_bends_are_met_in_the_order_in_which_they_are_learned(title: str) -> None:
    met = bends_met(title)
    assert {each for step in STEPS[:4] for each in step} <= set(met)
    places = [[met.index(tab) for tab in step if tab in met] for step in STEPS]
    for earlier, later in pairwise(places):
        if later:
            assert max(earlier) < min(later), met
    assert met.index("-6'") < met.index("-3'")


@long_courses
def test_levels_rise_by_steps_and_stay_within_what_the_course_states(title: str) -> None:
    stated = re.search(r"levels (\d) to (\d)\.$", course_called(title).about)
    assert stated
    hardest = [max(entry.drill.level or 0 for entry in lesson.entries) for lesson in weeks(title)]
    assert (hardest[0], max(hardest)) == (int(stated[1]), int(stated[2]))
    reached = hardest[0]
    for level in hardest:
        assert reached - 1 <= level <= reached + 1, hardest
        reached = max(reached, level)


@long_courses
def test_every_drill_is_played_in_a_position_it_is_meant_for(title: str) -> None:
    for task in made(title):
        meant = next(
            entry.drill.positions
            for lesson in weeks(title) for entry in lesson.entries
            if entry.drill.title == task.score.title
        )  # fmt: skip
        assert not meant or task.score.position.number in meant, task.score.title


def test_the_twelve_weeks_are_of_first_and_third() -> None:
    by_week: dict[int, set[int]] = {}
    for task in made("Twelve weeks of first and third"):
        by_week.setdefault(task.lesson, set()).add(task.score.position.number)
    assert all(played & {1, 3} for played in by_week.values())
    assert [week for week, played in by_week.items() if 2 in played] == [7]  # one page, as it says


@long_courses
def test_a_week_has_room_for_its_minutes(title: str) -> None:
    """Each recording fits twice into the minutes a week names, with a quarter of them for rests."""
    for lesson in weeks(title):
        named = re.search(r"\nAbout (\d+) minutes a day, rests counted\.", lesson.text)
        assert named, lesson.title
        played_s = sum(
            float(task.recording.plan(task.score).length_s)
            for task in made(title) if task.lesson == lesson.number and task.recording
        )  # fmt: skip
        assert 2 * played_s <= 0.8 * 60 * int(named[1]) <= 20 * 60, lesson.title


@long_courses
def test_both_courses_end_with_the_same_pages_to_read(title: str) -> None:
    texts = [path.read_text("utf-8") for path in courses_dir().glob("reading-*.md")]
    pages = course_called(title).lessons[WEEKS[title] :]
    assert sorted(page.text.strip() for page in pages) == sorted(map(str.strip, texts))
    assert not any(page.entries for page in pages)
    text = " ".join(" ".join(lesson.text.split()) for lesson in weeks(title))
    named = set(re.findall(r"\*([^*]+)\*(?:,| is) at the end of the book", text))
    assert {each.title.removeprefix("To read: ") for each in pages} == {
        name[0].lower() + name[1:] for name in named
    }


# --- what the texts say of notes ------------------------------------------------------------

# On a C harp, in 1st position (C) or 3rd (D): the words, a tab, a degree of the major scale and
# by how much it is altered.
SAID = {
    "Draw 4 is the **2** of first position": ("C", "-4", 2, 0),
    "it is the **flat two**, so near to home": ("C", "-4'", 2, -1),
    "Draw 1 does the same an octave lower": ("C", "-1'", 2, -1),
    "Draw 6 is the **6**": ("C", "-6", 6, 0),
    "the **flat six**": ("C", "-6'", 6, -1),
    "Now it is the **7**, a semitone *under* home": ("D", "-4'", 7, 0),
    "Draw 6 is the **5** of third position": ("D", "-6", 5, 0),
    "its bend the **flat five**, the darkest": ("D", "-6'", 5, -1),
    "draw 1 is home as well": ("D", "-1", 1, 0),
    "its bend is the 7 under it": ("D", "-1'", 7, 0),
    "Draw 7 is the 6 of the key": ("D", "-7", 6, 0),
    "It is the **7**. One semitone down is": ("C", "-3", 7, 0),
    "One semitone down is the **flat seven**": ("C", "-3'", 7, -1),
    "two down is the **6**": ("C", "-3''", 6, 0),
    "The **4** is draw 2 bent two semitones": ("C", "-2''", 4, 0),
    "one semitone down, is the flat five": ("C", "-2'", 5, -1),
    "draw 2 is the **4** above it": ("D", "-2", 4, 0),
    "Bent by one semitone it is the bright third": ("D", "-2'", 3, 0),
    "by two the **flat third**": ("D", "-2''", 3, -1),
    "The 5 is a bend too: draw 3, two semitones down": ("D", "-3''", 5, 0),
    "it is the **last rung of draw 3**": ("D", "-3'''", 5, -1),
    "Blow 8 is the **3**": ("C", "8", 3, 0),
    "its bend the **flat third**, blow 9": ("C", "8'", 3, -1),
    "blow 9 is the **5**": ("C", "9", 5, 0),
    "its bend the **flat five**, and blow 10": ("C", "9'", 5, -1),
    "to the **7** and the **flat seven**": ("C", "10'", 7, 0),
    "and the **flat seven**.": ("C", "10''", 7, -1),
}


def test_what_the_twelve_weeks_say_of_a_note_is_true() -> None:
    text = " ".join(
        " ".join(each.text.split()) for each in weeks("Twelve weeks of first and third")
    )
    for words, (key, tab, degree, alter) in SAID.items():
        assert words in text
        assert plain_semitones(tab) % 12 == degree_in(key, degree, alter), words


def degree_in(key: str, degree: int, alter: int) -> int:
    scale = music21.scale.MajorScale(key)
    return int(scale.pitchFromDegree(degree).transpose(alter).pitchClass)


def rows(name: str) -> Iterator[tuple[str, list[str]]]:
    """The rows of the table in a page to read: the words at their head, and their cells."""
    text = (courses_dir() / f"reading-{name}.md").read_text("utf-8")
    [table] = re.findall(r"```\n(.+?)\n```", text, re.DOTALL)
    for line in table.split("\n"):
        head, *cells = re.split(r"\s{2,}", line.strip())
        yield head, cells


def degree_class(key: str, degree: str) -> int:
    return degree_in(key, int(degree.removeprefix("b")), -degree.count("b"))


def test_the_table_of_degrees_is_right() -> None:
    (_, degrees), (_, semitones) = rows("degrees")
    assert [degree_class("C", each) for each in degrees] == [int(n) % 12 for n in semitones]
    assert [int(n) for n in semitones] == list(range(13))


def test_the_table_of_roles_is_right() -> None:
    below = {"one rung down": "'", "two down": "''", "three down": "'''"}
    natural = ""
    found = 0
    for head, cells in list(rows("roles"))[1:]:
        natural = f"-{head[-1]}" if head.startswith("draw") else natural
        sounds = plain_semitones(natural + below.get(head, "")) % 12
        assert [degree_class(key, cell) for key, cell in zip("CGD", cells, strict=True)] == [
            sounds
        ] * 3
        found += 1
    assert found == 9


def test_the_table_of_bends_is_right() -> None:
    table = dict(rows("bends"))
    for hole in range(1, 11):
        blow, draw = A291810[2 * hole - 2 : 2 * hole]
        assert table["higher reed"][hole - 1] == ("dr" if draw > blow else "bl")
        assert int(table["semitones"][hole - 1]) == abs(draw - blow)
        assert int(table["bends"][hole - 1]) == abs(draw - blow) - 1


def test_the_table_of_keys_is_right() -> None:
    """The key of 2nd position is a fifth over that of the harp, of 3rd a whole tone."""
    table = list(rows("keys"))[1:]
    assert len({song for song, _ in table}) == 12
    for song, harps in table:
        for harp, interval in zip(harps, ("P1", "P5", "M2"), strict=True):
            key = in_music21(harp).transpose(interval)
            assert key.pitchClass == in_music21(song).pitchClass, song
