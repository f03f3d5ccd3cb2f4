"""Marks under the notes of a heard take: a shape for sharp or flat, and cents.

Shapes and signs say it all, so that nothing is lost in black: a filled dot is in its place, an
open one nearly, a triangle points to where the note was, a cross is a note that was not heard.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from reedmill.score.repeats import PrintedBar
from reedmill.score.score import Note, Score
from reedmill.sheet.markup import (
    FAINT,
    INK,
    at,
    coloured,
    cross,
    dot,
    lilypond_string,
    overlay,
    resized,
    small,
    triangle,
    wrapped,
)

if TYPE_CHECKING:
    from reedmill.score.footprints import Footprint, Footprints, Summary
    from reedmill.score.verdicts import Verdict

_HEARD_ROW, _COUNT_ROW = 4.2, 1.4  # staff spaces: shape and figure, and how many of how many
_SHAPE_Y, _FIGURE_Y, _COUNT_Y = 0.6, -1.75, -3.4  # shape over figure over count, none touching
_HALF = 0.52  # of a shape
MINUS = "\N{MINUS SIGN}"


def heard_row(prints: Footprints | None) -> float:
    """Return the staff spaces of the row under each line of music, 0 without a take."""
    if prints is None:
        return 0.0
    several = len({each.index for each in prints.tries}) < len(prints.tries)
    return _HEARD_ROW + (_COUNT_ROW if several else 0.0)


def heard_marks(
    score: Score, shown: Sequence[PrintedBar], prints: Footprints
) -> Callable[[Note], str]:
    """Return the function that marks each printed note, over all repeats and passes."""
    from reedmill.score.footprints import summary_of  # few sheets show a take

    tries: dict[Fraction, list[Footprint]] = defaultdict(list)
    for each in prints.tries:
        tries[score.notes[each.index].start].append(each)
    later = {bar.start: bar.again for bar in shown}
    times: dict[Fraction, list[Footprint]] = {}
    for bar in shown:
        for written in bar.written:
            if written.note is not None:
                at_beats = [written.start, *(written.start + beats for beats in later[bar.start])]
                times[written.start] = [one for beat in at_beats for one in tries[beat]]

    def mark(note: Note) -> str:
        summary = summary_of(times.get(note.start, ()), prints.tolerance)
        return "\\null" if summary is None else _mark(summary)

    return mark


def _mark(summary: Summary) -> str:
    layers = [at(0, _SHAPE_Y, verdict_shape(summary.verdict))]
    tab = summary.heard_as.tab if summary.heard_as else None
    if figure := figure_of(summary.verdict, summary.cents, tab):
        layers.append(at(0, _FIGURE_Y, f"\\center-align {resized(-4, lilypond_string(figure))}"))
    if summary.count > 1:
        said = resized(-5.5, lilypond_string(f"{summary.in_place}/{summary.count}"))
        layers.append(at(0, _COUNT_Y, coloured(FAINT, f"\\center-align {said}")))
    return f"\\sans {coloured(INK, overlay(*layers))}"


def verdict_shape(verdict: Verdict) -> str:
    """Return the shape of *verdict* around 0, 0."""
    from reedmill.score.verdicts import Verdict  # few sheets show a take

    if verdict in (Verdict.ON, Verdict.NEAR):
        return dot(0, 0, 0.42, filled=verdict is Verdict.ON)
    if verdict in (Verdict.SHARP, Verdict.FLAT):
        return triangle(0, 0, _HALF, up=verdict is Verdict.SHARP)
    if verdict is Verdict.MISSED:
        return cross(0, 0, 0.45)
    sign = "?" if verdict is Verdict.UNCLEAR else "="
    return at(0, -0.55, f"\\center-align \\bold {resized(-3, lilypond_string(sign))}")


def figure_of(verdict: Verdict, cents: float | None, tab: str | None) -> str:
    """Return the figure beside a shape: signed cents, or the tab of another note."""
    from reedmill.score.verdicts import Verdict  # few sheets show a take

    if verdict is Verdict.ANOTHER_NOTE:
        return tab or ""
    return "" if cents is None or not verdict.measured else printed_cents(cents)


def printed_cents(cents: float) -> str:
    """Return whole *cents* with a sign.

    >>> printed_cents(12.4), printed_cents(-0.2)
    ('+12', '0')
    """
    whole = round(cents)
    return str(whole).replace("-", MINUS) if whole <= 0 else f"+{whole}"


def verdict_key(prints: Footprints, width: float) -> str:
    """Return the key to the shapes in use, in small print, in lines at most *width* long."""
    from reedmill.score.verdicts import Verdict  # few sheets show a take

    on, near = prints.tolerance.on_cents, prints.tolerance.near_cents
    entries = [
        (Verdict.ON, f"within {on:g} cents"),
        (Verdict.NEAR, f"within {near:g}"),
        (Verdict.SHARP, "sharp"),
        (Verdict.FLAT, "flat"),
        (Verdict.MISSED, "not heard"),
        (Verdict.UNCLEAR, "unclear"),
        (Verdict.ANOTHER_NOTE, "another note, its tab"),
    ]
    there = {each.verdict for each in prints.tries} | {Verdict.ON, Verdict.NEAR}
    parts = [
        f"\\concat {{ {coloured(INK, at(0, 0.5, verdict_shape(verdict)))} \\hspace #0.5 "
        f"{small(words)} \\hspace #1.2 }}"
        for verdict, words in entries
        if verdict in there
    ]
    return f"\\override #'(line-width . {width:g}) \\wordwrap {{ {' '.join(parts)} }}"


def what_was_heard(prints: Footprints, width: float) -> list[str]:
    """Return the take's name, a summary of its notes in words, and the key to the shapes."""
    texts = [coloured(INK, resized(-0.5, wrapped(each, width))) for each in sentences(prints)]
    apart = "\\vspace #0.25"
    spaced = [part for text in texts for part in (text, apart)]
    return [
        small(f"heard in {prints.take}"), *spaced, verdict_key(prints, width), "\\vspace #0.6",
    ]  # fmt: skip


def sentences(prints: Footprints) -> list[str]:
    """Return how many notes were in place, how the harp is tuned, and the advice."""
    good = sum(each.verdict.in_place for each in prints.tries)
    times = "" if prints.passes == 1 else f" of {prints.passes} passes"
    said = f"{good} of {len(prints.tries)} notes{times} in their place."
    tuned = round(prints.harp_cents)
    if tuned:
        way = "sharp" if tuned > 0 else "flat"
        cents = "cent" if abs(tuned) == 1 else "cents"
        said += f" The harp itself is {abs(tuned)} {cents} {way}, which is taken off."
    return [said, *prints.advice]
