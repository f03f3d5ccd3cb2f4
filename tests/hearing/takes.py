"""Files of takes whose truth is known, in the tests' own voice."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from hearing.conditions import in_condition
from hearing.playing import FAULTLESS, Habits, Played, Shape, lifted, play
from hearing.sounding import Tone, sound
from reedmill.ear.measured_harp import harp_test_score
from reedmill.harp import Harp
from reedmill.score.score import Score
from sharing import bytes_once

TONE = Tone((1.0, 0.6, 0.5, 0.3, 0.2, 0.1))
IN_PLACE: Callable[[int], float] = lambda _: 0.0  # noqa: E731


def played(score: Score, off: Callable[[int], float] = IN_PLACE, **habits: float) -> list[Played]:
    """*score* without a fault but that note number n is *off(n)* cents from its place."""
    return [
        replace(
            each, hz=lifted(score.notes[each.index or 0].hz, off(each.index or 0)),
            from_hz=lifted(score.notes[each.index or 0].hz, off(each.index or 0)),
            shape=Shape.PLAIN, moving_s=0.0 if not each.slid else each.moving_s,
        )
        for each in play(score, replace(FAULTLESS, **habits), np.random.default_rng(3))
    ]  # fmt: skip


def student(score: Score, seed: int, **habits: float) -> list[Played]:
    """*score* with the faults of a student."""
    return play(score, Habits(**habits), np.random.default_rng(seed))


def reeds(harp: Harp, cents: Mapping[str, float], *, in_turn: bool = True) -> list[Played]:
    """A harp test on a *harp* whose reeds are out by *cents*; those not named are in place."""
    notes = harp_test_score(harp, in_turn=in_turn).notes
    return [
        Played(
            at, 0.8 + 2 * at, 2.5 + 2 * at, lifted(note.hz, cents.get(note.reed.tab, 0.0)),
            note.hz, 0.0, Shape.PLAIN, False, 0.0, "on",
        )
        for at, note in enumerate(notes)
    ]  # fmt: skip


def recorded(
    folder: Path, name: str, score: Score, notes: Sequence[Played], condition: str = "clean"
) -> Path:
    """*notes* in a file of *folder*, called *name* and what its kind ends in."""

    def made() -> bytes:
        rng = np.random.default_rng(5)
        tones = sound(notes, TONE, notes[-1].end_s + 0.8, rng)
        return pickle.dumps(in_condition(condition, tones, score, notes, rng))

    told = bytes_once((score, list(notes), condition), made)
    content, ending = pickle.loads(told)  # noqa: S301  our own
    path = folder / f"{name}{ending}"
    path.write_bytes(content)
    return path
