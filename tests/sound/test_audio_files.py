"""Sound files as other programs find them: loudness, tags, formats, stems, failures.

Loudness is read by pyebur128 (libebur128, EBU R 128 / ITU-R BS.1770), tags by mutagen, sound
by libsndfile through soundfile and by Python's own ``wave``.
"""

from __future__ import annotations

import errno
import io
import os
import signal
import subprocess
import sys
import time
import wave
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import IO, Any

import mutagen
import numpy as np
import pyebur128
import pytest
import soundfile
from click.testing import CliRunner
from mutagen.wave import WAVE
from numpy.typing import NDArray

from reedmill.base.errors import InputError, RenderError
from reedmill.base.text import printable
from reedmill.cli import cli
from reedmill.cli.command_remedies import COMMAND_LINE
from reedmill.expand import expand
from reedmill.formats.data import recording_data
from reedmill.harp import Breath, Harp, OwnReeds, Reed
from reedmill.language import parse
from reedmill.library import Shelved, shipped, usual_position
from reedmill.make.made_files import LIST
from reedmill.make.material import Made, make
from reedmill.make.tone_check import MeasuredNote, hearing_data, hearing_summary, hearing_table
from reedmill.make.verifying import slowing, tone_hz, verified
from reedmill.practice.practice import Click, ClickLevel, Practice, Recording
from reedmill.score.score import Score
from reedmill.sound.recording.mix import take, wav_bytes
from reedmill.sound.signal.level import measured
from reedmill.theory.positions import Position
from sampling import part_of
from tunes import score_from

Samples = NDArray[np.float64]

STATED_LUFS = -18.0
MOST_DBTP = -1.0
TUNE = "-2 -3 -3' ~-3 4:1/2 -4:1/2 r 10 1 -1 r:2"


def read(path: Path) -> Samples:
    """A file as libsndfile decodes it: (samples, channels)."""
    sound, rate = soundfile.read(path, always_2d=True)
    assert rate == 44_100
    return np.asarray(sound, dtype=np.float64)


def loudness(sound: Samples) -> tuple[float, float]:
    """Integrated loudness in LUFS and true peak in dBTP, by libebur128."""
    mode = pyebur128.MeasurementMode.MODE_I | pyebur128.MeasurementMode.MODE_TRUE_PEAK
    state = pyebur128.R128State(sound.shape[1], 44_100, mode)
    state.add_frames(np.ascontiguousarray(sound).ravel(), len(sound))
    peaks = [pyebur128.get_true_peak(state, channel) for channel in range(sound.shape[1])]
    return pyebur128.get_loudness_global(state), float(20 * np.log10(max(peaks)))


def loudness_by_another(sound: Samples) -> float:
    """Integrated loudness in LUFS by pyloudnorm, which takes a second to import."""
    import pyloudnorm

    return float(pyloudnorm.Meter(44_100).integrated_loudness(sound))


def made(folder: Path, recording: Recording, score: Score | None = None) -> dict[str, Path]:
    """The sound files of a recording by the end of their names, from the first dot."""
    files = make([score or score_from(TUNE)], folder, ["wav"], recording=recording)
    return {each.path.name[each.path.name.index(".") :]: each.path for each in files}


# --- one loudness for everything -------------------------------------------------------


def on_c(each: Shelved) -> Score:
    return expand(each.drill, Harp("C"), usual_position(each.drill))


@cache
def by_topic() -> dict[str, list[Score]]:
    topics: dict[str, list[Score]] = {}
    for each in shipped():
        topics.setdefault(each.topic, []).append(on_c(each))
    return topics


def test_another_meter_reads_the_stated_loudness_too(tmp_path: Path) -> None:
    recording = Recording(drone=("root", "fifth"), click=Click.BEATS, practice=Practice(repeats=2))
    for path in made(tmp_path, recording).values():
        lufs = loudness_by_another(read(path))
        assert lufs == pytest.approx(STATED_LUFS, abs=0.3), path.name


@pytest.mark.parametrize("topic", sorted({each.topic for each in shipped()}))
def test_every_shipped_drill_has_the_stated_loudness(
    topic: str, tmp_path: Path, whole: bool
) -> None:
    """Every eighth drill of a topic, beginning with its first; with ``--whole`` all of them."""
    recording = Recording(drone=("root",), click=Click.BEATS)
    drills = part_of(by_topic()[topic], 0, 8, whole=whole)
    files = make(drills, tmp_path, ["wav"], recording=recording)
    assert len(files) == 2 * len(drills)
    for each in files:
        lufs, peak_dbtp = loudness(read(each.path))
        assert lufs == pytest.approx(STATED_LUFS, abs=0.3), each.path.name
        assert peak_dbtp < MOST_DBTP, each.path.name


PRACTICES = {
    "repeats": Practice(repeats=3),
    "echo": Practice(echo_bars=0, count_in_bars=1),
    "fading": Practice(repeats=5, fade_out=True, count_in_bars=2),
    "fading with echoes": Practice(repeats=4, fade_out=True, echo_bars=1),
    "a ladder": Practice(tempi_bpm=(80, 120, 170), repeats=2, count_in_bars=1),
}


