"""The options of a command gathered into the few values of ``wanted``.

They are made when a command is run: help, which makes none, is not to wait for their classes.
"""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Callable

OptionGroup = Literal[
    "Playing",
    "Over",
    "Phrasing",
    "Looks",
    "Sounds",
    "Listening",
    "TakeFiles",
    "BackingWanted",
    "DictationWanted",
    "PackWanted",
]
"""A class of ``wanted``."""


def grouped_options(**groups: OptionGroup) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return a decorator that replaces a command's options by one argument for each of *groups*."""

    def apply(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        def called(*words: object, **options: object) -> None:
            from dataclasses import fields

            from reedmill.cli import wanted

            for name, group in groups.items():
                kind = getattr(wanted, group)
                own = {each.name: options.pop(each.name) for each in fields(kind)}
                options[name] = kind(**own)
            command(*words, **options)

        return called

    return apply
