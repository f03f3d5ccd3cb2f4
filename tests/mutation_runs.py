"""A plugin of pytest for tests/mutation: tests collected once and run on many wrong programs.

Starting pytest and collecting takes longer than most tests.  So one process collects and waits;
for each wrong program a copy of it (``os.fork``) is given the changed functions and runs the tests
until one fails.  What a change does while modules are imported is not seen that way, so a
program that passes is tried again in a new process, where this plugin only puts the tests in
order.

Talks in lines of JSON over the two descriptors of ``MUTATION_TALK``.
"""

from __future__ import annotations

import ast
import builtins
import functools
import gc
import json
import os
import resource
import signal
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, TextIO

import pytest

MEMORY_BYTES = 4 << 30
PASSED, FAILED, HUNG, UNTRIED = "passed", "failed", "hung", "untried"

_limits: dict[str, float] = {}  # seconds of each test's own processor time, by its name


def pytest_configure() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests in the order of a file, in a process that runs one wrong program."""
    if name := os.environ.get("MUTATION_ORDER"):
        tests = json.loads(Path(name).read_text("utf-8"))
        _put_in_order(items, tests)
        if os.environ.get("MUTATION_NEAR"):
            chosen = {test for test, _ in tests}
            items[:] = [item for item in items if item.nodeid in chosen]


def _put_in_order(items: list[pytest.Item], tests: list[tuple[str, float]]) -> None:
    _limits.update(tests)
    ranks = {test: rank for rank, (test, _) in enumerate(tests)}
    items.sort(key=lambda item: ranks.get(item.nodeid, len(ranks)))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """End the process when a test takes far longer than it should: the signal ends it."""
    limit = _limits.get(item.nodeid, 0)
    if limit:
        signal.setitimer(signal.ITIMER_VIRTUAL, limit)
    result = yield
    signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    return result


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool | None:
    """Wait for wrong programs instead of running the tests, when somebody sends them."""
    if "MUTATION_TALK" not in os.environ:
        return None
    asked, answers = map(int, os.environ.pop("MUTATION_TALK").split())
    with os.fdopen(asked) as requests, os.fdopen(answers, "w") as out:
        for line in requests:
            request = json.loads(line)
            answer = learned(session, request) if "learn" in request else tried(session, request)
            print(json.dumps(answer), file=out, flush=True)
    return True


# --- one run in a process of its own ---------------------------------------------------------


def learned(session: pytest.Session, request: dict[str, Any]) -> dict[str, Any]:
    """Run every test on the right program; tell its seconds and which functions it calls."""
    session.config.pluginmanager.register(watch := _Watch(), "watch")
    result, said = _in_a_copy(session, request, lambda: watch.begin(request["learn"]), watch.tell)
    return {"result": result, "tests": [json.loads(line) for line in said]}


def tried(session: pytest.Session, request: dict[str, Any]) -> dict[str, Any]:
    """Run tests on one wrong program until one fails."""

    def change() -> None:
        chosen = {test for test, _ in request["tests"]}
        session.items[:] = [item for item in session.items if item.nodeid in chosen]
        _put_in_order(session.items, request["tests"])
        path = Path(request["path"])
        _replace(path, compile(request["source"], str(path), "exec", dont_inherit=True))
        forget_what_was_computed()

    result, said = _in_a_copy(session, request, change, lambda _: None)
    return {"result": result, "test": said[-1] if said else ""}


def _in_a_copy(
    session: pytest.Session, request: dict[str, Any], prepare: Any, tell: Any
) -> tuple[str, list[str]]:
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        child = os.fork()
        if not child:
            code = 3
            try:
                os.setsid()
                code = _run(session, said, prepare, tell)
            finally:
                os._exit(code)
        status = _awaited(child, request["within_s"])
        said.seek(0)
        lines = said.read().splitlines()
    if os.WIFSIGNALED(status):
        return HUNG, lines
    return {0: PASSED, 1: FAILED}.get(os.WEXITSTATUS(status), UNTRIED), lines


def _run(session: pytest.Session, out: TextIO, prepare: Any, tell: Any) -> int:
    """0 when every test passes, 1 when one fails, 3 when the program cannot be changed so."""
    try:
        prepare()
    except (ValueError, KeyError):
        return 3
    for at, item in enumerate(session.items):
        following = session.items[at + 1] if at + 1 < len(session.items) else None
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        tell(out)
        if session.testsfailed:
            print(item.nodeid, file=out, flush=True)
            return 1
    return 0


def _awaited(child: int, within_s: float) -> int:
    """The status of a process, which is ended with all it started when its time is over."""
    until = time.monotonic() + within_s
    ended, status = os.waitpid(child, os.WNOHANG)
    while not ended and time.monotonic() < until:
        time.sleep(0.02)
        ended, status = os.waitpid(child, os.WNOHANG)
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    return status if ended else os.waitpid(child, 0)[1]


# --- functions changed where they are --------------------------------------------------------


def _codes(code: CodeType) -> Iterator[CodeType]:
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield each
            yield from _codes(each)


def _replace(path: Path, changed: CodeType) -> None:
    """Give every function of the file at *path* its code in *changed*.  Raises ``ValueError``."""
    right = _codes(compile(path.read_bytes(), str(path), "exec", dont_inherit=True))
    pairs = zip(right, _codes(changed), strict=True)
    others = dict(pairs)
    for function in gc.get_objects():
        if isinstance(function, FunctionType) and function.__code__.co_filename == str(path):
            function.__code__ = others.get(function.__code__, function.__code__)


def forget_what_was_computed() -> None:
    """Empty the caches of functions: they hold what the right program said."""
    for each in gc.get_objects():
        if isinstance(each, functools._lru_cache_wrapper) and (
            (each.__module__ or "").startswith("reedmill")
        ):
            each.cache_clear()


class _Watch:
    """Tells of each test its name, its seconds and the functions that it calls."""

    def __init__(self) -> None:
        self.seen: set[str] = set()
        self.test = ""
        self.seconds = 0.0

    def begin(self, paths: list[str]) -> None:
        vars(builtins)["__seen__"] = self.seen.add
        for path in map(Path, paths):
            tree = ast.parse(path.read_bytes())
            for node in ast.walk(tree):
                if isinstance(node, ast.FunctionDef):
                    _tell_of_calls(node, f"{path}:{node.lineno}")
            told = compile(ast.fix_missing_locations(tree), str(path), "exec", dont_inherit=True)
            _replace(path, told)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.seen.clear()
        before = sum(os.times()[:4])
        result = yield
        self.test, self.seconds = item.nodeid, sum(os.times()[:4]) - before
        return result

    def tell(self, out: TextIO) -> None:
        print(json.dumps([self.test, self.seconds, sorted(self.seen)]), file=out, flush=True)


def _tell_of_calls(node: ast.FunctionDef, name: str) -> None:
    call = ast.Expr(ast.Call(ast.Name("__seen__", ast.Load()), [ast.Constant(name)], []))
    at = 1 if ast.get_docstring(node) is not None else 0
    node.body.insert(at, ast.copy_location(call, node))
