"""Curriculum files of any kind: a course that can be made, or an error that can be read."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from reedmill.base.errors import PatternError
from reedmill.base.shipped import courses_dir
from reedmill.base.text import is_name
from reedmill.harp import HARP_KEYS
from reedmill.harp.harp_registers import REGISTERS
from reedmill.library import shipped
from reedmill.pack.course.beside import DEVICES
from reedmill.pack.course.course import FORMATS, Course, editions
from reedmill.pack.course.course_keys import TABLES
from reedmill.pack.course.course_reading import parse_course
from reedmill.pack.course.tasks import ChartTask, Failed, Task, charts, tasks

TEXTS = [path.read_text("utf-8") for path in sorted(courses_dir().glob("*.toml"))]
WORDS = [line for text in TEXTS for line in text.splitlines() if line.strip()] + [
    key.example for keys in TABLES.values() for key in keys
]

quick = settings(max_examples=80, deadline=timedelta(seconds=5))


def read(text: str) -> Course | None:
    """The course, or none when what is wrong can be read: a place, a fact, a way out.

    An error without a place does not answer a mistake in a file, and escapes.
    """
    try:
        return parse_course(text, "any.toml", Path("nowhere"))
    except PatternError as error:
        mistake = error
    assert mistake.exit_code == 2
    assert re.fullmatch(r"any\.toml:\d+:\d+: .+\n(.+\n)*  .+", str(mistake))
    assert 1 <= mistake.span.line <= text.count("\n") + 1
    assert mistake.fact
    assert mistake.remedy
    return None


def check(course: Course, most: int = 40) -> None:
    """The first pieces of every edition, with names that are safe and unlike."""
    assert len({edition.slug for edition in editions(course)}) == len(editions(course))
    for edition in editions(course)[:3]:
        rows = [*islice(tasks(edition), most), *islice(charts(edition), most)]
        good = [row for row in rows if not isinstance(row, Failed)]
        for kind in (Task, ChartTask):
            names = [row.name for row in good if isinstance(row, kind)]
            assert len(names) == len(set(names))
        for row in rows:
            assert is_name(row.name)
            assert row.name not in DEVICES
            assert len(row.name) < 200
            assert 1 <= row.lesson <= len(course.lessons)
        assert all(row.message for row in rows if isinstance(row, Failed))
        assert is_name(edition.slug)


# --- changed texts ------------------------------------------------------------------------


@st.composite
def edited(draw: st.DrawFn) -> str:
    """A course of ours after a few accidents."""
    text = draw(st.sampled_from(TEXTS))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        end = at + draw(st.integers(0, 30))
        new = draw(
            st.sampled_from(['"', "[", "]", "{", "\n", "=", ".", "#", "'", "\0"])
            | st.text(max_size=4)
        )
        text = text[:at] + new + text[end:]
    return text


@quick
@given(edited())
def test_a_damaged_course_is_read_or_explained(text: str) -> None:
    course = read(text)
    if course:
        check(course, most=4)


@quick
@given(st.lists(st.sampled_from(WORDS), max_size=14))
def test_lines_in_any_order_are_read_or_explained(lines: list[str]) -> None:
    text = 'title = "x"\nharps = "C"\n' + "\n".join(lines) + "\n"
    course = read(text)
    if course:
        check(course, most=4)


@quick
@given(st.text())
def test_any_text_is_explained(text: str) -> None:
    assert read(text) is None


# --- any structure ------------------------------------------------------------------------


def toml(value: Any) -> str:
    """A value as TOML writes it."""
    match value:
        case dict():
            return "{" + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + "}"
        case list():
            return "[" + ", ".join(map(toml, value)) + "]"
        case bool():
            return str(value).lower()
        case str():
            return '"' + "".join(c if c.isalnum() else f"\\U{ord(c):08X}" for c in value) + '"'
        case _:
            return repr(value)


def file(data: dict[str, Any]) -> str:
    return "".join(f"{json.dumps(key)} = {toml(value)}\n" for key, value in data.items())


readable = st.text(st.characters(codec="utf-8"), max_size=12)
plain = st.one_of(
    st.booleans(), st.integers(-5, 400), st.floats(allow_nan=False), readable,
    st.sampled_from(["none", "all", "rotate", "C", "low F", "root", "lips", "high", "audio"]),
)  # fmt: skip
values = st.recursive(
    plain,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(readable, inner, max_size=3),
    max_leaves=5,
)


def table(name: str, value: st.SearchStrategy[Any] = values) -> st.SearchStrategy[dict[str, Any]]:
    return st.dictionaries(st.sampled_from([key.name for key in TABLES[name]]), value, max_size=4)


@st.composite
def structures(draw: st.DrawFn) -> dict[str, Any]:
    """A course with the right tables and anything in them."""
    lessons = [
        draw(table("a lesson"))
        | {"title": "x", "exercises": draw(st.lists(table("an exercise"), max_size=2))}
        for _ in range(draw(st.integers(0, 2)))
    ]
    return draw(table("the course")) | {
        "title": "x", "harps": draw(st.sampled_from([["C"], ["C", "F", "A"]])),
        "lessons": lessons, "defaults": draw(table("the defaults")),
    }  # fmt: skip


@quick
@given(structures())
def test_anything_under_the_right_keys_is_read_or_explained(data: dict[str, Any]) -> None:
    course = read(file(data))
    if course:
        check(course, most=4)


# --- courses that are right ---------------------------------------------------------------

titles = readable.filter(lambda text: bool(text.strip()))
harp_names = st.sampled_from([*HARP_KEYS, "low F", "low-C", "high G", "g#"])
some_harps = harp_names | st.lists(harp_names, min_size=1, max_size=4)
drill_titles = st.sampled_from([each.drill.title for each in shipped()])
PRACTICE: dict[str, st.SearchStrategy[Any]] = {
    "harps": st.sampled_from(["rotate", "all"]),
    "key": st.sampled_from(["E", "F# minor", ["Bb", "G blues"], "A, D", "none"]),
    "rotation": st.lists(st.sampled_from(REGISTERS), min_size=1, max_size=3),
    "turn": st.sampled_from(["lesson", "exercise"]),
    "positions": st.lists(st.integers(1, 12), min_size=1, max_size=2),
    "tempo": st.integers(20, 300),
    "embouchure": st.sampled_from(["lips", ["tongue left", "anchors lips, rungs tongue right"]]),
    "hand_out": st.lists(st.sampled_from(FORMATS), min_size=1, max_size=3),
    "repeat": st.integers(2, 4),
    "echo": st.integers(1, 16) | st.just("all"),
    "ladder": st.sampled_from(["60 to 90 by 5", "90 to 60 by 10", "none"]),
}
SOUND = {"repeat", "echo", "ladder"}


def without_contradictions(found: dict[str, Any]) -> dict[str, Any]:
    """An exercise asks for sound only where audio is handed out: here, always."""
    if "hand_out" in found and SOUND & set(found):
        found = found | {"hand_out": [*found["hand_out"], "audio"][-len(FORMATS) :]}
    if found.get("key", "none") != "none":
        found = {key: value for key, value in found.items() if key != "harps"}
    if found.get("harps") == "all" or found.get("key", "none") != "none":
        found = {key: value for key, value in found.items() if key not in ("rotation", "turn")}
    return found


practice = st.fixed_dictionaries({}, optional=PRACTICE).map(without_contradictions)
exercises = st.builds(
    lambda drill, how: {"drill": drill, "hand_out": "audio"} | how,
    drill_titles | st.lists(drill_titles, min_size=1, max_size=3), practice,
)  # fmt: skip
lessons = st.builds(
    lambda title, how, inner: {"title": title, "exercises": inner} | how,
    titles, practice, st.lists(exercises, max_size=3),
)  # fmt: skip
students = st.lists(
    st.fixed_dictionaries(
        {"name": titles}, optional={"harps": some_harps, "pace": st.integers(25, 200)}
    ),
    max_size=3,
    unique_by=lambda student: " ".join(str(student["name"]).split()),
)
courses = st.fixed_dictionaries(
    {"title": titles, "harps": some_harps, "defaults": practice,
     "lessons": st.lists(lessons, min_size=1, max_size=3), "students": students},
)  # fmt: skip


@settings(max_examples=60, deadline=timedelta(seconds=5))
@given(courses)
def test_a_course_that_is_right_reads_and_its_pieces_have_safe_names(data: dict[str, Any]) -> None:
    text = file(data)
    course = parse_course(text, "any.toml", Path("nowhere"))
    assert course == parse_course(text, "any.toml", Path("nowhere"))
    assert len(course.lessons) == len(data["lessons"])
    assert len(editions(course)) == max(1, len(data["students"]))
    check(course)
