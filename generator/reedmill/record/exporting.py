"""A whole record book as data for other programs: JSON that can be added again, and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from reedmill.base.text import printable
from reedmill.record.book import RecordBook
from reedmill.record.kept_take import KeptTake, TakeData
from reedmill.record.take_data import BOOK_FORM

COLUMNS = (
    "student", "recorded", "drill", "harp", "tuning", "position", "tempo", "tempo_heard", "pass",
    "index", "tab", "from", "role", "cents", "cents_from_anchor", "verdict",
)  # fmt: skip
_OBEYED = ("=", "+", "-", "@", "\t", "\r")  # how a cell begins that a spreadsheet reckons


def book_data(book: RecordBook) -> TakeData:
    """Return everything in *book*, as ``BOOK_SCHEMA`` says."""
    students = [
        {"name": str(row.name), "takes": [take.data for take in book.takes(row.name)]}
        for row in book.students()
    ]
    return {"reedmill_record": BOOK_FORM, "students": students}


def book_csv(book: RecordBook) -> str:
    """Return every note that was tried in *book*, one in each line, with a heading.

    A text that a spreadsheet would take for a formula has an apostrophe before it, as is usual;
    tab is written with one too, because ``-3`` is no subtraction.
    """
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for row in book.students():
        for take in book.takes(row.name):
            rows.writerows(_rows(row.name, take))
    return out.getvalue()


def _rows(student: str, take: KeptTake) -> Iterator[list[object]]:
    data = take.data
    head = [_plain(student), _plain(data["recorded"]), _plain(take.title)]
    head += [_plain(data[each]) for each in ("harp", "tuning", "position", "tempo", "tempo_heard")]
    for number, each in enumerate(data["passes"], start=1):
        for note in each["notes"]:
            yield [*head, number, *(_plain(note[name]) for name in COLUMNS[len(head) + 1 :])]


def _plain(value: object) -> object:
    if not isinstance(value, str):
        return "" if value is None else value
    text = printable(value)
    return f"'{text}" if text.startswith(_OBEYED) else text
