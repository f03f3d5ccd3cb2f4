"""Dictations as files: what a student gets tells no answer, and the answers are right.

What sounds is measured by Praat (parselmouth) and held against the published layout (OEIS
A291810, in ``oracles``); what stands on pages is read by poppler's ``pdftotext`` and ``pdfinfo``.
"""

from __future__ import annotations

import json
import re
import subprocess
import wave
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import parselmouth
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

import oracles
from reedmill import api
from reedmill.base.errors import InputError
from reedmill.cli import cli
from reedmill.make.dictation_files import DICTATION_FORMATS, MadeDictation
from reedmill.make.made_files import InTheWayError
from sharing import made_once

HARPS = ("low F", "A", "C", "F")
TITLE = "Home from every rung"
ASKING = api.Asking(questions=6, seed=5, pause_s=2)
CLICKS_S, TONE_S, EACH_S = 2, 2, 8  # two clicks, the anchor, the rung and the pause


def score_on(harp: str, title: str = TITLE) -> api.Score:
    [drill, *_] = api.find_drills(title)
    return api.expand(drill, api.Harp.parse(harp), api.Position(2))


def make(folder: Path) -> None:
    scores = [score_on(harp) for harp in HARPS]
    made = api.make_dictations(scores, folder, ["sheet", "questions"], asking=ASKING)
    rows = [[each.path.name, each.kind, each.drill.harp.full_name] for each in made]
    (folder / "rows.json").write_text(json.dumps(rows), "utf-8")


@dataclass(frozen=True, slots=True)
class Row:
    """A file that was made."""

    path: Path
    kind: str
    harp: str


@cache
def rows() -> dict[tuple[str, str], Row]:
    """Every file that is made of one drill on four harps, by harp and kind."""
    folder = made_once("dictations", make)
    found = json.loads((folder / "rows.json").read_text("utf-8"))
    return {(harp, kind): Row(folder / name, kind, harp) for name, kind, harp in found}


def pages(path: Path) -> list[str]:
    """The text of each page."""
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True
    )
    return done.stdout.split("\f")[:-1]


def questions(harp: str) -> Sequence[Any]:
    return api.rung_questions(score_on(harp), ASKING).questions


# --- what sounds ----------------------------------------------------------------------------


def sound_of(path: Path) -> tuple[NDArray[np.float64], int]:
    with wave.open(str(path)) as file:
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        return frames / 32768.0, file.getframerate()


def heard_hz(sound: NDArray[np.float64], rate: int, near_hz: float) -> float:
    """Praat's pitch in the middle of a tone, searched over an octave either way."""
    pitch = parselmouth.Sound(sound, rate).to_pitch_ac(
        time_step=0.05, pitch_floor=near_hz * 0.45, pitch_ceiling=near_hz * 2.2, very_accurate=True
    )
    found = pitch.selected_array["frequency"]
    assert found.min() > 0, "Praat hears no pitch"
    return float(np.median(found))


@pytest.mark.parametrize("harp", HARPS)
def test_the_tones_of_each_question_are_its_anchor_and_its_answer(harp: str) -> None:
    sound, rate = sound_of(rows()[harp, "audio"].path)
    told = [line.split() for line in answer_lines(harp)]
    assert len(sound) / rate == pytest.approx(EACH_S * ASKING.questions, abs=0.5)
    for number, row in enumerate(told):
        begins = number * EACH_S + CLICKS_S
        for at, tab in ((begins, "-2"), (begins + TONE_S, row[2])):  # as the answer page has it
            tone = sound[round((at + 0.4) * rate) : round((at + 1.2) * rate)]
            target = oracles.tempered_hz(oracles.sounding(harp, tab))
            cents = 1200 * np.log2(heard_hz(tone, rate, target) / target)
            assert abs(cents) < 0.5, (harp, number, tab, cents)
        pause = sound[round((begins + 2 * TONE_S) * rate) : round((begins + 6) * rate)]
        assert np.max(np.abs(pause)) < 1e-3


