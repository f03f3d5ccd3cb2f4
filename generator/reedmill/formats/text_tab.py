"""Plain-text tab: what fits in an e-mail, a chat, or the foot of a sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from reedmill.base.text import from_right
from reedmill.score.notation import NotatedValue, bars
from reedmill.score.score import Feel, Score

BARS_A_LINE = 4
COLUMNS = 88
LEGEND = (
    "-3 draw   3 blow   ' a semitone of bend   ^ overbend   ~ slide   ! accent\n"
    ". rest   _ goes on   , breathe"
)


def tab_lines(score: Score) -> list[str]:
    """The tab, up to four bars and 88 columns to a line, ``|`` after each bar.

    A dot is a rest, ``~`` slides from one tab to the next, ``_`` goes on with the note
    before the bar line, ``!`` is an accent and a comma a breath.  Each section starts a
    line with its name, which has one to itself where it runs from right to left.
    """
    breaths = frozenset(score.breathe_at)
    names = {int(start / score.meter.beats): name for start, name in score.sections}
    lines: list[str] = []
    full = BARS_A_LINE
    for number, bar in enumerate(bars(score)):
        if number in names:
            lines.append(f"{names[number]}:")
            # on a line with a name from the right the tab would run from the right too
            full = BARS_A_LINE if from_right(names[number]) else 0
        for piece in wrapped_bar(bar_text(bar, breaths) + " |"):
            if full == BARS_A_LINE or len(lines[-1]) + 1 + len(piece) > COLUMNS:
                lines.append(piece)
                full = 0
            else:
                lines[-1] += " " + piece
        full += 1
    return lines


def wrapped_bar(text: str, columns: int = COLUMNS) -> Iterator[str]:
    """*text* in lines of so many columns, broken at a space or before a ``~``, never in a tab."""
    line = ""
    for word in re.findall(r" ?~?[^ ~]+", text):
        if len(line) + len(word) > columns:
            yield line
            line = word.lstrip()
        else:
            line += word
    yield line


def tab_text(score: Score) -> str:
    """The drill as a page of plain text, with a heading and its tab."""
    head = [
        score.title,
        f"{score.harp.label}, {score.position.label}, key of {score.key.label}, "
        f"{score.meter.name}, {_tempo(score)}",
    ]
    about = [score.about] if score.about else []
    listen = ["", f"Listen for: {score.listen}"] if score.listen else []
    return "\n".join([*head, *about, "", *tab_lines(score), *listen, "", LEGEND, ""])


def _tempo(score: Score) -> str:
    goal = f" to {score.tempo_goal_bpm}" if score.tempo_goal_bpm else ""
    feel = f", {score.feel.value}" if score.feel is Feel.SHUFFLE else ""
    mouth = f", {score.embouchure.label}" if score.embouchure else ""
    return f"tempo {score.tempo_bpm}{goal}{feel}{mouth}"


def bar_text(bar: list[NotatedValue], breathe_at: frozenset[Fraction]) -> str:
    """One bar; what only goes on inside the bar, a tied notehead or a rest, is left out."""
    words = []
    for at, written in enumerate(bar):
        if at == 0 or not _goes_on(bar, at):
            words.append(_shown(written, first=at == 0))
        if written.note and written.start + written.length in breathe_at:
            words.append(" ,")
    return "".join(words)


def _goes_on(bar: list[NotatedValue], at: int) -> bool:
    still_silent = bar[at].note is None and bar[at - 1].note is None
    return bar[at].tied_on or still_silent


def _shown(written: NotatedValue, *, first: bool) -> str:
    gap = "" if first else " "
    if written.note is None:
        return gap + "."
    if written.tied_on:
        return gap + "_"
    accent = "!" if written.note.accent else ""
    return ("~" if written.note.joined else gap) + written.note.reed.tab + accent
