"""Several holes at once and marks of style, measured on the finished WAV bytes.

The pitch of a single hole is read by Praat (parselmouth), holes that sound together by lines of
the spectrum and by least squares (``partials``), loudness by pyebur128; targets are music21's
(ISO 16) and published ratios.  What each mark means for a player is common practice, no
published source.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import parselmouth
import pyebur128
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import oracles
from partials import Samples, amplitudes, fundamentals_hz, line_hz
from reedmill.expand import expand
from reedmill.expand.breath import without_breaths
from reedmill.harp import Harp, OwnReeds, Reed
from reedmill.language import parse
from reedmill.practice.practice import Click, Practice, Recording, plan_recording
from reedmill.score.score import Score
from reedmill.sound.recording.mix import take, wav_bytes
from reedmill.sound.reed.voice import guide
from reedmill.sound.soundfont.player import default_soundfont
from reedmill.theory.intonation import intonation_named
from reedmill.theory.positions import Position

RATE = 44_100


def score_of(
    music: str, *, harp: str = "C", intonation: str = "equal", tempo: int = 60, position: int = 2
) -> Score:
    [drill] = parse(f'drill "Holes"\n  tempo {tempo}\n  play {music}')
    tuning = intonation_named(intonation)
    return expand(drill, Harp.parse(harp), Position(position), intonation=tuning)


def sound_of(score: Score, *, pure: bool = False) -> Samples:
    with wave.open(io.BytesIO(wav_bytes(score, pure=pure))) as file:
        assert file.getframerate() == RATE
        return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768.0


def part(sound: Samples, first_s: float, last_s: float) -> Samples:
    return sound[round(first_s * RATE) : round(last_s * RATE)]


def cents(hz: float, target_hz: float) -> float:
    return float(1200 * np.log2(hz / target_hz))


def equal(tab: str, harp: str = "C") -> float:
    """The tempered frequency of a natural note or a bend, from published tables."""
    return oracles.tempered_hz(oracles.sounding(harp, tab))


def all_in_tune(sound: Samples, targets_hz: Sequence[float], within: float = 0.5) -> None:
    """By the line of each fundamental, which lies on no partial of another within an octave."""
    found = [line_hz(sound, RATE, hz, 0.03 * hz) for hz in targets_hz]
    off = [cents(hz, target) for hz, target in zip(found, targets_hz, strict=True)]
    assert max(map(abs, off)) < within, off


# --- chords --------------------------------------------------------------------------------


CHORDS = {
    "-2&3": ("-2", "-3"), "1&2&3": ("1", "2", "3"), "-4&5&6": ("-4", "-5", "-6"),
    "-8&9": ("-8", "-9"), "-1&2&3": ("-1", "-2", "-3"), "-2'&3'": ("-2'", "-3'"),
}  # fmt: skip


@pytest.mark.parametrize("harp", ["low F", "C"])
def test_every_hole_of_a_chord_is_in_tune(harp: str) -> None:
    sound = sound_of(score_of(" ".join(CHORDS), harp=harp))
    for at, tabs in enumerate(CHORDS.values()):
        all_in_tune(part(sound, at + 0.1, at + 0.6), [equal(tab, harp) for tab in tabs])


def test_least_squares_find_the_same_holes_from_a_little_beside_them() -> None:
    sound = part(sound_of(score_of("-2&3:2")), 0.1, 0.6)
    found = fundamentals_hz(sound, RATE, [equal(tab) * 2 ** (7 / 1200) for tab in ("-2", "-3")])
    assert abs(cents(found[0], equal("-2"))) < 0.5
    assert abs(cents(found[1], equal("-3"))) < 0.5


def test_draw_two_to_four_is_a_pure_triad_in_just_intonation() -> None:
    """4:5:6 over the root of cross harp, draw 2: Helmholtz, On the Sensations of Tone, p. 17."""
    sound = part(sound_of(score_of("-2&3&4:2", intonation="just5")), 0.1, 1.1)
    for ratio in (1.0, 5 / 4, 3 / 2):
        found = line_hz(sound, RATE, equal("-2") * ratio, 8)
        assert abs(cents(found, equal("-2") * ratio)) < 0.5, ratio


def test_holes_of_an_own_harp_are_each_as_they_were_measured() -> None:
    """An octave whose upper reed is 9 cents sharp: both are heard, and how far they are apart."""
    own = replace(Harp("C"), own=OwnReeds.of("mine", {Reed.parse("-4"): 9.0}))
    [drill] = parse('drill "Octave"\n  tempo 60\n  play -1&4:4')
    sound = part(sound_of(expand(drill, own, Position(2))), 0.1, 3.1)
    low, high = equal("-1"), 2 * equal("-1") * 2 ** (9 / 1200)
    for target in (low, 2 * low, high):  # the second partial of the low reed beside the high one
        assert abs(cents(line_hz(sound, RATE, target, 1), target)) < 0.5


def test_an_octave_split_leaves_the_holes_under_the_tongue_silent() -> None:
    sound = part(sound_of(score_of("-1&4:2")), 0.1, 0.6)
    heard = amplitudes(sound, RATE, [equal(tab) for tab in ("-1", "-2", "-3")])
    assert heard[0] > 0.05
    assert max(heard[1:]) < 0.001


def loudness(sound: Samples) -> float:
    """Momentary loudness in LUFS over all of *sound*, by libebur128."""
    state = pyebur128.R128State(1, RATE, pyebur128.MeasurementMode.MODE_I)
    state.add_frames(np.ascontiguousarray(sound), len(sound))
    return float(pyebur128.get_loudness_global(state))


LOUD = "-4:2 -1&4:2 1&4:2 -2&3:2 2&3&4:2 1&2&3&4&5:2 -2&3&4&5&6:2 3&6:2 6&7&8:2 10:2"


@pytest.mark.parametrize("intonation", ["equal", "just5"])
def test_a_chord_is_as_loud_as_a_note(intonation: str) -> None:
    """Octaves and pure intervals, whose partials are in unison, included."""
    sound = sound_of(without_breaths(score_of(LOUD, intonation=intonation)))
    heard = [loudness(part(sound, at + 0.05, at + 1.95)) for at in range(0, 20, 2)]
    assert max(heard) - min(heard) < 0.3, heard


def true_peak_dbtp(sound: Samples) -> float:
    state = pyebur128.R128State(1, RATE, pyebur128.MeasurementMode.MODE_TRUE_PEAK)
    state.add_frames(np.ascontiguousarray(sound), len(sound))
    return float(20 * np.log10(pyebur128.get_true_peak(state, 0)))


@pytest.mark.parametrize("harp", ["low C", "C", "high G"])
def test_chords_of_five_holes_keep_the_stated_loudness_and_peak(harp: str) -> None:
    """-18 LUFS within 0.3 with drone and click, and no peak above -1 dBTP."""
    score = score_of("1&2&3&4&5:2 -1&2&3&4&5:2 -6&7&8&9&10:2 6&7&8&9&10:2 -1&4:2", harp=harp)
    asked = Recording(drone=("root", "fifth"), click=Click.BEATS)
    taken = take(asked.plan(score), asked)
    factor = taken.level(asked.mixed).factor
    mix = np.concatenate([block[:, 0] for block in taken.blocks(asked.mixed, factor)])
    assert loudness(mix) == pytest.approx(-18, abs=0.3)
    assert true_peak_dbtp(mix) < -1
    assert np.max(np.abs(taken.stems["tones"](0, taken.count))) < 1


# --- pitch that moves ----------------------------------------------------------------------


def contour(sound: Samples, lowest_hz: float, highest_hz: float) -> tuple[Samples, Samples]:
    """Praat's pitch of one hole: seconds, and Hz."""
    found = parselmouth.Sound(sound, RATE).to_pitch_ac(
        time_step=0.002, pitch_floor=lowest_hz, pitch_ceiling=highest_hz, very_accurate=False
    )
    hz = np.asarray(found.selected_array["frequency"], dtype=np.float64)
    return found.xs(), hz


