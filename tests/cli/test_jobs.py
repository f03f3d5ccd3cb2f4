"""Eleven jobs of a teacher: the commands that do them, and what wrong ones are told.

Each answer is written out whole, as it was read aloud; change one on purpose, never to follow
the code.
"""

from __future__ import annotations

import json
import re
import zipfile
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

import soundfonts
from reedmill.cli import cli
from reedmill.cli.meant import EXAMPLES
from reedmill.formats.table import DRILL_FORMATS
from reedmill.harp import Harp

OF_A_WORD_PROCESSOR = (
    'Open it in the program it was written with, choose "Save as" and plain text (.txt, encoding '
    "UTF-8), and give that file to the command."
)
TYPE_IT = (
    "Type the notes into a plain text file whose name ends in .drill; patterns/README.md shows how."
)
HEARD = "To have a take of a drill heard, write: reedmill hear take.m4a --drill mine.drill"
MADE_ONLY = "Reedmill makes such files and reads none: the drill it came from is a text."
COURSE = """\
title = "One evening"
harps = "{harps}"

[[students]]
name = "Ada"
harps = "{harps}"

[[students]]
name = "Ben"
harps = "A"

[[lessons]]
title = "Home"
[[lessons.exercises]]
drill = "Home from every rung"
positions = {positions}
hand_out = "{hand_out}"
"""


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, list(words), prog_name="reedmill", catch_exceptions=False)


