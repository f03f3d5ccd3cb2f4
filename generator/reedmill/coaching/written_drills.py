"""Drills written for rungs that no drill of the library practises enough, as text to be kept.

All of it is a template of ours, tab and numbers: no text of anybody else comes into it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.coaching.estimating import LearnedRung
from reedmill.expand.playing import roots
from reedmill.harp import Harp, Reed
from reedmill.score.playability import LEAP_HOLES
from reedmill.theory.positions import Position

MOST_SURVEYED = 16
"""Rungs in one survey: with two tries of each, a minute and a half of playing."""

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
        """Return title and text of a drill that leaves home for each of *rungs* and comes back.

        Each is measured against the anchor at leisure, then found again and again from the note
        before it.  *rungs* have one anchor; *why* is a line of ours for the teacher.
        """
        ways = "; ".join(_way_words(each) for each in rungs).capitalize()
        title = f"{ways}, {rungs[0].register} harp"  # an evening may have it on another too
        head = self._head(
            title, rungs[0], tempo, why,
            about="Measure the rung against the anchor, then find it from the note before it.",
            listen="Does the rung come out the same each time, and does the anchor stay put?",
        )  # fmt: skip
        bars = [bar for each in rungs for bar in _focused(each)]
        return title, f"{head}{_played([*bars, 'anchor:4'])}"

    def survey(self, rungs: Sequence[LearnedRung], tempo: int, why: str) -> tuple[str, str]:
        """Return title and text of a drill that plays each of *rungs* twice, to hear where it is.

        They are of one register; *why* is a line of ours for the teacher.
        """
        title = f"Where does each rung lie, {rungs[0].register} harp"
        rungs = sorted(rungs, key=_from_low_to_high)
        first = rungs[0]
        head = self._head(
            title, first, tempo, why,
            about="Every rung twice, from the note before it: to be heard, not to be practised.",
            listen="Play each as you know it and correct nothing: what is heard says what to do.",
        )  # fmt: skip
        bars = []
        for number, (each, after) in enumerate(zip(rungs, [*rungs[1:], None], strict=True)):
            bars.append(_twice(each))
            if number % 2 or after is None or _is_far(each, after):
                home = self.anchor(each)
                bars.append(f"{home if home != self.anchor(first) else 'anchor'}:2 r:2")
        return title, f"{head}{_played(bars)}"

    def in_turn(self, rungs: Sequence[LearnedRung], tempo: int, why: str) -> tuple[str, str]:
        """Return title and text of a drill of several *rungs*, one after the other.

        Each is found four times from the note before it.  *why* is a line of ours for the teacher.
        """
        rungs = sorted(rungs, key=_from_low_to_high)
        title = f"{len(rungs)} rungs in turn, {rungs[0].register} harp: "
        title += " ".join(dict.fromkeys(each.tab for each in rungs))
        head = self._head(
            title, rungs[0], tempo, why,
            about="The rungs that need it most, one after the other, the anchor between them.",
            listen="Hear the next rung while the anchor still sounds, and only then play it.",
        )  # fmt: skip
        first = self.anchor(rungs[0])
        bars = []
        for each in rungs:
            home = self.anchor(each)
            bars += [_twice(each), _twice(each), f"{home if home != first else 'anchor'}:2 r:2"]
        return title, f"{head}{_played(bars)}"

    def _head(
        self, title: str, first: LearnedRung, tempo: int, why: str, *, about: str, listen: str
    ) -> str:
        return (
            f"# {why}\n\n"
            f'drill "{title}"\n'
            f'  about      "{about}"\n'
            f'  listen     "{listen}"\n'
            f"  positions  {self.position.number}\n"
            f"  tempo      {tempo} to {round(_GOAL * tempo)}\n"
            f"  meter      4/4\n"
            f"  anchor     {self.anchor(first)}\n"
        )


def _is_far(rung: LearnedRung, after: LearnedRung) -> bool:
    """Tell whether the mouth has to look for the next place: a rest gives it the time."""
    start = Reed.parse(after.came_from or after.tab)
    return abs(Reed.parse(rung.tab).hole - start.hole) > _NEAR


def _from_low_to_high(rung: LearnedRung) -> tuple[int, int, str]:
    reed = Reed.parse(rung.tab)
    return reed.hole, reed.bend, str(rung.came_from)


def _way_words(rung: LearnedRung) -> str:
    """Return the way to a rung in words: ``from draw 2 to draw 3 bent two semitones``."""
    start = f"from {Reed.parse(rung.came_from).words} " if rung.came_from else ""
    return f"{start}to {Reed.parse(rung.tab).words}"


def _focused(rung: LearnedRung) -> Iterator[str]:
    before = rung.came_from or "anchor"
    yield f"anchor:2 {before}:2"
    yield f"{rung.tab}:4"
    yield "anchor:2 r:2"
    for _ in range(2):
        yield _twice(rung)
        yield "anchor:2 r:2"


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
