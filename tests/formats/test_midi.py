"""MIDI files: what four independent readers find in them, and the bytes of a tiny one.

Key numbers in the table below are written out by hand from the published layout (OEIS
A291810 above hole 1 blow: C4 on a C harp, F3 on a low F, F#4 on an F#, common practice).
"""

from __future__ import annotations

import io
import math
import os
import subprocess
import sys
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import mido
import music21
import pretty_midi
import pytest
import symusic
from hypothesis import given
from hypothesis import strategies as st

from reedmill.base.text import printable
from reedmill.formats.midi import midi_bytes
from reedmill.score.score import AirWay, Breathing, Score
from tunes import score_from

TICKS = 960  # a quarter, read back from the header in test_header


@dataclass(frozen=True)
class Case:
    """A tune, and what must be found in its file; times in quarters."""

    music: str
    notes: list[tuple[float, float, int]]  # start, end, key number of each attack
    key: tuple[str, str]  # tonic as music21 writes it, and major or minor
    sounds: list[tuple[float, str, Fraction]] = field(default_factory=list)
    # time, name of the pitch class's tempered note and the ratio to it
    meter: str = "4/4"
    quarter_s: float = 1.0
    bend_range: int = 2
    options: dict[str, Any] = field(default_factory=dict)

    @property
    def score(self) -> Score:
        """The tune, made by hand."""
        numbers = tuple(int(n) for n in self.meter.split("/"))
        return score_from(self.music, **{"meter": numbers, **self.options})

    @property
    def sharps(self) -> int:
        """Sharps of the signature, flats below 0, as music21 knows them."""
        return int(music21.key.Key(*self.key).sharps)


