"""What stands over and between the notes: slides, ties, accents, breaths, names, hints."""

from __future__ import annotations

from typing import Any

from reedmill.notation import ECHO, Written
from reedmill.score import Feel, Hold, Note, Score
from reedmill.sheet.markup import FAINT, INK, coloured, quoted, sized, wrapped
from reedmill.sheet.quick_abjad import quick_abjad

Leaves = list[tuple[Written, Any]]
"""Every written value of a score with the abjad leaf that shows it."""


def mark(score: Score, leaves: Leaves, width: float) -> None:
    """Attach to *leaves* all that *score* says besides pitch and length.

    *width* is a line of music in staff spaces; long names of sections flow over lines.
    """
    _partial(score, leaves[0][1])
    _sections(score, leaves, width)
    _ties_and_accents(leaves)
    _slides(score, leaves)
    _breaths(score, leaves)
    _echoes(score, leaves)
    _holds(score, leaves)
    _feel(score, leaves[0][1])


def name_notes(score: Score, leaves: Leaves) -> None:
    """An id for every notehead, with its hole, breath, bend, degree and start beside it.

    Everything in it is our own numbers and words: LilyPond's SVG writer escapes nothing.
    """
    numbers = {id(note): number for number, note in enumerate(score.notes, start=1)}
    for written, leaf in leaves:
        note = written.note
        if note is None or written.tied_on:
            continue
        facts = {
            "id": f"note-{numbers[id(note)]}",
            "data-hole": note.reed.hole,
            "data-breath": note.reed.breath.value,
            "data-bend": note.reed.bend,
            "data-kind": note.reed.kind.value,
            "data-degree": note.degree.name,
            "data-start": note.start,
            "data-length": note.length,
        }
        listed = " ".join(f'({name} . "{value}")' for name, value in facts.items())
        _literal(leaf, f"\\once \\override NoteHead.output-attributes = #'({listed})", "before")


def _literal(leaf: Any, text: str, site: str) -> None:
    abjad = quick_abjad()
    abjad.attach(abjad.LilyPondLiteral(text, site=site), leaf)


def _over(leaf: Any, markup: str) -> None:
    """Put *markup* above the staff at *leaf*."""
    abjad = quick_abjad()
    abjad.attach(abjad.Markup(f"\\markup {markup}"), leaf, direction=abjad.UP)


def _partial(score: Score, leaf: Any) -> None:
    if score.pickup:
        length = score.pickup / score.meter.unit
        _literal(leaf, f"\\partial 1*{length.numerator}/{length.denominator}", "before")


def _sections(score: Score, leaves: Leaves, width: float) -> None:
    names = dict(score.sections)
    for written, leaf in leaves:
        if written.start in names:
            words = wrapped(names[written.start], width)
            name = coloured(INK, f"\\sans \\bold {sized(-1, words)}")
            _literal(leaf, f"\\mark \\markup {name}", "before")


def _ties_and_accents(leaves: Leaves) -> None:
    abjad = quick_abjad()
    for written, leaf in leaves:
        if written.tied_over:
            abjad.attach(abjad.Tie(), leaf)
        if written.note is not None and written.note.accent and not written.tied_on:
            abjad.attach(abjad.Articulation(">"), leaf, direction=abjad.UP)


def _slides(score: Score, leaves: Leaves) -> None:
    """A slur over each attack and the slides that follow it."""
    abjad = quick_abjad()
    heads: dict[int, list[Any]] = {}
    for written, leaf in leaves:
        if written.note is not None:
            heads.setdefault(id(written.note), []).append(leaf)
    for group in score.attacks():
        if len(group) > 1:
            abjad.attach(abjad.StartSlur(), heads[id(group[0])][0])
            abjad.attach(abjad.StopSlur(), heads[id(group[-1])][-1])


def _breaths(score: Score, leaves: Leaves) -> None:
    for written, leaf in leaves:
        if written.note is not None and written.start + written.length in score.breathe_at:
            _literal(leaf, "\\breathe", "after")


def _echoes(score: Score, leaves: Leaves) -> None:
    starts = {start for start, _ in score.echoes}
    for written, leaf in leaves:
        if written.start in starts:
            text = coloured(FAINT, f"\\sans \\italic {sized(-2.5, quoted(ECHO))}")
            _over(leaf, text)


def hold_sign(hold: Hold) -> str:
    """A letter or two for a hold, where a plan changes it from note to note."""
    return {Hold.LIPS: "L", Hold.TONGUE_LEFT: "TL", Hold.TONGUE_RIGHT: "TR"}[hold]


def _holds(score: Score, leaves: Leaves) -> None:
    """The hold once in words, or a letter at every change of a plan that splits."""
    if score.embouchure is None:
        return
    now = None
    for written, leaf in leaves:
        note: Note | None = written.note
        if note is None or note.embouchure is None or note.embouchure is now:
            continue
        now = note.embouchure
        words = hold_sign(now) if score.embouchure.split else now.short
        _over(leaf, coloured(INK, f"\\sans {sized(-3, quoted(words))}"))


def _feel(score: Score, leaf: Any) -> None:
    if score.feel is Feel.SHUFFLE:
        _over(leaf, coloured(INK, f"\\sans \\italic {sized(-1.5, quoted('shuffle'))}"))
