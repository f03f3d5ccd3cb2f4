"""How the time of every stage grows with the notes of a drill.

    python tests/benchmarks/growth.py [--shape NAME] [--stage NAME]

Each stage is run on drills of 250, 500, 1000 and 2000 notes in several shapes.  Its growth
exponent is the slope of time against notes, both as logarithms: 1 is linear, 2 quadratic.
A stage that grows faster than 1.2 is named at the end; what takes less than 20 ms at
2000 notes is too quick to measure and not judged.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator"), str(HERE.parent)]

from growing import SHAPES, STAGES, Grown, grown  # noqa: E402

SIZES = (250, 500, 1000, 2000)
MOST, LEAST_S = 1.2, 0.02


def best_s(stage: Callable[[Grown], object], it: Grown) -> float:
    """The best of several runs, in seconds; of one run when that takes long."""
    found, spent = math.inf, 0.0
    while spent < 0.15:
        began = time.process_time()
        stage(it)
        took = time.process_time() - began
        found, spent = min(found, took), spent + took
    return found


def exponent(times: list[float]) -> float:
    """The slope of a straight line through the logarithms, by least squares."""
    xs, ys = [math.log(size) for size in SIZES], [math.log(max(each, 1e-6)) for each in times]
    mean_x, mean_y = sum(xs) / len(xs), sum(ys) / len(ys)
    above = sum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True))
    return above / sum((x - mean_x) ** 2 for x in xs)


def main() -> int:
    """Print a row for each shape and stage; 1 when one grows too fast."""
    options = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    options.add_argument("--shape", choices=SHAPES)
    options.add_argument("--stage", choices=STAGES)
    chosen = options.parse_args()
    bad: list[str] = []
    for shape in [chosen.shape] if chosen.shape else SHAPES:
        drills = [grown(shape, size) for size in SIZES]
        print(f"{shape}: {[len(it.score.notes) for it in drills]} notes")
        for stage in [chosen.stage] if chosen.stage else STAGES:
            times = [best_s(STAGES[stage], it) for it in drills]
            slope = exponent(times)
            judged = times[-1] >= LEAST_S
            if judged and slope > MOST:
                bad.append(f"{shape}, {stage}: {slope:.2f}")
            told = " ".join(f"{each * 1000:8.1f}" for each in times)
            print(f"  {stage:12} {told} ms  {slope:5.2f}{'' if judged else ' (quick)'}", flush=True)
    print(*(f"TOO FAST {each}" for each in bad), sep="\n")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
