"""A page whose microphone hears a file, and the takes that are put into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from playwright.sync_api import Page

from hearing.playing import Played
from hearing.sounding import RATE, Samples, Tone, sound
from opened_pages import OpenedPage

TONE = Tone((1.0, 0.6, 0.5, 0.3, 0.2, 0.1))
PIP_S = 0.4


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


class TakePage(OpenedPage):
    """An open page that notes every take it tells of."""

    def __init__(self, page: Page, file: Path) -> None:
        super().__init__(
            page,
            file,
            "window.takes = [];"
            "document.addEventListener('reedmill-take', (e) => takes.push(e.detail));",
        )

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