def done(*words: str) -> str:
    """What the command prints when it does its job."""
    result = run(*words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def data(*words: str) -> Any:
    return json.loads(done(*words, "--json"))


def told(*words: str) -> str:
    """The whole answer to a wrong command: exit code 2, nothing else said, no file made."""
    before = sorted(Path().rglob("*"))
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert sorted(Path().rglob("*")) == before
    return result.stderr.removesuffix("\n")


def file(name: str, content: str | bytes) -> str:
    Path(name).write_bytes(content.encode() if isinstance(content, str) else content)
    return name


def titles(*words: str) -> list[str]:
    return [row["title"] for row in data("drills", *words)["drills"]]


# --- 1. find a drill for a rung ---


def test_job_1_find_a_drill_for_a_rung() -> None:
    found = data("drills", "--rung", "-3'''", "--from", "-2", "--level", "4")["drills"]
    assert "Home from four rungs" in [row["title"] for row in found]
    assert all({"from": "-2", "to": "-3'''"} in row["approaches"] for row in found)
    assert {row["level"] for row in found} == {4}
    assert set(titles("--rung", "-3' -3''")) == set(titles("--rung", "-3'", "--rung", "-3''"))
    assert set(titles("bends", "--hole", "3")) == set(titles("bend", "--hole", "3"))
    assert titles("--technique", "Tongue Blocks") == titles("--technique", "tongue block") != []
    [row] = [row for row in data("drills")["drills"] if row["title"] == "Home from every rung"]
    assert row["practised"] == ["-3", "-3'", "-3''"]
    assert row["practised_holes"] == [3]
    assert {"from": "-2", "to": "-3'"} in row["approaches"]
    assert re.search(r"^draw bend +\d+$", done("drills", "--techniques"), re.M)
    assert re.search(r"^home +\d+$", done("drills", "--topics"), re.M)


def test_job_1_gone_wrong() -> None:
    assert told("drills", "--rung", "-3b") == (
        '"-3b" is not a reed. Write -3\' for draw 3 bent a semitone.'
    )
    assert told("drills", "--technique", "bendings") == (
        'there is no technique "bendings". Choose from: single notes, draw bend, blow bend, '
        "overbend, quarter tone, slide, slow slide, scoop, fall, vibrato, hand mute, double stop, "
        "chord, shake, tongue block, lift, octave split, slap, pull, triplets, shuffle, echo."
    )
    assert told("drills", "--position", "2,3") == (
        '--position takes one position here, and "2, 3" names 2. Give the command once for each.'
    )


# --- 2. a sheet for three students' harps ---


def test_job_2_three_harps_as_people_write_them() -> None:
    found = data("make", "Two bars home", "--to", "Tab", "--harp", "B flat, LF", "--harp", "Fis")
    assert [row["harp"] for row in found["files"]] == ["Bb", "low F", "F#"]
    for name in ("B\N{MUSIC FLAT SIGN}", "Bb major", "b flat harp"):
        assert data("notes", "--harp", name)["harp"] == "Bb"
        course = COURSE.format(harps=name, positions="[2]", hand_out="tab")
        assert "One evening" in done("check", file("c.toml", course))


def test_job_2_every_harp_a_shell_completes_is_one() -> None:
    notes = cli.commands["notes"]
    [harp] = [each for each in notes.params if each.name == "harp"]
    names = [item.value for item in harp.shell_complete(click.Context(notes), "")]
    assert len(names) == 24  # twelve keys, each in the low register too
    assert [Harp.parse(name).name for name in names] == [name.replace("-", " ") for name in names]


def test_job_2_gone_wrong() -> None:
    assert told("make", "Two bars home", "--harp", "Bm", "--to", "tab") == (
        'there is no harp "Bm": a harp is called by the key of its blow chord. A natural minor '
        "harp sold as Bm, by the key of draw 2 as most are, is here: E natural minor"
    )
    assert told("make", "Two bars homme", "--to", "tab") == (
        'there is no drill "Two bars homme". Did you mean "Two bars home"? Put a whole title in '
        "quotes; reedmill drills lists them. A file of your own ends in .drill."
    )


# --- 3. two positions ---


@pytest.mark.parametrize(
    "words",
    [
        ["--position", "2,3"],
        ["--position", "2nd", "--position", "third"],
        ["--position", "Cross, 3"],
        ["--position", "cross harp, 3rd position, 2"],  # each once
    ],
)
def test_job_3_two_positions(words: list[str]) -> None:
    """Every harp comes in each position before the next harp does; each row tells its own."""
    made = data("make", "Home from every rung", "--to", "tab", "--harp", "C, A", *words)["files"]
    order = [("C", 2), ("C", 3), ("A", 2), ("A", 3)]
    assert [(row["harp"], row["position"]) for row in made] == order
    assert len({row["path"] for row in made}) == 4
    drills = data("expand", "Home from every rung", "--harp", "C, A", *words)["drills"]
    assert [(row["harp"], row["position"]) for row in drills] == order
    assert "right, 1 drill" in done("check", file("m.drill", 'drill "M"\n  play -2\n'), *words)


def test_job_3_the_same_words_in_drills_forms_and_courses() -> None:
    drill = 'drill "M"\n  positions 3rd, cross harp, Fifth\n  play -2\n'
    assert "right" in done("check", file("m.drill", drill))
    made = data("make", "m.drill", "--to", "tab")["files"]
    assert [row["position"] for row in made] == [2]  # cross harp, where it is on the line
    form = 'form "F"\n  positions third\n  bars I7 x4\n'
    made = data("backing", "--form", file("m.form", form), "--to", "TEXT")["files"]
    assert "-d-" in made[0]["path"]  # 3rd position on a C harp is in D
    for positions in ('"2nd, third"', '["Cross", 3]', "[2, 3]"):
        course = COURSE.format(harps="C", positions=positions, hand_out="Tab")
        assert "One evening" in done("check", file("c.toml", course))
        assert "positions" not in run("pack", "c.toml", "--plan").stderr


def test_job_3_gone_wrong() -> None:
    assert told("make", "Two bars home", "--position", "2, corss", "--to", "tab") == (
        'there is no position "corss". Did you mean "cross"? Positions go from 1 to 12; 2 is '
        "cross harp."
    )
    once = ' takes one position here, and "2, 3" names 2. Give the command once for each.'
    for words in (["notes"], ["roles"], ["backing", "--form", "Twelve bars"]):
        assert told(*words, "--position", "2", "--position", "3") == f"--position{once}"


# --- 4. large print on Letter ---


def test_job_4_values_in_any_case() -> None:
    [row] = data(
        "make", "Two bars home", "--to", "TAB", "--paper", "Letter", "--large", "--show", "Both",
        "--intonation", "JUST5", "--tuning", "Richter", "--offsets", "B3=-12, B7=-31",
    )["files"]  # fmt: skip
    assert Path(row["path"]).is_file()
    course = COURSE.format(harps="C", positions='"2ND"', hand_out="Audio")
    course += 'click = "Beats"\ndrone = "Root+Fifth"\naudio = ["MP3"]\n'
    course = course.replace(
        "\n[[students]]", 'tuning = "Country"\n[page]\npaper = "Letter"\n[[students]]', 1
    )
    assert "One evening" in done("check", file("c.toml", course))


def test_job_4_gone_wrong() -> None:
    assert told("make", "Two bars home", "--paper", "legal", "--to", "tab") == (
        'there is no paper "legal". Choose from: a4, letter.'
    )
    assert told("make", "Two bars home", "--show", "tabs", "--to", "tab") == (
        '"tabs" is not something a sheet can show. Did you mean "tab"? Write both, notation or tab.'
    )


# --- 5. play-along with drone and count-in ---


def test_job_5_play_along() -> None:
    made = data(
        "make", "--drone", "Two bars home", "--click", "OffBeats", "--count-in", "1", "--to",
        "Wav", "--audio", "FLAC",
    )["files"]  # fmt: skip
    assert {row["stem"] for row in made} == {"tones", "mix"}
    assert all(row["path"].endswith(".flac") for row in made)


@pytest.mark.parametrize(
    ("option", "value", "takes"),
    [
        ("--click", "yes", "beats or offbeats; alone it means beats"),
        (
            "--drone", "please",
            "root, root+fifth, root+octave or root+fifth+octave; alone it means root",
        ),
        ("--echo", "two", "2 (or another number of bars); alone it means the whole drill"),
    ],
)  # fmt: skip
def test_job_5_a_word_after_an_option_is_never_taken_for_a_drill(
    option: str, value: str, takes: str
) -> None:
    answer = (
        f'"{value}" is neither a value of {option} nor a drill. Write {option} {takes}. '
        "reedmill drills lists the drills."
    )
    assert told("make", "Two bars home", option, value) == answer
    assert told("make", option, value, "Two bars home") == answer


def test_job_5_gone_wrong() -> None:
    assert told("make", "Two bars home", "--click", "beat") == (
        '"beat" is neither a value of --click nor a drill. Did you mean "beats"? Write --click '
        "beats or offbeats; alone it means beats. reedmill drills lists the drills."
    )
    assert told("backing", "--form", "Twelve bars", "--click", "yes") == (
        '"yes" is not a value of --click. Write --click beats or offbeats; alone it means beats.'
    )
    for name, content, answer in OTHER_FILES:
        if "SoundFont" in answer:
            continue
        what = answer.partition(". ")[0].replace("this is ", "")
        assert told("make", "Two bars home", "--to", "wav", "--voice", file(name, content)) == (
            f"{name} is {what}, not a SoundFont. Files of that kind end in .sf2 or .sf3; a packed "
            "one must be unpacked first."
        )


# --- 6. a slower version ---


def test_job_6_a_slower_version() -> None:
    assert data("expand", "Two bars home", "--tempo", "48")["drills"][0]["tempo"] == 48
    made = data(
        "make", "Two bars home", "--to", "wav", "--audio", "mp3", "--ladder", "50 TO 60 BY 10"
    )
    assert made["files"]


def test_job_6_gone_wrong() -> None:
    assert told("make", "Two bars home", "--to", "wav", "--ladder", "50-60") == (
        '"50-60" is not a tempo ladder. Write for example: 60 to 90 by 5'
    )


# --- 7. write one's own drill and check it ---


def of_a_docx() -> bytes:
    with zipfile.ZipFile("made.zip", "w") as packed:
        for name in ("[Content_Types].xml", "_rels/.rels", "word/document.xml"):
            packed.writestr(name, "<x/>")
    return Path("made.zip").read_bytes()


_ODT = b"PK\x03\x04" + bytes(26) + b"mimetypeapplication/vnd.oasis.opendocument.textPK\x03\x04"
# The first bytes of each are those its specification has, from memory: OpenDocument 1.2 part 3,
# MS-CFB 2.2, Rich Text Format 1.9.1, ISO 32000-1 7.5.2, W3C PNG 5.2, ISO/IEC 10918-1 with JFIF,
# RP-001 (Standard MIDI Files), Microsoft's RIFF and WAVE, PKWARE's APPNOTE 4.3.16, SoundFont 2.04.
OTHER_FILES: list[tuple[str, bytes, str]] = [
    ("mine.odt", _ODT, f"this is a file of a word processor. {OF_A_WORD_PROCESSOR}"),
    (
        "old.doc", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
        f"this is a file of an office program. {OF_A_WORD_PROCESSOR}",
    ),
    (
        "mine.rtf", rb"{\rtf1\ansi drill}",
        f"this is rich text (RTF) of a word processor. {OF_A_WORD_PROCESSOR}",
    ),
    (
        "mine.pdf", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n",
        "this is a PDF. Copy its words into a plain text file, or type the notes into one.",
    ),
    ("tab.png", b"\x89PNG\r\n\x1a\n" + bytes(300_000), f"this is a PNG picture. {TYPE_IT}"),
    ("tab.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF", f"this is a JPEG picture. {TYPE_IT}"),
    ("riff.mid", b"MThd\x00\x00\x00\x06\x00\x00", f"this is a MIDI file. {MADE_ONLY}"),
    ("riff.wav", b"RIFF\x24\x00\x00\x00WAVEfmt ", f"this is a sound file. {HEARD}"),
    (
        "all.zip", b"PK\x05\x06" + bytes(18),
        "this is an archive. Unpack it first, and name one of the files in it.",
    ),
    (
        "band.sf2", b"RIFF\x24\x00\x00\x00sfbkLIST",
        "this is a SoundFont. Give it with --voice for the tones or --band for the band; "
        "reedmill soundfont measures it.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "content", "answer"), OTHER_FILES, ids=[row[0] for row in OTHER_FILES]
)
@pytest.mark.parametrize("ending", ["", ".drill", ".txt"])  # the content tells, not the name
def test_job_7_a_file_of_another_kind_is_named_by_every_command(
    name: str, content: bytes, answer: str, ending: str
) -> None:
    given = file(name + ending, content)
    what, _, instead = answer.partition(". ")
    for command, wanted in [
        (["make"], "a drill"), (["expand"], "a drill"), (["check"], "a drill"),
        (["format"], "a drill"), (["backing", "--form"], "a form"), (["pack"], "a course"),
        (["make", "Two bars home", "--tuning"], "a tuning"),
    ]:  # fmt: skip
        assert told(*command, given) == f"{given}: {what}, not {wanted}. {instead}"


def test_job_7_a_word_processors_own_file() -> None:
    given = file("mine.docx", of_a_docx())
    assert told("make", given) == (
        f"mine.docx: this is a file of a word processor, not a drill. {OF_A_WORD_PROCESSOR}"
    )


def test_job_7_curly_quotes() -> None:
    assert told("check", file("m.drill", "drill \u201cHome\u201d\n  play -2\n")) == (
        "m.drill:1:7: this is a curly quote: \u201c\n"
        "    1 | drill \u201cHome\u201d\n"
        "      |       ^\n"
        '  Write straight quotes, such as drill "Home from every rung".'
    )
    for opening, closing in ("\u201e\u201c", "\u2018\u2019", "\u00ab\u00bb"):
        text = f'drill "Home"\n  about {opening}Step off{closing}\n  play -2\n'
        assert f"m.drill:2:9: this is a curly quote: {opening}\n" in told(
            "check", file("m.drill", text)
        )
    held = 'drill "Home"\n  about "The \u201chome\u201d note, Ann\u2019s \u2018one\u2019"\n'
    held += "  play -2 -3\u2019 -3\u201d\n"
    assert "right" in done("check", file("m.drill", held))  # inside a text, and as ticks


def test_job_7_other_ways_of_writing_tab() -> None:
    signs = (
        "  A hole alone is a blow, - before it a draw, each ' after it bends a semitone and ^ is "
        "an overbend."
    )
    for theirs, ours in {
        "-3b": "-3' for draw 3 bent a semitone", "6o": "6^ for overblow 6", "3D": "-3 for draw 3",
        "D3": "-3 for draw 3", "4B": "4 for blow 4", "3\u2193": "-3 for draw 3",
        "3b": "-3' for draw 3 bent a semitone, or 3 for blow 3",
    }.items():  # fmt: skip
        assert told("check", file("m.drill", f'drill "M"\n  play -2 {theirs}\n')) == (
            f'm.drill:2:11: "{theirs}" is another way of writing tab\n'
            f"    2 |   play -2 {theirs}\n"
            f"      |           {'^' * len(theirs)}\n"
            f"  Write {ours}.\n{signs}"
        )
    assert told("check", file("m.drill", 'drill "M"\n  play -2 (3)\n')) == (
        "m.drill:2:12: brackets do not say draw or blow here\n"
        "    2 |   play -2 (3)\n"
        "      |            ^\n"
        "  Write -3 for draw 3, 3 for blow 3. Brackets hold what is repeated: (-2 -3)x4"
    )
    assert "right" in done("check", file("m.drill", 'drill "M"\n  play +4 -2 -3\n'))
    assert told("check", file("m.drill", 'drill "M"\n  play +4 -2-3\n')) == (
        "m.drill:2:11: there is no space between the reeds of -2-3\n"
        "    2 |   play +4 -2-3\n"
        "      |           ^^^^\n"
        "  Write -2&3 for all of them at once, or -2 -3 for one after the other."
    )


def test_job_7_printed_tab_is_pasted_back() -> None:
    [row] = data("make", "Two bars home", "--to", "tab")["files"]
    tab, _, _ = Path(row["path"]).read_text("utf-8").partition("Degrees of the key:")
    lines = [line for line in tab.split("\n") if line.endswith("|")]
    mine = 'drill "Mine"\n  play\n' + "\n".join(lines) + "\n"
    assert "right, 1 drill" in done("check", file("m.drill", mine))

    def reeds(drill: str) -> list[str]:
        return [note["tab"] for note in data("expand", drill)["drills"][0]["notes"]]

    assert reeds("m.drill") == reeds("Two bars home")
    done("format", "m.drill")
    assert reeds("m.drill") == reeds("Two bars home")


# --- 8. backing in a key ---


def test_job_8_a_backing_in_a_key() -> None:
    made = data("backing", "--form", "twelve BARS", "--harp", "B flat", "--position", "Cross",
                "--to", "Midi")["files"]  # fmt: skip
    [row] = made
    assert "-f-" in row["path"]  # cross harp on a B flat harp is in F


def test_job_8_gone_wrong() -> None:
    form = file("my form.form", 'form "Mine"\n  bars I7 x4\n')
    answer = (
        "my form.form: this is a form (the chords of a chorus), not a drill. Play it with: "
        "reedmill backing --form 'my form.form', or under a drill with --over 'my form.form'"
    )
    assert told("make", form) == told("expand", form) == answer
    assert told("make", file("named.drill", 'form "Mine"\n  bars I7 x4\n')) == answer.replace(
        "'my form.form'", "named.drill"
    ).replace("my form.form", "named.drill")  # whatever it is called
    assert told("make", "not-there.form").startswith("not-there.form: this is a form (")
    assert told("make", file("f.feel", 'feel "Mine"\n  bass root on 1\n')) == (
        "f.feel: this is a feel (how a band plays), not a drill. Play a form with it: reedmill "
        'backing --form "Twelve bars" --feel f.feel'
    )
    drill = file("m.drill", 'drill "M"\n  play -2\n')
    made_with = "Make its sheet and sound with: reedmill make m.drill"
    assert told("backing", "--form", drill) == f"m.drill: this is a drill, not a form. {made_with}"
    assert told("make", "Two bars home", "--over", drill, "--to", "tab") == (
        f"m.drill: this is a drill, not a form. {made_with}"
    )
    assert told("backing", "--form", "Twelve bars", "--key", "E", "--harp", "C") == (
        "in 2nd position a C harp plays in G, and the song is in E. Leave out --harp: an A harp "
        "plays in E there. A C harp does in 5th position."
    )


# --- 9. a course for two students ---


def test_job_9_a_course_for_two_students() -> None:
    course = file("c.toml", COURSE.format(harps="LF", positions="[2]", hand_out="tab"))
    assert done("check", course) == "c.toml: right\n  One evening: 1 lesson\n"
    found = data("pack", course, "--plan")
    text = json.dumps(found)
    assert "ada" in text.lower()
    assert "ben" in text.lower()


def test_job_9_a_lesson_text_of_another_kind() -> None:
    course = COURSE.format(harps="C", positions="[2]", hand_out="tab")
    file("week.md", rb"{\rtf1\ansi Home}")
    given = file(
        "c.toml", course.replace('title = "Home"', 'title = "Home"\ntext_file = "week.md"')
    )
    answer = told("check", given)
    assert '"week.md" is rich text (RTF) of a word processor, not plain text' in answer
    assert OF_A_WORD_PROCESSOR in answer


def test_job_9_gone_wrong() -> None:
    course = file("c.toml", COURSE.format(harps="C", positions="[2]", hand_out="tab"))
    build = "Build it with: reedmill pack c.toml"
    assert told("make", course) == f"c.toml: this is a course, not a drill. {build}"
    assert told("backing", "--form", course) == f"c.toml: this is a course, not a form. {build}"
    assert told("make", "Two bars home", "--tuning", course) == (
        f"c.toml: this is a course, not a tuning. {build}"
    )
    drill = file("m.drill", 'drill "M"\n  play -2\n')
    assert told("pack", drill) == (
        "m.drill: this is a drill, not a course. Make its sheet and sound with: reedmill make "
        "m.drill"
    )
    tuning = file("t.toml", "blow = [0]\n")
    assert told("pack", tuning) == (
        "t.toml: this is a tuning (which note each reed sounds), not a course. Give it beside a "
        "drill: --tuning t.toml"
    )
    assert told("check", file("q.toml", "title = \u201cMine\u201d\n")) == (
        "q.toml:1:9: this is a curly quote: \u201c\n"
        "    1 | title = \u201cMine\u201d\n"
        "      |         ^\n"
        '  Write straight quotes around text: title = "Clean bends". A word processor turns them: '
        "write the file in a plain text editor, or switch smart quotes off."
    )
    for line in ("title = \u2018Mine\u2019", "title = \u00abMine\u00bb", 'title = "Mine\u201d'):
        assert "this is a curly quote: " in told("check", file("q.toml", f"{line}\n"))


# --- 10. a role chart ---


def test_job_10_what_a_reed_is_in_each_position() -> None:
    assert "-3''" in done("roles", "--harp", "B\N{MUSIC FLAT SIGN}", "--reeds", "-3 -3' -3''")
    assert done("roles", "--chords", "--position", "cross") == done("roles", "--chords")


def test_job_10_gone_wrong() -> None:
    assert told("roles", "--reeds", "-3bb D2") == (
        "\"-3bb\" is not a reed. Write -3'' for draw 3 bent two semitones."
    )
    assert told("roles", "--to", "pdf") == 'there is no role chart as "pdf". Write --to sheet.'


# --- 11. data for another program ---


def test_job_11_data_for_another_program() -> None:
    found = data("expand", "Two bars home", "--position", "2nd")
    assert found["drills"][0]["notes"][0]["tab"]
    assert data("drills", "--techniques")["techniques"][0] == {
        "technique": "single notes", "drills": len(titles("--technique", "single notes")),
    }  # fmt: skip
    topics = data("drills", "--topics", "--level", "1")["topics"]
    assert sum(row["drills"] for row in topics) == len(titles("--level", "1"))


def test_job_11_gone_wrong() -> None:
    assert told("make", "Two bars home", "--to", "jsno") == (
        f'there is no format "jsno". Did you mean "json"? Choose from: {", ".join(DRILL_FORMATS)}.'
    )


# --- the slips of the first evening ---

ALONE = "the option stands alone, and writing it is enough."
HOME = "Two bars home"
SLIPS: list[tuple[list[str], str]] = [
    # a yes or no after an option that stands alone
    (["make", HOME, "--fade-out", "yes"],
     f'"yes" is not a value of --fade-out: {ALONE} Leave out "yes".'),
    (["make", "--large", "On", HOME], f'"On" is not a value of --large: {ALONE} Leave out "On".'),
    (["make", "--large", HOME, "true"],
     f'"true" is not a value of --large: {ALONE} Leave out "true".'),
    (["make", HOME, "--large=yes"], f'"yes" is not a value of --large: {ALONE} Leave out "yes".'),
    (["make", HOME, "--wide", "no"],
     '"no" is not a value of --wide: leave out both, the option and "no".'),
    (["make", HOME, "--black", "off"],
     '"off" is not a value of --black: leave out both, the option and "off".'),
    (["check", HOME, "--json", "yes"],
     f'"yes" is not a value of --json: {ALONE} Leave out "yes".'),
    (["drills", "--tab", "yes"], f'"yes" is not a value of --tab: {ALONE} Leave out "yes".'),
    (["pack", "Two evenings", "--zip", "yes"],
     f'"yes" is not a value of --zip: {ALONE} Leave out "yes".'),
    (["backing", "--stems", "yes", "--form", "Twelve bars"],
     f'"yes" is not a value of --stems: {ALONE} Leave out "yes".'),
    # several words without their quotes
    (["make", "--harp", "B", "flat", HOME],
     '"flat" after --harp B is left over. Write: --harp "B flat" "Two bars home"'),
    (["make", "--harp", "B", "flat", "Two", "bars", "home"],
     '"flat" after --harp B is left over. Write: --harp "B flat" "Two bars home"'),
    (["make", HOME, "--harp", "A,", "low", "F"],
     '"low" and "F" after --harp A, are left over. Write: --harp "A, low F"'),
    (["make", HOME, "--harp", "A", "D"], '"D" after --harp A is left over. Write: --harp "A, D"'),
    (["make", HOME, "--position", "2nd", "3"],
     '"3" after --position 2nd is left over. Write: --position "2nd, 3"'),
    (["make", HOME, "--ladder", "60", "to", "90", "by", "5"],
     '"to", "90", "by" and "5" after --ladder 60 are left over. Write: --ladder "60 to 90 by 5"'),
    (["make", HOME, "--over", "Twelve", "bars"],
     '"bars" after --over Twelve is left over. Write: --over "Twelve bars"'),
    (["backing", "--form", "Twelve", "bars"],
     '"bars" after --form Twelve is left over. Write: --form "Twelve bars"'),
    (["make", HOME, "--to", "sheet", "wav"],
     '"wav" after --to sheet is left over. Write: --to sheet,wav'),
    (["make", HOME, "--audio", "flac,", "mp3"],
     '"mp3" after --audio flac, is left over. Write: --audio flac,mp3'),
    (["make", HOME, "--drone", "root", "fifth"],
     '"fifth" after --drone root is left over. Write: --drone root+fifth'),
    (["make", HOME, "--out", "my", "folder"],
     '"folder" after --out my is left over. Write: --out "my folder"'),
    (["make", HOME, "--tempo", "60", "bpm"],
     '"bpm" after --tempo 60 is left over. Write: --tempo 60'),
    (["make", HOME, "--echo", "2", "bars"],
     '"bars" after --echo 2 is left over. Write: --echo 2'),
    (["make", "Two", "bars", "home", "--harp", "A"],
     '"Two", "bars" and "home" are 3 words, each taken alone. Put a title or the name of a file '
     'in quotes: "Two bars home"'),
    (["make", "Two", "bras", "home"],
     '"Two", "bras" and "home" are 3 words, each taken alone. Put a title or the name of a file '
     'in quotes: "Two bars home"'),
    (["pack", "Monday", "group"],
     'reedmill pack takes one COURSE.toml, and "Monday" and "group" are 2 words. A name of '
     'several words goes in quotes: "Monday group"'),
    # a title that is mistyped is not blamed on the option before it
    (["make", "--harp", "G", "Two bars hme"],
     'there is no drill "Two bars hme". Did you mean "Two bars home"? Put a whole title in '
     "quotes; reedmill drills lists them. A file of your own ends in .drill."),
    # dashes
    (["make", HOME, "\N{EN DASH}-harp", "G"],
     '"\N{EN DASH}-harp" has another dash than the hyphens of options. Write --harp'),
    (["make", HOME, "\N{EM DASH}large"],
     '"\N{EM DASH}large" has another dash than the hyphens of options. Write --large'),
    (["make", HOME, "-harp", "G"], '"-harp" has one hyphen. Write --harp'),
    # no value, or one that is not a number
    (["make", HOME, "--harp", "--drone"],
     "--harp needs a value after it. Write for example: --harp A"),
    (["make", HOME, "--tempo"], "--tempo needs a value after it. Write for example: --tempo 60"),
    (["make", HOME, "--tempo", "fast"],
     '--tempo takes a whole number and nothing else, not "fast". Write for example: --tempo 60'),
    (["make", HOME, "--tempo", "60-80"],
     '--tempo takes a whole number and nothing else, not "60-80". Several tempi are a ladder: '
     '--ladder "60 to 80 by 5"'),
    (["make", HOME, "--repeat", "yes"],
     '--repeat takes a whole number and nothing else, not "yes". Write for example: --repeat 4'),
    (["make", HOME, "--reference", "442Hz"],
     '--reference takes a number and nothing else, not "442Hz". Write for example: '
     "--reference 442"),
    (["drills", "--level", "easy"],
     '--level takes a whole number and nothing else, not "easy". Write for example: --level 2'),
    (["drills", "--level", "9"], "--level goes from 1 to 5; 9 is not in it."),
    # what things are called elsewhere
    (["make", HOME, "--key", "F#", "minor"],
     '"minor" after --key F# is left over. Write: --key "F# minor"'),
    (["make", HOME, "--key", "EM"],
     '"EM" may be major or minor. Write E for major, Em for minor.'),
    (["make", HOME, "--position", "G"],
     'there is no position "G". Positions go from 1 to 12; 2 is cross harp. A key is not a '
     "position: it follows from the harp and the position."),
    (["make", HOME, "--pdf"], "there is no option --pdf here. Write for example: --to sheet"),
    (["make", HOME, "--metronome"],
     "there is no option --metronome here. Write for example: --click"),
    (["make", HOME, "--backing", "Twelve bars"],
     'there is no option --backing here. Write for example: --over "Twelve bars"'),
    (["make", HOME, "--to", "pdf"],
     'there is no format "pdf": the PDF is the sheet. Write --to sheet'),
    (["backing", "--form", "Twelve bars", "--to", "pdf"],
     'there is no format "pdf" for a backing: the PDF is the chord chart. Write --to chart'),
    (["make", HOME, "--to", "mp3"],
     'there is no format "mp3": MP3 is a kind of sound. Write --to wav --audio mp3'),
    # where words stand
    ([HOME, "make"],
     'the command comes first, before "Two bars home". Write: reedmill make "Two bars home"'),
    (["help"], "Write reedmill --help, or the name of a command before it: reedmill make --help"),
    (["backing", "Twelve bars"],
     '"Twelve bars" stands after no option. Write: reedmill backing --form "Twelve bars"'),
    (["notes", "low", "F"],
     '"low" and "F" stand after no option. Write: reedmill notes --harp "low F"'),
    (["keys", "E"], '"E" stands after no option. Write: reedmill keys --key E'),
    (["keys"],
     "say what you know: the key of the song (--key E), a harp (--harp C), or the harps you own "
     '(--case "C, A, D").'),
    (["roles", "-3"], '"-3" stands after no option. Write: reedmill roles --reeds "-3"'),
]  # fmt: skip


@pytest.mark.parametrize(("words", "answer"), SLIPS, ids=[" ".join(row[0]) for row in SLIPS])
def test_a_slip_is_told_what_to_write(words: list[str], answer: str) -> None:
    assert told(*words) == answer


def test_a_file_is_named_by_all_of_its_words_and_its_ending() -> None:
    file("my own.drill", 'drill "Mine"\n  play -2\n')
    for command in ("make", "check", "expand", "format"):
        assert told(command, "my", "own.drill") == (
            '"my" and "own.drill" are 2 words, each taken alone. Put a title or the name of a '
            'file in quotes: "my own.drill"'
        )
    assert told("make", "my own") == "my own lacks the ending of its file. Write 'my own.drill'"
    file("c.toml", COURSE.format(harps="C", positions="[2]", hand_out="tab"))
    assert told("pack", "c") == "c lacks the ending of its file. Write c.toml"
    Path("mine").mkdir()
    assert told("make", "mine") == (
        "mine is a folder. Name one of the files in it that end in .drill"
    )


@pytest.mark.parametrize("name", ["yes", "no", "On"])
def test_a_drill_of_ones_own_may_have_any_name(name: str) -> None:
    """No option takes a drill away, whatever it is called and wherever it stands."""
    file(name, 'drill "Mine"\n  play -2\n')
    for words in (["--large", name], [name, "--large"], ["--harp", "A", "--black", name]):
        assert [row["drill"] for row in data("make", *words, "--to", "tab")["files"]] == ["Mine"]


def test_an_output_folder_that_is_a_file_is_said_to_be_one() -> None:
    file("mine.pdf", "a file of the player's")
    result = run("make", HOME, "--to", "tab", "--out", "mine.pdf")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == (
        "mine.pdf/two-bars-home-c-2nd.txt: cannot be written (File exists). mine.pdf is a file, "
        "and a folder is wanted. Name another folder.\n"
    )


def test_what_is_named_twice_is_made_once() -> None:
    file("m.drill", 'drill "M"\n  play -2\n')
    made = data("make", HOME, "two-bars-home", "m.drill", "m.drill", "--to", "tab",
                "--harp", "A, C", "--harp", "a")["files"]  # fmt: skip
    assert [(row["drill"], row["harp"]) for row in made] == [
        (HOME, "A"), (HOME, "C"), ("M", "A"), ("M", "C"),
    ]  # fmt: skip
    assert sorted(path.name for path in Path("output").glob("*.txt")) == [
        "m-a-2nd.txt", "m-c-2nd.txt", "two-bars-home-a-2nd.txt", "two-bars-home-c-2nd.txt",
    ]  # fmt: skip


def test_every_option_with_a_value_has_one_to_show() -> None:
    for command in cli.commands.values():
        for param in command.params:
            if isinstance(param, click.Option) and not param.is_flag:
                assert param.opts[0] in EXAMPLES


def test_two_soundfonts_of_one_name_keep_their_files_apart() -> None:
    """They are told apart by where they are, and each finds its own file again."""
    for folder, hz in (("theirs", 441.0), ("mine", 435.0)):
        Path(folder).mkdir()
        soundfonts.write(Path(folder, "harp.sf2"), soundfonts.soundfont(soundfonts.sine(hz, 1)))

    def made(voice: str) -> str:
        rows = data("make", HOME, "--to", "wav", "--tempo", "300", "--voice", voice)["files"]
        [path] = [row["path"] for row in rows]
        return str(path)

    voices = ("theirs/harp.sf2", "mine/harp.sf2", "./theirs/../mine/harp.sf2", "theirs/harp.sf2")
    theirs, mine, mine_again, theirs_again = map(made, voices)
    assert (mine_again, theirs_again) == (mine, theirs)
    assert theirs != mine
    assert len(list(Path("output").glob("*.wav"))) == 2
