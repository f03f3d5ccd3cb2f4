"""The drummer: patterns, fills into each new chorus, and a crash that opens it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from reedmill.band.feel import ACCENT, GHOST, BandFeel, FeelStroke
from reedmill.band.groove import TIMEKEEPERS, Groove, heard_by_bar
from reedmill.band.harmony import PHRASE, Duty, PlayedBar
from reedmill.band.hit import Hit, starts_in
from reedmill.band.instruments import DRUMS
from reedmill.band.moods import Mood, chance
from reedmill.score.arrangement import Part

_RINGS = Fraction(1, 4)  # of what the foot taps: a drum stops by itself
_HATS = ("closed hat", "open hat", "pedal hat")
_KEEPING_TIME = tuple(word for word in TIMEKEEPERS if word != "open hat")
_TOMS = ("high tom", "mid tom", "low tom", "floor tom")
_RIGHT_HAND = {DRUMS[word] for word in (*TIMEKEEPERS, *_TOMS)}  # which strikes the crash
_LIFTS = {Mood.QUIET: 0.0, Mood.EVEN: 0.5, Mood.FULL: 0.8}
"""How often the last half beat of a phrase is lifted.  Chosen by ear, no published source."""

_ANSWERS = {Mood.QUIET: 0.15, Mood.EVEN: 0.3, Mood.FULL: 0.45}
"""How often in a bar the left hand, or the foot, answers off the beat; as above."""

_BETWEEN = -18  # a cymbal or closed hat between two taps; an accent of one is half another's
_BESIDE_THE_KIT = {"tambourine": -14, "clap": -14, "cowbell": -10}
"""How much softer is what else is shaken and struck: it colours the snare.  As above."""

_JOINS_LATER = "clap"  # hands join in the second half of a chorus
_STOP = 14  # velocity of a stop, which is no softer than an accent of the groove
_CRASHES = 60  # loudness of drums that crash into a chorus which is not full
_PART = 8  # bars of a long form, such as one with a bridge
_MOST_BOMBS = 3  # loud strokes of a kick that else is only felt, in a chorus; common practice
_NOTHING = (FeelStroke("snare", Fraction(0), GHOST),)

Fill = tuple[FeelStroke, ...]


def drum_hits(
    feel: BandFeel, bars: tuple[PlayedBar, ...], seed: int = 0, others: Iterable[Hit] = ()
) -> list[Hit]:
    """Return every stroke of the drums; *seed* draws what is free, by ear for *others*."""
    if not feel.drums:
        return []
    drummer = _Drummer(feel, seed, bars, others)
    hits: list[Hit] = []
    back = False  # from stops or a break
    for bar in bars:
        here = list(drummer.bar(bar))
        crashes = (bar.opens and drummer.rises(bar)) or (back and bar.mood is not Mood.QUIET)
        back = bar.returns
        if crashes and bar.duty is Duty.ALL and not bar.last:
            taken = {*_RIGHT_HAND, DRUMS["kick"]}
            here = [hit for hit in here if hit.start > bar.start or hit.key not in taken]
            here += (_hit(feel, bar.start, "crash", ACCENT), _hit(feel, bar.start, "kick", 0))
        hits += here
    return _once(hits)


class _Drummer:
    """A drummer who remembers what was played, and hears the others."""

    def __init__(
        self, feel: BandFeel, seed: int, bars: tuple[PlayedBar, ...], others: Iterable[Hit]
    ) -> None:
        self._feel, self._seed = feel, seed
        self._heard = heard_by_bar(bars, others)
        self._lengths = Counter(bar.chorus for bar in bars)
        self._moods = {bar.chorus: bar.mood for bar in bars}
        self._groove = Groove(feel, seed)
        self._fills: list[tuple[int, Fill]] = []  # each with the number of its bar
        self._bombs: dict[int, list[int]] = {}  # the bars of each chorus that have one

    def rises(self, bar: PlayedBar) -> bool:
        """Return True for a chorus that is worth a crash: a full one, or one after a quiet one.

        Soft drums crash into full ones alone.
        """
        if bar.mood is not Mood.EVEN:
            return bar.mood is Mood.FULL
        before = self._moods.get(bar.chorus - 1)
        return before is Mood.QUIET and self._feel.loud(Part.DRUMS) >= _CRASHES

    def bar(self, bar: PlayedBar) -> Iterator[Hit]:
        """Yield the strokes of the next bar."""
        if bar.last:
            yield from _last_bar(self._feel, bar)
        elif bar.duty is Duty.ALL:
            yield from self._played(bar)
        elif bar.duty is Duty.DRUMS:
            yield from self._alone(bar)
        else:
            yield from self._stopped(bar)

    def _played(self, bar: PlayedBar) -> Iterator[Hit]:
        """Yield the patterns of a bar, up to the fill where there is one."""
        strokes = self._groove.strokes(bar, self._heard[bar.start])
        if 2 * bar.number < self._lengths[bar.chorus]:
            strokes = [each for each in strokes if each.word != _JOINS_LATER]
        added: Fill = self._fill(bar, bar.mood) if self._turns(bar) else ()
        until = added[0].at if added else self._feel.meter.beats
        if not added:
            added = (*self._lift(bar, strokes), *self._answer(bar, strokes))
        for stroke in strokes:
            lifted = any(
                stroke.at == each.at and {stroke.word, each.word} <= {*_HATS} for each in added
            )
            if stroke.at < until and not lifted:
                yield self._struck(bar, stroke)
        for stroke in added:
            yield self._struck(bar, stroke)

    def _turns(self, bar: PlayedBar) -> bool:
        """Return True where a fill leads on: to a chorus, or to the next part of a long one."""
        part = (bar.number + 1) % _PART == 0 and self._lengths[bar.chorus] > 2 * _PART
        return bar.leads_on or (part and not bar.last)

    def _struck(self, bar: PlayedBar, stroke: FeelStroke) -> Hit:
        return _hit(self._feel, bar.start + stroke.at, stroke.word, stroke.louder)

    def _fill(self, bar: PlayedBar, mood: Mood) -> Fill:
        """Return a fill for *mood*; nothing where a feel has none.

        It is neither the last one nor what stood in the same bar of the chorus before, and rather
        none of the last two.
        """
        fills = self._feel.fills.in_mood(mood)
        if not fills:
            return ()
        last = [fill for _, fill in self._fills[-2:]]
        here = [fill for number, fill in self._fills if number == bar.number][-1:]
        for stale in ([*last, *here], [*last[-1:], *here], last[-1:], []):
            fresh = [fill for fill in fills if fill not in stale]
            if fresh:
                break
        drawn = chance(self._seed, "fill", bar.chorus, bar.number).choice(fresh)
        self._fills.append((bar.number, drawn))
        return drawn

    def _lift(self, bar: PlayedBar, strokes: list[FeelStroke]) -> Fill:
        """Return what lifts the end of a phrase: an open hat where hats keep time."""
        if (bar.number + 1) % PHRASE:
            return ()
        if chance(self._seed, "lift", bar.chorus, bar.number).random() >= _LIFTS[bar.mood]:
            return ()
        offbeat = self._offbeats()[-1]
        hats = {each.word for each in strokes if each.at >= offbeat and each.word in _HATS}
        return (FeelStroke("open hat", offbeat),) if hats == {"closed hat"} else ()

    def _answer(self, bar: PlayedBar, strokes: list[FeelStroke]) -> Fill:
        """Return the stroke beside the pattern with which a drummer answers now and then.

        The snare answers softly, a little louder with a chord; the kick where bass or comp strikes.
        """
        drawn = chance(self._seed, "answer", bar.chorus, bar.number)
        often = _ANSWERS[bar.mood] * (2 if (bar.number + 1) % PHRASE == 0 else 1)
        drums = [drum for drum in ("snare", "kick") if any(each.word == drum for each in strokes)]
        if drawn.random() >= often or not drums:
            return ()
        free = self._free_offbeats(strokes)
        if drawn.choice(drums) == "snare":
            return self._answered_by_snare(bar, drawn.choice(free)) if free else ()
        return self._answered_by_kick(bar, strokes, drawn.sample(free, len(free)))

    def _free_offbeats(self, strokes: list[FeelStroke]) -> list[Fraction]:
        """Return the places half a tap after a tap where neither snare nor kick has a stroke."""
        taken = {each.at for each in strokes if each.word in ("snare", "kick", "side stick")}
        return [at for at in self._offbeats() if at not in taken]

    def _offbeats(self) -> list[Fraction]:
        """Return where a shuffle or even eighths have a stroke between the taps of the foot."""
        meter = self._feel.meter
        after = meter.pulse * (Fraction(2, 3) if meter.compound else Fraction(1, 2))
        return [tap * meter.pulse + after for tap in range(int(meter.beats / meter.pulse))]

    def _answered_by_snare(self, bar: PlayedBar, at: Fraction) -> Fill:
        with_comp = at in self._heard[bar.start].comp
        return (FeelStroke("snare", at, GHOST // 2 if with_comp else GHOST),)

    def _answered_by_kick(
        self, bar: PlayedBar, strokes: list[FeelStroke], free: list[Fraction]
    ) -> Fill:
        """Return a soft kick with the bass, or a loud one with a chord where it is else felt only.

        Of loud ones a chorus has few, and never in two bars running.
        """
        heard = self._heard[bar.start]
        kicks = [each for each in strokes if each.word == "kick"]
        felt = any(each.louder == GHOST and each.at % self._feel.meter.pulse == 0 for each in kicks)
        bombs = self._bombs.setdefault(bar.chorus, [])
        may = len(bombs) < _MOST_BOMBS and bar.number - 1 not in bombs
        with_comp = [at for at in free if at in heard.comp]
        if felt and may and with_comp:
            bombs.append(bar.number)
            return (FeelStroke("kick", with_comp[0]),)
        return tuple(FeelStroke("kick", at, GHOST) for at in free if at in heard.bass)[:1]

    def _alone(self, bar: PlayedBar) -> Iterator[Hit]:
        """Yield a bar of the drums by themselves: a bar in time, then a bar of fills, and so on."""
        if bar.number % 2 == 0:
            yield from self._played(bar)
            return
        middle = self._feel.meter.beats / Fraction(2)
        struck: list[FeelStroke] = []
        for half in (0, 1):
            for stroke in self._fill(bar, Mood.FULL) or _NOTHING:
                at = stroke.at - middle if stroke.at >= middle else stroke.at
                if at < middle:
                    struck.append(replace(stroke, at=half * middle + at))
        feet = (FeelStroke("kick", Fraction(0)), FeelStroke("pedal hat", self._feel.meter.pulse))
        for stroke in (*struck, *feet):
            hats = {each.word for each in struck if each.at == stroke.at and each.word in _HATS}
            if stroke.word != "pedal hat" or not hats:
                yield self._struck(bar, stroke)

    def _stopped(self, bar: PlayedBar) -> Iterator[Hit]:
        """Yield what is struck in a bar of stops or of a break, and what leads back from it."""
        strokes = self._feel.stops if bar.duty is Duty.STOPS else self._feel.stops[:1]
        if bar.duty is not Duty.NOBODY:
            for stroke in strokes:
                for drum in ("kick", "snare"):
                    yield _hit(self._feel, bar.start + stroke.at, drum, _STOP)
        if bar.returns:
            last_tap = self._feel.meter.beats - self._feel.meter.pulse
            for stroke in self._fill(bar, bar.mood):
                if stroke.at >= last_tap:
                    yield self._struck(bar, stroke)


def _last_bar(feel: BandFeel, bar: PlayedBar) -> Iterator[Hit]:
    """Yield the last bar: kick and snare with the whole band, and a crash at the end."""
    places = {stroke.at for stroke in feel.ending} | set(starts_in(bar))
    for at in sorted(places):
        final = at == max(places)
        for drum in ("kick", "crash" if final else "snare"):
            yield _hit(feel, bar.start + at, drum, ACCENT // 2)


def _hit(feel: BandFeel, start: Fraction, drum: str, louder: int) -> Hit:
    if drum in _KEEPING_TIME and louder >= 0:
        louder = louder // 2 if louder or start % feel.meter.pulse == 0 else _BETWEEN
    louder += _BESIDE_THE_KIT.get(drum, 0)
    return Hit(Part.DRUMS, start, start + _RINGS * feel.meter.pulse, DRUMS[drum], louder)


def _once(hits: list[Hit]) -> list[Hit]:
    """Keep one stroke where a drum is struck twice at a time: the louder."""
    found: dict[tuple[Fraction, int], Hit] = {}
    for hit in hits:
        there = found.get((hit.start, hit.key))
        if there is None or hit.louder > there.louder:
            found[hit.start, hit.key] = hit
    return list(found.values())
