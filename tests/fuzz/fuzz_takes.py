"""Damage recordings of every kind that is read, and have each read as a take.

    python tests/fuzz/fuzz_takes.py [FILES] [--seed SEED] [--only NUMBER]

Every file is three seconds of a tone as phones, browsers, recorders and cameras write it (M4A,
AAC, MP4 with a picture, WebM, Matroska, Ogg, MP3, FLAC, WAV, AIFF, CAF, AVI, AU...), with some of
its bytes, numbers or parts changed, or cut off, or with a part of another one put in.  A file
fails when reading it raises anything but ``InputError``, says more than one printable line, writes
anything to the terminal, takes more than five seconds of processor time, or ends the process.
File NUMBER of a SEED is always the same; ``--only`` writes it to fuzzed.bin and reads it alone.

Not a test that pytest collects: it takes minutes.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator"), str(HERE.parent)]

from hearing.conditions import encoded  # noqa: E402
from hearing.sounding import RATE  # noqa: E402
from reedmill.base.errors import InputError  # noqa: E402
from reedmill.base.text import printable  # noqa: E402
from reedmill.ear.take import read_take  # noqa: E402

MOST_S = 5.0
MOST_MB = 1_500  # of address space beyond what is there when the process begins
SECONDS = 3
LONG_NUMBERS = (0, 1, 2, 255, 2**15, 2**16, 2**24, 2**31 - 1, 2**31, 2**32 - 1)
KINDS = (
    ("ipod", "aac", 44_100), ("adts", "aac", 44_100), ("webm", "libopus", 48_000),
    ("matroska", "flac", 44_100), ("matroska", "libopus", 48_000), ("ogg", "libopus", 48_000),
    ("ogg", "flac", 44_100), ("mp3", "libmp3lame", 44_100), ("flac", "flac", 44_100),
    ("wav", "pcm_s16le", 44_100), ("wav", "pcm_s24le", 8_000), ("w64", "pcm_s16le", 16_000),
    ("aiff", "pcm_s16be", 44_100), ("caf", "pcm_s16be", 44_100), ("au", "pcm_s16be", 44_100),
    ("avi", "libmp3lame", 44_100), ("mov", "aac", 44_100), ("3gp", "aac", 16_000),
)  # fmt: skip


BOXES = (
    b"moov", b"mdat", b"trak", b"stsz", b"stco", b"stts", b"stsc", b"mdhd", b"data", b"COMM",
    b"SSND", b"desc", b"idx1", b"strl", b"OggS", b"fLaC", b"mvhd", b"elst",
)  # fmt: skip
"""Names of parts, with a size in front of them or after them."""


@cache
def seeds() -> tuple[bytes, ...]:
    """The whole recordings."""
    tone = 0.3 * np.sin(2 * np.pi * 440 * np.arange(SECONDS * RATE) / RATE)
    tone += 0.02 * np.random.default_rng(1).normal(0, 1, len(tone))
    return (*(encoded(tone, box, codec, None, rate) for box, codec, rate in KINDS), film(tone))


def film(tone: np.ndarray[Any, Any]) -> bytes:
    """An MP4 with a picture and the *tone*."""
    import av

    target = io.BytesIO()
    with av.open(target, "w", format="mp4") as file:
        picture: Any = file.add_stream("mpeg4", rate=25)
        picture.width = picture.height = 32
        sound: Any = file.add_stream("aac", rate=RATE, layout="mono")
        grey = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
        for _ in range(25 * SECONDS):
            file.mux(picture.encode(grey))
        file.mux(picture.encode(None))
        whole = av.AudioFrame.from_ndarray(tone.astype(np.float32)[None, :], "flt", "mono")
        whole.sample_rate, whole.pts, whole.time_base = RATE, 0, Fraction(1, RATE)
        resampler = av.AudioResampler("fltp", "mono", RATE, frame_size=1024)
        for part in [*resampler.resample(whole), *resampler.resample(None)]:
            file.mux(sound.encode(part))
        file.mux(sound.encode(None))
    return target.getvalue()


# --- damage ----------------------------------------------------------------------------------


def some_bytes(rng: random.Random, content: bytearray) -> None:
    for _ in range(rng.choice([1, 2, 8, 64, 512])):
        content[rng.randrange(len(content))] = rng.randrange(256)


def head_bytes(rng: random.Random, content: bytearray) -> None:
    for _ in range(rng.randint(1, 8)):
        content[rng.randrange(min(len(content), 600))] = rng.choice([0, 1, 127, 128, 255])


def a_number(rng: random.Random, content: bytearray) -> None:
    """A size, a count or a rate, in one order of bytes or the other."""
    near = rng.choice([min(len(content), 1000), len(content)])
    for _ in range(rng.randint(1, 4)):
        place = rng.randrange(max(1, near - 4))
        wide = rng.choice([2, 4, 8])
        number = rng.choice(LONG_NUMBERS) % 256**wide
        content[place : place + wide] = number.to_bytes(wide, rng.choice(["little", "big"]))


def a_box(rng: random.Random, content: bytearray) -> None:
    """The size in front of a part that has a name."""
    at = content.find(rng.choice(BOXES))
    if at >= 4:
        place = at + rng.choice([-4, 4, 8, 12])
        content[place : place + 4] = rng.choice(LONG_NUMBERS).to_bytes(4, "big")


def cut(rng: random.Random, content: bytearray) -> None:
    del content[rng.randrange(1, len(content)) :]


def a_gap(rng: random.Random, content: bytearray) -> None:
    first = rng.randrange(len(content))
    content[first : first + rng.choice([1, 100, 5000])] = bytes(rng.choice([0, 1, 100, 5000]))


def moved(rng: random.Random, content: bytearray) -> None:
    first = rng.randrange(len(content))
    part = content[first : first + rng.choice([1, 4, 100, 3000])]
    place = rng.randrange(len(content))
    content[place:place] = part * rng.choice([1, 1, 2, 50])


def spliced(rng: random.Random, content: bytearray) -> None:
    """The beginning of one kind of file, then the rest of another."""
    other = rng.choice(seeds())
    content[rng.randrange(len(content)) :] = other[rng.randrange(len(other)) :]


DAMAGE: tuple[Callable[[random.Random, bytearray], None], ...] = (
    some_bytes, head_bytes, head_bytes, a_number, a_number, a_box, a_box, cut, a_gap, moved,
    spliced,
)  # fmt: skip


def damaged(seed: int, number: int) -> bytes:
    """File *number* of a *seed*."""
    rng = random.Random(f"{seed}/{number}")
    content = bytearray(seeds()[number % len(seeds())])
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        if len(content) > 1:
            rng.choice(DAMAGE)(rng, content)
    return bytes(content)


# --- judging ---------------------------------------------------------------------------------


def outcome(path: Path) -> str:
    """What becomes of the file at *path*: heard, or the error it ends in."""
    begun = time.process_time()
    try:
        take = read_take(path)
        found = f"read, {'whole' if abs(take.seconds - SECONDS) < 0.3 else 'of another length'}"
    except InputError as error:
        text = str(error)
        wrong = not text or printable(text) != text or not text.startswith(str(path))
        found = (
            f"FAILED: it says {text!r}" if wrong else f"refused:{text[len(str(path)) + 1 :][:28]}"
        )
    except Exception as error:
        found = f"FAILED: {type(error).__name__}: {error}"
    seconds = time.process_time() - begun
    return f"FAILED: it took {seconds:.1f} s; {found}" if seconds > MOST_S else found


def judge_all(seed: int, numbers: range) -> None:
    """Judge files in this process, a line of JSON for each."""
    seeds()
    room = MOST_MB * 1_000_000 + 1024 * int(
        Path("/proc/self/status").read_text().split("VmSize:")[1].split()[0]
    )
    resource.setrlimit(resource.RLIMIT_AS, (room, room))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "take.bin")
        for number in numbers:
            path.write_bytes(damaged(seed, number))
            print(json.dumps([number, outcome(path)]), flush=True)


def campaign(seed: int, files: int) -> Counter[str]:
    """Judge all *files* in processes of their own, which may end or hang."""
    counts: Counter[str] = Counter()
    first = 0
    while first < files:
        done = first + _batch(seed, first, min(files, first + 200), counts)
        first = max(done, first + 1)
    return counts


def _batch(seed: int, first: int, last: int, counts: Counter[str]) -> int:
    """How many files from *first* on were judged; one at which the process ends counts too."""
    command = [sys.executable, str(Path(__file__)), "--worker", f"{seed}:{first}:{last}"]
    code: int | str
    with tempfile.TemporaryFile() as told:
        try:
            run = subprocess.run(command, stdout=subprocess.PIPE, stderr=told, timeout=600)
            lines, code = run.stdout, run.returncode
        except subprocess.TimeoutExpired as error:
            lines, code = error.stdout or b"", "it came to no end"
        told.seek(0)
        said = told.read(2000).decode("utf-8", "replace")
    rows = [json.loads(line) for line in lines.splitlines()]
    for number, what in rows:
        counts[what.partition(": it says")[0] if what.startswith("FAILED") else what] += 1
        if what.startswith("FAILED"):
            print(f"file {number}: {what}", flush=True)
    if said:
        counts["FAILED: something was written to the terminal"] += 1
        print(f"files {first} to {last}: on the terminal: {said!r}", flush=True)
    if code:
        counts["FAILED: the process ended"] += 1
        print(f"file {first + len(rows)}: the process ended ({code})", flush=True)
        return len(rows) + 1
    return len(rows)


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("files", nargs="?", type=int, default=5000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", type=int, metavar="NUMBER")
    asked.add_argument("--worker", help=argparse.SUPPRESS)
    options = asked.parse_args()
    if options.worker:
        seed, first, last = map(int, options.worker.split(":"))
        judge_all(seed, range(first, last))
        return 0
    if options.only is not None:
        path = Path("fuzzed.bin")
        path.write_bytes(damaged(options.seed, options.only))
        print(outcome(path))
        return 0
    counts = campaign(options.seed, options.files)
    for what, count in counts.most_common():
        print(f"{count:6d}  {what}")
    return int(any(what.startswith("FAILED") for what in counts))


if __name__ == "__main__":
    sys.exit(main())
