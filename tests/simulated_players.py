"""Simulated players of known level, who play the ten tasks; nothing of how they are placed is here.

A player of level L plays what a task of his level or a lower one asks for with a spread of 10 to 15
cents, his own habit on each rung included, and misses 3 notes in 100.  A level above, the spread is
40 to 60 cents and he misses one in four.  Two levels above, nothing comes: instead of a bend the
hole sounds as it does by itself, or not at all.  Home notes keep within a few cents.  Half of the
players have one bad take among their ten, spread as if it were a level too high.  Common practice
of teachers, no published source.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from hearing.playing import Played, Shape, cents, lifted
from hearing.takes import recorded
from reedmill.base.errors import InputError
from reedmill.coaching.placement import Placement, place_player
from reedmill.ear import hear, read_take, take_data
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import placement_tasks
from reedmill.record import KeptTake
from reedmill.score.score import Note, Score
from reedmill.theory.positions import Position
from taken import take

HARP = Harp("C")
BAD_TAKES, STOPS = 0.5, 0.5  # of the players: have a bad take; stop two levels above theirs
ANOTHER_CENTS = 60.0  # further out it is another note
OVER = {"6^": 3, "5^": 2}  # semitones above the blow note of the hole, by OEIS A291810


@dataclass(frozen=True)
class Player:
    """A player whose level is known."""

    level: int
    seed: int

    def takes(self, harp: Harp) -> dict[int, tuple[Score, list[Played]]]:
        """What he plays of each of the ten tasks that he records, by its number."""
        rng = np.random.default_rng([self.level, self.seed])
        spread = rng.uniform(10, 15)
        habit = {tab: rng.normal(0, 5) for tab in ASKED}
        bad = int(rng.integers(1, 11)) if rng.random() < BAD_TAKES else 0
        stops = rng.random() < STOPS
        found = {}
        for number, task in enumerate(placement_tasks(), start=1):
            above = (task.drill.level or 1) - self.level
            if above > 1 and stops:
                continue
            if number == bad:
                above = max(above, 1)
            score = expand(task.drill, harp, Position(2))
            found[number] = (score, _play(score, above, spread, habit, rng))
        return found


ASKED = (
    "4", "5", "6", "3", "-4", "-5", "-6", "-3", "-4'", "-1'", "-3'", "-3''", "-3'''", "-2'", "-2''",
    "8'", "9'", "10'", "10''", "6^", "5^",
)  # fmt: skip


def _play(
    score: Score, above: int, spread: float, habit: dict[str, float], rng: np.random.Generator
) -> list[Played]:  # fmt: skip
    """*score* once through, played by someone for whom it is so many levels too high."""
    bends = any(note.tab[-1] in "'^" for note in score.notes)
    played: list[Played] = []
    for index, note in enumerate(score.notes):
        asked = not bends or note.tab[-1] in "'^"
        hz = _hz(note, above, spread, habit, rng) if asked else _home(note, rng)
        if hz is None and index:  # that a note should have come before the first, nothing tells
            continue
        start = 0.8 + float(score.performed_s(note.start))
        end = 0.8 + float(score.performed_s(note.end)) - rng.uniform(0.05, 0.12)
        pitch = hz or note.hz
        played.append(
            Played(index, start, end, pitch, pitch, 0.0, Shape.PLAIN, False, rng.uniform(-2, 2), "")
        )
    return played


def _home(note: Note, rng: np.random.Generator) -> float:
    return lifted(note.hz, rng.normal(0, 4))


def _hz(
    note: Note, above: int, spread: float, habit: dict[str, float], rng: np.random.Generator
) -> float | None:
    """The pitch of one note that is asked for, or None where it is missed."""
    if above > 1:
        natural = lifted(note.hz, 100 * (note.tab.count("'") - OVER.get(note.tab, 0)))
        return None if rng.random() < 0.4 else lifted(natural, rng.normal(0, 6))
    if rng.random() < (0.25 if above == 1 else 0.03):
        return None
    if above == 1:
        return lifted(note.hz, rng.normal(0, rng.uniform(40, 60)))
    # the habit is part of the spread
    own = float(np.sqrt(max(0.0, spread**2 - 5**2)))
    return lifted(note.hz, habit[note.tab] + rng.normal(0, own))


def as_heard(score: Score, played: list[Played]) -> dict[str, Any]:
    """The take as data, with the verdict on each note that whoever knows it all must give."""
    by_note = {each.index: each for each in played}
    tries = []
    for index, note in enumerate(score.notes):
        one = by_note.get(index)
        out = None if one is None else cents(one.hz, note.hz)
        heard = None if out is None or abs(out) > ANOTHER_CENTS else out
        tries.append((note.tab, score.notes[index - 1].tab if index else None, heard))
    return take(
        tries, harp=score.harp.name, title=str(score.title), tempo=score.tempo_bpm, recorded=None
    )


def placed(player: Player, harp: Harp = HARP) -> Placement:
    """Where *player* is placed by the verdicts that are due."""
    takes = player.takes(harp).values()
    return place_player(KeptTake(as_heard(score, played)) for score, played in takes)


def placed_by_sound(player: Player, folder: Path, harp: Harp = HARP) -> Placement:
    """Where *player* is placed by files of his takes; a take that is refused is left out."""
    takes = []
    for number, (score, played) in player.takes(harp).items():
        path = recorded(folder, f"task-{number}", score, played)
        try:
            takes.append(KeptTake(take_data(hear(read_take(path), score))))
        except InputError as error:
            print(player, number, error, file=sys.stderr)
    return place_player(takes)
