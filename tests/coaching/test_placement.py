"""A level told by ten tasks: right for simulated players, and by sound as by verdicts.

The players are simulated by a model that is not the one that places them
(``simulated_players.py``); ``tests/benchmarks/placing.py`` has five hundred of them.
"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hearing.takes import recorded
from reedmill.base.errors import InputError
from reedmill.coaching.level_model import TaskCount, find_level, share_bounds
from reedmill.coaching.placement import newest_by_register, newest_takes, place_player
from reedmill.ear import read_take
from reedmill.harp import Harp
from reedmill.library import placement_tasks
from reedmill.listening import task_told
from reedmill.record import KeptTake, open_book
from simulated_players import Player, as_heard, placed, placed_by_sound
from taken import take

A_LEVEL = 12  # of the 100 of tests/benchmarks/placing.py

# The rule of the library, whose hardest note sets the least level: common practice, no
# published source.
LEAST_LEVEL = {
    "-4'": 1, "-1'": 1, "-6'": 1, "-3'": 2, "8'": 2, "9'": 2, "-3''": 3, "-2'": 3, "-2''": 3,
    "-3'''": 4, "10'": 4, "10''": 4, "6^": 5, "5^": 5,
}  # fmt: skip


def test_nine_of_ten_simulated_players_are_placed_right() -> None:
    players = [Player(level, seed) for level in range(1, 6) for seed in range(A_LEVEL)]
    found = {player: placed(player) for player in players}
    right = sum(each.level == player.level for player, each in found.items())
    print(f"{right} of {len(players)} right")
    assert right >= 0.9 * len(players)
    for player, each in found.items():
        assert not each.found.is_sure or abs(each.level - player.level) <= 1


def test_a_player_who_plays_low_harps_better_than_high_ones_is_told_both_levels() -> None:
    """Players of known level on each register; what they play of each is told from it alone."""
    pairs = [(low, high, seed) for low in (2, 4, 5) for high in (1, 3) for seed in range(4)]
    right = 0
    for low, high, seed in pairs:
        both = [*Player(low, seed).takes(Harp("A")).values(),
                *Player(high, seed + 50).takes(Harp("F")).values()]  # fmt: skip
        found = place_player(KeptTake(as_heard(score, played)) for score, played in both)
        told = [(name, each.level) for name, each in found.registers.items()]
        right += told == [("high", high), ("low", low)]
        assert found.on(Harp("G")) is found.registers["low"]
        assert found.on(Harp("C")) is found  # no take is on a middle harp
    assert right >= 0.9 * len(pairs)


def test_sound_is_placed_as_the_verdicts_that_are_due(tmp_path: Path) -> None:
    player = Player(2, 1)
    by_sound, due = placed_by_sound(player, tmp_path), placed(player)
    assert by_sound.level == due.level == player.level
    for one, other in zip(by_sound.tasks, due.tasks, strict=True):
        assert abs(one.in_place - other.in_place) <= 1, one.task.drill.title


COUNTS = st.lists(
    st.tuples(st.integers(1, 5), st.integers(4, 18), st.floats(0, 1)), min_size=1, max_size=10
)


@given(COUNTS, st.integers(0, 9))
def test_one_more_note_in_place_never_makes_a_level_lower(
    rows: list[tuple[int, int, float]], which: int
) -> None:
    """As far as one task goes; and no level is named that was not heard."""
    counts = [TaskCount(level, tries, round(share * tries)) for level, tries, share in rows]
    found = find_level(counts)
    assert sum(found.likely) == pytest.approx(1)
    assert found.between[0] <= found.level <= found.between[1]
    highest = max(each.level for each in counts)
    assert found.level <= highest
    one = counts[which % len(counts)]
    alone = [one._replace(in_place=each) for each in range(one.tries + 1)]
    levels = [find_level([each]).level for each in alone]
    assert levels == sorted(levels)


def test_one_bad_take_does_no_harm() -> None:
    """A player of level 4 whose second task of level 2 went wrong, and one who is lucky once."""
    shares = {1: (9, 17), 2: (8, 7), 3: (7, 8), 4: (7, 7), 5: (1, 0)}
    good = [
        TaskCount(level, 18 if level == 1 else 8, n) for level, two in shares.items() for n in two
    ]
    assert find_level(good).level == 4
    bad = [each if at != 3 else each._replace(in_place=0) for at, each in enumerate(good)]
    assert find_level(bad).level == 4
    out = [TaskCount(level, 8, 1) for level in (2, 2, 3, 3, 4, 4)]
    first, last = TaskCount(1, 8, 8), TaskCount(5, 8, 0)
    lucky = [first, first, *out, last._replace(in_place=7), last]
    assert find_level(lucky).level == 1


def test_a_level_nobody_heard_is_never_named_and_thin_data_say_so() -> None:
    assert find_level([TaskCount(1, 10, 10), TaskCount(2, 8, 8)]).level == 2
    thin = find_level([TaskCount(1, 10, 9), TaskCount(2, 8, 8), TaskCount(3, 5, 3)])
    assert not thin.is_sure
    assert thin.between == (2, 3)
    with pytest.raises(ValueError, match="no task was told"):
        find_level([TaskCount(3, 3, 3)])


@pytest.mark.parametrize(
    ("in_place", "tries", "lowest", "highest"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
     (1, 29, 0.0061, 0.1718)],
)  # fmt: skip
def test_the_interval_of_a_share_is_wilsons(
    in_place: int, tries: int, lowest: float, highest: float
) -> None:
    """Newcombe, Statistics in Medicine 17, 857-872 (1998), table I, method 3: from memory."""
    assert share_bounds(in_place, tries) == pytest.approx((lowest, highest), abs=6e-5)


# --- the tasks -------------------------------------------------------------------------------


def test_there_are_two_tasks_for_each_level_and_each_is_short() -> None:
    tasks = placement_tasks()
    assert [each.drill.level for each in tasks] == [1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    for number, each in enumerate(tasks, start=1):
        assert str(each.drill.title).startswith(f"Task {number}, ")
        score = each.score
        assert score.seconds(score.length) < 20
        asked = {tab for note in score.notes if (tab := note.tab)[-1] in "'^q"}
        assert bool(asked) is (each.drill.level != 1)
        assert all(LEAST_LEVEL[tab] <= (each.drill.level or 0) for tab in asked)
        home = sum(note.tab not in asked for note in score.notes)
        assert home > len(score.notes) / 2  # by which the harp's own tuning is heard


def test_a_take_is_known_by_its_number_its_name_or_its_sound(tmp_path: Path) -> None:
    """And tones that Reedmill made are not taken for a player."""
    score, notes = Player(5, 1).takes(Harp("A"))[6]
    for name in ("Task 6", "my_task-06 again", "task-6-both-bends-of-draw-2-a-2nd", "monday"):
        told = task_told(read_take(recorded(tmp_path, name, score, notes)), Harp("A"))
        assert (told.task.drill.title, told.harp) == (score.title, Harp("A")), name
    named = read_take(recorded(tmp_path, "task-6-both-bends-of-draw-2-a-2nd", score, notes))
    assert task_told(named).harp == Harp("A")
    other = read_take(recorded(tmp_path, "count-to-four-c-2nd", score, notes))
    with pytest.raises(InputError, match='this is a take of "Count to four", and not of one'):
        task_told(other)


def test_the_newest_take_of_each_task_counts(tmp_path: Path) -> None:
    title = str(placement_tasks()[3].drill.title)
    rows = [("-3'", "-2", 40.0)] * 8, [("-3'", "-2", 5.0)] * 8
    now = datetime(2027, 3, 1, tzinfo=UTC)
    takes = [
        KeptTake(take(tries, title=title, recorded=f"2027-02-0{day}T18:00:00Z"))
        for day, tries in enumerate(rows, start=1)
    ]
    with open_book(tmp_path / "class.book", new=True) as book:
        book.add("Ada", [takes[1], takes[0], KeptTake(take(rows[0]))], now)
        found = newest_takes(book.played("Ada"))
    assert [each.digest for each in found] == [takes[1].digest]
    heard = place_player(found).tasks[3]
    assert (heard.in_place, heard.tries, heard.passed) == (8, 8, True)


def test_the_newest_take_on_each_register_is_told_apart(tmp_path: Path) -> None:
    title, now = placement_tasks()[4].drill.title, datetime(2027, 3, 1, tzinfo=UTC)
    rows = [("A", 0.0), ("A", 5.0), ("F", 60.0)]
    takes = [
        KeptTake(take([("-3''", "-2", out)] * 8, harp=harp, title=title,
                      recorded=f"2027-02-0{day}T18:00:00Z"))
        for day, (harp, out) in enumerate(rows, start=1)
    ]  # fmt: skip
    with open_book(tmp_path / "class.book", new=True) as book:
        book.add("Ada", takes, now)
        played = list(book.played("Ada"))
    assert [each.digest for each in newest_takes(played)] == [takes[2].digest]
    found = [each.digest for each in newest_by_register(played)]
    assert found == [takes[2].digest, takes[1].digest]


def test_what_fell_out_is_named_and_what_is_unclear_does_not_count() -> None:
    title = str(placement_tasks()[2].drill.title)
    data = take([("-4'", "-2", 3.0)] * 4 + [("-1'", "-2", 44.0)] * 3 + [("-1'", "-2", None)],
                title=title)  # fmt: skip
    data["passes"][0]["notes"][0]["verdict"] = "unclear"
    placement = place_player([KeptTake(data)])
    heard = placement.tasks[2]
    assert (heard.tries, heard.unclear, heard.in_place) == (7, 1, 3)
    assert [(each.tab, each.in_place, each.tries) for each in heard.fallen] == [("-1'", 0, 4)]
    assert Counter(each.is_told for each in placement.tasks) == {True: 1, False: 9}
    with pytest.raises(InputError, match="none of the ten tasks was heard"):
        place_player([KeptTake(take([("-4'", "-2", 3.0)] * 3, title=title))])


def test_a_players_data_are_as_takes_are() -> None:
    score, notes = next(iter(Player(1, 1).takes(Harp("C")).values()))
    assert KeptTake(as_heard(score, notes)).title == score.title
