"""check finds whatever make, backing and pack would refuse: all of it, each slip once.

The whole comparison of check with making is ``tests/fuzz/fuzz_checking.py``.
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path
from typing import Any

import fuzz_checking
import pytest
from click.testing import CliRunner

from reedmill.base.errors import PatternError
from reedmill.checking.checked_files import Checked, check_band, check_course, check_drills
from reedmill.checking.trying import Setting, Settings
from reedmill.cli import cli
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.theory.positions import Position


def checked(folder: Path, text: str, name: str = "mine.drill") -> Checked:
    path = folder / name
    path.write_text(text, "utf-8")
    if name.endswith(".drill"):
        return check_drills(path, [Harp("C")], ())
    return check_course(path) if name.endswith(".toml") else check_band(path)


def told(found: Checked) -> list[tuple[int, str]]:
    """The line and key of each mistake."""
    return [(each.span.line, each.key) for each in found.mistakes if isinstance(each, PatternError)]


def test_check_fails_exactly_where_making_does() -> None:
    tally = fuzz_checking.run_share(7, range(36))
    assert tally.failures == []
    assert min(tally.counts["right"], tally.counts["wrong"], tally.counts["several"]) > 3


# --- all mistakes of a file ---

MANY = """drill "One"
  tempo 500
  rungs -3 -3' -5'
  phrase ancor rung
  order sideways

drill "Two"
  play -2 -6'' -5'
  abuot "x"

drill "Three"
  play -2 -3 -4 | -4:4 | -2:2 -3 |
"""


def test_every_mistake_of_a_file_is_told_in_its_place(tmp_path: Path) -> None:
    """Draw 5 does not bend, draw 6 a semitone (OEIS A291810); 4/4 has four beats."""
    assert told(checked(tmp_path, MANY)) == [
        (2, "number-out-of-range"), (3, "no-note-to-bend-to"), (4, "unknown-note"),
        (5, "unknown-order"), (8, "bend-too-deep"), (8, "no-note-to-bend-to"),
        (9, "mistyped-line"), (12, "bar-does-not-add-up"), (12, "bar-does-not-add-up"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        'drill "A\n  play -2\ndrill "B"\n  from "A"\n',  # what A is cannot be known
        'drill "A"\n  anhcor -2\n  play anchor -3\n',
        'drill "A"\n  rugns -3\n  phrase rung\ndrill "B"\n  from "A"\n  tempo 90\n',
        'drill "A"\n  from "B"\ndrill "B"\n  from "A"\ndrill "C"\n  from "A"\n',
        'drill "A"\n  play -2 -3 -4 | -2:4 | -3:4 |\n',
        'drill "A"\n  phrase rung | rung:4 |\n  rungs -2 -3 -4\n',
    ],
)
def test_one_slip_makes_one_message(tmp_path: Path, text: str) -> None:
    assert len(told(checked(tmp_path, text))) == 1


def test_a_feel_and_a_form_tell_all_their_mistakes(tmp_path: Path) -> None:
    feel = 'feel "F"\n  swing 9 to 1\n  drums kick on 9\n\nfeel "G"\n  tmepo 90\n  bass root on 1\n'
    assert [line for line, _ in told(checked(tmp_path, feel, "mine.feel"))] == [2, 3, 6]
    form = 'form "A"\n  bars I7 | H7\n  turnaround V7x9x\n\nform "B"\n  bars I7 | V7\n'
    lines = [line for line, _ in told(checked(tmp_path, form, "mine.form"))]
    assert lines == [2, 3, 6]


def test_twenty_mistakes_are_shown_and_the_others_counted(tmp_path: Path) -> None:
    path = tmp_path / "mine.drill"
    path.write_text('drill "A"\n' + "  abuot x\n" * 30, "utf-8")
    result = CliRunner().invoke(cli, ["check", str(path), "--json"])
    assert result.exit_code == 2
    assert result.stderr.count("Did you mean") == 20
    assert "and 10 more mistakes" in result.stderr
    rows = json.loads(result.stdout)["mistakes"]
    assert [row["line"] for row in rows] == list(range(2, 32))
    fields = {"file", "line", "column", "key", "fact", "remedy", "led_to", "played_on"}
    assert set(rows[0]) == fields


# --- which harp and position it is for ---

FOR_TWO = """drill "A"
  positions 2
  tempo 40
  embouchure lips or tongue left
  play -2:8

drill "B"
  tune 1 b3
