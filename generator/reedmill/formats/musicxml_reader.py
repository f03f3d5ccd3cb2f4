"""A MusicXML reader: the exact content of a file, for comparison with a Score.

Reads score-partwise files of one part and one voice, with chords (MusicXML 4.0 and older, by the
W3C Music Notation Community Group); whatever would have to be left out is refused by name.  A
file is a stranger's: nothing in it is fetched, no entity is expanded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from xml.etree import ElementTree as ET
from xml.parsers import expat

from reedmill.base.articles import with_article
from reedmill.base.errors import InputError
from reedmill.base.text import printable
from reedmill.harp import Reed
from reedmill.harp.together import holes_tab
from reedmill.score.score import Meter
from reedmill.score.style import Mark
from reedmill.theory.pitch import LETTERS, Pitch

MAX_BYTES = 10_000_000  # a drill of 2,000 notes takes about 2,000,000
_NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?")  # no exponent: 1e999999999 would fill memory
_DEGREES = re.compile(r"[b#]?[1-7]q?(&[b#]?[1-7]q?){0,4}")
_STYLE = re.compile(r"(slap|pull|(vibrato|shake)\d{1,2})")
_SLIDE = re.compile(r"(\d{1,4}|\d{1,4}/[1-9]\d{0,3}) beats?")
_MOST_HOLES = 5  # of a chord in tab
_PLAIN_SIGNS = str.maketrans({"\u266d": "b", "\u266f": "#"})
_MOST_ALTERED = 2
_MOST_NESTED = 32  # MusicXML needs about ten


@dataclass(frozen=True, slots=True)
class ReadNote:
    """One note of the file, its tied noteheads joined."""

    start: Fraction  # beats from the start of the first whole bar, or of a pick-up's
    length: Fraction  # beats
    pitch: Pitch
    tab: str  # empty when the note has none
    degree: str  # empty when the note has none
    joined: bool = False  # a slide or glissando ends here, or some of what sounded is held over
    accent: bool = False
    beside: tuple[Pitch, ...] = ()  # the other notes of a chord under ``pitch``, the lowest first
    style: frozenset[str] = frozenset()  # its marks: ``scoop``, ``vibrato4``...
    slide_beats: Fraction | None = None  # what the slide to it takes, where its text says so

    @property
    def midi(self) -> int:
        """The MIDI key number."""
        return self.pitch.midi


@dataclass(frozen=True, slots=True)
class ReadMusic:
    """The music of a file; beats are the meter's lower number, as in a Score."""

    title: str  # printable text, may be empty
    sharps: int  # of the key signature; negative counts flats
    mode: str  # "major", "minor", ... or empty
    meter: Meter
    tempo_bpm: Fraction | None  # pulses a minute, from the first sounding tempo
    pickup: Fraction  # beats of the first bar that are there, 0 for all of it
    length: Fraction  # beats, to the end of the last bar
    notes: tuple[ReadNote, ...]
    breathe_at: tuple[Fraction, ...]  # beats after which a breath mark stands
    sections: tuple[tuple[Fraction, str], ...]  # rehearsal marks
    words: tuple[tuple[Fraction, str], ...]  # words over the staff
    details: tuple[tuple[str, str], ...]  # names and texts of the miscellaneous fields


def read_musicxml(data: bytes) -> ReadMusic:
    """Read the music in the MusicXML file *data*.

    Raises ``InputError`` for what is no such file, is larger than ``MAX_BYTES``, brings
    entities or other declarations of its own, or holds more than one voice.
    """
    root = _tree(data)
    if root.tag != "score-partwise":
        raise InputError(
            f"this is not a partwise MusicXML file: it starts with <{root.tag:.40}>. "
            "Save it as uncompressed MusicXML, with its parts one after the other."
        )
    parts = root.findall("part")
    if len(parts) != 1:
        raise InputError(f"the file holds {len(parts)} parts. A drill is one part: save it alone.")
    return _music(root, parts[0])


# --- safe parsing ----------------------------------------------------------------------


