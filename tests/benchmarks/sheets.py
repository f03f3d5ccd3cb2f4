"""What many sheets cost: twenty in one run against twenty runs, and our part of the time.

Two ratios, each from medians over interleaved rounds:

- LilyPond drawing twenty sheets in one run, against twenty runs that draw one each, on the
  same input with the same settings;
- our own work, from score to LilyPond input, against that work and LilyPond's together, in
  this process with everything imported: what a longer job pays for each sheet.

The sheets are all different: drills spread over the library, on the harps in turn.  Run it
with ``python tests/benchmarks/sheets.py``.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from statistics import median

import lilypond
from interleaved import report, run

from reedmill.expand import expand
from reedmill.harp import HARP_KEYS, Harp
from reedmill.library import shipped, usual_position
from reedmill.score.score import Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.page import pages

SHEETS = 20
MOST_OF_SEPARATE_RUNS = 0.2
MOST_OF_ALL_TIME = 0.15
ROUNDS = 3
# LilyPond's own fonts alone, listed anew in every run, as the command does it.
FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><cachedir>{cache}</cachedir></fontconfig>
"""


def main() -> None:
    scores = twenty()
    together, apart = pages(scores), [pages([score]) for score in scores]
    report(
        f"{SHEETS} sheets in one run of LilyPond against {SHEETS} runs",
        lambda: engraved([together]),
        lambda: engraved(apart),
        MOST_OF_SEPARATE_RUNS,
        rounds=ROUNDS,
    )
    ours_s, all_s = shares_s(scores)
    print(f"our own part of {SHEETS} sheets: {ours_s * 1000:.0f} ms of {all_s * 1000:.0f} ms")
    print(f"ratio {ours_s / all_s:.2f} (floor {MOST_OF_ALL_TIME:g})")


def twenty() -> list[Score]:
    """Drills from all over the library."""
    library = shipped()
    drills = [library[n * len(library) // SHEETS].drill for n in range(SHEETS)]
    return [
        expand(drill, Harp(HARP_KEYS[n % len(HARP_KEYS)]), usual_position(drill))
        for n, drill in enumerate(drills)
    ]


def engraved(sources: list[str]) -> None:
    """Each input by a run of its own."""
    for source in sources:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            fonts = folder / "fonts.conf"
            fonts.write_text(FONTS.format(cache=folder / "fonts"), "utf-8")
            (folder / "sheets.ly").write_text(source, "utf-8")
            options = ["-dbackend=cairo", "-dno-point-and-click", "--pdf", "--loglevel=WARNING"]
            run(
                [str(lilypond.executable()), *options, "sheets.ly"],
                folder, FONTCONFIG_FILE=str(fonts), LC_ALL="C",
            )  # fmt: skip


def shares_s(scores: list[Score]) -> tuple[float, float]:
    """Median seconds of our own work, and of all of it, one after the other."""
    ours, every = [], []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        source = pages(scores)
        ours.append(time.perf_counter() - began)
        with Engraver() as engraver:
            engraver.feed(source)
            engraver.sheets(len(scores))
        every.append(time.perf_counter() - began)
    return median(ours), median(every)


if __name__ == "__main__":
    main()
