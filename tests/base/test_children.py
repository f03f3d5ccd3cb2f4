"""Programs we start: how each ended is told as soon as it has."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from reedmill.base.children import Child, TimeoutExpired


@pytest.mark.parametrize(("command", "code"), [("exit 3", 3), ("kill -9 $$", -9), ("true", 0)])
@pytest.mark.parametrize("told", [True, False], ids=["the system tells", "Python looks"])
def test_the_exit_code_of_a_program_is_what_it_ended_with(
    command: str, code: int, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not told:
        monkeypatch.delattr(os, "pidfd_open", raising=False)
    with Child(["sh", "-c", command]) as child:
        assert child.wait(60) == code
        assert child.wait(0) == code  # once more, when it is gone


def test_a_wait_is_over_when_its_time_is_and_the_program_goes_on() -> None:
    with Child(["sleep", "60"]) as child:
        began = time.monotonic()
        with pytest.raises(TimeoutExpired):
            child.wait(0.2)
        assert 0.2 <= time.monotonic() - began < 30
        assert child.process.poll() is None


def open_files() -> int:
    """How many files this process has open, where the system says so."""
    listed = Path("/proc/self/fd")
    return len(list(listed.iterdir())) if listed.is_dir() else 0


def test_no_wait_leaves_a_file_open() -> None:
    with Child(["sleep", "60"]) as child:
        before = open_files()
        for _ in range(5):
            with pytest.raises(TimeoutExpired):
                child.wait(0.01)
        after = open_files()
        assert before == after
