"""Import of single modules of a large package, without running its ``__init__``.

The package stands among the imported modules before its ``__init__`` has run, so its modules can
be imported one by one; the ``__init__`` runs as soon as a name is asked for that only it would
know.  Whoever else imports the package in the same program finds all of it.
"""

from __future__ import annotations

import importlib
import sys
from importlib.util import LazyLoader, find_spec, module_from_spec
from threading import RLock
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from importlib.abc import Loader

IMPORTING = RLock()
"""Held by whoever begins a package, until what it needs of it is there."""


class Unread(ModuleType):
    """A package whose ``__init__`` has not run."""

    def __getattr__(self, name: str) -> object:
        if find_spec(f"{self.__name__}.{name}") is not None:
            return importlib.import_module(f"{self.__name__}.{name}")
        with IMPORTING:
            if isinstance(self, Unread):
                self.__class__ = ModuleType  # type: ignore[assignment]
                _loader(self).exec_module(self)
        return getattr(self, name)


def begin(name: str) -> ModuleType:
    """Return the package *name* with none of it run; ``ModuleNotFoundError`` if not installed."""
    package = _unrun(name)
    package.__class__ = Unread
    return package


def put_off(name: str) -> None:
    """Import the module *name* of a package when something in it is first used."""
    module = _unrun(name)
    LazyLoader(_loader(module)).exec_module(module)
    package, _, last = name.rpartition(".")
    setattr(sys.modules[package], last, module)


def _unrun(name: str) -> ModuleType:
    spec = find_spec(name)
    if spec is None:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)
    sys.modules[name] = module = module_from_spec(spec)
    return module


def _loader(module: ModuleType) -> Loader:
    spec = module.__spec__
    assert spec is not None and spec.loader is not None  # noqa: S101, PT018  it was found by it
    return spec.loader