ONE = Fraction(1)
G_MAJOR, F_SHARP = ("G", "major"), ("F#", "major")
CASES = {
    "plain": Case(
        "-2 -3:1/2 -4:3/2 4",
        [(0, 1, 67), (1, 1.5, 71), (1.5, 3, 74), (3, 4, 72)],
        G_MAJOR,
        [(0.5, "G4", ONE), (1.25, "B4", ONE), (2, "D5", ONE), (3.5, "C5", ONE)],
    ),
    "slide of a semitone each": Case(
        "-3 ~-3' ~-3'' ~-3''' -2:2 -1 ~-1'",
        [(0, 4, 71), (4, 6, 67), (6, 8, 62)],
        G_MAJOR,
        [(0.9, "B4", ONE), (1.9, "B-4", ONE), (2.9, "A4", ONE), (3.9, "A-4", ONE),
         (4.01, "G4", ONE), (6.9, "D4", ONE), (7.9, "D-4", ONE)],
        bend_range=3,
    ),
    "slides of two and three, down and up": Case(
        "-3'' ~-3:1/2 ~-3''':1/2 10 ~10''",
        [(0, 2, 69), (2, 4, 96)],
        ("C", "major"),
        [(0.9, "A4", ONE), (1.4, "B4", ONE), (1.9, "A-4", ONE), (2.5, "C7", ONE),
         (3.9, "B-6", ONE)],
        options={"position": 1},
    ),
    "a slide of three down": Case(
        "-3:1/2 ~-3''' -4",
        [(0, 1.5, 71), (1.5, 2.5, 74)],
        G_MAJOR,
        [(0.4, "B4", ONE), (1.4, "A-4", ONE), (2, "D5", ONE)],
        bend_range=3,
    ),
    "repeated notes": Case(
        "-2 -2 -2:1/2 -2:3/2",
        [(0, 1, 67), (1, 2, 67), (2, 2.5, 67), (2.5, 4, 67)],
        G_MAJOR,
    ),
    "rests": Case(
        "r -2 r:3/2 -4:1/2 r 6^",
        [(1, 2, 67), (3.5, 4, 74), (5, 6, 82)],
        G_MAJOR,
        [(5.5, "B-5", ONE)],
    ),
    "triplets and sixteenths": Case(
        "-2:1/3 -3:1/3 -4:1/3 4:1/8 5:7/8 -1:2",
        [(0, 1 / 3, 67), (1 / 3, 2 / 3, 71), (2 / 3, 1, 74), (1, 1.125, 72), (1.125, 2, 76),
         (2, 4, 62)],
        G_MAJOR,
    ),
    "twelve-eight: a beat is an eighth, the tempo counts dotted quarters": Case(
        "-2:3 -3:2 -4 r:3 4:3",
        [(0, 1.5, 67), (1.5, 2.5, 71), (2.5, 3, 74), (4.5, 6, 72)],
        G_MAJOR,
        meter="12/8",
        quarter_s=2 / 3,
    ),
    "three-four": Case(
        "-2:2 -3 -4 4:2",
        [(0, 2, 67), (2, 3, 71), (3, 4, 74), (4, 6, 72)],
        G_MAJOR,
        meter="3/4",
        quarter_s=0.75,
        options={"tempo": 80},
    ),
    "two-two: a beat is a half": Case(
        "-2 ~-2'' 4:3/2 r:1/2",
        [(0, 4, 67), (4, 7, 72)],
        G_MAJOR,
        [(1.9, "G4", ONE), (3.9, "F4", ONE), (5, "C5", ONE)],
        meter="2/2",
        quarter_s=0.5,
    ),
    # Ratios over the root G4: Ellis in Helmholtz, "On the Sensations of Tone", p. 17;
    # the seventh 7/4 in his table on pp. 466-468.
    "five-limit just": Case(
        "-2 -3 -4 ~-4' -3 ~-3' -5 5",
        [(0, 1, 67), (1, 2, 71), (2, 4, 74), (4, 6, 71), (6, 7, 77), (7, 8, 76)],
        G_MAJOR,
        [(0.5, "G4", ONE), (1.5, "G4", Fraction(5, 4)), (2.5, "G4", Fraction(3, 2)),
         (4.5, "G4", Fraction(5, 4)), (5.9, "G4", Fraction(6, 5)), (6.5, "G4", Fraction(9, 5)),
         (7.5, "G4", Fraction(5, 3))],
        options={"intonation": "just5"},
    ),
    "seven-limit just at A = 443": Case(
        "-2 -5 -1",
        [(0, 1, 67), (1, 2, 77), (2, 3, 62)],
        G_MAJOR,
        [(0.5, "G4", Fraction(443, 440)), (1.5, "G4", Fraction(443, 440) * Fraction(7, 4)),
         (2.5, "G4", Fraction(443, 440) * Fraction(3, 4))],
        options={"intonation": "just7", "reference_hz": 443.0},
    ),
    "A = 442": Case(
        "-2 -3 ~-3'''",
        [(0, 1, 67), (1, 3, 71)],
        G_MAJOR,
        [(0.5, "G4", Fraction(442, 440)), (1.5, "B4", Fraction(442, 440)),
         (2.9, "A-4", Fraction(442, 440))],
        bend_range=3,
        options={"reference_hz": 442.0},
    ),
    # 415 Hz is a semitone and a hundredth flat, so three semitones down end past four.
    "A = 415": Case(
        "-3 ~-3''' -6",
        [(0, 2, 71), (2, 3, 81)],
        G_MAJOR,
        [(0.5, "B4", Fraction(415, 440)), (1.9, "A-4", Fraction(415, 440)),
         (2.5, "A5", Fraction(415, 440))],
        bend_range=5,
        options={"reference_hz": 415.0},
    ),
    "low F": Case(
        "1 -1 ~-1' 2 -2",
        [(0, 1, 53), (1, 3, 55), (3, 4, 57), (4, 5, 60)],
        ("F", "major"),
        [(0.5, "F3", ONE), (1.5, "G3", ONE), (2.9, "G-3", ONE)],
        options={"harp": "low F", "position": 1},
    ),
    "F#, the highest": Case(
        "1 10 -10",
        [(0, 1, 66), (1, 2, 102), (2, 3, 99)],
        F_SHARP,
        [(1.5, "F#7", ONE)],
        options={"harp": "F#", "position": 1},
    ),
    "minor, six flats": Case(
        "-1:2 -8", [(0, 2, 63), (2, 3, 87)], ("E-", "minor"),
        options={"harp": "Db", "position": 3},
    ),
    "minor, five sharps": Case(
        "-1", [(0, 1, 68)], ("G#", "minor"), options={"harp": "F#", "position": 3},
    ),
}  # fmt: skip
every_case = pytest.mark.parametrize("case", CASES.values(), ids=CASES)


