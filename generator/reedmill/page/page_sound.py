"""Figures of our own voices for a page's tones, drone and clicks, as plain data."""

from __future__ import annotations

from reedmill.harp.reeds import room_below
from reedmill.score.bursts import burst_chord
from reedmill.score.score import GLIDE_S, Note, Score
from reedmill.score.style import BURST_S, FALL_S, SCOOP_S, VIBRATO_CENTS, Mark
from reedmill.sound.reed.click import (
    BAR_HZ,
    BAR_PEAK,
    PULSE_HZ,
    PULSE_PEAK,
    TAP_ATTACK_S,
    TAP_LENGTH_S,
    WOOD_MODES,
)
from reedmill.sound.reed.drone import partials_of_drone
from reedmill.sound.reed.shape import BESIDE_ACCENTS, GAP_S, RELEASE_S
from reedmill.sound.reed.voice import CLOSED_REED, REED_ATTACK_S, partials_of_reed
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.tone import partials

_RATE = 48_000  # samples a second that its harmonics may fill
_DIGITS = 5
_DRONES = (("root",), ("root", "fifth"), ("root", "octave"), ("root", "fifth", "octave"))


def sound_facts(score: Score) -> dict[str, object]:
    """Return what the page plays *score* with, in hertz, seconds and amplitudes of 0 to 1.

    Tables of harmonics come for each breath's highest note; accents are numbers of notes.
    """
    heights = sorted({round(max(note.hz for note in breath), 4) for breath in score.attacks()})
    closed = sorted({round(note.hz, 4) for note in score.notes if Mark.MUTE in note.style})
    shut = {"closed": [_table(hz, *partials(CLOSED_REED, hz, _RATE)) for hz in closed]}
    shapes = {str(number): _shape(score, note) for number, note in enumerate(score.notes)}
    needed = {number: shape for number, shape in shapes.items() if shape}
    return (
        (shut if closed else {})
        | ({"shapes": needed} if needed else {})
        | {
            "tables": [_table(hz, *partials_of_reed(hz, _RATE)) for hz in heights],
            "manner": {
                "attack_s": REED_ATTACK_S,
                "release_s": RELEASE_S,
                "gap_s": GAP_S,
                "glide_s": GLIDE_S,
                "beside_accents": BESIDE_ACCENTS,
                "scoop_s": SCOOP_S,
                "fall_s": FALL_S,
                "burst_s": BURST_S,
                "vibrato_cents": VIBRATO_CENTS,
            },
            "taps": {
                "bar": {"hz": BAR_HZ, "peak": BAR_PEAK},
                "pulse": {"hz": PULSE_HZ, "peak": PULSE_PEAK},
                "modes": WOOD_MODES,
                "attack_s": TAP_ATTACK_S,
                "length_s": TAP_LENGTH_S,
            },
            "accents": [index for index, note in enumerate(score.notes) if note.accent],
        }
    )


def _shape(score: Score, note: Note) -> dict[str, object]:
    """Return what the style of *note* needs; empty where it needs nothing.

    ``burst`` has the Hz of what sounds for an instant beside it; ``room`` the cents that it
    scoops from or falls by.
    """
    found: dict[str, object] = {}
    if Mark.SLAP in note.style or Mark.PULL in note.style:
        chord = burst_chord(score, note)
        found["burst"] = [round(each.hz, 4) for each in chord if each not in note.sounded]
    if Mark.SCOOP in note.style or Mark.FALL in note.style:
        found["room"] = room_below(score.harp.layout, note.reed)
    return found


def drone_facts(score: Score) -> dict[str, object]:
    """Return the harmonics of a drone on the root of *score*, by the tones it has."""
    under_hz = score.root_hz / 2
    return {
        "+".join(tones): _table(under_hz, *partials_of_drone(tones, score.root_hz, _RATE))
        for tones in _DRONES
    }


def _table(hz: float, cosines: Samples, sines: Samples) -> dict[str, object]:
    rounded = [[round(float(each), _DIGITS) for each in part] for part in (cosines, sines)]
    return {"to_hz": round(hz, 4), "cosines": rounded[0], "sines": rounded[1]}
