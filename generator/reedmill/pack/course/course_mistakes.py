"""Mistakes found by the course models, in musicians' words, with their place in the file."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from reedmill.base.errors import PatternError, nearest_name
from reedmill.base.toml_places import Places, TablePath
from reedmill.pack.course.course_keys import TABLES, homes, key_named, table_at
from reedmill.pack.course.models import TOLD

_EMPTY = ("string_too_short", "too_short")
_LONG = ("string_too_long", "too_long")


def all_mistakes(error: ValidationError, places: Places) -> list[PatternError]:
    """Return every mistake, in the order of the file."""
    errors = error.errors(include_url=False)
    return [_mistake(each, places) for each in sorted(errors, key=lambda e: _order(e, places))]


def first_mistake(error: ValidationError, places: Places) -> PatternError:
    """Return the mistake that stands first in the file, or else the first key missing.

    Its remedy says how many follow.
    """
    errors = error.errors(include_url=False)
    first = _mistake(min(errors, key=lambda each: _order(each, places)), places)
    more = len(errors) - 1
    if more:
        mistakes = "1 more mistake follows" if more == 1 else f"{more} more mistakes follow"
        remedy = f"{first.remedy}\n  {mistakes} in this file."
        return PatternError(first.fact, remedy, first.span)
    return first


def _order(error: Any, places: Places) -> tuple[bool, int, int]:
    """Return a sort key by place; missing keys last, because a misspelt one often explains them."""
    path: TablePath = tuple(error["loc"])
    span = places.key(path) if error["type"] == "extra_forbidden" else places.value(path)
    return error["type"] == "missing", span.line, span.column


def _mistake(error: Any, places: Places) -> PatternError:
    path: TablePath = tuple(error["loc"])
    if error["type"] == TOLD:
        return PatternError(error["ctx"]["fact"], error["ctx"]["remedy"], places.value(path))
    if error["type"] == "missing":
        return _missing(path, places)
    if error["type"] == "extra_forbidden":
        return _unknown(path, places)
    return _wrong(error, path, places)


def _missing(path: TablePath, places: Places) -> PatternError:
    table = table_at(path)
    name = str(path[-1])
    key = key_named(table, name)
    example = key.example if key else name
    return PatternError(
        f"{_this(table)} has no {name}",
        f"Write for example: {_one_line(example)}",
        places.value(path[:-1]),
    )


def _unknown(path: TablePath, places: Places) -> PatternError:
    name, table = str(path[-1]), table_at(path)
    known = [key.name for key in TABLES[table]]
    near = nearest_name(name[:60], known)
    others = [each for each in homes(name) if each != table]
    if others and not near:
        remedy = f'"{name}" is a key of {others[0]}. {_way_there(table)}'
    else:
        hint = f'Did you mean "{near}"? ' if near else ""
        remedy = f"{hint}{_this(table).capitalize()} may have: {', '.join(known)}."
    fact = f'there is no key "{name:.60}" in {_this(table)}'
    return PatternError(fact, remedy, places.key(path))


def _way_there(table: str) -> str:
    if table == "the course":
        return "Write it under the heading of one, such as [defaults] or [[lessons]]."
    return (
        "A key belongs to the heading above it: move the line up, or write the heading it "
        "belongs to over it."
    )


def _wrong(error: Any, path: TablePath, places: Places) -> PatternError:
    """Explain a value of the wrong kind or size: what the key takes, and what stands there."""
    named = max(at for at, part in enumerate(path) if isinstance(part, str))
    table, name = table_at(path[: named + 1]), str(path[named])
    key = key_named(table, name)
    takes = key.takes if key else "another value"
    example = key.example if key else name
    if error["type"] in _LONG:
        limit = error["ctx"]["max_length"]
        here = f"this is longer than {limit}"
    else:
        here = "this is " + ("empty" if error["type"] in _EMPTY else _shown(error["input"]))
    return PatternError(
        f"{name} takes {takes}; {here}",
        f"Write for example: {_one_line(example)}",
        places.value(path),
    )


def _this(table: str) -> str:
    """Name a table as in speech: ``this lesson``, ``the course``."""
    kind, _, noun = table.partition(" ")
    return table if kind == "the" else f"this {noun}"


def _one_line(example: str) -> str:
    return example.replace("\n", ", then ")


def _shown(value: object) -> str:
    """Return *value* as it may stand in the file, cut short."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return f'"{value:.40}"' + ("..." if len(value) > 40 else "")
        case int() if value.bit_length() > 64:
            return "a very long number"  # Python refuses to write thousands of digits
        case int() | float():
            return str(value)
        case dict():
            return "a table"
        case datetime.date() | datetime.time():
            return f"a date or time, {value}"
        case Sequence():
            return "an empty list" if not value else "a list"
        case _:
            return "something else"