@dataclass(frozen=True)
class Part:
    """One sounding track as a reader sees it: notes are (start, end, key), in seconds."""

    name: str
    program: int | None
    notes: list[tuple[float, float, int]]


@dataclass(frozen=True)
class Reading:
    """A whole file as a reader sees it."""

    parts: list[Part]
    quarter_s: float
    meter: str
    sharps: int
    minor: bool


def read_with_mido(path: Path) -> Reading:
    file = mido.MidiFile(path, charset="utf-8")
    [tempo] = [m.tempo for m in file.tracks[0] if m.type == "set_tempo"]
    [meter] = [m for m in file.tracks[0] if m.type == "time_signature"]
    [key] = [m.key for m in file.tracks[0] if m.type == "key_signature"]
    tonic, minor = key.removesuffix("m"), key.endswith("m")
    in_music21 = music21.key.Key(tonic.replace("b", "-"), "minor" if minor else "major")
    second = tempo / 1_000_000 / file.ticks_per_beat
    return Reading(
        [_mido_part(track, second) for track in file.tracks[1:]],
        tempo / 1_000_000,
        f"{meter.numerator}/{meter.denominator}",
        in_music21.sharps,
        minor,
    )


def _mido_part(track: Any, tick_s: float) -> Part:
    now, program = 0, None
    sounding: dict[int, float] = {}
    notes = []
    for message in track:
        now += message.time
        if message.type == "program_change":
            program = message.program
        elif message.type == "note_on":
            assert message.note not in sounding, "attacked before it ended"
            sounding[message.note] = now * tick_s
        elif message.type == "note_off":
            notes.append((sounding.pop(message.note), now * tick_s, message.note))
    assert not sounding, "never ended"
    return Part(track.name, program, notes)


def read_with_pretty_midi(path: Path) -> Reading:
    file = pretty_midi.PrettyMIDI(str(path))
    _, tempi = file.get_tempo_changes()
    [meter], [key] = file.time_signature_changes, file.key_signature_changes
    minor, tonic = divmod(key.key_number, 12)
    in_music21 = music21.key.Key(
        music21.pitch.Pitch(tonic).name, "minor" if minor else "major"
    )  # a class of twelve: the name may be the enharmonic one
    parts = [
        Part(
            each.name,
            None if each.is_drum else each.program,
            [(n.start, n.end, n.pitch) for n in each.notes],
        )
        for each in file.instruments
    ]
    return Reading(
        parts, 60 / tempi[0], f"{meter.numerator}/{meter.denominator}", in_music21.sharps, minor > 0
    )


def read_with_symusic(path: Path) -> Reading:
    file = symusic.Score(str(path))
    [tempo], [meter], [key] = file.tempos, file.time_signatures, file.key_signatures
    second = tempo.mspq / 1_000_000 / file.tpq
    # symusic files lyrics in a track of their own, without notes.
    parts = [
        Part(
            each.name,
            None if each.is_drum else each.program,
            [(n.time * second, (n.time + n.duration) * second, n.pitch) for n in each.notes],
        )
        for each in file.tracks
        if len(each.notes)
    ]
    return Reading(
        parts,
        tempo.mspq / 1_000_000,
        f"{meter.numerator}/{meter.denominator}",
        key.key,
        key.tonality == 1,
    )


def read_with_music21(path: Path) -> Reading:
    file = music21.converter.parse(path, quantizePost=False, forceSource=True, storePickle=False)
    first = file.parts[0].recurse()
    bpm = first.getElementsByClass(music21.tempo.MetronomeMark).first().getQuarterBPM()
    key = first.getElementsByClass(music21.key.Key).first()
    meter = first.getElementsByClass(music21.meter.TimeSignature).first()
    return Reading(
        [_music21_part(part, 60 / bpm) for part in file.parts],
        60 / bpm,
        meter.ratioString,
        key.sharps,
        key.mode == "minor",
    )


def _music21_part(part: Any, quarter_s: float) -> Part:
    instrument = part.recurse().getElementsByClass(music21.instrument.Instrument).first()
    pitched = part.stripTies().flatten().getElementsByClass(music21.note.Note)
    notes = [
        (float(n.offset) * quarter_s, float(n.offset + n.quarterLength) * quarter_s, n.pitch.midi)
        for n in pitched
    ]
    return Part(part.partName, instrument.midiProgram, notes)


