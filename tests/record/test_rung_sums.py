"""A book's sums are what its tries come to, however they came in, and go with their student."""

from __future__ import annotations

import math
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill.base.errors import InputError, RenderError
from reedmill.record import kept_sums, open_book, progress_of, record_book
from reedmill.record.kept_take import KeptTake, Try, mostly_in_place
from reedmill.record.rung_progress import out_of_place
from reedmill.record.rung_sums import (
    FADING_EPOCH,
    HALF_LIFE_DAYS,
    LearnedRung,
    StudentSums,
    SummedDrill,
    Sums,
    counts_on,
    fading,
)
from reedmill.score.verdicts import Verdict
from taken import take

START = datetime(2026, 2, 2, 18, 30, tzinfo=UTC)
NOW = datetime(2027, 3, 1, tzinfo=UTC)
OLD_BOOK = Path(__file__).parent / "books" / "form-1.book"  # made by the code that knew no sums
RUNGS = [("-3'", "-2"), ("-3''", "-2"), ("-3''", "-3'"), ("-2", None), ("-4'", "4")]
TITLES = ["Home from every rung", "Step from the rung before"]


def some_takes(seed: int, count: int = 25) -> list[KeptTake]:
    """Takes with every kind of verdict, over half a year, on harps of all registers."""
    rng = random.Random(seed)
    found = []
    for number in range(count):
        tries = [(tab, before, rng.choice((None, round(rng.gauss(5, 20), 1), 3.0, 4.0)))
                 for tab, before in rng.choices(RUNGS, k=10)]  # fmt: skip
        if number % 4 == 0:
            tries = [(tab, before, 5.0) for tab, before, _ in tries]
        at = START + timedelta(days=180 * rng.random(), seconds=number)
        data = take(tries, recorded=at.isoformat(), harp=rng.choice(("C", "F", "low F")),
                    title=rng.choice(TITLES), position=rng.choice((1, 2)))  # fmt: skip
        for one in rng.sample(data["passes"][0]["notes"], 1):
            one.update(verdict=rng.choice(("unclear", "another-note")), cents=None)
        found.append(KeptTake(data))
    return found


# --- by SQL alone -----------------------------------------------------------------------------

BY_RUNG = """
    SELECT tab, came_from, register, substr(played, 1, 10),
           COUNT(*), SUM(verdict IN ('on', 'near')),
           SUM(CASE WHEN verdict IN ('on', 'near', 'sharp', 'flat') THEN MIN(ABS(cents), 60.0)
               ELSE 60.0 END)
    FROM try JOIN take ON take.id = try.take JOIN student ON student.id = take.student
    WHERE name = ? AND verdict <> 'unclear'
    GROUP BY tab, came_from, register, substr(played, 1, 10)
"""
BY_DRILL = """
    SELECT drill, harp, position, COUNT(*), SUM(good), MAX(day) FROM (
        SELECT take.id, drill, harp, position, substr(played, 1, 10) AS day,
               SUM(verdict IN ('on', 'near')) * 10 >= COUNT(*) * 9
               AND SUM(verdict IN ('on', 'near')) >= 8 AS good
        FROM take JOIN try ON try.take = take.id JOIN student ON student.id = take.student
        WHERE name = ? GROUP BY take.id
    ) GROUP BY drill, harp, position
"""


def days_since_epoch(day: str) -> int:
    return (date.fromisoformat(day) - date(2040, 1, 1)).days


def check_against_sql(place: Path) -> list[StudentSums]:
    """All sums of the book at *place*, each figure compared with what SQLite makes of the tries."""
    with open_book(place) as book:
        found = book.sums()
    with closing(sqlite3.connect(place)) as plain:
        for each in found:
            of = (each.name,)
            [(takes, days, last)] = plain.execute(
                "SELECT COUNT(*), COUNT(DISTINCT substr(played, 1, 10)), substr(MAX(played), 1, 10)"
                " FROM take JOIN student ON student.id = student WHERE name = ?", of,
            )  # fmt: skip
            assert (each.takes, each.days, each.last) == (takes, days, last)
            wanted: dict[LearnedRung, list[Any]] = defaultdict(lambda: [0, 0, 0.0, 0.0, ""])
            for tab, before, register, day, count, good, out in plain.execute(BY_RUNG, of):
                counted = math.exp(math.log(2) * days_since_epoch(day) / 7)
                row = wanted[LearnedRung(tab, before, register)]
                row[0] += count
                row[1] += good
                row[2] += count * counted
                row[3] += out * counted
                row[4] = max(row[4], day)
            assert each.sums.rungs.keys() == wanted.keys()
            for rung, sums in each.sums.rungs.items():
                tries, good, weight, out_sum, last = wanted[rung]
                assert (sums.tries, sums.in_place, sums.last) == (tries, good, last)
                assert sums.weight == pytest.approx(weight, rel=1e-9, abs=0)
                assert sums.out_sum == pytest.approx(out_sum, rel=1e-9, abs=0)
            drills = {(drill, harp, position): tuple(row)
                      for drill, harp, position, *row in plain.execute(BY_DRILL, of)}  # fmt: skip
            assert {key: (one.takes, one.good, one.last)
                    for key, one in each.sums.drills.items()} == drills  # fmt: skip
    return found


