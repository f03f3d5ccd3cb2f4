"""The events of a pitch track: each stay on one pitch, its beginning, and how it got there.

The track is cut where the air begins anew (the loudness rises and stays up) and where the pitch
moves to another place; what lies between two cuts and keeps its pitch is an event.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedmill.ear.take import Floats
from reedmill.ear.track import HOP_S, Doubles, PitchTrack

CLEAR = 0.6  # clarity of a tone under noise 10 dB softer is above 0.85, of noise alone below 0.5
_QUIET_DB = -30.0  # of what is heard between the notes, against the player
_RANGE_DB = (-20.0, -9.5)  # how much softer than the loud notes a note may be: in quiet, else
_RISE_DB = 4.0  # of a new attack
_AGAIN_S = 0.11  # a rise sooner after an attack is still the same: a room makes such
_MOVED_CENTS = 38.0  # between the pitches on both sides of a cut
_MOVED_STEADY_CENTS = 18.0  # the same where both sides keep still
_STILL_CENTS = 7.0  # from the lowest to the highest reading of a side that keeps still
_SAME_CENTS = 13.0  # two stays of one breath this near are one
_BRIEF_S = 0.1  # a stay as short as this is one with a neighbour within _MOVED_CENTS
_SIDE = 8  # readings on each side that are compared
_EDGE = 3  # readings at a cut whose window looks over it
_LEAST = 4  # readings of a stay
_STAYING = 10  # readings that keep still make a stay before a slow slide
_LEAST_BESIDE, _OFTEN_BESIDE = 15, 0.2  # readings of a sound between the notes: 0.15 s, a fifth
_MOST_SPREAD = 25.0  # cents; wider is not one pitch
_MOST_MOVED_CENTS = 115.0  # a slow slide from its place: the harp's own tuning, and the player's
_MOST_OUT_CENTS = 65.0  # from where a slow slide should end
_FALLING_CENTS, _FALLEN_CENTS, _MOST_FALL = 2.0, 20.0, 45  # in 3 readings; in all; of readings
_ENDS_OF_WAY, _INNER_WAY = 0.1, 0.61  # of a slide's cents; of its time, a smooth step between them
_FADING_S, _COMING_S = 0.3, 0.05  # after and before a tone, in which it, or its room, still sounds
_LEAST_REST = 15  # readings of rest: 0.15 s
_AS_LOUD_DB = 3.0  # under the softest note of the drill, an extra tone is still the player's


@dataclass(frozen=True, slots=True)
class DetectedNote:
    """One stay on a pitch; times in seconds of the take."""

    start_s: float  # where its attack is, or where a slide to it has come half way
    steady_s: float  # from where the pitch keeps its place
    end_s: float
    hz: float  # of the steady part
    spread_cents: float  # how far the pitch moves about in it: half the readings are nearer
    level_db: float
    clarity: float  # 0 to 1
    slid: bool  # the breath went on from the event before
    moving_s: float  # seconds of a slide to it, 0 after an attack
    steady: bool  # False when no part of it keeps a pitch
    doubtful: bool  # without what was wanted it would be another note of the harp
    cents: float = 0.0  # above 440 Hz


@dataclass(frozen=True, slots=True)
class Gate:
    """The level a sound must reach to be the player's, and whether anything else sounds."""

    player_db: float
    background_db: float
    least_db: float
    quiet: bool  # nothing else sounds where the player does not


def gate_of(track: PitchTrack) -> Gate:
    """Return the gate for *track*: nearer to the player's level where something else sounds."""
    level = track.level_db
    tonal = level[track.clarity >= 0.8]
    player = float(np.percentile(tonal, 90)) if len(tonal) >= 10 else float(level.max(initial=-120))
    background = float(np.percentile(level, 4)) if len(level) else -120.0
    quiet = background < player + _QUIET_DB
    least = player + _RANGE_DB[0 if quiet else 1]
    return Gate(player, background, max(least, background + 4.0 if quiet else least), quiet)


def find_events(
    track: PitchTrack,
    gate: Gate,
    slides: Sequence[Sequence[float]] = (),
    *,
    falls: bool = False,
) -> list[DetectedNote]:
    """Return the events of *track* in time order.

    *slides* are the slow slides that may be in it: the cents above 440 Hz they go from and to,
    several where one goes on into the next.  Where *falls* are written a note ends before it.
    """
    voiced = (track.clarity >= CLEAR) & (track.level_db >= gate.least_db)
    attacks = find_attacks(track.loudness_db)
    found: list[DetectedNote] = []
    for first, last in runs_of(_bridged(voiced)):
        found += _breaths(track, first, last, attacks, slides, falls=falls)
    doubtful = doubtful_readings(track, gate)
    return [replace(each, doubtful=_mostly(doubtful, each)) for each in found]


