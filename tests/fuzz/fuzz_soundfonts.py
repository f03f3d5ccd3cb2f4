"""Damage SoundFonts in every way there is, and have each measured.

    python tests/fuzz/fuzz_soundfonts.py [FONTS] [--seed SEED] [--only NUMBER] [--processes N]

Every font is a small one of arithmetic, a small packed one, or the harmonica of a real one,
with some of its bytes, numbers or parts changed.  It is opened, its first preset measured on
three keys and played as a voice.  A font fails when that raises anything but
``ReedmillError`` or a warning, says more than one printable line, takes more than ten seconds
of processor time (a busy machine's clock says nothing), or more than 400 MB of memory in us
or in FluidSynth's process.  Font NUMBER of a SEED is always the same; ``--only`` writes it to
fuzzed.sf2 and measures it alone.

Not a test that pytest collects: it takes minutes.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import struct
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator"), str(HERE.parent)]

from hostile_fonts import font, packed, packed_font  # noqa: E402
from reedmill.base.errors import ReedmillError  # noqa: E402
from reedmill.base.text import printable  # noqa: E402
from reedmill.sound.soundfont import cache as soundfont_cache  # noqa: E402
from reedmill.sound.soundfont.file import open_soundfont  # noqa: E402
from reedmill.sound.soundfont.font_voice import soundfont_voice  # noqa: E402
from reedmill.sound.soundfont.player import default_soundfont  # noqa: E402
from reedmill.sound.soundfont.tuning import measure_preset  # noqa: E402
from soundfonts import Font, Header, Named, Zone, sine, soundfont  # noqa: E402

MOST_S = 10.0
MOST_MB = 400
KEYS = (57, 69, 84)
REAL = (default_soundfont(), Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3"))

# Numbers at which arithmetic goes wrong: ends of ranges, and generators that name things.
NUMBERS = (0, 1, 2, 41, 43, 44, 51, 52, 53, 54, 56, 58, 127, 128, 255, 256, 32_767, 32_768, 65_535)
LONG_NUMBERS = (0, 1, 2, 4, 8, 99, 44_100, 2**15, 2**16, 2**24, 2**31 - 1, 2**31, 2**32 - 1)


def sliced(path: Path, number: int = 22) -> bytes:
    """One preset of a real font, as a font of its own."""
    found = open_soundfont(path)
    tables, content = found.tables, path.read_bytes()
    sound = content[found.sound.start : found.sound.start + found.sound.size]
    at = next(row for row, head in enumerate(tables.phdr) if head["number"] == number)
    uses = list(_zones(tables.phdr, tables.pbag, tables.pgen, at))
    instruments = sorted({zone[-1][1] for zone in uses if zone and zone[-1][0] == 41})
    inner = {row: list(_zones(tables.inst, tables.ibag, tables.igen, row)) for row in instruments}
    rows = sorted({zone[-1][1] for zones in inner.values() for zone in zones if zone[-1][0] == 53})
    kept, headers = b"", []
    for head in tables.shdr[rows]:
        step = 1 if head["kind"] & 16 else 2
        start, end = int(head["start"]) * step, int(head["end"]) * step
        kept += bytes(len(kept) % 2)
        moved = len(kept) // step - int(head["start"])
        kept += sound[start:end] + bytes(0 if step == 1 else 92)
        loops = 0 if step == 1 else moved  # of a packed sample they count from its beginning
        headers.append(Header(
            int(head["start"]) + moved, int(head["end"]) + moved, int(head["loop"]) + loops,
            int(head["loop_end"]) + loops, int(head["rate"]), int(head["key"]),
            int(head["cents"]), int(head["kind"]),
        ))  # fmt: skip
    names = {41: instruments, 53: rows}
    return Font(
        [Named("Slice", [_renamed(zone, names) for zone in uses])],
        [Named("slice", [_renamed(zone, names) for zone in inner[row]]) for row in instruments],
        headers, kept, 3 if path.suffix == ".sf3" else 2,
    ).content()  # fmt: skip


def _zones(owners: object, bags: object, gens: object, at: int) -> Iterator[list[tuple[int, int]]]:
    for bag in range(int(owners["bag"][at]), int(owners["bag"][at + 1])):  # type: ignore[index]
        part = gens[int(bags["gen"][bag]) : int(bags["gen"][bag + 1])]  # type: ignore[index]
        yield [(int(kind), int(amount)) for kind, amount in part]


def _renamed(zone: list[tuple[int, int]], names: dict[int, list[int]]) -> Zone:
    return Zone([
        (kind, names[kind].index(amount) if kind in names else amount) for kind, amount in zone
    ])  # fmt: skip


@cache
def seeds() -> tuple[bytes, ...]:
    """The fonts that are damaged."""
    real = [sliced(path) for path in REAL if path.is_file()]
    small = [
        soundfont(sine(441, 1)), soundfont(sine(440, 44), sine(442, 44)),
        font(zones=4, layers=3).content(), packed_font(packed(1, loud=0.5)),
    ]  # fmt: skip
    return (*small, *real)


# --- damage ----------------------------------------------------------------------------------


def some_bytes(rng: random.Random, content: bytearray) -> None:
    first = rng.choice([0, max(content.rfind(b"pdta"), 0)])
    for _ in range(rng.randint(1, 8)):
        content[rng.randrange(first, len(content))] = rng.choice([0, 1, 127, 128, 255])


def a_number(rng: random.Random, content: bytearray) -> None:
    for _ in range(rng.randint(1, 4)):
        name = rng.choice([b"phdr", b"pbag", b"pgen", b"inst", b"ibag", b"igen", b"shdr"])
        at = content.rfind(name)
        size = int.from_bytes(content[at + 4 : at + 8], "little") if at >= 0 else 0
        if at >= 0 and 4 <= size < len(content):
            place = at + 8 + rng.randrange(0, size - 2) // 2 * 2
            content[place : place + 2] = struct.pack("<H", rng.choice(NUMBERS))


def a_header(rng: random.Random, content: bytearray) -> None:
    at = content.rfind(b"shdr")
    rows = (len(content) - at - 8) // 46 - 1
    if at >= 0 and rows > 0:
        place = at + 8 + 46 * rng.randrange(rows) + 20 + 4 * rng.randrange(6)
        content[place : place + 4] = struct.pack("<I", rng.choice(LONG_NUMBERS))


def a_size(rng: random.Random, content: bytearray) -> None:
    names = [b"RIFF", b"LIST", b"smpl", b"phdr", b"pgen", b"igen", b"shdr", b"ifil"]
    at = content.find(rng.choice(names))
    if at >= 0:
        content[at + 4 : at + 8] = struct.pack("<I", rng.choice(LONG_NUMBERS))


def cut(rng: random.Random, content: bytearray) -> None:
    del content[rng.randrange(len(content)) :]
    if rng.random() < 0.7 and len(content) >= 8:  # so that it does not show at once
        content[4:8] = struct.pack("<I", len(content) - 8)


def moved(rng: random.Random, content: bytearray) -> None:
    start = rng.randrange(12, len(content))
    part = content[start : start + rng.choice([1, 2, 4, 38, 46, 1000])]
    place = rng.randrange(12, len(content))
    content[place:place] = part * rng.choice([1, 1, 2, 50])
    content[4:8] = struct.pack("<I", len(content) - 8)


def packing(rng: random.Random, content: bytearray) -> None:
    """Change bytes of an Ogg page's head, and of what stands around it."""
    at = content.find(b"OggS", rng.randrange(len(content)))
    if at >= 0:
        for _ in range(rng.randint(1, 4)):
            place = min(at + rng.randrange(60), len(content) - 1)
            content[place] = rng.randrange(256)