READERS = {
    "mido": read_with_mido,
    "pretty_midi": read_with_pretty_midi,
    "symusic": read_with_symusic,
    "music21": read_with_music21,
}
every_reader = pytest.mark.parametrize("read", READERS.values(), ids=READERS)


def written(tmp_path: Path, score: Score) -> Path:
    path = tmp_path / "tune.mid"
    path.write_bytes(midi_bytes(score))
    return path


def tracks(score: Score) -> list[Any]:
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)), charset="utf-8")
    return list(file.tracks)


def timed(track: Any) -> list[tuple[int, Any]]:
    """The messages of a track with their absolute ticks."""
    now = 0
    found = []
    for message in track:
        now += message.time
        found.append((now, message))
    return found


@every_case
@every_reader
def test_every_reader_finds_the_notes_of_the_tune(case: Case, read: Any, tmp_path: Path) -> None:
    guide = read(written(tmp_path, case.score)).parts[0]
    expected = [(s * case.quarter_s, e * case.quarter_s, key) for s, e, key in case.notes]
    assert [key for *_, key in guide.notes] == [key for *_, key in expected]
    for found, wanted in zip(guide.notes, expected, strict=True):
        # Half a tick of 1/960 quarter, and tempo in whole microseconds.
        assert found[:2] == pytest.approx(wanted[:2], abs=case.quarter_s / 1920 + 1e-5)


@every_case
@every_reader
def test_every_reader_finds_the_same_tracks_and_signatures(
    case: Case, read: Any, tmp_path: Path
) -> None:
    reading = read(written(tmp_path, case.score))
    assert [part.name for part in reading.parts] == ["Guide", "Drone", "Click"]
    # General MIDI level 1 sound set: Harmonica 23, Reed Organ 21, counted from one.
    assert [part.program for part in reading.parts[:2]] == [23 - 1, 21 - 1]
    assert reading.quarter_s == pytest.approx(case.quarter_s, abs=1e-6)
    assert reading.meter == case.meter
    assert reading.minor == (case.key[1] == "minor")
    if read is read_with_pretty_midi:  # which keeps the key's pitch class, not its name
        assert (reading.sharps - case.sharps) % 12 == 0
    else:
        assert reading.sharps == case.sharps


def test_program_numbers_are_those_of_general_midi() -> None:
    guide, drone = tracks(CASES["plain"].score)[1:3]
    names = [
        pretty_midi.program_to_instrument_name(message.program)
        for track in (guide, drone)
        for message in track
        if message.type == "program_change"
    ]
    assert names == ["Harmonica", "Reed Organ"]


def rpn_ranges(controls: list[tuple[int, int]]) -> list[int]:
    """Bend ranges a device sets itself to, from (controller, value) in order.

    General MIDI 2 (RP-024) 3.4.1: data entry counts only while RPN 00 00 is selected, and
    its LSB may be ignored, so it must be 0.
    """
    selected = {101: 127, 100: 127}
    ranges = []
    for controller, value in controls:
        if controller in selected:
            selected[controller] = value
        elif controller == 6 and selected == {101: 0, 100: 0}:
            ranges.append(value)
        elif controller == 38:
            assert value == 0, "cents of the range"
    assert selected == {101: 127, 100: 127}, "RPN left open (General MIDI 2, 3.4.5)"
    return ranges


def bends_with_mido(path: Path) -> list[tuple[float, float]]:
    """(quarters, semitones) of each bend in the guide track."""
    file = mido.MidiFile(path, charset="utf-8")
    guide = timed(file.tracks[1])
    controls = [(m.control, m.value) for _, m in guide if m.type == "control_change"]
    [reach] = rpn_ranges(controls)
    return [(t / TICKS, m.pitch * reach / 8192) for t, m in guide if m.type == "pitchwheel"]


def bends_with_symusic(path: Path) -> list[tuple[float, float]]:
    file = symusic.Score(str(path))
    guide = file.tracks[0]
    [reach] = rpn_ranges([(c.number, c.value) for c in guide.controls])
    return [(b.time / file.tpq, b.value * reach / 8192) for b in guide.pitch_bends]