def _tree(data: bytes) -> ET.Element:
    """Return the elements of *data*, read by expat with every external access off."""
    if len(data) > MAX_BYTES:
        raise InputError(f"the file has {len(data)} bytes; MusicXML is read up to {MAX_BYTES}.")
    builder = ET.TreeBuilder()
    open_tags: list[str] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        open_tags.append(tag)
        if len(open_tags) > _MOST_NESTED:
            raise InputError(f"elements stand more than {_MOST_NESTED} deep in one another.")
        builder.start(tag, attributes)

    def end(tag: str) -> None:
        open_tags.pop()
        builder.end(tag)

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = builder.data
    parser.StartDoctypeDeclHandler = _refuse_declarations
    parser.SkippedEntityHandler = _refuse_entity
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    try:
        parser.Parse(data, True)
        return builder.close()
    except (expat.ExpatError, LookupError, ValueError) as error:  # also an unknown encoding
        raise InputError(f"this is not an XML file: {error}.") from None


def _refuse_declarations(
    _name: str,
    _system: str | None,
    _public: str | None,
    has_internal_subset: bool,
) -> None:
    """Refuse declared entities or defaults, the means of XML bombs; a named type is allowed."""
    if has_internal_subset:
        raise InputError(
            "the file declares its own XML entities or attributes, which are not read. "
            "Take what stands between [ and ] out of its DOCTYPE."
        )


def _refuse_entity(name: str, _is_parameter: bool) -> None:
    raise InputError(f'the file uses the XML entity "{name:.40}", which is not defined in it.')


# --- what is in it -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Placed:
    """One element of a bar at its time, in quarters from the start."""

    at: Fraction
    length: Fraction
    element: ET.Element
    chord: tuple[ET.Element, ...] = ()  # notes that sound with it


def _music(root: ET.Element, part: ET.Element) -> ReadMusic:
    sharps, mode = _key(part)
    meter = _meter(part)
    placed = list(_placed(part))
    end = max((each.at + each.length for each in placed), default=Fraction(0))
    pickup = _pickup(part, placed, meter)
    # From quarters to beats, and a pick-up to the end of its bar.
    scale, shift = Fraction(meter.unit, 4), meter.beats - pickup if pickup else Fraction(0)
    beats = [
        replace(each, at=each.at * scale + shift, length=each.length * scale) for each in placed
    ]
    return ReadMusic(
        title=_text(root, "movement-title") or _text(root, "work/work-title"),
        sharps=sharps,
        mode=mode,
        meter=meter,
        tempo_bpm=_tempo(part, meter),
        pickup=pickup,
        length=end * scale + shift,
        notes=tuple(_notes(beats)),
        breathe_at=tuple(each.at + each.length for each in beats if _breath(each.element)),
        sections=tuple(_said(beats, "rehearsal")),
        words=tuple(_said(beats, "words")),
        details=tuple(_details(root)),
    )


def _text(element: ET.Element, path: str) -> str:
    return printable(element.findtext(path) or "")


def _number(text: str | None, what: str) -> Fraction:
    if text is None or not _NUMBER.fullmatch(text.strip()):
        raise InputError(
            f'the file has "{(text or "")[:40]}" where {with_article(what)} should be.'
        )
    return Fraction(text.strip())


def _positive(text: str | None, what: str) -> Fraction:
    number = _number(text, what)
    if number <= 0:
        raise InputError(f"the file has {with_article(what)} of {number}; it must be more than 0.")
    return number


def _whole(text: str | None, what: str) -> int:
    number = _number(text, what)
    if number.denominator != 1:
        raise InputError(
            f"the file has {with_article(what)} of {number}; only whole numbers can be read."
        )
    return int(number)


def _key(part: ET.Element) -> tuple[int, str]:
    """Return the key signature, C major when there is none."""
    found = {(key.findtext("fifths"), _text(key, "mode").strip()) for key in part.iter("key")}
    if len(found) > 1:
        raise InputError("the key changes on the way. A drill has one key.")
    if part.find("measure/attributes/transpose") is not None:
        raise InputError("the part is written for a transposing instrument. Save it as it sounds.")
    fifths, mode = next(iter(found), ("0", "major"))
    return _whole(fifths, "number of sharps"), mode


def _meter(part: ET.Element) -> Meter:
    found = {(time.findtext("beats"), time.findtext("beat-type")) for time in part.iter("time")}
    if len(found) != 1:
        raise InputError(f"the file has {len(found)} meters. A drill has one.")
    beats, unit = found.pop()
    meter = Meter(_whole(beats, "number of beats"), _whole(unit, "beat value"))
    if min(meter.beats, meter.unit) < 1:
        raise InputError(f"{meter.name} is not a meter.")
    return meter


