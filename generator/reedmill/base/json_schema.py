"""Building blocks of JSON Schemas: what a field of a JSON document may hold, and what it means.

Draft 2020-12, https://json-schema.org.
"""

from __future__ import annotations

from enum import Enum
from typing import Any

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def text(about: str, **more: Any) -> Schema:
    """Return the schema of any text."""
    return {"type": "string", "description": about, **more}


def one_of(about: str, words: type[Enum] | tuple[str, ...]) -> Schema:
    """Return the schema of one of *words*."""
    known = words if isinstance(words, tuple) else tuple(each.value for each in words)
    return {"type": "string", "enum": list(known), "description": about}


def integer_from(about: str, least: int = 0, most: int | None = None) -> Schema:
    """Return the schema of a whole number that is at least *least*."""
    bounds = {"minimum": least} | ({} if most is None else {"maximum": most})
    return {"type": "integer", "description": about, **bounds}


def number(about: str, **more: Any) -> Schema:
    """Return the schema of any number."""
    return {"type": "number", "description": about, **more}


def flag(about: str) -> Schema:
    """Return the schema of true or false."""
    return {"type": "boolean", "description": about}


def maybe(of: Schema) -> Schema:
    """Return the schema of a value of *of*, or null."""
    allowed = {"enum": [*of["enum"], None]} if "enum" in of else {}
    return of | {"type": [of["type"], "null"], **allowed}


def array_of(about: str, of: Schema, **more: Any) -> Schema:
    """Return the schema of a list whose items are all of *of*."""
    return {"type": "array", "items": of, "description": about, **more}


def object_with(about: str, always: Schema, sometimes: Schema | None = None) -> Schema:
    """Return the schema of an object with fields that are there *always* or *sometimes*."""
    return {
        "type": "object",
        "description": about,
        "properties": always | (sometimes or {}),
        "required": list(always),
        "additionalProperties": False,
    }