def bends_with_pretty_midi(path: Path, quarter_s: float, reach: int) -> list[tuple[float, float]]:
    """pretty_midi ignores RPN 00 00 and reorders controllers: the range is passed in."""
    guide = pretty_midi.PrettyMIDI(str(path)).instruments[0]
    return [
        (b.time / quarter_s, pretty_midi.pitch_bend_to_semitones(b.pitch, reach))
        for b in guide.pitch_bends
    ]


@every_case
def test_every_reader_finds_the_same_bends(case: Case, tmp_path: Path) -> None:
    path = written(tmp_path, case.score)
    bends = bends_with_mido(path)
    assert bends_with_symusic(path) == bends
    [(_, tempo)] = [
        (t, m.tempo) for t, m in timed(mido.MidiFile(path).tracks[0]) if m.type == "set_tempo"
    ]
    third = bends_with_pretty_midi(path, tempo / 1e6, case.bend_range)
    assert [semitones for _, semitones in third] == pytest.approx([s for _, s in bends], abs=1e-9)
    assert [at for at, _ in third] == pytest.approx([at for at, _ in bends], abs=1e-6)


@pytest.mark.parametrize("case", [c for c in CASES.values() if c.sounds],
                         ids=[name for name, c in CASES.items() if c.sounds])  # fmt: skip
def test_key_and_bend_together_sound_the_frequency(case: Case, tmp_path: Path) -> None:
    """ISO 16 through music21: the tempered note's frequency, times the ratio written above."""
    bends = bends_with_mido(written(tmp_path, case.score))
    for at, name, ratio in case.sounds:
        [key] = [key for start, end, key in case.notes if start <= at < end]
        bend = [semitones for when, semitones in bends if when <= at][-1]
        target = music21.pitch.Pitch(name).frequency * ratio
        sounding = music21.pitch.Pitch(midi=key).frequency * 2 ** (bend / 12)
        # One step of the bend at range 5 is 0.061 cent, and full upward bend is a step short.
        assert abs(1200 * math.log2(sounding / target)) < 0.07, (at, name)


@every_case
def test_the_bend_range_reaches_and_is_in_whole_semitones(case: Case) -> None:
    controls = [(m.control, m.value) for m in tracks(case.score)[1] if m.type == "control_change"]
    assert rpn_ranges(controls) == [case.bend_range]


