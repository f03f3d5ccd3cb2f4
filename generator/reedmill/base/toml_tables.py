"""The tables and keys of a TOML text: which may meet, and where each stands.

TOML v1.0.0: a table is opened once, a key is written once, and what stands in brackets is
closed.  Values themselves are left to tomllib.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum, auto
from typing import TYPE_CHECKING

from reedmill.base.toml_grammar import BrokenOffError, NotTomlError, TomlMistake, statements

if TYPE_CHECKING:
    from lark import Token, Tree

TablePath = tuple[str | int, ...]
"""Keys and places in lists, from the top of the file."""

TextRange = tuple[int, int]
"""From the first character to after the last one."""

_DEEPEST = 8  # nothing deeper means anything in a curriculum, and memory stays bounded


@dataclass(slots=True)
class Found:
    """The places of the keys and values of a text."""

    keys: dict[TablePath, TextRange] = field(default_factory=dict)  # a table's key is in its header
    values: dict[TablePath, TextRange] = field(
        default_factory=dict
    )  # a table's value is its header


def found_in(text: str) -> Found:
    r"""Return the places of all keys and values in *text*, whose lines end in ``\n`` only.

    Raises ``NotTomlError`` with the first mistake of a text that is no TOML.
    """
    try:
        whole = statements(text)
    except BrokenOffError as broken:
        _Reader().read(statements(text[: broken.before]))  # a mistake further up comes first
        raise broken.why from None
    reader = _Reader()
    reader.read(whole)
    return reader.found


class _Way(Enum):
    """The way a name was introduced, which decides what may be added to it."""

    PASSED = auto()  # on the way to a table under it: [a] of [a.b]
    HEADED = auto()
    DOTTED = auto()  # on the way to a key: a of a.b = 1
    LISTED = auto()  # [[a]]
    CLOSED = auto()  # a value


@dataclass(slots=True)
class _Node:
    """A name in the tree of tables; for a list of tables, its latest one."""

    way: _Way
    names: dict[str, _Node] = field(default_factory=dict)
    count: int = 0  # of a list of tables


class _Reader:
    """Reads the statements of a text once, from the top."""

    def __init__(self) -> None:
        self.found = Found()
        self._top = _Node(_Way.HEADED)

    def read(self, whole: list[Tree[Token]]) -> None:
        path: TablePath = ()
        node = self._top
        for each in whole:
            if each.data == "pair":
                self._pair(each, path, node, TomlMistake.KEY_AGAIN)
            else:
                path, node = self._header(each)

    def _header(self, tree: Tree[Token]) -> tuple[TablePath, _Node]:
        """Return the path and table that ``[a.b]`` or ``[[a.b]]`` opens."""
        stretch = _stretch(tree)
        listed = tree.data == "list_table"
        names = [name for name, _ in _names(tree)]
        path: TablePath = ()
        node = self._top
        for name in names[:-1]:
            node = node.names.setdefault(name, _Node(_Way.PASSED))
            if node.way is _Way.CLOSED:
                raise NotTomlError(TomlMistake.CLOSED, *stretch)
            _note(self.found.keys, (*path, name), stretch)
            path = _latest((*path, name), node)
        name_path = (*path, names[-1])
        _note(self.found.keys, name_path, stretch)
        node = _opened(node, names[-1], stretch, listed=listed)
        _note(self.found.values, name_path, stretch)
        path = _latest(name_path, node)
        _note(self.found.values, path, stretch)
        return path, node

    def _pair(self, tree: Tree[Token], path: TablePath, node: _Node, again: TomlMistake) -> None:
        *names, (last, stretch) = _names(tree)
        for name, place in names:
            node = node.names.setdefault(name, _Node(_Way.PASSED))
            path = (*path, name)
            if node.way in (_Way.HEADED, _Way.LISTED):
                raise NotTomlError(TomlMistake.TABLE_AGAIN, *place)
            if node.way is _Way.CLOSED:
                raise NotTomlError(TomlMistake.CLOSED, *place)
            node.way = _Way.DOTTED
            _note(self.found.keys, path, place)
        if last in node.names:
            raise NotTomlError(again, *stretch)
        node.names[last] = _Node(_Way.CLOSED)
        _note(self.found.keys, (*path, last), stretch)
        self._value(tree.children[-1], (*path, last))

    def _value(self, value: Tree[Token] | Token, path: TablePath) -> None:
        if isinstance(value, str):  # a token
            _note(self.found.values, path, _stretch_of(value))
            return
        if value.data == "list":
            for index, each in enumerate(value.children):
                self._value(each, (*path, index))
        else:
            table = _Node(_Way.HEADED)
            for each in value.children:
                if not isinstance(each, str):
                    self._pair(each, path, table, TomlMistake.KEY_AGAIN_INSIDE)
        _note(self.found.values, path, _stretch(value))


def _opened(around: _Node, name: str, stretch: TextRange, *, listed: bool) -> _Node:
    """Return the table *name* in *around*, which a header opens now."""
    node = around.names.get(name)
    if node is None:
        node = around.names[name] = _Node(_Way.LISTED if listed else _Way.HEADED)
    elif node.way is _Way.CLOSED:
        raise NotTomlError(TomlMistake.KEY_AGAIN, *stretch)
    elif listed and node.way is _Way.LISTED:
        node.names = {}
        node.count += 1
    elif listed or node.way is not _Way.PASSED:
        raise NotTomlError(TomlMistake.TABLE_AGAIN, *stretch)
    else:
        node.way = _Way.HEADED
    return node


def _latest(path: TablePath, node: _Node) -> TablePath:
    """Return *path*, with the index of its latest element when it is a list of tables."""
    return (*path, node.count) if node.way is _Way.LISTED else path


def _names(tree: Tree[Token]) -> Iterator[tuple[str, TextRange]]:
    """Yield the names of a dotted key, each with its stretch."""
    key = tree.children[0]
    for token in () if isinstance(key, str) else key.children:
        if isinstance(token, str):
            yield _name(token), _stretch_of(token)


def _name(token: Token) -> str:
    if token.type == "BARE":
        return str(token)
    inside = token[1:-1]
    return inside if token.type == "PLAIN" else _ESCAPE.sub(_sign, inside)


_ESCAPE = re.compile(r"\\(?:([btnfr\"\\])|u(.{4})|U(.{8}))")
_SIGNS = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


def _sign(escape: re.Match[str]) -> str:
    short, *digits = escape.groups()
    return _SIGNS.get(short, short) if short else chr(int(digits[0] or digits[1], 16))


def _stretch(tree: Tree[Token]) -> TextRange:
    return tree.meta.start_pos, tree.meta.end_pos


def _stretch_of(token: Token) -> TextRange:
    start = token.start_pos or 0
    return start, start + len(token)


def _note(found: dict[TablePath, TextRange], path: TablePath, stretch: TextRange) -> None:
    if len(path) <= _DEEPEST:
        found.setdefault(path, stretch)
