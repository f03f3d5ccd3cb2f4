"""What a player hears, measured on the WAV bytes by detectors that share no code with us.

Pitch is read by Praat (parselmouth); targets come from music21, which follows ISO 16,
and from the scale archive inside it.  Onsets are found by an energy threshold.
"""

from __future__ import annotations

import io
import wave
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise, product

import numpy as np
import parselmouth
import pyebur128
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import pitch as music21_pitch
from music21.scale import scala
from numpy.typing import NDArray

from reedmill.base.errors import InputError, RenderError
from reedmill.harp import Harp
from reedmill.practice.practice import plan_recording
from reedmill.score.score import AirWay, Breathing, Score
from reedmill.sound.recording.mix import render, stem, wav_bytes
from reedmill.sound.signal.clock import sample_at
from reedmill.sound.signal.loudness import scale_to_lufs
from reedmill.sound.signal.tone import period
from reedmill.sound.signal.wav import write_wav
from sampling import part_of
from tunes import score_from

Samples = NDArray[np.float64]

# Semitones above hole 1 blow, blow and draw in turn from hole 1: OEIS A291810.
A291810 = [0, 2, 4, 7, 7, 11, 12, 14, 16, 17, 19, 21, 24, 23, 28, 26, 31, 29, 36, 33]
# Hole 1 blow.  The C harp starts at C4, G is the lowest common harp, F# the highest,
# "low" an octave under: common practice, no published source.
HOLE_ONE = {"low G": "G2", "low F": "F3", "G": "G3", "C": "C4", "F#": "F#4"}


def sounding(tab: str) -> int:
    """Semitones above hole 1 blow of a tab; an overbend is a semitone over the higher reed."""
    hole = int(tab.strip("-'^"))
    blow, draw = A291810[2 * hole - 2 : 2 * hole]
    if tab.endswith("^"):
        return max(blow, draw) + 1
    return (draw if tab.startswith("-") else blow) - tab.count("'")


def equal_hz(midi: int, reference_hz: float = 440.0) -> float:
    """Equal temperament as music21 has it, on ISO 16's A4 = 440 Hz or another A4."""
    return float(music21_pitch.Pitch(midi=midi).frequency) * reference_hz / 440.0


def hole_one(harp: str) -> int:
    return int(music21_pitch.Pitch(HOLE_ONE[harp]).midi)


def every_reed(harp: str) -> list[str]:
    return [reed.tab for reed in Harp.parse(harp).reeds()]


def read(data: bytes) -> tuple[Samples, int]:
    with wave.open(io.BytesIO(data)) as file:
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        return frames / 32768.0, file.getframerate()


def heard_hz(sound: Samples, rate: int, near_hz: float) -> Samples:
    """Praat's pitch in Hz, 0 where it hears none, searched over an octave either way."""
    low, high = near_hz * 0.45, near_hz * 2.2
    pitch = parselmouth.Sound(sound, rate).to_pitch_ac(
        time_step=0.01, pitch_floor=low, pitch_ceiling=high, very_accurate=True
    )
    return np.asarray(pitch.selected_array["frequency"], dtype=np.float64)


def worst_cents(sound: Samples, rate: int, target_hz: float) -> float:
    found = heard_hz(sound, rate, target_hz)
    assert len(found) > 5
    assert found.min() > 0, "Praat hears no pitch"
    return float(np.max(np.abs(1200 * np.log2(found / target_hz))))


def mean_cents(sound: Samples, rate: int, target_hz: float) -> float:
    """How far off Praat hears a tone that breathes, with its own lowest pitch, 75 Hz.

    The mean of all frames: the noise of the breath moves each of them, to either side.
    """
    pitch = parselmouth.Sound(sound, rate).to_pitch_ac(
        pitch_floor=75.0, pitch_ceiling=target_hz * 1.9, very_accurate=True
    )
    found = np.asarray(pitch.selected_array["frequency"], dtype=np.float64)
    assert found.min() > 0, "Praat hears no pitch"
    return abs(float(np.mean(1200 * np.log2(found / target_hz))))


