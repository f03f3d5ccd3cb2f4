"""The colour of the reeds, measured by Praat (parselmouth), pyebur128 and a Fourier transform.

What a recorded harmonica has is printed by ``tests/benchmarks/reed_voice.py``: centroids of 740 to
3040 Hz from C4 to E6, an attack of 5 to 64 ms from 10 to 90 % of the level, noise 21 to 45 dB under
the harmonics while it begins.  A clear voice has it some 20 dB under them (P. Boersma, IFA
Proceedings 17, 1993, from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import parselmouth
import pyebur128
import pytest
from numpy.typing import NDArray

from reedmill.base.errors import InputError
from reedmill.harp import Harp
from reedmill.make.naming import mix_words, tones_words
from reedmill.practice.practice import Recording
from reedmill.sound.recording.mix import render
from tunes import score_from

Samples = NDArray[np.float64]
RATE = 44_100


def seconds_of(music: str, harp: str = "C") -> list[Samples]:
    """The tones of notes of a second each."""
    sound = render(score_from(music, harp=harp))
    return [sound[at : at + RATE] for at in range(0, len(music.split()) * RATE, RATE)]


def centroid(sound: Samples) -> float:
    lines = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    return float(np.sum(np.fft.rfftfreq(len(sound), 1 / RATE) * lines) / np.sum(lines))


def steady(sound: Samples) -> Samples:
    return sound[RATE // 10 : RATE * 9 // 10]


def test_every_reed_is_as_loud_as_any_other() -> None:
    """Within 1 LU of -16 LUFS (ITU-R BS.1770)."""
    reeds = " ".join(reed.tab for reed in Harp.parse("low F").reeds()[::2])
    for tone in seconds_of(reeds, "low F"):
        state = pyebur128.R128State(1, RATE, pyebur128.MeasurementMode.MODE_I)
        state.add_frames(np.ascontiguousarray(steady(tone)), len(steady(tone)))
        assert pyebur128.get_loudness_global(state) == pytest.approx(-16, abs=0.5)


def test_a_breath_is_in_every_tone_and_it_brightens_as_it_begins() -> None:
    for tone in seconds_of("1 -3' 6 9"):
        heard = parselmouth.Sound(steady(tone), RATE).to_harmonicity_cc().values
        assert 15 < np.median(heard[heard > 0]) < 20
        assert centroid(tone[: RATE // 100]) < 0.97 * centroid(steady(tone)) < 3100
        level = np.sqrt(np.convolve(tone**2, np.full(441, 1 / 441), "valid"))
        begun, there = (int(np.argmax(level > share * np.median(level))) for share in (0.1, 0.9))
        assert 5 < 1000 * (there - begun) / RATE < 43


def test_draw_is_keener_than_blow_and_a_bend_rounder_than_both() -> None:
    """Draw 2 and blow 3 are one pitch; so are draw 3 bent a semitone and, on an F harp, draw 4."""
    draw, blow = (centroid(steady(tone)) for tone in seconds_of("-2 3"))
    assert draw > 1.1 * blow
    [bent], [natural] = seconds_of("-3'"), seconds_of("4", "Bb")
    assert centroid(steady(bent)) < 1.05 * centroid(steady(natural))
    deep, open_ = (centroid(steady(tone)) for tone in seconds_of("-3''' -3"))
    assert deep < 0.7 * open_


def test_an_accent_is_brighter_as_well_as_louder() -> None:
    score = score_from("-2 -2")
    first, second = score.notes
    sound = render(replace(score, notes=(first, replace(second, accent=True))))
    plain, accented = sound[:RATE], sound[RATE : 2 * RATE]
    assert centroid(steady(accented)) > 1.03 * centroid(steady(plain))


def test_pure_tones_say_so_in_their_name_and_are_for_the_reed_voice_alone() -> None:
    pure = Recording(pure=True, drone=("root",))
    assert "pure" in tones_words(pure, "wav")
    assert "pure" in mix_words(pure, "wav")
    with pytest.raises(InputError, match=r"pure is for tones in the reed voice"):
        Recording(pure=True, voice="harp.sf2")
