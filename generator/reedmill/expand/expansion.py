"""Drill, harp and position to a score: each note's reed, time and name.

The laws of expansion:

- ``order down, up`` plays the rungs from the highest to the lowest, then the same list
  backwards; without an order line they are played as listed.
- ``down`` and ``up`` go by pitch; where several holes are one rung, by that of the highest.
- The phrase is played once for every rung of that order, the ending once after it.
- ``previous`` and ``next`` are neighbours in that order; at its ends they are the rung
  itself.  ``first`` and ``last`` are the ends of the rungs line.
- A slide from a note to itself is one longer note.
- A triplet plays its notes in two thirds of their time.
- A tune counts from the root in the octave of the harp that the octave line names, and in the low
  one without it; only where the low root is not a natural note does it go up, to the lowest octave
  that has every note of every tune.
- An echo leaves the time of a phrase, play or tune line open once more.
- A note before a breath may be written shorter, with a rest after it; ``breath`` has those laws.
- A pick-up fills the end of the first bar; each section starts on a bar line; the last bar
  is filled with rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.base.errors import InputError
from reedmill.base.ranges import REFERENCES_HZ, TEMPI_BPM, TEMPI_IN_WORDS
from reedmill.base.text import NO_TEXT, ForeignText
from reedmill.expand.breath import with_breaths
from reedmill.expand.fingering import Fingering, SungKey, Target
from reedmill.expand.playing import (
    HarpSetup,
    PlayedEvent,
    PlayedItem,
    anchor_holes,
    at_home,
    check_size,
    part_steps,
    rung_holes,
    tune_targets,
    tune_ways,
    tunes,
)
from reedmill.expand.reed_choices import PlacedChoice, WhyReeds, degrees_name, reed_choices
from reedmill.expand.taken_over import mistakes_placed_in
from reedmill.expand.timing import Timed, timed_part, whole_bars
from reedmill.harp import Harp, Reed
from reedmill.harp.together import OneBreath, held_holes
from reedmill.language.drill import Drill
from reedmill.language.mistakes import drill_mistake
from reedmill.score.reed_pitches import sounding_reed
from reedmill.score.score import (
    Embouchure,
    Feel,
    LipShape,
    Meter,
    Note,
    Repeat,
    Role,
    Score,
    SoundingReed,
)
from reedmill.theory.degrees import Degree
from reedmill.theory.intonation import EQUAL, Intonation
from reedmill.theory.positions import Key, Position, spelled

DEFAULT_TEMPO_BPM = 60  # slow enough to find a bend, and a second a beat: common practice
DEFAULT_METER = Meter(4, 4)  # the meter of most blues and practice material
_MOST_ACCIDENTALS = 2  # of one note: the #3 of A# would need three sharps, and is named the 4


def expand(
    drill: Drill,
    harp: Harp,
    position: Position,
    *,
    tempo_bpm: int | None = None,
    intonation: Intonation = EQUAL,
    reference_hz: float = 440.0,
    version: int = 0,
    embouchure: Embouchure | None = None,
) -> Score:
    """Expand *drill* on *harp* in *position* to a score.

    *tempo_bpm* (20 to 300) overrides the drill's own; *reference_hz* is A4, 390 to 490;
    *version* picks one of the drill's embouchure plans, and *embouchure* takes the place of
    them all.  Raises ``PatternError`` when this
    harp cannot play the drill or a bar does not add up, ``InputError`` for a tempo or
    reference out of range.
    """
    tempo = _tempo(drill, tempo_bpm)
    check_reference(reference_hz)
    meter = drill.meter or DEFAULT_METER
    player = HarpSetup(harp, position, 60 / float(tempo * meter.pulse))
    with mistakes_placed_in(drill):
        found = _found(drill, player, meter)
        _check_phrase(drill, found.length, meter)
    own = drill.embouchures[version] if drill.embouchures else None
    plan = embouchure or own
    a_second = 1 / player.beat_s
    naming = _Naming(harp, position, intonation, reference_hz, plan, found.anchor, a_second)
    return with_breaths(
        Score(
            title=drill.title,
            about=drill.about or NO_TEXT,
            level=drill.level,
            tempo_bpm=tempo,
            meter=meter,
            harp=harp,
            position=position,
            notes=tuple(_held_as_named(naming.note(timed) for timed in found.notes)),
            length=found.length,
            anchor_holes=found.anchor,
            rung_holes=found.rungs,
            intonation=intonation,
            reference_hz=reference_hz,
            listen=drill.listen or NO_TEXT,
            tempo_goal_bpm=_goal(drill, tempo),
            feel=drill.feel or Feel.STRAIGHT,
            pickup=drill.pickup or Fraction(0),
            embouchure=plan,
            sections=found.sections,
            echoes=found.echoes,
            repeats=found.repeats,
            variant=() if tempo == _tempo(drill, None) else (f"{tempo} bpm",),
            origin=drill.span.file,
        )
    )


def versions(drill: Drill) -> range:
    """Return the versions of *drill*, one for each embouchure plan; one when there is none."""
    return range(max(1, len(drill.embouchures)))


def ways(
    drill: Drill, harp: Harp, position: Position, *, tempo_bpm: int | None = None
) -> list[list[Fingering]]:
    """Return the easiest way to play each tune of *drill* and the runner-up, best first.

    Raises as ``expand``; a tune that cannot be played has no ways.
    """
    meter = drill.meter or DEFAULT_METER
    player = HarpSetup(harp, position, 60 / float(_tempo(drill, tempo_bpm) * meter.pulse))
    with mistakes_placed_in(drill):
        home = at_home(drill, player)
        return [tune_ways(steps, drill, home) for steps in tunes(drill, home)]


def why_reeds(
    drill: Drill, harp: Harp, position: Position, *, tempo_bpm: int | None = None
) -> list[WhyReeds]:
    """Return for each tune of *drill* why it is played as it is.

    Raises as ``expand``.
    """
    meter = drill.meter or DEFAULT_METER
    player = HarpSetup(harp, position, 60 / float(_tempo(drill, tempo_bpm) * meter.pulse))
    with mistakes_placed_in(drill):
        laid_out = iter(_found(drill, player, meter).notes)
        home = at_home(drill, player)
        return [_why(steps, drill, home, laid_out) for steps in tunes(drill, home)]


def _why(
    steps: Sequence[PlayedItem], drill: Drill, player: HarpSetup, laid_out: Iterator[Timed]
) -> WhyReeds:
    """Return why the tune *steps* is played as it is; *laid_out* are all notes from it on."""
    way = tune_ways(steps, drill, player)[0]
    targets = tune_targets(steps, player)
    found = reed_choices(player.harp, targets, way.reeds, overbends=drill.overbends)
    starts = _starts(steps, way.reeds, laid_out)
    key = player.harp.key_in(player.position)
    degrees = [_degrees_of(target, player.position, key) for target in targets]
    placed = (
        PlacedChoice(
            tuple(starts[at] for at in each.at), tuple(degrees[at] for at in each.at), each
        )
        for each in found
    )
    return WhyReeds(spelled(player.home, Degree(1), key), way.cost, tuple(placed))


def _degrees_of(target: Target, position: Position, key: Key) -> str:
    """Return the degrees of the notes of one breath, by their pitch."""
    notes = (*target.beside, SungKey(target.midi, target.quarter))
    return degrees_name(
        [replace(position.degree(each.midi, key), quarter=each.quarter) for each in notes]
    )


def _starts(
    steps: Sequence[PlayedItem], reeds: Sequence[Reed], laid_out: Iterator[Timed]
) -> list[Fraction]:
    """Return the beat at which each note of a tune starts; a slide to one's own note adds to it."""
    events = [step.event for step in steps if isinstance(step, PlayedEvent) and not step.event.rest]
    starts: list[Fraction] = []
    for at, event in enumerate(events):
        if event.joined and reeds[at] == reeds[at - 1]:
            starts.append(starts[-1])
        else:
            starts.append(next(note.start for note in laid_out if note.step.event is event))
    return starts


