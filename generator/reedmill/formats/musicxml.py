"""A Score as MusicXML 4.0 (score-partwise), for notation editors and other readers.

Written to MusicXML 4.0 by the W3C Music Notation Community Group.  One part, one voice, and
only what the format has a word for:

- tab is lyric 1 and ``technical/other-technical``, the degree with its real sign lyric 2;
- holes played together are a chord, the lowest hole first, with the marks on its first note;
- a quarter tone lower is an ``alter`` of half a semitone, with its accidental shown;
- joined notes are tied together by a ``slide`` from note to note under one ``slur``; a slow
  slide has the beats it takes as its text;
- what sounds on while other holes join it or leave it is tied, head by head, without a slide;
- scoop, fall and mute are ``scoop``, ``falloff`` and ``harmon-mute``, a vibrato is a
  ``wavy-line``; for its count, and for slap, pull and shake, which have no element, the word
  of the pattern language is an ``other-technical`` mark and stands over the staff;
- a section's name is a ``rehearsal`` mark; tempo, harp, shuffle, echoes and the embouchure,
  with the words and letters of the sheet, are ``direction`` words, an echo's length a line of
  dashes;
- what stands over the music (level, purpose, listening, anchor, tuning, A4, ...) is in
  ``identification/miscellaneous``, one field each.

MusicXML cannot say the direction of the breath but through the tab, nor the frequency in Hz
of a note: intonation and A4 are fields, the pitches are those of the staff.  Swing is for
eighths and sixteenths only, so in 2/2 a shuffle is words alone.  Not written at all, because
they are not notation: a note's role (anchor or rung), the warnings, and where in the pattern
a note comes from.

Beams are written, over quarters (dotted quarters in 6/8, 9/8 and 12/8); the directions of
stems and the shown accidentals, but for quarter tones, are left to the reader.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise
from xml.etree import ElementTree as ET

from reedmill import __version__
from reedmill.base.errors import RenderError
from reedmill.base.text import printable
from reedmill.formats.chord_symbols import harmonies
from reedmill.harp.together import holes_tab
from reedmill.score.notation import ECHO, NotatedValue, bars, staff_octave, staff_pitch
from reedmill.score.score import Feel, LipShape, Meter, Note, Score, SoundingReed
from reedmill.score.style import Mark
from reedmill.theory.degrees import with_real_signs
from reedmill.theory.pitch import with_signs

_TYPES = {
    1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th",
    128: "128th", 256: "256th",
}  # fmt: skip
_SWING_TYPES = {4: "eighth", 8: "16th"}  # half of a beat, by the meter's lower number
_HARMONICA = 23  # General MIDI program, from one


def musicxml_bytes(score: Score) -> bytes:
    """Return *score* as a MusicXML 4.0 file in UTF-8: equal scores give equal bytes.

    Every text of the score is made printable and stands in text nodes only, where
    ElementTree escapes it.  There is no DOCTYPE, so nothing has to be fetched to read it.
    """
    root = ET.Element("score-partwise", version="4.0")
    _sub(root, "movement-title", printable(score.title))
    _identification(root, score)
    _credits(root, score)
    _part_list(root)
    _measures(_sub(root, "part", id="P1"), score)
    ET.indent(root, " ")
    body: str = ET.tostring(root, "unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def _sub(parent: ET.Element, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    """Append a child to *parent*; an underscore in an attribute's name stands for a hyphen."""
    child = ET.SubElement(parent, tag, {k.replace("_", "-"): v for k, v in attributes.items()})
    child.text = text
    return child


# --- heading -------------------------------------------------------------------------


def _identification(root: ET.Element, score: Score) -> None:
    identification = _sub(root, "identification")
    encoding = _sub(identification, "encoding")
    _sub(encoding, "software", f"Reedmill {__version__}")
    _sub(encoding, "supports", element="beam", type="yes")
    _sub(encoding, "supports", element="stem", type="no")
    _sub(encoding, "supports", element="accidental", type="no")
    miscellaneous = _sub(identification, "miscellaneous")
    for name, text in details(score):
        _sub(miscellaneous, "miscellaneous-field", text, name=name)


