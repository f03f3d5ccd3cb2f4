r"""Where in a TOML text each key and value stands, which tomllib does not say.

Only texts that tomllib has read are scanned, so this knows where things begin and end and
leaves what they mean, and whether they are right, to tomllib.

>>> places = toml_places('title = "Bends"\n[[lessons]]\ntempo = 60\n', "a.toml")
>>> places.value(("lessons", 0, "tempo")).place
'a.toml:3:9'
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field

from reedmill.base.source import Span

Path = tuple[str | int, ...]
"""Keys and places in lists, from the top of the file."""

_DEEPEST = 8  # nothing deeper means anything in a curriculum, and memory stays bounded

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_STRINGS = {
    '"""': re.compile(r'"""(?:\\.|[^\\])*?"""(?:"{0,2})', re.DOTALL),
    "'''": re.compile(r"'''.*?'''(?:'{0,2})", re.DOTALL),
    '"': re.compile(r'"(?:\\.|[^"\\\n])*"'),
    "'": re.compile(r"'[^'\n]*'"),
}


@dataclass(frozen=True, slots=True)
class Places:
    """The spans of the keys and values of one TOML text."""

    file: str
    keys: dict[Path, Span] = field(default_factory=dict)  # a table's key is in its header
    values: dict[Path, Span] = field(default_factory=dict)  # a table's value is its header

    def key(self, path: Path) -> Span:
        """The span of the last key of *path*, or of the nearest thing around it."""
        return self.keys.get(path) or self.value(path)

    def value(self, path: Path) -> Span:
        """The span of the value at *path*, or of the nearest thing around it."""
        for end in range(len(path), 0, -1):
            found = self.values.get(path[:end]) or self.keys.get(path[:end])
            if found:
                return found
        return Span(self.file, 1, 1)


def toml_places(text: str, file: str) -> Places:
    """The places of everything in *text*, which ``tomllib`` reads without an error."""
    scanner = _Scanner(text, file)
    scanner.scan()
    return scanner.places


class _Scanner:
    """Walks over a text once; ``at`` is the next character."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self.at = text, 0
        self.places = Places(file)
        self._line, self._line_start, self._seen = 1, 0, 0  # of the last span; only move on
        self._lists: dict[Path, int] = {}  # arrays of tables, and how many each has so far

    def scan(self) -> None:
        table: Path = ()
        while self._skip(_BLANK) < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.at

    def _span(self, start: int, end: int) -> Span:
        """From *start* to *end* or the end of the line; spans are asked for in text order."""
        self._line += self.text.count("\n", self._seen, start)
        self._line_start = max(self._line_start, self.text.rfind("\n", self._seen, start) + 1)
        self._seen = start
        line_end = self.text.find("\n", start, end)
        width = (end if line_end < 0 else line_end) - start
        return Span(self.places.file, self._line, start - self._line_start + 1, max(1, width))

    def _header(self) -> Path:
        """``[a.b]`` or ``[[a.b]]``: the path of the table it opens."""
        start = self.at
        brackets = 2 if self.text.startswith("[[", start) else 1
        self.at += brackets
        parts = self._dotted()
        self._skip(_SPACE)
        self.at += brackets
        span = self._span(start, self.at)
        path: Path = ()
        for name, _start, _end in parts:
            self._note(self.places.keys, (*path, name), span)
            path = self._last((*path, name))
        name_path = path[:-1] if isinstance(path[-1], int) else path
        if brackets == 2:
            count = self._lists[name_path] = self._lists.get(name_path, -1) + 1
            path = (*name_path, count)
        self._note(self.places.values, name_path, span)
        self._note(self.places.values, path, span)
        return path

    def _last(self, path: Path) -> Path:
        """*path*, at its latest element when it is an array of tables."""
        return (*path, self._lists[path]) if path in self._lists else path

    def _dotted(self) -> list[tuple[str, int, int]]:
        """The names of a dotted key, each with its start and end."""
        parts = []
        while True:
            start = self._skip(_SPACE)
            quote = self.text[start]
            end = self._skip(_STRINGS[quote] if quote in "\"'" else _BARE)
            raw = self.text[start:end]
            name = tomllib.loads(f"it = {raw}")["it"] if quote in "\"'" else raw
            parts.append((name, start, end))
            if self._skip(_SPACE) >= len(self.text) or self.text[self.at] != ".":
                return parts
            self.at += 1

    def _pair(self, table: Path) -> None:
        path = table
        for name, start, end in self._dotted():
            path = (*path, name)
            self._note(self.places.keys, path, self._span(start, end))
        self.at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        start = self.at
        opening = self.text[start]
        here = self._span(start, start + 1)  # before what is inside, to stay in text order
        if opening == "[":
            self._array(path)
        elif opening == "{":
            self._inline_table(path)
        elif opening in "\"'":
            long = self.text[start : start + 3]
            self._skip(_STRINGS[long if long in _STRINGS else opening])
        else:
            self._skip(_SCALAR)
            self.at = start + len(self.text[start : self.at].rstrip())
        self._note(self.places.values, path, self._widened(here, start))

    def _widened(self, here: Span, start: int) -> Span:
        line_end = self.text.find("\n", start, self.at)
        end = self.at if line_end < 0 else line_end
        return Span(here.file, here.line, here.column, max(1, end - start))

    def _array(self, path: Path) -> None:
        self.at += 1
        index = 0
        while self.text[self._skip(_BLANK)] != "]":
            self._value((*path, index))
            index += 1
            if self.text[self._skip(_BLANK)] == ",":
                self.at += 1
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        while self.text[self._skip(_BLANK)] != "}":
            self._pair(path)
            if self.text[self._skip(_BLANK)] == ",":
                self.at += 1
        self.at += 1

    def _note(self, found: dict[Path, Span], path: Path, span: Span) -> None:
        if len(path) <= _DEEPEST:
            found.setdefault(path, span)
