"""The grammar of TOML held against the published test-suite, and against tomllib.

Outside facts: toml-test v2.1.0 (in toml_test.json with its licence), which says of each text
whether it is TOML v1.0.0.  tomllib is the other witness, for texts that nobody wrote.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from reedmill.base.errors import PatternError
from reedmill.base.toml_grammar import NotTomlError
from reedmill.base.toml_places import Places, plain
from reedmill.base.toml_places import TablePath as Place
from reedmill.base.toml_tables import found_in
from reedmill.base.toml_text import toml_table
from together import together
from toml_mutants import mutant, sources

SUITE = json.loads((Path(__file__).parent / "toml_test.json").read_text("utf-8"))


def mistake_in(text: str) -> NotTomlError | None:
    try:
        found_in(plain(text))
    except NotTomlError as found:
        return found
    return None


def tomllib_reads(text: str) -> bool:
    try:
        tomllib.loads(text)
    except ValueError:
        return False
    return True


def leaves(value: object, path: Place = ()) -> set[Place]:
    """The paths of all values that hold no others."""
    if isinstance(value, dict) and value:
        return {leaf for key, inner in value.items() for leaf in leaves(inner, (*path, key))}
    if isinstance(value, list) and value:
        return {leaf for at, inner in enumerate(value) for leaf in leaves(inner, (*path, at))}
    return {path} if path else set()


@together("name", SUITE["valid"])
def test_a_text_the_suite_calls_toml_is_read_and_every_value_placed(name: str) -> None:
    text = SUITE["valid"][name]
    assert mistake_in(text) is None
    places = Places(text, "a.toml")
    assert {path for path in leaves(tomllib.loads(text)) if len(path) <= 8} <= set(places.values)


@together("name", SUITE["invalid"])
def test_a_text_the_suite_calls_no_toml_is_refused_inside_it(name: str) -> None:
    text = SUITE["invalid"][name]
    found = mistake_in(text)
    assert found is not None
    assert 0 <= found.start <= len(text)
    with pytest.raises(PatternError) as caught:
        toml_table(text, "a.toml")
    assert caught.value.fact != "this file is not TOML"  # it has words of its own


def test_the_suite_is_all_there() -> None:
    assert (len(SUITE["valid"]), len(SUITE["invalid"])) == (205, 462)


def test_the_grammar_refuses_a_changed_course_exactly_when_tomllib_does() -> None:
    rng, texts = random.Random(7), [text for text in sources() if len(text) < 5000]
    tried = [mutant(rng, texts) for _ in range(600)]
    wrong = [text for text in tried if tomllib_reads(text) != (mistake_in(text) is None)]
    assert wrong == []
    read = sum(map(tomllib_reads, tried))
    assert 100 < read < 500  # both sides were asked


def test_reading_a_course_without_mistakes_needs_no_grammar() -> None:
    code = (
        "import sys; from reedmill.base.toml_text import toml_data; "
        "toml_data('a = 1', 'a.toml'); print('lark' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_what_is_said_does_not_hang_on_the_words_of_tomllib(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Another Python may say anything: only that it refuses counts."""

    def refuses(_text: str) -> None:
        raise tomllib.TOMLDecodeError("something else altogether")

    monkeypatch.setattr(tomllib, "loads", refuses)
    with pytest.raises(PatternError, match=r"a\.toml:2:5: no value can be read here"):
        toml_table("a = 1\nb = c\n", "a.toml")
