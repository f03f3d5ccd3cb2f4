"""The notes of a drill in the order they are played, each on its reed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from reedmill.base.errors import PatternError
from reedmill.base.source import Span
from reedmill.expand.fingering import (
    Fingering,
    SungKey,
    Target,
    beside_reeds,
    choices,
    fingerings,
    playable_until,
    reeds_for,
)
from reedmill.expand.homing import TuneStep, home_reed, phrase_ends
from reedmill.expand.style_check import allowed_style, check_style
from reedmill.harp import Harp, Reed, bend_depth, bending_breath, note_on_harp
from reedmill.harp.together import OneBreath
from reedmill.language.drill import (
    BarCheck,
    Drill,
    Event,
    Group,
    Music,
    RungItem,
    Section,
    Sung,
)
from reedmill.language.mistakes import drill_mistake
from reedmill.language.words import MAX_NOTES, VALUES
from reedmill.score.score import Role
from reedmill.score.style import PLAIN, Style
from reedmill.theory.positions import Position

OCTAVES = range(len(VALUES["octave"]))
"""The octaves of a harp, from hole 1 blow up: low, middle and high."""

_OCTAVE_NAMES = tuple(VALUES["octave"])
_RUNG_WORDS = frozenset({"rung", "previous", "next", "first", "last"})


@dataclass(frozen=True, slots=True)
class PlayedEvent:
    """An event on its reed; ``reed`` is ``None`` for a rest."""

    event: Event
    reed: Reed | None  # the highest, where several holes are played at once
    length: Fraction  # beats
    beside: tuple[Reed, ...] = ()  # the other holes of the breath, the lowest first
    style: Style = PLAIN

    @property
    def reeds(self) -> tuple[Reed, ...]:
        """All reeds of the breath, by hole, the lowest first; none for a rest."""
        return (*self.beside, self.reed) if self.reed else ()

    @property
    def role(self) -> Role:
        """The role of the note in its drill: anchor, rung..."""
        if self.event.role == "anchor":
            return Role.ANCHOR
        return Role.RUNG if self.event.role in _RUNG_WORDS else Role.FREE


@dataclass(frozen=True, slots=True)
class EchoGap:
    """Rests as long as the steps since *start*, for the student to answer in."""

    start: int  # index of the first step that is echoed


class RepeatMark(Enum):
    """A repeat sign or volta bracket: where a repeat begins, ends or takes another ending."""

    BEGIN = "begin"
    ENDING = "ending"  # what follows is of this pass alone
    AGAIN = "again"  # this pass is over
    END = "end"


PlayedItem = PlayedEvent | BarCheck | RepeatMark
Played = list[PlayedEvent | BarCheck | RepeatMark | EchoGap]


@dataclass(frozen=True, slots=True)
class HarpSetup:
    """A harp in a position at a tempo: the facts that decide which reeds a drill uses."""

    harp: Harp
    position: Position
    beat_s: float  # seconds
    octave: int = 0  # of the harp, in which a tune has its home root: 0 low, 1 middle, 2 high
    anchor: Reed | None = None  # of the drill, where it is one hole: for a tune that comes home

    @property
    def home(self) -> int:
        """The key number of the root that a tune counts from."""
        return home_root(self.harp, self.position, self.octave)


def anchor_holes(drill: Drill, player: HarpSetup, rungs: Sequence[OneBreath]) -> OneBreath:
    """Return the drill's anchor, empty without one; for ``anchor root`` the nearest to the rungs.

    Natural notes come first, then the breath of the first rung, then the smaller move,
    then the lower note.
    """
    anchor = drill.anchor
    if anchor is None:
        return ()
    if anchor.reed is not None:
        for reed in (*anchor.beside, anchor.reed):
            check_reed(player.harp, reed, anchor.span)
        return (*anchor.beside, anchor.reed)
    near = [reed for holes in rungs for reed in holes]
    root = nearest_root(player.harp, player.position, near or [Reed.parse("-2")])
    if root is None:
        raise drill_mistake("no-root", anchor.span, position=player.position.label)
    return (root,)


def nearest_root(harp: Harp, position: Position, near: Sequence[Reed]) -> Reed | None:
    """Return the root of *position* that is nearest to the reeds *near*, if *harp* has one."""

    def closeness(reed: Reed) -> tuple[bool, bool, int, int]:
        away = min(abs(reed.hole - rung.hole) for rung in near)
        return reed.bend > 0, reed.breath is not near[0].breath, away, harp.midi(reed)

    return min(roots(harp, position), key=closeness, default=None)


def roots(harp: Harp, position: Position) -> list[Reed]:
    """Return every reed, overbends left out, that gives the root of *position* on *harp*."""
    return [
        reed
        for reed in harp.reeds(overbends=False)
        if note_on_harp(harp, position, reed).degree.semitones == 0
    ]


# --- rungs ---------------------------------------------------------------------------


def rung_holes(drill: Drill, harp: Harp) -> list[OneBreath]:
    """Return the holes of each rung in written order, runs expanded on this harp."""
    return [holes for item in drill.rungs for holes in _holes_of(item, harp)]


def _holes_of(item: RungItem, harp: Harp) -> Iterator[OneBreath]:
    """Yield the rungs that *item* stands for; ``PatternError`` where *harp* lacks one."""
    for reed in (*item.beside, item.reed, item.floor):
        if reed is not None:
            check_reed(harp, reed, item.span)
    if item.how == "one":
        yield (*item.beside, item.reed)
    else:
        yield from ((reed,) for reed in _run(item, harp))


def _run(item: RungItem, harp: Harp) -> Iterator[Reed]:
    hole, breath = item.reed.hole, item.reed.breath
    if item.how != "bends":
        yield item.reed
    depth = bend_depth(harp.layout, hole) if breath is bending_breath(harp.layout, hole) else 0
    deepest = item.floor.bend if item.floor else depth
    shaded = item.floor is not None and item.floor.quarter
    if deepest == 0 and item.how == "bends" and not shaded:
        raise _no_bends(item, depth)
    for bend in range(1, deepest + 1):
        yield Reed(hole, breath, bend)
    if item.floor and shaded:
        yield item.floor


def _no_bends(item: RungItem, depth: int) -> PatternError:
    """Return the error for a run of bends on a reed without bends, which leaves no rung."""
    key = "bends-above-themselves" if depth else "no-bends"
    return drill_mistake(key, item.span, reed=item.reed.words, natural=item.reed.tab)


def check_reed(harp: Harp, reed: Reed, span: Span) -> None:
    """Raise ``PatternError`` when *harp* cannot play *reed*."""
    refusal = harp.refusal(reed)
    if refusal is not None:
        fact, remedy = refusal
        raise drill_mistake(_refused(harp, reed), span, fact=fact, remedy=remedy)


def _refused(harp: Harp, reed: Reed) -> str:
    """Return the key of the mistake of asking *harp* for *reed*, which it cannot play."""
    if reed.over:
        return "no-overbend"
    if bend_depth(harp.layout, reed.hole) == 0:
        return "no-note-to-bend-to"
    bends = reed.breath is bending_breath(harp.layout, reed.hole)
    return "bend-too-deep" if bends else "bend-of-the-other-reed"


def _turns(order: tuple[str, ...], harp: Harp, rungs: Sequence[OneBreath]) -> list[OneBreath]:
    """Return the rungs in the order in which they are practised.

    Of several holes the highest counts, which the ear follows as the tune.
    """
    down = sorted(rungs, key=lambda holes: harp.height(holes[-1]), reverse=True)
    runs = {"down": down, "up": down[::-1], "listed": list(rungs)}
    return [holes for word in order or ("listed",) for holes in runs[word]]


def refusals(drill: Drill, harp: Harp) -> Iterator[PatternError]:
    """Yield an error for every reed *drill* names that *harp* cannot play."""
    for item in drill.rungs:
        try:
            list(_holes_of(item, harp))
        except PatternError as error:
            yield error
    anchor = drill.anchor
    named = [(reed, anchor.span) for reed in (*anchor.beside, anchor.reed)] if anchor else []
    for part in drill.parts:
        events = _events(part.phrase + part.play + part.tune + part.ending)
        named += [(reed, event.span) for event in events for reed in event.reeds]
    for reed, span in named:
        try:
            if reed is not None:
                check_reed(harp, reed, span)
        except PatternError as error:
            yield error


def _events(music: Music) -> Iterator[Event]:
    for item in music:
        if isinstance(item, Group):
            for each in (item.items, *item.endings):
                yield from _events(each)
        elif isinstance(item, Event):
            yield item


# --- parts ---------------------------------------------------------------------------


def check_size(drill: Drill, rungs: int) -> None:
    """Refuse a drill with too many notes, before any note or turn is made."""
    count = drill.count(rungs)
    if count > MAX_NOTES:
        part = drill.parts[-1]
        span = (part.phrase or part.play or part.tune or part.ending)[0].span
        raise drill_mistake("too-many-notes", span, count=count, most=MAX_NOTES)


def part_steps(
    drill: Drill, part: Section, player: HarpSetup, rungs: Sequence[OneBreath], anchor: OneBreath
) -> Played:
    """Return every step of *part* in order, with roles filled in and degrees put on reeds."""
    turns = _turns(part.order, player.harp, rungs) if part.phrase else []
    always = _fixed(rungs, anchor)
    usual = part.length or Fraction(1)
    played: Played = []
    for at, rung in enumerate(turns):
        around = {"previous": turns[max(at - 1, 0)], "next": turns[min(at + 1, len(turns) - 1)]}
        _append(played, list(_filled(part.phrase, always | around | {"rung": rung}, usual)), part)
    if part.play:
        _append(played, list(_filled(part.play, always, usual)), part)
    if part.tune:
        sung = list(_filled(part.tune, always, usual))
        _append(played, _on_reeds(sung, drill, player), part)
    played += _filled(part.ending, always, usual)
    for at, step in enumerate(played):
        if isinstance(step, PlayedEvent):
            for reed in step.event.reeds:
                check_reed(player.harp, reed, step.event.span)
            if step.style.marks:
                own = allowed_style(player.harp, step.reeds, step.style, step.event.style)
                played[at] = step = replace(step, style=own)
                check_style(player.harp, step)
    return played


def _fixed(rungs: Sequence[OneBreath], anchor: OneBreath) -> dict[str, OneBreath]:
    """Return the holes of the role words that name the same ones throughout a drill."""
    always = {"first": rungs[0], "last": rungs[-1]} if rungs else {}
    return always | {"anchor": anchor} if anchor else always


def _append(played: Played, steps: list[PlayedItem], part: Section) -> None:
    start = len(played)
    played += steps
    if part.echo:
        played.append(EchoGap(start))


def _filled(music: Music, words: dict[str, OneBreath], usual: Fraction) -> Iterator[PlayedItem]:
    """Yield *music* as it is played, with marks where a group is repeated."""
    for item in music:
        if isinstance(item, Group) and item.times > 1:
            yield RepeatMark.BEGIN
            for ending in item.endings or ((),) * item.times:
                yield from _steps(item.items, words, usual, _scale(item), item.style)
                yield RepeatMark.ENDING
                yield from _steps(ending, words, usual, style=item.style)
                yield RepeatMark.AGAIN
            yield RepeatMark.END
        else:
            yield from _steps((item,), words, usual)


def _steps(
    music: Music,
    words: dict[str, OneBreath],
    usual: Fraction,
    scale: Fraction = Fraction(1),
    style: Style = PLAIN,
) -> Iterator[PlayedEvent | BarCheck]:
    for item in music:
        if isinstance(item, Group):
            inside = item.style.under(style)
            for each in item.passes:
                steps = list(_steps(each, words, usual, scale * _scale(item), inside))
                if item.triplet:
                    _check_triplet(item, steps)
                yield from steps
        elif isinstance(item, Event):
            holes = words[item.role] if item.role else item.reeds
            reed = holes[-1] if holes else None
            beats = _beats(item, usual, scale)
            yield PlayedEvent(item, reed, beats, holes[:-1], _style(item, style))
        else:
            yield item


def _style(event: Event, outer: Style) -> Style:
    """Return the style of *event* in brackets of the *outer* style, which shape attacks alone."""
    if event.rest:
        return PLAIN
    if event.joined:
        outer = outer.without(*(mark for mark in outer.marks if mark.needs_attack))
    return event.style.under(outer)


def _check_triplet(group: Group, steps: Sequence[PlayedEvent | BarCheck]) -> None:
    """Refuse two or four equal notes in a triplet: they do not end where it does."""
    lengths = [each.length for each in steps if isinstance(each, PlayedEvent)]
    if len(lengths) in (2, 4) and len(set(lengths)) == 1:
        raise drill_mistake("triplet-not-of-threes", group.span, count=len(lengths))


def _scale(group: Group) -> Fraction:
    return Fraction(2, 3) if group.triplet else Fraction(1)


def _beats(event: Event, usual: Fraction, scale: Fraction) -> Fraction:
    """Return how long *event* lasts; refuse a third of a third, which no note value shows."""
    beats = (event.length or usual) * scale
    # a third of a third of a beat: notation has no value for it
    if beats.denominator % 9 == 0:
        raise drill_mistake("uncountable-length", event.span, length=str(beats))
    return beats


# --- tunes ---------------------------------------------------------------------------


def home_root(harp: Harp, position: Position, octave: int = 0) -> int:
    """Return the key number of the root in one *octave* of *harp*, whether or not a reed gives it.

    Octave 0 goes from hole 1 blow up to the note below its octave, and each has one root.

    >>> [home_root(Harp("C"), Position(4), octave) for octave in range(3)]  # A4, A5, A6
    [69, 81, 93]
    """
    lowest = harp.midi(Reed.parse("1"))
    return lowest + (harp.key_in(position).pitch_class - lowest) % 12 + 12 * octave


def at_home(drill: Drill, player: HarpSetup) -> HarpSetup:
    """Return *player* with the octave in which the tunes of *drill* have their home root.

    It is that of the octave line, and the low one without it.  Only where the low root is not a
    natural note is it the lowest octave in which the harp has every note of every tune, if
    there is one.
    """
    if not any(part.tune for part in drill.parts):
        return player
    anchor = anchor_holes(drill, player, rung_holes(drill, player.harp))
    player = replace(player, anchor=anchor[0] if len(anchor) == 1 else None)
    setups = [replace(player, octave=octave) for octave in _octaves(drill, player)]
    if len(setups) == 1:
        return setups[0]
    sung = list(tunes(drill, player))
    whole = (each for each in setups if all(_has_all(steps, drill, each) for steps in sung))
    return next(whole, setups[0])


def _octaves(drill: Drill, player: HarpSetup) -> Sequence[int]:
    """Return the octaves of the harp in which a tune of *drill* may lie, the first one first."""
    if drill.octave:
        return [drill.octave.number]
    low = home_root(player.harp, player.position)
    reeds = choices(player.harp, low, overbends=False)
    return OCTAVES[:1] if any(not reed.bend for reed in reeds) else OCTAVES


def _has_all(steps: Sequence[PlayedItem], drill: Drill, player: HarpSetup) -> bool:
    """Tell whether *player* has a reed for every note among *steps*, and for every slide."""
    targets = tune_targets(steps, player)
    return playable_until(player.harp, targets, overbends=drill.overbends) == len(targets)


def sung_midi(event: Event, home: int) -> int:
    """Return the key number of a degree, *home* being the root of its octave 0."""
    assert event.sung is not None  # noqa: S101  only asked of degrees
    return home + event.sung.semitones


def tune_ways(steps: Sequence[PlayedItem], drill: Drill, player: HarpSetup) -> list[Fingering]:
    """Return the easiest way to play the notes among *steps* and the runner-up, best first."""
    return fingerings(player.harp, tune_targets(steps, player), overbends=drill.overbends)


def tune_targets(steps: Sequence[PlayedItem], player: HarpSetup) -> list[Target]:
    """Return the target of each note: a degree may use any reed, a role only its own."""
    played = [step for step in steps if isinstance(step, PlayedEvent)]
    ends = phrase_ends(
        [TuneStep(step.length, step.event.rest, step.event.joined) for step in played]
    )
    found: list[Target] = []
    after_rest = False
    for at, step in enumerate(played):
        if not step.event.rest:
            event, length_s = step.event, float(step.length) * player.beat_s
            midi = player.harp.midi(step.reed) if step.reed else sung_midi(event, player.home)
            beside = tuple(_key(player.home, each) for each in event.sung_beside)
            quarter = event.sung is not None and event.sung.degree.quarter
            alone = step.reed is None and not beside and not quarter
            home = _home(midi, player) if at in ends and alone else None
            found.append(
                Target(midi, length_s, event.joined, step.reed, after_rest, home, quarter, beside)
            )
        after_rest = step.event.rest
    return found


def _home(midi: int, player: HarpSetup) -> Reed | None:
    """Return the reed on which a phrase that ends on *midi* is at home, if it has one."""
    if (midi - player.home) % 12:
        return None
    return home_reed(player.harp, player.position, midi, player.anchor)


def _sounding(steps: Sequence[PlayedItem]) -> list[PlayedEvent]:
    return [step for step in steps if isinstance(step, PlayedEvent) and not step.event.rest]


def tunes(drill: Drill, player: HarpSetup) -> Iterator[list[PlayedItem]]:
    """Yield the steps of each tune of *drill*, before its degrees have reeds."""
    rungs = rung_holes(drill, player.harp)
    check_size(drill, len(rungs))
    always = _fixed(rungs, anchor_holes(drill, player, rungs))
    for part in drill.parts:
        if part.tune:
            yield list(_filled(part.tune, always, part.length or Fraction(1)))


def _on_reeds(steps: list[PlayedItem], drill: Drill, player: HarpSetup) -> list[PlayedItem]:
    ways = tune_ways(steps, drill, player)
    if not ways:
        raise _no_way(steps, drill, player)
    reeds = iter(ways[0].reeds)
    return [
        _on_reed(step, next(reeds), player.home, player.harp)
        if isinstance(step, PlayedEvent) and not step.event.rest
        else step
        for step in steps
    ]


def _on_reed(step: PlayedEvent, reed: Reed, home: int, harp: Harp) -> PlayedEvent:
    """Return *step* on the *reed* of its highest note, with the others of its breath beside."""
    keys = tuple(_key(home, each) for each in step.event.sung_beside)
    beside = beside_reeds(harp, reed, keys) if keys else ()
    assert beside is not None  # noqa: S101  only such a reed is chosen
    return replace(step, reed=reed, beside=beside or step.beside)


def _key(home: int, sung: Sung) -> SungKey:
    return SungKey(home + sung.semitones, sung.degree.quarter)


def _no_way(steps: list[PlayedItem], drill: Drill, player: HarpSetup) -> PatternError:
    """Explain why a tune cannot be played: its first degree without a reed, and what has one."""
    home = player.home
    notes = [step.event for step in _sounding(steps)]
    for event in notes:
        if event.sung is None:
            continue
        keys = tuple(_key(home, each) for each in event.sung_beside)
        own = _key(home, event.sung)
        if reeds_for(player.harp, own, keys, overbends=drill.overbends):
            continue
        over = reeds_for(player.harp, own, keys, overbends=True)
        if keys and any(reeds_for(player.harp, key, overbends=True) for key in (*keys, own)):
            degrees = "&".join(each.degree.name for each in (*event.sung_beside, event.sung))
            where = f"{player.position.label} on this {player.harp.label}"
            return drill_mistake("no-breath-for-degrees", event.span, degrees=degrees, where=where)
        return drill_mistake(
            "degree-needs-overbend" if over else "no-reed-for-degree", event.span,
            degree=event.sung.degree.name, elsewhere=_elsewhere(steps, drill, player),
            where=f"{player.position.label} on this {player.harp.label}{_told_octave(drill)}",
        )  # fmt: skip
    at = playable_until(player.harp, tune_targets(steps, player), overbends=drill.overbends)
    several = any(event.sung_beside for event in notes[at - 1 : at + 1])
    key = "nothing-held-in-tune" if several else "no-slide-between-degrees"
    return drill_mistake(key, notes[at].span)


def _told_octave(drill: Drill) -> str:
    """Name the octave a drill asks for, after the position and the harp."""
    if drill.octave is None:
        return ""
    return f", counted from the root in the {_OCTAVE_NAMES[drill.octave.number]} octave"


def _elsewhere(steps: list[PlayedItem], drill: Drill, player: HarpSetup) -> str:
    """Name the position nearest in fifths that has every degree of the tune, and an octave."""
    said = _other_octave(steps, drill, player)
    whole = "the whole tune in that octave" if drill.octave else "the whole tune"
    here = player.position.number
    away = sorted(range(1, 13), key=lambda n: (min((n - here) % 12, (here - n) % 12), n))
    for number in away[1:]:
        other = replace(player, position=Position(number))
        octaves = _octaves(drill, other)
        if any(_has_all(steps, drill, replace(other, octave=octave)) for octave in octaves):
            there = other.position.ordinal
            return f"The nearest position that has {whole} is the {there}.{said}"
    return f"No {'other ' if said else ''}position of this harp has {whole}.{said}"


def _other_octave(steps: list[PlayedItem], drill: Drill, player: HarpSetup) -> str:
    """Name the lowest octave of the harp that has the tune in this position; empty for none."""
    for octave in OCTAVES:
        if _has_all(steps, drill, replace(player, octave=octave)):
            name = _OCTAVE_NAMES[octave]
            return f" In this one it lies in the {name} octave of the harp: write octave {name}."
    return ""
