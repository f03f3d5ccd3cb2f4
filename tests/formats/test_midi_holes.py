"""Several holes at once and marks of style as MIDI, as five independent readers find them.

Channels, RPN 00 00, expression and brightness: General MIDI 2 (RP-024).  Frequencies are
music21's (ISO 16) and published ratios; what a mark means is common practice.
"""

from __future__ import annotations

import io
import math
from collections import defaultdict
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import mido
import music21
import pretty_midi
import pytest
import symusic

import oracles
from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.formats.midi import midi_bytes
from reedmill.harp import Harp, OwnReeds, Reed
from reedmill.language import parse
from reedmill.practice.practice import Practice, Recording
from reedmill.score.score import Score
from reedmill.theory.intonation import intonation_named
from reedmill.theory.positions import Position

TICKS = 960
Found = list[tuple[float, float, int]]
"""Start and end in quarters, and key."""


def score_of(
    music: str, *, harp: Harp | None = None, intonation: str = "equal", tempo: int = 60
) -> Score:
    [drill] = parse(f'drill "Holes"\n  tempo {tempo}\n  play {music}')
    tuning = intonation_named(intonation)
    return expand(drill, harp or Harp("C"), Position(2), intonation=tuning)


# --- readers: the notes of every track by its name -----------------------------------------


def with_mido(path: Path) -> dict[str, Found]:
    found = {}
    for track in mido.MidiFile(path, charset="utf-8").tracks:
        now, held, notes = 0, {}, []
        for message in track:
            now += message.time
            if message.type == "note_on":
                assert message.note not in held, "attacked before it ended"
                held[message.note] = now
            elif message.type == "note_off":
                notes.append((held.pop(message.note) / TICKS, now / TICKS, message.note))
        found[track.name] = sorted(notes)
    return found


def with_pretty_midi(path: Path) -> dict[str, Found]:
    return {
        each.name: sorted((note.start, note.end, note.pitch) for note in each.notes)
        for each in pretty_midi.PrettyMIDI(str(path)).instruments
    }


def with_symusic(path: Path) -> dict[str, Found]:
    file = symusic.Score(str(path))
    return {
        each.name: sorted(
            (note.time / file.tpq, (note.time + note.duration) / file.tpq, note.pitch)
            for note in each.notes
        )
        for each in file.tracks
        if len(each.notes)
    }


def with_music21(path: Path) -> dict[str, Found]:
    file = music21.converter.parse(path, quantizePost=False, forceSource=True, storePickle=False)
    return {
        part.partName: sorted(
            (float(note.offset), float(note.offset + note.quarterLength), note.pitch.midi)
            for note in part.stripTies().flatten().getElementsByClass(music21.note.Note)
        )
        for part in file.parts
    }


def by_hand(path: Path) -> dict[str, Found]:
    """Byte by byte, from the Standard MIDI File specification (RP-001)."""
    data, found = path.read_bytes(), {}
    at = 8 + int.from_bytes(data[4:8], "big")
    while at < len(data):
        assert data[at : at + 4] == b"MTrk"
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        name, notes = _track_by_hand(data[at + 8 : end])
        found[name] = sorted(notes)
        at = end
    return found


def _track_by_hand(data: bytes) -> tuple[str, Found]:
    at, now, status, name = 0, 0, 0, ""
    held: dict[int, int] = {}
    notes: Found = []
    while at < len(data):
        wait, at = _number(data, at)
        now += wait
        if data[at] & 0x80:
            status, at = data[at], at + 1
        if status == 0xFF:
            kind = data[at]
            count, at = _number(data, at + 1)
            name = data[at : at + count].decode() if kind == 3 else name
            at += count
            continue
        first, second = data[at], data[at + 1]
        at += 1 if status >> 4 in (0xC, 0xD) else 2
        if status >> 4 == 9:
            held[first] = now
        elif status >> 4 == 8:
            notes.append((held.pop(first) / TICKS, now / TICKS, first))
        assert second < 128 or status >> 4 in (0xC, 0xD)
    return name, notes


