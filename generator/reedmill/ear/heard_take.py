"""The result of hearing a take, as data: every note with its verdict, rungs and advice."""

from __future__ import annotations

from dataclasses import dataclass, field

from reedmill.ear.track import PitchTrack
from reedmill.harp import Reed
from reedmill.harp.together import holes_tab
from reedmill.score.score import Role, Score
from reedmill.score.verdicts import Tolerance, Verdict


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note of the score as it was played in one pass.

    Measurements are ``None`` where there is nothing to measure: a missed note has none.
    """

    index: int  # of the note in the score, from 0
    reed: Reed
    role: Role
    before: Reed | None  # the note before it; None at a start and after several holes at once
    wanted_hz: float  # its target, moved by how the harp itself is tuned
    verdict: Verdict
    start_s: float | None = None  # seconds of the take; of a slide, where it is half way
    end_s: float | None = None
    hz: float | None = None  # of its steady part
    cents: float | None = None  # over the target, or, negative, under it
    cents_from_anchor: float | None = None  # how much wider its interval from the last anchor is
    steadiness_cents: float | None = None  # how far the pitch moves about, as a deviation
    found_after_s: float | None = None  # from its start until the pitch keeps its place
    early_ms: float | None = None  # against the player's own pace around it; negative is late
    heard_as: Reed | None = None  # the reed another note belongs to
    level_dbfs: float | None = None
    beside: tuple[Reed, ...] = ()  # the other holes of a note that is not judged, the lowest first
    slide_s: float | None = None  # how long a slow slide is written to take, at his own tempo

    @property
    def tab(self) -> str:
        """The tab of all its holes."""
        return holes_tab((*self.beside, self.reed))


@dataclass(frozen=True, slots=True)
class HeardPass:
    """One time through the score, or through a part of it."""

    start_s: float
    end_s: float
    notes: tuple[HeardNote, ...]


@dataclass(frozen=True, slots=True)
class Extra:
    """A tone that is not a note of the score."""

    start_s: float
    end_s: float
    hz: float
    nearest: Reed | None  # the reed of the harp it is nearest to


@dataclass(frozen=True, slots=True)
class Rung:
    """All tries of one reed that were reached from the same other reed."""

    reed: Reed
    before: Reed | None
    role: Role
    count: int  # how often it was measured
    median_cents: float
    spread_cents: float  # half of the tries are no further than this from the median
    on: int  # how many were on or near
    tries_cents: tuple[float, ...]  # each, in time order


@dataclass(frozen=True, slots=True)
class SoundFacts:
    """The properties of the recording: length, levels and the share of clipped samples."""

    seconds: float
    level_dbfs: float  # of the player's loud notes
    noise_dbfs: float  # of the softest moments, which may be the player's own
    rest_dbfs: float | None  # of what sounds while the player rests; None where he never does
    clipped_share: float


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A whole take against its score."""

    score: Score
    name: str  # of the take's file, for messages; foreign text
    harp_cents: float  # how far over its nominal pitch the harp itself is
    harp_measured: bool  # False where no natural note was heard, and harp_cents is 0
    tempo_heard: float | None  # beats a minute; None where no two notes were heard
    tolerance: Tolerance
    sound: SoundFacts
    passes: tuple[HeardPass, ...]
    extra: tuple[Extra, ...]
    by_rung: tuple[Rung, ...]  # the furthest out first
    advice: tuple[str, ...]  # at most three sentences
    track: PitchTrack = field(repr=False, compare=False)  # the pitch over time, for pictures

    @property
    def notes(self) -> tuple[HeardNote, ...]:
        """The notes of all passes, in time order."""
        return tuple(note for each in self.passes for note in each.notes)
