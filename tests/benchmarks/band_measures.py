"""Figures of one performance of a band, each a number under a name; see ``performed.py``.

What cannot be told of a file (a seed of 0 has no looseness, a form of one chord no changes) has
no figure.  Trade facts without a published source: which beats are strong, that the comp may
play the 9th and 13th, what walking is.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import combinations, groupby, pairwise
from statistics import fmean, pstdev

import numpy as np
from performed import BASS, COMP, DRUMS, PLAYERS, Performed, Sounding, Stroke

Figures = dict[str, float]
Bar = frozenset[tuple[object, ...]]

INSTRUMENTS = {  # General MIDI level 1, percussion key map
    "kick": (35, 36), "snare": (38, 40), "stick": (37,), "closed hat": (42,),
    "pedal hat": (44,), "open hat": (46,), "ride": (51, 53, 59), "crash": (49, 55, 57),
}  # fmt: skip
OTHER = "other drums"
C5 = 72
COLOURS = 2, 9  # semitones above the root: 9th, and 6th or 13th
MINOR_COLOURS = (*COLOURS, 5)  # and the 11th over a minor chord
FOLD, SMALL = (8, 9, 10, 11), 4  # a fold: a small step, but in another octave, between small ones
THIRDS_OF, FIFTHS = (3, 4), (6, 7, 8)
RING = Fraction(1, 4)  # pulses that a chord may ring into the next one
SCRATCH = 0.09  # pulses: what a dead stroke of a guitar or a crushed note sounds for, at most
PUSH = 1  # pulses before its chord that a stroke may push it
_DEGREE = re.compile(r"([b#]?)(VII|VI|IV|V|III|II|I)", re.IGNORECASE)
_MAJOR = {"I": 0, "II": 2, "III": 4, "IV": 5, "V": 7, "VI": 9, "VII": 11}


def figures(piece: Performed, choruses: int, form: dict[str, str], loose: bool) -> Figures:
    """Return every figure of a piece that was played with this form; *loose* if seed is not 0."""
    found = chord_figures(piece) | symbol_figures(piece, choruses, form)
    found |= equal_figures(piece, choruses) | comp_figures(piece) | bass_figures(piece)
    found |= chorus_figures(piece, choruses) | velocity_figures(piece)
    if loose:
        found |= timing_figures(piece)
    found["swing"] = piece.offbeat / (1 - piece.offbeat)
    return found


def share(told: Iterable[bool]) -> float:
    """Return the share of what is true, or no number where there is nothing."""
    rows = list(told)
    return sum(rows) / len(rows) if rows else float("nan")


def mean(values: Iterable[float]) -> float:
    """Return the mean, or no number where there is nothing."""
    rows = list(values)
    return fmean(rows) if rows else float("nan")


# chords: are they played?


def chord_figures(piece: Performed) -> Figures:
    """Count chords without a stroke of the comp or a root, and foreign tones on strong beats."""
    comp, bass = piece.strokes[COMP], piece.strokes[BASS]
    struck = [_struck(chord, comp) for chord in piece.chords]
    rooted = [_rooted(chord, bass) for chord in piece.chords]
    on_strong = {name: list(_on_strong(piece, piece.strokes[name])) for name in (COMP, BASS)}
    colours = [_is_colour(chord, key) for chord, key in on_strong[COMP]]
    return {
        "chords": len(piece.chords),
        "unread": len(piece.unread),
        "unstruck": struck.count(""),
        "comp pushed": struck.count("pushed"),
        "rootless": rooted.count(""),
        "root pushed": rooted.count("pushed"),
        "comp outside": len(colours) - sum(colours),
        "comp colours": sum(colours),
        "bass outside": len(on_strong[BASS]),
        "held over": _held_over(piece),
        "strays": sum(stroke.stray for rows in piece.strokes.values() for stroke in rows),
    }


def _struck(chord: Sounding, comp: Sequence[Stroke]) -> str:
    if any(chord.start <= each.place < chord.end for each in comp):
        return "struck"
    return "pushed" if any(_pushes(each, chord, chord.tones) for each in comp) else ""


def _rooted(chord: Sounding, bass: Sequence[Stroke]) -> str:
    within = [each for each in bass if chord.start <= each.place < chord.end]
    first = [each for each in within if each.place == within[0].place]
    if any(each.key % 12 == chord.root for each in first):
        return "struck"
    root = frozenset({chord.root})
    return "pushed" if any(_pushes(each, chord, root) for each in bass) else ""


def _pushes(stroke: Stroke, chord: Sounding, tones: frozenset[int]) -> bool:
    """Tell whether *stroke* comes shortly before *chord*, is of it, and sounds on into it."""
    early = chord.start - PUSH <= stroke.place < chord.start
    return early and stroke.end > chord.start + RING / 2 and stroke.key % 12 in tones


def _on_strong(piece: Performed, strokes: Sequence[Stroke]) -> Iterator[tuple[Sounding, int]]:
    """Yield the foreign tones on strong beats, each with the chord it is foreign to."""
    for stroke in strokes:
        chord = piece.chord_at(stroke.place)
        strong = stroke.place % piece.pulses_a_bar in piece.strong
        heard = stroke.end - stroke.start > SCRATCH
        if chord and strong and heard and stroke.key % 12 not in chord.tones:
            yield chord, stroke.key


def _is_colour(chord: Sounding, key: int) -> bool:
    known = MINOR_COLOURS if 3 in chord.steps else COLOURS
    return (key - chord.root) % 12 in known


def _held_over(piece: Performed) -> int:
    """Count the comp's notes that ring on into a chord they are foreign to."""
    found = 0
    for stroke in piece.strokes[COMP]:
        chord = piece.chord_at(stroke.place)
        after = piece.chord_at(chord.end) if chord else None
        if chord and after and stroke.end > after.start + RING:
            own = stroke.key % 12 in after.tones or _is_colour(after, stroke.key)
            found += not own
    return found