def cents_at(sound: Samples, target_hz: float) -> tuple[Samples, Samples]:
    seconds, hz = contour(sound, 0.7 * target_hz, 1.5 * target_hz)
    heard = hz > 0
    return seconds[heard], np.asarray(1200 * np.log2(hz[heard] / target_hz))


@pytest.mark.parametrize(("a_beat", "tempo"), [(4, 72), (3, 96), (6, 60), (5, 60)])
def test_a_vibrato_has_its_rate_and_its_depth_and_stays_in_tune(a_beat: int, tempo: int) -> None:
    """20 cents to either side; so many waves a beat.  A sine is fitted to Praat's contour."""
    sound = sound_of(score_of(f"vibrato{a_beat} -4:4", tempo=tempo))
    seconds, off = cents_at(part(sound, 0, 4 * 60 / tempo - 0.03), equal("-4"))
    inside = (seconds > 0.05) & (seconds < seconds[-1] - 0.05)
    best = min(
        (_sine(seconds[inside], off[inside], a_beat * tempo / 60 * rate), rate)
        for rate in np.linspace(0.9, 1.1, 201)
    )
    (left, depth, mean), rate = best
    assert abs(rate - 1) < 0.02
    assert depth == pytest.approx(20, abs=2)
    assert abs(mean) < 0.5
    assert left < 1


