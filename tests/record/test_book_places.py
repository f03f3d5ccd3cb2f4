"""Where a record book may be, what is never left in its place, and who may read it."""

from __future__ import annotations

import json
import os
import re
import socket
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from reedmill.base.errors import InputError, RenderError
from reedmill.cli import cli
from reedmill.record import KeptTake, StudentTakes, open_book, record_book
from taken import kept_in, take

NOW = datetime(2027, 3, 1, 12, tzinfo=UTC)
NOBODY = 65534  # the user without rights of Linux systems (nobody)


def one(number: int) -> KeptTake:
    return KeptTake(take([("-3'", "-2", float(number))], tempo=40 + number))


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cli, ["record", *map(str, words)], catch_exceptions=False)


@pytest.fixture(autouse=True)
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A file with a take, in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return kept_in(Path("take.json"), [one(1).data])


def refused(*words: str | Path, code: int = 2) -> str:
    """What is said where nothing is kept: one sentence or more on one line, on stderr alone."""
    result = run(*words)
    assert (result.exit_code, result.stdout) == (code, "")
    [line] = result.stderr.splitlines()
    return line


@pytest.mark.parametrize("action", ["add", "list", "export", "forget"])
def test_what_is_no_plain_file_is_no_book(action: str) -> None:
    """A pipe would be waited for, and a device swallows what is written (POSIX)."""
    os.mkfifo("pipe.book")
    Path("folder.book").mkdir()
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind("socket.book")
    said = {
        "pipe.book": "it is a pipe between programs", "folder.book": "it is a folder",
        "socket.book": "it is a socket", "/dev/null": "it is a device",
        "take.json/mine.book": "its path leads through a file",
        "take.json": "this is not a record book", "x" * 300: "its name is too long",
    }  # fmt: skip
    words: dict[str, list[str]] = {"add": ["take.json", "--student", "Ada"], "forget": ["Ada"]}
    for name, wanted in said.items():
        before = sorted(Path().rglob("*"))
        assert wanted in refused(action, *words.get(action, []), "--book", name), name
        assert sorted(Path().rglob("*")) == before


@pytest.mark.parametrize(
    "name", [":memory:", "file:mine.book?mode=ro", "mine.book?mode=ro", "a\nb.book", "a%00b", "#"]
)
def test_a_name_that_is_an_order_elsewhere_is_only_a_name(name: str) -> None:
    """SQLite's own addresses: https://www.sqlite.org/uri.html, and ``:memory:``."""
    assert run("add", "take.json", "--student", "Ada", "--book", name).exit_code == 0
    assert sorted(path.name for path in Path().iterdir()) == sorted(["take.json", name])
    said = json.loads(run("list", "--book", name, "--json").stdout)
    assert [(row["name"], row["takes"]) for row in said["students"]] == [("Ada", 1)]


def test_no_book_is_left_into_which_nothing_went() -> None:
    Path("wrong.json").write_text("no takes")
    Path("empty").mkdir()
    before = sorted(Path().rglob("*"))
    book = ("--student", "Ada", "--book", "new/mine.book")
    refused("add", "wrong.json", *book)
    refused("add", "missing.json", *book)
    refused("add", "empty", *book)
    refused("add", "take.json", "--book", "new/mine.book")  # whose is it?
    result = run("add", "wrong.json", "missing.json", *book)
    assert (result.exit_code, result.stdout, len(result.stderr.splitlines())) == (2, "", 2)
    result = run("add", "wrong.json", "missing.json", *book, "--json")
    assert json.loads(result.stdout) == {"book": "new/mine.book", "files": []}
    assert sorted(Path().rglob("*")) == before