def figures(found: Iterable[StudentSums]) -> dict[str, Any]:
    """The sums by student, with floats as alike as another order of adding leaves them."""
    return {
        each.name: (
            each.takes, each.days, each.last,
            {key: (one.tries, one.in_place, one.last, f"{one.weight:.9e}", f"{one.out_sum:.9e}")
             for key, one in each.sums.rungs.items()},
            {key: (one.takes, one.good, one.last) for key, one in each.sums.drills.items()},
        )
        for each in found
    }  # fmt: skip


def test_every_sum_is_what_sql_makes_of_the_tries(tmp_path: Path) -> None:
    place = tmp_path / "a.book"
    with open_book(place, new=True) as book:
        for number, name in enumerate(("Ada", "Ben", "Zo\u00eb")):
            book.add(name, some_takes(number), NOW)
    found = check_against_sql(place)
    assert [each.name for each in found] == ["Ada", "Ben", "Zo\u00eb"]
    assert all(sum(one.good for one in each.sums.drills.values()) for each in found)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_order_in_which_takes_come_in_changes_no_sum(tmp_path: Path, seed: int) -> None:
    takes = some_takes(seed)
    rng = random.Random(seed)
    with open_book(tmp_path / "at-once.book", new=True) as book:
        book.add("Ada", takes, NOW)
        wanted = figures(book.sums())
    with open_book(tmp_path / "one-by-one.book", new=True) as book:
        for each in rng.sample(takes, len(takes)):
            book.add("Ada", [each], NOW)
            book.add("Ada", rng.sample(takes[:5], 1), NOW)  # most of them again
        assert figures(book.sums()) == wanted


def test_who_is_forgotten_leaves_no_sum_and_changes_none(tmp_path: Path) -> None:
    place = tmp_path / "a.book"
    with open_book(place, new=True) as book:
        book.add("Ada", some_takes(1), NOW)
        alone = figures(book.sums())
        book.add("Zebedee Quux", some_takes(2), NOW)
        book.forget("Zebedee Quux")
        assert figures(book.sums()) == alone
    check_against_sql(place)
    with closing(sqlite3.connect(place)) as plain:
        assert plain.execute(
            "SELECT COUNT(*) FROM (SELECT student FROM rung UNION ALL SELECT student FROM drill) "
            "WHERE student NOT IN (SELECT id FROM student)"
        ).fetchone() == (0,)


def test_an_import_that_is_refused_changes_no_sum(tmp_path: Path) -> None:
    takes = some_takes(1)
    with open_book(tmp_path / "a.book", new=True) as book:
        book.add("Ada", takes[:5], NOW)
        before = figures(book.sums())
        with pytest.raises(InputError, match="A take belongs to one student"):
            book.add("Ben", [*takes[5:], takes[0]], NOW)
        pages = book._connection.execute("PRAGMA page_count").fetchone()[0]
        book._connection.execute(f"PRAGMA max_page_count = {pages + 1}")
        with pytest.raises(RenderError, match="the disk is full"):
            book.add("Ada", [*takes[5:], *some_takes(7, 200)], NOW)
        book._connection.execute("PRAGMA max_page_count = 1000000")
        assert figures(book.sums()) == before
        book.add("Ada", takes, NOW)
    check_against_sql(tmp_path / "a.book")


# --- pure -------------------------------------------------------------------------------------


@given(st.sampled_from(Verdict), st.none() | st.floats(-200, 200))
def test_a_try_is_as_far_out_as_progress_says(verdict: Verdict, cents: float | None) -> None:
    one = Try("-3'", "-2", cents, verdict)
    sums = Sums()
    sums.add(SummedDrill(KeptTake(take([])).title, "C", 2), "middle", "2040-01-01", [one])
    if verdict is Verdict.UNCLEAR:
        assert sums.rungs == {}
        return
    [rung] = sums.rungs.values()
    assert (rung.tries, rung.weight, rung.out_sum) == (1, 1.0, out_of_place(one))
    assert rung.in_place == (verdict in (Verdict.ON, Verdict.NEAR))


