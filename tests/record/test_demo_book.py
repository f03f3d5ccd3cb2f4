"""A book of invented players: what they play is in the library, and their weak places come out."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from reedmill.cli import cli
from reedmill.ear import TAKE_SCHEMA
from reedmill.expand.breath import without_breaths
from reedmill.expand.expansion import expand
from reedmill.harp import Harp
from reedmill.harp.harp_registers import REGISTERS, register
from reedmill.library import find_drills
from reedmill.record import KeptTake, StudentProgress, StudentTakes, progress_of
from reedmill.record.demo_book import DRILLS, PLAYERS, WEEKS, DemoPlayer, WeakPlace, demo_takes
from reedmill.record.record_book import PlayedTake
from reedmill.theory.positions import Position

NOW = datetime(2027, 3, 1, 0, 7, 30, tzinfo=UTC)  # soon after midnight


@cache
def taken(seed: int = 1) -> list[StudentTakes]:
    return demo_takes(NOW, seed)


@pytest.fixture(scope="module")
def made() -> list[StudentTakes]:
    return taken()


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, list(words))


def moments(takes: StudentTakes) -> list[datetime]:
    return [each.recorded for each in takes.takes if each.recorded is not None]


def progress(takes: tuple[KeptTake, ...]) -> StudentProgress:
    return progress_of(PlayedTake(str(each.data["recorded"]), each) for each in takes)


def test_the_players_play_drills_of_the_library_as_it_has_them() -> None:
    pieces = {(piece.drill, piece.harp, piece.position)
              for player in PLAYERS for piece in player.pieces}  # fmt: skip
    assert {drill for drill, _, _ in pieces} == set(DRILLS)
    for drill, harp, position in pieces:
        [found] = find_drills(drill.title)
        # as it is written: its players may play through a breath
        score = without_breaths(expand(found, Harp.parse(harp), Position(position)))
        assert drill.tempo == score.tempo_bpm
        assert drill.notes == [(note.reed, float(note.length)) for note in score.notes]
        anchors = [note.reed.tab for note in score.notes if note.role.value == "anchor"]
        assert set(anchors) == {drill.tabs.split()[0]}
    assert {register(Harp.parse(harp)) for _, harp, _ in pieces} == set(REGISTERS)
    assert sum(position == 2 for *_, position in pieces) > 0.8 * len(pieces)


def test_every_take_is_valid_by_the_schema_of_takes(made: list[StudentTakes]) -> None:
    check = jsonschema.Draft202012Validator(TAKE_SCHEMA)
    takes = [take for each in made for take in each.takes]
    assert len(takes) > 200
    for take in takes:
        assert list(check.iter_errors(take.data)) == []
    verdicts = {each.verdict.value for take in takes for each in take.tries}
    assert verdicts == {"on", "near", "sharp", "flat", "another-note", "missed"}
    heard = [note for take in takes for one in take.data["passes"] for note in one["notes"]]
    assert all(note["start_s"] < note["end_s"] for note in heard if note["start_s"] is not None)


def test_each_practises_three_or_four_days_a_week_up_to_this_hour(
    made: list[StudentTakes],
) -> None:
    for each in made:
        at = moments(each)
        assert at == sorted(at)
        assert at[-1] == NOW.replace(microsecond=0)
        back = [(NOW.date() - moment.date()).days for moment in at]
        for week in range(WEEKS):
            days = {day for day in back if week * 7 <= day < (week + 1) * 7}
            assert len(days) in (3, 4)
        assert max(back) < WEEKS * 7


def cells(found: StudentProgress, place: WeakPlace) -> list[tuple[bool, float]]:
    """Of each cell of a place: whether it certainly comes nearer, and how far it is out."""
    there = [
        each for each in found.cells
        if (each.cell.tab, each.cell.came_from, each.cell.register)
        == (place.tab, place.came_from, place.register)
    ]  # fmt: skip
    return [
        (each.trend is not None and each.trend.certain and each.trend.cents_a_week < 0,
         each.out_cents) for each in there
    ]  # fmt: skip


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("player", PLAYERS, ids=lambda player: player.first_name)
def test_the_weak_places_that_are_known_come_out_and_come_nearer(
    player: DemoPlayer, seed: int
) -> None:
    [takes] = [each.takes for each in taken(seed) if each.student == player.name]
    found = progress(takes)
    weak = [cell for place in player.weak for cell in cells(found, place)]
    assert len(weak) == len(player.weak)
    assert all(nearer for nearer, _ in weak)
    put_in = [cell for place in (*player.weak, *player.stays) for cell in cells(found, place)]
    worst = sorted((each.out_cents for each in found.cells), reverse=True)[: len(put_in)]
    assert sorted((out for _, out in put_in), reverse=True) == worst
    for place in player.stays:
        [(nearer, out)] = cells(found, place)
        assert not nearer
        assert abs(out - abs(place.last_cents)) < 4


def test_the_last_week_is_where_the_simulation_says() -> None:
    """Medians of the last fortnight's tries against the cents that were put in."""
    for each, player in zip(taken(), PLAYERS, strict=True):
        late = [take for take in each.takes
                if take.recorded and take.recorded > NOW - timedelta(days=14)]  # fmt: skip
        found = progress(tuple(late))
        for place in player.weak:
            for cell in found.cells:
                key = (cell.cell.tab, cell.cell.came_from, cell.cell.register)
                if key == (place.tab, place.came_from, place.register):
                    assert cell.median_cents is not None
                    assert abs(cell.median_cents - place.last_cents) < 8