def _sine(seconds: Samples, off: Samples, hz: float) -> tuple[float, float, float]:
    """What a sine of *hz* leaves (root mean square), its depth and its mean, by least squares."""
    turns = 2 * np.pi * hz * seconds
    base = np.array([np.sin(turns), np.cos(turns), np.ones_like(turns)]).T
    sine, cosine, mean = np.linalg.lstsq(base, off, rcond=None)[0]
    left = off - base @ np.array([sine, cosine, mean])
    return float(np.sqrt(np.mean(left**2))), float(np.hypot(sine, cosine)), float(mean)


def smooth(x: Samples) -> Samples:
    """Smoothstep, as the OpenGL Shading Language defines it (from memory)."""
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


@pytest.mark.parametrize(
    ("music", "start_s", "lasting_s", "left", "right"),
    [
        ("-3:1~:2 -3'':3", 1.0, 2.0, 200, 0), ("-3:1~:1/2 -3''':3", 1.0, 0.5, 300, 0),
        ("-3'':2~:1 -3:2", 2.0, 1.0, -200, 0), ("10:1~:3 10'':4", 1.0, 3.0, 200, 0),
    ],
)  # fmt: skip
def test_a_slow_slide_takes_its_written_time(
    music: str, start_s: float, lasting_s: float, left: int, right: int
) -> None:
    """From the pitch before it to its own on a smooth step, within 5 cents all the way."""
    tab = music.split()[1].partition(":")[0]
    seconds, off = cents_at(sound_of(score_of(music), pure=True), equal(tab))
    inside = (seconds > start_s - 0.3) & (seconds < start_s + lasting_s + 0.3)
    share = smooth((seconds[inside] - start_s) / lasting_s)
    assert np.sum(inside) > 200
    assert np.max(np.abs(off[inside] - (left + (right - left) * share))) < 5


def test_two_holes_slide_together() -> None:
    sound = sound_of(score_of("-2&3:1~:1 -2'&3':3"))
    all_in_tune(part(sound, 0.2, 0.9), [equal("-2"), equal("-3")])
    whole = part(sound, 1.48, 1.52)  # half way each is half of its way down
    half = [equal(tab) * 2 ** (-50 / 1200) for tab in ("-2", "-3")]
    found = fundamentals_hz(whole, RATE, half)
    assert max(abs(cents(hz, due)) for hz, due in zip(found, half, strict=True)) < 5
    all_in_tune(part(sound, 2.2, 3.5), [equal("-2'"), equal("-3'")])


