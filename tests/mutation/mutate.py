"""Whether the tests notice a wrong program: changes one place at a time and runs them.

    python tests/mutation/mutate.py harp --sample 100 --seed 1
    python tests/mutation/mutate.py notation --sample 100 --only _group

A copy of the checkout is changed, never the checkout.  What a change is: another comparison,
another sign of arithmetic, a number one higher, a truth turned round, another value returned.
Texts, types and decorators are left alone.  For each change the tests of the package run until
the first one fails; a change that no test notices is printed as a difference.  Some of those
change nothing that could be noticed (``a[0]`` for ``a[-1]`` of one): read before counting.

Prints ``killed 38 of 40 (95%)`` at the end, and ends with 1 when the tests fail on the
program as it is.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = "generator/reedmill"

TESTS = {
    "theory": ["tests/theory", "tests/harp", "tests/expand/test_expand.py"],
    "harp": ["tests/harp", "tests/theory", "tests/expand/test_expand.py"],
    "notation": ["tests/score"],
    "score": ["tests/score", "tests/expand", "tests/formats/test_musicxml.py", "tests/library"],
    "expand": ["tests/expand", "tests/language/test_parts.py", "tests/formats/test_text_tab.py"],
    "language": ["tests/language", "tests/base/test_errors_text.py", "tests/expand/test_expand.py"],
}
"""The tests that a change in a package concerns, those that notice most first."""

FILES = {"notation": ["score/notation.py"]}
"""The files of a name above that is not a package; its doctests run in any case."""

COMPARISONS: dict[type[ast.cmpop], list[type[ast.cmpop]]] = {
    ast.Lt: [ast.LtE, ast.Gt],
    ast.LtE: [ast.Lt, ast.Gt],
    ast.Gt: [ast.GtE, ast.Lt],
    ast.GtE: [ast.Gt, ast.Lt],
    ast.Eq: [ast.NotEq],
    ast.NotEq: [ast.Eq],
    ast.In: [ast.NotIn],
    ast.NotIn: [ast.In],
    ast.Is: [ast.IsNot],
    ast.IsNot: [ast.Is],
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
    ast.Pow: ast.Mult,
}


@dataclass(frozen=True, slots=True)
class Change:
    """One wrong program: *text* instead of the bytes from *start* to *end* of *path*."""

    path: Path  # from the root of a checkout
    line: int
    start: int
    end: int
    text: str

    def applied(self, source: bytes) -> bytes:
        """The file with the change in it; in brackets, so that nothing else binds to it."""
        return source[: self.start] + b"(" + self.text.encode() + b")" + source[self.end :]


def changes_of(path: Path) -> Iterator[Change]:
    """Every change of one file that still is a program, by their places."""
    source = (ROOT / path).read_bytes()
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    for node, text in wrong_expressions(ast.parse(source)):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or 0) - 1] + (node.end_col_offset or 0)
        change = Change(path, node.lineno, start, end, text)
        try:
            compile(change.applied(source), str(path), "exec")
        except SyntaxError:
            continue  # a place where only a plain name or number may stand
        yield change


def wrong_expressions(tree: ast.AST) -> Iterator[tuple[ast.expr, str]]:
    """Every expression that can be made wrong, with the text to put in its place."""
    for node in computing(tree):
        if isinstance(node, ast.Return) and node.value is not None:
            yield node.value, "None" if ast.unparse(node.value) != "None" else "0"
        elif isinstance(node, ast.If | ast.IfExp | ast.While):
            yield node.test, f"not ({ast.unparse(node.test)})"
        elif isinstance(node, ast.expr):
            for text in instead_of(node):
                yield node, text


def computing(node: ast.AST) -> Iterator[ast.AST]:
    """The nodes under *node* that compute: no types, decorators or formatted texts."""
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "type_params"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr | ast.Raise):
                yield child
                if not is_for_types_only(child):
                    yield from computing(child)


def is_for_types_only(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def instead_of(node: ast.expr) -> Iterator[str]:
    """Wrong texts for one expression, none for most."""
    match node:
        case ast.Compare(ops=[operator]):
            for other in COMPARISONS[type(operator)]:
                yield ast.unparse(ast.Compare(node.left, [other()], node.comparators))
        case ast.BinOp() if type(node.op) in ARITHMETIC and not joins_texts(node):
            yield ast.unparse(ast.BinOp(node.left, ARITHMETIC[type(node.op)](), node.right))
        case ast.BoolOp():
            other_way = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield ast.unparse(ast.BoolOp(other_way, node.values))
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield ast.unparse(node.operand)
        case ast.Constant(value=bool(truth)):
            yield str(not truth)
        case ast.Constant(value=int(number)):
            yield str(number + 1)


def joins_texts(node: ast.BinOp) -> bool:
    sides = (node.left, node.right)
    return any(
        isinstance(each, ast.JoinedStr)
        or (isinstance(each, ast.Constant) and isinstance(each.value, str))
        for each in sides
    )


def files_of(name: str) -> list[Path]:
    if name in FILES:
        return [Path(PACKAGE, each) for each in FILES[name]]
    return [path.relative_to(ROOT) for path in sorted((ROOT / PACKAGE / name).rglob("*.py"))]


def function_at(path: Path, line: int) -> str:
    """The name of the innermost function around a line, empty outside any."""
    around = [
        node
        for node in ast.walk(ast.parse((ROOT / path).read_bytes()))
        if isinstance(node, ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0)
    ]
    return max(around, key=lambda node: node.lineno).name if around else ""


# --- running the tests -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Bench:
    """A copy of the checkout, and the tests that are run in it."""

    root: Path
    tests: list[str]

    def passes(self, within_s: float) -> bool:
        """Whether every test passes in time; what hangs has been noticed too."""
        command = [
            sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider",
            "--hypothesis-profile=mutation", *self.tests,
        ]  # fmt: skip
        environment = {**os.environ, "PYTHONPATH": str(self.root / "generator")}
        running = subprocess.Popen(
            command, cwd=self.root, env=environment, start_new_session=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            return running.wait(timeout=within_s) == 0
        except subprocess.TimeoutExpired:
            return False
        finally:
            end_group(running)

    def noticed(self, change: Change, number: int, within_s: float) -> bool:
        """Whether the tests fail with *change* in the copy, which is mended afterwards."""
        path = self.root / change.path
        before = path.read_bytes()
        try:
            write_anew(path, change.applied(before), 2 * number)
            return not self.passes(within_s)
        finally:
            write_anew(path, before, 2 * number + 1)


def write_anew(path: Path, content: bytes, number: int) -> None:
    """Write a file with a time of its own: compiled files are trusted by time and size."""
    path.write_bytes(content)
    os.utime(path, (1_000_000_000 + number,) * 2)


def end_group(process: subprocess.Popen[bytes]) -> None:
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def bench(name: str, scratch: Path) -> Bench:
    root = scratch / "checkout"
    unneeded = shutil.ignore_patterns(
        ".git", ".venv*", "__pycache__", "output", "build", ".*_cache"
    )
    shutil.copytree(ROOT, root, ignore=unneeded)
    own = [str(path) for path in files_of(name)]
    return Bench(root, [*own, *TESTS[name]])


def shown(change: Change) -> str:
    """The change as a difference of lines."""
    source = (ROOT / change.path).read_bytes()
    before, after = (text.decode().splitlines() for text in (source, change.applied(source)))
    lines = difflib.unified_diff(before, after, str(change.path), str(change.path), "", "", 1, "")
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("package", choices=sorted(TESTS))
    parser.add_argument("--sample", type=int, default=40, help="how many changes are tried (40)")
    parser.add_argument("--seed", type=int, default=1, help="which changes are tried (1)")
    parser.add_argument("--only", default="", metavar="FUNCTION", help="changes in one function")
    asked = parser.parse_args()

    every = [change for path in files_of(asked.package) for change in changes_of(path)]
    if asked.only:
        every = [each for each in every if function_at(each.path, each.line) == asked.only]
    chosen = random.Random(asked.seed).sample(every, min(asked.sample, len(every)))
    with tempfile.TemporaryDirectory(prefix="mutation-") as scratch:
        return tried(bench(asked.package, Path(scratch)), chosen, len(every))


def tried(on: Bench, chosen: list[Change], of: int) -> int:
    began = time.monotonic()
    if not on.passes(within_s=1800):
        print("The tests fail on the program as it is: mend that first.")
        return 1
    took_s = time.monotonic() - began
    print(f"{len(chosen)} of {of} changes; the tests take {took_s:.0f} s", flush=True)
    killed = 0
    for number, change in enumerate(chosen):
        noticed = on.noticed(change, number, within_s=30 + 4 * took_s)
        killed += noticed
        print(f"{'killed' if noticed else 'SURVIVED'} {change.path}:{change.line}", flush=True)
        if not noticed:
            print(shown(change), flush=True)
    print(f"killed {killed} of {len(chosen)} ({100 * killed / max(1, len(chosen)):.0f}%)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
