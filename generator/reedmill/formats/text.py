"""Plain-text tab: what fits in an e-mail, a chat, or the foot of a sheet."""

from __future__ import annotations

from reedmill.notation import Written, bars
from reedmill.score import Score

BARS_A_LINE = 4


def tab_lines(score: Score, bars_a_line: int = BARS_A_LINE) -> list[str]:
    """The tab, a few bars to a line, ``|`` between bars.

    A dot is a rest, ``~`` before a tab slides into it, ``_`` goes on with the note
    before the bar line.
    """
    shown = [_bar_text(bar) for bar in bars(score)]
    rows = [shown[at : at + bars_a_line] for at in range(0, len(shown), bars_a_line)]
    return [" | ".join(row) + " |" for row in rows]


def tab_text(score: Score) -> str:
    """The drill as a page of plain text, with a heading and its tab."""
    head = [
        score.title,
        f"{score.harp.name} harp, {score.position.label}, key of {score.key.name}, "
        f"{score.meter.name}, tempo {score.tempo_bpm}",
    ]
    about = [score.about] if score.about else []
    legend = "-3 draw   3 blow   ' a semitone of bend   ^ overbend   ~ slide   . rest"
    return "\n".join([*head, *about, "", *tab_lines(score), "", legend, ""])


def _bar_text(bar: list[Written]) -> str:
    """One bar; a notehead tied on inside the bar is no new sound and is left out."""
    heads = [written for at, written in enumerate(bar) if at == 0 or not written.tied_on]
    return " ".join(_shown(written) for written in heads)


def _shown(written: Written) -> str:
    if written.note is None:
        return "."
    if written.tied_on:
        return "_"
    return ("~" if written.note.joined else "") + written.note.reed.tab
