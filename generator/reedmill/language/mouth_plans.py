"""Plans for the mouth read from outside a pattern, in the words of its embouchure line."""

from __future__ import annotations

import re

from reedmill.base.errors import InputError, close_match
from reedmill.language.words import MAX_PLANS
from reedmill.score.score import Embouchure, LipShape

_HOLDS = {hold.short: hold for hold in LipShape}
_SPLIT = re.compile(r"anchors (?P<anchors>[a-z ]+?) ?, ?rungs (?P<rungs>[a-z ]+)")
_BETWEEN = re.compile(r" or |,(?! ?rungs\b)")  # the other comma is inside a plan
_MOST_CHARACTERS = 1_000  # of all plans; nine of the longest take some 400


def parse_plan(text: str) -> Embouchure:
    """Parse an embouchure plan: one hold, or one for anchors and one for rungs.

    ``InputError`` with the nearest hold for anything else.

    >>> parse_plan("anchors tongue left, rungs lips").label
    'anchors tongue block, tongue to the left; rungs lip purse'
    """
    words = " ".join(text.lower().split())
    found = _SPLIT.fullmatch(words)
    if found:
        return Embouchure(_hold(found["anchors"]), _hold(found["rungs"]))
    return Embouchure(_hold(words), _hold(words))


def parse_plans(*texts: str) -> tuple[Embouchure, ...]:
    """Parse plans with ``or`` or commas between; each once, in order.

    ``InputError`` as ``parse_plan``, and for more than ``MAX_PLANS``.

    >>> [plan.short for plan in parse_plans("lips or anchors tongue left, rungs lips", "Lips")]
    ['lips', 'anchors tongue left rungs lips']
    """
    said = [" ".join(text.lower().split()) for text in texts]
    pieces = [piece.strip() for text in said for piece in _BETWEEN.split(text[:_MOST_CHARACTERS])]
    if len(pieces) > MAX_PLANS or any(len(text) > _MOST_CHARACTERS for text in said):
        raise InputError(
            f"{len(pieces)} plans for the mouth are more than there are. Write at most {MAX_PLANS}."
        )
    return tuple(dict.fromkeys(map(parse_plan, pieces)))


def _hold(words: str) -> LipShape:
    if words not in _HOLDS:
        raise InputError(
            f'there is no embouchure "{words:.60}".{close_match(words[:60], _HOLDS)} '
            "Write lips, tongue left or tongue right, or one for each: "
            "anchors tongue left, rungs lips"
        )
    return _HOLDS[words]
