"""A Score in braille music as a BRF file, for embossers and braille displays.

Transcribed by music21 to the Music Braille Code as De Garmo's *Introduction to Braille Music
Transcription* (Library of Congress) teaches it, 40 cells to a line and 25 lines to a page, in the
letters of ASCII braille.  music21 comes with the extra ``braille`` and is imported here alone.

Braille music says pitches and lengths, chords from their highest note down, ties, triplets,
accents, slurs for slides and lifts, and the way of a breath as a word.  What it or music21 has no
sign for (tab, degrees, the harp, marks of style, how long a slide takes, which hole of a chord
sounds on through a lift) is in the plain tab of the drill.
The title stands above where it is written in the letters a to z, digits and the signs that
music21's table of literary braille has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

from reedmill.base.errors import RenderError
from reedmill.base.text import printable
from reedmill.score.notation import NotatedValue, bars, staff_pitch
from reedmill.score.score import Score
from reedmill.theory.pitch import Pitch

if TYPE_CHECKING:
    import music21

CELLS, LINES = 40, 25
"""Of a page of braille: letter paper as embossers are set (common practice)."""

_INSTALL = (
    "braille music is made by music21, which is not installed. "
    'Install it: pip install "reedmill[braille]"'
)


def brf_bytes(score: Score) -> bytes:
    """Return *score* as a BRF file: equal scores give equal bytes.

    Raises ``RenderError`` where music21 is not installed.
    """
    _library()
    lines = [*_title(score), *braille_lines(score)]
    pages = (lines[start : start + LINES] for start in range(0, len(lines), LINES))
    return "\f".join("".join(f"{_ascii(line)}\r\n" for line in page) for page in pages).encode()


def braille_lines(score: Score, *, octaves: bool = True) -> list[str]:
    """Return *score* as lines of braille music in Unicode cells, with or without octave marks."""
    _library()
    from music21.braille import translate

    with _whole_chords():
        text: str = translate.partToBraille(
            _part(score), inPlace=True, descendingChords=True, maxLineLength=CELLS,
            suppressOctaveMarks=not octaves,
        )  # fmt: skip
    return text.rstrip("\n").split("\n")


_CHORD_TIE = "⠨⠉"
"""The sign of a tie between chords, dots 46-14 (Music Braille Code 2015, BANA: the chord tie)."""

_SLURS = {"shortSlur": "opening_single_slur", "endLongDoubleSlur": "closing_double_slur",
          "endLongBracketSlur": "closing_bracket_slur"}  # fmt: skip


@contextmanager
def _whole_chords() -> Iterator[None]:
    """Have music21 write of a chord what it writes of a note: accent, slur and tie.

    It leaves them out by itself, so that a chord tied to another would be two attacks; of a
    triplet it has the sign only where its notes are under one beam.
    """
    from music21.braille import basic

    usual, of_note, of_rest = basic.chordToBraille, basic.noteToBraille, basic.restToBraille

    def written(chord: music21.chord.Chord, **asked: bool) -> str:
        octave = asked["showOctave"]
        whole: str = usual(chord, **asked)
        pitch = max(chord.pitches) if asked["descending"] else min(chord.pitches)
        plain = _library().note.Note(pitch, quarterLength=chord.quarterLength)
        intervals = whole.removeprefix(basic.noteToBraille(plain, showOctave=octave))
        full = _library().note.Note(pitch, duration=chord.duration)
        full.articulations = list(chord.articulations)
        for name in basic.TEMPORARY_ATTRIBUTES:
            if name not in _SLURS:
                setattr(full, name, getattr(chord, name, False))
        slurs = [basic.symbols[sign] for at, sign in _SLURS.items() if getattr(chord, at, False)]
        tied = chord.tie is not None and chord.tie.type != "stop"
        head: str = basic.noteToBraille(full, showOctave=octave)
        return "".join([head, intervals, *slurs, *([_CHORD_TIE] if tied else [])])

    def opened(write: Callable[..., str]) -> Callable[..., str]:
        def with_sign(*given: object, **asked: object) -> str:
            element = given[0] if given else asked["music21Note"]
            sign: str = basic.symbols["triplet"] if getattr(element, _OPENS, False) else ""
            return sign + write(*given, **asked)

        return with_sign

    basic.chordToBraille = opened(written)
    basic.noteToBraille, basic.restToBraille = opened(of_note), opened(of_rest)
    try:
        yield
    finally:
        basic.chordToBraille = usual
        basic.noteToBraille, basic.restToBraille = of_note, of_rest


_OPENS = "reedmill_opens_triplet"  # an attribute of what a triplet begins with


def _library() -> ModuleType:
    try:
        return import_module("music21")
    except ImportError:
        raise RenderError(_INSTALL) from None


def _ascii(line: str) -> str:
    from music21.braille.basic import brailleUnicodeToBrailleAscii

    found: str = brailleUnicodeToBrailleAscii(line.rstrip("\u2800 "))
    return found.lower()


def _title(score: Score) -> Iterator[str]:
    """Yield the title in literary braille, line by line; nothing where a letter has no cell."""
    from music21.braille.basic import wordToBraille

    line = ""
    try:
        cells = [wordToBraille(word) for word in printable(score.title).split()]
    except Exception:
        return
    for word in cells:
        if line and len(line) + 1 + len(word) > CELLS:
            yield line
            line = ""
        line += ("\u2800" if line else "") + word[:CELLS]
    if line:
        yield line


def _part(score: Score) -> music21.stream.Part:
    """Return *score* as a part of music21: measures of notes and rests, without words."""
    library = _library()
    part = library.stream.Part()
    heads: dict[Fraction, list[music21.note.GeneralNote]] = {}  # of each note, by its start
    for number, bar in enumerate(bars(score)):
        measure = library.stream.Measure(number=number if score.pickup else number + 1)
        if number == 0:
            measure.append(library.key.KeySignature(score.key.sharps))
            measure.append(library.meter.TimeSignature(score.meter.name))
            if score.pickup:
                short = score.meter.beats - score.pickup
                measure.paddingLeft = _quarters(short, score)
        for written, element in zip(bar, _elements(bar, score), strict=True):
            measure.append(element)
            if written.note is not None:
                heads.setdefault(written.note.start, []).append(element)
            measure.append(list(_breath(written, score)))
        part.append(measure)
    for attack in score.attacks():
        if len(attack) > 1:
            ends = [heads[attack[0].start][0], heads[attack[-1].start][-1]]
            part.insert(0, library.spanner.Slur(ends))
    part[-1].rightBarline = library.bar.Barline("final")
    return part


def _breath(written: NotatedValue, score: Score) -> Iterator[music21.expressions.TextExpression]:
    """Yield the way of the breath after a note, as a word, where one is marked."""
    ended = written.note is not None and not written.tied_over
    breath = score.breath_after(written.note) if ended and written.note else None
    if breath is not None:
        yield _library().expressions.TextExpression(breath.way.value)


def _elements(bar: Sequence[NotatedValue], score: Score) -> Iterator[music21.note.GeneralNote]:
    """Yield the notes, chords and rests of *bar*; what opens a triplet is told apart."""
    now: Fraction | None = None
    for written in bar:
        element = _element(written, score)
        if written.tuplet is not None and written.tuplet != now:
            setattr(element, _OPENS, True)
        now = written.tuplet
        yield element


def _quarters(beats: Fraction, score: Score) -> Fraction:
    return beats * 4 / score.meter.unit


# In music21's names, by alteration: of a note, and of one a quarter tone lower.
_SIGNS = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}
_QUARTER_SIGNS = {-1: "-`", 0: "`", 1: "~", 2: "#~"}


def _name(pitch: Pitch) -> str:
    shown = staff_pitch(pitch)
    signs = _QUARTER_SIGNS if shown.quarter else _SIGNS
    return f"{shown.letter}{signs[shown.alter]}{shown.octave}"


def _element(written: NotatedValue, score: Score) -> music21.note.GeneralNote:
    library = _library()
    length = library.duration.Duration(_quarters(written.length, score))
    if written.note is None:
        return library.note.Rest(duration=length)
    names = [_name(each.pitch) for each in written.note.sounded]
    found = (
        library.note.Note(names[0], duration=length)
        if len(names) == 1
        else library.chord.Chord(names, duration=length)
    )
    if written.tied_over or written.tied_on:
        both = written.tied_over and written.tied_on
        kind = "continue" if both else "start" if written.tied_over else "stop"
        found.tie = library.tie.Tie(kind)
    if written.note.accent and not written.tied_on:
        found.articulations.append(library.articulations.Accent())
    return found
