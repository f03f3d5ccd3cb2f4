"""The command ``keys`` and the option ``--key``: whole answers, as they were read aloud.

Which harp it is was counted by hand: 2nd position is a fifth over the harp's key, 3rd two fifths,
4th three, 5th four, 12th a fifth under it.  What a position is good for is common practice, no
published source.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from oracles import sounding
from reedmill.cli import cli
from together import together

HOME = "Two bars home"


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, list(words), prog_name="reedmill", catch_exceptions=False)


def said(*words: str) -> str:
    result = run(*words)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def data(*words: str) -> Any:
    return json.loads(said(*words, "--json"))


def refused(*words: str) -> str:
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    return result.stderr.removesuffix("\n")


# --- the answers ----------------------------------------------------------------------------

IN_E = """\
A song in E

A harp, 2nd position (cross harp): E mixolydian
    1 2 3 4 5 6 b7; home is -2 3 6 9
    The flat third is a bend: -3' 10''
    Good for blues, rock and country: most harp playing is done here.

E harp, 1st position (straight harp): E ionian
    1 2 3 4 5 6 7; home is 1 4 7 10
    The flat third is a bend: 8'
    Good for tunes in major: folk songs, hymns, waltzes.

D harp, 3rd position: E dorian
    1 2 b3 4 5 6 b7; home is -1 -4 -8
    Good for minor blues, and rock, jazz and folk tunes in minor.

To practise in this key, add --key E to make, backing, notes or expand.
"""
IN_E_MINOR = """\
A song in E minor

D harp, 3rd position: E dorian
    1 2 b3 4 5 6 b7; home is -1 -4 -8
    Good for minor blues, and rock, jazz and folk tunes in minor.

G harp, 4th position: E aeolian
    1 2 b3 4 5 b6 b7; home is -6 -10, or bent -3''
    Good for songs in natural minor: ballads, laments, folk and rock songs.

A harp, 2nd position (cross harp): E mixolydian
    1 2 3 4 5 6 b7; home is -2 3 6 9
    The flat third is a bend: -3' 10''
    Good for songs in minor over which the band plays a blues: the natural third
    is major, and you bend it down.

C harp, 5th position: E phrygian
    1 b2 b3 4 5 b6 b7; home is 2 5 8
    Good for Spanish colours; most songs in minor have no flat second, so try it
    before you count on it.

To practise in this key, add --key "E minor" --position 3 to make, backing,
notes or expand.
"""
IN_B_FLAT = IN_E.replace("A song in E", "A song in Bb").replace("--key E", "--key Bb")
for _harp, _scale in (("A", "mixolydian"), ("E", "ionian"), ("D", "dorian")):
    _right = {"A": "Eb", "E": "Bb", "D": "Ab"}[_harp]
    IN_B_FLAT = IN_B_FLAT.replace(f"\n{_harp} harp,", f"\n{_right} harp,")
    IN_B_FLAT = IN_B_FLAT.replace(f"E {_scale}", f"Bb {_scale}")


def test_the_whole_answer_for_a_song() -> None:
    assert said("keys", "--key", "E") == IN_E
    assert said("keys", "--key", "Em") == IN_E_MINOR
    assert said("keys", "--key", "b flat") == IN_B_FLAT


def test_a_harp_in_the_position_that_is_named() -> None:
    first, second, *_, last = IN_E.split("\n\n")
    assert said("keys", "--key", "E", "--position", "2") == "\n\n".join([first, second, last])
    assert said("keys", "--key", "E", "--harp", "A") == "\n\n".join([first, second, last])
    assert said("keys", "--harp", "A", "--position", "cross") == (
        "A harp\n\n" + second.removeprefix("A harp, ") + "\n"
    )


def test_all_positions_of_a_harp() -> None:
    found = data("keys", "--harp", "low F")
    assert (found["harp"], [row["position"] for row in found["positions"]]) == (
        "low F", [*range(1, 13)],
    )  # fmt: skip
    for row in found["positions"]:
        roots = {sounding("low F", tab) % 12 for tab in row["home"]}
        assert len(roots) == (1 if row["scales"] else 0)
    text = said("keys", "--harp", "C")
    assert "7th position: F#\n    Home is a bend: -2' 9'\n" in text
    assert text.count("\n\n") == 12


CASE = """\
In which position each harp plays a song

