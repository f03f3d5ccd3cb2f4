"""An evening for one student: what his takes tell, the drills there are, and the plan of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.base.errors import InputError
from reedmill.base.ranges import EVENING_MINUTES
from reedmill.coaching.needs import Needs, learned_words
from reedmill.coaching.offered_drills import (
    at_their_tempo,
    level,
    of_the_library,
    one_each,
    written_for,
)
from reedmill.coaching.planning import PracticeBlock, plan
from reedmill.coaching.practice_history import PracticeHistory
from reedmill.harp import Harp
from reedmill.theory.positions import Position

_USUAL_HARP = "C"
_NAMED = 3  # rungs in a reason


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
        """Return the reason for *block*, as a sentence without its full stop; empty for none."""
        wanting = [rung for rung in block.aims if self.needs.is_wanting(rung)]
        new = [rung for rung in block.aims if not self.needs.known[rung].tries]
        said = [self.needs.said_of(rung) for rung in wanting[:_NAMED]]
        if new:
            more = f" and {len(new) - 1} more" if len(new) > 1 else ""
            said.append(f"new: {learned_words(new[0])}{more}")
        kept = [f"{learned_words(rung)}: to keep it" for rung in block.aims[:1]]
        return "; ".join(said or kept)


def evening(
    history: PracticeHistory, minutes: float, harps: Sequence[Harp] = (),
    position: Position | None = None,
) -> Evening:  # fmt: skip
    """Return what to practise for *minutes* after *history*, on *harps*: else those he has played.

    Without *position* it is the one he has played most.  Raises ``InputError`` for minutes that
    are not in ``EVENING_MINUTES``.
    """
    if not EVENING_MINUTES[0] <= minutes <= EVENING_MINUTES[-1]:
        raise InputError(
            f"{minutes:g} minutes cannot be planned. Choose from {EVENING_MINUTES[0]} to "
            f"{EVENING_MINUTES[-1]}."
        )
    chosen = one_each(harps) or history.harps or one_each([Harp(_USUAL_HARP)])
    place = position or history.position
    offers = [offer for harp in chosen.values() for offer in of_the_library(history, harp, place)]
    needs = history.needs(rung for each in offers for rung in each.tries)
    offers = [at_their_tempo(each, history, needs) for each in offers]
    reached = level(history)
    met = {rung for each in offers if each.level <= reached for rung in each.tries}
    if history.takes:  # who begins has the library to begin with
        for harp in chosen.values():
            offers += written_for(history, needs, harp, place, met)
    return Evening(plan(offers, needs, minutes, history.now.toordinal()), needs)
