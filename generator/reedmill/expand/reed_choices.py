"""The choices of reeds in a tune: where there was one, and what decided it.

Notes that only one reed gives part a tune into stretches that do not depend on each other.  In
each stretch the way that is played is set beside the best one that is different.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import groupby, pairwise

from reedmill.expand.fingering import (
    BEND_COST,
    BREATH_COST,
    HOLE_COST,
    OVERBEND_COST,
    QUARTER_COST,
    QUICK_BEND_COST,
    QUICK_S,
    Target,
    beside_reeds,
    fingerings,
    target_reeds,
)
from reedmill.harp import Harp, Reed
from reedmill.harp.together import OneBreath, holes_tab
from reedmill.theory.degrees import Degree
from reedmill.theory.pitch import Pitch


class Decided(Enum):
    """The reason for one of two ways."""

    EASIER = "easier"
    HOME = "home"  # a phrase ends on its home reed, though another would be easier
    SLIDE = "slide"  # the other way cannot slide
    EQUAL = "equal"  # the other way is as easy


@dataclass(frozen=True, slots=True)
class Effort:
    """The work of a player, each thing counted; ``cost`` is their weighted sum."""

    holes: int = 0  # the mouth moves by
    breaths: int = 0  # turns of the breath
    bend_semitones: int = 0
    quarter_tones: int = 0
    quick_bends: int = 0
    overbends: int = 0

    @property
    def cost(self) -> int:
        """The sum by the weights of ``fingering``."""
        return (
            HOLE_COST * self.holes
            + BREATH_COST * self.breaths
            + BEND_COST * self.bend_semitones
            + QUARTER_COST * self.quarter_tones
            + QUICK_BEND_COST * self.quick_bends
            + OVERBEND_COST * self.overbends
        )


@dataclass(frozen=True, slots=True)
class ReedChoice:
    """A stretch of a tune with another way to play it, and why it was not taken.

    Reeds and efforts are of the notes that differ and of their neighbours; ``at`` counts the
    notes of the tune from 0.  Efforts are of the highest hole of a breath, as the cost is.
    """

    at: tuple[int, ...]  # the notes that differ
    played: tuple[OneBreath, ...]
    instead: tuple[OneBreath, ...]
    decided: Decided
    effort: Effort
    instead_effort: Effort


@dataclass(frozen=True, slots=True)
class PlacedChoice:
    """A choice with the beats at which its notes start, and what degrees they are."""

    starts: tuple[Fraction, ...]
    degrees: tuple[str, ...]  # of each breath, as ``degrees_name`` has them
    choice: ReedChoice


@dataclass(frozen=True, slots=True)
class WhyReeds:
    """The reasons for the reeds of a tune: its root, its cost, and every choice there was."""

    root: Pitch  # that degree 1 is
    cost: int
    choices: tuple[PlacedChoice, ...]


def degrees_name(degrees: Sequence[Degree]) -> str:
    """Return rising degrees of one breath as a tune has them: ``+`` from the next root up.

    >>> degrees_name([Degree(1), Degree(5)]), degrees_name([Degree(3), Degree(1), Degree(3)])
    ('1&5', '3&1+&3+')
    """
    names, octave = [degrees[0].name], 0
    for before, degree in pairwise(degrees):
        octave += degree.semitones <= before.semitones
        names.append(degree.name + "+" * octave)
    return "&".join(names)


def effort_of(reeds: Sequence[Reed], targets: Sequence[Target]) -> Effort:
    """Return the effort of playing *targets* on *reeds*.

    >>> effort_of([Reed.parse("-2"), Reed.parse("4")], [Target(67, 1.0), Target(72, 1.0)])
    Effort(holes=2, breaths=1, bend_semitones=0, quarter_tones=0, quick_bends=0, overbends=0)
    """
    moves = [
        (here, there)
        for (here, there), target in zip(pairwise(reeds), targets[1:], strict=True)
        if not target.after_rest
    ]
    bent = [
        (reed, target)
        for reed, target in zip(reeds, targets, strict=True)
        if reed.bend or reed.quarter
    ]
    return Effort(
        holes=sum(abs(here.hole - there.hole) for here, there in moves),
        breaths=sum(here.breath is not there.breath for here, there in moves),
        bend_semitones=sum(reed.bend for reed, _ in bent if not reed.over),
        quarter_tones=sum(reed.quarter for reed in reeds),
        quick_bends=sum(target.length_s < QUICK_S for reed, target in bent if not reed.over),
        overbends=sum(reed.over for reed in reeds),
    )


def reed_choices(
    harp: Harp, targets: Sequence[Target], played: Sequence[Reed], *, overbends: bool
) -> list[ReedChoice]:
    """Return every stretch of *targets* that could be played otherwise than on *played*."""
    found = (
        _choice(harp, targets, played, stretch, overbends=overbends)
        for stretch in _stretches(harp, targets, overbends=overbends)
    )
    return [each for each in found if each is not None]


def _stretches(harp: Harp, targets: Sequence[Target], *, overbends: bool) -> Iterator[range]:
    """Yield the runs of notes that more than one reed gives."""

    def open_to_choice(at: int) -> bool:
        target = targets[at]
        return len(target_reeds(harp, target, overbends=overbends)) > 1

    for several, group in groupby(range(len(targets)), key=open_to_choice):
        if several:
            run = list(group)
            yield range(run[0], run[-1] + 1)


def _choice(
    harp: Harp, targets: Sequence[Target], played: Sequence[Reed], stretch: range, *,
    overbends: bool,
) -> ReedChoice | None:  # fmt: skip
    """Set the way through *stretch*, with its neighbours, beside the best other one."""
    first, end = max(stretch.start - 1, 0), min(stretch.stop + 1, len(targets))
    within = [
        replace(targets[at], home=None, reed=targets[at].reed if at in stretch else played[at])
        for at in range(first, end)
    ]
    here = tuple(played[first:end])
    slid = [replace(target, joined=False) for target in within]
    for asked in (within, slid):
        for way in fingerings(harp, asked, overbends=overbends):
            if way.reeds == here:
                continue
            effort, other = effort_of(here, within), effort_of(way.reeds, within)
            decided = Decided.SLIDE if asked is slid else _decided(effort, other)
            differ = [at for at, pair in enumerate(zip(here, way.reeds, strict=True), first)
                      if pair[0] != pair[1]]  # fmt: skip
            return ReedChoice(
                tuple(differ), tuple(_breath(harp, played[at], targets[at]) for at in differ),
                tuple(_breath(harp, way.reeds[at - first], targets[at]) for at in differ),
                decided, effort, other,
            )  # fmt: skip
    return None


def _breath(harp: Harp, reed: Reed, target: Target) -> OneBreath:
    """Return all reeds of the breath in which *target* is played with *reed* as its highest."""
    return (*(beside_reeds(harp, reed, target.beside) or ()), reed)


def _decided(effort: Effort, other: Effort) -> Decided:
    if effort.cost == other.cost:
        return Decided.EQUAL
    return Decided.EASIER if effort.cost < other.cost else Decided.HOME


def why_data(why: WhyReeds) -> dict[str, object]:
    """Return *why* as plain data; starts are beats as exact fractions."""
    return {
        "root": why.root.name,
        "cost": why.cost,
        "choices": [
            {
                "starts": [str(start) for start in each.starts],
                "degrees": list(each.degrees),
                "played": [holes_tab(holes) for holes in each.choice.played],
                "instead": [holes_tab(holes) for holes in each.choice.instead],
                "because": each.choice.decided.value,
                "effort": _effort_data(each.choice.effort),
                "instead_effort": _effort_data(each.choice.instead_effort),
            }
            for each in why.choices
        ],
    }


def _effort_data(effort: Effort) -> dict[str, int]:
    return asdict(effort) | {"cost": effort.cost}
