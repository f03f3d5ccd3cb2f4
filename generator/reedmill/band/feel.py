"""A feel: what bass, comp and drums play in a bar, its meter, tempo range and looseness."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from reedmill.band.moods import Ways
from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT, ForeignText
from reedmill.score.arrangement import Part
from reedmill.score.score import Meter

ACCENT, GHOST = 20, -34  # velocity on top of a player's loudness

# The bass leads and the chords stay under the melody; balance in level is set in sound/band.
# Velocities chosen by ear.
LOUDNESS = ((Part.BASS, 92), (Part.COMP, 68), (Part.DRUMS, 86))
PROGRAMS = ((Part.BASS, 33), (Part.COMP, 0), (Part.DRUMS, 0))  # from 0, see instruments


@dataclass(frozen=True, slots=True)
class FeelStroke:
    """One stroke of a player in a bar, in written beats."""

    word: str  # for the bass a tone, for the comp a manner or nothing, for drums the drum
    at: Fraction  # beats from the bar line
    louder: int = 0  # velocity: 0, ACCENT or GHOST
    length: Fraction | None = None  # beats; None: as the player does

    @property
    def ghost(self) -> bool:
        """True for a stroke that is felt rather than heard."""
        return self.louder == GHOST


Pattern = tuple[tuple[FeelStroke, ...], ...]
"""What one player plays, bar by bar; it goes round from the start of each chorus."""

Layers = tuple[Pattern, ...]
"""What the drums play at the same time."""


ON_ONE = (FeelStroke("", Fraction(0)),)
"""What the whole band strikes together where a feel does not say."""

_SHORTEST_MS = 100  # of the second half of a beat that swings
_LEAST_SWING = Fraction(6, 5)  # a feel that swings does so at any tempo
_PARTS = 12  # of the second half, in which a faster swing is counted


@dataclass(frozen=True, slots=True)
class Lean:
    """The place against the beat of a player, or of one drum of the kit."""

    who: str  # "bass", "comp", "drums" for all of the kit, or a drum
    late_ms: int  # behind the beat; less than 0: ahead of it


@dataclass(frozen=True, slots=True)
class BandFeel:
    """A style in which a band plays any form: patterns for bass, comp and drums."""

    span: Span
    title: ForeignText
    meter: Meter = Meter(4, 4)  # noqa: RUF009  frozen
    about: ForeignText = NO_TEXT
    tempo_bpm: int = 100  # pulses a minute
    tempo_goal_bpm: int | None = None  # where its range ends
    swing: Fraction = Fraction(1)  # first half of a beat to the second
    programs: tuple[tuple[Part, int], ...] = PROGRAMS
    loudness: tuple[tuple[Part, int], ...] = LOUDNESS  # velocities
    timing_ms: int = 0  # the most a player drifts from where he leans, either way
    velocity: int = 0  # the most a stroke may be louder or softer
    leans: tuple[Lean, ...] = ()
    accents: tuple[Fraction, ...] = ()  # beats from the bar line that everyone plays louder
    bass: Ways[Pattern] = Ways()  # noqa: RUF009  frozen
    comp: Ways[Pattern] = Ways()  # noqa: RUF009  frozen
    drums: Ways[Layers] = Ways()  # noqa: RUF009  frozen
    fills: Ways[tuple[FeelStroke, ...]] = Ways()  # noqa: RUF009  frozen
    stops: tuple[FeelStroke, ...] = ON_ONE
    ending: tuple[FeelStroke, ...] = ON_ONE

    def loud(self, part: Part) -> int:
        """Return the velocity of a stroke of *part* that is neither accented nor a ghost note."""
        return dict(self.loudness)[part]

    def late_ms(self, *whose: str) -> int:
        """Return how far behind the beat the first of *whose* plays that the feel tells of."""
        said = {each.who: each.late_ms for each in self.leans}
        return next((said[who] for who in whose if who in said), 0)

    def swing_at(self, tempo_bpm: int) -> Fraction:
        """Return the swing at *tempo_bpm*: that of the feel, and fast no more than a hand can play.

        The short half of a beat lasts a tenth of a second or more: so drummers play it from
        medium tempi on (A. Friberg and A. Sundström, Music Perception 19, 2002, from memory).
        """
        beat_ms = 60_000 / (tempo_bpm * self.meter.pulse)
        most = (beat_ms - _SHORTEST_MS) / _SHORTEST_MS
        fast = max(Fraction(most).limit_denominator(_PARTS), _LEAST_SWING)
        return min(self.swing, fast)

    @property
    def tempo_words(self) -> str:
        """The tempo range in words: ``84 to 132``, or one tempo."""
        return f"{self.tempo_bpm}" + (f" to {self.tempo_goal_bpm}" if self.tempo_goal_bpm else "")

    def tempo_notice(self, tempo_bpm: int) -> str:
        """Return one sentence when *tempo_bpm* is outside the feel's range, or nothing."""
        if self.tempo_goal_bpm is None or self.tempo_bpm <= tempo_bpm <= self.tempo_goal_bpm:
            return ""
        how = "slower" if tempo_bpm < self.tempo_bpm else "faster"
        return f'tempo {tempo_bpm} is {how} than "{self.title}" is meant for, {self.tempo_words}.'

    @property
    def usual_tempo_bpm(self) -> int:
        """The middle of the feel's tempo range, rounded down."""
        return (self.tempo_bpm + (self.tempo_goal_bpm or self.tempo_bpm)) // 2
