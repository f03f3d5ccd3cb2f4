"""What editors colour: every word and sign of a pattern by what it is."""

from __future__ import annotations

import json
import re
import runpy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import reedmill
from reedmill.language import parser
from reedmill.language.words import JOINING, LINES, TRIPLET, VALUES
from reedmill.library import patterns_dir

PACKAGE = Path(reedmill.__file__).parent
ROOT = PACKAGE.parents[1]


def colours(text: str) -> list[list[tuple[str, str]]]:
    """For each line what the TextMate grammar colours, with the name of the colour.

    A reading of the part of TextMate's language grammars the file uses, after the manual of
    TextMate (chapter 12, language grammars; from memory): rules are tried at each place, the
    one that fits first in the line counts, of two the one listed first; a begin rule holds
    until its end fits.
    """
    return [list(coloured(line, GRAMMAR["patterns"])) for line in text.splitlines()]


def coloured(line: str, rules: list[dict[str, Any]]) -> Iterator[tuple[str, str]]:
    at = 0
    while at < len(line):
        found = [(re.compile(rule.get("match") or rule["begin"]).search(line, at), rule)
                 for rule in rules]  # fmt: skip
        fits = [(match.start(), order, match, rule)
                for order, (match, rule) in enumerate(found) if match]  # fmt: skip
        if not fits:
            return
        _, _, match, rule = min(fits, key=lambda fit: fit[:2])
        assert match.end() > at, f"{rule} fits nothing"
        if "begin" in rule:
            assert rule["end"] == "$"
            yield match[1], rule["beginCaptures"]["1"]["name"].removesuffix(".drill")
            yield from coloured(line[match.end() :], rule["patterns"])
            return
        yield match[0], rule["name"].removesuffix(".drill")
        at = match.end()


GRAMMAR = json.loads((ROOT / "patterns" / "editors" / "drill.tmLanguage.json").read_bytes())
LINE, REED, SIGN = "keyword.control.line", "constant.numeric.reed", "keyword.operator.sign"
VALUE, JOIN = "constant.language", "keyword.operator.word"
DEGREE, ROLE = "constant.numeric.degree", "variable.language.role"
LENGTH, REPEAT = "constant.other.length", "keyword.operator.repeat"
BRACKET, NUMBER = "punctuation.section.group", "constant.numeric"
STYLE = "support.function.style"
COMMA, TEXT, REST = "punctuation.separator", "string.quoted.double", "constant.language.rest"
COMMENT, UNKNOWN = "comment.line.number-sign", "invalid.illegal"

COLOURED = {
    'drill "Home # \\" home"  # mine': [
        ("drill", LINE), ('"Home # \\" home"', "entity.name.section"), ("# mine", COMMENT),
    ],
    '  from    "Home"': [("from", LINE), ('"Home"', TEXT)],
    "move down 1": [("move", LINE), ("down", VALUE), ("1", NUMBER)],
    "  tempo 56 to 84": [("tempo", LINE), ("56", NUMBER), ("to", JOIN), ("84", NUMBER)],
    "  meter 12/8": [("meter", LINE), ("12/8", NUMBER)],
    "  positions 1, 2": [("positions", LINE), ("1", NUMBER), (",", COMMA), ("2", NUMBER)],
    "  feel shuffle": [("feel", LINE), ("shuffle", VALUE)],
    "  length 1/2": [("length", LINE), ("1/2", NUMBER)],
    "  allow overbends": [("allow", LINE), ("overbends", VALUE)],
    "  over bVI, ending": [("over", LINE), ("bVI", VALUE), (",", COMMA), ("ending", VALUE)],
    "  octave middle": [("octave", LINE), ("middle", VALUE)],
    "  anchor root": [("anchor", LINE), ("root", VALUE)],
    "  anchor -2": [("anchor", LINE), ("-2", REED)],
    "  rungs 6^ all of -3 down to -3''": [
        ("rungs", LINE), ("6^", REED), ("all of", JOIN), ("-3", REED), ("down to", JOIN),
        ("-3''", REED),
    ],
    "  order down, listed": [("order", LINE), ("down", VALUE), (",", COMMA), ("listed", VALUE)],
    "  embouchure lips or anchors tongue left, rungs lips": [
        ("embouchure", LINE), ("lips", VALUE), ("or", JOIN), ("anchors", JOIN), ("tongue", VALUE),
        ("left", VALUE), (",", COMMA), ("rungs", JOIN), ("lips", VALUE),
    ],
    "  phrase anchor:2 rung!:1/2~next x2 | r  # -2": [
        ("phrase", LINE), ("anchor", ROLE), (":2", LENGTH), ("rung", ROLE), ("!", SIGN),
        (":1/2", LENGTH), ("~", SIGN), ("next", ROLE), ("x2", REPEAT), ("|", SIGN), ("r", REST),
        ("# -2", COMMENT),
    ],
    "  play (-2x3 3) 1st (-4:1..) 2nd (triplet(-2 3 -4))": [
        ("play", LINE), ("(", BRACKET), ("-2", REED), ("x3", REPEAT), ("3", REED),
        (")", BRACKET), ("1st", REPEAT), ("(", BRACKET), ("-4", REED), (":1..", LENGTH),
        (")", BRACKET), ("2nd", REPEAT), ("(", BRACKET), ("triplet", JOIN), ("(", BRACKET),
        ("-2", REED), ("3", REED), ("-4", REED), (")", BRACKET), (")", BRACKET),
    ],
    "  tune 1 b3~3 #4 5- 1+:2 #end": [
        ("tune", LINE), ("1", DEGREE), ("b3", DEGREE), ("~", SIGN), ("3", DEGREE),
        ("#4", DEGREE), ("5-", DEGREE), ("1+", DEGREE), (":2", LENGTH), ("#end", COMMENT),
    ],
    "  play slap -2&3 vibrato4 -3q:2~:1 -3'": [
        ("play", LINE), ("slap", STYLE), ("-2&3", REED), ("vibrato4", STYLE), ("-3q", REED),
        (":2", LENGTH), ("~", SIGN), (":1", LENGTH), ("-3'", REED),
    ],
    "  tune 1&5+ 3q": [("tune", LINE), ("1&5+", DEGREE), ("3q", DEGREE)],
    "  echo": [("echo", LINE)],
    "  phrse anchor": [("phrse", UNKNOWN), ("anchor", UNKNOWN)],
    "  play -2, -3": [("play", LINE), ("-2", REED), (",", UNKNOWN), ("-3", REED)],
    '  about "never closed': [
        ("about", LINE), *[(sign, UNKNOWN) for sign in '"neverclosed'],
    ],
    "# a comment": [("# a comment", COMMENT)],
}  # fmt: skip


