"""One sheet as LilyPond input: heading, map of the harp, music, practice boxes, plain tab."""

from __future__ import annotations

from reedmill.formats.text import tab_lines
from reedmill.score import Score
from reedmill.sheet.blocks import (
    embouchure,
    facts,
    foot,
    listen_for,
    note_lines,
    running_head,
    tab_block,
    tempo_ladder,
    title,
)
from reedmill.sheet.fit import fit
from reedmill.sheet.harp_map import harp_map, legend
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.markup import at, overlay, quoted, scaled, small
from reedmill.sheet.music import music
from reedmill.sheet.pitch_ladder import LADDER_WIDTH, ladder_hole, pitch_ladder


def pages(scores: list[Score], look: Look | None = None, *, ids: bool = False) -> str:
    """LilyPond input for *scores*; sheet *n* (from 0) comes out as ``sheet-n``.

    *ids* gives every notehead an id and its facts as attributes, which SVG keeps.
    """
    chosen = look or Look()
    books = [_book(number, score, chosen, ids=ids) for number, score in enumerate(scores)]
    return preamble(chosen) + "\n".join(books)


def preamble(look: Look) -> str:
    """Version, paper, colours and layout.

    The creation date is fixed so that equal scores give equal bytes.
    """
    colours = "\n".join(
        f"{name}Colour = #(rgb-color {red:g} {green:g} {blue:g})"
        for name, (red, green, blue) in look.colours.items()
    )
    return rf"""\version "2.24.3"
\language "english"
#(set-default-paper-size "{look.paper}")
#(set-global-staff-size {look.staff_points})
{colours}
\header {{ pdfcreationDate = "2020-01-01T00:00:00Z" tagline = ##f }}
\paper {{
  left-margin = {MARGIN_MM}\mm right-margin = {MARGIN_MM}\mm
  top-margin = 14\mm bottom-margin = 11\mm
  indent = 11\mm short-indent = 11\mm
  ragged-bottom = ##t ragged-last-bottom = ##t print-first-page-number = ##t
  system-system-spacing = #'((basic-distance . 15) (minimum-distance . 12) (padding . 3.6))
  markup-system-spacing = #'((basic-distance . 8) (padding . 3.4))
  score-markup-spacing = #'((basic-distance . 8) (padding . 4))
  markup-markup-spacing = #'((basic-distance . 1) (padding . 1))
  top-system-spacing = #'((basic-distance . 6) (padding . 2))
  bookTitleMarkup = ##f scoreTitleMarkup = ##f
}}
\layout {{
  \numericTimeSignature
  \context {{ \Score
    \omit BarNumber
    \override RehearsalMark.self-alignment-X = #LEFT
    \override RehearsalMark.padding = #2.2
  }}
  \context {{ \RhythmicStaff \override VerticalAxisGroup.staff-staff-spacing.padding = #1 }}
  \context {{ \Lyrics
    \override LyricText.self-alignment-X = #CENTER
    \override LyricSpace.minimum-distance = #1.2
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing =
      #'((basic-distance . 4.5) (minimum-distance . 3.5) (padding . 1.1))
    \override VerticalAxisGroup.nonstaff-nonstaff-spacing =
      #'((basic-distance . 4.2) (minimum-distance . 3.0) (padding . 0.5))
    \override InstrumentName.self-alignment-X = #RIGHT
  }}
}}
"""


def _book(number: int, score: Score, look: Look, *, ids: bool) -> str:
    width = look.width
    tab = tab_lines(score)
    set_as = fit(score, look, len(tab))
    by_line = set_as.by_line
    # a last line of half the bars before it, or fewer, is not stretched to the margin
    ragged = "##t" if len(by_line) > 1 and by_line[-1] * 2 <= by_line[-2] else "##f"
    staff = music(score, by_line, set_as.page_ends, look.show, ids=ids)
    head = [*title(score, width), "\\vspace #0.3", facts(score, width), *embouchure(score)]
    notes = note_lines(set_as.note_lines, width)
    return "\n".join(
        [
            f'\\book {{ \\bookOutputName "sheet-{number}"',
            f"\\header {{ title = {quoted(score.title)} subject = {quoted(score.about)} }}",
            "\\paper {",
            f"  oddHeaderMarkup = \\markup {running_head(score, width)}",
            "  evenHeaderMarkup = \\oddHeaderMarkup",
            f"  oddFooterMarkup = \\markup {foot(score, width)}",
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
            block(3.4, *head),
            _map_block(score, width, set_as.map_scale),
            f"\\score {{\n{staff}\n\\layout {{ ragged-last = {ragged} }}\n}}",
            *(["\\pageBreak"] if set_as.boxes_apart else []),
            _boxes(score, width),
            *([block(2, *notes)] if notes else []),
            tab_block(tab),
            "}",
        ]
    )


def block(skip: float, *parts: str) -> str:
    """A markup of its own: *parts* under one another, *skip* staff spaces apart."""
    body = "\n".join(parts)
    return f"\\markup \\override #'(baseline-skip . {skip:g}) \\left-column {{\n{body}\n}}"


def _map_block(score: Score, width: float, scale: float) -> str:
    return block(3, scaled(scale, harp_map(score, width)), "\\vspace #0.5", small(legend(score)))


def _boxes(score: Score, width: float) -> str:
    """What to listen for and the tempo ladder, beside the pitch ladder where there is one."""
    hole = ladder_hole(score)
    left = 0.0 if hole is None else LADDER_WIDTH + 5
    beside = width - left
    parts = "\n".join([*listen_for(score, beside), *tempo_ladder(score, beside)])
    column = f"\\override #'(baseline-skip . 2.8) \\left-column {{\n{parts}\n}}"
    if hole is None:
        return f"\\markup {column}"
    figure = pitch_ladder(score, hole)
    return f"\\markup {overlay(at(0, -2.3 - 0.9, figure), at(left, 0, column))}"
