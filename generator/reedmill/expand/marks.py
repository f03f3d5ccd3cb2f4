"""What marks of style need of a note: a hole to shake with, a bend to scoop from, a chord."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from reedmill.harp import Harp, Reed
from reedmill.harp.reeds import room_below
from reedmill.harp.together import holes_tab, tongue_holes
from reedmill.language.drill import Event
from reedmill.language.mistakes import drill_mistake
from reedmill.score.style import COUNTED, Mark, Style


class _Step(Protocol):
    @property
    def event(self) -> Event: ...

    @property
    def reeds(self) -> Sequence[Reed]: ...

    @property
    def style(self) -> Style: ...


def check_style(harp: Harp, step: _Step) -> None:
    """Raise ``PatternError`` when *harp* cannot give the note of *step* its marks of style."""
    reeds, span = step.reeds, step.event.span
    if not step.style.marks or not reeds:
        return
    told: dict[str, object] = {"tab": holes_tab(reeds)}
    if all(mark in step.style for mark in COUNTED):
        raise drill_mistake("vibrato-and-shake", span)
    if Mark.SHAKE in step.style and (len(reeds) != 2 or tongue_holes(reeds)):
        raise drill_mistake("shake-of-two-holes", span, **told)
    for mark in (Mark.SCOOP, Mark.FALL):
        if mark in step.style and len(reeds) > 1:
            raise drill_mistake("scoop-of-several", span, mark=mark.value, **told)
        if mark in step.style and not room_below(harp.layout, reeds[0]):
            key = "scoop-of-overbend" if reeds[0].over else "nothing-below"
            raise drill_mistake(key, span, mark=mark.value, reed=reeds[0].words, **told)
    for mark in (Mark.SLAP, Mark.PULL):
        if mark in step.style and len(reeds) > 1 and not tongue_holes(reeds):
            raise drill_mistake("slap-of-chord", span, mark=mark.value, **told)
