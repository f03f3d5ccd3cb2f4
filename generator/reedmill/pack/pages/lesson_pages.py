"""Pages of a book besides its sheets: the opening of a lesson, and cautions.

Each function returns the body of one LilyPond book in the look of the sheets; ``engraved``
draws many at once.  All words of a course go through ``markup.quoted``.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.pack.course.markdown import read_markdown
from reedmill.pack.pages.chapter import Chapter, Exercise
from reedmill.pack.pages.prose import HELPERS, prose
from reedmill.sheet.blocks import CAUTION
from reedmill.sheet.frame import block, preamble, swept
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    FAINT,
    INK,
    accidental,
    at,
    coloured,
    lilypond_string,
    named,
    overlay,
    resized,
    rule,
    small,
    wrapped,
)
from reedmill.sheet.wrapping import shortened, wide_letters
from reedmill.theory.positions import Position

CAUTIONS = """\
Practice should never hurt. These habits keep it that way.

## Ears

- Listen at a moderate level, especially with headphones. A level at which you can still
  talk with someone in the room is a good one.
- Give your ears a rest after every half hour. Ringing or dullness is a sign to stop.

## Breath

- Breathe from low down and no deeper than in quiet talk; drills that only draw fill the
  lungs, so let the air out where the sheet marks a breath.
- **When you feel dizzy, stop, sit down and breathe normally** until it has passed.

## Lips, jaw and neck

- Bends come from the tongue and the air, not from pressing. Stop when lips or jaw are tired.
- Play a few minutes, rest as long, and drink some water. A harp of your own, kept clean, is
  kinder to your lips.

## When it does not pass

