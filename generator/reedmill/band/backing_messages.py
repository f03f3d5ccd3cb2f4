"""Explain to a musician why a line of a form or feel could not be read."""

from __future__ import annotations

import re

from lark.exceptions import UnexpectedInput

from reedmill.band.backing_keywords import FEEL_LINES, FORM_LINES, STARTS
from reedmill.band.backing_mistakes import backing_mistake
from reedmill.band.slips import BackingReason, slip
from reedmill.base.errors import PatternError, nearest_name
from reedmill.base.quotes import curly_quote
from reedmill.base.source import Span
from reedmill.language.words import Word

_LINES = {"form": FORM_LINES, "feel": FEEL_LINES}
_WORD = re.compile(r"[A-Za-z]+|[-+]?\d+\S*|\S")


def explain_backing(error: UnexpectedInput, text: str, file: str) -> PatternError:
    """Return a ``PatternError`` that explains what Lark could not read in *text*."""
    lines = text.split("\n")
    number = min(max(error.line, 1), len(lines))
    line = lines[number - 1].rstrip("\r")
    at = min(max(error.column, 1), len(line) + 1)
    block = _block(lines[: number - 1])
    why = _reason(line, at, block)
    return backing_mistake(why.key, Span(file, number, why.column, max(1, why.width)), **why.values)


def _block(above: list[str]) -> str:
    """Return the block (``form`` or ``feel``) that the lines *above* have begun, or nothing."""
    for line in reversed(above):
        begun = re.match(r'\s*(form|feel)\s*"', line)
        if begun:
            return begun[1]
    return ""


def _reason(line: str, at: int, block: str) -> BackingReason:
    """Explain the mistake at column *at*: the first case of the list that fits."""
    column = curly_quote(line)
    if column:
        return BackingReason("curly-quote", column, 1, {"quote": line[column - 1]})
    if line[at - 1 : at] == '"' and re.match(r'"(\\.|[^"\\])*"', line[at - 1 :]) is None:
        return BackingReason("unclosed-quote", at, 1, {})
    first = re.match(r"\s*([A-Za-z]+)", line)
    word = first[1] if first else ""
    start = first.start(1) + 1 if first else 1
    known = STARTS | _LINES.get(block, FORM_LINES | FEEL_LINES)
    if word in known and not block and word not in STARTS:
        return BackingReason("line-before-title", start, len(word), {"word": word})
    if word not in known:
        return _unknown_line(line, word, block or "form")
    return slip(line, at, word, block) or _misplaced(line, at, known[word])


def _unknown_line(line: str, word: str, block: str) -> BackingReason:
    start = len(line) - len(line.lstrip()) + 1
    shown = word or line.strip()[:1]
    other = "feel" if block == "form" else "form"
    width = len(shown)
    if word in _LINES[other]:
        return BackingReason(
            "line-of-the-other", start, width, {"word": word, "block": block, "other": other}
        )
    known = STARTS | _LINES[block]
    near = nearest_name(shown, known)
    if near:
        values: dict[str, object] = {"near": near, "example": known[near].example}
        return BackingReason(
            "mistyped-line", start, width, {"word": shown, "block": block} | values
        )
    values = {"word": shown, "block": block, "known": ", ".join(_LINES[block])}
    return BackingReason("unknown-line", start, width, values)


def _misplaced(line: str, at: int, word: Word) -> BackingReason:
    """Explain a mistake inside a line that starts with a known word."""
    takes: dict[str, object] = {"word": word.name, "takes": word.takes, "example": word.example}
    found = next((m for m in _WORD.finditer(line) if m.start() < at <= m.end()), None)
    if found is None:
        return BackingReason("line-too-short", at, 1, takes)
    text, start = found[0], found.start() + 1
    if text.isprintable():
        return BackingReason("does-not-fit", start, len(text), takes | {"found": text})
    return BackingReason("invisible-character", start, 1, takes | {"code": ord(text[0])})
