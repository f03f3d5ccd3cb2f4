"""Lesson text on the screen: the blocks of ``markdown.py`` as HTML.

Every letter of it is escaped here; the tags are ours alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import groupby

from reedmill.pack.course.markdown import (
    BREAK,
    Block,
    Code,
    Divider,
    Heading,
    Listing,
    Paragraph,
    Quote,
    Run,
)


def blocks_html(blocks: Sequence[Block], *, prefix: str, level: int) -> str:
    """*blocks* as HTML, their highest heading at *level*.

    *prefix*, a slug, goes before the ids of headings, so that several texts share a page.

    >>> from reedmill.pack.course.markdown import read_markdown
    >>> blocks_html(read_markdown("**Home**, <b>not</b> bold"), prefix="a", level=3)
    '<p dir="auto"><strong>Home</strong>, &lt;b&gt;not&lt;/b&gt; bold</p>'
    """
    return "\n".join(_html(block, prefix, level) for block in blocks)


def _html(block: Block, prefix: str, level: int) -> str:
    match block:
        case Paragraph(runs):
            return f'<p dir="auto">{_runs_html(runs, prefix)}</p>'
        case Heading(below, runs, name):
            tag = f"h{min(6, level + below - 1)}"
            return f'<{tag} id="{prefix}-{name}" dir="auto">{_runs_html(runs, prefix)}</{tag}>'
        case Listing(first, items):
            start = f' start="{first}"' if first not in (None, 1) else ""
            tag = "ul" if first is None else "ol"
            inside = (blocks_html(item, prefix=prefix, level=level) for item in items)
            rows = "\n".join(f"<li>{item}</li>" for item in inside)
            return f"<{tag}{start}>\n{rows}\n</{tag}>"
        case Quote(inner):
            return f"<blockquote>{blocks_html(inner, prefix=prefix, level=level)}</blockquote>"
        case Code(lines):
            return f'<pre tabindex="0"><code>{escape(chr(10).join(lines))}</code></pre>'
        case Divider():
            return "<hr>"


def _runs_html(runs: tuple[Run, ...], prefix: str) -> str:
    """Neighbours with one address are one link."""
    parts = []
    for href, linked in groupby(runs, key=lambda run: run.href):
        text = "".join(map(_run_html, linked))
        if href.startswith("#"):
            text = f'<a href="#{prefix}-{href[1:]}">{text}</a>'
        elif href:
            text = f'<a href="{escape(href)}" rel="noopener noreferrer">{text}</a>'
        parts.append(text)
    return "".join(parts)


def _run_html(run: Run) -> str:
    if run == BREAK:
        return "<br>\n"
    text = escape(run.text)
    for wanted, tag in ((run.code, "code"), (run.italic, "em"), (run.bold, "strong")):
        text = f"<{tag}>{text}</{tag}>" if wanted else text
    return text
