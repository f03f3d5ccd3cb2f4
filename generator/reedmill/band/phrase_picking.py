"""Phrases for the places of a form, picked by its chords, each with the reason.

The laws:

- A form is filled two bars at a time; where it has an odd number, the bar before its last two is
  left open.  The last two bars of all take an ending, and those of every other chorus a turnaround
  where the form has one.  Everywhere else the chord of the first bar decides.
- A phrase fits where it is meant for that chord, or, where none that the player is ready for is,
  where all its notes on strong beats are tones of the chords that sound there.  Its first note on a
  strong beat is a tone of the chord under it, and over a minor chord it has no major third.
- In fours: the first two bars ask, and rather end away from home; the next two answer, and rather
  end on the root.  In the first chorus, and in others by chance, the second four repeats the first
  as far as the chords let it.
- No phrase comes three times in a row.  Of those that fit one is rather taken that was not just
  played and did not stand there a chorus ago, that ends on a tone of the chord it ends under, that
  begins within a sixth of where the last one ended, and that has been played least.

Asking and answering in fours, and staying in one register, is common practice; there is no
published source.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from reedmill.band.form import Form
from reedmill.base.errors import InputError
from reedmill.language.drill import Drill, FormPlace
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Note, Score
from reedmill.theory.chords import Chord
from reedmill.theory.degrees import CHROMATIC
from reedmill.theory.meter import Meter

PHRASE_BARS = 2
PHRASE_ROW = 2
"""The most times that one phrase comes in a row."""

PHRASES_A_FOUR = 2
"""The phrases of four bars: one asks and one answers."""

_SECOND_FOUR = range(PHRASES_A_FOUR, 2 * PHRASES_A_FOUR)  # phrases of a chorus
_STRONG_TAPS = 2  # from one strong beat to the next, where a bar has an even number of taps
_MAJOR_THIRD = 4  # semitones
_MAJOR_SIXTH = 9  # semitones

_LET_MORE_IN = "Let more phrases in: a higher level, more rungs, or one of your own."


@dataclass(frozen=True, slots=True, eq=False)
class Phrase:
    """A phrase as it is written, and its score in the meter of the band."""

    drill: Drill
    score: Score

    @property
    def first(self) -> Note:
        """The first note on a strong beat, or of all where none is."""
        return next(iter(self.strong), self.score.notes[0])

    @property
    def last(self) -> Note:
        """The note it ends on."""
        return self.score.notes[-1]

    @property
    def strong(self) -> list[Note]:
        """The notes on strong beats."""
        return [note for note in self.score.notes if is_strong(note.start, self.score.meter)]

    @property
    def answers(self) -> bool:
        """True for a phrase that ends on the root; any other asks."""
        return self.last.degree.semitones == 0

    @property
    def bends(self) -> frozenset[str]:
        """The tab of its bends and overbends."""
        reeds = (reed for note in self.score.notes for reed in note.reeds)
        return frozenset(reed.tab for reed in reeds if reed != reed.natural)


def is_strong(beats: Fraction, meter: Meter) -> bool:
    """Tell whether *beats* is a strong beat: every other tap of the foot, or the first of three.

    >>> [is_strong(Fraction(beat), Meter(4, 4)) for beat in range(4)]
    [True, False, True, False]
    """
    taps = meter.beats / meter.pulse
    every = meter.pulse * _STRONG_TAPS if taps % _STRONG_TAPS == 0 else Fraction(meter.beats)
    return beats % every == 0


@dataclass(frozen=True, slots=True)
class FormSlot:
    """Two bars of a form, in one of its choruses."""

    chorus: int  # from 0
    bar: int  # from 0 at the start of the chorus
    place: FormPlace  # a chord, the turnaround or the ending

    @property
    def words(self) -> str:
        """The slot in words: ``IV7 (bars 5 and 6)``."""
        what = self.place.name if self.place.chord else f"the {self.place.name}"
        return f"{what} (bars {self.bar + 1} and {self.bar + PHRASE_BARS})"


@dataclass(frozen=True, slots=True)
class PickedPhrase:
    """A phrase and the bars it is played in."""

    slot: FormSlot
    phrase: Phrase
    reason: str  # in a player's words


def form_slots(form: Form, choruses: int) -> list[list[FormSlot]]:
    """Return what is to be filled, chorus by chorus; ``InputError`` for a form of one bar."""
    count = len(form.bars)
    if count < PHRASE_BARS:
        raise InputError(
            f'"{form.title}" has one bar, and a phrase has two. Write its bar twice: x2'
        )
    return [_chorus_slots(form, number, choruses) for number in range(choruses)]


def _chorus_slots(form: Form, number: int, choruses: int) -> list[FormSlot]:
    last = number == choruses - 1
    bars, final = form.chorus(last=last), len(form.bars) - PHRASE_BARS
    starts = [*range(0, final - 1, PHRASE_BARS), final]
    slots = [FormSlot(number, bar, FormPlace.parse(bars[bar][0].chord.name)) for bar in starts]
    word = "ending" if last else "turnaround" if form.turnaround else ""
    return [*slots[:-1], FormSlot(number, final, FormPlace(word))] if word else slots


def picked_phrases(
    phrases: Sequence[Phrase],
    slots: Sequence[Sequence[FormSlot]],
    band: Arrangement,
    known: Callable[[Phrase], str],
    seed: int,
) -> list[PickedPhrase]:
    """Return a phrase for each of *slots*.

    *known* returns nothing for a phrase that the player is ready for, and else what it takes.
    Equal seeds pick alike.  ``InputError`` for a place that nothing fits.
    """
    picking = _Picking(phrases, band, known, random.Random(seed))  # noqa: S311  a choice of tunes
    for chorus in slots:
        picking.fill(chorus)
    return picking.found


class _Picking:
    """The phrases picked so far, and the next one."""

    def __init__(
        self, phrases: Sequence[Phrase], band: Arrangement, known: Callable[[Phrase], str],
        chance: random.Random,
    ) -> None:  # fmt: skip
        self._phrases, self._band, self._known, self._chance = phrases, band, known, chance
        self._played = Counter[str]()
        self.found: list[PickedPhrase] = []

    def fill(self, chorus: Sequence[FormSlot]) -> None:
        """Pick for every slot of one *chorus*."""
        start = len(self.found)
        repeats = self._repeats(chorus)
        for at, slot in enumerate(chorus):
            fitting = self._fitting(slot)
            before = self.found[start + at - PHRASES_A_FOUR] if at in _SECOND_FOUR else None
            if repeats and before is not None and before.phrase in fitting:
                bars = f"{before.slot.bar + 1} and {before.slot.bar + PHRASE_BARS}"
                self._take(slot, before.phrase, f"again, as in bars {bars}")
                continue
            later = chorus[at + PHRASES_A_FOUR] if repeats and at < PHRASES_A_FOUR else None
            asks = at % PHRASES_A_FOUR == 0
            phrase = self._chance.choice(self._narrowed(fitting, slot, later, asks=asks))
            self._take(slot, phrase, self._reason(phrase, slot))

    def _repeats(self, chorus: Sequence[FormSlot]) -> bool:
        """Tell whether the second four of *chorus* repeats the first: the first time always."""
        chance = self._chance.random() < 1 / 2
        return (chance or not self.found) and len(chorus) >= _SECOND_FOUR.stop

    def _take(self, slot: FormSlot, phrase: Phrase, reason: str) -> None:
        self._played[phrase.drill.title] += 1
        self.found.append(PickedPhrase(slot, phrase, reason))

    def _narrowed(
        self, fitting: list[Phrase], slot: FormSlot, later: FormSlot | None, *, asks: bool
    ) -> list[Phrase]:
        """Return those of *fitting* that suit best, wish after wish as long as one is left."""
        before = self.found[-1].phrase if self.found else None
        found = _rather(fitting, lambda each: each is not before)
        found = _rather(found, lambda each: each is not self._last_time(slot))
        found = _rather(found, lambda each: self._ends_well(each, slot))
        if before is not None:
            found = _rather(found, lambda each: _is_near(before, each))
        if later is not None:
            there = self._meant_for(later)
            found = _rather(found, lambda each: each in there and not self._refusal(each, later))
        if slot.place.chord is not None:
            found = _rather(found, lambda each: each.answers is not asks)
        least = min(self._played[each.drill.title] for each in found)
        return [each for each in found if self._played[each.drill.title] == least]

    def _last_time(self, slot: FormSlot) -> Phrase | None:
        """Return the phrase that stood at the place of *slot* a chorus ago."""
        at = (slot.chorus - 1, slot.bar)
        return next((each.phrase for each in self.found
                     if (each.slot.chorus, each.slot.bar) == at), None)  # fmt: skip

    def _reason(self, phrase: Phrase, slot: FormSlot) -> str:
        chord = self._chord_under(phrase.last, slot)
        tone = chord.tone(phrase.last.degree.semitones)
        if tone is None:
            return f"the way leads on from {phrase.last.degree.name}"
        part = _SPOKEN.get(tone, tone)
        how = "an answer" if phrase.answers else "a question"
        return f"{how}: it ends on {phrase.last.degree.name}, the {part} of {chord.name}"

    # --- what fits ---------------------------------------------------------------------------

    def _fitting(self, slot: FormSlot) -> list[Phrase]:
        """Return the phrases that may come next in *slot*; ``InputError`` where none may."""
        meant = self._meant_for(slot)
        ready = [each for each in meant if not self._known(each)]
        fitting = [each for each in ready if not self._refusal(each, slot)]
        fitting = fitting or self._fitting_by_harmony(slot)
        last = [each.phrase for each in self.found[-PHRASE_ROW:]]
        fresh = [each for each in fitting if last != [each] * PHRASE_ROW]
        if fresh:
            return fresh
        raise InputError(
            f"no phrase fits over {slot.words}: {self._why(slot, meant, ready, fitting)}"
        )

    def _meant_for(self, slot: FormSlot) -> list[Phrase]:
        meant = [each for each in self._phrases if each.drill.stands_over(slot.place)]
        return meant or self._in_harmony_with(slot)

    def _fitting_by_harmony(self, slot: FormSlot) -> list[Phrase]:
        return [each for each in self._in_harmony_with(slot)
                if not self._known(each) and not self._refusal(each, slot)]  # fmt: skip

    def _in_harmony_with(self, slot: FormSlot) -> list[Phrase]:
        """Return the phrases for other chords that go with those of *slot*; none for an end."""
        if slot.place.chord is None:
            return []
        return [each for each in self._phrases
                if each.drill.over[0].chord and self._in_harmony(each, slot)]  # fmt: skip

    def _in_harmony(self, phrase: Phrase, slot: FormSlot) -> bool:
        return all(
            self._chord_under(note, slot).tone(note.degree.semitones) for note in phrase.strong
        )

    def _why(
        self, slot: FormSlot, meant: list[Phrase], ready: list[Phrase], fitting: list[Phrase]
    ) -> str:
        place = slot.place.name
        if not meant:
            return f"none here is meant for it. Write one with the line: over {place}"
        if not ready:
            return f"{min(map(self._known, meant), key=len)} {_LET_MORE_IN}"
        if not fitting:
            reason = min((self._refusal(each, slot) for each in ready), key=len)
            return f"{reason} Write one that fits, with the line: over {place}"
        return (
            f'only "{fitting[0].drill.title}" does, and it would come three times in a row. '
            f"{_LET_MORE_IN}"
        )

    def _refusal(self, phrase: Phrase, slot: FormSlot) -> str:
        """Return why *phrase* does not go over the chords of *slot*, or nothing."""
        title = phrase.drill.title
        for note in phrase.score.notes:
            chord = self._chord_under(note, slot)
            above = (note.degree.semitones - chord.root.semitones) % 12
            if chord.is_minor and above == _MAJOR_THIRD and not note.reed.quarter:
                return f'"{title}" has {note.degree.name}, the major third of {chord.name}.'
        chord = self._chord_under(phrase.first, slot)
        if chord.tone(phrase.first.degree.semitones) is None:
            return (
                f'"{title}" begins on {phrase.first.degree.name}, and {chord.name} has '
                f"{_in_words(chord)}."
            )
        return ""

    def _ends_well(self, phrase: Phrase, slot: FormSlot) -> bool:
        chord = self._chord_under(phrase.last, slot)
        return chord.tone(phrase.last.degree.semitones) is not None

    def _chord_under(self, note: Note, slot: FormSlot) -> Chord:
        bar = slot.chorus * self._band.bars_a_chorus + slot.bar
        return self._band.chord_at(bar * self._band.meter.beats + note.start)


_SPOKEN = {"1": "root", "3": "third", "b3": "minor third", "5": "fifth", "b7": "seventh"}


def _in_words(chord: Chord) -> str:
    """Name the tones of *chord* by their degrees: ``5, 7, 2 and 4``."""
    *most, last = (CHROMATIC[(chord.root.semitones + up) % 12].name for _, up in chord.tones)
    return f"{', '.join(most)} and {last}"


def _is_near(before: Phrase, phrase: Phrase) -> bool:
    leap = phrase.score.notes[0].pitch.midi - before.last.pitch.midi
    return abs(leap) <= _MAJOR_SIXTH


def _rather(found: list[Phrase], wanted: Callable[[Phrase], bool]) -> list[Phrase]:
    """Return those of *found* that are *wanted*, or all where none is."""
    return [each for each in found if wanted(each)] or found
