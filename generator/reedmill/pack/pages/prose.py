"""Lesson text on paper: the blocks of ``markdown.py`` as LilyPond markup.

LilyPond runs Scheme it finds in its input, so every word goes through ``markup.quoted``;
all else here is numbers and fixed commands.  A text is a list of lines that LilyPond breaks
over pages; a heading is tied to the first lines under it, and no line of a paragraph stands
alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

from reedmill.base.text import from_right
from reedmill.pack.course.markdown import (
    BREAK,
    Block,
    Code,
    Divider,
    Heading,
    Listing,
    Paragraph,
    Quote,
    TextRun,
    words_of,
)
from reedmill.sheet.letters import odd
from reedmill.sheet.markup import (
    FAINT,
    INK,
    LINE,
    at,
    coloured,
    lilypond_string,
    resized,
    with_space,
)
from reedmill.sheet.wrapping import grouped, unspaced, word_pieces

MEASURE = 76.0
"""The widest a line of text is, in staff spaces: about 75 letters, which read with ease."""

_LINE, _GAP, _ITEM_GAP, _OVER_HEADING = 3.15, 1.5, 0.4, 2.0
"""From line to line, and more between blocks, between items of a list, over a heading."""
_HANG = 3.2  # how far lists and quotes stand in
_RULE_LEFT, _RULE_RIGHT = 0.3, 0.6  # from the edge to the left end of the rule of a quote
# Longer words are cut, after a sign of an address where there is one.
_LONG_WORD = re.compile(r"\S{1,30}(?!\S)|\S{10,29}[/?&=.-]|\S{30}")
_SIZES = {1: 2.5, 2: 1.2}  # of headings; 0.6 below these
_BODY = 0.3

# hung: lines moved right, with a sign before the first.  led: the same with a rule that
# begins at x.  tied: the first and the last two lines as one each, which no page can part; heads
# are tied to what follows.  fitted: scaled down to a width when it is wider, or to width and
# height.
HELPERS = r"""
#(define (moved-right lines dx)
   (map (lambda (line) (ly:stencil-translate-axis line dx X)) lines))
#(define (on-top upper lower)
   (let ((dy (- (car (ly:stencil-extent upper Y)) (cdr (ly:stencil-extent lower Y)))))
     (ly:stencil-add upper (ly:stencil-translate-axis lower dy Y))))
#(define-markup-list-command (hung layout props sign dx lines) (markup? number? markup-list?)
   (let ((moved (moved-right (interpret-markup-list layout props lines) dx))
         (mark (interpret-markup layout props sign)))
     (if (null? moved) moved (cons (ly:stencil-add mark (car moved)) (cdr moved)))))
#(define-markup-list-command (led layout props colour x dx lines)
                             (color? number? number? markup-list?)
   (map (lambda (line)
          (let ((y (ly:stencil-extent line Y)))
            (ly:stencil-add line
              (stencil-with-color (ly:round-filled-box (cons x (+ x 0.3)) y 0) colour))))
        (moved-right (interpret-markup-list layout props lines) dx)))
#(define (tie-two lines)
   (if (or (null? lines) (null? (cdr lines))) lines
       (cons (on-top (car lines) (cadr lines)) (cddr lines))))
