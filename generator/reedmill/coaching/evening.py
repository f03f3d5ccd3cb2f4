"""An evening for one student: what his takes tell, the drills there are, and the plan of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.base.errors import InputError
from reedmill.coaching.needs import Needs
from reedmill.coaching.offered_drills import of_the_library, one_each, written_for
from reedmill.coaching.planning import PracticeBlock, plan
from reedmill.coaching.practice_history import PracticeHistory
from reedmill.harp import Harp
from reedmill.theory.positions import Position

MINUTES = range(3, 121)
"""What an evening may last."""

_USUAL_HARP = "C"


@dataclass(frozen=True)
class Evening:
    """Blocks of practice in order, and what is known of the rungs they are about."""

    blocks: tuple[PracticeBlock, ...]
    needs: Needs

    @property
    def minutes(self) -> float:
        """The time all of it takes, rests included."""
        return sum(each.seconds for each in self.blocks) / 60

    def why(self, block: PracticeBlock) -> str:
        """Return the reason for *block*, as a sentence without its full stop."""
        return "; ".join(self.needs.said_of(rung) for rung in block.aims)


def evening(
    history: PracticeHistory, minutes: float, harps: Sequence[Harp] = (),
    position: Position | None = None,
) -> Evening:  # fmt: skip
    """Return what to practise for *minutes* after *history*, on *harps*: else those he has played.

    Without *position* it is the one he has played most.  Raises ``InputError`` for minutes that
    are not in ``MINUTES``.
    """
    if not MINUTES[0] <= minutes <= MINUTES[-1]:
        raise InputError(
            f"{minutes:g} minutes cannot be planned. Choose from {MINUTES[0]} to {MINUTES[-1]}."
        )
    chosen = one_each(harps) or history.harps or one_each([Harp(_USUAL_HARP)])
    place = position or history.position
    offers = [offer for harp in chosen.values() for offer in of_the_library(history, harp, place)]
    needs = history.needs(rung for each in offers for rung in each.tries)
    for harp in chosen.values():
        offers += written_for(history, needs, harp, place)
    return Evening(plan(offers, needs, minutes, history.now.toordinal()), needs)
