"""Draws the icons of a pack: ``python scripts/icons.py`` (Pillow is among the tests' packages).

Ten holes in a row, as on the covers, with the bends of a Richter harp under and over them.  What
is maskable may be cut to any shape: a launcher shows at least the circle of 80 % of its width
(W3C, Web Application Manifest, icon masks), and everything drawn lies in it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from PIL import Image, ImageDraw

ASSETS = Path(__file__).parents[1] / "generator/reedmill/pack/site/assets"
GROUND, INK, BEND = (33, 94, 33), (255, 255, 255), (143, 208, 143)  # those of the pages
# Semitones that each hole bends, down from its draw note or its blow note (Richter tuning).
DRAW_BENDS, BLOW_BENDS = (1, 2, 3, 1, 0, 1, 0, 0, 0, 0), (0, 0, 0, 0, 0, 0, 0, 1, 1, 2)
FINE = 4  # drawn larger and made smaller, for smooth corners
ICONS = {
    "icon-192.png": (192, False),
    "icon-512.png": (512, False),
    "icon-maskable-512.png": (512, True),
}


def icon(size: int, *, maskable: bool) -> Image.Image:
    """The icon with an edge of *size* pixels."""
    edge = size * FINE
    image = Image.new("RGBA", (edge, edge), (*GROUND, 255 if maskable else 0))
    draw = ImageDraw.Draw(image)
    if not maskable:
        draw.rounded_rectangle((0, 0, edge - 1, edge - 1), edge * 0.18, fill=GROUND)
    wide = edge * (0.64 if maskable else 0.8)
    for box, colour in _boxes(wide / 10):
        left, top, right, bottom = (each + edge / 2 for each in box)
        draw.rounded_rectangle((left, top, right, bottom), wide * 0.01, fill=colour)
    return image.resize((size, size), Image.Resampling.LANCZOS)


def _boxes(step: float) -> Iterator[tuple[tuple[float, float, float, float], tuple[int, ...]]]:
    """Left, top, right and bottom of each box from the middle, and its colour."""
    gap = step * 0.14
    for hole in range(10):
        left = (hole - 5) * step + gap / 2
        for row in range(-BLOW_BENDS[hole] - 1, DRAW_BENDS[hole] + 2):
            if row:
                top = (row - 0.5) * step + gap / 2
                box = (left, top, left + step - gap, top + step - gap)
                yield box, INK if abs(row) == 1 else BEND


def main() -> int:
    """Write all icons."""
    for name, (size, maskable) in ICONS.items():
        icon(size, maskable=maskable).save(ASSETS / name, optimize=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
