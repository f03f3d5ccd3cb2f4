"""Lesson text: Markdown parsed into blocks of runs, for paper and for screens.

The text is foreign.  Markup of its own (HTML) is off and comes out as the letters it is
made of; an address that is neither web nor mail is an error; a picture stands as its
description, because a pack must open without a network.  ``prose.py`` sets the blocks on
paper, ``hypertext.py`` writes them as HTML.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from reedmill.base.errors import InputError
from reedmill.base.text import file_slug, printable
from reedmill.pack.course.markdown_limits import check_markup

if TYPE_CHECKING:
    from markdown_it.token import Token

MOST_LETTERS = 20_000
"""Of one text, about six pages."""
MOST_NESTED = 6
"""Lists and quotes inside one another."""
# markdown-it drops what is deeper, so it reads deeper than is allowed; a list takes two levels.
# At every bracket it looks that far ahead, whatever is in it.
_READ_NESTED = 2 * MOST_NESTED + 8
_KEPT = 256  # texts: those of a large course
_SCHEMES = ("http", "https", "mailto")
_TAB = 4


@dataclass(frozen=True, slots=True)
class TextRun:
    """Letters in one style, on one line; a line break is a run of its own."""

    text: str  # printable
    bold: bool = False
    italic: bool = False
    code: bool = False
    href: str = ""  # a checked address, or # and the name of a heading


BREAK = TextRun("\n")


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph of text."""

    runs: tuple[TextRun, ...]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the highest in its text, whatever it was written as."""

    level: int
    runs: tuple[TextRun, ...]
    name: str  # what a link to it is called, without the #; no two alike in a text


@dataclass(frozen=True, slots=True)
class Listing:
    """A list; *first* is the number of its first item, ``None`` for bullets."""

    first: int | None
    items: tuple[tuple[Block, ...], ...]


@dataclass(frozen=True, slots=True)
class Quote:
    """Blocks set apart as someone's words."""

    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Code:
    """Lines of code, kept as they are."""

    lines: tuple[str, ...]  # printable


@dataclass(frozen=True, slots=True)
class Divider:
    """A horizontal rule."""


Block = Paragraph | Heading | Listing | Quote | Code | Divider


def read_markdown(text: str) -> tuple[Block, ...]:
    """Parse *text* into blocks.

    ``InputError`` when it is too long, nested too deeply, or links to what a reader of the
    pack cannot safely open.

    >>> read_markdown("Play it *slowly*.")[0].runs[1]
    TextRun(text='slowly', bold=False, italic=True, code=False, href='')
    """
    if len(text) > MOST_LETTERS:
        raise InputError(
            f"a text of {len(text)} characters is too long for one lesson, {MOST_LETTERS} is "
            "the most. Spread it over several lessons."
        )
    check_markup(text, "a lesson's text")
    return _read(text)


