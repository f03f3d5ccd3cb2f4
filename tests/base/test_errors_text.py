"""Foreign text made harmless, and messages that point at the right spot."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill.base.errors import InputError, PatternError, ReedmillError, RenderError, close_match
from reedmill.base.source import Span
from reedmill.base.text import file_slug, printable

any_text = st.text(alphabet=st.characters(exclude_categories=()), max_size=80)

PRINTABLE = {
    # Names and categories: the Unicode character database.
    "plain": ("Home from every rung", "Home from every rung"),
    "composed to NFC": ("E\u0301tude", "\u00c9tude"),
    "flat sign kept": ("B\u266d blues", "B\u266d blues"),
    "NULL": ("a\0b", "a[U+0000]b"),
    "ESCAPE": ("\x1b[31mred", "[U+001B][31mred"),
    "DELETE": ("a\x7f", "a[U+007F]"),
    "RIGHT-TO-LEFT OVERRIDE": ("a\u202eb", "a[U+202E]b"),
    "ZERO WIDTH SPACE": ("a\u200bb", "a[U+200B]b"),
    "lone surrogate": ("a\udc80b", "a[U+DC80]b"),
    "private use": ("\ue000", "[U+E000]"),
    "unassigned": ("\u0378", "[U+0378]"),
    "above the basic plane": ("\U000e0001", "[U+E0001]"),
    "line breaks to one space": ("a\r\n\t\u2028\u2029\x85\v\fb", "a b"),
    "LilyPond signs are for the sheet to quote": ('x" #(system "y")', 'x" #(system "y")'),
    "empty": ("", ""),
}


@pytest.mark.parametrize(("text", "shown"), PRINTABLE.values(), ids=PRINTABLE)
def test_printable(text: str, shown: str) -> None:
    assert printable(text) == shown


@given(any_text)
def test_printable_text_is_readable_on_one_line_in_utf8(text: str) -> None:
    shown = printable(text)
    assert len((shown + "x").splitlines()) == 1
    # Categories as Unicode (UAX 44) groups them: C is "other", what cannot be read.
    assert not [c for c in shown if unicodedata.category(c)[0] == "C"]
    assert unicodedata.is_normalized("NFC", shown)
    shown.encode()


@given(any_text)
def test_making_text_printable_twice_changes_nothing(text: str) -> None:
    assert printable(printable(text)) == printable(text)


SLUGS = {
    "words": ("Home from every rung!", "home-from-every-rung"),
    "accents": ("\u00c9tude n\u00ba 3", "\u00e9tude-n\u00ba-3"),
    "apostrophe": ("Don't rush", "dont-rush"),
    "a path": ("../../etc/passwd", "etc-passwd"),
    "a Windows path": ("C:\\x\\..\\y", "c-x-y"),
    "an option": ("--help", "help"),
    "a shell word": ("$(touch x); `y`", "touch-x-y"),
    "a NUL": ("a\0b", "a-b"),
    "only dots": ("..", "drill-2e-2e"),
    "another script": ("\u7df4\u7fd2", "\u7df4\u7fd2"),
    "a sign that is not a letter": ("\U0001f3b5", "drill-1f3b5"),
    "a lone surrogate": ("\udc80", "drill-dc80"),
    "eight characters of the last plane": ("\U0010ffff" * 8, "drill" + "-10ffff" * 7 + "-10fff"),
    "a long title is cut": ("a" * 100, "a" * 60),
    "a cut leaves no hyphen behind": ("a" * 59 + " b", "a" * 59),
}


@pytest.mark.parametrize(("text", "name"), SLUGS.values(), ids=SLUGS)
def test_slug(text: str, name: str) -> None:
    assert file_slug(text) == name


@given(any_text.filter(bool))
def test_slugs_are_safe_file_names(text: str) -> None:
    """Letters, marks and digits of any script, no hyphen first and no dots at all."""
    name = file_slug(text)
    assert {unicodedata.category(sign)[0] for sign in name} <= {"L", "M", "N", "P"}
    assert not re.search("[^a-z0-9-]", "".join(filter(str.isascii, name)))
    assert name.strip("-") == name
    assert 1 <= len(name) <= 60


@given(any_text.filter(bool))
def test_a_slug_is_its_own_slug(text: str) -> None:
    assert file_slug(file_slug(text)) == file_slug(text)


def pattern_error(line: str, column: int, width: int = 1) -> PatternError:
    return PatternError("this is odd", "Write it so.", Span("a.drill", 7, column, width), line)


MESSAGES = {
    "the whole message": (
        PatternError(
            "hole 5 draw does not bend",
            "No note lies between.\n  Write -5.",
            Span("a.drill", 7, 16, 3),
            "  rungs  -4 -4 -5'",
        ),
        """
        a.drill:7:16: hole 5 draw does not bend
            7 |   rungs  -4 -4 -5'
              |                ^^^
          No note lies between.
          Write -5.
        """,
    ),
    "a tab takes one column": (
        pattern_error("\trungs\t-9'", 8, 3),
        """
        a.drill:7:8: this is odd
            7 |  rungs -9'
              |        ^^^
          Write it so.
        """,
    ),
    "control characters are dots": (
        pattern_error("a\x1b[31m\0 -9'", 9, 3),
        """
        a.drill:7:9: this is odd
            7 | a\u00b7[31m\u00b7 -9'
              |         ^^^
          Write it so.
        """,
    ),
    "an accent of its own does not shift the caret": (
        pattern_error("e\u0301\u0301 -9'", 5, 3),
        """
        a.drill:7:5: this is odd
            7 | e\u00b7\u00b7 -9'
              |     ^^^
          Write it so.
        """,
    ),
    # UAX 11, East Asian Width: these two are Wide, two terminal columns each.
    "wide characters take two columns": (
        pattern_error("\u7df4\u7fd2 -9'", 4, 3),
        """
        a.drill:7:4: this is odd
            7 | \u7df4\u7fd2 -9'
              |      ^^^
          Write it so.
        """,
    ),
    "a wide character under the caret": (
        pattern_error("ab\u7df4\u7fd2", 3, 2),
        """
        a.drill:7:3: this is odd
            7 | ab\u7df4\u7fd2
              |   ^^^^
          Write it so.
        """,
    ),
    "something missing at the end of the line": (
        pattern_error("rungs", 6),
        """
        a.drill:7:6: this is odd
            7 | rungs
              |      ^
          Write it so.
        """,
    ),
    "a span wider than the line": (
        pattern_error("rungs", 3, 50),
        """
        a.drill:7:3: this is odd
            7 | rungs
              |   ^^^
          Write it so.
        """,
    ),
    "no line to show": (
        pattern_error("", 1),
        """
        a.drill:7:1: this is odd
          Write it so.
        """,
    ),
    "a blank line is not shown": (
        pattern_error(" \t ", 2),
        """
        a.drill:7:2: this is odd
          Write it so.
        """,
    ),
    "nothing in a fact or a file name drives the terminal": (
        PatternError("no rung \x1b]0;x\x07", "Write \u202eit.", Span("\x1b[2J.drill", 1, 1)),
        """
        [U+001B][2J.drill:1:1: no rung [U+001B]]0;x[U+0007]
          Write [U+202E]it.
        """,
    ),
}


def unindented(block: str) -> str:
    return "\n".join(line[8:] for line in block.split("\n")[1:-1])


@pytest.mark.parametrize(("error", "message"), MESSAGES.values(), ids=MESSAGES)
def test_messages_in_full(error: PatternError, message: str) -> None:
    assert str(error) == unindented(message)


@pytest.mark.parametrize("column", [1, 60, 61, 62, 150, 290, 297])
def test_a_long_line_is_cut_around_the_caret(column: int) -> None:
    line = "".join(f"{n:<3}" for n in range(100, 199))  # 297 columns, each place unlike others
    _, shown, carets, _ = str(pattern_error(line, column, 3)).split("\n")
    assert len(shown) <= len("    7 | ") + 100
    under = "".join(c for c, mark in zip(shown.ljust(200), carets, strict=False) if mark == "^")
    assert under == line[column - 1 : column + 2]
    around = shown[len("    7 | ") :]
    assert around in line
    assert line[max(0, column - 41) : column + 2] in around  # with what stands before it


letters = st.text(alphabet=st.characters(min_codepoint=33, max_codepoint=126), min_size=1)


@given(before=st.text(alphabet="\t \0\x1b\u0301\u200bx", max_size=90), word=letters,
       after=st.text(alphabet="\t \0x\r", max_size=90))  # fmt: skip
def test_the_carets_stand_under_the_word(before: str, word: str, after: str) -> None:
    message = str(pattern_error(before + word + after, len(before) + 1, len(word)))
    _, shown, carets, _ = message.split("\n")
    under = "".join(c for c, mark in zip(shown, carets, strict=False) if mark == "^")
    assert under == word[: len(under)]
    assert under == word or len(shown) == len("    7 | ") + 100  # whole, or cut at the edge


def test_the_line_is_counted_as_the_parser_counts() -> None:
    """Only line feeds end a line; a form feed or a Unicode line separator does not."""
    text = "# one\f still one \u2028 and \x85 this\r\nsecond\r\nthird"
    error = PatternError("odd", "Fix.", Span("a", 2, 1, 6)).with_source(text)
    assert str(error) == "a:2:1: odd\n    2 | second \n      | ^^^^^^\n  Fix."


@pytest.mark.parametrize("line", [0, 4, 99])
def test_a_line_outside_the_file_is_not_shown(line: int) -> None:
    error = PatternError("odd", "Fix.", Span("a", line, 1)).with_source("one\ntwo\nthree")
    assert str(error) == f"a:{line}:1: odd\n  Fix."


def test_with_source_keeps_fact_remedy_and_place() -> None:
    error = PatternError("odd", "Fix.", Span("a", 2, 1))
    found = error.with_source("one\ntwo")
    assert (found.fact, found.remedy, found.span) == (error.fact, error.remedy, error.span)
    assert found.source_line == "two"


def test_exit_codes() -> None:
    """2 for bad input, as command-line tools use it for wrong usage; 1 for a failed render."""
    assert [e.exit_code for e in (InputError, PatternError, RenderError)] == [2, 2, 1]
    assert all(issubclass(e, ReedmillError) for e in (InputError, PatternError, RenderError))


def test_no_error_sends_control_characters_to_a_terminal() -> None:
    assert str(InputError('no harp "\x1b[2J\nC"', "Harps are C.")) == (
        'no harp "[U+001B][2J C"\nHarps are C.'
    )


@pytest.mark.parametrize(
    ("value", "hint"),
    [
        ("ancor", ' Did you mean "anchor"?'),
        ("RUNG", ' Did you mean "rung"?'),
        ("zzz", ""),
        ("", ""),
    ],
)
def test_close_match(value: str, hint: str) -> None:
    assert close_match(value, ["anchor", "rung"]) == hint


def test_close_match_of_nothing() -> None:
    assert close_match("rung", []) == ""


def test_a_span_until_another_on_its_line() -> None:
    first, last = Span("a", 3, 5, 2), Span("a", 3, 9, 4)
    assert first.until(last) == Span("a", 3, 5, 8)
    assert first.until(Span("a", 4, 9, 4)) == first
    assert first.place == "a:3:5"
