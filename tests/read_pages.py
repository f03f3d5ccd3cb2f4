"""Pages of a record book read by lxml, which knows nothing of how they were made."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lxml import html


def read_page(page: bytes) -> Any:
    return html.document_fromstring(page, parser=html.HTMLParser(encoding="utf-8"))


def words(element: Any) -> str:
    """What is seen of an element; not what is for screen readers alone."""
    parts = element.xpath(
        './/text()[not(ancestor::*[@class="unseen"]) and not(ancestor::title or ancestor::desc)]'
    )
    return " ".join("".join(parts).split())


def elements(page: Any) -> Iterator[str]:
    return (each.tag for each in page.iter() if isinstance(each.tag, str))
