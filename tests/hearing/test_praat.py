"""The pitch of steady notes, against Praat's autocorrelation on the same samples."""

from __future__ import annotations

import numpy as np
import parselmouth
import pytest

from hearing.evaluation import DRILLS, HARPS, recorded, score_of
from hearing.playing import Shape, cents
from reedmill.ear import hear
from reedmill.ear.take import RATE


@pytest.mark.parametrize(("number", "harp"), list(enumerate(HARPS)))
def test_steady_notes_are_where_praat_finds_them(number: int, harp: str) -> None:
    score = score_of(DRILLS[(0, 1, 2, 5)[number]], harp)
    played, take, _ = recorded(score, "clean", 31 + number)
    lowest, highest = (of(note.hz for note in score.notes) for of in (min, max))
    sound = parselmouth.Sound(take.part(0, len(take.steps)).astype(float), RATE)
    pitch = sound.to_pitch_ac(0.01, pitch_floor=0.7 * lowest, pitch_ceiling=1.6 * highest)
    times, hz = pitch.xs(), pitch.selected_array["frequency"]
    steady = {each.index for each in played if each.shape is Shape.PLAIN and not each.slid}
    compared = 0
    for note in hear(take, score).notes:
        if note.index not in steady or note.start_s is None or note.end_s is None:
            continue
        inside = (times > note.start_s + 0.1) & (times < note.end_s - 0.1) & (hz > 0)
        if np.sum(inside) >= 10 and note.hz is not None and note.verdict.measured:
            assert abs(cents(note.hz, float(np.median(hz[inside])))) < 1
            compared += 1
    assert compared >= 4
