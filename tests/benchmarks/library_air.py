"""How long the drills of the library go one way, by level: without their breaths and with them.

    PYTHONPATH=tests python tests/benchmarks/library_air.py [--harp NAME]

Seconds at the written tempo, counted from what is heard: one way is drawn or blown without a turn,
net is from the lowest to the highest the air gets to, and half a second of silence is a breath.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Callable
from fractions import Fraction
from statistics import median

from air import air_of
from reedmill.expand import expand
from reedmill.expand.breath import without_breaths
from reedmill.formats.data import score_data
from reedmill.harp import Harp
from reedmill.library import shipped, usual_position
from reedmill.score.score import Score


def told(name: str, found: list[Fraction]) -> str:
    """Median and most, and how many are over 6 and over 10."""
    over = " ".join(f">{most}: {sum(each > most for each in found):2}" for most in (6, 10))
    return f"{name} median {float(median(found)):4.1f} most {float(max(found)):4.1f} {over}"


def main() -> None:
    """Print two rows for each level."""
    options = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    options.add_argument("--harp", default="C")
    harp = Harp.parse(options.parse_args().harp)
    by_level: dict[int, list[Score]] = defaultdict(list)
    for each in shipped():
        score = expand(each.drill, harp, usual_position(each.drill))
        by_level[each.drill.level or 0].append(score)
    ways: dict[str, Callable[[Score], Score]] = {
        "without": without_breaths, "with": lambda score: score,
    }  # fmt: skip
    for level, scores in sorted(by_level.items()):
        for name, way in ways.items():
            air = [air_of(score_data(way(score))) for score in scores]
            one_way = told("one way", [each.one_way_s for each in air])
            net = told("net", [each.net_s for each in air])
            print(f"level {level}, {len(scores):2} drills, {name:7} breaths: {one_way}; {net}")
        marked = [score for score in scores if score.breaths]
        breaths = [each for score in marked for each in score.breaths]
        rests = sum(each.rest > 0 for each in breaths)
        print(f"   {len(breaths)} breaths in {len(marked)} drills, {rests} as written rests; "
              f"warnings: {sum(len(score.warnings) for score in scores)}")  # fmt: skip


if __name__ == "__main__":
    main()
