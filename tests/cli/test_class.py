"""``reedmill class`` shows a teacher the class before the lesson, and says what is wrong."""

from __future__ import annotations

import json
import shlex
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from reedmill import api
from reedmill.base.text import columns
from reedmill.cli import cli
from reedmill.coaching.class_overview import (
    ENOUGH_OF_REGISTER,
    ENOUGH_TRIES,
    IN_TUNE_CENTS,
    REGISTER_CENTS,
    STUCK_CENTS,
)
from reedmill.coaching.estimating import HALF_LIFE_DAYS
from reedmill.library import Shelved, shipped
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import read_course
from reedmill.record import KeptTake, open_book
from reedmill.record.record_book import usual_place
from reedmill.record.rung_progress import NOT_THERE_CENTS
from taken import take


def now() -> datetime:
    """The time of this moment: a long run of tests may pass midnight."""
    return datetime.now(UTC)


COURSE = """
title = "Clean bends"
harps = ["C", "A"]
book = "takes/class.book"

[[lessons]]
title = "Home"
  [[lessons.exercises]]
  drill = "Home from every rung"

[[lessons]]
title = "Step by step"
  [[lessons.exercises]]
  drill = ["Step from the rung before", "Skip a rung"]
  harps = "A"
  [[lessons.exercises]]
  file = "mine.drill"

[[students]]
name = "Ada"

[[students]]
name = "Ben"
without = "Skip a rung"

[[students]]
name = "Cem"
"""
MINE = "drill \"Mine alone\"\n  play -2 -3''' -2 -3''' -2 -3'''\n"
FINE = [("-2", None, 2.0), *[("-3'", "-2", 4.0), ("-2", "-3'", 2.0)] * 12]
WILD = [("-3''", "-2", 48.0)] * 12
ODD = [("-3'''", "-2", 40.0)] * 12


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")
    Path("course.toml").write_text(COURSE, "utf-8")
    Path("mine.drill").write_text(MINE, "utf-8")
    return tmp_path


def kept(student: str, tries: list[Any], days_ago: int = 0, **more: Any) -> None:
    """Keep a take in the book of the course."""
    at = (now() - timedelta(days=days_ago)).isoformat()
    with open_book(Path("takes/class.book"), new=True) as book:
        book.add(student, [KeptTake(take(tries, recorded=at, **more))], now())


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, ["class", *words])


def refused(*words: str) -> str:
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    return result.stderr.removesuffix("\n")


def said(*words: str) -> str:
    result = run(*words)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def a_class() -> None:
    kept("Ada", [*FINE, *WILD], 3)
    kept("Ada", FINE, 1, harp="A", title="Step from the rung before")
    kept("Ben", FINE, 0)
    kept("Ben", [*FINE, *WILD, *ODD], 0, title="Skip a rung")
    kept("Zoe", FINE, 12)


def test_a_teacher_sees_the_class_before_the_lesson() -> None:
    a_class()
    places = {each["tab"]: each["out_cents"] for each in data("course.toml")["stuck"]}
    ada, ben = (weakest("course.toml", name) for name in ("Ada", "Ben"))
    sheet = to_print("course.toml", "Ada")
    assert (
        said("course.toml")
        == f"""\
Clean bends: 3 students

Where most are stuck
  Stuck: likely to be more than 25 cents out, after 8 tries or more.
  -3'' from -2 on middle harps, about {places["-3''"]:.0f} cents out
    2 of 2 students who tried it so often: Ada, Ben
  -3''' from -2 on middle harps, about {places["-3'''"]:.0f} cents out
    1 of 1 student who tried it so often: Ben

Who practised
  student  last       takes  days  reached     next
  Ada      yesterday  2      2     none yet    1 (0 of 1)
  Ben      today      2      1     1 (1 of 1)  2 (0 of 2)
  In brackets: exercises of the lesson played in place.
  Lesson 1: Home
  Lesson 2: Step by step

No take yet: Cem

Who needs another harp
  Ben: a low (A) harp, with fewer than 24 tries so far

What to print for the weakest places
  Ada: -3'' from -2 on middle harps, about {ada:.0f} cents out
    reedmill make "{sheet}" --harp C --position 2
  Ben: -3'' from -2 on middle harps, about {ben:.0f} cents out
    reedmill make "{sheet}" --harp C --position 2

In the book, but not in the course: "Zoe" (1 take)
"""
    )
    assert 40 < places["-3''"] < 48  # what was played, drawn a little to what else was
    offered = [each for each in shipped() if each.topic != "placement"]  # tasks are no practice
    most = max(map(from_home, offered))  # no drill comes to it more often, for its length
    assert most == max(from_home(each) for each in shipped() if each.drill.title == sheet)


