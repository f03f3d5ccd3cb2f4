"""Courses with signs changed, without end: the grammar refuses exactly what tomllib refuses.

python tests/fuzz/fuzz_toml.py 20000 [SEED]
"""

from __future__ import annotations

import random
import sys
import tomllib
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from reedmill.base.toml_grammar import NotTomlError
from reedmill.base.toml_places import plain
from reedmill.base.toml_tables import found_in
from toml_mutants import mutant, sources


def _reads(text: str) -> bool:
    try:
        tomllib.loads(text)
    except ValueError:
        return False
    return True


def _fits(text: str) -> bool:
    try:
        found_in(plain(text))
    except NotTomlError:
        return False
    return True


def main(times: int, seed: int) -> int:
    rng, texts = random.Random(seed), sources()
    read = wrong = 0
    for _ in range(times):
        text = mutant(rng, texts)
        reads = _reads(text)
        read += reads
        if reads != _fits(text):
            wrong += 1
            print(f"tomllib {'reads' if reads else 'refuses'} {text!r}")
    print(f"{times} texts, {read} read by tomllib, {wrong} on which the two differ")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2]) if sys.argv[2:] else 1))
