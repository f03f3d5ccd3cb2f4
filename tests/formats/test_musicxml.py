"""MusicXML files: valid by the published schema, and read alike by three other readers.

The standard is MusicXML 4.0 by the W3C Music Notation Community Group; its schema comes
with the PyPI package ``musicxml``, the two schemas it imports (xml and xlink, by the W3C) with
``xmlschema``.  Readers: music21, verovio, lxml, and our own.
"""

from __future__ import annotations

import base64
import io
import re
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import lilypond
import lxml.etree
import mido
import music21
import pytest
import verovio
from hypothesis import given, settings
from hypothesis import strategies as st

from reedmill.base.errors import InputError, RenderError
from reedmill.base.text import ForeignText
from reedmill.expand import expand, versions
from reedmill.formats.musicxml import details, musicxml_bytes
from reedmill.formats.musicxml_reader import MAX_BYTES, ReadMusic, read_musicxml
from reedmill.harp import Harp
from reedmill.language import Drill, parse
from reedmill.library import shipped, usual_position
from reedmill.make.material import make
from reedmill.score.score import (
    AirWay,
    Breathing,
    Embouchure,
    Feel,
    LipShape,
    Meter,
    Note,
    Score,
    SoundingReed,
)  # fmt: skip
from reedmill.theory.positions import Position
from schemas import libxml_schema, python_schema
from tunes import score_from

HARPS = ("G", "C", "F#")
SHELF: dict[str, Drill] = {each.drill.title: each.drill for each in shipped()}
ROTATED: dict[str, str] = {title: HARPS[at % 3] for at, title in enumerate(SHELF)}

every_drill = pytest.mark.parametrize("title", SHELF)


@cache
def played(title: str, harp: str, version: int = 0) -> Score:
    drill = SHELF[title]
    return expand(drill, Harp(harp), usual_position(drill), version=version)


def in_turn(title: str) -> Score:
    """The drill on one of the three harps, the next drill on the next."""
    return played(title, ROTATED[title])


def element(score: Score) -> Any:
    return lxml.etree.fromstring(musicxml_bytes(score))


# --- the published schema ------------------------------------------------------------------


@every_drill
def test_every_shipped_drill_is_valid_on_three_harps(title: str) -> None:
    for harp in HARPS:
        for version in versions(SHELF[title]):
            libxml_schema().assertValid(element(played(title, harp, version)))


@every_drill
def test_a_second_validator_agrees(title: str) -> None:
    python_schema().validate(io.BytesIO(musicxml_bytes(in_turn(title))))


def test_the_validators_do_refuse() -> None:
    """A note without a duration, and a beam that does what no beam does."""
    whole = musicxml_bytes(score_from("-2:1/2 -3:1/2"))
    for broken in (
        whole.replace(b"<duration>1</duration>", b""),
        whole.replace(b">begin<", b">starts<"),
    ):
        assert broken != whole
        assert not libxml_schema().validate(lxml.etree.fromstring(broken))
        assert not python_schema().is_valid(io.BytesIO(broken))


# --- other readers -------------------------------------------------------------------------


def quarters(score: Score, beats: Fraction) -> Fraction:
    return beats * 4 / score.meter.unit


def start_quarters(score: Score, beats: Fraction) -> Fraction:
    """From the first written note or rest: a pick-up is not preceded by silence."""
    before = score.meter.beats - score.pickup if score.pickup else 0
    return quarters(score, beats - before)


def in_music21(score: Score) -> Any:
    return music21.converter.parseData(musicxml_bytes(score).decode(), format="musicxml")


def real_signs(degree: str) -> str:
    """With MUSIC FLAT SIGN and MUSIC SHARP SIGN, by their names in the Unicode standard."""
    flat, sharp = "\N{MUSIC FLAT SIGN}", "\N{MUSIC SHARP SIGN}"
    return degree.replace("b", flat).replace("#", sharp)


def names_of(note: Any) -> list[str]:
    """The names of a note or chord of music21, low to high.

    There \u0060 is half a flat, and ~ half a sharp: a sharp a quarter tone lower.
    """
    ours = str.maketrans({"-": "b", "\u0060": "q", "~": "#q"})
    return [each.nameWithOctave.translate(ours) for each in note.pitches]


def words_under(note: Note) -> list[str]:
    """The two rows of words under a note: its tab and its degrees."""
    return [note.tab, "&".join(real_signs(each.degree.name) for each in note.sounded)]


