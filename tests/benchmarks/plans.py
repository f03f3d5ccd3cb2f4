"""How near a plan comes to the build: time, bytes, files, books and pages, before and after.

For each course that is shipped: the plan in an empty folder, the build, and the plan of what
would be made with all sheets on another paper, which goes by what was measured in the folder.
Time is that of the processors, of all processes together; the seconds that passed stand beside
it, and say something only on a machine that does nothing else.  Run it with
``python tests/benchmarks/plans.py``.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from pypdf import PdfReader

from reedmill.pack.course.shipped_courses import shipped_courses

MOST_OFF = 0.30
JOBS = 2


def main() -> None:
    for shipped in shipped_courses():
        with tempfile.TemporaryDirectory(prefix="plans-") as name:
            compare(shipped.title, shipped.path, Path(name))


def compare(title: str, course: Path, folder: Path) -> None:
    """Print the plan of *course* against its build."""
    out = folder / "out"
    planned = plan(course, out)
    spent_s, passed_s = build(course, out)
    print(title)
    show("seconds of processors", planned["work_seconds"], spent_s)
    show(f"seconds that passed, {JOBS} workers", planned["seconds"], passed_s)
    show("bytes", planned["bytes"], stored(out))
    show("files", planned["files"], len(files(out)))
    books = [each for each in files(out) if each.suffix == ".pdf" and is_book(each, out)]
    show("books", of(planned, "book")["make"], len(books))
    show("pages of books", of(planned, "book")["pages"], sum(map(pages, books)))
    own = folder / "course.toml"  # the same course from now on, in a file that may be changed
    own.write_text(course.read_text("utf-8"), "utf-8")
    out = folder / "own"
    build(own, out)
    page = '[page]\npaper = "letter"\n\n[defaults]\n'
    own.write_text(own.read_text("utf-8").replace("[defaults]\n", page, 1), "utf-8")
    again = plan(own, out)
    spent_s, _ = build(own, out)
    show("seconds of processors, all sheets on another paper", again["work_seconds"], spent_s)


def show(what: str, planned: float, came: float) -> None:
    off = planned / came - 1 if came else 0.0
    sign = "" if abs(off) <= MOST_OFF else "  <- too far"
    print(f"  {what:<52} planned {planned:>12,.1f}  came {came:>12,.1f}  {off:+.0%}{sign}")


def plan(course: Path, out: Path) -> dict[str, Any]:
    done = reedmill(course, out, "--plan", "--json")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def build(course: Path, out: Path) -> tuple[float, float]:
    """Seconds of processors and seconds that passed."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    reedmill(course, out)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return spent, time.perf_counter() - began


def reedmill(course: Path, out: Path, *options: str) -> subprocess.CompletedProcess[str]:
    program = [sys.executable, "-m", "reedmill.cli", "pack", str(course), "--out", str(out)]
    return subprocess.run(
        [*program, "--jobs", str(JOBS), *options], capture_output=True, text=True, check=True,
        env=os.environ,
    )  # fmt: skip


def of(planned: dict[str, Any], kind: str) -> dict[str, Any]:
    row: dict[str, Any] = next(each for each in planned["plan"] if each["kind"] == kind)
    return row


def files(out: Path) -> list[Path]:
    return [each for each in out.rglob("*") if each.is_file() and ".reedmill" not in each.parts]


def stored(out: Path) -> int:
    objects = (out / ".reedmill" / "objects").rglob("*")
    return sum(each.stat().st_size for each in objects if each.is_file())


def is_book(path: Path, out: Path) -> bool:
    return path.parent == out or path.stem == path.parent.name


def pages(path: Path) -> int:
    return len(PdfReader(path).pages)


if __name__ == "__main__":
    main()
