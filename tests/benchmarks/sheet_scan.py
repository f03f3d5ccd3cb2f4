"""Every drill of the library drawn in every look, and each finished page read and judged.

138 drills on three harps (C; Db, whose notes have double flats; high G, far above the staff), on
A4, Letter and A4 in large print, with staff and tab, tab alone and notation alone.  What is read
and what counts as wrong stands in ``tests/drawn_pages.py``.  Run it with
``python tests/benchmarks/sheet_scan.py``; ``--every 4`` takes a fourth of the drills, ``--show``
and ``--paper`` one look, ``--places 20`` prints where, ``--write FILE`` keeps all of it as JSON.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import shipped, usual_position
from reedmill.score.score import Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawn_pages import KINDS, MM, Verdict, pages_of

HARPS = ("C", "Db", "high G")
PAPERS = {"A4": ("a4", False), "Letter": ("letter", False), "large": ("a4", True)}
SHOWS = ("both", "tab", "notation")
AT_ONCE = 23


def main() -> None:
    asked = options()
    verdicts: dict[tuple[str, str], Verdict] = {}
    began = time.monotonic()
    for paper in asked.paper:
        for show in asked.show:
            verdict = verdicts[paper, show] = Verdict()
            look = Look(PAPERS[paper][0], large=PAPERS[paper][1], show=show)
            for harp in asked.harp:
                for score, pdf in drawn(scores(harp, asked.every), look):
                    verdict.add(
                        f"{score.title} on {harp}, {paper}, {show}",
                        pages_of(pdf), large=look.large, side=MARGIN_MM * MM,
                    )  # fmt: skip
            print(line(f"{paper}, {show}", verdict), flush=True)
    report(verdicts, asked.places)
    print(f"{time.monotonic() - began:.0f} s")
    if asked.write:
        told = {", ".join(key): each.places for key, each in verdicts.items()}
        asked.write.write_text(json.dumps(told, indent=1), "utf-8")


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--places", type=int, default=0)
    parser.add_argument("--harp", nargs="*", default=HARPS)
    parser.add_argument("--paper", nargs="*", default=list(PAPERS), choices=PAPERS)
    parser.add_argument("--show", nargs="*", default=list(SHOWS), choices=SHOWS)
    parser.add_argument("--write", type=Path)
    return parser.parse_args()


def scores(harp: str, every: int) -> list[Score]:
    drills = [each.drill for each in shipped()[::every]]
    return [expand(drill, Harp.parse(harp), usual_position(drill)) for drill in drills]


def drawn(scores: Sequence[Score], look: Look) -> Iterator[tuple[Score, bytes]]:
    for start in range(0, len(scores), AT_ONCE):
        some = list(scores[start : start + AT_ONCE])
        with Engraver() as engraver:
            engraver.feed(pages(some, look))
            yield from zip(some, engraver.sheets(len(some)), strict=True)


def line(name: str, verdict: Verdict) -> str:
    faults = "; ".join(
        f"{verdict.faults[kind]} {kind} on {verdict.sheets_with[kind]} sheets" for kind in KINDS
    )
    counted = f"{verdict.sheets} sheets, {verdict.pages} pages, {verdict.several} of several"
    return f"{name}: {counted}; {faults}"


def report(verdicts: dict[tuple[str, str], Verdict], places: int) -> None:
    faults: Counter[str] = Counter()
    for verdict in verdicts.values():
        faults.update(verdict.faults)
    print("\nall: " + "; ".join(f"{faults[kind]} {kind}" for kind in KINDS))
    for kind in KINDS if places else ():
        found = [each for verdict in verdicts.values() for each in verdict.places.get(kind, [])]
        for each in found[:: max(1, len(found) // places)][:places]:
            print(f"  {kind}: {each}")


if __name__ == "__main__":
    main()