def details(score: Score) -> tuple[tuple[str, str], ...]:
    """Return name and text of each field for which MusicXML has no element."""
    found = {
        "harp": score.harp.name,
        "layout": printable(score.harp.layout.name),
        "position": str(score.position.number),
        "key": score.key.name,
        "level": str(score.level or ""),
        "about": printable(score.about),
        "listen": printable(score.listen),
        "tempo goal": str(score.tempo_goal_bpm or ""),
        "feel": score.feel.value,
        "embouchure": score.embouchure.words if score.embouchure else "",
        "anchor": holes_tab(score.anchor_holes) if score.anchor_holes else "",
        "rungs": " ".join(map(holes_tab, score.rung_holes)),
        "intonation": score.intonation.name,
        "A4 in Hz": str(float(score.reference_hz)),
    }
    return tuple((name, text) for name, text in found.items() if text)


def _credits(root: ET.Element, score: Score) -> None:
    for kind, text in (("title", score.title), ("subtitle", score.about)):
        if text:
            credit = _sub(root, "credit", page="1")
            _sub(credit, "credit-type", kind)
            _sub(credit, "credit-words", printable(text))


def _part_list(root: ET.Element) -> None:
    """Add one harmonica: its sound is ``wind.reed.harmonica`` of the MusicXML 4.0 list."""
    part = _sub(_sub(root, "part-list"), "score-part", id="P1")
    _sub(part, "part-name", "Harmonica")
    instrument = _sub(part, "score-instrument", id="P1-I1")
    _sub(instrument, "instrument-name", "Harmonica")
    _sub(instrument, "instrument-sound", "wind.reed.harmonica")
    midi = _sub(part, "midi-instrument", id="P1-I1")
    _sub(midi, "midi-channel", "1")
    _sub(midi, "midi-program", str(_HARMONICA))


# --- bars ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Writing:
    """The tables of a score that each of its notes is looked up in while it is written."""

    score: Score
    divisions: int  # of a quarter: makes every length whole
    leaving: frozenset[Fraction]  # starts of the notes a slide leaves
    arriving: frozenset[Fraction]  # starts of the notes a slide reaches
    slow: dict[Fraction, Fraction]  # beats that a slow slide takes, by where it starts
    held: dict[Fraction, tuple[int, ...]]  # holes that sound on through a lift, by where it is
    directions: tuple[ET.Element, ...]  # in time order
    said_at: tuple[Fraction, ...]  # the beat of each

    def ticks(self, beats: Fraction) -> str:
        """Return *beats* as the whole number of divisions that a duration takes."""
        return str(_quarters(beats, self.score.meter) * self.divisions)

    def said(self, start: Fraction, end: Fraction) -> Iterator[tuple[Fraction, ET.Element]]:
        """Yield the directions from *start* to just before *end*, each with its beat."""
        first, last = bisect_left(self.said_at, start), bisect_left(self.said_at, end)
        return zip(self.said_at[first:last], self.directions[first:last], strict=True)

    def ties(self, written: NotatedValue, head: SoundingReed | None) -> tuple[str, ...]:
        """Return the ends of ties at a *head* of a written value: in its note, and by a lift."""
        over, on = written.tied_over, written.tied_on
        if written.note is not None and head is not None:
            hole = head.reed.hole
            over = over or hole in self.held.get(written.note.end, ())
            on = on or hole in self.held.get(written.note.start, ())
        return _starts_and_stops(over, on)


def _quarters(beats: Fraction, meter: Meter) -> Fraction:
    return beats * 4 / meter.unit


def _measures(part: ET.Element, score: Score) -> None:
    written = bars(score)
    writing = _writing(score, written)
    for at, bar in enumerate(written):
        measure = _measure(part, at, score)
        if at == 0:
            _attributes(measure, writing)
        _music(measure, bar, writing)
    _say(measure, writing, writing.score.length, writing.score.length + 1)
    _sub(_sub(measure, "barline", location="right"), "bar-style", "light-heavy")


