"""Which tests are slow, by processor time: writes tests/slow.txt and prints the slowest.

    python tests/benchmarks/slow_tests.py              all tests are measured, twenty minutes
    python tests/benchmarks/slow_tests.py tests/pack   those alone; the rest of the list stays

Processor time, of pytest and of the programs it starts, is about the same on a busy machine.
A function is slow from two seconds on, for all its rows together; a module is slow as a whole
when what its tests share takes two, because the first test that is left pays for it.
(The rooms that run other programs are slow as they are, see tests/conftest.py.)  The
tests that are not slow are then measured once more: some pay for what a slow one made.
"""

from __future__ import annotations

import os
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LIST = ROOT / "tests" / "slow.txt"
HEAD = "# Seconds of processor time. Made by tests/benchmarks/slow_tests.py; read by conftest.py."
SLOW_S = 2.0


def used_s() -> float:
    """Processor time of this process and of all it has waited for."""
    return sum(os.times()[:4])


class Measured:
    """A plugin of pytest that adds up what each function and what each set-up takes."""

    def __init__(self) -> None:
        self.calls_s: dict[str, float] = defaultdict(float)
        self.shared_s: dict[str, float] = defaultdict(float)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        """Add what the test itself takes."""
        before = used_s()
        try:
            return (yield)
        finally:
            self.add(self.calls_s, item, before)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> Iterator[None]:
        """Add what its fixtures take, which the first test that needs one pays for."""
        before = used_s()
        try:
            return (yield)
        finally:
            self.add(self.shared_s, item, before)

    def add(self, to: dict[str, float], item: pytest.Item, before: float) -> None:
        """Add what was used since *before* to all rows of the function together."""
        to[item.nodeid.partition("[")[0]] += used_s() - before

    def slow(self) -> dict[str, float]:
        """What is slow, by the start of its name, in seconds."""
        of_module: dict[str, float] = defaultdict(float)
        shared: set[str] = set()
        for name in {**self.calls_s, **self.shared_s}:
            module = name.partition("::")[0]
            of_module[module] += self.calls_s.get(name, 0) + self.shared_s.get(name, 0)
            if self.shared_s.get(name, 0) >= SLOW_S:
                shared.add(module)
        functions = {
            name: seconds
            for name, seconds in self.calls_s.items()
            if seconds >= SLOW_S and name.partition("::")[0] not in shared
        }
        return functions | {module: of_module[module] for module in shared}


def measured(arguments: list[str]) -> dict[str, float]:
    plugin = Measured()
    pytest.main(["-q", "-n", "0", "-p", "no:cacheprovider", *arguments], plugins=[plugin])
    return plugin.slow()


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
    first = measured(paths)
    write(stay | first)
    write(stay | first | measured([*paths, "-m", "not slow"]))
    for name, seconds in sorted(rows().items(), key=lambda row: -row[1])[:25]:
        print(f"{seconds:6.1f} {name}")
    return 0


def under(name: str, paths: list[str]) -> bool:
    return any(name == path or name.startswith((f"{path}/", f"{path}::")) for path in paths)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
