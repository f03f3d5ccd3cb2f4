"""The command line: what each command prints, its data, and how it refuses bad input."""

from __future__ import annotations

import json
import re
import shlex
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import click
import pytest
from click.shell_completion import ShellComplete
from click.testing import CliRunner, Result

import oracles
from hearing.evaluation import score_of
from hearing.takes import played, recorded, reeds
from reedmill import api
from reedmill.band.phrased import ChorusPlan, phrased
from reedmill.base.errors import RenderError
from reedmill.cli import cli
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import SUFFIX, shipped, shipped_phrases
from reedmill.theory.positions import Position
from taken import kept_in, take

MINE = 'drill "My own: B\\" b"\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung:3/2\n'
WRONG = 'drill "Wrong"\n  play -2 -5\'\n'
TITLES = [each.drill.title for each in shipped()]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def taken() -> dict[str, Any]:
    """A take of three rungs, as data."""
    return take([("-3", "-2", 3.0), ("-3'", "-3", 12.0), ("-3''", "-3'", None)])


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, list(arguments), prog_name="reedmill", catch_exceptions=False)


def said(*arguments: str) -> str:
    """What a command prints when all is well."""
    result = run(*arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def data(*arguments: str) -> Any:
    """What a command prints with ``--json``: data, and nothing else on stdout."""
    return json.loads(said(*arguments, "--json"))


def refused(*arguments: str) -> str:
    """What a command says of bad input: exit code 2, all on stderr, and no file made."""
    before = sorted(Path().rglob("*"))
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert sorted(Path().rglob("*")) == before
    return result.stderr


def file(name: str, text: str) -> str:
    Path(name).write_text(text, "utf-8")
    return name


def fields(text: str) -> dict[str, type]:
    """``tab:str hole:int`` as a table."""
    kinds = {"str": str, "int": int, "float": float, "bool": bool, "list": list}
    kinds |= {"none": type(None)}
    return {name: kinds[kind] for name, kind in (word.split(":") for word in text.split())}


def check_fields(row: dict[str, Any], expected: dict[str, type]) -> None:
    assert list(row) == list(expected)  # these keys, in this order
    for name, kind in expected.items():
        assert type(row[name]) is kind, name


# --- data: the keys other programs rely on ---

NOTES = fields("harp:str tuning:str position:int key:str mode:str reference_hz:float notes:list")
NOTE = fields("tab:str hole:int breath:str bend:int kind:str midi:int name:str hz:float degree:str")
DRILL = fields(
    "title:str file:str level:int about:str holes:list techniques:list topic:str positions:list "
    "over:list practised:list practised_holes:list approaches:list"
)
TIMELINE = fields(
    "title:str harp:str tuning:str position:int key:str mode:str tempo:int meter:str feel:str "
    "swing:str anchor:str rungs:list notes:list breaths:list"
)
PLAYED = fields(
    "start:str length:str sounding_start:str sounding_length:str tab:str hole:int breath:str "
    "bend:int midi:int name:str hz:float "
    "degree:str role:str joined:bool embouchure:str line:int column:int"
)
MADE = fields("path:str kind:str drill:str harp:str position:int tempo:int replaced:bool")


def test_notes_data() -> None:
    found = data("notes", "--harp", "low F", "--position", "3", "--reference", "442")
    check_fields(found, NOTES)
    assert (found["harp"], found["position"], found["reference_hz"]) == ("low F", 3, 442.0)
    assert found["key"] == "G"  # two fifths above F
    assert len(found["notes"]) == 39  # 20 natural notes, 12 bends, 7 overbends
    for note in found["notes"]:
        check_fields(note, NOTE)
        assert note["breath"] == ("draw" if note["tab"].startswith("-") else "blow")
        assert note["bend"] == note["tab"].count("'")
        assert oracles.key_number(note["name"]) == note["midi"]
        hz = oracles.tempered_hz(note["midi"]) * 442 / 440
        assert note["hz"] == pytest.approx(hz, abs=5e-5)
        assert note["degree"] == oracles.degree_by_spelling("G", note["name"])
        if not note["tab"].endswith("^"):
            assert note["midi"] == oracles.sounding("low F", note["tab"])
    kinds = {note["kind"] for note in found["notes"]}
    assert kinds == {"natural", "bend", "overblow", "overdraw"}


def test_drills_data() -> None:
    found = data("drills")
    assert list(found) == ["drills"]
    assert {each["title"] for each in found["drills"]} == set(TITLES)
    for each in found["drills"]:
        check_fields(each, DRILL)
        assert each["file"].endswith(SUFFIX)
        assert all(type(hole) is int for hole in each["holes"])
        assert all(type(name) is str for name in each["techniques"])


def test_drills_data_is_narrowed_by_words_level_and_hole() -> None:
    found = data("drills", "slide", "--level", "2", "--hole", "4")["drills"]
    assert "Dip and return" in [each["title"] for each in found]
    for each in found:
        assert each["level"] == 2
        assert 4 in each["practised_holes"]
        assert "slide" in " ".join([each["title"], each["about"], *each["techniques"]]).lower()
    assert data("drills", "no such thing")["drills"] == []


def test_expand_data() -> None:
    found = data("expand", file("mine.drill", MINE), "--harp", "A", "--tempo", "91")
    assert list(found) == ["drills"]
    [drill] = found["drills"]
    check_fields(drill, TIMELINE)
    heads = {name: drill[name] for name in list(TIMELINE)[:-1]}
    assert heads == {
        "title": 'My own: B" b', "harp": "A", "tuning": "richter", "position": 2, "key": "E",
        "mode": "major", "tempo": 91, "meter": "4/4",
        "feel": "straight", "swing": "1", "anchor": "-2", "rungs": ["-3", "-3'"],
        "notes": drill["notes"],
    }  # fmt: skip
    assert drill["breaths"] == []
    for note in drill["notes"]:
        check_fields(note, PLAYED | {"embouchure": type(None)})  # as the player likes
        assert note["midi"] == oracles.sounding("A", note["tab"])
        assert note["degree"] == oracles.degree_by_spelling("E", note["name"])
    rows = [(n["start"], n["length"], n["tab"], n["role"], n["joined"]) for n in drill["notes"]]
    assert rows == [
        ("0", "1", "-2", "anchor", False),
        ("1", "3/2", "-3", "rung", False),
        ("5/2", "1", "-2", "anchor", False),
        ("7/2", "3/2", "-3'", "rung", False),
    ]
    assert [(n["line"], n["column"]) for n in drill["notes"]] == [(4, 10), (4, 17)] * 2
    assert Fraction(rows[-1][0]) + Fraction(rows[-1][1]) == 5


def test_expand_data_tells_slides_and_free_notes() -> None:
    text = 'drill "A"\n meter 3/4\n play -3:1/3 ~-3\':2/3 6^'
    [drill] = data("expand", file("a.drill", text))["drills"]
    rows = [(n["start"], n["length"], n["role"], n["joined"], n["breath"], n["bend"])
            for n in drill["notes"]]  # fmt: skip
    assert drill["meter"] == "3/4"
    assert rows == [
        ("0", "1/3", "free", False, "draw", 0),
        ("1/3", "2/3", "free", True, "draw", 1),
        ("1", "1", "free", False, "blow", 0),
    ]


def test_expand_data_tells_the_breaths_and_the_silence_before_them() -> None:
    """Eight seconds are the most; at 60 a beat of four becomes a rest, at 80 a tone is shorter."""
    [drill] = data("expand", file("a.drill", 'drill "A"\n tempo 60\n play -2:4 -3:4 -2:4'))[
        "drills"
    ]
    assert drill["breaths"] == [{"at": "7", "way": "out", "seconds": 0.5, "rest": "1"}]
    assert [(n["length"], n["sounding_length"]) for n in drill["notes"]] == [
        ("4", "4"), ("3", "3"), ("4", "4"),
    ]  # fmt: skip
    [drill] = data("expand", file("b.drill", 'drill "B"\n tempo 80\n play 2 x12'))["drills"]
    assert drill["breaths"] == [{"at": "8", "way": "in", "seconds": 0.5, "rest": "0"}]
    assert [n["sounding_length"] for n in drill["notes"][6:9]] == ["1", "1/3", "1"]


HELD = """drill "Held"
  tempo 60
  play -2&3 -3q vibrato4 4:2 -3:1~:1 -3'':2
"""


def test_expand_data_tells_every_hole_and_how_a_note_is_shaped() -> None:
    """On a C harp draw 2 and 3 are G4 and B4; by the MIDI standard keys 67 and 71."""
    [drill] = data("expand", file("held.drill", HELD))["drills"]
    double, quarter, wavering, plain, slow = drill["notes"]
    assert (double["tab"], double["hole"], double["midi"], double["degree"]) == ("-2&3", 3, 71, "3")
    assert double["beside"] == [
        {"tab": "-2", "hole": 2, "bend": 0, "midi": 67, "name": "G4", "hz": 391.9954, "degree": "1"}
    ]
    assert (quarter["tab"], quarter["midi"], quarter["cents"]) == ("-3q", 71, -50)
    assert quarter["hz"] == pytest.approx(493.8833 * 2 ** (-50 / 1200), abs=1e-3)
    assert (wavering["style"], wavering["a_beat"]) == (["vibrato"], 4)
    assert (slow["joined"], slow["slide"], slow["sounding_slide"]) == (True, "1", "1")
    assert not {"beside", "style", "a_beat", "slide", "cents"} & set(plain)


def test_expand_for_people_has_every_hole_and_what_is_done_with_it() -> None:
    lines = run("expand", file("held.drill", HELD)).output.splitlines()
    assert lines[1].split()[-1] == "played"
    assert lines[2].split() == ["1", "1", "1", "-2&3", "G4&B4", "1&3", "392.00&493.88", "free"]
    assert lines[4].endswith("vibrato, 4 a beat")
    assert lines[6].endswith("slide over 1 beat")


def test_expand_data_tells_how_a_shuffle_sounds() -> None:
    """The first half of a beat lasts two thirds of it (common practice, no published source)."""
    text = 'drill "A"\n meter 2/4\n feel shuffle\n play -2:1/2 -3:1/2 -2:1/2 -3:1/2'
    [drill] = data("expand", file("a.drill", text))["drills"]
    assert (drill["feel"], drill["swing"]) == ("shuffle", "2")
    rows = [(n["start"], n["length"], n["sounding_start"], n["sounding_length"])
            for n in drill["notes"]]  # fmt: skip
    assert rows == [
        ("0", "1/2", "0", "2/3"), ("1/2", "1/2", "2/3", "1/3"),
        ("1", "1/2", "1", "2/3"), ("3/2", "1/2", "5/3", "1/3"),
    ]  # fmt: skip
    head, first, second = said("expand", "a.drill").split("\n")[1:4]
    assert "sounds at  for" in head
    assert first.split()[:5] == ["1", "1", "1/2", "1", "2/3"]
    assert second.split()[:7] == ["1", "1", "1/2", "1/2", "1", "2/3", "1/3"]


def test_roles_data() -> None:
    found = data("roles", "--harp", "D", "--reeds", "-2 -2'")
    check_fields(found, fields("harp:str tuning:str reeds:list"))
    assert [each["tab"] for each in found["reeds"]] == ["-2", "-2'"]
    for each in found["reeds"]:
        check_fields(each, fields("tab:str roles:list"))
        assert [role["position"] for role in each["roles"]] == list(range(1, 13))
        for role in each["roles"]:
            check_fields(role, fields("position:int key:str degree:str name:str"))
            assert oracles.key_number(role["name"]) == oracles.sounding("D", each["tab"])
            assert role["degree"] == oracles.degree_by_spelling(role["key"], role["name"])


CHECKED = "title:str harp:str position:int embouchure:none bars:int notes:int rules:list"


def test_check_data() -> None:
    found = data("check", file("a.drill", MINE), "Two bars home")
    assert list(found) == ["files", "mistakes", "warnings"]
    assert found["mistakes"] == found["warnings"] == []
    for each in found["files"]:
        check_fields(each, fields("file:str drills:list"))
        check_fields(each["drills"][0], fields(CHECKED))
        for rule in each["drills"][0]["rules"]:
            check_fields(rule, fields("rule:str total:int violators:list"))
    [mine] = found["files"][0]["drills"]
    assert (mine["title"], mine["bars"], mine["notes"]) == ('My own: B" b', 2, 4)


def shown(folder: Path) -> list[Path]:
    """What is in *folder*, but for the list of what was made there."""
    return [path for path in folder.iterdir() if path.name != ".reedmill-made.json"]


def test_make_data() -> None:
    found = data("make", "Two bars home", "--to", "midi,tab,json", "--harp", "Bb", "--out", "o")
    assert list(found) == ["files"]
    for row in found["files"]:
        check_fields(row, MADE)
        assert Path(row["path"]).stat().st_size > 0
        assert (row["drill"], row["harp"], row["position"], row["tempo"]) == (
            "Two bars home", "Bb", 2, 76,
        )  # fmt: skip
    assert {row["kind"] for row in found["files"]} == {"midi", "tab", "json"}
    assert {row["path"] for row in found["files"]} == {str(p) for p in shown(Path("o"))}


def test_make_data_names_the_stem_of_each_sound_file() -> None:
    text = 'drill "Short"\n tempo 300\n meter 2/4\n play -2'
    found = data("make", file("a.drill", text), "--to", "wav", "--drone")["files"]
    for row in found:
        check_fields(row, {**MADE, "stem": str})
    assert [(row["kind"], row["stem"]) for row in found] == [("audio", "tones"), ("audio", "mix")]
    assert found[0]["path"].startswith("output/")


def test_a_sheet_is_made_by_default() -> None:
    text = 'drill "Short"\n tempo 300\n meter 2/4\n play -2'
    kinds = [row["kind"] for row in data("make", file("a.drill", text))["files"]]
    assert sorted(kinds) == ["audio", "midi", "sheet-pdf", "tab"]


# --- the same, for people ---


def test_notes_as_a_picture_and_a_table() -> None:
    """The notes of a C harp as encyclopaedia articles on the Richter harmonica print them."""
    text = said("notes")
    lines = text.split("\n")
    assert lines[0] == "C harp, 2nd position (cross harp), key of G, A4 = 440 Hz"
    rows = {line.split()[0]: line.split()[1:] for line in lines[:25] if line[:9].strip()}
    assert rows["hole"] == [str(hole) for hole in range(1, 11)]
    assert " ".join(rows["blow"]) == "C E G C E G C E G C"
    assert " ".join(rows["draw"]) == "D G B D F A B D F A"
    table = [line.split() for line in text.split("tab ")[1].splitlines()[1:]]
    assert len(table) == 39
    midi = [oracles.key_number(name) for _, name, _, _ in table]
    assert midi == sorted(midi)
    for tab, name, hz, degree in table:
        assert float(hz) == pytest.approx(oracles.tempered_hz(oracles.key_number(name)), abs=0.005)
        assert degree == oracles.degree_by_spelling("G", name), tab


def test_in_the_picture_every_bend_stands_over_or_under_its_hole() -> None:
    """A cell is where its hole's number is; names by music21 from the published layout."""
    lines = said("notes", "--harp", "Eb", "--position", "1").split("\n")
    numbers = next(line for line in lines if line.strip().startswith("hole"))
    middle = lines.index(numbers)
    for hole in range(1, 11):
        column = re.search(rf"\b{hole}\b", numbers).start()  # type: ignore[union-attr]
        for tab in oracles.run(hole)[1:]:
            label = f"bend {tab.count(chr(39))}"
            half = lines[middle:] if tab.startswith("-") else lines[:middle]
            at = next(n for n, line in enumerate(half) if line[:9].strip() == label)
            name, degree = (half[at + step][column:].split()[0] for step in (0, 1))
            key = oracles.sounding("Eb", tab)
            assert oracles.in_music21(name).pitchClass == key % 12
            assert degree == oracles.degree_by_spelling("Eb", name)


def test_roles_for_people() -> None:
    """C harp: draw 3 is 7 in 1st position, 3 in 2nd, 6 in 3rd (common practice)."""
    lines = said("roles").split("\n")
    assert lines[0] == "C harp"
    assert lines[1].split() == ["key", "-3", "-3'", "-3''", "-3'''"]
    assert lines[2].split()[-6:] == ["C", "major", "7", "b7", "6", "b6"]
    assert lines[3].split()[-5:] == ["G", "3", "b3", "2", "b2"]
    assert lines[4].split()[-6:] == ["D", "dorian", "6", "b6", "5", "b5"]
    assert len(lines) == 15  # heading, head, twelve positions, the last line break


def test_expand_for_people() -> None:
    """Written out by hand; names and frequencies from ISO 16."""
    text = 'drill "Lean"\n meter 3/4\n play -2 -3:1/2~-3\':3/2 | -2:3/4'
    assert said("expand", file("a.drill", text)) == (
        "Lean: C harp, 2nd position (cross harp), key of G\n"
        "bar  beat   length  tab   note  degree  Hz      role\n"
        "1    1      1       -2    G4    1       392.00  free\n"
        "1    2      1/2     -3    B4    3       493.88  free\n"
        "1    2 1/2  1 1/2   ~-3'  Bb4   b3      466.16  free\n"
        "2    1      3/4     -2    G4    1       392.00  free\n"
    )


def test_drills_for_people() -> None:
    text = said("drills", "question")
    assert text == (
        "Question on four, answer on two\n"
        "    level 3; practises holes 2, 3, 4; uses holes 2, 3, 4; positions 2; draw bend, slide\n"
        "    Draw 4 asks with its bend, draw 2 answers with the flat seven below it.\n"
    )
    assert said("drills", "zzz") == "No drill fits. Leave out a word or an option to see more.\n"


def test_check_for_people() -> None:
    text = said("check", file("a.drill", MINE))
    assert text.startswith(
        'a.drill: right, 1 drill\n  My own: B" b, C harp, 2nd position: 2 bars, 4 notes\n'
    )
    assert re.search(r"^    bends last 0.25 s or more +0 of 1$", text, re.MULTILINE)


def test_make_for_people() -> None:
    text = said("make", file("a.drill", MINE), "--to", "tab,midi", "--harp", "C,D")
    heads = [line for line in text.split("\n") if line and not line.startswith(" ")]
    assert heads == [f'My own: B" b: {harp} harp, position 2, tempo 60' for harp in "CD"]
    paths = re.findall(r"^  (?:tab|midi) +(.+)$", text, re.MULTILINE)
    assert sorted(map(Path, paths)) == sorted(shown(Path("output")))
    assert len(paths) == 4


# --- harps, positions, tunings ---


@pytest.mark.parametrize(
    "options",
    [
        ["--harp", "C,low F,Bb"],
        ["--harp", "C , low F ,Bb"],
        ["--harp", "C", "--harp", "low F", "--harp", "bb"],
        ["--harp", "C,low-f", "--harp", "A#"],
    ],
)
def test_several_harps_by_commas_or_by_repeating(options: list[str]) -> None:
    found = data("expand", "Two bars home", "Home from every rung", *options)["drills"]
    assert [(each["title"], each["harp"]) for each in found] == [
        (title, harp)
        for title in ("Two bars home", "Home from every rung")
        for harp in ("C", "low F", "Bb")
    ]


def test_a_low_harp_is_an_octave_under() -> None:
    keys = {}
    for harp in ("F", "low F"):
        [drill] = data("expand", "Two bars home", "--harp", harp)["drills"]
        keys[harp] = [note["midi"] for note in drill["notes"]]
    assert keys["low F"] == [key - 12 for key in keys["F"]]
    assert keys["low F"][0] == oracles.sounding("low F", "-2")


@pytest.mark.parametrize(("text", "number"), [("1", 1), ("cross", 2), ("3rd", 3), ("12", 12)])
def test_positions(text: str, number: int) -> None:
    assert data("notes", "--position", text)["position"] == number


def test_a_tuning_by_name_and_from_a_file() -> None:
    def draw_5(tuning: str) -> int:
        notes = data("notes", "--tuning", tuning)["notes"]
        return int(next(note["midi"] for note in notes if note["tab"] == "-5"))

    blow, draw = oracles.A291810[::2], list(oracles.A291810[1::2])
    draw[4] += 2
    mine = file("mine.toml", f"blow = {blow}\ndraw = {draw}\n")
    assert draw_5("country") - draw_5("richter") == 1  # common practice, no published source
    assert draw_5(mine) - draw_5("richter") == 2


def test_intonation_and_reference_reach_the_notes() -> None:
    """The b3 over the root G4: 6/5 in 5 limits, 7/6 in 7 (Ellis; the Scala archive)."""
    cents = oracles.published_cents()
    for name in ("equal", "just5", "just7"):
        options = ["--intonation", name, "--reference", "443"]
        [drill] = data("expand", "Home from every rung", *options)["drills"]
        third = next(note["hz"] for note in drill["notes"] if note["tab"] == "-3'")
        root = oracles.tempered_hz(67) * 443 / 440
        assert third == pytest.approx(root * 2 ** (cents[name][3] / 1200), abs=1e-3)


# --- bad input ---

PLAYING = [
    "--harp",
    "--key",
    "--position",
    "--embouchure",
    "--tuning",
    "--temperament",
    "--intonation",
    "--offsets",
    "--reference",
    "--tempo",
    "--my-harp",
]
OVER = ["--over", "--feel", "--lay", "--choruses", "--seed", "--band", "--without"]
PHRASING = ["--level", "--rungs"]
SEARCHED = ["--level", "--hole", "--rung", "--from", "--topic", "--position", "--technique"]
TAKES = {
    "make": [
        *PLAYING,
        *OVER,
        *PHRASING,
        "--to",
        "--voice",
        "--drone",
        "--click",
        "--click-level",
        "--lead-in",
        "--count-in",
        "--repeat",
        "--echo",
        "--ladder",
        "--audio",
        "--bits",
        "--paper",
        "--show",
    ],
    "expand": [*PLAYING, *OVER, *PHRASING],
    "hear": [
        *PLAYING,
        *OVER,
        *PHRASING,
        "--drill",
        "--repeat",
        "--echo",
        "--tolerance",
        "--to",
        "--paper",
        "--student",
        "--book",
    ],
    "record": ["--student", "--book"],
    "progress": ["--book", "--to"],
    "class": ["--book", "--to"],
    "next": ["--minutes", "--harp", "--key", "--position", "--book"],
    "keys": ["--key", "--harp", "--position", "--case", "--tuning", "--paper"],
    "place": ["--harp", "--key", "--position", "--student", "--book", "--level", "--steps"],
    "backing": [
        "--form",
        "--feel",
        "--key",
        "--harp",
        "--position",
        "--tuning",
        "--tempo",
        "--choruses",
        "--seed",
        "--loose",
        "--without",
        "--lead-in",
        "--click-level",
        "--plan",
        "--intro",
        "--ending",
        "--to",
        "--count-in",
        "--click",
        "--audio",
        "--bits",
        "--band",
        "--reference",
        "--paper",
    ],
    "dictate": [*PLAYING, "--to", "--questions", "--seed", "--pause", "--audio", "--paper"],
    "notes": ["--harp", "--key", "--position", "--tuning", "--reference"],
    "roles": [
        "--harp",
        "--key",
        "--tuning",
        "--reeds",
        "--chords",
        "--position",
        "--paper",
        "--show",
    ],
    "pack": ["--student", "--lesson", "--jobs", "--on", "--scheduler"],
    "check": ["--harp", "--key", "--position", "--tuning"],
    "drills": ["--chord", *SEARCHED],
}
BAD = {
    "--harp": [("X", 'there is no harp "X"'), ("low Q", 'Did you mean "low G"?'), ("", "no harp")],
    "--position": [("13", 'no position "13"'), ("cros", 'Did you mean "cross"?')],
    "--tuning": [("contry", 'Did you mean "country"?'), ("none.toml", "none.toml: cannot read")],
    "--intonation": [("just", 'Did you mean "just7"?')],
    "--reference": [
        ("300", "write 390 to 490"), ("nan", "not a pitch for"),
        ("A", "takes a number"),
    ],
    "--tempo": [
        ("0", "write 20 to 300"), ("301", "write 20 to 300"),
        ("slow", "takes a whole number"),
    ],
    "--to": [("tba", 'Did you mean "tab"?'), (" , ", "--to names no format")],
    "hear --to": [("pictur", 'Did you mean "picture"?')],
    "--my-harp": [
        ("none.toml", "none.toml: cannot read this file"),
        ("course.toml", "course.toml: this is a course, not a harp of your own."),
    ],
    "--drill": [("Two bars hom", 'Did you mean "Two bars home"?')],
    "--tolerance": [("0", "Write two numbers from 1 to 50"), ("x", '"x" is not a tolerance')],
    "--student": [("Bob", "Ada")],
    "progress --to": [("pag", 'Did you mean "page"?'), ("", 'there is no kind of file ""')],
    "class --to": [("pag", 'Did you mean "page"?'), ("", 'there is no kind of file ""')],
    "--minutes": [("2", "goes from 3 to 120"), ("121", "goes from 3"), ("x", "whole number")],
    "--steps": [("0", "--steps goes from 1 to 500"), ("x", "takes a whole number")],
    "place --book": [
        ("none.book", "there is no record book yet. Add takes to it first."),
        ("course.toml", "course.toml: this is not a record book. Name another file for it."),
    ],
    "next --book": [
        ("none.book", "there is no record book yet. Add takes to it first."),
        ("course.toml", "course.toml: this is not a record book. Name another file for it."),
    ],
    "progress --book": [
        ("none.book", "there is no record book yet. Add takes to it first."),
        ("course.toml", "course.toml: this is not a record book. Name another file for it."),
    ],
    "class --book": [
        ("none.book", "there is no record book yet. Add takes to it first."),
        ("course.toml", "course.toml: this is not a record book. Name another file for it."),
    ],
    "record --student": [("", "a student needs a name"), ("x" * 81, "80 is the most")],
    "hear --student": [(" ", "a student needs a name"), ("x" * 81, "80 is the most")],
    "--book": [
        (".", "it is a folder. Name a file in it."),
        ("course.toml", "course.toml: this is not a record book. Name another file for it."),
        ("course.toml/mine.book", "its path leads through a file as if that were a folder"),
        ("none.book", "Write for example: --student Ada"),
    ],
    "--lesson": [("3", "lesson"), ("x", "takes a whole number")],
    "--jobs": [("0", "goes from 1 to 64; 0 is not in it")],
    "--on": [("moon", "not 'dask'")],
    "--scheduler": [("tcp://127.0.0.1:1", "--on dask")],
    "--paper": [("leter", 'Did you mean "letter"?')],
    "--show": [("tabs", 'Did you mean "tab"?')],
    "--offsets": [
        ("b3", '"b3" moves no degree'), ("b8=2", "a degree from 1 to 7"), ("", "moves no degree"),
        ("b3=-51", "-51 cents would make b3 another note"), ("b3=1, #2=2", "given an offset twice"),
    ],
    "--voice": [
        ("none.sf2", "there is no SoundFont none.sf2."), ("x.sf2:0", "programs go from 1 to 128"),
    ],
    "--drone": [("root+third", 'a drone has no "third"'), ("ocatve+root", 'mean "octave"?')],
    "--click": [("loud", '"loud" is neither a value of --click nor a drill. Write')],
    "--count-in": [
        ("17", "write 0 to 16"), ("-1", "write 0 to 16"),
        ("one", "takes a whole number"),
    ],
    "--repeat": [("0", "write 1 to 100"), ("101", "write 1 to 100")],
    "--echo": [("17", "write 0 to 16"), ("x", '"x" is neither a value of --echo nor')],
    "--ladder": [
        ("60-90", "Write for example: 60 to 90 by 5"), ("10 to 60 by 5", "write 20 to 300"),
        ("60 to 90 by 0", "too many tempi"), ("20 to 300 by 1", "Write a bigger step"),
        ("", "is not a tempo ladder"),
    ],
    "--audio": [("wave", 'Did you mean "wav"?'), ("mp4", 'Did you mean "mp3"?'), (" ,", "no type")],
    "--without": [("bass", "Say over which form")],
    "backing --without": [
        ("brass", 'Did you mean "bass"?'),
        ("bass,comp,drums", "nobody of the band is left to play"),
    ],
    "--lead-in": [("9", "write 0 to 5"), ("-1", "write 0 to 5")],
    "--click-level": [("lowd", "Did you mean \"loud\"? Choose from: quiet, even, loud")],
    "--bits": [("8", "Choose from: 16, 24")],
    "--reeds": [("-3 -5'", "does not bend a semitone"), ("x", '"x" is not a reed')],
    "--over": [
        ("Twelv bars", 'Did you mean "Twelve bars"?'),
        ("none.form", "none.form: cannot read this file"),
    ],
    "--form": [
        ("Twelv bars", 'Did you mean "Twelve bars"?'),
        ("none.form", "none.form: cannot read this file"),
    ],
    "--feel": [("Rumba", "Say over which form")],
    "--lay": [("loop", "Say over which form")],
    "--choruses": [("2", "Say over which form"), ("two", "takes a whole number")],
    "--seed": [("7", "Say over which form"), ("x", "takes a whole number")],
    "--band": [("plain", "Say over which form")],
    "backing --feel": [("Rhumba", 'Did you mean "Rumba"?')],
    "backing --choruses": [("0", "write 1 to 50"), ("51", "write 1 to 50")],
    "backing --seed": [("-1", "cannot be played")],
    "backing --loose": [("4", "cannot be played; write 0 to 3"), ("x", "takes a whole number")],
    "backing --plan": [
        ("quiet, loud", 'the plan has "loud"'), ("stop x2", 'Did you mean "stops"?'),
        ("2x quiet, full", 'Did you mean "quiet x2"?'),
        ("full x0", "write x2 to x50"), (",", "names no chorus"), ("even x51", "write x2 to x50"),
        ("even x50, full", "51 choruses"),
    ],
    "backing --intro": [("turnarond", 'there is no intro "turnarond". Did you mean "turnaround"?')],
    "backing --ending": [("fade", 'there is no ending "fade". Choose from: written, tag, held.')],
    "backing --to": [
        ("mp3", 'no format "mp3" for a backing: MP3 is a kind of sound'),
        ("midi,flac", "Write --to wav --audio flac"), ("md", 'Did you mean "midi"?'),
    ],
    "--key": [
        ("X", 'there is no key "X"'), ("E blus", 'Did you mean "E blues"?'),
        ("", "no key is named"), ("low E", '"low E" is a harp'),
    ],
    "--case": [("X", 'there is no harp "X"'), ("", "no harp"), ("C" + ",C" * 40, "40 harps")],
    "dictate --to": [("shet", 'Did you mean "sheet"?'), (" , ", "no dictation is named")],
    "--questions": [("0", "write 1 to 40"), ("41", "write 1 to 40"), ("x", "a whole number")],
    "dictate --seed": [("-1", "a seed of -1 cannot be used"), ("x", "takes a whole number")],
    "--pause": [("1", "write 2 to 30"), ("31", "write 2 to 30"), ("x", "takes a whole number")],
    "backing --click": [("loud", '"loud" is not a value of --click. Write --click beats or')],
    "backing --band": [("none.sf2", "there is no SoundFont none.sf2.")],
    "backing --tempo": [("0", "write 20 to 300")],
    "--chords": [("I7 IVq", 'ends in "q"'), (" ".join(["I"] * 9), "takes 1 to 8 chords")],
    "--level": [("6", "goes from 1 to 5; 6 is not in it")],
    "--hole": [("0", "goes from 1 to 10; 0 is not in it")],
    "--chord": [("C7", "lower case for a minor one"), ("IVb", "write bIV")],
    "--rungs": [("11", "Add --phrases and --over")],
    "--rung": [("-3b", "Write -3' for draw 3 bent"), ("5'", "does not bend"), ("11", "no hole 11")],
    "--from": [("D2", "Write -2 for draw 2"), ("home", '"home" is not a reed')],
    "--topic": [("hom", 'Did you mean "home"?')],
    "--technique": [("slid", 'Did you mean "slide"?')],
}  # fmt: skip
WRONG_CALLS = [
    (command, option, value, message)
    for command, options in TAKES.items()
    for option in options
    for value, message in BAD.get(f"{command} {option}", BAD.get(option, []))
]


@pytest.mark.parametrize(("command", "option", "value", "message"), WRONG_CALLS)
def test_a_wrong_value_is_refused_and_nothing_is_written(
    command: str, option: str, value: str, message: str
) -> None:
    names = {
        "dictate": ["Home from every rung"],
        "make": ["Two bars home"],
        "expand": ["Two bars home"],
        "check": ["Two bars home"],
    }
    file("course.toml", COURSE)
    names |= {"pack": ["course.toml", "--out", "course"]}
    file("take.wav", "not opened before the rest is right")
    names |= {"hear": ["take.wav", *([] if option == "--drill" else ["--drill", "Two bars home"])]}
    kept_in(Path("takes.json"), [taken()])
    names |= {"record": ["add", "takes.json"], "progress": ["Ada"], "next": ["Ada"]}
    of_place = {"--position": ["--level", "2"], "--book": ["--student", "Ada"]}
    names |= {"place": of_place.get(option, [])}
    if (command == "next" and option != "--book") or (command, option) == ("place", "--student"):
        said("record", "add", "takes.json", "--student", "Ada")
    names |= {"backing": ["--form", "Twelve bars"]} if option != "--form" else {}
    names |= {"keys": ["--key", "E"]} if option != "--key" else {}
    for extra in ([], ["--json"]):
        assert message in refused(command, *names.get(command, []), option, value, *extra)


def test_every_option_with_a_value_is_in_the_table() -> None:
    for name, command in cli.commands.items():
        valued = {
            param.opts[0]
            for param in command.params
            if isinstance(param, click.Option) and not param.is_flag
        }
        own = {"--out"} | ({"--to"} if name in ("roles", "keys") else set())  # tested on their own
        assert valued - own == set(TAKES.get(name, [])), name


def test_roles_in_chords_for_programs_and_for_people() -> None:
    """Draw 3 bent one on a C harp is Bb, the b7 of C7 (counted by hand)."""
    found = data("roles", "--chords", "--reeds", "-3'")
    check_fields(found, fields("harp:str tuning:str position:int key:str mode:str reeds:list"))
    [reed] = found["reeds"]
    assert [each["symbol"] for each in reed["chords"]] == ["G7", "C7", "D7"]
    assert reed["chords"][1] == {
        "chord": "IV7", "symbol": "C7", "tone": "b7", "from_root": "b7", "role": "b7",
    }  # fmt: skip
    text = said("roles", "--chords", "i7 V7", "--position", "3", "--reeds", "-4 -5")
    assert "3rd position, key of D dorian" in text
    assert text.split("\n")[2].split() == ["-4", "D", "1", "root", "(tension:", "4)"]


def test_a_role_chart_is_a_page_and_nothing_else() -> None:
    assert 'there is no role chart as "tab"' in refused("roles", "--to", "tab")
    text = said("roles", "--to", "sheet", "--harp", "F#", "--out", "o")
    assert text == "role chart  o/roles-f-sharp.pdf\n"
    assert Path("o/roles-f-sharp.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("command", ["make", "expand", "check"])
@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("Two bars hom", 'there is no drill "Two bars hom". Did you mean "Two bars home"?'),
        ("none.drill", "none.drill: cannot read this file: it is not there."),
        ("bad.drill", "bad.drill:2:11: hole 5 draw does not bend a semitone"),
        ("empty.drill", "empty.drill:1:1: there is no drill in this file"),
        ("x" * 300, "there is no drill"),
    ],
)
def test_a_wrong_drill_is_refused(command: str, name: str, message: str) -> None:
    file("bad.drill", WRONG)
    file("empty.drill", "")
    assert refused(command, name).startswith(message)
    if command != "check":  # which goes on to the next file
        assert refused(command, name, "--json").startswith(message)


