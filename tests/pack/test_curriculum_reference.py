"""The reference of curriculum files and the shipped courses: all they say holds."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import music21
import pytest

import reedmill
from oracles import sounding
from reedmill.base.errors import InputError
from reedmill.base.shipped import courses_dir
from reedmill.harp import HARP_KEYS, LAYOUTS, Harp
from reedmill.harp.harp_registers import REGISTERS, register
from reedmill.pack.course import limits
from reedmill.pack.course.course import FORMATS, Course, editions
from reedmill.pack.course.course_keys import PRACTICE, TABLES, CourseKey, homes, table_at
from reedmill.pack.course.course_reading import parse_course, read_course
from reedmill.pack.course.exercises import DEFAULT_FORMATS
from reedmill.pack.course.models import TABLE_MODELS
from reedmill.pack.course.registers import TURNS
from reedmill.pack.course.shipped_courses import (
    ShippedCourse,
    find_course,
    shipped_courses,
)
from reedmill.pack.course.tasks import ChartTask, Task, charts, tasks

README = (courses_dir() / "README.md").read_text("utf-8")
SECTIONS = {
    "the course": "The course",
    "the page table": "page",
    "the defaults": "Practice",
    "a lesson": "Lessons",
    "an exercise": "Exercises",
    "a chart": "Charts",
    "a backing": "backing",
    "a student": "Students",
}
EXAMPLES = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
TITLED = [(table, key) for table, keys in TABLES.items() for key in keys]


def section(heading: str) -> str:
    """The text from a heading of the reference to the next one of any size."""
    found = re.search(rf"^##+ {heading}\n(.*?)(?=^##+ |\Z)", README, re.DOTALL | re.MULTILINE)
    assert found, heading
    return found[1]


def rows(heading: str) -> list[str]:
    return re.findall(r"^\| `(\w+)` \|", section(heading), re.MULTILINE)


def complete(course: Course) -> list[Task | ChartTask]:
    """Everything the course comes to, of which nothing may fail."""
    found: list[Task | ChartTask] = []
    for edition in editions(course):
        for each in (*tasks(edition), *charts(edition)):
            assert isinstance(each, Task | ChartTask), each
            found.append(each)
    return found


# --- the keys -----------------------------------------------------------------------------


@pytest.mark.parametrize("table", TABLES)
def test_every_key_that_can_be_written_has_a_row_and_every_row_can_be_written(table: str) -> None:
    written, told = set(TABLE_MODELS[table].model_fields), {key.name for key in TABLES[table]}
    assert not written - told, (
        f"{table} may have {', '.join(sorted(written - told))}, and pack/course/course_keys.py has "
        "no row that says what it takes"
    )
    assert not told - written, (
        f"pack/course/course_keys.py has a row for {', '.join(sorted(told - written))}, and "
        f"{table} in pack/course/models.py has no such field"
    )


@pytest.mark.parametrize("table", SECTIONS)
def test_every_key_is_in_the_reference(table: str) -> None:
    known = {key.name for key in TABLES[table]}
    if table in ("a lesson", "an exercise"):
        known -= {key.name for key in PRACTICE}
        assert "every key of [practice](#practice)" in section(SECTIONS[table])
    written = rows(SECTIONS[table])
    assert set(written) == known, (
        f"courses/README.md lacks or has too many of: {', '.join(sorted(set(written) ^ known))}. "
        f"Its table under {SECTIONS[table]} has a row for each key of {table}"
    )
    assert len(written) == len(known)


def test_the_reference_names_every_layout() -> None:
    [row] = re.findall(r"^\| `tuning` \|.*", section("The course"), re.MULTILINE)
    for name in LAYOUTS:
        assert f"`{name}`" in row, (
            f"the layout {name} is not in courses/README.md: name it in the row of tuning"
        )


def test_the_reference_names_what_may_be_chosen() -> None:
    practice = section("Practice")
    for word in (*FORMATS, *REGISTERS, *TURNS):
        assert f"`{word}`" in practice
    quoted = ", ".join(f'"{name}"' for name in DEFAULT_FORMATS)
    assert f"`[{quoted}]`" in practice


def test_the_reference_says_how_much_a_file_may_ask_for() -> None:
    numbers = re.findall(r"\d+(?:,\d+)?", section("How much one file may ask for"))
    assert [int(number.replace(",", "")) for number in numbers] == [
        limits.MAX_FILE_BYTES // 1000, limits.MAX_LESSONS, limits.MAX_EXERCISES,
        limits.MAX_CHARTS, limits.MAX_STUDENTS, limits.MAX_TASKS, limits.MAX_NOTES,
        limits.MAX_SOUND_HOURS,
    ]  # fmt: skip
    assert f"at most {limits.MAX_TEXT:,} characters" in section("Lessons")


def test_the_reference_names_the_register_of_every_harp() -> None:
    listed: dict[str, str] = {}
    for name in REGISTERS:
        [row] = re.findall(rf"^\| `{name}` \| (.*?) \|$", README, re.MULTILINE)
        listed |= dict.fromkeys(row.split(", and every")[0].split(", "), name)
    assert listed == {key: register(Harp(key)) for key in HARP_KEYS}


@pytest.mark.parametrize("text", EXAMPLES, ids=range(len(EXAMPLES)))
def test_every_example_of_the_reference_reads_and_expands(text: str) -> None:
    course = parse_course(text, "README.md", courses_dir())
    found = complete(course)
    assert bool(found) == ("exercises" in text or "charts" in text)


def test_the_reference_warns_of_what_can_hurt() -> None:
    assert "headphones" in README
    assert "dizzy" in README
    assert "ask a teacher or a doctor" in README


# --- the example of every row -------------------------------------------------------------

BEFORE = {"the course": "", "the page table": "[page]\n", "the defaults": "[defaults]\n"}
LESSON = '[[lessons]]\ntitle = "y"\n'
INSIDE = {
    "a lesson": LESSON,
    "an exercise": LESSON + '[[lessons.exercises]]\ndrill = "Two bars home"\n',
    "a chart": LESSON + '[[lessons.charts]]\nreeds = "1"\n',
    "a student": LESSON
    + '[[lessons.exercises]]\ndrill = "Two bars home"\n[[students]]\nname = "z"\n',
}
NEEDED = {"fade_out": "repeat = 4\n", "apart": 'ladder = "60 to 70 by 5"\n'} | dict.fromkeys(
    ("stems", "wide", "loop"), 'drone = "root"\n'
)


def with_example(table: str, key: CourseKey) -> str:
    """A course with the example of *key* where it belongs."""
    head = 'title = "x"\nharps = "C"\n'
    if table == "a backing":
        backing = {"form": 'form = "One chord"', "feel": 'feel = "Rumba"', key.name: key.example}
        line = f"backing = {{ {', '.join(backing.values())} }}\n"
        return head + INSIDE["an exercise"] + line
    body = BEFORE.get(table, "") + INSIDE.get(table, "")
    lines = [line for line in body.splitlines() if not line.startswith(f"{key.name} =")]
    if key.name in ("file", "topic", "level"):
        lines = [line for line in lines if not line.startswith("drill =")]
    if table == "the course":
        head = "".join(line + "\n" for line in head.splitlines() if key.name not in line[:6])
    if table == "a lesson" and key.name == "title":
        lines = ["[[lessons]]"]
    needed = NEEDED.get(key.name, "") if key in PRACTICE else ""
    if key.name == "next":  # it is about the takes of students in a book
        head += 'book = "class.book"\n[[students]]\nname = "Ada"\n'
    text = head + "".join(f"{line}\n" for line in lines) + needed + key.example + "\n"
    return text if "[[lessons" in text else text + LESSON


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "week-1.md").write_text("Play.")
    (tmp_path / "mine.drill").write_text('drill "Mine"\n play -2\n')
    return tmp_path


@pytest.mark.parametrize(("table", "key"), TITLED, ids=[f"{t} {k.name}" for t, k in TITLED])
def test_the_example_of_every_row_reads(table: str, key: CourseKey, folder: Path) -> None:
    text = with_example(table, key)
    assert key.example in text
    complete(parse_course(text, "x.toml", folder))


def test_a_key_is_known_by_where_it_stands() -> None:
    assert table_at(("title",)) == "the course"
    assert table_at(("lessons", 0, "title")) == "a lesson"
    assert table_at(("lessons", "title")) == "the course"  # [lessons] where [[lessons]] belongs
    assert table_at(("lessons", 3, "exercises", 1, "backing", "form")) == "a backing"
    assert table_at(("students", 2, "harps", 0)) == "a student"
    assert homes("pace") == ["a student"]


# --- shipped courses ----------------------------------------------------------------------


@pytest.mark.parametrize("shipped", shipped_courses(), ids=lambda each: each.path.stem)
def test_every_piece_of_a_shipped_course_can_be_made(
    shipped: ShippedCourse,
) -> None:
    course = read_course(shipped.path)
    assert complete(course)
    assert (course.title, course.about) == (shipped.title, shipped.about)
    assert (len(course.lessons), course.slug) == (shipped.lessons, shipped.path.stem)
    assert course.cautions
    for lesson in course.lessons:
        assert lesson.entries or lesson.title.startswith("To read: ")
        assert lesson.goal
        assert len(lesson.text.split()) > 30


def test_the_reference_lists_the_shipped_courses() -> None:
    for each in shipped_courses():
        assert f"({each.path.name})" in README


def test_the_small_course_is_small() -> None:
    course = read_course(find_course("Two evenings"))
    made = [each for each in complete(course) if isinstance(each, Task)]
    assert (len(course.lessons), len(made), len(course.harps)) == (2, 3, 2)
    assert {task.score.harp for task in made} == set(course.harps)


def test_eight_weeks_play_a_high_a_middle_and_a_low_harp_in_turn() -> None:
    course = read_course(find_course("eight-weeks-of-clean-bends"))
    assert [lesson.number for lesson in course.lessons if lesson.entries] == list(range(1, 9))
    made = [each for each in complete(course) if isinstance(each, Task)]
    by_week = [
        {register(task.score.harp) for task in made if task.lesson == week} for week in range(1, 9)
    ]
    assert by_week[:3] == [{"middle"}, {"high"}, {"low"}]
    assert by_week[3] == by_week[5] == by_week[7] == set(REGISTERS)
    assert any(task.score.band for task in made if task.lesson == 8)
    assert not any(task.score.band for task in made if task.lesson < 8)


# What the course says of a reed, which on a C harp is in G, in third position in D: a tab, the
# degree of the major scale, and by how much it is altered.
SAID = {
    "In cross harp home is draw 2": ("-2", 1, 0),
    "Blow 3 is the same note": ("3", 1, 0),
    "draw 4 is the\n5 of the key": ("-4", 5, 0),
    "its bend is the **flat five**": ("-4'", 5, -1),
    "a 5 that sinks to the flat five": ("-1'", 5, -1),
    "Draw 6 is the 2": ("-6", 2, 0),
    "bend is the flat two": ("-6'", 2, -1),
    "draw 3 without a bend is the **3** of the key": ("-3", 3, 0),
    "one semitone down is the **flat 3**": ("-3'", 3, -1),
    "two semitones down is the **2**": ("-3''", 2, 0),
    "deep bend of draw 2 from week 7, which is the flat seven in cross harp": ("-2''", 7, -1),
}
SAID_IN_THIRD = {
    "draw 1 is the root of\n**third position**": ("-1", 1, 0),
    "rungs of draw 2 are its 4": ("-2", 4, 0),
    "its 4, its 3": ("-2'", 3, 0),
    "its 3 and its flat 3": ("-2''", 3, -1),
}


@pytest.mark.parametrize("phrase", [*SAID, *SAID_IN_THIRD])
def test_what_the_course_says_of_a_note_is_true(phrase: str) -> None:
    key = "G" if phrase in SAID else "D"
    tab, degree, alter = {**SAID, **SAID_IN_THIRD}[phrase]
    course = read_course(find_course("Eight weeks of clean bends"))
    assert any(phrase in lesson.text for lesson in course.lessons)
    named = music21.scale.MajorScale(key).pitchFromDegree(degree).transpose(alter)
    assert sounding("C", tab) % 12 == named.pitchClass


def test_a_course_is_found_by_title_by_the_name_of_its_file_and_by_its_path() -> None:
    path = courses_dir() / "two-evenings.toml"
    for wanted in ("Two evenings", "two EVENINGS", "two-evenings", str(path)):
        assert find_course(wanted) == path
    assert find_course("mine.toml") == Path("mine.toml")
    with pytest.raises(InputError) as caught:
        find_course("Two evnings")
    assert str(caught.value) == (
        'there is no course "Two evnings". Did you mean "Two evenings"? Ours are: Eight weeks of '
        "clean bends; Twelve weeks of first and third; Two evenings. "
        "A file of your own ends in .toml."
    )


# --- what reading costs -------------------------------------------------------------------


def loaded_after(program: str) -> set[str]:
    show = "\nimport sys\nprint(' '.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", program + show],
        env={"PYTHONPATH": str(Path(reedmill.__file__).parents[1])},
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    return set(done.stdout.split())


def test_reading_a_course_needs_no_renderer() -> None:
    loaded = loaded_after(
        "from reedmill.pack.course.shipped_courses import find_course\n"
        "from reedmill.pack.course.course_reading import read_course\n"
        "read_course(find_course('Eight weeks of clean bends'))"
    )
    assert "pydantic" in loaded
    assert "markdown_it" in loaded  # which finds links that lead nowhere while the file is at hand
    assert loaded.isdisjoint({"abjad", "numpy", "mido", "pypdf", "distributed"})


def test_a_course_that_is_read_needs_pydantic_no_more() -> None:
    loaded = loaded_after("import reedmill.pack.course.tasks, reedmill.pack.course.shipped_courses")
    assert loaded.isdisjoint({"pydantic", "pydantic_core", "abjad", "numpy"})
