"""Versions of the code that makes each kind of file, part of every step's facts.

An output depends on the modules of ours its renderer can reach, and on the releases of the
programs and packages that renderer uses.  Both are found out, not listed by hand: modules
by following import statements, releases by the names of installed packages' folders, which
is quick enough for a build that finds nothing to do.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sys
from functools import cache
from pathlib import Path

from reedmill.formats.table import STEPS

PACKAGE = Path(__file__).resolve().parents[2]

_IMPORT = re.compile(
    r"^\s*(?:from (reedmill[\w.]*) import ([\w, ]+|\()|import (reedmill[\w.]*))", re.M
)
_DATA = (
    ".py", ".lark", ".drill", ".form", ".feel", ".toml", ".json", ".html", ".css", ".js", ".png",
)  # fmt: skip
_RENDER = "reedmill.pack.run.render"

# What each kind of step starts from, and whose releases count.
_ROOTS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "page": (
        ("reedmill.pack.pages.lesson_pages", "reedmill.sheet.engrave"),
        ("lilypond", "markdown-it-py"),
    ),
    "roles": (("reedmill.sheet.role_chart", "reedmill.sheet.engrave"), ("lilypond", "abjad")),
    "book": (("reedmill.pack.pages.book", "reedmill.sheet.engrave"), ("lilypond", "pypdf")),
} | {kind: (row.roots, row.pack.step.tools) for kind, row in STEPS.items() if row.pack}
# The pages that open a pack are not a step: they are written at every build that finds a change.
_PAGE_TOOLS = ("jinja2", "markdown-it-py", "markupsafe")
_TOOLS = sorted({tool for _, tools in _ROOTS.values() for tool in tools} | {*_PAGE_TOOLS})


@cache
def code_facts(kind: str) -> dict[str, str]:
    """Return the version of our code for *kind*, and the release of each tool it uses.

    >>> sorted(code_facts("midi"))
    ['Reedmill', 'mido']
    """
    roots, tools = _ROOTS[kind]
    releases = tool_releases()
    return {"Reedmill": code_version((*roots, _RENDER))} | {tool: releases[tool] for tool in tools}


@cache
def code_version(roots: tuple[str, ...]) -> str:
    """Return a digest of every module of ours that *roots* import, directly or not.

    What is in a folder ``assets`` beside such a module counts too: it is put into pages.  The
    module that calls the renderers stands for itself alone, because it knows them all.
    """
    found, ahead = set[str](), set(roots)
    while ahead:
        module = ahead.pop()
        found.add(module)
        if module != _RENDER:
            ahead |= _imports(module) - found
    files = [_file(module) for module in sorted(found)]
    beside = {path for file in files for path in file.parent.glob("assets/*.*")}
    return _digest(files + sorted(beside))


@cache
def everything_version() -> str:
    """Return a digest of all our files and all tool releases; a change changes it."""
    files = sorted(path for path in PACKAGE.rglob("*") if path.suffix in _DATA)
    outside = PACKAGE.parents[1] / "patterns"
    files += sorted(outside.rglob("*.*")) if not (PACKAGE / "patterns").is_dir() else []
    releases = " ".join(f"{tool} {release}" for tool, release in tool_releases().items())
    text = f"{_digest(files)} {releases}"
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@cache
def tool_releases() -> dict[str, str]:
    """Return the release of each tool; ``none`` for one that is not installed."""
    found = dict.fromkeys(_TOOLS, "none")
    for place in reversed(sys.path):
        for name in _names(place):
            tool, dash, release = name.removesuffix(".dist-info").partition("-")
            tool = tool.lower().replace("_", "-")
            if dash and name.endswith(".dist-info") and tool in found:
                found[tool] = release
    if found["lilypond"] == "none":
        found["lilypond"] = _program("lilypond")
    return found


def _names(place: str) -> list[str]:
    try:
        return os.listdir(place or ".")  # noqa: PTH208  Path would be slower to import for
    except OSError:
        return []


def _program(name: str) -> str:
    """Identify a program of the system by its file."""
    path = shutil.which(name)
    if path is None:
        return "none"
    seen = Path(path).stat()
    return f"{path} of {seen.st_size} bytes, {seen.st_mtime_ns}"


def _imports(module: str) -> set[str]:
    """Return the modules of ours that *module* names, those for type checkers included."""
    wanted: set[str] = set()
    for package, names, alone in _IMPORT.findall(_file(module).read_text("utf-8")):
        wanted.add(package or alone)
        wanted |= {f"{package}.{name.strip()}" for name in names.split(",") if package}
    return {name for name in wanted if _is_module(name)}


def _is_module(name: str) -> bool:
    return name != "reedmill" and _file(name).is_file()


def _file(module: str) -> Path:
    place = PACKAGE.joinpath(*module.split(".")[1:])
    return place / "__init__.py" if place.is_dir() else place.with_suffix(".py")


def _digest(files: list[Path]) -> str:
    whole = hashlib.sha256()
    for path in files:
        content = path.read_bytes() if path.is_file() else b""
        whole.update(f"{path.name} {len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()[:16]
