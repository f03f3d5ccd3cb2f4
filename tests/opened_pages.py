"""A practice page opened in a browser, with what it says of itself and the data it holds."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Self

import pytest
from playwright.sync_api import Browser, Page, Playwright

from browsers import QUIET, chromium_program


def blocks(page: bytes) -> dict[str, Any]:
    """The blocks of data in a page, by their ids."""
    found = re.findall(
        r'<script type="application/json" id="([a-z-]+)">(.*?)</script>', page.decode()
    )
    return {name: json.loads(text) for name, text in found}


def hearing_browser(player: Playwright, take: Path) -> Browser:
    """A Chromium whose microphone hears *take*, once."""
    return player.chromium.launch(
        executable_path=chromium_program(),
        args=[
            *QUIET, "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-audio-capture={take}%noloop",
        ],
    )  # fmt: skip


class OpenedPage:
    """An open page; *watched* is a script that runs as soon as it is there."""

    def __init__(self, page: Page, file: Path, watched: str = "") -> None:
        self.page = page
        self.messages: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda message: self.messages.append(message.text))
        page.on("pageerror", lambda error: self.messages.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))
        page.goto(file.as_uri())
        page.evaluate(f"() => {{ {watched} }}")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.page.close()

    def wait_until(self, expression: str, seconds: float = 20.0) -> None:
        """Wait until it is true; the page's policy forbids the browser's own way to do so."""
        for _ in range(int(seconds * 20)):
            if self.page.evaluate(expression):
                return
            self.page.wait_for_timeout(50)
        pytest.fail(f"{expression} did not come true: {self.messages}")
