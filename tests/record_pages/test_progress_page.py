"""The page of a student's progress: its figures are those of SQL, and its drawings are to scale."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from lxml import html

from hostile_students import HOSTILE_STUDENTS
from read_pages import check_policy, elements, read_page, words
from reedmill.base.text import printable
from reedmill.record import open_book, progress_of
from reedmill.record.demo_book import PLAYERS, make_demo_book
from reedmill.record.kept_take import KeptTake
from reedmill.record.record_book import PlayedTake
from reedmill.record.rung_progress import StudentProgress, Trend
from reedmill.record_pages.day_scale import said_date, scale_over
from reedmill.record_pages.neck_chart import neck_charts
from reedmill.record_pages.practice_calendar import practice_calendar
from reedmill.record_pages.progress_page import progress_page
from reedmill.record_pages.progress_words import interval_words, told_progress, trend_words
from reedmill.record_pages.retention_chart import RetentionCurve, retention_charts
from reedmill.record_pages.tempo_chart import tempo_chart
from reedmill.record_pages.week_chart import FLOOR, TOP, out_y, week_chart
from taken import take

NOW = datetime(2027, 3, 1, 19, tzinfo=UTC)
START = datetime(2027, 1, 4, 18, tzinfo=UTC)  # a Monday
ADA = PLAYERS[0].name
Tries = Sequence[tuple[str, str | None, float | None]]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "demo.book"
    make_demo_book(path, NOW)
    return path


def found_in(book: Path, name: str) -> StudentProgress:
    with open_book(book) as opened:
        return progress_of(opened.played(name))


@pytest.fixture(scope="module")
def pages(book: Path) -> dict[str, Any]:
    """The page of each player, read by lxml, which knows nothing of how it was made."""
    return {
        player.name: read_page(progress_page(player.name, found_in(book, player.name)))
        for player in PLAYERS
    }


def of_days(*days: tuple[float, Tries], **more: Any) -> StudentProgress:
    """What takes on these days, counted from ``START``, come to."""
    takes = [
        KeptTake(take(tries, recorded=(START + timedelta(days=day)).isoformat(), **more))
        for day, tries in days
    ]
    return progress_of(
        PlayedTake(each.recorded.strftime("%Y-%m-%dT%H:%M:%SZ") if each.recorded else "", each)
        for each in takes
    )


# --- figures ----------------------------------------------------------------------------------

TRIES = """
    WITH t AS (
        SELECT try.tab AS tab, COALESCE(try.came_from, 'a start') AS came_from, harp, register,
               position || CASE position WHEN 1 THEN 'st' WHEN 2 THEN 'nd' WHEN 3 THEN 'rd'
               ELSE 'th' END AS place,
               substr(played, 1, 10) AS day,
               date(substr(played, 1, 10), 'weekday 0', '-6 days') AS monday,
               verdict IN ('on', 'near') AS good, verdict, cents,
               CASE WHEN cents IS NULL OR verdict IN ('missed', 'another-note') THEN 60
               ELSE MIN(ABS(cents), 60) END AS out
        FROM try JOIN take ON take.id = try.take JOIN student ON student.id = take.student
        WHERE student.name = ? AND verdict <> 'unclear'
    ), ranked AS (
        SELECT *, ROW_NUMBER() OVER (PARTITION BY {by} ORDER BY out) AS rank,
               COUNT(*) OVER (PARTITION BY {by}) AS many
        FROM t
    )
    SELECT {by}, many, SUM(good),
           AVG(CASE WHEN rank IN ((many + 1) / 2, (many + 2) / 2) THEN out END)
    FROM ranked GROUP BY {by}
