"""What the options of a command ask for, each group of them as one value with types.

click hands a command its options by name.  ``grouped_options`` makes of them, once, the values of
the classes below; from there on a misspelt name is seen by the type checker.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import wraps
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True, slots=True)
class Playing:
    """On which harps, where and how a drill is played."""

    harps: tuple[str, ...]  # several in one text with commas
    positions: tuple[str, ...]
    tempo: int | None  # beats a minute
    intonation: str
    offsets: str | None  # degrees moved by cents
    reference: float  # A4 in Hz
    tuning: str  # a layout by name, or its file


@dataclass(frozen=True, slots=True)
class Over:
    """The band under a drill."""

    over: str | None  # the form; None: no band
    feel: str | None
    lay: str | None
    choruses: int | None
    seed: int
    band: str  # who plays it


@dataclass(frozen=True, slots=True)
class Looks:
    """How a sheet looks."""

    paper: str
    show: str
    large: bool
    black: bool


@dataclass(frozen=True, slots=True)
class Sounds:
    """What is recorded, and into which files."""

    voice: str
    drone: str | None
    clicking: str | None
    count_in: int  # bars
    repeat: int
    echo: int | None  # bars; 0: the whole drill
    fade_out: bool
    ladder: str | None
    apart: bool
    stems: bool
    wide: bool
    loop: bool
    audio: str
    bits: str
    verify: bool


@dataclass(frozen=True, slots=True)
class BackingWanted:
    """A backing: what the band plays, for which harp, and the files of it."""

    feel: str
    key: str | None  # no option of ours, see the command
    harp: str
    position: str | None
    tuning: str
    tempo: int | None  # beats a minute
    choruses: int
    seed: int
    to: str
    count_in: int  # bars
    clicking: str | None
    stems: bool
    audio: str
    bits: str
    band: str
    reference: float  # A4 in Hz
    paper: str
    large: bool
    black: bool
    out: str
    replace: bool


@dataclass(frozen=True, slots=True)
class PackWanted:
    """Which share of a pack is built or planned, and by whom."""

    only_plan: bool
    explain: bool
    archive: bool
    student: str | None
    lesson: int | None
    jobs: int | None
    where: str | None  # dask, or None: here
    scheduler: str | None

    @property
    def chosen(self) -> str:
        """What it is that is built, as builds of the same are told from others."""
        return f"student={self.student} lesson={self.lesson} zip={self.archive}"


def grouped_options(**groups: type) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command, for each of *groups*, one argument in place of the options it names."""

    def apply(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        def called(*words: object, **options: object) -> None:
            for name, group in groups.items():
                own = {each.name: options.pop(each.name) for each in fields(group)}
                options[name] = group(**own)
            command(*words, **options)

        return called

    return apply