@every_drill
def test_music21_reads_back_notes_lengths_lyrics_and_key(title: str) -> None:
    score = in_turn(title)
    read = in_music21(score)
    found = [
        (Fraction(n.offset), Fraction(n.quarterLength), names_of(n),
         [lyric.text for lyric in n.lyrics])
        for n in (read if lifts(score) else read.stripTies()).flatten().notes
    ]  # fmt: skip
    for at in reversed(range(len(found))):
        if not found[at][3]:  # the second head of a note has no words, where no ties were stripped
            (start, length, names, words), (_, more, *_) = found[at - 1 : at + 1]
            found[at - 1 : at + 1] = [(start, length + more, names, words)]
    assert found == [
        (start_quarters(score, note.start), quarters(score, note.length),
         [each.pitch.name for each in note.sounded], words_under(note))
        for note in score.notes
    ]  # fmt: skip
    (signature,) = read.flatten().getElementsByClass("KeySignature")
    assert (signature.sharps, signature.mode) == (
        score.key.sharps, "minor" if score.key.minor else "major",
    )  # fmt: skip
    (meter,) = read.flatten().getElementsByClass("TimeSignature")
    assert meter.ratioString == score.meter.name


def lifts(score: Score) -> bool:
    """A tie of one note of a chord: music21's ``stripTies`` makes one chord of both."""
    return any(score.held_over(note) for note in score.notes)


def slid(score: Score) -> list[tuple[Note, Note]]:
    """Each note that slides in, with the one before it: what is lifted is tied and slides not."""
    return [
        (before, note)
        for before, note in pairwise(score.notes)
        if note.joined and not score.held_over(note)
    ]


@every_drill
def test_music21_finds_each_slide_each_slur_and_each_breath(title: str) -> None:
    score = in_turn(title)
    read = in_music21(score).flatten()
    breaths = [n.offset + n.quarterLength for n in read.notes if has(n, "BreathMark")]
    assert breaths == [start_quarters(score, each.at) for each in score.breaths]
    words = {
        (each.offset + each.activeSite.offset, each.content)
        for each in in_music21(score).recurse().getElementsByClass("TextExpression")
        if each.content.startswith("breathe")
    }
    assert words == {
        (start_quarters(score, each.at), f"breathe {each.way.value}") for each in score.breaths
    }
    accents = [n.offset for n in read.notes if has(n, "Accent")]
    assert accents == [start_quarters(score, n.start) for n in score.notes if n.accent]
    slides = list(read.getElementsByClass("Glissando"))
    pairs = [
        (here, there)
        for before, note in slid(score)
        for here, there in zip(before.sounded, note.sounded, strict=True)
    ]
    # of a chord music21 knows the whole as the end of each of its slides
    assert len(slides) == len(pairs)
    alone = [[names_of(n) for n in each] for each in slides
             if all(len(n.pitches) == 1 for n in each)]  # fmt: skip
    assert sorted(alone) == sorted(
        [[before.pitch.name], [note.pitch.name]] for before, note in slid(score) if not note.beside
    )
    slurs = sum(any(pair in slid(score) for pair in pairwise(group)) for group in score.attacks())
    assert len(read.getElementsByClass("Slur")) == slurs


def has(note: Any, kind: str) -> bool:
    return any(type(each).__name__ == kind for each in note.articulations)


@cache
def toolkit() -> Any:
    verovio.enableLog(verovio.LOG_WARNING)
    return verovio.toolkit()


def in_verovio(score: Score) -> tuple[list[tuple[Fraction, int]], str]:
    """The attacks verovio would play, in quarters and key numbers, and the music as MEI."""
    assert toolkit().loadData(musicxml_bytes(score).decode())
    assert toolkit().getLog() == ""
    file = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit().renderToMIDI())))
    attacks = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                attacks.append((Fraction(tick, file.ticks_per_beat), message.note))
    return attacks, toolkit().getMEI()


def key_of(each: SoundingReed) -> int:
    """The key verovio plays: it has no quarter tones in MIDI, and takes the key above."""
    return each.pitch.midi


@every_drill
def test_verovio_plays_the_same_notes_and_shows_the_same_words(title: str) -> None:
    score = in_turn(title)
    attacks, mei = in_verovio(score)
    played = [
        (note, each) for note in score.notes for each in note.sounded
        if each.reed.hole not in score.held_over(note)
    ]  # fmt: skip
    assert [key for _, key in attacks] == [key_of(each) for _, each in played]
    for (found, _), (note, _) in zip(attacks, played, strict=True):
        # verovio rounds to its own ticks
        assert abs(found - start_quarters(score, note.start)) < Fraction(1, 60)
    music = lxml.etree.fromstring(mei.encode())
    mei_ns = "{http://www.music-encoding.org/ns/mei}"
    verses = [
        [(verse.get("n"), "".join(verse.itertext()).strip()) for verse in n.iter(f"{mei_ns}verse")]
        for n in music.iter(f"{mei_ns}note", f"{mei_ns}chord")
        if n.getparent().tag != f"{mei_ns}chord"
    ]
    assert [each for each in verses if each] == [
        [("1", tab), ("2", degrees)] for tab, degrees in map(words_under, score.notes)
    ]


# --- read back -----------------------------------------------------------------------------


