"""How like a recorded harmonica the reed voice is: brightness, noise, attack, onset and pitch.

The blow notes of a C harp in our voice beside program 22 of free SoundFonts, which hold recorded
harmonicas: the Debian packages fluid-soundfont-gm and musescore-general-soundfont-small, and the
font that pretty_midi carries.  Centroid by power up to 11 kHz; harmonics to noise and pitch by
Praat; the attack from 10 to 90 % of the level.  Run it with
``PYTHONPATH=tests python tests/benchmarks/reed_voice.py``.
"""

from __future__ import annotations

from pathlib import Path

import fluidsynth
import numpy as np
import parselmouth
import pretty_midi
from numpy.typing import NDArray

from reedmill.harp import Harp
from reedmill.score.score import Score
from reedmill.sound.recording.mix import render
from tunes import score_from

Samples = NDArray[np.float64]

RATE = 44_100
KEYS = (60, 64, 67, 72, 76, 79, 84, 88, 91, 96)  # blow 1 to 10
FONTS = (
    Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3"),
    Path(pretty_midi.__file__).parent / "TimGM6mb.sf2",
)


def main() -> None:
    beside_recordings()
    by_reed()


def beside_recordings() -> None:
    """Print each blow note of a C harp, ours and that of every font there is."""
    ours = render(score_from(" ".join(map(str, range(1, 11)))))
    still = render(score_from(" ".join(map(str, range(1, 11)))), pure=True)
    print("key                centroid   HNR, first 60 ms   HNR   attack")
    fonts = {each.stem: recorded(each) for each in FONTS if each.is_file()}
    for number, key in enumerate(KEYS):
        second = slice(number * RATE, (number + 1) * RATE)
        for name, sound in (("breathing", ours[second]), ("pure", still[second]),
                            *((name, font[number]) for name, font in fonts.items())):  # fmt: skip
            hz = 440 * 2 ** ((key - 69) / 12)
            steady = sound[round(0.12 * RATE) : round(0.36 * RATE)]
            early = noise_db(sound[: round(0.06 * RATE)], hz)
            print(f"{key:3d} {name:22.22s} {centroid(steady):5.0f} Hz {early:8.0f} dB "
                  f"{noise_db(steady, hz):9.0f} dB {attack_ms(sound, hz):5.0f} ms")  # fmt: skip


def by_reed() -> None:
    """Print what every reed of three harps comes to at the worst."""
    off, late, noises, attacks = [], [], [], []
    for harp in ("low C", "C", "high G"):
        reeds = [reed.tab for reed in Harp.parse(harp).reeds()]
        score: Score = score_from(" ".join(reeds), harp=harp)
        whole = render(score)
        for number, note in enumerate(score.notes):
            tone = whole[number * RATE : (number + 1) * RATE - RATE // 50]
            off.append(cents(tone, note.hz))
            late.append(1000 * float(np.argmax(np.abs(tone) > 0.02)) / RATE)
            noises.append(noise_db(tone[RATE // 5 : RATE * 4 // 5], note.hz))
            attacks.append(attack_ms(tone, note.hz))
    print(f"{len(off)} reeds, natural, bent and overbent, a second of each with its attack:")
    print(f"pitch by Praat at most {max(map(abs, off)):.3f} cents off; onset at most "
          f"{max(late):.2f} ms late")  # fmt: skip
    print(f"harmonics to noise {min(noises):.1f} to {max(noises):.1f} dB; attack "
          f"{min(attacks):.0f} to {max(attacks):.0f} ms")  # fmt: skip


def recorded(font: Path) -> list[Samples]:
    """A second of every key by FluidSynth, without reverberation and chorus, the left channel."""
    synth = fluidsynth.Synth(samplerate=float(RATE), gain=0.5)
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    synth.program_select(0, synth.sfload(str(font)), 0, 22)
    found = []
    for key in KEYS:
        synth.noteon(0, key, 100)
        found.append(synth.get_samples(RATE).reshape(-1, 2)[:, 0] / 32768)
        synth.noteoff(0, key)
        synth.get_samples(RATE)
    synth.delete()
    return found


def centroid(sound: Samples) -> float:
    lines = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    hz = np.fft.rfftfreq(len(sound), 1 / RATE)
    heard = hz < 11_025
    return float(np.sum(hz[heard] * lines[heard]) / np.sum(lines[heard]))


def noise_db(sound: Samples, hz: float) -> float:
    """Praat's harmonicity, of its frames that have a pitch."""
    found = parselmouth.Sound(sound, RATE).to_harmonicity_cc(0.01, 0.5 * hz, 0.1, 1.0).values
    return float(np.median(found[found > -100]))


def attack_ms(sound: Samples, hz: float) -> float:
    """From 10 to 90 % of the steady level, which is taken over two periods or 4 ms."""
    window = np.hanning(max(round(2 * RATE / hz), round(0.004 * RATE)))
    level = np.sqrt(np.convolve(sound**2, window / window.sum(), "same"))
    steady = np.median(level[RATE // 10 : RATE * 3 // 10])
    begun, there = (int(np.argmax(level > share * steady)) for share in (0.1, 0.9))
    return 1000 * (there - begun) / RATE


def cents(sound: Samples, hz: float) -> float:
    """Praat's mean over the tone, by its own lowest pitch of 75 Hz."""
    pitch = parselmouth.Sound(sound, RATE).to_pitch_ac(pitch_ceiling=1.9 * hz, very_accurate=True)
    found = pitch.selected_array["frequency"]
    return float(np.mean(1200 * np.log2(found[found > 0] / hz)))


if __name__ == "__main__":
    main()
