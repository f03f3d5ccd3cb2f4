"""Wrong programs, each one place away from ours: what tests/mutation tries the tests on.

Another comparison, another sign of arithmetic, a number one higher, a truth turned round,
another value returned.  Texts, types and decorators are left alone.
"""

from __future__ import annotations

import ast
import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

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


def shown(change: Change) -> str:
    """The change as a difference of lines."""
    source = (ROOT / change.path).read_bytes()
    before, after = (text.decode().splitlines() for text in (source, change.applied(source)))
    lines = difflib.unified_diff(before, after, str(change.path), str(change.path), "", "", 1, "")
    return "\n".join(lines)


def lines_changed(change: Change) -> tuple[str, str]:
    """The line before and after, or several lines, without the spaces around each."""
    marked = [line for line in shown(change).splitlines()[2:] if line[:1] in {"-", "+"}]
    before, after = (
        " ".join(line[1:].strip() for line in marked if line.startswith(sign)) for sign in "-+"
    )
    return before, after


def function_around(path: Path, line: int) -> ast.FunctionDef | None:
    """The innermost function around a line, if there is one."""
    around = [
        node
        for node in ast.walk(ast.parse((ROOT / path).read_bytes()))
        if isinstance(node, ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0)
    ]
    return max(around, key=lambda node: node.lineno) if around else None
