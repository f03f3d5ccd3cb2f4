"""Pages of a record book read by lxml, which knows nothing of how they were made."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator
from hashlib import sha256
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


def check_policy(page: Any) -> None:
    """The style of the page is let in by its digest (CSP Level 3, W3C, 6.7.2.3), and no more."""
    [policy] = page.xpath('//meta[@http-equiv="Content-Security-Policy"]/@content')
    [style] = page.xpath("//style")
    digest = b64encode(sha256(style.text.encode()).digest()).decode()
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; "
        "form-action 'none'"
    )
    assert {"script", "a", "iframe", "object", "img", "form"}.isdisjoint(elements(page))
    assert page.xpath("//@style | //@src | //@onload") == []
    assert page.xpath("//@href") == ["data:,"]
