"""Ways of practising: what is planned, and what is then heard.

Times are added up here from bars and tempo; sound is judged by an energy detector and by the
spectrum.  That a count-in is clicked, that a shuffle divides the beat two to one and that
compound meters are counted in dotted beats is common practice, no published source.
"""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import pitch as music21_pitch
from numpy.typing import NDArray

from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.formats.data import score_data
from reedmill.formats.midi import midi_bytes
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.practice.practice import (
    Click,
    Practice,
    Recording,
    RecordingPlan,
    parse_drone,
    parse_ladder,
    parse_types,
    plan_recording,
)
from reedmill.score.score import Feel, Score
from reedmill.sheet.page import pages
from reedmill.sound.recording.mix import StemSet, take
from reedmill.sound.reed.drone import drone_loop
from reedmill.sound.signal.clock import sample_at
from reedmill.theory.intonation import EQUAL, INTONATIONS, JUST_5
from reedmill.theory.positions import Position
from tunes import score_from

Samples = NDArray[np.float64]
RATE = 44_100
# Two bars of four, one of them with a note over the bar line; asymmetric on purpose.
TUNE = "-2 -3 -3'' 4:1/2 -4:1/2 -2:5 r:3 10:2 -10 r"


def taken(score: Score, recording: Recording) -> StemSet:
    return take(recording.plan(score), recording)


def stem(score: Score, recording: Recording, name: str) -> Samples:
    made = taken(score, recording)
    return made.stems[name](0, made.count)


def onsets_s(sound: Samples, threshold: float = 0.02) -> list[float]:
    """Where the sound exceeds *threshold* after 4 ms below it; knows nothing of the plan."""
    loud = np.flatnonzero(np.abs(sound) > threshold)
    first = np.concatenate([[True], np.diff(loud) > 0.004 * RATE])
    return [float(sample) / RATE for sample in loud[first]]


# --- the plan, exactly -------------------------------------------------------------------

tempi = st.lists(st.integers(20, 300), max_size=4).map(tuple)
practices = st.builds(
    Practice,
    count_in_bars=st.integers(0, 3),
    repeats=st.integers(2, 5),
    echo_bars=st.none() | st.integers(0, 3),
    fade_out=st.booleans(),
    tempi_bpm=tempi,
)
tunes = st.lists(
    st.builds(
        lambda tab, length: f"{tab}:{length}",
        st.sampled_from(["-2", "-3", "-3'", "4", "r", "~-3'"]),
        st.sampled_from(["1/2", "1", "3/2", "2", "5"]),
    ),
    min_size=1,
    max_size=12,
).map(lambda words: " ".join(["-3:1", *words]))


@given(tunes, practices)
def test_passes_follow_one_another_with_nothing_between_but_count_ins(
    music: str, practice: Practice
) -> None:
    score = score_from(music)
    found = plan_recording(score, practice, lead_s=Fraction(2))
    now = Fraction(2)
    for heard in found.passes:
        bar_s = Fraction(4 * 60, heard.score.tempo_bpm)
        now += heard.count_in_bars * bar_s
        assert heard.start_s == now
        now += (heard.last - heard.first) / 4 * bar_s
        assert heard.end_s == now
    assert found.length_s == now


@given(tunes, practices)
def test_each_tempo_is_counted_in_once_and_gone_through_as_often_as_asked(
    music: str, practice: Practice
) -> None:
    found = plan_recording(score_from(music), practice)
    wanted = practice.tempi_bpm or (60,)
    starts = [heard for heard in found.passes if heard.count_in_bars]
    if practice.count_in_bars:
        assert [heard.score.tempo_bpm for heard in starts] == list(wanted)
    else:
        assert starts == []
    played = sum(heard.last - heard.first for heard in found.passes)
    times = len(wanted) * practice.repeats * (1 if practice.echo_bars is None else 2)
    assert played == times * found.score.length


