"""The frame of everything that LilyPond draws: paper, colours, commands, and its memory swept."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from reedmill.sheet.lines import MARKS_APART
from reedmill.sheet.look import INDENT, MARGIN_MM, Look
from reedmill.sheet.markup import ROOM_BELOW


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
#(define (breath way)  ; a comma, and over it the way of the air; only the comma takes up a line
  (markup #:override '(baseline-skip . 0)
    #:overlay (#:musicglyph "scripts.rcomma"
               #:translate '(0.4 . 1.5) #:hcenter-in 0 #:sans #:italic #:print -4 way)))
outBreath = {{ \once \override BreathingSign.text = #(breath "out") \breathe }}
inBreath = {{ \once \override BreathingSign.text = #(breath "in") \breathe }}
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
    \override TextMark.outside-staff-horizontal-padding = #0.8  % of the word over a breath too
    \override RehearsalMark.vertical-skylines = #(ly:make-unpure-pure-container
      ly:grob::simple-vertical-skylines-from-extents
      ly:grob::pure-simple-vertical-skylines-from-extents)
    \override TupletBracket.direction = #UP  % under high notes the number would stand on lines
    \override TupletBracket.staff-padding = #1
    \override TupletBracket.padding = #{2.5 if look.large else 2.1}  % clear of lines and reminders
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


def block(skip: float, *parts: str) -> str:
    """Return a markup of *parts* under one another, *skip* staff spaces apart."""
    body = "\n".join(parts)
    return f"\\markup \\override #'(baseline-skip . {skip:g}) \\left-column {{\n{body}\n}}"