def from_home(shelved: Shelved) -> Fraction:
    """How much of a drill is draw 3 bent two semitones with draw 2 before it, by its tab."""
    tabs = [note.tab for note in shelved.score.notes]
    return Fraction(list(pairwise(tabs)).count(("-2", "-3''")), len(tabs))


def to_print(course: str, name: str) -> str:
    [row] = [each for each in data(course)["students"] if each["name"] == name]
    return str(row["print"]["drill"])


def weakest(course: str, name: str) -> float:
    [row] = [each for each in data(course)["students"] if each["name"] == name]
    return float(row["weakest"]["out_cents"])


def data(*words: str) -> Any:
    return json.loads(said(*words, "--json"))


@pytest.mark.parametrize("width", [40, 60, 80])
def test_every_line_but_those_that_are_typed_fits_the_terminal(
    width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_class()
    kept("Bartholomew of the Lower Reeds, the younger one", WILD)
    monkeypatch.setenv("COLUMNS", str(width))
    for words in ((), ("course.toml",)):
        lines = said(*words, "--book", "takes/class.book").splitlines()
        wide = [line for line in lines if columns(line) > width]
        assert [line for line in wide if "reedmill make" not in line] == []
        if not words:
            assert any(len(each) > 40 for each in lines)  # the long name is there


def test_what_it_says_to_type_makes_the_sheet_of_that_place() -> None:
    kept("Ada", ODD)
    kept("Ben", [("2'", "2", 30.0)] * 9)  # nothing has that note, so nobody can print it
    text = said("course.toml")
    assert "Ben: 2' from 2 on middle harps" in text
    assert "    no drill comes to this note" in text
    [line] = [each.strip() for each in text.splitlines() if "reedmill make" in each]
    assert line == "reedmill make mine.drill --harp C --position 2"  # it is of the course alone
    result = CliRunner().invoke(cli, [*shlex.split(line)[1:], "--to", "tab"])
    assert result.exit_code == 0, result.output
    [made] = Path("output").rglob("*.txt")
    assert "-3'''" in made.read_text("utf-8")


@pytest.mark.parametrize("odd", ["mine $(touch x) `y`.drill", "-my own.drill", "--help.drill"])
def test_an_own_drill_with_an_odd_name_is_typed_safely(odd: str) -> None:
    Path(odd).write_text(MINE, "utf-8")
    Path("course.toml").write_text(COURSE.replace("mine.drill", odd), "utf-8")
    kept("Ada", ODD)
    [line] = [each.strip() for each in said("course.toml").splitlines() if "make" in each]
    assert shlex.split(line)[2].removeprefix("./") == odd
    assert "$(" not in line or line.startswith("reedmill make 'mine $(")
    result = CliRunner().invoke(cli, [*shlex.split(line)[1:], "--to", "tab"])
    assert result.exit_code == 0, result.output
    assert not Path("x").exists()


# --- the book of a course ---------------------------------------------------------------------


def test_a_course_may_name_its_book_and_another_may_be_named_instead(folder: Path) -> None:
    kept("Ada", FINE)
    with open_book(Path("other.book"), new=True) as book:
        book.add("Ben", [KeptTake(take(FINE))], now())
    assert data("course.toml")["students"][0]["takes"] == 1
    found = data("course.toml", "--book", "other.book")
    assert [each["takes"] for each in found["students"]] == [0, 1, 0]
    assert found["book"] == "other.book"
    (folder / "elsewhere").mkdir()
    words = [str(folder / "course.toml")]  # its path is from the course file, not from here
    assert data(*words)["students"][0]["takes"] == 1


def test_a_course_without_a_book_is_shown_with_the_usual_one() -> None:
    Path("course.toml").write_text(COURSE.replace('book = "takes/class.book"', ""), "utf-8")
    with open_book(usual_place(), new=True) as book:
        book.add("Ada", [KeptTake(take(FINE))], now())
    assert data("course.toml")["students"][0]["takes"] == 1
    assert data()["course"] is None


def test_a_course_whose_book_is_not_there_says_how_it_is_made() -> None:
    assert refused("course.toml") == (
        "takes/class.book: the record book of this course is not there yet. Add the first takes "
        "to it: reedmill record add takes.json --student Ada --book takes/class.book"
    )
    assert not Path("takes").exists()


BOOKS = {
    "../class.book": "leads out of the folder of the course",
    "/tmp/class.book": "leads out of the folder of the course",  # noqa: S108  a name in a file
    "class.sqlite": "does not end in .book",
    "con.book": "is the name of a device",
    "a\\\\b.book": "a file name has no backslash",
}


@pytest.mark.parametrize("name", BOOKS)
def test_a_book_that_lies_elsewhere_is_refused_with_its_line(name: str) -> None:
    Path("course.toml").write_text(COURSE.replace("takes/class.book", name), "utf-8")
    text = refused("course.toml")
    assert text.startswith("course.toml:4:")
    assert BOOKS[name] in text
    assert "such as week-1.book" in text


def test_a_book_by_a_link_out_of_the_folder_is_refused(folder: Path) -> None:
    outside = folder.parent / "outside.book"
    with open_book(outside, new=True):
        pass
    Path("takes").mkdir()
    Path("takes/class.book").symlink_to(outside)
    text = refused("course.toml")
    assert "is a link that leads out of the folder of the course" in text
    Path("takes/class.book").unlink()
    Path("takes/class.book").symlink_to(folder / "nowhere.book")
    assert "Put it into the folder" in refused("course.toml")


def test_a_pack_takes_no_book_in() -> None:
    kept("Ada", FINE)
    before = Path("takes/class.book").read_bytes()
    short = COURSE.replace("mine.drill", 'mine.drill"\n  hand_out = ["tab"]\n  #')
    Path("course.toml").write_text(
        short.replace("[[lessons]]", '[defaults]\nhand_out = ["tab"]\n\n[[lessons]]', 1), "utf-8"
    )
    made = CliRunner().invoke(cli, ["pack", "course.toml", "--out", "pack", "--plan"])
    assert made.exit_code == 0, made.output
    assert ".book" not in made.output
    assert Path("takes/class.book").read_bytes() == before
    assert read_course(Path("course.toml")).book == "takes/class.book"


# --- who is in it -----------------------------------------------------------------------------


def test_an_empty_book_and_a_course_without_takes_are_said_plainly() -> None:
    with open_book(Path("takes/class.book"), new=True):
        pass
    assert said("--book", "takes/class.book") == (
        "takes/class.book: 0 students\n"
        "Add takes first: reedmill record add takes.json --student Ada --book takes/class.book\n"
    )
    assert said("course.toml") == "Clean bends: 3 students\n\nNo take yet: Ada, Ben, Cem\n"


def test_where_nobody_is_stuck_the_terminal_says_so_as_the_page_does() -> None:
    kept("Ada", FINE)
    text = " ".join(said("course.toml", "--to", "page").split())
    words = (
        "Nobody is stuck: no place that was tried 8 times or more is likely to be more than 25 "
        "cents out."
    )
    assert f"Where most are stuck {words} Who practised" in text
    [page] = Path("output").glob("*.html")
    assert words in " ".join(page.read_text("utf-8").split())
    kept("Ada", WILD)
    assert "Nobody is stuck" not in said("course.toml")


def test_a_course_without_students_shows_everyone_in_the_book() -> None:
    Path("course.toml").write_text(COURSE.partition("[[students]]")[0], "utf-8")
    a_class()
    found = data("course.toml")
    assert [each["name"] for each in found["students"]] == ["Ada", "Ben", "Zoe"]
    assert found["students"][1]["reached"] == {
        "lesson": 1, "title": "Home", "in_place": 1, "exercises": 1,
    }  # fmt: skip
    assert found["students"][1]["next"]["exercises"] == 3
    assert found["not_in_course"] == []


def test_an_exercise_is_known_by_title_harp_and_position() -> None:
    step = "Step from the rung before"  # of the course, on an A harp
    kept("Ada", FINE, harp="C", title=step)
    kept("Ben", FINE, harp="A", title=step, position=3)
    kept("Cem", FINE, harp="A", title=step)
    kept("Cem", FINE, title="Mine alone")
    rows = {each["name"]: each for each in data("course.toml")["students"]}
    assert [rows[name]["reached"] for name in ("Ada", "Ben")] == [None, None]
    assert rows["Cem"]["reached"] == {
        "lesson": 2, "title": "Step by step", "in_place": 2, "exercises": 3,
    }  # fmt: skip
    assert rows["Cem"]["next"] is None
    assert "all reached" in said("course.toml")


def test_what_the_record_adds_to_a_lesson_is_no_part_of_where_a_student_stands() -> None:
    """It changes with every take, so a lesson would be reached today and not tomorrow."""
    kept("Ada", [*FINE, *WILD], 3)
    kept("Ada", FINE, 1, title="Step from the rung before", harp="A")
    kept("Ben", FINE, 1)
    without = [(each["name"], each["reached"], each["next"], each["lessons"])
               for each in data("course.toml")["students"]]  # fmt: skip
    for title in ("Home", "Step by step"):
        old = f'title = "{title}"\n'
        Path("course.toml").write_text(COURSE.replace(old, f"{old}next = true\n"), "utf-8")
        edition = next(each for each in editions(read_course(Path("course.toml"))) if each.student)
        assert edition.lessons != edition.course.lessons  # something was added
        assert [(each["name"], each["reached"], each["next"], each["lessons"])
                for each in data("course.toml")["students"]] == without  # fmt: skip


def test_a_lesson_that_the_record_fills_alone_is_passed_over() -> None:
    alone = '\n[[lessons]]\ntitle = "Your own"\nnext = true\n\n[[students]]'
    Path("course.toml").write_text(COURSE.replace("\n[[students]]", alone, 1), "utf-8")
    kept("Ada", [*FINE, *WILD], title="Step from the rung before", harp="A")
    kept("Ben", FINE, harp="A", title="Step from the rung before")
    kept("Ben", FINE, title="Mine alone")
    rows = {each["name"]: each for each in data("course.toml")["students"]}
    assert {name: each["lessons"] for name, each in rows.items()} == {"Ada": 2, "Ben": 2, "Cem": 2}
    assert (rows["Ben"]["reached"]["lesson"], rows["Ben"]["next"]) == (2, None)


def test_two_students_who_are_one_to_the_book_are_refused() -> None:
    Path("course.toml").write_text(COURSE.replace('"Cem"', '"ADA"'), "utf-8")
    kept("Ada", FINE)
    assert refused("course.toml").startswith('the students "Ada" and "ADA" of the course are one')


@pytest.mark.parametrize("name", ["\u202eadA", "a\x1b[31mb", "<b>", "x" * 100, "\u5c71\u672c"])
def test_a_strangers_name_reaches_the_terminal_as_text(name: str) -> None:
    course = COURSE.replace('name = "Cem"', f"name = {json.dumps(name)}")
    Path("course.toml").write_text(course, "utf-8")
    kept("Ada", [*FINE, *WILD], title=name)
    kept(name[:60], WILD)
    for words in (("course.toml",), ("--book", "takes/class.book")):
        text = said(*words)
        assert "\x1b" not in text
        assert "\u202e" not in text


# --- what may be wrong ------------------------------------------------------------------------


def test_what_is_wrong_is_said_with_what_to_write_instead(folder: Path) -> None:
    assert refused("--book", "none.book") == (
        f"{folder}/none.book: there is no record book yet. Add takes to it first."
    )
    Path("diary.book").write_text("dear diary")
    assert "this is not a record book. Name another file for it." in refused("--book", "diary.book")
    assert "Ours are: " in refused("Nine weeks")
    assert refused("diary.book") == (
        '"diary.book" is a record book, and a course comes first. Write: reedmill class --book '
        "diary.book"
    )
    assert refused("none.toml").startswith("none.toml: ")
    Path("course.toml").write_text(COURSE.replace("book = ", "books = "), "utf-8")
    assert 'Did you mean "book"?' in refused("course.toml")
    Path("course.toml").write_text(COURSE.replace('"takes/class.book"', "7"), "utf-8")
    assert 'book = "class.book"' in refused("course.toml")


def test_help_and_page_say_the_figures_that_decide() -> None:
    page = Path(__file__).parents[2] / "docs" / "CLASS.md"
    text = " ".join(page.read_text("utf-8").split())
    shown = " ".join(run("--help").output.split())
    for each in (shown, text):
        assert f"more than {STUCK_CENTS:.0f} cents out" in each
        assert f"after {ENOUGH_TRIES} tries" in each
        assert "nine of ten notes of one take" in each
    assert f"with fewer than {ENOUGH_OF_REGISTER} tries a register counts as not played" in text
    assert f"{REGISTER_CENTS:.0f} cents further out" in text
    assert f"if that is more than {IN_TUNE_CENTS:.0f} cents" in text
    assert f"counts as {NOT_THERE_CENTS:.0f} cents" in text
    assert HALF_LIFE_DAYS == 7
    assert "half as much after a week" in text


def test_python_sees_the_same_class() -> None:
    a_class()
    with api.open_book(Path("takes/class.book")) as book:
        found = api.book_overview(book, now())
    rows = data("--book", "takes/class.book")
    assert [str(each.name) for each in found.students] == [
        each["name"] for each in rows["students"]
    ]
    assert [each.place.tab for each in found.stuck] == [each["tab"] for each in rows["stuck"]]
    assert isinstance(found, api.ClassOverview)