@given(tunes, practices)
def test_no_note_and_no_slide_is_cut(music: str, practice: Practice) -> None:
    for heard in plan_recording(score_from(music), practice).passes:
        for breath in heard.attacks():
            assert heard.first <= breath[0].start
            assert breath[-1].end <= heard.last
        assert sum(len(breath) for breath in heard.attacks()) == len(heard.notes)


@given(tunes, st.integers(0, 3), st.integers(1, 4))
def test_an_echo_leaves_open_what_was_just_played(music: str, bars: int, repeats: int) -> None:
    found = plan_recording(score_from(music), Practice(echo_bars=bars, repeats=repeats)).passes
    for played, open_ in zip(found[::2], found[1::2], strict=True):
        assert (played.first, played.last) == (open_.first, open_.last)
        assert (played.guide, open_.guide) == (1, 0)
        if bars and played.last < played.score.length:
            assert played.last - played.first >= 4 * bars


@given(st.integers(2, 100))
def test_a_guide_that_fades_out_begins_whole_and_ends_silent(repeats: int) -> None:
    found = plan_recording(score_from("-2"), Practice(repeats=repeats, fade_out=True)).passes
    levels = [heard.guide for heard in found]
    assert levels[0] == 1
    assert levels[-1] == 0
    steps = [before - after for before, after in pairwise(levels)]
    assert steps == pytest.approx([1 / (repeats - 1)] * (repeats - 1))


def test_a_plan_without_wishes_is_the_score_once() -> None:
    score = score_from(TUNE)
    [heard] = plan_recording(score).passes
    assert (heard.score, heard.start_s, heard.first, heard.last) == (
        score,
        Fraction(0),
        Fraction(0),
        Fraction(16),
    )
    assert heard.notes == score.notes


@pytest.mark.parametrize(
    ("text", "tempi"),
    [
        ("60 to 75 by 5", (60, 65, 70, 75)),
        ("60 to 72 by 5", (60, 65, 70, 72)),
        ("80 to 60 by 10", (80, 70, 60)),
        (" 60  to 60 by 1 ", (60,)),
        ("20 to 300 by 300", (20, 300)),
    ],
)
def test_a_ladder_goes_from_its_start_to_its_end(text: str, tempi: tuple[int, ...]) -> None:
    assert parse_ladder(text) == tempi


@given(st.integers(20, 300), st.integers(20, 300), st.integers(5, 300))
def test_every_rung_of_a_ladder_is_one_step_from_the_last_but_the_end(
    start: int, end: int, step: int
) -> None:
    rungs = parse_ladder(f"{start} to {end} by {step}")
    assert (rungs[0], rungs[-1]) == (start, end)
    assert all(abs(after - before) == step for before, after in pairwise(rungs[:-1]))
    assert all(0 < abs(after - before) <= step for before, after in pairwise(rungs))


def test_words_for_the_sound_are_read_in_any_order_and_once() -> None:
    assert parse_drone("Octave+root+octave") == ("root", "octave")
    assert parse_drone("fifth") == ("root", "fifth")
    assert parse_types(" mp3, WAV ,mp3") == ("mp3", "wav")


def test_a_recording_of_hours_is_refused() -> None:
    score = score_from("-2:64 " * 30, tempo=20)
    practice = Practice(repeats=2)  # 2 x 1920 beats at 20 a minute: 3.2 hours
    with pytest.raises(InputError, match='recording of "Test tune" would last more than 3 hours'):
        plan_recording(score, practice)
    assert plan_recording(score).length_s == 1920 * 3


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"count_in_bars": -1}, "a count-in of -1 bars"),
        ({"repeats": 0}, "a repeat of 0 times"),
        ({"echo_bars": 17}, "an? echo of 17 bars"),
        ({"tempi_bpm": (60, 19)}, "a tempo of 19 beats a minute"),
        ({"fade_out": True}, "only fade out over repeats"),
    ],
)
def test_a_practice_out_of_range_is_refused(wrong: dict[str, int], told: str) -> None:
    with pytest.raises(InputError, match=told):
        Practice(**wrong)  # type: ignore[arg-type]


