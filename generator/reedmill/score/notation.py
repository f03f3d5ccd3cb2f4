"""A score cut into bars of writable note values: ties, dots and triplets.

The score says when; this says how a reader is shown it.  Every renderer of notation
starts from here.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from reedmill.base.errors import PatternError
from reedmill.base.source import Span
from reedmill.score.score import Meter, Note, Score, SoundingReed
from reedmill.theory.pitch import LETTERS, Pitch

SHORTEST = 128
"""Parts of a whole note: the shortest value that abjad, which writes our sheets, knows."""

ECHO = "your turn"
"""What stands over bars left open for the student."""

# Mean key numbers: outside them a treble staff has many ledger lines and moves an octave.
_STAFF_BELOW, _STAFF_ABOVE = 57, 83
_MOST_OFF_STAFF = 8  # steps: more than four ledger lines are hard to read

LOWEST_LINE = 4 * 7 + LETTERS.index("E")
"""The step of the lowest line of the treble staff, E4; its highest is eight more."""


@dataclass(frozen=True, slots=True)
class NotatedValue:
    """One written value: a notehead or a rest.

    ``start`` and ``length`` are beats, ``start`` from the start of the score.  In a
    triplet the written value is longer than the sounding one: ``value`` is three halves
    of ``length``.
    """

    note: Note | None  # None: a rest
    start: Fraction
    length: Fraction
    tied_on: bool = False  # continues the notehead before it
    tied_over: bool = False  # goes on in the next notehead
    tuplet: Fraction | None = None  # the beat on which its triplet starts

    @property
    def triplet(self) -> bool:
        """True inside a triplet, of one beat or of two."""
        return self.tuplet is not None

    @property
    def value(self) -> Fraction:
        """The written value in beats."""
        return self.length * Fraction(3, 2) if self.triplet else self.length


def bars(score: Score) -> list[list[NotatedValue]]:
    """Return the score's bars, each a list of written values that fills it exactly.

    A pick-up is a first bar of which only the end is written.  Raises ``PatternError`` for
    a note on a part of a beat that neither halves nor one third can write.
    """
    last, found = _Last.made
    if last is not score:
        found = _bars(score)
        _Last.made = score, found
    return [list(bar) for bar in found]


class _Last:
    """The bars of the latest score: one drill goes to many renderers."""

    made: tuple[Score | None, list[list[NotatedValue]]] = (None, [])


def _bars(score: Score) -> list[list[NotatedValue]]:
    _check_written(score)
    pieces: list[list[NotatedValue]] = [[] for _ in range(score.bars)]
    triplets = _triplets(score)
    for note, start, end in _stretches(score):
        cuts = list(_cut(start, end, score.meter, triplets))
        for at, (begin, stop) in enumerate(cuts):
            written = NotatedValue(
                note,
                begin,
                stop - begin,
                tied_on=note is not None and at > 0,
                tied_over=note is not None and at < len(cuts) - 1,
                tuplet=triplets[begin // 1][0] if begin // 1 in triplets else None,
            )
            pieces[begin // score.meter.beats].append(written)
    return pieces


def staff_octave(score: Score) -> int:
    """Return the octaves by which the treble staff of *score* is moved: -1, 0 or 1.

    Its mean pitch decides, unless a note would lie too far off the staff: octave splits reach far.
    """
    heads = {each.pitch: each for note in score.notes for each in note.sounded}
    keys = [each.pitch.midi for note in score.notes for each in note.sounded]
    mean = sum(keys) / len(keys) if keys else _STAFF_BELOW
    usual = -1 if mean < _STAFF_BELOW else int(mean > _STAFF_ABOVE)
    if not heads or _off_staff(heads.values(), usual) <= _MOST_OFF_STAFF:
        return usual
    return min((usual, 0, 1, -1), key=lambda octave: _off_staff(heads.values(), octave))


def _off_staff(heads: Collection[SoundingReed], octave: int) -> int:
    """Return the steps by which the farthest of *heads* lies over or under the staff's lines."""
    steps = [staff_step(each, octave) for each in heads]
    return max(max(steps) - LOWEST_LINE - 8, LOWEST_LINE - min(steps))


