"""Settings for all tests: which are slow, in what order they run, how examples are found."""

from __future__ import annotations

import gc
import math
import signal
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from browsers import browser
from sharing import share_below

__all__ = ["browser"]  # a fixture for every test that opens a page

# A shared machine may stall for a second at any moment: time is measured where it matters,
# in the tests that say so, and in the benchmarks.
settings.register_profile(
    "patient",
    deadline=None,
    derandomize=False,
    suppress_health_check=[HealthCheck.too_slow],
)
patient = settings.get_profile("patient")
# The same examples each time: what every change must pass is not a matter of luck.
settings.register_profile("ci", patient, derandomize=True, print_blob=True)
# New examples each time, from a seed that pytest prints (--hypothesis-seed).
settings.register_profile("random", patient, max_examples=40, print_blob=True)
# tests/mutation wants to know whether a test fails, not the smallest example of it, and that of
# a hundred programs: fewer examples notice a little less, and cost a quarter.
settings.register_profile(
    "mutation",
    deadline=None,
    max_examples=25,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
)
settings.load_profile("patient")

ROOT = Path(__file__).parents[1]
MEASURED = Path(__file__).with_name("slow.txt")
SLOW_S, SHARED_S = 0.25, 0.5
"""Of processor time: what the quick tests give to one function, and to what several share."""
MANY = 4  # rows that fit into that time, for a sample of a slow function to be worth the name


@cache
def slow() -> dict[str, float]:
    """Seconds of processor time of each slow module and function, by the start of its name."""
    lines = MEASURED.read_text("utf-8").splitlines()
    rows = (line.split(maxsplit=1) for line in lines if line and not line.startswith("#"))
    return {name: float(seconds) for seconds, name in rows}


@cache
def slow_modules() -> frozenset[Path]:
    """Those that are slow as a whole."""
    return frozenset(ROOT / name for name in slow() if "::" not in name)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--whole", action="store_true", help="every drill on every harp, where a sample is usual"
    )
    parser.addoption(
        "--quick", action="store_true", help="leave out what is slow, and do not even import it"
    )


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "slow: see conftest.py; left out by scripts/test quick")
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        # a shell's "&": the programs that tests start and stop would ignore Ctrl-C as well
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Whether *collection_path* is a module that is slow as a whole, and slow ones are left out."""
    if not config.getoption("--quick"):
        return None
    return collection_path in slow_modules() or None


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Collect without looking for garbage: ten thousand tests and what they import all stay."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what is slow, and begin with the modules that take longest.

    Two processes then end at about the same time: see ``--dist loadfile`` in pyproject.toml.
    """
    measured = slow()
    rows: dict[str, list[pytest.Item]] = defaultdict(list)
    of_module: Counter[str] = Counter()
    for name, seconds in measured.items():
        of_module[name.partition("::")[0]] += round(seconds)
    for item in items:
        rows[item.nodeid.partition("[")[0]].append(item)
    for function, alike in rows.items():
        for item in _slow_of(alike, function, measured):
            item.add_marker(pytest.mark.slow)
    items.sort(key=lambda item: -of_module[item.nodeid.partition("::")[0]])
    if config.getoption("--quick"):
        left_out = [item for item in items if item.get_closest_marker("slow")]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("slow")]


def _slow_of(rows: list[Any], function: str, measured: dict[str, float]) -> list[Any]:
    """Those of the *rows* of one function that are slow: not a sample, where they are many.

    >>> rows = list("abcdefghijkl")
    >>> _slow_of(rows, "test_a.py::test_b", {"test_a.py::test_b": 2.5 * SLOW_S})
    ['b', 'c', 'e', 'f', 'h', 'i', 'k', 'l']
    >>> _slow_of(rows, "test_a.py::test_b", {"test_a.py::test_b": 4 * SLOW_S}) == rows  # 3 are few
    True
    >>> _slow_of(rows, "test_a.py::test_b", {"test_a.py": 2 * SLOW_S}) == rows
    True
    """
    if function.partition("::")[0] in measured:
        return rows
    every = math.ceil(measured.get(function, 0) / SLOW_S)
    if every <= 1:
        return []
    quick = rows[::every] if len(rows) >= MANY * every else []
    return [row for row in rows if row not in quick]


@pytest.fixture(scope="session", autouse=True)
def _shared_by_all_processes(tmp_path_factory: pytest.TempPathFactory) -> None:
    share_below(tmp_path_factory)


@pytest.fixture(scope="session")
def whole(pytestconfig: pytest.Config) -> bool:
    """Whether a test that usually takes a sample of the library or the harps takes all."""
    return bool(pytestconfig.getoption("--whole"))
