"""A drummer of two hands and two feet, who hears the others: every feel, read from its strokes.

What hands can do and how drummers play a style is common practice; there is no published source.
"""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from functools import cache
from itertools import pairwise

import pytest

from harmonies import written_place
from reedmill.band.arranger import arrange
from reedmill.band.feel import BandFeel, FeelStroke
from reedmill.band.instruments import DRUMS
from reedmill.band.shelf import find_form, shipped_feels
from reedmill.score.arrangement import Arrangement, Part
from reedmill.theory.positions import Key

FORM, CHORUSES = find_form("Twelve bars"), 5
BARS = len(FORM.bars)
FEELS = shipped_feels()
WORDS = {key: word for word, key in DRUMS.items()}
CYMBALS = {"ride", "ride bell", "closed hat", "open hat", "crash"}
SKINS = {"snare", "side stick", "high tom", "mid tom", "low tom", "floor tom"}
MOST_A_SECOND = 8  # strokes of one hand

every_feel = pytest.mark.parametrize("feel", FEELS, ids=lambda feel: feel.title)
Struck = dict[Fraction, dict[str, int]]  # the velocity of each drum at each written place


@cache
def played(feel: BandFeel) -> Arrangement:
    """As fast as the style is played."""
    return arrange(
        FORM, feel, Key(-2, minor=False), choruses=CHORUSES, seed=5, looseness=0,
        tempo_bpm=feel.tempo_goal_bpm,
    )  # fmt: skip


@cache
def drums(feel: BandFeel) -> Struck:
    found: Struck = defaultdict(dict)
    for note in played(feel).of(Part.DRUMS):
        found[written_place(note.start, played(feel).swing)][WORDS[note.key]] = note.velocity
    return found


def places(feel: BandFeel, part: Part) -> set[Fraction]:
    return {written_place(note.start, played(feel).swing) for note in played(feel).of(part)}


def of_bar(feel: BandFeel, bar: int) -> Struck:
    start = bar * feel.meter.beats
    return {
        at - start: struck
        for at, struck in drums(feel).items()
        if start <= at < start + feel.meter.beats
    }


@every_feel
def test_two_hands_can_play_it(feel: BandFeel) -> None:
    for at, struck in drums(feel).items():
        hands = set(struck) & (CYMBALS | SKINS)
        assert len(hands) <= 2, (at, hands)
        assert len(hands & CYMBALS) <= 1, (at, hands)
        assert not {"snare", "side stick"} <= hands, at
        assert not ("pedal hat" in struck and hands & {"closed hat", "open hat"}), at
    for drum_set in (CYMBALS, {"kick"}):
        starts = [n.start for n in played(feel).of(Part.DRUMS) if WORDS[n.key] in drum_set]
        a_second = Fraction(feel.tempo_goal_bpm or feel.tempo_bpm, 60) * feel.meter.pulse  # beats
        counts = zip(starts, starts[MOST_A_SECOND:], strict=False)
        assert all(later - one >= a_second * Fraction(99, 100) for one, later in counts)


@every_feel
def test_two_and_four_are_alike(feel: BandFeel) -> None:
    """Where the feel says that they are heavy; a street beat or a clave is another thing."""
    if feel.accents != (Fraction(1), Fraction(3)):
        return
    filled = {*range(BARS - 1, CHORUSES * BARS, BARS), CHORUSES * BARS - 2}
    for bar in set(range(CHORUSES * BARS - 1)) - filled:
        backbeat = [
            max((struck.get(drum, 0) for drum in ("snare", "side stick")), default=0)
            for struck in (of_bar(feel, bar).get(Fraction(beat), {}) for beat in (1, 3))
        ]
        assert abs(backbeat[0] - backbeat[1]) <= 10, bar


@every_feel
def test_a_kick_off_the_beat_meets_the_bass_or_a_chord(feel: BandFeel) -> None:
    others = places(feel, Part.BASS) | places(feel, Part.COMP)
    loud = feel.loud(Part.DRUMS) - 20
    kicks = [
        at
        for at, struck in drums(feel).items()
        if struck.get("kick", 0) > loud and at % feel.meter.pulse
    ]
    met = sum(at in others for at in kicks)
    assert met >= 0.9 * len(kicks)


def test_a_kick_that_is_felt_drops_few_bombs_and_never_on_parity() -> None:
    feel = next(each for each in FEELS if each.title == "Jump swing")
    loud = feel.loud(Part.DRUMS) - 20
    bombs = {
        bar
        for bar in range(CHORUSES * BARS)
        for at, struck in of_bar(feel, bar).items()
        if at % 1 and struck.get("kick", 0) > loud
    } - {*range(BARS - 1, CHORUSES * BARS, BARS), CHORUSES * BARS - 2, CHORUSES * BARS - 1}
    assert bombs
    assert not bombs & {bar + 1 for bar in bombs}
    assert {bar % 2 for bar in bombs} == {0, 1}
    for chorus in range(CHORUSES):
        assert len(bombs & set(range(chorus * BARS, (chorus + 1) * BARS))) <= 3


def fits(fill: tuple[FeelStroke, ...], bar: Struck) -> bool:
    heard = {(at, word) for at, struck in bar.items() if at >= fill[0].at for word in struck}
    return heard == {(each.at, each.word) for each in fill}


@every_feel
def test_a_fill_comes_neither_twice_in_a_row_nor_there_again(feel: BandFeel) -> None:
    ends = [*range(BARS - 1, (CHORUSES - 1) * BARS, BARS), CHORUSES * BARS - 2]
    bars = [of_bar(feel, bar) for bar in ends]
    fills = [max((fill for fill in feel.fills if fits(fill, bar)), key=len) for bar in bars]
    assert all(one != other for one, other in pairwise(fills))


@every_feel
def test_the_groove_is_varied_and_kept(feel: BandFeel) -> None:
    """The first beat is there in every bar that has one in the feel; few bars are all alike."""
    bars = [of_bar(feel, bar) for bar in range(CHORUSES * BARS)]
    different = {frozenset((at, *struck.items()) for at, struck in bar.items()) for bar in bars}
    assert len(different) > len(bars) / 2
    ways = [way for way in feel.drums if any(all(map(has_one, layer)) for layer in way)]
    if len(ways) == len(list(feel.drums)):
        assert all("kick" in bar[Fraction(0)] for bar in bars)


def has_one(bar: tuple[FeelStroke, ...]) -> bool:
    return any(stroke.word == "kick" and stroke.at == 0 for stroke in bar)


def test_soft_swing_taps_two_and_four_as_brushes_do() -> None:
    feel = next(each for each in FEELS if each.title == "Soft jazz swing")
    for bar in [*range(1, BARS - 1), *range(BARS + 1, 2 * BARS - 1)]:  # quiet, then even
        snare = {
            at: struck["snare"] for at, struck in of_bar(feel, bar).items() if "snare" in struck
        }
        assert all(40 <= snare[Fraction(beat)] <= 72 for beat in (1, 3))
        assert all(snare.get(Fraction(beat), 0) <= 30 for beat in (0, 2))
