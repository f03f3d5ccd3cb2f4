"""The command that places a player: the ten tasks, a level from takes or a book, and the path."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from hearing.takes import recorded
from reedmill.cli.commands import cli
from reedmill.harp import Harp
from reedmill.record import KeptTake, open_book
from simulated_players import Player, as_heard
from taken import take


@pytest.fixture(autouse=True)
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def said(*words: str, code: int = 0) -> str:
    result = CliRunner().invoke(cli, ["place", *words])
    assert result.exit_code == code, result.output
    return result.stderr if code else result.stdout


def data(*words: str) -> Any:
    return json.loads(said(*words, "--json"))


def keep(player: Player, numbers: range = range(1, 11), harp: str = "C") -> None:
    """Put the takes of *player* into a book, as Ada's."""
    takes = [KeptTake(as_heard(*each)) for number, each in player.takes(Harp.parse(harp)).items()
             if number in numbers]  # fmt: skip
    with open_book(Path("class.book"), new=True) as book:
        book.add("Ada", takes, datetime.now(UTC))


ADA = ("--student", "Ada", "--book", "class.book")


def test_the_ten_tasks_are_shown_and_how_to_play_them_without_harm() -> None:
    rows = data()["tasks"]
    assert [row["task"] for row in rows] == list(range(1, 11))
    assert all(row["seconds"] < 20 for row in rows)
    text = " ".join(said("--harp", "low F").split())
    for row in rows:
        assert row["title"] in text
        assert row["take"] in text
    assert 'reedmill place recordings --harp "low F"' in text
    assert "stop when you feel dizzy" in text
    assert "a teacher or a doctor" in text


def test_a_folder_of_takes_is_placed_though_two_files_are_not_takes_of_them() -> None:
    """Of a player of level 1 who stops where nothing comes: one file is no sound, one task 2."""
    folder = Path("recordings")
    folder.mkdir()
    takes = Player(1, 1).takes(Harp("A"))
    for number, (score, played) in takes.items():
        recorded(folder, f"Task {number}", score, played)
    recorded(folder, "Task 10", *takes[2])
    (folder / "Task 9.wav").write_bytes(b"RIFF")
    result = CliRunner().invoke(cli, ["place", "recordings", "--harp", "A", "--json"])
    assert result.exit_code == 2
    assert "Task 9.wav" in result.stderr
    assert "Record that task once more." in result.stderr
    found = json.loads(result.stdout)
    assert (found["level"], found["harp"], found["register"]) == (1, "A", "low")
    assert [each["outcome"] for each in found["tasks"][:2]] == ["passed", "passed"]
    assert found["tasks"][8]["outcome"] == "not-told"
    assert found["path"][0]["harp"] == "A"


def test_a_student_is_placed_by_the_takes_in_the_book() -> None:
    keep(Player(3, 2))
    found = data(*ADA, "--steps", "500")
    assert (found["student"], found["level"]) == ("Ada", 3)
    assert found["drills"] == len(found["path"])
    assert {each["level"] for each in found["path"]} >= {3, 4}
    text = said(*ADA)
    assert text.startswith("Ada: level 3, by ")
    flat = " ".join(text.split())
    assert "A task is passed with seven of ten" in flat
    assert f"the first 12 of {found['drills']} drills, on a C harp, 2nd position" in flat
    assert "a teacher or a doctor" in flat


def test_what_was_not_played_is_said_and_not_made_up() -> None:
    keep(Player(5, 1), range(1, 4))
    flat = " ".join(said(*ADA).split())
    assert flat.startswith("Ada: level 2, by 3 of the ten tasks")
    assert "Nothing above level 2 was heard, so it may be more." in flat
    assert "Could not be told: task 4 (no take of it)," in flat
    assert data(*ADA)["level"] == 2


