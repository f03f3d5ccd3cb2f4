"""What a record book loses when its program is killed, and how fast it is for a whole class.

    PYTHONPATH=tests python tests/benchmarks/record_book.py [--kills N] [--students N] [--takes N]

First an import of 200 files is killed at random moments (SIGKILL, which no program can answer).
Lost is a take that was reported as kept and is not in the book; doubled is one that is there
twice.  Then a book of many students is filled, and a quarter of it, to see how both grow, and the
commands for a class and for one student read it, each in a process of its own.  The output is kept
in ``record_book.txt``.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator"), str(HERE.parent)]

from reedmill.record import open_book, read_take_data  # noqa: E402
from taken import kept_in, take  # noqa: E402

FILES, IN_EACH = 200, 2
TRIES = 13
DRILLS = (  # a note to come home to, and what is played from it
    ("-2", ("-3'", "-3''", "-3'''")),
    ("-3", ("-2''", "-2'", "-3'")),
    ("4", ("-4'", "-4", "-3''")),
    ("6", ("-6'", "-6", "5")),
    ("-1", ("-1'", "1", "2")),
    ("8", ("8'", "-8", "9'")),
)
HARPS = ("C", "F", "A")
NOW = datetime(2027, 12, 1, tzinfo=UTC)


def some_take(number: int) -> dict[str, Any]:
    """A take of 13 notes that no other number has, of one of six drills on one of three harps."""
    rng = random.Random(number)
    drill = rng.randrange(len(DRILLS))
    home, rungs = DRILLS[drill]
    tabs = [home if n % 2 == 0 else rng.choice(rungs) for n in range(TRIES)]
    tries = [(tabs[n], tabs[n - 1] if n else None, round(rng.uniform(-40, 40), 1))
             for n in range(TRIES)]  # fmt: skip
    at = f"2027-{number % 11 + 1:02}-{number // 11 % 28 + 1:02}T18:{number % 60:02}:00Z"
    return take(tries, recorded=at, tempo=40 + number % 80, harp=rng.choice(HARPS),
                title=f"Drill {drill}")  # fmt: skip


# --- killed ---------------------------------------------------------------------------------


def importing(book: Path, folder: Path) -> subprocess.Popen[str]:
    words = ["record", "add", str(folder), "--student", "Ada", "--book", str(book)]
    environment = {**os.environ, "PYTHONPATH": str(HERE.parents[1] / "generator")}
    return subprocess.Popen(
        [sys.executable, "-u", "-m", "reedmill.cli", *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment,
    )  # fmt: skip


def digests(book: Path) -> list[str]:
    """The digest of every take in *book*; none where it is not there yet."""
    if not book.exists():
        return []
    with open_book(book) as found:
        return [each.digest for row in found.students() for each in found.takes(row.name)]


def killed_once(book: Path, folder: Path, after_s: float) -> tuple[int, int, int]:
    """Takes reported, lost and doubled of an import that is killed *after_s*."""
    program = importing(book, folder)
    time.sleep(after_s)
    program.send_signal(signal.SIGKILL)
    said, _ = program.communicate()
    reported = [line.split(":")[0] for line in said.splitlines() if line.endswith(" kept")]
    there = digests(book)
    told = {each.digest for name in reported for found in read_take_data(Path(name))
            for each in found.takes}  # fmt: skip
    return len(told), len(told - set(there)), len(there) - len(set(there))


def kill(times: int) -> bool:
    """Kill imports at random moments; tell whether nothing was lost or doubled."""
    with TemporaryDirectory() as name:
        folder = Path(name) / "takes"
        folder.mkdir()
        for number in range(FILES):
            first = number * IN_EACH
            file = folder / f"{number:03}.json"
            kept_in(file, [some_take(n) for n in range(first, first + IN_EACH)])
        began = time.perf_counter()
        importing(Path(name) / "whole.book", folder).communicate()
        whole_s = time.perf_counter() - began
        every = set(digests(Path(name) / "whole.book"))
        rng, sums, early, again = random.Random(7), [0, 0, 0], 0, 0
        for turn in range(times):
            book = Path(name) / f"{turn}.book"
            found = killed_once(book, folder, rng.uniform(0, whole_s))
            sums = [a + b for a, b in zip(sums, found, strict=True)]
            early += found[0] == 0
            if turn % 10 == 0:  # and the rest goes in afterwards
                importing(book, folder).communicate()
                after = digests(book)
                again += set(after) != every or len(after) != len(every)
    print(
        f"killed {times} times while importing {FILES} files of {IN_EACH} takes ({whole_s:.1f} s)"
    )
    print(f"  {early} times before the first file was reported; {sums[0]} takes reported in all")
    print(f"  lost {sums[1]}, doubled {sums[2]}, not whole after a second import {again}")
    return sums[1:] == [0, 0] and not again


# --- a whole class ----------------------------------------------------------------------------


class Watch:
    """Time that passed and time of the processor, which a busy machine changes less."""

    def __init__(self) -> None:
        self.passed_s = self.used_s = 0.0

    def __enter__(self) -> None:
        self._began = time.perf_counter(), time.process_time()

    def __exit__(self, *_: object) -> None:
        self.passed_s += time.perf_counter() - self._began[0]
        self.used_s += time.process_time() - self._began[1]

    def __str__(self) -> str:
        return f"{self.passed_s:8.3f} s, {self.used_s:8.3f} s of the processor"


def fill(students: int, takes: int) -> None:
    """Fill a book, a file for each student, and print how long that and reading takes."""
    with TemporaryDirectory() as name:
        place, file = Path(name) / "class.book", Path(name) / "one.json"
        reading, storing, listing, summing, one, forgetting = (Watch() for _ in range(6))
        with open_book(place, new=True) as book:
            for number in range(students):
                first = number * takes
                file.write_text(json.dumps({"takes": [some_take(first + n) for n in range(takes)]}))
                with reading:
                    [found] = read_take_data(file)
                with storing:
                    book.add(f"Student {number:03}", found.takes, NOW)
            size = place.stat().st_size
            with listing:
                book.students()
            with summing:
                places = sum(len(each.sums.rungs) for each in book.sums())
            with one:
                list(book.takes(f"Student {students // 2:03}"))
            whole = whole_processes(place, students)
            with forgetting:
                book.forget(f"Student {students // 2:03}")
    count = students * takes
    passed, used = reading.passed_s + storing.passed_s, reading.used_s + storing.used_s
    print(f"{students} students with {takes} takes of {TRIES} notes")
    print(
        f"  import      {count / passed:.0f} takes/s; {count / used:.0f} a second of the processor"
    )
    print(f"    reading   {reading}")
    print(f"    storing   {storing}")
    print(f"  file        {size / 1e6:.1f} MB, {size / count:.0f} bytes a take")
    print(f"  students()  {listing}")
    print(f"  sums()      {summing}, {places / students:.0f} places a student")
    print(f"  takes()     {one}, of one student")
    print(f"  forget()    {forgetting}, one student")
    for line in whole:
        print(line)


# --- whole commands ---------------------------------------------------------------------------

LESSONS = """
title = "Measured"
harps = ["C", "F", "A"]
book = "class.book"

