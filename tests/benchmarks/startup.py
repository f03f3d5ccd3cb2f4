"""How soon help is there: ``reedmill --help`` against Python importing click alone.

Run it with ``python tests/benchmarks/startup.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

from interleaved import report, run

MOST = 1.2


def main() -> None:
    reedmill = str(Path(sys.executable).with_name("reedmill"))
    report(
        "reedmill --help against importing click",
        lambda: run([reedmill, "--help"]),
        lambda: run([sys.executable, "-c", "import click"]),
        MOST,
    )


if __name__ == "__main__":
    main()
