"""The record book: one SQLite file with the takes of one or many students.

Whatever is reported as stored is on the disk: each import is one transaction, which a killed
process or a full disk leaves undone as a whole, and SQLite's own journal undoes it.  Two programs
may write at once; one waits.  A book holds names and progress of people, so it is readable by
its owner alone, and what is forgotten is overwritten and gone from the file.
"""

from __future__ import annotations

import json
import os
import sqlite3
import unicodedata
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from reedmill.base.errors import InputError, ReedmillError, RenderError, reason_of
from reedmill.base.reading import open_plain, shown_name, unreadable
from reedmill.base.text import ForeignText, printable
from reedmill.base.writing import save
from reedmill.record import kept_sums
from reedmill.record.kept_take import MOST_BYTES, KeptTake, StudentTakes
from reedmill.record.kept_take import PlayedTake as PlayedTake
from reedmill.record.rung_sums import StudentSums, SummedDrill, Sums


class AnothersTakeError(InputError):
    """A take that is to be kept, and is in the book already as another student's."""


class _UnwritableError(InputError):
    """A book that may only be read, or in whose folder nothing may be written."""


APPLICATION_ID = 0x52454544
"""By which SQLite's header tells a record book from other programs' files."""

_SQLITE = b"SQLite format 3\0"
_WAIT_S = 30.0  # for another program that writes
_LONGEST_NAME = 80
_MOMENT = "%Y-%m-%dT%H:%M:%SZ"
_DAY = len("2027-01-31")

_FIRST_FORM = (
    """CREATE TABLE student (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        alike TEXT NOT NULL UNIQUE
    )""",
    """CREATE TABLE take (
        id INTEGER PRIMARY KEY,
        student INTEGER NOT NULL REFERENCES student ON DELETE CASCADE,
        digest TEXT NOT NULL UNIQUE,
        played TEXT NOT NULL,
        drill TEXT NOT NULL,
        harp TEXT NOT NULL,
        register TEXT NOT NULL,
        position INTEGER NOT NULL,
        tempo INTEGER NOT NULL,
        tempo_heard REAL,
        notes INTEGER NOT NULL,
        data BLOB NOT NULL
    )""",
    "CREATE INDEX take_of_student ON take (student, played, notes)",
    """CREATE TABLE try (
        take INTEGER NOT NULL REFERENCES take ON DELETE CASCADE,
        tab TEXT NOT NULL,
        came_from TEXT,
        cents REAL,
        verdict TEXT NOT NULL
    )""",
    "CREATE INDEX try_of_take ON try (take)",
)
FORMS: list[tuple[str, ...]] = [_FIRST_FORM, kept_sums.TABLES]
"""What leads from each form of a book to the next; a book without tables has form 0."""

_SUMMED = 2  # the form from which on a book keeps sums


@dataclass(frozen=True, slots=True)
class Added:
    """The takes of a student that an import brought: new ones, and ones that were there already."""

    student: ForeignText  # as the book writes the name
    new: int
    known: int


@dataclass(frozen=True, slots=True)
class StudentRow:
    """A student of a book, and how much is kept of him."""

    name: ForeignText
    takes: int
    tries: int
    first: str | None  # ISO 8601, in UTC
    last: str | None


def usual_place() -> Path:
    """Return where a book is kept where none is named: in the folder the system has for data."""
    from platformdirs import user_data_path  # only where no book is named

    return user_data_path("reedmill", appauthor=False) / "record.book"