def test_the_same_seed_makes_the_same_takes_and_another_one_others() -> None:
    texts = [[take.text for each in demo_takes(NOW, seed) for take in each.takes]
             for seed in (1, 1, 2)]  # fmt: skip
    assert texts[0] == texts[1]
    assert not set(texts[0]) & set(texts[2])


def test_every_name_says_that_it_is_a_simulation(made: list[StudentTakes]) -> None:
    names = [each.student for each in made]
    assert 3 <= len(set(names)) <= 4
    assert all("simulated" in name for name in names)


def test_a_book_of_them_is_made_where_there_is_none(tmp_path: Path) -> None:
    place = tmp_path / "new folder" / "demo.book"
    said = run("record", "demo", "--book", str(place))
    assert said.exit_code == 0
    assert said.stdout.startswith(f"{place}: 4 invented players, ")
    assert place.stat().st_mode & 0o777 == 0o600
    assert list(place.parent.iterdir()) == [place]
    [line] = [line for line in said.stdout.splitlines() if line.startswith("Look at one: ")]
    assert '"Ada (simulated)"' in line
    shown = run("progress", "Ada (simulated)", "--book", str(place))
    assert shown.exit_code == 0
    assert "nearer" in shown.stdout
    listed = run("record", "list", "--book", str(place), "--json")
    again = tmp_path / "again.book"
    made = run("record", "demo", "--book", str(again), "--json")
    whole = [json.loads(each.stdout)["students"] for each in (listed, made)]
    assert [row["name"] for row in whole[0]] == [row["name"] for row in whole[1]]


def test_nothing_is_added_to_a_book_or_file_that_is_there(tmp_path: Path) -> None:
    place = tmp_path / "mine.book"
    assert run("record", "demo", "--book", str(place)).exit_code == 0
    (tmp_path / "letter.txt").write_text("Dear Ada", "utf-8")
    (tmp_path / "leads nowhere").symlink_to(tmp_path / "none")
    for name in ("mine.book", "letter.txt", "leads nowhere", "."):
        there = tmp_path / name
        before = there.read_bytes() if there.is_file() else None
        refused = run("record", "demo", "--book", str(there))
        assert (refused.exit_code, refused.stdout) == (2, "")
        assert "is there already, and invented players are never added" in refused.stderr
        assert before is None or there.read_bytes() == before
    assert not (tmp_path / "none").exists()


def test_without_a_book_the_usual_one_is_not_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    refused = run("record", "demo")
    assert refused.exit_code == 2
    assert "Name a new file for it: reedmill record demo --book demo.book" in refused.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("more", [["Ada"], ["--student", "Ada"], ["--out", "all.json"]])
def test_what_a_demo_book_cannot_use_is_refused(more: list[str], tmp_path: Path) -> None:
    place = tmp_path / "demo.book"
    refused = run("record", "demo", *more, "--book", str(place))
    assert refused.exit_code == 2
    assert "takes nothing but the name of the book" in refused.stderr
    assert not place.exists()
