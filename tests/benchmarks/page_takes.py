"""How far the page's verdicts differ from those of the command, on many takes of known students.

    PYTHONPATH=tests python tests/benchmarks/page_takes.py [FIRST LAST]

Prints each take in which a note got another verdict, and the largest difference in cents.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

import reedmill
from hearing.conditions import in_condition
from hearing.evaluation import DRILLS, HARPS, score_of
from hearing.playing import Habits, play
from hearing.sounding import drawn_tone, sound
from opened_pages import blocks
from reedmill.base.errors import InputError
from reedmill.ear import hear, read_take, take_data
from reedmill.page.practice_page import practice_page

CONDITIONS = ("clean", "pink-20", "pink-10", "room", "drone", "band", "click", "8kHz")
SOURCES = Path(reedmill.__file__).parent.parent / "page" / "src"
PROGRAM = Path(__file__).parent.parent / "page" / "hear_takes.mjs"


def compared(seed: int, folder: Path) -> tuple[dict[str, Any], dict[str, Any], str]:
    """What the command says of take number *seed*, what the page says, and what it is."""
    rng = np.random.default_rng(seed)
    drill, harp = DRILLS[seed % len(DRILLS)], HARPS[seed // len(DRILLS) % len(HARPS)]
    condition = CONDITIONS[seed % len(CONDITIONS)]
    score = score_of(drill, harp)
    played = play(score, Habits(harp_cents=rng.uniform(-12, 12)), rng)
    tones = sound(played, drawn_tone(rng), played[-1].end_s + 0.8, rng)
    content, _ = in_condition(condition, tones, score, played, rng)
    file = folder / "take.wav"
    file.write_bytes(content)
    samples, rate = soundfile.read(io.BytesIO(content), dtype="float32")
    raw = folder / "take.f32"
    raw.write_bytes(samples.astype("<f4").tobytes())
    jobs = folder / "jobs.json"
    jobs.write_text(
        json.dumps([{"page": blocks(practice_page(score)), "sound": str(raw), "rate": rate}])
    )
    node = shutil.which("node") or sys.exit("Node 20 or newer runs the page's program.")
    done = subprocess.run(
        [node, str(PROGRAM), str(jobs), SOURCES.as_uri()], capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    [page] = json.loads(done.stdout)
    try:
        command = take_data(hear(read_take(file), score))
    except InputError as error:
        command = {"refused": str(error)}
    return command, page, f"{seed}: {drill}, {harp} harp, {condition}"


def notes_of(taken: dict[str, Any]) -> Iterator[tuple[int, str, float | None]]:
    """Every note of a take: its number, verdict and cents."""
    for each in taken.get("passes", ()):
        for note in each["notes"]:
            yield note["index"], note["verdict"], note["cents"]


def main() -> None:
    """Compare the takes that were asked for."""
    first, last = map(int, sys.argv[1:3] or (0, 200))
    largest, notes, other = 0.0, 0, 0
    for seed in range(first, last):
        with tempfile.TemporaryDirectory() as folder:
            command, page, named = compared(seed, Path(folder))
        ours, its = list(notes_of(command)), list(notes_of(page))
        same = [each[:2] for each in ours] == [each[:2] for each in its]
        notes += len(ours)
        if not same or ("refused" in command) != ("refused" in page):
            other += 1
            print(f"{named}: another verdict")
            continue
        off = [abs(a - b) for (_, _, a), (_, _, b) in zip(ours, its, strict=True)
               if a is not None and b is not None]  # fmt: skip
        largest = max([largest, *off])
    print(f"{last - first} takes, {notes} notes: {other} takes differ; cents within {largest:.2f}")


if __name__ == "__main__":
    main()
