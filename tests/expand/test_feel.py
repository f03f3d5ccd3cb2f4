"""How a drill is played: shuffle, triplets, meters, pick-ups, accents, slides and attacks.

MIDI is read by mido, pretty_midi and symusic, sound by an energy detector; where a beat
falls in a shuffle is common practice (two to one), drawn here as a line with one corner.
"""

from __future__ import annotations

import io
import wave
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pretty_midi
import pyebur128
import pytest
import symusic
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from reedmill.base.errors import PatternError
from reedmill.expand import expand
from reedmill.expand.breath import without_breaths
from reedmill.formats.midi import midi_bytes
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.notation import bars
from reedmill.score.score import Score
from reedmill.sound.recording.mix import stem
from reedmill.sound.signal.wav import write_wav
from reedmill.theory.positions import Position

Samples = NDArray[np.float64]
METERS = ("2/4", "3/4", "4/4", "6/8", "12/8")
BARS_HIGH = 76  # General MIDI level 1 percussion map: Hi Wood Block


def score_of(play: str, *, meter: str = "4/4", tempo: int = 60, lines: str = "") -> Score:
    """The score of a play line in cross harp; *lines* end in a line break each."""
    [drill] = parse(f'drill "Feel"\n meter {meter}\n{lines} play {play}\n')
    return expand(drill, Harp("C"), Position(2), tempo_bpm=tempo)


def shuffled(play: str, **options: Any) -> Score:
    return score_of(play, lines=" feel shuffle\n", **options)


def straight(play: str, **options: Any) -> Score:
    return score_of(play, lines=" feel straight\n", **options)


def swung(beats: Fraction) -> float:
    """Where a place in the notation falls in a shuffle: halfway is two thirds of the way."""
    beat, inside = divmod(beats, 1)
    return float(beat) + float(np.interp(float(inside), [0, 0.5, 1], [0, 2 / 3, 1]))


def pulse_beats(meter: str) -> int:
    """Beats to a tap of the foot: 6/8 and 12/8 are counted in dotted quarters."""
    return 3 if meter in ("6/8", "12/8") else 1


def beat_s(meter: str, tempo: int) -> float:
    return 60 / (tempo * pulse_beats(meter))


# --- what other programs hear ---


def _written(score: Score, tmp_path: Path) -> Path:
    path = tmp_path / "feel.mid"
    path.write_bytes(midi_bytes(score))
    return path


def mido_onsets_s(path: Path) -> list[float]:
    """Note-ons of the guide, the first channel, through the tempo of the file."""
    now, found = 0.0, []
    for message in mido.MidiFile(path, charset="utf-8"):
        now += message.time
        if message.type == "note_on" and message.channel == 0:
            found.append(now)
    return found


def pretty_midi_onsets_s(path: Path) -> list[float]:
    return sorted(note.start for note in pretty_midi.PrettyMIDI(str(path)).instruments[0].notes)


def symusic_onsets_s(path: Path) -> list[float]:
    file = symusic.Score(str(path), ttype="second")
    return sorted(note.time for note in file.tracks[0].notes)


READERS = (mido_onsets_s, pretty_midi_onsets_s, symusic_onsets_s)


def sound_of(score: Score, name: str = "tones") -> tuple[Samples, int]:
    """A stem through its WAV bytes, and samples a second."""
    with wave.open(io.BytesIO(write_wav(stem(score, name)))) as file:
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        return frames / 32768.0, file.getframerate()


def heard_s(score: Score, name: str = "tones") -> list[float]:
    """Where the sound exceeds a threshold after 4 ms below it; knows nothing of the score."""
    sound, rate = sound_of(score, name)
    loud = np.flatnonzero(np.abs(sound) > 0.02)
    first = np.concatenate([[True], np.diff(loud) > 0.004 * rate])
    return [float(sample) / rate for sample in loud[first]]