class _Passage(NamedTuple):
    """A stretch of a breath in which there may be a slow slide; seconds as in an event."""

    start_s: float
    end_s: float
    slid: bool
    moving_s: float


def _slow_parts(
    track: PitchTrack, event: _Passage, slides: Sequence[Sequence[float]]
) -> list[DetectedNote]:
    """Return the stays of *event* where it goes along one of the slow *slides*; none elsewhere.

    A slow slide has no place where the pitch moves faster than a player wavers, so only who knows
    that one is written can tell it from a note that drifts.
    """
    first, last = round(event.start_s / HOP_S) + _EDGE, round(event.end_s / HOP_S) - _EDGE
    if not slides or last - first < 3 * _STAYING:
        return []
    pitch = _smoothed(_filled(track.cents[first:last]))
    begins, ends = float(np.median(pitch[:_STAYING])), float(np.median(pitch[-_STAYING:]))
    for levels in slides:
        moved = begins - levels[0]
        there = ends if abs(ends - levels[-1] - moved) <= _MOST_OUT_CENTS else levels[-1] + moved
        ways = _ways(pitch, [*(each + moved for each in levels[:-1]), there])
        if abs(moved) <= _MOST_MOVED_CENTS and ways is not None:
            parts = _parts(track, event, pitch, first, ways)
            if parts:
                return parts
    return []


def _ways(pitch: Doubles, levels: Sequence[float]) -> list[tuple[int, int, int]] | None:
    """Return when *pitch* leaves each of *levels*, is half way to the next, and arrives there.

    ``None`` where it does not get to all of them in their order.
    """
    found: list[tuple[int, int, int]] = []
    at = 0
    for here, there in pairwise(levels):
        if abs(there - here) < _MOVED_STEADY_CENTS:
            return None
        share = (pitch[at:] - here) / (there - here)
        arrived = np.flatnonzero(share >= 1 - _ENDS_OF_WAY)
        if not len(arrived):
            return None
        before = share[: arrived[0]]
        left, half = np.flatnonzero(before <= _ENDS_OF_WAY), np.flatnonzero(before <= 0.5)
        if not len(left):
            return None
        found.append((at + int(left[-1]) + 1, at + int(half[-1]) + 1, at + int(arrived[0])))
        at += int(arrived[0])
    return found


def _parts(
    track: PitchTrack, event: _Passage, pitch: Doubles, first: int,
    ways: Sequence[tuple[int, int, int]],
) -> list[DetectedNote]:  # fmt: skip
    """Return the stays of *event* before, between and after *ways*; none where one is brief."""
    ends_of_ways = [(0, 0, 0), *ways, (len(pitch), 0, 0)]
    bounds = [(before[2], after[0]) for before, after in pairwise(ends_of_ways)]
    stays = []
    for number, (a, b) in enumerate(bounds):
        away = (a + b) // 2  # nearer to a slide a player may already be on his way
        quiet = (a, away) if number == 0 else (away, b)
        stay = _stay(track, pitch, first, a, b, slid=event.slid)
        stays.append(stay or _stay(track, pitch, first, *quiet, slid=event.slid))
    starts = [event.start_s, *((first + half) * HOP_S for _, half, _ in ways)]
    moving = [event.moving_s, *((to - from_) * HOP_S / _INNER_WAY for from_, _, to in ways)]
    ends = [*starts[1:], event.end_s]
    return (
        [
            replace(
                stay, start_s=start_s, end_s=end_s, moving_s=moving_s, slid=event.slid or at > 0
            )
            for at, (stay, start_s, end_s, moving_s) in enumerate(
                zip(stays, starts, ends, moving, strict=True)
            )
            if stay is not None
        ]
        if None not in stays
        else []
    )


def level_at_rest(
    track: PitchTrack,
    notes: Sequence[DetectedNote],
    others: Sequence[DetectedNote],
    several: Sequence[tuple[float, float]] = (),
) -> float | None:
    """Return the level of what sounds while the player does not, in decibels under full scale.

    He plays his *notes*, those of the *others* that are about as loud, and *several* at once from
    and to these seconds.  ``None`` where he never rests for long enough: then nothing tells his own
    tones from what else sounds.
    """
    least = min((each.level_db for each in notes), default=0.0) - _AS_LOUD_DB
    rests = np.ones(len(track), bool)
    loud = (*notes, *(other for other in others if other.level_db >= least))
    for start_s, end_s in (*((each.start_s, each.end_s) for each in loud), *several):
        first = max(0, round((start_s - _COMING_S) / HOP_S))
        rests[first : round((end_s + _FADING_S) / HOP_S)] = False
    enough = int(np.sum(rests)) >= _LEAST_REST
    return float(np.median(track.level_db[rests])) if enough else None


