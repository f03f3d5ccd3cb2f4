"""The staff with its rows of tab and degrees, as LilyPond input made through abjad."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING, Any

from reedmill.base.articles import with_article
from reedmill.base.errors import RenderError
from reedmill.score.notation import SHORTEST, NotatedValue, staff_octave, staff_pitch
from reedmill.score.repeats import PrintedBar, printed
from reedmill.score.score import Note, Score
from reedmill.sheet.chord_names import chord_row, tone_mark
from reedmill.sheet.heard_marks import heard_marks
from reedmill.sheet.hole_row import TICK, USUAL_TAB, box_mark, degree_mark, tab_mark
from reedmill.sheet.look import INDENT, Look
from reedmill.sheet.marks import (
    Leaves,
    mark,
    mark_repeats,
    name_notes,
    number_heads,
    numbered_mark,
)
from reedmill.sheet.markup import FAINT, NOTHING, coloured, lilypond_string, resized
from reedmill.sheet.quick_abjad import (
    abjad_chord,
    abjad_note,
    abjad_rest,
    lilypond_of,
    quick_abjad,
)
from reedmill.sheet.rhythm_alone import rhythm_bars, rhythm_score
from reedmill.theory.pitch import Pitch

if TYPE_CHECKING:
    from reedmill.score.footprints import Footprints

_ALTERATIONS = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}  # in abjad's English note names
_QUARTERS = {-1: "tqf", 0: "qf", 1: "qs", 2: "tqs"}  # a quarter tone lower than each
_USUAL_WIDTH = Look().music_width
_COURTESY = "\\accidentalStyle modern-cautionary"
_CLEFS = {-1: "treble_8", 0: "treble", 1: "treble^8"}


@dataclass(frozen=True, slots=True)
class ForScreens:
    r"""The needs of music that is set for several screens; names of sections are left to its page.

    What only some of the screens have is tagged with their names, for ``\keepWithTag``: so
    LilyPond reads the music once for all of them.
    """

    numbers: Mapping[Fraction, int]  # of the note whose written value starts at the beat
    ends: Mapping[str, Collection[Fraction]]  # the beats at which lines end, by screen
    named: Collection[str] = ()  # screens that name the rows at their left
    tick: float = 0.8  # from one tick to the next, as ``TICK``: read at arm's length, not at 1.2 m

    def names(self, shown: str) -> str:
        """Return the commands that name a row, *shown* where there is room for that."""
        words = {f"\\markup {shown}": self.named, f"\\markup {NOTHING}": self.unnamed}
        return "\n".join(
            f"{tagged(screens)}\\set {name} = {label}"
            for label, screens in words.items()
            if screens
            for name in ("vocalName", "shortVocalName")
        )

    @property
    def unnamed(self) -> list[str]:
        """The screens that have no room for the names of the rows."""
        return [screen for screen in self.ends if screen not in self.named]

    def apart(self, row: str) -> str:
        """Return the LilyPond words that keep the degrees clear of the arrows over them."""
        distance = "((basic-distance . 5.5) (minimum-distance . 5.5) (padding . 0.5))"
        spacing = f"VerticalAxisGroup.nonstaff-nonstaff-spacing = #'{distance}"
        return f"\\with {{ \\override {spacing} }} " if row == "tab" else ""


def music(
    score: Score,
    line_ends: Sequence[Fraction] = (),
    page_ends: Collection[int] = (),
    show: str = "both",
    *,
    ids: bool = False,
    width: float = _USUAL_WIDTH,
    tab_size: float = USUAL_TAB,
    scale: float = 1.0,
    prints: Footprints | None = None,
    screens: ForScreens | None = None,
    boxes: float = 0.0,
) -> str:
    r"""Return the ``\score`` contents: staff, tab row and degree row; chords where a band plays.

    *line_ends* says at which beats lines end, *page_ends* after which of them a page does,
    counted from 1; empty sets all in one line.  *show* is ``both``; ``notation`` leaves
    the tab row out; ``tab`` keeps of the staff only the rhythm, on one line.  *ids* names
    every notehead for SVG.  *width* is a line's, in staff spaces; *tab_size* that of the hole
    numbers, in steps.  *scale* is such a staff space in those of the page, in which markup
    measures what it moves and draws.  *prints* of a take make a row of what was heard.
    For *screens* heads and marks have the number of their note, and every line is a page.
    *boxes* is how wide an empty box for each note's tab is, with which the rhythm stands alone,
    whatever *show* says; 0 for none.
    """
    shown = printed(score)
    leaves: Leaves = []
    headed = score if screens is None else replace(score, sections=())
    if boxes:
        shown, headed, show = rhythm_bars(shown), rhythm_score(score), "tab"
    staff = _staff(headed, shown, leaves, show, ((width + INDENT) * scale, scale))
    _break_lines(score, leaves, line_ends, page_ends)
    if ids:
        name_notes(score, leaves)
    if screens is not None:
        _break_for_screens(score, leaves, screens.ends)
        number_heads(leaves, screens.numbers)
    text = lilypond_of(staff)
    written = [each for bar in shown for each in bar.written]
    row = partial(_row, written, score.meter.unit, screens)
    if boxes:
        return _with_rows(text, [row("", partial(box_mark, boxes, scale))])
    rows = [row("degree", partial(degree_mark, scale))]
    if show != "notation":
        tick = TICK if screens is None else screens.tick
        rows.insert(0, row("tab", partial(tab_mark, tab_size, scale, tick)))
    if prints is not None:
        rows.insert(-1, row("heard", heard_marks(score, shown, prints)))
    if score.band:
        rows.append(row("chord", partial(tone_mark, score)))
    return _with_rows(text, rows, chord_row(score, shown))


def _with_rows(staff: str, under: Sequence[str], over: str = "") -> str:
    """Put rows *under* and *over* a staff: abjad, which has no lyrics, closes its score there."""
    opening, _, body = staff.partition("<<")
    body, _, closing = body.rpartition(">>")
    return f"{opening}<<\n{over}{body}{''.join(under)}>>{closing}"


def _staff(
    score: Score,
    shown: list[PrintedBar],
    leaves: Leaves,
    show: str,
    measures: tuple[float, float],
) -> Any:
    """Return the staff as an abjad score; its leaves are added to *leaves*.

    *measures* are the width of a line with its indent, and a staff space of the music, both in
    staff spaces of the page.
    """
    abjad = quick_abjad()
    one_line = show == "tab"
    containers = [
        abjad.Container(_bar(bar.written, score, leaves, one_line=one_line)) for bar in shown
    ]
    kind = "RhythmicStaff" if one_line else "Staff"
    staff = abjad.Staff(containers, lilypond_type=kind)
    _mark_start(score, leaves[0][1])
    if not one_line:  # a sign also where the bar before had the other note of the pair
        abjad.attach(abjad.LilyPondLiteral(_COURTESY, site="before"), leaves[0][1])
    if score.band:  # whose bars are numbered over each, in its form
        abjad.attach(abjad.LilyPondLiteral("\\omit Score.BarNumber", site="before"), leaves[0][1])
    width, scale = measures
    mark(score, shown, leaves, width, scale=scale, one_line=one_line)
    mark_repeats(shown, leaves)
    abjad.attach(abjad.BarLine(":|." if shown[-1].closes else "|."), leaves[-1][1])
    # abjad writes the meter only for a staff that stands in a score
    return abjad.Score([staff])


def _bar(bar: Sequence[NotatedValue], score: Score, leaves: Leaves, *, one_line: bool) -> list[Any]:
    """Return the bar as abjad components, triplets gathered into tuplets."""
    abjad = quick_abjad()
    components: list[Any] = []
    tuplet: Fraction | None = None
    for each in bar:
        leaf = _leaf(each, score, one_line=one_line)
        leaves.append((each, leaf))
        if each.tuplet is not None and each.tuplet == tuplet:
            components[-1].append(leaf)
        elif each.tuplet is not None:
            components.append(abjad.Tuplet("3:2", [leaf]))
        else:
            components.append(leaf)
        tuplet = each.tuplet
    return components


def _leaf(written: NotatedValue, score: Score, *, one_line: bool) -> object:
    """Return a note, chord or rest; ``RenderError`` below a 128th, the shortest of abjad's.

    On *one_line* all heads of a chord would stand on one another: there it has one.
    """
    whole = written.value / score.meter.unit
    _refuse_too_short(written.value, whole)
    if written.note is None:
        return abjad_rest(whole)
    names = [_named(each.pitch) for each in written.note.sounded]
    if one_line or len(names) == 1:
        return abjad_note(names[-1], whole)
    return abjad_chord(names, whole)


def _named(pitch: Pitch) -> str:
    """Return the name of *pitch* in abjad's English."""
    shown = staff_pitch(pitch)
    octave = shown.octave - 3
    marks = "'" * octave if octave > 0 else "," * -octave
    signs = _QUARTERS if shown.quarter else _ALTERATIONS
    return f"{shown.letter.lower()}{signs[shown.alter]}{marks}"