def assert_played_at(score: Score, expected_s: list[float], tmp_path: Path) -> None:
    """Three readers of the MIDI file and the ear agree with *expected_s*, a millisecond each."""
    path = _written(score, tmp_path)
    for read in READERS:
        assert read(path) == pytest.approx(expected_s, abs=0.001), read.__name__
    assert heard_s(score) == pytest.approx(expected_s, abs=0.0015)


# --- shuffle ---

EIGHTHS = "-2:1/2 -2:1/2 -4:1/2 -4 -2:1/2 -1:1/2 r:1/2 -2:3/2 -4:1/2"
STARTS = [Fraction(n, 2) for n in (0, 1, 2, 3, 5, 6, 8, 11)]


@pytest.mark.parametrize("meter", METERS)
@pytest.mark.parametrize("tempo", [60, 97])
def test_a_shuffle_plays_the_half_beat_at_two_thirds(
    meter: str, tempo: int, tmp_path: Path
) -> None:
    one = beat_s(meter, tempo)
    score = shuffled(EIGHTHS, meter=meter, tempo=tempo)
    assert_played_at(score, [swung(start) * one for start in STARTS], tmp_path)
    assert swung(Fraction(5, 2)) == pytest.approx(2 + 2 / 3)


@pytest.mark.parametrize("meter", METERS)
def test_straight_is_played_as_written(meter: str, tmp_path: Path) -> None:
    score = straight(EIGHTHS, meter=meter, tempo=72)
    expected = [float(start) * beat_s(meter, 72) for start in STARTS]
    assert_played_at(score, expected, tmp_path)
    assert_played_at(score_of(EIGHTHS, meter=meter, tempo=72), expected, tmp_path)


def test_the_quarters_of_a_beat_share_their_half(tmp_path: Path) -> None:
    """Sixteenths: two in the long half and two in the short one."""
    score = shuffled("-2:1/4 -2:1/4 -2:1/4 -2:1/4 -4")
    assert_played_at(score, [0, 1 / 3, 2 / 3, 5 / 6, 1], tmp_path)


def test_triplets_are_played_as_they_are_written(tmp_path: Path) -> None:
    """In both feels; the pair of eighths after them is not."""
    music = "triplet(-2:1/2 -3:1/2 -4:1/2) -2:1/2 -4:1/2 triplet(-2 -3 -4)"
    score = shuffled(music)
    thirds = [0, 1 / 3, 2 / 3]
    wide = [2, 2 + 2 / 3, 3 + 1 / 3]
    assert_played_at(score, [*thirds, 1, 1 + 2 / 3, *wide], tmp_path)
    assert_played_at(straight(music), [*thirds, 1, 1.5, *wide], tmp_path)


def test_a_shuffle_of_triplets_is_the_same_music_written_out(tmp_path: Path) -> None:
    """Two thirds and a third, written with triplets, sound as a shuffled pair does."""
    out = "(triplet(-2:1 -4:1/2))x4"
    pair = "(-2:1/2 -4:1/2)x4"
    assert mido_onsets_s(_written(shuffled(pair), tmp_path)) == mido_onsets_s(
        _written(straight(out), tmp_path)
    )
    assert heard_s(shuffled(pair)) == pytest.approx(heard_s(straight(out)), abs=1e-4)


@dataclass(frozen=True)
class Beat:
    """Words that fill one beat, and where their notes begin, notated and in a shuffle."""

    text: str
    starts: tuple[Fraction, ...]
    triplet: bool = False

    def played(self, *, shuffle: bool) -> list[float]:
        """The starts inside the beat as they sound."""
        as_written = self.triplet or not shuffle
        return [float(start) if as_written else swung(start) for start in self.starts]


