"""The holes that sound from moment to moment in a note: chords of slaps and pulls, shakes.

Everything that plays a score follows it.  What its pitch does meanwhile is in ``pitch_curve``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.harp import HOLES, Reed
from reedmill.score.reed_pitches import sounding_reed
from reedmill.score.score import LipShape, Note, Score, SoundingReed
from reedmill.score.style import BURST_HOLES, BURST_S, Mark

_BURST_S = Fraction(BURST_S).limit_denominator(1000)


@dataclass(frozen=True, slots=True)
class HolesSpan:
    """A stretch of a note in which the same holes sound."""

    start_s: Fraction  # from the start of the note
    end_s: Fraction
    sounded: tuple[SoundingReed, ...]  # the lowest hole first


def holes_change(note: Note) -> bool:
    """Return whether other holes sound in *note* at some moments than at others."""
    return any(mark in note.style for mark in (Mark.SLAP, Mark.PULL, Mark.SHAKE))


def holes_in_time(score: Score, note: Note) -> tuple[HolesSpan, ...]:
    """Return what sounds in *note*, stretch after stretch, from its start to its end.

    A slap begins and a pull ends with its chord, for ``BURST_S`` or a quarter of the note; a
    shake changes its hole at every half turn.
    """
    lasting_s = score.seconds(score.sounding(note)[1])
    if not holes_change(note):
        return (HolesSpan(Fraction(0), lasting_s, note.sounded),)
    burst_s = min(_BURST_S, lasting_s / 4)
    begin = burst_s if Mark.SLAP in note.style else Fraction(0)
    end = lasting_s - burst_s if Mark.PULL in note.style else lasting_s
    spans = list(_between_bursts(score, note, begin, end))
    if Mark.SLAP in note.style:
        spans.insert(0, HolesSpan(Fraction(0), begin, burst_chord(score, note)))
    if Mark.PULL in note.style:
        spans.append(HolesSpan(end, lasting_s, burst_chord(score, note)))
    return tuple(spans)


def burst_chord(score: Score, note: Note) -> tuple[SoundingReed, ...]:
    """Return the chord of a slap or a pull of *note*, the lowest hole first: natural notes.

    Of one hole it is that hole and ``BURST_HOLES`` - 1 more on the side where the tongue is, fewer
    at the end of the harp; of an octave split all holes from its lowest to its highest.
    """
    low, high = note.reeds[0].hole, note.reed.hole
    if low == high:
        low, high = _beside(high, note.embouchure)
    written = {each.reed: each for each in note.sounded}
    reeds = (Reed(hole, note.reed.breath) for hole in range(low, high + 1))
    return tuple(written.get(reed) or _sounding(score, reed) for reed in reeds)


def _beside(hole: int, hold: LipShape | None) -> tuple[int, int]:
    """Return the lowest and the highest hole of the chord of *hole*, on the tongue's side of it.

    The tongue is to the left unless the plan for the mouth has it to the right, or there is
    no hole to the left.
    """
    reach = BURST_HOLES - 1
    upward = hole == HOLES[0] or (hold is LipShape.TONGUE_RIGHT and hole < HOLES[-1])
    if upward:
        return hole, min(HOLES[-1], hole + reach)
    return max(HOLES[0], hole - reach), hole


def of_one_hole(note: Note, sounding: SoundingReed) -> Note:
    """Return *note* as if only the hole of *sounding*, one of its own, were played."""
    return replace(
        note, reed=sounding.reed, pitch=sounding.pitch, degree=sounding.degree,
        hz=sounding.hz, beside=(),
    )  # fmt: skip


def _sounding(score: Score, reed: Reed) -> SoundingReed:
    return sounding_reed(score.harp, score.position, score.intonation, score.reference_hz, reed)


def _between_bursts(
    score: Score, note: Note, begin: Fraction, end: Fraction
) -> Iterator[HolesSpan]:
    """Yield what is written from *begin* to *end*: all of it at once, or the turns of a shake."""
    if Mark.SHAKE not in note.style or note.style.a_beat is None or not note.beside:
        yield HolesSpan(begin, end, note.sounded)
        return
    half_s = score.seconds(Fraction(1)) / (2 * note.style.a_beat)
    # What is left over is a turn of its own where it is long enough to be heard as one.
    turns = max(1, round((end - begin) / half_s))
    edges = [begin + turn * half_s for turn in range(turns)]
    for turn, (start_s, end_s) in enumerate(zip(edges, [*edges[1:], end], strict=True)):
        yield HolesSpan(start_s, end_s, note.sounded[turn % 2 :][:1])