DAMAGE: tuple[Callable[[random.Random, bytearray], None], ...] = (
    some_bytes, a_number, a_number, a_number, a_header, a_header, a_size, cut, moved, packing,
)  # fmt: skip


def damaged(seed: int, number: int) -> bytes:
    """Font *number* of a *seed*."""
    rng = random.Random(f"{seed}/{number}")
    content = bytearray(rng.choice(seeds()))
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        if content:
            rng.choice(DAMAGE)(rng, content)
    return bytes(content)


# --- judging ---------------------------------------------------------------------------------


def outcome(path: Path) -> str:
    """What becomes of the font at *path*: played, or the kind of error it ends in."""
    try:
        found = open_soundfont(path)
        preset = found.presets[0]
        tuning = measure_preset(found, preset, KEYS)
        good = [each for each in tuning.keys if each.trusted]
        if good:
            soundfont_voice(found, preset, [((good[0].hz,), 0.5)])
    except ReedmillError as error:
        text = str(error)
        if not text or printable(text) != text:
            return f"FAILED: it says {text!r}"
        return f"{type(error).__name__} {error.exit_code}"
    return "played" if good else "played, not trusted"


def judged(path: Path, content: bytes) -> str:
    """The outcome, or what failed."""
    path.write_bytes(content)
    start, before = _worked_s(), _most_mb()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            found = outcome(path)
    except Exception as error:  # what we are looking for
        found = f"FAILED: {type(error).__name__}: {error}"
    taken = _worked_s() - start
    memory = _most_mb() - before  # what was reached before this font is not its doing
    if taken > MOST_S:
        return f"FAILED: {taken:.1f} s ({found})"
    return f"FAILED: {memory:.0f} MB ({found})" if memory > MOST_MB else found