def test_a_new_attack_finds_its_bend_already_set() -> None:
    """In file order: a slid note ends bent, then the bend returns, then the next note sounds."""
    guide = timed(tracks(CASES["a slide of three down"].score)[1])
    at_the_attack = [(m.type, getattr(m, "pitch", None)) for t, m in guide if t == 3 * TICKS // 2]
    assert at_the_attack == [
        ("note_off", None), ("pitchwheel", 0), ("lyrics", None), ("note_on", None),
    ]  # fmt: skip
    before = [m.pitch for t, m in guide if m.type == "pitchwheel" and t < 3 * TICKS // 2]
    assert before[-1] == -8192  # three semitones down at a range of three


def test_tempered_notes_at_440_hz_need_no_more_than_a_centred_bend() -> None:
    for track in tracks(CASES["plain"].score)[1:3]:
        assert [m.pitch for m in track if m.type == "pitchwheel"] == [0]


def curve(x: float) -> float:
    """Smoothstep, as the OpenGL Shading Language defines it (from memory)."""
    x = min(1.0, max(0.0, x))
    return x * x * (3 - 2 * x)


@pytest.mark.parametrize(
    ("music", "tempo", "begin", "seconds", "semitones"),
    [
        ("-3:2 ~-3':2", 60, 2, 0.08, -1.0),
        ("-3:2 ~-3'':2", 90, 2, 0.08, -2.0),
        ("-3:2 ~-3''':2", 40, 2, 0.08, -3.0),
        ("-3''':2 ~-3:2", 60, 2, 0.08, 3.0),
        # Half the note, where the note is short: 1/8 beat at 120 lasts 62.5 ms.
        ("-3:2 ~-3''':1/8", 120, 2, 0.03125, -3.0),
        ("-2:1/3 ~-2'':2", 60, Fraction(1, 3), 0.08, -2.0),
    ],
)
def test_slides_follow_the_curve(
    music: str, tempo: int, begin: Fraction, seconds: float, semitones: float, tmp_path: Path
) -> None:
    bends = bends_with_mido(written(tmp_path, score_from(music, tempo=tempo)))
    second = tempo / 60  # quarters in a second
    tick_s = 1 / TICKS / second

    def wanted(at: float) -> float:
        return 100 * semitones * curve((at - float(begin)) / second / seconds)

    points = [(at, 100 * bend) for at, bend in bends[1:]]
    for at, cents in points[:-1]:
        assert cents == pytest.approx(wanted(at), abs=0.04)
    assert points[-1][1] == pytest.approx(100 * semitones, abs=0.04)
    assert (points[-1][0] - float(begin)) / second == pytest.approx(seconds, abs=tick_s)
    # A device that draws a line between points stays within a cent of the curve, and
    # one that holds each point within a cent and a tick's steepest movement, 1.5/80 ms.
    steepest = abs(100 * semitones) * 1.5 / seconds * tick_s
    line = [(float(begin), 0.0), *points]
    for (left, low), (right, high) in pairwise(line):
        for part in (0.0, 0.25, 0.5, 0.75, 0.999):
            at = left + part * (right - left)
            assert abs(low + part * (high - low) - wanted(at)) < 1.0
            assert abs(low - wanted(at)) < 1.05 + steepest


def test_lyrics_give_the_tab_of_every_note_joined_ones_too(tmp_path: Path) -> None:
    score = score_from("-3 ~-3'' r 6^:1/2 +4:1/2 -2")
    lyrics = [(0, "-3"), (1, "-3''"), (3, "6^"), (3.5, "4"), (4, "-2")]
    path = written(tmp_path, score)
    in_mido = [(t / TICKS, m.text) for t, m in timed(tracks(score)[1]) if m.type == "lyrics"]
    assert in_mido == lyrics
    assert [(x.time, x.text) for x in pretty_midi.PrettyMIDI(str(path)).lyrics] == lyrics
    file = symusic.Score(str(path))
    in_symusic = [(x.time / file.tpq, x.text) for track in file.tracks for x in track.lyrics]
    assert in_symusic == lyrics


@every_case
def test_every_track_ends_with_the_last_bar(case: Case) -> None:
    score = case.score
    beats, unit = (int(n) for n in case.meter.split("/"))
    last = max(end for _, end, _ in case.notes)
    bar = beats * 4 / unit
    ticks = math.ceil(last / bar) * bar * TICKS
    ends = [timed(track)[-1] for track in tracks(score)]
    assert [(t, m.type) for t, m in ends] == [(ticks, "end_of_track")] * 4


@pytest.mark.parametrize(
    ("name", "root", "hz"),
    [
        ("plain", "G4", 1),  # at the lowest note, G4, but E4 is the top: an octave down
        ("low F", "F3", 1),
        ("F#, the highest", "F#4", 1),
        ("A = 442", "G4", 442 / 440),
        ("A = 415", "G4", 415 / 440),
    ],
)
def test_the_drone_holds_the_root_from_start_to_end(name: str, root: str, hz: float) -> None:
    case = CASES[name]
    tonic = music21.pitch.Pitch(case.key[0])
    drone = timed(tracks(case.score)[2])
    [(start, on)] = [(t, m) for t, m in drone if m.type == "note_on"]
    [(end, off)] = [(t, m) for t, m in drone if m.type == "note_off"]
    assert (start, end) == (0, drone[-1][0])
    assert on.note == off.note
    assert (on.note - tonic.midi) % 12 == 0
    assert on.note <= music21.pitch.Pitch(root).midi
    [reach] = rpn_ranges([(m.control, m.value) for _, m in drone if m.type == "control_change"])
    [bend] = [m.pitch for _, m in drone if m.type == "pitchwheel"]
    assert 100 * bend * reach / 8192 == pytest.approx(1200 * math.log2(hz), abs=0.02)


HI, LOW = 76, 77  # General MIDI level 1 percussion map: Hi Wood Block, Low Wood Block


@pytest.mark.parametrize(
    ("name", "strokes", "clocks"),
    [
        # SMF (RP-001), time signature: MIDI clocks in a metronome click, 24 to a quarter.
        ("plain", [(0, HI), (1, LOW), (2, LOW), (3, LOW)], 24),
        ("three-four", [(0, HI), (1, LOW), (2, LOW), (3, HI), (4, LOW), (5, LOW)], 24),
        (
            "twelve-eight: a beat is an eighth, the tempo counts dotted quarters",
            [(0, HI), (1.5, LOW), (3, LOW), (4.5, LOW)],
            36,
        ),
        ("two-two: a beat is a half", [(0, HI), (2, LOW), (4, HI), (6, LOW)], 48),
    ],
)
def test_the_click_counts_pulses_and_marks_the_bar(
    name: str, strokes: list[tuple[float, int]], clocks: int
) -> None:
    conductor, _, _, click = tracks(CASES[name].score)
    on = [(t / TICKS, m) for t, m in timed(click) if m.type == "note_on"]
    assert [(at, m.note) for at, m in on] == strokes
    assert {m.channel for _, m in on} == {10 - 1}  # General MIDI: percussion on channel 10
    loud = {m.velocity for _, m in on if m.note == HI}
    soft = {m.velocity for _, m in on if m.note == LOW}
    assert min(loud) > max(soft)
    assert [m.clocks_per_click for m in conductor if m.type == "time_signature"] == [clocks]


def test_channels_are_one_a_track() -> None:
    channels = [
        {m.channel + 1 for m in track if not m.is_meta} for track in tracks(CASES["plain"].score)
    ]
    assert channels == [set(), {1}, {2}, {10}]


TITLES = {
    "a flat sign and an accent": ("Étude in B♭", "Étude in B♭"),
    "another script": ("練習 1", "練習 1"),
    "a NUL": ("a\0b", "a[U+0000]b"),
    "a line break and an override": ("a\nb\u202ec", "a b[U+202E]c"),
}


@pytest.mark.parametrize(("title", "shown"), TITLES.values(), ids=TITLES)
def test_titles_are_utf8(title: str, shown: str, tmp_path: Path) -> None:
    score = score_from("-2", title=printable(title))
    path = written(tmp_path, score)
    assert shown.encode() in path.read_bytes()
    assert mido.MidiFile(path, charset="utf-8").tracks[0].name == shown
    for read in READERS.values():  # and the other readers still find the tune
        assert [key for *_, key in read(path).parts[0].notes] == [67]


def test_writing_leaves_the_charset_of_other_midi_files_alone(tmp_path: Path) -> None:
    """There is one charset for the whole process in mido."""
    midi_bytes(score_from("-2", title="B♭"))
    other = mido.MidiFile(type=1)
    other.tracks.append(mido.MidiTrack([mido.MetaMessage("track_name", name="é")]))
    other.save(tmp_path / "other.mid")
    assert b"\xff\x03\x01\xe9" in (tmp_path / "other.mid").read_bytes()  # Latin-1 still


def test_equal_scores_give_equal_bytes() -> None:
    case = CASES["five-limit just"]
    assert midi_bytes(case.score) == midi_bytes(case.score)


@pytest.mark.parametrize("seed", ["1", "2"])
def test_another_process_gives_equal_bytes(seed: str) -> None:
    code = (
        "import sys; from tunes import score_from; from reedmill.formats.midi import midi_bytes;"
        "sys.stdout.buffer.write(midi_bytes(score_from(\"-3 ~-3''' -2\", reference_hz=442.0)))"
    )
    environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)}
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, env=environment
    )
    assert run.stdout == midi_bytes(score_from("-3 ~-3''' -2", reference_hz=442.0))