def test_one_wrong_drill_among_right_ones_makes_nothing() -> None:
    refused("make", "Two bars home", file("bad.drill", WRONG), "--to", "tab")
    refused("make", "Two bars home", "--harp", "C,Q", "--to", "tab")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--to page --large --show tab --replace",
         "--large and --show tab change nothing here: they are for sheets and charts. Add one: "
         "--to page,sheet\n"),
        ("--to tab,midi --paper Letter",
         "--paper letter changes nothing here: it is for sheets and charts. Add one: "
         "--to tab,midi,sheet\n"),
        ("--to tab --paper A4 --show both", ""),
        ("--to svg --large --black", ""),
    ],
)  # fmt: skip
def test_what_is_asked_of_a_sheet_that_is_not_made_is_told(words: str, said: str) -> None:
    done = run("make", "Two bars home", *words.split())
    assert (done.exit_code, done.stderr) == (0, said)


def test_other_commands_tell_it_too() -> None:
    chart = run("backing", "--form", "Twelve bars", "--to", "text", "--black")
    assert (chart.exit_code, chart.stderr) == (
        0,
        "--black changes nothing here: it is for sheets and charts. Add one: --to text,chart\n",
    )
    assert run("roles", "--large").stderr.endswith("Add one: --to sheet\n")
    takes = run("hear", "none.wav", "--drill", "Two bars home", "--large").stderr.splitlines()
    assert takes[0].endswith("Add one: --to sheet")
    assert run("hear", "none.wav", "--harp-test", "--large").stderr.splitlines()[0] == (
        "--large changes nothing here: it is for sheets and charts. Leave it out."
    )


