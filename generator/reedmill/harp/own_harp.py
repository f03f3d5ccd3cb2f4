"""The file of a player's own harp: how far each of its reeds is from its tuning.

It is a small TOML text, written when a harp is measured and read when one is named.  It may
come from a stranger, so that every value in it is looked at::

    harp = "C"
    tuning = "richter"
    reference = 441.2

    [cents]
    "1" = 3.1
    "-1" = -2.0
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

from reedmill.base.errors import InputError, PatternError, close_match
from reedmill.base.kinds import OWN_HARP
from reedmill.base.ranges import REFERENCES_HZ
from reedmill.base.reading import read_text
from reedmill.base.source import Span
from reedmill.base.text import printable
from reedmill.base.toml_places import Places
from reedmill.base.toml_text import toml_data, toml_quoted
from reedmill.harp.harp import Harp
from reedmill.harp.layouts import HOLES
from reedmill.harp.own_reeds import MOST_OWN_CENTS, OwnHarp, OwnReeds
from reedmill.harp.reeds import Breath, Reed

_MOST_BYTES = 20_000  # of a file with a harp; its twenty lines take some 500
_KEYS = ("harp", "tuning", "reference", "cents")
_AS_WRITTEN = (
    'Write a harp as: harp = "C", tuning = "richter", reference = 440, and under [cents] a line '
    'for each reed: "-3" = -12.5'
)
_HEAD = """\
# One harp as it is: how many cents each natural note sounds over its place in equal
# temperament with A4 at this reference, or, with a minus, under it. Draws have a minus sign.
# Bends follow their reed. A reed without a line is taken to be in its place.
"""


def own_harp_text(own: OwnHarp, missing: frozenset[Reed] = frozenset()) -> str:
    """Return the file text of *own*; the *missing* reeds have no line in it."""
    lines = [
        f'"{reed.tab}" = {own.reeds.cents(reed):.1f}'
        for breath in Breath
        for reed in (Reed(hole, breath) for hole in HOLES)
        if reed not in missing
    ]
    return (
        f'{_HEAD}harp = "{own.harp}"\ntuning = {toml_quoted(own.tuning)}\n'
        f"reference = {own.reference_hz:.1f}\n\n[cents]\n" + "\n".join(lines) + "\n"
    )


def read_own_harp(path: Path) -> OwnHarp:
    """Read the harp in the file at *path*.

    ``PatternError`` with its place for what cannot be read, is not known or out of bounds,
    ``InputError`` for what is not such a file.
    """
    text = read_text(path, _MOST_BYTES, "A harp of your own is twenty numbers.", (OWN_HARP,))
    text = text.replace("\r\n", "\n")
    try:
        table, places = toml_data(text, str(path))
    except PatternError as error:
        raise PatternError(error.fact, _AS_WRITTEN, error.span, error.source_line) from None
    return _OwnFile(path, table, places).read()


@dataclass(frozen=True, slots=True)
class _OwnFile:
    """A TOML text that should describe a harp, with its values checked one by one."""

    path: Path
    table: dict[str, object]
    places: Places

    def read(self) -> OwnHarp:
        for key in self.table:
            if key not in _KEYS:
                raise self._error(
                    self.places.key((key,)), f'"{printable(key):.40}" is not known here',
                    f"A harp has {', '.join(_KEYS[:-1])} and {_KEYS[-1]}."
                    f"{close_match(key[:40], _KEYS)}",
                )  # fmt: skip
        return OwnHarp(
            self._harp(), self._text("tuning", "richter"), self._reference(),
            OwnReeds.of(self.path.stem, self._cents()), self.places,
        )  # fmt: skip

    def _harp(self) -> str:
        written = self._text("harp", "C")
        try:
            return Harp.parse(written).name
        except InputError as error:
            raise self._error(self.places.value(("harp",)), *_parted(error)) from None

    def _text(self, key: str, example: str) -> str:
        value = self.table.get(key)
        if not isinstance(value, str) or not value or len(value) > 80:
            self._refuse_value(key, f'Write for example: {key} = "{example}"')
        return printable(value)

    def _reference(self) -> float:
        low, high = REFERENCES_HZ
        value = _number(self.table.get("reference"))
        if value is None or not low <= value <= high:
            self._refuse_value("reference", f"Write A4 in Hz, from {low:g} to {high:g}.")
        return value

    def _refuse_value(self, key: str, remedy: str) -> NoReturn:
        value = self.table.get(key)
        has = "is missing" if value is None else f"cannot be {_shown(value)}"
        place = Span(str(self.path), 1, 1) if value is None else self.places.value((key,))
        raise self._error(place, f'"{key}" {has}', remedy)

    def _cents(self) -> dict[Reed, float]:
        table = self.table.get("cents")
        if not isinstance(table, dict) or not table:
            self._refuse_value("cents", 'Write a heading [cents] and under it lines like "-3" = 4')
        return {self._reed(tab): self._of(tab, value) for tab, value in table.items()}

    def _reed(self, tab: str) -> Reed:
        naturals = {Reed(hole, breath).tab: Reed(hole, breath) for hole in HOLES for breath in
                    Breath}  # fmt: skip
        if tab not in naturals:
            near = get_close_matches(tab[:40], naturals, n=1, cutoff=0.5)
            like = f' Did you mean "{near[0]}"?' if near else ""
            raise self._error(
                self.places.key(("cents", tab)),
                f'"{printable(tab):.40}" is not a natural note of a harp',
                f'Write "1" to "10" for the blows and "-1" to "-10" for the draws.{like}',
            )
        return naturals[tab]

    def _of(self, tab: str, value: object) -> float:
        cents = _number(value)
        if cents is None or abs(cents) > MOST_OWN_CENTS:
            raise self._error(
                self.places.value(("cents", tab)),
                f"a reed cannot be {_shown(value)} cents from its place",
                f"Write a number from -{MOST_OWN_CENTS:g} to {MOST_OWN_CENTS:g}; a reed further "
                "off is another note, or broken.",
            )
        return cents

    def _error(self, span: Span, fact: str, remedy: str) -> PatternError:
        return PatternError(fact, remedy, span).with_source(self.places.text)


def _parted(error: InputError) -> tuple[str, str]:
    fact, _, remedy = str(error).partition(". ")
    return fact, remedy


def _number(value: object) -> float | None:
    """Return *value* as a finite number; ``None`` for anything else."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < 1e6 and math.isfinite(value) else None


def _shown(value: object) -> str:
    return (
        f'"{printable(value):.40}"' if isinstance(value, str) else f"{printable(repr(value)):.40}"
    )
