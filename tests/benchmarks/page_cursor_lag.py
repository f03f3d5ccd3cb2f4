"""How far the light of a practice page lies from its sound, over loops and changes of tempo.

Run it with ``PYTHONPATH=tests python tests/benchmarks/page_cursor_lag.py [SECONDS]`` on a machine
that has nothing else to do; 180 seconds unless said.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright

from browsers import QUIET, chromium_program
from page_cursor import lags, watch
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.page.practice_page import practice_page
from reedmill.theory.positions import Position

MOST_MS = 30
CHANGES = 6  # of tempo


def main(seconds: int) -> None:
    [drill] = find_drills("Home from every rung")
    score = expand(drill, Harp("C"), Position(2))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as found:
        file = Path(folder) / "page.html"
        file.write_bytes(practice_page(score))
        browser = found.chromium.launch(executable_path=chromium_program(), args=QUIET)
        page = browser.new_page()
        watch(page)
        page.goto(file.as_uri())
        page.click('[data-does="loop"]')
        page.click('[data-does="play"]')
        for number in range(CHANGES):
            page.wait_for_timeout(1000 * seconds / CHANGES)
            for _ in range(5):
                page.click(f'[data-does="{("faster", "slower")[number % 2]}"]')
        late_ms = np.array([1000 * each.seconds for each in lags(page)])
        browser.close()
    middle, worst = np.median(late_ms), np.max(np.abs(late_ms))
    near = np.percentile(np.abs(late_ms), 95)
    print(
        f"{len(late_ms)} lights over {seconds} s: median {middle:.0f} ms after the sound, 95 of "
        f"100 within {near:.0f} ms, worst {worst:.0f} ms (at most {MOST_MS})"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 180)
