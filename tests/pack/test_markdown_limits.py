"""How long any lesson text may take to be read, and what is said of one with too much in it."""

from __future__ import annotations

import random
import time
from contextlib import suppress
from io import BufferedReader
from pathlib import Path

import pytest

from reedmill.base.errors import InputError, PatternError
from reedmill.base.reading import open_plain
from reedmill.base.text import file_slug, printable
from reedmill.pack.course import lessons as building
from reedmill.pack.course import markdown
from reedmill.pack.course.course_reading import parse_course
from reedmill.pack.course.markdown import MOST_LETTERS, read_markdown
from reedmill.pack.course.markdown_limits import MOST_BRACKETS, MOST_LINES, MOST_SIGNS

SOON_S = (
    1.2  # of the processor; an idle machine of 2020 takes 0.1 for the slowest, a shared one 0.8
)
SIGNS = "[]*_`<>&\\!"

# What CommonMark looks ahead at, or back from: CommonMark 0.31, sections 4 to 6.
CONSTRUCTS = (
    "![", "[", "*_", "a*", "*a ", "**a ", "_a_ ", "`", "`a", "`` ", "[`", "`[", "[<", "<", "<a ",
    "<!--", "<![CDATA[", "<http:", "<a@", "&", "&#1", "&amp;", "\\", "](", "[a](", "[a](<",
    '[a](b "', "[a][", "[a]: b\n", "[a]: b\n\n", '[a]: b "\n', "[a](b)", "![a](b)", "[[", "![[",
    "*[", "[\n", "a\n", "a  \n", "a\\\n", "- a\n", "- - - - - a\n", "> a\n", "> > > > > a\n",
    "> - a\n", "- > a\n", "1. a\n", "#\n", "# a\n", "a\n=\n", "a\n-\n", "    a\n", "```\n", "~~~\n",
    "***\n", "<div>\n", "|a", "|a|b\n|-|-\n", "a***", "e\u0301*", "\u0316\u0301", "\t", " ", "\n",
    "(", ")", '"', ":", "~", ">", "- ", "1. ", "> ", "# ",
)  # fmt: skip


def within_bounds(unit: str, filler: str) -> str:
    """A text of full length with as many of *unit* as are allowed, then as much *filler*."""
    number = MOST_LETTERS // len(unit)
    for most, signs in ((MOST_BRACKETS, "["), (MOST_SIGNS, "]*_`<>&\\!"), (MOST_LINES, "\n")):
        share = sum(unit.count(sign) for sign in signs)
        number = min(number, most // share) if share else number
    text = unit * number
    return (text + filler * MOST_LETTERS)[:MOST_LETTERS]


def read_for(text: str) -> float:
    """Seconds of the processor that reading takes, whatever comes of it."""
    markdown._read.cache_clear()
    began = time.process_time()
    with suppress(InputError):  # a sentence, and nothing else can come of it
        read_markdown(text)
    return time.process_time() - began


@pytest.fixture(scope="module", autouse=True)
def loaded() -> None:
    read_markdown("*once*")


@pytest.mark.parametrize("unit", CONSTRUCTS)
def test_no_construct_takes_long(unit: str) -> None:
    assert read_for((unit * MOST_LETTERS)[:MOST_LETTERS]) < SOON_S
    for filler in ("x", "]", ")", "word ", "\n"):
        assert read_for(within_bounds(unit, filler)) < SOON_S, filler


@pytest.mark.parametrize("seed", range(12))
def test_no_mixture_takes_long(seed: int) -> None:
    dice = random.Random(seed)
    signs = ["["] * MOST_BRACKETS + dice.choices("]*_`<>&\\!", k=MOST_SIGNS)
    rest = ["(", ")", " ", "a", "- ", ":", ' "', "#", "1. "]
    text = signs + dice.choices(rest, k=MOST_LETTERS // 2) + ["\n"] * (MOST_LINES - 1)
    dice.shuffle(text)
    assert read_for("".join(text)[:MOST_LETTERS]) < SOON_S


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[" * (MOST_BRACKETS + 1), "200 opening square brackets; line 1 holds one too many"),
        ("a\n" + "\n[a] ![b]" * 101, "200 opening square brackets; line 103 holds one too many"),
        ("a\n" * 1001, "1,000 lines with something on them; line 1001 holds one too many"),
        ("`*_\n" * 667, "2,000 signs of markup: * _ ` < > & ! ] and the backslash; line 667"),
    ],
)
def test_too_much_markup_is_told_with_its_line(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_markdown(text)
    assert f"a lesson's text has more than {said}" in str(caught.value)
    assert "spread the text over several lessons" in str(caught.value)


def test_a_text_with_as_much_as_is_allowed_is_read() -> None:
    assert read_markdown("[a](https://b.org) " * MOST_BRACKETS)
    assert read_markdown("word\n" * MOST_LINES)


COURSE = """\
title = "Monday"
harps = "C"
"""
LESSON = '[[lessons]]\ntitle = "One"\ntext_file = "week.md"\n'


def test_the_file_and_the_line_of_too_much_markup_are_named(tmp_path: Path) -> None:
    (tmp_path / "week.md").write_text("\n\n# Home\n\n" + "[" * 201)
    with pytest.raises(PatternError) as caught:
        parse_course(COURSE + LESSON, "monday.toml", tmp_path)
    assert caught.value.span.place == "monday.toml:5:13"
    assert '"week.md" has more than 200 opening square brackets; line 5' in caught.value.fact


def test_the_line_of_what_is_nested_too_deeply_is_named(tmp_path: Path) -> None:
    (tmp_path / "week.md").write_text("\n\nHome\n\n" + "> " * 7 + "a\n")
    with pytest.raises(PatternError) as caught:
        parse_course(COURSE + LESSON, "monday.toml", tmp_path)
    assert caught.value.span.place == "monday.toml:5:13"
    assert "more than 6 deep inside one another in line 5" in caught.value.fact


def test_a_text_that_many_lessons_name_is_read_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "week.md").write_text("*slowly* " * 900)
    opened = []

    def noted(path: Path) -> BufferedReader:
        opened.append(path)
        return open_plain(path)

    monkeypatch.setattr(building, "open_plain", noted)
    markdown._read.cache_clear()
    course = parse_course(COURSE + LESSON * 100, "monday.toml", tmp_path)
    for lesson in course.lessons:
        read_markdown(lesson.text)
    assert len(course.lessons) == 100
    assert len(opened) == 1
    assert markdown._read.cache_info().misses == 1


@pytest.mark.parametrize("marks", ["\u0316\u0301", "\u0301\u0316\u0327", "\u0344"])
def test_accents_without_end_are_made_printable_in_a_moment(marks: str) -> None:
    """To sort accents by their class, as NFC does (Unicode Annex 15), takes their square."""
    text = "a" + (marks * MOST_LETTERS)[: MOST_LETTERS - 1]
    began = time.process_time()
    printable(text)
    file_slug(text)
    assert time.process_time() - began < SOON_S


def test_accents_of_any_language_are_composed() -> None:
    """UnicodeData.txt: U+1EAD is U+1EA1 and U+0302, and U+1EA1 is a and U+0323."""
    assert printable("a\u0302\u0323" + "b") == "\u1eadb"
    assert printable("e\u0301" * 50) == "\u00e9" * 50
