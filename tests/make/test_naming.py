"""What is made never replaces something else: every request has files of its own.

The drills are short and the formats cheap, so that sixty requests take seconds.
"""

# ruff: noqa: RUF001  titles in other scripts hold letters that look like Latin ones

from __future__ import annotations

import hashlib
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import unicodedata
import zipfile
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pypdfium2
import pytest
from click.testing import CliRunner, Result
from lxml import html
from pypdf import PdfReader
from pypdf.generic import Destination

from reedmill.base.errors import InputError
from reedmill.base.scratch import Scratch
from reedmill.base.text import file_slug, joined, same_title
from reedmill.cli import cli
from reedmill.make.made_files import LIST, FileName, MadeFiles, RequestedFile

README = Path(__file__).parents[2] / "README.md"
SHORT = "-2 3 -3'"
TEXTS = ["tab", "midi", "json", "musicxml"]
SOUND = ["--to", "wav", "--audio", "ogg"]
# Titles alike but for one letter or sign; the first eight letters of each pair are equal.
TITLES = {
    "Latin": ("Straße nach Hause", "Strasse nach Hause"),
    "Cyrillic": ("Дорога домой утром", "Дорога домой ночью"),
    "Greek": ("Ο δρόμος για το σπίτι", "Ο δρόμος για το νησί"),
    "Hebrew": ("הדרך הביתה בבוקר", "הדרך הביתה בלילה"),
    "Arabic": ("الطريق إلى البيت", "الطريق إلى البحر"),
    "Devanagari": ("घर की ओर सुबह", "घर की ओर शाम"),
    "Thai": ("ทางกลับบ้านเช้า", "ทางกลับบ้านเย็น"),
    "CJK": ("回家的路早晨的歌谣", "回家的路早晨的歌曲"),
}
# Every request for the one drill differs from every other in one thing or two.
REQUESTS: list[list[str]] = [
    *(["--to", ",".join(TEXTS), *rest] for rest in (
        [], ["--harp", "A"], ["--harp", "low F"], ["--harp", "F"], ["--harp", "C natural minor"],
        ["--position", "1"], ["--position", "3"], ["--tempo", "48"], ["--tempo", "61"],
        ["--reference", "442"], ["--reference", "442.5"], ["--intonation", "just5"],
        ["--intonation", "just7"], ["--offsets", "b3=-12"], ["--offsets", "b3=12"],
        ["--intonation", "just5", "--offsets", "b3=-12"], ["--tuning", "country"],
        ["--over", "Twelve bars"], ["--over", "Twelve bars", "--feel", "Rumba"],
        ["--over", "Twelve bars", "--lay", "chords"], ["--over", "Twelve bars", "--lay", "once"],
        ["--over", "Twelve bars", "--choruses", "2"], ["--over", "Twelve bars", "--seed", "7"],
        ["--over", "Eight bars"], ["--harp", "A", "--tempo", "48"],
        ["--harp", "A", "--position", "1", "--reference", "443"],
    )),
    *([*SOUND, *rest] for rest in (
        ["--repeat", "2"], ["--repeat", "3"], ["--repeat", "2", "--fade-out"], ["--echo"],
        ["--echo", "1"], ["--echo", "2"], ["--count-in", "1"], ["--count-in", "2"],
        ["--ladder", "200 to 220 by 10"], ["--ladder", "200 to 220 by 20"],
        ["--ladder", "220 to 200 by 10"], ["--ladder", "200 to 220 by 10", "--apart"],
        ["--drone"], ["--drone", "root+fifth"], ["--drone", "root+octave"], ["--click"],
        ["--click", "offbeats"], ["--drone", "--click"], ["--drone", "--wide"],
        ["--drone", "--count-in", "1"], ["--drone", "--loop"], ["--drone", "--click", "--stems"],
        ["--click", "--count-in", "1"], ["--click", "--stems", "--repeat", "2"],
        ["--drone", "--bits", "24", "--audio", "flac"], ["--tempo", "90"],
        ["--tempo", "91", "--echo"],
        ["--reference", "443", "--repeat", "2"], ["--harp", "G", "--echo"],
    )),
    *(["--to", "sheet", *rest] for rest in (
        [], ["--large"], ["--black"], ["--paper", "letter"], ["--show", "tab"],
    )),
]  # fmt: skip


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, list(words), catch_exceptions=False)