def symbol_figures(piece: Performed, choruses: int, form: dict[str, str]) -> Figures:
    """Count the bars that begin with another root than the form has, turnarounds left out."""
    bars = [_degree(bar) for bar in form["chords"].split("|")]
    open_ones, ending = (
        len(form[key].split("|")) if form.get(key) else 0 for key in ("turnaround", "ending")
    )
    wrong = 0
    for chorus in range(choruses):
        left_out = max(open_ones, ending if chorus == choruses - 1 else 0)
        for at, above in enumerate(bars[: len(bars) - left_out]):
            chord = piece.chord_at(Fraction((chorus * len(bars) + at) * piece.pulses_a_bar))
            wrong += bool(chord and above is not None) and _above(piece, chord) != above
    return {"not the form": wrong, "bars over": piece.bars - choruses * len(bars)}


def _above(piece: Performed, chord: Sounding | None) -> int | None:
    return None if chord is None else (chord.root - piece.home) % 12


def _degree(bar: str) -> int | None:
    """Return how many semitones above home the first chord of a form's bar is.

    >>> [_degree(bar) for bar in ("I7", " bVI7 V7", "iv7", "%")]
    [0, 8, 5, None]
    """
    found = _DEGREE.match(bar.strip())
    if not found:
        return None
    return (_MAJOR[found[2].upper()] + {"b": -1, "#": 1, "": 0}[found[1]]) % 12


# repetition: how much of a chorus was played before?


def bars_of(piece: Performed, player: str, *, velocity: bool) -> list[Bar]:
    """Return what a player does in each bar: places and keys, and velocities where asked for."""
    found: list[set[tuple[object, ...]]] = [set() for _ in range(piece.bars + 1)]
    for each in piece.strokes[player]:
        loud = (each.velocity,) if velocity else ()
        found[piece.bar_of(each)].add((each.place % piece.pulses_a_bar, each.key, *loud))
    return [frozenset(bar) for bar in found[: piece.bars]]


def equal_figures(piece: Performed, choruses: int) -> Figures:
    """Return the share of equal bars between choruses, and the longest run of them in a row."""
    found: Figures = {}
    for player in PLAYERS:
        for velocity, words in ((False, ""), (True, " and velocity")):
            bars = bars_of(piece, player, velocity=velocity)
            found |= {
                f"{player} {name}{words}": value for name, value in _equal(bars, choruses).items()
            }
        bars = bars_of(piece, player, velocity=False)
        found[f"{player} run"] = max(
            (len(list(run)) for bar, run in groupby(bars) if bar), default=0
        )
        found[f"{player} distinct"] = len(set(bars)) / len(bars)
    return found


def _equal(bars: Sequence[Bar], choruses: int) -> Figures:
    long = len(bars) // choruses
    rows = [bars[at * long : (at + 1) * long] for at in range(choruses)]
    middle, first, last = rows[1:-1], rows[0], rows[-1]
    return {
        "equal": mean(_alike(one, other) for one, other in combinations(middle, 2)),
        "equal first": mean(_alike(first, other) for other in middle),
        "equal last": mean(_alike(last, other) for other in middle),
    }


def _alike(one: Sequence[Bar], other: Sequence[Bar]) -> float:
    return share(a == b for a, b in zip(one, other, strict=True))


# the comp


