"""Breathing: how full the lungs get, and where to breathe in or out.

The model is common practice, no published source, and crude: drawing fills the lungs and
blowing empties them, each by a second of air a second, whatever the note; a rest of half a
second sets them back to the middle.  Ten seconds either way is taken as the most that is
comfortable.  Real lungs differ, and so does the air that low and high reeds need: the marks
say where a breath fits the music, not what a body needs.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, takewhile

from reedmill.harp import Breath
from reedmill.score.score import Caution, Note, Score

LIMIT_S = Fraction(10)  # seconds of air either way, see above
REST_S = Fraction(1, 2)  # the shortest rest in which a player can breathe


def with_breaths(score: Score) -> Score:
    """Return *score* with breath marks where air would run out, and warnings where none fits."""
    marks: list[Fraction] = []
    warnings = list(score.warnings)
    attacks = score.attacks()
    names = {start for start, _ in score.sections}
    a_beat_s = score.seconds(Fraction(1))
    begun = [score.performed(attack[0].start) for attack in attacks]
    ended = [score.performed(attack[-1].end) for attack in attacks]
    air_s = _air_s(attacks, [(b - a) * a_beat_s for a, b in zip(begun, ended, strict=True)])
    since = 0  # the first attack after the last breath
    at = 0
    while at < len(attacks):
        if at > since and (begun[at] - ended[at - 1]) * a_beat_s >= REST_S:
            since = at
        if abs(air_s[at + 1] - air_s[since]) <= LIMIT_S:
            at += 1
            continue
        if at == since:
            note = attacks[at][0]
            said = f"{note.reed.words} is held for more than {LIMIT_S} seconds of one breath"
            warnings.append(Caution(said, note.span))
            at += 1
        else:
            since = _best_place(score, names, attacks, air_s, since, at)
            marks.append(attacks[since - 1][-1].end)
            at = since
    return replace(score, breathe_at=tuple(marks), warnings=tuple(warnings))


def _air_s(attacks: Sequence[tuple[Note, ...]], lasting_s: Sequence[Fraction]) -> list[Fraction]:
    """Return the seconds of air before each attack and after the last, with no breath taken.

    Drawn air is more than 0, blown less.
    """
    drawn = (  # a slide never turns the breath
        each_s if attack[0].reed.breath is Breath.DRAW else -each_s
        for attack, each_s in zip(attacks, lasting_s, strict=True)
    )
    return list(accumulate(drawn, initial=Fraction(0)))


def _best_place(
    score: Score,
    names: Collection[Fraction],
    attacks: Sequence[tuple[Note, ...]],
    air_s: Sequence[Fraction],
    since: int,
    at: int,
) -> int:
    """Return the attack from *since* + 1 to *at* before which a breath disturbs the music least.

    A gap in the music comes first, then a section's end, a bar line, the end of a long
    note, a beat; among equals the latest, which needs the fewest breaths.
    """

    def fitness(place: int) -> tuple[bool, bool, bool, Fraction, bool, int]:
        start, before = attacks[place][0].start, attacks[place - 1][-1]
        return (
            start > before.end, start in names, start % score.meter.beats == 0, before.length,
            start.denominator == 1, place,
        )  # fmt: skip

    # Nothing within the first half of the air, that would be a breath too early; and only
    # the last stretch beyond it, or a full chest would be told to breathe in.
    side = 1 if air_s[at + 1] > air_s[since] else -1
    enough = takewhile(
        lambda place: side * (air_s[place] - air_s[since]) >= LIMIT_S / 2, range(at, since, -1)
    )
    return max(enough, key=fitness, default=at)
