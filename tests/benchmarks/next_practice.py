"""How well practice is chosen, by simulated students; run by hand: python THIS [STUDENTS [STATES]].

Prints how often the weakest of forty rungs is found in six takes, how many takes it needs until
all are in place against the order of the course and against chance, and what random states of a
student make of the drills that are written.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_students import (
    as_chosen,
    at_random,
    finds_the_weakest,
    in_order,
    mean_needed,
)
from student_states import mistakes, state, written

FOUND, SHARE = 0.9, 0.7  # the goals
COMPARED = 20  # students who go all the way


def main() -> None:
    """Print all of it."""
    students = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    states = int(sys.argv[2]) if len(sys.argv) > 2 else 5_000
    for ahead_cents in (8.0, 12.0, 20.0):
        found = sum(finds_the_weakest(seed, ahead_cents=ahead_cents) for seed in range(students))
        print(f"the weakest of 40 rungs, {ahead_cents:g} cents further out than the next, is found "
              f"within 6 takes for {found} of {students} students ({found / students:.1%}; "
              f"goal {FOUND:.0%})", flush=True)  # fmt: skip
    needed = {each.__name__: mean_needed(each, range(COMPARED))
              for each in (in_order, at_random, as_chosen)}  # fmt: skip
    for name, (takes, hours) in needed.items():
        print(f"  all 40 within 10 cents, {name:<10} {takes:6.0f} takes, {hours:5.1f} h of playing")
    share = needed["as_chosen"][0] / needed["in_order"][0]
    print(f"  as chosen: {share:.0%} of the takes of the course's order (goal {SHARE:.0%})")
    began, kinds, drills = time.perf_counter(), Counter[str](), 0
    for number in range(states):
        each = state(number)
        for offer in written(each):
            drills += 1
            kinds.update(mistakes(each, offer))
    print(f"{states} random states wrote {drills} drills with {sum(kinds.values())} mistakes "
          f"({time.perf_counter() - began:.0f} s) {dict(kinds) or ''}")  # fmt: skip


if __name__ == "__main__":
    main()
