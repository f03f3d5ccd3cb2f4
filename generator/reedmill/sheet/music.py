"""The staff with its rows of tab and degrees, as LilyPond input made through abjad."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import Any

from reedmill.harp import Breath
from reedmill.notation import Written, bars
from reedmill.score import Note, Score
from reedmill.sheet.marks import Leaves, mark, name_notes
from reedmill.sheet.markup import ACCENT, FAINT, INK, accidental, arrow, coloured, quoted, sized
from reedmill.sheet.quick_abjad import quick_abjad

_ALTERATIONS = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}  # in abjad's English note names
_BARS_A_LINE = 4  # more only where notes are set closer than reads best
_CLEF_BELOW, _CLEF_ABOVE = 57, 83  # mean key numbers: outside them the staff moves an octave


def music(
    score: Score,
    by_line: Sequence[int] = (),
    page_ends: Collection[int] = (),
    show: str = "both",
    *,
    ids: bool = False,
) -> str:
    r"""The ``\score`` contents: staff, tab row and degree row.

    *by_line* says how many bars each line holds, *page_ends* after which lines a page ends,
    counted from 1; empty leaves both to LilyPond.  *show* is ``both``; ``notation`` leaves
    the tab row out; ``tab`` keeps of the staff only the rhythm, on one line.  *ids* names
    every notehead for SVG.
    """
    written = bars(score)
    leaves: Leaves = []
    staff = _staff(score, written, leaves, show)
    _break_lines(score, leaves, by_line, page_ends)
    if ids:
        name_notes(score, leaves)
    text: str = quick_abjad().lilypond(staff)
    rows = [_row("degree", written, score.meter.unit, _degree_mark)]
    if show != "notation":
        rows.insert(0, _row("tab", written, score.meter.unit, _tab_mark))
    # abjad has no lyrics: the rows go inside the closing brackets of its score
    body, _, closing = text.rpartition(">>")
    return body + "".join(rows) + ">>" + closing


NOTES_A_LINE = (12, 16, 20, 26)
"""What reads well first, then what there is room for when a page must hold it."""


def busy_bars(score: Score) -> list[list[int]]:
    """How many notes each bar shows, at least 1, in a list for each section."""
    busy = [max(1, sum(each.note is not None for each in bar)) for bar in bars(score)]
    starts = sorted({0, *(int(start / score.meter.beats) for start, _ in score.sections)})
    return [busy[here:there] for here, there in pairwise([*starts, len(busy)])]


def lines(busy: Sequence[list[int]], most: int) -> list[int]:
    """Bars to each line of at most *most* notes; sections start lines of their own.

    *busy* is what ``busy_bars`` gives.
    """
    return [count for section in busy for count in _even_lines(section, most)]


def _even_lines(busy: list[int], most: int) -> list[int]:
    """Bars to a line, as even as can be, none with more than *most* notes if that is possible."""
    count = len(busy)
    for bars_a_line in range(min(max(_BARS_A_LINE, most // 3 - 1), count), 0, -1):
        many = -(-count // bars_a_line)
        short, longer = divmod(count, many)
        sizes = [short + 1] * longer + [short] * (many - longer)
        ends = list(accumulate(sizes, initial=0))
        if all(sum(busy[here:there]) <= most for here, there in pairwise(ends)):
            return sizes
    return [1] * count


def _staff(score: Score, written: list[list[Written]], leaves: Leaves, show: str) -> Any:
    """The staff as an abjad score; its leaves are added to *leaves*."""
    abjad = quick_abjad()
    containers = [abjad.Container(_bar(bar, score, leaves)) for bar in written]
    kind = "RhythmicStaff" if show == "tab" else "Staff"
    staff = abjad.Staff(containers, lilypond_type=kind)
    _mark_start(score, leaves[0][1])
    mark(score, leaves)
    abjad.attach(abjad.BarLine("|."), leaves[-1][1])
    # abjad writes the meter only for a staff that stands in a score
    return abjad.Score([staff])


def _bar(bar: list[Written], score: Score, leaves: Leaves) -> list[Any]:
    """The bar as abjad components, triplets gathered into tuplets."""
    abjad = quick_abjad()
    components: list[Any] = []
    tuplet: Fraction | None = None
    for each in bar:
        leaf = _leaf(each, score)
        leaves.append((each, leaf))
        if each.tuplet is not None and each.tuplet == tuplet:
            components[-1].append(leaf)
        elif each.tuplet is not None:
            components.append(abjad.Tuplet("3:2", [leaf]))
        else:
            components.append(leaf)
        tuplet = each.tuplet
    return components


def _leaf(written: Written, score: Score) -> Any:
    abjad = quick_abjad()
    value = value_name(written.value, score.meter.unit)
    if written.note is None:
        return abjad.Rest(f"r{value}")
    pitch = written.note.pitch
    octave = pitch.octave - 3
    marks = "'" * octave if octave > 0 else "," * -octave
    return abjad.Note(f"{pitch.letter.lower()}{_ALTERATIONS[pitch.alter]}{marks}{value}")


def value_name(beats: Fraction, unit: int) -> str:
    """LilyPond's name of a plain or dotted value: ``4``, ``8.``.

    >>> value_name(Fraction(3, 2), 4), value_name(Fraction(12), 8)
    ('4.', '1.')
    """
    whole = beats / unit
    dotted = whole.numerator == 3
    return str((Fraction(3, 2) if dotted else 1) / whole) + ("." if dotted else "")


def _mark_start(score: Score, leaf: Any) -> None:
    abjad = quick_abjad()
    letter, alter = score.key.tonic
    tonic = abjad.NamedPitchClass(letter.lower() + _ALTERATIONS[alter])
    mode = abjad.Mode("minor" if score.key.minor else "major")
    abjad.attach(abjad.KeySignature(tonic, mode), leaf)
    abjad.attach(abjad.TimeSignature((score.meter.beats, score.meter.unit)), leaf)
    abjad.attach(abjad.Clef(clef(score)), leaf)


def clef(score: Score) -> str:
    """Treble; an octave treble clef where the notes would sit on many ledger lines."""
    keys = [note.pitch.midi for note in score.notes]
    mean = sum(keys) / len(keys) if keys else 67
    if mean < _CLEF_BELOW:
        return "treble_8"
    return "treble^8" if mean > _CLEF_ABOVE else "treble"


def _break_lines(
    score: Score, leaves: Leaves, by_line: Sequence[int], page_ends: Collection[int]
) -> None:
    abjad = quick_abjad()
    ends = {bar * score.meter.beats: n for n, bar in enumerate(accumulate(by_line), start=1)}
    for written, leaf in leaves:
        end = written.start + written.length
        if end in ends and end < score.length:
            command = "\\pageBreak" if ends[int(end)] in page_ends else "\\break"
            abjad.attach(abjad.LilyPondLiteral(command, site="after"), leaf)


# --- rows under the staff ------------------------------------------------------------


def _row(name: str, written: list[list[Written]], unit: int, mark: Callable[[Note], str]) -> str:
    """A row of marks, one under each attack or slide, silent under rests and ties."""
    syllables = []
    for each in (each for bar in written for each in bar):
        length = f"1*{each.length.numerator}/{each.length.denominator * unit}"
        if each.note is None or each.tied_on:
            syllables.append(f"\\skip {length}")
        else:
            syllables.append(f"\\markup {mark(each.note)} {length}")
    shown = coloured(FAINT, f"\\sans {sized(-3, quoted(name))}")
    label = f"\\markup {shown}"
    body = "\n".join([f"\\set vocalName = {label}", f"\\set shortVocalName = {label}", *syllables])
    return f"\\new Lyrics \\lyricmode {{\n{body}\n}}\n"


def _tab_mark(note: Note) -> str:
    """Hole number with its ticks, centred on the number, over an arrow for the breath."""
    reed = note.reed
    sign = "^" if reed.over else "'" * reed.bend
    number = f"\\bold {sized(1, quoted(str(reed.hole)))}"
    tab = number
    if sign:
        ticks = f"\\bold {sized(1, quoted(sign))}"
        tab = f"\\concat {{ \\transparent {ticks} {number} {ticks} }}"
    height = 1.7 if reed.breath is Breath.BLOW else -1.7
    column = f"\\center-column {{ {tab} {arrow(0, 0, height)} }}"
    return f"\\sans \\override #'(baseline-skip . 2.1) {coloured(ACCENT, column)}"


def _degree_mark(note: Note) -> str:
    return coloured(INK, f"\\sans {sized(-1, accidental(note.degree.name))}")
