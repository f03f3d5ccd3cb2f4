"""Where the files that come with Reedmill are: drills, forms, feels and courses."""

from __future__ import annotations

from pathlib import Path


def patterns_dir() -> Path:
    """The folder of drills, forms and feels."""
    return _shipped("patterns")


def courses_dir() -> Path:
    """The folder of shipped courses."""
    return _shipped("courses")


def _shipped(name: str) -> Path:
    """A folder inside the installed package, or in a checkout's root."""
    package = Path(__file__).resolve().parents[1]
    inside = package / name
    return inside if inside.is_dir() else package.parents[1] / name
