"""A real browser for the tests that open pages, and what judges whether they are accessible."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE, SMALL_PHONE, TABLET, DESK = (360, 740), (320, 640), (768, 1000), (1280, 900)
_AXE = find_spec("axe_playwright_python")  # found and not imported, for tests that open no page
AXE = Path(str(_AXE and _AXE.origin)).with_name("axe.min.js").read_text("utf-8")


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
    from playwright.sync_api import sync_playwright  # a quarter of a second, in each process

    with sync_playwright() as player:
        found = player.chromium.launch(executable_path=chromium_program(), args=QUIET)
        yield found
        found.close()


# What a text that got through might bring: a picture from elsewhere, with a program, and a program.
GOT_THROUGH = """() => {
    const image = document.createElement("div");
    image.innerHTML = '<img src="https://example.org/x.png" onerror="window.pwned = 1">';
    document.body.append(image);
    const script = document.createElement("script");
    script.textContent = "window.pwned = 2";
    document.body.append(script);
}"""
