"""The staff with its rows of tab and degrees, as LilyPond input made through abjad."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import accumulate
from typing import Any

from reedmill.harp import Breath
from reedmill.notation import Written, bars
from reedmill.score import Note, Score
from reedmill.sheet.marks import mark
from reedmill.sheet.markup import ACCENT, FAINT, INK, accidental, arrow, coloured, quoted, sized
from reedmill.sheet.quick_abjad import quick_abjad

_ALTERATIONS = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}  # in abjad's English note names
# Notes to a line: what reads well first, then what there is room for when it is needed.
_NOTES_A_LINE = (12, 16, 20, 24)
_BARS_A_LINE = 4
_LINES_A_PAGE = 5
_CLEF_BELOW, _CLEF_ABOVE = 57, 83  # mean key numbers: outside them the staff moves an octave


def music(score: Score) -> str:
    r"""The ``\score`` contents: staff, tab row, degree row."""
    written = bars(score)
    staff: str = quick_abjad().lilypond(_staff(score, written))
    rows = [
        _row("tab", written, score.meter.unit, _tab_mark),
        _row("degree", written, score.meter.unit, _degree_mark),
    ]
    # abjad has no lyrics: the rows go inside the closing brackets of its score
    body, _, closing = staff.rpartition(">>")
    return body + "".join(rows) + ">>" + closing


def lines(score: Score) -> list[int]:
    """How many bars each line of the page holds, sections starting lines of their own.

    Few where the music is dense, more where the page would not hold all lines.
    """
    busy = [max(2, sum(each.note is not None for each in bar)) for bar in bars(score)]
    starts = {int(start / score.meter.beats) for start, _ in score.sections}
    found: list[int] = []
    for notes_a_line in _NOTES_A_LINE:
        found = _filled_lines(busy, starts, notes_a_line)
        if len(found) + bool(starts) <= _LINES_A_PAGE:
            break
    return found


def _filled_lines(busy: list[int], starts: set[int], most: int) -> list[int]:
    """Bars to a line of at most *most* notes and four bars, by the notes of each bar."""
    found: list[int] = []
    room = 0
    for number, notes in enumerate(busy):
        if notes > room or number in starts or found[-1] == _BARS_A_LINE:
            found.append(0)
            room = max(most, notes)
        found[-1] += 1
        room -= notes
    return found


def _staff(score: Score, written: list[list[Written]]) -> Any:
    abjad = quick_abjad()
    leaves: list[tuple[Written, Any]] = []
    containers = [abjad.Container(_bar(bar, score, leaves)) for bar in written]
    staff = abjad.Staff(containers)
    _mark_start(score, leaves[0][1])
    mark(score, leaves)
    _break_lines(score, leaves)
    abjad.attach(abjad.BarLine("|."), leaves[-1][1])
    # abjad writes the meter only for a staff that stands in a score
    return abjad.Score([staff])


def _bar(bar: list[Written], score: Score, leaves: list[tuple[Written, Any]]) -> list[Any]:
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
    abjad.attach(abjad.Clef(_clef(score)), leaf)


def _clef(score: Score) -> str:
    """Treble; an octave treble clef where the notes would sit on many ledger lines."""
    keys = [note.pitch.midi for note in score.notes]
    mean = sum(keys) / len(keys) if keys else 67
    if mean < _CLEF_BELOW:
        return "treble_8"
    return "treble^8" if mean > _CLEF_ABOVE else "treble"


def _break_lines(score: Score, leaves: list[tuple[Written, Any]]) -> None:
    abjad = quick_abjad()
    ends = {bar * score.meter.beats for bar in accumulate(lines(score))}
    for written, leaf in leaves:
        end = written.start + written.length
        if end in ends and end < score.length:
            abjad.attach(abjad.LilyPondLiteral("\\break", site="after"), leaf)


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
