"""MIDI follows the sound: what was asked of a recording comes at the same second in both.

Times are read with pretty_midi, which knows the tempo map, and compared with the taps and
tones that stand in the WAV file itself, found as the places where its samples jump.
"""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
from click.testing import CliRunner

from reedmill.cli import cli
from reedmill.formats.data import recording_data
from reedmill.formats.midi import midi_bytes
from reedmill.harp import Harp, note_on_harp
from reedmill.pack.steps.work import facts_of, score_file
from reedmill.practice.practice import Click, Practice, Recording
from reedmill.sound.recording.mix import take
from reedmill.sound.signal.loudness import Samples
from tunes import score_from

TUNE = "-2 -3 -3' -2 4 -4 -2:2"  # two bars
HI, LOW = 76, 77  # General MIDI level 1 percussion map: Hi Wood Block, Low Wood Block
RATE = 22_050

ASKED = {
    "as written": Recording(),
    "count-in": Recording(click=Click.BEATS, practice=Practice(count_in_bars=2)),
    "count-in alone": Recording(practice=Practice(count_in_bars=1)),
    "a drone leads in": Recording(drone=("root", "fifth"), practice=Practice(count_in_bars=1)),
    "repeats": Recording(click=Click.BEATS, practice=Practice(repeats=3)),
    "echo bar by bar": Recording(click=Click.BEATS, practice=Practice(echo_bars=1, repeats=2)),
    "echo of the whole": Recording(click=Click.BEATS, practice=Practice(echo_bars=0)),
    "fading": Recording(click=Click.BEATS, practice=Practice(repeats=3, fade_out=True)),
    "ladder": Recording(
        click=Click.BEATS, practice=Practice(count_in_bars=1, tempi_bpm=(60, 75, 91))
    ),
    "everything": Recording(
        drone=("root", "fifth", "octave"), click=Click.OFFBEATS,
        practice=Practice(count_in_bars=1, repeats=2, echo_bars=1, tempi_bpm=(88, 60)),
    ),
}  # fmt: skip
each_asked = pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)


def track(read: pretty_midi.PrettyMIDI, name: str) -> list[pretty_midi.Note]:
    return [note for each in read.instruments if each.name == name for note in each.notes]


def reading(recording: Recording) -> pretty_midi.PrettyMIDI:
    raw = midi_bytes(score_from(TUNE), recording)
    return pretty_midi.PrettyMIDI(io.BytesIO(raw))


def starts(sound: Samples) -> list[float]:
    """Seconds at which silence ends."""
    loud = np.flatnonzero(np.abs(sound) > 1e-4)
    first = np.insert(np.diff(loud) > 0.03 * RATE, 0, True)
    return [float(at) / RATE for at in loud[first]]


@pytest.mark.parametrize(
    "asked", [each for each in ASKED.values() if each.clicking],
    ids=[name for name, each in ASKED.items() if each.clicking],
)  # fmt: skip
def test_the_click_is_where_the_sound_has_it(asked: Recording) -> None:
    assert asked.clicking
    taps = take(asked.plan(score_from(TUNE)), asked, rate=RATE).stems["click"]
    heard = starts(taps(0, round(float(asked.plan(score_from(TUNE)).length_s + 1) * RATE)))
    read = [note.start for note in track(reading(asked), "Click")]
    assert len(read) == len(heard) > 0
    assert np.max(np.abs(np.sort(read) - heard)) < 0.002


@each_asked
def test_the_tones_are_where_the_sound_has_them(asked: Recording) -> None:
    """Each note of the file begins in the sound, and there is none in the turns left open."""
    plan = asked.plan(score_from(TUNE))
    read = track(reading(asked), "Guide")
    sound = take(plan, asked, rate=RATE).stems["tones"]
    assert len(read) == sum(7 for heard in plan.passes if heard.guide > 0) * (
        1 if asked.practice.echo_bars != 1 else Fraction(1, 2)
    )
    for note in read:
        after = sound(round((note.start + 0.02) * RATE), round((note.start + 0.1) * RATE))
        assert np.max(np.abs(after)) > 0.01
    silent = [heard for heard in plan.passes if not heard.guide]
    for heard in silent:
        assert not [n for n in read if heard.start_s <= n.start < heard.end_s - Fraction(1, 100)]


def test_fading_tones_are_softer_each_time_and_at_last_silent() -> None:
    asked = ASKED["fading"]
    loud = [note.velocity for note in track(reading(asked), "Guide")]
    assert len(loud) == 14  # of three times seven
    assert set(loud[:7]) == {100}
    assert set(loud[7:]) == {50}