class RecordBook:
    """An open record book, which a ``with`` statement closes.

    Every method raises ``InputError`` for what a person can put right, ``RenderError`` where the
    machine fails: a full disk, a damaged file.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection
        try:
            self._file = path.stat()
        except OSError as error:
            raise unreadable(path, error) from None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._connection.close()

    # --- writing ---------------------------------------------------------------------------

    def add(self, student: str, takes: Iterable[KeptTake], now: datetime) -> Added:
        """Keep *takes* of *student*, each once; one without a moment of its own is of *now*.

        All of them are stored when this returns, or none.  ``InputError`` for a take that is
        another student's already.
        """
        [added] = self.add_all([StudentTakes(student, tuple(takes))], now)
        return added

    def add_all(self, several: Iterable[StudentTakes], now: datetime) -> list[Added]:
        """Keep the takes of several students as ``add`` does: those of all of them, or none."""
        named = [(student_name(each.student), each.takes) for each in several]
        with self._writing() as cursor:
            return [self._add(cursor, name, takes, now) for name, takes in named]

    def forget(self, student: str) -> StudentRow:
        """Remove *student* with all takes, and everything of them from the file; tell what it was.

        ``InputError`` where there is no such student.
        """
        row = self.student(student)
        with self._writing() as cursor:
            cursor.execute("DELETE FROM student WHERE alike = ?", (alike_name(row.name),))
        with suppress(sqlite3.Error):  # all is overwritten by now: this gives the room back
            self._connection.execute("VACUUM")
        return row

    # --- reading ---------------------------------------------------------------------------

    def students(self) -> list[StudentRow]:
        """Return every student, by name."""
        with _in_words(self.path):
            rows = self._connection.execute(
                """SELECT name, COUNT(take.id), MIN(played), MAX(played), COALESCE(SUM(notes), 0)
                   FROM student LEFT JOIN take ON take.student = student.id
                   GROUP BY student.id ORDER BY alike"""
            ).fetchall()
        kinds = (str, int, str | None, str | None, int)
        if not all(isinstance(each, kind) for row in rows
                   for each, kind in zip(row, kinds, strict=True)):  # fmt: skip
            raise _damaged(shown_name(self.path))
        return [
            StudentRow(printable(name), takes, tries, first, last)
            for name, takes, first, last, tries in rows
        ]

    def student(self, name: str) -> StudentRow:
        """Return the student of that *name*; ``InputError`` with those there are for another."""
        alike, there = alike_name(student_name(name)), self.students()
        for row in there:
            if alike_name(row.name) == alike:
                return row
        listed = ", ".join(f'"{row.name}"' for row in there[:10]) or "nobody yet"
        raise InputError(
            f'the record book has no student "{printable(name):.80}". It has {listed}.'
        )

    def takes(self, student: str) -> Iterator[KeptTake]:
        """Yield the takes of *student*, the oldest first."""
        return (each.take for each in self.played(student))

    def played(self, student: str) -> Iterator[PlayedTake]:
        """Yield the takes of *student* with their moments, the oldest first."""
        with _in_words(self.path):
            rows = self._connection.execute(
                """SELECT played, data FROM take JOIN student ON take.student = student.id
                   WHERE alike = ? ORDER BY played, take.id""",
                (alike_name(student_name(student)),),
            )
            for played, packed in rows:
                yield PlayedTake(played, _unpacked(packed, self.path))

    def sums(self) -> list[StudentSums]:
        """Return every student with the sums of all takes, by name."""
        with _in_words(self.path), _whole_rows(self.path):
            return kept_sums.read(self._connection)

    # --- inside ------------------------------------------------------------------------------

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Cursor]:
        cursor = self._connection.cursor()
        with _in_words(self.path):
            cursor.execute("BEGIN IMMEDIATE")
            try:
                self._check_there()
                yield cursor
            except BaseException:
                self._connection.rollback()
                raise
            self._connection.commit()

    def _check_there(self) -> None:
        """Refuse to write into a file that has no name any more: what is kept there is lost."""
        with suppress(OSError):
            if os.path.samestat(self.path.stat(), self._file):
                return
        raise RenderError(
            f"{shown_name(self.path)}: this record book was moved or removed meanwhile, and "
            "nothing of this was stored. Add it again."
        )

    def _add(
        self, cursor: sqlite3.Cursor, name: str, takes: Iterable[KeptTake], now: datetime
    ) -> Added:
        of, kept_name = self._student(cursor, name)
        new = known = 0
        sums = Sums()
        for take in takes:
            if self._is_there(cursor, take, of):
                known += 1
            else:
                day = _insert(cursor, of, take, now)[:_DAY]
                drill = SummedDrill(take.title, take.harp.name, take.position)
                sums.add(drill, take.register, day, take.tries)
                new += 1
        kept_sums.add(cursor, of, sums)
        if not new and not known:
            cursor.execute(
                "DELETE FROM student WHERE id = ? AND id NOT IN (SELECT student FROM take)", (of,)
            )
        return Added(kept_name, new, known)

    def _student(self, cursor: sqlite3.Cursor, name: str) -> tuple[int, ForeignText]:
        alike = alike_name(name)
        cursor.execute("INSERT OR IGNORE INTO student (name, alike) VALUES (?, ?)", (name, alike))
        found = cursor.execute("SELECT id, name FROM student WHERE alike = ?", (alike,)).fetchone()
        return int(found[0]), printable(str(found[1]))

    def _is_there(self, cursor: sqlite3.Cursor, take: KeptTake, of: int) -> bool:
        found = cursor.execute(
            "SELECT student, name FROM take JOIN student ON student.id = student "
            "WHERE digest = ?", (take.digest,)
        ).fetchone()  # fmt: skip
        if found is not None and found[0] != of:
            raise AnothersTakeError(
                f'a take of "{take.title}" is in the record book already, as '
                f"{printable(str(found[1]))}'s. A take belongs to one student."
            )
        return found is not None


def open_book(path: Path, *, new: bool = False) -> RecordBook:
    """Open the record book at *path*; where *new*, make one if there is none.

    Raises ``InputError`` for a file that is not a book, or one of a newer Reedmill.
    """
    path = path.absolute()  # some names without a folder are orders to SQLite
    there = is_book(path)
    if not there and not new:
        raise InputError(f"{shown_name(path)}: there is no record book yet. Add takes to it first.")
    made = not there and _create(path)
    try:
        return _opened(path)
    except BaseException:
        if made:
            _remove_empty(path)
        raise


def is_book(path: Path) -> bool:
    """Tell whether there is a record book at *path*; ``InputError`` for any other file."""
    try:
        with open_plain(path) as file:
            head = file.read(len(_SQLITE))
    except FileNotFoundError:
        return False
    except OSError as error:
        raise unreadable(path, error) from None
    if head not in (_SQLITE, b""):
        raise InputError(
            f"{shown_name(path)}: this is not a record book. Name another file for it."
        )
    return True


def _create(path: Path) -> bool:
    """Make an empty file that only its owner may read; tell whether it was not there."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        save(path, b"", mode=0o600)
    except FileExistsError:
        return False  # another program was faster
    except OSError as error:
        raise InputError(
            f"{shown_name(path)}: a record book cannot be made here ({reason_of(error)}). Name a "
            "file in a folder of your own."
        ) from None
    return True


