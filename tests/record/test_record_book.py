"""A record book keeps every take once, survives what may happen to it, and really forgets."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import resource
import signal
import sqlite3
import stat
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from reedmill.base.errors import InputError, ReedmillError, RenderError
from reedmill.cli import cli
from reedmill.ear import TAKE_SCHEMA
from reedmill.formats.schemas import DOCUMENTS
from reedmill.record import open_book, read_take_data, record_book
from reedmill.record.kept_take import KeptTake
from taken import kept_in, take

NOW = datetime(2027, 3, 1, 12, tzinfo=UTC)
RUNG = [("-3'", "-2", 12.0), ("-2", "-3'", 1.0), ("-3''", "-2", None)]
KILLED = 100
HOSTILE = [
    "<script>canary()</script>", "'; DROP TABLE student; --", "\u202eadA", "a\x1b[31mb",
    "x" * 80, "\u0414\u043e\u0440\u043e\u0433\u0430", "\u5c71\u672c", "=1+1", "%s%n", "../../x",
]  # fmt: skip


def numbered(count: int, first: int = 0) -> list[dict[str, Any]]:
    """Takes that are all different."""
    return [take([("-3'", "-2", float(n % 40)), ("-2", "-3'", n / 10)],
                 recorded=f"2027-01-{n % 28 + 1:02}T18:{n // 28 % 60:02}:00Z", tempo=40 + n % 80)
            for n in range(first, first + count)]  # fmt: skip


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cli, ["record", *map(str, words)])


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "mine.book"


def test_the_takes_of_these_tests_have_the_form_of_every_take() -> None:
    for each in [*numbered(3), take(RUNG)]:
        jsonschema.validate(each, TAKE_SCHEMA)


def test_every_take_is_kept_once_however_often_it_is_added(place: Path, tmp_path: Path) -> None:
    file = kept_in(tmp_path / "monday.json", numbered(3))
    said = run("add", file, "--student", "Ada", "--book", place)
    assert (said.exit_code, said.stdout) == (0, f"{file}: 3 takes of Ada kept\n")
    more = kept_in(tmp_path / "tuesday.json", numbered(5))
    assert run("add", more, "--book", place).stdout == (  # there is one student, so it is hers
        f"{more}: 2 takes of Ada kept, 3 were there already\n"
    )
    assert run("add", more, file, "--book", place, "--json").exit_code == 0
    with open_book(place) as found:
        [row] = found.students()
        assert (row.name, row.takes, row.tries) == ("Ada", 5, 10)
        assert [each.data for each in found.takes("Ada")] == numbered(5)


def test_a_page_a_command_and_a_book_export_the_same_take(place: Path, tmp_path: Path) -> None:
    one = take(RUNG)
    forms = {
        "hear.json": {"takes": [one]}, "saved.json": one,
        "history.json": {"reedmill_history": 1, "drills": [
            {"known_as": "a" * 64, "harp": "C", "position": 2, "takes": [one]},
        ]},
        "book.json": {"reedmill_record": 1, "students": [{"name": "Ada", "takes": [one]}]},
    }  # fmt: skip
    for name, data in forms.items():
        (tmp_path / name).write_text(json.dumps(data), "utf-8")
    with open_book(place, new=True) as found:
        counts = [
            found.add("Ada", each.takes, NOW).new
            for name in forms
            for each in read_take_data(tmp_path / name)
        ]
    assert counts == [1, 0, 0, 0]


DAMAGED: dict[str, Any] = {
    "is not JSON": "hello",
    "has no takes": {"songs": []},
    '"cents" is missing in passes.0.notes.0': [lambda t: t["passes"][0]["notes"][0].pop("cents")],
    "position is not": [lambda t: t.update(position=13)],
    "which nothing heard can be": [lambda t: t.update(tempo_heard=1e300)],
    "which is not tab": [lambda t: t["passes"][0]["notes"][0].update(tab="<b>")],
    "a harp has ten holes": [lambda t: t["passes"][0]["notes"][0].update(tab="11")],
    "more than 400": [lambda t: t.update(harp="C" * 500)],
    "knows form 1": [lambda t: t.update(reedmill_take=2)],
    "does not belong there": [lambda t: t.update(more=1)],
    "passes.0.notes.0.verdict is not": [
        lambda t: t["passes"][0]["notes"][0].update(verdict="splendid")
    ],
    "Pick a key": [lambda t: t.update(harp="X#")],
}


def test_damaged_and_foreign_files_are_refused_by_name_and_the_rest_goes_in(
    place: Path, tmp_path: Path
) -> None:
    files: list[Path] = []
    for number, damage in enumerate(DAMAGED.values()):
        path = tmp_path / f"{number}.json"
        data = damage
        if isinstance(damage, list):
            data = take(RUNG)
            damage[0](data)
        path.write_text(data if isinstance(data, str) else json.dumps(data), "utf-8")
        files.append(path)
    nest = tmp_path / "nest.json"
    nest.write_text("[" * 100_000)
    picture = tmp_path / "picture.json"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    good = kept_in(tmp_path / "good.json", numbered(2))
    said = run("add", *files, nest, picture, good, "--student", "Ada", "--book", place)
    assert said.exit_code == 2
    assert f"{good}: 2 takes of Ada kept\n" in said.stdout
    lines = said.stderr.splitlines()
    assert len(lines) == len(files) + 2
    for path, wanted, line in zip(files, DAMAGED, lines, strict=False):
        assert line.startswith(f"{path}: ")
        if wanted != "Pick a key":
            assert wanted in line, line
    with open_book(place) as found:
        assert found.students()[0].takes == 2


def test_a_take_belongs_to_one_student(place: Path, tmp_path: Path) -> None:
    file = kept_in(tmp_path / "takes.json", numbered(2))
    run("add", file, "--student", "Ada", "--book", place)
    said = run("add", file, "--student", "Bert", "--book", place)
    assert said.exit_code == 2
    assert "as Ada's. A take belongs to one student." in said.stderr
    with open_book(place) as found:
        assert [row.name for row in found.students()] == ["Ada"]


def test_a_name_is_the_same_in_any_case_and_form(place: Path) -> None:
    with open_book(place, new=True) as found:
        for number, name in enumerate(("Zo\u00eb", "zoe\u0308", "  ZO\u00cb ")):
            found.add(name, [KeptTake(each) for each in numbered(1, number)], NOW)
        assert [(row.name, row.takes) for row in found.students()] == [("Zo\u00eb", 3)]
        with pytest.raises(InputError, match="needs a name"):
            found.add(" \u200b ".replace("\u200b", ""), [], NOW)


def test_names_that_differ_in_a_letter_or_sign_are_two_students(place: Path) -> None:
    names = ["Jos\u00e9", "Jose", "Ada", "Ada!", "\u5c71\u672c", "\u5c71\u7530"]
    with open_book(place, new=True) as found:
        for number, name in enumerate(names):
            found.add(name, [KeptTake(each) for each in numbered(1, number)], NOW)
        assert {row.name: row.takes for row in found.students()} == dict.fromkeys(names, 1)
        found.forget("Jose")
        assert "Jos\u00e9" in [row.name for row in found.students()]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_strangers_name_is_only_a_name(place: Path, name: str) -> None:
    with open_book(place, new=True) as found:
        found.add(name, [KeptTake(take(RUNG))], NOW)
        found.add("Ada", [KeptTake(take(RUNG, tempo=70))], NOW)
    said = run("list", "--book", place)
    assert said.exit_code == 0
    assert "\x1b" not in said.stdout
    assert "\u202e" not in said.stdout
    listed = json.loads(run("list", "--book", place, "--json").stdout)["students"]
    assert len(listed) == 2
    [other] = [each["name"] for each in listed if each["name"] != "Ada"]
    assert run("forget", "--student", other, "--book", place).exit_code == 0
    with open_book(place) as found:
        assert [row.name for row in found.students()] == ["Ada"]


def test_what_is_forgotten_is_gone_from_the_file(place: Path) -> None:
    name = "Zebedee Quux"
    with open_book(place, new=True) as found:
        found.add(name, [KeptTake(take(RUNG, title="Unheard-of drill"))], NOW)
        found.add("Ada", [KeptTake(each) for each in numbered(50)], NOW)
    assert name.encode() in place.read_bytes()
    said = run("forget", name, "--book", place)
    assert said.stdout == (
        f"forgotten: {name}, 1 take with 3 notes\n"
        "Exports, pages and packs made of them are files of their own, and are not touched.\n"
    )
    content = place.read_bytes()
    assert name.encode() not in content
    assert b"Unheard-of" not in content
    assert not list(place.parent.glob("mine.book-*"))
    again = run("forget", name, "--book", place)
    assert again.exit_code == 2
    assert again.stderr.splitlines()[0].endswith('It has "Ada".')


def test_a_book_is_readable_by_its_owner_alone(place: Path, tmp_path: Path) -> None:
    run("add", kept_in(tmp_path / "a.json", numbered(1)), "--student", "Ada", "--book", place)
    assert stat.S_IMODE(place.stat().st_mode) == 0o600


def test_without_a_name_the_book_lies_where_the_system_keeps_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification: user data below ``XDG_DATA_HOME``."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    run("add", kept_in(tmp_path / "a.json", numbered(1)), "--student", "Ada")
    assert (tmp_path / "data" / "reedmill" / "record.book").is_file()
    assert "Ada" in run("list").stdout


# --- export -----------------------------------------------------------------------------------


def test_what_is_exported_makes_the_same_book_again(place: Path, tmp_path: Path) -> None:
    with open_book(place, new=True) as found:
        found.add("Ada", [KeptTake(each) for each in numbered(4)], NOW)
        found.add("Bert", [KeptTake(each) for each in numbered(3, 10)], NOW)
    out = tmp_path / "all.json"
    assert run("export", "--book", place, "--out", out).exit_code == 0
    data = json.loads(out.read_text("utf-8"))
    jsonschema.validate(data, DOCUMENTS["record-export"])
    other = tmp_path / "other.book"
    assert run("add", out, "--book", other).exit_code == 0
    assert run("export", "--book", other).stdout == run("export", "--book", place).stdout
    refused = run("export", "--book", place, "--out", out)
    assert refused.exit_code == 2
    assert "Add --replace" in refused.stderr


def test_a_spreadsheet_reckons_nothing_from_an_export(place: Path, tmp_path: Path) -> None:
    with open_book(place, new=True) as found:
        found.add("=HYPERLINK(1)", [KeptTake(take(RUNG, title="+1"))], NOW)
    out = tmp_path / "all.csv"
    run("export", "--book", place, "--out", out)
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8"))))
    assert [row["tab"] for row in rows] == ["'-3'", "'-2", "'-3''"]
    assert [row["cents"] and float(row["cents"]) for row in rows] == [12, 1, ""]
    assert {row["student"] for row in rows} == {"'=HYPERLINK(1)"}
    assert {row["drill"] for row in rows} == {"'+1"}
    assert [row["verdict"] for row in rows] == ["near", "on", "missed"]


# --- what may happen to a file ----------------------------------------------------------------


def database(path: Path, *statements: str) -> Path:
    with closing(sqlite3.connect(path)) as made, made:
        for statement in statements:
            made.execute(statement)
    return path


OURS = f"PRAGMA application_id = {record_book.APPLICATION_ID}"


def test_another_programs_file_is_not_touched(tmp_path: Path) -> None:
    others = {
        "text.book": None,
        "songs.book": ["CREATE TABLE songs (name)"],
        "made-up.book": [OURS, "PRAGMA user_version = 1", "CREATE TABLE student (id, evil)"],
        "trigger.book": [*(each for each in record_book.FORMS[0]), OURS, "PRAGMA user_version = 1",
                         "CREATE TRIGGER t AFTER INSERT ON take BEGIN DELETE FROM student; END"],
    }  # fmt: skip
    for name, statements in others.items():
        path = tmp_path / name
        if statements is None:
            path.write_text("my diary")
        else:
            database(path, *statements)
        before = path.read_bytes()
        with pytest.raises(InputError, match=name) as refused:
            open_book(path, new=True)
        assert "Name another file" in str(refused.value)
        assert path.read_bytes() == before


def test_a_book_of_a_newer_reedmill_is_left_alone(place: Path) -> None:
    database(place, OURS, "PRAGMA user_version = 99", "CREATE TABLE from_the_future (x)")
    before = place.read_bytes()
    with pytest.raises(InputError, match="newer Reedmill \\(form 99"):
        open_book(place, new=True)
    assert place.read_bytes() == before


def test_an_older_book_is_brought_up_and_keeps_its_takes(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_book(place, new=True) as found:
        found.add("Ada", [KeptTake(each) for each in numbered(3)], NOW)
    later = (
        "ALTER TABLE student ADD COLUMN remark TEXT",
        "UPDATE student SET remark = 'from ' || (SELECT COUNT(*) FROM take)",
    )
    monkeypatch.setattr(record_book, "FORMS", [*record_book.FORMS, later])
    with open_book(place) as found:
        assert len(list(found.takes("Ada"))) == 3
    with closing(sqlite3.connect(place)) as plain, plain:
        assert plain.execute("SELECT remark FROM student").fetchall() == [("from 3",)]
        assert plain.execute("PRAGMA user_version").fetchone() == (len(record_book.FORMS),)
    with open_book(place) as found:  # and once more, as what it is now
        assert found.students()[0].takes == 3


def test_a_step_up_that_fails_leaves_the_book_as_it_was(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_book(place, new=True) as found:
        found.add("Ada", [KeptTake(each) for each in numbered(3)], NOW)
    before = place.read_bytes()
    wrong = ("ALTER TABLE student ADD COLUMN remark TEXT", "SELECT nothing FROM nowhere")
    with monkeypatch.context() as patched:
        patched.setattr(record_book, "FORMS", [*record_book.FORMS, wrong])
        with pytest.raises(RenderError, match="could not be used"):
            open_book(place)
    assert place.read_bytes() == before
    with open_book(place) as found:
        assert found.students()[0].takes == 3


def test_a_book_that_may_only_be_read_is_read(place: Path) -> None:
    with open_book(place, new=True) as found:
        found.add("Ada", [KeptTake(each) for each in numbered(1)], NOW)
    with closing(sqlite3.connect(f"file:{place}?mode=ro&immutable=1", uri=True)) as plain, plain:
        reader = record_book.RecordBook(place, plain)
        assert reader.students()[0].takes == 1
        with pytest.raises(InputError, match="may only be read here"):
            reader.add("Ada", [KeptTake(each) for each in numbered(1, 5)], NOW)


def test_a_full_disk_stores_all_of_an_import_or_nothing(place: Path) -> None:
    with open_book(place, new=True) as found:
        found.add("Ada", [KeptTake(each) for each in numbered(5)], NOW)
        pages = found._connection.execute("PRAGMA page_count").fetchone()[0]
        found._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(RenderError, match="the disk is full"):
            found.add("Ada", [KeptTake(each) for each in numbered(400, 100)], NOW)
        assert found.students()[0].takes == 5
    with open_book(place) as found:
        assert len(list(found.takes("Ada"))) == 5


def test_a_file_that_may_not_grow_ends_in_a_sentence(place: Path, tmp_path: Path) -> None:
    """The system's own limit on the size of a file, ``RLIMIT_FSIZE`` of POSIX."""
    file = kept_in(tmp_path / "many.json", numbered(600))
    run("add", kept_in(tmp_path / "few.json", numbered(1)), "--student", "Ada", "--book", place)
    done = subprocess.run(
        [sys.executable, "-m", "reedmill.cli", "record", "add", file, "--student", "Ada",
         "--book", place],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000)),
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert len(done.stderr.splitlines()) == 1
    with open_book(place) as found:
        assert found.students()[0].takes == 1