@pytest.mark.parametrize("line", COLOURED)
def test_each_word_and_sign_has_its_colour(line: str) -> None:
    assert colours(line) == [COLOURED[line]]


# The kinds of token the parser knows, and their colour.
KINDS = {
    "STRING": {TEXT, "entity.name.section"}, "NUMBER": {NUMBER}, "FRACTION": {NUMBER},
    "REED": {REED}, "DEGREE": {DEGREE},
    "HOLES": {REED}, "DEGREES": {DEGREE}, "STYLE": {STYLE}, "ORDINAL": {REPEAT}, "TIMES": {REPEAT},
    "ACCENT": {SIGN}, "TILDE": {SIGN}, "VBAR": {SIGN}, "LENGTH": {LENGTH}, "COMMA": {COMMA},
    "LPAR": {BRACKET}, "RPAR": {BRACKET}, "NAME": {ROLE, REST, VALUE},
}  # fmt: skip


@pytest.mark.parametrize("path", sorted(patterns_dir().rglob("*.drill")), ids=lambda p: p.name)
def test_shipped_patterns_are_coloured_as_the_parser_reads_them(path: Path) -> None:
    text = path.read_text("utf-8")
    seen = [each for line in colours(text) for each in line if each[1] != COMMENT]
    words = [(word, colour) for found, colour in seen for word in split_words(found, colour)]
    read = [token for token in parser.tokens(text) if token.type != "_NL"]
    assert [word for word, _ in words] == [str(token) for token in read]
    for (word, colour), token in zip(words, read, strict=True):
        assert colour in KINDS.get(token.type, {LINE, JOIN, VALUE}), word


def split_words(found: str, colour: str) -> list[str]:
    """``all of`` is one colour but two words to the parser."""
    return found.split() if colour == JOIN else [found]


def test_every_word_of_the_grammar_has_a_colour() -> None:
    grammar = (PACKAGE / "language" / "grammar.lark").read_text("utf-8")
    literal = set(re.findall(r'"([a-z]+)"', grammar))
    listed = set(LINES) | {TRIPLET}
    for table in (VALUES, JOINING):
        for words in table.values():
            listed |= {each for phrase in words for each in phrase.split()}
    assert not literal - listed, (
        f"grammar.lark reads {', '.join(sorted(literal - listed))}, and language/words.py has no "
        "row for it"
    )


def test_the_editor_file_is_current() -> None:
    pages = runpy.run_path(str(ROOT / "scripts" / "language_pages"))["pages"]()
    text = pages["editors/drill.tmLanguage.json"]
    kept = (ROOT / "patterns" / "editors" / "drill.tmLanguage.json").read_bytes()
    assert kept == text.encode(), (
        "patterns/editors is not what the words of the language make it: run scripts/language_pages"
    )


def test_patterns_keep_to_what_editors_read() -> None:
    """Oniguruma and ``re`` differ in named groups, look-behinds and inline flags (from memory)."""
    text = json.dumps(GRAMMAR)
    assert not re.search(r"\(\?(?!:)", text)
    assert "\\\\Z" not in text