def _number(data: bytes, at: int) -> tuple[int, int]:
    """A variable-length quantity and where it ends."""
    found = 0
    while True:
        found = found << 7 | data[at] & 0x7F
        at += 1
        if not data[at - 1] & 0x80:
            return found, at


READERS = {
    "mido": with_mido, "pretty_midi": with_pretty_midi, "symusic": with_symusic,
    "music21": with_music21, "by hand": by_hand,
}  # fmt: skip
SECOND, THIRD = "Guide, second hole", "Guide, third hole"


def at_sixty(music: str, folder: Path, **options: Any) -> Path:
    """A file in which a quarter lasts a second, so that all readers speak of the same times."""
    path = folder / "holes.mid"
    path.write_bytes(midi_bytes(score_of(music, **options)))
    return path


# C harp: draw 1 to 6 are D4 G4 B4 D5 F5 A5, blow 4 to 6 C5 E5 G5 (OEIS A291810 above C4).
# A slap and a pull last 60 ms, a shake of three turns a beat changes every sixth of a beat.
MUSIC: dict[str, dict[str, Found]] = {
    "-2&3 -4": {"Guide": [(0, 1, 71), (1, 2, 74)], SECOND: [(0, 1, 67)]},
    "-1&4:2": {"Guide": [(0, 2, 74)], SECOND: [(0, 2, 62)]},
    "2&3&4:2": {"Guide": [(0, 2, 72)], SECOND: [(0, 2, 67)], THIRD: [(0, 2, 64)]},
    "slap -4": {"Guide": [(0, 1, 74)], SECOND: [(0, 0.06, 71)], THIRD: [(0, 0.06, 67)]},
    "pull 6": {"Guide": [(0, 1, 79)], SECOND: [(0.94, 1, 76)], THIRD: [(0.94, 1, 72)]},
    "shake3 -4&5": {"Guide": [(n / 6, (n + 1) / 6, 74 + 3 * (n % 2)) for n in range(6)]},
    "-2&3~-2'&3'": {"Guide": [(0, 2, 71)], SECOND: [(0, 2, 67)]},
    # what sounds on is one key, and what comes back to a breath is struck anew
    "-4:2~-2&3&4": {"Guide": [(0, 3, 74)], SECOND: [(2, 3, 71)], THIRD: [(2, 3, 67)]},
    "-2&3&4~-4": {"Guide": [(0, 2, 74)], SECOND: [(0, 1, 71)], THIRD: [(0, 1, 67)]},
    "-3~-2&3~-3~-2&3&4": {
        "Guide": [(3, 4, 74)], SECOND: [(0, 4, 71)], THIRD: [(1, 2, 67), (3, 4, 67)],
    },
    # a bend cannot be held in a chord, so natural notes come first
    "slap -3''": {
        "Guide": [(0, 0.06, 71), (0.06, 1, 69)], SECOND: [(0, 0.06, 67)], THIRD: [(0, 0.06, 62)],
    },
    "vibrato4 -4 scoop -4 fall -4": {"Guide": [(0, 1, 74), (1, 2, 74), (2, 3, 74)]},
}  # fmt: skip


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("music", MUSIC)
def test_every_reader_finds_every_hole(music: str, reader: str, tmp_path: Path) -> None:
    found = READERS[reader](at_sixty(music, tmp_path))
    guide = {name: notes for name, notes in found.items() if name.startswith("Guide")}
    assert list(guide) == list(MUSIC[music])
    for name, notes in MUSIC[music].items():
        assert [key for *_, key in guide[name]] == [key for *_, key in notes]
        for read, due in zip(guide[name], notes, strict=True):
            # Half a tick of 1/960; music21 keeps its own divisions of a quarter.
            assert read[:2] == pytest.approx(due[:2], abs=0.0011)


# --- what sounds: key and bend together ----------------------------------------------------


@dataclass(frozen=True)
class Channel:
    """One track as a device plays it."""

    number: int
    notes: list[tuple[int, int, int]]  # start, end, key; in ticks
    bends: list[tuple[int, float]]  # semitones
    controls: list[tuple[int, int, int]]  # tick, number, value
    velocities: list[int]

    def hz(self, tick: int) -> list[float]:
        """All that sounds at *tick*."""
        bend = [0.0, *(semitones for when, semitones in self.bends if when <= tick)][-1]
        return [
            oracles.tempered_hz(key) * 2 ** (bend / 12)
            for start, end, key in self.notes
            if start <= tick < end
        ]


