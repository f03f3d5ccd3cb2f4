"""One word for one thing, in all that a player reads; and what NOTICE says of licences is so.

The words that were given up stand here beside the ones that took their place (docs/GLOSSARY.md).
A string of the program counts as read by a player when it has a space in it and is not a docstring;
the docstrings of commands are their help texts.
"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pytest

import reedmill
from reedmill.formats import schemas
from reedmill.sound.soundfont.player import default_soundfont

ROOT = Path(__file__).parents[2]
PACKAGE = Path(reedmill.__file__).parent
GLOSSARY = (ROOT / "docs" / "GLOSSARY.md").read_text("utf-8")
NOTICE = " ".join((ROOT / "NOTICE").read_text("utf-8").split())
TEXTS = (
    *ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md"), *(ROOT / "patterns").glob("*.md"),
    *(ROOT / "courses").iterdir(), *(ROOT / "patterns").rglob("*.drill"),
    *(ROOT / "patterns").rglob("*.form"), *(ROOT / "patterns").rglob("*.feel"),
    *(PACKAGE / "pack" / "site" / "assets").glob("*.*s"),
    *(PACKAGE / "pack" / "site" / "templates").iterdir(),
    *(PACKAGE / "record_pages" / "templates").iterdir(),
)  # fmt: skip

# What is no longer written, and what is.
GIVEN_UP = {
    r"curricul": "course",
    r"half[- ]steps?\b": "semitone",
    r"whole[- ]steps?\b": "whole tone",
    r"\bguides?\b": "tones",
    r"\bopen (note|reed|draw|blow)s?\b": "natural note",
    r"\b(plain|unbent) (note|reed|draw|blow)s?\b": "natural note",
    r"\ball together\b": "full mix",
    r"\bbehind (a|an|its|the|his) (numeral|bar|chord|degree|note)": "after",
    r"\b(large|small) numerals?\b|\blarge for a\b": "upper and lower case",
    r"\b(lies|belongs into) (no|a) (note|form|feel)\b": "there is no; belongs in",
    r"\babove all with\b": "especially with",
    r'"\S+ is no (note|reed|chord|degree|meter|drill|tone|file|plain)\b': "is not a",
    r"answered from (the root of|every)": "moved to the root of each chord",
}


def is_docstring_of_code(inside: ast.AST) -> bool:
    """True but for a command, whose docstring is its help text."""
    if not isinstance(inside, ast.FunctionDef):
        return True
    decorators = [ast.unparse(each) for each in inside.decorator_list]
    return not any(re.search(r"\.(command|group)\(", each) for each in decorators)


def body_of(node: ast.AST) -> list[ast.stmt]:
    body = getattr(node, "body", None)
    return body if isinstance(body, list) else []


def strings(source: str) -> Iterator[str]:
    """Every string of *source* with a space in it that is not a docstring of code."""
    tree = ast.parse(source)
    docs = {
        id(each.value)
        for node in ast.walk(tree)
        for each in body_of(node)
        if isinstance(each, ast.Expr) and isinstance(each.value, ast.Constant)
        and is_docstring_of_code(node)
    }  # fmt: skip
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield "" if id(node) in docs or " " not in node.value.strip() else node.value


@cache
def read_by_players() -> dict[str, str]:
    """All that a player reads, by where it comes from."""
    found = {str(path.relative_to(ROOT)): path.read_text("utf-8") for path in TEXTS}
    for path in PACKAGE.rglob("*.py"):
        found[path.relative_to(PACKAGE).as_posix()] = "\n".join(strings(path.read_text("utf-8")))
    found["fields"] = "\n".join(re.findall(r'"(\w+)":', json.dumps(schemas.DOCUMENTS)))
    return found


@pytest.mark.parametrize("given_up", GIVEN_UP)
def test_a_word_that_was_given_up_is_written_nowhere(given_up: str) -> None:
    found = [
        f"{where}: ...{text[max(0, match.start() - 40) : match.end() + 30]!r}"
        for where, text in read_by_players().items()
        for match in re.finditer(given_up, " ".join(text.split()), re.IGNORECASE)
        for text in [" ".join(text.split())]
    ]
    assert found == [], f"write: {GIVEN_UP[given_up]}"


def test_the_texts_were_found() -> None:
    read = read_by_players()
    assert "is not a plain file" in read["base/reading.py"]
    assert "Say whether files are right" in read["cli/checking.py"]
    assert "stem" in read["fields"]
    assert len(read) > 250


def test_the_glossary_is_about_twenty_lines_and_has_each_word_once() -> None:
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", GLOSSARY, re.MULTILINE)[1:]
    assert 18 <= len(rows) <= 24
    words = [word.strip() for names, _ in rows for word in names.split(",")]
    assert len(words) == len(set(words))
    for word in ("course", "tones", "natural note", "semitone", "tempo ladder", "ending", "feel"):
        assert word in words, word


def test_a_ladder_is_said_to_be_one_of_tempi_or_of_pitches() -> None:
    """In prose: code is left out."""
    for name in ("README.md", "patterns/README.md", "courses/README.md"):
        text = (ROOT / name).read_text("utf-8")
        text = re.sub(r"^```.*?^```|`[^`]*`", "", text, flags=re.DOTALL | re.MULTILINE)
        told = re.findall(r"(\S*\s+\S+\s+)ladders?\b", text)
        assert [each for each in told if not re.search("tempo|pitch|of the", each)] == [], name


# --- what may be done with what is made ---------------------------------------------------


def test_the_fonts_in_a_sheet_are_the_ones_the_notice_names() -> None:
    embedded: set[str] = set()
    for path in (ROOT / "output" / "sample").rglob("*.pdf"):
        for page in pypdf.PdfReader(path).pages:
            resources: Any = page["/Resources"].get_object()
            fonts = resources.get("/Font", {})
            embedded |= {str(each.get_object()["/BaseFont"]) for each in fonts.values()}
    families = {re.split(r"[+-]", name)[1] for name in embedded}  # /ABCDEF+C059-Roman
    named = {"C059": "C059", "NimbusSans": "Nimbus Sans", "NimbusMonoPS": "Nimbus Mono PS",
             "Emmentaler": "Emmentaler"}  # fmt: skip
    assert families
    assert families <= set(named)
    assert all(name in NOTICE for name in named.values())


def lilypond_place() -> Path:
    lilypond = pytest.importorskip("lilypond", reason="on ARM LilyPond is the system's")
    return Path(str(lilypond.executable())).parents[1]


def test_the_notice_quotes_the_licences_that_come_with_lilypond() -> None:
    """The files of the package lilypond, and the words inside its font."""
    place = lilypond_place()
    [urw] = place.glob("licenses/urw-base35-fonts-*.LICENSE")
    stated = " ".join(urw.read_text("utf-8").split())
    [quoted] = re.findall(r'"(As a special exception, permission is granted.*?)"', NOTICE)
    assert quoted in stated
    assert "GNU AFFERO GENERAL PUBLIC LICENSE Version 3" in stated
    [font] = place.glob("share/lilypond/*/fonts/otf/emmentaler-20.otf")
    inside = " ".join(font.read_bytes().decode("latin-1").split())
    assert "This font is distributed under the GNU General Public License" in inside
    ends = "resulting document to be covered by the GNU General Public License."
    assert ends in inside
    assert ends in NOTICE


def test_the_notice_says_of_the_default_soundfont_what_its_packagers_say() -> None:
    """Debian's machine-readable copyright file of timgm6mb-soundfont, where it is installed."""
    assert default_soundfont().stem == "TimGM6mb"
    assert "--band plain" in NOTICE
    assert "It is not legal advice" in NOTICE
    stated = Path("/usr/share/doc/timgm6mb-soundfont/copyright")
    if stated.is_file():
        text = " ".join(stated.read_text("utf-8").split())
        assert "License: GPL-2 " in text
        [quoted] = re.findall(r'quotes its author: "(.*?)"', NOTICE)
        assert quoted in text
