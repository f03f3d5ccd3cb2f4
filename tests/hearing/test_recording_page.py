"""The page about recording says what the program does."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from hearing.evaluation import score_of
from hearing.takes import student
from reedmill import api
from reedmill.cli import cli
from reedmill.ear import LONGEST_S, SHORTEST_S, WORN_CENTS, Tolerance, Verdict
from reedmill.ear.align import SAME_NOTE_CENTS
from reedmill.harp import Reed
from reedmill.harp.own_harp import read_own_harp

PAGE = (Path(__file__).parents[2] / "docs" / "RECORDING.md").read_text("utf-8")
SAMPLE = Path(__file__).parents[2] / "output" / "sample"
SAID = " ".join(PAGE.split())


def test_every_verdict_is_explained() -> None:
    told = re.findall(r"^\| ([a-z ,]+) \| ", PAGE, re.MULTILINE)[1:]
    verdicts = {each.value.replace("-", " ") for each in Verdict}
    assert {word for words in told for word in words.split(", ")} == verdicts


def test_its_figures_are_those_that_are_used() -> None:
    tolerance = Tolerance()
    assert f"within {tolerance.on_cents:g} cents of its place" in SAID
    assert f"within {tolerance.near_cents:g} cents" in SAID
    assert f"more than {SAME_NOTE_CENTS:g} cents from its place" in SAID
    assert f"stands out by {WORN_CENTS:g} cents" in SAID
    assert (SHORTEST_S, LONGEST_S) == (1, 3600)
    assert "from one second to one hour" in SAID
    assert Tolerance.parse("8,20").on_cents == 8


def test_its_python_runs_and_tells_what_was_played(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The take is the sample's; the truth is what the tests' own student played for it."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(SAMPLE / "monday.m4a", "monday.m4a")
    [code] = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    exec(compile(code, "RECORDING.md", "exec"), {})  # noqa: S102  our own page
    said = capsys.readouterr().out
    score = score_of("Home from every rung", "C")
    true = student(score, 25, other=0, missed=0, extra=0, hesitation=0, shaped=0.6)
    out = [score.notes[each.index or 0].reed.tab for each in true
           if each.verdict in ("sharp", "flat")]  # fmt: skip
    assert re.findall(r" s  (\S+) +[+-]\d+ cents", said) == out
    assert "you stop too early; go on down." in said


def test_every_public_name_of_python_is_there() -> None:
    assert [name for name in api.__all__ if getattr(api, name, None) is None] == []


def test_its_harp_is_read_and_its_options_are_there(tmp_path: Path) -> None:
    [text] = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    path = tmp_path / "my-harp.toml"
    path.write_text(text, "utf-8")
    assert read_own_harp(path).reeds.cents(Reed.parse("-5")) == -28
    options = {name for param in cli.commands["hear"].params for name in param.opts}
    assert set(re.findall(r"--[a-z][a-z-]*", PAGE)) <= options