def channels(data: bytes) -> dict[str, Channel]:
    file = mido.MidiFile(file=io.BytesIO(data), charset="utf-8")
    return {track.name: _channel(track) for track in file.tracks[1:]}


def _channel(track: Any) -> Channel:
    now, reach, held = 0, 2, {}
    found = Channel(max((m.channel for m in track if not m.is_meta), default=-1), [], [], [], [])
    for message in track:
        now += message.time
        if message.type == "control_change":
            reach = message.value if message.control == 6 else reach
            found.controls.append((now, message.control, message.value))
        elif message.type == "pitchwheel":
            found.bends.append((now, message.pitch * reach / 8192))
        elif message.type == "note_on":
            held[message.note] = now
            found.velocities.append(message.velocity)
        elif message.type == "note_off":
            found.notes.append((held.pop(message.note), now, message.note))
    return found


def sounding_hz(data: bytes, quarters: float) -> list[float]:
    """All that the guide sounds, the lowest first."""
    tick = round(quarters * TICKS)
    heard = [each.hz(tick) for name, each in channels(data).items() if name.startswith("Guide")]
    return sorted(hz for those in heard for hz in those)


def worst_cents(found: list[float], due: list[float]) -> float:
    assert len(found) == len(due)
    return max(abs(1200 * math.log2(hz / at)) for hz, at in zip(found, due, strict=True))


def equal(tab: str) -> float:
    return oracles.tempered_hz(oracles.sounding("C", tab))


def test_a_chord_in_just_intonation_has_a_bend_for_each_hole() -> None:
    """4:5:6 over draw 2: Helmholtz, On the Sensations of Tone, p. 17."""
    data = midi_bytes(score_of("-2&3&4:2", intonation="just5"))
    root = equal("-2")
    assert worst_cents(sounding_hz(data, 1), [root, root * 5 / 4, root * 3 / 2]) < 0.07


def test_holes_of_an_own_harp_are_tuned_each_by_itself() -> None:
    own = {Reed.parse("-2"): -11.0, Reed.parse("-3"): 7.0}
    harp = replace(Harp("C"), own=OwnReeds.of("mine", own))
    data = midi_bytes(score_of("-2&3:2 slap -4:2", harp=harp))
    due = [equal(f"-{hole}") * 2 ** (off / 1200) for hole, off in ((2, -11), (3, 7))]
    assert worst_cents(sounding_hz(data, 1), due) < 0.07
    assert worst_cents(sounding_hz(data, 2.03), [*due, equal("-4")]) < 0.07  # in the slap


@pytest.mark.parametrize(("tab", "above"), [("-3q", "-3"), ("-2'q", "-2'")])
def test_a_quarter_tone_is_a_bend_of_fifty_cents(tab: str, above: str) -> None:
    data = midi_bytes(score_of(f"{tab}:2"))
    assert worst_cents(sounding_hz(data, 1), [equal(above) * 2 ** (-50 / 1200)]) < 0.07


def test_a_hole_that_comes_back_bent_is_bent_from_its_start() -> None:
    """Draw 2 bent a semitone is F#4, on a C harp (OEIS A291810 above C4)."""
    data = midi_bytes(score_of("-2&3~-3~-2'&3"))
    assert worst_cents(sounding_hz(data, 2.01), [equal("-2'"), equal("-3")]) < 0.1


def test_two_holes_slide_on_channels_of_their_own() -> None:
    data = midi_bytes(score_of("-2&3:1~:1 -2'&3':3", intonation="just5"))
    semitone = 2 ** (-1 / 12)
    now, later = sounding_hz(data, 0.5), sounding_hz(data, 3)
    assert len(now) == len(later) == 2
    middle = [math.sqrt(a * b) for a, b in zip(now, later, strict=True)]
    assert worst_cents(sounding_hz(data, 1.5), middle) < 1.1
    assert worst_cents(later, [hz * semitone for hz in now]) < 40  # just semitones differ


