"""Pattern text to drills: read, decode, parse with Lark, carry out ``from``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

from lark import Lark, Token

from reedmill.base.errors import PatternError
from reedmill.base.gathering import is_gathering, with_sources
from reedmill.base.kinds import DRILL
from reedmill.base.reading import decoded, read_bytes
from reedmill.base.source import Span
from reedmill.language.builder import Builder
from reedmill.language.derive import derive_all
from reedmill.language.drill import Drill
from reedmill.language.mistakes import drill_mistake
from reedmill.language.recovery import read_drills, recovered_drills
from reedmill.language.words import MAX_FILE_BYTES, MAX_FILE_NOTES


def parse(text: str, name: str = "pattern", library: tuple[Drill, ...] = ()) -> tuple[Drill, ...]:
    r"""The drills written in *text*, in order, with every ``from`` carried out.

    *name* stands in error messages for the file; *library* holds finished drills that
    ``from`` may name besides those of the text.

    Raises ``PatternError`` for anything that is not a drill.

    >>> [drill] = parse('drill "Home"\n anchor -2\n rungs -3 -3\'\n phrase anchor rung')
    >>> drill.title, drill.anchor.reed.tab, [item.reed.tab for item in drill.rungs]
    ('Home', '-2', ['-3', "-3'"])
    """
    return parse_together({name: text}, library)


def parse_together(texts: dict[str, str], library: tuple[Drill, ...] = ()) -> tuple[Drill, ...]:
    """The drills of several files that may derive from each other; keys are file names."""
    try:
        drills = [drill for name, text in texts.items() for drill in drills_as_written(text, name)]
        return derive_all(drills, library, max(MAX_FILE_NOTES, sum(map(len, texts.values()))))
    except PatternError as error:
        raise error.with_source(texts.get(error.span.file, "")) from None
    finally:
        with_sources(texts)


def parse_file(path: Path, library: tuple[Drill, ...] = ()) -> tuple[Drill, ...]:
    """The drills in the file at *path*; errors as ``parse``, and for a file not to be read."""
    return parse(read_pattern(path), str(path), library)


def read_pattern(path: Path, kinds: Sequence[str] = (DRILL,)) -> str:
    """The text of a pattern file; errors as ``pattern_bytes``, and for what is not UTF-8."""
    return decoded(pattern_bytes(path, kinds), str(path))


def pattern_bytes(path: Path, kinds: Sequence[str] = (DRILL,)) -> bytes:
    """What is in a pattern file, one of *kinds*.

    ``InputError`` when it is too large, cannot be read, or is plainly something else.
    """
    return read_bytes(path, MAX_FILE_BYTES, kinds=kinds)


def drills_as_written(text: str, name: str) -> list[Drill]:
    """The drills of *text* as they stand, before ``from``; errors come without their line.

    Where mistakes are gathered, what is right of a text is read all the same.
    """
    try:
        drills = read_drills(_parser(), text, name)
    except PatternError:
        if not is_gathering():
            raise
        return [
            replace(each, texts={name: text}) for each in recovered_drills(_parser(), text, name)
        ]
    if not drills:
        raise drill_mistake("no-drill", Span(name, 1, 1))
    return [replace(drill, texts={name: text}) for drill in drills]


def tokens(text: str) -> list[Token]:
    """The words and signs of *text*, already read whole; line ends have type ``_NL``."""
    return list(_parser().parse_interactive(text + "\n").exhaust_lexer())


def signs() -> dict[str, str]:
    """The regular expression of each kind of token, by its name in the grammar."""
    return {each.name: each.pattern.to_regexp() for each in _parser().terminals}


@cache
def _parser() -> Lark:
    """A parser that builds drills as it reads, so that no depth of brackets can overflow."""
    grammar = files("reedmill.language").joinpath("grammar.lark").read_text("utf-8")
    return Lark(grammar, parser="lalr", transformer=Builder(), maybe_placeholders=False)
