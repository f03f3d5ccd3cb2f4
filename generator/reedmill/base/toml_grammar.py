"""A grammar of TOML: splits text into statements, or finds its first mistake.

The grammar is ``toml.lark``.  A mistake is one of a few kinds, known by what could have stood
in its place; ``toml_text.py`` has the words for each.
"""

from __future__ import annotations

import datetime
import re
import sys
from dataclasses import dataclass
from enum import Enum, auto
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lark import Lark, Token, Tree


class TomlMistake(Enum):
    """The kinds of mistake in a text that should be TOML."""

    NO_EQUALS = auto()
    NO_VALUE = auto()
    OPEN_TEXT = auto()
    HIDDEN_SIGN = auto()
    OPEN_LIST = auto()
    OPEN_TABLE = auto()
    MORE_ON_LINE = auto()
    OPEN_HEADING = auto()
    NO_NAME = auto()
    NO_STATEMENT = auto()
    NO_ESCAPE = auto()
    SHORT_ESCAPE = auto()
    NO_SIGN = auto()
    NO_DAY = auto()
    MANY_DIGITS = auto()
    TABLE_AGAIN = auto()
    KEY_AGAIN = auto()
    KEY_AGAIN_INSIDE = auto()
    CLOSED = auto()


@dataclass(frozen=True)
class NotTomlError(Exception):
    """The first mistake of a text: its kind and the stretch of text it is about."""

    mistake: TomlMistake
    start: int
    end: int


@dataclass(frozen=True)
class BrokenOffError(Exception):
    """A text with a mistake, and *before* it only whole statements."""

    why: NotTomlError
    before: int


def statements(text: str) -> list[Tree[Token]]:
    r"""Return the statements of *text*, whose lines end in ``\n`` only.

    Each is a ``pair``, ``table`` or ``list_table`` of the grammar.  Raises ``BrokenOffError``.
    """
    from lark import Tree
    from lark.exceptions import UnexpectedInput

    parser: Any = _parser().parse_interactive(text)  # lark types only half of it
    before = depth = 0
    try:
        for token in parser.iter_parse():
            _look_inside(token)
            depth += _DEPTH.get(token.type, 0)
            if token.type == "_NEWLINE" and depth == 0:
                before = token.end_pos or 0
        whole = parser.feed_eof()
    except NotTomlError as why:
        raise BrokenOffError(why, before) from None
    except UnexpectedInput as error:
        at = _position(error, text)
        mistake = _HIDDEN if _is_hidden(text, at) else _kind(parser.accepts(), text[at : at + 1])
        raise BrokenOffError(NotTomlError(mistake, at, at + 1), before) from None
    return [each for each in whole.children if isinstance(each, Tree)]


@cache
def _parser() -> Lark:
    from lark import Lark

    grammar = files("reedmill.base").joinpath("toml.lark").read_text("utf-8")
    return Lark(
        grammar, parser="lalr", lexer="contextual", propagate_positions=True,
        maybe_placeholders=False,
    )  # fmt: skip


_DEPTH = {"LSQB": 1, "RSQB": -1, "LBRACE": 1, "RBRACE": -1}
_HIDDEN = TomlMistake.HIDDEN_SIGN
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def _position(error: object, text: str) -> int:
    """Return where the first misplaced token stands; the end of *text* when none follows."""
    token = getattr(error, "token", None)
    at = getattr(error, "pos_in_stream", None)
    if at is None or (token is not None and token.type == "$END"):
        return len(text)
    return int(at)


def _is_hidden(text: str, at: int) -> bool:
    return _CONTROL.match(text, at) is not None


def _kind(possible: set[str], found: str) -> TomlMistake:
    """Name the mistake from the terminals *possible* at its place and the sign *found* there."""
    at_end = found in ("", "\n")
    if "RBRACE" in possible and (at_end or "COMMA" in possible):
        return TomlMistake.OPEN_TABLE
    if "RSQB" in possible and "_NEWLINE" in possible and (at_end or "TRUTH" not in possible):
        return TomlMistake.OPEN_LIST
    for terminal, mistake in _KINDS.items():
        if terminal in possible:
            return mistake
    return TomlMistake.NO_STATEMENT


# What could have stood in its place tells what is missing; the first that fits.
_KINDS = {
    "TRUTH": TomlMistake.NO_VALUE,
    "EQUAL": TomlMistake.NO_EQUALS,
    "LSQB": TomlMistake.NO_STATEMENT,
    "_NEWLINE": TomlMistake.MORE_ON_LINE,
    "RSQB": TomlMistake.OPEN_HEADING,
    "_LISTS_END": TomlMistake.OPEN_HEADING,
    "BARE": TomlMistake.NO_NAME,
}


# --- inside a token -----------------------------------------------------------------------

_QUOTES = {"BASIC": '"', "PLAIN": "'", "LONG_BASIC": '"""', "LONG_PLAIN": "'''"}
_ESCAPE = re.compile(r"\\(?:[btnfr\"\\]|u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8})")
_LINE_END = re.compile(r"\\[ \t]*\n")
_ODD = re.compile(r"\\.|[\x00-\x08\x0b-\x1f\x7f]", re.DOTALL)


def _look_inside(token: Token) -> None:
    """Raise ``NotTomlError`` for a token that begins well but is malformed."""
    if token.type in _QUOTES:
        _check_text(token, _QUOTES[token.type])
    elif token.type == "DATE_TIME":
        try:
            datetime.date.fromisoformat(token[:10])
        except ValueError:
            raise _inside(token, TomlMistake.NO_DAY, 0, len(token)) from None
    elif token.type == "INTEGER":
        digits, most = sum(map(str.isdigit, token)), sys.get_int_max_str_digits()
        if most and digits > most:
            raise _inside(token, TomlMistake.MANY_DIGITS, 0, len(token))


def _check_text(token: Token, quote: str) -> None:
    begins = len(quote)  # here the closing quote may begin
    for found in _ODD.finditer(token, begins):
        at = found.start()
        if found[0][0] != "\\":
            raise _inside(token, TomlMistake.HIDDEN_SIGN, at, at + 1)
        if "BASIC" not in token.type:
            continue
        begins = found.end()
        if not (token.type == "LONG_BASIC" and _LINE_END.match(token, at)):
            _check_escape(token, at)
    if len(token) - len(quote) < begins or not token.endswith(quote):
        raise _inside(token, TomlMistake.OPEN_TEXT, 0, len(token))


def _check_escape(token: Token, at: int) -> None:
    found = _ESCAPE.match(token, at)
    if not found:
        short = token[at + 1] in "uU"
        kind = TomlMistake.SHORT_ESCAPE if short else TomlMistake.NO_ESCAPE
        raise _inside(token, kind, at, at + 2)
    digits = found[0][2:]
    if digits and (int(digits, 16) > sys.maxunicode or 0xD800 <= int(digits, 16) <= 0xDFFF):
        raise _inside(token, TomlMistake.NO_SIGN, at, found.end())


def _inside(token: Token, mistake: TomlMistake, start: int, end: int) -> NotTomlError:
    first = token.start_pos or 0
    return NotTomlError(mistake, first + start, first + end)
