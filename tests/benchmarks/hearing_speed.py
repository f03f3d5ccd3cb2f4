"""How fast takes are heard, and in how much memory.

Run it with ``PYTHONPATH=tests python tests/benchmarks/hearing_speed.py [MINUTES]``.  A take of so
many minutes (10 unless said) is one drill played again and again with a student's faults; its file
is read and heard in a process of its own, and what that needed is printed: seconds of processor
time, how many times faster than the music that is, and the most memory.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import wave
from itertools import cycle
from pathlib import Path

import numpy as np

from hearing.evaluation import score_of
from hearing.playing import Habits, play
from hearing.sounding import RATE, drawn_tone, sound

DRILL, HARP = "Home from every rung", "C"
DIFFERENT = 10  # passes; then they come again
HEAR = """
import resource, sys, time
from pathlib import Path
from reedmill.ear import hear, read_take
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.theory.positions import Position
score = expand(find_drills(sys.argv[2])[0], Harp.parse(sys.argv[3]), Position(2))
begun = time.process_time()
take = read_take(Path(sys.argv[1]))
read = time.process_time()
heard = hear(take, score)
spent, use = time.process_time() - begun, resource.getrusage(resource.RUSAGE_SELF)
good = sum(note.verdict.in_place for note in heard.notes)
print(f"{take.seconds / 60:.1f} minutes, {len(heard.passes)} passes, {len(heard.notes)} notes, "
      f"{good} in place: read in {read - begun:.1f} s and heard in {spent - (read - begun):.1f} s "
      f"of processor time, {take.seconds / spent:.0f} times faster than played; "
      f"{use.ru_maxrss / 1000:.0f} MB at the most")
"""


def write_take(path: Path, minutes: float) -> None:
    """One pass after the other, with ten sets of faults in turn, as 16-bit WAV."""
    passes, left = [a_pass(number) for number in range(DIFFERENT)], int(minutes * 60 * RATE)
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        for one in cycle(passes):
            file.writeframes(one[: 2 * left])
            left -= len(one) // 2
            if left <= 0:
                break


def a_pass(number: int) -> bytes:
    score, rng = score_of(DRILL, HARP), np.random.default_rng(number)
    played = play(score, Habits(harp_cents=5), rng)
    tones = sound(played, drawn_tone(np.random.default_rng(1)), played[-1].end_s + 1, rng)
    tones += 1e-4 * rng.normal(0, 1, len(tones))
    return (np.clip(tones, -1, 1) * 32767).astype("<i2").tobytes()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("minutes", nargs="?", type=float, default=10.0)
    minutes = asked.parse_args().minutes
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "take.wav")
        write_take(path, minutes)
        command = [sys.executable, "-c", HEAR, str(path), DRILL, HARP]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
    print(done.stdout.strip())


if __name__ == "__main__":
    main()
