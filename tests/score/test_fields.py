"""Every field of a Score in every format: shown, or left out for a reason that stands here.

A field is shown in a format when changing it alone changes the file.  A new field and a new
format have to be entered: the messages say where.
"""

from __future__ import annotations

import hashlib
import typing
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from markupsafe import Markup

from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy
from reedmill.base.source import Span
from reedmill.expand import expand
from reedmill.formats.table import DRILL_FORMATS, Maker
from reedmill.formats.written import drill_files
from reedmill.harp import Harp, OwnReeds, Reed
from reedmill.language import parse
from reedmill.page.page_music import PageMusic
from reedmill.page.practice_page import page_around
from reedmill.practice.practice import PLAIN_BAND, Recording
from reedmill.score.arrangement import Part
from reedmill.score.score import AirWay, Breathing, Caution, Feel, LipShape, Role, Score
from reedmill.score.style import PLAIN as PLAIN_STYLE
from reedmill.score.style import Mark
from reedmill.sheet.page import pages
from reedmill.sheet.screens import music_for_screens
from reedmill.sound.recording.record import sound_files
from reedmill.theory.positions import Position

DRILL = """\
drill "Base"
  about "Steps."
  listen "Even."
  level 2
  tempo 280 to 300
  feel shuffle
  embouchure lips
  anchor -2
  rungs -3 -3'
  section "One"
  play -2 -3:1/2 ~-3':1/2 4! -4
  section "Two"
  play -2 -3:1/2 ~-3':1/2 4! -4
"""
STEADY = expand(parse(DRILL)[0], Harp("C"), Position(2))
PLAIN = replace(
    STEADY,
    echoes=((Fraction(4), Fraction(6)),),
    breaths=(Breathing(Fraction(3), AirWay.OUT, Fraction(1, 20)),),
    warnings=(Caution("too low", Span("mine.drill", 1, 1)),),
)
OWN = replace(PLAIN, harp=replace(PLAIN.harp, own=OwnReeds.of("mine", {Reed.parse("-4"): 9.0})))
TWICE = expand(parse('drill "Twice"\n  tempo 300\n  play (-2:4 -3:4)x2')[0], Harp("C"), Position(2))
SHORT = expand(parse('drill "Short"\n  tempo 300\n  feel shuffle\n  play -2 -3:1/2 4:1/2 -2:2')[0],
               Harp("C"), Position(2))  # fmt: skip
AT_ONCE = expand(
    parse('drill "At once"\n  tempo 300\n  play -1&4 vibrato4 -4:4 -3~:2 -3\'\':3 -2:3')[0],
    Harp("C"), Position(2),
)  # fmt: skip
OVER = accompanied(SHORT, Accompaniment("One chord", "Medium shuffle", "loop", 1, 0))


@dataclass(frozen=True)
class Change:
    """One field changed by itself in a score that has it."""

    change: Callable[[Any], Any]  # of the value of the field
    inside: str = ""  # where the object that has it stands in the score, or in its first of many
    of: Score = PLAIN

    def made(self, field: str) -> Score:
        """The score with the field changed."""
        name = field.partition(".")[2]
        steps = [*filter(None, self.inside.split(".")), name]
        return typing.cast("Score", _changed(self.of, steps, self.change))


def _changed(of: Any, steps: list[str], change: Callable[[Any], Any]) -> Any:
    """*of* with what is at *steps* changed; a number is the place in a tuple."""
    if not steps:
        return change(of)
    first, rest = steps[0], steps[1:]
    if first.isdigit():
        at = int(first)
        return (*of[:at], _changed(of[at], rest, change), *of[at + 1 :])
    return replace(of, **{first: _changed(getattr(of, first), rest, change)})


def to(value: Any) -> Callable[[Any], Any]:
    return lambda _: value


def more(value: Any) -> Callable[[Any], Any]:
    return lambda old: old + value


