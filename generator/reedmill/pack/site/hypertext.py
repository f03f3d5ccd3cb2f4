"""Lesson text on the screen: the blocks of ``markdown.py`` as HTML.

``Markup.format`` escapes every letter that is put into a tag; the tags are ours alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from markupsafe import Markup, escape

from reedmill.base.text import from_right
from reedmill.pack.course.markdown import (
    BREAK,
    Block,
    Code,
    Divider,
    Heading,
    Listing,
    Paragraph,
    Quote,
    TextRun,
    words_of,
)

_NOTHING, _LINE = Markup(""), Markup("\n")
_PARAGRAPH = Markup('<p dir="auto">{}</p>')
_HEADING = Markup('<h{0} id="{1}-{2}" dir="auto">{3}</h{0}>')
_FROM_RIGHT = Markup(' dir="rtl"')
_BULLETS = Markup("<ul{}>\n{}\n</ul>")
_NUMBERS = Markup("<ol{}>\n{}\n</ol>")
_NUMBERS_FROM = Markup('<ol start="{}"{}>\n{}\n</ol>')
_ITEM = Markup("<li>{}</li>")
_QUOTE = Markup("<blockquote{}>{}</blockquote>")
_CODE = Markup('<pre tabindex="0"><code>{}</code></pre>')
_DIVIDER = Markup("<hr>")
_BREAK = Markup("<br>\n")
_LINK_HERE = Markup('<a href="#{}-{}">{}</a>')
_LINK = Markup('<a href="{}" rel="noopener noreferrer">{}</a>')
_CODE_RUN = Markup("<code>{}</code>")
_ITALIC = Markup("<em>{}</em>")
_BOLD = Markup("<strong>{}</strong>")


def blocks_html(blocks: Sequence[Block], *, prefix: str, level: int) -> Markup:
    """Return *blocks* as HTML, their highest heading at *level*.

    *prefix*, a slug, goes before the ids of headings, so that several texts share a page.

    >>> from reedmill.pack.course.markdown import read_markdown
    >>> print(blocks_html(read_markdown("**Home**, <b>not</b> bold"), prefix="a", level=3))
    <p dir="auto"><strong>Home</strong>, &lt;b&gt;not&lt;/b&gt; bold</p>
    """
    return _LINE.join(_html(block, prefix, level) for block in blocks)


def _html(block: Block, prefix: str, level: int) -> Markup:
    match block:
        case Paragraph(runs):
            return _PARAGRAPH.format(_runs_html(runs, prefix))
        case Heading(below, runs, name):
            size = min(6, level + below - 1)
            return _HEADING.format(size, prefix, name, _runs_html(runs, prefix))
        case Listing(first, items):
            inside = (blocks_html(item, prefix=prefix, level=level) for item in items)
            way = _way(words_of([each for item in items for each in item]))
            return _listing(first, way, _LINE.join(map(_ITEM.format, inside)))
        case Quote(inner):
            text = blocks_html(inner, prefix=prefix, level=level)
            return _QUOTE.format(_way(words_of(inner)), text)
        case Code(lines):
            return _CODE.format("\n".join(lines))
        case Divider():
            return _DIVIDER


def _way(text: str) -> Markup:
    """Return the side on which list signs and quote rules stand; left unless text says otherwise.

    ``dir="auto"`` would not do: it leaves out what is inside elements that have their own.
    """
    return _FROM_RIGHT if from_right(text) else _NOTHING


def _listing(first: int | None, way: Markup, rows: Markup) -> Markup:
    if first is None:
        return _BULLETS.format(way, rows)
    return _NUMBERS.format(way, rows) if first == 1 else _NUMBERS_FROM.format(first, way, rows)


def _runs_html(runs: tuple[TextRun, ...], prefix: str) -> Markup:
    """Return runs as HTML; neighbours with one address become one link."""
    parts = []
    for href, linked in groupby(runs, key=lambda run: run.href):
        text = _NOTHING.join(map(_run_html, linked))
        if href.startswith("#"):
            text = _LINK_HERE.format(prefix, href[1:], text)
        elif href:
            text = _LINK.format(href, text)
        parts.append(text)
    return _NOTHING.join(parts)


def _run_html(run: TextRun) -> Markup:
    if run == BREAK:
        return _BREAK
    text = escape(run.text)
    for wanted, tag in ((run.code, _CODE_RUN), (run.italic, _ITALIC), (run.bold, _BOLD)):
        text = tag.format(text) if wanted else text
    return text
