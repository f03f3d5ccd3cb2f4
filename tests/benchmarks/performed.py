"""A band's MIDI file read as a stranger would: by mido and music21, and by nothing of ours.

A stroke is placed in two steps.  Swing comes first: the off-beat of a piece is where most drum
strokes of the second half of a pulse lie.  Then each player gets the coarsest grid (halves,
thirds or quarters of a pulse, and so on down to 24ths) that nearly all its strokes lie close to,
when how late the player is on the whole is taken away; how far a stroke is off its place is its
timing.  What lies far from every place is a stray.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from statistics import median

import mido
from music21.harmony import ChordSymbol
from music21.pitch import Pitch

BASS, COMP, DRUMS = PLAYERS = "Bass", "Comp", "Drums"
NEAR_MS = 40.0  # what lies farther from its place is a stray
MOST_STRAYS = 0.005
MOST_LATE_MS = 45.0  # that a player is on the whole behind or before the beat
FINEST = 24  # parts of a pulse in the last grid
SECOND_HALF = 0.42, 0.8  # of a pulse: where its off-beat may lie, from an even one to four to one
LEAST_OFFBEATS = 0.04  # of the drums' strokes; with fewer the off-beat cannot be read
THIRDS = (Fraction(1, 3), Fraction(2, 3))


@dataclass(frozen=True, slots=True)
class Stroke:
    """A note of a player; places in pulses from the start of the file."""

    place: Fraction  # on the grid
    off_ms: float  # later than its place
    stray: bool
    start: float  # as it is
    end: float
    key: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Sounding:
    """A chord in force, in pulses, with what its symbol means to music21."""

    symbol: str
    start: Fraction
    end: Fraction
    root: int  # pitch classes
    tones: frozenset[int]
    steps: tuple[int, ...]  # semitones above the root, in thirds: third before fifth


@dataclass(frozen=True, slots=True)
class Performed:
    """One file: its strokes by player, its chords, its bars."""

    home: int  # pitch class
    meter: tuple[int, int]
    bpm: float  # pulses a minute
    pulses_a_bar: int
    bars: int
    offbeat: float  # of a pulse; a half is even
    strokes: dict[str, tuple[Stroke, ...]]
    chords: tuple[Sounding, ...]
    unread: tuple[str, ...]  # symbols that music21 does not know

    def chord_at(self, place: Fraction | float) -> Sounding | None:
        """Return the chord in force at *place*, where music21 knows it."""
        at = bisect_right([each.start for each in self.chords], place) - 1
        return self.chords[at] if at >= 0 and place < self.chords[at].end else None

    def bar_of(self, stroke: Stroke) -> int:
        """Return the bar, from 0, that a stroke belongs to by its place on the grid."""
        return int(stroke.place // self.pulses_a_bar)

    @property
    def strong(self) -> tuple[int, ...]:
        """The strong pulses of a bar: the first and, of four, the third."""
        return (0, 2) if self.pulses_a_bar == 4 else (0,)


def performed(path: Path) -> Performed:
    """Read a file of a band."""
    file = mido.MidiFile(path)
    named = {track.name: track for track in file.tracks}
    first = file.tracks[0]
    meter = next((m.numerator, m.denominator) for m in first if m.type == "time_signature")
    pulse = file.ticks_per_beat * 4 // meter[1] * (3 if _is_compound(meter) else 1)
    tempo = next(message.tempo for message in first if message.type == "set_tempo")
    quarters_a_pulse = pulse / file.ticks_per_beat
    notes = {name: tuple(_notes(named.get(name, ()), pulse)) for name in PLAYERS}
    ms = tempo / 1000 * quarters_a_pulse
    offbeat = _offbeat(notes[DRUMS]) if not _is_compound(meter) else 0.5
    pulses = _length(file, pulse)
    a_bar = meter[0] // 3 if _is_compound(meter) else meter[0]
    chords, unread = _chords(named.get("Chords", ()), pulse, pulses)
    return Performed(
        home=_home(first.name),
        meter=meter,
        bpm=60_000 / ms,
        pulses_a_bar=a_bar,
        bars=-int(-pulses // a_bar),
        offbeat=offbeat,
        strokes={
            name: _placed(rows, offbeat, ms, _is_compound(meter)) for name, rows in notes.items()
        },
        chords=chords,
        unread=unread,
    )


def _is_compound(meter: tuple[int, int]) -> bool:
    return meter[1] == 8 and meter[0] % 3 == 0


def _home(title: str) -> int:
    """Return the pitch class of the key that the file's title ends with: ``..., in Bb minor``."""
    name = title.rpartition(" in ")[2].split()[0].rstrip("m")
    return int(Pitch(_flat(name)).pitchClass)


def _length(file: mido.MidiFile, pulse: int) -> Fraction:
    """Return how long the file's music is, to the end of its first track."""
    return Fraction(sum(message.time for message in file.tracks[0]), pulse)


Note = tuple[float, float, int, int]
"""Start and end in pulses, key, velocity."""