def test_a_damaged_book_ends_in_a_sentence(place: Path) -> None:
    with open_book(place, new=True) as found:
        found.add("Ada", [KeptTake(each) for each in numbered(60)], NOW)
    whole = place.read_bytes()
    rng = random.Random(7)
    for _ in range(60):
        content = bytearray(whole)
        for _ in range(rng.choice((1, 20, 300))):
            content[rng.randrange(len(content))] = rng.randrange(256)
        place.write_bytes(content[: rng.choice((len(content), rng.randrange(len(content))))])
        said: ReedmillError | None = None
        try:
            with open_book(place) as found:
                for row in found.students():
                    list(found.takes(row.name))
        except ReedmillError as error:
            said = error
        assert said is None or (len(said.lines) == 1 and str(said).startswith(str(place)))


# --- killed, and two at once ------------------------------------------------------------------


def importing(place: Path, folder: Path) -> subprocess.Popen[str]:
    words: list[str | Path] = ["add", folder, "--student", "Ada", "--book", place]
    command = [sys.executable, "-m", "reedmill.cli", "record", *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def folder_of(path: Path, files: int, first: int = 0) -> Path:
    path.mkdir()
    for number in range(files):
        kept_in(path / f"{number:03}.json", numbered(3, first + 3 * number))
    return path


def test_whoever_is_killed_has_what_was_reported_and_nothing_twice(tmp_path: Path) -> None:
    """A sample of what tests/benchmarks does a hundred times."""
    folder = folder_of(tmp_path / "takes", 60)
    rng = random.Random(7)
    for turn in range(4):
        place = tmp_path / f"{turn}.book"
        program = importing(place, folder)
        assert program.stdout is not None
        reported = [program.stdout.readline()]
        time.sleep(rng.uniform(0, 0.15))
        program.send_signal(signal.SIGKILL)
        said, _ = program.communicate()
        reported += said.splitlines()
        with open_book(place) as found:
            [row] = found.students()
            whole = [line for line in reported if line.strip().endswith("kept")]
            assert row.takes >= 3 * len(whole)
            assert row.takes % 3 == 0
            digests = [each.digest for each in found.takes("Ada")]
            assert len(set(digests)) == len(digests) == row.takes
        done = importing(place, folder)
        done.communicate()
        with open_book(place) as found:
            assert found.students()[0].takes == 180


def test_two_programs_may_add_at_once(tmp_path: Path) -> None:
    place = tmp_path / "shared.book"
    both = [importing(place, folder_of(tmp_path / name, 25, first))
            for name, first in (("one", 0), ("two", 1000))]  # fmt: skip
    same = [importing(place, tmp_path / "one")]
    for program in (*both, *same):
        _, said = program.communicate(timeout=120)
        assert (program.returncode, said) == (0, "")
    with open_book(place) as found:
        assert found.students()[0].takes == 150


def test_an_option_that_is_missing_is_asked_for(tmp_path: Path) -> None:
    file = kept_in(tmp_path / "a.json", numbered(1))
    said = {
        ("add",): "name the files to add",
        ("add", file): "this file does not say whose takes they are",
        ("list",): "there is no record book yet",
        ("forget",): "name the one student to forget",
        ("export", "Ada"): "record export is about the whole book",
        ("add", tmp_path / "missing.json", "--student", "Ada"): "it is not there",
        ("add", tmp_path, "--student", " "): "a student needs a name",
    }
    for words, wanted in said.items():
        result = run(*words, "--book", tmp_path / f"{os.urandom(4).hex()}.book")
        assert result.exit_code == 2
        assert wanted in result.stderr, words