def _refuse_too_short(beats: Fraction, whole: Fraction) -> None:
    parts = (Fraction(3, 2) if whole.numerator == 3 else 1) / whole  # of a plain or dotted value
    if parts > SHORTEST:
        part = with_article(f"{parts}th")
        raise RenderError(
            f"a note of {beats} beats is too short to be drawn: it would be {part} of a "
            f"whole note, and {SHORTEST}ths are the shortest. Write longer notes."
        )


def _mark_start(score: Score, leaf: Any) -> None:
    abjad = quick_abjad()
    letter, alter = score.key.tonic
    tonic = abjad.NamedPitchClass(letter.lower() + _ALTERATIONS[alter])
    mode = abjad.Mode(score.key.mode)
    abjad.attach(abjad.KeySignature(tonic, mode), leaf)
    abjad.attach(abjad.TimeSignature((score.meter.beats, score.meter.unit)), leaf)
    abjad.attach(abjad.Clef(_CLEFS[staff_octave(score)]), leaf)


def _break_lines(
    score: Score, leaves: Leaves, line_ends: Sequence[Fraction], page_ends: Collection[int]
) -> None:
    abjad = quick_abjad()
    ends = {end: number for number, end in enumerate(line_ends, start=1)}
    for written, leaf in leaves:
        end = written.start + written.length
        if end in ends and leaf is not leaves[-1][1]:
            command = "\\pageBreak" if ends[end] in page_ends else "\\break"
            inside_bar = '\\bar "" ' if end % score.meter.beats else ""
            abjad.attach(abjad.LilyPondLiteral(inside_bar + command, site="after"), leaf)


