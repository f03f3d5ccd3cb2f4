"""Drill x harp x position -> score: who plays what, exactly when, and what it is called.

The laws of expansion:

- ``order down, up`` plays the rungs from the highest to the lowest, then the same list
  backwards; without an order line they are played as listed.
- The phrase is played once for every rung of that order, the ending once after it.
- ``previous`` and ``next`` are neighbours in that order; at its ends they are the rung
  itself.  ``first`` and ``last`` are the ends of the rungs line.
- A slide from a note to itself is one longer note.
- The last bar is filled with rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.errors import InputError, PatternError
from reedmill.harp import Harp, Reed, bend_depth, bending_breath, hear
from reedmill.language.drill import BarCheck, Drill, Event, Group, Music, RungItem
from reedmill.language.words import MAX_NOTES, TEMPI
from reedmill.score import Meter, Note, Role, Score
from reedmill.source import Span
from reedmill.theory.intonation import EQUAL, Intonation
from reedmill.theory.positions import Position

DEFAULT_TEMPO_BPM = 60
DEFAULT_METER = Meter(4, 4)
REFERENCES_HZ = (390.0, 490.0)

_RUNG_WORDS = frozenset({"rung", "previous", "next", "first", "last"})


@dataclass(frozen=True, slots=True)
class _Step:
    """An event whose role has been filled in; ``reed`` is ``None`` for a rest."""

    event: Event
    reed: Reed | None
    length: Fraction  # beats

    @property
    def role(self) -> Role:
        if self.event.role == "anchor":
            return Role.ANCHOR
        return Role.RUNG if self.event.role in _RUNG_WORDS else Role.FREE


def expand(
    drill: Drill,
    harp: Harp,
    position: Position,
    *,
    tempo_bpm: int | None = None,
    intonation: Intonation = EQUAL,
    reference_hz: float = 440.0,
) -> Score:
    """The score of *drill* on *harp* in *position*.

    *tempo_bpm* (20 to 300) overrides the drill's own; *reference_hz* is A4, 390 to 490.
    Raises ``PatternError`` when this harp cannot play the drill or a bar does not add
    up, ``InputError`` for a tempo or reference out of range.
    """
    tempo = (drill.tempo_bpm or DEFAULT_TEMPO_BPM) if tempo_bpm is None else tempo_bpm
    if tempo not in TEMPI:
        raise InputError(f"a tempo of {tempo} cannot be played; write {TEMPI[0]} to {TEMPI[-1]}.")
    check_reference(reference_hz)
    try:
        rungs = _rungs(drill, harp)
        steps = _steps(drill, harp, rungs)
        meter = drill.meter or DEFAULT_METER
        timed, end = _timed(steps, meter)
    except PatternError as error:
        raise error.with_source(drill.texts.get(error.span.file, "")) from None
    key_class = position.key(harp.fifths).pitch_class
    notes: list[Note] = []
    for start, step in timed:
        assert step.reed is not None  # noqa: S101  rests were left out of the timing
        heard = hear(harp, position, step.reed)
        hz = intonation.hz(heard.midi, key_class, reference_hz)
        notes.append(
            Note(
                start, step.length, step.reed, heard.pitch, heard.degree, hz, step.role,
                step.event.span, step.event.joined,
            )
        )  # fmt: skip
    return Score(
        title=drill.title,
        about=drill.about or "",
        level=drill.level,
        tempo_bpm=tempo,
        meter=meter,
        harp=harp,
        position=position,
        notes=tuple(notes),
        length=_whole_bars(end, meter),
        anchor=drill.anchor.reed if drill.anchor else None,
        rungs=tuple(rungs),
        intonation=intonation,
        reference_hz=reference_hz,
    )


def check_reference(reference_hz: float) -> None:
    """Raise ``InputError`` unless *reference_hz* is an A4 that harps are tuned to."""
    low, high = REFERENCES_HZ
    if not low <= reference_hz <= high:  # which "not a number" is not either
        raise InputError(
            f"A4 = {reference_hz:g} Hz is no harp's tuning; write {low:g} to {high:g}."
        )


def _whole_bars(end: Fraction, meter: Meter) -> Fraction:
    return Fraction(max(1, -(-end // meter.beats)) * meter.beats)


# --- rungs ---------------------------------------------------------------------------


def _rungs(drill: Drill, harp: Harp) -> list[Reed]:
    """The reeds of the rungs line in the order written, runs worked out on this harp."""
    if drill.anchor:
        _check(harp, drill.anchor.reed, drill.anchor.span)
    return [reed for item in drill.rungs for reed in _run(item, harp)]


def _run(item: RungItem, harp: Harp) -> Iterator[Reed]:
    hole, breath = item.reed.hole, item.reed.breath
    for reed in (item.reed, item.floor):
        if reed is not None:
            _check(harp, reed, item.span)
    if item.how != "bends":
        yield item.reed
    if item.how == "one":
        return
    depth = bend_depth(harp.layout, hole) if breath is bending_breath(harp.layout, hole) else 0
    deepest = item.floor.bend if item.floor else depth
    if deepest == 0 and item.how == "bends":
        raise _no_bends(item, depth)
    for bend in range(1, deepest + 1):
        yield Reed(hole, breath, bend)


def _no_bends(item: RungItem, depth: int) -> PatternError:
    """What to say of a run of bends without a bend in it, which would leave no rung at all."""
    natural = item.reed
    instead = f"bends of {natural.tab}" if depth else "choose another hole"
    return PatternError(
        f"{natural.words} has no bends " + ("above itself" if depth else "on this harp"),
        f"Write {natural.tab} for the natural note, or {instead}.",
        item.span,
    )


def _check(harp: Harp, reed: Reed, span: Span) -> None:
    refusal = harp.refusal(reed)
    if refusal is not None:
        raise PatternError(*refusal, span)


def _turns(drill: Drill, harp: Harp, rungs: Sequence[Reed]) -> list[Reed]:
    """The rungs in the order they have their turns."""
    down = sorted(rungs, key=harp.midi, reverse=True)
    runs = {"down": down, "up": down[::-1], "listed": list(rungs)}
    return [reed for word in drill.order or ("listed",) for reed in runs[word]]


# --- who plays what ------------------------------------------------------------------


def _steps(drill: Drill, harp: Harp, rungs: Sequence[Reed]) -> list[_Step | BarCheck]:
    """Everything in the order it is played, roles filled in."""
    _check_size(drill, len(rungs) * len(drill.order or ("listed",)))
    turns = _turns(drill, harp, rungs) if drill.phrase else []
    always = {"first": rungs[0], "last": rungs[-1]} if rungs else {}
    if drill.anchor:
        always["anchor"] = drill.anchor.reed
    usual = drill.usual_length
    steps: list[_Step | BarCheck] = []
    for at, rung in enumerate(turns):
        around = {"previous": turns[max(at - 1, 0)], "next": turns[min(at + 1, len(turns) - 1)]}
        steps += _filled(drill.phrase, always | around | {"rung": rung}, usual)
    steps += _filled(drill.play + drill.ending, always, usual)
    for step in steps:
        if isinstance(step, _Step) and step.event.reed is not None:
            _check(harp, step.event.reed, step.event.span)
    return steps


def _check_size(drill: Drill, turns: int) -> None:
    """Refuse a drill with too many notes before any of them, or of the turns, is made."""
    phrase = turns * sum(item.count for item in drill.phrase)
    count = phrase + sum(item.count for item in drill.play + drill.ending)
    if count > MAX_NOTES:
        raise PatternError(
            f"this drill would have {count:,} notes; the most is {MAX_NOTES:,}",
            "Repeat less often: a page holds some two hundred notes.",
            (drill.phrase or drill.play)[0].span,
        )


def _filled(music: Music, words: dict[str, Reed], usual: Fraction) -> Iterator[_Step | BarCheck]:
    for item in music:
        if isinstance(item, Group):
            for _ in range(item.times):
                yield from _filled(item.items, words, usual)
        elif isinstance(item, Event):
            reed = words[item.role] if item.role else item.reed
            yield _Step(item, reed, item.length or usual)
        else:
            yield item


# --- exactly when --------------------------------------------------------------------


def _timed(
    steps: Sequence[_Step | BarCheck], meter: Meter
) -> tuple[list[tuple[Fraction, _Step]], Fraction]:
    """The notes with their starts in beats, slides from a note to itself merged, and the end."""
    now = Fraction(0)
    timed: list[tuple[Fraction, _Step]] = []
    for step in steps:
        if isinstance(step, BarCheck):
            _check_bar(now, meter, step.span)
            continue
        if step.event.joined:
            _check_slide(timed[-1] if timed else None, now, step)
        if step.event.joined and timed[-1][1].reed == step.reed:
            start, before = timed.pop()
            timed.append((start, replace(before, length=before.length + step.length)))
        elif step.reed is not None:
            timed.append((now, step))
        now += step.length
    return timed, now


def _check_bar(now: Fraction, meter: Meter, span: Span) -> None:
    over = now % meter.beats
    if over:
        raise PatternError(
            f"bar {now // meter.beats + 1} does not add up: "
            f"{_beats(over)} before this bar line, but {meter.name} has {meter.beats}",
            "Lengthen or shorten a note of this bar, or move the | sign.",
            span,
        )


def _beats(count: Fraction) -> str:
    whole, part = divmod(count, 1)
    words = " ".join(str(piece) for piece in (whole, part) if piece)
    return f"{words} beat{'s' if count > 1 else ''}"


def _check_slide(before: tuple[Fraction, _Step] | None, now: Fraction, step: _Step) -> None:
    """Refuse a slide that does not continue the reed sounding right before it."""
    if before is None or before[0] + before[1].length != now:
        raise PatternError(
            "there is no note to slide from here",
            "Put ~ straight between two notes of one reed, such as -3~-3'.",
            step.event.span,
        )
    here, there = before[1].reed, step.reed
    assert here is not None  # noqa: S101  only notes are timed
    assert there is not None  # noqa: S101  the parser refuses a slide into a rest
    same_reed = (here.hole, here.breath, here.over) == (there.hole, there.breath, there.over)
    if not same_reed:
        raise PatternError(
            f"no slide leads from {here.tab} to {there.tab}",
            "A slide stays in one hole and one breath, such as -3~-3'. "
            "Leave the ~ out for a new attack.",
            step.event.span,
        )
