"""The phrases that fill a form, as text for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reedmill.cli.picture import text_columns

if TYPE_CHECKING:
    from reedmill.band.phrased import PhrasedChorus


def picked_phrases_text(filled: PhrasedChorus, *, why: bool = False) -> str:
    """Return a table of the phrases of a *filled* form, bar by bar; with *why*, the reasons."""
    rows = []
    for each in filled.picked:
        slot, drill = each.slot, each.phrase.drill
        bars = f"{slot.bar + 1}-{slot.bar + 2}"
        row = (str(slot.chorus + 1), bars, slot.place.name, drill.title, str(drill.level or "-"))
        rows.append((*row, each.reason) if why else row)
    heads = ("chorus", "bars", "over", "phrase", "level")
    return text_columns((*heads, "because") if why else heads, rows)