def test_the_paths_of_made_files_stand_in_one_column() -> None:
    """Whatever the longest name of a kind is: practice and musicxml have eight letters."""
    for words in (
        ("make", "Two bars home", "--to", "tab,page,musicxml,wav"),
        ("make", "Two bars home", "--to", "wav", "--click", "--stems"),
        ("backing", "--form", "Twelve bars", "--to", "text,midi"),
    ):
        _, *lines = said(*words).splitlines()
        assert len(lines) >= 2
        assert len({line.index("output/") for line in lines}) == 1
        longest = max(lines, key=lambda line: len(line.split()[0]))
        assert re.match(r"  [a-z]+  output/", longest)


def test_a_band_that_no_sound_file_lets_be_heard_is_refused() -> None:
    words = ("make", "Two bars home", "--over", "Twelve bars", "--tempo", "96", "--to", "page")
    assert refused(*words, "--band", "plain") == (
        "what you ask of the sound goes into a sound file. Add wav: --to wav\n"
    )


@pytest.mark.parametrize("option", ["--drone", "--click"])
def test_a_mix_without_a_sound_file_is_refused(option: str) -> None:
    message = "what you ask of the sound goes into a sound file. Add wav: --to wav\n"
    assert refused("make", "Two bars home", "--to", "tab", option) == message