def _tempo(part: ET.Element, meter: Meter) -> Fraction | None:
    """Return the pulses a minute; the file counts quarters."""
    for sound in part.iter("sound"):
        if (text := sound.get("tempo")) is not None:
            return _positive(text, "tempo") * meter.unit / 4 / meter.pulse
    return None


def _placed(part: ET.Element) -> Iterator[_Placed]:
    """Yield every element of every bar at its time, chords as one; durations add up."""
    now, divisions = Fraction(0), Fraction(1)
    for element, chord in _gathered(part):
        _refuse_second_voice(element)
        if (text := element.findtext("divisions")) is not None:
            divisions = _positive(text, "number of divisions")
        length = offset = Fraction(0)
        if element.tag in {"note", "forward"}:
            length = _positive(element.findtext("duration"), "duration") / divisions
            for each in chord:
                if _positive(each.findtext("duration"), "duration") / divisions != length:
                    raise InputError(f"the notes of a chord have two lengths. {_ONE_LINE}")
        elif element.find("offset") is not None:
            offset = _number(element.findtext("offset"), "offset") / divisions
        yield _Placed(now + offset, length, element, chord)
        now += length


def _gathered(part: ET.Element) -> Iterator[tuple[ET.Element, tuple[ET.Element, ...]]]:
    """Yield the elements of all bars, each note with the further notes of its chord."""
    for measure in part.findall("measure"):
        now: ET.Element | None = None
        chord: list[ET.Element] = []
        for element in measure:
            if element.tag == "note" and element.find("chord") is not None:
                _refuse_second_voice(element)
                if now is None or now.tag != "note" or now.find("rest") is not None:
                    raise InputError("a note of a chord does not follow another note.")
                chord.append(element)
                continue
            if now is not None:
                yield now, tuple(chord)
            now, chord = element, []
        if now is not None:
            yield now, tuple(chord)


_ONE_LINE = "A drill is one breath after the other."


def _refuse_second_voice(element: ET.Element) -> None:
    if element.tag == "backup":
        raise InputError(f"several notes sound against one another. {_ONE_LINE}")
    if element.find("grace") is not None or element.find("unpitched") is not None:
        raise InputError("a note has no length or no pitch: grace notes and noises are not read.")


def _pickup(part: ET.Element, placed: list[_Placed], meter: Meter) -> Fraction:
    """Return the beats of a first bar marked as not whole; 0 otherwise."""
    first = part.find("measure")
    if first is None or first.get("implicit") != "yes":
        return Fraction(0)
    inside = {id(element) for element in first}
    quarters = sum((each.length for each in placed if id(each.element) in inside), Fraction(0))
    beats = quarters * meter.unit / 4
    return beats if beats < meter.beats else Fraction(0)


def _notes(placed: list[_Placed]) -> Iterator[ReadNote]:
    """Yield the notes, each with the noteheads tied to it."""
    now: ReadNote | None = None
    slide: Fraction | None = None  # that leaves the note before
    for each in placed:
        if each.element.tag != "note" or each.element.find("rest") is not None:
            continue
        note = _note(each)
        note = replace(note, slide_beats=slide if note.joined else None)
        slide = _slide_beats(each.element)
        tied = _tied(each)
        if now and tied and _continues(now, note, tied):
            length, style = now.length + note.length, now.style | note.style
            now = replace(now, length=length, style=style)
            continue
        if tied and not (now and _is_held(now, note, tied)):
            raise _wrong_tie(note, tied)
        if now:
            yield now
        now = replace(note, joined=note.joined or bool(tied))
    if now:
        yield now


def _slide_beats(element: ET.Element) -> Fraction | None:
    """Return the beats in the text of the slide that leaves a note: ``2 beats``."""
    slide = element.find("notations/slide[@type='start']")
    found = _SLIDE.fullmatch(slide.text.strip()) if slide is not None and slide.text else None
    return Fraction(found[1]) if found else None


def _tied(placed: _Placed) -> frozenset[Pitch]:
    """Return the pitches of a note or chord that a tie leads to."""
    heads = (placed.element, *placed.chord)
    return frozenset(_pitch(head) for head in heads if head.find("tie[@type='stop']") is not None)


def _continues(now: ReadNote, note: ReadNote, tied: frozenset[Pitch]) -> bool:
    """Return whether *note*, tied as a whole, is only more of the one before it."""
    before = (now.start + now.length, now.pitch, now.beside)
    return before == (note.start, note.pitch, note.beside) and tied == {note.pitch, *note.beside}