def made(folder: Path, *words: str) -> list[dict[str, Any]]:
    done = run("make", *words, "--json", "--out", str(folder))
    assert done.exit_code == 0, done.output
    rows: list[dict[str, Any]] = json.loads(done.stdout)["files"]
    return rows


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != LIST}


def drill(folder: Path, name: str, *titles: str, play: str = SHORT) -> str:
    path = folder / f"{name}.drill"
    path.write_text("\n".join(f'drill "{title}"\n  play {play}\n' for title in titles), "utf-8")
    return str(path)


def digests(folder: Path) -> dict[str, str]:
    return {name: hashlib.sha256(raw).hexdigest() for name, raw in contents(folder).items()}


# --- every request has its own ------------------------------------------------------------


def test_sixty_requests_for_one_drill_leave_sixty_sets_of_files(tmp_path: Path) -> None:
    own = drill(tmp_path, "home", "Home")
    out = tmp_path / "out"
    assert len(REQUESTS) == 60
    sets: list[frozenset[str]] = []
    for request in REQUESTS:
        before = digests(out) if out.exists() else {}
        sets.append(frozenset(Path(row["path"]).name for row in made(out, own, *request)))
        after = digests(out)
        assert {name: after[name] for name in before} == before, request  # none was changed
    assert len(set(sets)) == len(sets)


def test_titles_in_eight_scripts_keep_their_letters_and_files_of_their_own(tmp_path: Path) -> None:
    for script, (one, other) in TITLES.items():
        first, second = drill(tmp_path, "one", one), drill(tmp_path, "other", other)
        out = tmp_path / script
        [mine] = made(out, first, "--to", "tab")
        [his] = made(out, second, "--to", "tab")
        assert mine["path"] != his["path"]
        for row, title in ((mine, one), (his, other)):
            name = Path(row["path"]).name
            assert name == unicodedata.normalize("NFC", name)
            assert name == f"{title.lower().replace(' ', '-')}-c-2nd.txt"
            assert Path(row["path"]).read_text("utf-8").startswith(title)


def test_the_plain_drill_has_the_short_name(tmp_path: Path) -> None:
    rows = made(tmp_path, "Home from every rung", "--to", "tab,midi")
    assert {Path(row["path"]).name for row in rows} == {
        "home-from-every-rung-c-2nd.txt", "home-from-every-rung-c-2nd.mid",
    }  # fmt: skip


def test_titles_spelled_alike_are_told_apart_by_number_and_keep_it(tmp_path: Path) -> None:
    titles = {"one": "Song 5", "two": "Song, 5!", "three": "song 5"}
    files = {name: drill(tmp_path, name, title) for name, title in titles.items()}
    out = tmp_path / "out"
    first = [made(out, file, "--to", "tab")[0]["path"] for file in files.values()]
    again = [made(out, file, "--to", "tab")[0]["path"] for file in reversed(files.values())]
    assert [Path(path).name for path in first] == [
        "song-5-c-2nd.txt", "song-5-2-c-2nd.txt", "song-5-3-c-2nd.txt",
    ]  # fmt: skip
    assert list(reversed(again)) == first
    for path, title in zip(first, titles.values(), strict=True):
        assert Path(path).read_text("utf-8").splitlines()[0] == title


def test_a_harp_that_ends_a_title_is_not_taken_for_a_harp(tmp_path: Path) -> None:
    """To play "Song low" on a C harp and "Song" on a low C harp wants one name."""
    file = drill(tmp_path, "songs", "Song low", "Song")
    names = {
        row["path"] for row in made(tmp_path / "out", file, "--harp", "C,low C", "--to", "tab")
    }
    assert len(names) == 4