@pytest.mark.parametrize("command", ["make", "expand", "check"])
def test_a_command_without_a_drill_says_what_is_missing(command: str) -> None:
    assert "Missing argument" in refused(command)


@pytest.mark.parametrize("command", TAKES)
def test_a_wrong_option_is_refused(command: str) -> None:
    assert "No such option" in refused(command, "--tepmo")
    if "--tempo" in TAKES[command]:
        assert "--tempo" in refused(command, "--tepmo")


@pytest.mark.parametrize("option", [("--out", "o"), ("--harp", "A"), ("--tempo", "60")])
def test_a_drill_may_stand_after_the_value_of_an_option(option: tuple[str, str]) -> None:
    assert "my-own-b-b" in said("make", "--to", "tab", *option, file("mine.drill", MINE))


def test_a_wrong_command_is_refused_with_the_nearest() -> None:
    assert 'there is no command "mkae". Did you mean "make"?' in refused("mkae")
    assert "Commands are: " in refused("zzz")


# --- check reads on ---


def test_check_reports_the_errors_of_every_file() -> None:
    file("a.drill", WRONG)
    file("b.drill", MINE)
    file("c.drill", 'drill "C"\n  play -2 |')
    for extra in ([], ["--json"]):
        alone = json.loads(run("check", "a.drill", "--json").stdout)
        assert alone["files"] == alone["warnings"] == []
        [row] = alone["mistakes"]
        assert (row["file"], row["key"]) == ("a.drill", "no-note-to-bend-to")
        result = run("check", "a.drill", "b.drill", "none.drill", "c.drill", *extra)
        assert result.exit_code == 2
        places = re.findall(r"^(\S+?):", result.stderr, re.MULTILINE)
        assert places == ["a.drill", "none.drill", "c.drill"]
        assert "this bar has 1 beat, but" in result.stderr
        if extra:
            assert [row["file"] for row in json.loads(result.stdout)["files"]] == ["b.drill"]
        else:
            assert result.stdout.startswith("b.drill: right, 1 drill\n")


