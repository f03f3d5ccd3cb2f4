"""Pattern text to drills: read, decode, parse with Lark, carry out ``from``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from lark import Lark, Token

from reedmill.base.errors import PatternError
from reedmill.base.gathering import is_gathering, with_sources
from reedmill.base.grammar_tables import parser_of
from reedmill.base.kinds import DRILL
from reedmill.base.reading import decoded, read_bytes
from reedmill.base.source import Span
from reedmill.language.builder import Builder
from reedmill.language.derive import derive_all
from reedmill.language.drill import Drill
from reedmill.language.mistakes import drill_mistake
from reedmill.language.recovery import read_drills, recovered_drills
from reedmill.language.words import MAX_FILE_BYTES, MAX_FILE_NOTES


def parse(text: str, name: str = "pattern", library: Iterable[Drill] = ()) -> tuple[Drill, ...]:
    r"""Parse the drills in *text*, in order, with every ``from`` carried out.

    *name* stands in error messages for the file; *library* holds finished drills that
    ``from`` may name besides those of the text.

    Raises ``PatternError`` for anything that is not a drill.

    >>> [drill] = parse('drill "Home"\n anchor -2\n rungs -3 -3\'\n phrase anchor rung')
    >>> drill.title, drill.anchor.reed.tab, [item.reed.tab for item in drill.rungs]
    ('Home', '-2', ['-3', "-3'"])
    """
    return parse_together({name: text}, library)


def parse_together(texts: dict[str, str], library: Iterable[Drill] = ()) -> tuple[Drill, ...]:
    """Parse the drills of several files that may derive from each other; keys are names.

    ``PatternError`` as ``parse``, with the file it is in.
    """
    try:
        drills = [drill for name, text in texts.items() for drill in drills_as_written(text, name)]
        return derive_all(drills, library, max(MAX_FILE_NOTES, sum(map(len, texts.values()))))
    except PatternError as error:
        raise error.with_source(texts.get(error.span.file, "")) from None
    finally:
        with_sources(texts)


def parse_file(path: Path, library: Iterable[Drill] = ()) -> tuple[Drill, ...]:
    """Parse the drills in the file at *path*; errors as ``parse``, or if it is unreadable.

    ``PatternError`` and ``InputError``, each with what to write instead.
    """
    return parse(read_pattern(path), str(path), library)


def read_pattern(path: Path, kinds: Sequence[str] = (DRILL,)) -> str:
    """Return the text of a pattern file; errors as ``pattern_bytes``, or if not UTF-8."""
    return decoded(pattern_bytes(path, kinds), str(path))


def pattern_bytes(path: Path, kinds: Sequence[str] = (DRILL,)) -> bytes:
    """Return the bytes of a pattern file, one of *kinds*.

    ``InputError`` when it is too large, cannot be read, or is plainly something else.
    """
    return read_bytes(path, MAX_FILE_BYTES, kinds=kinds)


def drills_as_written(text: str, name: str) -> list[Drill]:
    """Parse the drills of *text* as written, before ``from``; errors lack their line.

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
    """Return the tokens of *text*, already read whole; line ends have type ``_NL``."""
    return list(_parser().parse_interactive(text + "\n").exhaust_lexer())


def signs() -> dict[str, str]:
    """Return the regular expression of each kind of token, by its name in the grammar."""
    return {each.name: each.pattern.to_regexp() for each in _parser().terminals}


@cache
def _parser() -> Lark:
    """Return a parser that builds as it reads, so that no depth of brackets overflows."""
    return parser_of("reedmill.language", Builder())
