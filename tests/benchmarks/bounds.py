"""What every hostile input costs: ``python tests/benchmarks/bounds.py [WORD]``.

Prints the whole table, or the rows whose names hold WORD.  The limits are in the rows.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from hostile_inputs import HEAD, ROWS, line, run


def main(word: str = "") -> None:
    """Run the rows whose names hold *word* and print what came of them."""
    print(HEAD)
    for row in ROWS:
        if word in row.name:
            with tempfile.TemporaryDirectory() as folder:
                print(line(run(row, Path(folder))), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:2])
