"""Marks over and between the notes: slides, ties, accents, breaths, names, hints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any

from reedmill.score.notation import (
    ECHO,
    NotatedValue,
    staff_octave,
    staff_pitch,
    staff_step,
)
from reedmill.score.repeats import PrintedBar
from reedmill.score.score import Feel, Note, Score, SoundingReed
from reedmill.sheet.markup import FAINT, INK, coloured, lilypond_string, resized, wrapped
from reedmill.sheet.quick_abjad import heads_of, put_in_brackets, quick_abjad
from reedmill.sheet.style_signs import style_signs
from reedmill.theory.pitch import LETTERS, Pitch, signature_alter

Leaves = list[tuple[NotatedValue, Any]]
"""Every written value of a score with the abjad leaf that shows it."""


def mark(
    score: Score,
    shown: Sequence[PrintedBar],
    leaves: Leaves,
    width: float,
    *,
    scale: float = 1.0,
    one_line: bool = False,
) -> None:
    """Attach to *leaves* all that *score* says besides pitch and length.

    *width* is a line of music with its indent, in staff spaces of the page; long names of
    sections flow over lines.  *scale* is a staff space of the music in those of the page.
    *one_line* is for a staff that shows the rhythm alone: there all heads are at one height.
    """
    _partial(score, leaves[0][1])
    _sections(score, leaves, width)
    _ties_and_accents(score, leaves)
    _styles(leaves, scale)
    if not one_line:
        _reminders(score, shown, leaves)
    _slides(score, leaves, one_line=one_line)
    _breaths(score, leaves)
    _echoes(score, leaves)
    _holds(score, leaves)
    _feel(score, leaves[0][1])


def name_notes(score: Score, leaves: Leaves) -> None:
    """Give every notehead an id, with its hole, breath, bend, degree and start.

    The id of a note's highest hole is its number, that of each other one has the hole too.
    Everything in it is our own numbers and words: LilyPond's SVG writer escapes nothing.
    """
    numbers = {id(note): number for number, note in enumerate(score.notes, start=1)}
    for written, leaf in leaves:
        note = written.note
        if note is None or written.tied_on:
            continue
        heads = heads_of(leaf)  # one for all holes on a single line
        shown = by_pitch(note) if len(heads) > 1 else [note.sounded[-1]]
        for head, sounding in zip(heads, shown, strict=True):
            own = "" if sounding.reed == note.reed else f"-hole-{sounding.reed.hole}"
            attributes = _listed(_head_facts(f"note-{numbers[id(note)]}{own}", sounding, note))
            if len(heads) > 1:
                _tweak(head, f"output-attributes #'({attributes})")
            else:
                override = f"\\once \\override NoteHead.output-attributes = #'({attributes})"
                _literal(leaf, override, "before")


def _head_facts(name: str, sounding: SoundingReed, note: Note) -> dict[str, object]:
    """Return the attributes of a notehead."""
    reed = sounding.reed
    return {
        "id": name,
        "data-hole": reed.hole,
        "data-breath": reed.breath.value,
        "data-bend": f"{reed.bend}.5" if reed.quarter else reed.bend,
        "data-kind": reed.kind.value,
        "data-degree": sounding.degree.name,
        "data-start": note.start,
        "data-length": note.length,
    }


def _listed(facts: Mapping[str, object]) -> str:
    return " ".join(f'({name} . "{value}")' for name, value in facts.items())


def by_pitch(note: Note) -> list[SoundingReed]:
    """Return what sounds in *note*, the lowest pitch first, as heads stand in a chord."""
    return sorted(note.sounded, key=lambda each: _height(each.pitch))


def _height(pitch: Pitch) -> float:
    """Return the key number of *pitch*, a quarter tone lower where it is one."""
    return pitch.midi - pitch.quarter / 2


def number_heads(leaves: Leaves, numbers: Mapping[Fraction, int]) -> None:
    """Return the number of its note for every notehead, those tied to it included."""
    for written, leaf in leaves:
        if written.note is not None:
            row = "tied" if written.tied_on else "head"
            _literal(leaf, _numbered("NoteHead", numbers[written.start], row), "before")


def numbered_mark(number: int, row: str) -> str:
    """Return the tag before the mark of a note with this *number* in *row*, a word of ours."""
    return _numbered("LyricText", number, row) + " "


def _numbered(grob: str, number: int, row: str) -> str:
    attributes = f'(data-note . "{number}") (data-row . "{row}")'
    return f"\\once \\override {grob}.output-attributes = #'({attributes})"


def mark_repeats(shown: Sequence[PrintedBar], leaves: Leaves) -> None:
    """Put repeat signs, endings and counts at the edges of the bars *shown*."""
    first_leaf = {written.start: leaf for written, leaf in leaves}
    last_leaf = {written.start + written.length: leaf for written, leaf in leaves}
    before: PrintedBar | None = None
    for bar in shown:
        commands = [*_closing(before), *_opening(bar)]
        if commands:
            _literal(first_leaf[bar.start], _repeat_commands(commands), "before")
        if bar.closes > _AS_USUAL:
            words = coloured(INK, f"\\sans {resized(-2, lilypond_string(f'{bar.closes} times'))}")
            _literal(last_leaf[bar.end], f"\\textEndMark \\markup {words}", "after")
        before = bar
    # the sign itself is the last bar line; LilyPond wants to be told that an ending is over
    if before is not None and before.ending_ends:
        _literal(leaves[-1][1], _repeat_commands(["(volta #f)"]), "after")


_AS_USUAL = 2  # times a repeat sign without words is played


def _closing(bar: PrintedBar | None) -> list[str]:
    if bar is None:
        return []
    over = ["(volta #f)"] if bar.ending_ends else []
    return over + (["end-repeat"] if bar.closes else [])


def _opening(bar: PrintedBar) -> list[str]:
    begun = [f'(volta "{_passes(bar.ending)}")'] if bar.ending else []
    return begun + (["start-repeat"] if bar.opens else [])


def _passes(numbers: Sequence[int]) -> str:
    """Return the numbers of an ending: ``1.``, ``1. 2.`` or ``1.-5.``."""
    if len(numbers) > _LISTED:
        return f"{numbers[0]}.-{numbers[-1]}."
    return " ".join(f"{number}." for number in numbers)


_LISTED = 2  # passes; more are a range


def _repeat_commands(commands: Sequence[str]) -> str:
    return f"\\set Score.repeatCommands = #'({' '.join(commands)})"


def _literal(leaf: Any, text: str, site: str) -> None:
    abjad = quick_abjad()
    abjad.attach(abjad.LilyPondLiteral(text, site=site), leaf)


def _tweak(head: object, text: str) -> None:
    quick_abjad().tweak(head, f"\\tweak {text}")


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
            # as wide as the line, so that it keeps clear of every mark of the line before
            wide = f"\\as-wide #{width:g} {resized(-1, words)}"
            name = coloured(INK, f"\\sans \\bold {wide}")
            _literal(leaf, f"\\mark \\markup {name}", "before")


def _ties_and_accents(score: Score, leaves: Leaves) -> None:
    """Tie what one note is written as, and what sounds on while other holes join it or leave it.

    Of two chords LilyPond ties the heads that are in both.
    """
    abjad = quick_abjad()
    lifted = {note.start for note in score.notes if score.held_over(note)}
    for written, leaf in leaves:
        if written.tied_over or (written.note is not None and written.note.end in lifted):
            abjad.attach(abjad.Tie(), leaf)
        if written.note is not None and written.note.accent and not written.tied_on:
            abjad.attach(abjad.Articulation(">"), leaf, direction=abjad.UP)


def _styles(leaves: Leaves, scale: float) -> None:
    for written, leaf in leaves:
        if signs := style_signs(written, scale):
            _literal(leaf, _CLEAR_OF_ACCIDENTALS, "before")
            _over(leaf, signs)


_CLEAR_OF_ACCIDENTALS = "\\once \\override TextScript.outside-staff-padding = #0.9"


def _reminders(score: Score, shown: Sequence[PrintedBar], leaves: Leaves) -> None:
    """Add a sign in brackets to a note that was last heard altered, in any bar before.

    LilyPond's cautionary styles remind of the bar before alone; where a half step is what is
    practised, a reader should not have to look back further.
    """
    leaf_of = {written.start: leaf for written, leaf in leaves}
    last: dict[tuple[str, int], float] = {}
    for bar in shown:
        here: set[tuple[str, int]] = set()
        for written in bar.written:
            if written.note is None or written.tied_on:
                continue
            heads = heads_of(leaf_of[written.start])
            for head, sounding in zip(heads, by_pitch(written.note), strict=True):
                pitch = staff_pitch(sounding.pitch)
                place = (pitch.letter, pitch.octave)
                usual = signature_alter(score.key.sharps, pitch.letter)
                altered = pitch.alter - pitch.quarter / 2
                if place not in here and altered == usual != last.get(place, usual):
                    put_in_brackets(head)
                here.add(place)
                last[place] = altered


def _slides(score: Score, leaves: Leaves, *, one_line: bool) -> None:
    """Draw a line from every note to the one that is slid to.

    Its ends are set here: between a note and its bend both heads can stand on one line of
    the staff, on which a level line would not be seen.
    """
    abjad = quick_abjad()
    octave = staff_octave(score)
    heads = [(written, leaf) for written, leaf in leaves if written.note is not None]
    for (before, leaf), (after, next_leaf) in pairwise(heads):
        here, there = before.note, after.note
        if here is None or there is None or here is there or not there.joined:
            continue
        if score.held_over(there):
            continue  # tied
        voice = _moving_voice(here, there)
        ends = [by_pitch(each)[voice] for each in (here, there)]
        left, right = (0.0 if one_line else staff_place(each, octave) for each in ends)
        tilt = _TILT if abs(left - right) < _STEEP else 0.0
        if ends[0].pitch == ends[1].pitch:  # on a page that does not say which way it goes
            left, right, tilt = _LEVEL, _LEVEL, 0.0
        down = -1 if _height(ends[1].pitch) < _height(ends[0].pitch) else 1
        alone = f"\\set glissandoMap = #'(({voice} . {voice})) " if here.beside else ""
        _literal(
            leaf,
            f"{alone if not one_line else ''}"
            f"\\once \\override Glissando.bound-details.left.Y = #{left - down * tilt:g} "
            f"\\once \\override Glissando.bound-details.right.Y = #{right + down * tilt:g}",
            "before",
        )
        abjad.attach(abjad.Glissando(), leaf)
        if alone and not one_line:
            _literal(next_leaf, "\\unset glissandoMap", "after")


def _moving_voice(here: Note, there: Note) -> int:
    """Return which head of a chord, from the lowest, draws the line of a slide: one that moves."""
    both = list(zip(by_pitch(here), by_pitch(there), strict=True))
    moving = [place for place, (one, other) in enumerate(both) if one.reed != other.reed]
    return moving[-1] if moving else 0


_TILT, _STEEP, _LEVEL = 0.5, 1.0, 0.4  # staff spaces


def staff_place(note: Note | SoundingReed, octave: int) -> float:
    """Return staff spaces from the middle line of the treble staff up to a note's head.

    The staff is moved by so many octaves, see ``staff_octave``.
    """
    return (staff_step(note, octave) - _MIDDLE_LINE) / 2


_MIDDLE_LINE = 4 * 7 + LETTERS.index("B")  # B4


def _breaths(score: Score, leaves: Leaves) -> None:
    """Put a comma after each note before a breath, with the way of the air in a word over it."""
    for written, leaf in leaves:
        if written.note is None or written.tied_over:
            continue
        breath = score.breath_after(written.note)
        if breath is not None:
            _literal(leaf, f"\\{breath.way.value}Breath", "after")


def _echoes(score: Score, leaves: Leaves) -> None:
    starts = {start for start, _ in score.echoes}
    for written, leaf in leaves:
        if written.start in starts:
            text = coloured(FAINT, f"\\sans \\italic {resized(-2.5, lilypond_string(ECHO))}")
            _over(leaf, text)


def _holds(score: Score, leaves: Leaves) -> None:
    """Mark the hold once in words, or a letter at every change of a plan that splits."""
    if score.embouchure is None:
        return
    now = None
    for written, leaf in leaves:
        note: Note | None = written.note
        if note is None or note.embouchure is None or note.embouchure is now:
            continue
        now = note.embouchure
        words = score.embouchure.mark(now)
        _over(leaf, coloured(INK, f"\\sans {resized(-3, lilypond_string(words))}"))


def _feel(score: Score, leaf: Any) -> None:
    if score.feel is Feel.SHUFFLE:
        _over(leaf, coloured(INK, f"\\sans \\italic {resized(-1.5, lilypond_string('shuffle'))}"))
