"""Verdicts on the notes of a pass, from the events they were matched with."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from reedmill.ear.align import (
    SAME_NOTE_CENTS,
    Aligned,
    ExpectedNotes,
    is_judged,
    paces_of,
    stepped_over,
)
from reedmill.ear.events import DetectedNote
from reedmill.ear.heard_take import Extra, HeardNote, HeardPass
from reedmill.harp import Reed
from reedmill.harp.harp import Harp
from reedmill.score.score import Role, Score
from reedmill.score.style import Mark
from reedmill.score.verdicts import Tolerance, Verdict
from reedmill.theory.pitch import equal_hz

_UNCLEAR_CLARITY = 0.68  # under it another sound is nearly as strong
_WAY_S = 0.6  # a stay on the way to a note is part of it up to this long
_EDGE_S = 0.03  # of the window, in which no reading is steady yet
_HELD_S = 0.08  # a pause as short as this does not end a note
_LEAST_EXTRA_S = 0.12  # shorter is a scoop or a brushed hole, not a note put in
_HELD_ON = 1.35  # of a note's length: a sound that lasts longer may be the next one too
_SAME_PITCH_CENTS = 30.0  # between two targets: a held tone may be both notes
_NEAR_REED_CENTS = 45.0  # nearly half a semitone: beyond it the next reed is as near
_LEADING = 2  # notes left out at the start or end of a pass that count as missed


class Judge:
    """The settings and measurements that all notes of one take share."""

    def __init__(
        self, score: Score, events: Sequence[DetectedNote], harp_cents: float, tolerance: Tolerance
    ) -> None:
        self.score, self.events = score, events
        self.harp_cents, self.tolerance = harp_cents, tolerance
        self.wanted = ExpectedNotes.of(score)
        self.notes = [score.notes[number] for number in self.wanted.numbers]
        self.reeds = sounding_reeds(score.harp, score)

    def passes(self, aligned: Sequence[Aligned], seconds: float) -> tuple[HeardPass, ...]:
        """Return every pass with its verdicts; the take lasts *seconds*."""
        used = {event for each in aligned for _, event in each.pairs if event is not None}
        found = []
        for number, each in enumerate(aligned):
            after = aligned[number + 1] if number + 1 < len(aligned) else None
            until = self.events[_events(after)[0]].start_s if after else seconds
            found.append(self._pass(each, used, until))
        return tuple(found)

    def extras(self, aligned: Sequence[Aligned]) -> tuple[Extra, ...]:
        """Return the steady tones that are neither a note nor a part of one."""
        used = {event for each in aligned for _, event in each.pairs if event is not None}
        parts = {part for event in used for part in (*self._way(event, used),
                                                     *self._rest(event, used))}  # fmt: skip
        parts |= stepped_over(self.events, self.wanted, aligned) | self._falls(aligned)
        return tuple(
            Extra(each.start_s, each.end_s, each.hz, self.nearest_reed(each.cents))
            for number, each in enumerate(self.events)
            if number not in used | parts
            and each.steady
            and each.end_s - each.start_s >= _LEAST_EXTRA_S
        )

    def _falls(self, aligned: Sequence[Aligned]) -> set[int]:
        """Return the events into which notes fall off as it is written."""
        after = {
            event + 1 for each in aligned for index, event in each.pairs
            if event is not None and Mark.FALL in self.notes[index].style
        }  # fmt: skip
        return {event for event in after if event < len(self.events) and self.events[event].slid}

    def nearest_reed(self, cents: float) -> Reed | None:
        """Return the reed whose pitch is nearest to *cents* above 440 Hz; natural notes first.

        Several reeds may share one pitch: which of them sounded cannot be heard.
        """
        away = [(abs(cents - self.harp_cents - at), order, reed)
                for order, (reed, at) in enumerate(self.reeds)]  # fmt: skip
        nearest = min(away, key=lambda each: (round(each[0], 3), each[1]))
        return nearest[2] if nearest[0] <= _NEAR_REED_CENTS + 6 else None

    def _pass(self, aligned: Aligned, used: set[int], until_s: float) -> HeardPass:
        pairs = self._with_ends(aligned, until_s)
        early, pace = self._early(pairs), self._pace(pairs)
        notes: list[HeardNote] = []
        anchor: float | None = None
        for index, number in pairs:
            note = self._note(index, number, used, pairs)
            if note.hz is not None and note.verdict.measured:
                note = self._from_anchor(note, anchor)
                if note.role is Role.ANCHOR:
                    anchor = note.cents
            slide_s = None if note.slide_s is None else note.slide_s * pace
            notes.append(replace(note, early_ms=early.get(index), slide_s=slide_s))
        heard = [note for note in notes if note.start_s is not None]
        start_s, end_s = heard[0].start_s or 0.0, heard[-1].end_s or 0.0
        return HeardPass(start_s, end_s, tuple(self._with_not_judged(notes)))

    def _with_not_judged(self, notes: Sequence[HeardNote]) -> Iterator[HeardNote]:
        """Yield *notes* with those of several holes between, before and after them."""
        known = {note.index: note for note in notes}
        numbers = self.wanted.numbers
        first, last = numbers.index(notes[0].index), numbers.index(notes[-1].index)
        begin = numbers[first - 1] + 1 if first else 0
        end = numbers[last + 1] if last + 1 < len(numbers) else len(self.score.notes)
        for number in range(begin, end):
            note = self.score.notes[number]
            beside = tuple(each.reed for each in note.beside)
            yield known.get(number) or replace(
                self._blank(number, Verdict.NOT_JUDGED), beside=beside
            )

    def _with_ends(self, aligned: Aligned, until_s: float) -> list[tuple[int, int | None]]:
        """Add the notes left out before the first and after the last, where few are."""
        pairs = list(aligned.pairs)
        first, last = pairs[0][0], pairs[-1][0]
        if first <= _LEADING:
            pairs = [*((index, None) for index in range(first)), *pairs]
        left = len(self.notes) - 1 - last
        pace = self._pace(pairs)
        played = self.events[_events(aligned)[-1]]
        due_s = played.start_s + pace * (self.wanted.seconds[-1] - self.wanted.seconds[last])
        if left <= _LEADING and due_s < until_s:
            pairs += [(index, None) for index in range(last + 1, len(self.notes))]
        return pairs

    def _note(
        self, index: int, number: int | None, used: set[int], pairs: list[tuple[int, int | None]]
    ) -> HeardNote:
        empty = self._blank(self.wanted.numbers[index], Verdict.MISSED)
        if number is None:
            return self._without_event(empty, index, pairs)
        event = self.events[number]
        way, rest = self._way(number, used), self._rest(number, used)
        start_s = self.events[way[0]].start_s if way else event.start_s
        end_s = self.events[rest[-1]].end_s if rest else event.end_s
        found_after: float | None = max(0.0, event.steady_s - start_s - _EDGE_S)
        if event.slid and not way:
            found_after = event.moving_s
        if self.wanted.lifted[index]:
            found_after = None
        heard = replace(
            empty, start_s=start_s, end_s=end_s, hz=event.hz, level_dbfs=event.level_db,
            steadiness_cents=event.spread_cents, found_after_s=found_after,
        )  # fmt: skip
        return self._judged(heard, self._away(index, event), event)

    def _blank(self, number: int, verdict: Verdict) -> HeardNote:
        """Return note *number* of the score before anything of it is measured."""
        note = self.score.notes[number]
        before = self.score.notes[number - 1] if number else None
        target = note.hz * 2 ** (self.harp_cents / 1200)
        came_from = before.reed if before and is_judged(before) and is_judged(note) else None
        slide_s = self.score.glide_s(note) if note.slide_beats is not None else None
        return HeardNote(number, note.reed, note.role, came_from, target, verdict, slide_s=slide_s)

    def _judged(self, heard: HeardNote, cents: float, event: DetectedNote) -> HeardNote:
        if not event.steady or event.doubtful or event.clarity < _UNCLEAR_CLARITY:
            return replace(heard, verdict=Verdict.UNCLEAR)
        if abs(cents) <= SAME_NOTE_CENTS:
            return replace(heard, verdict=self.tolerance.verdict(cents), cents=cents)
        return replace(heard, verdict=Verdict.ANOTHER_NOTE, heard_as=self.nearest_reed(event.cents))

    def _away(self, index: int, event: DetectedNote) -> float:
        """Return the cents from the target of note *index*, less the harp's own offset."""
        return float(event.cents - self.harp_cents - self.wanted.cents[index])

    def _from_anchor(self, note: HeardNote, anchor: float | None) -> HeardNote:
        if anchor is None or note.cents is None:
            return note
        return replace(note, cents_from_anchor=note.cents - anchor)

    def _without_event(
        self, note: HeardNote, index: int, pairs: list[tuple[int, int | None]]
    ) -> HeardNote:
        """Judge a note without an event: missed, unless the sound before it goes on long enough.

        A slide that does not move is judged by where it stayed; whether a note of the same
        pitch was played again cannot be told.
        """
        wanted = self.wanted
        before = next((pair for pair in pairs if pair[0] == index - 1), (0, None))[1]
        if before is None or wanted.not_judged_between(index - 1, index):
            return note
        event = self.events[before]
        own_s = self._pace(pairs) * float(wanted.seconds[index] - wanted.seconds[index - 1])
        if event.end_s - event.start_s <= _HELD_ON * own_s:
            return note
        away = self._away(index, event)
        if wanted.joined[index] and abs(away) <= SAME_NOTE_CENTS:
            held = replace(
                note, start_s=event.start_s + own_s, end_s=event.end_s, hz=event.hz,
                level_dbfs=event.level_db, steadiness_cents=event.spread_cents,
            )  # fmt: skip
            return self._judged(held, away, event)
        same = abs(wanted.cents[index - 1] - wanted.cents[index]) < _SAME_PITCH_CENTS
        return replace(note, verdict=Verdict.UNCLEAR) if same else note

    def _way(self, number: int, used: set[int]) -> list[int]:
        """Return the stays of the same breath that lead to event *number*, first to last."""
        way: list[int] = []
        at = number
        while self.events[at].slid and at - 1 >= 0 and at - 1 not in used:
            at -= 1
            if self.events[at].end_s - self.events[at].start_s > _WAY_S:
                break
            way.insert(0, at)
        return way

    def _rest(self, number: int, used: set[int]) -> list[int]:
        """Return the stays after event *number* that only continue it."""
        rest: list[int] = []
        at = number + 1
        while at < len(self.events) and at not in used:
            event, before = self.events[at], self.events[at - 1]
            close = event.start_s - before.end_s < _HELD_S
            if not (close and abs(event.cents - self.events[number].cents) < 25):
                break
            rest.append(at)
            at += 1
        return rest

    def _pace(self, pairs: Sequence[tuple[int, int | None]]) -> float:
        """Return seconds played per second of score, the median of a pass; 1 for a single note."""
        return float(np.median(list(self.paces(pairs)) or [1.0]))

    def paces(self, pairs: Sequence[tuple[int, int | None]]) -> list[float]:
        """Return seconds played per second of score, from each note heard to the next."""
        return paces_of(self.events, self.wanted, pairs)

    def _early(self, pairs: Sequence[tuple[int, int | None]]) -> dict[int, float]:
        """Return by how many milliseconds each note came before the pace around it."""
        heard = [(index, self.events[number]) for index, number in pairs if number is not None]
        paces = self.paces(pairs)
        found: dict[int, float] = {}
        for place in range(1, len(heard)):
            others = [*paces[max(0, place - 4) : place - 1], *paces[place : place + 3]]
            if len(others) < 2:
                continue
            (i, before), (j, event) = heard[place - 1], heard[place]
            if self.wanted.lifted[j]:
                continue  # where a chord ends is not heard as exactly as where a note begins
            score_s = float(self.wanted.seconds[j] - self.wanted.seconds[i])
            due_s = before.start_s + float(np.median(others)) * score_s
            found[j] = 1000 * (due_s - event.start_s)
        return found


def sounding_reeds(harp: Harp, score: Score) -> list[tuple[Reed, float]]:
    """Return every reed of *harp* with its cents above 440 Hz: natural notes, then bends.

    Overbends only where *score* has any, and quarter tones those it has, last; notes of the
    score are at their own targets.
    """
    overbends = any(note.reed.over for note in score.notes)
    targets = {each.reed: each.hz for note in score.notes for each in note.sounded}
    between = [reed for reed in targets if reed.quarter]
    reeds = [
        *sorted(harp.reeds(overbends=overbends), key=lambda reed: (reed.over, reed.bend)),
        *sorted(between, key=lambda reed: (reed.hole, reed.bend)),
    ]
    equal = {reed: harp.tuned(reed, equal_hz(harp.midi(reed), score.reference_hz))
             for reed in reeds if reed not in targets}  # fmt: skip
    hz = equal | targets
    return [(reed, 1200 * math.log2(hz[reed] / 440)) for reed in reeds]


def _events(aligned: Aligned) -> list[int]:
    return [event for _, event in aligned.pairs if event is not None]
