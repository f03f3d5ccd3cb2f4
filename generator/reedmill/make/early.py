"""LilyPond started before anything else is imported, because it is the slowest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from typing import TYPE_CHECKING

from reedmill.base.errors import RenderError
from reedmill.formats.table import DRILL_FORMATS, Maker, made_by

if TYPE_CHECKING:
    from reedmill.sheet.engrave import Engraver

PRINTED = {".pdf", ".png"}
"""Of one run of LilyPond; SVG takes another, with the notes' ids."""


def drawn(to: Sequence[str]) -> set[str]:
    """Return the endings of the pages that *to* names."""
    return {row.ending for row in made_by(Maker.LILYPOND, to, DRILL_FORMATS)}


@contextmanager
def early_engraver(to: Sequence[str]) -> Iterator[Engraver | None]:
    """LilyPond started before the drills are even read, when *to* will need it.

    Its start takes as long as all else a sheet waits for.  It prints sheets, or, where none are
    wanted, draws the music of files that have it inside them.  ``None`` when *to* needs neither
    or there is no LilyPond; whoever draws says so.
    """
    wanted = drawn(to)
    inside = any(row.together for row in made_by(Maker.WRITER, to, DRILL_FORMATS))
    if not (wanted & PRINTED or inside):
        yield None
        return
    from reedmill.sheet.engrave import Engraver  # starts other programs: nothing here else does

    with ExitStack() as stack:
        engraver = None
        with suppress(RenderError):
            started = Engraver(png=".png" in wanted, svg=not wanted & PRINTED)
            engraver = stack.enter_context(started)
        yield engraver