def test_no_empty_file_is_left_where_a_disk_is_full(monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite's own bound on its pages stands for the disk."""
    connected = record_book._connected

    def full(path: Path) -> sqlite3.Connection:
        found = connected(path)
        found.execute("PRAGMA max_page_count = 1")
        return found

    monkeypatch.setattr(record_book, "_connected", full)
    said = refused("add", "take.json", "--student", "Ada", "--book", "mine.book", code=1)
    assert "the disk is full" in said
    assert not Path("mine.book").exists()


@contextmanager
def without_rights(folder: Path) -> Iterator[None]:
    """As a user who may not write into *folder*: whoever runs the tests may be allowed anything."""
    folder.chmod(0o555)
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
        folder.chmod(0o755)


def test_a_folder_that_may_only_be_read(file: Path) -> None:
    content = file.read_bytes()
    with tempfile.TemporaryDirectory() as name:
        folder, place = Path(name), Path(name) / "mine.book"
        folder.chmod(0o755)
        (folder / "take.json").write_bytes(content)
        (folder / "take.json").chmod(0o644)
        words = ("add", folder / "take.json", "--student", "Ada", "--book", place)
        with without_rights(folder):
            said = refused(*words)
        assert "a record book cannot be made here (Permission denied)" in said
        assert not place.exists()
        with open_book(place, new=True) as book:
            book.add("Ben", [one(2)], NOW)
        if os.geteuid() == 0:
            os.chown(place, NOBODY, NOBODY)
        with without_rights(folder):
            assert "\nBen " in run("list", "--book", place).stdout
            said = refused(*words)
        # which of the two SQLite says depends on its version
        assert re.match(".*(may only be read here|cannot be opened). .*its folder", said)
        place.chmod(0o444)
        with without_rights(folder):
            said = refused(*words)
        assert said.startswith(f"{place}: this record book may only be read here.")
        with open_book(place) as book:
            assert [row.name for row in book.students()] == ["Ben"]


def test_a_book_is_its_owners_alone_even_in_a_file_that_was_there() -> None:
    Path("mine.book").touch(0o644)
    assert run("add", "take.json", "--student", "Ada", "--book", "mine.book").exit_code == 0
    run("export", "--book", "mine.book", "--out", "all.csv")
    run("export", "--book", "mine.book", "--out", "all.json")
    for name in ("mine.book", "all.csv", "all.json"):
        assert stat.S_IMODE(Path(name).stat().st_mode) == 0o600, name


def test_nothing_is_kept_in_a_book_that_was_moved_meanwhile() -> None:
    """Whatever is written into a file without a name is gone when it is closed (POSIX)."""
    place = Path("mine.book")
    with open_book(place, new=True) as book:
        book.add("Ada", [one(1)], NOW)
        place.unlink()
        with pytest.raises(RenderError, match="moved or removed meanwhile"):
            book.add("Ada", [one(2)], NOW)
        open_book(place, new=True).__exit__()  # another program's new one
        with pytest.raises(RenderError, match="moved or removed meanwhile"):
            book.add("Ada", [one(2)], NOW)


# --- whole or not at all ----------------------------------------------------------------------


def test_a_file_of_several_students_is_kept_whole_or_not_at_all() -> None:
    with open_book(Path("mine.book"), new=True) as book:
        book.add("Ben", [one(2)], NOW)
        both = [StudentTakes("Ada", (one(3),)), StudentTakes("Cleo", (one(2),))]
        with pytest.raises(InputError, match="as Ben's"):
            book.add_all(both, NOW)
        assert [row.name for row in book.students()] == ["Ben"]


def test_one_file_that_cannot_be_kept_does_not_keep_the_others_back() -> None:
    Path("many").mkdir()
    for number in range(60):
        kept_in(Path(f"many/{number:02}.json"), [one(number).data])
    with open_book(Path("mine.book"), new=True) as book:
        book.add("Ben", [one(30)], NOW)
    result = run("add", "many", "--student", "Ada", "--book", "mine.book")
    assert result.exit_code == 2
    [line] = result.stderr.splitlines()
    assert line.startswith("many/30.json: a take of")
    assert "as Ben's" in line
    reported = [line.partition(":")[0] for line in result.stdout.splitlines()]
    assert reported == [f"many/{number:02}.json" for number in range(60) if number != 30]
    with open_book(Path("mine.book")) as book:
        assert {row.name: row.takes for row in book.students()} == {"Ada": 59, "Ben": 1}


def test_a_take_is_the_same_whatever_program_wrote_its_numbers() -> None:
    """JSON has one kind of number (RFC 8259): 12, 12.0 and 1.2e1 are one."""
    [note] = one(12).data["passes"][0]["notes"]
    assert note["cents"] == 12.0
    text = json.dumps({"takes": [one(12).data]})
    assert '"cents": 12.0' in text
    for number, written in enumerate(("12.0", "12", "1.2e1")):
        changed = text.replace('"cents": 12.0', f'"cents": {written}')
        data = f"{number}.json"
        Path(data).write_text(changed.replace(": 0.0,", ": -0.0,") if number else changed, "utf-8")
    result = run("add", "0.json", "1.json", "2.json", "--student", "Ada", "--book", "mine.book")
    assert [line.partition(": ")[2] for line in result.stdout.splitlines()] == [
        "1 take of Ada kept", *["0 takes of Ada kept, 1 was there already"] * 2,
    ]  # fmt: skip


def test_who_is_alone_in_the_book_by_a_file_before_gets_the_next() -> None:
    """As if each file had been added by a command of its own."""
    data = {"reedmill_record": 1, "students": [{"name": "Ada", "takes": [one(5).data]}]}
    Path("ada.json").write_text(json.dumps(data), "utf-8")
    result = run("add", "ada.json", "take.json", "--book", "mine.book")
    assert (result.exit_code, result.stdout.splitlines()) == (0, [
        "ada.json: 1 take of Ada kept", "take.json: 1 take of Ada kept",
    ])  # fmt: skip


def test_figures_that_no_machine_holds_are_refused() -> None:
    for figure in ("1" + "0" * 400, "1e400", "-1e400", "1" * 5000, "NaN"):
        text = json.dumps(one(1).data).replace('"tempo": 41', f'"tempo": {figure}')
        assert figure in text
        Path("huge.json").write_text(text, "utf-8")
        assert "huge.json: " in refused("add", "huge.json", "--student", "Ada", "--book", "a.book")


def test_a_list_has_a_line_for_each_student_under_one_another() -> None:
    """East Asian letters take two columns (Unicode Annex 11)."""
    with open_book(Path("mine.book"), new=True) as book:
        book.add("\u5c71\u672c", [one(2), one(3)], NOW)
        book.add("Ada", [one(1)], NOW)
    assert run("list", "--book", "mine.book").stdout.splitlines() == [
        "mine.book: 2 students",
        "student  takes  notes  first       last",
        "Ada      1      1      2027-01-31  2027-01-31",
        "\u5c71\u672c     2      2      2027-01-31  2027-01-31",
    ]
    run("forget", "Ada", "--book", "mine.book")
    run("forget", "\u5c71\u672c", "--book", "mine.book")
    assert run("list", "--book", "mine.book").stdout == "mine.book: 0 students\n"


def test_an_export_with_an_impossible_name_ends_in_a_sentence() -> None:
    run("add", "take.json", "--student", "Ada", "--book", "mine.book")
    Path("folder.json").mkdir()
    for name in ("x" * 300 + ".csv", "take.json/all.csv", "folder.json"):
        words = ("export", "--out", name, "--replace", "--book", "mine.book")
        assert "cannot be written" in refused(*words, code=1)


# --- exports ----------------------------------------------------------------------------------


def test_one_students_takes_are_exported_alone() -> None:
    with open_book(Path("mine.book"), new=True) as book:
        book.add_all([StudentTakes("Ada", (one(2), one(3))), StudentTakes("Ben", (one(4),))], NOW)
    assert run("export", "--student", "ada", "--out", "a.json", "--book", "mine.book").stdout == (
        "a.json\n"
    )
    found = json.loads(Path("a.json").read_text("utf-8"))
    assert [(each["name"], each["takes"]) for each in found["students"]] == [
        ("Ada", [one(2).data, one(3).data])
    ]
    said = refused("export", "--student", "Eve", "--out", "e.json", "--book", "mine.book")
    assert said == 'the record book has no student "Eve". It has "Ada", "Ben".'
    assert not Path("e.json").exists()


def test_an_option_that_an_action_does_not_take_is_refused() -> None:
    book = ("--book", "mine.book")
    run("add", "take.json", "--student", "Ada", *book)
    assert "--out is where record export writes" in refused("list", "--out", "x.csv", *book)
    assert "--out is where" in refused("add", "take.json", "--out", "x.csv", *book)
    assert "Leave out one of them" in refused("export", "--json", "--out", "x.csv", *book)
    assert "about the whole book" in refused("list", "--student", "Ada", *book)
    assert "an export is .json or .csv" in refused("export", "--out", "x.txt", *book)


def test_actions_and_files_may_stand_after_options() -> None:
    words = ("--book", "mine.book", "add", "--student", "Ada", "take.json")
    assert run(*words).stdout == "take.json: 1 take of Ada kept\n"
    said = refused("add", "take.json", "--student", "Ada", "Lovelace", "--book", "mine.book")
    assert 'Write: --student "Ada Lovelace"' in said


def test_a_strangers_book_with_other_kinds_of_values_is_called_damaged() -> None:
    place = Path("mine.book")
    with open_book(place, new=True) as book:
        book.add("Ada", [one(1)], NOW)
    whole = place.read_bytes()
    for change in (
        "UPDATE student SET name = x'ff'", "UPDATE take SET played = x'00'",
        "UPDATE take SET notes = 'many'", "UPDATE take SET data = 'text'",
        "UPDATE take SET data = x'789c'",
    ):  # fmt: skip
        place.write_bytes(whole)
        with closing(sqlite3.connect(place)) as plain, plain:
            plain.execute(change)
        for words in (("list", "--json"), ("export",)):
            result = run(*words, "--book", place)
            if result.exit_code:
                assert (result.exit_code, result.stdout) == (1, ""), change
                assert result.stderr.endswith(
                    "this record book is damaged. Take a copy of it that is whole.\n"
                )
        assert result.exit_code == 1, change


def test_the_way_to_the_record_book_is_found_without_sqlite() -> None:
    """Other programs import ``reedmill.api`` for making alone."""
    code = (
        "import sys; from reedmill import api; assert 'sqlite3' not in sys.modules; "
        "assert 'fastjsonschema' not in sys.modules; api.open_book; "
        "assert 'sqlite3' in sys.modules"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    subprocess.run([sys.executable, "-c", code], env=environment, check=True)