def test_check_is_for_the_harp_it_is_told() -> None:
    """On a country harp draw 5 bends, on a Richter harp it does not (OEIS A291810)."""
    refused("check", file("a.drill", WRONG))
    said("check", "a.drill", "--tuning", "country")


# --- a render that fails ---


@pytest.mark.parametrize("extra", [[], ["--json"]], ids=["people", "programs"])
def test_a_failed_render_is_exit_code_1_and_writes_nothing(
    extra: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_score: object) -> bytes:
        raise RenderError("the page could not be drawn.")

    monkeypatch.setattr("reedmill.formats.text_tab.tab_text", fail)
    result = run("make", "Two bars home", "--to", "midi,tab", *extra)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == "the page could not be drawn.\n"
    assert not [path for path in Path().rglob("*") if path.is_file()]


def test_a_folder_that_cannot_be_made_is_a_failed_render() -> None:
    file("taken", "a file of the player's")
    result = run("make", "Two bars home", "--to", "tab", "--out", "taken/here")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "cannot be written" in result.stderr
    assert Path("taken").read_text() == "a file of the player's"


# --- help, version, completion ---


@pytest.mark.parametrize("option", ["-h", "--help"])
def test_help_names_every_command_with_what_it_does(option: str) -> None:
    text = said(option)
    for name, command in cli.commands.items():
        assert re.search(rf"^  {name} +\S+", text, re.MULTILINE)
        assert not command.get_short_help_str().endswith("..."), name


