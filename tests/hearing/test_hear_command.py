"""The command that hears takes: what a student reads, what programs read, and how it refuses."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import subprocess
import sys
import time
import wave
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from hearing.conditions import encoded, in_condition, speech_like
from hearing.evaluation import score_of
from hearing.playing import Played, Shape, cents
from hearing.sounding import RATE, Tone, sound
from hearing.takes import played, recorded, reeds, student
from reedmill import api
from reedmill.band.phrased import ChorusPlan, phrased
from reedmill.base.text import printable
from reedmill.cli import cli
from reedmill.ear import Take, Verdict, hear, read_take
from reedmill.ear.best_fit import ScoreFit, best_first
from reedmill.ear.ear_facts import ear_facts
from reedmill.formats import schemas
from reedmill.harp import Harp, Reed
from reedmill.library import shipped_phrases
from reedmill.listening import recorded_at, told_by
from reedmill.practice.answering import answered
from reedmill.score.score import Score
from reedmill.sound.soundfont.player import default_soundfont
from reedmill.theory.positions import Position
from terminal import FORGED, leaks

HOME = "Home from every rung"
ON_C = score_of(HOME, "C")
WORN = {"-5": -29.0, "-3": 8.0, "-7": 22.0, "4": -6.0}  # cents, of a harp that is 5 cents high


def is_bent(score: Score, index: int) -> bool:
    return score.notes[index].reed.bend > 0


@pytest.fixture(scope="module")
def takes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of takes: what each is of stands in its name."""
    folder = tmp_path_factory.mktemp("takes")
    sharp = played(ON_C, lambda index: 34.0 if is_bent(ON_C, index) else 0.0)
    recorded(folder, "sharp", ON_C, sharp, "aac")
    recorded(folder, "right", ON_C, played(ON_C), "opus")
    on_b_flat = score_of(HOME, "Bb")
    recorded(folder, "b-flat", on_b_flat, played(on_b_flat))
    other = score_of("In and out on each hole", "C")
    recorded(folder, "other", other, played(other))
    low = score_of(HOME, "low F")
    recorded(folder, "home-from-every-rung-low-f-2nd-48-bpm", low, played(low, pace=56 / 48))
    worn = {reed.tab: 5 + WORN.get(reed.tab, 0.0) for reed in Harp("C").reeds() if not reed.bend}
    recorded(folder, "harp", ON_C, reeds(Harp("C"), worn), "aac")
    recorded(folder, "harp-blows-first", ON_C, reeds(Harp("C"), worn, in_turn=False))
    return folder


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cli, ["hear", *map(str, words)], catch_exceptions=False)


def said(*words: str | Path) -> str:
    result = run(*words)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def refused(*words: str | Path) -> str:
    """What is said of bad input: exit code 2, on stderr alone."""
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    return result.stderr


def data(*words: str | Path) -> Any:
    found = json.loads(said(*words, "--json"))
    name = "hear-harp-test" if "--harp-test" in words else "hear"
    Draft202012Validator(schemas.schema(name)).validate(found)
    return found


# --- what is told -----------------------------------------------------------------------