def _wrong_tie(note: ReadNote, tied: frozenset[Pitch]) -> InputError:
    if len(tied) <= len(note.beside):
        return InputError(f"at beat {note.start} some notes of a chord are tied, others are not.")
    return InputError(f"a tie at beat {note.start} does not continue the note before it.")


def _is_held(now: ReadNote, note: ReadNote, tied: frozenset[Pitch]) -> bool:
    """Return whether all that is *tied* to *note* sounds just before, while others join or leave.

    Whatever sounds before and is written again is tied, or it would be attacked alone.
    """
    before = {now.pitch, *now.beside}
    return now.start + now.length == note.start and tied == before & {note.pitch, *note.beside}


def _note(placed: _Placed) -> ReadNote:
    element = placed.element
    paths = [f"notations/{tag}[@type='stop']" for tag in ("slide", "glissando")]
    slides = [slide for path in paths if (slide := element.find(path)) is not None]
    *beside, pitch = sorted(map(_pitch, (element, *placed.chord)), key=_height)
    return ReadNote(
        start=placed.at,
        length=placed.length,
        pitch=pitch,
        tab=_tab(element),
        degree=_degree(element),
        joined=bool(slides),
        accent=element.find("notations/articulations/accent") is not None,
        beside=tuple(beside),
        style=frozenset(_style(element)),
    )


def _height(pitch: Pitch) -> float:
    return pitch.midi - pitch.quarter / 2


def _style(element: ET.Element) -> Iterator[str]:
    """Yield the marks of style of a note, in the words of the pattern language."""
    marks = {"articulations/scoop": Mark.SCOOP, "articulations/falloff": Mark.FALL,
             "technical/harmon-mute": Mark.MUTE}  # fmt: skip
    for path, mark in marks.items():
        if element.find(f"notations/{path}") is not None:
            yield mark.value
    for each in element.findall("notations/technical/other-technical"):
        if _STYLE.fullmatch(text := (each.text or "").strip()):
            yield text


def _pitch(element: ET.Element) -> Pitch:
    letter = (element.findtext("pitch/step") or "").strip()
    alter = _number(element.findtext("pitch/alter") or "0", "alteration")
    octave = _whole(element.findtext("pitch/octave"), "octave")
    if (2 * alter).denominator != 1:
        raise InputError(f"the file has an alteration of {alter}; only quarter tones can be read.")
    if len(letter) != 1 or letter not in LETTERS or abs(alter) > _MOST_ALTERED:
        raise InputError(
            f'the file has a note "{letter:.40}" altered by {alter}, which cannot be read.'
        )
    return Pitch(letter, ceil(alter), octave, quarter=alter.denominator > 1)


def _tab(element: ET.Element) -> str:
    """Return the tab of a note: its technical mark, or its first lyric line if that is tab."""
    marks = [mark.text or "" for mark in element.findall("notations/technical/other-technical")]
    for text in (*marks, _lyric(element, "1")):
        first, *others = text.strip().split("&")[:_MOST_HOLES]
        try:
            reed = Reed.parse(first)
            return holes_tab(
                [reed, *(replace(Reed.parse(it), breath=reed.breath) for it in others)]
            )
        except ValueError:
            continue
    return ""


def _degree(element: ET.Element) -> str:
    text = _lyric(element, "2").strip().translate(_PLAIN_SIGNS)
    return text if _DEGREES.fullmatch(text) else ""


def _lyric(element: ET.Element, number: str) -> str:
    """Return the text of a lyric by its number, which is 1 when it is not given."""
    found = (each for each in element.findall("lyric") if each.get("number", "1") == number)
    return next((each.findtext("text") or "" for each in found), "")


def _breath(element: ET.Element) -> bool:
    return element.find("notations/articulations/breath-mark") is not None


def _said(placed: list[_Placed], tag: str) -> Iterator[tuple[Fraction, str]]:
    for each in placed:
        for said in each.element.iterfind(f"direction-type/{tag}"):
            yield each.at, printable(said.text or "")


def _details(root: ET.Element) -> Iterator[tuple[str, str]]:
    for field in root.iterfind("identification/miscellaneous/miscellaneous-field"):
        yield printable(field.get("name", "")), printable(field.text or "")
