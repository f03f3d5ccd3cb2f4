"""The instrument: layouts as tables, and the reeds, bends and overbends they give."""

from reedmill.harp.harp import HARP_KEYS, Harp, HarpNote, hear
from reedmill.harp.layouts import HOLES, LAYOUTS, RICHTER, Layout, layout_named
from reedmill.harp.reeds import Breath, Kind, Reed, bend_depth, bending_breath, overbend

__all__ = [
    "HARP_KEYS",
    "HOLES",
    "LAYOUTS",
    "RICHTER",
    "Breath",
    "Harp",
    "HarpNote",
    "Kind",
    "Layout",
    "Reed",
    "bend_depth",
    "bending_breath",
    "hear",
    "layout_named",
    "overbend",
]
