"""Whether the tests notice a wrong program: changes one place at a time and runs them.

    python tests/mutation/mutate.py                         the whole core, 100 places of each part
    python tests/mutation/mutate.py harp theory --sample 40 --seed 2 --jobs 2
    python tests/mutation/mutate.py notation --sample 100 --only _group

A copy of the checkout is changed, never the checkout.  For each change (tests/wrong_programs.py)
the tests of the part's own room run until the first one fails, those that call the changed
function first (tests/mutation_runs.py); where none fails, so do tests further off.  A change
that no test notices is printed as a difference.  A run that takes ten times as long as it should
has been noticed.  Some changes change nothing that could be noticed: they stand with the reason
in tests/mutation/equivalent.toml and are not counted.

Prints a table at the end, and ends with 1 when the tests fail on the program as it is.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import tomllib
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from wrong_programs import ROOT, Change, changes_of, function_around, lines_changed, shown

PACKAGE = "generator/reedmill"
TOLD_BY = "generator tests"


@dataclass(frozen=True, slots=True)
class Part:
    """Files of the package, and the tests that concern them: their room's, and those further off.

    The doctests of the files are run in any case.
    """

    files: list[str]  # packages, or modules
    own: list[str]
    wider: list[str] = field(default_factory=list)


PARTS = {
    "theory": Part(["theory"], ["tests/theory"], ["tests/harp", "tests/expand/test_expand.py"]),
    "harp": Part(["harp"], ["tests/harp"], ["tests/theory", "tests/expand/test_expand.py"]),
    "notation": Part(
        ["score/notation.py"], ["tests/score/test_notation.py"], ["tests/score", "tests/formats"]
    ),
    "score": Part(
        ["score"],
        ["tests/score", "--deselect=tests/score/test_fields.py"],
        ["tests/expand", "tests/formats/test_musicxml.py", "tests/practice", "tests/library"],
    ),
    "expand": Part(["expand"], ["tests/expand"], ["tests/language/test_parts.py", "tests/formats"]),
    "language": Part(
        ["language"],
        ["tests/language", "--deselect=tests/language/test_fuzz.py"],
        ["tests/base/test_errors_text.py", "tests/expand/test_expand.py"],
    ),
}
"""The core: where a wrong sign is a wrong note.  A module with a row of its own is in no other."""

NEAR_S = 0.7
"""Seconds of processor time: dearer tests are left out where only a near look is taken."""

EQUIVALENT = Path(__file__).with_name("equivalent.toml")


def files_of(name: str) -> list[Path]:
    """The files of a part, from the root of a checkout."""
    elsewhere = {file for other, part in PARTS.items() if other != name for file in part.files}
    found: list[Path] = []
    for each in PARTS[name].files:
        path = Path(PACKAGE, each)
        found += [path] if path.suffix else sorted((ROOT / path).rglob("*.py"))
    paths = [ROOT / path for path in found]
    return [
        path.relative_to(ROOT)
        for path in paths
        if path.relative_to(ROOT / PACKAGE).as_posix() not in elsewhere
    ]


def equivalent() -> set[tuple[str, str, str]]:
    """The file and the lines before and after of each change that nobody could notice."""
    rows = tomllib.loads(EQUIVALENT.read_text("utf-8")).get("change", [])
    return {(row["file"], row["before"], row["after"]) for row in rows if row["reason"]}


def row_of(change: Change) -> tuple[str, str, str]:
    return (change.path.relative_to(PACKAGE).as_posix(), *lines_changed(change))


# --- running the tests -----------------------------------------------------------------------


Test = tuple[str, float]  # its name, and the seconds of processor time it may take


@dataclass(slots=True)
class Known:
    """What has been found out about a part's tests: the functions each calls, and what it notices.

    A test that has noticed a change is likely to notice the next, so it comes first.
    """

    seconds: dict[str, float] = field(default_factory=dict)
    calls: dict[str, set[str]] = field(default_factory=dict)
    noticed: dict[str, int] = field(default_factory=dict)
    wider: list[str] | None = None  # tests further off that pass on the right program

    def order(self, function: str) -> list[Test]:
        """The tests, those that call a function first, then by what they cost and notice."""

        def cost(test: str) -> tuple[bool, float]:
            return (
                function not in self.calls[test],
                (0.02 + self.seconds[test]) / (1 + self.noticed.get(test, 0)),
            )

        return [(test, self.limit(test)) for test in sorted(self.seconds, key=cost)]

    def limit(self, test: str) -> float:
        """Seconds of processor time after which a test is taken to hang."""
        return 5 + 10 * self.seconds[test]

    def that_call(self, function: str) -> list[Test]:
        """The tests that call a function, in the same order."""
        return [each for each in self.order(function) if function in self.calls[each[0]]]


class Bench:
    """A copy of the checkout, and a process that has collected the tests of a part in it."""

    def __init__(self, root: Path, name: str, near: bool) -> None:
        self.root, self.name, self.written = root, name, 0
        self.wider, self.near = [] if near else PARTS[name].wider, near
        if not root.exists():
            unneeded = (".git", ".venv*", "__pycache__", "output", "build", ".*_cache")
            shutil.copytree(ROOT, root, ignore=shutil.ignore_patterns(*unneeded))
        ours, theirs = os.pipe(), os.pipe()
        self.process = subprocess.Popen(
            self.command(PARTS[name].own), cwd=root, pass_fds=(theirs[0], ours[1]),
            env={**self.environment(), "MUTATION_TALK": f"{theirs[0]} {ours[1]}"},
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        os.close(theirs[0])
        os.close(ours[1])
        self.answers, self.requests = os.fdopen(ours[0]), os.fdopen(theirs[1], "w")

    def close(self) -> None:
        """End the process that has collected the tests."""
        end_group(self.process)
        self.answers.close()
        with suppress(BrokenPipeError):
            self.requests.close()

    def command(self, tests: list[str]) -> list[str]:
        """How the tests and the doctests of the part are run until one fails."""
        return [
            sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider",
            "-p", "mutation_runs", "--hypothesis-profile=mutation", "--no-header",
            *map(str, files_of(self.name)), *tests,
        ]  # fmt: skip

    def environment(self) -> dict[str, str]:
        """The copy's own program and tests, in subprocesses too."""
        paths = os.pathsep.join(str(self.root / each) for each in TOLD_BY.split())
        return {**os.environ, "PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1"}

    def ask(self, **request: Any) -> dict[str, Any]:
        """What the process that has collected the tests answers."""
        print(json.dumps(request), file=self.requests, flush=True)
        answer: dict[str, Any] = json.loads(self.answers.readline() or "{}")
        return answer

    def learn(self) -> Known | None:
        """What the tests call and how long they take; ``None`` when one fails."""
        paths = [str(self.root / path) for path in files_of(self.name)]
        answer = self.ask(learn=paths, within_s=3600)
        if answer.get("result") != "passed":
            print(answer or "the tests cannot be collected", file=sys.stderr)
            return None
        known = Known()
        for test, seconds, calls in answer["tests"]:
            known.seconds[test] = seconds
            known.calls[test] = {each.removeprefix(f"{self.root}/") for each in calls}
        return known

    def notices(self, change: Change, known: Known, within_s: float) -> bool:
        """Whether the tests fail with a change in the copy."""
        around = function_around(change.path, change.line)
        function = f"{change.path}:{around.lineno}" if around else ""
        result = self.tried_here(change, known, function, within_s)
        if result in {"failed", "hung"}:
            return True
        if self.near and result == "passed":
            return False
        order = known.order(function)
        if self.near:
            order = [(test, limit) for test, limit in order if known.seconds[test] <= NEAR_S]
        if self.fails_with(change, PARTS[self.name].own, order, within_s):
            return True
        if known.wider is None:  # first needed here
            fail = bool(self.wider) and self.fails(self.wider, [], 1800)
            known.wider = [] if fail else self.wider
            if fail:
                print(f"{self.name}: left out, for they fail: {' '.join(self.wider)}", flush=True)
        return bool(known.wider) and self.fails_with(change, known.wider, [], within_s)

    def tried_here(self, change: Change, known: Known, function: str, within_s: float) -> str:
        """What comes of the tests that call a function, in the process that has collected them."""
        tests = known.that_call(function)
        if self.near:
            tests = [(test, limit) for test, limit in tests if known.seconds[test] <= NEAR_S]
        if not tests:
            return "untried"
        right = (self.root / change.path).read_bytes()
        answer = self.ask(
            path=str(self.root / change.path), source=change.applied(right).decode(),
            tests=tests, within_s=within_s,
        )  # fmt: skip
        if test := answer["test"]:
            known.noticed[test] = known.noticed.get(test, 0) + 1
        return str(answer["result"])

    def fails_with(
        self, change: Change, tests: list[str], order: list[Test], within_s: float
    ) -> bool:
        """Whether tests fail in a new process with a change in the copy."""
        right = (self.root / change.path).read_bytes()
        try:
            self.write(change.path, change.applied(right))
            return self.fails(tests, order, within_s)
        finally:
            self.write(change.path, right)

    def fails(self, tests: list[str], order: list[Test], within_s: float) -> bool:
        """Whether a test fails in a new process, or hangs."""
        listed = self.root / "order.json"
        listed.write_text(json.dumps(order), "utf-8")
        running = subprocess.Popen(
            self.command(tests), cwd=self.root, start_new_session=True,
            env={
                **self.environment(), "MUTATION_ORDER": str(listed),
                "MUTATION_NEAR": "1" if self.near else "",
            },
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            return running.wait(timeout=within_s) != 0
        except subprocess.TimeoutExpired:
            return True
        finally:
            end_group(running)

    def write(self, path: Path, content: bytes) -> None:
        """Write a file with a time of its own: compiled files are trusted by time and size."""
        (self.root / path).write_bytes(content)
        self.written += 1
        os.utime(self.root / path, (1_000_000_000 + self.written,) * 2)


def end_group(process: subprocess.Popen[bytes]) -> None:
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


# --- the sample and what comes of it ---------------------------------------------------------


@dataclass(slots=True)
class Tally:
    """What has come of the changes of one part."""

    part: str
    killed: int = 0
    survivors: list[tuple[Change, str]] = field(default_factory=list)  # and how it was shown
    not_counted: int = 0

    @property
    def tried(self) -> int:
        """How many changes were tried."""
        return self.killed + len(self.survivors)

    @property
    def per_cent(self) -> int:
        """The share of changes that the tests noticed."""
        return round(100 * self.killed / max(1, self.tried))


def sample(name: str, size: int, seed: int, only: str) -> list[Change]:
    """Changes of a part by chance: the same for the same seed and the same program."""
    every = [change for path in files_of(name) for change in changes_of(path)]
    if only:
        around = [(each, function_around(each.path, each.line)) for each in every]
        every = [each for each, function in around if function and function.name == only]
    return random.Random(seed).sample(every, min(size, len(every)))


def tried(name: str, chosen: list[Change], roots: list[Path], near: bool) -> Tally | None:
    """Try changes in as many copies of the checkout as there are roots."""
    began = time.monotonic()
    same = equivalent()
    waiting = [change for change in chosen if row_of(change) not in same]
    tally = Tally(name, not_counted=len(chosen) - len(waiting))
    with ExitStack() as open_benches:
        benches = [Bench(root, name, near) for root in roots]
        for each in benches:
            open_benches.callback(each.close)
        known = benches[0].learn()
        if known is None:
            return None
        took_s = time.monotonic() - began
        print(f"{name}: {len(waiting)} changes; its tests take {took_s:.0f} s", flush=True)
        lock = threading.Lock()

        def work(bench: Bench) -> None:
            while True:
                with lock:
                    if not waiting:
                        return
                    change = waiting.pop(0)
                noticed = bench.notices(change, known, within_s=300 + 5 * took_s)
                with lock:
                    note(tally, change, noticed)

        threads = [threading.Thread(target=work, args=(each,)) for each in benches]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    print(f"{name}: {time.monotonic() - began:.0f} s", flush=True)
    return tally


def note(tally: Tally, change: Change, noticed: bool) -> None:
    tally.killed += noticed
    if noticed:
        print(f"killed {change.path}:{change.line}", flush=True)
        return
    tally.survivors.append((change, shown(change)))
    print(f"SURVIVED {change.path}:{change.line}\n{shown(change)}", flush=True)


def table(tallies: list[Tally], seed: int) -> str:
    rows = [f"seed {seed}", "part       changes  killed        not counted"]
    for each in tallies:
        rows.append(
            f"{each.part:10} {each.tried:7} {each.killed:7} ({each.per_cent:3}%) "
            f"{each.not_counted:11}"
        )
    for each in tallies:
        for change, difference in each.survivors:
            rows += ["", f"{each.part}: {change.path}:{change.line}", difference]
    return "\n".join(rows)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"{', '.join(PARTS)} (all)")
    parser.add_argument("--sample", type=int, default=100, help="how many changes of each (100)")
    parser.add_argument("--seed", type=int, default=1, help="which changes are tried (1)")
    parser.add_argument("--only", default="", metavar="FUNCTION", help="changes in one function")
    parser.add_argument("--jobs", type=int, default=1, help="processes at a time (1)")
    parser.add_argument(
        "--near",
        action="store_true",
        help="no tests further off, nor a second look",
    )
    asked = parser.parse_args()
    if unknown := set(asked.parts) - set(PARTS):
        parser.error(f"{', '.join(sorted(unknown))}: choose from {', '.join(PARTS)}")
    tallies: list[Tally] = []
    os.nice(10)
    with tempfile.TemporaryDirectory(prefix="mutation-", ignore_cleanup_errors=True) as scratch:
        roots = [Path(scratch, f"checkout{job}") for job in range(asked.jobs)]
        for name in asked.parts or PARTS:
            chosen = sample(name, asked.sample, asked.seed, asked.only)
            tally = tried(name, chosen, roots, asked.near)
            if tally is None:
                print(f"The tests of {name} fail on the program as it is: mend that first.")
                return 1
            tallies.append(tally)
    print(table(tallies, asked.seed))
    return 0


if __name__ == "__main__":
    sys.exit(main())
