"""How fast the reed voice is, how it grows with the length, and in how much memory.

Against FluidSynth on the same MIDI file, with the small font that pretty_midi carries, in
turns in one run; then an hour of practice against ten minutes of it, each a process of its
own.  Run it with ``python tests/benchmarks/audio.py``.
"""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import fluidsynth
import mido
import pretty_midi

from reedmill.expand import expand
from reedmill.formats.midi import midi_bytes
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.practice.practice import Click, Practice, Recording, RecordingPlan, plan_recording
from reedmill.score.score import Score
from reedmill.sound.recording.audio_files import AudioFormat, save_sound
from reedmill.sound.recording.mix import take
from reedmill.theory.positions import Position

RATE = 44_100
LEAST_SPEED = 4.0
MOST_GROWTH, MOST_MORE_MB = 7.5, 15.0  # for six times the length
ROUNDS = 9
DRILL = "Home from every rung"
FONT = Path(pretty_midi.__file__).parent / "TimGM6mb.sf2"


def main() -> None:
    against_fluidsynth()
    growth()


def against_fluidsynth() -> None:
    """The guide of one drill, played for some minutes, by either."""
    [drill] = find_drills(DRILL)
    score = expand(drill, Harp("C"), Position(2))
    repeats = 20
    heard = plan_recording(score, Practice(repeats=repeats))
    ours_s: list[float] = []
    theirs_s: list[float] = []
    for _ in range(ROUNDS + 1):  # the first is not counted
        ours_s.append(taken_s(lambda: reed_voice(heard)))
        theirs_s.append(taken_s(lambda: by_fluidsynth(score, repeats)))
    ours, theirs = median(ours_s[1:]), median(theirs_s[1:])
    seconds = float(heard.length_s)
    print(f"reed voice: {seconds:.0f} s of sound in {ours * 1000:.0f} ms, {seconds / ours:.0f}x")
    print(f"FluidSynth: the same MIDI in {theirs * 1000:.0f} ms, {seconds / theirs:.0f}x")
    print(f"ratio {theirs / ours:.2f} (floor {LEAST_SPEED:g})")


def taken_s(task: Callable[[], None]) -> float:
    began = time.perf_counter()
    task()
    return time.perf_counter() - began


def reed_voice(heard: RecordingPlan) -> None:
    for _ in take(heard, Recording()).blocks(("tones",)):
        pass


def by_fluidsynth(score: Score, repeats: int) -> None:
    """The guide's track through FluidSynth without a driver, as fast as it goes."""
    synth = fluidsynth.Synth(samplerate=float(RATE), gain=0.4)
    synth.program_select(0, synth.sfload(str(FONT)), 0, 22)
    for _ in range(repeats):
        played = 0
        now = 0.0
        for message in mido.MidiFile(file=io.BytesIO(midi_bytes(score)), charset="utf-8"):
            now += message.time
            due = round(now * RATE)
            if due > played:
                synth.get_samples(due - played)
                played = due
            if message.is_meta or message.channel != 0:
                continue
            send(synth, message)
    synth.delete()


def send(synth: fluidsynth.Synth, message: mido.Message) -> None:
    if message.type == "note_on":
        synth.noteon(0, message.note, message.velocity)
    elif message.type == "note_off":
        synth.noteoff(0, message.note)
    elif message.type == "pitchwheel":
        synth.pitch_bend(0, message.pitch)
    elif message.type == "control_change":
        synth.cc(0, message.control, message.value)


def growth() -> None:
    """Ten minutes and an hour, with drone and click, levelled and written to a file."""
    (short_s, short_mb), (long_s, long_mb) = (in_a_process(minutes) for minutes in (10, 60))
    print(f"10 minutes: {short_s:.2f} s, peak memory {short_mb:.0f} MB")
    print(f"60 minutes: {long_s:.2f} s, peak memory {long_mb:.0f} MB")
    print(f"time grows {long_s / short_s:.2f} times for 6 times the length (most {MOST_GROWTH:g})")
    print(f"memory grows by {long_mb - short_mb:.1f} MB (most {MOST_MORE_MB:g})")


def in_a_process(minutes: int) -> tuple[float, float]:
    """Seconds taken and peak memory in MB."""
    command = [sys.executable, __file__, str(minutes)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    seconds, megabytes = map(float, done.stdout.split())
    return seconds, megabytes


def practise(minutes: int) -> None:
    """Write so many minutes of practice and print what it took."""
    [drill] = find_drills(DRILL)
    score = expand(drill, Harp("C"), Position(2))
    ten_minutes = round(600 / score.seconds(score.length))
    practice = Practice(
        count_in_bars=1, repeats=ten_minutes, tempi_bpm=(score.tempo_bpm,) * (minutes // 10)
    )
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        recording = Recording(drone=("root", "fifth"), click=Click.BEATS, practice=practice)
        taken = take(recording.plan(score), recording)
        factor = taken.level(recording.mixed).factor
        save_sound(
            Path(folder) / "practice.wav", taken, recording.mixed, factor, AudioFormat("wav")
        )
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(time.perf_counter() - began, peak_kb / (1024**2 if sys.platform == "darwin" else 1024))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        practise(int(sys.argv[1]))
    else:
        main()
