"""Random states of a student: what is known of random rungs of a random harp, in any position."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from reedmill.coaching.estimating import Estimate, LearnedRung
from reedmill.coaching.needs import Needs
from reedmill.coaching.offered_drills import rungs_of, written_for
from reedmill.coaching.planning import Offer
from reedmill.coaching.practice_history import PastTake, PracticeHistory
from reedmill.expand import expand
from reedmill.harp import LAYOUTS, Harp
from reedmill.harp.harp_registers import register
from reedmill.language import parse
from reedmill.language.formatter import tidy
from reedmill.score.playability import LEAP_HOLES, playability
from reedmill.score.score import Score
from reedmill.theory.positions import Position

NOW = datetime(2027, 3, 1, tzinfo=UTC)
HARPS = ("C", "G", "A", "Bb", "D", "F", "F#", "low F", "low C", "high G", "Db", "E")
MOST_ONE_WAY_S = 6.1  # a short breath for a beginner, common practice, no published source
WIDEST = 4  # holes from one note to the next: what is further apart is not practised


@dataclass(frozen=True)
class State:
    """What is known of a student on a harp in a position."""

    harp: Harp
    position: Position
    history: PracticeHistory
    needs: Needs


def state(seed: int) -> State:
    """Return the random state of that number."""
    rng = random.Random(seed)
    harp = Harp.parse(rng.choice(HARPS), rng.choice(list(LAYOUTS.values())))
    position, name = Position(rng.randint(1, 12)), register(harp)
    reeds = harp.reeds()
    pairs = [(reed, before) for reed in reeds for before in reeds
             if reed != before and abs(reed.hole - before.hole) <= WIDEST]  # fmt: skip
    rungs = [LearnedRung(reed.tab, before.tab, name)
             for reed, before in rng.sample(pairs, rng.randint(1, 40))]  # fmt: skip
    known = {
        rung: Estimate(rng.uniform(0, 60), rng.uniform(1, 20), rng.choice((0, 0, 1, 5, 80)))
        for rung in rungs
    }
    due = frozenset(rng.sample(rungs, rng.randint(0, len(rungs))))
    takes = tuple(
        PastTake("Anything", harp, position.number, NOW, rng.uniform(20, 250), rng.random(),
                 tuple((rung, 10.0) for rung in rng.sample(rungs, rng.randint(1, len(rungs)))))
        for _ in range(rng.randint(0, 3))
    )  # fmt: skip
    return State(harp, position, PracticeHistory(takes, NOW), Needs(known, due))


def written(each: State) -> list[Offer]:
    """Return all drills that may be written in this state."""
    known = each.needs.known
    return list(written_for(each.history, each.needs, each.harp, each.position, known))


def mistakes(each: State, offer: Offer) -> Iterator[str]:
    """Yield what is wrong with a written drill: it must be right, tidy, playable, and as said."""
    if tidy(offer.pattern, "written") != offer.pattern:
        yield "it is not laid out as the formatter does"
    [drill] = parse(offer.pattern, "written")
    score = expand(drill, each.harp, each.position)
    yield from _unplayable(score, offer)
    tries = rungs_of(score, lambda _: True)
    as_said = {
        "title": drill.title == offer.title,
        "tempo": score.tempo_bpm == offer.tempo,
        "time": abs(float(score.seconds(score.length)) - offer.seconds) < 1e-6,
        "rungs": all(tries[rung] == count >= 2 for rung, count in offer.tries.items()),
        "purpose": bool(offer.tries),
    }
    yield from (f"its {name} is not what was said" for name, right in as_said.items() if not right)


def _longest_s(score: Score) -> float:
    """Return the longest time in seconds that goes one way, with no rest of half a second."""
    longest = lasts = 0.0
    before = None
    for note in score.notes:
        rest = float(score.seconds(note.start - before.end)) if before else 0.0
        if before and (note.reed.breath is not before.reed.breath or rest >= 0.5):
            lasts = 0.0
        lasts += float(score.seconds(note.end - note.start))
        longest, before = max(longest, lasts), note
    return longest


def _unplayable(score: Score, offer: Offer) -> Iterator[str]:
    asked = {reed for rung in offer.tries for reed in (rung.tab, str(rung.came_from))}
    for found in playability(score):
        leaps = found.rule.startswith("leaps")  # asked below, where a rest is seen
        meant = found.rule == "no overbends" and any("^" in reed for reed in asked)
        if found.violators and not leaps and not meant:
            yield f"{found.rule}: broken {len(found.violators)} times"
    if _longest_s(score) > MOST_ONE_WAY_S:
        yield "it goes on in one breath without a rest"
    for before, note in pairwise(score.notes):
        far = abs(before.reed.hole - note.reed.hole) > LEAP_HOLES
        if far and note.start - before.end < 2:
            yield "a leap of more than four holes without a rest of two beats"