def test_a_scoop_comes_in_from_a_bend_and_arrives() -> None:
    """Draw 4 bends a semitone: it begins near that and is on its pitch 0.12 s later."""
    seconds, off = cents_at(sound_of(score_of("scoop -4:2"), pure=True), equal("-4"))
    share = smooth(seconds / 0.12)
    early = (seconds > 0.01) & (seconds < 1.9)
    assert np.max(np.abs(off[early] - 100 * (share[early] - 1))) < 5
    assert off[early][0] < -85
    assert np.max(np.abs(off[(seconds > 0.14) & (seconds < 1.9)])) < 0.5


def test_a_fall_goes_off_into_a_bend() -> None:
    """Draw 5 only shades, by a quarter tone (common practice); the last quarter second."""
    for tab, below in (("-4", 100), ("-5", 50)):
        seconds, off = cents_at(sound_of(score_of(f"fall {tab}:2"), pure=True), equal(tab))
        assert np.max(np.abs(off[(seconds > 0.05) & (seconds < 1.73)])) < 0.5
        falling = (seconds > 1.75) & (seconds < 1.97)
        expected = -below * smooth((seconds[falling] - 1.75) / 0.25)
        assert np.max(np.abs(off[falling] - expected)) < 5
        assert off[falling][-1] < -0.9 * below


@pytest.mark.parametrize(("tab", "above"), [("-3q", "-3"), ("-2'q", "-2'"), ("-6q", "-6")])
def test_a_quarter_tone_is_fifty_cents_lower(tab: str, above: str) -> None:
    seconds, off = cents_at(sound_of(score_of(f"{tab}:2"), pure=True), equal(above))
    inside = (seconds > 0.1) & (seconds < 1.8)
    assert np.max(np.abs(off[inside] + 50)) < 0.2


# --- to and fro, slaps and pulls, hands ----------------------------------------------------


@pytest.mark.parametrize(("a_beat", "tempo"), [(5, 72), (3, 120), (12, 40)])
def test_a_shake_begins_low_and_goes_to_and_fro(a_beat: int, tempo: int) -> None:
    sound = sound_of(score_of(f"shake{a_beat} -4&5:2", tempo=tempo))
    half_s = 60 / tempo / a_beat / 2
    for turn in range(4 * a_beat):
        inside = part(sound, (turn + 0.15) * half_s, (turn + 0.85) * half_s)
        low, high = amplitudes(inside, RATE, [equal("-4"), equal("-5")])
        if turn < 4 * a_beat - 1:  # the release is in the last
            assert (low > 10 * high) if turn % 2 == 0 else (high > 10 * low), turn
    in_turn = part(sound, 0.15 * half_s, 0.85 * half_s)
    assert amplitudes(in_turn, RATE, [equal("-4")])[0] > 0.05


BURSTS = {
    "slap -4:2": (("-2", "-3"), "-4"), "slap -1:2": (("-2", "-3"), "-1"),
    "slap -2:2": (("-1",), "-2"), "slap 8:2": (("6", "7"), "8"),
}  # fmt: skip


@pytest.mark.parametrize("music", BURSTS)
def test_a_slap_is_a_chord_for_an_instant_and_then_its_hole(music: str) -> None:
    others, own = BURSTS[music]
    tones = [equal(tab) for tab in (*others, own)]
    sound = sound_of(score_of(music), pure=True)
    chord = amplitudes(part(sound, 0.005, 0.056), RATE, tones)
    after = amplitudes(part(sound, 0.07, 0.5), RATE, tones)
    assert min(chord) > 0.3 * max(chord)
    assert max(after[:-1]) < 0.005 * after[-1]
    assert after[-1] > 1.3 * chord[-1], "alone it is as loud as the chord was"


