"""Frozen dataclasses for less work: what only refuses or prints is not compiled for each class.

Python 3.11 and 3.12 write six methods of such a class as text and compile each by itself, half a
millisecond a class, and a command makes some 180 of them.  The two that refuse a change and the
one that prints are functions here that all classes make by themselves; those that run often stay
Python's own.  Later Pythons compile the six in one go, and are left alone.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from reprlib import recursive_repr
from typing import Any

_REFUSING, _PRINTING = "_frozen_get_del_attr", "_repr_fn"  # of Python's module, where it has them
_ONE_BY_ONE = "_create_fn"


def lighten_dataclasses() -> None:
    """Have the dataclasses that are made from here on share what they seldom use."""
    if all(hasattr(dataclasses, name) for name in (_REFUSING, _PRINTING, _ONE_BY_ONE)):
        setattr(dataclasses, _REFUSING, _refusals)
        setattr(dataclasses, _PRINTING, _printing)


def _refusals(
    cls: type[Any], fields: Sequence[dataclasses.Field[object]], _globals: object
) -> tuple[Callable[..., None], Callable[..., None]]:
    """Return ``__setattr__`` and ``__delattr__`` of a frozen class, as Python would write them."""
    names = frozenset(each.name for each in fields)

    def __setattr__(self: object, name: str, value: object) -> None:  # noqa: N807
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
        super(cls, self).__setattr__(name, value)

    def __delattr__(self: object, name: str) -> None:  # noqa: N807
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
        super(cls, self).__delattr__(name)

    return __setattr__, __delattr__


def _printing(
    fields: Sequence[dataclasses.Field[object]], _globals: object
) -> Callable[[object], str]:
    """Return ``__repr__`` of a class, as Python would write it."""
    names = [each.name for each in fields]

    @recursive_repr()
    def __repr__(self: object) -> str:  # noqa: N807
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{self.__class__.__qualname__}({shown})"

    return __repr__
