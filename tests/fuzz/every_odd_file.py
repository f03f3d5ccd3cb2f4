"""Every command that opens a file, over every kind of file that is not what it should be.

    python tests/fuzz/every_odd_file.py

prints what went wrong and the slowest; some 230 runs, a few minutes.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from odd_files import KINDS, OPENINGS, RIGHT, ended


def main() -> int:
    """The number of runs that did not end in a sentence."""
    faults, slowest = 0, (0.0, "")
    only = [word for word in sys.argv[1:] if word != "-v"]
    for opening in (each for each in OPENINGS if not only or each.name in only):
        for kind in (each for each in KINDS if (opening.name, each) not in RIGHT):
            with tempfile.TemporaryDirectory() as folder:
                end = ended(opening, kind, Path(folder))
            slowest = max(slowest, (end.seconds, f"{opening.name} over {kind}"))
            if end.fault or "-v" in sys.argv:
                faults += bool(end.fault)
                last = (end.said.strip().splitlines() or [""])[-1]
                verdict = f"{end.fault or 'right'} ({end.seconds:.1f} s): {last:.150}"
                print(f"{opening.name}, {kind}: {verdict}", flush=True)
    runs = len(OPENINGS) * len(KINDS)
    print(f"{runs} runs, {faults} faults; slowest {slowest[0]:.1f} s: {slowest[1]}")
    return min(faults, 1)


if __name__ == "__main__":
    raise SystemExit(main())
