"""Damaged recordings of every kind end in a sentence, soon, and never in anything else.

The whole campaign is tests/fuzz/fuzz_takes.py.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))

from fuzz_takes import campaign, damaged, outcome, seeds


def test_whole_recordings_of_every_kind_are_read(tmp_path: Path) -> None:
    path = tmp_path / "take.bin"
    for content in seeds():
        path.write_bytes(content)
        assert outcome(path) == "read, whole"
    assert len(seeds()) == 19


def test_damaged_recordings_are_read_or_refused_and_nothing_else(
    capfd: pytest.CaptureFixture[str],
) -> None:
    counts: Counter[str] = campaign(seed=2, files=95)
    assert sum(counts.values()) == 95
    assert [what for what in counts if what.startswith("FAILED")] == [], capfd.readouterr().out
    assert counts["read, whole"] < 60  # damage does something


def test_a_file_of_a_campaign_is_the_same_each_time() -> None:
    assert damaged(2, 17) == damaged(2, 17) != damaged(3, 17)


def test_a_damaged_recording_that_sends_the_reader_before_its_beginning_prints_nothing(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Such seeks are refused by the file, and what a file raises PyAV writes on the terminal."""
    path = tmp_path / "take.bin"
    for number in range(100):
        path.write_bytes(damaged(1, number))
        outcome(path)
    assert capfd.readouterr().err == ""