def test_a_pull_ends_in_the_chord() -> None:
    tones = [equal(tab) for tab in ("3", "4", "5")]
    sound = sound_of(score_of("pull 5:2"), pure=True)
    before = amplitudes(part(sound, 1.4, 1.92), RATE, tones)
    chord = amplitudes(part(sound, 1.944, 1.979), RATE, tones)
    assert max(before[:2]) < 0.005 * before[2]
    assert min(chord) > 0.25 * max(chord)


def test_the_slap_of_an_octave_sounds_all_holes_between() -> None:
    tones = [equal(tab) for tab in ("-2", "-3")]
    sound = sound_of(score_of("slap -1&4:2"), pure=True)
    between = amplitudes(part(sound, 0.006, 0.056), RATE, [*tones, equal("-1")])
    after = amplitudes(part(sound, 0.08, 0.5), RATE, [*tones, equal("-1")])
    assert min(between[:2]) > 0.02
    assert max(after[:2]) < 0.001 < after[2]


def test_a_slapped_bend_begins_with_natural_notes() -> None:
    tones = [equal(tab) for tab in ("-1", "-2", "-3")]
    sound = sound_of(score_of("slap -3'':2"))
    chord = amplitudes(part(sound, 0.005, 0.056), RATE, tones)
    assert min(chord) > 0.3 * max(chord)
    all_in_tune(part(sound, 0.08, 0.8), [equal("-3''")])


def test_a_muted_note_is_four_decibels_softer_and_duller() -> None:
    sound = sound_of(score_of("-4:2 mute -4:2 -4:2"))
    opened, closed, again = (part(sound, at + 0.05, at + 1.9) for at in (0, 2, 4))
    assert loudness(closed) - loudness(opened) == pytest.approx(-4, abs=0.3)
    assert loudness(again) == pytest.approx(loudness(opened), abs=0.05)
    assert brightness(closed) < 0.85 * brightness(opened)


def brightness(sound: Samples) -> float:
    """The spectral centroid in Hz."""
    lines = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    return float(np.sum(np.fft.rfftfreq(len(sound), 1 / RATE) * lines) / np.sum(lines))


def test_no_mark_clicks() -> None:
    """Steps between samples are nowhere larger than in plain chords of the same holes."""
    plain = sound_of(score_of("-2&3&4:2 -4&5:2 5&6&7:2"))
    marked = sound_of(score_of("slap -4:2 shake -4&5:2 pull 7:2 mute -4~-4':1 -4:1"))
    largest = float(np.max(np.abs(np.diff(plain))))
    assert np.max(np.abs(np.diff(marked))) < 1.3 * largest


# --- any stretch of it ---------------------------------------------------------------------

EVERYTHING = """-1&4 -2&3:2 slap -2 shake -4&5:2 scoop -3q fall -4 pull 5 mute -1&2&3
  vibrato4 -4:2 -3:1~:2 -3'':3 slap (-2 -3~-3')x2 2&3&4! r"""


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(1, 800_000), min_size=1, max_size=6, unique=True))
def test_any_stretch_sounds_as_in_the_whole(cuts: list[int]) -> None:
    tones = guide(plan_recording(score_of(EVERYTHING.replace("\n", " "), tempo=72)), RATE)
    places = [0, *sorted(cuts), 880_000]
    parts = np.concatenate([tones(first, last) for first, last in pairwise(places)])
    assert np.array_equal(parts, tones(0, 880_000))


def test_a_slide_of_many_seconds_is_the_same_from_any_place() -> None:
    score = score_of("-3:4~:40 -3''':44", tempo=60)
    tones = guide(plan_recording(score), RATE, still=True)
    whole = tones(0, 48 * RATE)
    for first in (0, 7 * RATE + 11, 31 * RATE):
        assert np.array_equal(tones(first, first + RATE), whole[first : first + RATE])
    seconds, off = cents_at(part(whole, 23, 25), equal("-3"))
    expected = -300 * smooth((seconds + 23 - 4) / 40)
    assert np.max(np.abs(off - expected)) < 1


