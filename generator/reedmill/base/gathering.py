"""All mistakes of a file instead of the first: while gathering, a mistake skips only its part.

Whoever reads something in parts that do not need each other (lines, drills, exercises) reads
each inside ``apart()``.  As a rule that changes nothing: the first mistake is raised.  Inside
``gathering()`` it is kept, and the next part is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

from reedmill.base.errors import InputError, PatternError

MOST_GATHERED = 200
"""Mistakes after which a file is read no further: it is something else, or broken throughout."""

GatheredError = TypeVar("GatheredError", bound=InputError)

_GATHERED: ContextVar[list[InputError] | None] = ContextVar("gathered", default=None)


@contextmanager
def gathering() -> Iterator[list[InputError]]:
    """Gather the mistakes of the parts read inside the block, in the order they are found."""
    found: list[InputError] = []
    token = _GATHERED.set(found)
    try:
        with apart():
            yield found
    finally:
        _GATHERED.reset(token)


@contextmanager
def apart() -> Iterator[None]:
    """Let a mistake in the block skip only the block, if mistakes are gathered; else raise it."""
    found = _GATHERED.get()
    try:
        yield
    except InputError as error:
        if found is None:
            raise
        found.append(error)


@contextmanager
def all_or_nothing() -> Iterator[None]:
    """Keep the block's parts only if all are right, if mistakes are gathered.

    Then all its mistakes are, and the last is raised: what needs it is not read on.
    """
    if not is_gathering():
        yield
        return
    with gathering() as found:
        yield
    for each in found[:-1]:
        with apart():
            raise each
    if found:
        raise found[-1]


@contextmanager
def retold(how: Callable[[PatternError], PatternError]) -> Iterator[None]:
    """Pass every mistake in the block, raised or gathered, through *how*."""
    found = _GATHERED.get()
    before = len(found or ())
    try:
        yield
    except PatternError as error:
        raise how(error) from None
    finally:
        for at, each in enumerate((found or [])[before:], start=before):
            if found and isinstance(each, PatternError):
                found[at] = how(each)


def is_gathering() -> bool:
    """Return True while mistakes are gathered."""
    return _GATHERED.get() is not None


def enough() -> bool:
    """Return True when so many mistakes were gathered that more are of no use."""
    return len(_GATHERED.get() or ()) >= MOST_GATHERED


def with_sources(texts: Mapping[str, str]) -> None:
    """Give the gathered mistakes their source lines; *texts* are whole files by name."""
    found = _GATHERED.get() or []
    for at, error in enumerate(found):
        if isinstance(error, PatternError) and not error.source_line:
            found[at] = error.with_source(texts.get(error.span.file, ""))


def in_order(errors: Iterable[GatheredError]) -> list[GatheredError]:
    """Return *errors* by place, each once; those without a place come first.

    A mistake that was found again where its lines were taken over is told once, where it
    stands.

    >>> in_order([InputError("b"), InputError("a"), InputError("b")])
    [InputError('b'), InputError('a')]
    """
    kept: dict[object, GatheredError] = {}
    for error in sorted(errors, key=_distance):  # a mistake comes before what it led to
        kept.setdefault(identity(error), error)
    return sorted(kept.values(), key=_place)


def _distance(error: InputError) -> int:
    steps = 0
    while isinstance(error, PatternError) and error.led_to is not None:
        steps, error = steps + 1, error.led_to
    return steps


def identity(error: InputError) -> object:
    """Return the place and fact of *error*, by which the same mistake is known again."""
    while isinstance(error, PatternError) and error.led_to is not None:
        error = error.led_to
    return (error.span, error.fact) if isinstance(error, PatternError) else str(error)


def _place(error: InputError) -> tuple[str, int, int]:
    if not isinstance(error, PatternError):
        return "", 0, 0
    return error.span.file, error.span.line, error.span.column