# --- bends that move -----------------------------------------------------------------------


def smooth(x: float) -> float:
    """Smoothstep, as the OpenGL Shading Language defines it (from memory)."""
    x = min(1.0, max(0.0, x))
    return x * x * (3 - 2 * x)


def guide_bends(score: Score) -> list[tuple[float, float]]:
    """Quarters and cents of every bend of the guide."""
    return [(tick / TICKS, 100 * bend) for tick, bend in channels(midi_bytes(score))["Guide"].bends]


@pytest.mark.parametrize("tempo", [20, 60, 300])
def test_a_slow_slide_follows_its_course_in_a_bounded_number_of_bends(tempo: int) -> None:
    bends = guide_bends(score_of("-3:4~:40 -3''':44", tempo=tempo))
    assert len(bends) < 320  # a bend for each of 300 cents, and the ends
    for at, off in bends:
        assert off == pytest.approx(-300 * smooth((at - 4) / 40), abs=0.1)
    for (left, low), (right, high) in pairwise(bends[1:]):
        assert abs(high - low) < 1.6
        here = (left + right) / 2
        assert abs(low - -300 * smooth((here - 4) / 40)) < 1.6
    assert bends[-1][0] == pytest.approx(44, abs=0.01)


@pytest.mark.parametrize(("a_beat", "tempo"), [(4, 72), (12, 300), (3, 20)])
def test_a_vibrato_swings_twenty_cents_either_way(a_beat: int, tempo: int) -> None:
    bends = guide_bends(score_of(f"vibrato{a_beat} -4:4", tempo=tempo))
    assert len(bends) <= 24 * 4 * a_beat + 1
    for at, off in bends:  # at its own tick, half of one early or late
        slack = 20 * 2 * math.pi * a_beat * 0.5 / TICKS
        assert off == pytest.approx(20 * math.sin(2 * math.pi * a_beat * at), abs=0.05 + slack)
    tops = [at for at, off in bends if off > 19.9]
    assert len(tops) == 4 * a_beat
    apart = [later - sooner for sooner, later in pairwise(tops)]
    assert sum(apart) / len(apart) == pytest.approx(1 / a_beat, rel=0.02)