COURSE = """
title = "Mine"
author = "Me"
harps = ["C"]
[[students]]
name = "Ada"
harps = ["A"]
[[lessons]]
title = "One"
  [[lessons.exercises]]
  drill = "Two bars home"
  hand_out = ["tab"]
"""


def examples(command: str) -> list[str]:
    return re.findall(rf"^ .*(reedmill {command}\b.*)$", said(command, "--help"), re.MULTILINE)


def record_the_takes_of_help() -> None:
    """Takes of a drill of the library and of one's own, of a whole harp, and of choruses."""
    home, mine = score_of("Home from every rung", "C"), parse(MINE)[0]
    recorded(Path(), "take", home, played(home), "aac")
    score = expand(mine, Harp.parse("low F"), Position(2), tempo_bpm=50)
    for name in ("monday", "tuesday"):
        recorded(Path(), name, score, played(score))
    recorded(Path(), "slow", home, reeds(Harp("C"), {}))
    plan = ChorusPlan("Twelve bars", level=2, seed=7)
    phrases = [each.drill for each in shipped_phrases()]
    chorus = phrased(phrases, Harp("C"), Position(2), plan).score
    recorded(Path(), "chorus", chorus, played(chorus), "aac")


def keep_the_tasks_of_help() -> None:
    """A folder with a take of one of the ten tasks, which is kept as Ada's too."""
    task = score_of("Task 6, both bends of draw 2", "C")
    Path("recordings").mkdir()
    recorded(Path("recordings"), "task-6", task, played(task))
    said("hear", "recordings", "--student", "Ada")


