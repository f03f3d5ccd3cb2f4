"""Drills written for rungs that no drill of the library practises enough, as text to be kept.

All of it is a template of ours, tab and numbers: no text of anybody else comes into it.  After
six beats at most comes a rest in which to breathe: whoever practises draw bends only draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.coaching.estimating import LearnedRung
from reedmill.expand.playing import roots
from reedmill.harp import Harp, Reed
from reedmill.score.playability import LEAP_HOLES
from reedmill.theory.positions import Position

MOST_SURVEYED = 14
"""Rungs in one survey: with two tries of each, two minutes of playing."""

_GOAL = 1.3  # times the first tempo
_NEAR = LEAP_HOLES  # from one note to the next without a rest
_WIDTH = 88  # columns of a line of music


@dataclass(frozen=True)
class Writer:
    """Writes drills for one harp in one position."""

    harp: Harp
    position: Position

    def anchor(self, rung: LearnedRung) -> str:
        """Return the tab to come home to from *rung*: a root near by, or else the note before it.

        A natural root is preferred, then one of the same breath, then a nearer one.
        """
        reed, before = Reed.parse(rung.tab), Reed.parse(rung.came_from or rung.tab)

        def closeness(root: Reed) -> tuple[bool, bool, int, int]:
            away = max(abs(root.hole - each.hole) for each in (reed, before))
            return root.bend > 0, root.breath is not reed.breath, away, root.hole

        near = [
            root
            for root in roots(self.harp, self.position)
            if root != reed and max(abs(root.hole - each.hole) for each in (reed, before)) <= _NEAR
        ]
        return min(near, key=closeness).tab if near else before.tab

    def focus(self, rungs: Sequence[LearnedRung], tempo: int, why: str) -> tuple[str, str]:
        """Return title and text of a drill that leaves home for one rung and comes back.

        It is measured against the anchor at leisure, then found again and again from the note
        before it.  *rungs* has that one; *why* is a line of ours for the teacher.
        """
        [rung] = rungs
        # an evening may have the same rung on another harp too
        title = f"{_way_words(rung)}, {rung.register} harp".capitalize()
        head = self._head(
            title, rung, tempo, why,
            about="Measure the rung against the anchor, then find it from the note before it.",
            listen="Does the rung come out the same each time, and does the anchor stay put?",
        )  # fmt: skip
        once, home = _once(rung), "anchor:2 r:2"
        bars = [home, once, home, once, once, home, once, once, home]
        return title, f"{head}{_played(bars)}"

    def survey(self, rungs: Sequence[LearnedRung], tempo: int, why: str) -> tuple[str, str]:
        """Return title and text of a drill that plays each of *rungs* twice, to hear where it is.

        They are of one register; *why* is a line of ours for the teacher.
        """
        title = f"Where does each rung lie, {rungs[0].register} harp"
        rungs = sorted(rungs, key=_from_low_to_high)
        first = rungs[0]
        head = self._head(
            title, first, tempo, why, goal=False,
            about="Every rung twice, from the note before it: to be heard, not to be practised.",
            listen="Play each as you know it and correct nothing: what is heard says what to do.",
        )  # fmt: skip
        bars = [bar for each in rungs
                for bar in (_twice(each), f"{self._home(each, first)}:2 r:2")]  # fmt: skip
        return title, f"{head}{_played(bars)}"

    def in_turn(self, rungs: Sequence[LearnedRung], tempo: int, why: str) -> tuple[str, str]:
        """Return title and text of a drill of several *rungs*, one after the other.

        Each is found twice from the note before it.  *why* is a line of ours for the teacher.
        """
        rungs = sorted(rungs, key=_from_low_to_high)
        title = f"{len(rungs)} ways in, {rungs[0].register} harp: "
        title += ", ".join(f"{each.came_from} to {each.tab}" for each in rungs)
        head = self._head(
            title, rungs[0], tempo, why,
            about="The rungs that are furthest out, one after the other, the anchor between them.",
            listen="Hear the next rung while the anchor still sounds, and only then play it.",
        )  # fmt: skip
        bars = []
        for each in rungs:
            home = f"{self._home(each, rungs[0])}:2 r:2"
            bars += [_once(each), _once(each), home]
        return title, f"{head}{_played(bars)}"

    def _home(self, rung: LearnedRung, first: LearnedRung) -> str:
        """Return what to write for the home of *rung* in a drill that has that of *first*."""
        home = self.anchor(rung)
        return "anchor" if home == self.anchor(first) else home

    def _head(
        self, title: str, first: LearnedRung, tempo: int, why: str, *, about: str, listen: str,
        goal: bool = True,
    ) -> str:  # fmt: skip
        tempi = f"{tempo} to {round(_GOAL * tempo)}" if goal else f"{tempo}"
        return (
            f"# {why}\n\n"
            f'drill "{title}"\n'
            f'  about      "{about}"\n'
            f'  listen     "{listen}"\n'
            f"  positions  {self.position.number}\n"
            f"  tempo      {tempi}\n"
            f"  meter      4/4\n"
            f"  anchor     {self.anchor(first)}\n"
        )


def _from_low_to_high(rung: LearnedRung) -> tuple[int, int, str]:
    reed = Reed.parse(rung.tab)
    return reed.hole, reed.bend, str(rung.came_from)


def _way_words(rung: LearnedRung) -> str:
    """Return the way to a rung in words: ``from draw 2 to draw 3 bent two semitones``."""
    start = f"from {Reed.parse(rung.came_from).words} " if rung.came_from else ""
    return f"{start}to {Reed.parse(rung.tab).words}"


def _once(rung: LearnedRung) -> str:
    return f"{rung.came_from or 'anchor'} {rung.tab}:2 r"


def _twice(rung: LearnedRung) -> str:
    before = rung.came_from or "anchor"
    return f"{before} {rung.tab} {before} {rung.tab}"


def _played(bars: Sequence[str]) -> str:
    """Return lines of music with *bars* in them."""
    lines = [""]
    for bar in bars:
        if len(lines[-1]) + len(bar) > _WIDTH:
            lines.append("")
        lines[-1] += f" {bar} |"
    return "".join(f"  play      {line}\n" for line in lines)
