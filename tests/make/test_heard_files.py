"""Sheets and pictures of takes as files, from the command that hears them."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pypdfium2
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from hearing import takes
from hearing.evaluation import score_of
from reedmill.cli import cli
from reedmill.formats.schemas import DOCUMENTS
from reedmill.make.heard_files import heard_kinds

HOME = "Home from every rung"
SCORE = score_of(HOME, "C")


def sharp(index: int) -> float:
    return 36.0 if index in (3, 9) else 0.0


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("takes")
    return takes.recorded(folder, "Monday evening", SCORE, takes.played(SCORE, sharp), "aac")


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, list(map(str, words)))


def text_of(pdf: Path) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(page.get_textpage().get_text_bounded() for page in document)


def test_a_take_leaves_a_marked_sheet_and_a_picture(take: Path, tmp_path: Path) -> None:
    done = run("hear", take, "--drill", HOME, "--to", "picture, sheet", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    base = "home-from-every-rung-c-2nd"
    names = {each.name for each in tmp_path.iterdir() if not each.name.startswith(".")}
    assert names == {
        f"{base}-heard-in-monday-evening.pdf",
        *(f"{base}-picture-of-monday-evening.{ending}" for ending in ("png", "svg")),
    }
    assert all(name in done.output.replace("\n", "") for name in names)
    words = text_of(tmp_path / f"{base}-heard-in-monday-evening.pdf")
    assert "heard in Monday evening.m4a" in words
    assert words.count("+36") + words.count("+35") + words.count("+37") == 2
    with Image.open(tmp_path / f"{base}-picture-of-monday-evening.png") as png:
        assert png.width > 1000


def test_the_same_take_has_its_files_again_and_another_of_its_name_has_its_own(
    take: Path, tmp_path: Path
) -> None:
    asked = ("--drill", HOME, "--to", "sheet", "--out", tmp_path / "made", "--json")
    first = json.loads(run("hear", take, *asked).stdout)["files"]
    again = json.loads(run("hear", take, *asked).stdout)["files"]
    (tmp_path / "tuesday").mkdir()
    other = tmp_path / "tuesday" / take.name
    other.write_bytes(take.read_bytes())
    third = json.loads(run("hear", other, *asked).stdout)["files"]
    assert [each["file"] for each in first] == [each["file"] for each in again]
    assert third[0]["file"].endswith("-heard-in-monday-evening-2.pdf")


def test_the_files_are_named_in_json_as_the_schema_has_it(take: Path, tmp_path: Path) -> None:
    done = run("hear", take, "--drill", HOME, "--to", "sheet", "--out", tmp_path, "--json")
    data = json.loads(done.stdout)
    jsonschema.validate(data, DOCUMENTS["hear"])
    [made] = data["files"]
    assert made["kind"] == "sheet"
    assert Path(made["file"]).read_bytes().startswith(b"%PDF")


def test_a_file_of_someone_else_is_left_as_it_is(take: Path, tmp_path: Path) -> None:
    mine = tmp_path / "home-from-every-rung-c-2nd-heard-in-monday-evening.pdf"
    mine.write_bytes(b"my own")
    asked = ("hear", take, "--drill", HOME, "--to", "sheet", "--out", tmp_path)
    done = run(*asked)
    assert done.exit_code == 2
    assert "no note of having made it" in " ".join(done.output.split())
    assert mine.read_bytes() == b"my own"
    assert run(*asked, "--replace").exit_code == 0
    assert mine.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--to", "sheat"), 'there is no kind of file "sheat". Did you mean "sheet"?'),
        (("--out", "monday"), "--out is where files go, and none are asked for."),
        (("--to", "sheet", "--harp-test"), "--to is for takes of a drill."),
        (("--to", "sheet", "--paper", "a3"), 'there is no paper "a3".'),
    ],
)
def test_what_cannot_be_made_is_said_before_anything_is_heard(
    take: Path, words: tuple[str, ...], said: str
) -> None:
    drill = () if "--harp-test" in words else ("--drill", HOME)
    done = run("hear", take, *drill, *words)
    assert done.exit_code == 2
    assert said in " ".join(done.output.split())


def test_kinds_are_made_once_and_in_one_order() -> None:
    assert heard_kinds("picture,sheet,picture") == ("sheet", "picture")