HALF, THIRD, QUARTER = Fraction(1, 2), Fraction(1, 3), Fraction(1, 4)
BEATS = (
    Beat("-2", (Fraction(0),)),
    Beat("-2:1/2 -4:1/2", (Fraction(0), HALF)),
    Beat("r:1/2 -4:1/2", (HALF,)),
    Beat("-2:1/2 r:1/2", (Fraction(0),)),
    Beat("-2:1/4 -4:1/4 -2:1/2", (Fraction(0), QUARTER, HALF)),
    Beat("-2:1/2. -4:1/4", (Fraction(0), 3 * QUARTER)),
    Beat("triplet(-2:1/2 -4:1/2 -2:1/2)", (Fraction(0), THIRD, 2 * THIRD), triplet=True),
    Beat("triplet(-2:1 -4:1/2)", (Fraction(0), 2 * THIRD), triplet=True),
    Beat("r", ()),
)


@settings(max_examples=60)
@given(
    st.lists(st.sampled_from(BEATS), min_size=1, max_size=16),
    st.sampled_from(METERS),
    st.integers(30, 200),
    st.booleans(),
)
def test_any_music_is_played_where_its_feel_puts_it(
    music: list[Beat], meter: str, tempo: int, shuffle: bool
) -> None:
    score = (shuffled if shuffle else straight)(
        " ".join(beat.text for beat in music), meter=meter, tempo=tempo
    )
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)), charset="utf-8")
    now, ticks = 0, []
    for message in file.tracks[1]:
        now += message.time
        ticks += [now] if message.type == "note_on" else []
    beat_ticks = file.ticks_per_beat * 4 / int(meter.split("/")[1])
    expected = [
        (at + inside) * beat_ticks
        for at, beat in enumerate(music)
        for inside in beat.played(shuffle=shuffle)
    ]
    assert ticks == pytest.approx(expected, abs=0.5001)