@pytest.mark.parametrize("wide", [False, True], ids=["mono", "wide"])
@pytest.mark.parametrize("name", PRACTICES)
def test_every_way_of_practising_has_the_stated_loudness(
    name: str, wide: bool, tmp_path: Path, whole: bool
) -> None:
    """The lowest harp or the highest, in turn; with ``--whole`` both."""
    turn = list(PRACTICES).index(name) + wide
    recording = Recording(
        drone=("root", "fifth", "octave"), click=Click.OFFBEATS, practice=PRACTICES[name], wide=wide
    )
    for harp in part_of(("low C", "high G"), turn, 2, whole=whole):
        for path in made(tmp_path, recording, score_from(TUNE, harp=harp, tempo=140)).values():
            lufs, peak_dbtp = loudness(read(path))
            assert lufs == pytest.approx(STATED_LUFS, abs=0.3), path.name
            assert peak_dbtp < MOST_DBTP, path.name


def test_a_recording_that_is_nearly_all_drone_keeps_its_peaks_down_first(tmp_path: Path) -> None:
    """The tones at its beginning would be cut off if all of it were brought to the level."""
    practice = Practice(repeats=20, fade_out=True, echo_bars=0)
    recording = Recording(
        drone=("root",), click=Click.BEATS, click_level=ClickLevel.QUIET, practice=practice,
        pure=True,
    )  # fmt: skip
    score = score_from("-2 r:7", tempo=200)
    lufs, peak_dbtp = loudness(read(made(tmp_path, recording, score)[".mix.wav"]))
    assert lufs < STATED_LUFS - 0.3
    assert -1.9 < peak_dbtp < MOST_DBTP


def test_lossy_files_keep_the_loudness_and_the_peak(tmp_path: Path) -> None:
    recording = Recording(drone=("root",), click=Click.BEATS, types=("ogg", "mp3"))
    for path in made(tmp_path, recording).values():
        lufs, peak_dbtp = loudness(read(path))
        assert lufs == pytest.approx(STATED_LUFS, abs=0.3), path.name
        assert peak_dbtp < MOST_DBTP, path.name


@pytest.mark.parametrize(
    ("hz", "dbfs", "channels", "lufs"),
    [
        # EBU Tech 3341, minimum requirements: 1 kHz in both channels reads as its level.
        (1000.0, -23.0, 2, -23.0),
        (1000.0, -33.0, 2, -33.0),
        # ITU-R BS.1770: a full-scale 997 Hz sine in one channel reads -3.01.
        (997.0, 0.0, 1, -3.01),
    ],
)
def test_the_meter_reads_the_standards_own_signals(
    hz: float, dbfs: float, channels: int, lufs: float
) -> None:
    sine = 10 ** (dbfs / 20) * np.sin(2 * np.pi * hz * np.arange(20 * 48_000) / 48_000)
    level = measured([np.repeat(sine[:, np.newaxis], channels, axis=1)], 48_000)
    assert level.lufs == pytest.approx(lufs, abs=0.1)
    assert 20 * np.log10(level.true_peak) == pytest.approx(dbfs, abs=0.05)


def test_the_meter_gates_as_the_standard_says() -> None:
    """EBU Tech 3341, test case 3: 10 s at -36, 60 s at -23, 10 s at -36 dBFS reads -23.0 LUFS."""
    sine = np.sin(2 * np.pi * 1000 * np.arange(80 * 48_000) / 48_000)
    level_db = np.repeat([-36.0, -23.0, -36.0], [10 * 48_000, 60 * 48_000, 10 * 48_000])
    sound = (sine * 10 ** (level_db / 20))[:, np.newaxis].repeat(2, axis=1)
    assert measured([sound], 48_000).lufs == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("seed", range(6))
