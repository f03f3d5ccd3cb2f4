"""Where the files that come with Reedmill are: drills, forms and feels."""

from __future__ import annotations

from pathlib import Path


def patterns_dir() -> Path:
    """Their folder: inside the installed package, or in a checkout's root."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "patterns"
    return inside if inside.is_dir() else package.parents[1] / "patterns"
