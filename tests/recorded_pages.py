"""A page whose microphone hears a file, and the takes that are put into it."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Browser, Page, Playwright

from browsers import QUIET, chromium_program
from hearing.playing import Played
from hearing.sounding import RATE, Samples, Tone, sound
from reedmill.page.practice_page import practice_page
from reedmill.score.score import Score

TONE = Tone((1.0, 0.6, 0.5, 0.3, 0.2, 0.1))
PIP_S = 0.4


def blocks(score: Score) -> dict[str, Any]:
    """The data in the page of *score*."""
    found = re.findall(
        r'<script type="application/json" id="([a-z-]+)">(.*?)</script>',
        practice_page(score).decode(),
    )
    return {name: json.loads(text) for name, text in found}


def take_file(path: Path, notes: Sequence[Played], begin_s: float) -> Path:
    """*notes* as a file that starts with silence and a pip, the first of them at *begin_s*.

    What a browser captures of a file begins some milliseconds off, so nothing is at its start.
    """
    later_s = begin_s - notes[0].start_s
    moved = [replace(each, start_s=each.start_s + later_s, end_s=each.end_s + later_s)
             for each in notes]  # fmt: skip
    rng = np.random.default_rng(5)
    whole: Samples = sound(moved, TONE, moved[-1].end_s + 1.0, rng)
    pip = 0.05 * np.sin(2 * np.pi * 1000 * np.arange(int(0.02 * RATE)) / RATE)
    whole[int(PIP_S * RATE) : int(PIP_S * RATE) + len(pip)] += pip
    whole += 1e-4 * rng.normal(0, 1, len(whole))
    soundfile.write(path, whole, RATE, subtype="PCM_16")
    return path


def hearing_browser(player: Playwright, take: Path) -> Browser:
    """A Chromium whose microphone hears *take*, once."""
    return player.chromium.launch(
        executable_path=chromium_program(),
        args=[
            *QUIET, "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-audio-capture={take}%noloop",
        ],
    )  # fmt: skip


class TakePage:
    """An open page with what it says of itself."""

    def __init__(self, page: Page, file: Path) -> None:
        self.page = page
        self.messages: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda message: self.messages.append(message.text))
        page.on("pageerror", lambda error: self.messages.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))
        page.goto(file.as_uri())
        page.evaluate(
            "() => { window.takes = [];"
            "document.addEventListener('reedmill-take', (e) => takes.push(e.detail)); }"
        )

    def wait_until(self, expression: str, seconds: float = 20.0) -> None:
        """Wait until it is true; the page's policy forbids the browser's own way to do so."""
        for _ in range(int(seconds * 20)):
            if self.page.evaluate(expression):
                return
            self.page.wait_for_timeout(50)
        pytest.fail(f"{expression} did not come true: {self.messages}")

    def does(self, what: str) -> None:
        """Press a control as a keyboard would, wherever it lies."""
        self.page.locator(f'[data-does="{what}"]').press("Enter")

    def text(self, name: str) -> str:
        """What stands in the element *name*."""
        return self.page.locator(f"#{name}").text_content() or ""

    def saved(self, what: str, into: Path) -> Path:
        """The file that the control *what* gives."""
        with self.page.expect_download() as coming:
            self.does(what)
        path = into / coming.value.suggested_filename
        coming.value.save_as(path)
        return path