def test_whoever_knows_the_level_gets_the_path_alone() -> None:
    found = data("--level", "2", "--position", "3rd, 2nd", "--harp", "F", "--steps", "20")
    assert (found["between"], found["tasks"], found["positions"]) == (None, [], [3, 2])
    assert {each["level"] for each in found["path"]} <= {2, 3}
    assert len(found["path"]) == 20
    assert said("--level", "2").startswith("From level 2\n")
    assert {each["position"] for each in found["path"]} <= {2, 3}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("x.wav", "--level", "2"), "takes and --level do not go together"),
        (("x.wav", "--student", "Ada"), "reedmill hear takes --student Ada"),
        (("--level", "2", "--out", "tasks"), "--level and --out do not go together"),
        (("--book", "class.book"), "Name the student: --student Ada"),
        (("--position", "3"), "the ten tasks are alike in every position"),
        (("--level", "6"), "--level goes from 1 to 5; 6 is not in it."),
        (("--steps", "0"), "--steps goes from 1 to 500; 0 is not in it."),
        (("",), "the name of a take is empty"),
        (("gone.wav",), "gone.wav"),
        (ADA, "has played none of the ten tasks yet"),
    ],
)
def test_what_is_asked_wrongly_is_answered(words: tuple[str, ...], message: str) -> None:
    with open_book(Path("class.book"), new=True) as book:
        book.add("Ada", [KeptTake(take([("-3'", "-2", 4.0)]))], datetime.now(UTC))
    assert message in " ".join(said(*words, code=2).split())


def test_tones_are_not_taken_for_a_player() -> None:
    """Else whoever puts both into one folder is of level 5."""
    made = CliRunner().invoke(cli, ["make", "Task 6, both bends of draw 2", "--to", "wav"])
    assert made.exit_code == 0, made.output
    [tones] = Path("output").glob("*.wav")
    shutil.copy(tones, "task-6.wav")
    assert "these are the tones of the task" in " ".join(said("task-6.wav", code=2).split())


def test_sheets_and_tones_of_the_tasks_are_made_once_and_not_over_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of two of them: the others are made alike."""
    from reedmill import library

    two = library.placement_tasks()[2:4]
    monkeypatch.setattr(library, "placement_tasks", lambda: two)
    text = said("--harp", "low F", "--out", "tasks")
    names = sorted(path.name for path in Path("tasks").glob("task*"))
    assert [Path(name).suffix for name in names] == [".pdf", ".wav"] * 2
    for name in names:
        assert f"tasks/{name}" in text


def test_the_page_of_where_to_begin_runs(capsys: pytest.CaptureFixture[str]) -> None:
    """Its commands but the one that draws ten sheets, which has a test above, and its Python."""
    page = (Path(__file__).parents[2] / "docs" / "PLACE.md").read_text("utf-8")
    Path("recordings").mkdir()
    for number, (score, played) in list(Player(2, 1).takes(Harp("C")).items())[2:4]:
        recorded(Path("recordings"), f"task-{number}", score, played)
    heard = ("hear", "recordings", "--harp", "C", "--student", "Ada")
    assert CliRunner().invoke(cli, heard).exit_code == 0
    commands = [re.split("  +", line)[0] for line in page.splitlines()
                if line.startswith("reedmill place")]  # fmt: skip
    commands = [line.removesuffix(" on a high harp, and more of it") for line in commands]
    assert len(commands) == 7
    for line in commands[1:]:
        result = CliRunner().invoke(cli, shlex.split(line)[1:])
        assert (result.exit_code, result.stderr) == (0, ""), result.output
    [code] = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    exec(compile(code, "PLACE.md", "exec"), {})  # noqa: S102  our own page
    assert capsys.readouterr().out.startswith("2 (2, 2) [")


def test_the_table_of_the_page_has_the_tasks_as_they_are() -> None:
    page = (Path(__file__).parents[2] / "docs" / "PLACE.md").read_text("utf-8")
    rows = re.findall(r"^\| (\d) \| (\d+, [^|]+) \| ([^|]+) \|$", page, re.MULTILINE)
    found = [
        (int(level), f"Task {title}", re.findall("`(.+?)`", asks)) for level, title, asks in rows
    ]
    wanted = [(row["level"], row["title"], row["asks"]) for row in data()["tasks"]]
    assert [(level, title) for level, title, _ in found] == [each[:2] for each in wanted]
    assert [asks for _, _, asks in found[2:]] == [asks for _, _, asks in wanted[2:]]
