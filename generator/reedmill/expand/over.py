"""A drill over a form: its score laid out to fit what a band plays, bar by bar.

The laws:

- ``loop`` plays the drill again and again to the end of the form; the last time is cut at
  the form's end.  ``once`` plays it once, then rests.
- ``chords`` plays it again and again too, and moves every bar by the degree of the chord at
  its beginning: the riff on I is moved to the roots of IV and of V.  Over a chord with a minor
  third the riff's own major third is lowered.  Bars in a row under one chord go to the octave that
  is easiest to play; where a note has no reed they stay as they are, and a warning says which.
- A drill in 4/4 goes over a band in 12/8: each beat becomes three, an even pair of halves
  two and one, as a shuffle plays them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import islice, pairwise, takewhile

from reedmill.base.choosing import known_word
from reedmill.base.errors import InputError, close_match
from reedmill.expand.breath import with_breaths, without_breaths
from reedmill.expand.on_chords import on_chords
from reedmill.language.words import MAX_BARS, MAX_NOTES
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Caution, Feel, Meter, Note, Repeat, Score

WAYS = ("loop", "once", "chords")


def choruses_for(score: Score, bars_a_chorus: int, meter: Meter) -> int:
    """Return the fewest choruses in which all of *score* is heard once.

    ``InputError`` when it cannot go over music in *meter*.
    """
    bars = _in_meter(score, meter, shuffled=False).bars
    return -(-bars // bars_a_chorus)


def way_named(way: str) -> str:
    """Return the one of ``WAYS`` that *way* names, in any case; ``InputError`` for none."""
    found = known_word(way, WAYS)
    if found is None:
        raise InputError(
            f'there is no way "{way:.40}" to lay a drill over a form.{close_match(way, WAYS)} '
            f"Write one of: {', '.join(WAYS)}."
        )
    return found


def laid_over_band(score: Score, band: Arrangement, way: str = "loop") -> Score:
    """Lay *score* over *band*, with its meter, feel, tempo and length.

    *way* is one of ``WAYS``.  ``InputError`` for another way, a pick-up, or a meter that
    does not go with the band's.
    """
    way = way_named(way)
    if score.pickup:
        raise InputError(
            f'"{score.title}" begins with a pick-up, and a form with its first beat. '
            "Write the pick-up into a whole bar, with rests before it."
        )
    riff = _in_meter(without_breaths(score), band.meter, shuffled=band.swing > 1)
    _check_bars(score, band)
    starts = _starts(riff.length, band.length, way)
    placed = (note for start in starts for note in _placed(riff.notes, start, band.length))
    notes = tuple(islice(placed, MAX_NOTES + 1))
    if len(notes) > MAX_NOTES:
        raise InputError(
            f'"{score.title}" over {band.choruses} choruses has more than {MAX_NOTES:,} notes, '
            "which is the most. Ask for fewer choruses."
        )
    warnings: list[Caution] = []
    if way == "chords":
        notes, warnings = on_chords(replace(riff, notes=notes, length=band.length), band)
    laid = replace(
        riff, notes=notes, length=band.length, tempo_bpm=band.tempo_bpm, band=band,
        tempo_goal_bpm=None,  # the drill's own is for playing it alone
        repeats=(), warnings=tuple(warnings),
        sections=riff.sections if len(starts) == 1 else (),
        echoes=tuple(_echoes(riff, starts, band.length)),
    )  # fmt: skip
    return with_breaths(replace(laid, repeats=_choruses(laid, band)))


def in_meter_of(score: Score, band: Arrangement) -> Score:
    """Return *score* without breaths in the meter and feel of *band*; ``InputError`` as above."""
    return _in_meter(without_breaths(score), band.meter, shuffled=band.swing > 1)


def joined_over_band(pieces: Sequence[tuple[Fraction, Score]], band: Arrangement) -> Score:
    """Join scores in the meter of *band* one after the other, each from its own beat on.

    Each is a section of the whole, named by its title; what else a score has is that of the first.
    """
    whole = replace(
        pieces[0][1], length=band.length, tempo_bpm=band.tempo_bpm, tempo_goal_bpm=None, band=band,
        notes=tuple(
            note for start, each in pieces for note in _placed(each.notes, start, band.length)
        ),
        sections=tuple((start, each.title) for start, each in pieces),
        echoes=tuple(gap for start, each in pieces for gap in _echoes(each, [start], band.length)),
        repeats=(), warnings=(), anchor_holes=(), rung_holes=(),
    )  # fmt: skip
    _check_bars(whole, band)
    return with_breaths(whole)


def _check_bars(score: Score, band: Arrangement) -> None:
    bars = int(band.length / band.meter.beats)
    if bars > MAX_BARS:
        raise InputError(
            f'"{score.title}" over {band.choruses} choruses has {bars:,} bars; '
            f"{MAX_BARS:,} is the most. Ask for fewer choruses."
        )


def _starts(length: Fraction, whole: Fraction, way: str) -> list[Fraction]:
    if way == "once":
        return [Fraction(0)]
    return [length * times for times in range(-(-whole // length))]


def _placed(notes: Sequence[Note], start: Fraction, end: Fraction) -> Iterator[Note]:
    """Yield the notes from *start* on, cut at *end*."""
    for note in notes:
        begin = start + note.start
        if begin < end:
            yield replace(note, start=begin, length=min(note.length, end - begin))


def _echoes(
    riff: Score, starts: Sequence[Fraction], end: Fraction
) -> Iterator[tuple[Fraction, Fraction]]:
    for start in starts:
        for begin, stop in riff.echoes:
            if start + begin < end:
                yield start + begin, min(start + stop, end)


# --- the meter of the band --------------------------------------------------------------


def _in_meter(score: Score, meter: Meter, *, shuffled: bool) -> Score:
    """Return *score* in *meter* with the band's feel; ``InputError`` when it does not fit."""
    if score.meter == meter:
        return replace(score, feel=Feel.SHUFFLE if shuffled else Feel.STRAIGHT)
    three = meter.compound and not score.meter.compound
    if not three or score.meter.beats * 3 != meter.beats or not _in_threes(score):
        raise InputError(
            f'"{score.title}" is in {score.meter.name} and does not go over a feel in '
            f"{meter.name}. Choose a feel in {score.meter.name}."
        )
    swinging = replace(score, feel=Feel.SHUFFLE)

    def at(beats: Fraction) -> Fraction:
        return swinging.performed(beats) * 3

    return replace(
        score,
        meter=meter,
        feel=Feel.STRAIGHT,
        length=score.length * 3,
        notes=tuple(
            replace(note, start=at(note.start), length=at(note.end) - at(note.start))
            for note in score.notes
        ),
        sections=tuple((at(start), name) for start, name in score.sections),
        echoes=tuple((at(start), at(end)) for start, end in score.echoes),
    )


