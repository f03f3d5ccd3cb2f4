"""A small course of our own for the tests of building, and ways to look at what was built."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

import reedmill
from recalled import recalling
from reedmill.cli import cli

TITLES = ("Alpha", "Beta", "Gamma")
_PHRASES = {"Alpha": "-2 -3", "Beta": "-4 4 -3", "Gamma": "3 4 5 -5"}

_COURSE = """
title = "Evenings"
harps = [{harps}]

[defaults]
hand_out = [{formats}]
{more}

[[lessons]]
title = "First"
text  = "Play **slowly**."

  [[lessons.exercises]]
  drill = ["Alpha", "Beta"]
  file  = "own.drill"

[[lessons]]
title = "Second"

  [[lessons.exercises]]
  drill = "Gamma"
  file  = "own.drill"
"""


def write_course(
    folder: Path, *, harps: str = '"C"', formats: str = '"midi", "tab"', more: str = "",
    tempi: Mapping[str, int] | None = None, above: str = "",
) -> Path:  # fmt: skip
    """The curriculum file of three drills in two lessons, with its drills beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    asked = dict.fromkeys(TITLES, 80) | dict(tempi or {})
    drills = [
        f'drill "{title}"\n  tempo {asked[title]}\n  play {phrase}\n'
        for title, phrase in _PHRASES.items()
    ]
    (folder / "own.drill").write_text(above + "\n".join(drills), "utf-8")
    path = folder / "course.toml"
    path.write_text(_COURSE.format(harps=harps, formats=formats, more=more), "utf-8")
    return path


def run(*arguments: str | Path, anew: bool = False) -> Result:
    """One command in this process; a pack has one worker unless *arguments* ask for more.

    Two take longer to start than a small pack to make, and tests are at work on each processor.
    What ``command`` starts has the usual number.  What a worker made for another test is taken
    from there (``recalled.py``) unless all is to be done *anew*.
    """
    words = [str(each) for each in arguments]
    if words[0] == "pack" and not {"--plan", "--on", "--jobs"} & set(words):
        words += ["--jobs", "1"]
    with nullcontext() if anew else recalling():
        return CliRunner().invoke(cli, words)


def built(course: Path, out: Path, *options: str, anew: bool = False) -> dict[str, Any]:
    """What ``pack --json`` says of a build that makes all there is to make."""
    done = run("pack", course, "--out", out, "--json", *options, anew=anew)
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def made(data: Mapping[str, Any], out: Path) -> dict[str, str]:
    """The files a build did not find as they should be, with the reason."""
    return {
        os.path.relpath(row["path"], out): row["why"]
        for row in data["files"]
        if row["status"] != "reused"
    }


def contents(out: Path) -> dict[str, str]:
    """Every file of a pack but those of the store, by its SHA-256."""
    return {
        path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(out.rglob("*"))
        if path.is_file() and ".reedmill" not in path.parts
    }


def strays(out: Path) -> list[str]:
    """What should not lie about after a build: scratch files, and anything that is not a file."""
    names = ("README", "journal", "lock", "last-build.json")
    return [
        path.relative_to(out).as_posix()
        for path in out.rglob("*")
        if (path.name.startswith(".") and path.name != ".reedmill")
        or "scratch" in path.parts
        or (path.parent.name == ".reedmill" and path.is_file() and path.name not in names)
    ]


def command(course: Path, out: Path, *options: str) -> list[str]:
    """The command line of a build in a process of its own."""
    return [sys.executable, "-m", "reedmill.cli", "pack", str(course), "--out", str(out), *options]


def environment(**more: str) -> dict[str, str]:
    """Of such a process: it finds this Reedmill."""
    return {**os.environ, "PYTHONPATH": str(Path(reedmill.__file__).parents[1]), **more}


def run_apart(
    course: Path, out: Path, *options: str, sabotage: str = ""
) -> subprocess.CompletedProcess[str]:
    """A build in a process of its own, of one worker unless *options* say where or how many.

    *sabotage* is run at the start of it and of its worker.
    """
    more = {}
    if not {"--on", "--jobs"} & set(options):
        options += ("--jobs", "1")
    if sabotage:
        place = out.parent / "sabotage"
        place.mkdir(exist_ok=True)
        (place / "sitecustomize.py").write_text(sabotage, "utf-8")
        more["PYTHONPATH"] = f"{place}{os.pathsep}{environment()['PYTHONPATH']}"
    return subprocess.run(
        command(course, out, *options), env=environment(**more), capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip


def at_work_in(out: Path) -> list[str]:
    """The processes whose working folder lies in *out*: workers and their LilyPonds."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if (process / "cwd").readlink().is_relative_to(out.resolve()):
                found.append((process / "cmdline").read_text().replace("\0", " "))
        except OSError:  # it ended, or is none of ours
            continue
    return found