def _tempo(drill: Drill, tempo_bpm: int | None) -> int:
    tempo = (drill.tempo_bpm or DEFAULT_TEMPO_BPM) if tempo_bpm is None else tempo_bpm
    if tempo not in TEMPI_BPM:
        raise InputError(f"a tempo of {tempo} cannot be played; write {TEMPI_IN_WORDS}.")
    return tempo


def check_reference(reference_hz: float) -> None:
    """Raise ``InputError`` unless *reference_hz* is an A4 that harps are tuned to."""
    low, high = REFERENCES_HZ
    if not low <= reference_hz <= high:  # which "not a number" is not either
        raise InputError(
            f"A4 = {reference_hz:g} Hz is not a pitch for harps; write {low:g} to {high:g}."
        )


@dataclass(frozen=True, slots=True)
class _Found:
    """The events and sections of a drill on one harp, before its notes are named."""

    notes: tuple[Timed, ...]
    length: Fraction
    rungs: tuple[OneBreath, ...]
    anchor: OneBreath
    sections: tuple[tuple[Fraction, ForeignText], ...]
    echoes: tuple[tuple[Fraction, Fraction], ...]
    repeats: tuple[Repeat, ...]


def _found(drill: Drill, player: HarpSetup, meter: Meter) -> _Found:
    rungs = rung_holes(drill, player.harp)
    anchor = anchor_holes(drill, player, rungs)
    check_size(drill, len(rungs))
    player = at_home(drill, player)
    now = first = _first_beat(drill, meter)
    notes: list[Timed] = []
    sections: list[tuple[Fraction, ForeignText]] = []
    echoes: list[tuple[Fraction, Fraction]] = []
    repeats: list[Repeat] = []
    for part in drill.parts:
        if part.name:
            now = whole_bars(now, meter) if now > first else first
            sections.append((now, part.name))
        layout = timed_part(part_steps(drill, part, player, rungs, anchor), meter, now)
        notes += layout.notes
        echoes += layout.echoes
        repeats += layout.repeats
        now = layout.end
    return _Found(
        tuple(notes), whole_bars(now, meter), tuple(rungs), anchor, tuple(sections),
        tuple(echoes), tuple(repeats),
    )  # fmt: skip


