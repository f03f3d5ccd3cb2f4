"""The places of the files that come with Reedmill: drills, forms, feels and courses."""

from __future__ import annotations

from pathlib import Path


def patterns_dir() -> Path:
    """Return the folder of drills, forms and feels."""
    return _shipped("patterns")


def courses_dir() -> Path:
    """Return the folder of shipped courses."""
    return _shipped("courses")


def _shipped(name: str) -> Path:
    """Return a folder inside the installed package, or in the root of a checkout."""
    package = Path(__file__).resolve().parents[1]
    inside = package / name
    return inside if inside.is_dir() else package.parents[1] / name