def _in_threes(score: Score) -> bool:
    """Return True when every note is on a beat, its half or its thirds."""
    edges = {edge for note in score.notes for edge in (note.start, note.end)}
    return all(edge.denominator in (1, 2, 3) for edge in edges)


# --- choruses ----------------------------------------------------------------------------


def _choruses(laid: Score, band: Arrangement) -> tuple[Repeat, ...]:
    """Return the choruses as one repeat with endings, where they begin alike."""
    bar = Fraction(laid.meter.beats)
    whole = band.bars_a_chorus * bar
    if band.choruses == 1 or whole * band.choruses != laid.length:
        return ()
    alike = [
        takewhile(
            bool, (_same(laid, band, here, there, n * bar, bar) for n in range(band.bars_a_chorus))
        )
        for here, there in pairwise(whole * n for n in range(band.choruses))
    ]
    same = min(sum(1 for _ in run) for run in alike)
    if same == 0:
        return ()
    passes = ((whole * n + same * bar, whole * (n + 1)) for n in range(band.choruses))
    return (Repeat(Fraction(0), tuple(passes)),)


def _same(
    laid: Score, band: Arrangement, here: Fraction, there: Fraction, at: Fraction, bar: Fraction
) -> bool:
    """Return True when the bars *at* beats after *here* and *there* have equal notes and chords."""
    return _bar(laid, band, here + at, bar) == _bar(laid, band, there + at, bar)


def _bar(laid: Score, band: Arrangement, start: Fraction, bar: Fraction) -> list[object]:
    notes = [(note.start - start, *note.as_played) for note in laid.between(start, start + bar)]
    chords = [(begin - start, chord) for begin, chord in band.changing(start, start + bar)]
    return [*notes, band.chord_at(start), *chords]
