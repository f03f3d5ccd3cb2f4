"""The ten tasks as they were heard: what each came to, which rung fell out, and the level.

A task asks for its bends, or, where it has none, for all of its notes.  It is passed with seven of
ten of them in place; a note that was missed is not in place, one that was unclear does not count.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

from reedmill.base.errors import InputError
from reedmill.base.text import same_title
from reedmill.coaching.level_model import (
    ENOUGH_CLEAR,
    LEVELS,
    PASSED_SHARE,
    LevelFound,
    TaskCount,
    find_level,
    share_bounds,
)
from reedmill.harp import Harp, Reed, ReedKind
from reedmill.harp.harp_registers import REGISTERS, register
from reedmill.library import Shelved, placement_tasks
from reedmill.record.kept_take import KeptTake, Try
from reedmill.record.record_book import PlayedTake
from reedmill.score.verdicts import Tolerance, Verdict


@dataclass(frozen=True, slots=True)
class RungCount:
    """A note that a task asks for: how often it was told, and how often it was in place."""

    tab: str
    tries: int
    in_place: int

    @property
    def fell_out(self) -> bool:
        """True when fewer than seven of ten were in place, of two at least."""
        return self.tries > 1 and self.in_place < PASSED_SHARE * self.tries


@dataclass(frozen=True)
class TaskHeard:
    """One of the ten tasks, and what was heard of it."""

    number: int  # 1 to 10
    task: Shelved
    rungs: tuple[RungCount, ...]  # as far as they were told, in the order of the task
    unclear: int  # notes that could not be told
    takes: int

    @property
    def level(self) -> int:
        """The level it asks for."""
        return self.task.drill.level or LEVELS[0]

    @property
    def tries(self) -> int:
        """The notes that could be told."""
        return sum(each.tries for each in self.rungs)

    @property
    def in_place(self) -> int:
        """The notes of these that were in tune or nearly."""
        return sum(each.in_place for each in self.rungs)

    @property
    def is_told(self) -> bool:
        """True when enough of its notes could be told."""
        return self.tries >= ENOUGH_CLEAR

    @property
    def passed(self) -> bool:
        """True when seven of ten were in place."""
        return self.is_told and self.in_place >= PASSED_SHARE * self.tries

    @property
    def bounds(self) -> tuple[float, float]:
        """The shares between which the true one is likely to lie; 0 and 1 for no try."""
        return share_bounds(self.in_place, self.tries) if self.tries else (0.0, 1.0)

    @property
    def fallen(self) -> tuple[RungCount, ...]:
        """The bends that fell out."""
        return tuple(each for each in self.rungs if each.fell_out and not _is_natural(each.tab))


@dataclass(frozen=True)
class Placement:
    """The level of a player by the ten tasks."""

    found: LevelFound
    tasks: tuple[TaskHeard, ...]  # all ten
    harps: tuple[Harp, ...]  # they were played on, that of most takes first
    registers: Mapping[str, Placement]  # of harps, each by its own takes, where they tell a level

    @property
    def level(self) -> int:
        """The level."""
        return self.found.level

    @property
    def untold(self) -> tuple[TaskHeard, ...]:
        """The tasks of which nothing can be said."""
        return tuple(each for each in self.tasks if not each.is_told)

    @property
    def doubtful(self) -> tuple[TaskHeard, ...]:
        """The tasks whose outcome does not go with the level: one of them may be a bad take."""
        return tuple(each for each in self.tasks if each.is_told and self._is_odd(each))

    def _is_odd(self, task: TaskHeard) -> bool:
        above = task.level > self.found.between[1] and task.passed
        return above or (task.level < self.found.between[0] and not task.passed)

    def on(self, harp: Harp) -> Placement:
        """Return the placement on harps of the register of *harp*; this one where none is told."""
        return self.registers.get(register(harp), self)

    @cached_property
    def fallen(self) -> Mapping[str, RungCount]:
        """The bends up to the level that fell out, by their tab."""
        return {
            rung.tab: rung
            for task in self.tasks
            if task.level <= self.level
            for rung in task.fallen
        }


def place_player(
    takes: Iterable[KeptTake], of_registers: Iterable[KeptTake] | None = None
) -> Placement:
    """Return the level that *takes* of the ten tasks tell; others are passed over.

    *of_registers* tell the level on high, middle and low harps, each by itself: *takes* too, where
    there are none of their own.  ``InputError`` where *takes* tell of no task.
    """
    takes = tuple(takes)
    tasks = _tasks_heard(takes)
    if not any(each.is_told for each in tasks):
        raise InputError(
            "none of the ten tasks was heard with enough clear notes, so no level can be told. "
            "Play them once more, close to the microphone."
        )
    return _placement(takes, tasks, _by_register(takes if of_registers is None else of_registers))


def _tasks_heard(takes: Iterable[KeptTake]) -> tuple[TaskHeard, ...]:
    by_number: dict[int, list[KeptTake]] = {}
    for take in takes:
        number = task_number(take.title)
        if number is not None:
            by_number.setdefault(number, []).append(take)
    return tuple(
        _heard(number, each, by_number.get(number, ()))
        for number, each in enumerate(placement_tasks(), start=1)
    )


def _placement(
    takes: Iterable[KeptTake], tasks: tuple[TaskHeard, ...], registers: Mapping[str, Placement]
) -> Placement:
    counts = [TaskCount(each.level, each.tries, each.in_place) for each in tasks]
    played = Counter(take.harp for take in takes if task_number(take.title) is not None)
    harps = tuple(harp for harp, _ in played.most_common())
    return Placement(find_level(counts), tasks, harps, registers)


def _by_register(takes: Iterable[KeptTake]) -> dict[str, Placement]:
    """Return the placement on the harps of each register, high ones first, where takes tell one."""
    found: dict[str, Placement] = {}
    takes = tuple(takes)
    for name in REGISTERS:
        own = [each for each in takes if register(each.harp) == name]
        tasks = _tasks_heard(own)
        if any(each.is_told for each in tasks):
            found[name] = _placement(own, tasks, {})
    return found


def newest_takes(played: Iterable[PlayedTake]) -> list[KeptTake]:
    """Return the newest take of each of the ten tasks, of takes in the order of playing."""
    return list(_newest(played, lambda _: ""))


def newest_by_register(played: Iterable[PlayedTake]) -> list[KeptTake]:
    """Return the newest take of each task on the harps of each register, likewise."""
    return list(_newest(played, lambda take: register(take.harp)))


def _newest(played: Iterable[PlayedTake], apart: Callable[[KeptTake], str]) -> Iterator[KeptTake]:
    """Yield the newest take of each task among those that *apart* says the same of."""
    newest: dict[tuple[int, str], KeptTake] = {}
    for each in played:
        number = task_number(each.take.title)
        if number is not None:
            newest[number, apart(each.take)] = each.take
    yield from (newest[key] for key in sorted(newest))


def task_number(title: str) -> int | None:
    """Return which of the ten tasks is called *title*, ``None`` for another drill.

    >>> task_number("Task 1, long notes"), task_number("Count to four")
    (1, None)
    """
    return _numbers().get(same_title(title))


@cache
def _numbers() -> Mapping[str, int]:
    return {
        same_title(each.drill.title): number
        for number, each in enumerate(placement_tasks(), start=1)
    }


def asked_tabs(task: Shelved) -> tuple[str, ...]:
    """Return the tabs of the notes that *task* asks for: its bends, or else all of its notes."""
    reeds = dict.fromkeys(note.reed for note in task.score.notes)
    bent = [reed for reed in reeds if reed.kind is not ReedKind.NATURAL]
    return tuple(reed.tab for reed in bent or reeds)


def _heard(number: int, task: Shelved, takes: Sequence[KeptTake]) -> TaskHeard:
    tries = [each for take in takes for each in take.tries]
    clear = [each for each in tries if each.verdict is not Verdict.UNCLEAR]
    counts = Counter(each.tab for each in clear)
    placed = Counter(each.tab for each in clear if _in_place(each))
    asked = asked_tabs(task)
    rungs = tuple(RungCount(tab, counts[tab], placed[tab]) for tab in asked if counts[tab])
    unclear = sum(each.verdict is Verdict.UNCLEAR and each.tab in asked for each in tries)
    return TaskHeard(number, task, rungs, unclear, len(takes))


def _in_place(one: Try) -> bool:
    """Tell whether a note was in tune or nearly, however strictly its take was heard."""
    near = one.cents is not None and abs(one.cents) <= Tolerance().near_cents
    return near and one.verdict.measured


def _is_natural(tab: str) -> bool:
    return Reed.parse(tab).kind is ReedKind.NATURAL