def _most_mb() -> float:
    """The most memory this process and those it waited for have had."""
    usage = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return max(each.ru_maxrss for each in usage) / 1024


def _worked_s() -> float:
    """Processor time of this process and of those it started, in seconds."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def piece(seed: int, first: int, count: int) -> tuple[Counter[str], list[str], float]:
    """So many fonts: how many had each outcome, those that failed, and the longest time."""
    outcomes: Counter[str] = Counter()
    failures, longest = [], 0.0
    with tempfile.TemporaryDirectory() as folder:
        soundfont_cache.cache_folder = lambda: Path(folder) / "cache"
        for number in range(first, first + count):
            start = _worked_s()
            found = judged(Path(folder) / "fuzzed.sf2", damaged(seed, number))
            longest = max(longest, _worked_s() - start)
            outcomes[found.partition(":")[0]] += 1
            if found.startswith("FAILED"):
                failures.append(f"seed {seed} font {number}: {found}")
                print(failures[-1], flush=True)
    return outcomes, failures, longest


def main() -> int:
    """Run the campaign; 1 when a font failed."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("fonts", type=int, nargs="?", default=5000)
    words.add_argument("--seed", type=int, default=random.randrange(1_000_000))
    words.add_argument("--only", type=int)
    words.add_argument("--processes", type=int, default=2)
    asked = words.parse_args()
    if asked.only is not None:
        print(judged(Path("fuzzed.sf2"), damaged(asked.seed, asked.only)))
        return 0
    print(f"seed {asked.seed}", flush=True)
    outcomes: Counter[str] = Counter()
    failures: list[str] = []
    longest = 0.0
    firsts = range(0, asked.fonts, 50)
    with ProcessPoolExecutor(asked.processes) as pool:
        runs = [
            pool.submit(piece, asked.seed, first, min(50, asked.fonts - first)) for first in firsts
        ]
        for at, run in enumerate(runs):
            found, failed, took_s = run.result()
            outcomes += found
            failures += failed
            longest = max(longest, took_s)
            if at % 10 == 9:
                print(f"{sum(outcomes.values())} fonts, {len(failures)} failed", flush=True)
    print(f"{sum(outcomes.values())} fonts, {len(failures)} failed, longest {longest:.1f} s")
    for name, count in outcomes.most_common():
        print(f"  {count:7} {name}")
    return bool(failures)


if __name__ == "__main__":
    sys.exit(main())
