"""Compare two things over interleaved runs: A B A B, in one sitting, in wall and processor time.

Whatever else the machine does meets both alike, so ratios hold on a busy or slow machine
where seconds alone would not.  Processor time is user and system time of this process and of
all that it started and waited for.  Each is told by its median, and by its least: that is the
run the rest of the machine disturbed least, and the one to look at where others are at work.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from resource import RUSAGE_CHILDREN, RUSAGE_SELF, getrusage
from statistics import median

# Modules are compiled in the uncounted round, as pip compiles them when it installs: a
# shell that forbids Python to keep them would measure the compiler.
_COMPILED = tempfile.TemporaryDirectory(prefix="compiled-")


@dataclass(frozen=True)
class Taken:
    """What one run took, in seconds."""

    wall_s: float
    processor_s: float


def report(
    what: str,
    ours: Callable[[], object],
    floor: Callable[[], object],
    most: float,
    most_processor: float | None = None,
    *,
    rounds: int = 15,
) -> None:
    """Print how many times the time of *floor* *ours* takes, and the most it should be.

    *most* is for wall time on an idle machine; for processor time the same unless said.
    """
    our_runs, floor_runs = _interleaved(ours, floor, rounds=rounds)
    print(f"{what}, {rounds} rounds")
    _tell(
        "wall time", [each.wall_s for each in our_runs], [each.wall_s for each in floor_runs], most
    )
    _tell(
        "processor time",
        [each.processor_s for each in our_runs],
        [each.processor_s for each in floor_runs],
        most if most_processor is None else most_processor,
    )


def _tell(kind: str, ours_s: list[float], floor_s: list[float], most: float) -> None:
    for name, of in (("median", median), ("least", min)):
        ours, floor = of(ours_s), of(floor_s)
        print(
            f"  {kind}, {name}: {ours * 1000:.0f} ms against {floor * 1000:.0f} ms, "
            f"ratio {ours / floor:.2f} (at most {most:g})"
        )


def run(command: list[str], folder: Path | None = None, **settings: str) -> None:
    """Run *command* in *folder* with *settings* added to its environment; it must succeed."""
    compiled = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": _COMPILED.name}
    environment = {**os.environ, **compiled, **settings}
    subprocess.run(command, check=True, cwd=folder, env=environment, capture_output=True)


def _interleaved(*tasks: Callable[[], object], rounds: int) -> list[list[Taken]]:
    """What each task took in each round; one round more is run first and not counted."""
    runs: list[list[Taken]] = [[] for _ in tasks]
    for _ in range(rounds + 1):
        for task, taken in zip(tasks, runs, strict=True):
            taken.append(_taken(task))
    return [taken[1:] for taken in runs]


def _taken(task: Callable[[], object]) -> Taken:
    wall, processor = time.perf_counter(), _processor_s()
    task()
    return Taken(time.perf_counter() - wall, _processor_s() - processor)


def _processor_s() -> float:
    used = (getrusage(RUSAGE_SELF), getrusage(RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)