@pytest.mark.parametrize("harp", HARPS)
def test_two_clicks_come_before_each_question(harp: str) -> None:
    sound, rate = sound_of(rows()[harp, "audio"].path)
    loud = np.abs(sound).reshape(-1)
    for number in range(ASKING.questions):
        for second in range(CLICKS_S):
            at = (number * EACH_S + second) * rate
            assert loud[at : at + rate // 20].max() > 0.02
            assert loud[at + rate // 10 : at + rate * 9 // 10].max() < 1e-3


def test_a_recording_names_neither_its_drill_nor_its_answers() -> None:
    tags = mutagen.File(rows()["A", "audio"].path).tags
    told = " ".join(str(frame) for frame in tags.values())
    assert "Which rung was it?" in told
    assert TITLE not in told


# --- what stands on the pages -----------------------------------------------------------------


def answer_lines(harp: str) -> list[str]:
    """The rows of the answers: number, time, tab, note, degree, from the natural note."""
    _, told = pages(rows()[harp, "questions-pdf"].path)
    return [line for line in told.splitlines() if re.match(r"\s*\d+\s+\d:\d\d\s", line)]


@pytest.mark.parametrize("harp", HARPS)
def test_the_answer_page_tells_every_rung_with_note_degree_and_cents(harp: str) -> None:
    lines = answer_lines(harp)
    assert len(lines) == ASKING.questions
    natural = oracles.sounding(harp, "-3")
    for question, line in zip(questions(harp), lines, strict=True):
        number, at, tab, *_, cents = re.split(r"\s{2,}", line.strip())
        [sounding] = [each.top for each in question.answer.rungs]
        assert (int(number), tab) == (question.number, sounding.reed.tab)
        assert at == f"0:{EACH_S * (question.number - 1):02d}"
        below = 100 * (natural - oracles.sounding(harp, tab))
        assert cents == (f"{below} cents below" if below else "the natural note")
        name = sounding.pitch.name  # signs of music are no letters: pdftotext leaves them out
        assert name[0] in line
        assert sounding.degree.name[-1] in line


@pytest.mark.parametrize("harp", HARPS)
def test_the_page_to_tick_is_the_same_for_every_seed(harp: str) -> None:
    to_tick, _ = pages(rows()[harp, "questions-pdf"].path)
    for number in range(1, ASKING.questions + 1):
        [row] = [line for line in to_tick.splitlines() if re.match(rf"\s*{number}\s+\d:\d\d", line)]
        assert row.split() == [f"{number}", f"0:{EACH_S * (number - 1):02d}"]
    for told in (TITLE, "cents", "degree", "Answers"):
        assert told not in to_tick


@pytest.mark.parametrize("harp", HARPS)
def test_the_page_to_fill_in_has_no_hole_no_note_and_no_title(harp: str) -> None:
    score = score_on(harp)
    to_fill_in, *answers = pages(rows()[harp, "dictation-pdf"].path)
    [number] = re.findall(r"^Dictation (\d{5})$", to_fill_in, re.MULTILINE)
    told = set(re.findall(r"(?<!\S)-?\d+'*(?!\S)", to_fill_in))
    bars = {f"{n}" for n in range(1, score.bars + 1)} | {"4", number, f"{score.tempo_bpm}"}
    assert told <= bars | {"-2"}  # the anchor is given; numbers of bars, the meter and tempo
    for word in (TITLE, score.about, score.listen, "key", "degree", "hole 3", "out"):
        assert word not in to_fill_in
    notes = re.findall(r"(?<!\S)[A-G](?!\S)", to_fill_in)
    assert set(notes) <= {score.harp.key}  # the harp itself, in the head and at the foot
    [answer] = answers
    assert f"Answers to dictation {number}" in answer
    tab = " ".join(answer.split("plain tab")[1].split())
    for note in score.notes:
        assert note.tab in tab.split()
    assert TITLE in answer


def test_what_a_viewer_shows_beside_the_pages_tells_nothing() -> None:
    for kind in ("dictation-pdf", "questions-pdf"):
        path = rows()["C", kind].path
        done = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True)
        assert TITLE not in done.stdout
        [title] = re.findall(r"^Title: +(.*)$", done.stdout, re.MULTILINE)
        assert re.fullmatch(r"(Dictation|Which rung was it\?) \d{5}", title)
        assert b"/Outlines" not in path.read_bytes()
        assert re.fullmatch(
            r"(dictation|which-rung)-\d{5}-c-2nd(-6-questions-pause-2-seed-5)?\.pdf", path.name
        )


# --- files --------------------------------------------------------------------------------------


def contents(made: Sequence[MadeDictation]) -> Iterator[bytes]:
    return (each.path.read_bytes() for each in made)


def test_equal_choices_give_equal_bytes_and_another_seed_another_file(tmp_path: Path) -> None:
    asking = api.Asking(questions=3, pause_s=2)
    score = score_on("C")
    first = api.make_dictations([score], tmp_path, ["questions"], asking=asking)
    kept = list(contents(first))
    again = api.make_dictations([score], tmp_path, ["questions"], asking=asking)
    assert list(contents(again)) == kept
    assert all(each.replaced for each in again)
    other = api.make_dictations(
        [score], tmp_path, ["questions"], asking=api.Asking(3, seed=1, pause_s=2)
    )
    assert not {each.path for each in other} & {each.path for each in first}
    assert list(contents(first)) == kept


def test_the_answers_can_have_a_file_of_their_own(tmp_path: Path) -> None:
    made = api.make_dictations([score_on("C")], tmp_path, ["sheet"], apart=True)
    assert [each.kind for each in made] == ["dictation-pdf", "answers-pdf"]
    assert "Answers" not in "".join(pages(made[0].path))
    assert "Answers to dictation" in pages(made[1].path)[0]


def test_the_tones_of_a_dictation_are_counted_in_and_do_not_tell_its_title(tmp_path: Path) -> None:
    score = score_on("low F")
    [made] = api.make_dictations([score], tmp_path, ["tones"], types=("flac", "wav"))[1:]
    assert re.fullmatch(r"dictation-\d{5}-low-f-2nd\.wav", made.path.name)
    for path in tmp_path.glob("dictation*"):
        tags = mutagen.File(path).tags
        told = " ".join(map(str, tags.values() if hasattr(tags, "values") else tags))
        assert "Dictation" in told
        assert TITLE not in told
    sound, rate = sound_of(made.path)
    beat_s = 60 / score.tempo_bpm
    for note in score.notes:
        at = 4 * beat_s + float(note.start) * beat_s  # a bar of clicks, then as written
        tone = sound[round((at + 0.2 * beat_s) * rate) : round((at + 0.45 * beat_s) * rate)]
        target = oracles.tempered_hz(oracles.sounding("low F", note.tab))
        assert abs(1200 * np.log2(heard_hz(tone, rate, target) / target)) < 1


def test_what_is_in_the_way_stays(tmp_path: Path) -> None:
    [made] = api.make_dictations([score_on("C")], tmp_path, ["sheet"])
    made.path.write_bytes(b"mine")
    with pytest.raises(InTheWayError):
        api.make_dictations([score_on("C")], tmp_path)
    assert made.path.read_bytes() == b"mine"
    assert len(list(tmp_path.glob("*.wav"))) == 0  # nothing was made before it was seen


def test_plans_for_the_mouth_are_one_dictation(tmp_path: Path) -> None:
    [drill] = api.find_drills("Scale with lips or tongue")
    plans = [api.expand(drill, api.Harp("C"), api.Position(2), version=n) for n in (0, 1)]
    assert len(api.make_dictations(plans, tmp_path, ["sheet"])) == 1


def test_a_drill_without_rungs_is_dictated_and_not_asked_for(tmp_path: Path) -> None:
    score = score_on("C", "Blues scale, low end")
    with pytest.raises(InputError, match="has no rungs") as caught:
        api.make_dictations([score], tmp_path)
    assert 'to=("sheet", "tones")' in api.explained(caught.value)
    assert not list(tmp_path.iterdir())
    assert api.make_dictations([score], tmp_path, ["sheet"])


# --- the command ------------------------------------------------------------


def run(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(cli, ["dictate", *words])
    return done.exit_code, done.output


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["Blues scale, low end"], "--to sheet,tones for its dictation alone, or take a drill"),
        ([TITLE, "--to", "midi"], f"Choose from: {', '.join(DICTATION_FORMATS)}."),
        ([TITLE, "--to", ","], "no dictation is named"),
        ([TITLE, "--to", "sheet", "--tell"], "Add it: --to sheet,questions"),
        ([TITLE, "--to", "sheet", "--audio", "mp3"], "Add one: --to sheet,tones"),
        ([TITLE, "--questions", "41"], "write 1 to 40"),
        ([TITLE, "--pause", "31"], "write 2 to 30"),
        ([TITLE, "--audio", "aiff"], 'no sound file of type "aiff"'),
        (["No such drill"], 'there is no drill "No such drill"'),
    ],
)  # fmt: skip
def test_what_cannot_be_made_is_said_and_nothing_is_made(
    words: list[str], told: str, tmp_path: Path
) -> None:
    code, output = run(*words, "--out", str(tmp_path / "out"))
    assert code == 2
    assert told in output
    assert not (tmp_path / "out").exists()


def test_the_command_lists_its_files_under_the_drill(tmp_path: Path) -> None:
    words = ("--to", "questions", "--questions", "2", "--pause", "2", "--audio", "flac", "--tell")
    code, output = run(TITLE, "--harp", "A", *words, "--out", str(tmp_path))
    assert code == 0
    heading, *files = output.splitlines()
    assert re.fullmatch(rf"{TITLE}, number \d{{5}}: A harp, position 2", heading)
    assert [line.split()[0] for line in files] == ["questions", "audio"]
    for line in files:
        assert Path(line.split(maxsplit=1)[1]).is_file()
