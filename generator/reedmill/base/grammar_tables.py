"""Parsers built from tables stored beside their grammars, so that Lark computes none at start.

To work out the grammar of drills takes Lark 60 ms, in every run; to read its tables 10 ms.  They
lie beside the grammar, ``grammar.lark`` has ``grammar.tables.json``, made by
scripts/language_pages.
Where they do not belong to this very grammar and this release of Lark, the grammar is worked out
again: tables can be missing or old, but never wrong.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import lark
from lark import Lark
from lark.grammar import Rule
from lark.lexer import TerminalDef


def parser_of(room: str, builder: object) -> Lark:
    """Return the parser of the grammar in *room*, which calls Transformer *builder* as it reads.

    >>> from lark import Transformer
    >>> parser_of("reedmill.language", Transformer()).options.parser
    'lalr'
    """
    grammar = _text(room, GRAMMAR)
    try:
        tables = json.loads(_text(room, TABLES), object_hook=_numbered)
    except (OSError, ValueError):
        tables = {}
    if tables.get("of") != _of(grammar):
        return _worked_out(grammar, builder)
    # What Lark's own stand-alone parsers call; ``Lark.load`` reads pickles, and takes no builder.
    load: Callable[..., Lark] = Lark._load_from_dict
    return load(tables["data"], tables["memo"], transformer=builder)


GRAMMAR, TABLES = "grammar.lark", "grammar.tables.json"
ROOMS = ("reedmill.language", "reedmill.band")
"""Where grammars with tables are."""


def tables_text(room: str) -> str:
    """Return the parse tables of the grammar in *room*, as stored beside it."""
    grammar = _text(room, GRAMMAR)
    data, memo = _worked_out(grammar, None).memo_serialize([TerminalDef, Rule])
    tables = {"of": _of(grammar), "data": data, "memo": memo}
    return json.dumps(tables, separators=(",", ":")) + "\n"


def are_fresh(room: str) -> bool:
    """Tell whether the tables in *room* belong to its grammar and to this Lark."""
    return f'"{_of(_text(room, GRAMMAR))}"' in _text(room, TABLES)[:200]


def _worked_out(grammar: str, builder: object) -> Lark:
    return Lark(grammar, parser="lalr", transformer=builder, maybe_placeholders=False)


def _text(room: str, name: str) -> str:
    package = Path(__file__).resolve().parents[1]
    return package.joinpath(*room.split(".")[1:], name).read_text("utf-8")


def _of(grammar: str) -> str:
    """Return the Lark version and grammar digest that tables belong to."""
    return f"Lark {lark.__version__}, {sha256(grammar.encode()).hexdigest()}"


def _numbered(row: dict[str, object]) -> dict[str | int, object]:
    """Return *row* with its numbers as keys, which JSON turns into texts."""
    return {int(key) if key.isdecimal() else key: value for key, value in row.items()}