def assert_nothing_lost(score: Score) -> ReadMusic:
    read = read_musicxml(musicxml_bytes(score))
    assert [
        (n.start, n.length, n.pitch, n.midi, n.beside, n.tab, n.degree, n.joined, n.accent,
         n.style, n.slide_beats)
        for n in read.notes
    ] == [
        (n.start, n.length, n.pitch, n.pitch.midi, tuple(each.pitch for each in n.beside), n.tab,
         n.degrees, n.joined, n.accent, frozenset(n.style.words), n.slide_beats)
        for n in score.notes
    ]  # fmt: skip
    assert (read.title, read.meter, read.tempo_bpm, read.pickup, read.length) == (
        score.title, score.meter, Fraction(score.tempo_bpm), score.pickup, score.length,
    )  # fmt: skip
    assert (read.sharps, read.mode) == (score.key.sharps, "minor" if score.key.minor else "major")
    assert read.sections == score.sections
    assert read.breathe_at == tuple(each.at for each in score.breaths)
    ways = [(at, said) for at, said in read.words if said.startswith("breathe ")]
    assert ways == [(each.at, f"breathe {each.way.value}") for each in score.breaths]
    assert read.details == details(score)
    return read


@every_drill
def test_our_own_reader_finds_every_drill_whole(title: str) -> None:
    for harp in HARPS:
        for version in versions(SHELF[title]):
            assert_nothing_lost(played(title, harp, version))


BEAT = (
    "-2", "-2!:1/2 -3':1/2", "-3 ~-3'", "r:1/2 4:1/2", "-2:1/4 4:3/4", "-3:1/2 ~-3'':1/4 -4:1/4",
    "-2:1/3 r:1/3 4:1/3", "r:2/3 -4:1/3", "5:1/6 -5:1/6 6:2/3", "-2:2/3 -3:2/3 -4:2/3",
    "-2:1/8 -3:7/8", "-6:5/2 r:1/2", "4:6", "r", "-3:2 ~-3''':3/2 r:1/2",
)  # fmt: skip


@st.composite
def random_scores(draw: st.DrawFn) -> Score:
    """Music of all note values, with every mark the score knows."""
    meter = draw(st.sampled_from([(4, 4), (3, 4), (2, 2), (5, 4), (6, 8), (12, 8), (3, 8), (7, 8)]))
    words = " ".join(draw(st.lists(st.sampled_from(BEAT), min_size=1, max_size=8))).split()
    if draw(st.booleans()) and not words[0].startswith("r"):
        words.insert(0, "r")  # the first bar, all but its end, is then a pick-up's silence
    plain = score_from(" ".join(word.replace("!", "") for word in words), meter=meter)
    sounding = [word for word in words if not word.startswith("r")]
    holds = st.sampled_from([None, *LipShape])
    notes = tuple(
        replace(note, accent="!" in word, embouchure=draw(holds))
        for note, word in zip(plain.notes, sounding, strict=True)
    )
    first = min([note.start for note in notes], default=Fraction(0))
    starts_late = 0 < first < meter[0] and draw(st.booleans())
    beats = st.integers(0, int(plain.length)).map(Fraction)
    echo = sorted(draw(st.tuples(beats, beats)))
    return replace(
        plain,
        notes=notes,
        pickup=meter[0] - first if starts_late else Fraction(0),
        sections=(
            (
                first if starts_late else Fraction(0),
                ForeignText(draw(st.sampled_from(["A", "<&> Zwei"]))),
            ),
        ),
        echoes=((echo[0], echo[1]),) if first <= echo[0] < echo[1] else (),
        breaths=tuple(
            Breathing(note.end, draw(st.sampled_from(AirWay)), Fraction(1, 2))
            for note in notes[1::3]
            if not joined_after(notes, note)
        ),
        feel=draw(st.sampled_from(Feel)),
    )


def joined_after(notes: tuple[Any, ...], note: Any) -> bool:
    return any(other.joined and other.start == note.end for other in notes)


def said_over(score: Score, hold: LipShape) -> str:
    """As on the sheet: a letter or two where the plan changes from note to note."""
    letters = {LipShape.LIPS: "L", LipShape.TONGUE_LEFT: "TL", LipShape.TONGUE_RIGHT: "TR"}
    plan = score.embouchure
    return letters[hold] if plan and plan.anchors is not plan.rungs else hold.short


@settings(max_examples=150, deadline=None)
@given(random_scores())
def test_any_score_is_valid_and_comes_back_whole(score: Score) -> None:
    libxml_schema().assertValid(element(score))
    read = assert_nothing_lost(score)
    held = [note.embouchure for note in score.notes]
    changes = [
        (note.start, said_over(score, note.embouchure))
        for at, note in enumerate(score.notes)
        if note.embouchure and (at == 0 or note.embouchure is not held[at - 1])
    ]
    names = {said_over(score, hold) for hold in LipShape}
    assert [each for each in read.words if each[1] in names] == changes
    assert [at for at, word in read.words if word == "your turn"] == [at for at, _ in score.echoes]
    assert ("shuffle" in [word for _, word in read.words]) is (score.feel is Feel.SHUFFLE)


