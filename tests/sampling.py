"""Samples of what would take too long to be tried in full with every change.

A sample is the same each time, and each row of a table has another part of it, so that all of
it is tried somewhere.  ``pytest --whole`` takes everything.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


def part_of(rows: Sequence[T], number: int, every: int, *, whole: bool) -> Sequence[T]:
    """Every *every*-th of *rows*, beginning with another one for each *number*.

    >>> part_of("abcdefgh", 0, 3, whole=False), part_of("abcdefgh", 4, 3, whole=False)
    ('adg', 'beh')
    >>> part_of("abcdefgh", 4, 3, whole=True)
    'abcdefgh'
    """
    return rows if whole else rows[number % every :: every]
