"""Sentences on a student's rungs: which moved, which did not, and which is furthest out.

A change is spoken of where the trend is certain, and where by the trend as well as by the tries
themselves the newest week differs from the first by ``HEARD_CENTS``: less is hardly heard, and
among many rungs a few trends look certain by chance.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from reedmill.record import CellProgress, StudentProgress, Trend
from reedmill.record.rung_progress import LEAST_DAYS, RungCell
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

HEARD_CENTS = 5.0
"""The change that is spoken of: about the least that a listener notices (common practice)."""

_LEAST_TOLD = 0.05  # cents a week: less is 0.0 in words
_MOST_NAMED = 3  # rungs in a sentence


def approach_words(cell: RungCell) -> str:
    """Return a rung and what it is reached from: ``-3'' from -2``."""
    return f"{cell.tab} from {cell.came_from or 'a start'}"


def where_words(cell: RungCell, *, short: bool = False) -> str:
    """Return the harp and position of a rung: ``C harp, 2nd position``.

    Where it is to be *short*, ``C harp, 2nd``.
    """
    place = Position(cell.position).ordinal
    return f"{with_signs(cell.harp_words)} harp, {place}{'' if short else ' position'}"


def mostly_words(cents: float | None) -> str:
    """Return which way tries lie: ``14 sharp``; ``not heard`` where none had a pitch.

    >>> mostly_words(13.6), mostly_words(-0.2)
    ('14 sharp', '0')
    """
    if cents is None:
        return "not heard"
    near = round(abs(cents))
    return f"{near} {'sharp' if cents > 0 else 'flat'}" if near else "0"


def told_progress(found: StudentProgress) -> list[str]:
    """Return the sentences that tell what moved, what did not, and what is furthest out."""
    if not found.cells:
        return ["No note of a take was heard clearly yet."]
    tried = [each for each in found.cells if each.trend is not None]
    if not tried:
        return [_too_few(found), _furthest(found.cells[0])]
    nearer = sorted(filter(comes_nearer, tried), key=_change)
    further = sorted(filter(goes_further, tried), key=_change, reverse=True)
    return [
        *_moved("nearer to", nearer),
        *_moved("further from", further),
        *_rest(found.cells, len(nearer) + len(further)),
        _furthest(found.cells[0]),
    ]


def comes_nearer(each: CellProgress) -> bool:
    """Tell whether a rung certainly came nearer, and so far that it is heard."""
    return _certain(each, -1)


def goes_further(each: CellProgress) -> bool:
    """Tell whether a rung certainly went further out, and so far that it is heard."""
    return _certain(each, 1)


def _certain(each: CellProgress, way: int) -> bool:
    if each.trend is None or not each.trend.certain:
        return False
    first, last = (date.fromisoformat(each.weeks[at].monday) for at in (0, -1))
    by_trend = each.trend.cents_a_week * (last - first).days / 7
    return min(way * by_trend, way * _change(each)) >= HEARD_CENTS


def trend_words(each: CellProgress) -> str:
    """Return in words how a rung moves, in cents a week, or why nothing is said of that."""
    trend = each.trend
    if trend is None:
        return f"only {_days(each.days)}: too few to tell"
    if not trend.certain:
        return "no sure change"
    if abs(trend.cents_a_week) < _LEAST_TOLD:
        return "hardly any change"
    return f"{abs(trend.cents_a_week):.1f} {'nearer' if trend.cents_a_week < 0 else 'further out'}"


def interval_words(trend: Trend | None) -> str:
    """Return within what a trend lies 90 times of 100: ``4.6 to 6.1``; nothing for none."""
    if trend is None or max(abs(trend.low), abs(trend.high)) < _LEAST_TOLD:
        return ""
    if not trend.certain:
        return f"{_signed(trend.low)} to {_signed(trend.high)}"
    low, high = sorted((abs(trend.low), abs(trend.high)))
    return f"{low:.1f} to {high:.1f}"


def _signed(cents: float) -> str:
    said = f"{cents:+.1f}".replace("-", "\N{MINUS SIGN}")
    return said if said[1:] != "0.0" else "0.0"


def _change(each: CellProgress) -> float:
    """Return how many cents further out a rung was in its newest week than in its first."""
    return each.weeks[-1].out_cents - each.weeks[0].out_cents


def _moved(how: str, rungs: Sequence[CellProgress]) -> Iterator[str]:
    if not rungs:
        return
    named = [
        f"{_placed(each.cell)}, {each.weeks[0].out_cents:.0f} cents out in its first week and "
        f"{each.weeks[-1].out_cents:.0f} in its newest"
        for each in rungs[:_MOST_NAMED]
    ]
    more = len(rungs) - len(named)
    if more:
        named.append(f"and {more} more")
    its = "its place" if len(rungs) == 1 else "their places"
    yield f"{how.capitalize()} {its}: {'; '.join(named)}."


def _rest(cells: Sequence[CellProgress], moved: int) -> Iterator[str]:
    still = sum(each.trend is not None for each in cells) - moved
    new = sum(each.trend is None for each in cells)
    if still:
        which = _others(still) if moved else _rungs(still)
        yield f"{which} {_show(still)} no change that is sure and large enough to hear."
    if new:
        yield f"{_rungs(new)} {_were(new)} tried on too few days to tell."


def _rungs(many: int) -> str:
    return f"{many} {'rung' if many == 1 else 'rungs'}"


def _others(many: int) -> str:
    return "The other rung" if many == 1 else f"The other {many} rungs"


def _show(many: int) -> str:
    return "shows" if many == 1 else "show"


def _were(many: int) -> str:
    return "was" if many == 1 else "were"


def _furthest(each: CellProgress) -> str:
    last = each.weeks[-1]
    newest = f"; {last.out_cents:.0f} in its newest week" if len(each.weeks) > 1 else ""
    side = "" if each.median_cents is None else f", mostly {mostly_words(each.median_cents)}"
    return (
        f"Furthest out over all tries: {_placed(each.cell)}, {each.out_cents:.0f} cents"
        f"{side}{newest}."
    )


def _too_few(found: StudentProgress) -> str:
    return (
        f"{_days(found.days).capitalize()} of practice say nothing yet of a trend: a rung's way is "
        f"told from {LEAST_DAYS} days on."
    )


def _placed(cell: RungCell) -> str:
    return f"{approach_words(cell)} ({where_words(cell, short=True)})"


def _days(many: int) -> str:
    return f"{many} {'day' if many == 1 else 'days'}"
