"""Pages of a record book as they look in a browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from browsers import DESK, GOT_THROUGH, PHONE, SMALL_PHONE, TABLET
from opened_pages import OpenedPage

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SIZES = (SMALL_PHONE, PHONE, TABLET, DESK)
SIZE_NAMES = ["small", "phone", "tablet", "desk"]


class Looked(OpenedPage):
    """An open page in one scheme of colours."""

    def __init__(self, browser: Browser, file: Path, size: tuple[int, int], scheme: Any) -> None:
        viewport: Any = {"width": size[0], "height": size[1]}
        super().__init__(browser.new_page(viewport=viewport, color_scheme=scheme), file)

    def check_policy(self) -> None:
        """Nothing that might get in runs, and the browser says that it stopped both."""
        self.page.evaluate(GOT_THROUGH)
        self.page.wait_for_timeout(100)
        assert self.page.evaluate("window.pwned") is None
        assert sum("Content Security Policy" in each for each in self.messages) >= 2


# What stands outside of the screen, but for words that are only read aloud.
WIDE = """() => [...document.body.querySelectorAll('*')]
  .filter((each) => each.getBoundingClientRect().right > innerWidth + 0.5
    || each.getBoundingClientRect().left < -0.5)
  .filter((each) => getComputedStyle(each).position !== 'absolute')
  .map((each) => each.outerHTML.slice(0, 80))"""