def worst_of_notes(score: Score, targets_hz: list[float]) -> float:
    """The worst pitch error in cents over the steady part of still notes one second long."""
    sound, rate = read(wav_bytes(score, pure=True))
    middles = [
        sound[rate * i + rate // 10 : rate * i + rate * 9 // 10] for i in range(len(targets_hz))
    ]
    return max(worst_cents(m, rate, hz) for m, hz in zip(middles, targets_hz, strict=True))


@cache
def cents_in(archive_name: str) -> tuple[float, ...]:
    """A scale of the archive in music21, cents above its tonic, lowest first."""
    return tuple(scala.parse(archive_name).getCentsAboveTonic())


def just_cents(name: str) -> dict[int, float]:
    """Cents above the root by semitone, taken from published scales.

    Ellis's harmonical: 10/9 9/8 6/5 5/4 4/3 3/2 8/5 5/3 7/4 9/5 15/8 2/1 (Helmholtz, "On
    the Sensations of Tone", pp. 466-468).  What it lacks, 16/15 and 45/32, is in
    Malcolm's monochord (1721); 7/6 and 7/5 are in a 7-limit scale of twelve tones.
    """
    _, s2, s3, s4, s5, s7, s8, s9, natural_7, s10, s11, _ = cents_in("harmonical.scl")
    s1, s6 = cents_in("malcolm.scl")[0], cents_in("malcolm.scl")[5]
    row = {0: 0.0, 1: s1, 2: s2, 3: s3, 4: s4, 5: s5, 6: s6, 7: s7, 8: s8, 9: s9, 10: s10, 11: s11}
    if name == "just7":
        row |= {3: cents_in("ji_12a.scl")[2], 6: cents_in("ji_12a.scl")[5], 10: natural_7}
    return row


# Pitch


@pytest.mark.parametrize("harp", HOLE_ONE)
def test_every_note_of_the_harp_sounds_within_a_twentieth_of_a_cent(harp: str) -> None:
    """A second of every reed, with its attack and the noise of the breath."""
    reeds = every_reed(harp)
    assert len(reeds) == 20 + 12 + 7  # naturals; bends 1 2 3 1 0 1 0 1 1 2; overbends
    sound, rate = read(wav_bytes(score_from(" ".join(reeds), harp=harp)))
    for number, tab in enumerate(reeds):
        tone = sound[number * rate : (number + 1) * rate - rate // 50]
        assert mean_cents(tone, rate, equal_hz(hole_one(harp) + sounding(tab))) < 0.05, tab


def test_every_still_note_of_the_harp_sounds_within_a_tenth_of_a_cent_all_the_way() -> None:
    reeds = every_reed("C")
    targets = [equal_hz(hole_one("C") + sounding(tab)) for tab in reeds]
    assert worst_of_notes(score_from(" ".join(reeds)), targets) < 0.1


def test_a_harp_at_442_sounds_every_note_at_442() -> None:
    reeds = every_reed("C")[::3]
    targets = [equal_hz(60 + sounding(tab), 442.0) for tab in reeds]
    assert targets[0] / equal_hz(60) == pytest.approx(2 ** (0.0785141512 / 12))
    assert worst_of_notes(score_from(" ".join(reeds), reference_hz=442.0), targets) < 0.1


@pytest.mark.parametrize("name", ["just5", "just7"])
def test_just_notes_stand_in_their_ratio_to_the_root(name: str) -> None:
    # 2nd position is a fifth up: G on a C harp.
    reeds = every_reed("C")
    table = just_cents(name)
    root = int(music21_pitch.Pitch("C4").transpose("P5").midi)
    above = [60 + sounding(tab) - root for tab in reeds]
    assert {step % 12 for step in above} == set(range(12))
    targets = [equal_hz(root) * 2 ** (step // 12 + table[step % 12] / 1200) for step in above]
    assert worst_of_notes(score_from(" ".join(reeds), intonation=name), targets) < 0.1


# Every key from low C to high G, a semitone apart.  Where hole 1 blow lies: G3 to F#4 on the
# common harps, low an octave under and high an octave over (common practice, no published
# source); music21 turns the names into key numbers.
KEYS = [
    *(f"low {key}" for key in ("C", "Db", "D", "Eb", "E", "F", "F#")),
    "G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#", "high G",
]  # fmt: skip


def lowest(harp: str) -> int:
    """The key number of hole 1 blow."""
    register, _, key = harp.rpartition(" ")
    octave = 3 if key in ("G", "Ab", "A", "Bb", "B") else 4
    octave += {"low": -1, "": 0, "high": 1}[register]
    return int(music21_pitch.Pitch(key.replace("b", "-") + str(octave)).midi)


def spectral_hz(sound: Samples, rate: int, near_hz: float) -> float:
    """The strongest line within a third of *near_hz*, by a parabola through the log spectrum."""
    size = 1 << 16
    level = np.log(np.abs(np.fft.rfft(sound * np.blackman(len(sound)), size)))
    first = int(near_hz * 0.8 * size / rate)
    top = first + int(np.argmax(level[first : int(near_hz * 1.25 * size / rate)]))
    before, at, after = level[top - 1 : top + 2]
    return float((top + 0.5 * (before - after) / (before - 2 * at + after)) * rate / size)


@pytest.mark.parametrize("harp", KEYS)
def test_every_note_of_every_key_is_in_tune_by_two_methods_in_every_tuning(
    harp: str, whole: bool
) -> None:
    """20 natural notes, 12 bends, 7 overbends; equal, 5-limit and 7-limit; A4 at 440 and 443.

    Each harp has two of these six in turn, with ``--whole`` all.
    """
    reeds = every_reed(harp)
    assert len(reeds) == 39
    root = int(music21_pitch.Pitch(midi=lowest(harp)).transpose("P5").midi)
    tunings = list(product(("equal", "just5", "just7"), (440.0, 443.0)))
    for name, reference_hz in part_of(tunings, KEYS.index(harp), 3, whole=whole):
        score = score_from(
            " ".join(reeds), harp=harp, tempo=240, intonation=name, reference_hz=reference_hz
        )
        sound, rate = read(wav_bytes(score))
        cents = {n: 100.0 * n for n in range(12)} if name == "equal" else just_cents(name)
        for number, tab in enumerate(reeds):
            octaves, step = divmod(lowest(harp) + sounding(tab) - root, 12)
            target = equal_hz(root, reference_hz) * 2 ** (octaves + cents[step] / 1200)
            middle = sound[round((number * 0.25 + 0.02) * rate) :][: round(0.2 * rate)]
            assert mean_cents(middle, rate, target) < 0.5, (tab, name, reference_hz)
            found = spectral_hz(middle, rate, target)
            assert abs(1200 * np.log2(found / target)) < 0.5, (tab, name, reference_hz)


def test_the_keys_are_a_chromatic_row() -> None:
    assert [lowest(harp) for harp in KEYS] == list(range(48, 68))


@pytest.mark.parametrize("tab", ["1", "-3", "7", "10"])
def test_a_still_tone_is_its_harmonics_and_nothing_else(tab: str) -> None:
    target = equal_hz(66 + sounding(tab))
    sound, rate = read(wav_bytes(score_from(f"{tab}:2", harp="F#"), pure=True))
    power, hz = spectrum(sound[rate // 4 : rate // 4 + rate], rate)
    off_harmonic = np.abs(hz - target * np.round(hz / target)) > 40
    assert share_db(power, off_harmonic) < -75
    assert share_db(power, hz > 0.455 * rate) < -85


def test_a_slide_upwards_does_not_alias() -> None:
    # At 22,050 Hz the 23rd harmonic of the bend fits, but not that of the note it slides to.
    target = equal_hz(60 + sounding("-3"))
    sound, rate = read(wav_bytes(score_from("-3''':2 ~-3:2"), pure=True, sample_rate=22_050))
    power, hz = spectrum(sound[rate * 5 // 2 : rate * 7 // 2], rate)
    assert share_db(power, np.abs(hz - target * np.round(hz / target)) > 40) < -75


def spectrum(sound: Samples, rate: int) -> tuple[Samples, Samples]:
    """Power and frequency of each line, through a Blackman window."""
    lines = np.abs(np.fft.rfft(sound * np.blackman(len(sound))))
    power: Samples = np.asarray(lines**2, dtype=np.float64)
    return power, np.arange(len(power), dtype=np.float64) * (rate / len(sound))


def share_db(power: Samples, part: NDArray[np.bool_]) -> float:
    return float(10 * np.log10(power[part].sum() / power.sum()))


def test_loudness_follows_the_broadcast_standard() -> None:
    # ITU-R BS.1770: a 997 Hz sine at full scale in one channel reads -3.01 LKFS.
    factor = scale_to_lufs(np.array([1.0]), np.array([997.0]), -3.01)
    assert 20 * np.log10(factor) == pytest.approx(0, abs=0.01)


# Time


def onsets_s(sound: Samples, rate: int, threshold: float = 0.02) -> list[float]:
    """Where the sound exceeds *threshold* after 4 ms below it; knows nothing of the score."""
    loud = np.flatnonzero(np.abs(sound) > threshold)
    first = np.concatenate([[True], np.diff(loud) > 0.004 * rate])
    return [float(sample) / rate for sample in loud[first]]


def attacks_s(music: str, tempo: int, pulse: int = 1) -> list[Fraction]:
    """The exact seconds of each attack of a tune, added up from its words."""
    found, now = [], Fraction(0)
    for word in music.split():
        if word[0] not in "~r":
            found.append(now * 60 / (tempo * pulse))
        now += Fraction(word.partition(":")[2] or 1)
    return found


TUNE = "1 -1:1/2 ~-1':1/2 -2:1/3 -2:1/3 -2:1/3 r:2/3 -3''':4/3 ~-3:1 10:1/2 -10:1/2 r 6^:3/2 -6:1/2"


def late_by_s(music: str, score: Score, pulse: int = 1) -> list[float]:
    found = onsets_s(*read(wav_bytes(score)))
    exact = attacks_s(music, score.tempo_bpm, pulse)
    assert len(found) == len(exact)
    return [at - float(due) for at, due in zip(found, exact, strict=True)]


@pytest.mark.parametrize("tempo", [47, 60, 113, 208])
@pytest.mark.parametrize("harp", ["low G", "C", "F#"])
def test_every_attack_is_heard_within_a_millisecond(harp: str, tempo: int) -> None:
    late = late_by_s(TUNE, score_from(TUNE, harp=harp, tempo=tempo))
    assert all(-0.0001 < s < 0.001 for s in late), late


def test_tempo_counts_dotted_beats_in_six_eight() -> None:
    score = score_from(TUNE, tempo=71, meter=(6, 8))
    assert max(map(abs, late_by_s(TUNE, score, pulse=3))) < 0.001


def test_every_reed_of_a_low_harp_speaks_at_once() -> None:
    music = " ".join(every_reed("low G"))
    assert max(late_by_s(music, score_from(music, harp="low G"))) < 0.001


def test_three_hundred_thirds_of_a_beat_do_not_drift() -> None:
    music = " ".join(["-4:1/3"] * 300)
    assert max(map(abs, late_by_s(music, score_from(music, tempo=97)))) < 0.001


@pytest.mark.parametrize(("tempo", "lasts_s"), [(60, 1.5), (90, 5 / 6)])
def test_before_a_breath_a_tone_falls_silent_for_half_a_second(tempo: int, lasts_s: float) -> None:
    """Two beats less half a second; a slide before it is not shortened but at its end."""
    score = score_from("-3 ~-3' -2:2", tempo=tempo)
    out = Breathing(Fraction(2), AirWay.OUT, Fraction(1, 2))
    sound, rate = read(wav_bytes(replace(score, breaths=(out,))))
    loud = np.flatnonzero(np.abs(sound) > 0.001) / rate
    gaps = [(before, after) for before, after in pairwise(loud.tolist()) if after - before > 0.1]
    assert gaps == [pytest.approx((lasts_s, 120 / tempo), abs=0.012)]


@given(st.fractions(0, 5000, max_denominator=96), st.integers(20, 300), st.just(44_100))
def test_time_is_rounded_once_to_the_nearest_sample(beats: Fraction, tempo: int, rate: int) -> None:
    [heard] = plan_recording(score_from("1", tempo=tempo)).passes
    sample = sample_at(heard, beats, rate)
    assert abs(sample - beats * 60 * rate / tempo) <= Fraction(1, 2)


def test_the_file_lasts_its_bars_and_a_short_tail() -> None:
    sound, rate = read(wav_bytes(score_from("-2:3 r", tempo=90)))
    assert len(sound) / rate == pytest.approx(4 * 60 / 90 + 0.3, abs=0.0001)
    assert not np.any(sound[-rate // 4 :])


# Slides


def level_around(sound: Samples, rate: int, at_s: float) -> float:
    """The lowest short-time level within 30 ms of a moment, against the level before it."""
    around = sound[round((at_s - 0.03) * rate) : round((at_s + 0.03) * rate)]
    before = sound[round((at_s - 0.3) * rate) : round((at_s - 0.1) * rate)]
    width = round(0.006 * rate)
    power = np.convolve(around**2, np.full(width, 1 / width), mode="valid")
    return float(np.sqrt(power.min() / np.mean(before**2)))


def test_a_joined_note_has_no_attack_and_a_separate_one_has() -> None:
    joined, rate = read(wav_bytes(score_from("-3 ~-3'' ~-3 ~-3'''"), pure=True))
    apart, _ = read(wav_bytes(score_from("-3 -3'' -3 -3'''")))
    for join_s in (1.0, 2.0, 3.0):
        assert level_around(joined, rate, join_s) > 0.9
        assert level_around(apart, rate, join_s) < 0.1
    assert len(onsets_s(joined, rate)) == 1
    assert len(onsets_s(apart, rate)) == 4


def test_a_repeated_note_is_heard_twice() -> None:
    sound, rate = read(wav_bytes(score_from("-2 -2:1/2 -2:1/2 -2", tempo=120)))
    assert len(onsets_s(sound, rate)) == 4
    assert level_around(sound, rate, 0.5) < 0.1


def test_a_slide_does_not_click() -> None:
    sound, rate = read(wav_bytes(score_from("-3 ~-3''' ~-3")))
    steps = np.abs(np.diff(sound))
    for join_s in (1.0, 2.0):
        near = slice(round((join_s - 0.01) * rate), round((join_s + 0.1) * rate))
        assert steps[near].max() < 1.02 * steps[rate // 2 : rate * 9 // 10].max()


def momentary_cents(sound: Samples, rate: int, near_hz: float) -> Samples:
    """Cents against *near_hz* at every sample, from the phase of the fundamental alone."""
    spectrum = np.fft.fft(sound)
    hz = np.fft.fftfreq(len(sound), 1 / rate)
    band = np.where(np.abs(hz - near_hz) < 0.45 * near_hz, spectrum, 0)
    turned = np.diff(np.unwrap(np.angle(np.fft.ifft(band))))
    share = np.maximum(turned * rate / (2 * np.pi * near_hz), 0.01)  # silence turns either way
    return np.asarray(1200 * np.log2(share), dtype=np.float64)


@pytest.mark.parametrize(
    ("tempo", "music", "cents", "slide_s"),
    [
        (60, "-3 ~-3'''", -300, 0.08),  # long enough for the whole 80 ms
        (60, "-3'' ~-3", 200, 0.08),
        (150, "-2:2 ~-2'':1/4 ~-2'':2", -200, 0.05),  # 0.1 s long: half of it slides
    ],
)
def test_a_slide_follows_its_curve(tempo: int, music: str, cents: int, slide_s: float) -> None:
    """A smooth step 3x^2 - 2x^3 in cents over 80 ms or half the note, as the score promises."""
    tabs = [word.strip("~").partition(":")[0] for word in music.split()]
    start_s = float(Fraction(music.split()[0].partition(":")[2] or 1) * 60 / tempo)
    from_hz = equal_hz(60 + sounding(tabs[0]))
    assert sounding(tabs[1]) - sounding(tabs[0]) == cents // 100
    sound, rate = read(wav_bytes(score_from(music, tempo=tempo), pure=True))
    heard = momentary_cents(sound, rate, from_hz)
    for x in (-0.25, 0.25, 0.5, 0.75, 1.25):
        within = min(max(x, 0.0), 1.0)
        expected = cents * (3 * within**2 - 2 * within**3)
        assert heard[round((start_s + x * slide_s) * rate)] == pytest.approx(expected, abs=1)


# The deepest bend of each reed: see ``oracles.run``, which has it from OEIS A291810.
BENT = ["-1'", "-2''", "-3'''", "-4'", "-6'", "8'", "9'", "10''"]


@pytest.mark.parametrize("harp", ["low C", "C", "high G"])
@pytest.mark.parametrize("tab", BENT)
def test_slides_of_every_bending_hole_lie_on_their_curve(harp: str, tab: str) -> None:
    """Down and up again, looked at every two milliseconds, within 3 cents."""
    natural, depth = tab.rstrip("'"), tab.count("'")
    sound, rate = read(wav_bytes(score_from(f"{natural} ~{tab} ~{natural}", harp=harp), pure=True))
    heard = momentary_cents(sound, rate, equal_hz(lowest(harp) + sounding(natural)))
    for start_s, starts, ends in ((1.0, 0, -100 * depth), (2.0, -100 * depth, 0)):
        for at_s in np.arange(-0.04, 0.12, 0.002):
            x = min(max(float(at_s) / 0.08, 0.0), 1.0)
            expected = starts + (ends - starts) * (3 * x**2 - 2 * x**3)
            assert heard[round((start_s + at_s) * rate)] == pytest.approx(expected, abs=3)


def test_a_slide_arrives_exactly() -> None:
    sound, rate = read(wav_bytes(score_from("-3 ~-3' ~-3'' ~-3'''")))
    for number, tab in enumerate(["-3", "-3'", "-3''", "-3'''"]):
        steady = sound[round((number + 0.1) * rate) : round((number + 0.95) * rate)]
        assert mean_cents(steady, rate, equal_hz(60 + sounding(tab))) < 0.05


# Drone and click


@pytest.mark.parametrize(
    ("harp", "position", "root", "reference_hz"),
    [
        ("C", 2, "G3", 440.0),
        ("C", 3, "D4", 440.0),
        ("low F", 1, "F3", 442.0),
        ("F#", 2, "C#4", 440.0),
    ],
)
def test_the_drone_holds_the_root(harp: str, position: int, root: str, reference_hz: float) -> None:
    score = score_from("4:4 -4:4", harp=harp, position=position, reference_hz=reference_hz)
    sound, rate = read(write_wav(stem(score, "drone")))
    steady = sound[rate // 2 : 8 * rate]
    target = equal_hz(int(music21_pitch.Pitch(root).midi), reference_hz)
    assert worst_cents(steady[: 2 * rate], rate, target) < 0.1
    windows = steady[: len(steady) // 4410 * 4410].reshape(-1, 4410)
    level_db = 10 * np.log10(np.mean(windows**2, axis=1))
    assert np.ptp(level_db) < 0.5
    assert abs(sound[0]) < 0.001
    assert abs(sound[-1]) < 0.001


@pytest.mark.parametrize(
    ("meter", "tempo", "pulse_s", "pulses", "to_the_bar"),
    [((4, 4), 90, Fraction(2, 3), 8, 4), ((3, 4), 100, Fraction(3, 5), 9, 3),
     ((6, 8), 77, Fraction(60, 77), 6, 2), ((5, 4), 120, Fraction(1, 2), 10, 5)],
)  # fmt: skip
def test_a_click_on_every_pulse_and_another_where_a_bar_begins(
    meter: tuple[int, int], tempo: int, pulse_s: Fraction, pulses: int, to_the_bar: int
) -> None:
    length = pulses * (3 if meter == (6, 8) else 1) - 1
    score = score_from(f"-2:{length} r", tempo=tempo, meter=meter)
    sound, rate = read(write_wav(stem(score, "click")))
    found = onsets_s(sound, rate)
    assert found == pytest.approx([float(i * pulse_s) for i in range(pulses)], abs=0.001)
    taps = [sound[round(at * rate) :][: rate // 20] for at in found]
    assert max(np.argmax(np.abs(tap)) for tap in taps) < 0.002 * rate, "a tap strikes at once"
    highest = [int(np.argmax(np.abs(np.fft.rfft(tap)))) for tap in taps]
    louder = [momentary_lufs(tap) for tap in taps]
    bars = [number % to_the_bar == 0 for number in range(pulses)]
    assert [hz > 1.2 * min(highest) for hz in highest] == bars
    assert [lufs > min(louder) + 1 for lufs in louder] == bars


def momentary_lufs(tap: Samples) -> float:
    """The loudness of one tap in the 400 ms of EBU R 128's momentary loudness, by libebur128."""
    state = pyebur128.R128State(1, 44_100, pyebur128.MeasurementMode.MODE_M)
    state.add_frames(np.concatenate([tap, np.zeros(17_640 - len(tap))]), 17_640)
    return float(pyebur128.get_loudness_momentary(state))


def test_a_click_leaves_the_top_of_the_band_empty() -> None:
    sound, rate = read(write_wav(stem(score_from("r:3 -2"), "click")))
    power, hz = spectrum(sound, rate)
    assert share_db(power, hz > 0.45 * rate) < -70


# Files


def test_the_mix_is_the_sum_of_its_stems() -> None:
    score = score_from(TUNE, tempo=100)
    whole = render(score, drone=True, click=True)
    parts = [stem(score, name) for name in ("tones", "drone", "click")]
    assert np.array_equal(whole, parts[0] + parts[1] + parts[2])
    assert np.array_equal(render(score), parts[0])
    assert all(np.abs(part).max() > 0.05 for part in parts)


@pytest.mark.parametrize("harp", ["low G", "low C", "C", "F#", "high F#"])
def test_the_loudest_mix_stays_under_one_decibel_below_full_scale(harp: str) -> None:
    score = score_from(" ".join(every_reed(harp)), harp=harp, tempo=180)
    sound, _ = read(wav_bytes(score, drone=True, click=True))
    assert 0.25 < np.abs(sound).max() < 10 ** (-1 / 20)


def test_equal_scores_give_equal_bytes() -> None:
    first = wav_bytes(score_from(TUNE), drone=True, click=True)
    period.cache_clear()
    wav_bytes(score_from(TUNE, harp="A"))
    assert wav_bytes(score_from(TUNE), drone=True, click=True) == first
    assert wav_bytes(score_from(TUNE, reference_hz=440.1), drone=True, click=True) != first


def test_the_file_is_mono_sixteen_bit_pcm() -> None:
    # RIFF WAVE header as in "Multimedia Programming Interface and Data Specifications 1.0"
    # (1991), from memory.
    assert write_wav(np.array([0.0, 1.0, -1.0])) == bytes.fromhex(
        "52494646 2a000000 57415645 "  # RIFF, 42 bytes follow, WAVE
        "666d7420 10000000 01000100 "  # fmt, 16 bytes: PCM, one channel
        "44ac0000 88580100 02001000 "  # 44,100 Hz, 88,200 bytes a second, 2 a frame, 16 bits
        "64617461 06000000 "  # data, 6 bytes
        "0000ff7f 0180"  # 0, 32767, -32767
    )


@pytest.mark.parametrize("bad", [1.001, -1.5, float("nan"), float("inf")])
def test_sound_beyond_full_scale_is_refused(bad: float) -> None:
    with pytest.raises(RenderError, match=r"beyond full scale \(1\.0\)"):
        write_wav(np.array([0.0, bad, 0.5]))


def test_another_sample_rate_gives_the_same_pitch() -> None:
    sound, rate = read(wav_bytes(score_from("-9:2", harp="F#"), sample_rate=48_000))
    assert rate == 48_000
    assert mean_cents(sound[: rate * 3 // 2], rate, equal_hz(66 + sounding("-9"))) < 0.05


def test_a_sample_rate_no_file_should_have_is_refused() -> None:
    with pytest.raises(InputError, match=r"sample rate of 8000 .* Choose 22050 to 192000; 44100"):
        render(score_from("1"), sample_rate=8000)


def test_a_tone_too_high_for_its_rate_is_refused_rather_than_left_silent() -> None:
    score = score_from("10", harp="high F#", reference_hz=880.0)
    with pytest.raises(InputError, match=r"a tone of 11840 Hz is too high .* at least 26311"):
        render(score, sample_rate=22_050)


def test_an_unknown_stem_is_answered_with_the_list() -> None:
    with pytest.raises(InputError, match=r'no stem "drum"\..* tones, drone, click'):
        stem(score_from("1"), "drum")


def test_silence_is_silence() -> None:
    sound, _ = read(wav_bytes(score_from("r:4")))
    assert not np.any(sound)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.fractions(Fraction(1, 64), 1, max_denominator=64), min_size=1, max_size=12),
    st.integers(20, 400),
    st.booleans(),
)
def test_notes_of_any_length_render(lengths: list[Fraction], tempo: int, joined: bool) -> None:
    mark = "~" if joined else ""
    score = score_from(" ".join(f"{mark}-2':{length}" for length in lengths), tempo=tempo)
    sound = render(score, drone=True, click=True)
    assert np.all(np.isfinite(sound))
    assert np.abs(sound).max() < 1  # before it is levelled
    for before, note in pairwise(score.notes):
        join = sample_at(plan_recording(score).passes[0], before.end, 44_100)
        assert joined or abs(stem(score, "tones")[join]) < 1e-9, note
