"""The instrument: layouts as tables, and the reeds, bends and overbends they give."""

from reedmill.harp.harp import HARP_KEYS, Harp, HarpNote, hear
from reedmill.harp.layouts import HOLES, LAYOUTS, RICHTER, Layout, layout_named
from reedmill.harp.own_harp import read_own_harp
from reedmill.harp.own_reeds import OwnHarp, OwnReeds
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
    "OwnHarp",
    "OwnReeds",
    "Reed",
    "bend_depth",
    "bending_breath",
    "hear",
    "layout_named",
    "overbend",
    "read_own_harp",
]