@pytest.mark.parametrize("command", cli.commands)
def test_the_help_of_each_command_has_examples_that_run(command: str) -> None:
    file("mine.drill", MINE)
    file("mine.form", 'form "Mine"\n  bars I7 x2 | V7 | I7\n')
    file("mine.feel", 'feel "Mine"\n  bass root on 1 3\n  drums kick on 1 3\n')
    file("course.toml", COURSE)
    if command == "clean":
        said("pack", "course.toml", "--out", "course", "--jobs", "1")
    if command == "hear":
        record_the_takes_of_help()
    if command == "place":
        keep_the_tasks_of_help()
    if command in ("progress", "next", "class"):
        kept_in(Path("takes.json"), [taken()])
        for book in ([], ["--book", "class.book"]):
            said("record", "add", "takes.json", "--student", "Ada", *book)
    if command == "record":
        kept_in(Path("takes.json"), [taken()])
        Path("exported").mkdir()
        kept_in(Path("exported/monday.json"), [taken()])
    found = examples(command)
    assert found
    for example in found:
        words = shlex.split(example.partition(">")[0])[1:]
        assert said(*words, *(["--to", "wav,tab"] if command == "make" else []))


def test_the_examples_of_the_first_page_run() -> None:
    file("mine.drill", MINE)
    text = said("--help").partition("Options:")[0]
    found = re.findall(r"(reedmill (?:make|drills|check)\b.*?)(?:$|  and)", text, re.MULTILINE)
    assert len(found) == 4
    for example in found:
        words = shlex.split(example)[1:]
        assert said(*words, *(["--to", "wav"] if words[0] == "make" else []))


def test_every_option_says_what_it_is_for() -> None:
    for command in cli.commands.values():
        for param in command.params:
            if isinstance(param, click.Option):
                assert (param.help or "").endswith((".", "]")), (command.name, param.opts)


def test_version() -> None:
    import tomllib

    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())["project"]
    assert said("--version") == f"reedmill {project['version']}\n"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_completion_script_of_each_shell(shell: str) -> None:
    """What click's documentation of shell completion says it must hold."""
    text = said("completion", shell)
    assert f"_REEDMILL_COMPLETE={shell}_complete" in text
    assert "reedmill" in text.replace("_REEDMILL_COMPLETE", "")


def test_no_completion_for_another_shell() -> None:
    assert "bash, zsh, fish" in refused("completion", "csh")


def completed(*words: str) -> list[tuple[str, str]]:
    shell = ShellComplete(cli, {}, "reedmill", "_REEDMILL_COMPLETE")
    found = shell.get_completions(list(words[:-1]), words[-1])
    return [(item.type, item.value) for item in found]


@pytest.mark.parametrize("command", ["make", "expand", "check"])
def test_drills_are_completed_without_spaces_and_found_again(command: str) -> None:
    found = completed(command, "Home")
    assert ("plain", "home-from-four-rungs") in found
    assert {kind for kind, _ in found} == {"plain"}
    every = [name for _, name in completed(command, "")]
    assert len(every) == len(TITLES)
    assert titles_of(tuple(every)) == TITLES


@cache
def titles_of(names: tuple[str, ...]) -> list[str]:
    """The titles of drills that are called so, by ``expand``: a row for each embouchure plan."""
    return list(dict.fromkeys(row["title"] for row in data("expand", *names)["drills"]))


def test_a_file_is_left_to_the_shell() -> None:
    assert completed("make", "mine.dr") == [("file", "mine.dr")]


@pytest.mark.parametrize("command", ["make", "expand", "notes", "roles", "check"])
def test_harps_are_completed_without_spaces_and_read_again(command: str) -> None:
    found = [name for _, name in completed(command, "--harp", "b")]
    assert found == ["Bb", "B"]
    low = [name for _, name in completed(command, "--harp", "low")]
    assert len(low) == 12
    assert [data("notes", "--harp", name)["harp"] for name in low] == [
        name.replace("-", " ") for name in low
    ]


def test_a_drill_in_a_position_it_is_not_meant_for_says_so() -> None:
    result = run("expand", "Two bars home", "--position", "3", "--harp", "C,A")
    assert result.exit_code == 0
    assert result.stderr == (
        '"Two bars home" is meant for 2nd position; in 3rd its notes are other degrees.\n'
    )
    assert said("expand", "Two bars home", "--position", "2")