def _remove_empty(path: Path) -> None:
    """Remove the file at *path*, where nothing has been written into it."""
    with suppress(OSError):
        if path.stat().st_size == 0:
            path.unlink()


def _opened(path: Path) -> RecordBook:
    connection = _connected(path)
    try:
        book = RecordBook(path, connection)
        _bring_up(book)
    except BaseException:
        connection.close()
        raise
    return book


def _connected(path: Path) -> sqlite3.Connection:
    with _in_words(path):
        # A name is not an address: what stands in it after a "?" would be an order to SQLite.
        found = sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None)
        try:
            for setting in (
                "foreign_keys = ON",
                "trusted_schema = OFF",  # a stranger's file runs nothing of its own
                "secure_delete = ON",  # what is forgotten is overwritten
                "synchronous = FULL",
            ):
                found.execute(f"PRAGMA {setting}")
        except BaseException:
            found.close()
            raise
        return found


def _bring_up(book: RecordBook) -> None:
    """Bring a book of an older form to the newest, and refuse any other file."""
    connection = book._connection
    with _in_words(book.path):
        connection.execute("BEGIN")  # all of one moment: another program may be bringing it up
        try:
            form = _value(connection, "user_version")
            ours = _value(connection, "application_id")
            there = _tables(connection)
        finally:
            connection.rollback()
    if form > len(FORMS) and ours == APPLICATION_ID:
        raise InputError(
            f"{shown_name(book.path)}: this record book was written by a newer Reedmill (form "
            f"{form}, and this one knows {len(FORMS)}). Take the newest Reedmill."
        )
    if there and not (ours == APPLICATION_ID and there == _tables_of(form)):
        raise InputError(
            f"{shown_name(book.path)}: this is a file of another program, or it was changed by "
            "one. Name another file for the record book."
        )
    if form == len(FORMS):
        return
    if not there:
        with suppress(OSError):
            book.path.chmod(0o600)  # a file that somebody made and left empty, too
    try:
        _step_up(book)
    except _UnwritableError:
        if not form:
            raise
        raise InputError(
            f"{shown_name(book.path)}: an older Reedmill made this record book. It has to be "
            "brought up to date before it is read, and it may only be read here. Copy it into a "
            "folder of your own and name the copy."
        ) from None


def _step_up(book: RecordBook) -> None:
    connection = book._connection
    with book._writing() as cursor:
        form = _value(connection, "user_version")  # another program may have been faster
        for statement in (each for step in FORMS[form:] for each in step):
            cursor.execute(statement)
        if 0 < form < _SUMMED:
            with _whole_rows(book.path):
                kept_sums.fill(cursor)
        cursor.execute(f"PRAGMA user_version = {len(FORMS)}")
        cursor.execute(f"PRAGMA application_id = {APPLICATION_ID}")