@pytest.mark.parametrize("practice", [Practice(repeats=2), Practice(tempi_bpm=(60, 90))])
def test_every_repeat_and_tempo_has_its_chords(practice: Practice) -> None:
    score = score_of("-2&3:2 slap -4:2")
    plan = plan_recording(score, practice)
    tones = guide(plan, RATE)
    for heard in plan.passes:
        at = round(float(heard.start_s) * RATE)
        second = tones(at + RATE // 10, at + RATE)
        all_in_tune(second, [equal("-2"), equal("-3")])


# --- in the voice of a SoundFont -----------------------------------------------------------


@pytest.fixture(scope="module")
def in_a_font() -> Samples:
    """All of it in the voice of the font that comes with pretty_midi."""
    music = "-2&3:2 1&2&3:2 slap -4:2 shake3 -4&5:2 mute -4:2 -4:2 vibrato4 -4:4"
    score = without_breaths(score_of(music))  # which would end notes early
    asked = Recording(voice=str(default_soundfont()))
    taken = take(asked.plan(score), asked)
    return taken.stems["tones"](0, taken.count)


def test_a_font_plays_every_hole_in_tune(in_a_font: Samples) -> None:
    """A corrected key may be 2 cents out, as the voice promises."""
    all_in_tune(part(in_a_font, 0.2, 1.2), [equal("-2"), equal("-3")], within=2)
    all_in_tune(part(in_a_font, 2.2, 3.2), [equal("1"), equal("2"), equal("3")], within=2)


def test_a_font_slaps_shakes_and_mutes(in_a_font: Samples) -> None:
    tones = [equal(tab) for tab in ("-2", "-3", "-4")]
    chord = amplitudes(part(in_a_font, 4.006, 4.056), RATE, tones)
    after = amplitudes(part(in_a_font, 4.08, 4.5), RATE, tones)
    assert min(chord) > 0.2 * max(chord)
    assert max(after[:2]) < 0.03 * after[2]
    for turn in range(11):
        inside = part(in_a_font, 6 + (turn + 0.15) / 6, 6 + (turn + 0.85) / 6)
        low, high = amplitudes(inside, RATE, [equal("-4"), equal("-5")])
        assert (low > 5 * high) if turn % 2 == 0 else (high > 5 * low), turn
    closed, opened = (part(in_a_font, at + 0.05, at + 1.9) for at in (8, 10))
    assert loudness(closed) - loudness(opened) == pytest.approx(-4, abs=0.4)
    assert brightness(closed) < 0.9 * brightness(opened)


def test_a_chord_of_a_font_is_about_as_loud_as_its_note(in_a_font: Samples) -> None:
    """Recorded tones beat, so that a second or two may be louder or softer by a decibel."""
    heard = [loudness(part(in_a_font, at + 0.05, at + 1.9)) for at in (0, 2, 10)]
    assert max(heard) - min(heard) < 1.5


def test_a_vibrato_of_a_font_has_its_rate(in_a_font: Samples) -> None:
    seconds, off = cents_at(part(in_a_font, 12, 15.9), equal("-4"))
    inside = (seconds > 0.1) & (seconds < 3.8)
    (left, depth, _), rate = min(
        (_sine(seconds[inside], off[inside], 4 * rate), rate) for rate in np.linspace(0.9, 1.1, 101)
    )
    assert abs(rate - 1) < 0.02
    assert depth == pytest.approx(20, abs=2)
    assert left < 3


# --- lifts -----------------------------------------------------------------------------------


def level_of(sound: Samples, hz: float, at_s: float) -> float:
    """The level of the partial at *hz* around a moment, in dB: Fourier's sum under a Hann window.

    The window takes 40 ms, in which the partials of draw 1 to 4 that come nearest are 90 Hz off.
    """
    count = round(0.04 * RATE)
    first = round(at_s * RATE) - count // 2
    places = np.arange(first, first + count)
    wave_of = np.exp(-2j * np.pi * hz * places / RATE) * np.hanning(count)
    return float(20 * np.log10(abs(np.sum(sound[first : first + count] * wave_of)) + 1e-12))


@pytest.mark.parametrize(
    ("music", "held", "others"),
    [("-4:2~-2&3&4:2", "-4", ("-2", "-3")), ("4:2~2&3&4:2", "4", ("2", "3")),
     ("-3:2~-2&3:2", "-3", ("-2",))],
)  # fmt: skip
def test_a_hole_sounds_on_through_a_lift_and_the_others_begin_there(
    music: str, held: str, others: Sequence[str]
) -> None:
    """In the tone itself: no dip, no gap and no click, but for a chord as loud as a note."""
    sound = sound_of(score_of(music))
    hz = equal(held)
    steps = [level_of(sound, hz, at_s) for at_s in np.arange(1.8, 2.2, 0.004)]
    begun, ended = steps[0], steps[-1]
    assert begun > ended  # so that all holes together are as loud as the one before
    assert max(steps) < begun + 1
    assert min(steps) > ended - 1
    assert max(a - b for a, b in pairwise(steps)) < (begun - ended) / 2  # bit by bit, within 40 ms
    still = sound_of(score_of(music), pure=True)  # the noise of a breath is everywhere
    for tab in others:
        quiet, loud = (level_of(still, equal(tab), at_s) for at_s in (1.9, 2.1))
        assert loud > quiet + 30
    pitch = parselmouth.Sound(sound[: round(1.99 * RATE)], RATE).to_pitch_ac(
        time_step=0.01, pitch_floor=0.8 * hz, pitch_ceiling=1.25 * hz, very_accurate=True
    )
    heard = pitch.selected_array["frequency"]
    assert cents(float(np.median(heard[heard > 0])), hz) == pytest.approx(0, abs=0.5)


@pytest.mark.parametrize(("music", "held"), [("-4:2~-2&3&4:2", "-4"), ("-2&3&4:2~-4:2", "-4")])
def test_the_phase_of_what_sounds_on_never_jumps(music: str, held: str) -> None:
    """A tone that was struck again, or joined with a click, would begin at another phase."""
    sound, hz = sound_of(score_of(music)), equal(held)
    count = round(0.04 * RATE)
    turns = []
    for at_s in np.arange(1.8, 2.2, 0.01):
        first = round(at_s * RATE)
        places = np.arange(first, first + count)
        wave_of = np.exp(-2j * np.pi * hz * places / RATE) * np.hanning(count)
        turns.append(np.angle(np.sum(sound[first : first + count] * wave_of)))
    away = np.angle(np.exp(1j * (np.array(turns) - turns[0])))
    assert np.max(np.abs(away)) < 0.05


def test_a_chord_that_opens_is_as_loud_as_the_note_it_opens_under() -> None:
    """By pyebur128 (ITU-R BS.1770)."""
    sound = sound_of(score_of("-4:4~-1&2&3&4:4"))
    alone, opened = (loudness(part(sound, begin_s, begin_s + 3)) for begin_s in (0.5, 4.5))
    assert opened == pytest.approx(alone, abs=0.5)


def test_a_font_holds_a_hole_through_a_lift_as_well() -> None:
    score = without_breaths(score_of("-4:2~-2&3&4:2"))
    asked = Recording(voice=str(default_soundfont()))
    taken = take(asked.plan(score), asked)
    sound = taken.stems["tones"](0, taken.count)
    steps = [level_of(sound, equal("-4"), at_s) for at_s in np.arange(1.9, 2.1, 0.004)]
    assert min(steps) > steps[-1] - 1.5  # a recorded tone is never as even as one of our own
    assert max(abs(a - b) for a, b in pairwise(steps)) < 2
    for tab in ("-2", "-3"):
        quiet, loud = (level_of(sound, equal(tab), at_s) for at_s in (1.9, 2.1))
        assert loud > quiet + 20