_BAND = {
    "form": Change(more("!"), "band", OVER),
    "feel": Change(more("!"), "band", OVER),
    "key": Change(lambda key: replace(key, sharps=key.sharps + 1), "band", OVER),
    "meter": Change(lambda meter: replace(meter, beats=3), "band", OVER),
    "tempo_bpm": Change(more(1), "band", OVER),
    "choruses": Change(more(1), "band", OVER),
    "seed": Change(more(1), "band", OVER),
    "bars_a_chorus": Change(more(1), "band", OVER),
    "chords": Change(lambda chords: chords[:1], "band", replace(OVER, band=replace(
        OVER.band, chords=(*OVER.band.chords, (Fraction(2), OVER.band.chords[0][1].parse("IV7")))
    ) if OVER.band else None)),
    "notes": Change(lambda notes: notes[:-1], "band", OVER),
    "length": Change(more(4), "band", OVER),
    "programs": Change(lambda programs: tuple((part, 1) for part, _ in programs), "band", OVER),
    "swing": Change(to(Fraction(3, 2)), "band", OVER),
    "intro_bars": Change(more(1), "band", OVER),
    "looseness": Change(more(1), "band", OVER),
    "choices": Change(to(("loose 2",)), "band", OVER),
    "road": Change(to("Stops in bars 1 to 4."), "band", OVER),
    "stops": Change(to((1, 2)), "band", OVER),
    "breaks": Change(to((1, 2)), "band", OVER),
    "absent": Change(to((Part.COMP,)), "band", OVER),
    "origins": Change(to(("mine.form",)), "band", OVER),
}  # fmt: skip
CHANGES: dict[str, Change] = {
    "Score.title": Change(more("!")),
    "Score.about": Change(more("!")),
    "Score.level": Change(to(4)),
    "Score.tempo_bpm": Change(to(270)),
    "Score.meter": Change(lambda meter: replace(meter, beats=2)),
    "Score.harp": Change(to(Harp("A"))),
    "Score.position": Change(to(Position(1))),
    "Score.notes": Change(lambda notes: notes[:-1]),
    "Score.length": Change(more(4)),
    "Score.anchor_holes": Change(to((Reed.parse("-1"), Reed.parse("-4")))),
    "Score.rung_holes": Change(to(((Reed.parse("-2"), Reed.parse("-3")),))),
    "Score.intonation": Change(lambda tuning: replace(tuning, name="just5", words="just")),
    "Score.reference_hz": Change(to(442.0)),
    "Score.listen": Change(more("!")),
    "Score.tempo_goal_bpm": Change(to(None)),
    "Score.tempi_bpm": Change(to((280, 290))),
    "Score.feel": Change(to(Feel.STRAIGHT)),
    "Score.pickup": Change(to(Fraction(1)), of=replace(STEADY, notes=STEADY.notes[4:])),
    "Score.embouchure": Change(to(None)),
    "Score.sections": Change(to(((Fraction(0), "One"), (Fraction(4), "Next")))),
    "Score.echoes": Change(to(())),
    "Score.band": Change(to(None), of=OVER),
    "Score.repeats": Change(to(()), of=TWICE),
    "Score.breaths": Change(to(())),
    "Breathing.at": Change(to(Fraction(6)), "breaths.0"),
    "Breathing.way": Change(to(AirWay.IN), "breaths.0"),
    "Breathing.seconds": Change(to(Fraction(1, 10)), "breaths.0"),
    "Breathing.rest": Change(to(Fraction(1, 2)), "breaths.0"),
    "Score.warnings": Change(to(())),
    "Caution.fact": Change(more("!"), "warnings.0"),
    "Caution.span": Change(to(Span("mine.drill", 2, 1)), "warnings.0"),
    "Caution.instead": Change(more("Write a rest."), "warnings.0"),
    "Caution.way_out": Change(to(Remedy.SOMETHING_TO_HEAR), "warnings.0"),
    "Score.variant": Change(to(("48 bpm",))),
    "Score.origin": Change(to("mine.drill")),
    "Meter.beats": Change(to(2), "meter"),
    "Meter.unit": Change(to(2), "meter"),
    "Harp.key": Change(to("A"), "harp"),
    "Harp.register": Change(to("low"), "harp"),
    "Harp.layout": Change(lambda layout: replace(layout, name="odd"), "harp"),
    "Harp.own": Change(to(OwnReeds.of("mine", {Reed.parse("-4"): 9.0})), "harp"),
    "OwnReeds.name": Change(to("other"), "harp.own", OWN),
    "OwnReeds.blow": Change(lambda row: (*row[:4], 12.0, *row[5:]), "harp.own", OWN),
    "OwnReeds.draw": Change(lambda row: (*row[:4], 12.0, *row[5:]), "harp.own", OWN),
    "Layout.name": Change(to("odd"), "harp.layout"),
    "Layout.blow": Change(lambda row: (*row[:4], 17, *row[5:]), "harp.layout"),
    "Layout.draw": Change(lambda row: (*row[:4], 18, *row[5:]), "harp.layout"),
    "Position.number": Change(to(3), "position"),
    "Note.start": Change(more(Fraction(1, 4)), "notes.7", replace(PLAIN, notes=(
        *PLAIN.notes[:7], replace(PLAIN.notes[7], length=Fraction(1, 2)), *PLAIN.notes[8:]))),
    "Note.length": Change(to(Fraction(1, 2)), "notes.9"),
    "Note.reed": Change(to(Reed.parse("-5")), "notes.9"),
    "Note.pitch": Change(lambda pitch: replace(pitch, octave=6), "notes.9"),
    "Note.degree": Change(lambda degree: replace(degree, number=6), "notes.9"),
    "Note.hz": Change(more(5.0), "notes.9"),
    "Note.role": Change(to(Role.RUNG), "notes.9"),
    "Note.span": Change(lambda span: replace(span, line=77), "notes.9"),
    "Note.joined": Change(to(False), "notes.7"),
    "Note.embouchure": Change(to(LipShape.TONGUE_LEFT), "notes.9"),
    "Note.accent": Change(to(True), "notes.9"),
    "Note.beside": Change(to(()), "notes.0", AT_ONCE),
    "Note.style": Change(to(PLAIN_STYLE), "notes.1", AT_ONCE),
    "Note.slide_beats": Change(to(None), "notes.3", AT_ONCE),
    "SoundingReed.reed": Change(to(Reed.parse("-2")), "notes.0.beside.0", AT_ONCE),
    "SoundingReed.pitch": Change(lambda pitch: replace(pitch, letter="E"), "notes.0.beside.0",
                                 AT_ONCE),
    "SoundingReed.degree": Change(lambda degree: replace(degree, number=6), "notes.0.beside.0",
                                  AT_ONCE),
    "SoundingReed.hz": Change(more(5.0), "notes.0.beside.0", AT_ONCE),
    "Style.marks": Change(to((Mark.MUTE,)), "notes.1.style", AT_ONCE),
    "Style.a_beat": Change(to(3), "notes.1.style", AT_ONCE),
    "Reed.hole": Change(to(5), "notes.9.reed"),
    "Reed.breath": Change(lambda breath: breath.other, "notes.9.reed"),
    "Reed.bend": Change(to(1), "notes.9.reed"),
    "Reed.over": Change(to(True), "notes.9.reed"),
    "Reed.quarter": Change(to(True), "notes.9.reed"),
    "Pitch.letter": Change(to("A"), "notes.9.pitch"),
    "Pitch.alter": Change(to(1), "notes.9.pitch"),
    "Pitch.octave": Change(more(1), "notes.9.pitch"),
    "Pitch.quarter": Change(to(True), "notes.9.pitch"),
    "Degree.number": Change(to(6), "notes.9.degree"),
    "Degree.alter": Change(to(-1), "notes.9.degree"),
    "Degree.quarter": Change(to(True), "notes.9.degree"),
    "Span.file": Change(to("other.drill"), "notes.9.span"),
    "Span.line": Change(to(77), "notes.9.span"),
    "Span.column": Change(to(77), "notes.9.span"),
    "Span.width": Change(to(77), "notes.9.span"),
    "Intonation.name": Change(to("just5"), "intonation"),
    "Intonation.words": Change(to("just"), "intonation"),
    "Intonation.ratios": Change(to((Fraction(1), *(Fraction(17, 16),) * 11)), "intonation"),
    "Intonation.offsets_cents": Change(to((9.0,) * 12), "intonation"),
    "Embouchure.anchors": Change(to(LipShape.TONGUE_LEFT), "embouchure"),
    "Embouchure.rungs": Change(to(LipShape.TONGUE_LEFT), "embouchure"),
    "Repeat.start": Change(to(Fraction(4)), "repeats.0", TWICE),
    "Repeat.passes": Change(lambda passes: passes[:1], "repeats.0", TWICE),
    **{f"Arrangement.{name}": each for name, each in _BAND.items()},
    "Key.sharps": Change(more(1), "band.key", OVER),
    "Key.minor": Change(to(True), "band.key", OVER),
    "Chord.root": Change(lambda root: replace(root, number=4), "band.chords.0.1", OVER),
    "Chord.quality": Change(to("m7"), "band.chords.0.1", OVER),
    "Struck.part": Change(lambda part: next(each for each in type(part) if each is not part),
                          "band.notes.0", OVER),
    "Struck.start": Change(more(Fraction(1, 8)), "band.notes.0", OVER),
    "Struck.length": Change(more(Fraction(1, 8)), "band.notes.0", OVER),
    "Struck.key": Change(more(1), "band.notes.0", OVER),
    "Struck.velocity": Change(lambda velocity: velocity // 2, "band.notes.0", OVER),
}  # fmt: skip


# --- what is left out, and why -------------------------------------------------------------

_EVERYWHERE = {
    "is said on the screen while the file is made": "Score.warnings Caution.fact Caution.span "
    "Caution.way_out Caution.instead",
    "is for the names of files": (
        "Score.variant Score.origin Arrangement.origins Arrangement.choices"
    ),
    "is for a chart, on which a band has no drill over it": (
        "Arrangement.intro_bars Arrangement.road Arrangement.stops Arrangement.breaks"
    ),
    "follows from the notes": "Score.triplet_beats",
    "says where a mistake stands; a place is told by its line and column": "Span.file Span.width",
    "says how the strokes came about, which are there themselves": (
        "Arrangement.seed Arrangement.looseness Arrangement.absent"
    ),
}
_OWN_IN_HZ = "OwnReeds.blow OwnReeds.draw"
_OWN = f"Harp.own OwnReeds.name {_OWN_IN_HZ}"
_HEARD = "Arrangement.key Arrangement.notes Arrangement.programs Arrangement.swing Key.* Struck.*"
_BAND_TOLD = "Arrangement.tempo_bpm Arrangement.length"
_ON_PAPER = _EVERYWHERE | {
    "sorts the library": "Score.level",
    "is on the map where it is played": "Score.rung_holes",
    "follows from pitch, intonation and A4, which are there": "Note.hz SoundingReed.hz",
    "says how the drill was made, not how it is played": "Note.role Note.span Span.*",
    "is the band's to play": _HEARD,
    "is the score's too": _BAND_TOLD,
    "is in the sound; a page has no frequencies": _OWN_IN_HZ,
    "is a rest among the notes; how long it is to be, the tones say": (
        "Breathing.rest Breathing.seconds"
    ),
}
_BREATH_HEARD = {"is heard; on paper a breath is a sign": "Breathing.seconds"}
_BREATH_RESTS = {"is a rest among the notes": "Breathing.rest"}
_WRITTEN_OUT = {"is printed as signs; here every time is written out": "Score.repeats Repeat.*"}
_NOT_HEARD = (
    "Score.about Score.level Score.anchor_holes Score.rung_holes Score.listen Score.tempo_goal_bpm "
    "Score.tempi_bpm Score.pickup Score.embouchure Score.sections Score.echoes "
    "Note.degree Note.role Note.span Note.embouchure Degree.* Span.* Embouchure.* "
    "Arrangement.choruses Arrangement.bars_a_chorus SoundingReed.degree"
)
_IN_HZ = "Score.intonation Intonation.*"
LEFT_OUT: dict[str, dict[str, str]] = {
    "sheet": _ON_PAPER,
    "png": _ON_PAPER,
    "svg": _ON_PAPER,
    "midi": _EVERYWHERE | _WRITTEN_OUT | _BREATH_RESTS | {
        "is not heard": _NOT_HEARD,
        "is named on the sheet": "Arrangement.form Arrangement.feel Arrangement.meter",
        "is in the frequency of each note": f"{_IN_HZ} {_OWN} Pitch.quarter",
        "is in the pitch of each note": "Harp.register Harp.layout Layout.*",
        "is the score's too": _BAND_TOLD,
    },
    "wav": _EVERYWHERE | _WRITTEN_OUT | _BREATH_RESTS | {
        "is on the sheet; the silence is heard": "Breathing.way",
        "is not heard": f"{_NOT_HEARD} Score.meter Meter.* Note.reed Reed.hole SoundingReed.reed",
        "is named on the sheet; the tags say how it feels": "Arrangement.form",
        "is in the strokes of the band": "Arrangement.key Arrangement.chords Key.* Chord.*",
        "is for a SoundFont; the plain band has voices of its own": "Arrangement.programs",
        "is in the frequency of each note": (
            f"{_IN_HZ} {_OWN} Note.pitch Pitch.* SoundingReed.pitch Score.reference_hz"
        ),
        "is the score's too": _BAND_TOLD,
    },
    "tab": _EVERYWHERE | _WRITTEN_OUT | _BREATH_RESTS | _BREATH_HEARD | {
        "sorts the library": "Score.level",
        "is where it is played": "Score.anchor_holes Score.rung_holes",
        "is not a matter of where to blow": (
            f"{_OWN} Note.pitch Note.hz Pitch.* SoundingReed.pitch SoundingReed.hz"
        ),
        "says how the drill was made": "Note.role Note.span Span.*",
        "is on the sheet, above the tab": "Score.tempi_bpm",
        "is the band's to play": _HEARD,
        "is the score's too": f"{_BAND_TOLD} Arrangement.meter",
    },
    "html": _EVERYWHERE | _WRITTEN_OUT | _BREATH_RESTS | _BREATH_HEARD | {
        "sorts the library": "Score.level",
        "is where it is played": "Score.anchor_holes Score.rung_holes",
        "follows from pitch, intonation and A4, which are there": (
            f"Note.hz SoundingReed.hz {_OWN}"
        ),
        "says how the drill was made": "Note.role Note.span Span.*",
        "is how it is practised, on the sheet": "Score.tempi_bpm",
        "is the band's to play": _HEARD,
        "is the score's too": f"{_BAND_TOLD} Arrangement.meter",
    },
    "braille": _EVERYWHERE | _WRITTEN_OUT | _BREATH_RESTS | _BREATH_HEARD | {
        "is in the plain tab of the drill, which braille displays show": (
            "Score.about Score.level Score.tempo_bpm Score.anchor_holes Score.rung_holes "
            "Score.listen Score.tempo_goal_bpm Score.tempi_bpm Score.feel Score.embouchure "
            "Score.sections Score.echoes Score.reference_hz Note.reed Note.degree "
            "Note.embouchure Reed.* "
            "Note.style Style.* Note.slide_beats SoundingReed.reed SoundingReed.degree "
            f"Degree.* Embouchure.* Harp.layout Layout.* Harp.register {_IN_HZ} "
            f"Score.band Arrangement.* Chord.* {_HEARD} {_BAND_TOLD}"
        ),
        "follows from pitch, intonation and A4": f"Note.hz SoundingReed.hz {_OWN}",
        "says how the drill was made": "Note.role Note.span Span.*",
    },
    "musicxml": _EVERYWHERE | _WRITTEN_OUT | _BREATH_RESTS | _BREATH_HEARD | {
        "is how it is practised, on the sheet": "Score.tempi_bpm",
        "has no element, and the name of the intonation is told": (
            "Intonation.words Intonation.ratios Intonation.offsets_cents Note.hz SoundingReed.hz "
                f"{_OWN}"
        ),
        "says how the drill was made": "Note.role Note.span Span.*",
        "is the band's; its chords stand over the staff": (
            f"{_HEARD} {_BAND_TOLD} Arrangement.form Arrangement.feel Arrangement.meter "
            "Arrangement.choruses Arrangement.bars_a_chorus"
        ),
    },
    "json": _EVERYWHERE | _WRITTEN_OUT | {
        "is text to read, which the sheet has": (
            "Score.about Score.level Score.listen Score.tempo_goal_bpm Score.sections"
        ),
        "is told of each note": "Score.embouchure Embouchure.*",
        "is in the frequency of each note": f"{_IN_HZ} {_OWN} Score.reference_hz",
        "is told with the recording, where one is asked for": "Score.tempi_bpm Score.echoes",
        "is silence, which has no row": "Score.length Score.pickup",
        "says how a note is played, not which and when": "Note.accent",
        "is the band's; its form, feel and chords are told": (
            f"{_BAND_TOLD} Arrangement.key Arrangement.notes Arrangement.programs Key.* Struck.* "
            "Arrangement.meter Arrangement.bars_a_chorus"
        ),
    },
    "page": _EVERYWHERE | _BREATH_RESTS | {
        "sorts the library": "Score.level",
        # a take has the variant's
        "is for the names of files": "Score.origin Arrangement.origins Arrangement.choices",
        "says how the strokes came about, which are there themselves": (
            "Arrangement.seed Arrangement.looseness"
        ),
        "is in the frequency of each note; its name is told": "Intonation.ratios",
        "is where a note stands in a file that the page does not have": (
            "Note.span Span.line Span.column"
        ),
        "is the band's, which the page does not play": (
            f"{_BAND_TOLD} Arrangement.key Arrangement.notes Arrangement.programs Key.* Struck.* "
            "Arrangement.bars_a_chorus"
        ),
    },
}  # fmt: skip
_MENTIONED = "tests/score/test_fields.py"


def every_field() -> Iterator[str]:
    """``Score.title``, ``Note.start``: each field of a score and of all that is in one."""
    found: list[Any] = [Score]
    for record in found:
        yield from (f"{record.__name__}.{each.name}" for each in fields(record))
        for hint in typing.get_type_hints(record).values():
            found += [each for each in _records(hint) if each not in found]


def _records(hint: Any) -> set[Any]:
    inner = {each for argument in typing.get_args(hint) for each in _records(argument)}
    return inner | ({hint} if is_dataclass(hint) else set())


FIELDS = tuple(every_field())


def reason(name: str, field: str) -> str:
    """Why the format *name* leaves *field* out; empty where it shows it."""
    for why, those in LEFT_OUT[name].items():
        record = field.partition(".")[0]
        if field in those.split() or f"{record}.*" in those.split():
            return why
    return ""


@cache
def rendered(name: str, key: str) -> list[str]:
    """The files of a score in the format *name*, as digests: of the score of a field, or before."""
    field, _, before = key.partition(" ")
    change = CHANGES[field]
    score = change.of if before else change.made(field)
    row, band = DRILL_FORMATS[name], change.of.band is not None
    recording = Recording(backing=band and score.band is not None, band=PLAIN_BAND if band else "")
    match row.maker:
        case Maker.LILYPOND:
            contents = [pages([score], ids=row.ending == ".svg").encode()]
        case Maker.WRITER if row.together:  # LilyPond's input stands for what it would draw
            around = page_around(score, PageMusic(Markup(), ()))
            contents = [around, music_for_screens([score]).source.encode()]
        case Maker.WRITER:
            contents = [content for _, content in drill_files(row, score, recording)]
        case Maker.SOUND:
            contents = _heard(score, recording)
    return [hashlib.sha256(each).hexdigest() for each in contents]


def _heard(score: Score, recording: Recording) -> list[bytes]:
    """The sound files; a band that does not fit is refused, which is not silence either."""
    try:
        return list(_sounds(score, recording))
    except InputError as refusal:
        return [str(refusal).encode()]


def _sounds(score: Score, recording: Recording) -> Iterator[bytes]:
    with TemporaryDirectory() as folder:
        for number, each in enumerate(sound_files(score, recording)):
            path = Path(folder) / str(number)
            each.save(path)
            yield path.read_bytes()


def shows(name: str, field: str) -> bool:
    """Whether changing *field* alone changes the file in the format *name*."""
    first = next(each for each, change in CHANGES.items() if change.of is CHANGES[field].of)
    return rendered(name, field) != rendered(name, f"{first} before")


def test_every_field_can_be_changed_by_itself() -> None:
    missing = set(FIELDS) - set(CHANGES) - {"Score.triplet_beats"}
    assert not missing, (
        f"no test knows the field {', '.join(sorted(missing))} of a score. Say in CHANGES of "
        f"{_MENTIONED} what it is changed to; then every format shows it or is named in LEFT_OUT"
    )
    assert set(CHANGES) <= set(FIELDS)


@pytest.mark.parametrize("name", DRILL_FORMATS)
def test_a_format_shows_every_field_or_says_why_not(name: str) -> None:
    assert name in LEFT_OUT, (
        f"nobody says which fields of a score the format {name} shows. Name those it leaves out, "
        f"with the reason, in LEFT_OUT of {_MENTIONED}"
    )
    there = {field for field in CHANGES if shows(name, field)}
    denied = [field for field in CHANGES if field in there and reason(name, field)]
    assert not denied, (
        f"{name} shows what LEFT_OUT of {_MENTIONED} says it does not: {' '.join(denied)}"
    )
    silent = [field for field in CHANGES if field not in there and not reason(name, field)]
    assert not silent, (
        f"these make no difference in {name}. Show each there, or say in LEFT_OUT of "
        f"{_MENTIONED} why not: {' '.join(silent)}"
    )


def test_what_is_left_out_is_there_to_be_left_out() -> None:
    records = {each.partition(".")[0] for each in FIELDS}
    known = {*FIELDS, *(f"{each}.*" for each in records)}
    named = {each for of in LEFT_OUT.values() for those in of.values() for each in those.split()}
    assert named <= known
    assert set(LEFT_OUT) == set(DRILL_FORMATS)
