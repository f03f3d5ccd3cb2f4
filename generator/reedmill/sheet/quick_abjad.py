"""Import abjad without its documentation tools.

abjad 3.19 (the release for Python 3.11) imports uqbar.apis, which imports Sphinx: 0.4 s
that no score needs.  An empty module stands in for it while abjad is imported.
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import Any

_DOCUMENTER = "uqbar.apis"


def quick_abjad() -> Any:
    """The abjad module; imported on the first call.

    >>> quick_abjad().lilypond(quick_abjad().Note("bf'4"))
    "bf'4"
    """
    if "abjad" not in sys.modules and _DOCUMENTER not in sys.modules:
        sys.modules[_DOCUMENTER] = ModuleType(_DOCUMENTER)
        try:
            importlib.import_module("uqbar.graphs")
            importlib.import_module("abjad")
        finally:
            del sys.modules[_DOCUMENTER]
    return importlib.import_module("abjad")
