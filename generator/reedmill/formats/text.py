"""Plain-text tab: what fits in an e-mail, a chat, or the foot of a sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reedmill.notation import Written, bars
from reedmill.score import Score

BARS_A_LINE = 4
COLUMNS = 88


def tab_lines(score: Score) -> list[str]:
    """The tab, up to four bars and 88 columns to a line, ``|`` after each bar.

    A dot is a rest, ``~`` slides from one tab to the next, and ``_`` goes on with the
    note before the bar line.
    """
    lines: list[str] = []
    full = BARS_A_LINE
    for bar in bars(score):
        for piece in _wrapped(_bar_text(bar) + " |"):
            if full == BARS_A_LINE or len(lines[-1]) + 1 + len(piece) > COLUMNS:
                lines.append(piece)
                full = 0
            else:
                lines[-1] += " " + piece
        full += 1
    return lines


def _wrapped(text: str) -> Iterator[str]:
    """*text* in lines of 88 columns, broken at a space or before a ``~``, never in a tab."""
    line = ""
    for word in re.findall(r" ?~?[^ ~]+", text):
        if len(line) + len(word) > COLUMNS:
            yield line
            line = word.lstrip()
        else:
            line += word
    yield line


def tab_text(score: Score) -> str:
    """The drill as a page of plain text, with a heading and its tab."""
    head = [
        score.title,
        f"{score.harp.name} harp, {score.position.label}, key of {score.key.name}, "
        f"{score.meter.name}, tempo {score.tempo_bpm}",
    ]
    about = [score.about] if score.about else []
    legend = "-3 draw   3 blow   ' a semitone of bend   ^ overbend   ~ slide   . rest   _ goes on"
    return "\n".join([*head, *about, "", *tab_lines(score), "", legend, ""])


def _bar_text(bar: list[Written]) -> str:
    """One bar; what only goes on inside the bar, a tied notehead or a rest, is left out."""
    heads = [written for at, written in enumerate(bar) if at == 0 or not _goes_on(bar, at)]
    return "".join(_shown(written, first=at == 0) for at, written in enumerate(heads))


def _goes_on(bar: list[Written], at: int) -> bool:
    still_silent = bar[at].note is None and bar[at - 1].note is None
    return bar[at].tied_on or still_silent


def _shown(written: Written, *, first: bool) -> str:
    gap = "" if first else " "
    if written.note is None:
        return gap + "."
    if written.tied_on:
        return gap + "_"
    return ("~" if written.note.joined else gap) + written.note.reed.tab
