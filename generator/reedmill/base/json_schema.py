"""JSON Schemas built of parts: what a field of a JSON document may hold, and what it means.

Draft 2020-12, https://json-schema.org.
"""

from __future__ import annotations

from enum import Enum
from typing import Any

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def text(about: str, **more: Any) -> Schema:
    """Any text."""
    return {"type": "string", "description": about, **more}


def one_of(about: str, words: type[Enum] | tuple[str, ...]) -> Schema:
    """One of some words."""
    known = words if isinstance(words, tuple) else tuple(each.value for each in words)
    return {"type": "string", "enum": list(known), "description": about}


def integer_from(about: str, least: int = 0, most: int | None = None) -> Schema:
    """A whole number from *least* on."""
    bounds = {"minimum": least} | ({} if most is None else {"maximum": most})
    return {"type": "integer", "description": about, **bounds}


def number(about: str, **more: Any) -> Schema:
    """Any number."""
    return {"type": "number", "description": about, **more}


def flag(about: str) -> Schema:
    """True or false."""
    return {"type": "boolean", "description": about}


def maybe(of: Schema) -> Schema:
    """*of*, or null."""
    allowed = {"enum": [*of["enum"], None]} if "enum" in of else {}
    return of | {"type": [of["type"], "null"], **allowed}


def array_of(about: str, of: Schema, **more: Any) -> Schema:
    """A list, every item of which is *of*."""
    return {"type": "array", "items": of, "description": about, **more}


def object_with(about: str, always: Schema, sometimes: Schema | None = None) -> Schema:
    """An object with the fields *always* there and those that are there *sometimes*."""
    return {
        "type": "object",
        "description": about,
        "properties": always | (sometimes or {}),
        "required": list(always),
        "additionalProperties": False,
    }
