"""A TextMate grammar for syntax colouring in editors, generated from the language tables.

The words come from ``words``, the signs from the terminals of the grammar itself, so an
editor colours what the parser reads.  Each line is a rule of its own: nothing that is left
open colours the next one.  The patterns keep to what Oniguruma and Python's ``re`` read
alike.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any

from reedmill.language.parser import signs
from reedmill.language.words import JOINING, LINES, MUSIC_LINES, REST, ROLES, TRIPLET, VALUES
from reedmill.score.style import COUNTED, Mark

SCOPES = {
    "comment": "comment.line.number-sign",
    "line": "keyword.control.line",
    "title": "entity.name.section",
    "text": "string.quoted.double",
    "number": "constant.numeric",
    "value": "constant.language",
    "joining": "keyword.operator.word",
    "reed": "constant.numeric.reed",
    "degree": "constant.numeric.degree",
    "role": "variable.language.role",
    "rest": "constant.language.rest",
    "style": "support.function.style",
    "length": "constant.other.length",
    "sign": "keyword.operator.sign",
    "repeat": "keyword.operator.repeat",
    "bracket": "punctuation.section.group",
    "comma": "punctuation.separator",
    "unknown": "invalid.illegal",
}
"""What each kind of word or sign is called in a theme, without the ``.drill`` behind it."""

_TITLED = ("drill", "section")
_REED_LINES = ("anchor", "rungs", *(word for word in MUSIC_LINES if word != "tune"))

_STYLE = [rf"{mark.value}\d*" if mark in COUNTED else mark.value for mark in Mark]

_CHORD = r"[b#\u266d\u266f]?[IViv]+[^\s,\"]*"

Rule = dict[str, Any]


def textmate_json() -> str:
    """Return the grammar as the text of its file."""
    return json.dumps(textmate(), indent=2, ensure_ascii=True) + "\n"


def textmate() -> Rule:
    """Return the grammar as plain data: a rule for each word a line starts with."""
    return {
        "name": "Reedmill drill",
        "scopeName": "source.drill",
        "fileTypes": ["drill"],
        "patterns": [
            _match("comment", signs()["COMMENT"]),
            *map(_line, LINES),
            *_signs(),  # music that goes on below the line of its word
            _match("reed", _several("HOLES", "REED")),
            _match("unknown", r"\S+"),
        ],
    }


def _line(word: str) -> Rule:
    patterns = [*_inside(word), _match("comment", signs()["COMMENT"]), _match("unknown", r"\S")]
    return {
        "begin": rf"^\s*({word})\b",
        "end": "$",
        "beginCaptures": {"1": {"name": _scope("line")}},
        "patterns": patterns,
    }


def _inside(word: str) -> list[Rule]:
    """Return the rules for what may follow *word*; the first match counts."""
    rules = _words("joining", JOINING.get(word, ()))
    rules += _words("value", " ".join(VALUES.get(word, ())).split())
    if word in MUSIC_LINES:
        return [*rules, *_music(), _note(word)]
    example = LINES[word].example.removeprefix(word)
    if '"' in example:
        return [*rules, _match("title" if word in _TITLED else "text", signs()["STRING"])]
    if "," in example:
        rules.append(_match("comma", ","))
    if word == "over":
        rules.append(_match("value", _CHORD))
    return [*rules, _note(word)] if re.search(r"\d", example) else rules


def _note(word: str) -> Rule:
    """Return the rule for the numbers that *word* takes."""
    if word == "tune":
        return _match("degree", _several("DEGREES", "DEGREE"))
    if word in _REED_LINES:
        return _match("reed", _several("HOLES", "REED"))
    return _match("number", f"{signs()['FRACTION']}|{signs()['NUMBER']}")


def _several(many: str, one: str) -> str:
    """Return what *many* at once or *one* alone looks like; the longer one goes first."""
    return f"{signs()[many]}|{signs()[one]}"


def _signs() -> list[Rule]:
    """Return the signs of music except reeds and degrees."""
    found = signs()
    return [
        _match("repeat", f"{found['TIMES']}|{found['ORDINAL']}"),
        _match("length", found["LENGTH"]),
        _match("sign", r"[~!|._]|\s,\s"),
        _match("bracket", r"[()]"),
        *_words("style", _STYLE),
    ]


def _music() -> list[Rule]:
    """Return the words and signs of music except reeds and degrees."""
    return [
        *_signs(),
        *_words("role", ROLES),
        *_words("rest", [REST]),
        *_words("joining", [TRIPLET]),
    ]


def _words(kind: str, words: Iterable[str]) -> list[Rule]:
    """Return a rule for whole *words*, if there are any."""
    either = "|".join(word.replace(" ", r"\s+") for word in words)
    return [_match(kind, rf"\b({either})\b")] if either else []


def _match(kind: str, pattern: str) -> Rule:
    return {"match": pattern, "name": _scope(kind)}


def _scope(kind: str) -> str:
    return f"{SCOPES[kind]}.drill"
