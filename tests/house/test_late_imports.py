"""An import inside a function has its reason: here, for what many wait with, or on its line."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

import reedmill

PACKAGE = Path(reedmill.__file__).parent

HEAVY = {
    "av": "an extra that few have",
    "distributed": "an extra that few have",
    "fluidsynth": "an extra that few have, and it loads a library of the system",
    "fontTools": "asked only about letters that LilyPond's own fonts lack",
    "jinja2": "only a pack has pages for a browser",
    "lark": "46 ms, and most TOML files are read without a grammar",
    "lilypond": "need not be there: another LilyPond may be",
    "markdown_it": "only a course has texts",
    "music21": "an extra that few have",
    "mutagen": "only FLAC, OGG and MP3 need it",
    "pypdf": "only the books of a pack are put together of several PDFs",
    "soundfile": "loads libsndfile, which WAV does without",
    "reedmill.ear": "reads NumPy: only hearing needs it",
    "reedmill.sheet": "reads abjad, and looks for fonts: only pages need it",
    "reedmill.sound": "reads NumPy: only sound needs it",
    "reedmill.pack.course": "reads pydantic: only courses need it",
    "reedmill.pack.pages": "reads the rooms of the sheet, or pypdf: only what draws needs it",
}
"""What is imported late wherever it is: packages and rooms, and why whoever needs it waits."""

WAITING = {
    "cli": "a command's help, and the shell's completion, are to be there at once: "
    "all else waits until the command is run",
}
"""Rooms that wait with everything."""


@dataclass(frozen=True)
class Late:
    """An import inside a function."""

    file: str  # below the package
    line: int
    target: str
    said: bool  # with a comment after it
    again: bool  # the module imports it at the top as well

    @property
    def excused(self) -> bool:
        """Whether its reason stands anywhere."""
        waits = any(self.file.startswith(f"{room}/") for room in WAITING)
        heavy = any(f"{self.target}.".startswith(f"{name}.") for name in HEAVY)
        return not self.again and (self.said or waits or heavy)


def late_imports() -> Iterator[Late]:
    for path in sorted(PACKAGE.rglob("*.py")):
        yield from late_in(path.read_text("utf-8"), path.relative_to(PACKAGE).as_posix())


def late_in(text: str, file: str) -> Iterator[Late]:
    tree, lines = ast.parse(text), text.splitlines()
    top = {name for each in tree.body for name in targets(each)}
    functions = (each for each in ast.walk(tree) if isinstance(each, ast.FunctionDef))
    found = {each for function in functions for each in ast.walk(function)}
    for each in sorted(found, key=lambda node: getattr(node, "lineno", 0)):
        for target in targets(each):
            assert isinstance(each, ast.stmt)
            said = "  # " in lines[(each.end_lineno or each.lineno) - 1].replace("# noqa", "")
            yield Late(file, each.lineno, target, said, target in top)


def targets(statement: ast.AST) -> list[str]:
    """The modules an import statement names; none for any other."""
    if isinstance(statement, ast.ImportFrom):
        return [statement.module or ""]
    return [each.name for each in statement.names] if isinstance(statement, ast.Import) else []


def test_no_import_is_late_without_its_reason() -> None:
    unexcused = [each for each in late_imports() if not each.excused]
    assert [f"{each.file}:{each.line} imports {each.target} late" for each in unexcused] == [], (
        "move it to the top, or say after it why it waits"
    )


def test_every_reason_is_one_that_something_needs() -> None:
    late = list(late_imports())
    for name in HEAVY:
        assert any(f"{each.target}.".startswith(f"{name}.") for each in late), name
    for room in WAITING:
        assert any(each.file.startswith(f"{room}/") for each in late), room


@pytest.mark.parametrize(
    ("text", "excused"),
    [
        ("def f():\n    import json", False),
        ("def f():\n    import json  # slow to import", True),
        ("def f():\n    import json  # noqa: F401", False),
        ("def f():\n    import mutagen.flac", True),
        ("def f():\n    import mutagenic", False),
        ("def f():\n    if f:\n        from reedmill.sheet.page import pages", True),
        ("import mutagen\ndef f():\n    import mutagen", False),
        (
            "class C:\n    def f(self):\n        from json import (\n dumps,\n )",
            False,
        ),
    ],
)
def test_a_late_import_is_excused_by_the_table_or_by_its_own_line(text: str, excused: bool) -> None:
    assert [each.excused for each in late_in(text, "make/some.py")] == [excused]
