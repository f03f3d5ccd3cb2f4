"""Settings for all tests: which are slow, in what order they run, how examples are found."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from hypothesis import Phase, settings

from browsers import browser

__all__ = ["browser"]  # a fixture for every test that opens a page

# A shared machine may stall for a second at any moment: time is measured where it matters,
# in the tests that say so, and in the benchmarks.
settings.register_profile("patient", deadline=None, derandomize=False)
# The same examples each time: what every change must pass is not a matter of luck.
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
# New examples each time, from a seed that pytest prints (--hypothesis-seed).
settings.register_profile("random", deadline=None, derandomize=False, print_blob=True)
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

MEASURED = Path(__file__).with_name("slow.txt")
OTHER_PROGRAMS = tuple(f"tests/{room}/" for room in ("sheet", "sound", "make", "pack"))
"""Where tests run LilyPond, FluidSynth, a browser or whole commands: slow, every one."""


def slow() -> dict[str, float]:
    """Seconds of processor time of each slow module and function, by the start of its name."""
    lines = MEASURED.read_text("utf-8").splitlines()
    rows = (line.split(maxsplit=1) for line in lines if line and not line.startswith("#"))
    return {name: float(seconds) for seconds, name in rows}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--whole", action="store_true", help="every drill on every harp, where a sample is usual"
    )


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "slow: see conftest.py; left out by scripts/test quick")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow, and begin with the modules that take longest.

    Two processes then end at about the same time: see ``--dist loadfile`` in pyproject.toml.
    """
    measured = slow()
    of_module: Counter[str] = Counter()
    for name, seconds in measured.items():
        of_module[name.partition("::")[0]] += round(seconds)
    for item in items:
        module = item.nodeid.partition("::")[0]
        if module.startswith(OTHER_PROGRAMS):
            of_module[module] = max(of_module[module], 2)  # before all that is quick
            item.add_marker(pytest.mark.slow)
        elif module in measured or item.nodeid.partition("[")[0] in measured:
            item.add_marker(pytest.mark.slow)
    items.sort(key=lambda item: -of_module[item.nodeid.partition("::")[0]])


@pytest.fixture(scope="session")
def whole(pytestconfig: pytest.Config) -> bool:
    """Whether a test that usually takes a sample of the library or the harps takes all."""
    return bool(pytestconfig.getoption("--whole"))
