"""Text of strangers in what we write: escaped at every place where it joins markup of ours.

``ForeignText`` says of a field that a stranger wrote it, and mypy that nothing gets into such a
field but what ``printable`` made.  mypy does not look into f-strings, so the places where markup
is put together are looked at here, by the names of these fields.  Words alone (``"title · C
harp"``) may be joined anywhere: whatever draws them escapes the whole.
"""

from __future__ import annotations

import ast
import re
import typing
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

import reedmill
from reedmill.base.text import ForeignText
from reedmill.harp import Layout
from reedmill.language import Drill
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Score

PACKAGE = Path(reedmill.__file__).parent
_MARKUP = re.compile(r'[\\<>{}"#&]')  # of LilyPond, XML and HTML; and quotes of JSON
# What makes text fit for the markup around it.
ESCAPES = {
    "quoted", "named", "wrapped", "small", "one_line",  # sheet.markup, for LilyPond
    "escape", "printable", "slug", "left_out",
}  # fmt: skip
COURSE = {"goal", "note", "author"}  # of chapters and fronts, whose models make them printable


def holds_foreign(hint: Any) -> bool:
    return hint is ForeignText or any(map(holds_foreign, typing.get_args(hint)))


def foreign_fields() -> set[str]:
    return {
        each.name
        for record in (Score, Arrangement, Drill)
        for each in fields(record)
        if holds_foreign(typing.get_type_hints(record)[each.name])
    }


def unescaped(node: ast.AST, names: set[str]) -> Iterator[str]:
    """The fields of these *names* in *node* that nothing there escapes."""
    if isinstance(node, ast.Call):
        called = ast.unparse(node.func).rpartition(".")[2]
        if called in ESCAPES:
            return
    if isinstance(node, ast.Attribute) and node.attr in names:
        yield ast.unparse(node)
    for inner in ast.iter_child_nodes(node):
        yield from unescaped(inner, names)


def leaks(source: str, names: set[str]) -> list[str]:
    """The foreign fields that *source* puts into markup as they are."""
    return [
        f"line {joined.lineno}: {field}"
        for joined in ast.walk(ast.parse(source))
        if isinstance(joined, ast.JoinedStr)
        and any(isinstance(each, ast.Constant) and _MARKUP.search(str(each.value))
                for each in joined.values)
        for each in joined.values
        if isinstance(each, ast.FormattedValue)
        for field in unescaped(each.value, names)
    ]  # fmt: skip


def test_the_fields_of_strangers_say_so() -> None:
    assert foreign_fields() == {"title", "about", "listen", "sections", "form", "feel"}
    assert holds_foreign(typing.get_type_hints(Layout)["name"])


@pytest.mark.parametrize(
    "source",
    [
        'f"\\\\markup {score.title}"',
        "f'<p>{each.about}</p>'",
        "f'\\\\bold {sized(2, band.form)}'",
        "f'#(set! x {score.listen.upper()})'",
    ],
)
def test_a_field_that_stands_in_markup_as_it_is_gets_found(source: str) -> None:
    assert len(leaks(source, foreign_fields())) == 1
    assert leaks(source.replace("{", "{quoted(").replace("}", ")}"), foreign_fields()) == []


WRITING = ("sheet", "formats", "sound.signal", "pack.pages", "pack.site")


@pytest.mark.parametrize("room", WRITING)
def test_no_page_and_no_file_has_a_field_of_a_stranger_as_it_is(room: str) -> None:
    names = foreign_fields() - {"feel"}  # Score.feel is a word of ours
    names |= COURSE if room.startswith("pack") else set()
    folder = PACKAGE.joinpath(*room.split("."))
    found = {path.name: leaks(path.read_text("utf-8"), names) for path in folder.rglob("*.py")}
    assert found
    for module, those in found.items():
        assert not those, (
            f"{module} puts text of a stranger into markup as it is ({'; '.join(those)}). Put it "
            "through quoted or named for LilyPond, html.escape for HTML"
        )
