"""The program of the practice page, tested by Node's own test runner where Node is installed.

Its sources lie in ``generator/page``; what is bundled of them in the package.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

import reedmill

PACKAGE = Path(reedmill.__file__).parent
SOURCES = PACKAGE.parent / "page"
BUNDLE = PACKAGE / "page" / "assets" / "page.js"


def test_pitch_and_time_are_right_in_the_sources() -> None:
    node = shutil.which("node")
    if node is None:
        pytest.fail(
            "The page's program is tested by Node 20 or newer. Install it: apt-get install nodejs "
            "(Debian, Ubuntu), dnf install nodejs (Fedora), brew install node (macOS)."
        )
    done = subprocess.run(
        [node, "--test", str(SOURCES / "test")], capture_output=True, text=True, timeout=300,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert re.search(r"^# pass [1-9]", done.stdout, re.MULTILINE)


def test_the_bundle_asks_no_network_and_writes_no_html() -> None:
    """What reaches the page from a stranger is text; nothing of the page may send."""
    bundle = BUNDLE.read_text("utf-8")
    sent = ("fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "EventSource", "RTCPeer")
    obeyed = (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "Function(",
    )
    assert [each for each in (*sent, *obeyed) if each in bundle] == []


@pytest.mark.parametrize("module", [
    "pitch", "voice", "timeline", "ladder", "listen", "resting", "takes", "modes", "ear/hear",
    "take/form", "take/history", "take/latency", "take/recorder", "take/summing",
])  # fmt: skip
def test_no_figure_of_a_source_is_missing_from_the_bundle(module: str) -> None:
    """A bundle that was not made anew lacks what the sources say: their texts tell."""
    texts = re.findall(
        r"'([A-Z][^'\\\n]{20,})'", (SOURCES / "src" / f"{module}.js").read_text("utf-8")
    )
    bundle = BUNDLE.read_text("utf-8")
    assert [text for text in texts if text not in bundle] == [], (
        "the bundle is not what the sources say: run node bundle.mjs in generator/page"
    )
