"""The progress of a build: items, rate and time left, on one line of a terminal."""

from __future__ import annotations

import time
from typing import Protocol

_EVERY_S = 0.1


class ProgressDisplay(Protocol):
    """A display for the progress of a build, such as the command line."""

    def draw(self, text: str) -> None:
        """Show *text* in place of what was drawn last; an empty one leaves no trace."""

    def line(self, sentence: str) -> None:
        """Show *sentence* on a line of its own, where it stays."""


class Silent:
    """Progress that shows nothing."""

    def begin(self, number: int, seconds: float) -> None:
        """Begin *number* steps, estimated at *seconds* of one processor."""

    def done(self, number: int, seconds: float) -> None:
        """Count *number* finished steps, which were estimated at *seconds*."""

    def say(self, sentence: str) -> None:
        """Tell the player *sentence* at once."""

    def end(self) -> None:
        """End the display."""


class InALog(Silent):
    """Progress for log files: only sentences to be read at once."""

    def __init__(self, voice: ProgressDisplay) -> None:
        self._voice = voice

    def say(self, sentence: str) -> None:
        """Write *sentence* on a line of its own."""
        self._voice.line(sentence)


class OnTerminal(Silent):
    """Progress as one line that is redrawn in place."""

    def __init__(self, voice: ProgressDisplay) -> None:
        self._voice = voice
        self._began = self._shown = 0.0
        self._number = self._done = 0
        self._seconds = self._spent = 0.0

    def begin(self, number: int, seconds: float) -> None:
        """Start counting from zero."""
        self._began = time.monotonic()
        self._number, self._done = number, 0
        self._seconds, self._spent = seconds, 0.0

    def done(self, number: int, seconds: float) -> None:
        """Count the steps, and redraw the line once the last one is old enough."""
        self._done += number
        self._spent += seconds
        now = time.monotonic()
        if now - self._shown >= _EVERY_S or self._done == self._number:
            self._shown = now
            past_s = now - self._began
            self._voice.draw(line(self._done, self._number, past_s, self._left_s(now)))

    def _left_s(self, now: float) -> float:
        """Return the seconds left, from the estimates and the speed so far."""
        if not self._spent:
            return 0.0
        return (now - self._began) * max(0.0, self._seconds - self._spent) / self._spent

    def say(self, sentence: str) -> None:
        """Show *sentence* on a line of its own."""
        self._voice.line(sentence)

    def end(self) -> None:
        """Clear the line."""
        self._voice.draw("")


def line(done: int, number: int, past_s: float, left_s: float) -> str:
    """Return the progress line for a terminal.

    >>> line(30, 120, 10.0, 30.0)
    '30 of 120 made, 3.0 a second, 30 s left'
    """
    rate = done / past_s if past_s else 0.0
    return f"{done} of {number} made, {rate:.1f} a second, {lasting(left_s)} left"


def lasting(seconds: float) -> str:
    """Return a duration in words, as exact as is useful.

    >>> lasting(0.4), lasting(75), lasting(8000)
    ('1 s', '1 min 15 s', '2 h 13 min')
    """
    whole = max(1, round(seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole < 600 and whole % 60 else "")
    return f"{whole // 3600} h" + (f" {whole % 3600 // 60} min" if whole % 3600 >= 60 else "")


def size_in_words(count: float) -> str:
    """Return a number of bytes in words.

    >>> size_in_words(900), size_in_words(70_000), size_in_words(2.5e9)
    ('1 kB', '70 kB', '2.5 GB')
    """
    for unit, bytes_ in (("GB", 1e9), ("MB", 1e6)):
        if count >= bytes_:
            return f"{count / bytes_:.1f} {unit}"
    return f"{max(1, round(count / 1000))} kB"
