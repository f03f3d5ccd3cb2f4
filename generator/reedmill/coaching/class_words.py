"""The words of a class overview, on a terminal and on a page alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reedmill.coaching.class_overview import ENOUGH_OF_REGISTER, RegisterNeed
from reedmill.coaching.estimating import LearnedRung


def place_words(place: LearnedRung) -> str:
    """Return a place as it is said to a teacher.

    >>> place_words(LearnedRung("-3'", "-2", "low"))
    "-3' from -2 on low harps"
    """
    return f"{place.tab} from {place.came_from} on {place.register} harps"


def days_words(days: int) -> str:
    """Return how long ago something was.

    >>> days_words(0), days_words(1), days_words(12)
    ('today', 'yesterday', '12 days ago')
    """
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def need_words(needs: Sequence[RegisterNeed]) -> Iterator[str]:
    """Yield what a student needs, register by register.

    >>> list(need_words([RegisterNeed("low", "A", 14.2, "middle")]))
    ['low harps (A), about 14 cents further out than middle ones']
    """
    new = [each for each in needs if each.further_cents is None]
    if new:
        registers = " or ".join(f"{each.register}{_by_name(each)}" for each in new)
        yield f"a {registers} harp, with fewer than {ENOUGH_OF_REGISTER} tries so far"
    for each in needs:
        if each.further_cents is not None:
            yield (
                f"{each.register} harps{_by_name(each)}, about {each.further_cents:.0f} cents "
                f"further out than {each.than} ones"
            )


def _by_name(need: RegisterNeed) -> str:
    return f" ({need.harp})" if need.harp else ""
