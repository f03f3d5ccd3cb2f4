"""The table of mistakes: each example makes its own mistake, and the cure cures it."""

from __future__ import annotations

import ast
import runpy
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import reedmill
from broken_drills import MESSAGES, VARIANTS
from reedmill.base import reading
from reedmill.base.errors import PatternError
from reedmill.base.reading import decoded
from reedmill.base.source import Span
from reedmill.cli.command_remedies import COMMAND_LINE
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.language.mistakes import CHAPTERS, MISTAKES, Mistake, drill_mistake, page
from reedmill.language.words import DIRECTIONS, LINES, ROLES, TOPICS
from reedmill.theory.positions import Position
from together import together

PACKAGE = Path(reedmill.__file__).parent
ROOT = PACKAGE.parents[1]
SOURCES = [
    path
    for folder in ("language", "expand")
    for path in sorted((PACKAGE / folder).glob("*.py"))
    if path.name != "mistakes.py"
]
HOLES = PACKAGE / "harp" / "together.py"  # which knows what one breath can do

all_mistakes = together("row", MISTAKES.values())
every_mistake = pytest.mark.parametrize("row", MISTAKES.values(), ids=MISTAKES)


def played(raw: bytes, row: Mistake) -> int:
    """How many notes the file *raw* makes on the row's harp."""
    drills = parse(decoded(raw, "mine.drill"), "mine.drill")
    harp = Harp("C", layout=row.layout)
    return sum(len(expand(drill, harp, Position(2)).notes) for drill in drills)


def refusal(row: Mistake) -> PatternError:
    with pytest.raises(PatternError) as caught:
        played(row.broken.encode(row.encoding), row)
    return caught.value


@all_mistakes
def test_the_example_makes_its_own_mistake(row: Mistake) -> None:
    assert refusal(row).key == row.key


@all_mistakes
def test_the_message_is_the_one_that_was_read_aloud(row: Mistake) -> None:
    told = refusal(row).worded(COMMAND_LINE)
    assert str(told) == MESSAGES[row.key].strip("\n")


@all_mistakes
def test_the_place_lies_in_the_example(row: Mistake) -> None:
    span = refusal(row).span
    line = row.broken.split("\n")[span.line - 1]
    assert 1 <= span.column <= len(line) + 1  # just behind the end where something is missing
    assert span.column + span.width <= len(line) + 2


@all_mistakes
def test_a_caret_stands_under_the_place(row: Mistake) -> None:
    error = refusal(row)
    if row.broken and row.encoding == "utf-8":  # else there is no line to show
        shown, carets = str(error).split("\n")[1:3]
        assert set(carets.replace("|", "").strip()) == {"^"}
        assert shown.partition(" | ")[2].rstrip() in row.broken.replace("\0", "\N{MIDDLE DOT}")


@every_mistake
def test_the_cure_makes_something_to_play(row: Mistake) -> None:
    assert row.mended != row.broken
    assert played(row.mended.encode(), row) > 0


def test_a_message_is_pinned_for_every_row() -> None:
    assert list(MESSAGES) == list(MISTAKES)


def test_keys_and_labels_are_unique() -> None:
    rows = [row for chapter in CHAPTERS.values() for row in chapter]
    assert len({row.key for row in rows}) == len(rows)
    labels = [row.label for row in rows] + [label for label, _, _ in VARIANTS]
    assert len(set(labels)) == len(labels)


def test_every_key_is_used_and_every_used_key_is_in_the_table() -> None:
    # by hand: the texts of the syntax tree, whatever the layout of the code is
    words = {
        node.value
        for path in (*SOURCES, HOLES, Path(reading.__file__))  # which says what is not text at all
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert set(MISTAKES) <= words
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "mistake":
                key = node.args[0]
                if isinstance(key, ast.Constant):
                    assert key.value in MISTAKES, f"{path.name}:{node.lineno}"


def test_every_error_of_the_language_comes_from_the_table() -> None:
    outside = [
        f"{path.name}:{node.lineno}"
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "PatternError"
    ]
    assert outside == []


@given(st.text(max_size=40))
def test_what_a_stranger_wrote_is_never_a_template(word: str) -> None:
    error = drill_mistake("unknown-parent", Span("a", 1, 1), title=word, hint="")
    assert error.fact == 'there is no drill called "' + word + '".'


@pytest.mark.parametrize("word", ["{0}", "{title.__class__}", "{", "%s"])
def test_braces_in_a_title_are_shown_as_they_are(word: str) -> None:
    with pytest.raises(PatternError) as caught:
        parse(f'drill "Child"\n  from "{word}"\n')
    assert f'"{word}"' in str(caught.value)


def test_every_word_of_a_line_is_listed_once_where_a_line_is_unknown() -> None:
    named = [word.name for words in TOPICS.values() for word in words]
    assert sorted(named) == sorted(LINES)
    assert len(set(named)) == len(named)
    said = str(drill_mistake("unknown-line", Span("a", 1, 1), word="jump")).split()
    assert all(said.count(name) == 1 for name in LINES if name not in {"drill", "for"})


def test_no_word_means_two_things_in_one_place() -> None:
    assert not set(ROLES) & set(DIRECTIONS)
    assert not (set(DIRECTIONS) | {"r", "root"}) & set(LINES)


# --- the page ---------------------------------------------------------------------------


def test_the_page_of_mistakes_is_current() -> None:
    """When this fails, run scripts/language_pages."""
    pages = runpy.run_path(str(ROOT / "scripts" / "language_pages"))["pages"]()
    assert (ROOT / "patterns" / "MISTAKES.md").read_bytes() == pages["MISTAKES.md"].encode()


def test_the_page_shows_every_label_and_message() -> None:
    text = (ROOT / "patterns" / "MISTAKES.md").read_text("utf-8")
    headings = {line[4:].lower() for line in text.splitlines() if line.startswith("### ")}
    assert headings == {row.label.lower() for row in MISTAKES.values()}
    missing = [key for key, said in MESSAGES.items() if said.strip("\n").split("\n")[0] not in text]
    assert missing == []


def test_the_page_holds_no_character_that_cannot_be_read() -> None:
    text = (ROOT / "patterns" / "MISTAKES.md").read_text("utf-8")
    assert [c for c in text if not c.isprintable() and c != "\n"] == []


def test_the_harp_that_has_no_root_has_two_notes_alone() -> None:
    """A C harp of C and D has no G, the root of cross harp."""
    layout = MISTAKES["no-root"].layout
    assert layout.naturals == {0, 2}
    assert all(draw - blow == 2 for blow, draw in zip(layout.blow, layout.draw, strict=True))


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("a\n" * 8, "a\n" * 8),
        ("a\n" * 9, "a\n" * 6 + "...\n"),
        ("a" * 130, "a" * 130 + "\n"),
        ("a" * 131, "a" * 127 + "...\n"),
        ("a\x07b", "a\u00b7b\n"),
    ],
)
def test_the_page_of_mistakes_shows_eight_lines_of_130_characters_at_most(
    said: str, shown: str
) -> None:
    """Else the first six and the beginning, with dots; a sign that cannot be printed is a dot."""
    made = page(lambda _: said)
    assert made.count(f"```text\n{shown}```\n") >= len(MISTAKES)
