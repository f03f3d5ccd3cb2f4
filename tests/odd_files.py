"""Files that are not what their names promise, and every command that opens a file.

The kinds are those of POSIX (pipe, device, folder, socket), of Linux's /proc (files whose
size is given as 0), and texts that are not texts or ask a parser for too much.
"""

from __future__ import annotations

import os
import resource
import socket
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

HANGS_S = 60.0
MOST_BYTES = 6_000_000_000  # of address space

COURSE = """\
title = "Monday"
harps = "C"
[[lessons]]
title = "One"
[[lessons.exercises]]
drill = "Home from every rung"
"""
DRILL = 'drill "Home"\n  play -2\n'


def _socket(path: Path) -> None:
    here = Path.cwd()
    os.chdir(path.parent)  # the address of a socket has room for 100 letters
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(path.name)
    finally:
        os.chdir(here)


def _sparse(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(1 << 40)


KINDS: dict[str, Callable[[Path], object]] = {
    "a pipe": os.mkfifo,
    "a link to a device": lambda path: path.symlink_to("/dev/zero"),
    "a folder": Path.mkdir,
    "a socket": _socket,
    "nothing": lambda path: None,  # noqa: ARG005
    "a link in a circle": lambda path: path.symlink_to(path.name),
    "too large": _sparse,
    "without a size": lambda path: path.symlink_to("/proc/kallsyms"),
    "UTF-16": lambda path: path.write_bytes(DRILL.encode("utf-16")),
    "NUL bytes": lambda path: path.write_bytes(b"\0" * 5000),
    "many brackets": lambda path: path.write_bytes(b"x = " + b"[" * 190_000),
    "a name of many dots": lambda path: path.write_text("a" + ".a" * 2000 + " = 1\n"),
    "a name of 60,000 dots": lambda path: path.write_text("a" + ".a" * 60_000 + " = 1\n"),
}


@dataclass(frozen=True)
class Opening:
    """A command that opens a file: its words, where ``{}`` stands for the file's name."""

    name: str
    words: Sequence[str]
    suffix: str
    course: str = ""  # of the curriculum m.toml, which names the file


OPENINGS = (
    Opening("check a drill", ("check", "{}"), ".drill"),
    Opening("check a form", ("check", "{}"), ".form"),
    Opening("check a course", ("check", "{}"), ".toml"),
    Opening("make", ("make", "{}", "--to", "tab"), ".drill"),
    Opening("expand", ("expand", "{}"), ".drill"),
    Opening("format", ("format", "{}"), ".drill"),
    Opening("a form", ("backing", "--form", "{}", "--to", "text"), ".form"),
    Opening(
        "a feel", ("backing", "--form", "Twelve bars", "--feel", "{}", "--to", "text"), ".feel"
    ),
    Opening("a course", ("pack", "{}", "--plan"), ".toml"),
    Opening("a course to build", ("pack", "{}"), ".toml"),
    Opening(
        "a tuning", ("make", "Home from every rung", "--tuning", "{}", "--to", "tab"), ".toml"
    ),
    Opening(
        "a font", ("make", "Home from every rung", "--voice", "{}", "--to", "wav"), ".sf2"
    ),
    Opening(
        "a font of a band", ("backing", "--form", "Twelve bars", "--band", "{}", "--to", "wav"),
        ".sf2",
    ),
    Opening(
        "a text of a course", ("pack", "m.toml", "--plan"), ".md",
        COURSE.replace("[[lessons.ex", 'text_file = "FILE"\n[[lessons.ex'),
    ),
    Opening(
        "a drill of a course", ("pack", "m.toml", "--plan"), ".drill",
        COURSE.replace('drill = "Home from every rung"', 'file = "FILE"'),
    ),
    Opening(
        "a form of a course", ("pack", "m.toml", "--plan"), ".form",
        COURSE + 'backing = { form = "FILE", feel = "Medium shuffle" }\n',
    ),
    Opening("clean", ("clean", "{}"), ".pack"),
)  # fmt: skip


# Dots are nothing to Markdown.
RIGHT = {("a text of a course", "a name of many dots")}


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int | None  # none: it had to be stopped
    said: str
    seconds: float  # of the processor, whatever else the machine does

    @property
    def fault(self) -> str:
        """What was wrong with that; empty for a sentence and the exit code of bad input."""
        if self.code is None:
            return "it hangs"
        if "Traceback" in self.said or "MemoryError" in self.said:
            return "a traceback"
        if self.code != 2:
            return f"exit code {self.code}"
        said = self.said.strip()
        if not said or said.endswith(":") or "None" in said or "()" in said:
            return "no reason"
        return ""


def prepared(opening: Opening, kind: str, folder: Path) -> list[str]:
    """The words of *opening*, once a file of this *kind* is in *folder* and all it needs."""
    name = f"odd{opening.suffix}"
    KINDS[kind](folder / name)
    if opening.course:
        (folder / "m.toml").write_text(opening.course.replace("FILE", name))
    return [word.replace("{}", name) for word in opening.words]


def ended(opening: Opening, kind: str, folder: Path, most_s: float = HANGS_S) -> Ended:
    """Run the command of *opening* in *folder* over a file of this *kind*."""
    words = prepared(opening, kind, folder)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    run = subprocess.Popen(
        [sys.executable, "-m", "reedmill.cli", *words], cwd=folder, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES,) * 2),
    )  # fmt: skip
    try:
        said, _ = run.communicate(timeout=most_s)
        code: int | None = run.returncode
    except subprocess.TimeoutExpired:
        run.kill()
        said, _ = run.communicate()
        code = None
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Ended(code, said, seconds)