"""


def answered(folder: Path, text: str, *words: str) -> tuple[str, str, dict[str, Any]]:
    """What check prints of *text*, what it says beside that, and the data of it."""
    path = folder / "mine.drill"
    path.write_text(text, "utf-8")
    run = CliRunner()
    plain = run.invoke(cli, ["check", str(path), *words])
    data = run.invoke(cli, ["check", str(path), *words, "--json"])
    assert plain.exit_code == data.exit_code
    return plain.stdout, plain.stderr.replace(str(path), "mine.drill"), json.loads(data.stdout)


def test_every_row_says_its_harp_and_position(tmp_path: Path) -> None:
    out, _, data = answered(tmp_path, FOR_TWO, "--harp", "low F,Bb", "--position", "2,3")
    rows = [line for line in out.split("\n") if line.startswith("  A ")]
    assert rows == [
        f"  A ({plan}), {harp} harp, {place} position: 2 bars, 1 note"
        for harp in ("low F", "Bb")
        for place in ("2nd", "3rd")
        for plan in ("lips", "tongue left")
    ]
    assert "right, 2 drills, 3 versions" in out
    [file] = data["files"]
    named = [(row["title"], row["harp"], row["position"], row["embouchure"])
             for row in file["drills"]]  # fmt: skip
    assert named == [
        *(("A", harp, number, plan) for harp in ("low F", "Bb") for number in (2, 3)
          for plan in ("lips", "tongue left")),
        *(("B", harp, number, None) for harp in ("low F", "Bb") for number in (2, 3)),
    ]  # fmt: skip


def test_a_warning_says_its_harps_and_positions_once(tmp_path: Path) -> None:
    """Eight beats at 40 are twelve seconds, on every harp."""
    _, said, data = answered(tmp_path, FOR_TWO, "--harp", "C,G", "--position", "2,3")
    assert said == (
        'mine.drill:1:7: "A" is meant for 2nd position; in 3rd its notes are other degrees.\n'
        '    1 | drill "A"\n'
        "      |       ^^^\n"
        "mine.drill:5:8: draw 2 is held for 12 seconds in one breath; 8 seconds one way are the "
        "most\n"
        "    5 |   play -2:8\n"
        "      |        ^^^^\n"
        "  Write a shorter note with a rest r after it, or a faster tempo.\n"
        "  That is so on every harp and in every position.\n"
    )
    everywhere = [{"harp": harp, "position": n} for harp in "CG" for n in (2, 3)]
    assert [each["played_on"] for each in data["warnings"]] == [
        [{"harp": "C", "position": 3}, {"harp": "G", "position": 3}], everywhere,
    ]  # fmt: skip


@pytest.mark.parametrize("words", [["--position", "3"], ["--position", "4,3"]])
def test_check_warns_of_another_position_as_make_does(tmp_path: Path, words: list[str]) -> None:
    _, said, _ = answered(tmp_path, FOR_TWO, *words)
    asked = [str(tmp_path / "mine.drill"), *words, "--to", "tab", "--out", str(tmp_path / "o")]
    made = CliRunner().invoke(cli, ["make", *asked])
    warned = [line for line in made.stderr.split("\n") if "is meant for" in line]
    assert len(warned) == len(words[1].split(","))
    assert [line for line in said.split("\n") if "is meant for" in line] == [
        f"mine.drill:1:7: {each}" for each in warned
    ]
    assert "meant for" not in answered(tmp_path, FOR_TWO)[1]


def test_a_mistake_says_which_of_several_harps_it_is_for(tmp_path: Path) -> None:
    """Draw 5 is a whole tone over blow 5 on a country harp, a semitone on a Richter one."""
    text = 'drill "A"\n  play -5\'\n\ndrill "B"\n  meter 6/8\n  play -2:1/8..\n'
    _, said, data = answered(tmp_path, text, "--harp", "C,G,D", "--position", "1,2")
    assert "instead" not in said
    reed, short = said.split("mine.drill:")[1:]
    assert reed.endswith("That is so on every harp.\n")
    assert short.endswith("That is so on every harp and in every position.\n")
    first, second = data["mistakes"]
    assert first["played_on"] == [{"harp": harp, "position": None} for harp in "CGD"]
    assert second["played_on"] == [{"harp": h, "position": n} for h in "CGD" for n in (1, 2)]
    assert "That is so" not in answered(tmp_path, text)[1]


def test_some_of_several_harps_are_named() -> None:
    drill = parse('drill "A"\n  play -2\n')[0]
    settings = Settings()
    slip, tried = PatternError("a fact", "", drill.span), settings.tried.setdefault("A", {})
    for harp, number in product("CGD", (1, 2, 3)):
        tried[Setting(Harp(harp), Position(number))] = None
    for harp, number in [("C", 1), ("C", 2), ("G", 1), ("G", 2), ("D", 3)]:
        settings.note(slip, drill, Setting(Harp(harp), Position(number)))
    assert settings.words(slip) == (
        "That is so on the C and G harps in 1st and 2nd position and on the D harp in 3rd position."
    )


# --- what only making refused ---


def test_a_drill_is_tried_in_every_position_it_is_meant_for(tmp_path: Path) -> None:
    """The b3 of 2nd position is draw 3 bent; in 1st it lies between draw 1 and blow 2."""
    text = 'drill "A"\n  positions 2, 1\n  tune 1 b3\n'
    found = checked(tmp_path, text)
    assert told(found) == [(3, "degree-needs-overbend")]
    assert "in 1st position" in str(found.mistakes[0])


def test_a_note_too_short_for_a_sheet_is_found_with_its_place(tmp_path: Path) -> None:
    """An eighth of an eighth, twice dotted, ends in a 256th."""
    text = 'drill "A"\n  meter 6/8\n  play -2:1/8..\n'
    [found] = checked(tmp_path, text).mistakes
    path = str(tmp_path / "mine.drill")
    said = (
        f"{path}:3:8: a note of 1/32 beats is too short to be drawn: it would be a 256th of a "
        "whole note, and 128ths are the shortest\n"
        "    3 |   play -2:1/8..\n"
        "      |        ^^^^^^^^\n"
        "  Write longer notes."
    )
    assert str(found) == said
    made = CliRunner().invoke(cli, ["make", path, "--to", "sheet", "--out", str(tmp_path)])
    assert (made.exit_code, made.stderr) == (2, f"{said}\n")
    [in_course] = course(tmp_path, text).mistakes
    assert isinstance(in_course, PatternError)
    assert (in_course.span.line, in_course.source_line) == (12, 'file = "mine.drill"')
    assert in_course.led_to is not None
    assert str(in_course.led_to) == said


def test_a_short_note_that_was_taken_over_is_shown_where_it_was(tmp_path: Path) -> None:
    """In 4/4 it ends in a 128th, in 2/8 in a 256th."""
    text = 'drill "A"\n  play -2:1/8..\n\ndrill "B"\n  from "A"\n  meter 2/8\n'
    [found] = checked(tmp_path, text).mistakes
    assert isinstance(found, PatternError)
    assert (found.span.line, found.source_line) == (5, '  from "A"')


@pytest.mark.parametrize("inside", ["-2 -3", "-2:1/2 -3:1/2 -2:1/2 -4:1/2"])
def test_a_triplet_of_two_or_four_is_found(tmp_path: Path, inside: str) -> None:
    text = f'drill "A"\n  play triplet({inside})\n'
    assert told(checked(tmp_path, text)) == [(2, "triplet-not-of-threes")]
    assert not checked(tmp_path, 'drill "A"\n  play triplet(-2:2 -3)\n').mistakes


def test_letters_without_a_sign_are_warned_of_with_their_place(tmp_path: Path) -> None:
    """An emoji, which no sheet prints, and none of the letters beside it."""
    text = 'drill "A"\n  about "Ж é \U0001f3b5\U0001f3b6 far"  # \U0001f3b5\n  play -2\n'
    found = checked(tmp_path, text)
    assert found.mistakes == ()
    assert [(each.span.line, each.span.column, each.span.width) for each in found.warnings] == [
        (2, 14, 2)
    ]
    [warned] = found.warnings
    assert warned.fact == 'a sheet leaves out "\U0001f3b5\U0001f3b6" (U+1F3B5, U+1F3B6)'


PASTED = """drill "One"
  play
    -2 -3 | -4
    -5 -x4 |

    -4 jj |
    -3 -2
  tempo 900

