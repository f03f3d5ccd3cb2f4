"""Import abjad without its documentation tools.

abjad 3.19 (the release for Python 3.11) imports uqbar.apis, which imports Sphinx: 0.4 s
that no score needs.  An empty module stands in for it while abjad is imported.
"""

from __future__ import annotations

import contextlib
import importlib
import io
import sys
from types import ModuleType
from typing import Any

_DOCUMENTER = "uqbar.apis"


def quick_abjad() -> Any:
    """The abjad module; imported on the first call.

    >>> quick_abjad().lilypond(quick_abjad().Note("bf'4"))
    "bf'4"
    """
    if "abjad" not in sys.modules:
        # Its parser remarks on stderr when it builds its tables for the first time.  Newer
        # releases do not parse c'4, so another note it must be.
        with contextlib.redirect_stderr(io.StringIO()):
            _import_alone()
            importlib.import_module("abjad").Note("d'4")
    return importlib.import_module("abjad")


def _import_alone() -> None:
    if _DOCUMENTER in sys.modules:
        return
    sys.modules[_DOCUMENTER] = ModuleType(_DOCUMENTER)
    try:
        importlib.import_module("uqbar.graphs")
        importlib.import_module("abjad")
    finally:
        del sys.modules[_DOCUMENTER]