def test_header() -> None:
    """SMF (RP-001), header chunk."""
    header = """
        4d 54 68 64  # MThd
        00 00 00 06  # six bytes follow
        00 01        # format 1: tracks sound together, the tempo map is in the first
        00 04        # four tracks
        03 c0        # 960 ticks a quarter
    """
    assert midi_bytes(CASES["plain"].score)[:14] == as_bytes(header)


def as_bytes(annotated: str) -> bytes:
    lines = (line.split("#")[0] for line in annotated.splitlines())
    return bytes.fromhex(" ".join(lines))


def test_bytes_of_a_tiny_file() -> None:
    """Written by hand from SMF (RP-001) and General MIDI: a G4 for two of a bar's three beats.

    Variable-length times: 87 40 = 960, 8f 00 = 1920, 96 40 = 2880, 81 70 = 240, 85 50 = 720.
    """
    tiny = """
        4d 54 68 64  00 00 00 06  00 01 00 04 03 c0

        4d 54 72 6b  00 00 00 22        # MTrk, 34 bytes
        00 ff 03 04 54 69 6e 79         # track name "Tiny"
        00 ff 51 03 0a 2c 2b            # 666,667 microseconds a quarter: 90 a minute
        00 ff 58 04 03 02 18 08         # 3/4: 2^2 below; a click is 24 clocks; 8 32nds
        00 ff 59 02 01 00               # one sharp, major
        96 40 ff 2f 00                  # end of track after three quarters

        4d 54 72 6b  00 00 00 37
        00 ff 03 05 47 75 69 64 65      # track name "Guide"
        00 c0 16                        # channel 1, program 22 from zero: harmonica
        00 b0 65 00  00 64 00           # RPN 00 00, bend range; status runs on
        00 06 02     00 26 00           # two semitones, no cents
        00 65 7f     00 64 7f           # RPN closed
        00 e0 00 40                     # bend centred
        00 ff 05 02 2d 32               # lyric "-2"
        00 90 43 64                     # G4 on
        8f 00 80 43 00                  # off after two quarters
        87 40 ff 2f 00

        4d 54 72 6b  00 00 00 30
        00 ff 03 05 44 72 6f 6e 65      # "Drone"
        00 c1 14                        # channel 2, program 20 from zero: reed organ
        00 b1 65 00  00 64 00
        00 06 02     00 26 00
        00 65 7f     00 64 7f
        00 e1 00 40
        00 91 37 40                     # G3 on
        96 40 81 37 00                  # off after three quarters
        00 ff 2f 00

        4d 54 72 6b  00 00 00 2b
        00 ff 03 05 43 6c 69 63 6b      # "Click"
        00 99 4c 70     81 70 89 4c 00  # channel 10: hi wood block, for 240 ticks
        85 50 99 4d 50  81 70 89 4d 00  # 720 ticks on: low wood block
        85 50 99 4d 50  81 70 89 4d 00
        85 50 ff 2f 00
    """
    score = score_from("-2:2", title="Tiny", meter=(3, 4), tempo=90)
    assert midi_bytes(score).hex(" ") == as_bytes(tiny).hex(" ")