#(define-markup-list-command (tied layout props lines) (markup-list?)
   (let* ((all (interpret-markup-list layout props lines)) (count (length all)))
     (cond ((< count 2) all)
           ((< count 4) (list (reduce (lambda (lower upper) (on-top upper lower)) #f all)))
           (else (let ((head (list-head all (- count 2))) (end (list-tail all (- count 2))))
                   (append (tie-two head) (tie-two end)))))))
#(define-markup-list-command (headed layout props heads lines) (markup-list? markup-list?)
   (let ((above (interpret-markup-list layout props heads))
         (below (interpret-markup-list layout props lines)))
     (let* ((all (if (null? below) above (append above (list (car below)))))
            (one (reduce (lambda (lower upper) (on-top upper lower)) #f all)))
       (cons one (if (null? below) '() (cdr below))))))
#(define-markup-command (fitted-in layout props room arg) (number-pair? markup?)
   (let* ((stencil (interpret-markup layout props arg))
          (long (interval-length (ly:stencil-extent stencil X)))
          (high (interval-length (ly:stencil-extent stencil Y)))
          (share (min 1 (/ (car room) (max long 0.1)) (/ (cdr room) (max high 0.1)))))
     (ly:stencil-scale stencil share share)))
#(define-markup-command (fitted layout props width arg) (number? markup?)
   (interpret-markup layout props (markup #:fitted-in (cons width 1000) arg)))
"""


def prose(blocks: Sequence[Block], width: float) -> str:
    r"""Return *blocks* as a ``\markuplist`` that may flow over pages, lines up to *width* wide."""
    if not blocks:
        return ""
    lines = "\n".join(_flow(blocks, min(width, MEASURE)))
    return f"\\markuplist {coloured_lines(lines)}"


def coloured_lines(lines: str) -> str:
    """Return *lines* with the spacing and size of running text."""
    return (
        f"\\override-lines #'(baseline-skip . {_LINE}) \\override-lines #'(font-size . {_BODY})"
        f" {{\n{lines}\n}}"
    )


def _flow(blocks: Sequence[Block], width: float, gap: float = _GAP) -> Iterator[str]:
    """Yield markup lists for *blocks*, *gap* apart, headings kept with what follows."""
    heads: list[str] = []
    for place, block in enumerate(blocks):
        if isinstance(block, Heading):
            heads += [_space(_OVER_HEADING if place else 0), _heading(block, width), _space(0.9)]
            continue
        lines = _lines(block, width)
        if heads:
            lines, heads = f"\\headed {{ {' '.join(heads)} }} {{ {lines} }}", []
        elif place:
            yield _space(gap)
        yield lines
    yield from heads


def _space(height: float) -> str:
    return f"\\vspace #{height / 3:.3g}"  # which counts in thirds of a staff space


def _heading(heading: Heading, width: float) -> str:
    """Return a heading at least a line high: one of asterisks alone would sit too high."""
    size = _SIZES.get(heading.level, 0.6)
    words = " ".join(_words(heading.runs))
    lines = f"\\override #'(baseline-skip . 3) \\override #'(line-width . {width:g})"
    way = _way(heading.runs, "override")
    high = f"\\overlay {{ \\strut {lines} {way}\\wordwrap {{ {words} }} }}"
    return f"\\fitted #{width:g} \\bold {coloured(INK, resized(size, high))}"


def _lines(block: Block, width: float) -> str:
    match block:
        case Paragraph(runs):
            return f"\\tied {{ {_wrapped(runs, width)} }}"
        case Listing(first, items):
            from_left = not from_right(words_of([each for item in items for each in item]))
            rows = (
                _item(
                    _sign(first, n, from_left=from_left), item, width - _HANG, from_left=from_left
                )
                for n, item in enumerate(items)
            )
            return f" {_space(_ITEM_GAP)} ".join(rows)
        case Quote(inner):
            lines = " ".join(_flow(inner, width - _HANG))
            if from_right(words_of(inner)):
                return f"\\led #{LINE} #{width - _RULE_RIGHT:g} #0 {{ {lines} }}"
            return f"\\led #{LINE} #{_RULE_LEFT} #{_HANG} {{ {lines} }}"
        case Code(lines):
            body = " ".join(coloured(INK, _code(line, width - _HANG)) for line in lines)
            return f"\\led #{LINE} #{_RULE_LEFT} #{_HANG} {{ \\column-lines {{ {body} }} }}"
        case Divider():
            return coloured(LINE, f"\\draw-line #'({width:g} . 0)")
        case Heading():
            return _heading(block, width)


def _sign(first: int | None, place: int, *, from_left: bool) -> str:
    if first is None:
        sign, size = "•", _BODY
    else:
        number = first + place
        sign, size = f"{number}." if from_left else f".{number}", -1
    return coloured(FAINT, resized(size, f"\\sans {lilypond_string(sign)}"))


def _item(sign: str, item: Sequence[Block], width: float, *, from_left: bool) -> str:
    """Return *item* with its sign on the side where its text begins."""
    lines = " ".join(_flow(item, width, _ITEM_GAP)) or "\\null"
    if from_left:
        return f"\\hung {sign} #{_HANG} {{ {lines} }}"
    mark = at(width + _HANG, 0, f"\\right-align {sign}")
    return f"\\hung {mark} #0 {{ {lines} }}"


def _code(line: str, width: float) -> str:
    """Return a line with all its spaces, set smaller where it is too long."""
    kept = line.replace(" ", "\N{NO-BREAK SPACE}") or "\N{NO-BREAK SPACE}"
    return f"\\fitted #{width:g} \\typewriter {resized(-1, lilypond_string(kept))}"


def _wrapped(runs: Sequence[TextRun], width: float) -> str:
    """Return *runs* flowing over lines, begun anew at each line break."""
    stretches = [list(group) for is_end, group in groupby(runs, key=BREAK.__eq__) if not is_end]
    return " ".join(
        f"\\override-lines #'(line-width . {width:g}) {_way(stretch, 'override-lines')}"
        f"\\wordwrap-lines {{ {' '.join(_words(stretch))} }}"
        for stretch in stretches
    )


def _way(runs: Sequence[TextRun], override: str) -> str:
    """Return settings for a stretch from right to left, or in a script without spaces."""
    text = _text(runs)
    right = f"\\{override} #'(text-direction . -1) " if from_right(text) else ""
    return right + (f"\\{override} #'(word-space . 0) " if unspaced(text) else "")


def _text(runs: Sequence[TextRun]) -> str:
    return "".join(run.text for run in runs)


def _words(runs: Sequence[TextRun]) -> Iterator[str]:
    """Yield each word as markup, of several pieces where its style changes inside.

    Where a script puts no spaces between its words, those that there are belong to the words.
    """
    text = _text(runs)
    right_to_left = from_right(text)
    word: list[tuple[TextRun, str]] = []
    for run, letters, ends, spaced in _pieces(_with_addresses(runs)):
        if letters:
            word.append((run, letters))
        if ends and word:
            parts = _parts(word, right_to_left=right_to_left)
            if spaced and unspaced(text):
                yield with_space(parts, right_to_left=right_to_left)
            else:
                yield _word(parts)
            word = []
    if word:
        yield _word(_parts(word, right_to_left=right_to_left))


def _parts(word: Sequence[tuple[TextRun, str]], *, right_to_left: bool) -> list[str]:
    """Return the parts of a word from left to right; signs alone follow the text around them."""
    letters = "".join(each for _, each in word)
    lone = not any(map(str.isalpha, letters))
    turned = right_to_left if lone else from_right(letters)
    parts = [coloured(INK, _styled(run, lilypond_string(each))) for run, each in word]
    return parts[::-1] if turned else parts


def _word(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"\\concat {{ {' '.join(parts)} }}"


def _pieces(runs: Sequence[TextRun]) -> Iterator[tuple[TextRun, str, bool, bool]]:
    """Yield a run, some of its letters, whether a line may end there, whether a space follows."""
    right_to_left = from_right(_text(runs))
    for run in runs:
        if run == BREAK:
            yield run, "", True, False
            continue
        parts = grouped(run.text.split(" "), right_to_left=right_to_left)
        for place, part in enumerate(parts):
            found = word_pieces(part) if odd(part) or " " in part else _LONG_WORD.findall(part)
            follows = place < len(parts) - 1
            for number, piece in enumerate(found or [""], start=1):
                inside = number < len(found)
                yield run, piece, inside or follows, follows and not inside


def _with_addresses(runs: Sequence[TextRun]) -> list[TextRun]:
    """Return *runs* with each address printed after its words, as paper has no links."""
    result: list[TextRun] = []
    for href, linked in groupby(runs, key=lambda run: run.href):
        group = list(linked)
        result += group
        shown = href.removeprefix("mailto:")
        if href and not href.startswith("#") and shown != "".join(run.text for run in group):
            result.append(TextRun(f" ({shown})"))
    return result


def _styled(run: TextRun, word: str) -> str:
    for wanted, command in ((run.code, "\\typewriter"), (run.italic, "\\italic")):
        word = f"{command} {word}" if wanted else word
    return f"\\bold {word}" if run.bold else word
