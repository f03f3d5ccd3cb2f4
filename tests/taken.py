"""Takes as data without any sound, for tests of what is kept of them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

WANTED_HZ = 440.0


def note(index: int, tab: str, came_from: str | None, cents: float | None) -> dict[str, Any]:
    """A note that was tried; without cents it was missed."""
    verdict = "missed"
    if cents is not None:
        side = "sharp" if cents > 0 else "flat"
        verdict = "on" if abs(cents) <= 10 else "near" if abs(cents) <= 25 else side
    heard = cents is not None
    return {
        "index": index, "tab": tab, "role": "rung", "from": came_from, "wanted_hz": WANTED_HZ,
        "start_s": index * 1.0 if heard else None, "end_s": index + 0.9 if heard else None,
        "hz": round(WANTED_HZ * 2 ** (cents / 1200), 3) if cents is not None else None,
        "cents": cents, "cents_from_anchor": cents, "steadiness_cents": 2.0 if heard else None,
        "found_after_s": 0.05 if heard else None, "early_ms": 0 if heard else None,
        "verdict": verdict,
    }  # fmt: skip


def take(
    tries: Iterable[tuple[str, str | None, float | None]],
    *,
    recorded: str | None = "2027-01-31T18:05:00Z",
    harp: str = "C",
    position: int = 2,
    title: str = "Home from every rung",
    tempo: int = 56,
) -> dict[str, Any]:
    """A take of one pass with these tries: tab, the tab before, cents."""
    notes = [note(number, *each) for number, each in enumerate(tries)]
    return {
        "reedmill_take": 1, "recorded": recorded,
        "drill": {"title": title, "source_sha256": None}, "harp": harp, "position": position,
        "tuning": "richter", "intonation": "equal", "reference_hz": 440.0, "tempo": tempo,
        "tempo_heard": tempo - 2.0, "harp_cents": 0.0, "tolerance": {"on": 10, "near": 25},
        "sound": {"seconds": 20.0, "level_dbfs": -20.0, "noise_dbfs": -60.0, "clipped_share": 0.0},
        "passes": [{"start_s": 0.0, "end_s": float(len(notes)), "notes": notes}],
        "extra": [], "by_rung": [], "advice": [],
    }  # fmt: skip


def kept_in(path: Path, takes: list[dict[str, Any]]) -> Path:
    """A file as ``hear --json`` prints it."""
    path.write_text(json.dumps({"takes": takes}), "utf-8")
    return path
