"""What twelve choruses of a band cost, as a share of how long they last; and in how much memory.

All is counted: starting Python, arranging, playing and tuning the tones, levelling, the WAV
file.  Beside it FluidSynth alone on the same strokes with the same font, which neither tunes
nor levels nor writes anything.  Run it with ``python tests/benchmarks/backing.py``.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import fluidsynth

from reedmill.band.arranger import arrange
from reedmill.band.shelf import shipped_feels, shipped_forms
from reedmill.harp import Harp
from reedmill.make.backing import silent_score
from reedmill.practice.practice import PLAIN_BAND, Practice, Recording
from reedmill.score.arrangement import Arrangement, Part
from reedmill.sound.recording.audio_files import AudioFormat, save_sound
from reedmill.sound.recording.mix import take
from reedmill.sound.soundfont.player import default_soundfont
from reedmill.theory.positions import Position

RATE = 44_100
MOST_SHARE = 0.05
MOST_GROWTH, MOST_MORE_MB = 11.0, 15.0  # for eight times the length
CHORUSES = 12
ROUNDS = 3
FEEL = 2  # the medium one


def main() -> None:
    twelve = arranged(CHORUSES)
    seconds = float(twelve.seconds(twelve.length))
    for name, band in (("SoundFont", ""), ("built-in", PLAIN_BAND)):
        runs = [in_a_process(CHORUSES, 1, band) for _ in range(ROUNDS)]
        share = median(run[0] for run in runs) / seconds
        print(
            f"{name} band: {CHORUSES} choruses, {seconds:.0f} s of sound in "
            f"{share * seconds:.2f} s: {share:.4f} of their length (most {MOST_SHARE:g})"
        )
    alone = median(by_fluidsynth(twelve) for _ in range(ROUNDS)) / seconds
    print(f"FluidSynth alone, the same strokes: {alone:.4f} of their length")
    growth()


def arranged(choruses: int) -> Arrangement:
    form = next(form for form in shipped_forms() if len(form.bars) == CHORUSES)
    return arrange(form, shipped_feels()[FEEL], Position(2).key(0), choruses=choruses, seed=1)


def growth() -> None:
    """Twelve choruses once, and eight times over; the least of some runs.

    How the tones come through a pipe makes the peak vary by 30 MB from run to run.
    """
    (short_s, short_mb), (long_s, long_mb) = (
        map(min, zip(*(in_a_process(CHORUSES, n, "") for _ in range(ROUNDS)), strict=True))
        for n in (1, 8)
    )
    print(f"{CHORUSES} choruses: {short_s:.2f} s, peak memory {short_mb:.0f} MB")
    print(f"{8 * CHORUSES} choruses: {long_s:.2f} s, peak memory {long_mb:.0f} MB")
    print(f"time grows {long_s / short_s:.2f} times for 8 times the length (most {MOST_GROWTH:g})")
    print(f"memory grows by {long_mb - short_mb:.1f} MB (most {MOST_MORE_MB:g})")


def in_a_process(choruses: int, repeats: int, band: str) -> tuple[float, float]:
    """Seconds taken from start to end of a process, and its peak memory in MB."""
    command = [sys.executable, __file__, str(choruses), str(repeats), band]
    began = time.perf_counter()
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return time.perf_counter() - began, float(done.stdout)


def play(choruses: int, repeats: int, band: str) -> None:
    """Write a backing to a file and print the peak memory in MB."""
    score = silent_score(arranged(choruses), Harp("C"), Position(2))
    recording = Recording(
        guided=False, backing=True, band=band, practice=Practice(count_in_bars=1, repeats=repeats)
    )
    with tempfile.TemporaryDirectory() as folder:
        taken = take(recording.plan(score), recording)
        assert not taken.notice, taken.notice
        factor = taken.level(recording.mixed).factor
        save_sound(Path(folder) / "backing.wav", taken, recording.mixed, factor, AudioFormat("wav"))
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(peak_kb / (1024**2 if sys.platform == "darwin" else 1024))


def by_fluidsynth(music: Arrangement) -> float:
    """Seconds that FluidSynth takes for the strokes alone, as fast as it goes."""
    began = time.perf_counter()
    synth = fluidsynth.Synth(samplerate=float(RATE), gain=0.4)
    font = synth.sfload(str(default_soundfont()))
    channels = {Part.BASS: 0, Part.COMP: 1, Part.DRUMS: 9}
    for part, channel in channels.items():
        bank = 128 if part is Part.DRUMS else 0
        synth.program_select(channel, font, bank, music.program(part))
    events = []
    for note in music.notes:
        start = float(music.seconds(note.start))
        end = float(music.seconds(note.start + note.length))
        events.append((end, 0, channels[note.part], note.key, 0))
        events.append((start, 1, channels[note.part], note.key, note.velocity))
    played = 0
    for at, struck, channel, key, velocity in sorted(events):
        due = round(at * RATE)
        if due > played:
            synth.get_samples(due - played)
            played = due
        if struck:
            synth.noteon(channel, key, velocity)
        else:
            synth.noteoff(channel, key)
    synth.delete()
    return time.perf_counter() - began


if __name__ == "__main__":
    if len(sys.argv) > 1:
        play(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
    else:
        main()
