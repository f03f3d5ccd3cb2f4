"""``reedmill progress`` says on the terminal what its page says, in the same words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from lxml import html

from reedmill.cli import cli
from reedmill.cli.progressing import moving_words
from reedmill.record import open_book
from reedmill.record.kept_take import KeptTake
from reedmill.record.rung_progress import CellProgress, RungCell, Trend
from reedmill.score.verdicts import Tolerance
from taken import take

START = datetime(2027, 1, 4, 18, tzinfo=UTC)
NOW = datetime(2028, 1, 1, tzinfo=UTC)
CELL = RungCell("-3''", "-2", "C", "middle", 2)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "120")
    return tmp_path


def kept(*days: Sequence[tuple[str, str | None, float | None]]) -> None:
    """Keep a take of each of *days*, two days apart."""
    with open_book(Path("class.book"), new=True) as book:
        for number, tries in enumerate(days):
            at = (START + timedelta(days=2 * number)).isoformat()
            book.add("Ada", [KeptTake(take(tries, recorded=at))], NOW)


def said(*words: str) -> str:
    result = CliRunner().invoke(cli, ["progress", *words, "--book", "class.book"])
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def moved(trend: Trend | None) -> str:
    return moving_words(CellProgress(CELL, 9, 3.0, 2.0, 12.0, 5, 9, "2027-02-01", (), trend))


@pytest.mark.parametrize(
    ("trend", "words"),
    [
        (Trend(-5.3, -6.1, -4.6, 0, 0), "5.3 nearer (4.6 to 6.1)"),
        (Trend(5.3, 4.6, 6.1, 0, 0), "5.3 further out (4.6 to 6.1)"),
        (Trend(-1.2, -2.6, -0.02, 0, 0), "1.2 nearer (0.0 to 2.6)"),
        (Trend(-1.2, -2.6, 0.02, 0, 0), "no sure change (\u22122.6 to 0.0)"),
        (Trend(0.8, -0.02, 2.6, 0, 0), "no sure change (0.0 to +2.6)"),
        (Trend(0.0, 0.0, 0.0, 0, 0), "no sure change"),
        (None, "only 9 days: too few to tell"),
    ],
)
def test_a_way_nearer_is_given_in_cents_nearer_and_nothing_is_less_than_nothing(
    trend: Trend | None, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reedmill.cli.progressing.can_show", lambda _: True)
    assert moved(trend) == words
    monkeypatch.setattr("reedmill.cli.progressing.can_show", str.isascii)
    assert moved(trend) == words.replace("\u2212", "-")


def test_the_terminal_says_of_each_rung_what_the_page_says() -> None:
    kept(*(
        [("-3'", "-2", 50.0 - 4 * day), ("-2'", "-2", 5.0 + 3 * day),
         ("-4'", "4", 20.0 if day % 2 else 5.0), ("-2", "-3'", 4.0)]
        for day in range(8)
    ))  # fmt: skip
    lines = said("--to", "page").splitlines()
    page = html.fromstring(Path("output/progress-ada.html").read_text("utf-8"))
    cells = [" ".join(each.text_content().split()) for each in page.xpath('//td[@class="way"]')]
    assert len(cells) == 4
    assert {each.split(" (")[0].split(maxsplit=1)[-1] for each in cells} >= {
        "nearer", "further out", "sure change",
    }  # fmt: skip
    shown = "\n".join(lines).replace("\u2212", "-")
    for each in cells:
        assert each.replace("\u2212", "-") in shown
    assert "-0.0" not in shown


def test_the_foot_says_what_the_figures_mean() -> None:
    kept([("-3'", "-2", 12.0)])
    assert said().splitlines()[-3:] == [
        f"in place: within {Tolerance().near_cents:.0f} cents, or as the take's tolerance said.",
        "out: how far it was out, in cents, whichever way; week by week, higher is further out.",
        "a week: how many cents it comes nearer; in brackets, the 90% range.",
    ]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (0, None),
        (1, "1 rung nearer to its place is not shown; --json has it."),
        (2, "2 rungs nearer to their places are not shown; --json has them."),
    ],
)
def test_the_rungs_that_are_not_shown_are_counted(more: int, words: str | None) -> None:
    tabs = [f"{breath}{hole}" for hole in range(1, 11) for breath in ("", "-")]
    tries: list[tuple[str, str | None, float | None]] = [(tab, None, 9.0) for tab in tabs]
    kept([*tries, *[(tab, "5", 2.0) for tab in tabs[:more]]])
    told = [each for each in said().splitlines() if "not shown" in each]
    assert told == ([words] if words else [])
