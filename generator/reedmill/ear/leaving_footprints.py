"""From a heard take to the footprints a sheet shows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from pathlib import PurePath

import numpy as np

from reedmill.base.text import printable
from reedmill.ear.advice_words import SENTENCES
from reedmill.ear.events import CLEAR, gate_of, runs_of
from reedmill.ear.heard_take import HeardNote, HeardPass, HeardTake
from reedmill.ear.track import HOP_S
from reedmill.score.footprints import Aside, Footprint, Footprints, Trace
from reedmill.score.score import Score
from reedmill.score.verdicts import Verdict

_EVERY = 2  # readings for one point of a trace: 50 points a second
_LEAST = 4  # readings of a trace; shorter ones are clicks


def footprints_of(heard: HeardTake) -> Footprints:
    """Return the footprints of *heard* for a sheet of its score.

    Notes that are not judged leave none, and a sentence says so.
    """
    tries = [each for one in heard.passes for each in _of_pass(one, heard.score)]
    return Footprints(
        take=printable(PurePath(heard.name).name),
        tries=tuple(tries),
        passes=len(heard.passes),
        tolerance=heard.tolerance,
        harp_cents=heard.harp_cents,
        advice=(*heard.advice, *_not_judged(heard)),
        traces=_traces(heard),
        asides=tuple(
            Aside(each.start_s, 1200 * math.log2(each.hz / 440) - heard.harp_cents, each.nearest)
            for each in heard.extra
        ),
    )


def _of_pass(one: HeardPass, score: Score) -> list[Footprint]:
    """Return the tries of *one* pass; a missed note is placed between its neighbours."""
    due = [float(score.performed_s(score.notes[note.index].start)) for note in one.notes]
    ends = [float(score.performed_s(score.notes[note.index].end)) for note in one.notes]
    known = [(at, note.start_s) for at, note in zip(due, one.notes, strict=True)
             if note.start_s is not None]  # fmt: skip
    pace = _pace(known)
    score_at, take_at = [each[0] for each in known], [each[1] for each in known]

    def when(score_s: float) -> float:
        """Return the second of the take at which a second of the score was, or would be, played."""
        if score_s <= known[0][0]:
            return known[0][1] - pace * (known[0][0] - score_s)
        if score_s >= known[-1][0]:
            return known[-1][1] + pace * (score_s - known[-1][0])
        return float(np.interp(score_s, score_at, take_at))

    return [
        _footprint(note, max(0.0, when(start)), max(0.0, when(end)))
        for note, start, end in zip(one.notes, due, ends, strict=True)
        if note.verdict is not Verdict.NOT_JUDGED
    ]


def _not_judged(heard: HeardTake) -> Iterator[str]:
    tabs = dict.fromkeys(note.tab for note in heard.notes if note.verdict is Verdict.NOT_JUDGED)
    if tabs:
        yield SENTENCES["not-judged"].format(tabs=", ".join(tabs))


def _pace(known: list[tuple[float, float]]) -> float:
    """Return seconds played per second of score; 1 where there is only one note."""
    paces = [(there - here) / (after - before)
             for (before, here), (after, there) in pairwise(known) if after > before]  # fmt: skip
    return float(np.median(paces)) if paces else 1.0


def _footprint(note: HeardNote, due_s: float, over_s: float) -> Footprint:
    cents = note.cents
    if cents is None and note.hz is not None and note.heard_as is not None:
        cents = 1200 * math.log2(note.hz / note.wanted_hz)
    start_s = due_s if note.start_s is None else note.start_s
    end_s = over_s if note.end_s is None else note.end_s
    return Footprint(
        note.index, note.verdict, start_s, max(end_s, start_s + HOP_S), cents, note.heard_as
    )


def _traces(heard: HeardTake) -> tuple[Trace, ...]:
    """Return every unbroken tone that is loud and clear enough to be the player's."""
    track = heard.track
    gate = gate_of(track)
    cents = track.cents - heard.harp_cents
    clear = (track.clarity >= CLEAR) & (track.level_db >= gate.least_db) & ~np.isnan(cents)
    return tuple(
        Trace(first * HOP_S, _EVERY * HOP_S, tuple(map(float, cents[first:last:_EVERY])))
        for first, last in runs_of(clear)
        if last - first >= _LEAST
    )