def _measure(part: ET.Element, at: int, score: Score) -> ET.Element:
    """Return bar *at*, from 0; a pick-up is bar 0 and not counted."""
    if score.pickup and at == 0:
        return _sub(part, "measure", number="0", implicit="yes")
    return _sub(part, "measure", number=str(at if score.pickup else at + 1))


def _writing(score: Score, written: list[list[NotatedValue]]) -> _Writing:
    said = [*_directions(score), *harmonies(score)]
    directions = sorted(said, key=lambda each: each[0])
    lengths = [each.length for bar in written for each in bar] + [at for at, _ in directions]
    held = {note.start: holes for note in score.notes if (holes := score.held_over(note))}
    slides = [
        (before, note)
        for attack in score.attacks()
        for before, note in pairwise(attack)
        if note.start not in held
    ]
    return _Writing(
        score,
        math.lcm(*(_quarters(length, score.meter).denominator for length in lengths)),
        frozenset(before.start for before, _ in slides),
        frozenset(note.start for _, note in slides),
        {each.start: each.slide_beats for each in score.notes if each.slide_beats is not None},
        held,
        tuple(direction for _, direction in directions),
        tuple(at for at, _ in directions),
    )


def _attributes(measure: ET.Element, writing: _Writing) -> None:
    score = writing.score
    attributes = _sub(measure, "attributes")
    _sub(attributes, "divisions", str(writing.divisions))
    key = _sub(attributes, "key")
    _sub(key, "fifths", str(score.key.sharps))
    _sub(key, "mode", score.key.mode)
    time = _sub(attributes, "time")
    _sub(time, "beats", str(score.meter.beats))
    _sub(time, "beat-type", str(score.meter.unit))
    clef = _sub(attributes, "clef")
    _sub(clef, "sign", "G")
    _sub(clef, "line", "2")
    if octave := staff_octave(score):
        _sub(clef, "clef-octave-change", str(octave))


def _music(measure: ET.Element, bar: list[NotatedValue], writing: _Writing) -> None:
    beams = _beams(bar, writing.score.meter)
    brackets = _brackets(bar)
    for each in bar:
        _say(measure, writing, each.start, each.start + each.length)
        _note(measure, each, writing, beams.get(each.start, ()), brackets.get(each.start, ()))


def _say(measure: ET.Element, writing: _Writing, start: Fraction, end: Fraction) -> None:
    """Append the directions from *start* on; a later one gets an offset."""
    for at, direction in writing.said(start, end):
        if at > start:
            _sub(direction, "offset", writing.ticks(at - start))
        measure.append(direction)


# --- notes -----------------------------------------------------------------------------


def _note(
    measure: ET.Element,
    written: NotatedValue,
    writing: _Writing,
    beams: tuple[str, ...],
    brackets: tuple[str, ...],
) -> None:
    """Append one notehead, chord or rest."""
    heads = [None] if written.note is None else list(written.note.sounded)
    for place, head in enumerate(heads):
        element = _head(measure, written, writing, head, in_chord=place > 0)
        if place == 0:
            for number, beam in enumerate(beams, 1):
                _sub(element, "beam", beam, number=str(number))
        _notations(element, written, writing, brackets if place == 0 else (), head)
        if place == 0 and written.note is not None and not written.tied_on:
            _lyric(element, "1", "tab", written.note.tab)
            _lyric(element, "2", "degree", with_real_signs(written.note.degrees))


def _head(
    measure: ET.Element,
    written: NotatedValue,
    writing: _Writing,
    head: SoundingReed | None,
    *,
    in_chord: bool,
) -> ET.Element:
    """Append a notehead or rest with its pitch and value, in the order of the schema."""
    element = _sub(measure, "note")
    whole_bar = head is None and written.length == writing.score.meter.beats
    if in_chord:
        _sub(element, "chord")
    _sounding(element, head, whole_bar=whole_bar)
    _sub(element, "duration", writing.ticks(written.length))
    ties = writing.ties(written, head)
    for tie in ties:
        _sub(element, "tie", type=tie)
    _sub(element, "voice", "1")
    if not whole_bar:
        _value(element, written, writing.score.meter, None if "stop" in ties else head)
    return element


