"""An evening of practice: which drills, on which harp, how often, and why.

The most urgent rung comes next (``needs``), in the drill that gains most for its time.  Blocks of
a few minutes with a rest after each, something easy first and a piece of music last, are common
practice of teachers, no published source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum

from reedmill.coaching.estimating import LearnedRung
from reedmill.coaching.needs import Needs

REST_S = 30.0
"""The rest after each block, of lips, jaw and breath."""

_BETWEEN_S = 4.0  # after each pass
_WRITTEN = 0.7  # of its gain counts of a drill that had to be written: the library is more musical
_MOST_PASSES = 4
_LEAST_BLOCK_S, _MOST_BLOCK_S = 90.0, 180.0  # a rung takes so long; lips last no longer
_FRAME_SHARE, _WARM_UP_S, _MUSIC_S = 0.25, 120.0, 120.0
_MUSIC_SHARE = 0.15  # of a long evening
_MOST_OF_ONE = 3  # blocks about the same rung: lips and ears tire
_FASTER_SHARE = 0.2
_FROM_MINUTES = 6.0  # a shorter evening has no room for more than what it is about
_MANY = 4  # rungs never heard that are worth a survey


class EveningPart(Enum):
    """The part of an evening that a block is."""

    WARM_UP = "warm-up"
    SURVEY = "survey"
    RUNGS = "rungs"
    FASTER = "faster"
    MUSIC = "music"


@dataclass(frozen=True)
class Offer:
    """A drill on a harp as it may be practised."""

    title: str
    harp: str
    position: int
    tempo: int
    seconds: float  # of one pass
    level: int = 1
    tries: Mapping[LearnedRung, int] = field(default_factory=dict)  # of bent notes in one pass
    music: bool = False  # a piece to end with
    faster_than: int = 0  # the tempo at which it is in place, where this one is the next
    pattern: str = ""  # the text of a drill that was written for this
    survey: bool = False  # written to hear where rungs lie of which nothing is known


@dataclass(frozen=True)
class PracticeBlock:
    """One thing to practise, and then a rest."""

    part: EveningPart
    offer: Offer
    passes: int
    aims: tuple[LearnedRung, ...] = ()
    """The rungs it is for, the most urgent first."""

    @property
    def seconds(self) -> float:
        """The time it takes, with the moments between passes and the rest after them."""
        return self.passes * (self.offer.seconds + _BETWEEN_S) + REST_S


def plan(
    offers: Sequence[Offer], needs: Needs, minutes: float, turn: int = 0
) -> tuple[PracticeBlock, ...]:
    """Return what to practise in *minutes*, in order; never more than that, and maybe nothing.

    *turn* is another number each evening: equally good things to warm up with take turns by it.
    """
    left_s = 60.0 * minutes
    if minutes < _FROM_MINUTES:
        return _by_harp(_rungs(offers, needs, left_s, set(), {}))
    first = tuple(_warm_up(offers, min(_WARM_UP_S, _FRAME_SHARE * left_s), turn))
    first += tuple(_survey(offers, left_s - _lasts_s(first)))
    left_s -= _lasts_s(first)
    music_s = max(_MUSIC_SHARE * left_s, min(_MUSIC_S, _FRAME_SHARE * left_s))
    faster = tuple(_faster(offers, _FASTER_SHARE * left_s))
    left_s -= _lasts_s(faster)
    taken = {_named(each.offer) for each in (*first, *faster)}
    heard = {rung: count for each in first for rung, count in each.offer.tries.items()}
    rungs = _by_harp(_rungs(offers, needs, left_s - music_s, taken, heard))
    left_s = min(left_s - _lasts_s(rungs), music_s + _MUSIC_S)
    last = _music(offers, needs, left_s, (*first, *faster, *rungs))
    return (*first, *rungs, *faster, *last)


def _lasts_s(blocks: Iterable[PracticeBlock]) -> float:
    return sum(each.seconds for each in blocks)


def _named(offer: Offer) -> tuple[str, str]:
    return offer.title, offer.harp


def _warm_up(offers: Sequence[Offer], most_s: float, turn: int) -> Iterator[PracticeBlock]:
    """Yield something easy without bends, if one of *offers* is short enough."""
    easy = [each for each in offers
            if not each.tries and not each.music and not each.faster_than]  # fmt: skip
    blocks = [block for each in easy if (block := _repeated(EveningPart.WARM_UP, each, most_s))]
    lowest = min((each.offer.level for each in blocks), default=0)
    easiest = sorted((each for each in blocks if each.offer.level == lowest), key=_order)
    if easiest:
        yield easiest[turn % len(easiest)]


def _repeated(part: EveningPart, offer: Offer, most_s: float) -> PracticeBlock | None:
    """Return *offer* as often as makes a block of a minute and a half, within *most_s*."""
    best = None
    for passes in range(1, _MOST_PASSES + 1):
        block = PracticeBlock(part, offer, passes)
        if block.seconds > most_s:
            break
        best = block
        if block.seconds >= _LEAST_BLOCK_S:
            break
    return best


def _order(block: PracticeBlock) -> tuple[str, str]:
    return block.offer.title, block.offer.harp


def _survey(offers: Sequence[Offer], most_s: float) -> Iterator[PracticeBlock]:
    """Yield the survey of most rungs, where they are many."""
    found = [each for each in offers if each.survey and len(each.tries) >= _MANY]
    for offer in sorted(found, key=lambda each: (-len(each.tries), each.harp))[:1]:
        block = PracticeBlock(EveningPart.SURVEY, offer, 1, tuple(sorted(offer.tries, key=str)))
        if block.seconds <= most_s:
            yield block


def _faster(offers: Sequence[Offer], most_s: float) -> Iterator[PracticeBlock]:
    """Yield the drill that is ready for a faster tempo and was slowest, if there is one."""
    ready = [each for each in offers if each.faster_than]
    for offer in sorted(ready, key=lambda each: (each.tempo, each.title, each.harp)):
        for passes in (2, 1):
            block = PracticeBlock(EveningPart.FASTER, offer, passes)
            if block.seconds <= most_s:
                yield block
                return


def _music(
    offers: Sequence[Offer], needs: Needs, most_s: float, before: Collection[PracticeBlock]
) -> Iterator[PracticeBlock]:
    """Yield pieces, those with most of what came *before* first, then those best in tune."""
    titles = {each.offer.title for each in before}
    aims = {rung for each in before for rung in each.aims}
    pieces = [each for each in offers if each.music and each.title not in titles]
    blocks = [found for each in pieces if (found := _repeated(EveningPart.MUSIC, each, most_s))]

    def order(block: PracticeBlock) -> tuple[object, ...]:
        used = block.offer.tries
        out = [needs.known[rung].cents for rung in used]
        heard = sum(needs.known[rung].tries > 0 for rung in used)
        return (
            -len(aims & used.keys()), heard < len(used), sum(out) / len(out) if out else 0.0,
            *_order(block),
        )  # fmt: skip

    for block in sorted(blocks, key=order):
        if block.seconds <= most_s and block.offer.title not in titles:
            yield block
            titles.add(block.offer.title)
            most_s -= block.seconds


def _rungs(
    offers: Sequence[Offer], needs: Needs, left_s: float, taken: Collection[tuple[str, str]],
    heard: Mapping[LearnedRung, int],
) -> Iterator[PracticeBlock]:  # fmt: skip
    """Yield blocks while one fits, each about the rung that then is the most urgent.

    *heard* are the tries that there are tonight before them.
    """
    done, taken, about = Counter(heard), set(taken), Counter[LearnedRung]()
    while True:
        fitting = [each for each in offers if _is_about_rungs(each) and _named(each) not in taken]
        tired = {rung for rung, times in about.items() if times >= _MOST_OF_ONE}
        block = _next_block(fitting, needs, done, left_s, tired)
        if block is None:
            return
        yield block
        about[block.aims[0]] += 1
        taken.add(_named(block.offer))
        left_s -= block.seconds
        for rung, count in block.offer.tries.items():
            done[rung] += count * block.passes


def _by_harp(blocks: Iterable[PracticeBlock]) -> tuple[PracticeBlock, ...]:
    """Return *blocks* with those on one harp together: each change of harp costs time."""
    several: dict[str, list[PracticeBlock]] = {}
    for each in blocks:
        several.setdefault(each.offer.harp, []).append(each)
    return tuple(each for blocks_on_one in several.values() for each in blocks_on_one)


def _is_about_rungs(offer: Offer) -> bool:
    return bool(offer.tries) and not offer.faster_than and not offer.survey


def _next_block(
    offers: Sequence[Offer], needs: Needs, done: Mapping[LearnedRung, int], left_s: float,
    tired: Collection[LearnedRung],
) -> PracticeBlock | None:  # fmt: skip
    """Return the block about the most urgent rung, the *tired* ones left out, that has one."""

    def order(rung: LearnedRung) -> tuple[float, str]:
        return -needs.gain(rung, 2, done[rung]), str(rung)

    there = {rung for each in offers for rung in each.tries}
    for rung in sorted(there.difference(tired), key=order):
        best = _best([each for each in offers if rung in each.tries], needs, done, left_s)
        if best is not None:
            others = sorted((each for each in best.offer.tries if each != rung), key=order)
            return replace(best, aims=(rung, *others))
    return None


def _best(
    offers: Sequence[Offer], needs: Needs, done: Mapping[LearnedRung, int], left_s: float
) -> PracticeBlock | None:
    """Return the block that gains most for its time, or ``None`` where none fits."""
    best, most = None, 0.0
    for offer in offers:
        for passes in range(1, _MOST_PASSES + 1):
            block = PracticeBlock(EveningPart.RUNGS, offer, passes)
            if block.seconds > min(left_s, _MOST_BLOCK_S):
                break
            if block.seconds < _LEAST_BLOCK_S and passes < _MOST_PASSES:
                continue
            gained = sum(
                needs.gain(rung, count * passes, done[rung]) for rung, count in offer.tries.items()
            )
            a_second = gained * (_WRITTEN if offer.pattern else 1.0) / block.seconds
            if a_second > most + 1e-9:
                best, most = block, a_second
    return best
