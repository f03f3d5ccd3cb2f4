"""What listening on the practice page costs.

    PYTHONPATH=tests python tests/benchmarks/page_listening.py

Chromium hears a melody of reeds from a file for ten seconds.  Its own tracing (DevTools protocol,
``Tracing``) says how much processor time the worklet that finds the pitch took, and ``Performance``
how much the whole page did, listening and before: shares of one core.  Fails over 10 % for the
worklet, or 25 % for all that listening adds.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from playwright.sync_api import CDPSession, Page, sync_playwright

from browsers import QUIET, chromium_program
from reedmill.page.practice_page import practice_page
from tunes import score_from

SECONDS = 10
MOST_DETECTION, MOST_LISTENING = 0.10, 0.25
RATE = 48_000
TRACED = "disabled-by-default-audio-worklet,audio-worklet,disabled-by-default-webaudio.audionode"
DETECTING = "AudioWorkletProcessor::Process"


def melody(path: Path) -> None:
    """A minute of notes of half a second, each with four harmonics, a new pitch each time."""
    time_s = np.arange(RATE // 2) / RATE
    notes = []
    for number in range(120):
        phase = 2 * np.pi * 392.0 * 2 ** ((number * 5 % 12) / 12) * time_s
        notes.append(sum(np.sin((n + 1) * phase) / (n + 1) for n in range(4)))
    soundfile.write(path, 0.15 * np.concatenate(notes), RATE, subtype="PCM_16")


def process_s(session: CDPSession) -> float:
    """Processor time of the page's process until now."""
    rows = session.send("Performance.getMetrics")["metrics"]
    return float(next(row["value"] for row in rows if row["name"] == "ProcessTime"))


def share(page: Page, session: CDPSession) -> float:
    """The share of a core that the page's process takes in the next seconds."""
    before, began = process_s(session), time.perf_counter()
    page.wait_for_timeout(1000 * SECONDS)
    return (process_s(session) - before) / (time.perf_counter() - began)


def detection(page: Page, session: CDPSession) -> float:
    """The share of a core that the worklet takes in the next seconds, by the browser's tracing."""
    events: list[dict[str, Any]] = []
    done: list[bool] = []
    session.on("Tracing.dataCollected", lambda data: events.extend(data["value"]))
    session.on("Tracing.tracingComplete", lambda _: done.append(True))
    session.send("Tracing.start", {"categories": TRACED, "transferMode": "ReportEvents"})
    began = time.perf_counter()
    page.wait_for_timeout(1000 * SECONDS)
    took = time.perf_counter() - began
    session.send("Tracing.end")
    while not done:
        page.wait_for_timeout(50)
    mine = [each for each in events if each["name"] == DETECTING and "tdur" in each]
    # 128 frames a call (Web Audio API, 1.1); fewer than half of them were not heard at all
    assert len(mine) > 0.5 * SECONDS * RATE / 128, sorted({each["name"] for each in events})
    return float(sum(each["tdur"] for each in mine)) / 1e6 / took


def main() -> int:
    """Measure and judge."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as player:
        sound, path = Path(folder) / "melody.wav", Path(folder) / "page.html"
        melody(sound)
        path.write_bytes(practice_page(score_from("-2 -3 -2 -3' -2 -3'' -2:2", tempo=120)))
        microphone = [
            "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-audio-capture={sound}",
        ]  # fmt: skip
        browser = player.chromium.launch(
            executable_path=chromium_program(), args=[*QUIET, *microphone]
        )
        page = browser.new_page()
        page.goto(path.as_uri())
        session = page.context.new_cdp_session(page)
        session.send("Performance.enable")
        resting = share(page, session)
        page.click('[data-does="listen"]')
        page.wait_for_timeout(1000)
        listening = share(page, session)
        found = detection(page, session)
        browser.close()
    added = listening - resting
    print(f"finding the pitch      {found:6.1%} of a core (at most {MOST_DETECTION:.0%})")
    print(f"page that listens      {listening:6.1%} of a core, and {resting:.1%} before")
    print(f"what listening adds    {added:6.1%} of a core (at most {MOST_LISTENING:.0%})")
    return int(found > MOST_DETECTION or added > MOST_LISTENING)


if __name__ == "__main__":
    sys.exit(main())
