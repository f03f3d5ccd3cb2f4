"""Firefox and WebKit for the tests that open the practice page in more than one engine.

Both are driven by the W3C's own protocols: Firefox by WebDriver BiDi over the socket it opens
itself, WebKitGTK by WebDriver, which Debian's ``webkit2gtk-driver`` speaks.  Their microphones are
fake ones that sing a steady tone; their sound goes to a PulseAudio of our own without a device,
and WebKit draws on a screen of memory.  Whatever is started here is ended here.
"""

from __future__ import annotations

import asyncio
import json
import os
import re
import shutil
import subprocess
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Protocol

import pytest
from tornado.websocket import WebSocketClientConnection, websocket_connect

MINI_BROWSERS = ("/usr/lib/*/webkit2gtk-4.1/MiniBrowser", "/usr/libexec/webkit2gtk-4.1/MiniBrowser")
START_S, ANSWER_S = 90, 60  # a busy machine starts a browser slowly
SOUND_S, SOUND_TRIES = 20, 5
FAKE_HZ = 440  # what Firefox's fake microphone sings


class Engine(Protocol):
    """A browser with one page open."""

    def open(self, address: str) -> None:
        """Open *address* and wait until it is loaded."""

    def evaluate(self, expression: str) -> Any:
        """The value of *expression* in the page, which may be a promise."""

    def click(self, selector: str) -> None:
        """Click on what *selector* finds, as a person does."""

    def said(self) -> list[str]:
        """The messages on the console, and errors nobody caught."""


