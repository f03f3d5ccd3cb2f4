"""README is true: its commands run, its links lead somewhere, its pictures are of today's pages.

The pictures are drawn again by PDFium (pypdfium2), another program than the one that made them.
"""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner
from PIL import Image, ImageChops, ImageStat

from reedmill.cli import cli
from reedmill.language import parse

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```", README, re.DOTALL | re.MULTILINE)
COMMANDS = [
    re.split(r"\s{2,}", line)[0]
    for _, block in BLOCKS
    for line in block.splitlines()
    if line.startswith("reedmill ")
]
SAMPLE = ROOT / "output" / "sample"


def test_readme_shows_every_command() -> None:
    said = {shlex.split(line)[1] for line in COMMANDS} | set(re.findall(r"`reedmill (\w+)", README))
    assert said >= set(cli.commands)
    assert len(COMMANDS) > 15


@pytest.mark.parametrize("line", COMMANDS)
def test_the_commands_of_readme_run(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(ROOT / "courses", "courses")
    words = shlex.split(line)[1:]
    if words[0] == "make" and "--to" not in words:
        words += ["--to", "midi,wav,tab"]
    if words[0] == "pack":
        words += ["--plan"]  # building it takes minutes, and has tests of its own
    result = CliRunner().invoke(cli, words)
    assert result.exit_code == 0, result.output
    assert result.stdout


def test_its_links_lead_to_files() -> None:
    links = re.findall(r"\]\((?!https?:)([^)#]+)", README)
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_its_drills_forms_and_mistakes_are_what_it_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    texts = [block for _, block in BLOCKS]
    [drill] = [text for text in texts if text.startswith("drill ")]
    assert parse(drill)[0].title == "Home from every rung"
    [form] = [text for text in texts if text.startswith("form ")]
    Path("mine.form").write_text(form, "utf-8")
    result = CliRunner().invoke(cli, ["backing", "--form", "mine.form", "--to", "text"])
    assert result.exit_code == 0, result.output
    [mistake] = [text for text in texts if text.startswith("mine.drill:")]
    Path("mine.drill").write_text(
        "drill \"One\"\n  anchor -2\n  rungs -4 -4' -5'\n  phrase anchor rung\n", "utf-8"
    )
    assert CliRunner().invoke(cli, ["check", "mine.drill"]).stderr == mistake


def test_its_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    [code] = [block for language, block in BLOCKS if language == "python"]
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102  our own page
    made = {path.suffix for path in Path("output").iterdir()}
    assert made == {".pdf", ".wav"}


def made_like(pdf: Path) -> list[str]:
    """The command of ``scripts/sample`` that made *pdf*, after the name of the program."""
    script = (ROOT / "scripts" / "sample").read_text("utf-8").replace("\\\n", " ")
    commands = [shlex.split(each) for each in re.findall(r'bin/reedmill" (.*)', script)]
    titles = {re.sub(r"[^a-z]+", "-", word.lower()): each for each in commands for word in each}
    return next(each for title, each in titles.items() if pdf.name.startswith(title + "-"))


@pytest.mark.parametrize("pdf", sorted(SAMPLE.glob("*.pdf")), ids=lambda path: path.stem)
def test_its_pictures_are_of_the_pages_made_today(
    pdf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    command = made_like(pdf)
    assert CliRunner().invoke(cli, command).exit_code == 0
    made = Path("output/sample") / pdf.name
    assert made.read_bytes() == pdf.read_bytes(), "run scripts/sample"
    picture = Image.open(pdf.with_suffix(".png")).convert("L")
    with pypdfium2.PdfDocument(made) as document:
        drawn = document[0].render(scale=100 / 72).to_pil().convert("L").crop((0, 0, *picture.size))
    blank = Image.new("L", picture.size, 255)
    ink, blurred = (
        ImageStat.Stat(ImageChops.difference(other, picture)).mean[0] for other in (blank, drawn)
    )
    assert blurred < 0.4 * ink  # two programs blur edges differently