def test_the_same_request_makes_its_own_files_again_and_says_so(tmp_path: Path) -> None:
    words = ["Two bars home", "--to", "tab,midi,wav", "--audio", "ogg", "--drone"]
    first = made(tmp_path, *words)
    before = contents(tmp_path)
    second = made(tmp_path, *words)
    assert contents(tmp_path) == before
    assert [row["path"] for row in first] == [row["path"] for row in second]
    assert [row["replaced"] for row in first] == [False] * len(first)
    assert [row["replaced"] for row in second] == [True] * len(first)
    done = run("make", *words, "--out", str(tmp_path))
    assert done.stdout.count("(made again)") == len(first)


# --- what is not ours, or not for this ----------------------------------------------------


def test_a_file_of_the_teachers_is_never_replaced_unless_asked(tmp_path: Path) -> None:
    mine = tmp_path / "two-bars-home-c-2nd.txt"
    mine.write_text("my own notes", "utf-8")
    done = run("make", "Two bars home", "--to", "tab,midi", "--out", str(tmp_path))
    assert done.exit_code == 2
    assert done.stderr == (
        f"{mine} is there already, and Reedmill has no note of having made it, so it is left as "
        "it is.\n  Write --replace to have it replaced, or name another folder with --out.\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == [mine.name]
    assert mine.read_text("utf-8") == "my own notes"
    rows = made(tmp_path, "Two bars home", "--to", "tab,midi", "--replace")
    assert {row["kind"]: row["replaced"] for row in rows} == {"tab": True, "midi": False}
    assert mine.read_text("utf-8").startswith("Two bars home")


def test_a_file_that_was_edited_stays_as_it_is(tmp_path: Path) -> None:
    [row] = made(tmp_path, "Two bars home", "--to", "tab")
    path = Path(row["path"])
    path.write_text(path.read_text("utf-8") + "breathe here\n", "utf-8")
    before = contents(tmp_path)
    done = run("make", "Two bars home", "--to", "tab", "--out", str(tmp_path))
    assert (done.exit_code, contents(tmp_path)) == (2, before)
    assert "was changed since Reedmill made it" in done.stderr


def test_a_form_of_ones_own_does_not_replace_the_shipped_one_of_its_title(tmp_path: Path) -> None:
    own = tmp_path / "mine.form"
    own.write_text('form "Twelve bars"\n  bars I7 x4\n', "utf-8")
    out = tmp_path / "out"
    common = ["backing", "--to", "text", "--out", str(out)]
    assert run(*common, "--form", "Twelve bars").exit_code == 0
    assert run(*common, "--form", str(own)).exit_code == 0
    assert set(contents(out)) == {
        "twelve-bars-medium-shuffle-g-115-bpm-c-harp-2nd.txt",
        "twelve-bars-medium-shuffle-2-g-115-bpm-c-harp-2nd.txt",
    }


BACKINGS: list[list[str]] = [
    [], ["--feel", "Rumba"], ["--harp", "A"], ["--position", "1"],
    ["--harp", "G", "--position", "1"], ["--tempo", "100"], ["--choruses", "2"],
    ["--choruses", "1"], ["--seed", "7"], ["--harp", "low F"], ["--harp", "F"],
    ["--tuning", "natural-minor"], ["--reference", "442"],
]  # fmt: skip


def test_every_backing_has_its_own_name(tmp_path: Path) -> None:
    seen: dict[str, bytes] = {}
    for request in BACKINGS:
        done = run(
            "backing", "--form", "One chord", *request, "--to", "midi,text", "--out", str(tmp_path)
        )
        assert (done.exit_code, "again" in done.stdout) == (0, False), (request, done.output)
        assert seen.items() <= contents(tmp_path).items()
        seen = contents(tmp_path)
    assert len(seen) == 2 * len(BACKINGS)


def test_every_role_chart_has_its_own_name(tmp_path: Path) -> None:
    requests = [
        [], ["--reeds", "-2 -2'"], ["--chords", "i7 iv7 V7"], ["--chords", "I7 IV7 V7 i7"],
        ["--position", "3"],
    ]  # fmt: skip
    for request in requests:
        done = run("roles", *request, "--to", "sheet", "--out", str(tmp_path))
        assert (done.exit_code, "again" in done.stdout) == (0, False), (request, done.output)
    assert len(contents(tmp_path)) == len(requests)
    assert "roles-c.pdf" in contents(tmp_path)


# --- stems ------------------------------------------------------------------------------


def test_stems_that_belonged_to_another_mix_go_with_it(tmp_path: Path) -> None:
    """The drill is changed, and made without stems: the old ones would not sum to the new mix."""
    own = drill(tmp_path, "home", "Home")
    out = tmp_path / "out"
    words = [own, *SOUND, "--drone", "--click"]
    rows = made(out, *words, "--stems")
    assert {Path(row["path"]).name for row in rows} == {
        f"home-c-2nd-drone-click.{stem}.ogg" for stem in ("tones", "mix", "drone", "click")
    }
    assert {"home-c-2nd-drone-click.drone.ogg"} <= set(contents(out))
    made(out, *words)  # the same mix: its stems still belong to it
    assert "home-c-2nd-drone-click.drone.ogg" in contents(out)
    drill(tmp_path, "home", "Home", play="-2 3 3")
    done = run("make", *words, "--out", str(out))
    assert set(contents(out)) == {"home-c-2nd.ogg", "home-c-2nd-drone-click.mix.ogg"}
    assert "home-c-2nd-drone-click.tones.ogg" in done.stderr
    assert "belonged to the home-c-2nd-drone-click.mix.ogg before this one" in done.stderr


def test_a_stem_the_teacher_changed_stays(tmp_path: Path) -> None:
    own = drill(tmp_path, "home", "Home")
    out = tmp_path / "out"
    words = [own, *SOUND, "--drone"]
    made(out, *words, "--stems")
    kept = out / "home-c-2nd-drone.drone.ogg"
    kept.write_bytes(b"mine")
    drill(tmp_path, "home", "Home", play="-2 3 3")
    made(out, *words)
    assert kept.read_bytes() == b"mine"
    assert not (out / "home-c-2nd-drone.tones.ogg").exists()


def sound_examples() -> list[list[str]]:
    """The commands of README under "Practising with the sound"."""
    text = README.read_text("utf-8").partition("## Practising with the sound")[2]
    block = text.split("```")[1].splitlines()
    lines = [line for line in block if line.startswith("reedmill make")]
    return [shlex.split(line.split("  ")[0]) for line in lines]


def test_each_sound_example_of_readme_leaves_files_of_its_own(tmp_path: Path) -> None:
    examples = sound_examples()
    assert len(examples) == 5
    seen: dict[str, bytes] = {}
    for words in examples:
        rest = [word for word in words[2:] if word != "--verify"]
        if "--audio" in rest:
            at = rest.index("--audio")
            del rest[at : at + 2]
        rows = made(tmp_path, *rest, *SOUND, "--tempo", "240")
        assert not any(row["replaced"] for row in rows), words
        assert any(".mix." in row["path"] for row in rows)
        assert seen.items() <= contents(tmp_path).items()
        seen = contents(tmp_path)


# --- the list ---------------------------------------------------------------------------


def odd_lists(folder: Path) -> list[Path]:
    """Lists that are none: a link, a pipe, a folder of rubbish, damage, half a character."""
    found = []
    for at, text in enumerate(
        ("", "{", "[]", '{"reedmill_made": 2}', '{"reedmill_made": 1, "names": [], "files": 3}',
         '{"reedmill_made": 1, "names": {}, "files": {"a": ["x", 5]}}', "[" * 100_000,
         '{"reedmill_made": 1, "names": {"\\ud800": "x"}, "files": {}}')
    ):  # fmt: skip
        path = folder / f"{at}"
        path.mkdir()
        (path / LIST).write_text(text, "utf-8")
        found.append(path)
    for name in ("link", "pipe", "huge"):
        (folder / name).mkdir()
        found.append(folder / name)
    target = folder / "elsewhere.json"
    target.write_text("mine", "utf-8")
    (folder / "link" / LIST).symlink_to(target)
    os.mkfifo(folder / "pipe" / LIST)
    with (folder / "huge" / LIST).open("wb") as file:
        file.truncate(1 << 40)
    return found


def test_a_list_that_is_none_protects_every_file_and_is_made_anew(tmp_path: Path) -> None:
    for folder in odd_lists(tmp_path):
        mine = folder / "two-bars-home-c-2nd.txt"
        mine.write_text("mine", "utf-8")
        assert run("make", "Two bars home", "--to", "tab", "--out", str(folder)).exit_code == 2
        mine.unlink()
        made(folder, "Two bars home", "--to", "tab")
        assert made(folder, "Two bars home", "--to", "tab")[0]["replaced"]
    assert (tmp_path / "elsewhere.json").read_text("utf-8") == "mine"


def test_the_list_names_no_path_of_the_machine(tmp_path: Path) -> None:
    own = drill(tmp_path, "home", "Home")
    made(tmp_path / "out", own, "--to", "tab")
    assert str(tmp_path) not in (tmp_path / "out" / LIST).read_text("utf-8")


KILLED = """
import os, sys
from pathlib import Path
left = {at}
really = Path.replace
def replace(self, target):
    global left
    if left == 0:
        os.kill(os.getpid(), 9)
    left -= 1
    return really(self, target)
Path.replace = replace
from reedmill.cli import cli
cli()
"""


@pytest.mark.parametrize("at", range(5))
def test_a_run_killed_between_its_files_is_taken_up_by_the_next(at: int, tmp_path: Path) -> None:
    """Killed before the list, between list and files, and between two files."""
    own = drill(tmp_path, "home", "Home")
    words = [own, "--to", "tab,midi,json", "--out", str(tmp_path / "out")]
    assert run("make", *words).exit_code == 0
    drill(tmp_path, "home", "Home", play="-2 3 3")
    foreign = tmp_path / "out" / "notes.txt"
    foreign.write_text("mine", "utf-8")
    command = [sys.executable, "-c", KILLED.format(at=at), "make", *words]
    killed = subprocess.run(command, capture_output=True, timeout=60)
    assert killed.returncode == (-signal.SIGKILL if at < 4 else 0)
    shutil.copytree(tmp_path / "out", tmp_path / "apart")
    done = run("make", *words)
    assert done.exit_code == 0, done.output
    run("make", own, "--to", "tab,midi,json", "--out", str(tmp_path / "fresh"))
    found = contents(tmp_path / "out")
    assert found.pop("notes.txt") == b"mine"
    assert found == contents(tmp_path / "fresh")


def test_two_runs_at_once_in_one_folder_lose_nothing(tmp_path: Path) -> None:
    files = [drill(tmp_path, f"song{at}", "Song" + "!" * at) for at in range(4)]
    commands = [
        [sys.executable, "-m", "reedmill.cli", "make", file, "--to", "tab",
         "--out", str(tmp_path / "out")]
        for file in files
    ]  # fmt: skip
    running = [subprocess.Popen(each, stdout=subprocess.DEVNULL) for each in commands]
    assert [each.wait(timeout=120) for each in running] == [0] * len(files)
    first = {path.read_text("utf-8").splitlines()[0] for path in (tmp_path / "out").glob("*.txt")}
    assert first == {"Song" + "!" * at for at in range(4)}
    assert len(MadeFiles.of(tmp_path / "out").rows) == len(files)


def test_a_folder_another_run_swept_at_once_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between its making and its lock a scratch folder looks like one of a run that is dead."""
    really_open, swept = os.open, list[str]()

    def open_after_the_sweep(path: str, *how: Any, **more: Any) -> int:
        if not swept:
            swept.append(os.fspath(path))
            Path(path).rmdir()
        return really_open(path, *how, **more)

    monkeypatch.setattr(os, "open", open_after_the_sweep)
    with Scratch(tmp_path) as scratch:
        assert len(swept) == 1
        assert scratch.path.is_dir()
        assert os.fspath(scratch.path) != swept[0]
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_is_taken_is_numbered_and_found_again() -> None:
    there = MadeFiles(Path("nowhere"))
    mine, his = (
        RequestedFile(FileName("song", whose, ("c",), whose), ".txt") for whose in ("mine", "his")
    )
    assert [there.file_name(each) for each in (mine, his, mine, his)] == [
        "song-c.txt", "song-2-c.txt", "song-c.txt", "song-2-c.txt",
    ]  # fmt: skip


@pytest.fixture(scope="module")
def eight_scripts(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """A pack of two drills in each script, sheets and sound, and their titles."""
    titles = [title for pair in TITLES.values() for title in pair]
    folder = tmp_path_factory.mktemp("scripts")
    drill(folder, "songs", *titles)
    lesson = '[[lessons]]\ntitle = "歌"\n' + "".join(
        f'[[lessons.exercises]]\ndrill = "{title}"\nfile = "songs.drill"\n' for title in titles
    )
    course = folder / "course.toml"
    head = 'title = "Дорога"\nharps = ["C"]\n[defaults]\nhand_out = ["sheet", "tab", "audio"]\n'
    course.write_text(f'{head}audio = ["ogg"]\n{lesson}', "utf-8")
    out = folder / "out"
    done = run("pack", str(course), "--out", str(out), "--zip", "--jobs", "1")
    assert done.exit_code == 0, done.output
    assert "Left out on paper" not in done.output  # else fonts-noto-core is not installed
    return out, titles


def pack_files(out: Path) -> dict[str, bytes]:
    """The files of a pack for a student, but the ZIP, which cannot hold itself."""
    return {
        path.relative_to(out).as_posix(): path.read_bytes()
        for path in out.rglob("*")
        if path.is_file() and ".reedmill" not in path.parts and path.suffix != ".zip"
    }


def test_the_zip_of_a_pack_of_eight_scripts_unpacks_to_the_pack(
    eight_scripts: tuple[Path, list[str]], tmp_path: Path
) -> None:
    """Bit 11 says that a name is UTF-8: PKWARE's APPNOTE 4.4.4 and appendix D, from memory."""
    out, titles = eight_scripts
    [archive] = out.glob("*.zip")
    assert archive.name == "дорога.zip"
    with zipfile.ZipFile(archive) as packed:  # Python's own reader
        assert packed.testzip() is None
        told = {each.filename: bool(each.flag_bits & 0x800) for each in packed.infolist()}
        packed.extractall(tmp_path)
    assert told == {name: not name.isascii() for name in told}
    assert sum(told.values()) > 3 * len(titles)
    assert pack_files(tmp_path) == pack_files(out)
    assert set(pack_files(out)) == set(told)


def test_every_title_of_eight_scripts_has_its_page_in_the_book(
    eight_scripts: tuple[Path, list[str]],
) -> None:
    """Read by pypdf and PDFium.  Sheets come one page each in the order of the course."""
    out, titles = eight_scripts
    [lesson] = [each for each in out.iterdir() if each.is_dir() and each.name != ".reedmill"]
    assert lesson.name == "01-歌"
    sheets = {path.stem: PdfReader(path) for path in lesson.glob("*-c-2nd.pdf")}
    assert len(sheets) == len(titles)
    book = PdfReader(out / "дорога.pdf")
    assert book.metadata is not None
    assert book.metadata.title == "Дорога"
    marks = {}
    for mark in (each for part in book.outline if isinstance(part, list) for each in part):
        assert isinstance(mark, Destination)
        title = str(mark.title).partition(", ")[0]
        marks[re.sub(r"^[\d.]+ ", "", title)] = book.get_destination_page_number(mark)
    assert set(titles) <= set(marks)
    with pypdfium2.PdfDocument(out / "дорога.pdf") as document:
        for title in titles:
            text = document[marks[title]].get_textpage().get_text_range()
            found = unicodedata.normalize("NFKC", text)
            assert set(title) - set(found) - {" "} == set(), title
    named = {str(each.metadata.title) for each in sheets.values() if each.metadata}
    assert named == set(titles)


def test_a_playlist_names_its_files_in_their_own_letters(
    eight_scripts: tuple[Path, list[str]],
) -> None:
    """Many players take a line for a file's name and find none called %D0%B4.

    That it is UTF-8: RFC 8216, 4.1.
    """
    out, titles = eight_scripts
    lines = (out / "дорога.m3u8").read_bytes().decode("utf-8").splitlines()
    sounds = [line for line in lines if not line.startswith("#")]
    assert len(sounds) == len(titles)
    assert all((out / each).is_file() for each in sounds)
    shown = [line.partition(",")[2].partition(" - ")[0] for line in lines if "EXTINF" in line]
    assert shown == titles


def test_a_pack_of_eight_scripts_opens_and_every_address_leads_to_its_file(
    eight_scripts: tuple[Path, list[str]],
) -> None:
    out, titles = eight_scripts
    page = html.document_fromstring((out / "index.html").read_bytes())
    found = {
        unquote(address)
        for _, _, address, _ in page.iterlinks()
        if not address.startswith(("#", "http"))
    }
    assert all((out / each).is_file() for each in found)
    tabs = {each for each in found if each.endswith(".txt")}
    assert len(tabs) == len(titles)
    for title in titles:
        assert any(title.lower().replace(" ", "-") in each for each in tabs)


# --- letters ----------------------------------------------------------------------------


def test_names_hold_no_sign_but_letters_digits_and_hyphens() -> None:
    for text in ("../../etc", "a\\b", "\u202eab", "a\u200db", "con:", "x\0y", ".hidden", "-rf"):
        name = file_slug(text)
        assert not set(name) & set('./\\:*?"<>|\0\u202e\u200d')
        assert not name.startswith("-")


def test_long_names_fit_a_disk_and_stay_apart() -> None:
    """File systems have room for 255 bytes (POSIX NAME_MAX on Linux); CJK takes three each."""
    one, other = (joined(*(["回" * 40] * 3), end) for end in ("a", "b"))
    assert one != other
    assert max(len(name.encode()) for name in (one, other)) <= 200
    assert len(file_slug("回" * 300).encode()) <= 120


@pytest.mark.parametrize(("one", "other"), TITLES.values(), ids=TITLES)
def test_titles_match_by_every_letter_of_their_script(one: str, other: str) -> None:
    assert same_title(one) == same_title(one.replace(" ", "-") + "!")
    assert same_title(other) == same_title(other.upper())
    assert same_title(one) != same_title(other)


def test_a_refusal_states_the_fact_and_leaves_the_way_out_to_the_command(tmp_path: Path) -> None:
    from reedmill import api

    [found] = api.find_drills("Two bars home")
    score = api.expand(found, api.Harp.parse("C"), api.Position(2))
    (tmp_path / "two-bars-home-c-2nd.txt").write_text("mine", "utf-8")
    with pytest.raises(InputError, match="so it is left as it is") as refused:
        api.make([score], tmp_path, ("tab",))
    assert "--" not in str(refused.value).removeprefix(str(tmp_path))
    [row] = api.make([score], tmp_path, ("tab",), replace=True)
    assert row.replaced
