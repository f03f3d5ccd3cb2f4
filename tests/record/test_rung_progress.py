"""Progress is what SQL makes of the same tries, and a trend is said only where there is one."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reedmill.record import open_book
from reedmill.record.kept_take import KeptTake
from reedmill.record.record_book import PlayedTake
from reedmill.record.rung_progress import (
    LEAST_DAYS,
    NOT_THERE_CENTS,
    StudentProgress,
    Trend,
    progress_of,
)
from taken import take

START = datetime(2027, 1, 4, 18, tzinfo=UTC)
NOW = datetime(2028, 1, 1, tzinfo=UTC)
RUNGS = [("-3'", "-2"), ("-3''", "-2"), ("-3''", "-3'"), ("-2", "-3'"), ("-4'", "4")]


def on_day(
    day: float, tries: Sequence[tuple[str, str | None, float | None]], **more: Any
) -> KeptTake:
    return KeptTake(take(tries, recorded=(START + timedelta(days=day)).isoformat(), **more))


def weeks_of_practice(seed: int) -> list[KeptTake]:
    rng = random.Random(seed)
    found = []
    for number in range(40):
        tries = [(tab, before, rng.choice((None, round(rng.gauss(8, 15), 1), 3.0)))
                 for tab, before in rng.choices(RUNGS, k=12)]  # fmt: skip
        harp, position = rng.choice(("C", "low F", "A")), rng.choice((1, 2))
        found.append(on_day(number * 1.3, tries, harp=harp, position=position))
    return found


MEDIAN = """
    WITH placed AS (
        SELECT {value} AS value, ROW_NUMBER() OVER (ORDER BY {value}) AS place,
               COUNT(*) OVER () AS many
        FROM try JOIN take ON take.id = try.take
        WHERE tab = ? AND came_from = ? AND harp = ? AND position = ? AND {value} IS NOT NULL
    )
    SELECT AVG(value) FROM placed WHERE place IN ((many + 1) / 2, (many + 2) / 2)
"""
COUNTS = """
    SELECT COUNT(*), SUM(verdict IN ('on', 'near')), COUNT(DISTINCT substr(played, 1, 10)),
           MAX(played)
    FROM try JOIN take ON take.id = try.take
    WHERE tab = ? AND came_from = ? AND harp = ? AND position = ?
"""
OUT = f"MIN(ABS(COALESCE(cents, {NOT_THERE_CENTS})), {NOT_THERE_CENTS})"


@pytest.mark.parametrize("seed", [1, 2])
def test_every_figure_is_what_sql_makes_of_the_book(tmp_path: Path, seed: int) -> None:
    """SQLite's own window functions, on the tables and not on what we read of them."""
    place = tmp_path / "a.book"
    with open_book(place, new=True) as book:
        book.add("Ada", weeks_of_practice(seed), NOW)
        found = progress_of(book.played("Ada"))
    with closing(sqlite3.connect(place)) as plain:
        [(cells, days)] = plain.execute(
            "SELECT COUNT(DISTINCT tab || ' ' || came_from || ' ' || harp || ' ' || position), "
            "COUNT(DISTINCT substr(played, 1, 10)) FROM try JOIN take ON take.id = try.take"
        )
        assert (len(found.cells), found.days) == (cells, days)
        for each in found.cells:
            cell = each.cell
            key = (cell.tab, cell.came_from, cell.harp, cell.position)
            [counts] = plain.execute(COUNTS, key)
            assert (each.count, each.in_place, each.days, each.last) == counts
            [(out,)] = plain.execute(MEDIAN.format(value=OUT), key)
            assert each.out_cents == pytest.approx(out)
            [(middle,)] = plain.execute(MEDIAN.format(value="cents"), key)
            assert each.median_cents == (None if middle is None else pytest.approx(middle))
            if middle is not None:
                spread = MEDIAN.format(value=f"ABS(cents - ({middle}))")
                [(spread,)] = plain.execute(spread, key)
                assert each.spread_cents == pytest.approx(spread)
    outs = [each.out_cents for each in found.cells]
    assert outs == sorted(outs, reverse=True)


def practised(days: int, out: Any) -> Trend | None:
    rng = np.random.default_rng(5)
    takes = [
        on_day(day, [("-3''", "-2", float(out(day) + rng.normal(0, 4))) for _ in range(6)])
        for day in range(days)
    ]
    [cell] = progress_of_takes(takes).cells
    return cell.trend


def progress_of_takes(takes: list[KeptTake]) -> StudentProgress:
    return progress_of(
        PlayedTake(each.recorded.strftime("%Y-%m-%dT%H:%M:%SZ") if each.recorded else "", each)
        for each in takes
    )


def test_a_trend_is_a_straight_line_and_has_the_truth_in_its_interval() -> None:
    """A student who comes seven cents a week nearer; NumPy's ``polyfit`` fits the same days."""
    trend = practised(28, lambda day: 40 - day)
    assert trend is not None
    assert trend.certain
    assert trend.low < -7 < trend.high
    rng = np.random.default_rng(5)
    days = [np.median(np.abs([40 - day + rng.normal(0, 4) for _ in range(6)])) for day in range(28)]
    assert trend.cents_a_week == pytest.approx(7 * np.polyfit(range(28), days, 1)[0], abs=1e-6)


def test_who_stays_where_he_is_is_not_said_to_move() -> None:
    trend = practised(21, lambda _: 20.0)
    assert trend is not None
    assert not trend.certain
    assert trend.low < 0 < trend.high


def test_of_a_few_days_nothing_is_said() -> None:
    assert practised(LEAST_DAYS - 1, lambda day: 40 - day) is None
    assert practised(LEAST_DAYS, lambda day: 40 - day) is not None


def test_an_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Ninety of a hundred, by 200 students who come three cents a week nearer.

    With few days a bootstrap is a little narrow (Efron and Tibshirani, 1993, chapter 13).
    """
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(200):
        takes = [
            on_day(day, [("-3''", "-2", float(35 - 3 * day / 7 + rng.normal(0, 5)))])
            for day in range(0, 40, 2)
        ]
        [cell] = progress_of_takes(takes).cells
        assert cell.trend is not None
        held += cell.trend.low <= -3 <= cell.trend.high
    assert held > 160


def test_a_tempo_is_mastered_where_most_notes_were_in_place() -> None:
    good = [("-3'", "-2", 3.0)] * 10
    takes = [
        on_day(0, good, tempo=60, title="One"), on_day(1, good, tempo=72, title="One"),
        on_day(2, [*good[:8], ("-3'", "-2", 40.0), ("-3'", "-2", None)], tempo=90, title="One"),
        on_day(3, good, tempo=50, title="Two"),
    ]  # fmt: skip
    assert progress_of_takes(takes).fastest == (("One", 70), ("Two", 48))  # as they were heard


def test_an_empty_book_has_no_progress() -> None:
    found = progress_of([])
    assert (found.takes, found.days, found.first, found.cells) == (0, 0, None, ())
