"""The instrument: layouts as tables, and their reeds, bends and overbends."""

from reedmill.harp.harp import HARP_KEYS, Harp, HarpNote, note_on_harp
from reedmill.harp.layouts import HOLES, LAYOUTS, RICHTER, Layout, layout_named
from reedmill.harp.own_reeds import OwnHarp, OwnReeds
from reedmill.harp.reeds import (
    Breath,
    Reed,
    ReedKind,
    bend_depth,
    bending_breath,
    hole_rungs,
    overbend,
)

__all__ = [
    "HARP_KEYS",
    "HOLES",
    "LAYOUTS",
    "RICHTER",
    "Breath",
    "Harp",
    "HarpNote",
    "Layout",
    "OwnHarp",
    "OwnReeds",
    "Reed",
    "ReedKind",
    "bend_depth",
    "bending_breath",
    "hole_rungs",
    "layout_named",
    "note_on_harp",
    "overbend",
]
