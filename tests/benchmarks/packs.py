"""What lesson packs cost: how they grow, what a build of nothing takes, what one change takes.

For packs of several sizes, each built by the command in a process of its own:

- the time for each sheet, and how far it is from that of the smallest pack (15% is the most);
- LilyPond alone drawing the same sheets in the same runs against LilyPond started for every
  sheet, both without pictures, which cost the same either way (0.35 is the most);
- what a whole pack with pages and books takes against LilyPond alone with its pictures;
- the most memory the build and each worker take, which does not grow with the sheets;
- a build of nothing and a build after one changed drill against the first build (2% is the
  most for a build of nothing).

Times are those of the processors, of all processes together, because they hold on a machine
that does other things too; seconds that passed stand beside them.  Every sheet is another
drill or harp, and the pack has a book for each ten of them and one of all.  Run it with
``python tests/benchmarks/packs.py``, or with the sizes to try:
``python tests/benchmarks/packs.py 100 300 1000``.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reedmill.library import shipped
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.keep.ledger import BuildScope
from reedmill.pack.plan.pieces import plan_pack
from reedmill.pack.run.workers import usual_workers
from reedmill.pack.steps.steps import batches
from reedmill.pack.steps.work import Sheet, unpack_work
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.page import pages

SIZES = (100, 300)
HARPS = ("C", "A", "F", "G", "D", "Bb", "E", "low F", "Eb", "Ab")
MOST_GROWTH, MOST_OF_SEPARATE_RUNS, MOST_OF_NOTHING = 0.15, 0.35, 0.02
LONE_SHEETS = 20  # drawn by a LilyPond each, to know what one costs
EVERY_S = 0.05


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the command."""

    seconds: float  # of processors, in all processes
    passed_s: float
    most_mb: dict[str, float]  # of memory: the build, the largest worker, the largest LilyPond


def main() -> None:
    sizes = [int(each) for each in sys.argv[1:]] or SIZES
    first_s = 0.0
    for size in sizes:
        with tempfile.TemporaryDirectory(prefix="packs-") as name:
            each_s = measured(size, Path(name))
        first_s = first_s or each_s
        growth = each_s / first_s - 1
        print(f"growth of the time for each sheet {growth:+.2f} (at most {MOST_GROWTH:g})\n")


def measured(size: int, folder: Path) -> float:
    """Print what a pack of *size* sheets costs; seconds for each of them."""
    course, out = write_course(folder, size), folder / "out"
    runs = sheets_of(course)
    clean = run(course, out)
    nothing_s = min(run(course, out).seconds for _ in range(3))
    floor_s, alone_s = floor(runs, png=False), lone_s(runs)
    pictured_s = floor(runs, png=True)
    change_one_drill(course)
    changed_s = run(course, out).seconds
    print(
        f"{size} sheets: {clean.seconds:.1f} s, {clean.seconds / size * 1000:.0f} ms each; "
        f"{clean.passed_s:.1f} s passed; at most {clean.most_mb} MB"
    )
    print(
        f"  LilyPond alone in the same runs: {floor_s:.1f} s, a LilyPond for every sheet: "
        f"{alone_s:.1f} s, ratio {floor_s / alone_s:.2f} (at most {MOST_OF_SEPARATE_RUNS:g})"
    )
    print(
        f"  the whole pack against LilyPond alone with its pictures: {pictured_s:.1f} s, ratio "
        f"{clean.seconds / pictured_s:.2f}"
    )
    print(
        f"  a build of nothing: {nothing_s * 1000:.0f} ms, ratio "
        f"{nothing_s / clean.seconds:.4f} (at most {MOST_OF_NOTHING:g})"
    )
    print(f"  after one changed drill: {changed_s:.1f} s, ratio {changed_s / clean.seconds:.3f}")
    return clean.seconds / size


