"""README is true: its commands run, its links lead somewhere, its pictures are of today's pages.

The pictures are drawn again by PDFium (pypdfium2), another program than the one that made them.
"""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import click
import pypdfium2
import pytest
from click.testing import CliRunner
from PIL import Image, ImageChops, ImageFilter, ImageStat

from hearing.evaluation import score_of
from hearing.takes import played, recorded, reeds
from oracles import sounding
from reedmill.band.phrased import ChorusPlan, phrased
from reedmill.cli import cli
from reedmill.harp import Harp, OwnHarp, OwnReeds, layout_named
from reedmill.harp.layouts import LAYOUTS
from reedmill.harp.own_harp import own_harp_text
from reedmill.language import parse
from reedmill.library import shipped, shipped_phrases, topics
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.shipped_courses import find_course
from reedmill.pack.course.tasks import Task, charts, tasks
from reedmill.theory.positions import Position
from taken import kept_in, take

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```", README, re.DOTALL | re.MULTILINE)
COMMANDS = [
    line.partition(" # ")[0].rstrip()
    for _, block in BLOCKS
    for line in block.splitlines()
    if line.startswith("reedmill ")
]
[TUNING] = [block for language, block in BLOCKS if language == "toml"]
SAMPLE = ROOT / "output" / "sample"


def test_readme_shows_every_command() -> None:
    said = {shlex.split(line)[1] for line in COMMANDS} | set(re.findall(r"`reedmill (\w+)", README))
    assert said >= set(cli.commands)
    assert len(COMMANDS) > 15


def record_takes(words: list[str]) -> None:
    """The recordings that a command names: of its drill, of its choruses, or of a whole harp."""
    score = score_of("Home from every rung", "C")
    if "--phrases" in words:
        plan = ChorusPlan(words[words.index("--over") + 1], seed=int(words[-1]))
        phrases = [each.drill for each in shipped_phrases()]
        score = phrased(phrases, Harp("C"), Position(2), plan).score
    notes = reeds(Harp("C"), {}) if "--harp-test" in words else played(score)
    take = recorded(Path(), "take", score, notes, "aac")
    Path("takes").mkdir()
    for place in (words[1], "takes/monday.m4a"):
        if place != "takes":
            shutil.copy(take, place)


def fill_books() -> None:
    """What a practice page exported, and the usual record book with a take of Ada."""
    Path("exported").mkdir()
    kept_in(Path("exported/ben.json"), [take([("-3'", "-2", 4.0)])])
    ada = str(kept_in(Path("ada.json"), [take([("-3''", "-3'", None)])]))
    added = CliRunner().invoke(cli, ["record", "add", ada, "--student", "Ada"])
    assert added.exit_code == 0, added.output


