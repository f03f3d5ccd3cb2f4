"""Figures of our own voices for a page's tones, drone and clicks, as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reedmill.harp.reeds import room_below
from reedmill.score.bursts import burst_chord
from reedmill.score.score import GLIDE_S, Note, Score, SoundingReed
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
from reedmill.sound.reed.colour import (
    DARK_ABOVE,
    PAGE_AIR,
    colour_of,
    told_amplitudes,
    told_radians,
)
from reedmill.sound.reed.drone import partials_of_drone
from reedmill.sound.reed.shape import (
    BESIDE_ACCENTS,
    GAP_S,
    RELEASE_S,
    SLOW_HZ,
    SLOWER_S,
    SPEAK_S,
    SPEAKS,
    SWELL_S,
)
from reedmill.sound.signal.loudness import Samples

_PARTS = 100_000  # of a harmonic's amplitude: whole numbers are shorter on a page
_RATE = 48_000  # samples a second that its harmonics may fill
_DIGITS = 5
_DRONES = (("root",), ("root", "fifth"), ("root", "octave"), ("root", "fifth", "octave"))


def sound_facts(score: Score) -> dict[str, object]:
    """Return what the page plays *score* with, in hertz, seconds and amplitudes of 0 to 1.

    Tables of harmonics come for each reed that sounds; accents are numbers of notes.
    """
    shapes = {str(number): _shape(score, note) for number, note in enumerate(score.notes)}
    needed = {number: shape for number, shape in shapes.items() if shape}
    return ({"shapes": needed} if needed else {}) | {
        "phases": told_radians(),
        "tables": list(_reed_tables(score)),
        "manner": {
            "attack_s": SPEAK_S,
            "speaks": SPEAKS,
            "swell_s": SWELL_S,
            "slower_s": SLOWER_S,
            "slow_hz": SLOW_HZ,
            "dark_above": DARK_ABOVE,
            "air": PAGE_AIR,
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


def _reed_tables(score: Score) -> Iterator[dict[str, object]]:
    """Yield the harmonics of each reed at each pitch, closed or open, accented or not."""
    accents = any(note.accent for note in score.notes)
    wanted = dict.fromkeys(
        (each.reed, each.hz, Mark.MUTE in breath_note.style, accents and not attack[0].accent)
        for attack in score.attacks()
        for breath_note in attack
        for each in (*breath_note.sounded, *_burst(score, breath_note))
    )
    for reed, hz, closed, soft in wanted:
        amplitude = BESIDE_ACCENTS if soft else 1.0
        colour = colour_of(reed, closed=closed, amplitude=amplitude)
        yield {
            "tab": reed.tab,
            "hz": round(hz, 4),
            "harmonics": [round(each * _PARTS) for each in told_amplitudes(colour, hz, _RATE)],
            **({"closed": True} if closed else {}),
            **({"soft": True} if soft else {}),
        }


def _burst(score: Score, note: Note) -> tuple[SoundingReed, ...]:
    if Mark.SLAP in note.style or Mark.PULL in note.style:
        return burst_chord(score, note)
    return ()


def _shape(score: Score, note: Note) -> dict[str, object]:
    """Return what the style of *note* needs; empty where it needs nothing.

    ``burst`` has the Hz of what sounds for an instant beside it; ``room`` the cents that it
    scoops from or falls by.
    """
    found: dict[str, object] = {}
    if chord := _burst(score, note):
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
    return {"to_hz": round(hz, 4), "cosines": _rounded(cosines), "sines": _rounded(sines)}


def _rounded(values: Iterable[float]) -> list[float]:
    return [round(float(each), _DIGITS) for each in values]
