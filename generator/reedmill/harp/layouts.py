"""Layouts: the note each of the twenty reeds sounds; data only, bends derive from it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from reedmill.base.choosing import chosen_word
from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import ForeignText, printable

HOLES = range(1, 11)

_MOST_BYTES = 20_000  # of a file with a layout; its two rows take some 100
_AS_WRITTEN = (
    "Write a tuning as two rows of ten whole numbers: blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, "
    "36], and draw below it in the same way."
)


@dataclass(frozen=True, slots=True)
class Layout:
    """Twenty reeds as semitones above hole 1 blow, hole 1 first.

    >>> RICHTER.blow[:3], RICHTER.draw[:3]
    ((0, 4, 7), (2, 7, 11))
    """

    name: ForeignText  # one of ours, or that of a stranger's file
    blow: tuple[int, ...]  # ten values
    draw: tuple[int, ...]  # ten values

    @property
    def naturals(self) -> frozenset[int]:
        """The pitch classes of the natural notes, 0 to 11 above hole 1 blow.

        >>> sorted(RICHTER.naturals)
        [0, 2, 4, 5, 7, 9, 11]
        """
        return frozenset(semitones % 12 for semitones in (*self.blow, *self.draw))

    @property
    def words(self) -> str:
        """The name as said of a harp: ``natural minor``; ``Richter`` keeps its capital."""
        return "Richter" if self.name == "richter" else self.name.replace("-", " ")


# Richter: the sequence A291810 in the On-Line Encyclopedia of Integer Sequences, which
# lists blow and draw in turn from hole 1.
RICHTER = Layout(
    printable("richter"),
    blow=(0, 4, 7, 12, 16, 19, 24, 28, 31, 36),
    draw=(2, 7, 11, 14, 17, 21, 23, 26, 29, 33),
)
# Common practice, no published source: "country" raises draw 5 a semitone; "natural
# minor" lowers the thirds and sevenths of the key a player of 2nd position hears, which is
# the key such a harp is mostly sold by: one sold as G minor is a C harp here.
COUNTRY = Layout(
    printable("country"),
    blow=(0, 4, 7, 12, 16, 19, 24, 28, 31, 36),
    draw=(2, 7, 11, 14, 18, 21, 23, 26, 29, 33),
)
NATURAL_MINOR = Layout(
    printable("natural-minor"),
    blow=(0, 3, 7, 12, 15, 19, 24, 27, 31, 36),
    draw=(2, 7, 10, 14, 17, 21, 22, 26, 29, 33),
)

LAYOUTS: dict[str, Layout] = {each.name: each for each in (RICHTER, COUNTRY, NATURAL_MINOR)}


def layout_named(name: str) -> Layout:
    """Return the built-in layout *name*, or the one in the file *name* that ends in ``.toml``.

    A layout file holds two rows of ten whole numbers, semitones above hole 1 blow::

        blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 36]
        draw = [2, 7, 11, 14, 17, 21, 23, 26, 29, 33]

    Raises ``InputError`` for an unknown name or a file that is not a layout.
    """
    if name.lower().endswith(".toml") or os.path.isfile(name):  # noqa: PTH113  odd names
        return _read_layout(Path(name))
    beyond = ", or give a .toml file with your own"
    return LAYOUTS[chosen_word("tuning", name, LAYOUTS, beyond)]


def _read_layout(path: Path) -> Layout:
    from reedmill.base.kinds import TUNING  # few harps have a file of their own
    from reedmill.base.reading import read_text  # likewise
    from reedmill.base.toml_text import toml_table  # likewise

    text = read_text(path, _MOST_BYTES, "A tuning is two rows of ten numbers.", (TUNING,))
    try:
        table = toml_table(text.replace("\r\n", "\n"), str(path))
    except PatternError as error:
        raise PatternError(error.fact, _AS_WRITTEN, error.span, error.source_line) from None
    return Layout(printable(path.stem), _row(path, table, "blow"), _row(path, table, "draw"))


def _row(path: Path, table: dict[str, object], breath: str) -> tuple[int, ...]:
    row = table.get(breath)
    whole = isinstance(row, list) and all(type(n) is int and -12 <= n <= 48 for n in row)
    has = "no such row" if row is None else f"{row!r:.80}"
    if not (isinstance(row, list) and whole and len(row) == len(HOLES)):
        raise InputError(
            f'{path}: "{breath}" needs ten whole numbers from -12 to 48, semitones above '
            f"hole 1 blow, one for each hole; this file has {has}."
        )
    return tuple(row)
