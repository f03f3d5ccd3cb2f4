"""The command that keeps takes in a record book; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import counted
from reedmill.cli.ending import say_error
from reedmill.cli.options import Lenient, json_option, options, replace_option
from reedmill.cli.saying import say, say_json

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from reedmill.record import RecordBook, StudentTakes

ACTIONS = ("add", "list", "export", "forget")

book_option = click.option(
    "--book", metavar="FILE",
    help="The record book.  [default: record.book in the folder your system has for data]",
)  # fmt: skip
student_option = click.option("--student", metavar="NAME", help="Whose takes they are.")


@click.command("record", cls=Lenient, short_help="Keep takes in a record book.")
@click.argument("action", type=click.Choice(ACTIONS, case_sensitive=False))
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
    reedmill record add exported/ --student Ada --book class.book
    reedmill record list
    reedmill record export --out everything.csv
    reedmill record forget Ada

    What can be added: the data that reedmill hear --json prints, what a practice page saves or
    exports, the export of another book, and folders of these.  Every take is kept once, however
    often it is added.  Nothing leaves this machine.

    To forget a student removes every take of theirs from the file for good.
    """
    place = _place(book)
    match action.lower():
        case "add":
            _add(names, student, place, as_json=as_json)
        case "list":
            _nothing_named(names, student, "list")
            _list(place, as_json=as_json)
        case "export":
            _nothing_named(names, student, "export")
            _export(place, out, replace=replace)
        case _:
            _forget(names, student, place, as_json=as_json)


def _place(book: str | None) -> Path:
    from pathlib import Path

    from reedmill.record import usual_place

    return usual_place() if book is None else Path(book)


def _nothing_named(names: Sequence[str], student: str | None, action: str) -> None:
    from reedmill.base.errors import InputError

    if names or student is not None:
        raise InputError(f"record {action} is about the whole book. Leave out every name.")


# --- adding ---------------------------------------------------------------------------------


def _add(names: Sequence[str], student: str | None, place: Path, *, as_json: bool) -> None:
    """Add every file; name one that cannot be added, and go on with the others."""
    from datetime import UTC, datetime

    from reedmill.base.errors import InputError, ReedmillError
    from reedmill.record import open_book

    files = list(_files(names))
    rows: list[dict[str, object]] = []
    failed = 0
    with open_book(place, new=True) as book:
        for file in files:
            try:
                found = _added(book, file, student, datetime.now(UTC))
            except InputError as error:
                failed = max(failed, say_error(error))
                continue
            except ReedmillError as error:  # the book itself: the next file would fare no better
                raise SystemExit(say_error(error)) from None
            rows += found
            if not as_json:
                for row in found:
                    say(_sentence(row))
    if as_json:
        say_json({"book": str(place), "files": rows})
    if failed:
        raise SystemExit(failed)


def _files(names: Sequence[str]) -> Iterator[Path]:
    from pathlib import Path

    from reedmill.base.errors import InputError

    if not names:
        raise InputError("name the files to add. Write for example: reedmill record add takes.json")
    for name in names:
        path = Path(name)
        if not path.is_dir():
            yield path
            continue
        inside = sorted(each for each in path.iterdir() if each.suffix.lower() == ".json")
        if not inside:
            raise InputError(f"{name}: there is no .json file in this folder.")
        yield from inside


def _added(
    book: RecordBook, file: Path, student: str | None, now: object
) -> list[dict[str, object]]:
    from datetime import datetime

    from reedmill.record import read_take_data

    assert isinstance(now, datetime)  # noqa: S101
    rows: list[dict[str, object]] = []
    for each in read_take_data(file):
        name = _whose(each, student, book, file)
        added = book.add(name, each.takes, now)
        rows.append({
            "file": str(file), "student": name, "new": added.new, "known": added.known,
        })  # fmt: skip
    return rows


def _whose(each: StudentTakes, student: str | None, book: RecordBook, file: Path) -> str:
    """Return whose takes they are: as the file says, as was asked, or the only student there is."""
    from reedmill.base.errors import InputError
    from reedmill.base.reading import shown_name

    if each.student:
        if student is not None:
            raise InputError(
                f"{shown_name(file)}: this file says itself whose takes they are. Leave out "
                "--student."
            )
        return each.student
    if student is not None:
        return student
    there = book.students()
    if len(there) == 1:
        return there[0].name
    raise InputError(
        f"{shown_name(file)}: this file does not say whose takes they are. Write for example: "
        "--student Ada"
    )


def _sentence(row: dict[str, object]) -> str:
    new, known = int(str(row["new"])), int(str(row["known"]))
    there = f", {known} {'was' if known == 1 else 'were'} there already" if known else ""
    return f"{row['file']}: {counted(new, 'take')} of {row['student']} kept{there}"


# --- the rest -------------------------------------------------------------------------------


def _list(place: Path, *, as_json: bool) -> None:
    from reedmill.record import open_book

    with open_book(place) as book:
        rows = book.students()
    if as_json:
        say_json({"book": str(place), "students": [
            {"name": row.name, "takes": row.takes, "notes": row.tries, "first": row.first,
             "last": row.last} for row in rows
        ]})  # fmt: skip
        return
    say(f"{place}: {counted(len(rows), 'student')}")
    width = max((len(row.name) for row in rows), default=0)
    for row in rows:
        since = f", {row.first[:10]} to {row.last[:10]}" if row.first and row.last else ""
        say(f"  {row.name:{width}}  {counted(row.takes, 'take')}{since}")


def _export(place: Path, out: str | None, *, replace: bool) -> None:
    import json
    from pathlib import Path

    from reedmill.base.errors import InputError
    from reedmill.base.writing import write_files
    from reedmill.record import book_csv, book_data, open_book

    with open_book(place) as book:
        if out is None:
            say_json(book_data(book))
            return
        path = Path(out)
        if path.suffix.lower() not in (".json", ".csv"):
            raise InputError(f"{out}: an export is .json or .csv. Name the file so.")
        if path.exists() and not replace:
            raise InputError(f"{out}: this file is there already. Add --replace, or name another.")
        if path.suffix.lower() == ".csv":
            text = book_csv(book)
        else:
            text = json.dumps(book_data(book), ensure_ascii=False, indent=1) + "\n"
    write_files([(path, text.encode("utf-8", "backslashreplace"))])
    say(out)


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
