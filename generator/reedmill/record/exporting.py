"""Takes of a record book as data for other programs: JSON that can be added again, and CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence

from reedmill.base.text import printable
from reedmill.record.kept_take import KeptTake, TakeData
from reedmill.record.record_book import RecordBook, StudentRow
from reedmill.record.take_data import BOOK_FORM

COLUMNS = (
    "student", "recorded", "drill", "harp", "tuning", "position", "tempo", "tempo_heard", "pass",
    "index", "tab", "from", "role", "cents", "cents_from_anchor", "verdict",
)  # fmt: skip
_OBEYED = ("=", "+", "-", "@", "\t", "\r")  # how a cell begins that a spreadsheet reckons


def book_data(book: RecordBook, students: Sequence[StudentRow]) -> TakeData:
    """Return all takes of *students* in *book*; ``docs/schemas`` has the form."""
    return {
        "reedmill_record": BOOK_FORM,
        "students": [
            {"name": str(row.name), "takes": [take.data for take in book.takes(row.name)]}
            for row in students
        ],
    }


def book_json(book: RecordBook, students: Sequence[StudentRow]) -> Iterator[str]:
    """Yield ``book_data`` as JSON in pieces, a take in each line: a class may have very many."""
    yield f'{{"reedmill_record": {BOOK_FORM}, "students": ['
    for number, row in enumerate(students):
        yield f'{"," if number else ""}\n{{"name": {json.dumps(row.name)}, "takes": ['
        for count, take in enumerate(book.takes(row.name)):
            yield f"{',' if count else ''}\n{take.text}"
        yield "]}"
    yield "\n]}\n"


def book_csv(book: RecordBook, students: Sequence[StudentRow]) -> Iterator[str]:
    """Yield every note that *students* tried, one in each line, with a heading; in pieces.

    A text that a spreadsheet would take for a formula has an apostrophe before it, as is usual;
    tab is written with one too, because ``-3`` is not a subtraction.
    """
    yield _lines([COLUMNS])
    for row in students:
        for take in book.takes(row.name):
            yield _lines(_rows(row.name, take))


def _lines(rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
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