def write_course(folder: Path, size: int) -> Path:
    """A curriculum of *size* sheets: drills from all over the library, on ten harps each."""
    count = size // len(HARPS)
    library = shipped()
    drills = [library[n * len(library) // count].drill for n in range(count)]
    harps = json.dumps(HARPS)
    lessons = [
        f'[[lessons]]\ntitle = "Lesson {n}"\n\n  [[lessons.exercises]]\n'
        f"  drill = {json.dumps(drill.title)}\n  harps = {harps}\n"
        for n, drill in enumerate(drills, start=1)
    ]
    head = f'title = "Much to play"\nharps = {harps}\n\n[defaults]\nhand_out = ["sheet"]\n\n'
    path = folder / "course.toml"
    path.write_text(head + "\n".join(lessons), "utf-8")
    return path


def change_one_drill(course: Path) -> None:
    """Another tempo for the first drill."""
    text = course.read_text("utf-8")
    course.write_text(text.replace("  harps =", "  tempo = 47\n  harps =", 1), "utf-8")


def run(course: Path, out: Path) -> Run:
    """One run of the command, watched."""
    began, used = time.perf_counter(), used_s()
    process = subprocess.Popen(
        [str(Path(sys.executable).with_name("reedmill")), "pack", str(course), "--out", str(out)],
        stdout=subprocess.DEVNULL,
    )
    most: dict[str, float] = {}
    watching = threading.Thread(target=watch, args=(process.pid, most), daemon=True)
    watching.start()
    code = process.wait()
    passed_s = time.perf_counter() - began
    if code:
        raise SystemExit(f"the build ended with code {code}")
    return Run(used_s() - used, passed_s, dict(most))


def used_s() -> float:
    """Seconds of processors used by all processes below this one that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def watch(pid: int, most: dict[str, float]) -> None:
    """Keep the most memory of each kind of process below *pid*, in MB, while there is one."""
    while Path(f"/proc/{pid}").exists():
        for name, size in memory_mb(pid):
            most[name] = max(most.get(name, 0.0), size)
        time.sleep(EVERY_S)


def memory_mb(pid: int) -> list[tuple[str, float]]:
    """The memory of the process *pid* and of all below it, by what they are."""
    found, parents = [], {}
    for each in Path("/proc").glob("[0-9]*"):
        try:
            fields = (each / "stat").read_text().rpartition(")")[2].split()
            parents[int(each.name)] = int(fields[1])
        except OSError:
            continue
    for child in parents:
        generation, ancestor = 0, child
        while ancestor not in (pid, 0) and generation < 4:
            ancestor, generation = parents.get(ancestor, 0), generation + 1
        if ancestor == pid:
            found.append((("build", "worker", "LilyPond")[min(generation, 2)], resident_mb(child)))
    return found


def resident_mb(pid: int) -> float:
    try:
        pages_ = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    except (OSError, IndexError):
        return 0.0
    return round(pages_ * os.sysconf("SC_PAGE_SIZE") / 1e6, 1)


def sheets_of(course: Path) -> list[list[Sheet]]:
    """The sheets of *course* in the runs a build draws them in."""
    found = plan_pack(read_course(course), BuildScope(), lambda _: False)
    steps = [step for step in found.steps.values() if step.kind == "sheet"]
    return [
        [work for step in run if isinstance(work := unpack_work(step.packed), Sheet)]
        for run in batches(steps, usual_workers())
    ]


def floor(runs: Sequence[Sequence[Sheet]], *, png: bool) -> float:
    """Seconds of processors that LilyPond alone takes over *runs*, one after the other."""
    sources = [pages([work.score for work in run], run[0].look) for run in runs]
    before = used_s()
    for run, source in zip(runs, sources, strict=True):
        with Engraver(png=png) as engraver:
            engraver.feed(source)
            engraver.sheets(len(run))
    return used_s() - before


def lone_s(runs: Sequence[Sequence[Sheet]]) -> float:
    """Seconds of processors for all sheets, would each have a LilyPond of its own."""
    works = [work for run in runs for work in run]
    some = works[:: max(1, len(works) // LONE_SHEETS)][:LONE_SHEETS]
    return floor([[work] for work in some], png=False) * len(works) / len(some)


if __name__ == "__main__":
    main()