drill "Two"
  play
    Low: -2 -3 |
    -4 -5 |
    High: 4 5 |
    6 7

drill "Three"
  meter 3/4
  play -2 -3 -2 -3 | -2:4

drill "Four"
  from "Three"
  meter 5/4
"""


def test_pasted_tab_in_a_broken_drill_is_told_line_by_line(tmp_path: Path) -> None:
    """Music goes on below its word, and is not a mistake for not coming after it."""
    found = checked(tmp_path, PASTED)
    assert told(found) == [
        (4, "does-not-fit"), (6, "unknown-note"), (8, "number-out-of-range"),
        (12, "section-of-printed-tab"), (14, "section-of-printed-tab"),
        (19, "bar-does-not-add-up"), (22, "does-not-go-with-from"),
    ]  # fmt: skip
    lines = PASTED.split("\n")
    for each in found.mistakes:
        assert isinstance(each, PatternError)
        assert each.source_line == lines[each.span.line - 1]


# --- what a move leads to ---

MOVED = 'drill "A"\n  play {}\n\ndrill "B"\n  from "A"\n  move up {}\n\ndrill "C"\n  from "B"\n'


def test_a_mistake_that_a_move_leads_to_is_shown_at_the_move(tmp_path: Path) -> None:
    """Draw 4 bends a semitone, draw 5 does not (OEIS A291810)."""
    [found] = checked(tmp_path, MOVED.format("-4'", 1)).mistakes
    assert isinstance(found, PatternError)
    assert (found.span.line, found.source_line.strip()) == (6, "move up 1")
    assert found.fact.startswith("moving -4' by +1 leads to a note that is not there: hole 5 draw")
    assert found.led_to is not None
    assert found.led_to.span.line == 2
    assert told(checked(tmp_path, MOVED.format("-9", 2))) == [(6, "moved-off-the-harp")]


# --- courses ---

COURSE = """title = "T"
harps = ["C"]

