"""Files appear whole or not at all, equal input gives equal bytes, and no name is used twice."""

from __future__ import annotations

import errno
import os
import re
import resource
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from reedmill.base.errors import InputError, RenderError
from reedmill.base.text import printable
from reedmill.make.made_files import LIST
from reedmill.make.material import FORMATS, make
from reedmill.practice.practice import Practice, Recording
from reedmill.score.score import Score
from tunes import score_from

ENDINGS = {"sheet": ".pdf", "midi": ".mid", "wav": ".wav", "tab": ".txt", "json": ".json"}
HOME = score_from("-2 -3 -2 ~-2' -3'':1/3 -2:2/3 -2:3", title="Home", about="From far.")
AWAY = score_from("4:1/2 ~4:3/2 r 6' -6'", harp="low F", position=3, tempo=90, title="Away")


def contents(folder: Path) -> dict[str, bytes]:
    """Every file under *folder* but the list of them, hidden ones too, by its path there."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.name != LIST)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


# --- equal input, equal bytes ----------------------------------------------------------


def test_bytes_do_not_depend_on_the_run_or_on_what_is_made_alongside(tmp_path: Path) -> None:
    made = make([HOME, AWAY], tmp_path / "both", FORMATS, drone=True, click=True)
    make([AWAY], tmp_path / "alone", FORMATS, drone=True, click=True)
    make([HOME], tmp_path / "alone", FORMATS, drone=True, click=True)
    both, alone = contents(tmp_path / "both"), contents(tmp_path / "alone")
    assert {name for name in both if both[name] != alone.get(name)} == set()
    assert len(both) == len(made) == 2 * (len(FORMATS) + 1)  # and a mix each


def test_bytes_do_not_depend_on_the_process_or_its_surroundings(tmp_path: Path) -> None:
    surroundings = (("1", "UTC", "C.UTF-8"), ("2", "Asia/Kolkata", "C"))
    for seed, zone, locale in surroundings:
        environment = os.environ | {"PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": locale}
        command = [
            sys.executable, "-m", "reedmill.cli", "make", "Home from every rung",
            "--to", ",".join(FORMATS), "--out", str(tmp_path / seed),
        ]  # fmt: skip
        subprocess.run(command, check=True, env=environment, capture_output=True)
    assert contents(tmp_path / "1") == contents(tmp_path / "2")
    assert len(contents(tmp_path / "1")) == len(FORMATS)


@pytest.mark.parametrize(
    "changed",
    [
        replace(HOME, title=printable("Another")),
        replace(HOME, tempo_bpm=61),
        score_from("-2 -3 -2 ~-2' -3'':1/3 -2:2/3 -2:3", harp="D", title="Home"),
    ],
    ids=["title", "tempo", "harp"],
)
def test_other_input_gives_other_bytes(tmp_path: Path, changed: Score) -> None:
    """So that the tests above could fail: the bytes do follow the music."""
    make([HOME], tmp_path / "a", ["midi", "tab"])
    make([changed], tmp_path / "b", ["midi", "tab"])
    assert not set(contents(tmp_path / "a").values()) & set(contents(tmp_path / "b").values())


# --- which files -------------------------------------------------------------------------


@pytest.mark.parametrize("to", [["midi"], ["tab", "wav"], ["json", "midi", "tab"]])
def test_only_what_was_asked_for_is_made(tmp_path: Path, to: list[str]) -> None:
    made = make([HOME], tmp_path, to)
    assert {each.path.suffix for each in made} == {ENDINGS[name] for name in to}
    assert {each.path.name for each in made} == set(contents(tmp_path))


def test_an_unknown_format_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r'no format "midy"\. Did you mean "midi"\?'):
        make([HOME], tmp_path / "out", ["tab", "midy"])
    assert not (tmp_path / "out").exists()


def test_drills_whose_titles_make_one_name_keep_a_file_each(tmp_path: Path) -> None:
    titles = ["Home!", "home", "HOME?", "Home"]
    scores = [replace(HOME, title=printable(title)) for title in titles]
    made = make(scores, tmp_path, ["tab"])
    assert [each.path.read_text("utf-8").splitlines()[0] for each in made] == titles
    assert len(contents(tmp_path)) == len(titles)


def test_no_two_harps_share_a_file(tmp_path: Path) -> None:
    harps = ["F", "F#", "low F", "low F#", "high F", "B", "Bb", "low B", "low Bb"]
    scores = [score_from("-2 4", harp=harp) for harp in harps]
    made = [made for score in scores for made in make([score], tmp_path, ["tab"])]
    assert len({each.path for each in made}) == len(harps)  # though made one by one
    for each, harp in zip(made, harps, strict=True):
        assert f"{harp} harp, " in each.path.read_text("utf-8")


def test_names_are_letters_of_any_script_digits_and_hyphens(tmp_path: Path) -> None:
    titles = ["Ünder the Brücke", "a/b\\c", ".hidden", "con:", "  x  ", "漢字", "x" * 300]
    make([replace(HOME, title=printable(title)) for title in titles], tmp_path, ["tab"])
    assert set(contents(tmp_path)) == {
        f"{name}-c-2nd.txt"
        for name in ("ünder-the-brücke", "a-b-c", "hidden", "con", "x", "漢字", "x" * 60)
    }


def test_files_are_listed_drill_by_drill_beyond_one_run_of_sheets(tmp_path: Path) -> None:
    scores = [replace(HOME, title=printable(f"Tune {number}")) for number in range(45)]
    made = make(scores, tmp_path, ["tab", "midi"])
    assert [each.drill for each in made] == [score.title for score in scores for _ in "ab"]
    assert [each.path.exists() for each in made] == [True] * 90


def test_progress_names_every_file_once_when_it_is_there(tmp_path: Path) -> None:
    seen: list[str] = []

    def show(name: str) -> None:
        assert (tmp_path / name).exists()
        seen.append(name)

    made = make([HOME, AWAY], tmp_path, ["midi", "tab"], progress=show)
    assert seen == [each.path.name for each in made]


def test_rows_for_other_programs_tell_tones_from_mix(tmp_path: Path) -> None:
    rows = [each.data() for each in make([AWAY], tmp_path, ["wav", "tab"], drone=True)]
    assert [(row["kind"], row.get("stem")) for row in rows] == [
        ("audio", "tones"), ("audio", "mix"), ("tab", None),
    ]  # fmt: skip
    shared = {"drill": "Away", "harp": "low F", "position": 3, "tempo": 90}
    assert all(shared.items() <= row.items() for row in rows)


# --- whole or not at all -------------------------------------------------------------------


def test_a_renderer_that_fails_leaves_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> bytes:
        raise RenderError("no sound today")

    monkeypatch.setattr("reedmill.sound.recording.record.sound_files", fail)
    with pytest.raises(RenderError, match="no sound today"):
        make([HOME, AWAY], tmp_path / "out", ["tab", "midi", "wav"])
    assert contents(tmp_path) == {}


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """Let the operating system refuse to write more than *size* bytes into any file."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_file_the_system_cuts_short_leaves_none_of_them(tmp_path: Path) -> None:
    with files_of_at_most(30_000), pytest.raises(RenderError, match=r"\.wav: cannot be written"):
        make([HOME], tmp_path / "out", ["midi", "wav"])  # the MIDI file alone would fit
    assert contents(tmp_path) == {}