@lru_cache(_KEPT)
def _read(text: str) -> tuple[Block, ...]:
    """Parse as ``read_markdown``, and keep the result: a text is used many times."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False, "maxNesting": _READ_NESTED})
    reader.validateLink = _any_link  # type: ignore[method-assign]
    blocks = _levelled(tuple(_blocks(iter(reader.parse(text)), 0)))
    _check_links(blocks)
    return blocks


def _any_link(url: str) -> bool:  # noqa: ARG001
    """Accept every address; it is checked later, where the message can name it."""
    return True


def _blocks(tokens: Iterator[Token], depth: int) -> Iterator[Block]:
    """Yield the blocks up to the token that closes their container."""
    for token in tokens:
        if token.type.endswith("_close"):
            return
        block = _block(token, tokens, depth)
        if not _blank(block):
            yield block


def _blank(block: Block) -> bool:
    """Return True for a heading or paragraph of space only."""
    match block:
        case Paragraph(runs) | Heading(_, runs, _):
            return not "".join(run.text for run in runs).strip()
    return False


def _block(token: Token, tokens: Iterator[Token], depth: int) -> Block:
    """Return the block that *token* opens; the rules of CommonMark make no other kinds."""
    match token.type:
        case "heading_open":
            return _heading(token, tokens, depth)
        case "bullet_list_open":
            return Listing(None, _items(tokens, depth))
        case "ordered_list_open":
            start = token.attrGet("start")
            return Listing(1 if start is None else int(start), _items(tokens, depth))
        case "blockquote_open":
            return Quote(_inner(token, tokens, depth))
        case "fence" | "code_block":
            return Code(_lines(token.content))
        case "hr":
            return Divider()
    return Paragraph(_inside(tokens))


def _inner(token: Token, tokens: Iterator[Token], depth: int) -> tuple[Block, ...]:
    """Return the blocks inside the quote or list item that *token* opens."""
    if depth == MOST_NESTED:
        line = token.map[0] + 1 if token.map else 1
        raise InputError(
            f"lists and quotes stand more than {MOST_NESTED} deep inside one another in line "
            f"{line} of a lesson's text. Write it flatter."
        )
    return tuple(_blocks(tokens, depth + 1))


def _heading(token: Token, tokens: Iterator[Token], depth: int) -> Block:
    runs = _inside(tokens)
    if depth:  # in a list or quote it heads nothing outside
        return Paragraph(tuple(replace(run, bold=True) for run in runs))
    return Heading(int(token.tag[1:]), runs, file_slug("".join(run.text for run in runs)))


def _items(tokens: Iterator[Token], depth: int) -> tuple[tuple[Block, ...], ...]:
    items = []
    for token in tokens:
        if token.type != "list_item_open":
            break
        items.append(_inner(token, tokens, depth))
    return tuple(items)


def _lines(text: str) -> tuple[str, ...]:
    return tuple(printable(line.expandtabs(_TAB)) for line in text.rstrip("\n").split("\n"))


def _inside(tokens: Iterator[Token]) -> tuple[TextRun, ...]:
    """Return the runs of a paragraph or heading, and take its closing token."""
    inline = next(tokens)
    next(tokens)
    return tuple(_runs(inline.children or []))


def _runs(tokens: list[Token]) -> Iterator[TextRun]:
    bold = italic = 0
    href = ""
    for token in tokens:
        match token.type:
            case "strong_open" | "strong_close":
                bold += token.nesting
            case "em_open" | "em_close":
                italic += token.nesting
            case "link_open":
                href = _address(str(token.attrGet("href") or ""))
            case "link_close":
                href = ""
            case "hardbreak":
                yield BREAK
            case "softbreak":
                yield TextRun(" ", bold > 0, italic > 0, href=href)
            case _:  # text, code, or a picture, which stands as its description
                text = printable(token.content)
                yield TextRun(text, bold > 0, italic > 0, token.type == "code_inline", href)


def _levelled(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """Return *blocks* with headings from level 1, no level skipped, and unique names."""
    levels: list[int] = []  # as written, of the headings the next one may stand under
    names: Counter[str] = Counter()
    result: list[Block] = []
    for block in blocks:
        if isinstance(block, Heading):
            levels = [level for level in levels if level < block.level] + [block.level]
            names[block.name] += 1
            again = f"--{names[block.name]}" if names[block.name] > 1 else ""  # never in a slug
            block = replace(block, level=len(levels), name=block.name + again)
        result.append(block)
    return tuple(result)


def words_of(blocks: Sequence[Block]) -> str:
    """Return all words of *blocks*, to tell their writing direction."""
    return " ".join(run.text for run in _all_runs(blocks))


# --- links ------------------------------------------------------------------------------


def _address(href: str) -> str:
    """Return *href* as written where it leads to a heading: the parser encodes its letters.

    >>> _address("#%D0%B4%D0%BE%D0%BC"), _address("https://example.org/%20")
    ('#дом', 'https://example.org/%20')
    """
    return printable(unquote(href)) if href.startswith("#") else href


def _check_links(blocks: tuple[Block, ...]) -> None:
    headings = {block.name for block in blocks if isinstance(block, Heading)}
    for run in _all_runs(blocks):
        if run.href.startswith("#"):
            if run.href[1:] not in headings:
                raise InputError(
                    f'a link leads to "{run.href:.80}", and the text has no such heading. '
                    "Write the heading in small letters with hyphens: #hold-it-steady"
                )
        elif run.href and not is_address(run.href):
            raise InputError(
                f'a link in a lesson\'s text leads to "{run.href:.80}". Write an address that '
                "begins with https://, http:// or mailto:, or # and a heading of the same text."
            )


def is_address(href: str) -> bool:
    """Return True for a whole address on the web or of a mailbox.

    >>> is_address("https://example.org/a"), is_address("javascript:alert(1)"), is_address("a/b")
    (True, False, False)
    """
    try:
        parts = urlsplit(href)
    except ValueError:  # an unclosed bracket in what should be a host
        return False
    where = parts.path if parts.scheme == "mailto" else parts.netloc
    return parts.scheme in _SCHEMES and bool(where) and href == printable(href)


def _all_runs(blocks: Sequence[Block]) -> Iterator[TextRun]:
    for block in blocks:
        match block:
            case Paragraph(runs) | Heading(_, runs, _):
                yield from runs
            case Listing(_, items):
                for item in items:
                    yield from _all_runs(item)
            case Quote(inner):
                yield from _all_runs(inner)
