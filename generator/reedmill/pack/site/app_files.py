"""The files that make a pack an app: web app manifest, icons and service worker.

On a phone a pack from an address with https can be put on the home screen, and after the first
visit it needs no network.  The worker (``generator/page/offline``) stands beside the index page,
so that its scope is the pack's folder; it brings the list of the pack's files with their hashes,
and is therefore another one whenever a file is.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files as package_files

from reedmill.pack.pages.chapter import Front
from reedmill.pack.site.manifest import PackFile

APP_MANIFEST = "app.webmanifest"
WORKER = "offline.js"
ICONS = (
    ("icon-192.png", 192, "any"),
    ("icon-512.png", 512, "any"),
    ("icon-maskable-512.png", 512, "maskable"),
)
_PAPER, _ACCENT = "#ffffff", "#215e21"  # as in site.css
_FIRST_KINDS = {"page", "practice-page", "app-manifest", "icon", "tab"}
MOST_PICTURES = 20_000_000
"""Bytes of all pictures of sheets that are kept at the first visit: half a minute on a phone."""


def app_manifest(front: Front) -> bytes:
    """Return the web app manifest (W3C) of the pack with this *front*."""
    named = {
        "name": f"{front.title} ({front.student})" if front.student else front.title,
        "description": front.about,
        "dir": "auto",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": _PAPER,
        "theme_color": _ACCENT,
        "icons": [
            {"src": name, "sizes": f"{edge}x{edge}", "type": "image/png", "purpose": purpose}
            for name, edge, purpose in ICONS
        ],
    }
    return json.dumps(named, ensure_ascii=False, indent=1).encode() + b"\n"


@cache
def packaged(name: str) -> bytes:
    """Return the bytes of one of our own icons or bundled programs."""
    return (package_files("reedmill.pack.site") / "assets" / name).read_bytes()


def service_worker(files: Iterable[PackFile]) -> bytes:
    """Return the worker that keeps *files*: all of an edition but itself and what is about it.

    Its cache is named by a hash of what it keeps and of its own program.
    """
    rows = sorted(files, key=lambda each: each.path)
    first = _kept_first(rows)
    listed = [[each.path, each.sha256, each.size, int(each.path in first)] for each in rows]
    program = packaged(WORKER)
    told = json.dumps(listed, ensure_ascii=True, separators=(",", ":")).encode()
    name = hashlib.sha256(told + program).hexdigest()[:16]
    return b'self.REEDMILL_PACK={"hash":"%s","files":%s};\n' % (name.encode(), told) + program


def _kept_first(rows: Sequence[PackFile]) -> set[str]:
    """Return the paths that are kept at the first visit.

    Pages, and pictures of sheets where they are not too much; of eight weeks 10 MB of 150.
    """
    pictures = [each for each in rows if each.kind == "sheet-png"]
    few = sum(each.size for each in pictures) <= MOST_PICTURES
    return {each.path for each in rows if each.kind in _FIRST_KINDS} | {
        each.path for each in pictures if few
    }
