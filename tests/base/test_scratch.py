"""Folders for files on their way: what a run leaves behind must be known as its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

NOTE_ALL_OPENED = """
import os, sys

seen = set()
def note(event, values):
    if event == "open" and str(values[0]).startswith(os.environ["TMPDIR"]):
        seen.add(os.path.relpath(str(values[0]), os.environ["TMPDIR"]))
sys.addaudithook(note)
from reedmill.base.scratch import Scratch

with Scratch() as scratch:
    (scratch.path / "one").write_bytes(b"")
import tempfile
tempfile.gettempdir()
print(*sorted(seen), sep="\\n")
"""


def run(program: str, **environment: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", program], env={**os.environ, **environment}, check=True,
        capture_output=True, text=True,
    )  # fmt: skip
    return done.stdout


def test_no_file_is_made_under_a_name_that_the_next_run_would_not_sweep(tmp_path: Path) -> None:
    """A KILL may come at any moment, so even a name that is there for a moment counts."""
    made = run(NOTE_ALL_OPENED, TMPDIR=str(tmp_path)).split()
    assert made
    assert [name for name in made if not name.startswith("reedmill-")] == []


@pytest.mark.parametrize("name", ["TMPDIR", "TEMP", "TMP"])
def test_the_folder_is_the_one_python_itself_would_take(tmp_path: Path, name: str) -> None:
    ours = "from reedmill.base.scratch import temporary_folder as t; print(t())"
    theirs = "import tempfile; print(tempfile.gettempdir())"
    cleared = {other: str(tmp_path / "missing") for other in ("TMPDIR", "TEMP", "TMP")}
    environment = cleared | {name: str(tmp_path)}
    assert run(ours, **environment) == run(theirs, **environment) == f"{tmp_path}\n"
