"""One sheet as LilyPond input: heading, map of the harp, music, practice boxes, plain tab."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reedmill.score.notation import check_drawn
from reedmill.score.score import Score
from reedmill.sheet.blocks import (
    embouchure,
    facts_row,
    foot,
    listen_for,
    note_lines,
    playing_over,
    running_head,
    tab_block,
    tab_columns,
    tab_heading,
    tempo_ladder,
    title,
)
from reedmill.sheet.fit import fit
from reedmill.sheet.folded_tab import folded_tab, is_folded
from reedmill.sheet.frame import block, preamble, swept
from reedmill.sheet.harp_map import harp_map, legend
from reedmill.sheet.heard_marks import what_was_heard
from reedmill.sheet.lines import last_is_short
from reedmill.sheet.look import Look
from reedmill.sheet.markup import at, named, overlay, small_lines
from reedmill.sheet.music import music
from reedmill.sheet.pitch_ladder import ladder_figure
from reedmill.sheet.style_signs import sign_key

if TYPE_CHECKING:
    from reedmill.score.footprints import Footprints


def pages(
    scores: list[Score],
    look: Look | None = None,
    *,
    ids: bool = False,
    heard: Sequence[Footprints | None] = (),
) -> str:
    """Return LilyPond input for *scores*; sheet *n* (from 0) comes out as ``sheet-n``.

    *ids* gives every notehead an id and its facts as attributes, which SVG keeps.  *heard* are
    the footprints of a take of each score, where there is one.
    """
    chosen = look or Look()
    takes = [*heard, *[None] * (len(scores) - len(heard))]
    books = [
        _book(number, score, chosen, ids=ids, prints=takes[number])
        for number, score in enumerate(scores)
    ]
    return preamble(chosen) + swept(books, [len(score.notes) for score in scores])


def _book(
    number: int, score: Score, look: Look, *, ids: bool, prints: Footprints | None = None
) -> str:
    return "\n".join(
        [
            f'\\book {{ \\bookOutputName "sheet-{number}"',
            f"\\header {{ title = {named(score.title)} subject = {named(score.about)} }}",
            sheet_body(score, look, ids=ids, prints=prints),
            "}",
        ]
    )


def sheet_body(
    score: Score, look: Look, *, ids: bool = False, prints: Footprints | None = None
) -> str:
    """Return the pages of *score* as they stand in a book or in a part of one."""
    check_drawn(score)
    width = look.width
    tab = folded_tab(score, tab_columns(look)) if look.show != "notation" else []
    set_as = fit(score, look, len(tab), prints)
    ragged = "##t" if last_is_short(score, set_as.line_ends) else "##f"
    staff = music(
        score, set_as.line_ends, set_as.page_ends, look.show, ids=ids, width=look.music_width,
        tab_size=set_as.tab_size, scale=look.music_scale, prints=prints,
    )  # fmt: skip
    head = [
        *title(score, width),
        "\\vspace #0.3",
        facts_row(score, width),
        *embouchure(score, width),
        *playing_over(score, width),
    ]
    notes = note_lines(set_as.note_lines, width)
    shown_tab = (
        [
            tab_block(
                tab,
                tab_heading(score),
                width,
                folded=is_folded(score),
                apart=not (notes or look.large),
            )
        ]
        if tab and set_as.plain_tab
        else []
    )
    return "\n".join(
        [
            edges(running_head(score, width), foot(score, width)),
            block(3.4, *head),
            _map_block(score, width, low=set_as.low_map),
            *(["\\pageBreak"] if 0 in set_as.page_ends else []),
            f"\\score {{\n{staff}\n{music_layout(look)} ragged-last = {ragged} }}\n}}",
            _boxes(score, look, prints, most_ladders=set_as.ladders),
            *([block(2, *notes)] if notes else []),
            *shown_tab,
        ]
    )


def edges(head: str, foot_of_page: str) -> str:
    """Return the head and the foot of every page of a book, or of a part of one."""
    return "\n".join(
        [
            "\\paper {",
            f"  oddHeaderMarkup = \\markup {head}",
            "  evenHeaderMarkup = \\oddHeaderMarkup",
            f"  oddFooterMarkup = \\markup {foot_of_page}",
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
        ]
    )


def music_layout(look: Look) -> str:
    """Return the opening of a score's layout, which sets the music in a size of its own."""
    indent = f"{look.indent_mm:.3f}\\mm"
    return (
        f"\\layout {{ #(layout-set-staff-size {look.staff_points})"
        f" indent = {indent} short-indent = {indent}"
    )


def _map_block(score: Score, width: float, *, low: bool) -> str:
    marks = small_lines(legend(score), width)
    drawn = harp_map(score, width, low=low)
    return block(3, drawn, "\\vspace #0.5", marks, *sign_key(score, width))


def _boxes(score: Score, look: Look, prints: Footprints | None, *, most_ladders: int) -> str:
    """Return what to listen for and the tempo ladder, beside pitch ladders if there are any.

    With *prints* of a take what was heard stands where the drill says what to listen for.
    """
    most = 0 if look.show == "notation" else most_ladders
    ladders = ladder_figure(score, look.width, most, marked=prints is not None)
    left = 0.0 if ladders is None else ladders.room
    beside = look.width - left
    words = what_was_heard(prints, beside) if prints else listen_for(score, beside)
    parts = "\n".join([*words, *tempo_ladder(score, beside)])
    column = f"\\override #'(baseline-skip . 2.8) \\left-column {{\n{parts}\n}}"
    if ladders is None:
        return f"\\markup {column}"
    drawn = ladders.drawn(prints)
    return f"\\markup {overlay(at(0, -ladders.top, drawn), at(left, 0, column))}"