def test_expand_says_why_a_tune_is_on_these_reeds_and_in_data_too(tmp_path: Path) -> None:
    """One row for each pair of ways: 5 1 twice, from draw 4; then home from blow 4."""
    file = tmp_path / "why.drill"
    file.write_text('drill "Why"\n  tune 5 1:2 r | 5 1 4 1 |\n', "utf-8")
    done = run("expand", str(file), "--why")
    assert done.output.endswith(
        "Why, C harp, 2nd position: 1 is G4; cost 10; every other note has one reed\n"
        "bar:beat  degree  played  not  because\n"
        "1:2       1       -2      3    1 turn of the breath less, though 1 hole further\n"
        "2:2       1       3       -2   2 holes nearer\n"
        "2:4       1       -2      3    a phrase ends at home, though the other way costs 3 less\n"
    )
    plain, told = (json.loads(run("expand", str(file), "--json", *more).output)
                   for more in ([], ["--why"]))  # fmt: skip
    [row] = told.pop("why")
    assert told == plain
    [tune] = row["tunes"]
    assert [each["because"] for each in tune["choices"]] == ["easier", "easier", "home"]


PLANS = (
    'drill "Mouth"\n  embouchure tongue right\n  anchor -2\n  rungs -3 -4\n  phrase anchor rung\n'
)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ([], ["tongue right"]),
        (["--embouchure", "lips"], ["lips"]),
        (["--embouchure", "Lips, tongue left"], ["lips", "tongue left"]),
        (["--embouchure", "lips or lips", "--embouchure", "tongue right"],
         ["lips", "tongue right"]),
        (["--embouchure", "anchors tongue left, rungs lips or tongue left"],
         ["anchors tongue left rungs lips", "tongue left"]),
    ],
)  # fmt: skip
def test_plans_for_the_mouth_take_the_place_of_the_drills_own(
    tmp_path: Path, asked: list[str], told: list[str]
) -> None:
    """Each in each position, with a file of its own that names it; and in the timeline."""
    file = tmp_path / "mouth.drill"
    file.write_text(PLANS, "utf-8")
    out = tmp_path / "out"
    both = ["--position", "2,3", *asked]
    done = run("make", str(file), "--to", "tab", "--out", str(out), *both)
    assert done.exit_code == 0, done.output
    names = {f"mouth-c-{place}-{each.replace(' ', '-')}.txt" for each in told
             for place in ("2nd", "3rd")}  # fmt: skip
    assert {path.name for path in out.glob("*.txt")} == names
    shown = json.loads(run("expand", str(file), "--json", *both).output)["drills"]
    holds = {"lips": "lip purse", "tongue left": "tongue block, tongue to the left",
             "tongue right": "tongue block, tongue to the right"}  # fmt: skip
    assert len(shown) == 2 * len(told)
    for each, plan in zip(shown, told * 2, strict=True):
        anchors, _, rungs = plan.removeprefix("anchors ").partition(" rungs ")
        heard = [note["embouchure"] for note in each["notes"]]
        assert heard == [holds[anchors], holds[rungs or anchors]] * 2


@pytest.mark.parametrize("command", ["make", "expand"])
def test_a_plan_for_the_mouth_that_is_not_one_is_answered(command: str) -> None:
    done = run(command, "Two bars home", "--embouchure", "tongue lef")
    assert done.exit_code == 2
    assert 'there is no embouchure "tongue lef". Did you mean "tongue left"?' in done.output
    done = run(command, "Two bars home", "--embouchure", " or ".join(["lips"] * 10))
    assert done.exit_code == 2
    assert "Write at most 9." in done.output


def test_a_take_is_heard_with_one_plan_for_the_mouth(tmp_path: Path) -> None:
    take_file = tmp_path / "take.wav"
    take_file.write_bytes(b"")
    done = run(
        "hear", str(take_file), "--drill", "Two bars home", "--embouchure", "lips, tongue left"
    )
    assert done.exit_code == 2
    assert "a take is played in one way" in done.output
    done = run("hear", str(take_file), "--harp-test", "--embouchure", "lips")
    assert "--embouchure is for takes of a drill" in done.output


def test_python_takes_a_plan_for_the_mouth_too() -> None:
    [drill] = parse(PLANS)
    [plan] = api.parse_plans("tongue left")
    score = api.expand(drill, Harp("C"), Position(2), embouchure=plan)
    assert {note.embouchure for note in score.notes} == {plan.rungs}


def test_a_temperament_reaches_the_notes_and_the_names_of_files(tmp_path: Path) -> None:
    """Draw 5 is 7/4 of draw 2 on a just harp (the harmonic series)."""
    file = tmp_path / "seventh.drill"
    file.write_text('drill "Seventh"\n  play -2 -5\n', "utf-8")
    shown = json.loads(run("expand", str(file), "--json", "--temperament", "just").output)
    root, seventh = (note["hz"] for note in shown["drills"][0]["notes"])
    assert seventh / root == pytest.approx(7 / 4, abs=1e-6)
    out = tmp_path / "out"
    run("make", str(file), "--to", "tab", "--out", str(out), "--temperament", "compromise")
    assert [path.name for path in out.glob("*.txt")] == [
        "seventh-c-2nd-tuned-as-a-compromise-harp.txt"
    ]


def test_what_would_tune_a_note_twice_is_refused(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    own.write_text('harp = "C"\ntuning = "richter"\nreference = 440\n\n[cents]\n"1" = 3\n', "utf-8")
    for more, told in (
        (["--intonation", "just5"], "Leave out one of them."),
        (["--my-harp", str(own)], "Leave out --temperament, or --my-harp."),
    ):
        done = run("make", "Two bars home", "--temperament", "just", *more)
        assert done.exit_code == 2
        assert told in done.output


@pytest.mark.parametrize("command", ["make", "expand", "check"])
def test_a_drill_is_taken_in_several_positions_in_their_order(tmp_path: Path, command: str) -> None:
    file = tmp_path / "several.drill"
    file.write_text('drill "Several"\n  tune 1 5 1:2 |\n', "utf-8")
    made = ["--to", "tab", "--out", str(tmp_path)] if command == "make" else []
    done = run(command, str(file), "--position", "third, 1st", "--position", "2", "--json", *made)
    assert done.exit_code == 0, done.output
    rows = json.loads(done.output)
    found = rows["files"] if command == "make" else rows.get("drills") or rows["files"][0]["drills"]
    assert [row["position"] for row in found] == [3, 1, 2]


def test_a_take_is_of_one_position(tmp_path: Path) -> None:
    file = tmp_path / "take.wav"
    file.write_bytes(b"")
    done = run("hear", str(file), "--drill", "Two bars home", "--position", "2,3")
    assert done.exit_code == 2
    assert "a take is compared with one harp in one position, and 2 are named." in done.output