"""


def by_sql(book: Path, student: str, by: str) -> dict[tuple[str, ...], tuple[int, int, float]]:
    """Tries, those in place, and the median of how far they were out, by SQLite alone."""
    with closing(sqlite3.connect(book)) as plain:
        rows = plain.execute(TRIES.format(by=by), (student,)).fetchall()
    return {tuple(row[:-3]): tuple(row[-3:]) for row in rows}


def cells_of(row: Any) -> list[str]:
    return [words(cell) for cell in row.xpath("./th | ./td")]


def near(shown: str, figure: float) -> bool:
    """True where *shown* is *figure* rounded; a half may go either way."""
    return abs(int(shown) - figure) <= 0.5 + 1e-9


@pytest.mark.parametrize("player", PLAYERS, ids=lambda each: each.first_name)
def test_every_rung_of_the_table_is_what_sql_makes_of_the_book(
    pages: dict[str, Any], book: Path, player: Any
) -> None:
    wanted = by_sql(book, player.name, "tab, came_from, harp, place")
    rows = pages[player.name].xpath('//table[@class="rungs"]/tbody/tr')
    assert len(rows) == len(wanted)
    outs = []
    for row in rows:
        rung, good, out, _ = cells_of(row)
        match = re.fullmatch(r"(\S+) from (a start|\S+) (.+) harp, (\S+)", rung)
        assert match, rung
        tab, came_from, harp, place = match.groups()
        many, in_place, median = wanted.pop((tab, came_from, harp.replace("♭", "b"), place))
        assert good == f"{in_place} of {many}"
        assert near(out.split()[0], median)
        outs.append(median)
    assert outs == sorted(outs, reverse=True)
    assert wanted == {}


@pytest.mark.parametrize("player", PLAYERS, ids=lambda each: each.first_name)
def test_every_week_of_a_drawing_is_what_sql_makes_of_it(
    pages: dict[str, Any], book: Path, player: Any
) -> None:
    weeks = by_sql(book, player.name, "tab, came_from, harp, place, monday")
    cards = pages[player.name].xpath('//article[@class="card"]')
    assert len(cards) >= 4
    for card in cards:
        match = re.fullmatch(r"(\S+) from (\S+) (.+) harp, (\S+) position", words(card[0]))
        assert match, words(card[0])
        tab, came_from, harp, place = match.groups()
        key = (tab, came_from, harp.replace("♭", "b"), place)
        mine = sorted((each[-1], row) for each, row in weeks.items() if each[:-1] == key)
        rows = [cells_of(row) for row in card.xpath(".//tbody/tr")]
        points = card.xpath('.//circle[@class="week"]')
        bars = card.xpath('.//rect[@class="share"]')
        told = card.xpath(".//desc")[0].text
        assert len(rows) == len(points) == len(bars) == len(mine)
        for (monday, (many, good, out)), row, point, bar in zip(
            mine, rows, points, bars, strict=True
        ):
            day = date.fromisoformat(monday)
            assert said_date(day).startswith(row[0])
            assert near(row[1], out)
            assert row[2] == f"{good} of {many}"
            assert f"Week of {row[0]}: {row[1]} cents out, {row[2]} in place." in told
            # The drawing: 96 units for 60 cents, 32 for all tries of a week.
            assert (112 - float(point.get("cy"))) / 96 * 60 == pytest.approx(out, abs=0.05)
            assert float(bar.get("height")) / 32 == pytest.approx(good / many, abs=0.005)


@pytest.mark.parametrize("player", PLAYERS, ids=lambda each: each.first_name)
@pytest.mark.parametrize("by", ["register", "place", "came_from"])
def test_what_is_summed_up_is_what_sql_makes_of_it(
    pages: dict[str, Any], book: Path, player: Any, by: str
) -> None:
    wanted = by_sql(book, player.name, by)
    titles = {"register": "By register", "place": "By position", "came_from": "By the note before"}
    [table] = [each for each in pages[player.name].xpath("//table")
               if each.xpath(f'./caption[text()="{titles[by]}"]')]  # fmt: skip
    rows = [cells_of(row) for row in table.xpath("./tbody/tr")]
    assert {(row[0],) for row in rows} == set(wanted)
    for name, tries, share, out in rows:
        many, good, median = wanted[(name,)]
        assert int(tries) == many
        assert near(share.removesuffix("%"), 100 * good / many)
        assert near(out, median)


def test_the_head_of_the_page_has_takes_tries_and_days(pages: dict[str, Any], book: Path) -> None:
    with closing(sqlite3.connect(book)) as plain:
        rows = plain.execute(
            """SELECT name, COUNT(DISTINCT take.id), COUNT(*),
                      COUNT(DISTINCT substr(played, 1, 10)), MIN(played), MAX(played)
               FROM try JOIN take ON take.id = try.take JOIN student ON student.id = take.student
               WHERE verdict <> 'unclear' GROUP BY name"""
        ).fetchall()
    for name, takes, tries, days, first, last in rows:
        page = pages[name]
        assert words(page.xpath("//h1")[0]) == name
        said = [words(each) for each in page.xpath("//header//dd")]
        ends = [said_date(date.fromisoformat(each[:10])) for each in (first, last)]
        assert said == [str(takes), str(tries), str(days), *ends]
        assert f"{days} days in " in words(page.xpath('//section[@class="days"]/p')[0])
        assert len(page.xpath('//rect[@class="played"]')) == days


def test_the_tempo_of_a_drill_is_the_fastest_that_was_mastered(
    pages: dict[str, Any], book: Path
) -> None:
    """Nine notes of ten, by SQL; the tempo as it was heard, rounded."""
    with closing(sqlite3.connect(book)) as plain:
        rows = plain.execute(
            """SELECT name, drill, COUNT(*), MAX(CASE WHEN good >= 0.9 THEN tempo_heard END)
               FROM (SELECT name, drill, take.id, tempo_heard,
                            AVG(verdict IN ('on', 'near')) AS good
                     FROM try JOIN take ON take.id = try.take
                     JOIN student ON student.id = take.student GROUP BY take.id)
               GROUP BY name, drill"""
        ).fetchall()
    assert len(rows) >= 8
    for name, drill, takes, fastest in rows:
        figures = pages[name].xpath('//section[@aria-labelledby="tempi"]//figure')
        [figure] = [each for each in figures if words(each.xpath("./figcaption")[0]) == drill]
        said = words(figure.xpath("./p")[0])
        assert said.startswith(f"{takes} takes. Mastered at ")
        assert near(re.findall(r"at (\d+)", said)[-1], fastest)


# --- sentences ----------------------------------------------------------------------------------


def test_who_comes_nearer_is_told_so_and_the_others_are_counted() -> None:
    found = of_days(*[
        (day, [("-3''", "-2", 50.0 - 1.5 * day), ("-2", "-3''", 1.0 + day % 2)] * 3)
        for day in range(0, 28, 2)
    ])  # fmt: skip
    nearer, still, furthest = told_progress(found)
    # Days 0 to 6 are the first week, 22 to 26 the last, each with its own median.
    assert nearer == (
        "Nearer to its place: -3'' from -2 (C harp, 2nd), 46 cents out in its first week and 14 in "
        "its newest."
    )
    assert still == "The other rung shows no change that is sure and large enough to hear."
    assert furthest.startswith("Furthest out over all tries: -3'' from -2 (C harp, 2nd), 30 cents")
    assert furthest.endswith(", mostly 30 sharp; 14 in its newest week.")


def test_who_goes_further_out_is_told_so() -> None:
    found = of_days(*[(day, [("-3'", "-2", -5.0 - day)] * 3) for day in range(0, 28, 2)])
    assert told_progress(found)[0] == (
        "Further from its place: -3' from -2 (C harp, 2nd), 8 cents out in its first week and "
        "29 in its newest."
    )


def test_of_few_days_it_says_that_they_are_few() -> None:
    found = of_days((0, [("-3'", "-2", 20.0)]), (1, [("-3'", "-2", 9.0)]))
    first, second = told_progress(found)
    assert first == (
        "2 days of practice say nothing yet of a trend: a rung's way is told from 4 days on."
    )
    assert second.startswith("Furthest out over all tries: -3' from -2 (C harp, 2nd), 14 cents")


def test_of_nothing_heard_it_says_that() -> None:
    for found in (of_days(), of_days((0, []))):
        assert told_progress(found) == ["No note of a take was heard clearly yet."]
        page = progress_page(printable("Ada"), found).decode()
        assert "No note of a take was heard clearly yet." in page
        assert "<table" not in page


# --- drawings -----------------------------------------------------------------------------------


def test_rungs_stand_at_their_true_distance_and_tries_where_they_came_to_rest() -> None:
    """Draw 3 of a Richter harp has four notes a semitone apart (B, Bb, A and Ab on a C harp)."""
    tries: list[tuple[str, str | None, float | None]] = [
        ("-3", "-2", 0.0), ("-3'", "-2", 30.0), ("-3''", "-2", -50.0), ("-3'", "-2", None),
    ]  # fmt: skip
    [neck] = neck_charts(of_days((0, tries), (8, [("-3''", "-3", 10.0)])).cells)
    assert (neck.title, neck.where) == ("Hole 3 draw", "C harp, 2nd position")
    assert [(rung.tab, rung.note, rung.degree, rung.tried) for rung in neck.rungs] == [
        ("-3", "B", "3", True), ("-3'", "B♭", "♭3", True), ("-3''", "A", "2", True),
        ("-3'''", "A♭", "♭2", False),
    ]  # fmt: skip
    ys = [rung.y for rung in neck.rungs]
    semitone = ys[1] - ys[0]
    assert ys == [ys[0] + number * semitone for number in range(4)]
    dashes = {(round((each.y - ys[0]) / semitone * 100), each.newest): each.left
              for each in neck.dashes}  # fmt: skip
    # Cents under the highest rung; a try that was missed came to rest nowhere.
    assert set(dashes) == {(0, False), (70, False), (250, False), (190, True)}
    assert dashes[190, True] > dashes[250, False]  # a later week is further right
    assert neck.words == "-3: on it. -3': 30 cents above it. -3'': 50 cents below it, then 10 " \
        "cents above it."  # fmt: skip


def test_another_harp_another_position_and_another_tuning_have_necks_of_their_own() -> None:
    takes = [
        KeptTake({**take([("-3'", "-2", 9.0)], harp=harp, position=position), "tuning": tuning,
                  "recorded": f"2027-01-0{day}T18:00:00Z"})
        for day, (harp, position, tuning) in enumerate(
            [("C", 2, "richter"), ("C", 3, "richter"), ("A", 2, "richter"),
             ("C", 2, "natural-minor")], start=1
        )
    ]  # fmt: skip
    found = progress_of(PlayedTake(str(each.data["recorded"]), each) for each in takes)
    assert sorted(neck.where for neck in neck_charts(found.cells)) == [
        "A harp, 2nd position", "C harp, 2nd position", "C harp, 3rd position",
        "C natural minor harp, 2nd position",
    ]  # fmt: skip


def test_an_overblow_has_its_neck_with_both_notes_of_its_hole() -> None:
    [neck] = neck_charts(of_days((0, [("6^", "6", 12.0), ("6", None, 1.0)])).cells)
    assert [rung.tab for rung in neck.rungs] == ["6^", "-6", "6"]


def test_natural_notes_have_a_neck_where_they_can_sag_and_nothing_was_bent() -> None:
    """Draw 2 bends, blow 6 does not."""
    found = of_days((0, [("-2", None, -20.0), ("6", "-2", 1.0)]))
    assert [neck.title for neck in neck_charts(found.cells)] == ["Hole 2 draw"]


def test_the_line_of_a_trend_has_its_slope_and_lies_in_its_wedge() -> None:
    found = of_days(*[(day, [("-3''", "-2", 40.0 - day + (day % 3))] * 3) for day in range(28)])
    [cell] = found.cells
    chart = week_chart(cell)
    assert cell.trend is not None
    assert chart.certain
    assert chart.line is not None
    x1, y1, x2, y2 = chart.line
    cents = (y2 - y1) / (FLOOR - TOP) * -60
    assert cents / 3 == pytest.approx(cell.trend.cents_a_week, abs=0.05)  # three weeks apart
    outline = [tuple(map(float, each.split(","))) for each in chart.wedge.split()]
    half = len(outline) // 2
    upper, lower = outline[:half], outline[: half - 1 : -1]
    for at, y in ((0, y1), (-1, y2)):
        assert upper[at][1] <= y <= lower[at][1]
    ends = [(low[1] - high[1]) / (FLOOR - TOP) * 60 for high, low in zip(upper, lower, strict=True)]
    width = cell.trend.high - cell.trend.low  # cents a week
    middle = (cell.trend.middle_day - 3 - START.date().toordinal()) / 7  # weeks
    assert ends[0] == pytest.approx(width * middle, abs=0.2)
    assert ends[-1] == pytest.approx(width * (3 - middle), abs=0.2)
    assert (x1, x2) == (chart.points[0].x, chart.points[-1].x)


def test_a_drawing_of_one_week_and_of_tries_far_out_stays_in_its_frame() -> None:
    found = of_days((0, [("-3''", "-2", 400.0), ("-3''", "-2", None)]))
    chart = week_chart(found.cells[0])
    assert (chart.points[0].y, out_y(-5), out_y(700)) == (TOP, FLOOR, TOP)
    assert (chart.wedge, chart.line) == ("", None)
    [neck] = neck_charts(found.cells)
    assert all(6 <= each.y <= neck.height - 28 for each in neck.dashes)


def test_steps_of_tempo_go_up_on_the_day_a_tempo_was_mastered() -> None:
    good = [("-3'", "-2", 3.0)] * 10
    poor: Any = [("-3'", "-2", 40.0)] * 10
    takes = [(0, 50, good), (1, 70, poor), (2, 60, good), (3, 54, good)]
    kept = [KeptTake(take(tries, tempo=tempo, recorded=(START + timedelta(days=day)).isoformat()))
            for day, tempo, tries in takes]  # fmt: skip
    [tempi] = progress_of(
        PlayedTake(f"2027-01-0{number}T18:00:00Z", each) for number, each in enumerate(kept, 4)
    ).tempi
    chart = tempo_chart(tempi)
    assert [dot.mastered for dot in chart.dots] == [True, False, True, True]
    assert (chart.lowest, chart.highest) == (48, 68)  # as they were heard: two slower
    assert (chart.first_reached, chart.reached, chart.reached_on) == (48, 58, "6 Jan 2027")
    first, second, _, _ = (dot.y for dot in chart.dots)
    third = chart.dots[2]
    assert chart.steps == f"M{chart.dots[0].x:g} {first:g} H{third.x:g} V{third.y:g} H280"
    assert second < third.y < first


def test_a_day_lies_in_the_row_of_its_weekday_and_the_column_of_its_week() -> None:
    """4 January 2027 is a Monday, 13 January a Wednesday."""
    found = of_days((0, [("-3", "-2", 1.0)]), (9, [("-3", "-2", 2.0)]), (9.01, [("-3", "-2", 3.0)]))
    calendar = practice_calendar(found.practised)
    played = [(each.x, each.y, each.size) for each in calendar.days if each.size]
    assert played == [(43.0, 11.0, 6), (57.0, 39.0, 9)]
    assert calendar.words == "2 days in 2 weeks, 1.0 days a week."


def test_a_long_practice_shows_its_newest_weeks_and_tells_of_the_rest() -> None:
    found = of_days(*[(day, [("-3", "-2", day / 100)]) for day in range(0, 7 * 30, 7)])
    calendar = practice_calendar(found.practised)
    assert sum(each.size > 0 for each in calendar.days) == 18
    assert calendar.words.endswith("18 weeks are drawn; 12 of the days are before them.")


# --- when it is due again -----------------------------------------------------------------------

DAY = date(2027, 3, 1)
CURVES = [
    RetentionCurve("-3'' from -2", tuple((DAY + timedelta(n), 1 - n / 10) for n in range(9)),
                   due=DAY + timedelta(4)),
    RetentionCurve("<b>-2'</b>", ((DAY, 0.5),)),
    RetentionCurve("nothing known", ()),
]  # fmt: skip


def test_a_curve_goes_through_its_points_and_has_a_line_on_the_day_it_is_due() -> None:
    first, second = retention_charts(CURVES)
    places = [tuple(map(float, each.split())) for each in first.path[1:].split(" L")]
    assert places[0] == pytest.approx((40, 22))
    assert places[-1] == pytest.approx((290, 100 - 0.2 * 78), abs=0.1)
    assert first.due_x == places[4][0]
    assert first.due_words == "due 5 Mar"
    assert first.words == (
        "Played last on 1 Mar 2027. Due again on 5 Mar 2027, when it is 60% likely to be where it "
        "was."
    )
    assert (second.due_x, second.words) == (None, "Played last on 1 Mar 2027.")


def test_curves_are_on_the_page_where_there_are_any(book: Path) -> None:
    found = found_in(book, ADA)
    plain = progress_page(ADA, found)
    assert b"When it is due again" not in plain
    page = html.document_fromstring(progress_page(ADA, found, CURVES).decode())
    [section] = page.xpath('//section[@aria-labelledby="retention"]')
    assert [words(each) for each in section.xpath(".//figcaption")] == [
        "-3'' from -2",
        "<b>-2'</b>",
    ]
    assert len(section.xpath('.//path[@class="curve"]')) == 2
    assert len(section.xpath('.//line[@class="due"]')) == 1


def test_days_are_placed_by_their_distance() -> None:
    scale = scale_over([DAY, DAY + timedelta(10)], 0, 100)
    assert [scale.at((DAY + timedelta(n)).toordinal()) for n in (0, 3, 10)] == [0, 30, 100]
    assert [tick.words for tick in scale.ticks()] == ["1 Mar", "11 Mar"]
    over_new_year = scale_over([date(2026, 12, 30), date(2027, 1, 2)], 0, 1)
    assert [tick.words for tick in over_new_year.ticks()] == ["30 Dec 2026", "2 Jan 2027"]


# --- one file, and nobody else's program ----------------------------------------------------------


@pytest.mark.parametrize("text", HOSTILE_STUDENTS.values(), ids=HOSTILE_STUDENTS)
def test_a_strangers_text_adds_no_element_and_is_shown(text: str) -> None:
    days: list[Any] = [(day, [("-3'", "-2", 9.0 + day)] * 3) for day in range(5)]
    shown = printable(text)
    plain = html.document_fromstring(progress_page(printable("Ada"), of_days(*days)).decode())
    page = html.document_fromstring(progress_page(shown, of_days(*days, title=text)).decode())
    assert list(elements(page)) == list(elements(plain))
    attributes = [sorted(each.attrib) for each in page.iter() if isinstance(each.tag, str)]
    assert attributes == [sorted(each.attrib) for each in plain.iter() if isinstance(each.tag, str)]
    assert page.xpath("//h1/span")[0].text == shown
    assert page.xpath("//title")[0].text == f"{shown}: progress"
    assert shown in [each.text for each in page.xpath("//figcaption")]


def test_the_policy_lets_in_the_style_of_the_page_and_nothing_else(pages: dict[str, Any]) -> None:
    """CSP Level 3 (W3C), 6.7.2.3: a style is let in by the SHA-256 of its text."""
    for page in pages.values():
        check_policy(page)


def test_every_drawing_has_a_title_and_says_in_words_what_it_shows(pages: dict[str, Any]) -> None:
    for page in pages.values():
        drawings = page.xpath("//svg[not(@aria-hidden)]")
        assert len(drawings) > 8
        for each in drawings:
            title, description = (each.xpath(f"./{name}")[0] for name in ("title", "desc"))
            assert each.get("role") == "img"
            assert each.get("aria-labelledby").split() == [title.get("id"), description.get("id")]
            assert len(title.text) > 5
            assert len(description.text) > 5
        ids = page.xpath("//@id")
        assert len(ids) == len(set(ids))
        for table in page.xpath("//table"):
            assert set(table.xpath("./thead//th/@scope")) == {"col"}
            assert set(table.xpath("./tbody//th/@scope")) == {"row"}
            assert len(table.xpath("./tbody/tr")) == len(table.xpath("./tbody/tr/th"))


def test_the_same_book_makes_the_same_page(book: Path) -> None:
    assert progress_page(ADA, found_in(book, ADA)) == progress_page(ADA, found_in(book, ADA))


def test_years_of_practice_make_a_page_that_can_still_be_opened() -> None:
    """Daily tries for three years, on the same place: nothing is said to have moved by chance."""
    chance = Random(3)
    days = [(float(day), [("-3''", "-2", round(chance.gauss(18, 9), 1))] * 2)
            for day in range(3 * 365)]  # fmt: skip
    found = of_days(*days)
    first, *_ = told_progress(found)
    assert first == "1 rung shows no change that is sure and large enough to hear."
    page = progress_page(printable("Ada"), found)
    assert len(page) < 200_000
    [card] = html.document_fromstring(page.decode()).xpath('//article[@class="card"]')
    points = card.xpath('.//circle[@class="week"]')
    assert len(points) == len(found.cells[0].weeks) == 157
    apart = float(points[1].get("cx")) - float(points[0].get("cx"))
    assert 2 * float(points[0].get("r")) <= apart + 0.2


@pytest.mark.parametrize(
    ("slope", "low", "high", "said", "within"),
    [
        (-5.27, -6.14, -4.61, "5.3 nearer", "4.6 to 6.1"),
        (2.04, 0.31, 4.0, "2.0 further out", "0.3 to 4.0"),
        (-0.5, -1.8, 0.2, "no sure change", "\N{MINUS SIGN}1.8 to +0.2"),
        (-0.01, -0.02, -0.001, "hardly any change", ""),
        (-0.01, -0.3, 0.04, "no sure change", "\N{MINUS SIGN}0.3 to 0.0"),
    ],
)
def test_a_trend_is_said_with_its_direction_and_its_interval(
    slope: float, low: float, high: float, said: str, within: str
) -> None:
    [cell] = of_days(*[(day, [("-3'", "-2", 9.0)]) for day in range(5)]).cells
    trend = Trend(slope, low, high, middle_day=740_000.0, middle_cents=9.0)
    assert trend_words(replace(cell, trend=trend)) == said
    assert interval_words(trend) == within


def test_a_rung_of_few_days_has_no_trend_in_words() -> None:
    [cell] = of_days((0, [("-3'", "-2", 9.0)])).cells
    assert trend_words(cell) == "only 1 day: too few to tell"
    assert interval_words(cell.trend) == ""
