"""Embouchure plans in the words of the pattern language."""

from __future__ import annotations

from reedmill.score.score import Embouchure


def format_plan(plan: Embouchure | None) -> str:
    """Return *plan* as the embouchure line has it; empty where there is none.

    >>> from reedmill.language.mouth_plans import parse_plan
    >>> format_plan(parse_plan("Anchors tongue left,rungs lips"))
    'anchors tongue left, rungs lips'
    """
    if plan is None:
        return ""
    if not plan.split:
        return plan.rungs.short
    return f"anchors {plan.anchors.short}, rungs {plan.rungs.short}"