@settings(max_examples=40, deadline=None)
@given(random_scores())
def test_every_bar_adds_up(score: Score) -> None:
    """MusicXML 4.0: the durations of a bar's notes fill it; only an implicit one is shorter."""
    root = element(score)
    divisions = int(root.findtext(".//divisions"))
    full = quarters(score, Fraction(score.meter.beats))
    for measure in root.iter("measure"):
        filled = sum(Fraction(int(each.text), divisions) for each in measure.iter("duration"))
        short = measure.get("implicit") == "yes"
        assert filled == (quarters(score, score.pickup) if short else full)
    assert len(root.findall(".//measure[@implicit]")) == (score.pickup > 0)


def test_it_comes_back_whole_from_another_program_too() -> None:
    """music21 writes its own MusicXML (3.1 or 4.0, with a DOCTYPE) of what it read."""
    score = score_from("-2:1/2 -3:3/2 ~-3' r:1/2 4:5/2 -1:1/3 1:1/3 2:1/3 -6'", harp="A")
    written = music21.musicxml.m21ToXml.GeneralObjectExporter(in_music21(score)).parse()
    assert b"<!DOCTYPE" in written
    assert written != musicxml_bytes(score)
    read = read_musicxml(written)
    found = [(n.start, n.length, n.pitch, n.tab, n.degree, n.joined) for n in read.notes]
    assert found == [
        (n.start, n.length, n.pitch, n.reed.tab, n.degree.name, n.joined) for n in score.notes
    ]
    assert (read.title, read.meter) == (score.title, score.meter)
    assert read.tempo_bpm == score.tempo_bpm
    assert (read.sharps, read.mode) == (4, "major")  # E, a fifth over A


# --- what is written, in the standard's own words ----------------------------------------


def rows(score: Score) -> list[str]:
    """Each note of the file in a few words: value, dots, 3 in a triplet, ties, beams."""
    return list(_rows(element(score)))


def _rows(root: Any) -> Iterator[str]:
    for note in root.iter("note"):
        words = ["r"] if note.find("rest") is not None else []
        words += [note.findtext("type", "bar") + "." * len(note.findall("dot"))]
        words += ["3"] * len(note.findall("time-modification"))
        words += [f"tie-{tie.get('type')}" for tie in note.iter("tied")]
        words += [f"[{each.get('type')}" for each in note.iter("tuplet")]
        words += [beam.text for beam in note.iter("beam")]
        yield " ".join(words)