def test_the_worst_rungs_come_first_with_figure_word_and_place(
    takes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(takes)
    shown = said("sharp.m4a", "--drill", HOME).splitlines()
    assert shown[0] == "Home from every rung: C harp, 2nd position (cross harp), key of G"
    assert shown[1] == "sharp.m4a: 17 s, once through, at tempo 56 (the drill: 56)."
    assert shown[2] == "Your harp is tuned to A = 440 Hz."
    assert re.split("  +", shown[4]) == ["note", "from", "right", "cents", "anchor", "spread",
                                         "flat", "sharp"]  # fmt: skip
    worst = [re.split("  +", line) for line in shown[5:7]]
    assert {row[0] for row in worst} == {"-3'", "-3''"}
    for row in worst:
        assert row[1:3] == ["-2", "0 of 2"]
        assert int(row[3]) == pytest.approx(34, abs=3)
        assert row[4] == "sharp"
        assert row[-1][17] in "●"  # 34 cents are seven columns of 5 cents right of the middle
    rest = [line for line in shown[7:] if re.match("-[23] ", line)]
    assert len(rest) == 5
    assert all(" in tune " in line for line in rest)
    advice = " ".join(" ".join(shown[-5:]).split())
    assert "34 cents sharp in 2 of 2 tries: you stop too early; go on down." in advice


def test_a_rung_that_is_never_in_place_is_the_worst_though_its_middle_is(tmp_path: Path) -> None:
    """One try 48 cents flat and one 40 sharp: the middle is 4 flat, and neither is right."""
    semitone = [note.index for note in played(ON_C) if note.index is not None
                and ON_C.notes[note.index].reed.tab == "-3'"]  # fmt: skip
    off = dict(zip(semitone, (-48.0, 40.0), strict=True))
    take = recorded(tmp_path, "uneven", ON_C, played(ON_C, lambda at: off.get(at, 0.0)))
    shown = said(take, "--drill", HOME, "--harp", "C")
    rungs = [line for line in shown.splitlines() if re.match("-[23]", line)]
    worst = rungs[0]
    assert len(rungs) == 7
    assert worst.startswith("-3' ")
    assert re.split("  +", worst)[1:5] == ["-2", "0 of 2", "-4", "uneven"]
    assert "Draw 3 bent a semitone, from draw 2, is somewhere else each time" in " ".join(
        shown.split()
    )


def test_a_take_that_is_not_a_harp_test_is_told_how_one_is_played(takes: Path) -> None:
    text = refused(takes / "sharp.m4a", "--harp-test", "--harp", "C")
    assert "is not every natural note of a C harp, one after another. Play blow and draw" in text
    assert "--drill" not in text


def test_the_pitch_of_a_harp_is_told_to_a_tenth_of_a_hertz(tmp_path: Path) -> None:
    """Three cents under 440 Hz are 440 * 2 ** (-3 / 1200) = 439.24 Hz, which is not 439."""
    take = recorded(tmp_path, "cool", ON_C, played(ON_C, lambda _: -3.0))
    shown = " ".join(said(take, "--drill", HOME, "--harp", "C").split())
    assert "Your harp as a whole is 3 cents lower than A = 440 Hz (A = 439.2 Hz)" in shown


@pytest.mark.parametrize(("out", "said_so"), [(1.0, False), (-1.0, False), (3.0, True)])
def test_a_harp_within_two_cents_is_at_its_reference(
    tmp_path: Path, out: float, said_so: bool
) -> None:
    """The page has the same bound from the ear's facts, and not one of its own."""
    take = recorded(tmp_path, "harp", ON_C, played(ON_C, lambda _: out))
    shown = " ".join(said(take, "--drill", HOME, "--harp", "C").split())
    assert ("Your harp as a whole is" in shown) == said_so
    assert ("Your harp is tuned to A = 440 Hz." in shown) != said_so
    assert ear_facts(ON_C)["constants"]["harp_tuning"]["SAME_HARP_CENTS"] == 2.0


def test_who_plays_all_in_place_is_told_so(takes: Path) -> None:
    shown = said(takes / "right.webm", "--drill", HOME)
    assert len(re.findall("^-[23].* in tune ", shown, re.MULTILINE)) == 7
    assert "* 13 of 13 notes were in their place: try it a little faster." in shown


@pytest.mark.parametrize("columns", ["40", "32"])
def test_a_narrow_terminal_gets_lines_that_fit(
    takes: Path, columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.chdir(takes)
    shown = said("sharp.m4a", "--drill", HOME)
    assert max(map(len, shown.splitlines())) <= int(columns)
    assert re.search(r"^-3' from -2: \+3[2-6] cents, sharp\n  0 of 2 right,", shown, re.MULTILINE)


def test_a_terminal_of_ascii_gets_a_scale_in_ascii(
    takes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "dumb")
    shown = said(takes / "sharp.m4a", "--drill", HOME)
    assert shown.isascii()
    assert "--------==+==----O---" in shown


def test_programs_read_the_same(takes: Path) -> None:
    [take] = data(takes / "sharp.m4a", "--drill", HOME, "--tolerance", "8,20")["takes"]
    assert take["drill"]["title"] == HOME
    assert (take["harp"], take["position"], take["tempo"]) == ("C", 2, 56)
    assert take["tolerance"] == {"on": 8, "near": 20}
    assert take["recorded"] is None
    [one] = take["passes"]
    assert len(one["notes"]) == 13
    for note in one["notes"]:
        sharp = "'" in note["tab"]
        assert note["verdict"] == ("sharp" if sharp else "on")
        assert note["cents"] == pytest.approx(34 if sharp else 0, abs=3)
    assert [note["from"] for note in one["notes"]][1:] == [
        note["tab"] for note in one["notes"]][:-1]  # fmt: skip
    assert sorted({row["tab"] for row in take["by_rung"][:2]}) == ["-3'", "-3''"]


def test_the_drills_text_is_told_by_its_digest(takes: Path) -> None:
    Path("mine.drill").write_text('drill "Mine"\n  from "Home from every rung"\n', "utf-8")
    [take] = data(takes / "right.webm", "--drill", "mine.drill")["takes"]
    digest = subprocess.run(["sha256sum", "mine.drill"], capture_output=True, text=True, check=True)
    assert take["drill"] == {"title": "Mine", "source_sha256": digest.stdout.split()[0]}


def test_several_takes_are_told_apart_and_together(takes: Path) -> None:
    shown = said(takes / "sharp.m4a", takes / "right.webm", "--drill", HOME)
    heads = [line for line in shown.splitlines() if line.startswith(HOME)]
    assert heads[2].endswith("key of G: both takes")
    together = shown.partition("both takes")[2]
    assert re.search(r"^-3'   -2    2 of 4 ", together, re.MULTILINE)
    assert shown.count("in tune (within 10 cents)") == 1


def test_one_bad_take_does_not_keep_the_others_back(takes: Path) -> None:
    result = run(takes / "sharp.m4a", takes / "b-flat.wav", takes / "gone.wav", "--drill", HOME,
                 "--json")  # fmt: skip
    assert result.exit_code == 2
    assert len(json.loads(result.stdout)["takes"]) == 1
    assert len(result.stderr.splitlines()) == 2


def test_a_folder_is_all_takes_in_it(takes: Path, tmp_path: Path) -> None:
    for name in ("sharp.m4a", "right.webm"):
        (tmp_path / name).write_bytes((takes / name).read_bytes())
    (tmp_path / "notes.txt").write_text("not a take", "utf-8")
    assert len(data(tmp_path, "--drill", HOME)["takes"]) == 2


def test_a_part_of_the_drill_is_said_to_be_one() -> None:
    once = played(ON_C)
    later_s = once[-1].end_s + 1
    again = [replace(each, start_s=each.start_s + later_s, end_s=each.end_s + later_s)
             for each in once[:7]]  # fmt: skip
    path = recorded(Path(), "parts", ON_C, [*once, *again])
    shown = said(path, "--drill", HOME, "--repeat", "3")
    assert "once through, and a part of it" in shown
    assert "You meant to play it 3 times; 2 of them were heard." in shown


def test_an_answer_in_an_echo_is_heard_where_it_is_played() -> None:
    late = answered(ON_C, 2)
    # two bars of four beats open before each two bars that are answered
    starts = [(note.start, other.start) for note, other in zip(ON_C.notes, late.notes, strict=True)]
    assert all(after - before == 8 * (before // 8) for before, after in starts)
    path = recorded(Path(), "echo", late, played(late))
    [take] = data(path, "--drill", HOME, "--echo", "2")["takes"]
    assert {note["verdict"] for note in take["passes"][0]["notes"]} == {"on"}
    assert take["tempo_heard"] == pytest.approx(56, abs=2)


def test_a_drill_over_a_band_is_heard_as_it_goes_over_the_form() -> None:
    [drill] = api.find_drills("Down from the fifth")
    score = api.expand(drill, api.Harp("C"), api.Position(2), tempo_bpm=96)
    over = api.accompanied(score, api.Accompaniment("Twelve bars"))
    path = recorded(Path(), "band", over, played(over), "band")
    [take] = data(path, "--drill", drill.title, "--over", "Twelve bars", "--tempo", "96")["takes"]
    verdicts = [note["verdict"] for each in take["passes"] for note in each["notes"]]
    assert len(verdicts) >= len(over.notes) - 2
    assert verdicts.count("on") >= 0.95 * len(over.notes)


def test_whole_choruses_of_phrases_are_heard_by_the_words_they_were_made_with() -> None:
    words = ["--phrases", "--over", "Twelve bars", "--choruses", "1", "--level", "2", "--seed", "7"]
    phrases = [each.drill for each in shipped_phrases()]
    plan = ChorusPlan("Twelve bars", choruses=1, seed=7, level=2)
    score = phrased(phrases, Harp("C"), Position(2), plan).score
    sharp = next(at for at, note in enumerate(score.notes) if note.reed.bend)
    path = recorded(
        Path(), "chorus", score, played(score, lambda index: 34.0 if index == sharp else 0.0)
    )
    [take] = data(path, *words)["takes"]
    verdicts = [note["verdict"] for each in take["passes"] for note in each["notes"]]
    assert verdicts == ["sharp" if at == sharp else "on" for at in range(len(score.notes))]
    assert "--level and --rungs say which phrases may fill a form" in refused(path, "--level", "2")


def test_a_student_with_all_kinds_of_faults_can_be_told_of_them() -> None:
    path = recorded(Path(), "student", ON_C, student(ON_C, 5, other=0.2, missed=0.2), "room")
    shown = said(path, "--drill", HOME)
    assert "Not heard: " in shown
    assert re.search(r"Another note: \S+ \d of \d times? at the pitch of ", shown)


def test_a_sampled_harmonica_is_heard_too() -> None:
    """Recorded reeds of a SoundFont, played by FluidSynth over a drone, one degree moved."""
    make = ["make", HOME, "--voice", str(default_soundfont()), "--offsets", "b3=-30", "--drone",
            "--to", "wav", "--out", "."]  # fmt: skip
    assert CliRunner().invoke(cli, make).exit_code == 0
    [mix] = Path().glob("*.mix.wav")
    [take] = data(mix.rename("take.wav"), "--drill", HOME)["takes"]
    for note in take["passes"][0]["notes"]:
        flat = note["tab"] == "-3'"  # Bb, the minor third of G
        assert note["verdict"] == ("flat" if flat else "on")
        assert note["cents"] == pytest.approx(-30 if flat else 0, abs=3)


LOUD = "Something else is nearly as loud as your harp"


def without_rests(notes: list[Played]) -> list[Played]:
    """*notes* as one breath runs into the next."""
    ends = [each.start_s + 0.03 for each in notes[1:]]
    return [replace(each, end_s=end) for each, end in zip(notes, [*ends, notes[-1].end_s],
                                                          strict=True)]  # fmt: skip


def between(name: str, notes: list[Played], condition: str) -> Path:
    """A take in *condition* that was cut to its music: it begins and ends in a note."""
    rng = np.random.default_rng(5)
    whole = sound(notes, Tone((1.0, 0.6, 0.5, 0.3)), notes[-1].end_s + 0.8, rng)
    content, _ = in_condition(condition, whole, ON_C, notes, rng)
    with wave.open(io.BytesIO(content)) as file:
        heard = np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768
    cut = heard[int((notes[0].start_s + 0.05) * RATE) : int((notes[-1].end_s - 0.05) * RATE)]
    path = Path(f"{name}.wav")
    path.write_bytes(encoded(cut, "wav", "pcm_s16le", None, RATE))
    return path


@pytest.mark.parametrize("condition", ["clean", "room"])
@pytest.mark.parametrize("rests", [False, True])
def test_a_take_without_a_rest_is_not_accused_of_noise(rests: bool, condition: str) -> None:
    """Its softest moments are the player's own notes, or what his room makes of them."""
    notes = played(ON_C) if rests else without_rests(played(ON_C))
    shown = " ".join(said(between("full", notes, condition), "--drill", HOME).split())
    assert "once through" in shown
    assert LOUD not in shown


@pytest.mark.parametrize(
    ("condition", "loud"),
    [("clean", False), ("room", False), ("pink-20", False), ("pink-10", True), ("drone", True)],
)
def test_noise_is_told_of_where_it_is_heard_in_a_rest(condition: str, loud: bool) -> None:
    path = recorded(Path(), "take", ON_C, without_rests(played(ON_C)), condition)
    shown = " ".join(said(path, "--drill", HOME).split())
    assert (LOUD in shown) == loud


# --- which drill it is -----------------------------------------------------------------------


def test_a_name_of_our_own_tells_drill_harp_position_and_tempo(takes: Path) -> None:
    shown = said(takes / "home-from-every-rung-low-f-2nd-48-bpm.wav")
    assert shown.startswith("Home from every rung: low F harp, 2nd position")
    assert "at tempo 48 (the drill: 48)" in shown


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("home-from-every-rung.m4a", (HOME, None, None, None, None, None)),
        ("/a/Home-from-every-rung-c-2nd.wav", (HOME, "c", "2nd", None, None, None)),
        ("home-from-every-rung-f-sharp-3rd-a442-just5.wav",
         (HOME, "f-sharp", "3rd", None, 442.0, "just5")),
        ("home-from-every-rung-hole-2-c-2nd-48-bpm.flac",
         ("Home from every rung, hole 2", "c", "2nd", 48, None, None)),
        ("home-from-every-rung-c-natural-minor-2nd-a441-5.wav",
         (HOME, "c-natural-minor", "2nd", None, 441.5, None)),
        ("home-from-every-rung-monday.wav", (HOME, None, None, None, None, None)),
        ("home-from-every-rungs.wav", None),
        ("monday.wav", None),
    ],
)  # fmt: skip
def test_names_are_read_as_they_are_written(name: str, told: tuple[Any, ...] | None) -> None:
    found = told_by(Take.of(np.zeros(10), name))
    assert (found and (found.title, found.harp, found.position, found.tempo_bpm,
                       found.reference_hz, found.intonation)) == told  # fmt: skip


def test_what_tags_say_that_is_not_a_drill_of_ours_is_not_believed() -> None:
    take = replace(
        Take.of(np.zeros(10), "x.ogg"),
        tags=(("TITLE", "Mine (C harp)"), ("HARP", "C"), ("POSITION", "2")),
    )
    assert told_by(take) is None


@pytest.mark.parametrize(
    ("said_so", "at"),
    [
        ("2027-01-31T18:05:00.000000Z", "2027-01-31T18:05:00Z"),
        ("2027-01-31T19:05:00+01:00", "2027-01-31T18:05:00Z"),
        ("2027-01-31 18:05:00", None),  # in whose time zone?
        ("1904-01-01T00:00:00Z", None),  # where a phone's clock begins that was never set
        ("tomorrow\x1b[31m", None),
        ("9999999999-01-01", None),
    ],
)
def test_a_take_is_dated_where_its_file_says_when(said_so: str, at: str | None) -> None:
    take = replace(Take.of(np.zeros(10), "x.m4a"), tags=(("creation_time", said_so),))
    assert recorded_at(take) == at


def test_a_recording_of_our_own_says_what_it_is() -> None:
    make = ["make", "Two bars home", "--harp", "A", "--to", "wav", "--audio", "flac,ogg,wav",
            "--out", "."]  # fmt: skip
    assert CliRunner().invoke(cli, make).exit_code == 0
    for ending in ("flac", "ogg", "wav"):
        Path(f"two-bars-home-a-2nd.{ending}").rename(f"take.{ending}")
        [take] = data(f"take.{ending}")["takes"]
        assert (take["drill"]["title"], take["harp"]) == ("Two bars home", "A")


def test_a_take_that_tells_nothing_is_asked_about(takes: Path) -> None:
    lines = refused(takes / "sharp.m4a").splitlines()
    assert lines[0] == (
        f"{takes}/sharp.m4a: nothing says which drill this is. It sounds most like:"
    )
    assert lines[1] == '  "Home from every rung" on a C harp: 13 of 13 notes right'
    assert 3 <= len(lines) <= 7
    assert lines[-1] == (
        'Name the right one, for example: --drill "Home from every rung" --harp C --position 2'
    )


def test_what_a_take_sounds_like_stands_in_the_order_that_its_figures_say() -> None:
    told = refused(recorded(Path(), "take", ON_C, student(ON_C, 5))).splitlines()
    rows = [re.fullmatch(r'  "(.+)" on an? .+ harp: (\d+) of (\d+) notes right', line)
            for line in told[1:-1]]  # fmt: skip
    found = [(-int(row[2]) / int(row[3]), -int(row[2]), row[1]) for row in rows if row]
    assert len(found) == len(rows) >= 3
    assert found == sorted(found)
    assert told[-1].startswith(f'Name the right one, for example: --drill "{found[0][2]}" ')


@given(st.permutations(range(6)))
def test_equal_fits_come_by_their_good_notes_then_by_title(order: list[int]) -> None:
    named = {title: replace(ON_C, title=printable(title)) for title in ("A", "B", "C", "D")}
    found = [
        ScoreFit(named["D"], Harp("C"), 9, 9), ScoreFit(named["B"], Harp("C"), 18, 24),
        ScoreFit(named["C"], Harp("C"), 18, 24), ScoreFit(named["A"], Harp("C"), 12, 16),
        ScoreFit(named["D"], Harp("G"), 10, 16), ScoreFit(named["A"], Harp("G"), 1, 2),
    ]  # fmt: skip
    assert best_first([found[at] for at in order]) == found


def test_another_harp_is_named_with_what_to_type(takes: Path) -> None:
    assert refused(takes / "b-flat.wav", "--drill", HOME) == (
        f'{takes}/b-flat.wav: this is "Home from every rung" but not on a C harp: it sounds like a '
        "B flat harp. Name that one: --harp Bb\n"
    )


def test_another_drill_is_named_with_what_to_type(takes: Path) -> None:
    assert refused(takes / "other.wav", "--drill", HOME) == (
        f'{takes}/other.wav: what is played here is not "Home from every rung" on a C harp. It '
        'sounds like "In and out on each hole" on a C harp. Write: --drill "In and out on each '
        'hole" --harp C --position 2\n'
    )


def test_of_several_drills_in_a_file_the_one_that_is_played_is_heard(takes: Path) -> None:
    Path("mine.drill").write_text(
        'drill "Up"\n  play 4 5 6 7 8 7 6 5 4\n\ndrill "Mine"\n  from "Home from every rung"\n',
        "utf-8",
    )
    assert said(takes / "sharp.m4a", "--drill", "mine.drill").startswith("Mine: C harp")
    assert refused(takes / "b-flat.wav", "--drill", "mine.drill") == (
        f"{takes}/b-flat.wav: what is played here is none of the 2 drills that are named, on a C "
        "harp. Name the drill and the harp of this take.\n"
    )


# --- a harp of one's own -----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["harp.m4a", "harp-blows-first.wav"])
def test_a_harp_test_finds_every_reed_where_it_is(takes: Path, name: str) -> None:
    found = data(takes / name, "--harp-test")
    assert found["reference_hz"] == pytest.approx(440 * 2 ** (5 / 1200), abs=0.4)
    truth = {tab: 5 + off for tab, off in WORN.items()}
    assert len(found["reeds"]) == 20
    for row in found["reeds"]:
        assert cents(row["hz"], row["wanted_hz"]) == pytest.approx(
            truth.get(row["tab"], 5), abs=1.5
        )
    assert {row["tab"] for row in found["reeds"] if row["stands_out"]} == {"-5", "-7"}
    shown = said(takes / name, "--harp-test")
    assert "2 reeds stand out against the rest of the harp: -5 (-29), -7 (+22)." in shown.replace(
        "\n  ", " ")  # fmt: skip


def test_a_harp_is_kept_and_notes_follow_its_reeds(takes: Path) -> None:
    words = (takes / "harp.m4a", "--harp-test", "--out", "my-harp.toml")
    assert said(*words).endswith("\nkept    my-harp.toml\n")
    assert said(*words).endswith("\nkept    my-harp.toml  (made again)\n")
    made = CliRunner().invoke(cli, ["expand", HOME, "--my-harp", "my-harp.toml", "--json"])
    [drill] = json.loads(made.stdout)["drills"]
    for note in drill["notes"]:
        natural = Reed.parse(note["tab"]).natural.tab
        true = 5 + WORN.get(natural, 0.0)
        plain = 440 * 2 ** ((note["midi"] - 69) / 12)
        assert cents(note["hz"], plain) == pytest.approx(true, abs=1.5)


def test_a_worn_harp_is_no_fault_of_its_player(takes: Path) -> None:
    said(takes / "harp.m4a", "--harp-test", "--out", "my-harp.toml")
    low = {"-3": 8.0}
    notes = played(ON_C, lambda index: 5 + low.get(ON_C.notes[index].reed.natural.tab, 0.0))
    path = recorded(Path(), "mine", ON_C, notes)
    [take] = data(path, "--drill", HOME, "--my-harp", "my-harp.toml")["takes"]
    assert take["harp_cents"] == pytest.approx(0, abs=1.5)
    for note in take["passes"][0]["notes"]:
        assert note["cents"] == pytest.approx(0, abs=2.5)


def test_nothing_is_kept_in_the_place_of_anything_else(takes: Path) -> None:
    low = Harp.parse("low F")
    path = recorded(Path(), "low", ON_C, reeds(low, {}))
    said(takes / "harp.m4a", "--harp-test", "--out", "my-harp.toml")
    kept = Path("my-harp.toml").read_bytes()
    way_out = "  Write --replace to have it replaced, or name another folder with --out.\n"
    assert refused(path, "--harp-test", "--harp", "low F", "--out", "my-harp.toml") == (
        "my-harp.toml is there already and is of a harp in C, so it is left as it is.\n" + way_out
    )
    Path("mine.toml").write_text("# my own words\n", "utf-8")
    assert refused(path, "--harp-test", "--harp", "low F", "--out", "mine.toml") == (
        "mine.toml is there already, and Reedmill has no note of having made it, so it is left as "
        "it is.\n" + way_out
    )
    assert Path("my-harp.toml").read_bytes() == kept
    shown = said(path, "--harp-test", "--harp", "low F", "--out", "harps")
    assert shown.endswith("\nkept    harps/my-low-f-harp.toml\n")


def test_a_harp_test_of_another_harp_is_refused(takes: Path) -> None:
    assert refused(takes / "harp.m4a", "--harp-test", "--harp", "D") == (
        f"{takes}/harp.m4a: this is a harp test, but not of a D harp: it sounds like a C harp. "
        "Name that one: --harp C\n"
    )
    assert "is not every natural note of a C harp" in refused(takes / "other.wav", "--harp-test")


@pytest.mark.parametrize(
    ("played_on", "named", "in_turn"),
    [("C", "G", True), ("C", "F", True), ("low F", "F", True), ("low F", "F", False),
     ("G", "high G", False), ("Bb", "low F", True)],
)  # fmt: skip
def test_a_harp_test_names_the_harp_though_another_shares_half_of_its_reeds(
    played_on: str, named: str, in_turn: bool
) -> None:
    """Harps a fifth or an octave apart have ten or twelve reeds of one pitch."""
    path = recorded(Path(), "slow", ON_C, reeds(Harp.parse(played_on), {}, in_turn=in_turn))
    told = refused(path, "--harp-test", "--harp", named, "--out", "mine.toml")
    heard = {"C": "a C harp", "low F": "a low F harp", "G": "a G harp", "Bb": "a B flat harp"}
    assert f"it sounds like {heard[played_on]}. Name that one: --harp " in told
    assert not Path("mine.toml").exists()


def test_a_harp_with_seven_silent_reeds_is_still_that_harp() -> None:
    notes = [each for each in reeds(Harp("C"), {}) if (each.index or 0) < 13]
    rows = data(recorded(Path(), "slow", ON_C, notes), "--harp-test", "--harp", "C")["reeds"]
    assert sum(row["cents"] is None for row in rows) == 7


# --- what cannot be told ------------------------------------------------------------------------


def test_an_octave_that_only_the_drill_decides_is_unclear() -> None:
    """Blow 4 with hardly any first partial is as good as blow 7: which it was is not said."""
    score = replace(
        ON_C,
        notes=tuple(
            replace(note, reed=Reed.parse("7"), hz=440 * 2 ** (15 / 12), role=note.role)
            for note in ON_C.notes
        ),
    )
    low = [replace(each, hz=each.hz / 2, from_hz=each.hz / 2) for each in played(score)]
    rng = np.random.default_rng(5)
    tones = sound(low, Tone((0.22, 1.0, 0.1, 0.6, 0.05, 0.3)), low[-1].end_s + 0.8, rng)
    take = Take.of(np.interp(np.arange(0, len(tones), RATE / 16000), np.arange(len(tones)), tones))
    found = {note.verdict for note in hear(take, score).notes}
    assert found <= {Verdict.UNCLEAR, Verdict.ANOTHER_NOTE}


def test_two_holes_with_one_note_are_both_named() -> None:
    wrong = played(ON_C)
    wrong[3] = replace(wrong[3], hz=392.0, from_hz=392.0)  # G4 is draw 2 and blow 3
    shown = said(recorded(Path(), "two", ON_C, wrong), "--drill", HOME)
    assert "Another note: -3' 1 of 2 times at the pitch of -2 or 3." in shown


# --- bad input ----------------------------------------------------------------------------------


NO_NOTE = "there is no clear note in this recording"


def tone(seconds: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    return 0.3 * np.sin(2 * np.pi * 440 * np.arange(int(seconds * RATE)) / RATE)


def bad_takes(folder: Path) -> Iterator[tuple[str, str]]:
    """The name of each bad take and what is said of it."""
    wav = ("wav", "pcm_s16le", None, RATE)
    again = "Copy it from the recorder again, or record the take again."
    (folder / "silent.wav").write_bytes(encoded(np.zeros(3 * RATE), *wav))
    yield (
        "silent.wav",
        (
            "there is only silence in this recording (its loudest moment is -120 dB). Check that "
            "the microphone is on and that the harp is near it."
        ),
    )
    (folder / "short.wav").write_bytes(encoded(tone(0.3), *wav))
    yield (
        "short.wav",
        (
            "this recording lasts 0.3 s, which is too short to hear anything in. Record the whole "
            "drill."
        ),
    )
    (folder / "speech.wav").write_bytes(encoded(speech_like(10, np.random.default_rng(8)), *wav))
    yield (
        "speech.wav",
        (
            'there is no clear note in this recording to compare with "Home from every rung". '
            "Record the whole drill with the harp near the microphone."
        ),
    )
    (folder / "cut.flac").write_bytes(encoded(tone(6), "flac", "flac", None, RATE)[:30_000])
    yield "cut.flac", f"this recording breaks off after 0.3 s. {again}"
    (folder / "picture.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    yield (
        "picture.png",
        ("this is a PNG picture, not a recording. Give the sound or film of your take."),
    )
    os.mkfifo(folder / "pipe.wav")
    yield (
        "pipe.wav",
        (
            "cannot read this file: it is a pipe between programs, not a plain file. Name a plain "
            "file, or copy what you need of it into one."
        ),
    )
    yield (
        "gone.wav",
        ("cannot read this file: it is not there. Check how its name and its folder are spelled."),
    )


def test_a_bad_take_is_told_what_is_wrong_with_it(tmp_path: Path) -> None:
    for name, why in bad_takes(tmp_path):
        began = time.monotonic()
        told = refused(name, "--drill", HOME)
        assert (
            re.sub(r"after \d\.\d s", "after 0.3 s", told).replace(
                "only 1 clear note is in this recording, too few", NO_NOTE
            )
            == f"{name}: {why}\n"
        )
        assert time.monotonic() - began < 20


def test_a_drill_or_a_text_in_the_place_of_a_take_is_told_what_it_is(takes: Path) -> None:
    Path("my own.drill").write_text('# mine\ndrill "Mine"\n  play -2 -3\n', "utf-8")
    Path("notes.txt").write_text("Monday: draw 3 is sharp \N{EM DASH} again.\n" * 200, "utf-8")
    Path("mine.form").write_text('form "Mine"\n  bars I7 x4\n', "utf-8")
    assert refused("my own.drill", "--drill", HOME) == (
        "my own.drill: this is a drill, not a recording. Name the recording, then the drill: "
        "reedmill hear take.m4a --drill 'my own.drill'\n"
    )
    take = "Give the sound or film of your take.\n"
    assert refused("notes.txt") == f"notes.txt: this is a text, not a recording. {take}"
    assert refused("mine.form") == f"mine.form: this is a form, not a recording. {take}"
    assert refused(takes / "sharp.m4a", HOME.upper()) == (  # before the take is heard
        f'"{HOME.upper()}" is a drill, not a recording. Name the recording, then the drill: '
        f'reedmill hear take.m4a --drill "{HOME.upper()}"\n'
    )


def test_a_hostile_name_of_a_take_begins_no_line(
    takes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = f"x\x1b[31m\n{FORGED} {'and so on ' * 6}\u202e{FORGED}.m4a"
    Path(name).write_bytes((takes / "sharp.m4a").read_bytes())
    for columns in ("80", "40", "33"):
        monkeypatch.setenv("COLUMNS", columns)
        shown = said(name, "--drill", HOME)
        assert leaks(shown.encode()) == []
        assert "x[U+001B][31m" in shown


def test_a_drill_without_a_note_has_nothing_to_hear(takes: Path) -> None:
    Path("rest.drill").write_text('drill "Rest"\n  play r r\n', "utf-8")
    assert refused(takes / "sharp.m4a", "--drill", "rest.drill") == (
        'there is no note in "Rest", and so nothing to hear.\n'
    )


def test_words_after_an_option_that_stands_alone_are_takes(takes: Path) -> None:
    late = answered(ON_C, 0)
    assert [note.start for note in late.notes] == [note.start for note in ON_C.notes]
    assert said("--echo", takes / "right.webm", "--drill", HOME).startswith(HOME)
    assert refused("--drill", HOME, "--echo", "often") == (
        '"often" is neither a value of --echo nor a take. Write --echo 2 (or another number of '
        "bars); alone it means the whole drill.\n"
    )


def test_a_song_is_no_drill() -> None:
    """Forty notes of the chromatic scale, drawn by lot, of uneven lengths."""
    rng = np.random.default_rng(1)
    ends = np.cumsum(rng.uniform(0.2, 0.6, 41)) + 0.8
    keys = rng.integers(0, 25, 40)
    notes = [
        Played(at, float(start), float(end - 0.05), hz, hz, 0.0, Shape.PLAIN, False, 0.0, "on")
        for at, ((start, end), hz) in enumerate(
            zip(pairwise(ends), (220 * 2 ** (key / 12) for key in keys), strict=True)
        )
    ]
    path = recorded(Path(), "song", ON_C, notes)
    assert refused(path, "--drill", HOME) == (
        'song.wav: what is played here is not "Home from every rung" on a C harp. Name the drill '
        "with --drill; reedmill drills lists them.\n"
    )
    assert refused(path) == (
        "song.wav: nothing says which drill this is, and none of the library is like it. Name the "
        "drill and the harp: --drill mine.drill --harp C\n"
    )


def test_three_hours_are_refused_before_they_are_read() -> None:
    with wave.open("long.wav", "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
    with Path("long.wav").open("r+b") as raw:
        raw.seek(4)
        raw.write((36 + 3 * 3600 * 16_000).to_bytes(4, "little"))
        raw.seek(40)
        raw.write((3 * 3600 * 16_000).to_bytes(4, "little"))
        raw.truncate(44 + 3 * 3600 * 16_000)
    assert refused("long.wav", "--drill", HOME) == (
        "long.wav: this recording lasts 180 minutes; the longest that is heard lasts 60. Cut it "
        "into takes.\n"
    )


def test_an_empty_folder_has_no_take(tmp_path: Path) -> None:
    (tmp_path / "takes").mkdir()
    assert refused("takes", "--drill", HOME) == (
        "takes: no recording is in this folder. Name the file of your take.\n"
    )


def test_without_the_package_that_reads_takes_it_is_said_how_to_get_it(
    takes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    assert refused(takes / "sharp.m4a", "--drill", HOME) == (
        "recordings are read by the package av, which is not installed. Install it with: "
        "pip install 'reedmill[hear]'\n"
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--drill", HOME, "--harp", "A,C"],
         "a take is compared with one harp in one position, and 2 are named. Give the command once "
         "for each."),
        (["--drill", HOME, "--tolerance", "wide"],
         '"wide" is not a tolerance. Write how many cents a note may be out to be in its place, '
         "then to be nearly so: 10,25"),
        (["--drill", HOME, "--tolerance", "25,10"],
         "a tolerance of 25 and 10 cents cannot be used. Write two numbers from 1 to 50, the "
         "smaller one first: 10,25"),
        (["--drill", HOME, "--repeat", "0"],
         "a repeat of 0 times cannot be played; write 1 to 100."),
        (["--drill", HOME, "--out", "x"],
         "--out is where files go, and none are asked for. Add --to sheet, or leave it out."),
        (["--harp-test", "--drill", HOME],
         "--harp-test is for a take of all natural notes. Leave out --drill, or --harp-test."),
        (["--harp-test", "--harp", "A,C"],
         "--harp-test takes one recording of one harp. Give the command once for each."),
        (["--harp-test", "--tempo", "60"],
         "--tempo is for takes of a drill, and a harp test is of the harp alone. Leave it out."),
        (["--harp-test", "--position", "3", "--tolerance", "5", "--repeat", "2"],
         "--position, --repeat and --tolerance are for takes of a drill, and a harp test is of "
         "the harp alone. Leave them out."),
        (["", "--drill", HOME],
         'the name of a take is empty: "". Name the file of your recording.'),
    ],
)  # fmt: skip
def test_what_is_asked_wrongly_is_answered_with_what_to_write(
    takes: Path, words: list[str], told: str
) -> None:
    assert refused(takes / "sharp.m4a", *words) == f"{told}\n"


def wait_until_open(process: int, name: str) -> None:
    """Until *process* has the file called *name* open, as Linux tells; elsewhere three seconds."""
    opened = Path(f"/proc/{process}/fd")
    until = time.monotonic() + (60 if opened.is_dir() else 3)
    while time.monotonic() < until:
        with suppress(OSError):
            if any(each.readlink().name == name for each in opened.iterdir()):
                return
        time.sleep(0.02)


def test_ctrl_c_ends_it_while_a_long_take_is_read() -> None:
    second = (tone(1) * 32767).astype("<i2").tobytes()
    with wave.open("long.wav", "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        for _ in range(1500):
            file.writeframes(second)
    command = [sys.executable, "-m", "reedmill.cli", "hear", "long.wav", "--drill", HOME]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    ) as child:  # fmt: skip
        wait_until_open(child.pid, "long.wav")
        child.send_signal(signal.SIGINT)
        _, told = child.communicate(timeout=60)
    assert child.returncode == 130
    assert told == "Stopped. Nothing unfinished was left behind.\n"


def test_python_hears_the_same(takes: Path) -> None:
    heard = api.hear(api.read_take(takes / "sharp.m4a"), ON_C, api.Tolerance.parse("8,20"))
    [take] = data(takes / "sharp.m4a", "--drill", HOME, "--tolerance", "8,20")["takes"]
    assert api.take_data(heard)["passes"] == take["passes"]
    assert read_take(takes / "sharp.m4a").seconds == pytest.approx(17, abs=1)


# --- kept in a record book --------------------------------------------------------------------


def in_book(name: str) -> dict[str, list[dict[str, Any]]]:
    """The takes of each student in a record book."""
    with api.open_book(Path(name)) as book:
        return {row.name: [each.data for each in book.takes(row.name)] for row in book.students()}


def test_what_is_heard_is_kept_for_a_student_each_take_once(takes: Path) -> None:
    words = (takes / "sharp.m4a", "--drill", HOME, "--book", "class.book")
    plain = said(takes / "sharp.m4a", "--drill", HOME)
    assert said(*words, "--student", "Ada") == plain + "\nkept    as Ada's in class.book\n"
    assert said(*words) == plain + "\nkept    as Ada's in class.book, and was there already\n"
    told = data(takes / "right.webm", "--drill", HOME, "--book", "class.book")
    assert told == data(takes / "right.webm", "--drill", HOME)  # no field and no line more
    kept = in_book("class.book")
    assert list(kept) == ["Ada"]
    assert kept["Ada"] == [*data(takes / "sharp.m4a", "--drill", HOME)["takes"], *told["takes"]]


def test_a_take_that_cannot_be_heard_or_kept_does_not_keep_the_others_back(takes: Path) -> None:
    """And each is kept as soon as it is heard, not at the end."""
    words = ("--drill", HOME, "--book", "class.book")
    said(takes / "sharp.m4a", *words, "--student", "Ben")
    result = run(takes / "sharp.m4a", takes / "harp.m4a", takes / "right.webm", *words,
                 "--student", "Ada")  # fmt: skip
    assert result.exit_code == 2
    assert "as Ben's. A take belongs to one student." in result.stderr
    assert "harp.m4a: " in result.stderr
    assert result.stdout.count("kept    as Ada's") == 1
    assert {name: len(each) for name, each in in_book("class.book").items()} == {
        "Ada": 1, "Ben": 1,
    }  # fmt: skip


def test_no_book_is_made_of_nothing_heard_and_none_of_a_harp(takes: Path) -> None:
    words = ("--book", "class.book", "--student", "Ada")
    refused(takes / "harp.m4a", "--drill", HOME, *words)
    assert "a harp test is not one" in refused(takes / "harp.m4a", "--harp-test", *words)
    assert "a harp test is not one" in refused(takes / "harp.m4a", "--harp-test", *words[2:])
    assert "say whose takes these are" in refused(takes / "sharp.m4a", *words[:2])
    assert not list(Path().iterdir())