@pytest.mark.parametrize("full_at", [1, 2, 4])
def test_a_full_disk_leaves_none_of_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, full_at: int
) -> None:
    calls = 0

    def fsync(_file: int) -> None:
        nonlocal calls
        calls += 1
        if calls == full_at:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", fsync)
    with pytest.raises(RenderError, match=r"cannot be written \(No space left on device"):
        make([HOME, AWAY], tmp_path / "out", ["midi", "tab"])
    assert contents(tmp_path) == {}


def test_what_was_there_before_a_failure_stays_as_it_was(tmp_path: Path) -> None:
    make([HOME], tmp_path, ["midi", "wav"])
    before = contents(tmp_path)
    with files_of_at_most(30_000), pytest.raises(RenderError):
        make([replace(HOME, tempo_bpm=200)], tmp_path, ["midi", "wav"])
    assert contents(tmp_path) == before


@pytest.mark.parametrize("out", ["taken", "taken/below"])
def test_a_folder_that_cannot_be_made_is_told_plainly(tmp_path: Path, out: str) -> None:
    (tmp_path / "taken").write_text("not a folder", "utf-8")
    with pytest.raises(RenderError, match="cannot be written"):
        make([HOME], tmp_path / out, ["tab"])
    assert contents(tmp_path) == {"taken": b"not a folder"}


def test_a_folder_one_may_not_write_to_is_told_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, *_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(RenderError, match=r"cannot be written \(Permission denied"):
        make([HOME], tmp_path / "out", ["tab"])


def test_old_files_are_replaced_and_strangers_left_alone(tmp_path: Path) -> None:
    [made] = make([replace(HOME, about=printable("An older edition."))], tmp_path, ["tab"])
    assert "An older edition." in made.path.read_text("utf-8")
    (tmp_path / "notes.txt").write_text("mine", "utf-8")
    [again] = make([HOME], tmp_path, ["tab"])
    assert (again.path, again.replaced, made.replaced) == (made.path, True, False)
    assert "From far." in made.path.read_text("utf-8")
    assert set(contents(tmp_path)) == {made.path.name, "notes.txt"}


def test_a_ladder_is_on_the_sheet_as_it_is_in_the_sound(tmp_path: Path) -> None:
    """The numbers are read from the page by pypdf."""
    practice = Practice(tempi_bpm=(50, 55, 61))
    made = make([HOME], tmp_path, ("sheet", "midi"), recording=Recording(practice=practice))
    [page] = pypdf.PdfReader(made[0].path).pages
    text = page.extract_text()
    assert "= 50 to 61" in text
    boxes = text.partition("clean passes")[2]
    assert re.findall(r"\b[456]\d\b", boxes) == ["50", "55", "61"]
    assert {each.tempo for each in made} == {50}