# Written by hand as a music teacher writes them; value and beam names are the standard's.
WRITING = {
    "eighths under one beam": (
        "-2:1/2 -3:1/2 -4", (2, 4), ["eighth begin", "eighth end", "quarter"],
    ),
    "a dotted eighth and a sixteenth": (
        "-2:3/4 -3:1/4 -4", (2, 4), ["eighth. begin", "16th end backward hook", "quarter"],
    ),
    "sixteenths around an eighth": (
        "-2:1/4 -3:1/2 -4:1/4 r", (2, 4),
        ["16th begin forward hook", "eighth continue", "16th end backward hook", "r quarter"],
    ),
    "four sixteenths": (
        "-2:1/4 -3:1/4 -4:1/4 4:1/4 5", (2, 4),
        ["16th begin begin", "16th continue continue", "16th continue continue", "16th end end",
         "quarter"],
    ),
    "a triplet of eighths": (
        "-2:1/3 -3:1/3 -4:1/3 4", (2, 4),
        ["eighth 3 [start begin", "eighth 3 continue", "eighth 3 [stop end", "quarter"],
    ),
    "a triplet of quarters over two beats": (
        "-2:2/3 -3:2/3 -4:2/3", (2, 4),
        ["quarter 3 [start", "quarter 3", "quarter 3 [stop"],
    ),
    "a note over the bar line, and a bar of silence": (
        "-2:3 -3:3 r:6", (3, 4), ["half.", "half.", "r bar", "r bar"],
    ),
    "a tie over the bar line": (
        "-2 -3:3", (2, 4), ["quarter", "quarter tie-start", "half tie-stop"],
    ),
    "three bars tied": (
        "-2:6", (2, 4), ["half tie-start", "half tie-stop tie-start", "half tie-stop"],
    ),
    "eighths in 6/8 under beams of three": (
        "-2 -3 -4 4 5:2", (6, 8),
        ["eighth begin", "eighth continue", "eighth end", "eighth", "quarter"],
    ),
    "halves count in 2/2": (
        "-2:1/2 -3:1/4 -4:1/4 -2:1", (2, 2), ["quarter", "eighth begin", "eighth end", "half"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WRITING)
def test_values_beams_ties_and_triplets(name: str) -> None:
    music, meter, expected = WRITING[name]
    assert rows(score_from(music, meter=meter)) == expected


def test_a_slide_is_one_slur_and_a_line_from_note_to_note() -> None:
    root = element(score_from("-3 ~-3' ~-3'':2 -2:4 -4:7 ~-4'"))
    marks = [
        [f"{mark.tag} {mark.get('type')}" for mark in note.iter("slur", "slide")]
        for note in root.iter("note")
        if note.find("rest") is None
    ]
    assert marks == [
        ["slur start", "slide start"],
        ["slide stop", "slide start"],
        ["slur stop", "slide stop"],
        [],
        ["slur start"],  # of draw 4, a bar long
        ["slide start"],  # and its last three beats, tied
        ["slur stop", "slide stop"],
    ]


def test_an_accent_stands_on_the_attack_alone() -> None:
    plain = score_from("-2:6", meter=(2, 4))
    root = element(replace(plain, notes=(replace(plain.notes[0], accent=True),)))
    assert [len(list(note.iter("accent"))) for note in root.iter("note")] == [1, 0, 0]


def test_a_pick_up_may_be_the_end_of_a_triplet() -> None:
    score = replace(score_from("r:5/3 -2:1/3 -3:2", meter=(2, 4)), pickup=Fraction(1, 3))
    libxml_schema().assertValid(element(score))
    assert rows(score) == ["eighth 3 [start [stop", "half"]


def test_tab_stands_in_the_first_lyric_and_as_a_technical_mark_and_never_under_a_tie() -> None:
    root = element(score_from("-2:6 6^:1 -3'':1"))
    assert [each.text for each in root.iter("other-technical")] == ["-2", "6^", "-3''"]
    lyrics = [(each.get("number"), each.findtext("text")) for each in root.iter("lyric")]
    flat = real_signs("b3")
    assert lyrics == [("1", "-2"), ("2", "1"), ("1", "6^"), ("2", flat), ("1", "-3''"), ("2", "2")]


def test_the_instrument_is_the_harmonica_of_the_standard_and_of_general_midi() -> None:
    """``sounds.xml`` of MusicXML 4.0; General MIDI counts the harmonica 23rd, from one."""
    root = element(score_from("-2"))
    assert root.findtext(".//instrument-sound") == "wind.reed.harmonica"
    assert root.findtext(".//midi-program") == "23"
    assert in_music21(score_from("-2")).parts[0].getInstrument().midiProgram == 23 - 1


@pytest.mark.parametrize(
    ("harp", "position", "tonic", "mode", "said"),
    [("C", 2, "G", "major", ""), ("G", 2, "D", "major", ""), ("F#", 1, "F#", "major", " major"),
     ("C", 3, "D", "minor", " dorian"), ("Bb", 4, "G", "minor", " minor"),
     ("low F", 12, "B-", "major", " lydian")],
)  # fmt: skip
def test_the_signature_is_the_keys(
    harp: str, position: int, tonic: str, mode: str, said: str
) -> None:
    """Sharps and flats as music21 counts them for that key; its name is what players say."""
    score = score_from("-2 4", harp=harp, position=position)
    root = element(score)
    assert int(root.findtext(".//fifths")) == music21.key.Key(tonic, mode).sharps
    assert root.findtext(".//key/mode") == mode
    words = [each.text for each in root.iter("words")]
    name = tonic.replace("-", "\u266d").replace("#", "\u266f")
    signed = harp.replace("b", "\u266d").replace("#", "\u266f")
    assert words[0] == f"{signed} harp, {score.position.label}, key of {name}{said}"


@pytest.mark.parametrize(
    ("meter", "beat", "dots", "per_quarter"),
    [((4, 4), "quarter", 0, 80), ((6, 8), "quarter", 1, 120), ((2, 2), "half", 0, 160),
     ((3, 8), "eighth", 0, 40)],
)  # fmt: skip
def test_the_tempo_counts_pulses_and_sounds_in_quarters(
    meter: tuple[int, int], beat: str, dots: int, per_quarter: int
) -> None:
    score = score_from("-2 4", meter=meter, tempo=80)
    root = element(score)
    (metronome,) = root.iter("metronome")
    assert (metronome.findtext("beat-unit"), len(metronome.findall("beat-unit-dot"))) == (
        beat,
        dots,
    )
    assert metronome.findtext("per-minute") == "80"
    assert float(root.find(".//sound").get("tempo")) == per_quarter
    (mark,) = in_music21(score).flatten().getElementsByClass("MetronomeMark")
    assert mark.getQuarterBPM() == per_quarter


def test_a_tempo_range_says_where_it_ends() -> None:
    root = element(replace(score_from("-2"), tempo_goal_bpm=96))
    assert root.findtext(".//words") == "to 96"


@pytest.mark.parametrize(("unit", "swung"), [(4, "eighth"), (8, "16th"), (2, None)])
def test_a_shuffle_swings_two_to_one(unit: int, swung: str | None) -> None:
    """Halves of a beat; ``swing-type-value`` of MusicXML 4.0 has eighths and sixteenths only."""
    root = element(replace(score_from("-2", meter=(4, unit)), feel=Feel.SHUFFLE))
    assert "shuffle" in [each.text for each in root.iter("words")]
    swings = [[each.text for each in swing] for swing in root.iter("swing")]
    assert swings == ([["2", "1", swung]] if swung else [])
    assert not list(element(score_from("-2", meter=(4, unit))).iter("swing"))


@pytest.mark.parametrize(
    ("harp", "music", "change"),
    [("low G", "-1 1", "-1"), ("C", "-2 4", None), ("high C", "8 -9", "1")],
)
def test_the_staff_moves_an_octave_where_ledger_lines_would_pile_up(
    harp: str, music: str, change: str | None
) -> None:
    """The notes keep their sounding octave: a clef only changes how they are shown."""
    score = score_from(music, harp=harp)
    root = element(score)
    assert root.findtext(".//clef/clef-octave-change") == change
    read = [note.pitch.midi for note in in_music21(score).flatten().notes]
    assert read == [note.pitch.midi for note in score.notes]


CALL = """
drill "A call"
  tempo 60
  pickup 1
  embouchure anchors tongue left, rungs lips
  anchor -2
  section "Call & answer"
  play -4 | -2:2 -3!:2
  echo
  section "Home"
  play -2:4
"""


def test_sections_echoes_pick_ups_and_the_mouth_are_said() -> None:
    """The echo takes the five beats of the call: from beat 8 to 13, counted by hand."""
    score = expand(parse(CALL)[0], Harp("C"), Position(2))
    root = element(score)
    libxml_schema().assertValid(root)
    first = root.find(".//measure")
    assert (first.get("number"), first.get("implicit")) == ("0", "yes")
    assert [measure.get("number") for measure in root.iter("measure")] == ["0", "1", "2", "3", "4"]
    assert [each.text for each in root.iter("rehearsal")] == ["Call & answer", "Home"]
    read = read_musicxml(musicxml_bytes(score))
    assert [(int(at), word) for at, word in read.words] == [
        (3, "C harp, 2nd position (cross harp), key of G"),
        (3, "anchors tongue block, tongue to the left; rungs lip purse (marked TL and L)"),
        (3, "L"), (4, "TL"), (6, "L"), (8, "your turn"), (16, "TL"),
    ]  # fmt: skip
    assert read.pickup == 1
    assert [(int(at), name) for at, name in read.sections] == [(3, "Call & answer"), (16, "Home")]
    assert [int(n.start) for n in read.notes if n.accent] == [6]
    assert in_order(root, "dashes") == [("start", 8), ("stop", 13)]


def in_order(root: Any, tag: str) -> list[tuple[str, int]]:
    """Type and beat of each such direction: durations before it and its offset, in 4/4."""
    divisions, now, found = int(root.findtext(".//divisions")), 3, []
    for each in root.iter("duration", tag):
        if each.tag == tag:
            offset = int(each.getparent().getparent().findtext("offset", "0"))
            found.append((each.get("type"), now + offset // divisions))
        else:
            now += int(each.text) // divisions
    return found


def test_an_echo_that_starts_inside_a_rest_is_put_there_by_an_offset() -> None:
    score = replace(score_from("-2 r:3 -3:4"), echoes=((Fraction(5, 2), Fraction(4)),))
    root = element(score)
    libxml_schema().assertValid(root)
    assert [at for at, word in read_musicxml(musicxml_bytes(score)).words if word == "your turn"] \
        == [Fraction(5, 2)]  # fmt: skip


def test_a_value_no_one_writes_is_refused_in_words() -> None:
    with pytest.raises(RenderError, match=r"1/512 beats is too short to be written"):
        musicxml_bytes(score_from("-2:1/512 -3:511/512"))


# --- text and bytes ------------------------------------------------------------------------

# What another program may put into a score, and what must stand on the page, by hand.
HOSTILE = {
    "</movement-title><credit>": "</movement-title><credit>",
    "&lt; &amp; ]]> <!-- & -->": "&lt; &amp; ]]> <!-- & -->",
    "\"quoted' <?xml?>": "\"quoted' <?xml?>",
    "<!DOCTYPE x [<!ENTITY a 'b'>]>&a;": "<!DOCTYPE x [<!ENTITY a 'b'>]>&a;",
    "a\x00b\x1b[31m": "a[U+0000]b[U+001B][31m",
    "two\r\nlines": "two lines",
    "lone\ud800half, \uffff": "lone[U+D800]half, [U+FFFF]",
    "na\u202eem": "na[U+202E]em",
    " kept  spaces ": " kept  spaces ",
    "\u0414\u043e\u043c \U0001d11e": "\u0414\u043e\u043c \U0001d11e",
}


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_strangers_text_is_only_ever_text(text: str) -> None:
    def titled(said: str) -> Score:
        plain = score_from("-2 -3'", title=said, about=said)
        return replace(
            plain, listen=ForeignText(said), sections=((Fraction(0), ForeignText(said)),)
        )

    root = element(titled(text))
    libxml_schema().assertValid(root)
    assert [each.tag for each in root.iter()] == [each.tag for each in element(titled("x")).iter()]
    shown = HOSTILE[text]
    assert root.findtext("movement-title") == shown
    assert [each.text for each in root.iter("credit-words")] == [shown, shown]
    assert root.findtext(".//rehearsal") == shown
    fields = {each.get("name"): each.text for each in root.iter("miscellaneous-field")}
    assert (fields["about"], fields["listen"]) == (shown, shown)
    assert read_musicxml(musicxml_bytes(titled(text))).title == shown


def test_equal_scores_give_equal_bytes_without_a_date() -> None:
    title = next(iter(SHELF))
    again = expand(SHELF[title], Harp("G"), usual_position(SHELF[title]))
    assert musicxml_bytes(played(title, "G")) == musicxml_bytes(again)
    assert b"date" not in musicxml_bytes(again)
    assert musicxml_bytes(again).startswith(b'<?xml version="1.0" encoding="UTF-8"?>\n')


def test_make_writes_it_under_its_own_ending(tmp_path: Path) -> None:
    score = score_from("-2 -3'")
    (made,) = make([score], tmp_path, ["musicxml"])
    assert (made.kind, made.path.suffix) == ("musicxml", ".musicxml")
    assert made.path.read_bytes() == musicxml_bytes(score)


def test_a_long_drill_takes_no_longer_a_note_than_a_short_one() -> None:
    """Ten times the notes cost about ten times the time, far from the hundred of a square."""
    short, long = (score_from(" ".join(["-2:1/2 -3':1/2"] * pairs)) for pairs in (60, 600))
    long = replace(long, embouchure=Embouchure(LipShape.LIPS, LipShape.TONGUE_LEFT), notes=tuple(
        replace(note, embouchure=list(LipShape)[at % 3]) for at, note in enumerate(long.notes)
    ))  # fmt: skip
    assert best_s(long) < 40 * best_s(short)


def best_s(score: Score) -> float:
    taken = []
    for _ in range(3):
        begin = time.perf_counter()
        musicxml_bytes(score)
        taken.append(time.perf_counter() - begin)
    return min(taken)


# --- files that are not ours ---------------------------------------------------------------


def foreign(notes: str, head: str = "", part: str = "") -> bytes:
    """A file by hand, in 4/4 with two divisions to the quarter."""
    return (
        f"{head}<score-partwise><part-list><score-part id='P1'><part-name/></score-part>"
        "</part-list><part id='P1'><measure number='1'><attributes><divisions>2</divisions>"
        f"<time><beats>4</beats><beat-type>4</beat-type></time></attributes>{notes}</measure>"
        f"</part>{part}</score-partwise>"
    ).encode()


def note(body: str = "", duration: str = "2", step: str = "G") -> str:
    return (
        f"<note><pitch><step>{step}</step><octave>4</octave></pitch>"
        f"<duration>{duration}</duration>{body}</note>"
    )


def test_a_file_of_another_hand_is_read_as_far_as_it_goes() -> None:
    music = (
        note("<lyric><text>-2</text></lyric>", "3")
        + "<forward><duration>1</duration></forward>"
        + note("<lyric number='1'><text>home</text></lyric>", "4", "B")
    )
    read = read_musicxml(foreign(music))
    assert (read.sharps, read.mode, read.meter, read.tempo_bpm) == (0, "major", Meter(4, 4), None)
    assert [(n.start, n.length, n.midi, n.tab, n.degree) for n in read.notes] == [
        (Fraction(0), Fraction(3, 2), 67, "-2", ""),
        (Fraction(2), Fraction(2), 71, "", ""),
    ]


def test_a_document_type_may_be_named_but_is_never_fetched(tmp_path: Path) -> None:
    """The address leads to a file that is not a document type; reading it would be an error."""
    trap = tmp_path / "trap.dtd"
    trap.write_text("<<< not a document type")
    head = f"<!DOCTYPE score-partwise SYSTEM '{trap.as_uri()}'>"
    assert len(read_musicxml(foreign(note(), head)).notes) == 1


def laughs() -> str:
    """Ten entities, each ten times the one before: a thousand million words in all."""
    lines = "".join(f"<!ENTITY l{n} '{f'&l{n - 1};' * 10}'>" for n in range(1, 10))
    return f"<!DOCTYPE score-partwise [<!ENTITY l0 'ha'>{lines}]>"


BAD = {
    "billion laughs": (foreign(note("&l9;"), laughs()), "declares its own XML entities"),
    "an outside entity": (
        foreign(
            note("&x;"), "<!DOCTYPE a [<!ENTITY x SYSTEM 'file:///etc/passwd'>]>"
        ),
        "declares its own XML entities",
    ),
    "a parameter entity": (
        foreign("", "<!DOCTYPE a [<!ENTITY % x SYSTEM 'file:///etc/passwd'> %x;]>"),
        "declares its own XML entities",
    ),
    "default attributes": (
        foreign("", "<!DOCTYPE a [<!ATTLIST note dynamics CDATA '90'>]>"),
        "declares its own XML entities or attributes",
    ),
    "an entity of an unread document type": (
        foreign("&x;", "<!DOCTYPE a SYSTEM 'a.dtd'>"), 'the XML entity "x", which is not defined',
    ),
    "an entity of nowhere": (foreign("&x;"), "not an XML file: undefined entity"),
    "nothing": (b"", "not an XML file: no element found"),
    "a zip archive": (b"PK\x03\x04", "not an XML file: not well-formed"),
    "an encoding of nowhere": (b"<?xml version='1.0' encoding='no'?><a/>", "not an XML file: unk"),
    "too large": (b" " * (MAX_BYTES + 1), "has 10000001 bytes; MusicXML is read up to 10000000"),
    "too deep": (b"<a>" * 100_000, "more than 32 deep"),
    "a page of the web": (b"<html/>", "not a partwise MusicXML file: it starts with <html>"),
    "timewise": (b"<score-timewise/>", "it starts with <score-timewise>"),
    "two parts": (foreign(note(), part="<part id='P2'/>"), "holds 2 parts"),
    "a second voice": (
        foreign(note() + "<backup><duration>2</duration></backup>" + note()),
        "several notes sound against",
    ),
    "a grace note": (foreign("<note><grace/></note>"), "grace notes"),
    "a number to fill memory": (foreign(note(duration="1e999999999")), '"1e999999999" where a dur'),
    "no time": (foreign(note(duration="0")), "a duration of 0; it must be more than 0"),
    "no number": (foreign("<note><rest/></note>"), '"" where a duration should be'),
    "an eighth of a tone": (
        foreign(note().replace("<octave>", "<alter>0.25</alter><octave>")), "alteration of 1/4",
    ),
    "no such note": (foreign(note(step="H")), 'a note "H" altered by 0, which cannot be read'),
    "a tie from nowhere": (foreign(note("<tie type='stop'/>")), "a tie at beat 0 does not"),
    "a tie to another note": (
        foreign(note("<tie type='start'/>") + note("<tie type='stop'/>", step="A")),
        "a tie at beat 1 does not continue",
    ),
    "a tie over a gap": (
        foreign(
            note("<tie type='start'/>")
            + "<forward><duration>1</duration></forward>"
            + note("<tie type='stop'/>")
        ),
        "a tie at beat 3/2 does not continue",
    ),
    "three flats at once": (
        foreign(note().replace("<octave>", "<alter>-3</alter><octave>")), '"G" altered by -3',
    ),
    "a new meter": (
        foreign("<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"),
        "has 2 meters",
    ),
    "a new key": (
        foreign("".join(
            f"<attributes><key><fifths>{n}</fifths></key></attributes>" for n in (1, 2)
        )),
        "the key changes",
    ),
    "a transposing part": (
        foreign("<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>"),
        "a transposing instrument",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_file_that_cannot_be_read_whole_is_refused_in_words(name: str) -> None:
    data, message = BAD[name]
    with pytest.raises(InputError) as refused:
        read_musicxml(data)
    assert message in str(refused.value)


def test_billion_laughs_end_at_once() -> None:
    """Refused at the declaration: nothing has been expanded yet."""
    begin = time.perf_counter()
    with pytest.raises(InputError):
        read_musicxml(foreign("&l9;" * 1000, laughs()))
    assert time.perf_counter() - begin < 1


@given(st.binary(max_size=200))
def test_bytes_at_random_are_refused(data: bytes) -> None:
    with pytest.raises(InputError):
        read_musicxml(data)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_damaged_file_is_read_or_refused_but_never_crashes(data: st.DataObject) -> None:
    whole = musicxml_bytes(score_from("-2:1/3 -3:2/3 ~-3'' r 4:3"))
    at = data.draw(st.integers(0, len(whole) - 1))
    gone = data.draw(st.integers(0, 40))
    put = data.draw(st.sampled_from([b"", b"<", b"</note>", b"9", b"-", b"&#0;", b"\xff", b"<a/>"]))
    with suppress(InputError):
        read_musicxml(whole[:at] + put + whole[at + gone :])


@pytest.mark.parametrize("title", list(SHELF)[::40])
def test_musicxml2ly_finds_every_tab_and_degree(title: str, tmp_path: Path) -> None:
    """LilyPond's own reader; ``tests/fuzz/open_musicxml.py`` asks MuseScore, and more drills."""
    score = in_turn(title)
    path = tmp_path / "drill.musicxml"
    path.write_bytes(musicxml_bytes(score))
    program = lilypond.executable().parent / "musicxml2ly"
    done = subprocess.run(
        [program, "--loglevel=WARN", "-o", "-", path], capture_output=True, check=True
    )
    assert done.stderr == b""
    sung = re.findall(r"Lyrics\w+ =\s+\\lyricmode \{(.*?)\}", done.stdout.decode(), re.S)
    assert [re.findall(r'"([^"]*)"', each) for each in sung] == [
        [tab for tab, _ in map(words_under, score.notes)],
        [degrees for _, degrees in map(words_under, score.notes)],
    ]
