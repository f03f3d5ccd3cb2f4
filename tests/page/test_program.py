"""The program of the practice page, tested by Node's own test runner where Node is installed.

Its sources lie in ``generator/page``; what is bundled of them in the package.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import reedmill

PACKAGE = Path(reedmill.__file__).parent
SOURCES = PACKAGE.parent / "page"
SENT = ("fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "EventSource", "RTCPeer")
OBEYED = (
    "innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "Function(",
)  # fmt: skip
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
    assert [each for each in (*SENT, *OBEYED) if each in bundle] == []


@pytest.mark.parametrize("name", ["install.js", "offline.js"])
def test_of_a_pack_its_worker_alone_asks_the_network_and_nothing_writes_html(name: str) -> None:
    bundle = (PACKAGE / "pack" / "site" / "assets" / name).read_text("utf-8")
    sent = [each for each in SENT if each in bundle]
    assert sent == (["fetch("] if name == "offline.js" else [])
    assert [each for each in OBEYED if each in bundle] == []


def test_the_bundles_are_those_of_these_sources() -> None:
    """By the digests that were noted when they were made; .ci/run makes them anew besides."""
    told = json.loads((SOURCES / "bundled.json").read_bytes())
    sources = {
        path.relative_to(SOURCES).as_posix()
        for folder in ("src", "offline")
        for path in (SOURCES / folder).rglob("*.js")
    }
    assert set(told["sources"]) == sources
    places = {SOURCES / name: noted for name, noted in told["sources"].items()}
    places |= {PACKAGE / name: noted for name, noted in told["bundles"].items()}
    other = [
        path.relative_to(PACKAGE.parent).as_posix()
        for path, noted in places.items()
        if hashlib.sha256(path.read_bytes()).hexdigest() != noted
    ]
    assert other == [], "run node bundle.mjs in generator/page"