[[lessons]]
title = "Home"
[[lessons.exercises]]
drill = ["Two holes, one note", "Long plain tones", "Home from every rung"]

[[lessons]]
title = "Rungs"
[[lessons.exercises]]
drill = ["Step from the rung before", "Skip a rung"]
"""
IMPORTED = (
    ("Python alone", "pass"),
    ("the command line with click", "import reedmill.cli.commands"),
    ("NumPy", "import numpy"),
    ("the record book, with NumPy", "import reedmill.record"),
    ("a course file's reader, with pydantic", "import reedmill.pack.course.course_reading"),
    ("the library's drills", "from reedmill.library import shipped; [s.score for s in shipped()]"),
)
TIMES = 20  # others may use the machine: the best of many is nearest to its own time


def whole_processes(book: Path, students: int) -> list[str]:
    """The time of each command on *book* from its start to its end, and of what it imports."""
    course = book.with_name("course.toml")
    names = (f'\n[[students]]\nname = "Student {number:03}"\n' for number in range(students))
    course.write_text(LESSONS + "".join(names), "utf-8")
    command = ("-m", "reedmill.cli")
    rows = [
        ("class", (*command, "class", "--book", str(book))),
        ("class COURSE", (*command, "class", str(course))),
        ("class COURSE --json", (*command, "class", str(course), "--json")),
        ("progress", (*command, "progress", f"Student {students // 2:03}", "--book", str(book))),
        *((f"  {name}", ("-c", code)) for name, code in IMPORTED),
    ]
    shown = (f"  {name:40} {process_s(words)}" for name, words in rows)
    lines = list(shown)
    load = f"{os.getloadavg()[0]:.1f} processes wanted {os.cpu_count()} processors meanwhile"
    return [f"  whole processes, the best of {TIMES}; {load}", *lines]


def process_s(words: tuple[str, ...]) -> str:
    environment = {
        **os.environ, "PYTHONPATH": str(HERE.parents[1] / "generator"), "OPENBLAS_NUM_THREADS": "1",
    }  # fmt: skip
    passed, used = [], []
    for _ in range(TIMES):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, *words], env=environment, stdout=subprocess.DEVNULL, check=True
        )
        passed.append(time.perf_counter() - began)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        used.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return f"{min(passed):8.3f} s, {min(used):8.3f} s of the processor"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--students", type=int, default=200)
    parser.add_argument("--takes", type=int, default=500)
    asked = parser.parse_args()
    right = not asked.kills or kill(asked.kills)
    for students in (asked.students // 4, asked.students):
        fill(students, asked.takes)
    return 0 if right else 1


if __name__ == "__main__":
    sys.exit(main())
