"""Breathing: where the air runs short, and a breath out or in there, with the time it takes.

Everything here is common practice, no published source, and crude.  Drawing fills the lungs and
blowing empties them, each by a second of air a second, whatever the note; where several holes
sound at once, each further one takes half of that besides.  Real lungs differ: the
marks say where a breath fits the music, not what a body needs.  The laws:

- **How far.**  Between two breaths the air never goes further than a limit from its lowest to its
  highest, so nothing is drawn or blown for longer, net.  The limit is that of the drill's level
  (``LIMITS_S``), and three quarters of it on a low harp, whose long reeds take more air.
- **What is a breath.**  A rest of half a second is one already (``BREATH_S``, what it takes to let
  full lungs out); everywhere else it has a mark.
- **Where.**  In the last half of the limit, where there is time for a breath: in a gap first, then
  after a note that is not a bend, which needs its length to settle, at a section's end, a bar line,
  the end of a long note, a beat; among equals at the latest place, which needs the fewest.  Where
  that half has no time for one, earlier.  Where none has, it stands in the best place all the same,
  and a warning says so; likewise where one note is too long.  Slides are never cut.
- **Which way.**  Out where more was drawn than blown since the last breath, else in.
- **How it takes its time.**  From the note before it.  A *written rest* where one of halves of a
  beat gives the time, takes at most half of the note, and leaves it a plain or dotted value; the
  shortest such rest is taken.  Else a *shortened tone*: the note is written as it was, with its
  mark, and sounds shorter (``Score.sounding``).
- **Repeats.**  What is written once is breathed alike every time: a breath that one time needs, all
  of them have.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, groupby, takewhile

from reedmill.harp import Breath, Reed, ReedKind
from reedmill.score.repeats import written_once
from reedmill.score.score import (
    KEPT_BEFORE_A_BREATH,
    AirWay,
    Breathing,
    Caution,
    Note,
    Score,
    by_attack,
)

LIMITS_S = {1: Fraction(6), 2: Fraction(6), 3: Fraction(8), 4: Fraction(10), 5: Fraction(10)}
"""Seconds of air one way, net, by the level of a drill; common practice, no published source."""

USUAL_LEVEL = 3
"""What a drill without a level counts as."""

LOW_HARP_SHARE = Fraction(3, 4)
"""Of the limit on a low harp: common practice, no published source."""

BREATH_S = Fraction(1, 2)
"""Seconds a breath takes, and the shortest rest that is one; common practice."""

_LOWEST_USUAL = 55  # G3, hole 1 blow of the G harp: what lies below is a low harp


def most_air_s(score: Score) -> Fraction:
    """Return the most seconds of air one way, net, for the level of *score* on its harp."""
    usual = LIMITS_S[score.level or USUAL_LEVEL]
    return usual * LOW_HARP_SHARE if _is_low(score) else usual


def _is_low(score: Score) -> bool:
    return score.harp.midi(Reed(1, Breath.BLOW)) < _LOWEST_USUAL


def with_breaths(score: Score) -> Score:
    """Return *score* with a breath wherever air would run short, and warnings where none fits."""
    score = without_breaths(score)
    lungs = _Lungs.of(score)
    marks = lungs.marks(frozenset())
    asked: frozenset[int] = frozenset()
    while asked != marks.places:
        asked = lungs.every_time(marks.places)
        marks = lungs.marks(asked)
    rests = lungs.rests(marks.places)
    breaths = tuple(lungs.breaths(marks.places, rests))
    shorter = {each.at + each.rest: each.rest for each in breaths if each.rest}
    notes = tuple(
        replace(note, length=note.length - shorter[note.end]) if note.end in shorter else note
        for note in score.notes
    )
    warnings = (*score.warnings, *lungs.warnings(marks))
    return replace(score, notes=notes, breaths=breaths, warnings=warnings)


def without_breaths(score: Score) -> Score:
    """Return *score* without its breaths, every note as long as the drill has it."""
    taken = {each.at: each.rest for each in score.breaths if each.rest}
    notes = tuple(
        replace(note, length=note.length + taken[note.end]) if note.end in taken else note
        for note in score.notes
    )
    return replace(score, notes=notes, breaths=())


@dataclass(frozen=True, slots=True)
class _Marks:
    """The breaths of a score, each by the attack it comes before, and where they do not help."""

    places: frozenset[int]
    too_long: tuple[int, ...] = ()  # attacks that are longer than the limit


@dataclass(frozen=True, slots=True)
class _Lungs:
    """A score's attacks in seconds, and the air before each: more than 0 is drawn.

    Place n is before attack n and after attack n - 1; the last one is the end of the score.
    """

    score: Score
    attacks: tuple[tuple[Note, ...], ...]
    begun: tuple[Fraction, ...]  # seconds, at each place
    gap_s: tuple[Fraction, ...]  # the silence that the music leaves at each place
    room_s: tuple[Fraction, ...]  # the longest breath that fits at each place
    air_s: tuple[Fraction, ...]  # at each place, with no breath taken
    limit: Fraction  # seconds
    names: frozenset[Fraction]  # beats at which a section begins

    @classmethod
    def of(cls, score: Score) -> _Lungs:
        """Return the lungs of whoever plays *score*."""
        attacks = tuple(by_attack(score.notes))
        begun = [score.performed_s(attack[0].start) for attack in attacks]
        ended = [score.performed_s(attack[-1].end) for attack in attacks]
        begun += ended[-1:]
        gaps = [after - end for end, after in zip(ended, begun[1:], strict=True)]
        rooms = [gap + _given_s(score, attack[-1], end)
                 for gap, attack, end in zip(gaps, attacks, ended, strict=True)]  # fmt: skip
        drawn = (  # neither a slide nor a lift turns the breath
            _air_taken_s(score, attack) * (1 if _is_drawn(attack[0]) else -1) for attack in attacks
        )
        return cls(
            score, attacks, tuple(begun), (Fraction(0), *gaps), (Fraction(0), *rooms),
            tuple(accumulate(drawn, initial=Fraction(0))), most_air_s(score),
            frozenset(start for start, _ in score.sections),
        )  # fmt: skip

    # --- where ----------------------------------------------------------------------------

    def marks(self, asked: Collection[int]) -> _Marks:
        """Return the places *asked* for and those that are needed besides."""
        found, too_long = set(asked), []
        since = at = 0  # the place of the last breath, and the attack that is played
        low = high = Fraction(0)
        while at < len(self.attacks):
            if at > since and (at in asked or self._rested(at)):
                since = at
            if at == since:
                low = high = self.air_s[at]
            lowest, highest = min(low, self.air_s[at + 1]), max(high, self.air_s[at + 1])
            if at > since and highest - lowest > self.limit:
                since = at = self._best_place(since, at, (low, high))
                found.add(at)
                continue
            if highest - lowest > self.limit:
                too_long.append(at)
            low, high = lowest, highest
            at += 1
        return _Marks(frozenset(found), tuple(too_long))

    def every_time(self, places: Iterable[int]) -> frozenset[int]:
        """Return *places* and those that correspond to them in music that is written once."""
        place_of = {attack[-1].end: at for at, attack in enumerate(self.attacks, start=1)}
        ends = list(place_of)
        wanted = {ends[place - 1] for place in places}
        for once in written_once(self.score):
            ordered = sorted(wanted)
            inside = {
                end - start for start in once.starts for end in _within(ordered, start, once.length)
            }
            wanted |= {start + into for start in once.starts for into in inside}
        return frozenset(place_of[end] for end in wanted)

    def _rested(self, place: int) -> bool:
        """Return True where the music itself leaves the time of a breath."""
        return self.gap_s[place] >= BREATH_S

    def _roomy(self, place: int) -> bool:
        """Return True where there is time for a whole breath."""
        return self.room_s[place] >= BREATH_S

    def _best_place(self, since: int, at: int, reached: tuple[Fraction, Fraction]) -> int:
        """Return the place from *since* + 1 to *at* where a breath disturbs the music least.

        *reached* are the lowest and the highest air since then.
        """
        draws = self.air_s[at + 1] > self.air_s[at]
        side, edge = (1, reached[0]) if draws else (-1, reached[1])
        # Nothing within the first half of the air, that would be a breath too early; and only
        # the last stretch beyond it, or a full chest would be told to breathe in.
        enough = takewhile(
            lambda place: side * (self.air_s[place] - edge) >= self.limit / 2, range(at, since, -1)
        )
        best = max(enough, key=self._fitness, default=at)
        if self._roomy(best):
            return best
        return next(filter(self._roomy, range(at, since, -1)), best)

    def _fitness(self, place: int) -> tuple[bool | Fraction | int, ...]:
        start, before = self.attacks[place][0].start, self.attacks[place - 1][-1]
        bent = before.reed.kind is not ReedKind.NATURAL
        return (
            self._roomy(place), start > before.end, not bent, start in self.names,
            start % self.score.meter.beats == 0, before.length, start.denominator == 1, place,
        )  # fmt: skip

    # --- what each one is -----------------------------------------------------------------

    def breaths(self, places: Collection[int], rests: dict[int, Fraction]) -> Iterator[Breathing]:
        """Yield the breaths at *places* in time order, with the written rests there."""
        since = 0
        for place in range(1, len(self.attacks) + 1):
            if place in places:
                seconds = min(BREATH_S, self.room_s[place])
                at = self.attacks[place - 1][-1].end - rests[place]
                yield Breathing(at, self._way(since, place), seconds, rests[place])
            if place in places or self._rested(place):
                since = place

    def _way(self, since: int, place: int) -> AirWay:
        net = self.air_s[place] - self.air_s[since]
        if net == 0 and place < len(self.attacks):  # make room for what comes
            net = self.air_s[place + 1] - self.air_s[place]
        return AirWay.OUT if net >= 0 else AirWay.IN

    def rests(self, places: Iterable[int]) -> dict[int, Fraction]:
        """Return the beats of a written rest at each of *places*, 0 for a shortened tone.

        In music that is written once it is the longest that one of the times needs.
        """
        found = {place: self._rest(place) for place in sorted(places)}
        place_of = {self.attacks[place - 1][-1].end: place for place in found}
        ends = list(place_of)
        for once in written_once(self.score):
            first = once.starts[0]
            for end in _within(ends, first, once.length):
                times = [place_of[start + end - first] for start in once.starts]
                found |= dict.fromkeys(times, max(found[each] for each in times))
        return found

    def _rest(self, place: int) -> Fraction:
        note, over = self.attacks[place - 1][-1], self.begun[place]
        if self._rested(place) or not self._on_the_beat(note.end):
            return Fraction(0)
        for halves in range(1, int(note.length) + 1):
            rest = Fraction(halves, 2)
            end = note.end - rest
            there = over - self.score.performed_s(end) >= BREATH_S
            left = note.length - rest
            written = _plain(left) and _plain(rest) and self._on_the_beat(end)
            if there and written and left >= (note.slide_beats or 0):
                return rest
        return Fraction(0)

    def _on_the_beat(self, edge: Fraction) -> bool:
        """Return True for a beat, and for half of one that is not written as a triplet."""
        half = edge.denominator == 2 and edge // 1 not in self.score.triplet_beats
        return edge.denominator == 1 or half

    # --- where it does not help -----------------------------------------------------------

    def warnings(self, marks: _Marks) -> Iterator[Caution]:
        """Yield a warning for each note that is too long, and one where there is no time."""
        told = {self.attacks[at][0].span: at for at in reversed(marks.too_long)}
        for at in sorted(told.values()):
            first, *joined = self.attacks[at]
            air = _seconds(abs(self.air_s[at + 1] - self.air_s[at]))
            if first.beside:
                much = f"{first.words} take the air of {air} seconds in one breath"
            elif any(note.beside for note in joined):
                much = f"the breath that begins on {first.words} takes the air of {air} seconds"
            else:
                much = f"{first.words} is held for {air} seconds in one breath"
            yield Caution(
                f"{much}; {self._most}",
                first.span,
                instead="Write a shorter note with a rest r after it, or a faster tempo.",
            )
        tight = [place for place in sorted(marks.places) if not self._roomy(place)]
        spans = list(dict.fromkeys(self.attacks[place - 1][-1].span for place in tight))
        if spans:
            others = f", nor after {len(spans) - 1} more" if len(spans) > 1 else ""
            yield Caution(
                f"a breath is due after this note, and there is no time for it{others}; "
                f"{self._most}",
                spans[0],
                instead="Write a rest r or a longer note there.",
            )

    @property
    def _most(self) -> str:
        level = [f"at level {self.score.level}"] if self.score.level else []
        where = " ".join([*level, *(["on a low harp"] if _is_low(self.score) else [])])
        return f"{where}{', ' if where else ''}{_seconds(self.limit)} seconds one way are the most"


def _given_s(score: Score, note: Note, end_s: Fraction) -> Fraction:
    """Return the seconds that *note*, which ends at *end_s*, can give to a breath after it."""
    start_s = score.performed_s(note.start)
    given = (end_s - start_s) * (1 - KEPT_BEFORE_A_BREATH)
    if note.slide_beats is None:
        return given
    return min(given, end_s - score.performed_s(note.start + note.slide_beats))


def _is_drawn(note: Note) -> bool:
    return note.reed.breath is Breath.DRAW


def _air_taken_s(score: Score, attack: Sequence[Note]) -> Fraction:
    """Return the air that *attack* takes, in seconds of one hole; a lift has more or fewer."""
    air_s = Fraction(0)
    for share, notes in groupby(attack, _air_share):
        first, *others = notes
        last = others[-1] if others else first
        air_s += (score.performed_s(last.end) - score.performed_s(first.start)) * share
    return air_s


def _air_share(note: Note) -> Fraction:
    """Return the air that *note* takes against one hole: half as much for each further one."""
    return 1 + Fraction(len(note.beside), 2)


def _within(ends: Sequence[Fraction], start: Fraction, length: Fraction) -> Sequence[Fraction]:
    """Return those of the sorted *ends* that are after *start* and no later than its *length*."""
    return ends[bisect_right(ends, start) : bisect_right(ends, start + length)]


def _plain(beats: Fraction) -> bool:
    """Return True for a length that one note value shows, plain or dotted."""
    odd = beats.numerator
    while odd and odd % 2 == 0:
        odd //= 2
    return odd in (1, 3)


def _seconds(seconds: Fraction) -> str:
    return f"{float(seconds):.1f}".removesuffix(".0")