@pytest.mark.parametrize("line", COMMANDS)
def test_the_commands_of_readme_run(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(ROOT / "courses", "courses")
    Path("raised-three.toml").write_text(TUNING, "utf-8")
    words = shlex.split(line)[1:]
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    if words[0] == "hear":
        record_takes(words)
    if words[0] in ("record", "progress", "class", "next"):
        fill_books()
    if "--my-harp" in words:
        own = OwnHarp("C", "richter", 441.0, OwnReeds.of("my-harp", {}))
        Path("my-harp.toml").write_text(own_harp_text(own), "utf-8")
    if words[0] == "make" and "--to" not in words:
        words += ["--to", "midi,wav,tab"]
    if words[0] == "pack":
        words += ["--plan"]  # building it takes minutes, and has tests of its own
    result = CliRunner().invoke(cli, words)
    assert result.exit_code == 0, result.output
    assert result.stdout


def test_the_page_of_the_record_book_runs_and_says_where_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    page = (ROOT / "docs" / "RECORD_BOOK.md").read_text("utf-8")
    fill_books()
    kept_in(Path("takes.json"), [take([("-3", "-2", 9.0)])])
    assert CliRunner().invoke(cli, ["record", "export", "--out", "everything.json"]).exit_code == 0
    commands = [line.partition("   ")[0] for line in page.splitlines()
                if line.startswith("reedmill record add")]  # fmt: skip
    assert len(commands) == 3
    for line in commands:
        result = CliRunner().invoke(cli, shlex.split(line)[1:])
        assert result.exit_code == 0, result.output
    [code] = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    exec(compile(code, "RECORD_BOOK.md", "exec"), {})  # noqa: S102  our own page
    assert Path("class.book").is_file()
    assert "`record.book` in the folder your system has for data" in " ".join(page.split())
    assert (tmp_path / "data" / "reedmill" / "record.book").is_file()


def test_the_page_of_the_class_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    page = (ROOT / "docs" / "CLASS.md").read_text("utf-8")
    fill_books()
    kept_in(Path("takes.json"), [take([("-3''", "-2", 48.0)] * 12)])
    added = ("record", "add", "takes.json", "--student", "Ada", "--book", "class.book")
    assert CliRunner().invoke(cli, added).exit_code == 0
    [key] = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    course = (ROOT / "courses" / "two-evenings.toml").read_text("utf-8")
    Path("course.toml").write_text(key + course, "utf-8")
    commands = [line.partition("   ")[0] for line in page.splitlines()
                if line.startswith("reedmill class")]  # fmt: skip
    assert len(commands) == 5
    for line in commands:
        result = CliRunner().invoke(cli, shlex.split(line)[1:])
        assert (result.exit_code, result.stderr) == (0, ""), result.output
    [code] = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    exec(compile(code, "CLASS.md", "exec"), {})  # noqa: S102  our own page


def test_the_page_of_what_to_practise_next_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    page = (ROOT / "docs" / "NEXT_PRACTICE.md").read_text("utf-8")
    fill_books()
    kept_in(Path("takes.json"), [take([("-3''", "-2", 48.0)] * 12)])
    added = ("record", "add", "takes.json", "--student", "Ada", "--book", "class.book")
    assert CliRunner().invoke(cli, added).exit_code == 0
    commands = [line.partition("   ")[0] for line in page.splitlines()
                if line.startswith("reedmill next") and "--out" not in line]  # fmt: skip
    assert len(commands) == 4  # the other builds a pack, which has a test of its own
    for line in commands:
        result = CliRunner().invoke(cli, shlex.split(line)[1:])
        assert (result.exit_code, result.stderr) == (0, ""), result.output
    [code] = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    exec(compile(code, "NEXT_PRACTICE.md", "exec"), {})  # noqa: S102  our own page


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
    made = {path.suffix for path in Path("output").glob("[!.]*")}
    assert made == {".pdf", ".wav"}


# --- what it says ------------------------------------------------------------------------


def test_it_says_what_the_library_holds() -> None:
    told = f"{len(shipped())} drills in {len({each.topic for each in shipped()})} topics"
    assert f"{told}, {len(shipped_phrases())} phrases apart" in README
    for page in ("README.md", "patterns/README.md"):
        text = " ".join((ROOT / page).read_text("utf-8").split())
        [listed] = re.findall(r"((?:`[a-z-]+`,? (?:and )?){10,}`[a-z-]+`)", text)
        assert re.findall("`([a-z-]+)`", listed) == list(topics())


def test_it_says_what_the_eight_week_pack_holds() -> None:
    """Counted from the course; every drill has a file for each stem, and for each type of it."""
    course = read_course(find_course("Eight weeks of clean bends"))
    [edition] = editions(course)
    made = [each for each in tasks(edition) if isinstance(each, Task)]
    files, seconds = 0, 0.0
    for task in made:
        assert task.recording is not None
        assert {"sheet", "tab"} <= set(task.formats)
        assert task.recording.types == ("flac",)
        assert len(task.recording.mixed) > 1  # so that there is a mix beside the tones
        assert not any((task.recording.stems, task.recording.loop, task.recording.apart))
        files += 2
        seconds += 2 * float(task.recording.plan(task.score).length_s)
    said = " ".join(README.split())
    assert f"**The pack holds** {len(course.lessons)} lessons with {len(made)} exercises" in said
    assert f"{files} recordings in FLAC, an hour and a quarter in all" in said
    assert 71 < seconds / 60 < 79
    assert f"There are {len(list(charts(edition)))} role charts, a book of everything" in said


def test_it_says_which_file_has_the_mix(tmp_path: Path) -> None:
    said = " ".join(README.split())
    assert "`NAME.wav` has the tones alone" in said
    assert "`NAME.mix.wav` is made beside it" in said
    words = ["make", "Two bars home", "--to", "wav", "--drone", "--stems", "--out", str(tmp_path)]
    assert CliRunner().invoke(cli, words).exit_code == 0
    names = [path.name for path in tmp_path.iterdir() if not path.name.startswith(".")]
    endings = {name.partition(".")[2] for name in names}
    assert endings == {"tones.wav", "mix.wav", "drone.wav"}
    assert "the full mix has the plain file name" in said
    words = ["backing", "--form", "One chord", "--to", "wav", "--click", "--choruses", "1"]
    assert CliRunner().invoke(cli, [*words, "--out", str(tmp_path / "b")]).exit_code == 0
    [name] = [path.name for path in (tmp_path / "b").iterdir() if not path.name.startswith(".")]
    assert name.partition(".")[2] == "wav"


def test_help_names_every_layout() -> None:
    """It is written out, because help may not load the layouts."""
    [said] = [str(each.help) for each in cli.commands["notes"].params
              if isinstance(each, click.Option) and each.name == "tuning"]  # fmt: skip
    for name in LAYOUTS:
        assert f"{name}," in said, (
            f"the layout {name} is not in the help of --tuning: name it in cli/options.py"
        )


def test_it_says_how_other_tunings_are_written_and_sold(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in set(LAYOUTS) - {"richter"}:
        assert f"`--tuning {name}`" in README, (
            f"the layout {name} is not in README.md: say there when `--tuning {name}` is wanted"
        )
    Path("raised-three.toml").write_text(TUNING, "utf-8")
    raised, plain = layout_named("raised-three.toml"), LAYOUTS["richter"]
    changed = [n for n, (a, b) in enumerate(zip(raised.blow, plain.blow, strict=True)) if a != b]
    assert (changed, raised.draw) == ([2], plain.draw)  # hole 3, blow
    assert raised.blow[2] - plain.blow[2] == 2
    # sold as Gm, by its 2nd position, whose root is draw 2: a fifth over hole 1 blow
    harp = Harp.parse("C", LAYOUTS["natural-minor"])
    key = harp.key_in(Position(2))
    assert (key.name, key.mode) == ("G", "minor")
    assert sounding("C", "-2") % 12 == key.pitch_class
    assert "one sold as Gm has a C minor blow chord" in " ".join(README.split())


def test_its_picture_of_a_take_is_of_what_is_heard_today(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    [shown] = SAMPLE.glob("*-picture-of-monday.png")
    words = ["hear", str(SAMPLE / "monday.m4a"), "--drill", "Home from every rung", "--harp", "C"]
    assert CliRunner().invoke(cli, [*words, "--to", "picture"]).exit_code == 0
    assert differing(Image.open(Path("output") / shown.name), Image.open(shown)) < 0.02, (
        "run scripts/sample"
    )


def differing(one: Image.Image, other: Image.Image) -> float:
    """The share of dots in which two pictures are not alike."""
    assert one.size == other.size
    away = ImageChops.difference(one.convert("L"), other.convert("L"))
    return ImageStat.Stat(away.point([0] * 64 + [1] * 192)).mean[0]


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
    # Two programs draw edges differently, and by less than a dot not in the same place.
    soft = ImageFilter.GaussianBlur(1.5)
    ink, left = (
        ImageStat.Stat(ImageChops.difference(other.filter(soft), picture.filter(soft))).mean[0]
        for other in (blank, drawn)
    )
    assert left < 0.25 * ink
