"""What is hard to play, rule by rule: just within it, just past it, and what it does not ask.

Every drill here goes at 60 beats a minute, so that a beat lasts a second.  The limits are
common practice, no published source, and each stands in the name of its rule.
"""

from __future__ import annotations

import pytest

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.playability import RULES, playability
from reedmill.theory.positions import Position
from tunes import score_from

BENDS = "bends last 0.25 s or more"
LEAPS = "leaps of 4 holes or fewer"
TURNS = "breath turns after 0.12 s or more"
ATTACKS = "attacks 0.1 s apart or more"
AIR = "time for every breath"
OVERBENDS = "no overbends"


def found(rule: str, music: str, tempo: int = 60) -> tuple[list[int], int]:
    """The words, counted from 1, that break a rule, and of how many it was asked."""
    [finding] = [each for each in playability(score_from(music, tempo=tempo)) if each.rule == rule]
    return [span.column for span in finding.violators], finding.total


def test_every_rule_is_asked_in_order_and_says_its_limit() -> None:
    assert list(RULES) == [BENDS, LEAPS, TURNS, ATTACKS, AIR, OVERBENDS]
    assert [each.rule for each in playability(score_from("-2"))] == list(RULES)


@pytest.mark.parametrize(
    ("rule", "music", "broken", "asked"),
    [
        # A quarter of a second is long enough to hear a bend, an eighth is not.
        (BENDS, "-2':1/4 -2:3/4", [], 1),
        (BENDS, "-2:1/8 -2':1/8 -2:3/4", [2], 1),
        (BENDS, "-3'':1/5 6^:1/5 -3:1/5", [1, 2], 2),
        # From hole 1 to 5 the mouth moves four holes, from 1 to 6 five, up or down.
        (LEAPS, "1 5 1", [], 2),
        (LEAPS, "1 6 1 2", [2, 3], 3),
        (LEAPS, "4 -4 -9", [3], 1),
        # The note before the change is what must last; after it may come what will.
        (TURNS, "2:3/25 -2:1/25", [], 1),
        (TURNS, "2:1/9 -2", [2], 1),
        (TURNS, "2:1/9 3:1/9 -3:1/9", [3], 1),
        # A tenth of a second is the least; what slides in has no attack of its own.
        (ATTACKS, "-2:1/10 -3:1/10", [], 2),
        (ATTACKS, "-2:1/11 -3", [1], 2),
        (ATTACKS, "-3 ~-3':1/11 -4:1/11", [3], 2),
        (OVERBENDS, "4 6^ -3' 4", [2], 4),
        (AIR, "4:3 -4:3 ~-4':2", [], 2),
    ],
)
def test_a_rule_names_the_notes_that_break_it(
    rule: str, music: str, broken: list[int], asked: int
) -> None:
    assert found(rule, music) == (broken, asked)


@pytest.mark.parametrize(
    ("rule", "music", "broken", "asked"),
    [
        # The mouth is on holes 1 to 4 already: their inner holes are no leap, hole 9 is one.
        (LEAPS, "-1&4 -4 -1&4 -9", [14], 3),
        (LEAPS, "1&2 6&7", [5], 1),
        (LEAPS, "1&2 5&6", [], 1),
        # A bent double stop is a bend, and a chord is one attack.
        (BENDS, "-2'&3':1/8 -2:3/8", [1], 1),
        (BENDS, "-3q:1/8 -2:3/8", [1], 1),
        (ATTACKS, "-1&2&3:1/8 -2", [], 2),
        (OVERBENDS, "-2&3 4", [], 2),
    ],
)
def test_several_holes_are_one_note_of_one_mouth(
    rule: str, music: str, broken: list[int], asked: int
) -> None:
    [drill] = parse(f'drill "Test"\n  tempo 60\n  play {music}\n')
    score = expand(drill, Harp("C"), Position(2))
    [finding] = [each for each in playability(score) if each.rule == rule]
    columns = [span.column - len("  play ") for span in finding.violators]
    assert (columns, finding.total) == (broken, asked)


def test_what_is_slow_enough_at_60_is_too_quick_at_120() -> None:
    assert found(BENDS, "-2':1/4", tempo=120) == ([1], 1)
    assert found(ATTACKS, "-2:1/8", tempo=120) == ([1], 1)