def staff_step(note: Note | SoundingReed, octave: int) -> int:
    """Return the step of *note* on a treble staff, seven to an octave; C4 is 28.

    The staff is moved by so many octaves, see ``staff_octave``.
    """
    pitch = staff_pitch(note.pitch)
    return (pitch.octave - octave) * 7 + LETTERS.index(pitch.letter)


def staff_pitch(pitch: Pitch) -> Pitch:
    """Return *pitch* as a staff can show it: a quarter tone below a double flat has no sign.

    It is written a letter lower.

    >>> staff_pitch(Pitch.parse("Bbbq4")).name, staff_pitch(Pitch.parse("Bbq4")).name
    ('Aq4', 'Bbq4')
    """
    if not pitch.quarter or pitch.alter > _MOST_FLAT:
        return pitch
    octave, place = divmod(LETTERS.index(pitch.letter) - 1, len(LETTERS))
    lower = Pitch(LETTERS[place], 0, pitch.octave + octave, quarter=True)
    return replace(lower, alter=pitch.midi - lower.midi)


_MOST_FLAT = -2  # semitones that accidentals lower a letter by


def _check_written(score: Score) -> None:
    """Refuse an edge on a part of a beat that no series of note values reaches, see ``_cut``."""
    for note in score.notes:
        if not (_writable(note.start) and _writable(note.end)):
            raise PatternError(
                f"{note.tab} at beat {note.start} lasts {note.length}: such parts of a "
                "beat cannot be written",
                "Use halves of halves and thirds.",
                note.span,
            )
    for edge in score.edges():
        if not _writable(edge):
            raise PatternError(
                f"a rest begins at beat {edge}: such parts of a beat cannot be written",
                "Use halves of halves and thirds.",
                _before(score, edge),
            )


def check_drawn(score: Score, shortest: int = SHORTEST, done: str = "drawn") -> None:
    """Raise ``PatternError`` for a value below the *shortest* that can be *done*, see ``bars``.

    So short a one is named whose note head would need more flags than there are signs for.
    """
    for bar in bars(score):
        for written in bar:
            parts = _parts_of_a_whole(written.value, score.meter.unit)
            if parts > shortest:
                raise PatternError(
                    f"a note of {written.value} beats is too short to be {done}: it would be a "
                    f"{parts}th of a whole note, and {shortest}ths are the shortest",
                    "Write longer notes.",
                    written.note.span if written.note else _before(score, written.start),
                )


def _parts_of_a_whole(beats: Fraction, unit: int) -> Fraction:
    """Return how many of a plain value, or of a dotted one less its dot, make a whole note."""
    whole = beats / unit
    return (Fraction(3, 2) if whole.numerator == 3 else 1) / whole


def _before(score: Score, beat: Fraction) -> Span:
    """Return the place of the last note that begins before *beat*."""
    before = [note.span for note in score.notes if note.start < beat]
    return before[-1] if before else score.notes[0].span if score.notes else Span("", 1, 1)


def _writable(beats: Fraction) -> bool:
    """Return True for powers of one half, and for thirds of them."""
    parts = beats.denominator
    parts = parts // 3 if parts % 3 == 0 else parts
    return parts & (parts - 1) == 0


def _stretches(score: Score) -> Iterator[tuple[Note | None, Fraction, Fraction]]:
    """Yield the notes and the rests between them, without gaps from start to end."""
    now = score.first_beat
    echoes = sorted(begin for begin, _ in score.echoes)
    for note in score.notes:
        yield from _rests(echoes, now, note.start)
        yield note, note.start, note.end
        now = note.end
    yield from _rests(echoes, now, score.length)


def _rests(
    echoes: Sequence[Fraction], start: Fraction, end: Fraction
) -> Iterator[tuple[None, Fraction, Fraction]]:
    """Yield the rest from *start* to *end*, cut where an echo begins, to be marked there."""
    cuts = echoes[bisect_right(echoes, start) : bisect_left(echoes, end)]
    for here, there in pairwise([start, *cuts, end]):
        if here < there:
            yield None, here, there


Triplets = dict[int, tuple[Fraction, Fraction]]
"""For each beat inside a triplet, where that triplet starts and ends."""


