"""The values that command-line options come to, one typed class for each group.

click hands a command its options by name.  ``grouping.grouped_options`` makes of them, once, the
values of the classes below; from there on a misspelt name is seen by the type checker.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Playing:
    """The options on which harps, in which positions and at which tempo a drill is played."""

    harps: tuple[str, ...]  # several in one text with commas
    keys: tuple[str, ...]  # of songs, instead of harps, likewise
    positions: tuple[str, ...]
    embouchures: tuple[str, ...]  # plans for the mouth, several in one text with or
    tempo: int | None  # beats a minute
    intonation: str
    offsets: str | None  # degrees moved by cents
    reference: float | None  # A4 in Hz; None: that of the harp
    tuning: str  # a layout by name, or its file
    temperament: str  # of the harp's reeds
    my_harp: str | None  # the file of a player's own harp


@dataclass(frozen=True, slots=True)
class Over:
    """The options for the band under a drill."""

    over: str | None  # the form; None: no band
    feel: str | None
    lay: str | None
    choruses: int | None
    seed: int
    band: str  # who plays it
    without: str  # players left out, with commas between


@dataclass(frozen=True, slots=True)
class Phrasing:
    """The options for a form filled with phrases."""

    phrases: bool
    level: int | None  # the highest that is taken
    rungs: str | None  # the bends that are, as tab


@dataclass(frozen=True, slots=True)
class Looks:
    """The options for the look of a sheet."""

    paper: str
    show: str
    large: bool
    black: bool


@dataclass(frozen=True, slots=True)
class Sounds:
    """The options for what is recorded, and into which files."""

    voice: str
    pure: bool
    drone: str | None
    clicking: str | None
    count_in: int  # bars
    click_level: str
    lead_in: float  # seconds
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
class Listening:
    """The options for what a take is compared with, and how strictly."""

    drill: str | None  # a title or a file; None: the take tells
    repeat: int
    echo: int | None  # bars; 0: the whole drill
    tolerance: str | None  # cents
    harp_test: bool
    student: str | None  # whose record the takes go into
    book: str | None  # the file of the record book; None: the usual one

    @property
    def keeps(self) -> bool:
        """True when the takes go into a record book."""
        return self.student is not None or self.book is not None


@dataclass(frozen=True, slots=True)
class TakeFiles:
    """The options for files made of takes, and where they go."""

    to: str | None
    out: str | None
    replace: bool
    paper: str
    large: bool
    black: bool


@dataclass(frozen=True, slots=True)
class BackingWanted:
    """The options of a backing: what the band plays, for which harp, and its files."""

    feel: str
    key: str | None  # of the song, instead of the harp
    harp: str | None
    position: str | None
    tuning: str
    tempo: int | None  # beats a minute
    choruses: int | None
    seed: int
    loose: int
    plan: str | None
    intro: str
    ending: str
    to: str
    count_in: int  # bars
    clicking: str | None
    click_level: str
    lead_in: float  # seconds
    stems: bool
    audio: str
    bits: str
    band: str
    without: str  # players left out, with commas between
    reference: float  # A4 in Hz
    paper: str
    large: bool
    black: bool
    out: str
    replace: bool


@dataclass(frozen=True, slots=True)
class DictationWanted:
    """The options of dictations: what is made, what is asked for, and the files."""

    to: str
    questions: int
    seed: int
    pause: int  # seconds
    tell: bool
    pure: bool
    audio: str
    apart: bool
    paper: str
    large: bool
    black: bool
    out: str
    replace: bool


@dataclass(frozen=True, slots=True)
class PackWanted:
    """The options for the part of a pack that is built or planned, and its workers."""

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
        """The part of the pack in words, which tells one build from another."""
        return f"student={self.student} lesson={self.lesson} zip={self.archive}"
