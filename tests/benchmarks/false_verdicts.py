"""False verdicts: what is judged though no player made it.  There should be none.

Each sound of ``other_sounds.py`` is a whole take of its own, at three levels, compared with four
drills on four harps; and it sounds between the notes of a faultless take, where every note has a
pause of a second and a half after it.  Drone, band, click and the noise of a room go on through the
notes too, as they do in a room; a cough and talk come in the pauses.

Run it with ``PYTHONPATH=tests python tests/benchmarks/false_verdicts.py``; ``false_verdicts.txt``
beside it is what was found.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from multiprocessing import Pool

from hearing.evaluation import HARPS
from other_sounds import OTHER_SOUNDS, FalseVerdicts, alone, between

ALONE_DB = (-45.0, -32.0, -20.0)  # against full scale
BETWEEN_DB = (-24.0, -18.0, -12.0)  # against the player
DRILLS = ("Home from every rung", "Count to four", "Long plain tones", "Two bars home")
PAUSED = ("Home from every rung", "Skip a rung, four rungs")
COUNTS = ("takes", "judged", "extra", "played", "told")


def jobs() -> Iterator[tuple[bool, str, float, str, str]]:
    for what in OTHER_SOUNDS:
        for harp in HARPS:
            for drill in DRILLS:
                yield from ((True, what, level, drill, harp) for level in ALONE_DB)
            for drill in PAUSED:
                yield from ((False, what, level, drill, harp) for level in BETWEEN_DB)


def one(job: tuple[bool, str, float, str, str]) -> tuple[bool, FalseVerdicts]:
    return job[0], (alone if job[0] else between)(*job[1:])


def together(found: Sequence[FalseVerdicts]) -> str:
    """Their sums under ``COUNTS``."""
    sums = [sum(getattr(each, name) for each in found) for name in COUNTS]
    return "{:6d} {:7d} {:6d} {:7d} {:7d}".format(*sums)


def table(title: str, levels: Sequence[float], found: Sequence[FalseVerdicts]) -> None:
    """Print a row for each sound at each level."""
    print(f"{title:22} takes  judged  extra  played    told")
    for what in OTHER_SOUNDS:
        for level in levels:
            rows = [each for each in found if (each.what, each.level_db) == (what, level)]
            print(f"{what:12} {level:5g} dB  {together(rows)}")
    print(f"{'all':22}{together(found)}\n")


if __name__ == "__main__":
    begun = time.perf_counter()
    with Pool(2) as pool:
        done = pool.map(one, list(jobs()), chunksize=6)
    table("a whole take", ALONE_DB, [each for whole, each in done if whole])
    table("beside a player", BETWEEN_DB, [each for whole, each in done if not whole])
    for _, each in done:
        print(*each.told_of, sep="\n", end="\n" if each.told_of else "", file=sys.stderr)
    print(f"{time.perf_counter() - begun:.0f} s", file=sys.stderr)
