"""The tables of a grammar read as the grammar itself does."""

from __future__ import annotations

from collections import deque
from typing import Any

import pytest
from lark import Lark, Transformer

from reedmill.base import tables
from reedmill.base.tables import ROOMS, are_fresh, parser_of, tables_text


@pytest.fixture(params=ROOMS)
def room(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def worked_out(room: str, monkeypatch: pytest.MonkeyPatch) -> Lark:
    """The parser of the grammar alone."""
    with monkeypatch.context() as only:
        only.setattr(tables, "TABLES", "no-such.json")
        return parser_of(room, Transformer())


def states(parser: Lark) -> dict[Any, dict[str, tuple[Any, Any]]]:
    """For each state what follows on each token: another state, or a rule that ends."""
    found: dict[Any, dict[str, tuple[Any, Any]]] = parser.parser.parser._parse_table.states
    return found


def described(parser: Lark) -> tuple[set[object], set[object]]:
    """Its tokens, and its rules with what each is built by."""
    signs = {(each.name, each.pattern.to_regexp(), each.priority) for each in parser.terminals}
    return set(signs), {(str(rule), rule.alias, str(rule.options)) for rule in parser.rules}


def test_tables_lie_beside_the_grammar_they_belong_to(room: str) -> None:
    assert are_fresh(room), f"the grammar of {room} has changed: run scripts/language_pages"


def test_the_tables_are_those_of_the_grammar_whatever_its_states_are_called(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    ready, grammar = parser_of(room, Transformer()), worked_out(room, monkeypatch)
    assert (ready.source_path == "<deserialized>") != (grammar.source_path == "<deserialized>")
    ours, theirs = states(ready), states(grammar)
    [here], [there] = (
        each.parser.parser._parse_table.start_states.values() for each in (ready, grammar)
    )
    same, left = {here: there}, deque([here])
    while left:
        state = left.popleft()
        assert ours[state].keys() == theirs[same[state]].keys()
        for token, (kind, follows) in ours[state].items():
            their_kind, their_follows = theirs[same[state]][token]
            assert str(kind) == str(their_kind)
            if str(kind) == "Shift" and follows not in same:
                same[follows] = their_follows
                left.append(follows)
            assert same.get(follows, follows) == their_follows
    assert len(same) == len(ours) == len(theirs)
    assert described(ready) == described(grammar)
    assert ready.lexer_conf.ignore == grammar.lexer_conf.ignore


@pytest.mark.parametrize("old", ["", "{", "{}", '{"of": "Lark 1.0, 00"}'])
def test_tables_of_another_grammar_are_not_used(
    room: str, old: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = tables._text
    monkeypatch.setattr(
        tables, "_text", lambda room, name: old if name == tables.TABLES else given(room, name)
    )
    assert parser_of(room, Transformer()).source_path != "<deserialized>"


def test_what_is_written_is_what_is_read(room: str, monkeypatch: pytest.MonkeyPatch) -> None:
    new = tables_text(room)
    given = tables._text
    monkeypatch.setattr(
        tables, "_text", lambda room, name: new if name == tables.TABLES else given(room, name)
    )
    assert parser_of(room, Transformer()).source_path == "<deserialized>"