def test_the_drone_holds_root_pure_fifth_and_octave_from_first_to_last() -> None:
    """3:2 and 2:1, as the sound has them: 701.955 and 1200 cents (Helmholtz, Ellis)."""
    raw = midi_bytes(score_from(TUNE), ASKED["everything"])
    file = mido.MidiFile(file=io.BytesIO(raw), charset="utf-8")
    tones = [each for each in file.tracks if each.name.startswith("Drone")]
    assert [each.name for each in tones] == ["Drone", "Drone, fifth", "Drone, octave"]
    cents = []
    for each in tones:
        [on] = [m for m in each if m.type == "note_on"]
        [bend] = [m.pitch for m in each if m.type == "pitchwheel"]
        cents.append(100 * on.note + 100 * 2 * bend / 8192)  # a range of two semitones
        assert sum(m.time for m in each) == max(sum(m.time for m in t) for t in file.tracks)
    assert [x - cents[0] for x in cents] == pytest.approx([0, 701.955, 1200], abs=0.02)
    assert len({m.channel for each in tones for m in each if m.type == "note_on"}) == 3


def test_bars_of_the_music_are_bars_of_the_file() -> None:
    """Also after two seconds of drone alone and a count-in: a bar of 4/4 is 3840 ticks."""
    raw = midi_bytes(score_from(TUNE), ASKED["a drone leads in"])
    file = mido.MidiFile(file=io.BytesIO(raw), charset="utf-8")
    now, first = 0, None
    for message in file.tracks[1]:
        now += message.time
        if message.type == "note_on" and first is None:
            first = now
    assert first == 2 * 3840
    read = pretty_midi.PrettyMIDI(io.BytesIO(raw))
    assert track(read, "Guide")[0].start == pytest.approx(2 + 4 * 60 / 60, abs=1e-4)


def test_tempi_apart_have_a_midi_file_each(tmp_path: Path) -> None:
    said = CliRunner().invoke(
        cli,
        ["make", "Two bars home", "--to", "midi,wav", "--click", "--ladder", "60 to 70 by 10",
         "--apart", "--out", str(tmp_path)],
    )  # fmt: skip
    assert said.exit_code == 0, said.output
    files = sorted(tmp_path.glob("*.mid"))
    assert len(files) == 2
    lengths = [pretty_midi.PrettyMIDI(str(path)).get_end_time() for path in files]
    assert lengths[0] / lengths[1] == pytest.approx(70 / 60, rel=1e-3)


def test_data_of_a_recording_tells_each_pass() -> None:
    score = score_from(TUNE)
    found = recording_data(score, ASKED["echo bar by bar"])["recording"]
    assert (found["click"], found["echo_bars"], found["repeats"]) == ("beats", 1, 2)
    assert [each["tones"] for each in found["passes"]] == [1, 0, 1, 0] * 2
    assert [each["first"] for each in found["passes"]] == ["0", "0", "4", "4"] * 2
    assert found["passes"][-1]["end_s"] == pytest.approx(0.3 + 8 * 4 * 60 / 60)  # after the lead-in
    # the anchor of the tune, for the reader: draw 2 of a C harp is G4
    assert note_on_harp(Harp("C"), score.position, score.notes[0].reed).midi == 67


@pytest.mark.parametrize("count_in", [0, 1, 2])
def test_a_backing_lies_on_its_sound(count_in: int, tmp_path: Path) -> None:
    """A count-in of n bars of 4/4 at 120 lasts n times two seconds, in both files."""
    said = CliRunner().invoke(
        cli,
        ["backing", "--form", "Twelve bars", "--feel", "Straight eighths", "--tempo", "120",
         "--loose", "0", "--choruses", "1", "--to", "midi,wav", "--band", "plain",
         "--out", str(tmp_path),
         *(["--count-in", str(count_in), "--click"] if count_in else [])],
    )  # fmt: skip
    assert said.exit_code == 0, said.output
    [path] = tmp_path.glob("*.mid")
    read = pretty_midi.PrettyMIDI(str(path))
    band = [note.start for name in ("Bass", "Comp") for note in track(read, name)]
    assert min(band) == pytest.approx(2 * count_in, abs=0.002)
    clicks = [note.start for note in track(read, "Click")]
    assert clicks[:1] == ([pytest.approx(0)] if count_in else [])


def test_the_midi_of_a_pack_follows_its_sound_and_nothing_that_only_a_sound_has() -> None:
    score = score_from(TUNE)
    plain = facts_of(score_file(score, "midi", Recording(click=Click.BEATS)))
    wide = Recording(click=Click.BEATS, wide=True, types=("mp3", "flac"), bits=24)
    assert facts_of(score_file(score, "midi", wide)) == plain
    assert facts_of(score_file(score, "midi", ASKED["count-in"])) != plain
    assert facts_of(score_file(score, "tab", ASKED["count-in"])) == facts_of(
        score_file(score, "tab")
    )