def doubtful_readings(track: PitchTrack, gate: Gate) -> NDArray[np.bool_]:
    """Mark the readings whose octave only the expected notes decided.

    A rival that sounds between the notes too is a drone or a band: that one was not played.
    The array has one value for each reading of *track*.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        rival = 1200 * np.log2(track.rival_hz / 440.0)
    beside = track.cents[(track.level_db < gate.least_db) & (track.clarity >= CLEAR)]
    doubtful = ~np.isnan(rival)
    for cents in np.unique(np.round(beside / 50) * 50):
        near = np.abs(beside - cents) <= 50
        if np.sum(near) >= max(_LEAST_BESIDE, _OFTEN_BESIDE * len(beside)):
            doubtful &= ~(np.abs(rival - float(np.median(beside[near]))) <= _MOVED_CENTS)
    return np.asarray(doubtful, bool)


def _mostly(readings: NDArray[np.bool_], event: DetectedNote) -> bool:
    inside = readings[round(event.steady_s / HOP_S) : round(event.end_s / HOP_S)]
    return bool(len(inside) and np.mean(inside) > 0.5)


def find_attacks(loudness_db: Floats) -> Doubles:
    """Return the seconds where the loudness rises by ``_RISE_DB`` in some 40 ms and stays up.

    *loudness_db* has two values for each reading of a track; the result has one for each
    attack.
    """
    if len(loudness_db) < 40:
        return np.zeros(0)
    before = _lowest(np.pad(loudness_db, (8, 0), mode="edge"), 9)  # n-8 to n
    after = _lowest(np.pad(loudness_db, (0, 10), mode="edge"), 8)[3:]  # n+3 to n+10
    rise = after[: len(before)] - before[: len(after)]
    times: list[float] = []
    for first, last in runs_of(rise >= _RISE_DB):
        at_s = _attack_at(loudness_db, first, last) * HOP_S / 2
        if not times or at_s - times[-1] >= _AGAIN_S:
            times.append(at_s)
    return np.array(times)


def _attack_at(loudness_db: Floats, first: int, last: int) -> int:
    """Return where, in a rise between two places, the sound begins."""
    from_ = max(0, first - 8)
    low = from_ + int(np.argmin(loudness_db[from_ : last + 1]))
    top = float(loudness_db[low : last + 10].max())
    bottom = float(loudness_db[low])
    # a third of the way up in decibels, or 12 under the top: where an ear puts the onset
    begun = max(top - 12.0, bottom + 0.35 * (top - bottom))
    return low + int(np.argmax(loudness_db[low : last + 10] >= begun))


def _lowest(values: Floats, width: int) -> Floats:
    return np.asarray(np.lib.stride_tricks.sliding_window_view(values, width).min(axis=1))


def runs_of(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the first index and one past the last of every stretch that is true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _bridged(voiced: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return *voiced* with gaps of two readings closed, as a click makes them."""
    filled = voiced.copy()
    for first, last in runs_of(~voiced):
        if last - first <= 2:
            filled[first:last] = True
    return filled


def _breaths(
    track: PitchTrack,
    first: int,
    last: int,
    attacks: Doubles,
    slides: Sequence[Sequence[float]],
    *,
    falls: bool,
) -> list[DetectedNote]:
    """Return the events of one voiced run, cut at its attacks and where it *falls* off."""
    inside = attacks[(attacks > (first - 6) * HOP_S) & (attacks < (last - 5) * HOP_S)]
    begin = float(inside[0]) if len(inside) and inside[0] < (first + 8) * HOP_S else first * HOP_S
    later = [float(each) for each in inside if each > begin + 0.06]
    bounds = [begin, *later, last * HOP_S]
    found: list[DetectedNote] = []
    for start_s, end_s in pairwise(bounds):
        end_s = _before_fall(track, start_s, end_s) if falls else end_s
        for each in _stays(track, start_s, end_s, slides):
            passage = _Passage(each.start_s, each.end_s, each.slid, each.moving_s)
            found += _slow_parts(track, passage, slides) or [each]
    return found


