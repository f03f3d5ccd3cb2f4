"""The search for the score and harp of a take that nobody named.

Pairs of notes that follow each other are counted first, at every key a harp is made in; the few
best are then aligned as ``hear`` does it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from reedmill.base import stopping
from reedmill.ear.align import ExpectedNotes, align, harp_offset, is_judged, stepped_over
from reedmill.ear.events import DetectedNote, find_events, gate_of
from reedmill.ear.hear import count_good, is_this_drill
from reedmill.ear.other_harps import ANY_HARP_HZ, cents_above, harps_like, lowest_key
from reedmill.ear.take import RATE, Take, check_audible
from reedmill.ear.track import Expected, track_pitch
from reedmill.harp import Harp
from reedmill.score.score import Score

_TRIED = 16  # scores that are aligned
_SOFTER_DB = 20.0  # than the loudest: a tone softer than this is not the player's
_MOST_EVENTS = 400  # a few minutes of playing, enough to tell drills apart
_MOST_S = 180  # of a take, which are enough to know it by
_LEAST_EVENTS = 4  # fewer fit many drills
_LEAST_S = 0.15  # of a note: shorter ones are often on the way to another


@dataclass(frozen=True, slots=True)
class ScoreFit:
    """A score that a take may be of, with how well it fits."""

    score: Score  # as it was given, on whatever harp that is
    harp: Harp  # the harp on which it would sound as the take does
    good: int  # notes that are what and where they should be
    compared: int  # notes that are heard or wanted, or both

    @property
    def share(self) -> float:
        """The share of good notes, 0 to 1, by which fits are compared."""
        return self.good / self.compared


def fits(take: Take, scores: Iterable[Score]) -> list[ScoreFit]:
    """Return the *scores* that *take* may be of, the best first; none where nothing fits.

    ``InputError`` for a take that is silent or overdriven.
    """
    check_audible(take)
    take = replace(take, steps=take.steps[: _MOST_S * RATE])
    track = track_pitch(take, Expected((), (), *ANY_HARP_HZ))
    gate = gate_of(track)
    events = [
        each
        for each in find_events(track, gate)
        if each.steady and each.end_s - each.start_s >= _LEAST_S
        and each.level_db > gate.player_db - _SOFTER_DB
    ][:_MOST_EVENTS]  # fmt: skip
    if len(events) < _LEAST_EVENTS:
        return []
    found: list[ScoreFit] = []
    for score, harp in _likely(events, scores):
        stopping.check()
        fit = _aligned(events, score, harp)
        if fit is not None:
            found.append(fit)
    return best_first(found)


def best_first(found: Iterable[ScoreFit]) -> list[ScoreFit]:
    """Sort fits: the best first; of equal ones that with more good notes, then by their titles.

    Those of one title stay in their order.
    """
    return sorted(found, key=lambda fit: (-fit.share, -fit.good, fit.score.title))


def _likely(events: Sequence[DetectedNote], scores: Iterable[Score]) -> list[tuple[Score, Harp]]:
    """Return the scores and harps whose pairs of notes are most like those heard."""
    heard = Counter(pairwise(_keys(events)))
    ranked: list[tuple[float, int, Score, Harp]] = []
    harps: dict[Harp, list[tuple[Harp, int]]] = {}
    for score in scores:
        wanted = _steps(score)
        if score.harp not in harps:
            lowest = lowest_key(score.harp)
            harps[score.harp] = [(each, lowest_key(each) - lowest) for each in
                                 harps_like(score.harp)]  # fmt: skip
        for harp, moved in harps[score.harp]:
            there = {(first + moved, second + moved) for first, second in wanted}
            common = sum(heard[each] for each in there)
            covered = sum(each in heard for each in there)
            likeness = common / sum(heard.values()) + covered / max(1, len(there))
            if covered:
                ranked.append((-likeness, len(ranked), score, harp))
    return [(score, harp) for _, _, score, harp in sorted(ranked)[:_TRIED]]


def _steps(score: Score) -> set[tuple[int, int]]:
    """Return the keys of all notes that are judged, each with that of the next one."""
    return {
        (before.pitch.midi, after.pitch.midi)
        for before, after in pairwise(score.notes)
        if is_judged(before) and is_judged(after)
    }


def _keys(events: Sequence[DetectedNote]) -> list[int]:
    """Return the events as MIDI keys, corrected by the offset of the whole harp."""
    cents = np.array([each.cents for each in events])
    turn = np.angle(np.sum(np.exp(2j * np.pi * cents / 100))) / (2 * np.pi)
    return [69 + round(each / 100 - float(turn)) for each in cents]


def _aligned(events: Sequence[DetectedNote], score: Score, harp: Harp) -> ScoreFit | None:
    wanted = ExpectedNotes.of(score).moved(cents_above(harp, score.harp))
    offset = harp_offset(events, wanted)
    if not wanted.numbers:
        return None
    passes = align(events, wanted, offset)
    if not is_this_drill(events, wanted, passes, offset):
        return None
    good, rows = count_good(events, wanted, passes, offset)
    used = sum(number is not None for each in passes for _, number in each.pairs)
    used += len(stepped_over(events, wanted, passes))
    whole = len(wanted.cents) * len(passes)
    return ScoreFit(score, harp, good, max(rows + len(events) - used, whole))
