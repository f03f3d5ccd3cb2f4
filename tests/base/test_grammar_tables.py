"""The tables of a grammar read as the grammar itself does."""

from __future__ import annotations

from collections import deque

import pytest
from lark import Lark, Transformer
from lark.grammar import Rule

from reedmill.base import grammar_tables as tables
from reedmill.base.grammar_tables import ROOMS, are_fresh, parser_of, tables_text


@pytest.fixture(params=ROOMS)
def room(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def worked_out(room: str, monkeypatch: pytest.MonkeyPatch) -> Lark:
    """The parser of the grammar alone."""
    with monkeypatch.context() as only:
        only.setattr(tables, "TABLES", "no-such.json")
        return parser_of(room, Transformer())


def options(rule: Rule) -> tuple[object, ...]:
    """How *rule* is built: a text stands there for a token that says the same."""
    how = rule.options
    origin = how.template_source and str(how.template_source)
    return how.keep_all_tokens, how.expand1, how.priority, origin


class Described:
    """A parser with what Lark makes of ``+`` and ``*`` called by what it is made of.

    Lark numbers these helpers in another order each time.
    """

    def __init__(self, parser: Lark) -> None:
        self.expansions: dict[str, list[list[str]]] = {}
        for rule in parser.rules:
            words = [each.name for each in rule.expansion]
            self.expansions.setdefault(rule.origin.name, []).append(words)
        table = parser.parser.parser._parse_table
        [self.start] = table.start_states.values()
        self.states = {
            state: {self.name(token): found for token, found in row.items()}
            for state, row in table.states.items()
        }
        self.rules = {(self.rule(each), each.alias, *options(each)) for each in parser.rules}
        signs = {(each.name, each.pattern.to_regexp(), each.priority) for each in parser.terminals}
        self.signs = (signs, parser.lexer_conf.ignore)

    def name(self, word: str) -> str:
        """*word*, or what the helper of that name is made of."""
        if not word.startswith("__") or word not in self.expansions:
            return word
        made_of = (
            " ".join("@" if part == word else self.name(part) for part in parts)
            for parts in self.expansions[word]
        )
        return f"<{' | '.join(sorted(made_of))}>"

    def rule(self, rule: Rule) -> tuple[str, ...]:
        """What *rule* gives, then what it reads."""
        return self.name(rule.origin.name), *(self.name(each.name) for each in rule.expansion)


def test_tables_lie_beside_the_grammar_they_belong_to(room: str) -> None:
    assert are_fresh(room), f"the grammar of {room} has changed: run scripts/language_pages"


def test_the_tables_are_those_of_the_grammar_whatever_its_states_are_called(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    ready, grammar = parser_of(room, Transformer()), worked_out(room, monkeypatch)
    assert (ready.source_path == "<deserialized>") != (grammar.source_path == "<deserialized>")
    ours, theirs = Described(ready), Described(grammar)
    assert (ours.rules, ours.signs) == (theirs.rules, theirs.signs)
    same, left = {ours.start: theirs.start}, deque([ours.start])
    while left:
        state = left.popleft()
        here, there = ours.states[state], theirs.states[same[state]]
        assert here.keys() == there.keys()
        for token, (action, follows) in here.items():
            their_action, their_follows = there[token]
            assert str(action) == str(their_action)
            if isinstance(follows, Rule):
                assert ours.rule(follows) == theirs.rule(their_follows)
                continue
            if follows not in same:
                same[follows] = their_follows
                left.append(follows)
            assert same[follows] == their_follows
    assert len(same) == len(ours.states) == len(theirs.states)


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