def _notes(track: Iterable[mido.Message], pulse: int) -> Iterator[Note]:
    now, begun = 0, dict[int, list[tuple[int, int]]]()
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity:
            begun.setdefault(message.note, []).append((now, message.velocity))
        elif message.type in ("note_on", "note_off") and begun.get(message.note):
            start, velocity = begun[message.note].pop(0)
            yield start / pulse, now / pulse, message.note, velocity


def _offbeat(notes: Sequence[Note]) -> float:
    """Return where in the pulse the off-beat is played."""
    least, most = SECOND_HALF
    found = [start % 1 for start, _, _, _ in notes if least < start % 1 < most]
    return median(found) if len(found) > LEAST_OFFBEATS * len(notes) else 0.5


@cache
def _grids(offbeat: float, compound: bool) -> tuple[tuple[Fraction, ...], ...]:
    """Return the grids of a pulse, the coarsest first; each begins with 0 and ends with 1."""
    if compound:
        return tuple(_even(parts) for parts in (3, 6, 12, FINEST))
    middle = Fraction(offbeat).limit_denominator(240)
    halves = {Fraction(0), middle, Fraction(1)}
    quarters = halves | {middle / 2, (middle + 1) / 2}
    thirds = {Fraction(0), Fraction(1), *THIRDS}
    if abs(middle - THIRDS[1]) < Fraction(1, 40):  # two names of one place
        halves, quarters = halves - {middle} | {THIRDS[1]}, {*thirds, THIRDS[0] / 2, Fraction(5, 6)}
    rows = (halves, thirds, quarters, halves | thirds, quarters | thirds)
    return (*(tuple(sorted(row)) for row in rows), _even(FINEST))


def _even(parts: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(at, parts) for at in range(parts + 1))


def _nearest(start: float, grid: Sequence[Fraction]) -> Fraction:
    whole, within = divmod(start, 1)
    return int(whole) + min(grid, key=lambda place: abs(place - within))


def _placed(
    notes: Sequence[Note], offbeat: float, pulse_ms: float, compound: bool
) -> tuple[Stroke, ...]:
    """Return the strokes of a player on the coarsest grid that suits them."""
    if not notes:
        return ()
    grids = _grids(offbeat, compound)
    starts = sorted({note[0] for note in notes})
    grid, late = next(filter(None, (_suits(grid, starts, pulse_ms) for grid in grids)))
    fine, found = grids[-1], list[Stroke]()
    for start, end, key, velocity in notes:
        place = _nearest(start - late, grid)
        stray = abs(start - late - place) * pulse_ms > NEAR_MS
        place = _nearest(start - late, fine) if stray else place
        off = float(start - place) * pulse_ms
        found.append(Stroke(place, off, stray, start, end, key, velocity))
    return tuple(sorted(found, key=lambda stroke: (stroke.place, stroke.key)))


def _suits(
    grid: Sequence[Fraction], starts: Sequence[float], pulse_ms: float
) -> tuple[Sequence[Fraction], float] | None:
    """Return *grid* and how late the player is on it in pulses, or None if strokes stray from it.

    A player who lies behind the beat is not early on the next place.
    """
    floats = [float(place) for place in grid]
    offs = [min((s % 1 - at for at in floats), key=abs) * pulse_ms for s in starts]
    late = median(offs)
    late = late if abs(late) < MOST_LATE_MS else 0.0
    far = sum(abs(off - late) > NEAR_MS for off in offs)
    finest = len(grid) > FINEST
    return (grid, late / pulse_ms) if finest or far <= MOST_STRAYS * len(starts) else None


def _chords(
    track: Iterable[mido.Message], pulse: int, length: Fraction
) -> tuple[tuple[Sounding, ...], tuple[str, ...]]:
    """Return the chords as they follow, a symbol that comes again at once being one chord."""
    now, marks = 0, list[tuple[Fraction, str]]()
    for message in track:
        now += message.time
        if message.type == "marker" and (not marks or marks[-1][1] != message.text):
            marks.append((Fraction(now, pulse), message.text))
    found, unread = list[Sounding](), list[str]()
    for (start, symbol), (end, _) in pairwise((*marks, (length, ""))):
        meant = _meant(symbol)
        if meant is None:
            unread.append(symbol)
        else:
            root, tones, steps = meant
            found.append(Sounding(symbol, start, end, root, tones, steps))
    return tuple(found), tuple(unread)


@cache
def _meant(symbol: str) -> tuple[int, frozenset[int], tuple[int, ...]] | None:
    """Return root, tones and steps of a chord symbol as music21 reads it, or None."""
    try:
        chord = ChordSymbol(_flat(symbol))
    except ValueError:
        return None
    root = int(chord.root().pitchClass)
    classes = [int(pitch.pitchClass) for pitch in chord.pitches]
    return root, frozenset(classes), tuple((each - root) % 12 for each in classes)


def _flat(symbol: str) -> str:
    """Return *symbol* with music21's sign for a flat root, which is a minus."""
    return symbol[0] + symbol[1:].replace("b", "-", 1) if symbol[1:2] == "b" else symbol
