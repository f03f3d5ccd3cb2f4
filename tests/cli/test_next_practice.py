"""What a student is told to practise next: the command, its JSON, and the pack that it builds."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from reedmill.cli.commands import cli
from reedmill.language import parse
from reedmill.record import KeptTake, open_book
from taken import take

RUNGS = [("-3'", "-2", 4.0), ("-3''", "-2", 38.0), ("-4'", "-4", 6.0)]


@pytest.fixture(autouse=True)
def _book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A book with one student, who plays draw 3 bent two 38 cents sharp and the rest well."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    now = datetime.now(UTC)
    takes = [KeptTake(take(RUNGS * 6, recorded=(now - timedelta(days=day)).isoformat()))
             for day in (6, 4, 2)]  # fmt: skip
    with open_book(Path("class.book"), new=True) as book:
        book.add("Ada", takes, now)


def said(*words: str, code: int = 0) -> str:
    result = CliRunner().invoke(cli, ["next", *words, "--book", "class.book"])
    assert result.exit_code == code, result.output
    return result.stderr if code else result.stdout


def data(*words: str) -> Any:
    return json.loads(said(*words, "--json"))


def test_the_rung_that_is_out_is_what_the_evening_is_about() -> None:
    practice = data("Ada")["practice"]
    [first, *_] = [each for each in practice if each["part"] == "rungs"]
    assert (first["rungs"][0]["tab"], first["rungs"][0]["from"]) == ("-3''", "-2")
    assert first["rungs"][0]["out_cents"] == pytest.approx(38, abs=2)
    assert "draw 3 bent two semitones, from draw 2: about 3" in first["why"].lower()


def test_all_of_it_lasts_no_longer_than_was_asked_for() -> None:
    for minutes in ("3", "10", "45"):
        found = data("Ada", "--minutes", minutes)
        assert sum(each["minutes"] for each in found["practice"]) <= int(minutes) + 0.5
        assert found["lasts_minutes"] <= found["minutes"] == int(minutes)


def test_people_read_what_it_is_for_and_how_to_practise_without_harm() -> None:
    text = said()
    assert text.startswith("Ada: ")
    flat = " ".join(text.split())
    assert "Draw 3 bent two semitones, from draw 2: about 3" in flat
    assert "stop when you feel dizzy" in flat
    assert "a teacher or a doctor" in flat


def test_what_was_written_is_shown_as_text_that_can_be_kept() -> None:
    odd = [KeptTake(take([("-2''", "-4", 42.0), ("-4", "-2''", 3.0)] * 12))]  # no drill has that
    with open_book(Path("class.book")) as book:
        book.add("Ada", odd, datetime.now(UTC))
    rows = data("Ada", "--minutes", "30")["practice"]
    [pattern, *_] = [each["pattern"] for each in rows if each["pattern"]]
    shown = said("--minutes", "30")
    assert pattern in shown + "\n"
    titles = [each["drill"] for each in rows if each["pattern"]]
    written = shown[shown.index("# Written ") :]
    assert [str(drill.title) for drill in parse(written)] == titles


def test_a_pack_is_built_from_files_that_can_be_kept() -> None:
    text = said("--minutes", "4", "--out", "tonight")
    assert "tonight/pack" in text
    assert "# Written for" not in text  # it is in a file now
    course = Path("tonight/evening.toml").read_text("utf-8")
    assert "Ada" not in course
    assert (Path("tonight/pack") / "index.html").is_file()
    rows = data("Ada", "--minutes", "4")["practice"]
    assert re.findall(r"^  tempo     = (\d+)$", course, re.M) == [str(r["tempo"]) for r in rows]
    checked = CliRunner().invoke(cli, ["check", "tonight/evening.toml"])
    assert checked.exit_code == 0, checked.output
    again = said("--minutes", "4", "--out", "tonight", code=2)
    assert "is there already" in again
    assert "--replace" in again
    assert said("--minutes", "4", "--out", "tonight", "--replace")
    assert "Leave out one of them" in said("--out", "other", "--json", code=2)
    assert not Path("other").exists()


def test_one_student_of_several_is_named() -> None:
    with open_book(Path("class.book")) as book:
        book.add("Ben", [KeptTake(take(RUNGS, tempo=70))], datetime.now(UTC))
    assert 'Name one of them: "Ada", "Ben"' in said(code=2)
    assert data("ben")["student"] == "Ben"


def test_harps_and_a_position_can_be_chosen() -> None:
    found = data("Ada", "--harp", "low F, D", "--position", "1st")["practice"]
    assert {each["harp"] for each in found} <= {"low F", "D"}
    assert {each["position"] for each in found} == {1}