def _before_fall(track: PitchTrack, start_s: float, end_s: float) -> float:
    """Return when a breath begins to fall off at its end; *end_s* where it does not."""
    first, last = max(0, round(start_s / HOP_S)), min(len(track), round(end_s / HOP_S))
    if last - first < 2 * _STAYING:
        return end_s
    pitch = _smoothed(_filled(track.cents[first:last]))
    low = len(pitch) - _SIDE + int(np.argmin(pitch[-_SIDE:]))
    at = low
    while at >= 3 and pitch[at - 3] - pitch[at] >= _FALLING_CENTS:
        at -= 1
    fallen = pitch[at] - pitch[low]
    return (first + at) * HOP_S if fallen >= _FALLEN_CENTS and low - at <= _MOST_FALL else end_s


def _stays(
    track: PitchTrack, start_s: float, end_s: float, slides: Sequence[Sequence[float]]
) -> list[DetectedNote]:
    """Return the events of one breath: stays on a pitch, with the ways between them.

    A stretch that never stays may be one of the slow *slides*, most of which is the way.
    """
    first, last = max(0, round(start_s / HOP_S)), min(len(track), round(end_s / HOP_S))
    if last - first < 2 * _EDGE + _LEAST - 1:
        return []
    pitch = _smoothed(_filled(track.cents[first:last]))
    cuts = _cuts(pitch)
    found: list[DetectedNote] = []
    for number, (a, b) in enumerate(zip([0, *cuts], [*cuts, last - first], strict=True)):
        stay = _stay(track, pitch, first, a, b, slid=number > 0 and bool(found))
        if stay is None:
            begin = (first + a) * HOP_S if found else start_s
            passage = _Passage(begin, min((first + b) * HOP_S, end_s), bool(found), 0.0)
            found += _slow_parts(track, passage, slides)
            continue
        begin = start_s if not found else stay.start_s
        found.append(replace(stay, start_s=begin, end_s=min(stay.end_s, end_s)))
    return _merged(found)


def _merged(breath: list[DetectedNote]) -> list[DetectedNote]:
    """Join parts of one stay that a cut divided; the longer part decides its kind."""
    found: list[DetectedNote] = []
    for event in breath:
        if found and _are_one(found[-1], event):
            before = found.pop()
            longer = max(before, event, key=lambda each: each.end_s - each.steady_s)
            event = replace(
                longer, start_s=before.start_s, end_s=event.end_s, steady_s=before.steady_s,
                slid=before.slid, moving_s=before.moving_s,
            )  # fmt: skip
        found.append(event)
    return found


def _are_one(before: DetectedNote, after: DetectedNote) -> bool:
    brief = min(before.end_s - before.start_s, after.end_s - after.start_s) < _BRIEF_S
    return abs(before.cents - after.cents) < (_MOVED_CENTS * 0.6 if brief else _SAME_CENTS)


def _filled(cents: Doubles) -> Doubles:
    """Fill missing readings of *cents* from their neighbours."""
    known = np.flatnonzero(~np.isnan(cents))
    if not len(known):
        return np.zeros(len(cents))
    return np.interp(np.arange(len(cents)), known, cents[known])


def _smoothed(cents: Doubles) -> Doubles:
    """Return the median of seven readings, which keeps steps and removes clicks."""
    wide = np.lib.stride_tricks.sliding_window_view(np.pad(cents, 3, mode="edge"), 7)
    return np.asarray(np.median(wide, axis=1))


def _cuts(pitch: Doubles) -> list[int]:
    """Find where in a breath the pitch moves from one place to another."""
    count = len(pitch)
    if count < 2 * _LEAST + 2:
        return []
    padded = np.pad(pitch, _SIDE, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, _SIDE)
    sides, spans = np.median(around, axis=1), np.ptp(around, axis=1)
    before, after = sides[:count], sides[_SIDE + 1 : _SIDE + 1 + count]
    count = len(after)
    before = before[:count]
    step = np.abs(after - before)
    still = np.maximum(spans[:count], spans[_SIDE + 1 :][:count]) < _STILL_CENTS
    # A way of some 50 ms lies between two steady sides, so they are looked for around it too.
    reach = np.convolve(still & (step >= _MOVED_STEADY_CENTS), np.ones(5), "same") > 0
    cuts: list[int] = []
    for first, last in runs_of((step >= _MOVED_CENTS) | (reach & (step >= _MOVED_STEADY_CENTS))):
        cuts += _cuts_in(pitch, step, before, after, first, last)
    cuts = [cut for cut in cuts if 2 <= cut <= len(pitch) - 2]
    return sorted({*cuts, *_slow_cuts(pitch, cuts)})


