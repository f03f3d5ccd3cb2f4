"""SoundFonts: what they measure, what is left after correction, and what happens without them.

Pitch is read by Praat (parselmouth), targets are music21's (ISO 16).  The fonts are the one
inside pretty_midi, two of Debian's packages, and small ones whose tuning is arithmetic.
"""

from __future__ import annotations

import json
import math
import os
import shlex
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import parselmouth
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import oracles
import soundfonts
from reedmill.base.errors import InputError, ReedmillError, RenderError
from reedmill.cli import cli
from reedmill.cli.command_remedies import COMMAND_LINE
from reedmill.harp import HARP_KEYS, Harp
from reedmill.make.made_files import LIST
from reedmill.practice.practice import Practice, plan_recording
from reedmill.score.score import Score
from reedmill.sound.recording.mix import render
from reedmill.sound.soundfont import cache as soundfont_cache
from reedmill.sound.soundfont import player as soundfont_player
from reedmill.sound.soundfont import tuning as soundfont_tuning
from reedmill.sound.soundfont.file import Preset, SoundFont, open_soundfont, parse_voice
from reedmill.sound.soundfont.font_voice import soundfont_guide, soundfont_voice
from reedmill.sound.soundfont.player import default_soundfont, play_keys
from reedmill.sound.soundfont.tuning import (
    HARP_KEYS_MIDI,
    Fault,
    KeyTuning,
    PresetTuning,
    measure_key,
    measure_preset,
)
from reedmill.sound.soundfont.tuning_report import tuning_text
from soundfonts import Sample, noise, sine, soundfont, vibrato
from tunes import score_from

Samples = NDArray[np.float64]
RATE = 44_100

FONTS = {
    "TimGM6mb": default_soundfont(),
    "FluidR3_GM": Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    "MuseScore_General_Lite": Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3"),
}
PACKAGES = {
    "FluidR3_GM": "fluid-soundfont-gm",
    "MuseScore_General_Lite": "musescore-general-soundfont-small",
}


@pytest.fixture(scope="session")
def shared_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("soundfonts")


@pytest.fixture(autouse=True)
def _not_the_cache_of_the_user(shared_cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soundfont_cache, "cache_folder", lambda: shared_cache)


@pytest.fixture
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soundfont_cache, "cache_folder", lambda: tmp_path / "cache")


def font(name: str) -> SoundFont:
    path = FONTS[name]
    assert path.is_file(), f"this test plays {path}: apt-get install {PACKAGES[name]}"
    return open_soundfont(path)


@cache
def measured(name: str) -> dict[int, KeyTuning]:
    """Every key of a font's harmonica, measured once for all tests."""
    found = font(name)
    return {each.key: each for each in measure_preset(found, found.preset()).keys}


def made(folder: Path, content: bytes, name: str = "made.sf2") -> SoundFont:
    return open_soundfont(soundfonts.write(folder / name, content))


def one_key(found: SoundFont, key: int = 69) -> KeyTuning:
    [only] = measure_preset(found, found.preset(), [key]).keys
    return only


def praat_cents(sound: Samples, target_hz: float) -> Samples:
    """Praat's pitch in cents from a target, all along *sound*; it must hear one everywhere."""
    # A floor of 75 Hz gives frames of 40 ms, about what an ear takes a pitch from.
    found = parselmouth.Sound(sound, RATE).to_pitch_ac(
        time_step=0.01, pitch_floor=75, pitch_ceiling=target_hz * 2.2
    )
    hz = np.asarray(found.selected_array["frequency"], dtype=np.float64)
    assert len(hz) > 5
    assert hz.min() > 0, "Praat hears no pitch"
    cents: Samples = 1200 * np.log2(hz / target_hz)
    return cents


# --- what is measured ------------------------------------------------------------------

# The harmonica of TimGM6mb (General MIDI program 23) in cents, by MIDI key: measured with
# three pitch detectors that agreed, none of them ours.
AS_FOUND = {(52, 59): 2.8, (60, 64): 4.2, (65, 70): -29.3, (71, 73): -35.7, (74, 90): 3.0}


@pytest.mark.parametrize(("keys", "cents"), AS_FOUND.items())
def test_the_usual_font_is_as_far_out_as_three_detectors_found(
    keys: tuple[int, int], cents: float
) -> None:
    for key in range(keys[0], keys[1] + 1):
        assert measured("TimGM6mb")[key].before_cents == pytest.approx(cents, abs=0.2), key


def test_the_worst_key_is_what_its_loop_of_whole_samples_gives() -> None:
    # One period of 27 samples at 22,050 Hz, for Ab5 (key 80), from the file's sample header.
    loop = 1200 * math.log2(22_050 / 27 / oracles.tempered_hz(80))
    assert loop == pytest.approx(-29.31, abs=0.01)
    assert measured("TimGM6mb")[68].before_cents == pytest.approx(loop, abs=0.1)


def test_another_font_is_nearly_right_as_found() -> None:
    # Three detectors: between -1.1 and +1.6 cents from E3 to C7.
    found = [measured("FluidR3_GM")[key].before_cents for key in range(52, 97)]
    assert min(found) == pytest.approx(-1.1, abs=0.1)
    assert max(found) == pytest.approx(1.6, abs=0.1)


def test_a_second_layer_out_of_tune_is_found() -> None:
    # Three detectors disagreed on keys 54 to 59 alone, where a detuned layer sounds too.
    wavering = [
        key
        for key, each in measured("MuseScore_General_Lite").items()
        if each.fault is Fault.WAVERS
    ]
    assert wavering == list(range(54, 60))


