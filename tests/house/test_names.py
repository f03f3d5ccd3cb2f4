"""One word for one thing: a public name has one module, and a module's name one place."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

import reedmill

PACKAGE = Path(reedmill.__file__).parent
MODULES = {path: ast.parse(path.read_text("utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}

# A name that may be defined several times, with the modules and the reason.
ALLOWED = {
    "main": (
        {
            "base/guard.py",
            "cli/__init__.py",
            "pack/run/worker.py",
            "sound/soundfont/font_process.py",
        },
        "what a program begins with, by Python's custom; each of these is started as a program",
    ),
}


def types(tree: ast.Module) -> Iterator[str]:
    """The classes of a module, and what it names a type: an alias or a type variable."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            yield from (
                each.id
                for each in targets
                if isinstance(each, ast.Name) and each.id[0].isupper() and not each.id.isupper()
            )


def functions(tree: ast.Module) -> Iterator[str]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name


def places(found: dict[str, list[str]]) -> dict[str, list[str]]:
    """Those of *found* with more places than one, without those that have a reason."""
    return {
        name: where
        for name, where in sorted(found.items())
        if len(where) > 1 and set(where) != ALLOWED.get(name, (set(), ""))[0]
    }


@pytest.mark.parametrize("names_of", [types, functions])
def test_a_public_name_is_defined_in_one_module_alone(names_of: object) -> None:
    assert callable(names_of)
    found = defaultdict(list)
    for path, tree in MODULES.items():
        for name in names_of(tree):
            if not name.startswith("_"):
                found[name].append(path.relative_to(PACKAGE).as_posix())
    assert len(found) > 100  # the definitions were found
    assert places(found) == {}, "give one of each two a name that says more"


def test_no_two_modules_have_one_name() -> None:
    found = defaultdict(list)
    for path in MODULES:
        if path.stem != "__init__":
            found[path.stem].append(path.relative_to(PACKAGE).as_posix())
    assert places(found) == {}, "say in the name of one what sets it apart"


def test_every_exception_is_still_needed() -> None:
    for name, (where, reason) in ALLOWED.items():
        defined = {
            path.relative_to(PACKAGE).as_posix()
            for path, tree in MODULES.items()
            if name in functions(tree)
        }
        assert defined == where, name
        assert reason, name


def private_names(tree: ast.Module) -> Iterator[str]:
    """What a module names for itself: functions, classes and values."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                yield from (each.id for each in ast.walk(target) if isinstance(each, ast.Name))


def test_whatever_a_module_names_for_itself_it_uses() -> None:
    dead = []
    for path, tree in MODULES.items():
        text = path.read_text("utf-8")
        for name in private_names(tree):
            alone = name.startswith("_") and not name.startswith("__")
            if alone and len(re.findall(rf"\b{name}\b", text)) == 1:
                dead.append(f"{path.relative_to(PACKAGE).as_posix()}: {name}")
    assert dead == []
