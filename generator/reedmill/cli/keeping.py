"""The command that keeps takes in a record book; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import counted
from reedmill.cli.ending import say_error
from reedmill.cli.meant import shell_quoted
from reedmill.cli.options import Lenient, OneOf, json_option, options, replace_option
from reedmill.cli.saying import say, say_json

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from reedmill.base.errors import InputError
    from reedmill.record import Added, RecordBook, StudentRow, StudentTakes

ACTIONS = ("add", "list", "export", "forget", "demo")

_FILES_AT_ONCE, _TAKES_AT_ONCE = 25, 500

book_option = click.option(
    "--book", metavar="FILE",
    help="The record book.  [default: record.book in the folder your system has for data]",
)  # fmt: skip
student_option = click.option("--student", metavar="NAME", help="Whose takes they are.")
keeping_options = options(
    click.option(
        "--student", metavar="NAME",
        help="Keep what is heard in the record book, for this student.",
    ),
    click.option(
        "--book", metavar="FILE",
        help="Keep what is heard in this record book.  [default with --student: record.book in "
        "the folder your system has for data]",
    ),
)  # fmt: skip


@click.command("record", cls=Lenient, short_help="Keep takes in a record book.")
@click.argument("action", metavar="|".join(ACTIONS), type=OneOf("action", *ACTIONS))
@click.argument("names", nargs=-1, metavar="[FILE|NAME]...")
@options(student_option, book_option)
@click.option(
    "--out", metavar="FILE",
    help="With export: the file to write, .json or .csv.  [default: JSON on the screen]",
)  # fmt: skip
@options(replace_option, json_option)
def record_command(
    action: str, names: tuple[str, ...], student: str | None, book: str | None, out: str | None,
    replace: bool, as_json: bool,
) -> None:  # fmt: skip
    """Keep takes in a record book: one file on your machine, for one student or many.

    \b
    reedmill record add takes.json --student Ada
    reedmill record add exported --student Ada --book class.book
    reedmill record list
    reedmill record export --out everything.csv
    reedmill record forget Ada
    reedmill record demo --book demo.book

    What can be added: the data that reedmill hear --json prints, what a practice page saves or
    exports, the export of another book, and folders of these.  Every take is kept once, however
    often it is added.  Nothing leaves this machine.

    The book has names of people and how they play.  Only you may read the file; who may use your
    account, or gets a copy, reads all of it.  To forget a student removes every take of theirs
    from the file for good, and from no copy of it.

    demo makes a new book of invented players, with eight weeks of simulated takes, to look
    around in.
    """
    action = action.lower()
    if action == "demo":  # first: it never has to do with the usual book
        _check_demo(names, student, book, out)
    place = book_place(book)
    if out is not None and action != "export":
        raise _misplaced(f"--out is where record export writes. Leave it out of record {action}.")
    match action:
        case "add":
            _add(names, student, place, as_json=as_json)
        case "list":
            _nothing_named([*names, *([] if student is None else [student])], "list")
            _list(place, as_json=as_json)
        case "export":
            _nothing_named(names, "export")
            _export(place, student, out, replace=replace, as_json=as_json)
        case "demo":
            _demo(place, as_json=as_json)
        case _:
            _forget(names, student, place, as_json=as_json)


def _misplaced(sentence: str) -> InputError:
    from reedmill.base.errors import InputError

    return InputError(sentence)


def book_place(book: str | None) -> Path:
    """Return where the record book is that was named, or the usual one."""
    from pathlib import Path

    from reedmill.record import usual_place

    return usual_place() if book is None else Path(book)


def _nothing_named(names: Sequence[str], action: str) -> None:
    if names:
        one = " One student's takes: --student Ada" if action == "export" else ""
        raise _misplaced(f"record {action} is about the whole book. Leave out every name.{one}")


# --- adding ---------------------------------------------------------------------------------


class TakeKeeper:
    """The record book of one command, into which takes are put as they come.

    A book that is there is opened at once, so that what is wrong is said before anything is read
    or heard.  One that is not is made when the first take goes in: no empty book is left behind.
    """

    def __init__(self, place: Path, student: str | None) -> None:
        from reedmill.record import is_book, open_book, student_name

        self.place = place
        self.student = None if student is None else student_name(student)
        self._book: RecordBook | None = open_book(place) if is_book(place) else None

    def close(self) -> None:
        """Close the book."""
        if self._book is not None:
            self._book.__exit__()

    def whose(self) -> str | None:
        """Return whose takes they are where nothing else says it: as asked, or the only student."""
        if self.student is not None or self._book is None:
            return self.student
        there = self._book.students()
        return there[0].name if len(there) == 1 else None

    def check_whose(self) -> None:
        """Raise ``InputError`` where nobody says whose the takes are that come."""
        if self.whose() is None:
            there = self._book.students() if self._book is not None else []
            raise _misplaced(
                f"{self.place}: say whose takes these are, because this record book has "
                f"{counted(len(there), 'student')}. Write for example: --student Ada"
            )

    def add_heard(self, data: dict[str, object]) -> Added:
        """Keep the take that has just been heard as *data*."""
        from reedmill.record import KeptTake, StudentTakes

        [added] = self.add([StudentTakes(self.whose() or "", (KeptTake(data),))])
        return added

    def add(self, several: Sequence[StudentTakes]) -> list[Added]:
        """Keep the takes of *several* students, or none of them."""
        from datetime import UTC, datetime

        from reedmill.record import open_book

        if self._book is None:
            self._book = open_book(self.place, new=True)
        return self._book.add_all(several, datetime.now(UTC))


def _add(names: Sequence[str], student: str | None, place: Path, *, as_json: bool) -> None:
    """Add every file; name one that cannot be added, and go on with the others."""
    from reedmill.base.errors import ReedmillError

    files = list(_files(names))
    keeper = TakeKeeper(place, student)
    adding = _Adding(keeper, alone=len(files) == 1, as_json=as_json)
    try:
        adding.all(files)
    except ReedmillError as error:  # the book itself: the next file would fare no better
        if len(files) == 1:
            raise
        adding.failed = say_error(error)
    finally:
        keeper.close()
    if as_json:
        say_json({"book": str(place), "files": adding.rows})
    if adding.failed:
        raise SystemExit(adding.failed)


class _Adding:
    """The files of one command, stored some at a time: a disk takes as long for one as for many.

    What is stored is said at once, and nothing before it is.
    """

    def __init__(self, keeper: TakeKeeper, *, alone: bool, as_json: bool) -> None:
        self.keeper, self.alone, self.as_json = keeper, alone, as_json
        self.rows: list[dict[str, object]] = []
        self.failed = 0
        self._waiting: list[tuple[Path, list[StudentTakes]]] = []

    def all(self, files: Sequence[Path]) -> None:
        """Add *files* in their order."""
        for file in files:
            self._trying(partial(self._read, file))
            takes = sum(len(each.takes) for _, several in self._waiting for each in several)
            if len(self._waiting) >= _FILES_AT_ONCE or takes >= _TAKES_AT_ONCE:
                self._store()
        self._store()

    def _trying(self, what: Callable[[], None]) -> None:
        """Do *what*; say what is wrong with a file, and go on with the next."""
        from reedmill.record import FileRefusedError

        try:
            what()
        except FileRefusedError as error:
            if self.alone:
                raise
            self.failed = say_error(error)

    def _read(self, file: Path) -> None:
        found = _read_takes(self.keeper, file, self._store)
        self._waiting.append((file, found))

    def _store(self) -> None:
        """Store all files that wait, or where one of them cannot be, the others one by one."""
        from reedmill.record import AnothersTakeError

        waiting, self._waiting = self._waiting, []
        with suppress(AnothersTakeError):
            self._keep(waiting)
            return
        for each in waiting:
            self._trying(partial(self._keep_alone, *each))

    def _keep_alone(self, file: Path, found: list[StudentTakes]) -> None:
        from reedmill.base.reading import shown_name
        from reedmill.record import AnothersTakeError, FileRefusedError

        try:
            self._keep([(file, found)])
        except AnothersTakeError as error:
            raise FileRefusedError(f"{shown_name(file)}: {error}") from None

    def _keep(self, several: Sequence[tuple[Path, list[StudentTakes]]]) -> None:
        if not several:
            return
        added = iter(self.keeper.add([each for _, found in several for each in found]))
        for file, found in several:
            for _ in found:
                each = next(added)
                row = {"file": str(file), "student": each.student, "new": each.new,
                       "known": each.known}  # fmt: skip
                self.rows.append(row)
                if not self.as_json:
                    say(_sentence(row))


def _files(names: Sequence[str]) -> Iterator[Path]:
    import os
    from pathlib import Path

    if not names:
        raise _misplaced("name the files to add. Write for example: reedmill record add takes.json")
    for name in names:
        if os.path.isdir(name):  # noqa: PTH112  no error for odd names
            yield from _inside(Path(name))
        else:
            yield Path(name)


def _inside(folder: Path) -> list[Path]:
    from reedmill.base.errors import InputError
    from reedmill.base.reading import shown_name, unreadable

    try:
        found = sorted(each for each in folder.iterdir() if each.suffix.lower() == ".json")
    except OSError as error:
        raise unreadable(folder, error) from None
    if not found:
        raise InputError(f"{shown_name(folder)}: there is no .json file in this folder.")
    return found


def _read_takes(keeper: TakeKeeper, file: Path, store: Callable[[], None]) -> list[StudentTakes]:
    """Return the takes in *file* by student; *store* what waits where that says whose they are."""
    from reedmill.base.reading import shown_name
    from reedmill.record import FileRefusedError, StudentTakes, read_take_data

    several = read_take_data(file)
    if keeper.student is not None and any(each.student for each in several):
        raise FileRefusedError(
            f"{shown_name(file)}: this file says itself whose takes they are. Leave out --student."
        )
    if keeper.student is None and not all(each.student for each in several):
        store()
    named = [StudentTakes(each.student or keeper.whose() or "", each.takes) for each in several]
    if not all(each.student for each in named):
        raise FileRefusedError(
            f"{shown_name(file)}: this file does not say whose takes they are. Write for example: "
            "--student Ada"
        )
    return named


def _sentence(row: dict[str, object]) -> str:
    new, known = int(str(row["new"])), int(str(row["known"]))
    there = f", {known} {'was' if known == 1 else 'were'} there already" if known else ""
    return f"{row['file']}: {counted(new, 'take')} of {row['student']} kept{there}"


# --- the rest -------------------------------------------------------------------------------


def _list(place: Path, *, as_json: bool) -> None:
    from reedmill.cli.picture import text_columns
    from reedmill.record import open_book

    with open_book(place) as book:
        rows = book.students()
    if as_json:
        _say_students(place, rows)
        return
    say(f"{place}: {counted(len(rows), 'student')}")
    if rows:
        heads = ("student", "takes", "notes", "first", "last")
        cells = [(row.name, str(row.takes), str(row.tries), _day(row.first), _day(row.last))
                 for row in rows]  # fmt: skip
        say(*text_columns(heads, cells).split("\n"))


def _say_students(place: Path, rows: Sequence[StudentRow]) -> None:
    say_json({"book": str(place), "students": [
        {"name": row.name, "takes": row.takes, "notes": row.tries, "first": row.first,
         "last": row.last} for row in rows
    ]})  # fmt: skip


def _day(moment: str | None) -> str:
    return moment[:10] if moment else "-"


def _export(
    place: Path, student: str | None, out: str | None, *, replace: bool, as_json: bool
) -> None:
    from reedmill.base.errors import InputError
    from reedmill.base.writing import save_pieces, write_files
    from reedmill.record import book_csv, book_data, book_json, open_book

    if out is not None and as_json:
        raise InputError("--json prints the book, and --out writes it. Leave out one of them.")
    path = None if out is None else _export_place(out, replace=replace)
    with open_book(place) as book:
        rows = book.students() if student is None else [book.student(student)]
        if path is None:
            say_json(book_data(book, rows))
            return
        pieces = (book_csv if path.suffix.lower() == ".csv" else book_json)(book, rows)
        write_files([(path, lambda part: save_pieces(part, pieces, mode=0o600))])
    say(str(path))


def _export_place(out: str, *, replace: bool) -> Path:
    import os
    from pathlib import Path

    from reedmill.base.errors import InputError

    path = Path(out)
    if path.suffix.lower() not in (".json", ".csv"):
        raise InputError(f"{out}: an export is .json or .csv. Name the file so.")
    if os.path.exists(out) and not replace:  # noqa: PTH110  no error for odd names
        raise InputError(f"{out}: this file is there already. Add --replace, or name another.")
    return path


def _forget(names: Sequence[str], student: str | None, place: Path, *, as_json: bool) -> None:
    from reedmill.base.errors import InputError
    from reedmill.record import open_book

    asked = [*names, *([] if student is None else [student])]
    if len(asked) != 1:
        raise InputError(
            'name the one student to forget. Write for example: reedmill record forget "Ada"'
        )
    with open_book(place) as book:
        row = book.forget(asked[0])
    if as_json:
        say_json({"student": row.name, "takes": row.takes, "notes": row.tries})
        return
    say(f"forgotten: {row.name}, {counted(row.takes, 'take')} with {counted(row.tries, 'note')}")
    say("Exports, pages and packs made of them are files of their own, and are not touched.")


# --- a book to look around in ---------------------------------------------------------------


def _check_demo(
    names: Sequence[str], student: str | None, book: str | None, out: str | None
) -> None:
    """Refuse a simulation that is to go into a book which may be somebody's."""
    import os

    from reedmill.base.errors import InputError

    if book is None:
        raise InputError(
            "record demo makes a record book of invented players, and never uses your own. Name a "
            "new file for it: reedmill record demo --book demo.book"
        )
    if os.path.lexists(book):
        raise InputError(
            f"{book}: this file is there already, and invented players are never added to a book. "
            "Name a new file."
        )
    if names or student is not None or out is not None:
        raise InputError(
            "record demo invents its players itself, and takes nothing but the name of the book. "
            "Write: reedmill record demo --book demo.book"
        )


def _demo(place: Path, *, as_json: bool) -> None:
    from datetime import UTC, datetime

    from reedmill.record import is_book
    from reedmill.record.demo_book import make_demo_book

    is_book(place)  # a place that no file can have is refused before takes are made up
    rows = make_demo_book(place, datetime.now(UTC))
    if as_json:
        _say_students(place, rows)
        return
    takes = sum(row.takes for row in rows)
    say(f"{place}: {counted(len(rows), 'invented player')}, {counted(takes, 'simulated take')}")
    for row in rows:
        say(f"  {row.name}")
    say(f'Look at one: reedmill progress "{rows[0].name}" --book {shell_quoted(str(place))}')
