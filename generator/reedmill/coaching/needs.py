"""The gain of a further try of each rung, by what is known of a student.

A try gains a share of what its rung is out beyond its place; and it tells how far out the rung
is, which gains most where little is known and much is to be feared: who does not know where a
student is weak has to listen first.  The sizes are common practice of teachers, no published
source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

from reedmill.coaching.estimating import TRY_SD_CENTS, Estimate, LearnedRung
from reedmill.harp import Reed
from reedmill.score.verdicts import Tolerance

_IN_TUNE_CENTS = Tolerance().on_cents

_LEARNED = 0.02  # of what it is out beyond its place, a try takes off
_CERTAINTY = 0.2  # cents of practice that a cent of certainty is worth
_AGAIN = 0.95  # of the gain of the try before, for each further try in an evening
_KEPT_CENTS = 0.1  # beyond its place that a rung counts at least: what is good is kept
_NEW_CENTS = 1.0  # that a rung counts which was never heard: what is wanting comes before it
_DUE_CENTS = 4.0  # that a rung counts further out when it is due again
_FAR_CENTS = 10.0  # beyond its place is far: there urgency and cents are the same number
_LEAST_SD = 0.5  # of an estimate, in cents: nothing is known better
_NORMAL = NormalDist()


@dataclass(frozen=True)
class Needs:
    """The estimates of a student's rungs, and those that are due again."""

    known: Mapping[LearnedRung, Estimate]
    due: Collection[LearnedRung] = ()

    def gain(self, rung: LearnedRung, tries: float, done: float = 0.0) -> float:
        """Return what so many *tries* of *rung* gain in cents, after those *done* tonight."""
        beyond, sd, feared = self._parts[rung]
        share = (_AGAIN**done - _AGAIN ** (done + tries)) / (1 - _AGAIN)
        told = _sd_after(sd, done) - _sd_after(sd, done + tries)
        return float(_LEARNED * beyond * share + _CERTAINTY * told * feared)

    @cached_property
    def _parts(self) -> dict[LearnedRung, tuple[float, float, float]]:
        """Return of each rung how far beyond its place it is likely to be, and how sure that is.

        The second is a standard deviation, both in cents; the third the chance of it at all.
        """
        return {rung: self._of(rung, found) for rung, found in self.known.items()}

    def _of(self, rung: LearnedRung, found: Estimate) -> tuple[float, float, float]:
        above = found.cents - _IN_TUNE_CENTS + (_DUE_CENTS if rung in self.due else 0.0)
        sd = max(found.sd, _LEAST_SD)
        chance = _NORMAL.cdf(above / sd)
        # the mean square of a normal's part above 0: twice as far out is four times as urgent
        square = (above**2 + sd**2) * chance + above * sd * _NORMAL.pdf(above / sd)
        if not found.tries:  # how far out it is, is a guess: a survey hears it
            return _NEW_CENTS, sd, 0.0
        return max(_KEPT_CENTS, square / _FAR_CENTS), sd, chance

    def said_of(self, rung: LearnedRung) -> str:
        """Return what is known of *rung* in words, the register left to whoever names the harp."""
        found = self.known[rung]
        words = learned_words(rung)
        if not found.tries:
            return f"{words}: not heard yet"
        if found.cents > _IN_TUNE_CENTS:
            return f"{words}: about {found.cents:.0f} cents out"
        return f"{words}: {'due again' if rung in self.due else 'in tune'}"

    def is_wanting(self, rung: LearnedRung) -> bool:
        """Return True where *rung* was heard and is not in place, or due again."""
        found = self.known[rung]
        return bool(found.tries) and (found.cents > _IN_TUNE_CENTS or rung in self.due)


def _sd_after(sd: float, tries: float) -> float:
    """Return the standard deviation *sd* of an estimate after some more tries."""
    return float((sd**-2 + tries / TRY_SD_CENTS**2) ** -0.5)


def learned_words(rung: LearnedRung) -> str:
    """Return a rung and the note before it in words.

    >>> learned_words(LearnedRung("-3''", "-2", "low"))
    'draw 3 bent two semitones, from draw 2'
    """
    before = f", from {Reed.parse(rung.came_from).words}" if rung.came_from else ""
    return f"{Reed.parse(rung.tab).words}{before}"
