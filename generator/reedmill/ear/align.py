"""Alignment of heard events with the notes of a score: a cheapest path, pass after pass.

Students keep their own pace and wander from it; they leave notes out, put others in, break
off and start again.  A path goes from event to event; each step is priced by how far the pitch is
off, how far the time between the two notes is from the pace of the path so far, and what it
passes over.  The prices are judgements, tried on takes of known truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reedmill.base import stopping
from reedmill.ear.events import DetectedNote
from reedmill.ear.track import Doubles
from reedmill.score.score import Note, Score

SAME_NOTE_CENTS = 65.0
"""Further than this from its target a sound is another note, not one out of tune."""

_MISSED, _EXTRA, _PASSING = 1.2, 0.9, 0.25  # prices: no event, no note, a short way-stop
_OTHER, _FAR = 1.5, 1.7  # price of another note, and of one further than an octave
_SLOPE_CENTS = 55.0  # cents that cost 1
_FOUND = 0.5  # what a note found is worth, so that a take full of faults is still one of the drill
_TIME, _MOST_TIME, _TIME_SPREAD = 0.5, 1.1, 0.3  # for exp(_TIME_SPREAD) times too long or short
_NEW_PASS, _SKIPPED_START, _SKIPPED_END = 0.8, 1.3, 1.0  # the last two a note
_MOST_SKIPPED = 3.0  # price of all notes skipped at an end: a pass may begin anywhere
_BACK, _SKIP = 4, 5  # how many events and notes one step may go on by
_PACE = (0.35, 3.0)  # seconds played for one of the score
_LEARN = 0.35  # share of each new step in the pace of the path
_SLIDE_MISMATCH = 0.15  # price of a slide where an attack is written, or the other way round
_BRIEF_S = 0.25  # a stay shorter than this may be a scoop to the next note
_ALONE_S = 0.15  # shorter is not a note played in the place of another
_ENDS = 2  # notes that may be missing at either end of a pass
_STEPPED_OVER, _AS_LONG = 64, 2.0  # events in place of notes that are not judged; times their time
_TOUCH_S = 0.005  # half a reading: by so much an event may begin before the one before it ends
_TIE = 1e-9  # prices nearer than this are alike: the order of a sum does not decide between them
_WAY_STOP, _SCOOP_S = 0.7, 0.13  # price of a scoop as a note of its own, and how long it may be


@dataclass(frozen=True, slots=True)
class Aligned:
    """One pass over the wanted notes: for each, the event it was heard in, or none."""

    pairs: tuple[tuple[int, int | None], ...]  # number of the wanted note, number of its event
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class ExpectedNotes:
    """The notes to look for: their seconds, cents above 440 Hz, and slides.

    Several holes that sound at once are not told apart: nothing is looked for there, and what
    sounds for as long is stepped over.
    """

    numbers: tuple[int, ...]  # of the notes in the score
    seconds: Doubles  # of a slow slide, when it is half way
    cents: Doubles
    joined: NDArray[np.bool_]
    lifted: NDArray[np.bool_]  # left alone by the other holes of a chord: no onset of its own
    before_s: Doubles  # seconds of the notes that are not judged just before it, 0 for none
    after_s: Doubles  # seconds from its start to the end of those just after it, 0 for none

    @classmethod
    def of(cls, score: Score) -> ExpectedNotes:
        """Return the notes to look for in a take of *score*."""
        numbers = tuple(number for number, note in enumerate(score.notes) if is_judged(note))
        notes = [score.notes[number] for number in numbers]
        starts = [float(score.performed_s(note.start)) for note in notes]
        begins, ends = _open_around(score, numbers)
        slow = [score.glide_s(each) / 2 if each.slide_beats is not None else 0.0 for each in notes]
        return cls(
            numbers,
            np.array(starts) + np.array(slow),
            1200 * np.log2(np.array([note.hz for note in notes]) / 440),
            np.array([note.joined for note in notes], bool),
            np.array([bool(score.held_over(note)) for note in notes], bool),
            np.array([at - begin for at, begin in zip(starts, begins, strict=True)]),
            np.array([max(0.0, end - at) for at, end in zip(starts, ends, strict=True)]),
        )

    def moved(self, by_cents: float) -> ExpectedNotes:
        """Return the same notes higher by *by_cents*, as another harp would sound."""
        return replace(self, cents=self.cents + by_cents)

    def not_judged_between(self, before: int, after: int) -> bool:
        """Return True where notes that are not judged lie between two of these."""
        return bool(np.any(self.before_s[before + 1 : after + 1] > 0))


def is_judged(note: Note) -> bool:
    """Return True for a note of one hole: the pitches of several at once are not told apart."""
    return not note.beside


def _open_around(score: Score, numbers: Sequence[int]) -> tuple[list[float], list[float]]:
    """Return when the notes that are not judged before each of *numbers* begin, and end after it.

    Where there are none it is when the note itself begins, and 0.
    """
    begins: list[float] = []
    ends: list[float] = []
    for before, here, after in zip(
        (-1, *numbers[:-1]), numbers, (*numbers[1:], len(score.notes)), strict=True
    ):
        begins.append(float(score.performed_s(score.notes[before + 1].start)))
        last = score.notes[after - 1]
        ends.append(float(score.performed_s(last.end)) if after - here > 1 else 0.0)
    return begins, ends


def harp_offset(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, *, most_cents: float = 50.0
) -> float:
    """Estimate how many cents the events as a whole are above the wanted notes."""
    steady = [each for each in events if each.steady]
    if not steady:
        return 0.0
    heard = np.array([each.cents for each in steady])
    weight = np.array([min(1.0, each.end_s - each.start_s) for each in steady])
    notes = np.unique(np.round(wanted.cents, 2))
    steps = np.arange(-most_cents, most_cents + 1, 2.0)
    fits = [
        float(weight @ np.exp(-((np.abs(heard[:, None] - o - notes).min(axis=1) / 12) ** 2)))
        * (1 - abs(o) / 400)
        for o in steps
    ]
    return float(steps[int(np.argmax(fits))])


def align(
    events: Sequence[DetectedNote],
    wanted: ExpectedNotes,
    offset_cents: float,
    pace: float = 1.0,
    *,
    known_pace: bool = False,
) -> list[Aligned]:
    """Return the passes over *wanted* that explain *events* at least cost, in time order.

    *pace* is how many seconds are played for one of the score: a guess for the first two notes
    of a pass, or, when it is *known_pace*, what the student keeps to but for small changes.
    """
    if not events or not len(wanted.cents):
        return []
    return _Path(events, wanted, offset_cents, pace, known_pace).passes()


def paces_of(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, pairs: Sequence[tuple[int, int | None]]
) -> list[float]:
    """Return seconds played per second of score, from each note heard in *pairs* to the next."""
    heard = [(index, events[number].start_s) for index, number in pairs if number is not None]
    return [
        (after_s - before_s) / float(wanted.seconds[j] - wanted.seconds[i])
        for (i, before_s), (j, after_s) in pairwise(heard)
        if j > i
    ]


@dataclass(slots=True)
class _Path:
    """The cost tables of one search: rows are events, columns notes."""

    events: Sequence[DetectedNote]
    wanted: ExpectedNotes
    offset: float
    pace: float
    known_pace: bool
    best: Doubles = field(init=False)
    paces: Doubles = field(init=False)
    came: NDArray[np.int32] = field(init=False)  # code of the step that led there, -1 for a start
    between: list[NDArray[np.bool_]] = field(init=False)  # by steps: passes what is not judged?
    ended: Doubles = field(init=False)  # cheapest way to have ended all passes by an event
    ended_at: NDArray[np.int32] = field(init=False)

    def passes(self) -> list[Aligned]:
        """Fill the tables and trace the cheapest path back."""
        self._fill()
        return self._walk()

    def _fill(self) -> None:
        count, notes = len(self.events), len(self.wanted.cents)
        self.best = np.full((count, notes), np.inf)
        self.paces = np.full((count, notes), self.pace)
        self.came = np.full((count, notes), -1, np.int32)
        self.ended = np.zeros(count + 1)
        self.ended_at = np.full(count + 1, -1, np.int32)
        place = np.arange(notes)
        self.between = [
            np.array([self.wanted.not_judged_between(n, n + skip) for n in range(notes - skip)])
            for skip in range(min(_SKIP, notes - 1) + 1)
        ]
        starting = np.minimum(_SKIPPED_START * place, _MOST_SKIPPED) + _NEW_PASS
        ending = np.minimum(_SKIPPED_END * place[::-1], _MOST_SKIPPED)
        extra = [self._extra(number) for number in range(count)]
        open_until_s = -np.inf
        for row in range(count):
            if row % 64 == 0:
                stopping.check()
            self._steps_to(row, self._begun(row) + starting, extra)
            self.best[row] += self._match(row)
            done = self.best[row] + ending
            cheapest = int(np.argmax(done <= np.min(done) + _TIE))
            start_s = self.events[row].start_s
            passed_over = self.ended[row] + (extra[row] if start_s >= open_until_s else 0.0)
            if done[cheapest] < passed_over - _TIE:
                self.ended[row + 1], self.ended_at[row + 1] = done[cheapest], cheapest
                open_until_s = start_s + self._longest(float(self.wanted.after_s[cheapest]))
            else:
                self.ended[row + 1] = passed_over

    def _longest(self, score_s: float) -> float:
        """Return how long notes that are not judged may sound that last *score_s* in the score."""
        return _AS_LONG * self.pace * score_s

    def _begun(self, row: int) -> Doubles:
        """Return the cost of all passes before one that begins at event *row* with each note."""
        begun = np.full(len(self.wanted.cents), self.ended[row])
        for note in np.flatnonzero(self.wanted.before_s > 0):
            begun[note] = self.ended[self._first(row, int(note))]
        return begun

    def _first(self, row: int, note: int) -> int:
        """Return the first event of a pass that begins at event *row* with *note*.

        It is an earlier one where notes that are not judged come before it.
        """
        from_s = self.events[row].start_s - self._longest(float(self.wanted.before_s[note]))
        first = row
        while first > 0 and self.events[first - 1].start_s >= from_s and self.ended_at[first] < 0:
            first -= 1
        return first

    def _extra(self, number: int) -> float:
        """Return the cost of taking an event for something that is not a note."""
        event = self.events[number]
        after = self.events[number + 1] if number + 1 < len(self.events) else None
        brief = event.end_s - event.start_s < _BRIEF_S
        if not event.steady or (brief and after is not None and after.slid):
            return _PASSING
        return _EXTRA * min(1.0, 0.4 + (event.end_s - event.start_s) / 0.3)

    def _match(self, row: int) -> Doubles:
        """Return the cost of event *row* as each of the notes, by pitch and attack."""
        event = self.events[row]
        away = np.abs(event.cents - self.offset - self.wanted.cents)
        price = np.where(away <= SAME_NOTE_CENTS + 10, away / _SLOPE_CENTS - _FOUND, _OTHER)
        price = np.where(away > 900, _FAR, price)
        price = price + (_WAY_STOP if self._leads_on(row) else 0.0)
        # how the ear cuts the end of a chord off tells nothing of how the note was played
        otherwise = (self.wanted.joined != event.slid) & ~self.wanted.lifted
        return np.asarray(price + _SLIDE_MISMATCH * otherwise)

    def _leads_on(self, number: int) -> bool:
        """Return True for a stay so short, within a breath, that it is a scoop."""
        if number + 1 >= len(self.events) or not self.events[number + 1].slid:
            return False
        event, after = self.events[number], self.events[number + 1]
        return event.end_s - event.start_s < min(_SCOOP_S, 0.5 * (after.end_s - after.start_s))

    def _steps_to(self, row: int, starting: Doubles, extra: list[float]) -> None:
        """Find the cheapest way to each note at event *row*, before the cost of its match."""
        notes = len(starting)
        best, came, paces = starting.copy(), np.full(notes, -1, np.int32), self.paces[row]
        skipped = 0.0
        first_spread = _TIME_SPREAD * (1 if self.known_pace else 3)
        first_learn = _LEARN if self.known_pace else 0.8
        bounds = (0.7 * self.pace, 1.45 * self.pace) if self.known_pace else _PACE
        for back in range(1, min(self._reach, row) + 1):
            passed_s = self.events[row].start_s - self.events[row - back].start_s
            for skip in range(1, min(_SKIP, notes - 1) + 1):
                between = self.between[skip]
                if back > _BACK and not between.any():
                    continue
                score_s = self.wanted.seconds[skip:] - self.wanted.seconds[:-skip]
                pace = passed_s / score_s
                before = self.paces[row - back, :-skip]
                first = self.came[row - back, :-skip] < 0
                spread = np.where(first, first_spread, _TIME_SPREAD)
                off = np.log(np.clip(pace, 1e-3, 1e3) / before) / spread
                free = between & (pace <= _AS_LONG * before)
                passed_over = np.where(free, 0.0, skipped if back <= _BACK else np.inf)
                price = self.best[row - back, :-skip] + passed_over + (skip - 1) * _MISSED
                price = price + np.minimum(_MOST_TIME, _TIME * off * off)
                better = np.flatnonzero(price < best[skip:] - _TIE)
                best[better + skip] = price[better]
                came[better + skip] = back * 16 + skip
                learn = np.where(first, first_learn, _LEARN)
                ratio = np.clip(pace / before, 0.6, 1.6)
                paces[better + skip] = np.clip(before * ratio**learn, *bounds)[better]
            skipped += extra[row - back]
        self.best[row], self.came[row] = best, came

    @property
    def _reach(self) -> int:
        """The number of events one step may go on by."""
        return _STEPPED_OVER if any(each.any() for each in self.between) else _BACK

    def _walk(self) -> list[Aligned]:
        """Return the passes of the cheapest path, from its end back to its start."""
        found: list[Aligned] = []
        row = len(self.events)
        while row > 0:
            note = int(self.ended_at[row])
            if note < 0:
                row -= 1
                continue
            pairs: list[tuple[int, int | None]] = []
            event = row - 1
            cost = float(self.best[event, note])
            while True:
                pairs.append((note, event))
                code = int(self.came[event, note])
                if code < 0:
                    event = self._first(event, note)
                    break
                back, skip = divmod(code, 16)
                pairs += [(note - step, None) for step in range(1, skip)]
                event, note = event - back, note - skip
            cost -= float(self.ended[event])  # where it began
            found.append(Aligned(tuple(reversed(pairs)), cost))
            row = event
        return found[::-1]


def open_spans(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, passes: Sequence[Aligned]
) -> list[tuple[float, float]]:
    """Return the seconds from which and to which notes of *passes* sound that are not judged.

    Before the first note heard and after the last they may last ``_AS_LONG`` times as long as
    they should.
    """
    found: list[tuple[float, float]] = []
    for each in passes:
        heard = [(note, events[event]) for note, event in each.pairs if event is not None]
        found += [
            (here.end_s, there.start_s) for (note, here), (after, there) in pairwise(heard)
            if wanted.not_judged_between(note, after)
        ]  # fmt: skip
        pace = float(np.median(paces_of(events, wanted, each.pairs) or [1.0])) * _AS_LONG
        (first, begin), (last, end) = heard[0], heard[-1]
        for at in np.flatnonzero(wanted.before_s[: first + 1] > 0)[:1]:
            away_s = float(wanted.seconds[first] - wanted.seconds[at] + wanted.before_s[at])
            found.append((begin.start_s - pace * away_s, begin.start_s))
        for at in last + np.flatnonzero(wanted.after_s[last:] > 0)[-1:]:
            away_s = float(wanted.seconds[at] - wanted.seconds[last] + wanted.after_s[at])
            found.append((end.end_s, end.start_s + pace * away_s))
    return found


def stepped_over(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, passes: Sequence[Aligned]
) -> set[int]:
    """Return the numbers of the *events* that stand where notes are not judged."""
    spans = open_spans(events, wanted, passes)
    if not spans:
        return set()
    used = {event for each in passes for _, event in each.pairs if event is not None}
    return {
        number for number, event in enumerate(events)
        if number not in used
        and any(from_s - _TOUCH_S <= event.start_s < to_s for from_s, to_s in spans)
    }  # fmt: skip


def with_substitutes(
    passes: Sequence[Aligned], events: Sequence[DetectedNote], wanted: ExpectedNotes
) -> list[Aligned]:
    """Match tones that stand where as many notes are missing with these notes.

    After a pause the search finds a note left out and another put in as cheap as one that was
    played late and wrong; a teacher thinks of the second.
    """
    open_to = stepped_over(events, wanted, passes)
    notes = len(wanted.cents)
    found: list[Aligned] = []
    for number, each in enumerate(passes):
        before = _last_event(found[-1]) if found else -1
        after = _first_event(passes[number + 1]) if number + 1 < len(passes) else len(events)
        found.append(
            Aligned(_substituted(each.pairs, events, before, after, notes, open_to), each.cost)
        )
    return found


def _substituted(
    pairs: tuple[tuple[int, int | None], ...],
    events: Sequence[DetectedNote],
    before: int,
    after: int,
    notes: int,
    open_to: set[int],
) -> tuple[tuple[int, int | None], ...]:
    heard = [(before, -1), *((event, note) for note, event in pairs if event is not None)]
    first, last = pairs[0][0], pairs[-1][0]
    heard[0] = (before, -1 if first <= _ENDS else first - 1)
    heard.append((after, notes if notes - 1 - last <= _ENDS else last + 1))
    known = dict(pairs)
    for (event, note), (next_event, next_note) in pairwise(heard):
        missing = range(note + 1, next_note)
        there = [
            at for at in range(event + 1, next_event)
            if at not in open_to and _stands_alone(events, at)
        ]  # fmt: skip
        if len(missing) and len(there) == len(missing):
            known |= dict(zip(missing, there, strict=True))
    return tuple(sorted(known.items()))


def _stands_alone(events: Sequence[DetectedNote], number: int) -> bool:
    """Return True for a tone that could be a note: steady, and no approach to the next one."""
    event = events[number]
    lasts_s = event.end_s - event.start_s
    leads = number + 1 < len(events) and events[number + 1].slid and lasts_s < 2 * _BRIEF_S
    return event.steady and lasts_s >= _ALONE_S and not leads


def _first_event(aligned: Aligned) -> int:
    return next(event for _, event in aligned.pairs if event is not None)


def _last_event(aligned: Aligned) -> int:
    return [event for _, event in aligned.pairs if event is not None][-1]
