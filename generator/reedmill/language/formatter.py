"""The formatter of pattern files: one canonical layout.

A drill stands at the margin, its lines are indented by two and their words fill a column.
Notes have one space between them, what belongs to a note has none.  Comments stay where
they are: at the end of their line, or on lines of their own with the drill they belong to.
A blank line stands between drills, and elsewhere where the writer left one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from lark import Token

from reedmill.base.errors import PatternError
from reedmill.harp.together import holes_tab, low_to_high
from reedmill.language.music_builder import TYPOGRAPHY, read_holes, read_reed, unescaped
from reedmill.language.parser import drills_as_written, tokens
from reedmill.theory.positions import SAID_AFTER

_INDENT = "  "
_NO_SPACE_BEFORE = frozenset({"ACCENT", "LENGTH", "TIMES", "RPAR", "COMMA"})
_NO_SPACE_AFTER = frozenset({"LPAR", "TILDE"})
_IN_LISTS = ("NAME", "NUMBER", "ORDINAL", "PLACE")
_LISTS = frozenset({"ORDER", "OVER", "POSITIONS"})  # lines whose items have commas between
_SIGNED = "SIGNED"  # a reed that keeps the sign for a blow
# What stands before or behind brackets that can be nothing but a group.
_BEFORE, _BEHIND = ("TRIPLET", "ORDINAL"), ("TIMES", "ORDINAL")

FormattedPiece = tuple[str, str]
"""The type of a token, and its canonical spelling."""


def tidy(text: str, name: str = "pattern") -> str:
    r"""Return *text* in the canonical layout, with its meaning and comments kept.

    *name* stands for the file in messages.  Raises ``PatternError`` for a text that cannot
    be read; a ``from`` may name a drill of another file.

    >>> print(tidy('drill "Home" # mine\nanchor +2\nrungs -3 -3\'\nphrase anchor ~ rung :2'))
    drill "Home"  # mine
      anchor  2
      rungs   -3 -3'
      phrase  anchor~rung:2
    <BLANKLINE>
    """
    try:
        drills_as_written(text, name)
    except PatternError as error:
        raise error.with_source(text) from None
    return "\n".join("".join(f"{line}\n" for line in block.lines()) for block in _blocks(text))


@dataclass(frozen=True, slots=True)
class _Row:
    """One line of the text, split into words and comment."""

    words: tuple[Token, ...]
    comment: str  # with its sign, or empty
    indented: bool
    goes_on: bool = False  # its word, the first of them, stands further up

    @property
    def blank(self) -> bool:
        return not self.words and not self.comment

    @property
    def starts_drill(self) -> bool:
        return bool(self.words) and self.words[0].type == "DRILL"

    def laid_out(self, column: int) -> str:
        """Return the line laid out in a drill whose first words fill *column* characters."""
        if not self.words:
            return _INDENT + self.comment if self.comment else ""
        rest = _spaced(_with_commas([(word.type, _spelled(word)) for word in self.words]))
        first = "" if self.goes_on else str(self.words[0])
        line = f"{first} {rest}" if self.starts_drill else f"{_INDENT}{first:{column}}{rest}"
        return line.rstrip(" ") + (f"  {self.comment}" if self.comment else "")


@dataclass(frozen=True, slots=True)
class _Block:
    """A drill with the comments above it, or the comments at the end of the file."""

    above: list[_Row]
    rows: list[_Row] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        """Yield the lines of the block in the canonical layout."""
        firsts = [row.words[0] for row in self.rows if row.words and not row.starts_drill]
        column = max(map(len, firsts), default=0) + 2
        yield from (row.comment for row in self.above)
        yield from (row.laid_out(column) for row in self.rows)


# --- rows and blocks ------------------------------------------------------------------


def _rows(text: str) -> Iterator[_Row]:
    """Yield the lines of *text*, with at most one blank line in a row."""
    whole = text + "\n"
    line: list[Token] = []
    end = 0  # of the token before
    was_blank = goes_on = False
    for token in _signed(tokens(text)):
        if token.type != "_NL":
            if line and (token.line or 0) > (line[-1].line or 0):
                comment = whole[end : token.start_pos].partition("\n")[0]
                yield _Row(tuple(line), comment.strip(" \t\r"), True, goes_on)
                line, goes_on = line[:1], True
            line.append(token)
        else:
            gap = whole[end : token.start_pos]  # holds only spaces and a comment
            row = _Row(tuple(line), gap.strip(" \t"), gap[:1] in (" ", "\t"), goes_on)
            if not (row.blank and was_blank):
                yield row
            was_blank = row.blank
            line, goes_on = [], False
        end = token.end_pos or 0


def _signed(words: list[Token]) -> Iterator[Token]:
    """Yield *words*, with a sign on a lone blow in brackets, where it is needed."""
    kinds = [word.type for word in words]
    for at, word in enumerate(words):
        first = at - (kinds[at - 1] == "TILDE")
        alone = word.type == "REED" and kinds[first - 1] == "LPAR" and kinds[at + 1] == "RPAR"
        alone = alone and kinds[first - 2] not in _BEFORE and kinds[at + 2] not in _BEHIND
        yield word.update(type=_SIGNED) if alone else word


def _blocks(text: str) -> list[_Block]:
    blocks: list[_Block] = []
    waiting: list[_Row] = []  # comments and blank lines since the last row with words
    for row in _rows(text):
        if not row.words:
            waiting.append(row)
            continue
        if row.starts_drill:
            below = _trailing(waiting, before_drill=True) if blocks else 0
            if blocks:
                blocks[-1].rows.extend(waiting[:below])
            blocks.append(_Block(_without_blank_start(waiting[below:])))
        else:
            blocks[-1].rows.extend(waiting)
        blocks[-1].rows.append(row)
        waiting = []
    below = _trailing(waiting, before_drill=False)
    blocks[-1].rows.extend(waiting[:below])
    last = _without_blank_start(waiting[below:])
    while last and last[-1].blank:
        last.pop()
    return [*blocks, _Block(last)] if last else blocks


def _trailing(waiting: list[_Row], *, before_drill: bool) -> int:
    """Return how many of the *waiting* comments belong to the drill above them.

    They are those that follow its last line at once; where they run on into the next drill, only
    the indented ones.
    """
    run = next((at for at, row in enumerate(waiting) if row.blank), len(waiting))
    if before_drill and run == len(waiting):
        return next((at for at, row in enumerate(waiting) if not row.indented), run)
    return run


def _without_blank_start(rows: list[_Row]) -> list[_Row]:
    return rows[1:] if rows and rows[0].blank else rows


# --- words and signs ------------------------------------------------------------------


def _spelled(token: Token) -> str:
    if token.type == "REED":
        return read_reed(token).tab
    if token.type == _SIGNED:
        tab = read_reed(token).tab
        return f"+{tab}" if tab.isdigit() else tab
    if token.type == "HOLES":
        return holes_tab(low_to_high(read_holes(token)))
    if token.type in ("DEGREE", "DEGREES"):
        return re.sub(r"[ \t]", "", token.translate(TYPOGRAPHY))
    return _quoted(unescaped(token[1:-1])) if token.type == "STRING" else str(token)


def _quoted(text: str) -> str:
    r"""Return *text* in quotes with as few backslashes as possible.

    >>> print(_quoted('say "so" \\n'))
    "say \"so\" \n"
    """
    doubled = re.sub(r'\\(?=["\\]|\Z)', r"\\\\", text)
    return '"' + doubled.replace('"', '\\"') + '"'


def _with_commas(pieces: list[FormattedPiece]) -> Iterator[FormattedPiece]:
    """Yield the *pieces* of a line with the optional commas added."""
    line, before = pieces[0][0], ""
    for kind, spelling in pieces:
        in_list = line in _LISTS and before in _IN_LISTS and kind in _IN_LISTS
        in_list = in_list and spelling.lower() not in SAID_AFTER
        if in_list or (line == "EMBOUCHURE" and kind == "RUNGS" and before != "COMMA"):
            yield "COMMA", ","
        yield kind, spelling
        before = kind


def _spaced(pieces: Iterator[FormattedPiece]) -> str:
    """Return the pieces after the first word, with one space where one belongs."""
    before, _ = next(pieces)
    text = ""
    for kind, spelling in pieces:
        text += (" " if text and _apart(before, kind) else "") + spelling
        before = kind
    return text


def _apart(before: str, kind: str) -> bool:
    if before in _NO_SPACE_AFTER or (before, kind) == ("TRIPLET", "LPAR"):
        return False
    if kind == "TIMES":
        return before == "NAME"  # rungx2 would be one word
    if kind == "TILDE":
        return before == "VBAR"
    return kind not in _NO_SPACE_BEFORE
