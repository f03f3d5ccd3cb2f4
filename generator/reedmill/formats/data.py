"""Plain data for other programs: the dictionaries that every ``--json`` prints."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from reedmill.base.errors import InputError, PatternError
from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.harp.chord_roles import chord_role
from reedmill.harp.together import holes_tab
from reedmill.practice.practice import Recording
from reedmill.score.playability import Finding
from reedmill.score.score import Breathing, Note, Score, SoundingReed
from reedmill.score.targets import chord_tone, is_target
from reedmill.theory.chords import Chord
from reedmill.theory.pitch import QUARTER_CENTS
from reedmill.theory.positions import Position

Data = dict[str, Any]


def notes_data(harp: Harp, position: Position, reference_hz: float = 440.0) -> Data:
    """Return every note of *harp* in *position*; frequencies in Hz, equal temperament.

    The schema ``notes`` of ``formats.schemas`` says what each field means.
    """
    rows = []
    for reed in harp.reeds():
        heard = note_on_harp(harp, position, reed)
        rows.append(
            {
                "tab": reed.tab,
                "hole": reed.hole,
                "breath": reed.breath.value,
                "bend": reed.bend,
                "kind": reed.kind.value,
                "midi": heard.midi,
                "name": heard.pitch.name,
                "hz": round(heard.hz(reference_hz), 4),
                "degree": heard.degree.name,
            }
        )
    return {
        "harp": harp.full_name,
        "tuning": harp.layout.name,
        "position": position.number,
        "key": harp.key_in(position).name,
        "mode": harp.key_in(position).mode,
        "reference_hz": reference_hz,
        "notes": rows,
    }


def roles_data(harp: Harp, reeds: list[Reed]) -> Data:
    """Return the degree of each of *reeds* in each of the twelve positions.

    The schema ``roles`` of ``formats.schemas`` says what each field means.
    """
    return {
        "harp": harp.full_name,
        "tuning": harp.layout.name,
        "reeds": [{"tab": reed.tab, "roles": _roles(harp, reed)} for reed in reeds],
    }


def chord_roles_data(
    harp: Harp, position: Position, reeds: list[Reed], chords: Sequence[Chord]
) -> Data:
    """Return the role of each of *reeds* in each of *chords*, in the key of *position*.

    The schema ``roles-chords`` of ``formats.schemas`` says what each field means.
    """
    key = harp.key_in(position)
    rows = []
    for reed in reeds:
        roles = [(chord, chord_role(harp, position, reed, chord)) for chord in chords]
        found = [
            {"chord": chord.name, "symbol": chord.symbol(key), "tone": role.tone,
             "from_root": role.name, "role": role.word}
            for chord, role in roles
        ]  # fmt: skip
        rows.append({"tab": reed.tab, "chords": found})
    return {
        "harp": harp.full_name,
        "tuning": harp.layout.name,
        "position": position.number,
        "key": key.name,
        "mode": key.mode,
        "reeds": rows,
    }


def _roles(harp: Harp, reed: Reed) -> list[Data]:
    roles = []
    for position in map(Position, range(1, 13)):
        heard = note_on_harp(harp, position, reed)
        key = harp.key_in(position).name
        roles.append(
            {
                "position": position.number,
                "key": key,
                "degree": heard.degree.name,
                "name": heard.pitch.name,
            }
        )
    return roles


def score_data(score: Score) -> Data:
    """Return the timeline of one drill; starts and lengths are beats as exact fractions.

    ``start`` and ``length`` are as written, ``sounding_start`` and ``sounding_length`` as
    played: they differ in a shuffle and before a breath.  ``swing`` is how long the first half
    of a beat is to the second.  Where several holes sound at once, ``tab`` has them all, and
    ``hole`` to ``degree`` are of the highest, with the others ``beside`` it.
    """
    return {
        "title": score.title,
        "harp": score.harp.full_name,
        "tuning": score.harp.layout.name,
        "position": score.position.number,
        "key": score.key.name,
        "mode": score.key.mode,
        "tempo": score.tempo_bpm,
        "meter": score.meter.name,
        "feel": score.feel.value,
        "swing": str(score.swing),
        "anchor": holes_tab(score.anchor_holes) if score.anchor_holes else None,
        "rungs": [holes_tab(holes) for holes in score.rung_holes],
        "notes": [
            _note_data(score, note) | _as_shaped(score, note) | _in_chord(score, note)
            for note in score.notes
        ],
        "breaths": [_breath_data(each) for each in score.breaths],
    } | _over_data(score)


def _breath_data(breath: Breathing) -> Data:
    return {
        "at": str(breath.at),
        "way": breath.way.value,
        "seconds": round(float(breath.seconds), 6),
        "rest": str(breath.rest),
    }


def _over_data(score: Score) -> Data:
    """Return the band under the drill; empty where there is none."""
    band = score.band
    if band is None:
        return {}
    chords = [
        {"start": str(start), "chord": chord.name, "symbol": chord.symbol(score.key)}
        for start, chord in band.chords
    ]
    return {
        "over": {"form": band.form, "feel": band.feel, "choruses": band.choruses},
        "chords": chords,
    }


def _in_chord(score: Score, note: Note) -> Data:
    if score.band is None:
        return {}
    return {"in_chord": chord_tone(score, note), "target": is_target(score, note)}


def _note_data(score: Score, note: Note) -> Data:
    sounding_start, sounding_length = score.sounding(note)
    return {
        "start": str(note.start),
        "length": str(note.length),
        "sounding_start": str(sounding_start),
        "sounding_length": str(sounding_length),
        "tab": note.tab,
        "hole": note.reed.hole,
        "breath": note.reed.breath.value,
        "bend": note.reed.bend,
        "midi": note.pitch.midi,
        "name": note.pitch.name,
        "hz": round(note.hz, 4),
        "degree": note.degree.name,
        "role": note.role.value,
        "joined": note.joined,
        "embouchure": note.embouchure.value if note.embouchure else None,
        "line": note.span.line,
        "column": note.span.column,
    }


def _as_shaped(score: Score, note: Note) -> Data:
    """Return what few notes have: a quarter tone, other holes, marks, a lift, a slow slide.

    Left out where there is none, so that the data of a plain drill are no larger for it.
    """
    found: Data = {}
    if note.reed.quarter:
        found["cents"] = -QUARTER_CENTS
    if note.beside:
        found["beside"] = [_beside(each) for each in note.beside]
    if note.style.marks:
        found["style"] = [mark.value for mark in note.style.marks]
    if note.style.a_beat is not None:
        found["a_beat"] = note.style.a_beat
    if held := score.held_over(note):
        found["held"] = list(held)
    if note.slide_beats is not None:
        found["slide"] = str(note.slide_beats)
        arrives = score.performed(note.start + note.slide_beats)
        found["sounding_slide"] = str(arrives - score.performed(note.start))
    return found


def _beside(each: SoundingReed) -> Data:
    quarter = {"cents": -QUARTER_CENTS} if each.reed.quarter else {}
    return {
        "tab": each.reed.tab,
        "hole": each.reed.hole,
        "bend": each.reed.bend,
        "midi": each.pitch.midi,
        "name": each.pitch.name,
        "hz": round(each.hz, 4),
        "degree": each.degree.name,
    } | quarter


def data_bytes(score: Score, recording: Recording) -> bytes:
    """Return the file of ``--to json``: the timeline, and the practice plan where asked for."""
    asked = recording_data(score, recording) if _practised(score, recording) else {}
    content = json.dumps({"drills": [score_data(score) | asked]}, ensure_ascii=False, indent=1)
    return content.encode() + b"\n"


def _practised(score: Score, recording: Recording) -> bool:
    """Return True where the recording adds something: a practice plan, or more than tones."""
    told = replace(
        Recording(),
        drone=recording.drone,
        click=recording.click,
        practice=recording.practice,
        apart=recording.apart,
    )
    return score.band is not None or told != Recording()


def recording_data(score: Score, recording: Recording) -> Data:
    """Return how the sound of *score* is practised: what is heard, each pass of the plan.

    ``first`` and ``last`` are written beats, ``start_s`` and ``end_s`` seconds of the sound
    file; ``tones`` is the amplitude of the tones, 0 where the player is alone.
    """
    practice, plan = recording.practice, recording.plan(score)
    passes = [
        {
            "start_s": round(float(plan.lead_in_s + heard.start_s), 6),
            "end_s": round(float(plan.lead_in_s + heard.end_s), 6),
            "first": str(heard.first),
            "last": str(heard.last),
            "tempo": heard.score.tempo_bpm,
            "count_in_bars": heard.count_in_bars,
            "tones": round(heard.guide, 4),
        }
        for heard in plan.passes
    ]
    return {
        "recording": {
            "drone": list(recording.drone),
            "click": recording.clicking.value if recording.clicking else None,
            "count_in_bars": practice.count_in_bars,
            "repeats": practice.repeats,
            "echo_bars": practice.echo_bars,
            "fade_out": practice.fade_out,
            "tempi": list(practice.tempi_bpm),
            "apart": recording.apart,
            "passes": passes,
        }
    }


def mistake_data(
    file: str, error: InputError, settings: Sequence[tuple[Harp, Position | None]] = ()
) -> Data:
    """Return a row of ``mistakes`` or ``warnings``; without line and column for a whole *file*.

    ``led_to`` is what a mistake led to, in lines that were taken over from elsewhere; *settings*
    are the harps and positions it is for, no position where it is for any.
    """
    played_on = [
        {"harp": harp.full_name, "position": position and position.number}
        for harp, position in settings
    ]
    if isinstance(error, PatternError):
        led_to = _told(error.led_to) if error.led_to else None
        return _told(error) | {"led_to": led_to, "played_on": played_on}
    fact, _, remedy = str(error).partition(". ")
    place = {"file": file, "line": None, "column": None, "key": ""}
    return place | {
        "fact": fact, "remedy": remedy, "led_to": None, "played_on": played_on,
    }  # fmt: skip


def _told(error: PatternError) -> Data:
    span = error.span
    place = {"file": span.file, "line": span.line, "column": span.column, "key": error.key}
    return place | {"fact": error.fact, "remedy": error.remedy}


def check_data(file: str, scores: list[Score], findings: list[list[Finding]]) -> Data:
    """Return the findings of ``check`` on one file: its drills and what is hard to play."""
    return {
        "file": file,
        "drills": [
            {
                "title": score.title,
                "harp": score.harp.full_name,
                "position": score.position.number,
                "embouchure": score.embouchure.short if score.embouchure else None,
                "bars": score.bars,
                "notes": len(score.notes),
                "rules": [_finding_data(each) for each in found],
            }
            for score, found in zip(scores, findings, strict=True)
        ],
    }


def _finding_data(each: Finding) -> Data:
    places = [{"line": span.line, "column": span.column} for span in each.violators]
    return {"rule": each.rule, "total": each.total, "violators": places}
