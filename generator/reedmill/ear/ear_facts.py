"""Facts by which another program hears a score as this room does: constants, reeds and words.

The practice page has the same logic in JavaScript.  Every figure and sentence that has a name
here reaches it through these data, so that none is written down twice.
"""

from __future__ import annotations

import sys
from math import isfinite

from reedmill.base.json_schema import Schema
from reedmill.ear.advice_words import SENTENCES
from reedmill.ear.hear import STRICT, expected_of, slow_slides
from reedmill.ear.judge import sounding_reeds
from reedmill.ear.other_harps import cents_above, harps_like
from reedmill.ear.take_json import TAKE_SCHEMA, head_data
from reedmill.harp import Harp, Reed, bending_breath
from reedmill.score.score import Score

_MODULES = ("take", "track", "events", "align", "harp_tuning", "judge", "hear", "advice")


def ear_facts(score: Score) -> Schema:
    """Return all that hearing takes of *score* rests on, as plain data for JSON."""
    expected = expected_of(score)
    return {
        "constants": {each: _constants(each) for each in _MODULES},
        "words": SENTENCES,
        "reeds": [_reed(score, reed, at) for reed, at in sounding_reeds(score.harp, score)],
        "possible_hz": [round(hz, 4) for hz in expected.possible_hz],
        "slides": [list(cents) for cents in slow_slides(score)],
        "range_hz": [round(expected.lowest_hz, 4), round(expected.highest_hz, 4)],
        "harps": _harps(score.harp),
        "tolerance": {"on": STRICT.on_cents, "near": STRICT.near_cents},
        "head": head_data(score),
        "schema": _brief(TAKE_SCHEMA),
    }


def _constants(module: str) -> dict[str, object]:
    """Return the numbers *module* names in capitals, without the underscore of private ones."""
    named = vars(sys.modules[f"{__package__}.{module}"])
    return {
        name.lstrip("_"): list(value) if isinstance(value, tuple) else value
        for name, value in named.items()
        if name.isupper() and _plain(value)
    }


def _plain(value: object) -> bool:
    """Return whether *value* is a number for JSON, or several; a bool is an int to Python."""
    if isinstance(value, tuple):
        return bool(value) and all(_plain(each) for each in value)
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def _reed(score: Score, reed: Reed, cents: float) -> Schema:
    bends = bending_breath(score.harp.layout, reed.hole) is reed.breath
    return {
        "tab": reed.tab,
        "words": reed.words,
        "kind": reed.kind.value,
        "bends": bends,
        "cents": round(cents, 4),
    }


def _harps(harp: Harp) -> list[list[str | int]]:
    """Return *harp* and all others with its layout: each name, and its cents above *harp*."""
    return [[each.spoken, round(cents_above(each, harp))] for each in harps_like(harp)]


def _brief(schema: object) -> object:
    """Strip *schema* of descriptions, which are for readers, and of what a page takes for granted.

    Fields that are named have to be there and no others, unless it says which have to.
    """
    if isinstance(schema, list):
        return [_brief(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    said = {name: value for name, value in schema.items() if not _granted(schema, name, value)}
    return {name: _brief(value) for name, value in said.items()}


def _granted(schema: Schema, name: str, value: object) -> bool:
    match name:
        case "description" | "$schema":
            return isinstance(value, str)
        case "additionalProperties":
            return value is False
        case "required":
            return value == list(schema.get("properties", {}))
        case _:
            return False