def _sounding(element: ET.Element, head: SoundingReed | None, *, whole_bar: bool) -> None:
    if head is None:
        _sub(element, "rest", **({"measure": "yes"} if whole_bar else {}))
        return
    shown = staff_pitch(head.pitch)
    pitch = _sub(element, "pitch")
    _sub(pitch, "step", shown.letter)
    if shown.alter or shown.quarter:
        _sub(pitch, "alter", f"{shown.alter - shown.quarter / 2:g}")
    _sub(pitch, "octave", str(shown.octave))


# By the alteration that a note a quarter tone lower starts from.
_QUARTER_SIGNS = {
    -1: "three-quarters-flat", 0: "quarter-flat", 1: "quarter-sharp", 2: "three-quarters-sharp",
}  # fmt: skip


def _value(
    element: ET.Element, written: NotatedValue, meter: Meter, attacked: SoundingReed | None
) -> None:
    """Append value, dot and triplet, and the accidental of a quarter tone that is *attacked*."""
    name, dotted = value_type(written.value, meter.unit)
    _sub(element, "type", name)
    if dotted:
        _sub(element, "dot")
    if attacked is not None and attacked.pitch.quarter:
        _sub(element, "accidental", _QUARTER_SIGNS[staff_pitch(attacked.pitch).alter])
    if written.triplet:
        time = _sub(element, "time-modification")
        _sub(time, "actual-notes", "3")
        _sub(time, "normal-notes", "2")


def value_type(beats: Fraction, unit: int) -> tuple[str, bool]:
    """Return MusicXML's name of a plain or dotted value, and whether it is dotted.

    Raises ``RenderError`` below a 256th.

    >>> value_type(Fraction(3, 2), 4), value_type(Fraction(12), 8)
    (('quarter', True), ('whole', True))
    """
    whole = beats / unit
    dotted = whole.numerator == 3
    plain = whole / (Fraction(3, 2) if dotted else 1)
    if plain.denominator not in _TYPES:
        raise RenderError(f"a note of {beats} beats is too short to be written in MusicXML.")
    return _TYPES[plain.denominator], dotted


def _starts_and_stops(starts: bool, stops: bool) -> tuple[str, ...]:
    """Return ``stop`` before ``start``, as many as apply at a note."""
    return ("stop",) * stops + ("start",) * starts


def _notations(
    element: ET.Element,
    written: NotatedValue,
    writing: _Writing,
    brackets: tuple[str, ...],
    head: SoundingReed | None,
) -> None:
    """Append ties, triplet brackets and marks; no empty element where there are none."""
    notations = ET.Element("notations")
    for tie in writing.ties(written, head):
        _sub(notations, "tied", type=tie)
    for bracket in brackets:
        _sub(notations, "tuplet", type=bracket, number="1")
    if written.note is not None and head is not None:
        _marks(notations, written, written.note, writing, written.note.sounded.index(head))
    if len(notations):
        element.append(notations)


def _marks(
    notations: ET.Element, written: NotatedValue, note: Note, writing: _Writing, place: int
) -> None:
    """Append slides, tab, accent, style and breath, at the first head of a note or its last.

    All but slides stand at the lowest head of a chord, *place* 0.
    """
    first, last = not written.tied_on, not written.tied_over
    leaving, arriving = note.start in writing.leaving, note.start in writing.arriving
    if place == 0:
        slurs = (first and leaving and not arriving, last and arriving and not leaving)
        for slur in _starts_and_stops(*slurs):
            _sub(notations, "slur", type=slur, number="1")
    _slide(notations, last and leaving, first and arriving, place, writing.slow.get(note.end))
    if place:
        return
    if first:
        _ornaments(notations, note, last=last)
        _technical(notations, note)
    elif last and Mark.VIBRATO in note.style:
        _sub(_sub(notations, "ornaments"), "wavy-line", type="stop", number="1")
    _articulations(
        notations, note, first, last, breath=last and writing.score.breath_after(note) is not None
    )


