"""A docstring's first line makes sense to a reader who has not seen the caller.

A function's begins with a verb in the imperative (PEP 257), because the line says what calling it
does; that of a class, module or property names a thing.  Words of a closed class (articles,
pronouns, question words, prepositions, conjunctions) are few and known, so they can be listed
here: no imperative begins with one, and a thing that is named by a pronoun or a question word is
known only to whoever wrote the caller.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

import reedmill
from reedmill import api

PACKAGE = Path(reedmill.__file__).parent

# Pronouns, question and relative words: what they stand for is said elsewhere, if at all.
RIDDLES = """
anybody anything as because either everybody everything he here his how i if it its
neither nobody none nothing she so somebody something that their them then there these
they this those what whatever when where whether which whichever while who whoever
whom whose why you your
"""
# Articles and what stands in their place, prepositions and truth values: a thing's name begins so.
OF_THINGS = """
a after all an and another any at before below between both but by each every false
few for from in into many most much no of on one or other our over several some such
the to true two under until up with without
"""


@dataclass(frozen=True)
class FirstLine:
    """The first line of one docstring, and what it is of."""

    where: str  # module.py:line name
    text: str
    of_function: bool

    @property
    def word(self) -> str:
        """Its first word in lower case; nothing where it begins with a sign."""
        found = re.match(r"[A-Za-z]+", self.text)
        return found[0].lower() if found else ""


def is_help(node: ast.AST) -> bool:
    """True for a command, whose docstring is its help text."""
    decorators = [ast.unparse(each) for each in getattr(node, "decorator_list", [])]
    return any(re.search(r"\.(command|group)\(", each) for each in decorators)


def is_property(node: ast.AST) -> bool:
    decorators = [ast.unparse(each) for each in getattr(node, "decorator_list", [])]
    return any(each.endswith("property") for each in decorators)


def first_lines() -> Iterator[FirstLine]:
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) or is_help(node):
                continue
            said = ast.get_docstring(node)
            if said is not None:
                line, name = getattr(node, "lineno", 1), getattr(node, "name", "the module")
                function = isinstance(node, ast.FunctionDef) and not is_property(node)
                yield FirstLine(f"{module}:{line} {name}", said.split("\n")[0], function)


LINES = tuple(first_lines())


def wrong(lines: Iterator[FirstLine]) -> list[str]:
    return [f"{each.where}: {each.text}" for each in lines]


def test_the_docstrings_were_found() -> None:
    assert sum(each.of_function for each in LINES) > 1000
    assert sum(not each.of_function for each in LINES) > 500


def test_a_first_line_is_one_whole_sentence() -> None:
    """It ends on its line with a full stop, and has no second sentence on it."""
    assert not wrong(
        each
        for each in LINES
        if not each.text.endswith((".", "...")) or re.search(r"[a-z`*)]\.\s+[A-Z`*]", each.text)
    ), "say one thing first, in a sentence that fits its line; the rest goes below"


def test_a_function_says_what_it_does_with_a_verb_first() -> None:
    """No article begins it, and no third person or plural: these end in s, imperatives in ss."""
    assert not wrong(
        each
        for each in LINES
        if each.of_function
        and (
            each.word in (RIDDLES + OF_THINGS).split()
            or not each.word
            or (each.word.endswith("s") and not each.word.endswith("ss"))
        )
    ), "begin with a verb: Return, Draw, Refuse"


def test_a_thing_is_named_and_not_asked_for() -> None:
    assert not wrong(
        each for each in LINES if not each.of_function and each.word in RIDDLES.split()
    ), "name the thing in the words of music or engineering"


@pytest.mark.parametrize("name", api.__all__)
def test_what_other_programs_may_use_is_there_and_documented(name: str) -> None:
    """Python finds each name of ``__all__``, those included that are imported on first use."""
    found = getattr(api, name)
    assert (type(found) if not callable(found) else found).__doc__
