"""How well takes are heard: cents, verdicts, octaves and onsets against known truth.

Every condition gets the same number of takes, of ten drills on four harps.  Beside it stands a
plain chain of general libraries: pYIN as librosa has it, the median of each note's true span,
and the nearest wanted note; it is told when each note sounds, which ours has to find.

Run it with ``PYTHONPATH=tests python tests/benchmarks/takes.py [TAKES] [--plain TAKES]``.  2000
takes take some ten minutes on two processors; librosa is needed for ``--plain`` alone.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from multiprocessing import Pool

import numpy as np

from hearing.conditions import CONDITIONS
from hearing.evaluation import DRILLS, HARPS, HEAD, Outcome, evaluate, recorded, score_of
from hearing.playing import Shape, cents
from reedmill.ear.take import RATE

Job = tuple[str, str, str, int]
TARGETS = "targets       1.5     6.0   98.00     0    25.0   0.980     0"


def jobs(takes: int) -> list[Job]:
    """As many takes as are asked for, the same ones in every condition."""
    each = max(1, takes // len(CONDITIONS))
    return [
        (DRILLS[number % len(DRILLS)], HARPS[(number // 3) % len(HARPS)], condition, number)
        for number in range(each)
        for condition in CONDITIONS
    ]


def ours(job: Job) -> tuple[str, Outcome]:
    return job[2], evaluate(*job)


def plain(job: Job) -> tuple[str, Outcome]:
    """The same take through pYIN, told where each note is."""
    import librosa

    drill, harp, condition, seed = job
    score = score_of(drill, harp)
    played, take, _ = recorded(score, condition, seed)
    wanted = [note.hz for note in score.notes]
    hz, voiced, _ = librosa.pyin(
        take.part(0, len(take.steps)), sr=RATE, fmin=0.7 * min(wanted), fmax=1.5 * max(wanted),
        frame_length=1024, hop_length=160,
    )  # fmt: skip
    outcome = Outcome(1)
    for each in played:
        first, last = int((each.start_s + each.moving_s + 0.05) * 100), int(each.end_s * 100) - 4
        read = hz[first:last][voiced[first:last]]
        outcome.judged += 1
        if not len(read):
            continue
        off = cents(float(np.median(read)), each.hz)
        outcome.octaves += abs(abs(off) % 1200 - 600) > 520 and abs(off) > 600
        if each.shape is not Shape.VIBRATO and abs(off) < 600:
            outcome.cents_off.append(off)
        outcome.right += _says(float(np.median(read)), wanted, each.index) == each.verdict
    return condition, outcome


def _says(hz: float, wanted: list[float], index: int | None) -> str:
    """What the nearest wanted note makes of a pitch."""
    if index is None:
        return "extra"
    nearest = min(wanted, key=lambda each: abs(cents(hz, each)))
    if abs(nearest / wanted[index] - 1) > 0.01:
        return "another-note"
    off = cents(hz, wanted[index])
    return "on" if abs(off) <= 10 else "near" if abs(off) <= 25 else "sharp" if off > 0 else "flat"


def table(takes: int, *, against: bool) -> None:
    """Run all and print a row for each condition."""
    begun = time.perf_counter()
    rows: dict[str, Outcome] = defaultdict(Outcome)
    with Pool(2) as pool:
        for condition, outcome in pool.imap_unordered(plain if against else ours, jobs(takes)):
            rows[condition].add(outcome)
    print(f"\n{'pYIN, told when' if against else 'reedmill':16} {HEAD}")
    for condition in CONDITIONS:
        print(f"{condition:16} {rows[condition].row()}")
    if not against:
        print(f"{'':16} {TARGETS}")
        for condition in CONDITIONS:
            for line in rows[condition].refused:
                print(line)
    print(f"{takes} takes in {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("takes", nargs="?", type=int, default=2000)
    asked.add_argument("--plain", type=int, default=0, metavar="TAKES")
    options = asked.parse_args()
    table(options.takes, against=False)
    if options.plain:
        table(options.plain, against=True)
