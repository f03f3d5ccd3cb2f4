"""Which tests are slow, by processor time: writes tests/slow.txt and prints the slowest.

    python tests/benchmarks/slow_tests.py              all tests are measured, ten minutes
    python tests/benchmarks/slow_tests.py tests/pack   those alone; the rest of the list stays

Processor time, of pytest and of the programs it starts, is about the same on a busy machine.
A function is slow from ``SLOW_S`` of tests/conftest.py on, for all its rows together; a module is
slow as a whole when what its tests share takes ``SHARED_S``, because the first test that is left
pays for it.  The tests that are not slow are then measured again until there are no more slow
ones among them: some pay for what a slow one made.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

ROOT = Path(__file__).resolve().parents[2]
LIST = ROOT / "tests" / "slow.txt"
HEAD = "# Seconds of processor time. Made by tests/benchmarks/slow_tests.py; read by conftest.py."
WHERE = "REEDMILL_MEASURED"  # the folder in which each process of tests leaves what it measured


# --- a plugin of pytest, in each of its processes ---------------------------------------------

CALLS_S: Counter[str] = Counter()
"""What each function takes itself, all its rows together."""
SHARED_S: Counter[str] = Counter()
"""What its fixtures take, which the first test that needs one pays for."""


def used_s() -> float:
    """Processor time of this process and of all it has waited for."""
    return sum(os.times()[:4])


def _added(to: Counter[str], item: pytest.Item) -> Iterator[None]:
    before = used_s()
    try:
        return (yield)
    finally:
        to[item.nodeid.partition("[")[0]] += used_s() - before  # type: ignore[assignment]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Add what the test itself takes."""
    return (yield from _added(CALLS_S, item))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item: pytest.Item) -> Iterator[None]:
    """Add what its fixtures take."""
    return (yield from _added(SHARED_S, item))


def pytest_sessionfinish() -> None:
    """Leave what was measured where ``measured`` finds it."""
    place = Path(os.environ[WHERE]) / f"{os.getpid()}.json"
    place.write_text(json.dumps([CALLS_S, SHARED_S]), "utf-8")


# --- what starts pytest -----------------------------------------------------------------------


def measured(arguments: list[str]) -> dict[str, float]:
    """What is slow, by the start of its name, in seconds."""
    calls_s: Counter[str] = Counter()
    shared_s: Counter[str] = Counter()
    with TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-n", "2", "-p", Path(__file__).stem,
             "--hypothesis-profile=ci", *arguments],
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parent), WHERE: folder},
            check=False,
        )  # fmt: skip
        for each in Path(folder).iterdir():
            calls, shared = json.loads(each.read_text("utf-8"))
            calls_s.update(calls)
            shared_s.update(shared)
    return slow(calls_s, shared_s)


def slow(calls_s: Counter[str], shared_s: Counter[str]) -> dict[str, float]:
    """The slow ones of all functions and modules."""
    sys.path.insert(0, str(ROOT / "tests"))
    from conftest import SHARED_S, SLOW_S  # not where this is a plugin, which is there before it

    of_module: Counter[str] = Counter()
    for name, seconds in (calls_s + shared_s).items():
        of_module[name.partition("::")[0]] += seconds
    shared = {name.partition("::")[0] for name in shared_s if shared_s[name] >= SHARED_S}
    functions = {
        name: float(seconds)
        for name, seconds in calls_s.items()
        if seconds >= SLOW_S and name.partition("::")[0] not in shared
    }
    return functions | {module: float(of_module[module]) for module in shared}


def rows() -> dict[str, float]:
    lines = LIST.read_text("utf-8").splitlines() if LIST.exists() else []
    found = (line.split(maxsplit=1) for line in lines if line and not line.startswith("#"))
    return {name: float(seconds) for seconds, name in found}


def write(found: dict[str, float]) -> None:
    modules = {name for name in found if "::" not in name}
    kept = {
        name: seconds
        for name, seconds in found.items()
        if name in modules or name.partition("::")[0] not in modules
    }
    lines = [f"{seconds:6.1f} {name}" for name, seconds in sorted(kept.items())]
    LIST.write_text("\n".join([HEAD, *lines]) + "\n", "utf-8")


def main(paths: list[str]) -> int:
    os.chdir(ROOT)
    stay = {name: seconds for name, seconds in rows().items() if paths and not under(name, paths)}
    found = more = measured(paths)
    while more:
        write(stay | found)
        more = {name: s for name, s in measured([*paths, "--quick"]).items() if name not in rows()}
        found |= more
    for name, seconds in sorted(rows().items(), key=lambda row: -row[1])[:25]:
        print(f"{seconds:6.1f} {name}")
    return 0


def under(name: str, paths: list[str]) -> bool:
    return any(name == path or name.startswith((f"{path}/", f"{path}::")) for path in paths)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