def _triplets(score: Score) -> Triplets:
    """Return the triplets of *score*: one to a beat, or to two beats where that suffices."""
    found: Triplets = {}
    edges = sorted(score.edges())
    for beat in sorted(score.triplet_beats):
        if beat in found:
            continue
        pair = beat - (beat % score.meter.beats) % 2
        wide = {pair, pair + 1} <= score.triplet_beats and not score.meter.compound
        begin, end = bisect_right(edges, pair), bisect_left(edges, pair + 2)
        inside = [edge - pair for edge in edges[begin:end]]
        fits = pair % score.meter.beats + 2 <= score.meter.beats
        if wide and fits and all((edge * Fraction(3, 2)).denominator == 1 for edge in inside):
            found[pair] = found[pair + 1] = (Fraction(pair), Fraction(pair + 2))
        else:
            found[beat] = (Fraction(beat), Fraction(beat + 1))
    return found


def _cut(
    start: Fraction, end: Fraction, meter: Meter, triplets: Triplets
) -> Iterator[tuple[Fraction, Fraction]]:
    """Cut the stretch into pieces that one written value each can show.

    It ends, because what is left is a whole number of small steps and every piece takes at
    least one of them away.  Let 2^-n of a beat be so short that every edge outside triplets
    is a multiple of it, as bar lines, beats and groups are; ``_limit`` then is one too, and
    the longest plain or dotted value up to a multiple of 2^-n is itself a multiple, not 0.
    Inside a triplet the same holds of two thirds of 2^-n.  No other edges exist:
    ``_check_written`` lets halves and thirds pass, ``Score.triplet_beats`` has every beat with
    an edge on a third, and no piece reaches from outside into a triplet.
    """
    while start < end:
        stop = min(end, _limit(start, end, meter, triplets))
        triplet = start // 1 in triplets
        length = _largest_value((stop - start) * (Fraction(3, 2) if triplet else 1), meter.unit)
        stop = start + (length * Fraction(2, 3) if triplet else length)
        yield start, stop
        start = stop


def _limit(start: Fraction, end: Fraction, meter: Meter, triplets: Triplets) -> Fraction:
    """Return the latest end of a value from *start* that does not hide the beat."""
    bar = start - start % meter.beats
    limit = bar + meter.beats
    beat = start // 1
    if beat in triplets:
        return triplets[beat][1]
    ahead = [Fraction(t) for t in range(beat + 1, int(limit)) if t in triplets]
    limit = min([limit, *ahead])
    group = _group(meter)
    group_end = bar + ((start - bar) // group + 1) * group
    whole = start.denominator == 1 and end.denominator == 1 and not meter.compound
    if whole or (start == bar and end >= limit) or _fills_groups(start, end, group):
        return min(limit, _whole_groups(start, end, meter)) if meter.compound else limit
    if group == 1 and start.denominator == 1:
        # A dotted beat with its half after it is read at once; so are beats held together.
        return (
            limit
            if end - start == Fraction(3, 2)
            else min(limit, max(group_end, Fraction(end // 1)))
        )
    if start % group and start.denominator > 1 and end > beat + Fraction(3, 2):
        return min(limit, group_end, Fraction(beat + 1))
    return min(limit, group_end)


def _whole_groups(start: Fraction, end: Fraction, meter: Meter) -> Fraction:
    """Return the end of the longest dotted value from *start*: one, two or four groups on.

    A plain value would end inside a group of three: eight eighths of the nine of 9/8.
    """
    longest = meter.pulse
    while start + 2 * longest <= end:
        longest *= 2
    return start + longest


def _fills_groups(start: Fraction, end: Fraction, group: Fraction) -> bool:
    """Return True for a stretch of whole groups; bars hold whole groups, so they do not matter."""
    return start % group == 0 and end % group == 0


def _group(meter: Meter) -> Fraction:
    """Return the beats a reader sees as one: three in 6/8, half a bar in 4/4, else one beat."""
    if meter.compound:
        return Fraction(3)
    return Fraction(2) if meter.beats % 2 == 0 and meter.beats > 2 else Fraction(1)


def _largest_value(length: Fraction, whole: int) -> Fraction:
    """Return the longest plain or dotted value within *length* beats and a dotted whole note.

    Plain values are halves of halves of a *whole* note, in beats; a dot adds half.
    """
    value = Fraction(whole)
    while value > length:
        value /= 2
    dotted = value * Fraction(3, 2)
    return dotted if dotted <= length else value