key      C            A            D            F            Bb
C        1st major    (10th)       (11th)       2nd major    3rd minor
Db (C#)  (8th)        5th minor*   (6th)        (9th)        (10th)
D        3rd minor    12th major*  1st major    4th minor    5th minor*
Eb (D#)  (10th)       (7th)        (8th)        (11th)       12th major*
E        5th minor*   2nd major    3rd minor    (6th)        (7th)
F        12th major*  (9th)        (10th)       1st major    2nd major
F# (Gb)  (7th)        4th minor    5th minor*   (8th)        (9th)
G        2nd major    (11th)       12th major*  3rd minor    4th minor
Ab (G#)  (9th)        (6th)        (7th)        (10th)       (11th)
A        4th minor    1st major    2nd major    5th minor*   (6th)
Bb (A#)  (11th)       (8th)        (9th)        12th major*  1st major
B        (6th)        3rd minor    4th minor    (7th)        (8th)

* with care: one note of its scale is foreign to most songs. In brackets: home
or its fifth is a bend.
Not on these harps: major Db (C#), F# (Gb), Ab (G#), B; minor Eb (D#), F, Ab
(G#), Bb (A#).
Only with care: major Eb (D#); minor Db (C#).
"""


def test_a_case_of_five_harps() -> None:
    assert said("keys", "--case", "C, A, D, F, Bb") == CASE
    text = said("keys", "--case", "C, A, D, F, Bb", "--key", "Em")
    cards = IN_E_MINOR.split("\n\n")
    assert text == "\n\n".join([*cards[:2], *cards[3:]])  # the G harp is not in it


def test_a_case_that_is_too_wide_for_the_terminal_is_told_key_by_key(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    text = said("keys", "--case", "C, A, low F")
    assert "\nD: C 3rd minor, A 12th major*, low F 4th\n    minor\n" in text
    assert "\nAb (G#): none\n" in text
    assert max(map(len, text.split("\n")[1:])) <= 40


def test_a_song_for_which_a_case_has_no_harp() -> None:
    text = said("keys", "--case", "C, A, D", "--key", "Ab")
    assert text.startswith(
        "A song in Ab\n\nNone of these harps is ready for it. These would be:\n\n"
        "Db harp, 2nd position (cross harp): Ab mixolydian\n"
    )
    assert "Ab is called G# on this harp." in text
    assert data("keys", "--case", "C, A, D", "--key", "Ab")["choices"] == []


def test_other_layouts_are_told_by_name() -> None:
    text = said("keys", "--key", "Em", "--tuning", "natural-minor")
    assert text.split("\n")[2] == "A natural minor harp, 2nd position (cross harp): E aeolian"
    assert text.endswith(
        'add --key "E minor" --tuning natural-minor to make,\nbacking, notes or expand.\n'
    )
    mixed = said("keys", "--case", "C, A natural minor", "--key", "Em")
    assert mixed.split("\n")[2] == "A natural minor harp, 2nd position (cross harp): E aeolian"


def test_the_chart_of_a_case_is_a_page() -> None:
    asked = ("keys", "--case", "C, low F", "--to", "sheet", "--large")
    assert said(*asked) == "chart  output/keys-c-low-f-large.pdf\n"
    assert Path("output/keys-c-low-f-large.pdf").read_bytes().startswith(b"%PDF-")


WRONG = [
    (["--harp", "C", "--case", "C, A"],
     "--harp is one harp, and --case are all that you own. Leave out one of them."),
    (["--case", "C, A", "--position", "2"],
     "--case shows every harp in the position it needs. Leave out --position."),
    (["--key", "E", "--to", "sheet"],
     '--to sheet makes a chart of a case: --case "C, A, D" without --key.'),
    (["--case", "C", "--to", "pdf"],
     'there is no chart of keys as "pdf". Write --to sheet.'),
    (["--case", "G,Ab,A,Bb,B,C,Db,D,Eb,E,F,F#,low F", "--to", "sheet"],
     "a chart has room for 1 to 12 harps; these are 13."),
    (["--key", "E, A"],
     '--key takes one key here, and "E, A" names 2. Give the command once for each.'),
    (["--harp", "C", "--key", "E", "--position", "2"],
     "in 2nd position a C harp plays in G, and the song is in E. Leave out --harp: an A harp plays "
     "in E there. A C harp does in 5th position."),
]  # fmt: skip


@together(("words", "message"), WRONG)
def test_what_does_not_go_together_is_told(words: list[str], message: str) -> None:
    assert refused("keys", *words) == message


# --- --key beside drills ----------------------------------------------------------------------


def played(*words: str) -> list[tuple[str, int]]:
    drills = json.loads(run("expand", HOME, *words, "--json").stdout)["drills"]
    return [(row["harp"], row["position"]) for row in drills]


def test_the_key_of_a_song_takes_the_harp() -> None:
    assert played("--key", "E") == [("A", 2)]
    assert played("--key", "E, A") == [("A", 2), ("D", 2)]
    assert played("--key", "E", "--position", "2nd, 3rd") == [("A", 2), ("D", 3)]
    assert played("--key", "E", "--harp", "A") == [("A", 2)]
    assert played("--key", "C", "--harp", "low F") == [("low F", 2)]
    assert data("notes", "--key", "E")["harp"] == "A"
    assert data("roles", "--key", "E minor", "--position", "3")["harp"] == "D"
    assert data("check", HOME, "--key", "E")["files"][0]["drills"][0]["harp"] == "A"


def test_a_drill_for_another_position_is_played_in_the_key_too() -> None:
    """A drill of the library that is meant for 3rd position alone: D dorian on a C harp."""
    titles = [row["title"] for row in data("drills", "--position", "3")["drills"]
              if row["positions"] == [3]]  # fmt: skip
    [drill] = data("expand", titles[0], "--key", "E")["drills"]
    assert (drill["harp"], drill["position"], drill["key"]) == ("D", 3, "E")


def test_a_harp_that_does_not_play_in_the_key_is_refused() -> None:
    message = (
        "in 2nd position a C harp plays in G, and the song is in E. Leave out --harp: an A harp "
        "plays in E there. A C harp does in 5th position."
    )
    for command in (["make", HOME], ["expand", HOME], ["check", HOME], ["notes"], ["roles"]):
        assert refused(*command, "--harp", "C", "--key", "E") == message
    assert refused("expand", HOME, "--harp", "A", "--key", "E, G").startswith(
        "in 2nd position an A harp plays in E, and the song is in G. "
    )
    assert refused("check", HOME, "--key", "E", "--position", "2, 3") == (
        "in every position another harp plays in the key, so that --key takes one position here. "
        "Give the command once for each."
    )


def test_a_song_in_minor_on_a_harp_with_a_major_third_is_warned_of() -> None:
    result = run("notes", "--key", "E minor")
    assert result.exit_code == 0
    assert result.stderr == (
        "E minor: the natural third of an A harp in 2nd position is major. A D harp in 3rd "
        "position has a minor third: --position 3\n"
    )
    assert run("notes", "--key", "E minor", "--position", "4").stderr == ""
