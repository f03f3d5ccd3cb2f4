"""The sums of a record book as tables of its file, kept with every take that is added.

``TABLES`` is the second form of a book.  What is added goes into the sums in the transaction that
adds it, and a student who is forgotten takes them along.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import groupby
from operator import itemgetter

from reedmill.base.text import printable
from reedmill.harp import Reed
from reedmill.harp.harp_registers import REGISTERS
from reedmill.record.kept_take import Try
from reedmill.record.rung_sums import DrillSum, LearnedRung, RungSum, StudentSums, SummedDrill, Sums
from reedmill.score.verdicts import Verdict

TABLES = (
    """CREATE TABLE rung (
        student INTEGER NOT NULL REFERENCES student ON DELETE CASCADE,
        tab TEXT NOT NULL,
        came_from TEXT NOT NULL,
        register TEXT NOT NULL,
        tries INTEGER NOT NULL,
        in_place INTEGER NOT NULL,
        weight REAL NOT NULL,
        out_sum REAL NOT NULL,
        last TEXT NOT NULL,
        PRIMARY KEY (student, tab, came_from, register)
    ) WITHOUT ROWID""",
    """CREATE TABLE drill (
        student INTEGER NOT NULL REFERENCES student ON DELETE CASCADE,
        title TEXT NOT NULL,
        harp TEXT NOT NULL,
        position INTEGER NOT NULL,
        takes INTEGER NOT NULL,
        good INTEGER NOT NULL,
        last TEXT NOT NULL,
        PRIMARY KEY (student, title, harp, position)
    ) WITHOUT ROWID""",
)
"""An empty ``came_from`` is a start: no two rows of a key that has NULL would be the same."""

_ADD_RUNG = """
    INSERT INTO rung VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (student, tab, came_from, register) DO UPDATE SET
        tries = tries + excluded.tries, in_place = in_place + excluded.in_place,
        weight = weight + excluded.weight, out_sum = out_sum + excluded.out_sum,
        last = MAX(last, excluded.last)"""
_ADD_DRILL = """
    INSERT INTO drill VALUES (?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (student, title, harp, position) DO UPDATE SET
        takes = takes + excluded.takes, good = good + excluded.good,
        last = MAX(last, excluded.last)"""
_ALL_TRIES = """
    SELECT take.id, student, substr(played, 1, 10), register, drill, harp, position,
           tab, came_from, cents, verdict
    FROM take LEFT JOIN try ON try.take = take.id ORDER BY take.id"""
_STRANGE = """
    SELECT EXISTS (
        SELECT 1 FROM rung WHERE typeof(tab) <> 'text' OR typeof(came_from) <> 'text'
        OR typeof(register) <> 'text' OR typeof(tries) <> 'integer'
        OR typeof(in_place) <> 'integer' OR typeof(weight) <> 'real' OR typeof(out_sum) <> 'real'
        OR typeof(last) <> 'text' OR NOT (weight >= 0 AND weight < 9e999)
        OR NOT (out_sum >= 0 AND out_sum < 9e999)
    ) OR EXISTS (
        SELECT 1 FROM drill WHERE typeof(title) <> 'text' OR typeof(harp) <> 'text'
        OR typeof(position) <> 'integer' OR typeof(takes) <> 'integer'
        OR typeof(good) <> 'integer' OR typeof(last) <> 'text'
    )"""
"""Whether there is a value that no Reedmill writes; SQLite finds it in a tenth of our time."""

_STUDENTS = """
    SELECT student.id, name, COUNT(take.id), COUNT(DISTINCT substr(played, 1, 10)),
           substr(MAX(played), 1, 10)
    FROM student LEFT JOIN take ON take.student = student.id GROUP BY student.id ORDER BY alike"""


def add(cursor: sqlite3.Cursor, student: int, sums: Sums) -> None:
    """Add *sums* of takes to those that the book has of *student*."""
    cursor.executemany(_ADD_RUNG, (
        (student, key.tab, key.came_from or "", key.register, each.tries, each.in_place,
         each.weight, each.out_sum, each.last) for key, each in sums.rungs.items()
    ))  # fmt: skip
    cursor.executemany(_ADD_DRILL, (
        (student, *key, each.takes, each.good, each.last) for key, each in sums.drills.items()
    ))  # fmt: skip


def fill(cursor: sqlite3.Cursor) -> None:
    """Sum up every take of a book that has kept no sums so far.

    ``ValueError`` or ``TypeError`` for a row that no Reedmill writes.
    """
    found: dict[int, Sums] = defaultdict(Sums)
    rows = cursor.connection.execute(_ALL_TRIES)
    for (_, student, day, register, *drill), tries in groupby(rows, key=itemgetter(*range(7))):
        found[student].add(
            SummedDrill(printable(drill[0]), drill[1], drill[2]), register, day,
            [Try(tab, came_from, cents, Verdict(verdict))
             for *_, tab, came_from, cents, verdict in tries if verdict is not None],
        )  # fmt: skip
    for student, sums in found.items():
        add(cursor, student, sums)


def read(connection: sqlite3.Connection) -> list[StudentSums]:
    """Return every student with the sums of all takes, by name.

    ``ValueError`` or ``TypeError`` for a row that no Reedmill writes.
    """
    [(strange,)] = connection.execute(_STRANGE)
    if strange:
        raise TypeError("a value of another kind")
    sums: dict[int, Sums] = defaultdict(Sums)
    for student, tab, came_from, register, *row in connection.execute("SELECT * FROM rung"):
        sums[student].rungs[LearnedRung(tab, came_from or None, register)] = RungSum(*row)
    for student, title, harp, position, *row in connection.execute("SELECT * FROM drill"):
        key = SummedDrill(printable(title), harp, position)
        sums[student].drills[key] = DrillSum(*row)
    _check_places({place for each in sums.values() for place in each.rungs})
    return list(_students(connection, sums))


def _students(connection: sqlite3.Connection, sums: dict[int, Sums]) -> Iterator[StudentSums]:
    for number, name, takes, days, last in connection.execute(_STUDENTS):
        if last is not None:
            date.fromisoformat(last)
        yield StudentSums(printable(name), takes, days, last, sums.get(number, Sums()))


def _check_places(places: set[LearnedRung]) -> None:
    for tab in {each.tab for each in places} | {each.came_from or each.tab for each in places}:
        Reed.parse(tab)
    if not {each.register for each in places} <= set(REGISTERS):
        raise ValueError("no register")
