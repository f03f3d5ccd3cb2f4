"""The drummer: patterns, fills into each new chorus, and a crash that opens it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from reedmill.band.feel import ACCENT, GHOST, BandFeel, FeelStroke
from reedmill.band.harmony import PHRASE, Duty, PlayedBar
from reedmill.band.hit import Hit, starts_in, strokes_of, way_for
from reedmill.band.instruments import DRUMS
from reedmill.band.moods import Mood, chance
from reedmill.score.arrangement import Part

_RINGS = Fraction(1, 4)  # of what the foot taps: a drum stops by itself
_HATS = ("closed hat", "open hat", "pedal hat")
_TIMEKEEPERS = {DRUMS[word] for word in ("ride", "ride bell", "closed hat", "open hat")}
_KEPT = 0.7  # of the ghost strokes of kick, snare and toms, which a drummer plays as they come
_COMES_AND_GOES = ("kick", "snare", "side stick", "floor tom", "low tom", "mid tom", "high tom")
_LIFTS = {Mood.QUIET: 0.0, Mood.EVEN: 0.5, Mood.FULL: 0.8}
"""How often the last half beat of a phrase is lifted.  Chosen by ear, no published source."""

_ANSWERS = {Mood.QUIET: 0.1, Mood.EVEN: 0.3, Mood.FULL: 0.45}
"""How often in a bar the left hand, or the foot, answers off the beat; as above."""

_NOTHING = (FeelStroke("snare", Fraction(0), GHOST),)


def drum_hits(feel: BandFeel, bars: tuple[PlayedBar, ...], seed: int = 0) -> list[Hit]:
    """Return every stroke of the drums; *seed* draws fills, ghost strokes and lifts."""
    if not feel.drums:
        return []
    hits: list[Hit] = []
    for bar in bars:
        here = list(_bar(feel, bar, seed))
        if bar.opens and bar.mood is not Mood.QUIET and bar.duty is Duty.ALL and not bar.last:
            here = [hit for hit in here if hit.start > bar.start or hit.key not in _TIMEKEEPERS]
            here.append(_hit(feel, bar.start, "crash", ACCENT))
            if not any(hit.start == bar.start and hit.key == DRUMS["kick"] for hit in here):
                here.append(_hit(feel, bar.start, "kick", 0))
        hits += here
    return _once(hits)


def _bar(feel: BandFeel, bar: PlayedBar, seed: int) -> Iterator[Hit]:
    if bar.last:
        yield from _last_bar(feel, bar)
    elif bar.duty is Duty.ALL:
        yield from _played(feel, bar, seed)
    elif bar.duty is Duty.DRUMS:
        yield from _alone(feel, bar, seed)
    else:
        yield from _stopped(feel, bar, seed)


def _played(feel: BandFeel, bar: PlayedBar, seed: int) -> Iterator[Hit]:
    """Yield the patterns of a bar, up to the fill where there is one."""
    fill = _fill(feel, bar, seed) if bar.leads_on else ()
    until = fill[0].at if fill else feel.meter.beats
    here = chance(seed, "ghosts", bar.chorus, bar.number)
    lifted = (*_lift(feel, bar, seed), *_answer(feel, bar, seed)) if not fill else ()
    for stroke in _patterns(feel, bar):
        drops = stroke.louder == GHOST and stroke.word in _COMES_AND_GOES
        if stroke.at >= until or (drops and here.random() > _KEPT):
            continue
        if any(stroke.at == each.at and {stroke.word, each.word} <= {*_HATS} for each in lifted):
            continue
        yield _hit(feel, bar.start + stroke.at, stroke.word, stroke.louder)
    for stroke in (*fill, *lifted):
        yield _hit(feel, bar.start + stroke.at, stroke.word, stroke.louder)


def _patterns(feel: BandFeel, bar: PlayedBar) -> Iterator[FeelStroke]:
    for pattern in feel.drums.in_mood(bar.mood)[0]:
        yield from strokes_of(pattern, bar)


def _fill(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    """Return a fill for the mood of the chorus that it ends; nothing where a feel has none."""
    fills = feel.fills.in_mood(bar.mood)
    return way_for(fills, bar, seed, "fill") if fills else ()


def _lift(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    """Return what lifts the end of a phrase into the next: an open hat where hats keep time."""
    if (bar.number + 1) % PHRASE:
        return ()
    if chance(seed, "lift", bar.chorus, bar.number).random() >= _LIFTS[bar.mood]:
        return ()
    offbeats = [
        stroke
        for stroke in _patterns(feel, bar)
        if stroke.word == "closed hat" and stroke.at > feel.meter.beats - feel.meter.pulse
    ]
    return tuple(FeelStroke("open hat", each.at) for each in offbeats[-1:])


def _answer(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    """Return the stroke beside the pattern with which a drummer answers now and then.

    The snare answers softly, or the kick where it has a part already, half a tap after a tap
    where neither has a stroke.
    """
    drawn = chance(seed, "answer", bar.chorus, bar.number)
    often = _ANSWERS[bar.mood] * (2 if (bar.number + 1) % PHRASE == 0 else 1)
    strokes = list(_patterns(feel, bar))
    drums = [drum for drum in ("snare", "kick") if any(each.word == drum for each in strokes)]
    if drawn.random() >= often or not drums:
        return ()
    drum = drawn.choice(drums)
    taken = {each.at for each in strokes if each.word in ("snare", "kick", "side stick")}
    pulse, taps = feel.meter.pulse, int(feel.meter.beats / feel.meter.pulse)
    after = pulse * (Fraction(2, 3) if feel.meter.compound else Fraction(1, 2))
    places = [tap * pulse + after for tap in range(taps)]
    free = [at for at in places if at not in taken]
    return (FeelStroke(drum, drawn.choice(free), GHOST),) if free else ()


def _alone(feel: BandFeel, bar: PlayedBar, seed: int) -> Iterator[Hit]:
    """Yield a bar of the drums by themselves: a bar in time, then a bar of fills, and so on."""
    if bar.number % 2 == 0:
        yield from _played(feel, bar, seed)
        return
    fills = feel.fills.in_mood(Mood.FULL) or (_NOTHING,)
    middle = feel.meter.beats / Fraction(2)
    drawn = chance(seed, "alone", bar.chorus, bar.number)
    for half in (0, 1):
        for stroke in drawn.choice(fills):
            at = stroke.at - middle if stroke.at >= middle else stroke.at
            if at < middle:
                yield _hit(feel, bar.start + half * middle + at, stroke.word, stroke.louder)
    for drum, at in (("kick", Fraction(0)), ("pedal hat", feel.meter.pulse)):
        yield _hit(feel, bar.start + at, drum, 0)


def _stopped(feel: BandFeel, bar: PlayedBar, seed: int) -> Iterator[Hit]:
    """Yield what is struck in a bar of stops or of a break, and what leads back from it."""
    strokes = feel.stops if bar.duty is Duty.STOPS else feel.stops[:1]
    if bar.duty is not Duty.NOBODY:
        for stroke in strokes:
            for drum in ("kick", "snare"):
                yield _hit(feel, bar.start + stroke.at, drum, 0)
    if bar.returns:
        last_tap = feel.meter.beats - feel.meter.pulse
        for stroke in _fill(feel, bar, seed):
            if stroke.at >= last_tap:
                yield _hit(feel, bar.start + stroke.at, stroke.word, stroke.louder)


def _last_bar(feel: BandFeel, bar: PlayedBar) -> Iterator[Hit]:
    """Yield the last bar: kick and snare with the whole band, and a crash at the end."""
    places = {stroke.at for stroke in feel.ending} | set(starts_in(bar))
    for at in sorted(places):
        final = at == max(places)
        for drum in ("kick", "crash" if final else "snare"):
            yield _hit(feel, bar.start + at, drum, ACCENT)


def _hit(feel: BandFeel, start: Fraction, drum: str, louder: int) -> Hit:
    return Hit(Part.DRUMS, start, start + _RINGS * feel.meter.pulse, DRUMS[drum], louder)


def _once(hits: list[Hit]) -> list[Hit]:
    """Keep one stroke where a drum is struck twice at a time: the louder."""
    found: dict[tuple[Fraction, int], Hit] = {}
    for hit in hits:
        there = found.get((hit.start, hit.key))
        if there is None or hit.louder > there.louder:
            found[hit.start, hit.key] = hit
    return list(found.values())