lengths = st.sampled_from([Fraction(n, d) for n in (1, 2, 3) for d in (1, 2, 3, 5, 7, 8, 11, 12)])


@given(st.lists(lengths, min_size=1, max_size=40))
def test_ticks_are_rounded_once_from_absolute_time(beats: list[Fraction]) -> None:
    """No length, however odd, pushes later notes off their place."""
    score = score_from(" ".join(f"-2:{length}" for length in beats))
    starts = [t for t, m in timed(tracks(score)[1]) if m.type == "note_on"]
    exact = [sum(beats[:n], Fraction(0)) * TICKS for n in range(len(beats))]
    assert all(abs(t - x) <= Fraction(1, 2) for t, x in zip(starts, exact, strict=True))


def test_a_note_shorter_than_a_tick_still_ends() -> None:
    [(on, _, key)] = _mido_part(tracks(score_from("-2:1/4000"))[1], 1.0).notes
    assert (on, key) == (0, 67)


@pytest.mark.parametrize(("tempo", "sounds"), [(60, 1920 - 480), (80, 1920 - 640)])
def test_a_breath_is_half_a_second_of_silence_with_its_way_as_a_text(
    tempo: int, sounds: int
) -> None:
    """960 ticks a quarter: half a second is 480 of them at 60 and 640 at 80; the lyrics stay."""
    score = score_from("-2:2 -3:2", tempo=tempo)
    out = Breathing(Fraction(2), AirWay.OUT, Fraction(1, 2))
    guide = timed(tracks(replace(score, breaths=(out,)))[1])
    assert [t for t, m in guide if m.type == "note_off"] == [sounds, 3840]
    assert [t for t, m in guide if m.type == "note_on"] == [0, 1920]
    assert [(t, m.text) for t, m in guide if m.type == "text"] == [(sounds, "breathe out")]
    assert [(t, m.text) for t, m in guide if m.type == "lyrics"] == [(0, "-2"), (1920, "-3")]
