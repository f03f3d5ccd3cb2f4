"""Whatever is written for a student is a right drill, can be played, and practises what it says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from reedmill.cli.commands import cli
from reedmill.coaching.estimating import LearnedRung
from reedmill.coaching.written_drills import Writer
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.score import Role
from reedmill.theory.positions import Position
from student_states import mistakes, state, written

STATES = 60  # of the 5,000 that tests/benchmarks/next_practice.py goes through

CROSS = Writer(Harp("C"), Position(2))
LOW = [LearnedRung(tab, before, "middle") for tab, before in
       [("-3''", "-2"), ("-3'", "-4"), ("-2'", "-1"), ("-4'", "4")]]  # fmt: skip


def test_whatever_is_known_what_is_written_is_right_and_playable() -> None:
    for number in range(STATES):
        each = state(number)
        for offer in written(each):
            assert list(mistakes(each, offer)) == [], f"state {number}:\n{offer.pattern}"


def test_the_check_of_a_teacher_has_nothing_to_say(tmp_path: Path) -> None:
    file = tmp_path / "kept.drill"
    texts = [CROSS.focus(LOW[:1], 52, "Why")[1], CROSS.in_turn(LOW, 56, "Why")[1],
             CROSS.survey(LOW, 56, "Why")[1]]  # fmt: skip
    file.write_text("\n".join(texts))
    found = CliRunner().invoke(cli, ["check", str(file), "--json"])
    assert found.exit_code == 0, found.output
    assert json.loads(found.stdout)["mistakes"] == []


def test_a_rung_is_measured_against_the_root_and_then_found_from_the_note_before() -> None:
    """The teacher's way: the root, the rung, the root again; then from the note before it."""
    title, text = CROSS.focus([LearnedRung("-3''", "-4", "middle")], 52, "Why")
    [drill] = parse(text, "written")
    score = expand(drill, Harp("C"), Position(2))
    assert title == "From draw 4 to draw 3 bent two semitones, middle harp"
    tabs = " ".join(note.reed.tab for note in score.notes)
    assert tabs == "-2 -4 -3'' -2 -4 -3'' -4 -3'' -2 -4 -3'' -4 -3'' -2"
    assert {note.reed.tab for note in score.notes if note.role is Role.ANCHOR} == {"-2"}


@pytest.mark.parametrize(
    ("position", "rung", "anchor"),
    [  # roots on a Richter harp, common practice: 2nd draw 2, 6 and 9 blow; 1st 1, 4, 7, 10 blow
        (2, ("-3'", "-3"), "-2"), (2, ("-6'", "-7"), "6"), (2, ("9'", "10"), "9"),
        (1, ("-2''", "-2"), "1"), (1, ("-4'", "-4"), "4"), (1, ("8'", "9"), "7"),
        (3, ("-3'''", "-4"), "-4"), (3, ("-2'", "-1"), "-1"),
    ],
)  # fmt: skip
def test_home_is_the_root_near_by(position: int, rung: tuple[str, str], anchor: str) -> None:
    assert Writer(Harp("C"), Position(position)).anchor(LearnedRung(*rung, "middle")) == anchor


def test_a_survey_goes_up_the_harp_and_tries_every_rung_twice() -> None:
    _, text = CROSS.survey(LOW, 56, "Why")
    [drill] = parse(text, "written")
    tabs = [note.reed.tab for note in expand(drill, Harp("C"), Position(2)).notes]
    assert [tabs.count(rung.tab) for rung in LOW] == [2, 2, 2, 2]
    assert [each for each in dict.fromkeys(tabs) if "'" in each] == ["-2'", "-3'", "-3''", "-4'"]
