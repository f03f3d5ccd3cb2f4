"""The hub: everything a renderer needs to know about one drill on one harp.

Times are exact fractions of a beat from the start; nothing is rounded here.  A beat is
the lower number of the meter: a quarter in 4/4, an eighth in 6/8.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction

from reedmill.base.remedies import Remedy, Words, said
from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT, ForeignText
from reedmill.harp import Harp, Reed
from reedmill.harp.together import OneBreath, held_holes, holes_tab, holes_words, tongue_holes
from reedmill.score.arrangement import Arrangement, swung
from reedmill.score.style import PLAIN, Style
from reedmill.theory.degrees import Degree
from reedmill.theory.intonation import EQUAL, Intonation
from reedmill.theory.meter import Meter as Meter
from reedmill.theory.pitch import Pitch, equal_hz
from reedmill.theory.positions import Key, Position

GLIDE_S = 0.08
"""How long a slide takes, in seconds, when its note is long enough: quick enough to leave the
note its pitch, slow enough to be heard as a slide.  Chosen by ear, no published source."""

KEPT_BEFORE_A_BREATH = Fraction(1, 5)
"""The least part of its length that a note before a breath goes on sounding: enough to be heard as
a note.  Common practice, no published source."""


class Role(Enum):
    """The function of a note in its drill: anchor, rung..."""

    ANCHOR = "anchor"
    RUNG = "rung"
    FREE = "free"


class Feel(Enum):
    """The subdivision of the beat: straight or shuffle."""

    STRAIGHT = "straight"
    SHUFFLE = "shuffle"  # two to one


class LipShape(Enum):
    """The embouchure that isolates one hole."""

    LIPS = "lip purse"
    TONGUE_LEFT = "tongue block, tongue to the left"
    TONGUE_RIGHT = "tongue block, tongue to the right"

    @property
    def short(self) -> str:
        """The hold in the words of the pattern language: ``tongue left``."""
        return {"LIPS": "lips"}.get(self.name, self.name.replace("_", " ").lower())

    @property
    def sign(self) -> str:
        """A letter or two for the hold, where a plan changes it from note to note: ``TL``."""
        return {LipShape.LIPS: "L", LipShape.TONGUE_LEFT: "TL", LipShape.TONGUE_RIGHT: "TR"}[self]


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning to the player about a score, with its place in the pattern."""

    fact: str
    span: Span
    way_out: Remedy | None = None
    instead: str = ""  # what to write in the pattern, a sentence; the same for whoever asked

    def worded(self, words: Words) -> str:
        """Return the sentence with its place, the remedy in *words*."""
        told = said(words, self.way_out, self.fact, {}) if self.way_out else [self.fact]
        if self.instead:
            told = [f"{told[0]}.", *told[1:], self.instead]
        return f"{self.span.place}: {' '.join(told)}"


@dataclass(frozen=True, slots=True)
class Embouchure:
    """A plan for the mouth: one hold for anchors and one for everything else."""

    anchors: LipShape
    rungs: LipShape

    @property
    def split(self) -> bool:
        """True when anchors and rungs are held differently."""
        return self.anchors is not self.rungs

    @property
    def label(self) -> str:
        """The plan in words."""
        if not self.split:
            return self.rungs.value
        return f"anchors {self.anchors.value}; rungs {self.rungs.value}"

    @property
    def short(self) -> str:
        """The plan in the words of the pattern language, without its comma."""
        if not self.split:
            return self.rungs.short
        return f"anchors {self.anchors.short} rungs {self.rungs.short}"

    @property
    def words(self) -> str:
        """The plan in words, with its signs where it changes from note to note."""
        if not self.split:
            return self.label
        return f"{self.label} (marked {self.anchors.sign} and {self.rungs.sign})"

    def mark(self, hold: LipShape) -> str:
        """Return the mark over a note from which *hold* applies: its sign, or a hold for all."""
        return hold.sign if self.split else hold.short


@dataclass(frozen=True, slots=True)
class SoundingReed:
    """One of the reeds of a note: its pitch, degree and frequency."""

    reed: Reed
    pitch: Pitch
    degree: Degree
    hz: float  # the target frequency, in the score's intonation and reference pitch