def _slide(
    notations: ET.Element, leaves: bool, arrives: bool, place: int, beats: Fraction | None
) -> None:
    """Append the ends of slides, each head of a chord with a number of its own."""
    number = str(place + 1)
    for slide in _starts_and_stops(leaves, arrives):
        line = _sub(notations, "slide", type=slide, number=number, line_type="solid")
        if slide == "start" and beats is not None and place == 0:
            line.text = f"{beats} {'beat' if beats == 1 else 'beats'}"


def _ornaments(notations: ET.Element, note: Note, *, last: bool) -> None:
    if Mark.VIBRATO not in note.style:
        return
    ornaments = _sub(notations, "ornaments")
    for kind in ("start", "stop") if last else ("start",):
        _sub(ornaments, "wavy-line", type=kind, number="1")


def _technical(notations: ET.Element, note: Note) -> None:
    """Append the tab, and what no element says in the words of the pattern language."""
    technical = _sub(notations, "technical")
    _sub(technical, "other-technical", note.tab)
    if Mark.MUTE in note.style:
        _sub(_sub(technical, "harmon-mute"), "harmon-closed", "yes")
    for word in spelled_out(note):
        _sub(technical, "other-technical", word)


def spelled_out(note: Note) -> list[str]:
    """Return the words of the marks of *note* that MusicXML has no element for: ``slap``."""
    both = zip(note.style.marks, note.style.words, strict=True)
    return [word for mark, word in both if mark not in _ELEMENTS]


_ELEMENTS = (Mark.MUTE, Mark.SCOOP, Mark.FALL)
"""The marks that MusicXML has an element for; that of a vibrato has no count."""


def _articulations(
    notations: ET.Element, note: Note, first: bool, last: bool, *, breath: bool
) -> None:
    articulations = ET.Element("articulations")
    if first and note.accent:
        _sub(articulations, "accent")
    if first and Mark.SCOOP in note.style:
        _sub(articulations, "scoop")
    if last and Mark.FALL in note.style:
        _sub(articulations, "falloff")
    if breath:
        _sub(articulations, "breath-mark", "comma")
    if len(articulations):
        notations.append(articulations)


def _lyric(element: ET.Element, number: str, name: str, text: str) -> None:
    lyric = _sub(element, "lyric", number=number, name=name)
    _sub(lyric, "syllabic", "single")
    _sub(lyric, "text", text)


def _brackets(bar: list[NotatedValue]) -> dict[Fraction, tuple[str, ...]]:
    """Return where each triplet of the bar starts and stops, by the start of its note."""
    found: dict[Fraction, tuple[str, ...]] = {}
    for tuplet, group in groupby(bar, key=lambda each: each.tuplet):
        if tuplet is not None:
            inside = [each.start for each in group]
            found[inside[0]] = ("start",)
            found[inside[-1]] = (*found.get(inside[-1], ()), "stop")
    return found


# --- beams -----------------------------------------------------------------------------


def _beams(bar: list[NotatedValue], meter: Meter) -> dict[Fraction, tuple[str, ...]]:
    """Return the beams of each beamed note of the bar, beam 1 first, by the start of the note."""
    found: dict[Fraction, tuple[str, ...]] = {}
    for group in _beamed(bar, meter):
        flags = [_flags(each, meter) for each in group]
        for at, each in enumerate(group):
            levels = range(1, flags[at] + 1)
            found[each.start] = tuple(_beam(flags, at, level) for level in levels)
    return found


def _beamed(bar: list[NotatedValue], meter: Meter) -> Iterator[list[NotatedValue]]:
    """Yield runs of at least two notes with flags inside one group of beats."""
    span = _beam_span(meter)

    def place(each: NotatedValue) -> int | None:
        return each.start % meter.beats // span if _flags(each, meter) else None

    for where, run in groupby(bar, key=place):
        group = list(run)
        if where is not None and len(group) > 1:
            yield group


def _beam_span(meter: Meter) -> Fraction:
    """Return the beats under one beam: a quarter, three where a dotted quarter is the pulse."""
    if meter.compound or (meter.beats, meter.unit) == (3, 8):
        return Fraction(3)
    return Fraction(meter.unit, 4)