def _break_for_screens(
    score: Score, leaves: Leaves, ends: Mapping[str, Collection[Fraction]]
) -> None:
    """Begin a page at the end of every line, for those of the screens that have it there."""
    abjad = quick_abjad()
    for written, leaf in leaves[:-1]:
        end = written.start + written.length
        if screens := [screen for screen, those in ends.items() if end in those]:
            inside_bar = f'{tagged(screens)}\\bar "" ' if end % score.meter.beats else ""
            page = f"{inside_bar}{tagged(screens)}\\pageBreak"
            abjad.attach(abjad.LilyPondLiteral(page, site="after"), leaf)


def tagged(screens: Collection[str]) -> str:
    r"""Return what stands before music that only these *screens* have.

    >>> tagged(["narrow", "wide"])
    "\\tag #'(narrow wide) "
    """
    return f"\\tag #'({' '.join(screens)}) "


# An arrow is not let into the gap between two degrees.
_SOLID = """\\override LyricText.vertical-skylines = #(ly:make-unpure-pure-container
  ly:grob::simple-vertical-skylines-from-extents
  ly:grob::pure-simple-vertical-skylines-from-extents)"""


# --- rows under the staff ------------------------------------------------------------


def _row(
    written: Sequence[NotatedValue],
    unit: int,
    screens: ForScreens | None,
    name: str,
    mark: Callable[[Note], str],
) -> str:
    """Return a row of marks, one under each attack or slide, silent under rests and ties."""
    syllables = []
    for each in written:
        length = f"1*{each.length.numerator}/{each.length.denominator * unit}"
        if each.note is None or each.tied_on:
            syllables.append(f"\\skip {length}")
        else:
            number = "" if screens is None else numbered_mark(screens.numbers[each.start], name)
            syllables.append(f"{number}\\markup {mark(each.note)} {length}")
    shown = coloured(FAINT, f"\\sans {resized(-3, lilypond_string(name))}")
    label = f"\\markup {shown}"
    names = f"\\set vocalName = {label}\n\\set shortVocalName = {label}"
    several = any(each.note is not None and each.note.beside for each in written)
    solid = [_SOLID] if several else []
    body = "\n".join([*solid, names if screens is None else screens.names(shown), *syllables])
    apart = "" if screens is None else screens.apart(name)
    return f"\\new Lyrics {apart}\\lyricmode {{\n{body}\n}}\n"
