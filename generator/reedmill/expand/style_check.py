"""The needs of marks of style: two holes for a shake, a bend for a scoop, holes to cover."""

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
    for mark in step.style.marks:
        key = _why_not(harp, reeds, mark)
        if key is not None:
            told |= {"mark": mark.value, "reed": reeds[0].words}
            raise drill_mistake(key, span, **told)


def allowed_style(harp: Harp, reeds: Sequence[Reed], style: Style, written: Style) -> Style:
    """Return *style* without marks that come from brackets and that *reeds* cannot have.

    What is *written* before the note itself stays, to be refused in words.
    """
    if style is written or not reeds:
        return style
    inherited = (mark for mark in style.marks if mark not in written)
    return style.without(*(mark for mark in inherited if _why_not(harp, reeds, mark)))


def refused_mark(harp: Harp, reeds: Sequence[Reed], style: Style) -> Mark | None:
    """Return the first mark of *style* that *harp* cannot give *reeds*, if there is one."""
    return next((mark for mark in style.marks if _why_not(harp, reeds, mark)), None)


def _why_not(harp: Harp, reeds: Sequence[Reed], mark: Mark) -> str | None:
    """Return the key of the mistake of asking for *mark* on *reeds*, if it is one."""
    several, split = len(reeds) > 1, bool(tongue_holes(reeds))
    if mark is Mark.SHAKE and (len(reeds) != 2 or split):
        return "shake-of-two-holes"
    if mark in (Mark.SLAP, Mark.PULL) and several and not split:
        return "slap-of-chord"
    if mark not in (Mark.SCOOP, Mark.FALL):
        return None
    if several:
        return "scoop-of-several"
    if room_below(harp.layout, reeds[0]):
        return None
    return "scoop-of-overbend" if reeds[0].over else "nothing-below"
