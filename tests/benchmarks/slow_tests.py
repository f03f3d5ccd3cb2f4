"""Which tests are slow, by processor time: writes tests/slow.txt and prints the slowest.

    python tests/benchmarks/slow_tests.py              all tests are measured, ten minutes
    python tests/benchmarks/slow_tests.py tests/pack   those alone; the rest of the list stays

Processor time, of pytest and of the programs it starts, is about the same on a busy machine.
A function is slow from ``SLOW_S`` of tests/conftest.py on, for all its rows together, and where
a fixture that it shares with others takes ``SHARED_S``, because the first test that is left pays
for it.  Where all functions of a module are slow, the module is, and is not imported.  The tests
that are not slow are then measured again until there are no more slow ones among them: some pay
for what a slow one made.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
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
"""What each fixture takes that is made for many tests, by its place and name."""
NEEDS: dict[str, list[str]] = {}
"""The fixtures that each function needs, itself or for another, in the same words."""


def used_s() -> float:
    """Processor time of this process and of all it has waited for."""
    return sum(os.times()[:4])


def _added(to: Counter[str], name: str) -> Iterator[None]:
    before = used_s()
    try:
        return (yield)
    finally:
        to[name] += used_s() - before  # type: ignore[assignment]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Add what the test itself takes."""
    return (yield from _added(CALLS_S, item.nodeid.partition("[")[0]))


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(
    fixturedef: pytest.FixtureDef[object], request: pytest.FixtureRequest
) -> Iterator[object]:
    """Add what a fixture takes that is not made for one test alone."""
    if fixturedef.scope == "function":
        return (yield None)
    place = "" if fixturedef.scope == "session" else request.node.nodeid
    return (yield from _added(SHARED_S, f"{place} {fixturedef.argname}"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    """Add what it takes to end the fixtures of a module, as a browser, to each of them.

    What a program took is known when it has ended.
    """
    module = item.nodeid.partition("::")[0]
    if nextitem is not None and nextitem.nodeid.startswith(f"{module}::"):
        return (yield)
    before = used_s()
    try:
        return (yield)
    finally:
        for name in SHARED_S:
            if name.startswith(f"{module} "):
                SHARED_S[name] += used_s() - before  # type: ignore[assignment]


def pytest_collection_finish(session: pytest.Session) -> None:
    """Note who needs what."""
    for item in session.items:
        module, _, _ = item.nodeid.partition("::")
        names = getattr(item, "fixturenames", [])
        NEEDS[item.nodeid.partition("[")[0]] = [
            f"{place} {name}" for name in names for place in ("", module)
        ]


def pytest_sessionfinish() -> None:
    """Leave what was measured where ``measured`` finds it."""
    place = Path(os.environ[WHERE]) / f"{os.getpid()}.json"
    place.write_text(json.dumps([CALLS_S, SHARED_S, NEEDS]), "utf-8")


# --- what starts pytest -----------------------------------------------------------------------


def measured(arguments: list[str]) -> dict[str, float]:
    """What is slow, by the start of its name, in seconds."""
    calls_s: Counter[str] = Counter()
    shared_s: Counter[str] = Counter()
    needs: dict[str, list[str]] = {}
    with TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-n", "2", "-p", Path(__file__).stem,
             "--hypothesis-profile=ci", *arguments],
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parent), WHERE: folder},
            check=False,
        )  # fmt: skip
        for each in Path(folder).iterdir():
            calls, shared, needed = json.loads(each.read_text("utf-8"))
            calls_s.update(calls)
            for name, seconds in shared.items():  # in each process that needs it
                shared_s[name] = max(shared_s[name], seconds)
            needs |= needed
    found = slow(calls_s, shared_s, needs)
    return found if "--quick" in arguments else with_modules(found, calls_s)


def slow(
    calls_s: Mapping[str, float], shared_s: Mapping[str, float], needs: Mapping[str, list[str]]
) -> dict[str, float]:
    """The slow functions, each with what it and its dear fixtures take.

    >>> slow({"a.py::b": 3.0, "a.py::c": 0.1}, {"a.py d": 2.0}, {"a.py::c": ["a.py d", " d"]})
    {'a.py::b': 3.0, 'a.py::c': 2.1}
    """
    sys.path.insert(0, str(ROOT / "tests"))
    from conftest import SHARED_S, SLOW_S  # not where this is a plugin, which is there before it

    found = {}
    for name, seconds in calls_s.items():
        shared = (shared_s.get(each, 0) for each in needs.get(name, ()))
        dear = sum(each for each in shared if each >= SHARED_S)
        if seconds >= SLOW_S or dear:
            found[name] = float(seconds + dear)
    return found


def with_modules(found: dict[str, float], every: Iterable[str]) -> dict[str, float]:
    """*found*, with a module in the place of its functions where *every* one of it is slow.

    >>> with_modules({"a.py::b": 3.0, "a.py::c": 2.0, "d.py::e": 1.0}, ["a.py::b", "a.py::c"])
    {'d.py::e': 1.0, 'a.py': 5.0}
    """
    quick = {name.partition("::")[0] for name in every if name not in found}
    whole = {name.partition("::")[0] for name in every} - quick
    kept = {name: s for name, s in found.items() if name.partition("::")[0] not in whole}
    for module in sorted(whole):
        kept[module] = sum(s for name, s in found.items() if name.startswith(f"{module}::"))
    return kept


def rows() -> dict[str, float]:
    lines = LIST.read_text("utf-8").splitlines() if LIST.exists() else []
    found = (line.split(maxsplit=1) for line in lines if line and not line.startswith("#"))
    return {name: float(seconds) for seconds, name in found}


def write(found: dict[str, float]) -> None:
    lines = [f"{seconds:6.2f} {name}" for name, seconds in sorted(found.items())]
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