@dataclass(frozen=True, slots=True)
class Note:
    """One note to be played: its reed, pitch, time and role.

    Where several holes sound in one breath, ``reed``, ``pitch``, ``degree`` and ``hz`` are of
    the highest hole, which is heard as the melody, and ``beside`` has the others.
    """

    start: Fraction  # beats from the start of the score
    length: Fraction  # beats, more than 0
    reed: Reed
    pitch: Pitch
    degree: Degree
    hz: float  # the target frequency, in the score's intonation and reference pitch
    role: Role
    span: Span  # the pattern text that made this note
    joined: bool = False  # goes on from the note before it without a new attack, see ``held_over``
    embouchure: LipShape | None = None  # None: as the player likes
    accent: bool = False
    beside: tuple[SoundingReed, ...] = ()  # the other holes of the breath, the lowest first
    style: Style = PLAIN  # its vibrato, shake, slap...
    slide_beats: Fraction | None = None  # how long its slide takes; None: as quick as usual

    @property
    def reeds(self) -> tuple[Reed, ...]:
        """All reeds of the breath, by hole, the lowest first."""
        return (*(each.reed for each in self.beside), self.reed)

    @property
    def sounded(self) -> tuple[SoundingReed, ...]:
        """All that sounds in the breath, by hole, the lowest first."""
        return (*self.beside, SoundingReed(self.reed, self.pitch, self.degree, self.hz))

    @property
    def tab(self) -> str:
        """The tab of all its holes: ``-3'``, ``-2&3``; without its marks of style."""
        return holes_tab(self.reeds)

    @property
    def words(self) -> str:
        """The holes in words: ``draw 2 and 3``."""
        return holes_words(self.reeds)

    @property
    def degrees(self) -> str:
        """The degrees of all its holes in plain text: ``b3``, ``5&b7``."""
        return "&".join(each.degree.name for each in self.sounded)

    @property
    def tongue_on(self) -> tuple[int, ...]:
        """The holes that the tongue covers between those that sound."""
        return tongue_holes(self.reeds)

    @property
    def as_played(self) -> tuple[object, ...]:
        """All that is played, without when: two notes that look alike on paper have it equal."""
        return (
            self.length, self.reeds, self.degrees, self.accent, self.joined, self.embouchure,
            self.style, self.slide_beats,
        )  # fmt: skip

    @property
    def end(self) -> Fraction:
        """Beats from the start of the score to the end of the note."""
        return self.start + self.length


class AirWay(Enum):
    """The way the air goes in a breath between two notes, through the nose or past the harp."""

    OUT = "out"  # the lungs are full of what was drawn
    IN = "in"  # they are empty of what was blown


@dataclass(frozen=True, slots=True)
class Breathing:
    """A breath between two attacks, and the time that it takes from the note before it."""

    at: Fraction  # beats: where that note ends as it is written
    way: AirWay
    seconds: Fraction  # it lasts, up to the next attack
    rest: Fraction = Fraction(0)  # beats by which the note was written shorter for it


@dataclass(frozen=True, slots=True)
class Repeat:
    """Music written once and played several times; the score holds every time."""

    start: Fraction  # beats
    passes: tuple[tuple[Fraction, Fraction], ...]  # where its ending starts, and where it ends

    @property
    def body(self) -> Fraction:
        """Beats that are the same every time."""
        return self.passes[0][0] - self.start


