"""A progress line on the terminal that says every second or two what is being made."""

from __future__ import annotations

import threading
import time

from reedmill.cli.saying import Redrawn, messages_are_seen

_EVERY_S = 2.0


class Ticking:
    """Shows a progress line while the block runs, and nothing once it ends.

    Nothing at all when *quiet*, or where no one sees messages as they come.
    """

    def __init__(self, *, quiet: bool = False) -> None:
        self._shown = not quiet and messages_are_seen()
        self._line_shown = Redrawn()
        self._done = 0
        self._began = time.monotonic()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._tick, daemon=True)

    def done(self, _name: str) -> None:
        """Count one more finished file."""
        self._done += 1
        if self._shown:
            self._line_shown.draw(self._line())

    def __enter__(self) -> Ticking:
        if self._shown:
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        if self._shown:
            self._thread.join(_EVERY_S)
            self._line_shown.draw("")

    def _tick(self) -> None:
        while not self._ended.wait(_EVERY_S):
            self._line_shown.draw(self._line())

    def _line(self) -> str:
        """Return what was made, what is being made, and for how long."""
        from reedmill.cli.asked import counted
        from reedmill.pack.build.progress import lasting

        words = [counted(self._done, "file")] if self._done else []
        words += [_under_way(), lasting(time.monotonic() - self._began)]
        return ", ".join(words)


def _under_way() -> str:
    """Return the file that is being written and its size so far."""
    from reedmill.base.writing import Parts
    from reedmill.pack.build.progress import size_in_words

    if Parts.under_way is None:
        return "at work"
    path, part = Parts.under_way
    try:
        size = part.stat().st_size
    except OSError:  # it has its name by now
        return "at work"
    return f"{path.name}: {size_in_words(size)} so far" if size else f"{path.name} is next"