Ringing in the ears, dizziness or pain that lasts or comes back is a matter for a teacher
when it is about how you play, and for a doctor when it is about how you feel. This page is
the usual caution among players; it is not medical advice.
"""
NO_FOOT = "oddFooterMarkup = ##f"
_TITLE_SIZES = ((28, 8.0), (56, 5.5), (90, 3.0))  # letters up to which a title is so large
_SMALLEST_TITLE = 1.5
_SMALL_LETTER = 0.85  # width of a letter as small as a title in a list may get


def engraved(books: Sequence[str], look: Look) -> list[bytes]:
    """Return the PDF of each book; ``RenderError`` when LilyPond complains about one."""
    from reedmill.sheet.engrave import Engraver

    with Engraver() as engraver:
        engraver.feed(source(books, look))
        return engraver.sheets(len(books))


def source(books: Sequence[str], look: Look) -> str:
    """Return the LilyPond input for *books*; number *n* (from 0) comes out as ``sheet-n``."""
    named = (f'\\book {{ \\bookOutputName "sheet-{n}"\n{body}\n}}' for n, body in enumerate(books))
    return "\n".join([preamble(look), HELPERS, swept(list(named))])


def book_body(title: str, foot: str, *parts: str) -> str:
    """Return *parts* as a book called *title*, without a head; *foot* is a setting of its foot."""
    return "\n".join(
        [
            f"\\header {{ title = {named(title)} }}",
            f"\\paper {{ oddHeaderMarkup = ##f evenHeaderMarkup = ##f {foot}",
            "  evenFooterMarkup = \\oddFooterMarkup }",
            *parts,
        ]
    )


def caution_foot(look: Look) -> str:
    """Return the caution at the foot of every sheet."""
    words = coloured(FAINT, f"\\sans {resized(-4, wrapped(CAUTION, look.width))}")
    lines = f"\\override #'(baseline-skip . 2) \\left-column {{ {rule(look.width)} {words} }}"
    return f"oddFooterMarkup = \\markup {lines}"


def title_block(label: str, title: str, about: str, look: Look) -> str:
    """Return a small label, the title, its description, and a rule."""
    letters = wide_letters(title)
    size = next((size for most, size in _TITLE_SIZES if letters <= most), _SMALLEST_TITLE)
    rise = 2 ** (size / 6) / 4  # over the label, for larger letters more
    name = f"\\bold {coloured(INK, resized(size, wrapped(title, look.width)))}"
    return block(
        3.4,
        *([small(label)] if label else []),
        f"\\vspace #{rise:.3g}",
        f"\\fitted #{look.width:g} \\override #'(baseline-skip . 3) {name}",
        *([coloured(FAINT, resized(0.5, wrapped(about, look.width)))] if about else []),
        "\\vspace #0.1",
        rule(look.width, INK),
        "\\vspace #0.5",
    )


# --- lesson -----------------------------------------------------------------------------


def lesson_body(course: str, chapter: Chapter, look: Look) -> str:
    """Return the opening of a lesson: its goal, its text, and its exercises."""
    label = f"{chapter.label} · {course}"
    return book_body(
        chapter.title,
        caution_foot(look),
        title_block(label, chapter.title, chapter.goal, look),
        prose(read_markdown(chapter.text), look.width),
        _exercises(chapter.exercises, look),
    )


def _exercises(exercises: Sequence[Exercise], look: Look) -> str:
    """Return the rows of a lesson in columns, which may flow over pages.

    What a drill is for stands on its sheet alone: one that cannot be drawn takes no lesson with it.
    """
    if not exercises:
        return ""
    rows = "\n".join(_exercise_lines(each, look) for each in exercises)
    head = _columns(look, small("in this lesson"), small("harp"), small("position"), small("tempo"))
    return f"\\markuplist {{ \\vspace #1 \\headed {{ {head} \\vspace #0.3 }} {{ {rows} }} }}"


def _exercise_lines(each: Exercise, look: Look) -> str:
    ordinal = Position(each.position).ordinal
    cells = [
        f"\\bold {one_line(f'{each.number} {each.title}'.strip(), look.width * 0.5)}",
        f"\\fitted #{look.width * 0.14:g} {harp_in_words(each.harp)}",
        lilypond_string(ordinal),
        f"\\fitted #{look.width * 0.15:g} {lilypond_string(each.tempo)}",
    ]
    row = _columns(look, *(coloured(INK, f"\\sans {resized(-1, cell)}") for cell in cells))
    words = filter(None, (each.embouchure, each.note))
    notes = " ".join(f"\\vspace #0.2 {_note(text, look)}" for text in words)
    # one thing for the page breaker, so that no note stands on a page without its row
    return f"\\headed {{ {rule(look.width)} \\vspace #0.35 {row} {notes} \\vspace #0.3 }} {{ }}"


def _note(text: str, look: Look) -> str:
    words = f"\\italic {resized(-0.5, wrapped(text, look.width * 0.9))}"
    return overlay("\\strut", coloured(FAINT, words))


def _columns(look: Look, *cells: str) -> str:
    places = (0.0, 0.55, 0.7, 0.85)
    placed = (at(x * look.width, 0, cell) for x, cell in zip(places, cells, strict=True))
    return overlay("\\strut", *placed)  # as high as a line, whatever its signs are


def one_line(text: str, width: float) -> str:
    """Return *text* on one line: set smaller where it is long, cut with dots where too long.

    The whole of it stands over its own page.
    """
    return f"\\fitted #{width:g} {lilypond_string(shortened(text, int(width / _SMALL_LETTER)))}"


def harp_in_words(name: str) -> str:
    """Return the name of a harp with a real flat sign: ``low Bb natural minor``."""
    words = name.split(" ")
    at_key = 1 if words[0] in ("low", "high") else 0
    parts = [
        accidental(word)
        if n == at_key
        else lilypond_string(f"{word} " if n < at_key else f" {word}")
        for n, word in enumerate(words)
    ]
    return f"\\concat {{ {' '.join(parts)} }}"


# --- cautions ---------------------------------------------------------------------------


def cautions_body(look: Look) -> str:
    """Return a page on how to practise without harm."""
    title = "Take care of yourself"
    return book_body(
        title,
        NO_FOOT,
        title_block("", title, "", look),
        prose(read_markdown(CAUTIONS), look.width),
    )
