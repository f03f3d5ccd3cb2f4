"""A real browser for the tests that open pages, and what judges whether they are accessible."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, sync_playwright

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE, SMALL_PHONE, TABLET, DESK = (360, 740), (320, 640), (768, 1000), (1280, 900)
AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text("utf-8")


def chromium_program() -> str:
    """The path of a Chromium; the test fails when there is none."""
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if program is None:
        pytest.fail(
            "These tests open a page in a browser, and there is none. Install "
            "Chromium: apt-get install chromium (Debian, Ubuntu), dnf install chromium (Fedora), "
            "brew install --cask chromium (macOS)."
        )
    return program


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as player:
        found = player.chromium.launch(executable_path=chromium_program(), args=QUIET)
        yield found
        found.close()
