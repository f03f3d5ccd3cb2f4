"""The pitch of steady notes, against Praat's autocorrelation on the same samples.

The notes are the tests' own, those of a free font, and the very recordings that font is made of.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator
from itertools import islice

import numpy as np
import parselmouth
from numpy.typing import NDArray

from hearing.evaluation import DRILLS, HARPS, VOICES, recorded, score_of
from hearing.font_voice import FONT
from hearing.playing import Shape, cents
from reedmill.ear import Take, hear
from reedmill.ear.take import RATE
from reedmill.ear.track import HOP_S, Expected, track_pitch

SAMPLED, ALL = 60, 200  # notes that are compared: usually, and with --whole


def steady_notes() -> Iterator[tuple[float, float]]:
    """Pitch of each steady note of many takes: what is heard, and what Praat finds."""
    for number in range(100):
        harp, voice = HARPS[number % len(HARPS)], VOICES[number // 2 % len(VOICES)]
        score = score_of(DRILLS[number % len(DRILLS)], harp)
        played, take, _ = recorded(score, "clean", 31 + number, voice)
        lowest, highest = (of(note.hz for note in score.notes) for of in (min, max))
        sound = parselmouth.Sound(take.part(0, len(take.steps)).astype(float), RATE)
        pitch = sound.to_pitch_ac(0.01, pitch_floor=0.7 * lowest, pitch_ceiling=1.6 * highest)
        times, hz = pitch.xs(), pitch.selected_array["frequency"]
        steady = {each.index for each in played if each.shape is Shape.PLAIN and not each.slid}
        for note in hear(take, score).notes:
            if note.index not in steady or note.start_s is None or note.end_s is None:
                continue
            inside = (times > note.start_s + 0.15) & (times < note.end_s - 0.1) & (hz > 0)
            if np.sum(inside) >= 10 and note.hz is not None and note.verdict.measured:
                yield note.hz, float(np.median(hz[inside]))


def test_steady_notes_are_where_praat_finds_them(whole: bool) -> None:
    wanted = ALL if whole else SAMPLED
    compared = list(islice(steady_notes(), wanted))
    assert len(compared) == wanted
    assert max(abs(cents(ours, theirs)) for ours, theirs in compared) < 1


# --- recordings of a real harp --------------------------------------------------------------

RECORDED = ("harmnc", "harmon_c")  # how the font calls the recordings of its harmonica
_ROW = struct.Struct("<20s5IBbHH")  # SoundFont Technical Specification 2.04, section 7.10


def recordings() -> list[tuple[str, NDArray[np.float64]]]:
    """The harmonica of FluidR3_GM (Frank Wen, MIT licence) as it was recorded, held by its loop."""
    assert FONT.is_file(), f"this reads {FONT}: apt-get install fluid-soundfont-gm"
    found = []
    with FONT.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as font:
        rows, sound = font.rfind(b"shdr") + 8, font.find(b"smpl") + 8
        size = int.from_bytes(font[rows - 4 : rows], "little")
        for at in range(rows, rows + size, _ROW.size):
            name, start, _, loop, loop_end, rate, *_ = _ROW.unpack(font[at : at + _ROW.size])
            if not name.decode("latin-1").startswith(RECORDED):
                continue
            assert rate == 44_100
            raw = np.frombuffer(font[sound + 2 * start : sound + 2 * loop_end], "<i2") / 32768
            held = np.tile(raw[loop - start :], 200)
            label = name.partition(b"\0")[0].decode("latin-1")
            found.append((label, np.concatenate([raw, held])[: 2 * rate]))
    return found


def named_hz(name: str) -> float:
    """The note that the name of a recording tells, ``harmnc_e3(L)``; their middle C is C3."""
    label = name.partition("_")[2]
    letter, octave = label[0], label[1]
    semitones = {"c": 0, "e": 4, "g": 7}[letter] + 12 * (int(octave) - 3)
    return float(440 * 2 ** ((semitones - 9) / 12))


def test_recordings_of_a_real_harp_are_heard_where_praat_finds_them() -> None:
    compared = 0
    for name, tone in recordings():
        called = named_hz(name)  # Praat by itself takes the third part of a high one
        theirs = parselmouth.Sound(tone, 44_100).to_pitch_ac(
            0.01, pitch_floor=0.7 * called, pitch_ceiling=1.5 * called
        )
        steady = (theirs.xs() > 0.8) & (theirs.xs() < 1.6)
        due = float(np.median(theirs.selected_array["frequency"][steady]))
        samples = parselmouth.Sound(tone, 44_100).resample(RATE).values[0]
        track = track_pitch(Take.of(samples), Expected((), (), 70.0, 3000.0))
        ours = float(np.median(track.hz[int(0.8 / HOP_S) : int(1.6 / HOP_S)]))
        assert abs(cents(ours, due)) < 1, name
        assert abs(cents(ours, called)) < 50, name
        compared += 1
    assert compared == 16  # eight notes, left and right