def test_many_vibratos_have_fewer_bends_each_but_still_their_highest_and_lowest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As in hours of them: each wave keeps both of its ends.

    What is drawn is blown out again, so that no breath takes a part of a note.
    """
    waves, music = 4 * 8 * 6, "(vibrato6 -4:4 vibrato6 4:4)x4"
    fine = guide_bends(score_of(music))
    monkeypatch.setattr("reedmill.formats.midi_guide._USUAL_EVENTS", 9 * waves)
    coarse = guide_bends(score_of(music))
    assert 4 * waves < len(coarse) < 9 * waves < len(fine)
    for bends in (fine, coarse):
        assert sum(off > 19.9 for _, off in bends) == waves
        assert sum(off < -19.9 for _, off in bends) == waves


@pytest.mark.parametrize("mark", ["vibrato12 1&2&3&4&5", "shake12 -4&5"])
def test_more_than_a_file_can_hold_is_refused_before_it_is_made(mark: str) -> None:
    """Two hours and a half of five holes in a vibrato, or of a shake; the rests are the breaths."""
    with pytest.raises(InputError, match=r"events in a MIDI file, and 300,000 is the most"):
        midi_bytes(score_of(f"({mark}:63 r)x60", tempo=26))


def test_a_scoop_begins_bent_and_a_fall_ends_bent() -> None:
    """A semitone under draw 4, for 0.12 s and a quarter of a second: common practice."""
    scoop = guide_bends(score_of("scoop -4:2"))
    assert list(scoop[0]) == pytest.approx([0, -100], abs=0.05)
    assert list(scoop[-1]) == pytest.approx([0.12, 0], abs=0.002)
    fall = guide_bends(score_of("fall -4:2 -4:2"))
    assert fall[0] == (0, 0)
    assert min(at for at, off in fall if off < 0) == pytest.approx(1.75, abs=0.02)
    assert min(off for _, off in fall) == pytest.approx(-100, abs=0.05)
    assert fall[-1] == (2, 0), "the next note is not bent"


# --- channels, loudness, hands, words ------------------------------------------------------


def test_no_two_tracks_share_a_channel_with_all_that_can_play() -> None:
    score = score_of("1&2&3&4&5:4 -6:4")
    over = accompanied(score, Accompaniment("One chord", "Medium shuffle", "loop", 1, 0))
    asked = Recording(drone=("root", "fifth", "octave"), backing=True, band="plain",
                      practice=Practice(count_in_bars=1))  # fmt: skip
    tracks = channels(midi_bytes(over, asked))
    by_channel = defaultdict(list)
    for name, each in tracks.items():
        if each.number >= 0:
            by_channel[each.number].append(name)
    drums = by_channel.pop(10 - 1)  # General MIDI: percussion
    assert all(not name.startswith(("Guide", "Drone")) for name in drums)
    assert all(len(names) == 1 for names in by_channel.values()), by_channel
    assert sum(name.startswith("Guide") for name in tracks) == 5


def test_a_score_without_chords_has_the_tracks_it_always_had() -> None:
    assert list(channels(midi_bytes(score_of("-2 -3~-3' vibrato -4")))) == [
        "Guide", "Drone", "Click",
    ]  # fmt: skip


def test_notes_of_a_chord_are_softer_the_more_they_are() -> None:
    """A device's amplitude goes with the square of the velocity: n notes have together one's."""
    for music, count in (("-4", 1), ("-4&5", 2), ("-4&5&6", 3), ("2&3&4&5&6", 5)):
        tracks = channels(midi_bytes(score_of(music)))
        loud = [v for name, each in tracks.items() if name.startswith("Guide")
                for v in each.velocities]  # fmt: skip
        assert len(loud) == count
        power = sum((velocity / 100) ** 4 for velocity in loud)
        assert power == pytest.approx(1, abs=0.04)


def test_a_muted_note_is_softer_and_duller_and_the_next_is_not() -> None:
    """Expression 11 is 40 log10 of its share of 127, brightness 74 has its middle at 64."""
    tracks = channels(midi_bytes(score_of("-4 mute -2&3 -4")))
    for name in ("Guide", SECOND):
        hands = [each for each in tracks[name].controls if each[1] in (11, 74)]
        (at, _, soft), (_, _, dull), (again, _, loud), (_, _, bright) = hands
        assert (at, again) == (TICKS, 2 * TICKS)
        assert [number for _, number, _ in hands] == [11, 74, 11, 74]
        assert 40 * math.log10(soft / loud) == pytest.approx(-4, abs=0.1)
        assert loud == 127
        assert (dull < 64, bright) == (True, 64)


def test_lyrics_have_marks_of_style_before_the_tab() -> None:
    score = score_of("-1&4 slap -2 shake3 -4&5 mute vibrato4 -3q fall -4 -3~:1/2 -3''")
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)), charset="utf-8")
    assert [m.text for m in file.tracks[1] if m.type == "lyrics"] == [
        "-1&4", "slap -2", "shake3 -4&5", "mute vibrato4 -3q", "fall -4", "-3", "-3''",
    ]  # fmt: skip


def test_a_shake_after_a_slide_keeps_both_holes() -> None:
    tracks = channels(midi_bytes(score_of("-2&3:2 ~shake2 -2'&3':2")))
    notes = {name: each.notes for name, each in tracks.items() if name.startswith("Guide")}
    assert (0, 2 * TICKS, 67) in notes[SECOND]
    turns = [each for each in notes["Guide"] if each[0] >= 2 * TICKS]
    assert [key for *_, key in turns] in ([67, 71] * 4, [67, *[71, 67] * 3, 71])
    assert notes["Guide"][0][2] == 71


def test_every_time_of_a_repeat_has_its_burst() -> None:
    score = score_of("slap -4:4")
    tracks = channels(midi_bytes(score, Recording(practice=Practice(repeats=3))))
    assert [start for start, *_ in tracks[SECOND].notes] == [0, 4 * TICKS, 8 * TICKS]
    lasting = {end - start for start, end, _ in tracks[SECOND].notes}
    assert lasting == {round(Fraction(6, 100) * TICKS)}