@contextmanager
def _whole_rows(path: Path) -> Iterator[None]:
    """Call a book damaged in whose rows there is what no Reedmill writes."""
    try:
        yield
    except (ValueError, TypeError):
        raise _damaged(shown_name(path)) from None


def _value(connection: sqlite3.Connection, pragma: str) -> int:
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])


def _tables(connection: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Return everything that the schema of a book holds, as it is written."""
    return connection.execute("SELECT type, name, sql FROM sqlite_master ORDER BY name").fetchall()


def _tables_of(form: int) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(":memory:")) as plain:
        for statement in (each for step in FORMS[:form] for each in step):
            plain.execute(statement)
        return _tables(plain)


def student_name(student: str) -> str:
    """Return the name *student* as a book writes it; ``InputError`` for none or a very long one.

    >>> student_name("  Ada   Q. ")
    'Ada Q.'
    """
    name = " ".join(printable(student).split())
    if not name:
        raise InputError("a student needs a name. Write for example: Ada")
    if len(name) > _LONGEST_NAME:
        raise InputError(
            f'the name "{name:.20}..." has {len(name)} letters; {_LONGEST_NAME} is the most.'
        )
    return name


def alike_name(name: str) -> str:
    """Return *name* in the form in which any case and any way of typing it are the same.

    Accents stay (Zoë is not Zoe), and so do signs: two students are never taken for one.

    >>> alike_name("ADA") == alike_name("Ada"), alike_name("Zoë") == alike_name("Zoe")
    (True, False)
    """
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def _insert(cursor: sqlite3.Cursor, of: int, take: KeptTake, now: datetime) -> str:
    """Write *take* into the book; return the moment at which it was played."""
    # no clock runs ahead of today
    played = min(take.recorded or now, now).astimezone(UTC).strftime(_MOMENT)
    cursor.execute(
        "INSERT INTO take (student, digest, played, drill, harp, register, position, tempo, "
        "tempo_heard, notes, data) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (of, take.digest, played, take.title, take.harp.name, take.register,
         take.position, take.data["tempo"], take.data["tempo_heard"],
         len(take.tries), _packed(take)),
    )  # fmt: skip
    number = cursor.lastrowid
    cursor.executemany(
        "INSERT INTO try VALUES (?, ?, ?, ?, ?)",
        [(number, each.tab, each.came_from, each.cents, each.verdict.value)
         for each in take.tries],
    )  # fmt: skip
    return played


def _packed(take: KeptTake) -> bytes:
    return zlib.compress(take.text.encode(), 6)


def _unpacked(packed: bytes, path: Path) -> KeptTake:
    """Return a take as it was kept; a book that came from elsewhere may hold anything."""
    try:
        text = zlib.decompressobj().decompress(packed, MOST_BYTES)
        return KeptTake(json.loads(text))
    except (zlib.error, ValueError, TypeError, LookupError, RecursionError, InputError):
        raise _damaged(shown_name(path)) from None


def _damaged(name: str) -> RenderError:
    return RenderError(f"{name}: this record book is damaged. Take a copy of it that is whole.")


_REASONS: dict[int, Callable[[str], ReedmillError]] = {
    sqlite3.SQLITE_FULL: lambda name: RenderError(
        f"{name}: the disk is full, and nothing of this was stored. Make room, then add it again."
    ),
    sqlite3.SQLITE_READONLY: lambda name: _UnwritableError(
        f"{name}: this record book may only be read here. Give yourself permission to write it "
        "and its folder, or copy it into a folder of your own."
    ),
    sqlite3.SQLITE_BUSY: lambda name: InputError(
        f"{name}: another program has been writing into this record book for {_WAIT_S:.0f} "
        "seconds. Wait until it is done, then try again."
    ),
    sqlite3.SQLITE_CANTOPEN: lambda name: _UnwritableError(
        f"{name}: this record book cannot be opened. Check that you may write its folder."
    ),
    sqlite3.SQLITE_NOTADB: lambda name: InputError(
        f"{name}: this is not a record book. Name another file for it."
    ),
    sqlite3.SQLITE_CORRUPT: _damaged,
}


@contextmanager
def _in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite says into a sentence for whoever keeps the book."""
    try:
        yield
    except UnicodeError:  # bytes that are not letters, in the file or in what is said of it
        raise _damaged(shown_name(path)) from None
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the rest tells it more finely
        said = _REASONS.get(code)
        name = shown_name(path)
        if said is not None:
            raise said(name) from None
        if "decode" in str(error):  # in a column
            raise _damaged(name) from None
        raise RenderError(
            f"{name}: the record book could not be used ({printable(str(error))})."
        ) from None
