"""The strokes of a bass over each chord of each bar, before their notes are chosen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from reedmill.band.feel import BandFeel, FeelStroke
from reedmill.band.harmony import ChordSpan, Duty, PlayedBar
from reedmill.band.instruments import BASS_KEYS
from reedmill.band.walking import scale_of
from reedmill.band.ways import strokes_of, way_for
from reedmill.theory.chords import Chord

_FLOOR = 47  # B2, just below where the chords begin: figures stay below it if they can
_FEW = 2  # strokes that may be a little higher, near to the note before them
_LANDING = 3  # chords of the last bars, which go down to the lowest root

# The tones of a chord a word of the bass may mean, the first there is.
_TONES = {
    "third": ("3", "b3", "4"), "fifth": ("5", "b5", "#5"), "seventh": ("b7", "7", "bb7", "6"),
}  # fmt: skip
_FLAT_SIXTH, _SIXTH, _OCTAVE = 8, 9, 12
_LOW = "low "  # before a tone that lies below the root


@dataclass(frozen=True, slots=True)
class Cue:
    """One stroke of the bass whose note is still to be chosen."""

    start: Fraction  # beats from the start of the music
    stroke: FeelStroke

    @property
    def walks(self) -> bool:
        """True for a note of a line that finds its own way."""
        return self.stroke.word == "walk"


_ANYTHING = frozenset(range(12))
_MAJOR = frozenset({0, 2, 4, 5, 7, 9, 11})
_NATURAL_MINOR, _DORIAN = frozenset({0, 2, 3, 5, 7, 8, 10}), frozenset({0, 2, 3, 5, 7, 9, 10})


@dataclass(frozen=True)
class Stint:
    """The strokes of the bass on one chord within one bar."""

    bar: PlayedBar
    place: int  # of the chord in the bar
    cues: tuple[Cue, ...]
    root: int  # pitch class
    silent_after: bool = False  # the bass rests in the bar after it
    home: frozenset[int] = _ANYTHING  # semitones above its root that are in the key
    aim: int | None = None  # the key of its root that is on the way to the last one

    @property
    def stretch(self) -> ChordSpan:
        """The chord and the beats it lasts."""
        return self.bar.stretches[self.place]

    @property
    def chord(self) -> Chord:
        """The chord that is played."""
        return self.stretch.chord

    @cached_property
    def scale(self) -> frozenset[int]:
        """The semitones above the root that are tones of the chord, or between them at home."""
        tones = {step % 12 for _, step in self.chord.tones}
        return self.home.intersection(scale_of(self.chord)) | tones

    @cached_property
    def walks(self) -> bool:
        """True where it is, all or in part, a line that finds its own way."""
        return any(cue.walks for cue in self.cues)

    @cached_property
    def above(self) -> tuple[int, ...]:
        """The semitones above the root, or below it, of the figure that is played."""
        words = {cue.stroke.word for cue in self.cues} - {"lead", "walk"} | {"root"}
        return tuple(self.semitones(word) for word in words)

    def semitones(self, word: str) -> int:
        """Return the semitones above the root of *word*; a sixth that is foreign makes way."""
        above = semitones_above(self.chord, word)
        tones = {step % 12 for _, step in self.chord.tones}
        if not word.endswith("sixth") or above % 12 in self.home | tones:
            return above
        return above + (1 if self.chord.is_minor else -1)

    @cached_property
    def reach(self) -> tuple[int, ...]:
        """The keys of the root over which the whole figure is within reach of the instrument."""
        known = [key for key in BASS_KEYS if key % 12 == self.root]
        fitting = [key for key in known if all(key + each in BASS_KEYS for each in self.above)]
        # Over Ab a fifth below and an octave above are not both in reach: that fifth is then above.
        return tuple(fitting or [key for key in known if key + max(self.above) in BASS_KEYS])

    @cached_property
    def roots(self) -> tuple[int, ...]:
        """The keys of the root that leave the figure below the chords, where there are any."""
        below = tuple(key for key in self.reach if key + max(self.above) <= _FLOOR)
        return below if len(self.cues) > _FEW and below else self.reach

    def goes_on_from(self, before: Stint) -> bool:
        """Return True where a line goes on over the chord of *before*, and the form with it."""
        restated = self.bar.number == 0 and self.place == 0
        return self.chord == before.chord and not restated


def stints_of(feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int) -> list[Stint]:
    """Return what the bass plays on each chord of each bar, and nothing where it rests."""
    found: list[Stint] = []
    before: Chord | None = None
    key = _key_of(bars)
    for bar in bars:
        here: list[Stint] = []
        for place, stretch in enumerate(bar.stretches):
            changed = stretch.chord != before or (not place and not bar.number)
            cues = tuple(_cues(feel, bar, stretch, seed, changed=changed))
            above = stretch.chord.root.semitones
            home = frozenset((step - above) % 12 for step in key)
            home = home if stretch.chord.is_minor or key != _MAJOR else _ANYTHING
            here.append(Stint(bar, place, cues, (tonic + above) % 12, home=home))
            before = stretch.chord
        here = [stint for stint in here if stint.cues]
        if found and not here and not found[-1].silent_after:
            found[-1] = replace(found[-1], silent_after=True)
        found += here
    return _landed(found)


def _landed(stints: list[Stint]) -> list[Stint]:
    """Return *stints* with the last ones going down to the lowest root of all."""
    aim, found = BASS_KEYS[0], list[Stint]()
    for stint in reversed(stints[-_LANDING:]):
        aim = min(stint.roots, key=lambda root: (abs(root - aim), root))
        found.append(replace(stint, aim=aim))
    return stints[:-_LANDING] + found[::-1]


def _key_of(bars: tuple[PlayedBar, ...]) -> frozenset[int]:
    """Return what is in the key, in semitones above home: major, natural minor or dorian.

    Where home is minor it is dorian if a chord has its sixth.
    """
    chords = {stretch.chord for bar in bars for stretch in bar.stretches}
    homes = [chord for chord in chords if chord.root.semitones == 0]
    if not homes or not all(chord.is_minor for chord in homes):
        return _MAJOR
    tones = {(chord.root.semitones + step) % 12 for chord in chords for _, step in chord.tones}
    return _DORIAN if _SIXTH in tones and _FLAT_SIXTH not in tones else _NATURAL_MINOR


def _cues(
    feel: BandFeel, bar: PlayedBar, stretch: ChordSpan, seed: int, *, changed: bool
) -> list[Cue]:
    """Return the strokes that fall on one chord, with its root where it starts."""
    if bar.duty in (Duty.NOBODY, Duty.DRUMS):
        return []
    cues = [Cue(bar.start + each.at, each) for each in _pattern(feel, bar, seed)]
    cues = [cue for cue in cues if stretch.start <= cue.start < stretch.end]
    if bar.last or bar.duty is not Duty.ALL:
        cues = [Cue(cue.start, _stopped(feel, bar, cue.stroke)) for cue in cues]
    here = cues[0].stroke if cues and cues[0].start == stretch.start else None
    if not changed or (here is not None and here.word == "walk"):
        return cues
    if here is None and not bar.last and bar.duty is not Duty.ALL:
        return cues  # a chord between two stops
    at = stretch.start - bar.start
    root = replace(here, word="root") if here else FeelStroke("root", at)
    return [Cue(stretch.start, root), *cues[1 if here else 0 :]]


def _pattern(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    if bar.last:
        return feel.ending
    if bar.duty is Duty.ALL:
        return strokes_of(way_for(feel.bass.in_mood(bar.mood), bar, seed, "bass"), bar)
    return feel.stops if bar.duty is Duty.STOPS else feel.stops[:1]


def _stopped(feel: BandFeel, bar: PlayedBar, stroke: FeelStroke) -> FeelStroke:
    """Return a stop as the bass plays it: the root, as short as the chord where silence follows."""
    return replace(stroke, word="root", length=None if bar.last else feel.meter.pulse / 2)


def semitones_above(chord: Chord, word: str) -> int:
    """Return the semitones above the root of *chord* of the tone called *word*.

    Less than 0 lies below it.

    >>> [semitones_above(Chord.parse("ii7"), word) for word in ("third", "low fifth", "octave")]
    [3, -5, 12]
    """
    if word.startswith(_LOW):
        return semitones_above(chord, word.removeprefix(_LOW)) - _OCTAVE
    if word == "root":
        return 0
    if word == "octave":
        return _OCTAVE
    if word == "sixth":
        return _SIXTH - (chord.quality == "m7b5")
    tones = dict(chord.tones)
    found = next((tones[name] for name in _TONES[word] if name in tones), None)
    return _OCTAVE if found is None else found