def test_the_meter_agrees_with_two_others_on_noise_and_gaps(seed: int) -> None:
    random = np.random.default_rng(seed)
    loud = np.repeat(10 ** random.uniform(-3, -0.6, 40), 44_100 // 4)
    sound = (random.standard_normal((len(loud), 2)) * 0.25 * loud[:, np.newaxis]).clip(-1, 1)
    pieces = np.array_split(sound, random.integers(1, 90))
    level = measured(pieces, 44_100)
    lufs, peak_dbtp = loudness(sound)
    assert level.lufs == pytest.approx(lufs, abs=0.05)
    assert level.lufs == pytest.approx(loudness_by_another(sound), abs=0.1)
    # White noise is the hardest for a peak between samples; filters differ by some tenths.
    assert 20 * np.log10(level.true_peak) == pytest.approx(peak_dbtp, abs=0.8)


def test_a_peak_between_samples_is_found() -> None:
    # A quarter of the rate, 45 degrees off: every sample is at 0.7071 of the true peak.
    sine = 0.5 * np.sin(np.pi / 2 * np.arange(44_100) + np.pi / 4)
    # faded, because a tone cut off hard really does swing over its peak
    sine[:2000] *= np.sin(np.arange(2000) / 2000 * np.pi / 2) ** 2
    sine[-2000:] *= np.cos(np.arange(2000) / 2000 * np.pi / 2) ** 2
    assert np.abs(sine).max() == pytest.approx(0.5 / 2**0.5, abs=1e-6)
    assert measured([sine[:, np.newaxis]], 44_100).true_peak == pytest.approx(0.5, abs=0.002)


@pytest.mark.parametrize("length", [0, 1, 5_000, 17_639, 17_640])
def test_the_meter_reads_sound_too_short_to_be_gated(length: int) -> None:
    level = measured([np.full((length, 1), 0.25)], 44_100)
    assert np.isfinite(level.factor)
    assert np.isneginf(level.lufs) == (length < 17_640)  # four hundred milliseconds


# --- stems -----------------------------------------------------------------------------


@pytest.mark.parametrize("wide", [False, True], ids=["mono", "wide"])
@pytest.mark.parametrize("bits", [16, 24])
def test_stems_are_aligned_and_sum_to_the_mix(wide: bool, bits: int, tmp_path: Path) -> None:
    """Each file is rounded by itself, so three of them are at most two steps off."""
    recording = Recording(
        drone=("root", "fifth"), click=Click.BEATS, practice=Practice(count_in_bars=1, repeats=2),
        stems=True, wide=wide, bits=bits,
    )  # fmt: skip
    files = made(tmp_path, recording)
    assert set(files) == {".tones.wav", ".mix.wav", ".drone.wav", ".click.wav"}
    stems = [read(files[name]) for name in (".tones.wav", ".drone.wav", ".click.wav")]
    mix = read(files[".mix.wav"])
    assert {each.shape for each in stems} == {mix.shape}
    assert mix.shape[1] == (2 if wide else 1)
    assert np.abs(sum(stems) - mix).max() <= 2 / 2 ** (bits - 1)
    assert all(np.abs(each).max() > 0.05 for each in stems)


@pytest.mark.parametrize("name", PRACTICES)
def test_before_levelling_stems_sum_to_the_mix_within_one_step_of_sixteen_bits(name: str) -> None:
    recording = Recording(drone=("root",), click=Click.BEATS, practice=PRACTICES[name])
    taken = take(recording.plan(score_from(TUNE)), recording)
    parts = [np.concatenate(list(taken.blocks([stem]))) for stem in recording.mixed]
    mix = np.concatenate(list(taken.blocks(recording.mixed)))
    assert np.abs(sum(parts) - mix).max() < 1 / 2**15
    assert len(mix) == taken.count


def test_wide_puts_the_tones_left_and_the_drone_right(tmp_path: Path) -> None:
    recording = Recording(drone=("root",), click=Click.BEATS, stems=True, wide=True)
    files = made(tmp_path, recording)
    guide, drone, click = (read(files[name]) for name in (".tones.wav", ".drone.wav", ".click.wav"))
    assert not guide[:, 1].any()
    assert not drone[:, 0].any()
    assert np.array_equal(click[:, 0], click[:, 1])
    assert all(each.any() for each in (guide, drone, click))


def test_the_tones_alone_and_the_mix_are_what_is_made_without_asking_for_stems(
    tmp_path: Path,
) -> None:
    assert set(made(tmp_path / "a", Recording())) == {".wav"}
    assert set(made(tmp_path / "b", Recording(click=Click.BEATS))) == {".wav", ".mix.wav"}


# --- formats and tags -------------------------------------------------------------------


ALL = ("wav", "flac", "ogg", "mp3")


@pytest.mark.parametrize("bits", [16, 24])
def test_flac_holds_exactly_the_samples_of_the_wav(bits: int, tmp_path: Path) -> None:
    files = made(tmp_path, Recording(types=("wav", "flac"), bits=bits))
    assert np.array_equal(read(files[".wav"]), read(files[".flac"]))
    for path in files.values():
        assert soundfile.info(path).subtype == f"PCM_{bits}"
    with wave.open(str(files[".wav"])) as file:
        assert (file.getsampwidth(), file.getnchannels()) == (bits // 8, 1)


def test_twenty_four_bits_are_finer_than_sixteen(tmp_path: Path) -> None:
    coarse = read(made(tmp_path / "a", Recording())[".wav"])
    fine = read(made(tmp_path / "b", Recording(bits=24))[".wav"])
    assert 0 < np.abs(coarse - fine).max() <= 1 / 2**15
    assert np.array_equal(np.rint(fine * 2**23) / 2**23, fine)


@pytest.mark.parametrize("kind", ["ogg", "mp3"])
@pytest.mark.parametrize("wide", [False, True])
def test_lossy_files_decode_to_the_same_sound_at_the_same_time(
    kind: str, wide: bool, tmp_path: Path
) -> None:
    recording = Recording(drone=("root",), click=Click.BEATS, types=("wav", kind), wide=wide)
    files = made(tmp_path, recording)
    right, lossy = read(files[".mix.wav"]), read(files[f".mix.{kind}"])
    assert lossy.shape == right.shape
    error_db = 10 * np.log10(np.mean((lossy - right) ** 2) / np.mean(right**2))
    assert error_db < -20


def tags_in(path: Path) -> dict[str, str]:
    """What mutagen reads, under the names of Vorbis comments."""
    file = WAVE(path) if path.suffix == ".wav" else mutagen.File(path)
    if path.suffix in (".flac", ".ogg"):
        return {name.upper(): value for name, value in file.tags}
    names = {"TIT2": "TITLE", "TALB": "ALBUM", "TKEY": "INITIALKEY", "TBPM": "BPM"}
    return {
        names.get(frame.FrameID, getattr(frame, "desc", "")): str(frame.text[0])
        for frame in file.tags.values()
    }


@pytest.mark.parametrize("title", ["Home", "Tüne in E\N{MUSIC FLAT SIGN}, 漢字", "x" * 120, ""])
def test_title_key_tempo_and_harp_are_read_back_from_every_format(
    title: str, tmp_path: Path
) -> None:
    score = replace(score_from(TUNE, harp="low F", position=3, tempo=71), title=printable(title))
    files = made(tmp_path, Recording(types=ALL, drone=("root",)), score)
    assert len(files) == 2 * len(ALL)
    for ending, path in files.items():
        heard = "tones and drone" if "mix" in ending else "tones"
        # 3rd position on F is dorian on G: music21's Key('g') has the flats of F's own B flat.
        assert {
            "TITLE": f"{title or 'Untitled'} (low F harp, 3rd, 71 bpm, {heard})",
            "ALBUM": "Reedmill", "INITIALKEY": "Gm", "BPM": "71",
            "HARP": "low F", "POSITION": "3",
            "STEM": "tones, drone" if "mix" in ending else "tones",
        }.items() <= tags_in(path).items()  # fmt: skip


def test_a_ladder_has_both_ends_of_its_tempi_in_the_tags(tmp_path: Path) -> None:
    practice = Practice(tempi_bpm=(60, 70, 80))
    files = made(tmp_path, Recording(types=ALL, practice=practice))
    assert [tags_in(path).get("BPM") for path in files.values()] == ["60", "60-80", "60-80", "60"]
    assert tags_in(files[".wav"])["TEMPO"] == tags_in(files[".mp3"])["TEMPO"] == "60-80"


def test_a_wav_with_tags_is_read_by_the_standard_library(tmp_path: Path) -> None:
    path = made(tmp_path, Recording(bits=24))[".wav"]
    content = path.read_bytes()
    assert int.from_bytes(content[4:8], "little") == len(content) - 8  # RIFF: what follows
    with wave.open(io.BytesIO(content)) as file:
        assert file.getnframes() == len(read(path))


def test_every_format_has_equal_bytes_in_another_process(tmp_path: Path) -> None:
    for seed in ("1", "2"):
        command = [
            sys.executable, "-m", "reedmill.cli", "make", "Two bars home", "--to", "wav",
            "--audio", ",".join(ALL), "--drone", "--click", "--out", str(tmp_path / seed),
        ]  # fmt: skip
        environment = os.environ | {"PYTHONHASHSEED": seed, "TZ": f"UTC-{seed}"}
        subprocess.run(command, check=True, env=environment, capture_output=True)
        time.sleep(1.1)  # so that a clock in a file would show
    found = [
        {path.name: path.read_bytes() for path in (tmp_path / seed).iterdir()} for seed in "12"
    ]
    assert found[0] == found[1]
    assert len(found[0]) == 2 * len(ALL) + 1  # and the list of them


def test_a_long_ogg_is_written_whole(tmp_path: Path) -> None:
    """Written in one piece it would crash the process inside libsndfile."""
    recording = Recording(types=("ogg",), practice=Practice(repeats=30))
    path = made(tmp_path, recording)[".ogg"]
    score = score_from(TUNE)
    assert soundfile.info(path).duration == pytest.approx(
        30 * float(score.seconds(score.length)) + 0.3 + 0.3, abs=0.001
    )


# --- the listening check -----------------------------------------------------------------


@pytest.mark.parametrize("kind", ALL)
@pytest.mark.parametrize("name", ["equal", "just5", "just7"])
def test_every_note_of_a_finished_file_is_heard_at_its_target(
    kind: str, name: str, tmp_path: Path
) -> None:
    score = score_from(TUNE, intonation=name, reference_hz=443.0)
    recording = Recording(types=(kind,), verify=True, practice=Practice(repeats=2, echo_bars=0))
    [file] = make([score], tmp_path, ["wav"], recording=recording)
    assert len(file.heard) == 2 * len(score.notes)
    attacks = 2 * len(score.attacks()) if kind in ("wav", "flac") else 0
    assert sum(each.late_ms is not None for each in file.heard) == attacks
    for each in file.heard:
        assert each.cents is not None
        assert abs(each.cents) < (0.1 if kind in ("wav", "flac") else 0.5)
        assert each.right


def test_notes_are_listened_for_where_they_are(tmp_path: Path) -> None:
    recording = Recording(click=Click.BEATS, practice=Practice(count_in_bars=1))
    score = score_from("-2 -3 4:2", tempo=90)
    path = made(tmp_path, recording, score)[".wav"]
    heard = verified(path, recording.plan(score))
    assert [each.at_s for each in heard] == pytest.approx([8 / 3, 10 / 3, 4], abs=0.001)
    assert [each.note.reed.tab for each in heard] == ["-2", "-3", "4"]


def changed(score: Score, number: int, cents: float) -> Score:
    """The same score with one note elsewhere than it will be listened for."""
    notes = list(score.notes)
    notes[number] = replace(notes[number], hz=notes[number].hz * 2 ** (cents / 1200))
    return replace(score, notes=tuple(notes))


@pytest.mark.parametrize("cents", [-36.0, -1.3, 0.7, 1.3, 1200.0])
def test_a_note_out_of_tune_is_told_by_how_much(cents: float, tmp_path: Path) -> None:
    score = score_from("-2 -3 4 -4")
    path = made(tmp_path, Recording(), changed(score, 2, cents))[".wav"]
    heard = verified(path, Recording().plan(score))
    assert [each.cents for each in heard] == pytest.approx([0, 0, cents, 0], abs=0.1)
    assert [each.right for each in heard] == [True, True, abs(cents) < 1, True]


@pytest.mark.parametrize(("moved_ms", "right"), [(-60, False), (-8, True), (8, True), (60, False)])
def test_a_note_that_begins_elsewhere_is_told(moved_ms: int, right: bool, tmp_path: Path) -> None:
    """The tones of blow 4 are cut out of the file and put back so much earlier or later."""
    score = score_from("-2 r 4 r -4", tempo=60)
    path = made(tmp_path, Recording(), score)[".wav"]
    sound, rate = soundfile.read(path)
    lead_in = round(0.3 * rate)
    there, until = lead_in + 2 * rate - 4410, lead_in + 3 * rate + 4410
    moved = np.roll(sound[there:until], round(moved_ms / 1000 * rate))
    soundfile.write(path, np.concatenate([sound[:there], moved, sound[until:]]), rate)
    heard = verified(path, Recording().plan(score))
    late_ms = [each.late_ms for each in heard]
    assert late_ms == pytest.approx([0, moved_ms, 0], abs=5.1)  # the ear listens every 5 ms
    assert [each.right for each in heard] == [True, right, True]
    word = "EARLY" if moved_ms < 0 else "LATE"
    assert (word in hearing_table(heard)) is not right
    assert ("1 NOT within 20 ms" in hearing_summary(heard)) is not right


def test_a_missing_note_is_not_right(tmp_path: Path) -> None:
    score = score_from("-2 -3 4 -4")
    path = made(tmp_path, Recording(), score_from("-2 r 4 -4"))[".wav"]
    heard = verified(path, Recording().plan(score))
    assert [each.right for each in heard] == [True, False, True, True]
    assert "NOT HEARD" in hearing_table(heard)
    assert hearing_summary(heard) == (
        "3 of 4 notes measured: 1 NOT within 1 cent, the worst 0.01 cent off. "
        "3 attacks heard: all within 20 ms."
    )
    assert hearing_data(heard)[1]["heard_hz"] is None


def test_a_note_too_short_to_measure_is_said_to_be(tmp_path: Path) -> None:
    score = score_from("1:1/8 -2:7/8", harp="low C", tempo=280)
    path = made(tmp_path, Recording(), score)[".wav"]
    heard = verified(path, Recording().plan(score))
    assert [each.too_short for each in heard] == [True, False]
    assert all(each.right for each in heard)
    assert "too short to measure" in hearing_table(heard)


def holes(music: str, folder: Path, kind: str = "wav", **moved: float) -> list[MeasuredNote]:
    """What is heard of *music*; the hole *moved*, as in ``hole_3=-7``, sounds so many cents off."""
    score = expand(parse(f'drill "Holes"\n  tempo 60\n  play {music}')[0], Harp("C"), Position(2))
    off = {int(name.removeprefix("hole_")): cents for name, cents in moved.items()}
    own = {Reed(hole, Breath.DRAW): cents for hole, cents in off.items()}
    harp = replace(score.harp, own=OwnReeds.of("mine", own)) if own else score.harp
    played = expand(parse(f'drill "Holes"\n  tempo 60\n  play {music}')[0], harp, Position(2))
    path = made(folder, Recording(types=(kind,)), played)[f".{kind}"]
    return verified(path, Recording().plan(score), attacks=kind == "wav")


@pytest.mark.parametrize("kind", ["wav", "mp3"])
def test_every_hole_of_a_chord_is_heard_at_its_target(kind: str, tmp_path: Path) -> None:
    heard = holes("-2&3 1&2&3:2 -4 -4&5:1/2 r:1/2", tmp_path, kind)
    assert [each.note.reed.tab for each in heard] == ["-2", "-3", "1", "2", "3", "-4", "-4", "-5"]
    assert max(abs(each.cents or 0) for each in heard) < 0.2
    assert all(each.heard_hz and each.right for each in heard)
    attacks = [each.at_s for each in heard if each.late_ms is not None]
    assert attacks == ([0, 1, 3, 4] if kind == "wav" else [])  # one of each chord


@pytest.mark.parametrize("cents", [-38.0, -1.4, 1.4, 12.0])
def test_a_hole_out_of_tune_in_a_chord_is_told_by_how_much(cents: float, tmp_path: Path) -> None:
    heard = holes("-2&3&4:2", tmp_path, hole_3=cents)
    assert [each.cents for each in heard] == pytest.approx([0, cents, 0], abs=0.2)
    assert [each.right for each in heard] == [True, False, True]
    assert "1 NOT within 1 cent" in hearing_summary(heard)


def test_a_hole_that_is_missing_in_a_chord_is_not_heard(tmp_path: Path) -> None:
    score = expand(parse('drill "Holes"\n  tempo 60\n  play -2&3:2')[0], Harp("C"), Position(2))
    path = made(tmp_path, Recording(), score_from("-2:2"))[".wav"]
    heard = verified(path, Recording().plan(score))
    assert [each.heard_hz is None for each in heard] == [False, True]
    assert [each.right for each in heard] == [True, False]
    assert "NOT HEARD" in hearing_table(heard)


def test_what_cannot_be_measured_is_said_not_to_be(tmp_path: Path) -> None:
    """The upper reed of an octave has no partial that the lower one has not."""
    heard = holes("-1&4:2 shake -4&5:2 vibrato -4:2 -2", tmp_path)
    assert [each.heard_hz is None for each in heard] == [False, True, True, True, True, False]
    table = hearing_table(heard)
    assert table.count("not measured: a shake") == 2
    assert "not measured: a vibrato" in table
    assert "not measured: a hole whose partials are all those of another" in table
    assert hearing_summary(heard).startswith(
        "2 of 6 notes measured: all within 1 cent, the worst 0.01 cent off. Not measured: "
        "a hole whose partials are all those of another, a shake, a vibrato."
    )
    assert [row["cents"] is None for row in hearing_data(heard)] == [
        False, True, True, True, True, False,
    ]  # fmt: skip


def test_marks_of_style_leave_a_steady_part_to_measure(tmp_path: Path) -> None:
    heard = holes("slap -2 scoop -4 fall -4 pull -6 mute -3q slap -3'' -3:1~:2 -3'':3", tmp_path)
    assert all(each.heard_hz is not None and each.right for each in heard)
    assert max(abs(each.cents or 0) for each in heard) < 0.1


@pytest.mark.parametrize("seconds", [0.06, 0.1, 0.2, 0.4])
@pytest.mark.parametrize("hz", [110.0, 261.6256, 1046.5, 3951.07])
def test_the_detector_reads_tones_it_knows_nothing_of(hz: float, seconds: float) -> None:
    """Harmonic tones made here from sines, at random amplitudes and phases."""
    random = np.random.default_rng(round(hz))
    times = np.arange(round(seconds * 44_100)) / 44_100
    for _ in range(10):
        numbers = np.arange(1, min(12, int(18_000 / hz)) + 1)
        levels = random.uniform(0.2, 1, len(numbers)) / numbers
        phases = random.uniform(0, 2 * np.pi, len(numbers))
        tone = sum(
            level * np.sin(2 * np.pi * hz * n * times + phase)
            for n, level, phase in zip(numbers, levels, phases, strict=True)
        )
        found = tone_hz(0.2 * np.asarray(tone), 44_100, slowing(seconds, hz))
        assert found is not None
        assert 1200 * np.log2(found / hz) == pytest.approx(0, abs=0.1 if hz * seconds > 12 else 0.9)


@pytest.mark.parametrize("semitones", [-24, -12, -7, 5, 12, 19, 24])
@pytest.mark.parametrize("hz", [196.0, 783.99, 2093.0])
def test_another_note_than_was_asked_for_is_heard_as_what_it_is(hz: float, semitones: int) -> None:
    """A tone of eight sines, played to the ear as slowly as the note that should be there."""
    other = hz * 2 ** (semitones / 12)
    times = np.arange(round(0.4 * 44_100)) / 44_100
    partials = range(1, min(8, int(20_000 / other)) + 1)
    tone = sum(0.2 / n * np.sin(2 * np.pi * n * other * times + n) for n in partials)
    found = tone_hz(np.asarray(tone), 44_100, slowing(0.4, hz))
    assert found is not None
    assert 1200 * np.log2(found / other) == pytest.approx(0, abs=0.5)


def test_the_detector_hears_nothing_in_silence() -> None:
    assert tone_hz(np.zeros(4410), 44_100) is None
    assert tone_hz(np.zeros(0), 44_100) is None


def by_command(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "reedmill.cli", "make", *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=120)


def test_verify_prints_target_measured_and_difference(tmp_path: Path) -> None:
    done = by_command("Two bars home", "--to", "wav", "--verify", "--out", str(tmp_path))
    assert done.returncode == 0
    assert "target Hz   heard Hz    cents" in done.stdout
    assert "22 of 22 notes measured: all within 1 cent" in done.stdout
    assert "20 attacks heard: all within 20 ms." in done.stdout  # two notes are slid to


def test_verify_fails_where_a_note_is_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def off(sound: Samples, rate: int, times: float) -> float | None:
        found = tone_hz(sound, rate, times)
        return found and found * 2 ** (2 / 1200)

    monkeypatch.setattr("reedmill.make.verifying.tone_hz", off)
    with pytest.raises(SystemExit) as stopped:
        cli(["make", "Two bars home", "--to", "wav", "--verify", "--out", str(tmp_path)])
    assert stopped.value.code == 1
    assert capsys.readouterr().out.count("WRONG") == 22


# --- failures ----------------------------------------------------------------------------


def left_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*"))


@pytest.mark.parametrize("missing", ["soundfile", "mutagen"])
@pytest.mark.parametrize("kind", ["flac", "ogg", "mp3"])
def test_a_missing_package_is_told_with_the_way_out(
    missing: str, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    with pytest.raises(RenderError, match=rf"{missing}.*pip install soundfile mutagen\. WAV needs"):
        made(tmp_path / "out", Recording(types=("wav", kind)))
    assert left_in(tmp_path) == []


def test_wav_needs_neither_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("soundfile", "mutagen"):
        monkeypatch.setitem(sys.modules, name, None)
    recording = Recording(verify=True)
    [file] = make([score_from(TUNE)], tmp_path, ["wav"], recording=recording)
    assert all(each.right for each in file.heard)


def test_a_library_without_an_encoder_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(soundfile, "available_formats", lambda: {"WAV": "", "OGG": ""})
    with pytest.raises(RenderError, match="libsndfile writes no MP3"):
        made(tmp_path / "out", Recording(types=("mp3",)))
    assert left_in(tmp_path) == []


class FullDisk:
    """A file that takes so many bytes and then says that the disk is full."""

    def __init__(self, file: IO[bytes], room: int) -> None:
        self._file, self._room = file, room

    def __enter__(self) -> FullDisk:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def write(self, data: bytes) -> int:
        """As a file does, until there is no room."""
        if self._file.tell() + len(data) > self._room:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return self._file.write(data)


def fill_disks(monkeypatch: pytest.MonkeyPatch, room: int) -> None:
    really = Path.open

    def full(self: Path, mode: str = "r", *rest: Any) -> Any:
        file = really(self, mode, *rest)
        return FullDisk(file, room) if "x" in mode else file

    monkeypatch.setattr(Path, "open", full)


@pytest.mark.parametrize("room", [0, 100, 20_000])
@pytest.mark.parametrize("kind", ALL)
def test_a_full_disk_leaves_nothing(
    kind: str, room: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill_disks(monkeypatch, room)
    with pytest.raises(RenderError, match=rf"\.{kind}: cannot be written \(No space left"):
        made(tmp_path / "out", Recording(types=(kind,)))
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("kind", ALL)
def test_a_full_disk_leaves_what_was_there(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = made(tmp_path, Recording(types=(kind,)))[f".{kind}"]
    before = path.read_bytes()
    fill_disks(monkeypatch, 30_000)
    with pytest.raises(RenderError, match="No space left"):
        made(tmp_path, Recording(types=("wav", kind)), score_from(TUNE, tempo=61))
    assert left_in(tmp_path) == sorted([LIST, path.name])
    assert path.read_bytes() == before


def test_an_unwritable_folder_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the system says it; root, who may run the tests, can write anywhere."""

    def refuse(self: Path, *_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(RenderError, match=r"\.wav: cannot be written \(Permission denied\)\.$"):
        made(tmp_path, Recording())
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("kind", ALL)
def test_a_full_disk_ends_the_command_in_one_sentence(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill_disks(monkeypatch, 30_000)
    words = ["make", "Two bars home", "--to", "wav,tab", "--audio", kind, "--drone", "--stems"]
    result = CliRunner().invoke(cli, [*words, "--out", str(tmp_path / "out")])
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.endswith(f".{kind}: cannot be written (No space left on device).\n")
    assert result.stderr.count("\n") == 1
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_a_file_that_may_not_grow_ends_the_command_in_one_sentence(
    kind: str, tmp_path: Path
) -> None:
    """The system itself stops the writing here: no file may be larger than 30,000 bytes."""
    program = (
        "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, 30_000)); "
        "from reedmill.cli import cli; cli()"
    )
    words = ["make", "Two bars home", "--to", "wav", "--audio", kind, "--out", str(tmp_path / "o")]
    command = [sys.executable, "-c", program, *words]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.endswith(f".{kind}: cannot be written (File too large).\n")
    assert done.stderr.count("\n") == 1
    assert left_in(tmp_path) == []


def test_an_unwritable_folder_ends_the_command_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, *_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))

    monkeypatch.setattr(Path, "mkdir", refuse)
    words = ["make", "Two bars home", "--to", "wav", "--out", str(tmp_path / "out")]
    result = CliRunner().invoke(cli, words)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.endswith(".wav: cannot be written (Permission denied).\n")
    assert result.stderr.count("\n") == 1


def test_a_folder_that_is_a_file_is_told_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine", "utf-8")
    out = str(tmp_path / "taken")
    done = by_command("Two bars home", "--to", "wav", "--audio", "flac", "--out", out)
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "cannot be written" in done.stderr
    assert left_in(tmp_path) == ["taken"]


@pytest.mark.parametrize("kind", ["wav", "ogg"])
def test_control_c_in_the_middle_leaves_nothing(kind: str, tmp_path: Path) -> None:
    command = [
        sys.executable, "-m", "reedmill.cli", "make", "Two bars home", "--to", "wav,tab",
        "--audio", kind, "--repeat", "100", "--ladder", "60 to 66 by 1", "--drone",
        "--out", str(tmp_path / "out"),
    ]  # fmt: skip
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as running:
        until(lambda: any((tmp_path / "out").glob(".*.part")))
        running.send_signal(signal.SIGINT)
        _, told = running.communicate(timeout=60)
    assert told == "Stopped. Nothing unfinished was left behind.\n"
    assert running.returncode == 130
    assert left_in(tmp_path) == []


def until(is_so: Callable[[], bool]) -> None:
    for _ in range(3000):
        if is_so():
            return
        time.sleep(0.01)
    raise AssertionError("it never happened")


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"types": ("aac",)}, "no sound file of type"),
        ({"bits": 20}, "write 16 or 24"),
        ({"bits": 24, "types": ("mp3",)}, "for WAV and FLAC"),
        ({"apart": True}, "Add --ladder"),
        ({"loop": True}, "Add --drone"),
        ({"loop": True, "drone": ("root",), "types": ("wav", "mp3")}, "wav, flac or ogg"),
        ({"stems": True}, "Add --drone or --click"),
        ({"wide": True}, "Add --drone or --click"),
    ],
)
def test_what_would_make_less_than_asked_for_is_refused(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError) as caught:
        Recording(**wrong)
    assert told in str(caught.value.worded(COMMAND_LINE))


def test_a_file_of_each_tempo_is_named_by_it(tmp_path: Path) -> None:
    recording = Recording(practice=Practice(tempi_bpm=(60, 75, 90)), apart=True)
    files = make([score_from(TUNE)], tmp_path, ["wav"], recording=recording)
    assert [(each.path.name.partition(".")[2], each.tempo) for each in files] == [
        ("60-bpm.wav", 60), ("75-bpm.wav", 75), ("90-bpm.wav", 90),
    ]  # fmt: skip
    lengths = [len(read(each.path)) / 44_100 for each in files]
    assert lengths == pytest.approx([12 + 0.6, 12 * 60 / 75 + 0.6, 8 + 0.6], abs=0.001)


def test_files_begin_with_the_silence_asked_for_and_nothing_else_moves(tmp_path: Path) -> None:
    """By default 0.3 s; a loop has none, and what data says of a file's passes counts it in."""
    score = score_from(TUNE)
    usual = Recording(drone=("root",), click=Click.BEATS, loop=True)
    none = made(tmp_path / "none", replace(usual, lead_in_s=Fraction(0)))
    for recording, seconds in ((usual, 0.3), (replace(usual, lead_in_s=Fraction(3, 2)), 1.5)):
        files = made(tmp_path / str(seconds), recording)
        silent = round(seconds * 44_100)
        for ending, path in none.items():
            before = 0 if "loop" in ending else silent
            sound = read(files[ending])
            assert not sound[:before].any(), ending
            assert np.array_equal(sound[before:], read(path)), ending
        told: Any = recording_data(score, recording)["recording"]
        assert told["passes"][0]["start_s"] == seconds


@pytest.mark.parametrize("kind", ["wav", "ogg"])
def test_a_loop_has_no_seam(kind: str, tmp_path: Path) -> None:
    """Where end meets beginning the decoded sound bends no more than it does elsewhere."""
    recording = Recording(drone=("root", "fifth"), loop=True, types=(kind,))
    sound = read(made(tmp_path, recording)[f".drone-loop.{kind}"])[:, 0]
    bends = np.abs(np.diff(np.concatenate([sound[-4410:], sound[:4410]]), n=2))
    assert bends[4400:4420].max() < 1.3 * np.abs(np.diff(sound, n=2)).max()


@pytest.mark.parametrize("level", ["even", "loud"])
def test_a_count_in_is_as_loud_as_the_music_or_over_it(level: str, tmp_path: Path) -> None:
    """Integrated loudness by libebur128 of a bar that is counted in, and of the music after it."""
    recording = Recording(
        click=Click.COUNT_IN, click_level=ClickLevel(level), lead_in_s=Fraction(0),
        practice=Practice(count_in_bars=1),
    )  # fmt: skip
    for tempo in (60, 140):
        score = score_from("-2:4 " * 4, tempo=tempo)
        sound = read(made(tmp_path / str(tempo), recording, score)[".mix.wav"])
        begins = round(4 * 60 / tempo * 44_100)
        clicks, music = (loudness(part)[0] for part in (sound[:begins], sound[begins:]))
        least, most = {"even": (-3, 3), "loud": (1, 6)}[level]
        assert least < clicks - music < most


def test_rows_for_other_programs_name_each_stem(tmp_path: Path) -> None:
    recording = Recording(drone=("root",), click=Click.BEATS, stems=True, loop=True)
    files: list[Made] = make([score_from(TUNE)], tmp_path, ["wav"], recording=recording)
    rows = [(each.path.name.partition(".")[2], each.data()["stem"]) for each in files]
    assert rows == [
        ("tones.wav", "tones"), ("mix.wav", "mix"), ("drone.wav", "drone"), ("click.wav", "click"),
        ("drone-loop.wav", "drone"),
    ]  # fmt: skip


def test_heard_rows_are_there_only_when_asked_for(tmp_path: Path) -> None:
    [plain] = make([score_from(TUNE)], tmp_path, ["wav"])
    assert "heard" not in plain.data()
    recording = Recording(verify=True)
    [checked] = make([score_from(TUNE)], tmp_path, ["wav"], recording=recording)
    rows = checked.data()["heard"]
    assert isinstance(rows, list)
    assert set(rows[0]) == {
        "at", "tab", "name", "target_hz", "heard_hz", "cents", "late_ms", "right",
    }  # fmt: skip


def test_wav_bytes_are_what_the_command_writes(tmp_path: Path) -> None:
    path = made(tmp_path, Recording(lead_in_s=Fraction(0)))[".wav"]
    assert path.read_bytes() == wav_bytes(score_from(TUNE))


def test_hearing_says_nothing_of_notes_it_did_not_measure() -> None:
    note = score_from("-2").notes[0]
    assert hearing_summary([MeasuredNote(note, 0.0, None, too_short=True)]) == (
        "0 of 1 notes measured: all within 1 cent."
    )
