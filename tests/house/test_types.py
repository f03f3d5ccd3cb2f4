"""What has no type is counted, so that it becomes less."""

from __future__ import annotations

import ast
from dataclasses import fields
from pathlib import Path

import pytest

import reedmill
from reedmill.cli.commands import cli
from reedmill.cli.wanted import (
    BackingWanted,
    DictationWanted,
    Listening,
    Looks,
    Over,
    PackWanted,
    Playing,
    Sounds,
)

PACKAGE = Path(reedmill.__file__).parent
MOST_ANY = 120
"""Names ``Any`` in the package.  Lower it with every one that goes; most that are left belong to
libraries without types, or to JSON and TOML before they are checked."""


def any_names(tree: ast.AST) -> int:
    """How many times a module says ``Any``, without importing it."""
    return sum(isinstance(node, ast.Name) and node.id == "Any" for node in ast.walk(tree))


def test_no_more_is_without_a_type_than_there_was() -> None:
    trees = (ast.parse(path.read_text("utf-8")) for path in PACKAGE.rglob("*.py"))
    found = sum(map(any_names, trees))
    assert found <= MOST_ANY, (
        f"the package says Any {found} times, and {MOST_ANY} is the most: write a type instead"
    )


def test_no_command_takes_its_options_as_a_dictionary() -> None:
    """Only what makes commands and options of click's own passes on what click gives it."""
    loose = [
        f"{path.name}:{node.lineno}"
        for path in (PACKAGE / "cli").glob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.arg)
        and node.arg in ("options", "wanted", "playing")
        and node.annotation is not None
        and "Any" in ast.unparse(node.annotation)
    ]
    assert loose == []


@pytest.mark.parametrize(
    ("command", "groups"),
    {
        "make": (Playing, Sounds, Over, Looks),
        "expand": (Playing, Over),
        "hear": (Playing, Over, Listening),
        "roles": (Looks,),
        "backing": (BackingWanted,),
        "dictate": (Playing, DictationWanted),
        "pack": (PackWanted,),
    }.items(),
)
def test_every_field_of_what_is_asked_for_is_an_option(
    command: str, groups: tuple[type, ...]
) -> None:
    options = {each.name for each in cli.commands[command].params}
    wanted = [each.name for group in groups for each in fields(group)]
    assert set(wanted) <= options
    assert len(wanted) == len(set(wanted))