@settings(max_examples=60)
@given(st.lists(st.sampled_from(BEATS), min_size=1, max_size=16), st.sampled_from(METERS))
def test_a_shuffle_changes_nothing_that_is_written(music: list[Beat], meter: str) -> None:
    """The bars of both feels are one notation, and so are the score's own times.

    Without their breaths, whose rests are as long as a breath takes when it is played.
    """
    text = " ".join(beat.text for beat in music)
    plain = without_breaths(straight(text, meter=meter))
    shuffle = without_breaths(shuffled(text, meter=meter))
    per_bar = int(meter.split("/")[0])
    assert bars(plain) == bars(shuffle)
    assert plain.notes == shuffle.notes
    assert plain.length == shuffle.length == -(-len(music) // per_bar) * per_bar


def test_a_shuffle_lasts_as_long_as_the_same_bars_straight() -> None:
    """Every beat keeps its length, so the drone and the click keep theirs."""
    plain, shuffle = straight(EIGHTHS), shuffled(EIGHTHS)
    ends = [mido.MidiFile(file=io.BytesIO(midi_bytes(s))).length for s in (plain, shuffle)]
    assert ends == [8.0, 8.0]
    for name in ("drone", "click"):
        assert np.array_equal(stem(plain, name), stem(shuffle, name))


def test_a_slide_in_a_shuffle_begins_at_two_thirds(tmp_path: Path) -> None:
    """The bend leaves the note where the off-beat is played, not where it is written."""
    path = _written(shuffled("-3:1/2~-3':1/2 -2"), tmp_path)
    file = mido.MidiFile(path, charset="utf-8")
    now, moved = 0, []
    for message in file.tracks[1]:
        now += message.time
        if message.type == "pitchwheel" and message.pitch:
            moved.append(now / file.ticks_per_beat)
    assert 2 / 3 < moved[0] < 2 / 3 + 0.02, "the first cent of the curve takes a few ticks"


# --- meters and pick-ups ---


def accents_s(path: Path) -> list[float]:
    """The strokes of the click that begin a bar."""
    now, found = 0.0, []
    for message in mido.MidiFile(path, charset="utf-8"):
        now += message.time
        if message.type == "note_on" and message.channel == 9 and message.note == BARS_HIGH:
            found.append(now)
    return found


def strong_taps_s(score: Score) -> list[float]:
    """The taps of the click's sound that are clearly higher than the lowest of them."""
    sound, rate = sound_of(score, "click")
    taps = heard_s(score, "click")
    parts = [sound[round(at * rate) :][: rate // 20] for at in taps]
    heights = [int(np.argmax(np.abs(np.fft.rfft(part, rate // 20)))) for part in parts]
    return [at for at, height in zip(taps, heights, strict=True) if height > 1.2 * min(heights)]


PICKUPS = [
    ("2/4", "1", 1), ("2/4", "1/2", HALF), ("3/4", "1", 1), ("3/4", "2", 2), ("4/4", "1", 1),
    ("4/4", "3/2", 3 * HALF), ("6/8", "1", 1), ("6/8", "2", 2), ("12/8", "3", 3),
]  # fmt: skip


@pytest.mark.parametrize(("meter", "pickup", "beats"), PICKUPS)
@pytest.mark.parametrize("feel", ["straight", "shuffle"])
def test_after_a_pickup_the_first_whole_bar_is_on_the_accent(
    meter: str, pickup: str, beats: Fraction, feel: str, tmp_path: Path
) -> None:
    """In the MIDI file and in the sound; the pick-up fills the end of the bar before."""
    per_bar, one = int(meter.split("/")[0]), beat_s(meter, 80)
    lines = f" pickup {pickup}\n feel {feel}\n"
    score = score_of(f"-2:{pickup} | -4:{per_bar} | -2:{per_bar} |", meter=meter, tempo=80,
                     lines=lines)  # fmt: skip
    written = per_bar - Fraction(beats)
    starts = float(written) if feel == "straight" else swung(written)
    expected = [starts * one, per_bar * one, 2 * per_bar * one]
    assert_played_at(score, expected, tmp_path)
    bar_lines = [0.0, *expected[1:]]
    assert accents_s(_written(score, tmp_path)) == pytest.approx(bar_lines, abs=0.001)
    assert strong_taps_s(score) == pytest.approx(bar_lines, abs=0.001)
    assert (score.bars, score.pickup) == (3, beats)


@pytest.mark.parametrize("meter", METERS)
def test_bars_of_every_meter_begin_on_the_accents(meter: str, tmp_path: Path) -> None:
    per_bar, one = int(meter.split("/")[0]), beat_s(meter, 90)
    score = score_of(f"-2:{per_bar} | -4:{per_bar} | -2:{per_bar} |", meter=meter, tempo=90)
    expected = [0, per_bar * one, 2 * per_bar * one]
    assert_played_at(score, expected, tmp_path)
    assert accents_s(_written(score, tmp_path)) == pytest.approx(expected, abs=0.001)
    assert strong_taps_s(score) == pytest.approx(expected, abs=0.001)


def test_a_bar_line_after_a_pickup_counts_the_pickup_alone() -> None:
    """A bar check that would be right without the pick-up is wrong with it, and back."""
    score_of("-2 | -4:4 |", lines=" pickup 1\n")
    with pytest.raises(PatternError, match="pick-up before this bar line has 4 beats"):
        score_of("-2:4 | -4:4 |", lines=" pickup 1\n")


# --- accents ---


def level_db(sound: Samples, rate: int, from_s: float, to_s: float) -> float:
    part = sound[round(from_s * rate) : round(to_s * rate)]
    return float(10 * np.log10(np.mean(part**2)))


def level_lufs(sound: Samples, rate: int, from_s: float, to_s: float) -> float:
    """Loudness in LUFS by libebur128."""
    state = pyebur128.R128State(1, rate, pyebur128.MeasurementMode.MODE_I)
    part = np.ascontiguousarray(sound[round(from_s * rate) : round(to_s * rate)])
    state.add_frames(part, len(part))
    return float(pyebur128.get_loudness_global(state))


def test_an_accent_is_three_decibels_louder() -> None:
    """As it is heard, for it is brighter too; in the middle of four notes, two of them accented."""
    sound, rate = sound_of(score_of("-2 -2! -2 -2!"))
    levels = [level_lufs(sound, rate, at + 0.2, at + 0.8) for at in range(4)]
    assert levels[0] == pytest.approx(levels[2], abs=0.1)
    assert levels[1] == pytest.approx(levels[3], abs=0.1)
    assert levels[1] - levels[0] == pytest.approx(3, abs=0.1)


def test_accents_leave_the_level_of_accented_notes_where_it_was() -> None:
    """The others step back: an accent must not come nearer to full scale."""
    plain, rate = sound_of(score_of("-2 -2"))
    accented, _ = sound_of(score_of("-2 -2!"))
    assert level_db(accented, rate, 1.2, 1.8) == pytest.approx(
        level_db(plain, rate, 1.2, 1.8), abs=0.01
    )


@pytest.mark.parametrize("reader", ["mido", "pretty_midi", "symusic"])
def test_an_accent_is_struck_harder_in_midi(reader: str, tmp_path: Path) -> None:
    path = _written(score_of("-2 -3! -4 -3!~-3' -2"), tmp_path)
    strokes = {
        "mido": lambda: [
            m.velocity
            for m in mido.MidiFile(path, charset="utf-8").tracks[1]
            if m.type == "note_on"
        ],
        "pretty_midi": lambda: [
            n.velocity for n in pretty_midi.PrettyMIDI(str(path)).instruments[0].notes
        ],
        "symusic": lambda: [n.velocity for n in symusic.Score(str(path)).tracks[0].notes],
    }[reader]()
    assert [stroke > min(strokes) for stroke in strokes] == [False, True, False, True, False]
    assert len(set(strokes)) == 2


# --- a slide, and an attack straight on the bend ---

PAIRS = [("-3", "-3'"), ("-3", "-3'''"), ("-2''", "-2"), ("10", "10''"), ("-6'", "-6")]


@pytest.mark.parametrize(("left", "right"), PAIRS)
def test_midi_tells_a_slide_from_a_new_attack(left: str, right: str, tmp_path: Path) -> None:
    """A slide is one note-on whose bend moves; two attacks are two, and nothing bends."""
    found = {}
    for name, join in (("slide", "~"), ("attack", " ")):
        path = _written(score_of(f"{left}:2{join}{right}:2"), tmp_path)
        track = mido.MidiFile(path, charset="utf-8").tracks[1]
        keys = [m.note for m in track if m.type == "note_on"]
        bends = {m.pitch for m in track if m.type == "pitchwheel"}
        found[name] = (len(keys), len(bends) > 10, len(set(keys)))
    assert found == {"slide": (1, True, 1), "attack": (2, False, 2)}


def dip_db(score: Score, at_s: float) -> float:
    """How far the sound falls within 30 ms of a moment, against its level before."""
    sound, rate = sound_of(score)
    around = sound[round((at_s - 0.03) * rate) : round((at_s + 0.03) * rate)]
    width = round(0.006 * rate)  # some periods of the lowest note here
    power = np.convolve(around**2, np.full(width, 1 / width), mode="valid")
    return float(10 * np.log10(power.min())) - level_db(sound, rate, at_s - 0.3, at_s - 0.1)


@pytest.mark.parametrize(("left", "right"), PAIRS)
def test_the_sound_dips_at_a_new_attack_and_not_in_a_slide(left: str, right: str) -> None:
    assert dip_db(score_of(f"{left}:2~{right}:2"), 2.0) > -2
    assert dip_db(score_of(f"{left}:2 {right}:2"), 2.0) < -20
    assert len(heard_s(score_of(f"{left}:2~{right}:2"))) == 1
    assert len(heard_s(score_of(f"{left}:2 {right}:2"))) == 2


def test_tied_notes_have_one_attack() -> None:
    assert heard_s(score_of("-2:2~-2:2 | ~-2:2 -4:2 |")) == pytest.approx([0, 6], abs=0.0015)
