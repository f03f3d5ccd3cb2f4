"""Tables of small checks as one test: it goes through all rows and names every row that fails.

A test of its own for each row costs some milliseconds, in each process.  Where a row checks
something in less, and needs no fixture that it changes, its table is one test.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeAlias

Test: TypeAlias = Callable[..., None]


def together(names: str | Sequence[str], rows: Iterable[Any]) -> Callable[[Test], Test]:
    """As ``pytest.mark.parametrize``, but with one test for all *rows*.

    >>> @together(("number", "name"), [(1, "one"), (2, "too"), (3, "three")])
    ... def test_numbers_have_names(number: int, name: str) -> None:
    ...     assert name == ("one", "two", "three")[number - 1]
    >>> test_numbers_have_names()
    Traceback (most recent call last):
        ...
    AssertionError
    number=2, name='too'
    """
    asked = [names] if isinstance(names, str) else list(names)
    table = [dict(zip(asked, [row] if len(asked) == 1 else row, strict=True)) for row in rows]

    def gathered(test: Test) -> Test:
        @functools.wraps(test)
        def all_rows(**given: Any) -> None:
            failed = [error for row in table if (error := _failure(test, row, given))]
            if len(failed) == 1:
                raise failed[0]
            if failed:
                raise ExceptionGroup(f"{len(failed)} of {len(table)} rows", failed)

        signature = inspect.signature(test)
        left = [each for name, each in signature.parameters.items() if name not in asked]
        all_rows.__signature__ = signature.replace(parameters=left)  # type: ignore[attr-defined]
        return all_rows

    assert table, "a table without a row checks nothing"
    return gathered


def _failure(test: Test, row: dict[str, Any], given: dict[str, Any]) -> Exception | None:
    """What *test* raises for a *row*, which is named in it."""
    try:
        test(**row, **given)
    except Exception as error:
        error.add_note(", ".join(f"{name}={value!r:.200}" for name, value in row.items()))
        return error
    return None
