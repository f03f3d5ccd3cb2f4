"""Foreign text in the pages' templates: whatever it is, and wherever it stands, it stays text.

Outside fact: HTML Living Standard (WHATWG), 13.1.4 character references: a less-than sign and
quotes that are written as references begin no tag and end no attribute.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import jinja2
import pytest
from lxml import html
from markupsafe import Markup

import reedmill
from reedmill.pack.course.markdown import read_markdown
from reedmill.pack.pages.chapter import Chapter, Exercise, Front
from reedmill.pack.site import templating
from reedmill.pack.site.hypertext import blocks_html
from reedmill.pack.site.index_page import Site, index_view
from reedmill.pack.site.lesson import Fact
from reedmill.pack.site.manifest import PackFile
from reedmill.pack.site.students import BookView, StudentView, TopView
from reedmill.pack.steps import versions
from together import together

PACKAGE = Path(reedmill.__file__).parent
HOSTILE = "--></style></script></title>\"'><b onclick=alert(1)>&amp;{{ 7*7 }}{% raw %}"

Step = str | int

TEXT = """\
# A heading

**Bold** and *slanted* `code`, [a page](https://example.org/) and [up](#a-heading).

3. three
4. four

> said

```
-2 -3
```
"""


def filed(path: str, kind: str, **more: Any) -> PackFile:
    return PackFile(path, kind, 1000, **more)


@cache
def index() -> object:
    """A page on which everything stands that can stand on one."""
    row: dict[str, Any] = {"lesson": 1, "exercise": "one"}
    exercise = Exercise("one", "One", "C", 2, "G", 60, note="n", about="a", embouchure="lips")
    other = Exercise("two", "Two", "A", 2, "E", 60)
    files = (
        filed("book.pdf", "book"),
        filed("all.m3u8", "playlist"),
        filed("one/lesson.m3u8", "playlist", lesson=1),
        filed("one/chart.pdf", "role-chart", lesson=1, harp="C"),
        filed("one/sheet-1.png", "sheet-png", width=10, height=20, **row),
        filed("one/sheet-2.png", "sheet-png", width=10, height=20, **row),
        filed("one/sheet.pdf", "sheet-pdf", **row),
        filed("one/mix.flac", "audio", stem="mix", seconds=61.0, **row),
        filed("one/mix.wav", "audio", stem="mix", seconds=61.0, **row),
    )
    chapter = Chapter(1, "First", "goal", TEXT, (exercise, other))
    front = Front("Course", "about", "author", "student", ("C", "A"), 1)
    return index_view(Site(front, (chapter,), files))


STUDENTS = TopView(
    "Course", "about", "author", [Fact("Lessons", "2")],
    [
        StudentView("Ada", "Ada", "ada/index.html", [Fact("Harps", "C")], [BookView("B", "b.pdf")]),
        StudentView("Everyone", "everyone", "", [], [BookView("B", "b.pdf")]),
    ],
)  # fmt: skip
PAGES = {"index.html": index(), "students.html": STUDENTS}


def inside(value: object) -> Iterator[tuple[Step, object]]:
    if is_dataclass(value):
        yield from ((each.name, getattr(value, each.name)) for each in fields(value))
    elif isinstance(value, list | tuple):
        yield from enumerate(value)


def texts(value: object, path: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    """Where in *value* foreign text can stand: every string but finished HTML."""
    if isinstance(value, str) and not isinstance(value, Markup):
        yield path
    for step, inner in inside(value):
        yield from texts(inner, (*path, step))


def changed(value: Any, path: tuple[Step, ...], text: str) -> Any:
    """*value* with *text* at *path*."""
    if not path:
        return text
    step, *rest = path
    if isinstance(step, str):
        return replace(value, **{step: changed(getattr(value, step), tuple(rest), text)})
    new = [changed(e, tuple(rest), text) if at == step else e for at, e in enumerate(value)]
    return type(value)(new)


FIELDS = [(name, path) for name, page in PAGES.items() for path in texts(page)]


def check(written: str, harmless: str) -> None:
    """The hostile text is in *written* as text, and no element or attribute came with it."""
    assert HOSTILE not in written
    assert HOSTILE in unescape(written)
    new, old = html.document_fromstring(written), html.document_fromstring(harmless)
    assert [each.tag for each in new.iter()] == [each.tag for each in old.iter()]
    assert not new.xpath("//@onclick")


def test_every_kind_of_text_on_the_pages_is_tried() -> None:
    named = {(page, *(step for step in path if isinstance(step, str))) for page, path in FIELDS}
    assert {
        ("index.html", "title"), ("index.html", "facts", "value"),
        ("index.html", "choices", "value"), ("index.html", "playlists", "address"),
        ("index.html", "lessons", "goal"), ("index.html", "lessons", "exercises", "note"),
        ("index.html", "lessons", "exercises", "players", "label"),
        ("index.html", "lessons", "exercises", "players", "sources", "address"),
        ("index.html", "lessons", "exercises", "pictures", "words"),
        ("students.html", "students", "name"), ("students.html", "students", "books", "address"),
    } <= named  # fmt: skip


@together(("template", "path"), FIELDS)
def test_hostile_text_stays_text_wherever_it_stands(template: str, path: tuple[Step, ...]) -> None:
    hostile, harmless = (changed(PAGES[template], path, text) for text in (HOSTILE, "words"))
    check(*(templating.rendered(template, page).decode() for page in (hostile, harmless)))


BLOCKS = read_markdown(TEXT)


@together("path", list(texts(BLOCKS)))
def test_hostile_text_stays_text_in_a_lesson(path: tuple[Step, ...]) -> None:
    hostile, harmless = (changed(BLOCKS, path, text) for text in (HOSTILE, "words"))
    check(*(blocks_html(blocks, prefix="p", level=3) for blocks in (hostile, harmless)))


def test_a_name_that_nobody_gives_is_an_error_and_not_nothing() -> None:
    with pytest.raises(jinja2.UndefinedError):
        templating.rendered("students.html", object())


# --- who may let text through as it is ----------------------------------------------------

# The tags around a lesson's text, the styles and scripts of this package, data as JSON, and the
# pictures of a page, whose numbers and names are written by this package.
UNESCAPED = {
    "pack/site/hypertext.py", "pack/site/templating.py", "page/practice_page.py",
    "page/page_music.py", "record_pages/record_frame.py",
}  # fmt: skip


def test_few_modules_can_call_text_finished_html() -> None:
    found = set()
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom | ast.Import) and "markupsafe" in ast.unparse(node):
                found.add(path.relative_to(PACKAGE).as_posix())
    # The last names the type of a lesson's text and makes none.
    assert found == UNESCAPED | {"pack/site/lesson.py"}
    lesson = ast.parse((PACKAGE / "pack/site/lesson.py").read_text("utf-8"))
    assert "Markup" not in {
        ast.unparse(node.func) for node in ast.walk(lesson) if isinstance(node, ast.Call)
    }


def test_finished_html_is_made_of_our_own_words_alone() -> None:
    tree = ast.parse((PACKAGE / "pack/site/hypertext.py").read_text("utf-8"))
    calls = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "Markup"
    ]
    assert len(calls) > 10
    for call in calls:
        assert [type(each) for each in call.args] == [ast.Constant]


def test_no_template_lets_text_through_unescaped() -> None:
    folders = ("pack/site/templates", "record_pages/templates")
    templates = [path for folder in folders for path in sorted((PACKAGE / folder).iterdir())]
    assert len(templates) == 9
    for path in templates:
        assert path.suffix == ".html"
        tree = jinja2.Environment(autoescape=True).parse(path.read_text("utf-8"))
        used = {each.name for each in tree.find_all(jinja2.nodes.Filter)}
        assert used <= {"length", "list", "selectattr"}  # none that touches a text
        assert not list(tree.find_all(jinja2.nodes.ScopedEvalContextModifier))  # autoescape off
        assert not list(tree.find_all(jinja2.nodes.MarkSafe))


def test_a_changed_template_makes_a_pack_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = tmp_path / "generator/reedmill/pack/site/templates/index.html"
    page.parent.mkdir(parents=True)
    monkeypatch.setattr(versions, "PACKAGE", tmp_path / "generator/reedmill")
    seen = set()
    for words in ("Skip to the lessons", "Go to the lessons"):
        page.write_text(words, "utf-8")
        seen.add(versions.everything_version.__wrapped__())
    assert len(seen) == 2
