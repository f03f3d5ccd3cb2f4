"""The plain tab of a sheet, with repeats written once between signs as in the music.

Files of tab write every time out, see ``formats.text``; on paper a hundred times would be pages.
"""

from __future__ import annotations

from reedmill.base.text import from_right
from reedmill.formats.text_tab import BARS_A_LINE, COLUMNS, bar_text, wrapped_bar
from reedmill.score.repeats import PrintedBar, printed
from reedmill.score.score import Score

_AS_USUAL = 2  # times a repeat without a number is played


def folded_tab(score: Score, columns: int = COLUMNS) -> list[str]:
    """Return the lines of ``tab_lines`` with repeats folded, up to *columns* long.

    ``|:`` and ``:|`` stand around what is played twice, ``:| x5`` ends what is played five
    times; an ending begins with the times it is for.
    """
    shown = printed(score)
    names = {int(start // score.meter.beats): name for start, name in score.sections}
    lines: list[str] = []
    full = BARS_A_LINE
    for bar in shown:
        name = names.get(int(bar.start // score.meter.beats))
        if name is not None:
            lines.append(f"{name}:")
            full = BARS_A_LINE if from_right(name) else 0
        text = f"{_opening(bar)}{bar_text(score, list(bar.written))} {_closing(bar)}"
        for piece in wrapped_bar(text, columns):
            if full == BARS_A_LINE or len(lines[-1]) + 1 + len(piece) > columns:
                lines.append(piece)
                full = 0
            else:
                lines[-1] += " " + piece
        full += 1
    return lines


def is_folded(score: Score) -> bool:
    """Return True when a repeat of *score* is written with signs."""
    return any(bar.opens for bar in printed(score))


def _opening(bar: PrintedBar) -> str:
    times = ", ".join(map(str, bar.ending))
    return ("|: " if bar.opens else "") + (f"[{times}. " if times else "")


def _closing(bar: PrintedBar) -> str:
    if not bar.closes:
        return "|"
    return ":|" + (f" x{bar.closes}" if bar.closes > _AS_USUAL else "")
