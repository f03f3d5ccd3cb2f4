"""One sheet as LilyPond input: heading, map of the harp, music, practice boxes, plain tab."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise, zip_longest
from typing import TYPE_CHECKING

from reedmill.score.notation import check_drawn
from reedmill.score.repeats import printed
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
    tempo_ladder,
    title,
)
from reedmill.sheet.fit import fit
from reedmill.sheet.folded_tab import folded_tab, is_folded
from reedmill.sheet.harp_map import harp_map, legend
from reedmill.sheet.heard_marks import what_was_heard
from reedmill.sheet.lines import MARKS_APART
from reedmill.sheet.look import INDENT, MARGIN_MM, Look
from reedmill.sheet.markup import ROOM_BELOW, at, named, overlay, small_lines
from reedmill.sheet.music import music
from reedmill.sheet.pitch_ladder import ladder_hole, ladder_room, ladder_top, pitch_ladder

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


def swept(books: Sequence[str], notes: Sequence[int] = ()) -> str:
    """Join *books*, with a sweep of LilyPond's memory after every few.

    Left to itself LilyPond sweeps it some four times for each sheet, which takes more than
    half of its time; without any, twenty sheets would need 300 MB more.  *notes* says how
    many each book has, if any; a very long one is left to LilyPond.
    """
    found, room = ["#(gc-disable)"], _ROOM_MB
    for book, count in zip_longest(books, notes, fillvalue=0):
        needs = _BOOK_MB + _NOTE_MB * count
        if needs > _ROOM_MB:
            found += ["#(gc-enable)", str(book), "#(gc-disable)"]
            continue
        if needs > room:
            found.append("#(begin (gc-enable) (gc) (gc-disable))")
            room = _ROOM_MB
        found.append(str(book))
        room -= needs
    return "\n".join(found)


# Measured: what LilyPond leaves behind for each sheet, and for each note on it.
_ROOM_MB, _BOOK_MB, _NOTE_MB = 100.0, 13.0, 0.22


def preamble(look: Look) -> str:
    """Return version, paper, colours and layout.

    The creation date is fixed so that equal scores give equal bytes.
    """
    colours = "\n".join(
        f"{name}Colour = #(rgb-color {red:g} {green:g} {blue:g})"
        for name, (red, green, blue) in look.colours.items()
    )
    return rf"""\version "2.24.3"
\language "english"
#(set-default-paper-size "{look.paper}")
#(set-global-staff-size {look.text_points})
{colours}
#(define-markup-command (print layout props steps text) (number? markup?)
  #:properties ((font-size 0))
  (let* ((points (ly:output-def-lookup layout 'text-font-size))
         (least {_least(look)})
         (wanted (+ font-size steps))
         (set-as (if (> least 0) (max wanted (* 6 (/ (log (/ least points)) (log 2)))) wanted)))
    (interpret-markup layout props (make-fontsize-markup (- set-as font-size) text))))
#(define-markup-command (roomy layout props text) (markup?)
  (let* ((stencil (interpret-markup layout props text)) (y (ly:stencil-extent stencil Y)))
    (ly:make-stencil (ly:stencil-expr stencil) (ly:stencil-extent stencil X)
                     (cons (- (car y) {ROOM_BELOW:g}) (cdr y)))))
#(define-markup-command (first-fitting layout props width line lines) (number? markup? markup?)
  (let ((stencil (interpret-markup layout props line)))
    (if (> (interval-length (ly:stencil-extent stencil X)) width)
        (interpret-markup layout props lines)
        stencil)))
