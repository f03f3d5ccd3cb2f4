"""One take as the record book keeps it: its data, and the facts that are asked of it."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

from reedmill.base.errors import InputError
from reedmill.base.text import ForeignText, printable
from reedmill.harp import Harp, Reed
from reedmill.harp.harp_registers import register
from reedmill.harp.layouts import LAYOUTS
from reedmill.score.verdicts import Verdict

TakeData = dict[str, Any]
"""A take in the form of ``ear.TAKE_SCHEMA``, checked against it."""

MOST_BYTES = 10_000_000
"""Of the data of one take: an hour of notes has a tenth."""

_WORDS_LIKE = 400  # letters of a text in a take
_GREATEST = 1e6  # of any figure in a take: years in seconds, and every pitch there is


@dataclass(frozen=True, slots=True)
class Try:
    """One note that was tried: which, what it was reached from, and how far out it was."""

    tab: str
    came_from: str | None  # the tab of the note before; ``None`` at a start
    cents: float | None  # over its place; ``None`` where no pitch was judged
    verdict: Verdict


@dataclass(frozen=True)
class KeptTake:
    """A take of a student; raises ``InputError`` where a harp, reed, text or figure cannot be."""

    data: TakeData

    def __post_init__(self) -> None:
        if not isinstance(self.data, dict):
            raise TypeError("a take is an object of JSON")
        _check_values(self.data)
        self.harp  # noqa: B018  it raises where there is none
        for note in self._notes:
            for tab in (note["tab"], note["from"] or note["tab"]):
                _check_tab(tab, judged=note["verdict"] != Verdict.NOT_JUDGED.value)

    @property
    def title(self) -> ForeignText:
        """The title of its drill."""
        return printable(self.data["drill"]["title"])

    @cached_property
    def harp(self) -> Harp:
        """The harp it was played on; one with reeds of a player's own making is taken as Richter's.

        A take says what its layout is called, and no file of that name is looked for.
        """
        name = str(self.data["tuning"])
        return Harp.parse(self.data["harp"], LAYOUTS.get(name, LAYOUTS["richter"]))

    @property
    def register(self) -> str:
        """The register of the harp: high, middle or low."""
        return register(self.harp)

    @property
    def position(self) -> int:
        """The position, 1 to 12."""
        return int(self.data["position"])

    @property
    def recorded(self) -> datetime | None:
        """The moment it was recorded, if that is known."""
        said = self.data["recorded"]
        with suppress(ValueError, OverflowError, TypeError):
            at = datetime.fromisoformat(said)
            if at.tzinfo is not None:
                return at.astimezone(UTC)
        return None

    @cached_property
    def tries(self) -> tuple[Try, ...]:
        """Every note that was tried and could be judged, in the order of playing."""
        return tuple(
            Try(note["tab"], note["from"], note["cents"], Verdict(note["verdict"]))
            for note in self._notes
            if note["verdict"] != Verdict.NOT_JUDGED.value
        )

    @property
    def _notes(self) -> list[TakeData]:
        return [note for each in self.data["passes"] for note in each["notes"]]

    @cached_property
    def text(self) -> str:
        """The data as JSON, alike for alike data whatever program wrote it: 12 for 12.0."""
        data = _plain(self.data)
        return json.dumps(data, ensure_ascii=True, sort_keys=True, separators=(",", ":"))

    @cached_property
    def digest(self) -> str:
        """The SHA-256 of ``text``, by which it is known."""
        return hashlib.sha256(self.text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class PlayedTake:
    """A take of a student and when it was played, or else kept (ISO 8601, in UTC)."""

    played: str
    take: KeptTake


LEAST_NOTES = 8
"""With fewer notes in place a take says nothing of its drill: luck will do (common practice)."""

MOSTLY = 0.9
"""The share of a take's notes in place from which its drill, and its tempo, is mastered."""


def mostly_in_place(in_place: int, tries: int) -> bool:
    """Tell whether nine of ten *tries* were *in_place*: so a drill is played as it should be.

    Eight must be, so that a take of a few clear notes is none; a shorter drill is played several
    times in one take.

    >>> mostly_in_place(9, 10), mostly_in_place(8, 10), mostly_in_place(8, 8)
    (True, False, True)
    >>> mostly_in_place(3, 3), mostly_in_place(0, 0)
    (False, False)
    """
    return in_place >= max(LEAST_NOTES, MOSTLY * tries)


@dataclass(frozen=True, slots=True)
class StudentTakes:
    """Takes of one student; the name is empty where nothing says whose they are."""

    student: str
    takes: tuple[KeptTake, ...]


def _plain(value: object) -> object:
    """Return *value* of JSON with every whole number written as one."""
    if isinstance(value, float):
        return int(value) if value.is_integer() else value
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value


def _check_tab(tab: str, *, judged: bool) -> None:
    """Raise ``InputError`` unless *tab* is of one hole, or, where not *judged*, of several."""
    for each in [tab] if judged else tab.split("&"):
        try:
            reed = Reed.parse(each)
        except ValueError:
            raise InputError(f'a note of it is "{printable(tab):.20}", which is not tab.') from None
        if not 1 <= reed.hole <= 10:
            raise InputError(f'a note of it is "{reed.tab:.20}", and a harp has ten holes.')


def _check_values(data: object) -> None:
    """Raise ``InputError`` for a text or figure anywhere in *data* that nothing heard can be."""
    ahead = [data]
    while ahead:
        value = ahead.pop()
        if isinstance(value, str):
            if len(value) > _WORDS_LIKE:
                raise InputError(f"a text in it has {len(value)} letters, more than {_WORDS_LIKE}.")
        elif isinstance(value, float | int):
            if not -_GREATEST <= value <= _GREATEST:
                shown = f"{value:.3g}" if isinstance(value, float) else f"{value!s:.20}"
                raise InputError(f"a figure in it is {shown}, which nothing heard can be.")
        elif isinstance(value, dict):
            ahead += value.values()
        elif isinstance(value, list):
            ahead += value
