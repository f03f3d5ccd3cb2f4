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


SUMMED = """
    WITH ranked AS (
        SELECT {by} AS shared, {out} AS out, verdict IN ('on', 'near') AS good,
               substr(played, 1, 10) AS day,
               ROW_NUMBER() OVER (PARTITION BY {by} ORDER BY {out}) AS place,
               COUNT(*) OVER (PARTITION BY {by}) AS many
        FROM try JOIN take ON take.id = try.take
    )
    SELECT shared, many, SUM(good), COUNT(DISTINCT day),
           AVG(CASE WHEN place IN ((many + 1) / 2, (many + 2) / 2) THEN out END)
    FROM ranked GROUP BY shared
"""


@pytest.mark.parametrize("by", ["register", "position", "came_from"])
def test_summaries_are_what_sql_makes_of_the_book(tmp_path: Path, by: str) -> None:
    takes = [
        *weeks_of_practice(3),
        on_day(70, [("-3", None, 4.0)], harp="F"),
        on_day(71, [("-3", None, -31.0), ("3", "-3", None)], harp="high G", position=3),
    ]
    with open_book(tmp_path / "a.book", new=True) as book:
        book.add("Ada", takes, NOW)
        found = progress_of(book.played("Ada"))
    with closing(sqlite3.connect(tmp_path / "a.book")) as plain:
        rows = {row[0]: row[1:] for row in plain.execute(SUMMED.format(by=by, out=OUT))}
    shown = getattr(found, f"by_{by}")
    assert {each.shared for each in shown} == set(rows)
    for each in shown:
        many, good, days, out = rows[each.shared]
        assert (each.count, each.in_place, each.days) == (many, good, days)
        assert each.out_cents == pytest.approx(out)
    order = [each.shared for each in shown]
    assert (
        order
        == {
            "register": ["high", "middle", "low"],
            "position": [1, 2, 3],
            "came_from": sorted(rows, key=lambda name: (-rows[name][-1], name or "")),
        }[by]
    )


def test_each_week_has_its_tries_from_monday_to_sunday(tmp_path: Path) -> None:
    with open_book(tmp_path / "a.book", new=True) as book:
        book.add("Ada", weeks_of_practice(4), NOW)
        found = progress_of(book.played("Ada"))
    with closing(sqlite3.connect(tmp_path / "a.book")) as plain:
        for each in found.cells:
            cell = each.cell
            rows = plain.execute(
                """SELECT date(played, 'weekday 0', '-6 days') AS monday, COUNT(*),
                          SUM(verdict IN ('on', 'near')), COUNT(cents), TOTAL(cents)
                   FROM try JOIN take ON take.id = try.take
                   WHERE tab = ? AND came_from = ? AND harp = ? AND position = ?
                   GROUP BY monday ORDER BY monday""",
                (cell.tab, cell.came_from, cell.harp, cell.position),
            ).fetchall()
            shown = [
                (week.monday, week.count, week.in_place, len(week.rested)) for week in each.weeks
            ]
            assert shown == [row[:4] for row in rows]
            for week, row in zip(each.weeks, rows, strict=True):
                assert sum(week.rested) == pytest.approx(row[4])


def test_days_and_tempi_are_in_order(tmp_path: Path) -> None:
    takes = weeks_of_practice(5)
    with open_book(tmp_path / "a.book", new=True) as book:
        book.add("Ada", takes, NOW)
        found = progress_of(book.played("Ada"))
    with closing(sqlite3.connect(tmp_path / "a.book")) as plain:
        days = plain.execute(
            "SELECT substr(played, 1, 10) AS day, COUNT(*) FROM take GROUP BY day ORDER BY day"
        ).fetchall()
    assert [(each.day, each.takes) for each in found.practised] == days
    [tempi] = found.tempi
    assert [each.tempo for each in tempi.takes] == [54] * len(takes)


def test_a_tempo_is_reached_where_it_is_higher_than_any_mastered_before() -> None:
    good = [("-3'", "-2", 3.0)] * 10
    poor = [("-3'", "-2", 40.0)] * 10
    takes = [
        on_day(0, good, tempo=60), on_day(1, good, tempo=58), on_day(2, poor, tempo=90),
        on_day(3, good, tempo=60), on_day(4, good, tempo=66),
    ]  # fmt: skip
    [tempi] = progress_of_takes(takes).tempi
    assert [(each.played[:10], each.tempo) for each in tempi.reached] == [
        ("2027-01-04", 58), ("2027-01-08", 64),
    ]  # fmt: skip


def test_a_harp_of_another_tuning_is_another_place() -> None:
    takes = [on_day(0, [("-3", "-2", 4.0)]),
             KeptTake({**take([("-3", "-2", 30.0)]), "tuning": "natural-minor"})]  # fmt: skip
    cells = progress_of_takes(takes).cells
    assert [(each.cell.harp_words, each.out_cents) for each in cells] == [
        ("C natural minor", 30.0), ("C", 4.0),
    ]  # fmt: skip


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
