"""Files with the data of takes: what ``hear --json``, a practice page and a book export."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import NoReturn

import fastjsonschema

from reedmill.base.errors import InputError
from reedmill.base.reading import read_bytes, shown_name
from reedmill.base.text import printable
from reedmill.ear.take_json import TAKE_SCHEMA, VERSION
from reedmill.record.kept_take import KeptTake, StudentTakes

MOST_BYTES = 100_000_000
"""Of one file: some 20,000 takes, more than a student plays in years."""

BOOK_FORM = 1
"""Of the data of a whole book; a reader refuses one that is higher."""

HISTORY_FORM = 1
"""Of what a practice page exports; ``generator/page/src/take/history.js`` writes it."""

_NOT_TAKES = (
    "it has no takes that can be kept. Give the data that hearing a take printed, or a file that "
    "a practice page or a record book exported."
)


class FileRefusedError(InputError):
    """A file of takes that is not one, or cannot be kept; others may be."""


def read_take_data(path: Path) -> list[StudentTakes]:
    """Read the takes in the file at *path*, by student.

    Raises ``InputError``, which names the file, for one that has none, and for one in which any
    take is not as it should be: half a file is worse than none.
    """
    try:
        raw = read_bytes(path, MOST_BYTES, "Export one student at a time.")
    except InputError as error:
        raise FileRefusedError(str(error)) from None
    try:
        return _students(_parsed(raw))
    except InputError as error:
        raise FileRefusedError(f"{shown_name(path)}: {error}") from None


def _parsed(raw: bytes) -> object:
    try:
        found: object = json.loads(raw.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise InputError(f"this file is not JSON, so {_NOT_TAKES}") from None
    return found


def _no_number(name: str) -> NoReturn:
    raise ValueError(name)


def _students(data: object) -> list[StudentTakes]:
    match data:
        case {"reedmill_record": form, "students": list(students)}:
            _check_form("record book", form, BOOK_FORM)
            return [_of_student(each) for each in students]
        case {"reedmill_history": form, "drills": list(drills)}:
            _check_form("history", form, HISTORY_FORM)
            takes = [take for each in drills for take in _listed(each)]
        case {"reedmill_take": _}:
            takes = [data]
        case {"takes": list(takes)}:
            pass
        case _:
            raise InputError(_NOT_TAKES)
    return [StudentTakes("", _kept(takes))]


def _check_form(what: str, form: object, known: int) -> None:
    if form != known:
        raise InputError(
            f"this {what} has the form {printable(str(form)):.20}, and this Reedmill knows form "
            f"{known}. Take the newest Reedmill."
        )


def _of_student(student: object) -> StudentTakes:
    match student:
        case {"name": str(name), "takes": takes}:
            return StudentTakes(name, _kept(takes))
    raise InputError("one of its students has no name, or no takes.")


def _listed(drill: object) -> list[object]:
    if not isinstance(drill, dict) or not isinstance(drill.get("takes"), list):
        raise InputError("one of its drills has no list of takes.")
    return list(drill["takes"])


def _kept(takes: object) -> tuple[KeptTake, ...]:
    if not isinstance(takes, list):
        raise InputError(_NOT_TAKES)
    return tuple(_one(take, number) for number, take in enumerate(takes, start=1))


def _one(take: object, number: int) -> KeptTake:
    if not isinstance(take, dict):
        raise InputError(f"take {number} is not one: it is a list, a text or a number.")
    _check_form("take", take.get("reedmill_take", VERSION), VERSION)
    try:
        _check()(take)
        return KeptTake(take)
    except fastjsonschema.JsonSchemaValueException as error:
        raise InputError(f"take {number} is not one: {_wrong(error)}.") from None
    except InputError as error:
        raise InputError(f"take {number} is not one: {error}") from None


def _wrong(error: fastjsonschema.JsonSchemaValueException) -> str:
    """Return what *error* says, in words: its own tell of what the schema is written in."""
    where = printable(".".join(str(each) for each in error.path[1:]))[:80] or "all of it"
    if error.rule == "required":
        there = error.value if isinstance(error.value, dict) else {}
        missing = next((name for name in error.rule_definition if name not in there), "")
        return f'"{missing}" is missing in {where}'
    if error.rule == "additionalProperties":
        return f"{where} has a field that does not belong there"
    return f"{where} is not what belongs there"


@cache
def _check() -> Callable[[object], object]:
    checked: Callable[[object], object] = fastjsonschema.compile(TAKE_SCHEMA, use_default=False)
    return checked