def wait_until(engine: Engine, expression: str, seconds: float = 30) -> None:
    """Wait until *expression* is true in the page of *engine*."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if engine.evaluate(expression):
            return
        time.sleep(0.05)
    pytest.fail(f"{expression} did not come true: {engine.said()}")


def program(name: str, package: str) -> str:
    """The path of the program *name*; the test fails when there is none."""
    found = shutil.which(name)
    if found is None:
        pytest.fail(
            f"These tests open the practice page in more than one browser, and {name} is missing. "
            f"Install it: apt-get install {package} (Debian, Ubuntu)."
        )
    return found


@contextmanager
def running(command: list[str], **more: Any) -> Iterator[subprocess.Popen[str]]:
    """A program of our own, which is ended when it is not needed any more."""
    process = subprocess.Popen(command, text=True, **more)
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def line_with(process: subprocess.Popen[str], pattern: str, file: Path) -> re.Match[str]:
    """What *pattern* finds in the *file* that *process* writes, as soon as it is there."""
    until = time.monotonic() + START_S
    while time.monotonic() < until and process.poll() is None:
        found = re.search(pattern, file.read_text("utf-8", "replace"))
        if found:
            return found
        time.sleep(0.05)
    pytest.fail(f"{process.args!r} did not start: {file.read_text('utf-8', 'replace')[-2000:]}")


@contextmanager
def sound_server(folder: Path) -> Iterator[Mapping[str, str]]:
    """A PulseAudio with nothing to be heard from; the settings that lead a program to it."""
    socket = folder / "pulse.socket"
    command = [
        program("pulseaudio", "pulseaudio"), "-n", "--daemonize=no", "--exit-idle-time=-1",
        "--disallow-exit", "--use-pid-file=no", "--realtime=no", "--high-priority=no",
        "--load=module-null-sink",
        f"--load=module-native-protocol-unix auth-anonymous=1 socket={socket}",
    ]  # fmt: skip
    settings = {**os.environ, "HOME": str(folder), "PULSE_RUNTIME_PATH": str(folder)}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with running(command, env=settings, **quiet) as process:
        until = time.monotonic() + START_S
        while not socket.exists():
            assert process.poll() is None, "the sound server ended"
            assert time.monotonic() < until, "the sound server did not start"
            time.sleep(0.05)
        yield {"PULSE_SERVER": f"unix:{socket}"}


# --- Firefox ----------------------------------------------------------------------------

_PREFERENCES: dict[str, bool | int] = {
    "media.navigator.streams.fake": True,
    "media.navigator.permission.disabled": True,
    "media.navigator.audio.fake_frequency": FAKE_HZ,
    "media.autoplay.default": 0,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
}


_CLOCK_RUNS = """(async () => {
  const context = new AudioContext();
  await context.resume();
  const began = context.currentTime;
  while (context.currentTime === began) await new Promise((resolve) => setTimeout(resolve, 20));
  await context.close();
  return true;
})()"""


class Firefox:
    """Firefox over WebDriver BiDi (W3C)."""

    def __init__(self, address: str) -> None:
        self._loop = asyncio.new_event_loop()
        self._patience_s = ANSWER_S
        self._number = 0
        self._said: list[str] = []
        self._socket: WebSocketClientConnection = self._wait(
            lambda: websocket_connect(address, max_message_size=1 << 26)
        )
        self.ask("session.new", {"capabilities": {}})
        self.ask("session.subscribe", {"events": ["log.entryAdded"]})
        self._page = self.ask("browsingContext.getTree", {})["contexts"][0]["context"]

    def _wait(self, begin: Callable[[], Any]) -> Any:
        async def within() -> Any:
            return await asyncio.wait_for(begin(), self._patience_s)

        return self._loop.run_until_complete(within())

    def ask(self, method: str, parameters: Mapping[str, Any]) -> Any:
        """The result of the command *method*."""
        self._number += 1
        told = {"id": self._number, "method": method, "params": parameters}
        self._wait(lambda: self._socket.write_message(json.dumps(told)))
        while True:
            text = self._wait(self._socket.read_message)
            assert text is not None, "Firefox closed the connection"
            message = json.loads(text)
            if message.get("method") == "log.entryAdded":
                self._said.append(str(message["params"]["text"]))
            if message.get("id") == self._number:
                assert message["type"] == "success", message
                return message["result"]

    def open(self, address: str) -> None:
        """Open *address* and wait until it is loaded."""
        self._said.clear()
        told = {"context": self._page, "url": address, "wait": "complete"}
        self.ask("browsingContext.navigate", told)

    def evaluate(self, expression: str) -> Any:
        """The value of *expression* in the page, which may be a promise."""
        told = {
            "expression": f"(async () => JSON.stringify(await ({expression})) ?? 'null')()",
            "target": {"context": self._page}, "awaitPromise": True, "userActivation": True,
        }  # fmt: skip
        found = self.ask("script.evaluate", told)
        assert found["type"] == "success", found
        return json.loads(found["result"]["value"])

    def click(self, selector: str) -> None:
        """Click on what *selector* finds, as a person does."""
        told = {"context": self._page, "locator": {"type": "css", "value": selector}}
        [node, *_] = self.ask("browsingContext.locateNodes", told)["nodes"]
        there = {"type": "element", "element": {"sharedId": node["sharedId"]}}
        steps = [
            {"type": "pointerMove", "x": 0, "y": 0, "origin": there},
            {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0},
        ]  # fmt: skip
        pointer = {"type": "pointer", "id": "mouse", "actions": steps}
        self.ask("input.performActions", {"context": self._page, "actions": [pointer]})

    def said(self) -> list[str]:
        """The messages on the console, and errors nobody caught."""
        self.ask("browsingContext.getTree", {})  # whatever was said before has come before this
        return list(self._said)

    def sounds(self) -> bool:
        """Whether the clock of its sound runs."""
        before, self._patience_s = self._patience_s, SOUND_S
        try:
            return bool(self.evaluate(_CLOCK_RUNS))
        except TimeoutError:
            return False
        finally:
            self._patience_s = before

    def close(self) -> None:
        """End the session."""

        async def ended() -> None:
            self._socket.close()

        self._wait(ended)  # in its loop, which newer Pythons ask for
        self._loop.close()


@contextmanager
def firefox() -> Iterator[Firefox]:
    """A Firefox whose microphone sings at 440 Hz.

    One in ten comes up on a busy machine with its sound thread waiting for ever for a lock of
    PulseAudio's library, whatever page is open: that one is ended and another begun.
    """
    for _ in range(SOUND_TRIES):
        with ExitStack() as stack:
            found = _begun_firefox(stack)
            if found.sounds():
                yield found
                return
    pytest.fail(f"Firefox came up {SOUND_TRIES} times without sound.")


def _begun_firefox(stack: ExitStack) -> Firefox:
    path = program("firefox-esr" if shutil.which("firefox-esr") else "firefox", "firefox-esr")
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
    settings = stack.enter_context(sound_server(folder))
    profile, log = folder / "profile", folder / "log"
    profile.mkdir()
    lines = [f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in _PREFERENCES.items()]
    (profile / "user.js").write_text("\n".join(lines), "utf-8")
    command = [path, "--headless", "--no-remote", "--remote-debugging-port=0"]
    written = stack.enter_context(log.open("w"))
    environment = {**os.environ, **settings, "HOME": str(folder)}
    process = stack.enter_context(
        running(
            [*command, "--profile", str(profile)], env=environment, stdout=written, stderr=written
        )
    )
    socket = line_with(process, r"WebDriver BiDi listening on (ws://\S+)", log)[1]
    found = Firefox(f"{socket}/session")
    stack.callback(found.close)
    return found


# --- WebKit -----------------------------------------------------------------------------


class WebKit:
    """WebKitGTK's small browser over WebDriver (W3C)."""

    def __init__(self, address: str, browser: str, log: Path) -> None:
        self._log, self._read = log, 0
        options = {
            "binary": browser,
            "args": [
                "--automation", "--enable-media-stream=true",
                "--enable-mock-capture-devices=true",
                "--enable-write-console-messages-to-stdout=true",
            ],
        }  # fmt: skip
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        self._session = f"{address}/session"
        self._session += "/" + self._ask("", {"capabilities": wanted})["sessionId"]
        self._ask("/timeouts", {"script": 1000 * ANSWER_S})

    def _ask(self, command: str, told: Mapping[str, Any] | None, method: str = "POST") -> Any:
        data = json.dumps(told).encode() if told is not None else None
        request = urllib.request.Request(  # noqa: S310  our own address
            self._session + command, data, {"Content-Type": "application/json"}, method=method
        )
        try:
            with urllib.request.urlopen(request, timeout=START_S) as answer:  # noqa: S310
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            pytest.fail(f"WebKit: {command}: {error.read().decode('utf-8', 'replace')[:2000]}")

    def open(self, address: str) -> None:
        """Open *address* and wait until it is loaded."""
        self._read = self._log.stat().st_size
        self._ask("/url", {"url": address})

    def evaluate(self, expression: str) -> Any:
        """The value of *expression* in the page, which may be a promise."""
        script = (
            "const done = arguments[0];"
            f"(async () => JSON.stringify(await ({expression})) ?? 'null')().then(done, "
            "(error) => done(JSON.stringify({thrown: String(error)})));"
        )
        found = json.loads(self._ask("/execute/async", {"script": script, "args": []}))
        assert not (isinstance(found, dict) and "thrown" in found), found
        return found

    def click(self, selector: str) -> None:
        """Click on what *selector* finds, as a person does."""
        told = {"using": "css selector", "value": selector}
        [element] = self._ask("/element", told).values()
        self._ask(f"/element/{element}/click", {})

    def said(self) -> list[str]:
        """The messages on the console, and errors nobody caught."""
        text = self._log.read_bytes()[self._read :].decode("utf-8", "replace")
        return [line for line in text.splitlines() if line.startswith("CONSOLE ")]

    def close(self) -> None:
        """End the session, and the browser with it."""
        self._ask("", None, "DELETE")