# --- what is heard -----------------------------------------------------------------------


def test_repeats_are_heard_bar_after_bar() -> None:
    score = score_from("-2 r 4 r", tempo=100)
    found = onsets_s(stem(score, Recording(practice=Practice(repeats=3)), "tones"))
    assert found == pytest.approx([n * 1.2 for n in range(6)], abs=0.001)


def test_a_tempo_ladder_is_heard_at_its_tempi() -> None:
    score = score_from("-2 -3 4 -4")
    practice = Practice(tempi_bpm=(60, 90, 120), count_in_bars=1)
    expected, now = [], 0.0
    for tempo in (60, 90, 120):
        now += 4 * 60 / tempo  # the count-in
        expected += [now + beat * 60 / tempo for beat in range(4)]
        now += 4 * 60 / tempo
    found = onsets_s(stem(score, Recording(practice=practice), "tones"))
    assert found == pytest.approx(expected, abs=0.001)


def test_in_an_echo_the_same_bars_are_open_over_the_drone() -> None:
    score = score_from("-2 -3 4 -4 4 -3 -2:2", tempo=120)
    recording = Recording(drone=("root",), practice=Practice(echo_bars=1))
    guide, drone = (stem(score, recording, name) for name in ("tones", "drone"))
    bar = 2 * RATE
    for number, silent in enumerate((False, True, False, True)):
        inside = slice(number * bar, (number + 1) * bar)
        assert bool(np.any(guide[inside])) is not silent
        assert np.abs(drone[inside]).max() > 0.03
    starts = [0, 0.5, 1, 1.5, 4, 4.5, 5]
    assert onsets_s(guide) == pytest.approx(starts, abs=0.001)


def test_a_fading_guide_is_heard_softer_each_time_and_not_at_the_last() -> None:
    score = score_from("-2:4", tempo=120)
    practice = Practice(repeats=5, fade_out=True)
    guide = stem(score, Recording(pure=True, practice=practice), "tones")
    bar = 2 * RATE
    levels = [np.sqrt(np.mean(guide[n * bar : (n + 1) * bar] ** 2)) for n in range(5)]
    assert np.array(levels) / levels[0] == pytest.approx([1, 0.75, 0.5, 0.25, 0], abs=0.001)


@pytest.mark.parametrize("echo", [None, 0, 1])
def test_a_pass_sounds_as_the_score_alone_does(echo: int | None) -> None:
    """The third time through, sample by sample, but for where rounding put its start."""
    score = score_from(TUNE, tempo=113)
    alone = stem(score, Recording(pure=True), "tones")
    practice = Practice(repeats=3, echo_bars=echo)
    recording = Recording(pure=True, practice=practice)
    found = recording.plan(score)
    whole = stem(score, recording, "tones")
    heard = found.passes[-1 if echo is None else -2]
    [once] = plan_recording(score).passes
    for note in heard.notes:
        if note.joined:
            continue
        at = sample_at(heard, note.start, RATE)
        first = sample_at(once, note.start, RATE)
        count = min(2000, round(float(score.seconds(note.length)) * RATE * 0.6))
        assert np.allclose(whole[at : at + count], alone[first : first + count], atol=1e-9)


# --- any stretch by itself ---------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(tunes, practices, st.integers(90, 300), st.data())
def test_any_stretch_of_a_stem_is_that_part_of_the_whole(
    music: str, practice: Practice, tempo: int, data: st.DataObject
) -> None:
    practice = replace(practice, tempi_bpm=(), repeats=2)
    recording = Recording(drone=("root", "fifth"), click=Click.OFFBEATS, practice=practice)
    found = recording.plan(score_from(music, tempo=tempo))
    made = take(found, recording)
    for name, source in made.stems.items():
        whole = source(0, made.count)
        first = data.draw(st.integers(0, made.count - 1), label=name)
        last = data.draw(st.integers(first, min(made.count, first + 100_000)), label=name)
        fresh = take(replace(found, passes=found.passes), replace(recording, types=("flac",)))
        assert np.array_equal(whole[first:last], fresh.stems[name](first, last))


