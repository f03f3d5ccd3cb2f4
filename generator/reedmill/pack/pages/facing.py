"""The first page of each part of a book: an exercise of two pages opens on the left."""

from __future__ import annotations

from collections.abc import Sequence

_FACING = 2  # pages that are seen at once


def first_pages(parts: Sequence[tuple[bool, int]], contents: int, after: int) -> list[int]:
    """Return the page, from 1, where each of *parts* begins, then the one after the end.

    A part is whether it is an exercise, and how many pages it has.  *contents* is how many
    pages of contents stand before the part of this number, from 0.  Odd pages lie on the right;
    an exercise of two that would begin there leaves that page for notes.

    >>> first_pages([(False, 1), (True, 1), (True, 2), (True, 1)], contents=0, after=0)
    [1, 2, 4, 6, 7]
    """
    found: list[int] = []
    page = 1
    for number, (is_exercise, pages) in enumerate(parts):
        page += contents if number == after else 0
        page += is_exercise and pages == _FACING and page % 2
        found.append(page)
        page += pages
    page += contents if after >= len(parts) else 0
    return [*found, page]
