"""How late the players of each band rise, and what their sound has below its music.

Run it with ``PYTHONPATH=tests python tests/benchmarks/band_sound.py``.  Late is when the envelope
rises fastest (``attacks.steepest_ms``), in ms after the stroke.
"""

from __future__ import annotations

from statistics import median

import numpy as np

from attacks import EVERY_BAND, RATE, late_ms, tones_of
from bands import alone
from reedmill.band.arranger import arrange
from reedmill.band.shelf import shipped_feels, shipped_forms
from reedmill.practice.practice import PLAIN_BAND, Recording
from reedmill.score.arrangement import Part
from reedmill.sound.recording.mix import take
from reedmill.theory.positions import Position

BASSES, BASS_KEYS = range(32, 40), range(28, 56, 3)  # E1 to G3
COMPS, COMP_KEYS = (0, 4, 16, 18, 22, 24, 27, 48, 52), range(48, 76, 6)
DRUMS = {"kick": 36, "snare": 38, "ride": 51}


def main() -> None:
    for name, band in EVERY_BAND.items():
        plain = band == PLAIN_BAND
        for program in (33,) if plain else BASSES:
            said(
                f"{name} bass {program}", late_ms(tones_of(band, Part.BASS, (program,), BASS_KEYS))
            )
        for program in (0, 16) if plain else COMPS:
            said(
                f"{name} comp {program}", late_ms(tones_of(band, Part.COMP, (program,), COMP_KEYS))
            )
        for drum, key in DRUMS.items():
            said(f"{name} {drum}", late_ms(tones_of(band, Part.DRUMS, (0,), (key,))))
    for name, band in EVERY_BAND.items():
        for feel in shipped_feels()[::3]:
            low_db, mean_dbfs = below_the_music(feel.title, band)
            print(f"{name}, {feel.title}: {low_db:.1f} dB below 25 Hz, mean {mean_dbfs:.0f} dBFS")


def said(what: str, found: list[float]) -> None:
    print(f"{what:<20} {min(found):5.1f} to {max(found):5.1f} ms, half by {median(found):.1f}")


def below_the_music(feel_title: str, band: str) -> tuple[float, float]:
    """The energy below 25 Hz as a share of all, and the mean of the samples, in dB."""
    form = next(form for form in shipped_forms() if len(form.bars) == 12)
    feel = next(each for each in shipped_feels() if each.title == feel_title)
    score = alone(arrange(form, feel, Position(2).key(4), choruses=1, seed=1))
    recording = Recording(guided=False, backing=True, band=band)
    made = take(recording.plan(score), recording)
    return share_below(made.stems["backing"](0, made.count))


def share_below(sound: np.ndarray) -> tuple[float, float]:
    power = np.abs(np.fft.rfft(sound)) ** 2
    low = power[: round(25 * len(sound) / RATE)].sum() / power.sum()
    return 10 * float(np.log10(low)), 20 * float(np.log10(abs(sound.mean()) + 1e-12))


if __name__ == "__main__":
    main()
