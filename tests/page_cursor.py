"""How far the light of a page lies from its sound, measured from outside the page's program.

A script put in before the page's own notes when each tone is handed to the sound clock, and for
each light which moment of that clock is coming out of the speaker.
"""

from __future__ import annotations

from dataclasses import dataclass

from playwright.sync_api import Page

WATCH = """
window.tones = []; window.lights = []; window.clocks = new Set();
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (when) {
  window.clocks.add(this.context);
  window.tones.push([when, this.frequency.value]);
  return start.call(this, when);
};
document.addEventListener('reedmill-note', (event) => {
  for (const clock of window.clocks) {
    const stamp = clock.getOutputTimestamp();
    const now = performance.now();
    const heard = stamp.contextTime + (now - stamp.performanceTime) / 1000;
    window.lights.push([heard, event.detail.index]);
  }
});
"""


@dataclass(frozen=True)
class Lag:
    """A light, and how long after its tone it came."""

    index: int
    seconds: float


def watch(page: Page) -> None:
    """Before the page is opened."""
    page.add_init_script(WATCH)


def lags(page: Page) -> list[Lag]:
    """Of all lights so far, from the nearest tone; drone and click must be off."""
    tones = sorted(when for when, _ in page.evaluate("tones"))
    return [
        Lag(index, min((at - tone for tone in tones), key=abs))
        for at, index in page.evaluate("lights")
    ]
