"""A path through the library from a level: its drills in order, each with one new thing at most.

What is learned next is the next bend of the ladder (``rung_ladder``) that was not met: the drill
that brings it and nothing else new, two more that have it, and one in which nothing is bent.  When
no bend is left that a drill brings alone, the other drills follow, two with bends and one without
in turn, and last those that bring several new things at once.  A technique that was not met is a
new thing too.  The proportions are common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import cycle

from reedmill.base.errors import InputError
from reedmill.coaching.level_model import LEVELS
from reedmill.coaching.placement import RungCount, asked_tabs
from reedmill.coaching.rung_ladder import STAGE_LEVELS, BendToLearn, bend_to_learn
from reedmill.expand import expand
from reedmill.harp import Harp, Reed, ReedKind
from reedmill.library import Shelved, placement_tasks, practice_shelf
from reedmill.score.score import Score
from reedmill.theory.positions import Position

_MORE_OF_IT = 2  # drills that have a bend, after the one that brings it
_FIRST_TOPICS = ("home", "tones", "approach")  # where a bend is best met
_OF_BENDS = {"single notes", "draw bend", "blow bend", "overbend", "quarter tone"}
_MOST_NAMED = 2  # notes that a rung is reached from

Approach = tuple[str, str]
"""The tab of a note and of the bend that is reached from it."""


@dataclass(frozen=True)
class PathStep:
    """A drill of a path and what is new in it."""

    title: str
    topic: str
    level: int
    harp: str
    position: int
    tempo: int  # beats a minute
    new: tuple[str, ...]  # the tabs of bends that are met for the first time
    fallen: tuple[RungCount, ...]  # bends that fell out of the tasks, and come first here
    begins: tuple[str, ...]  # techniques that begin here
    why: str  # in a line


def learning_path(
    level: int, harp: Harp, positions: Sequence[Position],
    fallen: Mapping[str, RungCount] | None = None,
) -> tuple[PathStep, ...]:  # fmt: skip
    """Return the drills from *level* up to one above it, in the order to take them.

    They are those that *harp* can play in one of the *positions*.  What *fallen* names by its tab
    is learned once more, with the drills of lower levels too.  ``InputError`` for another level.
    """
    if level not in LEVELS:
        raise InputError(f"there are levels {LEVELS[0]} to {LEVELS[-1]}, and {level} is not one.")
    fallen = fallen or {}
    walk = _Walk(fallen, _met(level, fallen), _techniques_below(level))
    walk.left = [
        each for each in _items(harp, positions)
        if level <= each.level <= level + 1 or (each.level < level and each.tabs & fallen.keys())
    ]  # fmt: skip
    return tuple(walk.steps())


def _met(level: int, fallen: Collection[str]) -> set[BendToLearn]:
    """Return what a player of *level* has met: what tasks ask for, and all stages below."""
    asked = {
        each
        for task in placement_tasks() if (task.drill.level or 1) <= level
        for each in _bends(map(Reed.parse, asked_tabs(task)))
    }  # fmt: skip
    every = {each for drill in practice_shelf() for each in _bends(_reeds(drill.score))}
    below = {each for each in every if STAGE_LEVELS[each.stage] < level}
    return (asked | below) - set(_bends(map(Reed.parse, fallen)))


def _techniques_below(level: int) -> set[str]:
    drills = (each for each in practice_shelf() if (each.drill.level or 1) < level)
    return {name for each in drills for name in each.techniques}


def _bends(reeds: Iterable[Reed]) -> Iterator[BendToLearn]:
    yield from filter(None, map(bend_to_learn, reeds))


def _reeds(score: Score) -> Iterator[Reed]:
    for note in score.notes:
        yield from note.reeds


# --- the drills ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Item:
    """A drill that may be a step."""

    number: int  # on the shelf
    shelved: Shelved
    score: Score
    bends: frozenset[BendToLearn]
    techniques: frozenset[str]
    tabs: frozenset[str]

    @property
    def level(self) -> int:
        return self.shelved.drill.level or 1

    @property
    def rank(self) -> tuple[object, ...]:
        """The order of drills that are alike otherwise."""
        topic = self.shelved.topic
        first = _FIRST_TOPICS.index(topic) if topic in _FIRST_TOPICS else len(_FIRST_TOPICS)
        return self.level, len(self.bends), first, self.number

    @property
    def approaches(self) -> tuple[Approach, ...]:
        """Each note before a bend that is practised, with that bend."""
        return tuple(
            (before.tab, reed.tab)
            for before, reed in self.shelved.approaches
            if reed.kind is not ReedKind.NATURAL or reed.quarter
        )


def _items(harp: Harp, positions: Sequence[Position]) -> Iterator[_Item]:
    for number, each in enumerate(practice_shelf()):
        score = _playable(each, harp, positions)
        if score is not None:
            reeds = tuple(dict.fromkeys(_reeds(score)))
            yield _Item(
                number, each, score, frozenset(_bends(reeds)),
                frozenset(each.techniques) - _OF_BENDS, frozenset(reed.tab for reed in reeds),
            )  # fmt: skip


def _playable(shelved: Shelved, harp: Harp, positions: Sequence[Position]) -> Score | None:
    """Return the drill in the first of *positions* that it is meant for and the harp can play."""
    meant = shelved.drill.positions
    for position in positions:
        if not meant or position.number in meant:
            try:
                return expand(shelved.drill, harp, position)
            except InputError:
                continue
    return None


# --- the walk --------------------------------------------------------------------------------


@dataclass
class _Walk:
    """A walk along the drills that are left, with what was met on the way."""

    fallen: Mapping[str, RungCount]
    met: set[BendToLearn]
    techniques: set[str]
    left: list[_Item] = field(default_factory=list)
    came: set[Approach] = field(default_factory=set)

    def steps(self) -> Iterator[PathStep]:
        """Yield every drill that is left, in order."""
        while (thing := self._next_bend()) is not None:
            yield from self._learn(thing)
        turns = cycle((True, True, False))
        while self.left:
            bent = next(turns)
            item = (
                self._best(lambda each: self._news(each) < 2 and bool(each.bends) is bent)  # noqa: B023
                or self._best(lambda each: self._news(each) < 2)
                or min(self.left, key=lambda each: (self._news(each), each.rank))
            )
            yield self._take(item)

    def _news(self, item: _Item) -> int:
        """Return how many new things *item* brings."""
        return len(item.bends - self.met) + len(item.techniques - self.techniques)

    def _best(self, fits: Callable[[_Item], bool]) -> _Item | None:
        return min(filter(fits, self.left), key=lambda each: each.rank, default=None)

    def _next_bend(self) -> BendToLearn | None:
        """Return the next bend that a drill brings alone."""
        alone = (each.bends - self.met for each in self.left if self._news(each) == 1)
        return min((thing for bends in alone for thing in bends), default=None)

    def _learn(self, thing: BendToLearn) -> Iterator[PathStep]:
        """Yield the drill that brings *thing*, more that have it, and one without bends."""
        bring = [each for each in self.left
                 if self._news(each) == 1 and thing in each.bends - self.met]  # fmt: skip
        first = min(bring, key=lambda each: each.rank)
        topics = {first.shelved.topic}
        yield self._take(first)
        for _ in range(_MORE_OF_IT):
            more = [each for each in self.left if thing in each.bends and self._is_plain(each)]
            if more:
                item = min(more, key=lambda each: (each.shelved.topic in topics, each.rank))
                topics.add(item.shelved.topic)
                yield self._take(item)
        rest = self._best(lambda each: not each.bends and self._news(each) < 2)
        if rest is not None:
            yield self._take(rest)

    def _is_plain(self, item: _Item) -> bool:
        """Tell whether nothing is new in *item* but one technique at most."""
        return item.bends <= self.met and self._news(item) < 2

    def _take(self, item: _Item) -> PathStep:
        """Take *item* as the next step: what it has is met from now on."""
        new = [
            reed.tab
            for reed in dict.fromkeys(_reeds(item.score))
            if (thing := bend_to_learn(reed)) is not None and thing not in self.met
        ]
        begins = [name for name in item.shelved.techniques
                  if name in item.techniques - self.techniques]  # fmt: skip
        fallen = [self.fallen[tab] for tab in new if tab in self.fallen]
        why = _why(item, new, fallen, begins, self.came)
        self.left.remove(item)
        self.met |= item.bends
        self.techniques |= item.techniques
        self.came |= set(item.approaches)
        return PathStep(
            item.shelved.drill.title, item.shelved.topic, item.level, item.score.harp.full_name,
            item.score.position.number, item.score.tempo_bpm,
            tuple(tab for tab in new if tab not in self.fallen), tuple(fallen), tuple(begins), why,
        )  # fmt: skip


# --- the reason ------------------------------------------------------------------------------


def _why(
    item: _Item, new: Sequence[str], fallen: Sequence[RungCount], begins: Sequence[str],
    came: Collection[Approach],
) -> str:  # fmt: skip
    """Return in a line why *item* is a step."""
    out = {each.tab for each in fallen}
    said = [f"{each.tab} fell out ({each.in_place} of {each.tries} in place)" for each in fallen]
    fresh = [tab for tab in new if tab not in out]
    if fresh:
        said.append(f"new: {_in_words(fresh)}")
    if begins:
        said.append(f"{_in_words(begins)} {'begins' if len(begins) == 1 else 'begin'} here")
    if not new:
        said.append(_of_what_is_met(item, came))
    return "; ".join(said)


def _of_what_is_met(item: _Item, came: Collection[Approach]) -> str:
    """Return what a drill does with bends that were met, or, where nothing bends, its purpose."""
    about = item.shelved.drill.about or item.shelved.topic
    if not item.bends:
        return about
    hardest = max(item.bends)
    tabs = sorted(tab for tab in item.tabs if bend_to_learn(Reed.parse(tab)) == hardest)
    fresh = (each for each in item.approaches if each not in came)
    ways = dict.fromkeys(before for before, tab in fresh if tab in tabs and before != tab)
    if ways:
        return f"{_in_words(tabs)} again, now from {_in_words(list(ways)[:_MOST_NAMED])}"
    return f"{_in_words(tabs)} again. {about}"


def _in_words(names: Sequence[str]) -> str:
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last