[[lessons]]
title = "One"

[[lessons.exercises]]
drill = "{first}"
positions = {positions}

[[lessons.exercises]]
file = "mine.drill"
harps = "{harp}"

[[students]]
name = "Ada"
harps = ["C"]
"""


def course(folder: Path, drill: str, **changed: object) -> Checked:
    (folder / "mine.drill").write_text(drill, "utf-8")
    filled = {"first": "Home from every rung", "positions": [2], "harp": "C"} | changed
    return checked(folder, COURSE.format(**filled), "mine.toml")


def test_a_course_tells_what_every_row_of_it_comes_to(tmp_path: Path) -> None:
    assert course(tmp_path, 'drill "A"\n  play -2\n').mistakes == ()
    found = course(tmp_path, 'drill "A"\n  play -5\'\n', first="No such drill", harp="C")
    assert [line for line, _ in told(found)] == [8, 12]
    assert "hole 5 draw does not bend" in str(found.mistakes[1])
    [lacking] = course(tmp_path, 'drill "A"\n  play -2\n', harp="Bb").mistakes
    assert "Ada has no Bb harp" in str(lacking)
    assert isinstance(lacking, PatternError)
    assert lacking.span.line == 12


def test_the_files_a_course_names_tell_all_their_mistakes(tmp_path: Path) -> None:
    found = course(tmp_path, MANY)
    assert [line for line, _ in told(found)] == [2, 4, 5, 9]
    assert all("mine.drill" in str(each) for each in found.mistakes)


def test_a_table_tells_every_value_that_is_wrong(tmp_path: Path) -> None:
    text = 'title = ""\nharps = "Q"\ntempo = 3\n\n[[lessons]]\ntitle = 4\n'
    found = checked(tmp_path, text, "mine.toml")
    assert [line for line, _ in told(found)] == [1, 2, 3, 6]


def test_a_course_that_asks_for_another_position_is_told_what_the_anchor_becomes(
    tmp_path: Path,
) -> None:
    """On every harp draw 2 is the 5 of 1st position: common practice, no published source."""
    text = (
        'title = "T"\nharps = ["C", "A"]\n[[lessons]]\ntitle = "L"\n'
        '[[lessons.exercises]]\ndrill = "Home from every rung"\npositions = "1, 2"\n'
    )
    found = checked(tmp_path, text, "mine.toml")
    assert not found.mistakes
    [warning] = found.warnings
    assert str(warning).startswith(
        f'{tmp_path}/mine.toml:6:9: "Home from every rung" is meant for 2nd position; '
        "in 1st its anchor, draw 2, is the 5th.\n"
    )
    planned = CliRunner().invoke(cli, ["pack", str(tmp_path / "mine.toml"), "--plan"])
    assert planned.stderr == f"{warning.fact}\n"
