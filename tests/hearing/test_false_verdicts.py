"""Nothing but a player is judged: no drone, band, click, cough, talk, silence or room noise.

One harp, drill and level for each; all of them are in tests/benchmarks/false_verdicts.py.
"""

from __future__ import annotations

import pytest

from hearing.evaluation import HARPS
from other_sounds import OTHER_SOUNDS, alone, between

DRILLS = ("Home from every rung", "Count to four", "Long plain tones", "Two bars home")
CASES = list(enumerate(OTHER_SOUNDS))


@pytest.mark.parametrize(("number", "what"), CASES)
def test_a_take_without_a_player_has_no_verdicts(number: int, what: str) -> None:
    level_db = (-45.0, -32.0, -20.0)[number % 3]
    found = alone(what, level_db, DRILLS[number % 4], HARPS[(number + 1) % 4])
    assert (found.judged, found.extra) == (0, 0), found.told_of


@pytest.mark.parametrize(("number", "what"), CASES)
def test_what_sounds_between_the_notes_is_not_judged(number: int, what: str) -> None:
    level_db = (-24.0, -18.0, -12.0)[number % 3]
    found = between(what, level_db, "Home from every rung", HARPS[number % 4])
    assert found.judged == 0, found.told_of
    assert found.told == found.played == 13, found.told_of
