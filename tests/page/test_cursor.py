"""The light of a practice page goes with its sound, through loops and changes of tempo."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from playwright.sync_api import Browser

from browsers import DESK
from page_cursor import lags, watch
from reedmill.page.practice_page import practice_page
from tunes import score_from


def test_notes_light_up_with_their_sound(browser: Browser, tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    file.write_bytes(practice_page(score_from("-2 -3 -2 -3' -2 -3'' -2:2", tempo=240)))
    page = browser.new_page(viewport={"width": DESK[0], "height": DESK[1]})
    watch(page)
    page.goto(file.as_uri())

    page.click('[data-does="loop"]')
    page.click('[data-does="play"]')
    page.wait_for_timeout(3000)
    page.click('[data-does="slower"]')
    page.wait_for_timeout(3000)
    found = lags(page)
    assert len({each.index for each in found}) == 7
    assert len(found) > 15
    # A picture lasts 17 ms, and a busy machine drops some; the benchmark has the whole spread.
    assert np.median([abs(each.seconds) for each in found]) < 0.03
    page.close()