#(define (cased? letter) (not (char=? (char-upcase letter) (char-downcase letter))))
#(define-markup-list-command (parted layout props closed word) (list? string?)
  ;; A word whole where a line has room for it, else as much of it on each line as fits.
  (let ((room (chain-assoc-get 'line-width props)) (long (string-length word)))
    (define (fits? text)
      (let ((drawn (interpret-markup layout props text)))
        (<= (interval-length (ly:stencil-extent drawn X)) room)))
    (define (hyphen end)  ; where it means that a word goes on: in scripts with capitals
      (if (and (cased? (string-ref word (1- end))) (cased? (string-ref word end))) "-" ""))
    (define (last-place start mark)
      (let loop ((low (1+ start)) (high (max (1+ start) (- long 3))))
        (let ((middle (quotient (+ low high 1) 2)))
          (cond ((>= low high) low)
                ((fits? (string-append (substring word start middle) mark)) (loop middle high))
                (else (loop low (1- middle)))))))
    (define (open-place end start)
      (if (and (memv end closed) (> end (1+ start))) (open-place (1- end) start) end))
    (define (parts start mark)
      (if (or (<= (- long start) 3) (fits? (substring word start)))
          (list (substring word start))
          (let* ((end (open-place (last-place start mark) start))
                 (sign (if (string-null? mark) "" (hyphen end))))
            (cons (string-append (substring word start end) sign) (parts end mark)))))
    (interpret-markup-list layout props
      (let ((two (parts 0 "-")))  ; more would have a hyphen in each of several lines
        (if (> (length two) 2) (parts 0 "") two)))))
#(define (middle-of-head mark)  ; every mark has its own middle at its zero
  (let* ((column (ly:grob-parent mark X))
         (notes (filter (lambda (each) (grob::has-interface each 'note-column-interface))
                        (ly:grob-array->list (ly:grob-object column 'elements))))
         (heads (append-map (lambda (each)
                              (ly:grob-array->list (ly:grob-object each 'note-heads)))
                            notes)))
    (interval-center (ly:relative-group-extent heads column X))))
#(define-markup-command (as-wide layout props width text) (number? markup?)
  (let ((stencil (interpret-markup layout props text)))
    (ly:make-stencil (ly:stencil-expr stencil) (cons 0 width) (ly:stencil-extent stencil Y))))
#(define (before-the-staff number)  ; level with it, where the rows below have their names
  (- (self-alignment-interface::self-aligned-on-breakable number) 0.8))
#(define (at-the-margin mark)  ; a heading over the names of the rows, clear of the line before
  (- (self-alignment-interface::self-aligned-on-breakable mark) {INDENT * look.music_scale:g}))
\header {{ pdfcreationDate = "2020-01-01T00:00:00Z" tagline = ##f }}
\paper {{
  left-margin = {MARGIN_MM}\mm right-margin = {MARGIN_MM}\mm
  top-margin = 14\mm bottom-margin = 11\mm
  indent = {look.indent_mm:.3f}\mm short-indent = {look.indent_mm:.3f}\mm
  page-breaking = #ly:minimal-breaking  % we say where: the best of all would take a third longer
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
    barNumberVisibility = #all-bar-numbers-visible
    \override BarNumber.font-family = #'sans
    \override BarNumber.color = #faintColour
    \override BarNumber.self-alignment-X = #RIGHT
    \override BarNumber.X-offset = #before-the-staff
    \override BarNumber.Y-offset = #-0.7
    \override BarNumber.outside-staff-priority = ##f
    \override Beam.breakable = ##t
    \override NonMusicalPaperColumn.line-break-permission = ##f  % but where we break
    \override RehearsalMark.self-alignment-X = #LEFT
    \override RehearsalMark.break-align-symbols = #'(left-edge)
    \override RehearsalMark.X-offset = #at-the-margin
    \override RehearsalMark.padding = #1.4
    \override RehearsalMark.vertical-skylines = #(ly:make-unpure-pure-container
      ly:grob::simple-vertical-skylines-from-extents
      ly:grob::pure-simple-vertical-skylines-from-extents)
    \override TupletBracket.direction = #UP  % under high notes the number would stand on lines
    \override TupletBracket.staff-padding = #1
    \override TupletBracket.padding = #2.1  % clear of an accidental in brackets
    \override TextScript.outside-staff-horizontal-padding = #0.8  % of one beside it too
    \override VoltaBracket.font-family = #'sans
    \override Glissando.thickness = #2
    \override Glissando.gap = #0.6
    \override Glissando.minimum-length = #4
    \override Glissando.springs-and-rods = #ly:spanner::set-spacing-rods
  }}
  \context {{ \RhythmicStaff
    \override VerticalAxisGroup.staff-staff-spacing.padding = #1
    \override BreathingSign.Y-offset = #{1.7 * look.music_scale:g}  % over the dots of a repeat
  }}
  \context {{ \Lyrics
    \override LyricText.X-offset = #middle-of-head
    \override LyricSpace.minimum-distance = #{MARKS_APART:g}
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing =
      #'((basic-distance . 4.5) (minimum-distance . 3.5) (padding . {1.1 * look.music_scale:g}))
    \override VerticalAxisGroup.nonstaff-nonstaff-spacing =
      #'((basic-distance . 3.1) (minimum-distance . 3.0) (padding . 0.5) (stretchability . 0))
    \override InstrumentName.self-alignment-X = #RIGHT
  }}
}}
"""


def _least(look: Look) -> float:
    """Return the smallest size of letters in LilyPond's points, a little over that of the look."""
    return look.least_points * _LILYPOND_POINT + 0.02 if look.least_points else 0


_LILYPOND_POINT = 72.27 / 72  # printer's points an inch, to PostScript's


def _book(
    number: int, score: Score, look: Look, *, ids: bool, prints: Footprints | None = None
) -> str:
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
        [tab_block(tab, width, folded=is_folded(score), apart=not (notes or look.large))]
        if tab and set_as.plain_tab
        else []
    )
    return "\n".join(
        [
            f'\\book {{ \\bookOutputName "sheet-{number}"',
            f"\\header {{ title = {named(score.title)} subject = {named(score.about)} }}",
            "\\paper {",
            f"  oddHeaderMarkup = \\markup {running_head(score, width)}",
            "  evenHeaderMarkup = \\oddHeaderMarkup",
            f"  oddFooterMarkup = \\markup {foot(score, width)}",
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
            block(3.4, *head),
            _map_block(score, width, low=set_as.low_map),
            *(["\\pageBreak"] if 0 in set_as.page_ends else []),
            f"\\score {{\n{staff}\n{_layout(look)} ragged-last = {ragged} }}\n}}",
            _boxes(score, look, prints, figure=set_as.figure),
            *([block(2, *notes)] if notes else []),
            *shown_tab,
            "}",
        ]
    )


def _layout(look: Look) -> str:
    """Return the opening of a score's layout, which sets the music in a size of its own."""
    indent = f"{look.indent_mm:.3f}\\mm"
    return (
        f"\\layout {{ #(layout-set-staff-size {look.staff_points})"
        f" indent = {indent} short-indent = {indent}"
    )


def last_is_short(score: Score, line_ends: Sequence[Fraction]) -> bool:
    """Return True for a last line of half the beats before it, or fewer: it keeps its own width."""
    written = [each for bar in printed(score) for each in bar.written]
    ends = [each.start + each.length for each in written]
    beats = [
        sum(each.length for each in written[bisect_right(ends, here) : bisect_right(ends, there)])
        for here, there in pairwise([Fraction(0), *line_ends])
    ]
    return len(beats) > 1 and beats[-1] * 2 <= beats[-2]


def block(skip: float, *parts: str) -> str:
    """Return a markup of *parts* under one another, *skip* staff spaces apart."""
    body = "\n".join(parts)
    return f"\\markup \\override #'(baseline-skip . {skip:g}) \\left-column {{\n{body}\n}}"


def _map_block(score: Score, width: float, *, low: bool) -> str:
    marks = small_lines(legend(score), width)
    return block(3, harp_map(score, width, low=low), "\\vspace #0.5", marks)


def _boxes(score: Score, look: Look, prints: Footprints | None, *, figure: bool) -> str:
    """Return what to listen for and the tempo ladder, beside the pitch ladder if there is one.

    With *prints* of a take what was heard stands where the drill says what to listen for.
    """
    hole = ladder_hole(score) if figure and look.show != "notation" else None
    left = 0.0 if hole is None else ladder_room(score)
    beside = look.width - left
    words = what_was_heard(prints, beside) if prints else listen_for(score, beside)
    parts = "\n".join([*words, *tempo_ladder(score, beside)])
    column = f"\\override #'(baseline-skip . 2.8) \\left-column {{\n{parts}\n}}"
    if hole is None:
        return f"\\markup {column}"
    drawn = pitch_ladder(score, hole, prints)
    down = ladder_top(marked=prints is not None)
    return f"\\markup {overlay(at(0, -down, drawn), at(left, 0, column))}"