def test_weights_halve_in_a_week_whatever_the_day() -> None:
    for day in ("2024-02-29", "2027-01-01", "2043-07-08", "2058-11-01"):
        before = (date.fromisoformat(day) - timedelta(days=7)).isoformat()
        assert counts_on(day) == pytest.approx(2 * counts_on(before), rel=1e-12, abs=0)
        assert counts_on(day) * fading(date.fromisoformat(day)) == pytest.approx(1.0, rel=1e-12)
    assert HALF_LIFE_DAYS == 7


def test_no_weight_overflows_before_2059_and_none_since_2021_is_lost() -> None:
    """IEEE 754: the greatest double is just under 2 ** 1024, the least normal one 2 ** -1022."""
    greatest = (date(2058, 11, 30) - FADING_EPOCH).days / 7
    least = (date(2021, 1, 1) - FADING_EPOCH).days / 7
    assert greatest + math.log2(100_000_000 * 60) < 1024  # the sum of so many tries
    assert least > -1022
    assert 0 < counts_on("2021-01-01") < counts_on("2058-11-30") < math.inf
    assert math.isfinite(1e8 * counts_on("2058-11-30"))


@pytest.mark.parametrize("day", ["0001-01-01", "1969-12-31", "2101-01-01", "9999-12-31"])
def test_impossible_days_count_finitely(day: str) -> None:
    assert math.isfinite(counts_on(day))
    assert math.isfinite(fading(date.fromisoformat(day)))


def test_most_of_a_take_is_nine_notes_of_ten() -> None:
    counts = [(9, 10), (8, 10), (12, 13), (11, 13), (18, 20), (0, 0)]
    assert [mostly_in_place(*each) for each in counts] == [
        True, False, True, False, True, False
    ]  # fmt: skip


def test_a_take_of_fewer_than_eight_notes_is_no_drill_played_in_place() -> None:
    assert [count for count in range(12) if mostly_in_place(count, count)] == [8, 9, 10, 11]


def test_three_notes_earn_neither_a_lesson_nor_a_tempo(tmp_path: Path) -> None:
    """Nor do seven with three that were unclear: what was not heard is not in place."""
    short = take([("-2", None, 3.0), ("-3", "-2", 2.0), ("-2", "-3", 4.0)])
    half = take([("-3", "-2", 3.0)] * 10)
    for one in half["passes"][0]["notes"][7:]:
        one.update(verdict="unclear", cents=None)
    whole = take([("-3", "-2", 3.0)] * 8, title="Whole", tempo=60)
    with open_book(tmp_path / "a.book", new=True) as book:
        book.add("Ada", [KeptTake(each) for each in (short, half, whole)], NOW)
        [sums] = book.sums()
        assert {key.drill: each.good for key, each in sums.sums.drills.items()} == {
            "Home from every rung": 0, "Whole": 1,
        }  # fmt: skip
        assert progress_of(book.played("Ada")).fastest == (("Whole", 58),)  # as it was heard


# --- books of the first form ------------------------------------------------------------------


@pytest.fixture
def old_book(tmp_path: Path) -> Path:
    """A book as the code made it that knew no sums, with three students."""
    return Path(shutil.copy(OLD_BOOK, tmp_path / "old.book"))


def form_of(place: Path) -> int:
    with closing(sqlite3.connect(place)) as plain:
        return int(plain.execute("PRAGMA user_version").fetchone()[0])


def test_a_book_without_sums_gets_those_of_all_its_takes(old_book: Path) -> None:
    assert form_of(old_book) == 1
    found = check_against_sql(old_book)
    assert form_of(old_book) == 2
    assert [(each.name, each.takes) for each in found] == [("Ada", 6), ("Ben", 6), ("Zo\u00eb", 6)]
    with open_book(old_book) as book:
        kept = {each.name: list(book.takes(each.name)) for each in found}
        book.add("Ben", some_takes(4), NOW)
    check_against_sql(old_book)
    with open_book(old_book.with_name("new.book"), new=True) as book:  # as if by today's code
        for name, takes in kept.items():
            book.add(name, takes, NOW)
        assert figures(book.sums()) == figures(found)


KILLED = """
import os, signal, sys
from pathlib import Path
from reedmill.record import kept_sums, open_book
fill = kept_sums.add
def killed(*given):
    fill(*given)
    os.kill(os.getpid(), signal.SIGKILL)
kept_sums.add = killed
open_book(Path(sys.argv[1]))
"""


