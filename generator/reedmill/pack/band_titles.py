"""The titles of the library's forms and feels, which a backing may name."""

from __future__ import annotations

from functools import cache

from reedmill.language import read_pattern
from reedmill.library import patterns_dir


@cache
def form_titles() -> tuple[str, ...]:
    """The title of every form of the library, in the order of its files."""
    return _titles("form")


@cache
def feel_titles() -> tuple[str, ...]:
    """The title of every feel of the library, in the order of its files."""
    return _titles("feel")


def _titles(kind: str) -> tuple[str, ...]:
    from reedmill.band.parser import parse_band

    folder = patterns_dir() / f"{kind}s"
    files = sorted(folder.glob(f"*.{kind}"))
    return tuple(
        found.title for path in files for found in parse_band(read_pattern(path), path.name)
    )
