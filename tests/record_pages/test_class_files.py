"""The file of a class page: called after its course, private, and never over another's."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from hostile_students import HOSTILE_STUDENTS
from reedmill.cli import cli
from reedmill.record import open_book
from reedmill.record.kept_take import KeptTake
from taken import take

NOW = datetime(2027, 3, 1, 19, tzinfo=UTC)
COURSE = """
title = {title}
harps = ["C"]

[[lessons]]
title = "Home"
  [[lessons.exercises]]
  drill = "Home from every rung"

[[students]]
name = "Ada"
"""


@pytest.fixture(autouse=True)
def _in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    course_of("Clean bends")
    for book in ("class.book", "tuesday.book"):
        with open_book(Path(book), new=True) as opened:
            opened.add("Ada", [KeptTake(take([("-3''", "-2", 48.0)] * 12))], NOW)


def course_of(title: str) -> None:
    Path("course.toml").write_text(COURSE.format(title=json.dumps(title)), "utf-8")


def there(folder: str = ".") -> list[str]:
    return sorted(each.name for each in Path(folder).iterdir())


def class_of(*words: str, book: str = "class.book") -> Result:
    return CliRunner().invoke(cli, ["class", *words, "--book", book])


def test_a_page_is_called_after_its_course_and_read_by_its_owner_alone() -> None:
    said = class_of("course.toml", "--to", "page")
    assert (said.exit_code, said.stderr) == (0, "")
    assert said.stdout.startswith("Clean bends: 1 student\n")
    assert said.stdout.endswith("\n\npage  output/class-clean-bends.html\n")
    page = Path("output/class-clean-bends.html")
    assert page.stat().st_mode & 0o777 == 0o600
    assert b'<h1><span dir="auto">Clean bends</span></h1>' in page.read_bytes()
    assert there("output") == [".reedmill-made.json", "class-clean-bends.html"]
    assert "Ada" not in Path("output/.reedmill-made.json").read_text("utf-8")


def test_without_a_course_it_is_called_after_the_book() -> None:
    said = class_of("--to", "page", book="tuesday.book")
    assert said.stdout.endswith("page  output/class-tuesday.html\n")
    assert b"Everyone in the record book" in Path("output/class-tuesday.html").read_bytes()


def test_the_same_class_is_made_anew_and_nothing_else_is_replaced() -> None:
    assert class_of("course.toml", "--to", "page").exit_code == 0
    page = Path("output/class-clean-bends.html")
    with open_book(Path("class.book")) as book:
        book.add("Ada", [KeptTake(take([("-3'", "-2", 3.0)] * 10))], NOW)
    again = class_of("course.toml", "--to", "page")
    assert again.stdout.endswith("page  output/class-clean-bends.html  (made again)\n")
    page.write_text("notes of my own", "utf-8")
    refused = class_of("course.toml", "--to", "page")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "was changed since Reedmill made it, so it is left as it is." in refused.stderr
    assert page.read_text("utf-8") == "notes of my own"
    replaced = class_of("course.toml", "--to", "page", "--replace")
    assert replaced.stdout.endswith("(replaced)\n")
    assert page.stat().st_mode & 0o777 == 0o600


def test_two_classes_of_one_course_have_files_apart() -> None:
    """A teacher has one course for two groups, each with a book of its own."""
    for book in ("class.book", "tuesday.book", "class.book"):
        said = class_of("course.toml", "--to", "page", book=book)
        assert said.exit_code == 0
    assert said.stdout.endswith("page  output/class-clean-bends.html  (made again)\n")
    assert there("output")[1:] == ["class-clean-bends-2.html", "class-clean-bends.html"]


@pytest.mark.parametrize("text", [*HOSTILE_STUDENTS.values(), "../../x", ".."])
def test_a_hostile_title_leaves_its_folder_by_no_way(text: str) -> None:
    course_of(text)
    before = there()
    said = class_of("course.toml", "--to", "page", "--out", "pages")
    assert (said.exit_code, said.stderr) == (0, "")
    [page] = Path("pages").glob("*.html")
    assert page.name.startswith("class-")
    assert all(sign.isalnum() or sign in "-." for sign in page.name)
    assert there() == sorted([*before, "pages"])


def test_a_file_may_be_named_and_is_not_replaced_in_silence() -> None:
    said = class_of("course.toml", "--to", "PAGE", "--out", "lesson/one.html")
    assert said.stdout.endswith("page  lesson/one.html\n")
    assert there("lesson") == ["one.html"]
    assert Path("lesson/one.html").stat().st_mode & 0o777 == 0o600
    refused = class_of("--to", "page", "--out", "lesson/one.html")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "lesson/one.html is there already, so it is left as it is." in refused.stderr
    assert b">Clean bends</span>" in Path("lesson/one.html").read_bytes()


def test_for_programs_it_says_where_the_page_is() -> None:
    plain = json.loads(class_of("course.toml", "--json").stdout)
    made = json.loads(class_of("course.toml", "--json", "--to", "page", "--out", "o").stdout)
    assert made.pop("files") == [{"kind": "page", "file": "o/class-clean-bends.html"}]
    assert made == plain


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "o"), "Add --to page, or leave it out."),
        (("--to", "sheet"), 'there is no kind of file "sheet". Choose from: page.'),
    ],
)
def test_what_cannot_be_made_is_refused_before_anything_is_shown(
    words: tuple[str, ...], said: str
) -> None:
    refused = class_of("course.toml", *words)
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert said in refused.stderr
    assert not Path("o").exists()