def _check_phrase(drill: Drill, length: Fraction, meter: Meter) -> None:
    """Refuse a phrase over a form that is not two bars long, or begins before the first of them."""
    if drill.over and (length != _PHRASE_BARS * meter.beats or drill.pickup):
        bars = int(length / meter.beats)
        raise drill_mistake(
            "not-two-bars", drill.span, title=drill.title,
            is_what="begins with a pick-up" if drill.pickup else
            f"has {bars} bar{'' if bars == 1 else 's'}",
        )  # fmt: skip


_PHRASE_BARS = 2


def _first_beat(drill: Drill, meter: Meter) -> Fraction:
    pickup = drill.pickup or Fraction(0)
    if pickup >= meter.beats:
        raise drill_mistake(
            "pickup-too-long", drill.span, beats=pickup, meter=meter.name, full=meter.beats
        )
    return meter.beats - pickup if pickup else Fraction(0)


def _goal(drill: Drill, tempo_bpm: int) -> int | None:
    """Return the end of the drill's tempo range; ``None`` for a player who starts beyond it."""
    goal = drill.tempo_goal_bpm
    if goal is None or tempo_bpm == drill.tempo_bpm:
        return goal
    if drill.tempo_bpm is not None and goal < drill.tempo_bpm:
        return goal if tempo_bpm > goal else None
    return goal if tempo_bpm < goal else None


def _held_as_named(notes: Iterable[Note]) -> Iterator[Note]:
    """Yield *notes*, a hole that sounds on from one into the next under the name it has there.

    A tune may name its highest note #4 and one under another b5; nothing can be tied so.
    """
    before: Note | None = None
    for note in notes:
        held = held_holes(before.reeds, note.reeds) if before is not None and note.joined else ()
        if before is not None and held:
            names = {each.reed: each for each in before.sounded if each.reed.hole in held}
            *beside, own = (names.get(each.reed, each) for each in note.sounded)
            note = replace(note, pitch=own.pitch, degree=own.degree, beside=tuple(beside))
        yield note
        before = note


@dataclass(frozen=True, slots=True)
class _Naming:
    """Names the notes of a score: pitch, degree and frequency of each timed step."""

    harp: Harp
    position: Position
    intonation: Intonation
    reference_hz: float
    plan: Embouchure | None
    anchor: OneBreath
    beats_a_second: float

    def note(self, timed: Timed) -> Note:
        step = timed.step
        assert step.reed is not None  # noqa: S101  rests are not laid out
        key = self.harp.key_in(self.position)
        own = self.sounding(step.reed)
        pitch, degree = own.pitch, own.degree
        sung = step.event.sung
        if sung and sung.degree != degree:  # written #4, not b5
            written = spelled(own.pitch.midi, sung.degree, key)
            if abs(written.alter) <= _MOST_ACCIDENTALS:
                pitch, degree = written, sung.degree
        return Note(
            timed.start, step.length, step.reed, pitch, degree, own.hz, step.role,
            step.event.span, step.event.joined, self._hold(step), step.event.accent,
            tuple(map(self.sounding, step.beside)), step.style.counted(self.beats_a_second),
            step.event.slide_beats,
        )  # fmt: skip

    def sounding(self, reed: Reed) -> SoundingReed:
        return sounding_reed(self.harp, self.position, self.intonation, self.reference_hz, reed)

    def _hold(self, step: PlayedEvent) -> LipShape | None:
        if self.plan is None or step.beside:  # the holes themselves say where the tongue is
            return None
        home = step.role is Role.ANCHOR or (step.role is Role.FREE and step.reeds == self.anchor)
        return self.plan.anchors if home else self.plan.rungs
