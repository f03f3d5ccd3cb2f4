"""Sentences folded into lines that a terminal has room for."""

from __future__ import annotations

from reedmill.base.text import columns, printable

_WIDEST = 100  # of a sentence


def folded(text: str, width: int, indent: str = "", first: str = "") -> list[str]:
    """Fold *text* after *first* into lines of at most *width* columns, later ones with *indent*."""
    lines, line = list[str](), first
    for word in printable(text).split():
        longer = f"{line} {word}" if line.strip() and line != first else f"{line}{word}"
        if line.strip() and columns(longer) > min(width, _WIDEST):
            lines.append(line)
            longer = f"{indent}{word}"
        line = longer
    return [*lines, line]
