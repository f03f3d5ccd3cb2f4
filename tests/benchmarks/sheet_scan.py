"""Every drill of the library drawn in every look, and each finished page read and judged.

All drills on three harps (C; Db, whose notes have double flats; high G, far above the staff), on
A4, Letter and A4 in large print, with staff and tab, tab alone and notation alone.  What is read
and what counts as wrong stands in ``tests/drawn_pages.py``; ``sheet_scan.txt`` beside this has what
was found.

``python tests/benchmarks/sheet_scan.py --kept FILE`` keeps each sheet's verdict in FILE under a
digest of its LilyPond input and of what judges it: stopped and started again it goes on, and after
a change it draws what the change has touched and nothing else.  ``--every 4`` takes a fourth of the
drills, ``--harp``, ``--show`` and ``--paper`` one look, and ``--places 20`` prints where.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from itertools import product
from pathlib import Path

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import shipped, usual_position
from reedmill.score.score import Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawn_pages import KINDS, MM, judged, pages_of

HARPS = ("C", "Db", "high G")
PAPERS = {"A4": ("a4", False), "Letter": ("letter", False), "large": ("a4", True)}
SHOWS = ("both", "tab", "notation")
AT_ONCE = 12
JUDGE = Path(__file__).parents[1] / "drawn_pages.py"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One drill on one harp in one look, before it is drawn."""

    score: Score
    harp: str
    paper: str
    show: str

    @property
    def look(self) -> Look:
        """How it is printed."""
        paper, large = PAPERS[self.paper]
        return Look(paper, large=large, show=self.show)

    @property
    def key(self) -> str:
        """What it will look like and what will judge it, in one digest."""
        facts = (pages([self.score], self.look).encode(), JUDGE.read_bytes())
        return hashlib.sha256(b"".join(facts)).hexdigest()


@dataclass(frozen=True, slots=True)
class Judged:
    """What is wrong with one sheet: the places of each kind."""

    pages: int
    faults: dict[str, list[str]]


def main() -> None:
    asked = options()
    kept = Kept(asked.kept)
    found: list[tuple[Sheet, Judged]] = []
    began, drawn_anew = time.monotonic(), 0
    print(heading())
    for paper, show in product(asked.paper, asked.show):
        sheets = [sheet for harp in asked.harp for sheet in wanted(harp, paper, show, asked.every)]
        keys = {id(sheet): sheet.key for sheet in sheets}
        missing = [sheet for sheet in sheets if keys[id(sheet)] not in kept.verdicts]
        drawn_anew += len(missing)
        for sheet, verdict in drawn(missing):
            kept.add(keys[id(sheet)], verdict)
        here = [(sheet, kept.verdicts[keys[id(sheet)]]) for sheet in sheets]
        found += here
        print(row(f"{paper}, {show}", [each for _, each in here]), flush=True)
    print(row("all", [each for _, each in found]))
    print(*places(found, asked.places), sep="\n")
    print(f"{drawn_anew} drawn anew in {time.monotonic() - began:.0f} s", file=sys.stderr)


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--places", type=int, default=0)
    parser.add_argument("--harp", nargs="*", default=HARPS)
    parser.add_argument("--paper", nargs="*", default=list(PAPERS), choices=PAPERS)
    parser.add_argument("--show", nargs="*", default=list(SHOWS), choices=SHOWS)
    parser.add_argument("--kept", type=Path)
    return parser.parse_args()


class Kept:
    """Verdicts by key, each written down at once where there is a file for them."""

    def __init__(self, path: Path | None) -> None:
        self.verdicts: dict[str, Judged] = {}
        self._path = path
        if path and path.exists():
            for text in path.read_text("utf-8").splitlines():
                key, facts = json.loads(text)
                self.verdicts[key] = Judged(**facts)

    def add(self, key: str, verdict: Judged) -> None:
        """Know *verdict* from now on, and after a stop too."""
        self.verdicts[key] = verdict
        if self._path:
            with self._path.open("a", encoding="utf-8") as file:
                file.write(json.dumps([key, asdict(verdict)]) + "\n")


def wanted(harp: str, paper: str, show: str, every: int) -> Iterator[Sheet]:
    for each in shipped()[::every]:
        score = expand(each.drill, Harp.parse(harp), usual_position(each.drill))
        yield Sheet(score, harp, paper, show)


def drawn(sheets: Sequence[Sheet]) -> Iterator[tuple[Sheet, Judged]]:
    """Each of *sheets* drawn and judged; LilyPond draws some while those before are read."""
    waiting: list[tuple[Sequence[Sheet], list[bytes]]] = []
    with ExitStack() as stack:
        for start in range(0, len(sheets), AT_ONCE):
            some = sheets[start : start + AT_ONCE]
            engraver = stack.enter_context(Engraver())
            engraver.feed(pages([sheet.score for sheet in some], some[0].look))
            for before, pdfs in waiting:
                yield from judgements(before, pdfs)
            waiting = [(some, list(engraver.sheets(len(some))))]
            stack.close()
        for before, pdfs in waiting:
            yield from judgements(before, pdfs)


def judgements(sheets: Sequence[Sheet], pdfs: Sequence[bytes]) -> Iterator[tuple[Sheet, Judged]]:
    for sheet, pdf in zip(sheets, pdfs, strict=True):
        inked = pages_of(pdf)
        faults = judged(inked, large=sheet.look.large, side=MARGIN_MM * MM)
        yield sheet, Judged(len(inked), {kind: some for kind, some in faults.items() if some})


COLUMNS = (
    "sheets",
    "pages",
    "several",
    "overlaps",
    "crowded",
    "margins",
    "empty",
    "boxes",
    "small",
)
"""How many sheets, pages and sheets of several pages; then the kinds of faults, as ``KINDS``."""


def heading() -> str:
    return f"{'':18}" + "".join(f"{name:>10}" for name in COLUMNS)


def row(name: str, verdicts: Sequence[Judged]) -> str:
    """How many of everything; of a kind of fault how often and, in brackets, on how many sheets."""
    pages_drawn = sum(each.pages for each in verdicts)
    cells = [len(verdicts), pages_drawn, sum(each.pages > 1 for each in verdicts)]
    told = [*map(str, cells), *(_times(kind, verdicts) for kind in KINDS)]
    return f"{name:18}" + "".join(f"{each:>10}" for each in told)


def _times(kind: str, verdicts: Sequence[Judged]) -> str:
    times = sum(len(each.faults.get(kind, ())) for each in verdicts)
    return f"{times} ({sum(kind in each.faults for each in verdicts)})" if times else "0"


def places(found: Sequence[tuple[Sheet, Judged]], most: int) -> Iterator[str]:
    """Where the faults of each kind are, *most* of them, from all over."""
    for kind in KINDS if most else ():
        every = [
            f"  {kind}: {sheet.score.title} on {sheet.harp}, {sheet.paper}, {sheet.show}: {place}"
            for sheet, verdict in found
            for place in verdict.faults.get(kind, ())
        ]
        yield from every[:: max(1, len(every) // most)][:most]


if __name__ == "__main__":
    main()
