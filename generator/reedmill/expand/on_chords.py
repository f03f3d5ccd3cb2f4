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
from reedmill.expand.fingering import (
    Fingering,
    SungKey,
    Target,
    beside_reeds,
    fingerings,
    reeds_for,
)
from reedmill.expand.style_check import refused_mark
from reedmill.harp import Harp, Reed
from reedmill.score.arrangement import Arrangement
from reedmill.score.reed_pitches import sounding_reed
from reedmill.score.score import Caution, Note, Score, SoundingReed
from reedmill.score.style import Mark
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
    if not notes or (root == 0 and not any(any(each) for each in lowered)):
        return notes
    ways: list[tuple[int, list[Note]]] = []
    for moved in (root, root - _OCTAVE):
        targets = _targets(line, notes, moved, lowered)
        for way in fingerings(line.harp, targets):  # the runner-up may allow a mark of style
            played = list(_renamed(line, notes, way, targets))
            if _refused_style(line, played) is None:
                ways.append((way.cost, played))
    return min(ways, key=lambda way: way[0], default=(0, None))[1]


def _refused_style(line: Score, notes: Sequence[Note]) -> Mark | None:
    """Return the first mark of style that *notes* cannot have where they have been moved."""
    refused = (refused_mark(line.harp, note.reeds, note.style) for note in notes)
    return next((mark for mark in refused if mark is not None), None)


def _lowered(line: Score, notes: Sequence[Note], chord: Chord) -> list[list[int]]:
    """Return the semitones each pitch of each note is lowered by, the lowest first.

    For a minor chord its major third becomes minor; a third a quarter tone lower lies between
    the two, and stays.
    """
    minor = any(name == "b3" for name, _ in chord.tones)
    return [[-1 if minor and _is_third(line, each) else 0 for each in note.sounded]
            for note in notes]  # fmt: skip


def _is_third(line: Score, each: SoundingReed) -> bool:
    above = (each.pitch.midi - line.key.pitch_class) % _OCTAVE
    return above == _THIRD and not each.reed.quarter


def _targets(
    line: Score, notes: Sequence[Note], moved: int, lowered: Sequence[Sequence[int]]
) -> list[Target]:
    targets = []
    for at, (note, less) in enumerate(zip(notes, lowered, strict=True)):
        lasting_s = float(line.performed_s(note.end) - line.performed_s(note.start))
        rested = at > 0 and notes[at - 1].end < note.start
        joined = note.joined and at > 0
        *beside, own = (
            SungKey(each.pitch.midi + moved + by, each.reed.quarter)
            for each, by in zip(note.sounded, less, strict=True)
        )
        targets.append(
            Target(own.midi, lasting_s, joined, None, rested, None, own.quarter, tuple(beside))
        )
    return targets


def _renamed(
    line: Score, notes: Sequence[Note], way: Fingering, targets: Sequence[Target]
) -> Iterator[Note]:
    for note, reed, target in zip(notes, way.reeds, targets, strict=True):
        beside = beside_reeds(line.harp, reed, target.beside) if target.beside else ()
        assert beside is not None  # noqa: S101  only such a reed is chosen
        *others, own = (_sounding(line, each) for each in (*beside, reed))
        yield replace(
            note, reed=reed, pitch=own.pitch, degree=own.degree, hz=own.hz, beside=tuple(others)
        )


def _sounding(line: Score, reed: Reed) -> SoundingReed:
    return sounding_reed(line.harp, line.position, line.intonation, line.reference_hz, reed)


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
    octaves = [
        _targets(line, notes, moved, lowered)
        for moved in (chord.root.semitones, chord.root.semitones - _OCTAVE)
    ]
    lacking, targets = min(
        ((_lacking(line.harp, targets), targets) for targets in octaves),
        key=lambda each: len(each[0]),
    )
    if not lacking:
        return _why_not_together(line, notes, targets)
    names = " and ".join(dict.fromkeys(_named(line, key) for key in sorted(lacking)))
    over = {reed.tab for key in lacking for reed in reeds_for(line.harp, key, overbends=True)}
    how = f"has only as an overbend ({' '.join(sorted(over))})" if over else "does not have"
    return f"it needs {names}, which {with_article(line.harp.label)} {how}"


def _lacking(harp: Harp, targets: Sequence[Target]) -> set[SungKey]:
    """Return the pitches of *targets* that *harp* has on no reed without an overbend."""
    keys = {
        key for target in targets for key in (*target.beside, SungKey(target.midi, target.quarter))
    }
    return {key for key in keys if not reeds_for(harp, key, overbends=False)}


def _why_not_together(line: Score, notes: Sequence[Note], targets: Sequence[Target]) -> str:
    """Say why notes that the harp has one by one cannot be played as they are written."""
    for note, target in zip(notes, targets, strict=True):
        own = SungKey(target.midi, target.quarter)
        if not reeds_for(line.harp, own, target.beside, overbends=False):
            names = " and ".join(_named(line, key) for key in (*target.beside, own))
            harp = with_article(line.harp.label)
            return f"for {note.tab} it needs {names} in one breath, which {harp} does not have"
    ways = fingerings(line.harp, targets)
    if not ways:
        return "a slide would need two reeds"
    mark = _refused_style(line, list(_renamed(line, notes, ways[0], targets)))
    assert mark is not None  # noqa: S101  else that way would have been taken
    return f"there is no reed for its {mark.value}"


def _named(line: Score, key: SungKey) -> str:
    degree = replace(line.position.degree(key.midi, line.key), quarter=key.quarter)
    return spelled(key.midi, degree, line.key).note
