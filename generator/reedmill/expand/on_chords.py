"""A line transposed with the chords under it: each bar to the root of its chord.

The bars in a row that stand on one chord are moved together and find their reeds together,
in the octave that is easiest to play.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from reedmill.base.articles import with_article
from reedmill.base.remedies import Remedy
from reedmill.expand.fingering import Fingering, Target, choices, fingerings
from reedmill.harp import note_on_harp
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Caution, Note, Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import spelled

_THIRD = 4  # semitones
_OCTAVE = 12


def on_chords(line: Score, band: Arrangement) -> tuple[tuple[Note, ...], list[Caution]]:
    """Transpose *line*, as long as the *band* plays, to the root of each chord.

    Returns the notes, and a warning for each chord from which the line cannot be played.
    """
    beats = line.meter.beats
    moved: list[Note] = []
    refused: dict[Chord, tuple[list[int], list[Note]]] = {}
    under = [band.chord_at(Fraction(bar * beats)) for bar in range(line.bars)]
    for chord, group in groupby(range(line.bars), key=under.__getitem__):
        bars = list(group)
        notes = [note for note in line.notes if note.start // beats in bars]
        found = _on_chord(line, notes, chord)
        if found is None:
            refused.setdefault(chord, ([], notes))[0].extend(bars)
        moved += _attacked(found or notes)
    every = len(moved) == len(line.notes) and list(line.notes) == moved
    return tuple(moved), list(_warnings(line, band, refused, nothing=every))


def _attacked(notes: list[Note]) -> list[Note]:
    """Start *notes* with an attack: no slide leads over from the reeds of another chord."""
    if notes and notes[0].joined:
        return [replace(notes[0], joined=False), *notes[1:]]
    return notes


def _on_chord(line: Score, notes: list[Note], chord: Chord) -> list[Note] | None:
    """Move *notes* to the root of *chord*; ``None`` when no octave of them can be played."""
    lowered = _lowered(line, notes, chord)
    root = chord.root.semitones
    if not notes or (root == 0 and not any(lowered)):
        return notes
    found = [
        way
        for moved in (root, root - _OCTAVE)
        for way in fingerings(line.harp, _targets(line, notes, moved, lowered))[:1]
    ]
    if not found:
        return None
    return list(_renamed(line, notes, min(found, key=lambda way: way.cost)))


def _lowered(line: Score, notes: Sequence[Note], chord: Chord) -> list[int]:
    """Return the semitone each note is lowered for a minor chord: its major third becomes minor."""
    minor = any(name == "b3" for name, _ in chord.tones)
    thirds = ((note.pitch.midi - line.key.pitch_class) % _OCTAVE == _THIRD for note in notes)
    return [-1 if minor and third else 0 for third in thirds]


def _targets(
    line: Score, notes: Sequence[Note], moved: int, lowered: Sequence[int]
) -> list[Target]:
    targets = []
    for at, (note, less) in enumerate(zip(notes, lowered, strict=True)):
        lasting_s = float(line.performed_s(note.end) - line.performed_s(note.start))
        rested = at > 0 and notes[at - 1].end < note.start
        joined = note.joined and at > 0
        targets.append(Target(note.pitch.midi + moved + less, lasting_s, joined, None, rested))
    return targets


def _renamed(line: Score, notes: Sequence[Note], way: Fingering) -> Iterator[Note]:
    for note, reed in zip(notes, way.reeds, strict=True):
        heard = note_on_harp(line.harp, line.position, reed)
        hz = line.intonation.hz(heard.midi, line.key.pitch_class, line.reference_hz)
        hz = line.harp.tuned(reed, hz)
        yield replace(note, reed=reed, pitch=heard.pitch, degree=heard.degree, hz=hz)


# --- what is said of it --------------------------------------------------------------------


def _warnings(
    line: Score,
    band: Arrangement,
    refused: dict[Chord, tuple[list[int], list[Note]]],
    *,
    nothing: bool,
) -> Iterator[Caution]:
    for chord, (bars, notes) in refused.items():
        places = dict.fromkeys(bar % band.bars_a_chorus + 1 for bar in bars)
        numbers = ", ".join(map(str, places))
        said = (
            f"over {chord.name} ({'bars' if len(places) > 1 else 'bar'} {numbers}) "
            f"{_missing(line, notes, chord)}; there it stays as it is over I"
        )
        yield Caution(said, notes[0].span)
    if refused and nothing:
        span = line.notes[0].span
        yield Caution("nothing could be moved", span, Remedy.LOOPED_OVER_FORM)


def _missing(line: Score, notes: Sequence[Note], chord: Chord) -> str:
    """Name the notes that rule out the nearer octave, and how a harp would give them."""
    lowered = _lowered(line, notes, chord)
    keys = [note.pitch.midi + less for note, less in zip(notes, lowered, strict=True)]
    lacking = [
        {key + moved for key in keys if not choices(line.harp, key + moved, overbends=False)}
        for moved in (chord.root.semitones, chord.root.semitones - _OCTAVE)
    ]
    fewest = min(lacking, key=len)
    if not fewest:
        return "a slide would need two reeds"
    names = " and ".join(dict.fromkeys(_named(line, key) for key in sorted(fewest)))
    over = {reed.tab for key in fewest for reed in choices(line.harp, key, overbends=True)}
    how = f"has only as an overbend ({' '.join(sorted(over))})" if over else "does not have"
    return f"it needs {names}, which {with_article(line.harp.label)} {how}"


def _named(line: Score, key: int) -> str:
    return spelled(key, line.position.degree(key, line.key), line.key).note
