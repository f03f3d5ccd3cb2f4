"""A folder on loopback for the tests of what is opened from an address: Python's own server."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any


@dataclass
class Served:
    """A folder on loopback, and what was asked of it."""

    address: str = ""
    asked: list[str] = field(default_factory=list)
    stop: Callable[[], None] = lambda: None


@contextmanager
def serving(folder: Path) -> Iterator[Served]:
    """Serve *folder* until ``stop`` is called or the block ends."""
    found = Served()

    class Handler(SimpleHTTPRequestHandler):
        """Notes what is asked for."""

        def log_message(self, *_: Any) -> None:
            """Note what was asked for; nothing is printed."""
            found.asked.append(self.path)

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Handler, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    stopped = False

    def stop() -> None:
        nonlocal stopped
        if not stopped:
            stopped = True
            server.shutdown()
            server.server_close()
            thread.join()

    found.address, found.stop = f"http://127.0.0.1:{server.server_port}/", stop
    try:
        yield found
    finally:
        stop()
