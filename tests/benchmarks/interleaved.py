"""Compare two things by their medians over interleaved runs: A B A B, in one sitting.

Whatever else the machine does meets both alike, so the ratio holds on a busy or slow
machine where seconds alone would not.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

# Modules are compiled in the uncounted round, as pip compiles them when it installs: a
# shell that forbids Python to keep them would measure the compiler.
_COMPILED = tempfile.TemporaryDirectory(prefix="compiled-")


def report(
    what: str,
    ours: Callable[[], object],
    floor: Callable[[], object],
    most: float,
    *,
    rounds: int = 15,
) -> None:
    """Print how many times the time of *floor* *ours* takes, and the most it should be."""
    ours_s, floor_s = _medians_s(ours, floor, rounds=rounds)
    print(f"{what}: {ours_s * 1000:.0f} ms against {floor_s * 1000:.0f} ms")
    print(f"ratio {ours_s / floor_s:.2f} (floor {most:g})")


def run(command: list[str], folder: Path | None = None, **settings: str) -> None:
    """Run *command* in *folder* with *settings* added to its environment; it must succeed."""
    compiled = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": _COMPILED.name}
    environment = {**os.environ, **compiled, **settings}
    subprocess.run(command, check=True, cwd=folder, env=environment, capture_output=True)


def _medians_s(*tasks: Callable[[], object], rounds: int) -> list[float]:
    """Median seconds of each task; one round more is run first and not counted."""
    taken_s: list[list[float]] = [[] for _ in tasks]
    for _ in range(rounds + 1):
        for task, times_s in zip(tasks, taken_s, strict=True):
            times_s.append(_taken_s(task))
    return [median(times_s[1:]) for times_s in taken_s]


def _taken_s(task: Callable[[], object]) -> float:
    began = time.perf_counter()
    task()
    return time.perf_counter() - began