def comp_figures(piece: Performed) -> Figures:
    """Return how the comp voices and leads, and where its top voice lies.

    A scratch over dead strings is no voicing.
    """
    strokes = [each for each in piece.strokes[COMP] if each.end - each.start > SCRATCH]
    voicings = [
        (place, tuple(sorted({each.key for each in together})))
        for place, together in groupby(strokes, key=lambda each: each.place)
    ]
    keys = [voicing for _, voicing in voicings]
    tops = [voicing[-1] for voicing in keys]
    by_symbol = defaultdict[str, set[tuple[int, ...]]](set)
    for place, voicing in voicings:
        chord = piece.chord_at(place)
        by_symbol[chord.symbol if chord else ""].add(voicing)
    return {
        "voicings": len(set(keys)),
        "voicings a symbol": mean(len(each) for each in by_symbol.values()),
        "voicings of strokes": len(set(keys)) / len(keys),
        "commonest voicing": max(keys.count(each) for each in set(keys)) / len(keys),
        "same voicing again": share(a == b for a, b in pairwise(keys)),
        "top is home": share(top % 12 == piece.home for top in tops),
        "top above C5": share(top >= C5 for top in tops),
        "tops": len(set(tops)),
        "comp lowest": min(map(min, keys)),
        "comp highest": max(tops),
        **_leading(piece, voicings),
    }


def _leading(
    piece: Performed, voicings: Sequence[tuple[Fraction, tuple[int, ...]]]
) -> dict[str, float]:
    common, moved, shifted = list[float](), list[float](), list[bool]()
    for (place, one), (later, other) in pairwise(voicings):
        before, after = piece.chord_at(place), piece.chord_at(later)
        if not before or not after or before.symbol == after.symbol:
            continue
        if len(one) != len(other):  # a voice that comes or goes leads nowhere
            continue
        steps = [b - a for a, b in zip(one, other, strict=True)]
        common.append(len(set(one) & set(other)))
        moved.append(_movement(one, other))
        shifted.append(len(set(steps)) == 1 and abs(steps[0]) > 2)
    return {"common": mean(common), "moved": mean(moved), "shifted": share(shifted)}


def _movement(one: Sequence[int], other: Sequence[int]) -> int:
    """Return the least sum of semitones that takes one chord's voices to the other's.

    Voices in order never move farther than crossed ones.

    >>> _movement((52, 56, 59), (52, 57, 61))
    3
    """
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))


# the bass


def bass_figures(piece: Performed) -> Figures:
    """Return the contour of the bass, its range, and how it comes over the bar lines."""
    strokes = piece.strokes[BASS]
    steps = [b.key - a.key for a, b in pairwise(strokes)]
    sizes = [abs(step) for step in steps]
    crossings = [
        abs(b.key - a.key)
        for a, b in pairwise(strokes)
        if b.place % piece.pulses_a_bar == 0 and piece.bar_of(a) == piece.bar_of(b) - 1
    ]
    return {
        "repeated": share(size == 0 for size in sizes),
        "steps": share(1 <= size <= 2 for size in sizes),
        "thirds": share(3 <= size <= 4 for size in sizes),
        "leaps": share(size > 4 and size != 12 for size in sizes),
        "octaves": share(size == 12 for size in sizes),
        "folds": sum(_folds(piece, strokes)),
        "line by step": share(1 <= size <= 2 for size in crossings),
        "line same": share(size == 0 for size in crossings),
        "bass lowest": min(each.key for each in strokes),
        "bass highest": max(each.key for each in strokes),
        "walking": _walking(piece),
        **_outlined(piece),
    }


def _folds(piece: Performed, strokes: Sequence[Stroke]) -> Iterator[bool]:
    """Yield for each interval of the bass whether a line is cut there and goes on an octave off.

    A figure lies over its root: up from a root and down to one is where it begins or ends.
    """
    rows = zip(strokes, strokes[1:], strokes[2:], strokes[3:], strict=False)
    for before, one, other, after in rows:
        near, _ = sorted((one, other), key=lambda stroke: stroke.key)
        chord = piece.chord_at(near.place)
        rooted = chord is not None and near.key % 12 == chord.root
        steps = one.key - before.key, other.key - one.key, after.key - other.key
        yield not rooted and _is_fold(*steps)


def _is_fold(before: int, middle: int, after: int) -> bool:
    """Tell whether a line goes on as before after a jump the other way: it was folded.

    A fifth or an octave is none: a bass has these, and a line would not have gone on by a fourth.

    >>> _is_fold(2, -10, 2), _is_fold(2, -10, -2), _is_fold(2, -7, 2)
    (True, False, False)
    """
    small = 0 < abs(before) <= SMALL and 0 < abs(after) <= SMALL
    return small and before * after > 0 and before * middle < 0 and abs(middle) in FOLD


