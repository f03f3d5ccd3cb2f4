"""A harp and its notes as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from reedmill.base.source import Span
from reedmill.base.text import columns, printable
from reedmill.formats.text_tab import tab_lines
from reedmill.harp import HOLES, Breath, Harp, Reed, note_on_harp
from reedmill.harp.chord_roles import chord_role
from reedmill.library import Shelved
from reedmill.score.playability import Finding
from reedmill.score.score import Note, Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position

_WIDTH = 6


def harp_picture(harp: Harp, position: Position) -> str:
    """Draw the harp: blow notes above the hole numbers, draw below, degrees under the names."""
    rows: dict[int, dict[int, Reed]] = {}
    for reed in harp.reeds():
        rows.setdefault(_row(reed), {})[reed.hole] = reed
    lines: list[str] = []
    for row in sorted(rows, reverse=True):
        if row < 0 and "hole" not in "".join(lines):
            lines += ["", _line("hole", [str(hole) for hole in HOLES]), ""]
        lines += _two_lines(row, rows[row], harp, position)
    return "\n".join(line.rstrip() for line in lines)


def _row(reed: Reed) -> int:
    out = 5 if reed.over else 1 + reed.bend
    return out if reed.breath is Breath.BLOW else -out


def _two_lines(row: int, reeds: dict[int, Reed], harp: Harp, position: Position) -> list[str]:
    heard = {hole: note_on_harp(harp, position, reed) for hole, reed in reeds.items()}
    names = [heard[hole].pitch.note if hole in heard else "" for hole in HOLES]
    degrees = [heard[hole].degree.name if hole in heard else "" for hole in HOLES]
    label = {1: "blow", 5: "overblow", -1: "draw", -5: "overdraw"}.get(row, f"bend {abs(row) - 1}")
    return [_line(label, names), _line("", degrees)]


def _line(label: str, cells: Sequence[str]) -> str:
    return f"{label:>9}  " + "".join(f"{cell:<{_WIDTH}}" for cell in cells)


def notes_table(harp: Harp, position: Position, reference_hz: float) -> str:
    """Return a table of every note, low to high: tab, name, frequency in Hz and degree."""
    heard = sorted(
        (note_on_harp(harp, position, reed) for reed in harp.reeds()), key=lambda n: n.midi
    )
    rows = [
        (note.reed.tab, note.pitch.name, f"{note.hz(reference_hz):.2f}", note.degree.name)
        for note in heard
    ]
    return text_columns(("tab", "note", "Hz", "degree"), rows)


def roles_table(harp: Harp, reeds: Sequence[Reed]) -> str:
    """Return a table of the degree each reed has in each of the twelve positions."""
    rows = []
    for position in map(Position, range(1, 13)):
        heard = [note_on_harp(harp, position, reed) for reed in reeds]
        key = harp.key_words(position)
        rows.append((position.label, key, *(note.degree.name for note in heard)))
    return text_columns(("", "key", *(reed.tab for reed in reeds)), rows)


def chords_table(
    harp: Harp, position: Position, reeds: Sequence[Reed], chords: Sequence[Chord]
) -> str:
    """Return a table of each reed in each of *chords*: root, third, b7, or a tension."""
    key = harp.key_in(position)
    rows = []
    for reed in reeds:
        heard = note_on_harp(harp, position, reed)
        roles = (chord_role(harp, position, reed, chord) for chord in chords)
        named = (each.word if each.tone else f"({each.word}: {each.name})" for each in roles)
        rows.append((reed.tab, heard.pitch.note, heard.degree.name, *named))
    names = (f"{chord.name} {chord.symbol(key)}" for chord in chords)
    return text_columns(("reed", "note", f"in {key.name}", *names), rows)


def timeline(score: Score) -> str:
    """Return a table of every note: bar, beat, length, tab, note, degree, Hz and role.

    In a shuffle also the beat and length as they sound, after those that are written; where a
    note has marks of style or a slow slide, these last.
    """
    swung = ("sounds at", "for") if score.swing != 1 else ()
    shaped = ("played",) if any(map(_shape, score.notes)) else ()
    rows = []
    for note in score.notes:
        tab = ("~" if note.joined else "") + note.tab
        sounding = _when(score, *score.sounding(note))[1:] if swung else ()
        names = "&".join(each.pitch.name for each in note.sounded)
        hz = "&".join(f"{each.hz:.2f}" for each in note.sounded)
        what = (tab, names, note.degrees, hz, note.role.value)
        style = (_shape(note),) if shaped else ()
        rows.append((*_when(score, note.start, note.length), *sounding, *what, *style))
    heads = ("bar", "beat", "length", *swung, "tab", "note", "degree", "Hz", "role", *shaped)
    return text_columns(heads, rows)


def _shape(note: Note) -> str:
    """Return how *note* is shaped, in words; empty for a plain one."""
    slide = note.slide_beats
    slow = (
        () if slide is None else (f"slide over {mixed(slide)} {'beat' if slide <= 1 else 'beats'}",)
    )
    return "; ".join((*note.style.said, *slow))


def _when(score: Score, start: Fraction, length: Fraction) -> tuple[str, str, str]:
    """Return the bar and the beat, both from 1, and the length."""
    bar, beat = divmod(start, score.meter.beats)
    return str(bar + 1), mixed(beat + 1), mixed(length)


def mixed(beats: Fraction) -> str:
    """Format *beats* as a mixed number, the way a player says it.

    >>> mixed(Fraction(9, 2)), mixed(Fraction(1, 2)), mixed(Fraction(2))
    ('4 1/2', '1/2', '2')
    """
    whole, part = divmod(beats, 1)
    return " ".join(str(piece) for piece in (whole, part) if piece)


def playability_table(found: Sequence[Finding]) -> str:
    """Return a table of each rule: its violators, the notes it was asked of, the places."""
    rows = [
        (f"    {each.rule}", f"{len(each.violators)} of {each.total}", _places(each.violators))
        for each in found
        if each.total
    ]
    return text_columns(("    rule", "broken", "where"), rows)


def _places(spans: Sequence[Span]) -> str:
    shown = [f"{span.line}:{span.column}" for span in spans[:4]]
    return " ".join([*shown, "..."] if len(spans) > len(shown) else shown)


def shelf_card(each: Shelved, *, with_tab: bool = False) -> str:
    """Return level, holes, techniques and purpose of a shipped drill, perhaps with its tab."""
    holes = ", ".join(map(str, each.holes))
    meant = ", ".join(map(str, each.drill.positions)) or "all"
    level = str(each.drill.level or "-")
    techniques = ", ".join(each.techniques)
    trained = ", ".join(map(str, each.practised_holes))
    over = ", ".join(place.name for place in each.drill.over)
    level = f"{level}; over {over}" if over else level
    lines = [
        f"level {level}; practises {_holes(trained)}; uses {_holes(holes)}; positions {meant}; "
        f"{techniques}"
    ]
    lines += [each.drill.about] if each.drill.about else []
    lines += tab_lines(each.score) if with_tab else []
    return "\n".join(f"    {line}" for line in lines)


def _holes(numbers: str) -> str:
    return f"hole{'s' if ',' in numbers else ''} {numbers}"


def counts_table(rows: Sequence[Mapping[str, object]]) -> str:
    """Return a table of names and how many drills each has."""
    heads = tuple(rows[0]) if rows else ("drills",)
    return text_columns(heads, [[str(value) for value in row.values()] for row in rows])


def text_columns(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Align *rows* in columns as wide as their widest cell, two spaces apart.

    >>> print(text_columns(("a", "b"), [("1", "long"), ("22", "x")]))
    a   b
    1   long
    22  x
    """
    cells = [[printable(cell) for cell in row] for row in [heads, *rows]]
    widths = [max(map(columns, column)) for column in zip(*cells, strict=True)]
    lines = ["  ".join(map(_padded, row, widths)) for row in cells]
    return "\n".join(line.rstrip() for line in lines)


def _padded(cell: str, width: int) -> str:
    return cell + " " * (width - columns(cell))
