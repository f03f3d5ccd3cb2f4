"""The tests of the tests: what tests/mutation leaves out, it leaves out for a reason."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

from wrong_programs import ROOT, wrong_expressions

EQUIVALENT = ROOT / "tests/mutation/equivalent.toml"
ROWS = tomllib.loads(EQUIVALENT.read_text("utf-8"))["change"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["file"])
def test_a_change_that_is_not_counted_can_be_made_and_has_a_reason(row: dict[str, str]) -> None:
    source = Path(ROOT, "generator/reedmill", row["file"]).read_text("utf-8")
    assert row["before"] in [line.strip() for line in source.splitlines()]
    assert row["before"] != row["after"]
    assert len(row["reason"].split()) > 3


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("a < b", {"a <= b", "a > b"}),
        ("a == b", {"a != b"}),
        ("a + b", {"a - b"}),
        ("a and b", {"a or b"}),
        ("not a", {"a"}),
        ("True", {"False"}),
        ("7", {"8"}),
        ("f'{a + 7}'", set()),  # texts are left alone
        ("a", set()),
    ],
)
def test_what_is_made_wrong(right: str, wrong: set[str]) -> None:
    assert {text for _, text in wrong_expressions(ast.parse(right))} == wrong
