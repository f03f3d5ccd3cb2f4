"""A dictation: the rhythm of a drill with empty boxes for its tab, and the drill as its answers.

Nothing on the pages to fill in, and nothing in their file beside them, says what is played: not
the drill's title either, which may name a hole or a degree.  A number stands in its place.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import accumulate

from reedmill.base.text import printable
from reedmill.harp.together import holes_tab
from reedmill.score.how_tuned import unusual_tuning
from reedmill.score.notation import check_drawn
from reedmill.score.rung_questions import dictation_title, drill_number
from reedmill.score.score import Score
from reedmill.sheet.blocks import (
    LISTENING_CAUTION,
    beat_sign,
    foot_of,
    played_on,
    running_head_of,
    titled,
)
from reedmill.sheet.fit import spread
from reedmill.sheet.frame import block
from reedmill.sheet.heads import (
    NAME_LINE,
    HeadFact,
    facts_markup,
    foot_height,
    harp_facts,
    name_line,
    titled_height,
)
from reedmill.sheet.hole_row import BOX_HEIGHT
from reedmill.sheet.lines import (
    NOTES_A_LINE,
    Rows,
    bar_pieces,
    box_width,
    full_line_ends,
    last_is_short,
)
from reedmill.sheet.look import Look
from reedmill.sheet.markup import lilypond_string, named, small_lines
from reedmill.sheet.music import music
from reedmill.sheet.page import edges, music_layout, sheet_body

_ABOUT = "The rhythm is given. Listen, and write into each box what you hear, as tab."
_SIGNS = (
    "a minus before a hole that is drawn", "a tick after it for each semitone of a bend",
    "q for a quarter tone more", "^ for an overbend", "& between holes of one breath",
    "a line from note to note: a slide",
)  # fmt: skip
# Staff spaces of the music for a line with its boxes, and of the page for what lies around.
_LINE, _BETWEEN = 5.4 + BOX_HEIGHT, 4.8
_FACTS, _SIGNS_ROW, _APART, _RUNNING_HEAD, _SLACK = 9.8, 3.6, 2.4, 7.0, 4.0


def dictation_parts(score: Score, look: Look) -> list[str]:
    """Return LilyPond input for the pages to fill in, then for those of the answers.

    Each is the inside of a book, or of a part of one; the answers are the sheet of the drill.
    ``PatternError`` as for that sheet.
    """
    check_drawn(score)
    told = f"Answers to dictation {drill_number(score)}. {score.about}"
    return [_to_fill_in(score, look), sheet_body(replace(score, about=printable(told)), look)]


def bound(number: int, title: str, parts: list[str]) -> str:
    """Return the book *number* with this *title*, each of *parts* on pages of its own."""
    inside = "\n".join(f"\\bookpart {{\n{part}\n}}" for part in parts)
    return "\n".join(
        [
            f'\\book {{ \\bookOutputName "sheet-{number}"',
            f'\\header {{ title = {named(title)} subject = "" }}',
            inside,
            "}",
        ]
    )


def _to_fill_in(score: Score, look: Look) -> str:
    width, title = look.width, dictation_title(score)
    boxes = box_width(score, look.music_width)
    sections = bar_pieces(score, look.music_width, Rows(boxes=boxes))
    most = round(NOTES_A_LINE[0] * width / look.music_scale / Look().width)
    ends = full_line_ends(score, sections, max(most, 4), look.music_width)
    staff = music(
        score, ends, _page_ends(len(ends), look, title), width=look.music_width,
        scale=look.music_scale, boxes=boxes,
    )  # fmt: skip
    ragged = "##t" if last_is_short(score, ends) else "##f"
    name = " · ".join([title, played_on(score), *unusual_tuning(score)])
    return "\n".join(
        [
            edges(
                running_head_of(f"{title} · {played_on(score)}", width),
                foot_of(name, width, LISTENING_CAUTION),
            ),
            block(3.4, *titled(title, _ABOUT, width), "\\vspace #0.3", _facts(score, width)),
            block(2.6, *name_line(width), "\\vspace #0.4", small_lines(_SIGNS, width)),
            f"\\score {{\n{staff}\n{music_layout(look)} ragged-last = {ragged} }}\n}}",
        ]
    )


def _facts(score: Score, width: float) -> str:
    return facts_markup(list(_head_facts(score)), width)


def _head_facts(score: Score) -> Iterator[HeadFact]:
    """Yield what one may know beforehand: the harp, the beat, and the anchor as a ruler."""
    yield from harp_facts(score.harp, score.position)
    yield HeadFact("meter", lilypond_string(score.meter.name), len(score.meter.name))
    tempo = f"\\concat {{ {beat_sign(score.meter)} {lilypond_string(f' = {score.tempo_bpm}')} }}"
    yield HeadFact("tempo", tempo, len(f"  = {score.tempo_bpm}"))
    if score.anchor_holes:
        tab = holes_tab(score.anchor_holes)
        yield HeadFact("anchor", lilypond_string(tab), len(tab))


def _page_ends(lines: int, look: Look, title: str) -> list[int]:
    """Return after which of the *lines* of music, counted from 1, a page ends."""
    each = _LINE * look.music_scale + _BETWEEN
    first, later = _rooms(title, look)
    if lines * each <= first:
        return []
    return list(accumulate(spread([each] * lines, first, later, 0.0)))[:-1]


def _rooms(title: str, look: Look) -> tuple[float, float]:
    """Return the height for lines of music on the first page, and on each later one."""
    page = look.height - foot_height(look, LISTENING_CAUTION) - _SLACK
    head = titled_height(title, _ABOUT, look) + _FACTS + _SIGNS_ROW + NAME_LINE + _APART
    return page - head, page - _RUNNING_HEAD