def _walking(piece: Performed) -> float:
    """Return the share of bars with a stroke of the bass on each pulse."""
    places = {each.place for each in piece.strokes[BASS]}
    rows = (
        range(bar * piece.pulses_a_bar, (bar + 1) * piece.pulses_a_bar) for bar in range(piece.bars)
    )
    return share(all(Fraction(pulse) in places for pulse in row) for row in rows)


def _outlined(piece: Performed) -> Figures:
    """Return how often third and fifth are heard in the first two bars of a chord.

    Not where the drums strike less than the pulses: in a stop, a break or at the end.
    """
    thirds, fifths = list[bool](), list[bool]()
    for chord in piece.chords:
        if chord.end - chord.start < piece.pulses_a_bar:
            continue
        end = min(chord.end, chord.start + 2 * piece.pulses_a_bar)
        within = {
            name: [each for each in piece.strokes[name] if chord.start <= each.place < end]
            for name in (BASS, DRUMS)
        }
        above = {(each.key - chord.root) % 12 for each in within[BASS]}
        stopped = len({each.place for each in within[DRUMS]}) < end - chord.start
        for told, kind in ((thirds, THIRDS_OF), (fifths, FIFTHS)):
            step = next((step for step in chord.steps if step in kind), None)
            if step is not None and not stopped:
                told.append(step in above)
    return {"third heard": share(thirds), "fifth heard": share(fifths)}


# loudness


def instrument(key: int) -> str:
    """Return the instrument of a drum key."""
    return next((name for name, keys in INSTRUMENTS.items() if key in keys), OTHER)


def by_player(piece: Performed) -> dict[str, list[Stroke]]:
    """Return the strokes of each player, and of each drum."""
    found = defaultdict[str, list[Stroke]](list)
    for player, strokes in piece.strokes.items():
        found[player] += strokes
    for stroke in piece.strokes[DRUMS]:
        found[instrument(stroke.key)].append(stroke)
    return found


def velocity_figures(piece: Performed) -> Figures:
    """Return mean, spread and number of the velocities of each player and each drum."""
    found: Figures = {}
    for name, strokes in by_player(piece).items():
        values = [stroke.velocity for stroke in strokes]
        found[f"{name} velocity"] = fmean(values)
        found[f"{name} velocity sd"] = pstdev(values)
        found[f"{name} velocities"] = len(set(values))
    return found


def chorus_figures(piece: Performed, choruses: int) -> Figures:
    """Return how much louder and busier each chorus is than all of them together."""
    long = piece.bars // choruses * piece.pulses_a_bar
    rows: list[list[int]] = [[] for _ in range(choruses)]
    for strokes in piece.strokes.values():
        for stroke in strokes:
            rows[min(int(stroke.place // long), choruses - 1)].append(stroke.velocity)
    whole = fmean(value for row in rows for value in row)
    dense = fmean(map(len, rows))
    louder = [fmean(row) - whole for row in rows]
    found = {f"louder {at}": value for at, value in enumerate(louder, 1)}
    found |= {f"busier {at}": 100 * (len(row) / dense - 1) for at, row in enumerate(rows, 1)}
    return found | {
        "velocity range": max(louder) - min(louder),
        "density range": (max(map(len, rows)) - min(map(len, rows))) / dense,
    }


# timing


def timing_figures(piece: Performed) -> Figures:
    """Return how far the strokes lie from the grid, and whether neighbours lie off alike."""
    found: Figures = {}
    for name, rows in by_player(piece).items():
        strokes = [stroke for stroke in rows if not stroke.stray]
        if len(strokes) < 2:
            continue
        offs = [stroke.off_ms for stroke in strokes]
        found[f"{name} late"] = fmean(offs)
        found[f"{name} timing sd"] = pstdev(offs)
        if name in PLAYERS:
            found[f"{name} drift"] = _drift(strokes)
            found[f"{name} together"] = _together(strokes)
    return found


def _places(strokes: Sequence[Stroke]) -> list[list[Stroke]]:
    return [list(rows) for _, rows in groupby(strokes, key=lambda each: each.place)]


def _drift(strokes: Sequence[Stroke]) -> float:
    """Return the correlation of a place's offset with the next place's; a die has none."""
    offs = [fmean(each.off_ms for each in place) for place in _places(strokes)]
    if len(offs) < 3 or pstdev(offs) == 0:
        return float("nan")
    return float(np.corrcoef(offs[:-1], offs[1:])[0, 1])


def _together(strokes: Sequence[Stroke]) -> float:
    """Return the share of places with several strokes that are struck at the very same time."""
    several = [place for place in _places(strokes) if len(place) > 1]
    return share(len({each.start for each in place}) == 1 for place in several)
