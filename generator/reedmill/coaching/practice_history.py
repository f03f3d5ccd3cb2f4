"""The takes of one student as practice is planned from them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from statistics import median

from reedmill.coaching.estimating import LearnedRung, estimates, tallies
from reedmill.coaching.needs import Needs
from reedmill.coaching.recalling import Recall, recalls
from reedmill.harp import Harp
from reedmill.harp.harp_registers import register
from reedmill.record.kept_take import LEAST_NOTES, KeptTake
from reedmill.record.record_book import PlayedTake
from reedmill.record.rung_progress import out_of_place
from reedmill.score.verdicts import Verdict
from reedmill.theory.positions import Position

_USUAL_POSITION = 2
_RECENT = 3  # takes that tell how it goes now
_DAY_S = 86_400


@dataclass(frozen=True)
class PastTake:
    """A take: of which drill, on which harp, how fast, and how each rung came out."""

    title: str
    harp: Harp
    position: int
    at: datetime  # in UTC
    tempo: float  # beats a minute, as it was heard
    in_place: float  # share of its notes, of which it has ``LEAST_NOTES`` at least
    tries: tuple[tuple[LearnedRung, float], ...]
    """Each rung that was come to from another note, and how many cents out it was."""

    @classmethod
    def of(cls, played: PlayedTake) -> PastTake:
        """Return the take *played*; what was unclear in it tells nothing."""
        take = played.take
        clear = [each.verdict for each in take.tries if each.verdict is not Verdict.UNCLEAR]
        return cls(
            take.title, take.harp, take.position, datetime.fromisoformat(played.played),
            float(take.data["tempo_heard"] or take.data["tempo"]),
            sum(each.in_place for each in clear) / max(LEAST_NOTES, len(clear)),
            tuple(_tries(take)),
        )  # fmt: skip

    @property
    def register(self) -> str:
        """The register of the harp."""
        return register(self.harp)


def _tries(take: KeptTake) -> Iterator[tuple[LearnedRung, float]]:
    for one in take.tries:
        rung = LearnedRung(one.tab, one.came_from, take.register)
        if rung.is_reached and one.verdict is not Verdict.UNCLEAR:
            yield rung, out_of_place(one)


@dataclass(frozen=True)
class PracticeHistory:
    """The takes of a student, the oldest first, as of a moment."""

    takes: tuple[PastTake, ...]
    now: datetime  # in UTC

    @classmethod
    def of(cls, takes: Iterable[PlayedTake], now: datetime) -> PracticeHistory:
        """Return the history that *takes* tell of."""
        return cls(tuple(map(PastTake.of, takes)), now)

    @property
    def harps(self) -> dict[str, Harp]:
        """The harp played last in each register."""
        return {each.register: each.harp for each in self.takes}

    @property
    def position(self) -> Position:
        """The position that was played most, the lower of two; cross harp where none was."""
        counts = Counter(each.position for each in self.takes)
        most = max(counts, key=lambda each: (counts[each], -each), default=_USUAL_POSITION)
        return Position(most)

    @cached_property
    def by_title(self) -> dict[str, list[PastTake]]:
        """The takes of each drill."""
        found: dict[str, list[PastTake]] = {}
        for each in self.takes:
            found.setdefault(each.title, []).append(each)
        return found

    @cached_property
    def recalls(self) -> dict[LearnedRung, Recall]:
        """The schedule of each rung."""
        return dict(recalls(
            (rung, each.at.date(), out) for each in self.takes for rung, out in each.tries
        ))  # fmt: skip

    def tempo(self, rung: LearnedRung) -> float | None:
        """Return the tempo at which *rung* was tried in the newest takes; ``None`` if never."""
        return self._tempi.get(rung)

    @cached_property
    def _tempi(self) -> dict[LearnedRung, float]:
        """The middle tempo of the newest takes of each rung."""
        found: dict[LearnedRung, list[float]] = {}
        for each in self.takes:
            for rung in dict.fromkeys(rung for rung, _ in each.tries):
                found.setdefault(rung, []).append(each.tempo)
        return {rung: median(tempi[-_RECENT:]) for rung, tempi in found.items()}

    def needs(self, rungs: Iterable[LearnedRung]) -> Needs:
        """Return what is known of *rungs* and of every rung that was heard."""
        heard = [
            (rung, out, (self.now - each.at).total_seconds() / _DAY_S)
            for each in self.takes
            for rung, out in each.tries
        ]
        every = list(dict.fromkeys([*rungs, *(rung for rung, _, _ in heard)]))
        today = self.now.date()
        due = frozenset(rung for rung, found in self.recalls.items() if found.due <= today)
        return Needs(estimates(tallies(heard), every), due)
