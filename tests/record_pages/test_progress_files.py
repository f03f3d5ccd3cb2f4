"""The file of a progress page: called after its student, private, and never over another's."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from hostile_students import HOSTILE_STUDENTS
from reedmill.base.text import printable
from reedmill.cli import cli
from reedmill.make.page_of_record import PageSubject, check_page_place, place_record_page
from reedmill.record import open_book
from reedmill.record.kept_take import KeptTake
from taken import take

NOW = datetime(2027, 3, 1, 19, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def book_of(*names: str) -> Path:
    place = Path("class.book")
    with open_book(place, new=True) as book:
        for number, name in enumerate(names):
            one = KeptTake(take([("-3'", "-2", 12.0)], tempo=50 + number))
            book.add(name, [one], NOW)
    return place


def there(folder: str = ".") -> list[str]:
    return sorted(each.name for each in Path(folder).iterdir())


def progress(*words: str) -> Result:
    return CliRunner().invoke(cli, ["progress", *words, "--book", "class.book"])


def test_a_page_is_called_after_its_student_and_read_by_its_owner_alone() -> None:
    book_of("Ada")
    said = progress("--to", "page")
    assert said.exit_code == 0
    assert said.stdout.endswith("\n\npage  output/progress-ada.html\n")
    assert said.stdout.startswith("Ada: 1 take on 1 day")
    page = Path("output/progress-ada.html")
    assert page.stat().st_mode & 0o777 == 0o600
    assert b'<h1><span dir="auto">Ada</span></h1>' in page.read_bytes()
    assert there("output") == [".reedmill-made.json", "progress-ada.html"]
    assert "Ada" not in Path("output/.reedmill-made.json").read_text("utf-8")


def test_the_same_students_page_is_made_anew_and_nothing_else_is_replaced() -> None:
    book_of("Ada", "Ben")
    assert progress("Ada", "--to", "page").exit_code == 0
    page = Path("output/progress-ada.html")
    first = page.read_bytes()
    with open_book(Path("class.book")) as book:
        book.add("Ada", [KeptTake(take([("-3''", "-2", 31.0)]))], NOW)
    again = progress("ada", "--to", "page")
    assert again.stdout.endswith("page  output/progress-ada.html  (made again)\n")
    assert page.read_bytes() != first
    page.write_text("notes of my own", "utf-8")
    refused = progress("Ada", "--to", "page")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "was changed since Reedmill made it, so it is left as it is." in refused.stderr
    assert "Write --replace to have it replaced" in refused.stderr
    assert page.read_text("utf-8") == "notes of my own"
    assert progress("Ada", "--to", "page", "--replace").stdout.endswith("(replaced)\n")
    assert page.stat().st_mode & 0o777 == 0o600


def test_students_whose_names_make_the_same_words_have_files_apart() -> None:
    book_of("Ada B", "Ada, B!")
    for name in ("Ada B", "Ada, B!", "Ada B"):
        assert progress(name, "--to", "page").exit_code == 0
    assert {path.name for path in Path("output").glob("*.html")} == {
        "progress-ada-b.html", "progress-ada-b-2.html",
    }  # fmt: skip
    assert b">Ada, B!</span>" in Path("output/progress-ada-b-2.html").read_bytes()


def test_a_student_of_the_same_name_in_another_book_has_a_page_apart() -> None:
    for name in ("monday.book", "tuesday.book"):
        book_of("Ada").rename(name)
    for name in ("monday.book", "tuesday.book", "./monday.book"):
        said = CliRunner().invoke(cli, ["progress", "--to", "page", "--book", name])
        assert said.exit_code == 0
    assert said.stdout.endswith("page  output/progress-ada.html  (made again)\n")
    assert there("output")[1:] == ["progress-ada-2.html", "progress-ada.html"]


@pytest.mark.parametrize("text", HOSTILE_STUDENTS.values(), ids=HOSTILE_STUDENTS)
def test_a_hostile_name_leaves_its_folder_by_no_way(text: str) -> None:
    book_of(text)
    assert progress("--to", "page", "--out", "pages").exit_code == 0
    [page] = Path("pages").glob("*.html")
    assert page.name.startswith("progress-")
    assert all(sign.isalnum() or sign in "-." for sign in page.name)
    assert there() == ["class.book", "pages"]


def test_a_name_of_dots_and_slashes_makes_a_plain_file() -> None:
    book_of("../../x", "..")
    for name in ("../../x", ".."):
        assert progress(name, "--to", "page", "--out", "pages").exit_code == 0
    assert len(list(Path("pages").glob("progress-*.html"))) == 2
    assert there() == ["class.book", "pages"]


def test_a_file_may_be_named_and_is_not_replaced_in_silence() -> None:
    book_of("Ada", "Ben")
    said = progress("Ada", "--to", "PAGE", "--out", "lesson/one.html")
    assert said.stdout.endswith("page  lesson/one.html\n")
    page = Path("lesson/one.html")
    assert there("lesson") == ["one.html"]
    assert page.stat().st_mode & 0o777 == 0o600
    refused = progress("Ben", "--to", "page", "--out", "lesson/one.html")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "lesson/one.html is there already, so it is left as it is." in refused.stderr
    assert b">Ada</span>" in page.read_bytes()
    again = progress("Ben", "--to", "page", "--out", "lesson/one.html", "--replace")
    assert again.stdout.endswith("page  lesson/one.html  (replaced)\n")
    assert b">Ben</span>" in page.read_bytes()
    Path("elsewhere.html").symlink_to("none.html")
    assert progress("Ada", "--to", "page", "--out", "elsewhere.html").exit_code == 2
    assert not Path("none.html").exists()


def test_for_programs_it_says_where_the_page_is() -> None:
    book_of("Ada")
    plain = json.loads(progress("--json").stdout)
    made = json.loads(progress("--json", "--to", "page", "--out", "o").stdout)
    assert made.pop("files") == [{"kind": "page", "file": "o/progress-ada.html"}]
    assert made == plain
    assert plain["by_position"] == [
        {"position": 2, "count": 1, "on": 1, "out_cents": 12, "days": 1}
    ]  # fmt: skip


def test_out_without_a_page_is_refused() -> None:
    book_of("Ada")
    refused = progress("--out", "o")
    assert refused.exit_code == 2
    assert "Add --to page, or leave it out." in refused.stderr
    assert not Path("o").exists()


def test_nothing_half_written_is_left_where_there_is_no_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    ada = PageSubject("progress", printable("Ada"), Path("class.book"))
    for out in ("o", "one.html"):
        with pytest.raises(Exception, match="No space left on device"):
            place_record_page(out, ada, b"<p>", replace=False)
    assert there() == []
    check_page_place("o", ada)