def _slow_cuts(pitch: Doubles, known: list[int]) -> list[int]:
    """Find cuts in slides so slow that the pitch is never still on both sides.

    So sides a little away from it are compared, where both of them keep still.
    """
    reach = _SIDE + _STAYING
    places = np.arange(reach, len(pitch) - reach + 1)
    if not len(places):
        return []
    around = np.lib.stride_tricks.sliding_window_view(pitch, _STAYING)
    sides, still = np.median(around, axis=1), np.ptp(around, axis=1) < _STILL_CENTS
    before, after = places - reach, places + _SIDE
    step = np.where(still[before] & still[after], sides[after] - sides[before], 0.0)
    found: list[int] = []
    for moved in (step >= _MOVED_STEADY_CENTS, step <= -_MOVED_STEADY_CENTS):
        for first, last in runs_of(moved):
            middle = (first + last) // 2
            half = 0.5 * (sides[before[middle]] + sides[after[middle]])
            from_ = int(places[middle]) - _SIDE
            cut = from_ + int(np.argmin(np.abs(pitch[from_ : from_ + 2 * _SIDE] - half)))
            if all(abs(cut - each) >= _STAYING for each in (*known, *found)):
                found.append(cut)
    return found


def _cuts_in(
    pitch: Doubles, step: Doubles, before: Doubles, after: Doubles, first: int, last: int
) -> list[int]:
    """Find the steps of one stretch where the pitch moves: its peaks, each half way."""
    found: list[int] = []
    for peak in range(first, last):
        near = step[max(first, peak - 5) : peak + 6]
        if step[peak] < near.max() or (found and peak - found[-1] < _LEAST):
            continue
        half = 0.5 * (before[peak] + after[min(peak, len(after) - 1)])
        a, b = max(0, peak - 6), min(len(pitch), peak + 7)
        cut = a + int(np.argmin(np.abs(pitch[a:b] - half)))
        if not found or cut - found[-1] >= _LEAST:
            found.append(cut)
    return found


def _stay(
    track: PitchTrack, pitch: Doubles, first: int, a: int, b: int, *, slid: bool
) -> DetectedNote | None:
    """Return the event between two cuts of a breath, if there is one."""
    inner = slice(a + _EDGE, b - _EDGE) if b - a >= 2 * _EDGE + _LEAST else slice(a + 1, b - 1)
    values = pitch[inner]
    if len(values) < _LEAST:
        return None
    rest = float(np.median(values[len(values) // 3 :]))
    away = np.abs(values - rest)
    # 1.48 makes a median deviation the standard deviation of a normal spread; the first third
    # may be on its way
    spread = float(np.median(away[len(values) // 3 :])) * 1.48
    bound = float(np.clip(2.2 * spread + 6, 10, 40))
    settled = _settled(away <= bound)
    kept = slice(first + inner.start + settled, first + inner.stop)
    readings = track.cents[kept]
    good = ~np.isnan(readings) & (np.abs(readings - rest) <= bound)
    if good.sum() < _LEAST:
        return None
    hz_cents = _centre(readings, good)
    return DetectedNote(
        start_s=(first + a) * HOP_S,
        steady_s=kept.start * HOP_S,
        end_s=(first + b) * HOP_S,
        hz=440.0 * 2 ** (hz_cents / 1200),
        spread_cents=float(np.std(readings[good])),
        level_db=float(np.median(track.level_db[kept])),
        clarity=float(np.median(track.clarity[kept])),
        slid=slid,
        moving_s=2 * max(0.0, kept.start - (first + a)) * HOP_S if slid else 0.0,
        steady=bool(spread <= _MOST_SPREAD and good.sum() >= 0.6 * len(readings)),
        doubtful=False,
        cents=hz_cents,
    )


def _settled(inside: NDArray[np.bool_]) -> int:
    """Return the first reading from which (nearly) all are *inside*."""
    outside = np.flatnonzero(~inside[: max(1, len(inside) - _LEAST)])
    for place in range(len(inside) - _LEAST):
        if inside[place : place + 3].all() and np.mean(~inside[place:]) <= 0.12:
            return place
    return int(outside[-1]) + 1 if len(outside) else 0


def _centre(readings: Doubles, good: NDArray[np.bool_]) -> float:
    """Return the mean under a Hann window, on which half a turn of vibrato has little effect."""
    weights = np.hanning(len(readings) + 2)[1:-1] * good
    return float(np.sum(np.where(good, readings, 0.0) * weights) / np.sum(weights))