def _flags(written: NotatedValue, meter: Meter) -> int:
    """Return the flags of a note: one for an eighth, two for a 16th; 0 for a rest."""
    if written.note is None:
        return 0
    name, _ = value_type(written.value, meter.unit)
    return max(0, list(_TYPES.values()).index(name) - 2)


def _beam(flags: list[int], at: int, level: int) -> str:
    """Return the state of beam *level* at note *at* of a group: begin, continue, end or hook."""
    before = at > 0 and flags[at - 1] >= level
    after = at < len(flags) - 1 and flags[at + 1] >= level
    if before:
        return "continue" if after else "end"
    if after:
        return "begin"
    return "forward hook" if at == 0 else "backward hook"


# --- directions ------------------------------------------------------------------------


def _directions(score: Score) -> Iterator[tuple[Fraction, ET.Element]]:
    """Yield all directions over the staff, each with its beat."""
    start = score.first_beat
    for at, name in score.sections:
        yield at, _direction("rehearsal", printable(name))
    yield start, _tempo(score)
    if score.tempo_goal_bpm:  # of its own: inside the tempo, readers may put it in front
        yield start, _words(f"to {score.tempo_goal_bpm}")
    yield start, _words(_where(score))
    if score.feel is Feel.SHUFFLE:
        yield start, _shuffle(score.meter)
    plan = score.embouchure
    if plan is not None and plan.split:
        yield start, _words(plan.words)
    for at, hold in _holds(score.notes):
        yield at, _words(plan.mark(hold) if plan else hold.short)
    for breath in score.breaths:
        yield breath.at, _words(f"breathe {breath.way.value}", italic=True)
    yield from _styles(score.notes)
    for begin, end in score.echoes:
        yield begin, _words(ECHO, italic=True)
        yield begin, _dashes("start")
        yield end, _dashes("stop")


def _styles(notes: Iterable[Note]) -> Iterator[tuple[Fraction, ET.Element]]:
    """Yield the words of the marks that have no element to be seen by."""
    for note in notes:
        if words := spelled_out(note):
            yield note.start, _words(" ".join(words))


def _direction(tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    direction = ET.Element("direction", placement="above")
    _sub(_sub(direction, "direction-type"), tag, text, **attributes)
    return direction


def _words(text: str, *, italic: bool = False) -> ET.Element:
    return _direction("words", text, **({"font_style": "italic"} if italic else {}))


def _dashes(kind: str) -> ET.Element:
    return _direction("dashes", type=kind, number="1")


def _where(score: Score) -> str:
    words = f"{score.harp.label}, {score.position.label}, key of {score.key_words}"
    return with_signs(words)


def _tempo(score: Score) -> ET.Element:
    """Return a metronome mark on the pulse; playback counts quarters a minute."""
    direction = _direction("metronome")
    metronome = direction[0][0]
    name, dotted = value_type(score.meter.pulse, score.meter.unit)
    _sub(metronome, "beat-unit", name)
    if dotted:
        _sub(metronome, "beat-unit-dot")
    _sub(metronome, "per-minute", str(score.tempo_bpm))
    quarters = _quarters(score.tempo_bpm * score.meter.pulse, score.meter)
    _sub(direction, "sound", tempo=f"{float(quarters):g}")  # at most a half over a whole number
    return direction


def _shuffle(meter: Meter) -> ET.Element:
    """Return the word "Shuffle" and, for players, the swing of MusicXML 4.0, two to one."""
    direction = _words(Feel.SHUFFLE.value)
    if meter.unit in _SWING_TYPES:
        swing = _sub(_sub(direction, "sound"), "swing")
        _sub(swing, "first", "2")
        _sub(swing, "second", "1")
        _sub(swing, "swing-type", _SWING_TYPES[meter.unit])
    return direction


def _holds(notes: Iterable[Note]) -> Iterator[tuple[Fraction, LipShape]]:
    """Yield where the embouchure changes, and to what."""
    now: LipShape | None = None
    for note in notes:
        if note.embouchure is not None and note.embouchure is not now:
            yield note.start, note.embouchure
        if not note.beside:  # of several holes the tab says where the tongue is
            now = note.embouchure