@pytest.mark.parametrize("period", [97, 98, 99, 101, 102])
@pytest.mark.parametrize("key", [45, 69, 94])
def test_a_loop_of_whole_samples_is_out_by_what_arithmetic_says(
    tmp_path: Path, period: int, key: int
) -> None:
    found = one_key(made(tmp_path, soundfont(sine(RATE / period, 1, attack_hz=440))), key)
    out = 1200 * math.log2(RATE / period / 440)
    assert abs(out) > 2
    assert found.before_cents == pytest.approx(out, abs=0.02)
    assert found.trusted
    assert abs(found.after_cents) < 0.02


def test_a_correction_in_the_sample_header_counts(tmp_path: Path) -> None:
    told = soundfont(Sample(sine(441, 1).wave, RATE // 10, cents=-20))
    out = 1200 * math.log2(441 / 440) - 20
    assert one_key(made(tmp_path, told)).before_cents == pytest.approx(out, abs=0.02)


FAULTY = {
    "vibrato": (soundfont(vibrato(440, 20, 6)), Fault.WAVERS),
    "two layers": (soundfont(sine(440, 44), sine(442, 44)), Fault.WAVERS),
    "noise": (soundfont(noise()), Fault.NO_PITCH),
    "an octave under": (soundfont(sine(220, 22)), Fault.OTHER_NOTE),
    "other keys": (soundfont(sine(440, 11), keys=(60, 65)), Fault.SILENT),
}


@pytest.mark.parametrize(("content", "fault"), FAULTY.values(), ids=FAULTY)
def test_what_cannot_be_put_right_is_not_trusted(
    tmp_path: Path, content: bytes, fault: Fault
) -> None:
    found = one_key(made(tmp_path, content))
    assert (found.fault, found.trusted) == (fault, False)


def test_a_sound_that_is_over_at_once_is_not_trusted() -> None:
    tap = np.zeros(2 * RATE)
    tap[: RATE // 5] = np.sin(2 * np.pi * 440 * np.arange(RATE // 5) / RATE)
    assert measure_key(69, tap).fault is Fault.SHORT


def test_how_far_a_vibrato_goes_is_read_from_the_sound(tmp_path: Path) -> None:
    # 2 a second is slow against a frame, so that nothing of its 20 cents is averaged away
    found = one_key(made(tmp_path, soundfont(vibrato(440, 20, 2))))
    assert found.wavers_cents == pytest.approx(20, abs=1.5)


def test_every_harp_finds_its_keys_in_the_table() -> None:
    names = [*(f"low {key}" for key in HARP_KEYS), *HARP_KEYS, "high G"]
    harps = [Harp.parse(name) for name in names]
    keys = {harp.midi(reed) for harp in harps for reed in harp.reeds()}
    assert keys == set(HARP_KEYS_MIDI)


# --- after correction, by Praat --------------------------------------------------------


# Up to what key each font's harmonica reaches, with the three semitones a key may stand in.
REACHES = {"TimGM6mb": 104, "FluidR3_GM": 99, "MuseScore_General_Lite": 104}


@pytest.mark.parametrize(("name", "highest"), REACHES.items())
def test_every_key_ends_within_two_cents_from_its_first_moment_on(name: str, highest: int) -> None:
    found, wanted = font(name), range(43, highest + 1)
    asked = [((oracles.tempered_hz(key),), 1.0) for key in wanted]
    voice = soundfont_voice(found, found.preset(), asked)
    for key in wanted:
        target = oracles.tempered_hz(key)
        cycles = np.arange(RATE, dtype=np.float64) * (target / RATE)
        cents = praat_cents(voice.tone((target,), RATE).along(cycles), target)
        assert abs(float(np.median(cents))) < 0.5, key
        assert float(np.max(np.abs(cents))) < 2, key


def test_beyond_the_keys_of_a_font_is_said_so() -> None:
    found = font("FluidR3_GM")
    with pytest.raises(InputError) as caught:
        soundfont_voice(found, found.preset(), [((oracles.tempered_hz(104),), 1.0)])
    assert str(caught.value.worded(COMMAND_LINE)) == (
        f"program 23 (Harmonica) of {found.path} has no tone that can be trusted near MIDI key "
        "104 (3322 Hz). Choose another harp, another font or the reed voice; "
        "reedmill soundfont shows every key, and why."
    )


@pytest.mark.parametrize("rate", [22_050, 48_000])
def test_a_tone_keeps_its_pitch_at_another_sample_rate(rate: int) -> None:
    found, target = font("TimGM6mb"), oracles.tempered_hz(66)
    voice = soundfont_voice(found, found.preset(), [((target,), 1.2)])
    tone = voice.tone((target,), rate).along(np.arange(rate, dtype=np.float64) * (target / rate))
    heard = parselmouth.Sound(tone, rate).to_pitch_ac(pitch_floor=150, pitch_ceiling=800)
    hz = heard.selected_array["frequency"]
    assert float(np.max(np.abs(1200 * np.log2(hz / target)))) < 0.5


# --- as a guide ------------------------------------------------------------------------


def guide_of(score: Score, name: str = "TimGM6mb", practice: Practice | None = None) -> Samples:
    planned = plan_recording(score, practice or Practice())
    found = font(name)
    count = math.ceil((float(planned.length_s) + 0.3) * RATE)
    return soundfont_guide(planned, found, found.preset(), RATE)(0, count)


@pytest.mark.parametrize("name", FONTS)
@pytest.mark.parametrize(("intonation", "reference_hz"), [("equal", 440.0), ("just7", 443.0)])
def test_the_notes_of_a_drill_are_right(name: str, intonation: str, reference_hz: float) -> None:
    tabs = ["-1", "-2''", "2", "-3", "-3'", "-3''", "-3'''", "-4'", "6", "-6'", "8'", "10''"]
    score = score_from(" ".join(tabs), intonation=intonation, reference_hz=reference_hz)
    sound = guide_of(score, name)
    table = oracles.published_cents()[intonation]
    root = oracles.key_number("G4")  # 2nd position on a C harp
    for at, tab in enumerate(tabs):
        octave, step = divmod(oracles.sounding("C", tab) - root, 12)
        target = oracles.tempered_hz(root) * 2 ** (octave + table[step] / 1200)
        target *= reference_hz / 440
        middle = sound[at * RATE + RATE // 50 : (at + 1) * RATE - RATE // 20]
        assert float(np.max(np.abs(praat_cents(middle, target)))) < 2, tab


def test_a_slide_goes_from_note_to_note_on_one_breath() -> None:
    sound = guide_of(score_from("-3:2 ~-3'':2"))
    start, end = (oracles.tempered_hz(oracles.sounding("C", tab)) for tab in ("-3", "-3''"))
    assert float(np.max(np.abs(praat_cents(sound[RATE : 2 * RATE], start)))) < 2
    # a slide lasts 80 ms, see the score
    after = sound[2 * RATE + RATE // 10 : 4 * RATE - RATE // 20]
    assert float(np.max(np.abs(praat_cents(after, end)))) < 2
    # halfway it is halfway in cents: of a smooth step, both ends taken alike
    between = sound[2 * RATE - RATE // 50 : 2 * RATE + RATE // 10]
    heard = parselmouth.Sound(between, RATE).to_pitch_ac(
        time_step=0.001, pitch_floor=300, pitch_ceiling=700
    )
    assert 1200 * math.log2(heard.get_value_at_time(0.02 + 0.04) / start) == pytest.approx(
        -100, abs=3
    )
    levels = [np.std(part) for part in np.split(sound[RATE : 3 * RATE], 40)]
    assert min(levels) > 0.8 * max(levels)


def test_it_is_as_loud_as_the_reed_voice() -> None:
    # ITU-R BS.1770 by pyloudnorm, which takes a second to import
    import pyloudnorm

    score = score_from("-1 2 -3''' 6 8' 10 -10 5")
    meter = pyloudnorm.Meter(RATE)
    font_lufs, reed_lufs = (meter.integrated_loudness(s) for s in (guide_of(score), render(score)))
    assert font_lufs == pytest.approx(reed_lufs, abs=1)


def test_notes_begin_where_they_are_written_and_rests_are_silent() -> None:
    sound = guide_of(score_from("-2 r -3:1/2 r:1/2 4", tempo=90))
    beat = RATE * 60 // 90
    for at, silent_from in ((0, 1.0), (2, 2.5), (3, 4.0)):
        first = np.flatnonzero(np.abs(sound[round(at * beat) :]) > 0.02)[0]
        assert first < 0.003 * RATE
        assert not np.any(sound[round(silent_from * beat) : round((silent_from + 0.4) * beat)])


def test_a_recording_is_the_same_in_one_piece_and_in_many() -> None:
    score, found = score_from("-2 ~-2' r 10'' -3''':1/2 ~-3:5/2 9"), font("TimGM6mb")
    block = soundfont_guide(plan_recording(score), found, found.preset(), RATE)
    whole = block(0, 9 * RATE)
    cuts = [*range(0, 9 * RATE, 12_345), 9 * RATE]
    pieces = [block(first, last) for first, last in pairwise(cuts)]
    assert np.array_equal(np.concatenate(pieces), whole)


def test_equal_scores_give_equal_bytes() -> None:
    score = score_from("-2 -3''' 10' ~10''")
    assert guide_of(score).tobytes() == guide_of(score).tobytes()


def test_a_key_sounds_the_same_whatever_was_played_before_it() -> None:
    found = font("TimGM6mb")
    [_, _, after] = play_keys(found, found.preset(), [(40, 9000), (71, 20_000), (66, 30_000)])
    [alone] = play_keys(found, found.preset(), [(66, 30_000)])
    assert np.array_equal(after, alone)


def test_repeats_fade_as_the_practice_says() -> None:
    sound = guide_of(score_from("-2:4"), practice=Practice(repeats=3, fade_out=True))
    levels = [
        float(np.std(sound[at * 4 * RATE + RATE : at * 4 * RATE + 3 * RATE])) for at in (0, 1, 2)
    ]
    assert levels[1] == pytest.approx(levels[0] / 2, rel=0.01)
    assert levels[2] == 0


def test_accented_notes_stand_out() -> None:
    score = score_from("-2 -2")
    first, second = score.notes
    loud = replace(score, notes=(first, replace(second, accent=True)))
    sound = guide_of(loud)
    levels = [np.std(sound[at * RATE + RATE // 4 :][: RATE // 2]) for at in (0, 1)]
    # 3 dB, as the reed voice has it
    assert 20 * math.log10(levels[1] / levels[0]) == pytest.approx(3, abs=0.05)


def test_music_too_long_for_the_voice_is_refused() -> None:
    found = font("TimGM6mb")
    with pytest.raises(InputError) as caught:
        soundfont_voice(found, found.preset(), [((440.0,), 700.0)])
    assert str(caught.value) == (
        "the notes of this music are too long for a SoundFont voice. "
        "Choose a faster tempo, or the reed voice."
    )


# --- files that are no SoundFont ---------------------------------------------------------


GOOD = soundfont(sine(441, 1))


def without(part: bytes) -> bytes:
    return GOOD.replace(part, b"xxxx")


def pointing(table: bytes, place: int, number: int) -> bytes:
    """The good font with one 16-bit number of a table changed."""
    at = GOOD.index(table) + 8 + place
    return GOOD[:at] + struct.pack("<H", number) + GOOD[at + 2 :]


NONE = (
    "is not a SoundFont. Files of that kind end in .sf2 or .sf3; "
    "a packed one must be unpacked first."
)
SOUND = NONE.replace("is not", "is a sound file, not")
CUT_OFF = "is cut off: its end is missing. Get the whole file again."


def damaged(why: str) -> str:
    return f"is a damaged SoundFont: {why}. Get the file again."


def outside(table: str, into: str) -> str:
    return damaged(f'its table "{table}" points outside the table "{into}"')


DAMAGED = {
    "empty": (b"", NONE),
    "text": (b"Not a font at all, but text.", NONE),
    "a WAV": (b"RIFF\x04\0\0\0WAVE" + bytes(9), SOUND),
    "cut off": (GOOD[:-50], CUT_OFF),
    "no sound": (without(b"smpl"), damaged("it holds no sound")),
    "no tables": (without(b"pdta"), damaged('its part "pdta" is missing')),
    "no headers": (
        without(b"shdr"),
        damaged('its table "shdr" is missing or has a wrong size'),
    ),
    "no version": (without(b"ifil"), damaged("it does not say its version")),
    "version 9": (pointing(b"ifil", 0, 9), "is a SoundFont of version 9; 2 and 3 are played."),
    "preset out": (pointing(b"phdr", 38 + 24, 900), outside("phdr", "pbag")),
    "bag back": (pointing(b"ibag", 0, 9), outside("ibag", "igen")),
    "no such instrument": (pointing(b"pgen", 2, 7), outside("pgen", "inst")),
    "no such sample": (pointing(b"igen", 10, 7), outside("igen", "shdr")),
    "a part too long": (pointing(b"smpl", -4, 65_535), damaged('its part "smpl" is too long')),
}


@pytest.mark.parametrize(("content", "message"), DAMAGED.values(), ids=DAMAGED)
def test_a_damaged_file_is_refused_with_the_reason(
    tmp_path: Path, content: bytes, message: str
) -> None:
    path = soundfonts.write(tmp_path / "bad.sf2", content)
    with pytest.raises(InputError) as caught:
        open_soundfont(path)
    assert str(caught.value) == f"{path} {message}"


def test_a_file_that_is_not_there_or_no_file(tmp_path: Path) -> None:
    for path, message in {
        tmp_path / "none.sf2": f"there is no SoundFont {tmp_path}/none.sf2. "
        "soundfonts_README.md says where free ones come from.",
        tmp_path: f"{tmp_path} is not a file. Name a SoundFont file, ending in .sf2 or .sf3.",
        Path("/dev/zero"): "/dev/zero is not a file. "
        "Name a SoundFont file, ending in .sf2 or .sf3.",
    }.items():
        with pytest.raises(InputError) as caught:
            open_soundfont(path)
        assert str(caught.value) == message


@given(st.integers(0, len(GOOD) - 1))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_a_font_cut_anywhere_is_refused(tmp_path: Path, size: int) -> None:
    path = soundfonts.write(tmp_path / "cut.sf2", GOOD[:size])
    with pytest.raises(InputError):
        open_soundfont(path)


def message_of(action: Callable[..., object], *arguments: object) -> str:
    """What *action* says when it is refused, nothing when it is not."""
    try:
        action(*arguments)
    except ReedmillError as error:
        return str(error)
    return ""


TABLES_AT = GOOD.index(b"pdta")


@given(
    st.lists(
        st.tuples(st.integers(0, len(GOOD) - TABLES_AT - 1), st.binary(min_size=1, max_size=4)),
        min_size=1,
        max_size=6,
    )
)
@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=300
)
def test_a_font_changed_anywhere_ends_in_a_message_or_a_font(
    tmp_path: Path, changes: list[tuple[int, bytes]]
) -> None:
    content = bytearray(GOOD)
    for at, new in changes:
        content[TABLES_AT + at : TABLES_AT + at + len(new)] = new
    path = soundfonts.write(tmp_path / "changed.sf2", bytes(content))
    said = message_of(open_soundfont, path)
    assert said == "" or str(path) in said


def test_fonts_with_hostile_numbers_harm_nobody(tmp_path: Path) -> None:
    # What our own check lets through goes to FluidSynth in a process of its own.
    randomly = np.random.default_rng(11)
    played = 0
    while played < 12:
        content = bytearray(GOOD)
        for at in randomly.integers(TABLES_AT, len(GOOD), 3):
            content[at] = int(randomly.integers(0, 256))
        path = soundfonts.write(tmp_path / "hostile.sf2", bytes(content))
        if message_of(open_soundfont, path):
            continue
        played += 1
        found = open_soundfont(path)
        assert "\n" not in message_of(measure_preset, found, found.presets[0], [69])


def test_names_in_a_font_are_made_harmless(tmp_path: Path) -> None:
    found = made(tmp_path, soundfont(sine(441, 1), name="Red\x1b[31m\x07"))
    assert found.preset().name == "Red[U+001B][31m[U+0007]"
    assert made(tmp_path, soundfont(sine(441, 1), name="")).preset().name == "without a name"


# --- programs -----------------------------------------------------------------------------


def test_the_harmonica_is_taken_unless_another_program_is_named() -> None:
    found = font("TimGM6mb")
    assert (found.preset().number, found.preset().name) == (22, "Harmonica")
    assert found.preset(1).number == 0


def test_the_only_instrument_of_a_font_needs_no_number(tmp_path: Path) -> None:
    found = made(tmp_path, soundfont(sine(441, 1), number=5))
    assert found.preset().program == 6
    with pytest.raises(InputError) as caught:
        found.preset(23)
    assert str(caught.value) == (
        f"{found.path} has no program 23. It has 6 (Sine); "
        "write the number after the name, like made.sf2:6"
    )


def test_a_colon_in_a_file_name_does_no_harm(tmp_path: Path) -> None:
    odd = soundfonts.write(tmp_path / "my:23", GOOD)
    assert parse_voice(str(odd)) == (odd, None)
    assert parse_voice(f"{odd}:9") == (odd, 9)
    assert parse_voice("C:font.sf2") == (Path("C:font.sf2"), None)


@pytest.mark.parametrize("number", ["0", "129", "99999999999999999999999"])
def test_programs_go_from_1_to_128(number: str) -> None:
    with pytest.raises(InputError, match=f"there is no program {number[:20]}; .* from 1 to 128"):
        parse_voice(f"font.sf2:{number}")


# --- without the library, or with a broken one -------------------------------------------


PRETEND = {
    "pyfluidsynth missing": (
        'raise ModuleNotFoundError("No module named fluidsynth", name="fluidsynth")',
        "SoundFonts need the Python package pyfluidsynth. "
        'Install it: pip install "reedmill[soundfont]"',
    ),
    "libfluidsynth missing": (
        'raise ImportError("Couldn\'t find the FluidSynth library.")',
        "SoundFonts need the library libfluidsynth. Install it: apt-get install libfluidsynth3 "
        "(Fedora: dnf install fluidsynth-libs, Arch: pacman -S fluidsynth)",
    ),
    "libfluidsynth crashing": (
        "import os, signal\nos.kill(os.getpid(), signal.SIGSEGV)",
        "FluidSynth broke down while it played {path} (exit code -11). Try another font.",
    ),
    "libfluidsynth too old": (
        "cfunc = lambda *_: None\nSynth = lambda **_: None",
        "the library libfluidsynth is there but does not work (RuntimeError: "
        "fluid_synth_write_float is missing). Install it again: apt-get install libfluidsynth3 "
        "(Fedora: dnf install fluidsynth-libs, Arch: pacman -S fluidsynth)",
    ),
    "libfluidsynth that never ends": (
        "import time\ntime.sleep(60)",
        "FluidSynth did not finish playing {path} within 1 s and was stopped. Try another font.",
    ),
}


@pytest.fixture
def on_linux(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        soundfont_player,
        "INSTALL",
        dict.fromkeys([sys.platform], soundfont_player.INSTALL["linux"]),
    )


@pytest.mark.usefixtures("on_linux")
@pytest.mark.parametrize(("program", "message"), PRETEND.values(), ids=PRETEND)
def test_a_library_that_fails_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str, message: str
) -> None:
    found = made(tmp_path, GOOD)
    (tmp_path / "pretend").mkdir()
    (tmp_path / "pretend" / "fluidsynth.py").write_text(program)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path / "pretend"))
    if "sleep" in program:
        monkeypatch.setattr(soundfont_player, "_START_S", 1)
    with pytest.raises(RenderError) as caught:
        play_keys(found, found.preset(), [(69, 100)])
    assert str(caught.value) == message.format(path=found.path)


@pytest.mark.usefixtures("on_linux")
def test_a_library_that_is_damaged_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = made(tmp_path, GOOD)
    (tmp_path / "libfluidsynth.so.3").write_bytes(b"")  # the loader looks here first
    monkeypatch.setenv("LD_LIBRARY_PATH", str(tmp_path))
    with pytest.raises(RenderError, match=r"there but does not work .*file too short.*Install it"):
        play_keys(found, found.preset(), [(69, 100)])


def test_what_the_binding_prints_on_a_build_server_hides_no_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CI", "true")
    monkeypatch.delenv("PYTHONUNBUFFERED", raising=False)
    found = made(tmp_path, GOOD)
    with pytest.raises(InputError, match="has no program 100 that FluidSynth can play"):
        play_keys(found, Preset(0, 99, "Lost"), [(69, 100)])


def test_a_font_that_fluidsynth_does_not_accept_is_bad_input(tmp_path: Path) -> None:
    found = made(tmp_path, GOOD)
    soundfonts.write(found.path, b"changed behind our back")
    with pytest.raises(InputError) as caught:
        play_keys(found, found.preset(), [(69, 100)])
    assert str(caught.value) == f"{found.path} cannot be played: FluidSynth does not accept it."


def test_a_program_that_fluidsynth_does_not_find_is_bad_input(tmp_path: Path) -> None:
    found = made(tmp_path, GOOD)
    with pytest.raises(InputError) as caught:
        play_keys(found, Preset(0, 99, "Lost"), [(69, 100)])
    assert str(caught.value) == f"{found.path} has no program 100 that FluidSynth can play."


def test_files_of_the_folder_we_are_in_are_not_imported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "fluidsynth.py").write_text("raise ImportError")
    monkeypatch.chdir(tmp_path)
    assert one_key(made(tmp_path, GOOD)).trusted


def test_without_the_usual_font_the_command_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(soundfont_player, "find_spec", lambda _name: None)
    result = CliRunner().invoke(cli, ["soundfont"])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        "no SoundFont is named and the usual one is not installed. "
        'Name a file, or install it: pip install "reedmill[soundfont]"\n'
    )


def test_the_usual_font_is_found_without_importing_its_package() -> None:
    program = (
        "import sys; from reedmill.sound.soundfont.player import default_soundfont; "
        "assert default_soundfont().is_file(); assert 'pretty_midi' not in sys.modules"
    )
    paths = os.pathsep.join(path for path in sys.path if path)
    subprocess.run(
        [sys.executable, "-c", program], check=True, env={**os.environ, "PYTHONPATH": paths}
    )


# --- the cache -----------------------------------------------------------------------------


def kept(folder: Path) -> list[Path]:
    return sorted((folder / "cache").rglob("*.json"))


def forbid_playing(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> list[Samples]:
        raise AssertionError("it was played again")

    monkeypatch.setattr(soundfont_tuning, "play_keys", refuse)


@pytest.mark.usefixtures("own_cache")
def test_what_was_measured_is_not_played_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = made(tmp_path, GOOD)
    first = measure_preset(found, found.preset(), [60, 69])
    forbid_playing(monkeypatch)
    assert measure_preset(found, found.preset(), [60, 69]) == first
    assert [each.key for each in measure_preset(found, found.preset(), [69]).keys] == [69]


@pytest.mark.usefixtures("own_cache")
def test_only_new_keys_are_played_and_all_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = made(tmp_path, GOOD)
    measure_preset(found, found.preset(), [60])
    measure_preset(found, found.preset(), [69])
    forbid_playing(monkeypatch)
    assert len(measure_preset(found, found.preset(), [60, 69]).keys) == 2


@pytest.mark.usefixtures("own_cache")
def test_a_font_is_known_by_its_content_not_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = made(tmp_path, GOOD)
    first = one_key(found)
    other = made(tmp_path, soundfont(sine(450, 1)))  # under the same name
    assert one_key(other).before_cents == pytest.approx(1200 * math.log2(450 / 440), abs=0.02)
    assert len(kept(tmp_path)) == 2
    forbid_playing(monkeypatch)
    assert one_key(made(tmp_path, GOOD, "renamed.sf2")) == first


def changed(name: str, value: object) -> str:
    return json.dumps({**CONTENT, name: value})


ROW = [69, "", 441.0, 0.0, 0.1, 0.0]
CONTENT = {
    "version": soundfont_cache.VERSION, "sha256": "", "bank": 0, "program": 22, "keys": [ROW],
}  # fmt: skip
UNSOUND = {
    "nothing": "",
    "half a file": json.dumps(CONTENT)[:40],
    "no object": "[]",
    "deep": "[" * 100_000,
    "another version": changed("version", 0),
    "another hash": changed("sha256", "0" * 64),
    "another program": changed("program", 3),
    "more than there is": changed("extra", 1),
    "no rows": changed("keys", 5),
    "a short row": changed("keys", [ROW[:5]]),
    "a key out of range": changed("keys", [[128, *ROW[1:]]]),
    "a key that is true": changed("keys", [[True, *ROW[1:]]]),
    "text for a number": changed("keys", [[69, "", "441", 0, 0, 0]]),
    "not a number": changed("keys", [[69, "", math.nan, 0, 0, 0]]),
    "a huge number": changed("keys", [[69, "", 10**400, 0, 0, 0]]),
    "no frequency": changed("keys", [[69, "", 0, 0, 0, 0]]),
    "another note": changed("keys", [[69, "", 300.0, 0, 0, 0]]),
    "an unknown fault": changed("keys", [[69, "cursed", 0, 0, 0, 0]]),
}


@pytest.mark.usefixtures("own_cache")
@pytest.mark.parametrize("content", UNSOUND.values(), ids=UNSOUND)
def test_a_cache_that_is_not_sound_is_measured_anew(tmp_path: Path, content: str) -> None:
    found = made(tmp_path, GOOD)
    first = one_key(found)
    [place] = kept(tmp_path)
    digest = place.name.partition("-")[0]
    sound = place.read_text()
    place.write_text(content.replace('"sha256": ""', f'"sha256": "{digest}"'))
    assert one_key(found) == first
    assert place.read_text() == sound


@pytest.mark.usefixtures("own_cache")
def test_the_rows_that_are_refused_would_have_been_taken_when_right(tmp_path: Path) -> None:
    # Else the test above would prove nothing.
    found = made(tmp_path, GOOD)
    one_key(found)
    [place] = kept(tmp_path)
    digest = place.name.partition("-")[0]
    place.write_text(json.dumps({**CONTENT, "sha256": digest, "keys": [[69, "", 444.0, 0, 0, 0]]}))
    assert one_key(found).hz == 444.0


@pytest.mark.usefixtures("own_cache")
def test_a_cache_may_be_deleted_and_need_not_be_writable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = made(tmp_path, GOOD)
    first = one_key(found)
    [place] = kept(tmp_path)
    place.unlink()
    assert one_key(found) == first
    (tmp_path / "taken").write_text("a file of the player's")
    monkeypatch.setattr(soundfont_cache, "cache_folder", lambda: tmp_path / "taken")
    assert one_key(found) == first
    assert (tmp_path / "taken").read_text() == "a file of the player's"


@pytest.mark.usefixtures("own_cache")
def test_nothing_half_written_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    found = made(tmp_path, GOOD)
    monkeypatch.setattr(Path, "replace", full)
    assert one_key(found).trusted
    assert [path for path in (tmp_path / "cache").rglob("*") if path.is_file()] == []


@pytest.mark.usefixtures("own_cache")
def test_silence_is_not_kept(tmp_path: Path) -> None:
    # A FluidSynth without Ogg plays an SF3 as silence, until another is installed.
    found = made(tmp_path, soundfont(sine(441, 1), keys=(60, 65)))
    assert one_key(found).fault is Fault.SILENT
    assert kept(tmp_path) == []


@pytest.mark.parametrize(
    ("system", "variables", "place"),
    [
        ("linux", {"XDG_CACHE_HOME": "/there"}, "/there/reedmill"),
        ("linux", {"XDG_CACHE_HOME": "relative"}, "/home/ann/.cache/reedmill"),
        ("linux", {}, "/home/ann/.cache/reedmill"),
        ("darwin", {"XDG_CACHE_HOME": "/there"}, "/home/ann/Library/Caches/reedmill"),
        ("win32", {"LOCALAPPDATA": "/data"}, "/data/reedmill"),
    ],
)
def test_the_cache_is_where_the_system_keeps_such_things(
    monkeypatch: pytest.MonkeyPatch, system: str, variables: dict[str, str], place: str
) -> None:
    # XDG Base Directory Specification; Apple's File System Programming Guide; both from memory
    monkeypatch.undo()
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", system)
    monkeypatch.setattr(Path, "home", lambda: Path("/home/ann"))
    assert soundfont_cache.cache_folder() == Path(place)


# --- the command ---------------------------------------------------------------------------


def said(*arguments: str) -> str:
    result = CliRunner().invoke(cli, ["soundfont", *arguments], catch_exceptions=False)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def test_the_table_of_the_usual_font() -> None:
    lines = said().splitlines()
    assert lines[0] == f"{FONTS['TimGM6mb']}, program 23 (Harmonica)"
    assert lines[2] == " key  note   before   after   wavers   (cents)"
    rows = {int(line.split()[0]): line.split() for line in lines[3:65]}
    assert list(rows) == list(HARP_KEYS_MIDI)
    assert rows[68][1:4] == ["Ab4", "-29.3", "+0.0"]
    assert lines[-2].startswith("As the font plays them: -35.7 to +4.2 cents. After correction:")
    assert lines[-1] == "Every key can be trusted after correction."


def test_a_preset_with_a_vibrato_is_said_not_to_be_trusted(tmp_path: Path) -> None:
    path = soundfonts.write(tmp_path / "singer.sf2", soundfont(vibrato(440, 30, 5), keys=(50, 72)))
    lines = said(str(path)).splitlines()
    verdict = lines[lines.index("This preset cannot be trusted on any key:") :]
    assert verdict[1] == "  G2 to Db3: the font has no sound there"
    assert verdict[2].startswith(
        "  D3 to C5: the pitch wavers within the note: a vibrato, or layers that are out of tune "
        "with each other (up to "
    )
    assert verdict[3:] == ["  Db5 to Ab7: the font has no sound there"]


def test_the_verdict_names_the_keys_that_are_bad_and_what_is_done() -> None:
    found = font("FluidR3_GM")
    text = tuning_text(PresetTuning(found, found.preset(), tuple(measured("FluidR3_GM").values())))
    assert text.splitlines()[-3:] == [
        "This preset cannot be trusted on 8 of 62 keys:",
        "  Db7 to Ab7: the font has no sound there",
        "As a voice, a key up to 3 semitones from a trusted one is played by that one.",
    ]


def test_soundfont_data(tmp_path: Path) -> None:
    path = soundfonts.write(tmp_path / "made.sf2", soundfont(sine(441, 1), keys=(60, 72), number=4))
    data = json.loads(said(f"{path}:5", "--json"))
    assert list(data) == ["font", "program", "bank", "name", "trusted", "keys"]
    assert [data[key] for key in list(data)[:5]] == [str(path), 5, 0, "Sine", False]
    rows = {row["key"]: row for row in data["keys"]}
    assert list(rows) == list(HARP_KEYS_MIDI)
    assert rows[60]["before_cents"] == pytest.approx(1200 * math.log2(441 / 440), abs=0.01)
    assert rows[60]["note"] == "C4"
    assert (rows[60]["trusted"], rows[60]["reason"]) == (True, "")
    assert rows[50] == {
        "key": 50, "note": "D3", "before_cents": None, "after_cents": None, "wavers_cents": None,
        "settles_s": None, "trusted": False, "reason": "the font has no sound there",
    }  # fmt: skip


@pytest.mark.parametrize(("code", "content"), [(2, b"text"), (1, GOOD)])
def test_bad_input_is_exit_code_2_and_a_failed_library_1(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, content: bytes
) -> None:
    path = soundfonts.write(tmp_path / "made.sf2", content)
    (tmp_path / "fluidsynth.py").write_text("raise ImportError")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    result = CliRunner().invoke(cli, ["soundfont", str(path)])
    assert (result.exit_code, result.stdout) == (code, "")
    assert result.stderr.count("\n") == 1


# --- reedmill make --voice -----------------------------------------------------------------


def make_words(voice: object, out: Path, *more: str) -> list[str]:
    return ["make", "Two bars home", "--to", "wav", "--voice", str(voice), "--out", str(out), *more]


def files_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize("name", FONTS)
def test_a_drill_in_the_voice_of_a_font_is_verified_note_by_note(tmp_path: Path, name: str) -> None:
    voice = f"{FONTS[name]}:23"
    words = make_words(voice, tmp_path, "--drone", "--stems", "--verify", "--reference", "443")
    result = CliRunner().invoke(cli, words, catch_exceptions=False)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "22 of 22 notes measured: all within 1 cent" in result.stdout
    ours, *sounds = files_in(tmp_path)
    assert ours == LIST
    assert [each.split(".")[1:] for each in sounds] == [
        ["drone", "wav"],
        ["mix", "wav"],
        ["tones", "wav"],
    ]


def test_the_program_named_is_the_one_that_is_heard(tmp_path: Path) -> None:
    for program in ("", ":23", ":1"):
        words = make_words(f"{FONTS['TimGM6mb']}{program}", tmp_path / f"at{program[1:]}")
        assert CliRunner().invoke(cli, words, catch_exceptions=False).exit_code == 0
    usual, harmonica, piano = (
        next((tmp_path / f"at{number}").glob("*.wav")).read_bytes() for number in ("", "23", "1")
    )
    assert usual == harmonica != piano


BAD_FONTS = {
    "missing": (None, "there is no SoundFont {path}. soundfonts_README.md says where"),
    "truncated": (GOOD[:-50], "{path} is cut off: its end is missing. Get the whole file again."),
    "text": (b"Not a font at all, but text.", "{path} is not a SoundFont."),
}


@pytest.mark.parametrize(("content", "message"), BAD_FONTS.values(), ids=BAD_FONTS)
def test_a_bad_font_ends_the_command_in_one_sentence(
    tmp_path: Path, content: bytes | None, message: str
) -> None:
    path = tmp_path / "bad.sf2"
    if content is not None:
        soundfonts.write(path, content)
    result = CliRunner().invoke(cli, make_words(path, tmp_path / "out"))
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith(message.format(path=path))
    assert result.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.usefixtures("on_linux", "own_cache")
@pytest.mark.parametrize(
    ("program", "message"),
    [pair for name, pair in PRETEND.items() if "ends" not in name],
    ids=[name for name in PRETEND if "ends" not in name],
)
def test_a_library_that_fails_ends_the_command_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str, message: str
) -> None:
    path = soundfonts.write(tmp_path / "made.sf2", GOOD)
    (tmp_path / "pretend").mkdir()
    (tmp_path / "pretend" / "fluidsynth.py").write_text(program)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path / "pretend"))
    result = CliRunner().invoke(cli, make_words(path, tmp_path / "out", "--drone"))
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == f"{message.format(path=path)}\n"
    assert not (tmp_path / "out").exists()


def test_control_c_while_a_font_is_measured_leaves_nothing(tmp_path: Path) -> None:
    path = soundfonts.write(tmp_path / "made.sf2", GOOD)
    (tmp_path / "pretend").mkdir()
    began = tmp_path / "began"
    (tmp_path / "pretend" / "fluidsynth.py").write_text(
        f"import pathlib, time\npathlib.Path({str(began)!r}).touch()\ntime.sleep(60)"
    )
    places = os.pathsep.join([str(tmp_path / "pretend"), *filter(None, sys.path)])
    environment = {**os.environ, "PYTHONPATH": places, "XDG_CACHE_HOME": str(tmp_path / "cache")}
    command = [sys.executable, "-m", "reedmill.cli", *make_words(path, tmp_path / "out")]
    with subprocess.Popen(
        command, env=environment, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as running:
        for _ in range(3000):
            if began.exists():
                break
            time.sleep(0.01)
        os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to all that it started
        _, told = running.communicate(timeout=30)
    assert told == "Stopped. Nothing unfinished was left behind.\n"
    assert running.returncode == 130
    assert not (tmp_path / "out").exists()


# --- the page about SoundFonts -------------------------------------------------------------


PAGE = (Path(__file__).parents[2] / "soundfonts_README.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("heading", "name"),
    [("TimGM6mb, by MIDI key", "TimGM6mb"), ("fluid-soundfont-gm, by MIDI key", "FluidR3_GM")],
)
def test_the_tables_of_the_page_are_what_is_measured(heading: str, name: str) -> None:
    table = PAGE.partition(heading)[2].split("\n\n")[1]
    rows = [[cell.strip(" *") for cell in line.split("|")[1:5]] for line in table.splitlines()[2:]]
    told: dict[int, tuple[str, str]] = {}
    for keys, notes, before, after in rows:
        low, high = map(int, keys.split("-"))
        assert [oracles.key_number(note) for note in notes.split(" to ")] == [low, high]
        told |= dict.fromkeys(range(low, high + 1), (before, after))
    assert list(told) == list(HARP_KEYS_MIDI)
    for key, (before, after) in told.items():
        found = measured(name)[key]
        if before == "no sound":
            assert found.fault is Fault.SILENT
        else:
            assert found.before_cents == pytest.approx(float(before), abs=0.06), key
            assert found.after_cents == pytest.approx(float(after), abs=0.05), key


def test_the_commands_of_the_page_are_those_of_the_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [line for line in PAGE.splitlines() if line.startswith("reedmill ")]
    assert len(lines) == 6
    monkeypatch.chdir(tmp_path)
    for line in lines:
        words = shlex.split(line.partition("#")[0])[1:]
        named = [
            words[0],
            *(word.replace("band.sf2", str(FONTS["TimGM6mb"])) for word in words[1:]),
        ]
        result = CliRunner().invoke(cli, named, catch_exceptions=False)
        assert (result.exit_code, result.stderr) == (0, "")


def test_the_installing_commands_of_the_page_are_those_of_the_messages() -> None:
    for command in ("apt-get install libfluidsynth3", "dnf install fluidsynth-libs"):
        assert f"`sudo {command}`" in PAGE
        assert command in soundfont_player.INSTALL["linux"]
    assert f"`{soundfont_player.INSTALL['darwin']}`" in PAGE


def test_the_example_in_python_plays_the_drill() -> None:
    program = PAGE.partition("```python\n")[2].partition("```")[0]
    names: dict[str, Any] = {}
    exec(program.replace("band.sf2", str(FONTS["TimGM6mb"])), names)  # noqa: S102  our own page
    first = names["score"].notes[0]
    # the anchor of the drill is draw 2; an A harp begins a minor third under a C harp
    target = oracles.tempered_hz(oracles.sounding("A", "-2"))
    length = int(float(names["score"].seconds(first.length)) * RATE)
    sound = names["ten_seconds"][RATE // 50 : length - RATE // 20]
    assert float(np.max(np.abs(praat_cents(sound, target)))) < 2