def long_take() -> StemSet:
    """Longer than what is kept whole, so that stems are made block by block."""
    recording = Recording(
        drone=("root",), click=Click.BEATS, practice=Practice(repeats=9, count_in_bars=1)
    )
    return taken(score_from(TUNE, tempo=97), recording)


def test_blocks_join_without_a_seam() -> None:
    made = long_take()
    assert made.count > 60 * RATE
    for name in ("tones", "drone", "click"):
        joined = np.concatenate(list(made.blocks([name])))[:, 0]
        random = np.random.default_rng(5)
        for first in random.integers(0, made.count - 60_000, 20):
            stretch = made.stems[name](int(first), int(first) + 60_000)
            assert np.array_equal(joined[first : first + 60_000], stretch)


def test_nothing_jumps_where_passes_join_beyond_what_the_waveform_does_itself() -> None:
    """The steps from sample to sample around each join against those in steady sound."""
    score = score_from("-2:2 -3''':2", tempo=150)  # sounds up to the bar line
    practice = Practice(repeats=4, echo_bars=0, tempi_bpm=(150, 160))
    recording = Recording(drone=("root", "fifth", "octave"), practice=practice)
    made = taken(score, recording)
    joins = [round(heard.start_s * RATE) for heard in made.plan.passes]
    guide, drone = (made.stems[name](0, made.count) for name in ("tones", "drone"))
    near = np.zeros(made.count - 1, dtype=bool)
    for join in joins[1:]:
        near[join - RATE // 50 : join + RATE // 50] = True
    for sound in (guide, drone):
        steps = np.abs(np.diff(sound))
        assert steps[near].max() <= 1.005 * steps[~near].max()
    # an attack is a quarter sine of 3 ms: it begins in silence, so no sample jumps to it
    for join in joins:
        assert np.abs(guide[join]) < 0.01


# --- drone -------------------------------------------------------------------------------

TONES = [("root",), ("root", "fifth"), ("root", "octave"), ("root", "fifth", "octave")]


def lines_hz(sound: Samples, above_db: float = -45) -> Samples:
    """Frequencies of the spectral lines of *sound*, by a parabola through the log spectrum."""
    size = 1 << 21
    level = 20 * np.log10(np.abs(np.fft.rfft(sound * np.blackman(len(sound)), size)) + 1e-12)
    tops = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] >= level[2:])) + 1
    tops = tops[level[tops] > level.max() + above_db]
    before, at, after = level[tops - 1], level[tops], level[tops + 1]
    return np.asarray((tops + 0.5 * (before - after) / (before - 2 * at + after)) * RATE / size)


def root_hz(name: str, reference_hz: float = 440.0) -> float:
    return float(music21_pitch.Pitch(name).frequency) * reference_hz / 440


@pytest.mark.parametrize("tones", TONES, ids="+".join)
@pytest.mark.parametrize(("harp", "position", "root"), [("C", 2, "G3"), ("low F", 1, "F3")])
@pytest.mark.parametrize("intonation", INTONATIONS)
def test_the_drone_holds_root_pure_fifth_and_octave(
    tones: tuple[str, ...], harp: str, position: int, root: str, intonation: str
) -> None:
    """Pure in every intonation: 3/2 and 2/1, Ptolemy's intervals, over music21's root."""
    score = score_from("4:4 -4:4", harp=harp, position=position, intonation=intonation)
    sound = stem(score, Recording(drone=tones), "drone")[RATE : 6 * RATE]
    found = lines_hz(sound)
    ratios = {"root": 1.0, "fifth": 1.5, "octave": 2.0}
    wanted = {root_hz(root) * ratios[tone] * n for tone in tones for n in (1, 2, 3)}
    for hz in wanted:
        assert min(abs(1200 * np.log2(found / hz))) < 0.01
    partials = {root_hz(root) * ratios[tone] * n for tone in tones for n in range(1, 9)}
    for hz in found:
        assert min(abs(1200 * np.log2(hz / each)) for each in partials) < 0.05