@dataclass(frozen=True, slots=True)
class Score:
    """One drill on one harp in one position: one breath after the other, without overlaps."""

    title: ForeignText
    about: ForeignText  # may be empty
    level: int | None  # 1 to 5
    tempo_bpm: int  # pulses a minute, see Meter.pulse
    meter: Meter
    harp: Harp
    position: Position
    notes: tuple[Note, ...]  # in time order; silence between them is rest
    length: Fraction  # beats, to the end of the last bar
    anchor_holes: OneBreath = ()  # several where it is played in one breath; none without one
    rung_holes: tuple[OneBreath, ...] = ()
    intonation: Intonation = EQUAL
    reference_hz: float = 440.0
    listen: ForeignText = NO_TEXT  # what to listen for
    tempo_goal_bpm: int | None = None  # where the suggested tempo range ends
    tempi_bpm: tuple[int, ...] = ()  # the ladder it is practised on, where one was asked for
    feel: Feel = Feel.STRAIGHT
    pickup: Fraction = Fraction(0)  # beats of the first bar that are played, 0 for all of it
    embouchure: Embouchure | None = None
    sections: tuple[tuple[Fraction, ForeignText], ...] = ()  # start in beats, and name
    echoes: tuple[tuple[Fraction, Fraction], ...] = ()  # start and end of stretches left open
    band: Arrangement | None = None  # what plays under it, bar by bar with it
    repeats: tuple[Repeat, ...] = ()  # in time order, none inside another
    breaths: tuple[Breathing, ...] = ()  # in time order, at most one after a note
    warnings: tuple[Caution, ...] = ()
    variant: tuple[str, ...] = field(default=(), compare=False, repr=False)
    """What tells it from the drill as it is written, in words for file names: ``48 bpm``."""
    origin: str = field(default="", compare=False, repr=False)
    """The file of its drill, as the drill's places name it; empty where there is none."""
    triplet_beats: frozenset[int] = field(init=False, compare=False, repr=False)
    """The beats with a boundary on a third of a beat, which are written as triplets."""

    def __post_init__(self) -> None:
        thirds = frozenset(edge // 1 for edge in self.edges() if edge.denominator % 3 == 0)
        object.__setattr__(self, "triplet_beats", thirds)

    def edges(self) -> set[Fraction]:
        """Return the beats at which a written note or rest begins or ends, without bar lines.

        Not notes alone have edges: a rest may begin a pick-up, and an echo is marked where it
        begins.
        """
        notes = {edge for note in self.notes for edge in (note.start, note.end)}
        return notes | {self.first_beat} | {begin for begin, _ in self.echoes}

    @property
    def anchor(self) -> Reed | None:
        """The anchor where it is one hole; an anchor of several is not judged and has no ladder."""
        return self.anchor_holes[0] if len(self.anchor_holes) == 1 else None

    @property
    def rungs(self) -> tuple[Reed, ...]:
        """The rungs of one hole; those of several are not judged and have no ladder."""
        return tuple(holes[0] for holes in self.rung_holes if len(holes) == 1)

    @property
    def first_beat(self) -> Fraction:
        """The beat where notation starts: 0, or the first beat of a pick-up."""
        return self.meter.beats - self.pickup if self.pickup else Fraction(0)

    @property
    def key(self) -> Key:
        """The key of the music."""
        return self.harp.key_in(self.position)

    @property
    def key_words(self) -> str:
        """The key as players say it: ``G``, ``D dorian``, ``C blues``.

        A band under the score says it; else the harp's natural notes in this position do.
        Blues is what is said of a key with a major third where flat thirds and sevenths are
        played and no natural seventh.  Common practice, no published source.
        """
        if self.band is not None:
            return f"{self.key.name} {self.band.mode}".rstrip()
        played = {each.degree.name for note in self.notes for each in note.sounded}
        if not self.key.minor and {"b3", "b7"} <= played and "7" not in played:
            return f"{self.key.name} blues"
        return self.harp.key_words(self.position)

    @property
    def bars(self) -> int:
        """Whole bars in the score."""
        return int(self.length / self.meter.beats)

    def seconds(self, beats: Fraction) -> Fraction:
        """Return exact seconds that *beats* last at the score's tempo."""
        return beats * 60 / (self.tempo_bpm * self.meter.pulse)

    def performed(self, beats: Fraction) -> Fraction:
        """Return when notated *beats* is played, in beats: a shuffle delays the half beat.

        In a shuffle the first half of a beat lasts two thirds of it, or what the band's
        swing makes of it.  Beats written as triplets are played as written.
        """
        if self.feel is Feel.STRAIGHT or beats // 1 in self.triplet_beats:
            return beats
        return swung(beats, self.swing)

    @property
    def swing(self) -> Fraction:
        """The ratio of the first half of a beat to the second: 2 in a shuffle, or the band's."""
        if self.feel is Feel.STRAIGHT:
            return Fraction(1)
        return self.band.swing if self.band and self.band.swing > 1 else Fraction(2)

    def performed_s(self, beats: Fraction) -> Fraction:
        """Return the exact seconds from the start to when notated *beats* is played."""
        return self.seconds(self.performed(beats))

    def sounding(self, note: Note) -> tuple[Fraction, Fraction]:
        """Return when *note* is played and how long it lasts, in beats.

        A shuffle moves both.  A note before a breath ends early enough for it, as it is written
        or earlier, but goes on for ``KEPT_BEFORE_A_BREATH`` of its length.
        """
        start, end = self.performed(note.start), self.performed(note.end)
        breath = self.breath_after(note)
        if breath is not None:
            least = start + (end - start) * KEPT_BEFORE_A_BREATH
            if note.slide_beats is not None:  # which is never cut
                least = max(least, self.performed(note.start + note.slide_beats))
            over = self.performed(self._next_attack(note))
            end = min(end, max(least, over - breath.seconds / self.seconds(Fraction(1))))
        return start, end - start

    def silent_from(self, note: Note) -> Fraction:
        """Return when *note* falls silent, in beats: what is played, see ``sounding``."""
        start, length = self.sounding(note)
        return start + length

    def breath_after(self, note: Note) -> Breathing | None:
        """Return the breath between *note* and the next attack, if one is marked there."""
        at = bisect_left(self.breaths, note.end, key=_breathed_at)
        found = self.breaths[at] if at < len(self.breaths) else None
        return found if found is not None and found.at == note.end else None

    def _next_attack(self, note: Note) -> Fraction:
        """Return where the note after *note* begins, in beats; its own end where it is the last."""
        at = bisect_left(self.notes, note.end, key=_start)
        return self.notes[at].start if at < len(self.notes) else note.end

    @property
    def root_midi(self) -> int:
        """The key number of the drone: the root at or below the lowest note, F2 to E4.

        Kept between F2 (41) and E4 (64) so that small speakers can give it and it
        stays under the melody.
        """
        played = (each.pitch.midi for note in self.notes for each in note.sounded)
        lowest = min(played, default=60)
        below = lowest - (lowest - self.key.pitch_class) % 12
        while below < 41:
            below += 12
        while below > 64:
            below -= 12
        return below

    @property
    def root_hz(self) -> float:
        """The frequency of the drone in Hz."""
        return equal_hz(self.root_midi, self.reference_hz)

    def between(self, start: Fraction, end: Fraction) -> tuple[Note, ...]:
        """Return the notes that begin from *start* to just before *end*, in beats."""
        first = bisect_left(self.notes, start, key=_start)
        return self.notes[first : bisect_left(self.notes, end, lo=first, key=_start)]

    def beginning_at(self, beats: Fraction) -> Note | None:
        """Return the note that begins at *beats*, if there is one."""
        at = bisect_left(self.notes, beats, key=_start)
        return self.notes[at] if at < len(self.notes) and self.notes[at].start == beats else None

    def sounding_over(self, beats: Fraction) -> Note | None:
        """Return the note that begins before *beats* and ends after it, if there is one."""
        at = bisect_left(self.notes, beats, key=_start) - 1
        return self.notes[at] if at >= 0 and self.notes[at].end > beats else None

    def attacks(self) -> list[tuple[Note, ...]]:
        """Return the notes by attack: each group is one attack and what is joined to it."""
        return by_attack(self.notes)

    def held_over(self, note: Note) -> tuple[int, ...]:
        """Return the holes that sound on from the note before *note* while others join or leave.

        A note that is joined either slides in, hole by hole, or is such a lift; none are held
        over into any other.  It may be one hole of a note of the score by itself.
        """
        if not note.joined:
            return ()
        at = bisect_left(self.notes, note.start, key=_start)
        return held_holes(*(each.reeds for each in self.notes[at - 1 : at + 1])) if at else ()

    def glide_s(self, note: Note) -> float:
        """Return the seconds a joined *note* takes to slide from the pitch before it to its own.

        The slide starts with the note, lasts ``GLIDE_S`` or half the note, whichever is
        shorter, or as long as is written, and follows ``glide_share`` in cents.
        """
        lasting_s = float(self.seconds(self.sounding(note)[1]))
        if note.slide_beats is not None:
            slid = self.performed_s(note.start + note.slide_beats)
            return min(float(slid - self.performed_s(note.start)), lasting_s)
        return min(GLIDE_S, lasting_s / 2)


def by_attack(notes: Iterable[Note]) -> list[tuple[Note, ...]]:
    """Group *notes* into attacks, each with the slides and lifts after it."""
    groups: list[list[Note]] = []
    for note in notes:
        if note.joined and groups:
            groups[-1].append(note)
        else:
            groups.append([note])
    return [tuple(group) for group in groups]


def _start(note: Note) -> Fraction:
    return note.start


def _breathed_at(breath: Breathing) -> Fraction:
    return breath.at


def glide_share(x: float) -> float:
    """Return the part of a slide's interval (in cents) covered at *x*, 0 to 1 of its time.

    A smooth step, 3x^2 - 2x^3: it leaves and arrives without a corner.

    >>> glide_share(0.0), glide_share(0.5), glide_share(1.0)
    (0.0, 0.5, 1.0)
    """
    return x * x * (3 - 2 * x)