def test_what_is_killed_while_it_sums_leaves_the_first_form(old_book: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(old_book)], env=environment, check=False
    )
    assert done.returncode == -signal.SIGKILL
    assert form_of(old_book) == 1  # SQLite's journal is played back
    with closing(sqlite3.connect(old_book)) as plain:
        tables = [name for (name,) in plain.execute("SELECT name FROM sqlite_master")]
        assert "rung" not in tables
        assert plain.execute("SELECT COUNT(*) FROM take").fetchone() == (18,)
    check_against_sql(old_book)


def test_two_programs_that_open_an_older_book_at_once_sum_it_once(old_book: Path) -> None:
    code = ("import sys; from pathlib import Path; from reedmill.record import open_book; "
            "open_book(Path(sys.argv[1])).sums()")  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    several = [
        subprocess.Popen([sys.executable, "-c", code, str(old_book)], env=environment)
        for _ in range(4)
    ]
    assert [each.wait() for each in several] == [0] * 4
    check_against_sql(old_book)


def read_only(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(
        f"file:{path}?mode=ro&immutable=1", uri=True, isolation_level=None
    )  # as on a disk that cannot be written, whoever asks


def test_an_older_book_that_may_only_be_read_says_what_to_do(
    old_book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = old_book.read_bytes()
    monkeypatch.setattr(record_book, "_connected", read_only)
    with pytest.raises(InputError) as refused:
        open_book(old_book)
    assert str(refused.value) == (
        f"{old_book}: an older Reedmill made this record book. It has to be brought up to date "
        "before it is read, and it may only be read here. Copy it into a folder of your own and "
        "name the copy."
    )
    assert old_book.read_bytes() == before


def test_a_book_of_today_that_may_only_be_read_is_summed(
    old_book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = figures(check_against_sql(old_book))
    monkeypatch.setattr(record_book, "_connected", read_only)
    with open_book(old_book) as book:
        assert figures(book.sums()) == wanted


def test_a_full_disk_leaves_an_older_book_as_it_was(
    old_book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    connected = record_book._connected

    def full(path: Path) -> sqlite3.Connection:
        found = connected(path)
        pages = found.execute("PRAGMA page_count").fetchone()[0]
        found.execute(f"PRAGMA max_page_count = {pages}")
        return found

    with monkeypatch.context() as patched:
        patched.setattr(record_book, "_connected", full)
        with pytest.raises(RenderError, match="the disk is full"):
            open_book(old_book)
    assert form_of(old_book) == 1
    check_against_sql(old_book)


DAMAGES = [
    "UPDATE try SET verdict = 'splendid'", "UPDATE try SET cents = x'00' WHERE verdict = 'on'",
    "UPDATE take SET played = 'yesterday'", "UPDATE take SET played = x'00'",
]  # fmt: skip
DAMAGED_SUMS = [
    "UPDATE rung SET tab = '<b>'", "UPDATE rung SET came_from = 'x'",
    "UPDATE rung SET register = 'shrill'", "UPDATE rung SET tries = 'many'",
    "UPDATE rung SET weight = 9e999", "UPDATE rung SET weight = 'heavy'",
    "UPDATE rung SET out_sum = -1.0", "UPDATE rung SET last = x'00'",
    "UPDATE drill SET title = x'00'", "UPDATE drill SET harp = x'00'",
    "UPDATE drill SET position = 'second'", "UPDATE take SET played = 'yesterday'",
    "UPDATE student SET name = x'00'",
]  # fmt: skip


@pytest.mark.parametrize("change", DAMAGES)
def test_a_strangers_older_book_with_other_values_is_called_damaged(
    old_book: Path, change: str
) -> None:
    with closing(sqlite3.connect(old_book)) as plain, plain:
        plain.execute(change)
    with pytest.raises(RenderError, match="this record book is damaged"):
        open_book(old_book)
    assert form_of(old_book) == 1


@pytest.mark.parametrize("change", DAMAGED_SUMS)
def test_a_strangers_book_with_other_sums_is_called_damaged(old_book: Path, change: str) -> None:
    with open_book(old_book):
        pass
    with closing(sqlite3.connect(old_book)) as plain, plain:
        plain.execute(change.replace("UPDATE rung", "UPDATE OR REPLACE rung")
                      .replace("UPDATE drill", "UPDATE OR REPLACE drill"))  # fmt: skip
    with open_book(old_book) as book, pytest.raises(RenderError, match="damaged"):
        book.sums()


def test_the_second_form_is_the_tables_of_the_sums() -> None:
    assert record_book.FORMS[1] == kept_sums.TABLES