@pytest.mark.parametrize("tones", TONES, ids="+".join)
@pytest.mark.parametrize("harp", ["low D", "C", "F#"])
def test_the_drone_holds_its_level_within_half_a_decibel(tones: tuple[str, ...], harp: str) -> None:
    practice = Practice(repeats=4, count_in_bars=1, tempi_bpm=(60, 75))
    recording = Recording(drone=tones, practice=practice)
    sound = stem(score_from(TUNE, harp=harp), recording, "drone")
    steady = sound[RATE // 2 : -RATE // 2]
    windows = steady[: len(steady) // 4410 * 4410].reshape(-1, 4410)
    assert np.ptp(10 * np.log10(np.mean(windows**2, axis=1))) < 0.5


def test_the_drone_is_there_before_the_count_in() -> None:
    score = score_from("-2 -3 4 -4", tempo=120)
    recording = Recording(drone=("root",), practice=Practice(count_in_bars=1))
    drone, click, guide = (stem(score, recording, name) for name in ("drone", "click", "tones"))
    assert onsets_s(click) == pytest.approx([2, 2.5, 3, 3.5], abs=0.001)
    assert onsets_s(guide) == pytest.approx([4, 4.5, 5, 5.5], abs=0.001)
    first_tap = round(2 * RATE)
    before, after = drone[RATE : first_tap - 100], drone[first_tap + 100 : first_tap + RATE]
    level_db = [10 * np.log10(np.mean(part**2)) for part in (before, after)]
    assert level_db[0] == pytest.approx(level_db[1], abs=0.5)
    assert not np.any(click[:first_tap])
    assert not np.any(guide[: 4 * RATE])


@pytest.mark.parametrize("tones", TONES, ids="+".join)
@pytest.mark.parametrize("root", ["F2", "G3", "C#4", "E4"])
def test_a_drone_for_looping_goes_over_into_itself_without_a_seam(
    tones: tuple[str, ...], root: str
) -> None:
    sound = drone_loop(root_hz(root), tones, RATE)
    assert 25 * RATE < len(sound) < 35 * RATE
    twice = np.concatenate([sound, sound])
    seam = len(sound)
    curve = np.abs(np.diff(twice, n=2))  # a break shows in the second difference
    assert curve[seam - 3 : seam + 3].max() <= 1.001 * curve[1000:RATE].max()
    found = lines_hz(twice[seam - 2 * RATE : seam + 2 * RATE])
    wanted = root_hz(root)
    assert min(abs(1200 * np.log2(found / wanted))) < 0.01
    width = round(20 * RATE / wanted)  # whole periods
    level = [np.mean(twice[seam + at : seam + at + width] ** 2) for at in range(-20_000, 9000, 441)]
    assert np.ptp(10 * np.log10(level)) < 0.5


# --- click -------------------------------------------------------------------------------

METERS = [
    ((4, 4), 4), ((3, 4), 3), ((5, 4), 5), ((6, 8), 2), ((9, 8), 3), ((12, 8), 4), ((2, 2), 2),
]  # fmt: skip


@pytest.mark.parametrize("bars", [1, 2])
@pytest.mark.parametrize(("meter", "to_the_bar"), METERS)
def test_a_count_in_clicks_its_bars_as_musicians_count(
    meter: tuple[int, int], to_the_bar: int, bars: int
) -> None:
    score = score_from(f"-2:{meter[0]}", meter=meter, tempo=100)
    recording = Recording(practice=Practice(count_in_bars=bars))
    click, guide = (stem(score, recording, name) for name in ("click", "tones"))
    assert onsets_s(click) == pytest.approx([0.6 * n for n in range(bars * to_the_bar)], abs=0.001)
    assert onsets_s(guide) == pytest.approx([0.6 * bars * to_the_bar], abs=0.001)
    taps = [click[round(at * RATE) :][: RATE // 20] for at in onsets_s(click)]
    heights = [int(np.argmax(np.abs(np.fft.rfft(tap)))) for tap in taps]
    accents = [height > 1.2 * min(heights) for height in heights]
    assert accents == [n % to_the_bar == 0 for n in range(bars * to_the_bar)]


def shuffled(music: str) -> Score:
    return replace(score_from(music, tempo=60), feel=Feel.SHUFFLE)


def test_a_shuffle_is_clicked_on_its_beats() -> None:
    score = shuffled("-2:1/2 -2:1/2 4:1/2 4:1/2 -2:2")
    assert onsets_s(stem(score, Recording(click=Click.BEATS), "click")) == pytest.approx(
        [0, 1, 2, 3], abs=0.001
    )


def test_the_off_beats_of_a_shuffle_are_clicked_late_with_the_notes() -> None:
    score = shuffled("-2:1/2 -2:1/2 4:1/2 4:1/2 -2:1/2 -2:3/2")
    recording = Recording(click=Click.OFFBEATS)
    click, guide = (stem(score, recording, name) for name in ("click", "tones"))
    late = [0, 2 / 3, 1, 5 / 3, 2, 8 / 3, 3, 11 / 3]
    assert onsets_s(click) == pytest.approx(late, abs=0.001)
    assert onsets_s(guide) == pytest.approx(late[:6], abs=0.001)


@pytest.mark.parametrize(
    ("meter", "between"), [((4, 4), [0.5]), ((6, 8), [1 / 3, 2 / 3]), ((12, 8), [1 / 3, 2 / 3])]
)
def test_off_beats_lie_between_the_beats_and_are_softer(
    meter: tuple[int, int], between: list[float]
) -> None:
    score = score_from(f"-2:{meter[0]}", meter=meter, tempo=60)
    click = stem(score, Recording(click=Click.OFFBEATS), "click")
    pulses = meter[0] // (len(between) + 1) if len(between) == 2 else meter[0]
    places = [n + part for n in range(pulses) for part in (0.0, *between)]
    found = onsets_s(click)
    assert found == pytest.approx(places, abs=0.001)
    peaks = [float(np.abs(click[round(at * RATE) :][: RATE // 20]).max()) for at in found]
    on = [peak for peak, at in zip(peaks, places, strict=True) if at % 1 == 0]
    off = [peak for peak, at in zip(peaks, places, strict=True) if at % 1]
    assert max(off) < 0.8 * min(on)


def test_off_beats_are_not_counted_in() -> None:
    score = score_from("-2:4", tempo=60)
    recording = Recording(click=Click.OFFBEATS, practice=Practice(count_in_bars=1))
    assert onsets_s(stem(score, recording, "click")) == pytest.approx(
        [0, 1, 2, 3, *(4 + n / 2 for n in range(8))], abs=0.001
    )


def test_the_click_goes_on_through_open_bars() -> None:
    recording = Recording(click=Click.BEATS, practice=Practice(echo_bars=0))
    click = stem(score_from("-2:4", tempo=60), recording, "click")
    assert onsets_s(click) == pytest.approx(list(range(8)), abs=0.001)


# --- offsets of the player's own -----------------------------------------------------------


def test_offsets_move_their_degrees_everywhere_and_nothing_else() -> None:
    [drill] = parse('drill "All"\n play -2 -3\' -3 4 -4 -5\n')
    moved = EQUAL.with_offsets("b3=-12, b7 = +31.5")
    plain = expand(drill, Harp("C"), Position(2))
    other = expand(drill, Harp("C"), Position(2), intonation=moved)
    for before, after in zip(plain.notes, other.notes, strict=True):
        cents = {"b3": -12.0, "b7": 31.5}.get(after.degree.name, 0.0)
        assert 1200 * np.log2(after.hz / before.hz) == pytest.approx(cents, abs=1e-9)
    assert {note.degree.name for note in plain.notes} >= {"1", "b3", "3", "b7"}
    assert plain.root_hz == other.root_hz
    assert other.intonation.words == "equal temperament, b3 -12, b7 +31.5 cents"


def test_sheet_data_and_midi_follow_the_offsets() -> None:
    [drill] = parse('drill "All"\n play -2 -3\' -3:2\n')
    tuning = EQUAL.with_offsets("b3=-12")
    score = expand(drill, Harp("C"), Position(2), intonation=tuning)
    rows = score_data(score)["notes"]
    b_flat = float(music21_pitch.Pitch("B-4").frequency)
    assert rows[1]["degree"] == "b3"
    assert 1200 * np.log2(rows[1]["hz"] / b_flat) == pytest.approx(-12, abs=0.01)
    assert set(rows[0]) == set(score_data(replace(score, intonation=EQUAL))["notes"][0])
    assert "equal temperament, b3 -12 cents" in pages([score])
    # A pitch bend is 8192 steps to the range, two semitones unless more is set (GM 2, 3.4.1).
    bends = [
        message.pitch
        for message in mido.MidiFile(file=io.BytesIO(midi_bytes(score)), charset="utf-8")
        if message.type == "pitchwheel" and message.channel == 0 and message.pitch
    ]
    assert [bend * 200 / 8192 for bend in bends] == pytest.approx([-12], abs=0.02)


def test_offsets_add_to_just_ratios() -> None:
    moved = JUST_5.with_offsets("#4=10,7=-3")
    # b5 and #4 are one key of the twelve; 45/32 and 15/8 are in Malcolm's monochord (1721).
    assert moved.cents(6) == pytest.approx(1200 * np.log2(45 / 32) + 10)
    assert moved.cents(11 - 12) == pytest.approx(1200 * np.log2(15 / 8) - 3 - 1200)
    assert moved.cents(7) == JUST_5.cents(7)


@pytest.mark.parametrize("text", ["b3", "b3=", "=3", "b3=x", "8=1", "0=1", "bb3=1", "b3=1;b7=2",
                                  "b3=--1", "b3=1e9", "b3=1,", "", "b3=٣"])  # fmt: skip
def test_what_is_no_offset_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"moves no degree\. Write a degree from 1 to 7"):
        EQUAL.with_offsets(text)


@given(st.integers(1, 7), st.sampled_from(["", "b", "#"]), st.floats(-50, 50))
def test_any_offset_within_half_a_semitone_is_carried_exactly(
    number: int, sign: str, cents: float
) -> None:
    moved = EQUAL.with_offsets(f"{sign}{number}={cents:.2f}")
    major = [0, 2, 4, 5, 7, 9, 11]
    key = (major[number - 1] + {"": 0, "b": -1, "#": 1}[sign]) % 12
    row = [moved.cents(step) - 100 * step for step in range(12)]
    assert row[key] == pytest.approx(float(f"{cents:.2f}"))
    assert sum(map(abs, row)) == pytest.approx(abs(row[key]))


def test_a_plan_is_made_of_frozen_values() -> None:
    found = plan_recording(score_from(TUNE), Practice(repeats=2))
    assert isinstance(found, RecordingPlan)
    assert hash(found.passes[0].start_s) == hash(Fraction(0))
    with pytest.raises(AttributeError):
        found.passes[0].guide = 2  # type: ignore[misc]