@contextmanager
def webkit() -> Iterator[WebKit]:
    """A WebKitGTK with a mock microphone, on a screen that is not there."""
    driver = program("WebKitWebDriver", "webkit2gtk-driver")
    browsers = [found for each in MINI_BROWSERS for found in Path("/").glob(each[1:])]
    if not browsers:
        pytest.fail("WebKit's MiniBrowser is missing: apt-get install libwebkit2gtk-4.1-0.")
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
        settings = stack.enter_context(sound_server(folder))
        screen, log = folder / "screen", folder / "log"
        written = stack.enter_context(screen.open("w"))
        command = [
            program("Xvfb", "xvfb"),
            "-displayfd",
            "1",
            "-nolisten",
            "tcp",
            "-screen",
            "0",
            "1400x1000x24",
        ]
        shown = stack.enter_context(running(command, stdout=written, stderr=subprocess.DEVNULL))
        display = line_with(shown, r"(\d+)\n", screen)[1]
        environment = {
            **os.environ, **settings, "HOME": str(folder), "DISPLAY": f":{display}",
            "XDG_RUNTIME_DIR": str(folder), "NO_AT_BRIDGE": "1", "GDK_BACKEND": "x11",
        }  # fmt: skip
        port = _free_port()
        output = stack.enter_context(log.open("w"))
        stack.enter_context(
            running([driver, f"--port={port}"], env=environment, stdout=output, stderr=output)
        )
        address = f"http://127.0.0.1:{port}"
        _wait_for(f"{address}/status")
        found = WebKit(address, str(browsers[0]), log)
        stack.callback(found.close)
        yield found


def _free_port() -> int:
    import socket

    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _wait_for(address: str) -> None:
    until = time.monotonic() + START_S
    while True:
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310  our own address
                return
        except OSError:
            assert time.monotonic() < until, f"{address} does not answer"
            time.sleep(0.1)
