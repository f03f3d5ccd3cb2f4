"""How often the ten tasks tell the level of a simulated player, and how often sound agrees.

Five hundred players, a hundred of each level, as ``simulated_players.py`` has them, are placed by
the verdicts that whoever knows all must give; twenty-five of them play as sound too, which is heard
as any take is.

Run it with ``PYTHONPATH=tests python tests/benchmarks/placing.py``; ``placing.txt`` beside it is
what was found.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Sequence
from multiprocessing import Pool
from pathlib import Path
from tempfile import TemporaryDirectory

from reedmill.coaching.placement import Placement
from simulated_players import Player, placed, placed_by_sound

Pair = tuple[Placement, Placement]
LEVELS, A_LEVEL, BY_SOUND = range(1, 6), 100, 5


def by_verdicts(player: Player) -> Placement:
    return placed(player)


def both(player: Player) -> Pair:
    """The placement by the verdicts, and by the sound."""
    with TemporaryDirectory(prefix="reedmill-placing-") as folder:
        return placed(player), placed_by_sound(player, Path(folder))


def by_level(players: Sequence[Player], found: Sequence[Placement]) -> None:
    """Print how often each level was named."""
    print("level  players  right  of these sure  named 1 to 5")
    for level in LEVELS:
        rows = [each for player, each in zip(players, found, strict=True) if player.level == level]
        named = Counter(each.level for each in rows)
        sure = sum(each.level == level and each.found.is_sure for each in rows)
        told = " ".join(f"{named[each]:4d}" for each in LEVELS)
        print(f"{level:5d}  {len(rows):7d}  {named[level]:5d}  {sure:13d}  {told}")
    right = sum(each.level == player.level for player, each in zip(players, found, strict=True))
    likely = sum(
        each.found.between[0] <= player.level <= each.found.between[1]
        for player, each in zip(players, found, strict=True)
    )
    print(f"all: {right} of {len(players)} right, {likely} within the levels said to be likely")


def by_sound(players: Sequence[Player], pairs: Sequence[Pair]) -> None:
    """Print how far sound and verdicts agree."""
    same = sum(one.level == other.level for one, other in pairs)
    right = sum(
        each.level == player.level for player, (_, each) in zip(players, pairs, strict=True)
    )
    print(f"as sound: {right} of {len(players)} right, {same} as by the verdicts")
    tasks = [both for one, other in pairs for both in zip(one.tasks, other.tasks, strict=True)]
    heard = [(due, told) for due, told in tasks if due.takes and told.takes]
    apart = sum(abs(due.in_place - told.in_place) for due, told in heard)
    print(f"notes in place that differ: {apart} of {sum(due.tries for due, _ in heard)}")
    played = sum(bool(due.takes) for due, _ in tasks)
    print(f"takes that were refused: {played - len(heard)} of {played}")


def main() -> None:
    begun = time.perf_counter()
    players = [Player(level, seed) for level in LEVELS for seed in range(A_LEVEL)]
    few = [Player(level, seed) for level in LEVELS for seed in range(BY_SOUND)]
    with Pool(2) as pool:
        found = pool.map(by_verdicts, players, chunksize=10)
        pairs = pool.map(both, few, chunksize=1)
    by_level(players, found)
    by_sound(few, pairs)
    print(f"{time.perf_counter() - begun:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
