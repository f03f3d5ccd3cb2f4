"""Embouchure plans in the words of the pattern language."""

from __future__ import annotations

import re

from reedmill.base.errors import InputError, close_match
from reedmill.score.score import Embouchure, LipShape

_HOLDS = {hold.short: hold for hold in LipShape}
_SPLIT = re.compile(r"anchors (?P<anchors>[a-z ]+?) ?, ?rungs (?P<rungs>[a-z ]+)")


def parse_plan(text: str) -> Embouchure:
    """Parse an embouchure plan: one hold, or one for anchors and one for rungs.

    >>> parse_plan("anchors tongue left, rungs lips").label
    'anchors tongue block, tongue to the left; rungs lip purse'
    """
    words = " ".join(text.lower().split())
    found = _SPLIT.fullmatch(words)
    if found:
        return Embouchure(_hold(found["anchors"]), _hold(found["rungs"]))
    return Embouchure(_hold(words), _hold(words))


def format_plan(plan: Embouchure | None) -> str:
    """Return *plan* as ``parse_plan`` reads it; empty where there is none.

    >>> format_plan(parse_plan("Anchors tongue left,rungs lips"))
    'anchors tongue left, rungs lips'
    """
    if plan is None:
        return ""
    if not plan.split:
        return plan.rungs.short
    return f"anchors {plan.anchors.short}, rungs {plan.rungs.short}"


def _hold(words: str) -> LipShape:
    if words not in _HOLDS:
        raise InputError(
            f'there is no embouchure "{words:.60}".{close_match(words, _HOLDS)} '
            "Write lips, tongue left or tongue right, or one for each: "
            "anchors tongue left, rungs lips"
        )
    return _HOLDS[words]
