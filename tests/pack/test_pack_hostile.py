"""Packs from strangers: whatever lies in one, building and cleaning it changes nothing outside.

Outside facts: the kinds of file of POSIX.1-2017 (XBD 3.164 and inode(7) of Linux), and that
a path is resolved anew, through every link, each time it is used (XBD 4.13).
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from pack_builds import at_work_in, built, command, contents, environment, made, run, write_course
from reedmill.base.below import Folder, StrangeEntryError, open_own_file
from reedmill.base.errors import RenderError
from reedmill.pack.build.archive import write_archive
from reedmill.pack.keep import placing
from reedmill.pack.keep.ledger import ledger_name
from reedmill.pack.keep.store import Store, read_records

LONGEST_S = 180  # of one test; what waits for a pipe waits for ever
NESTED = "[" * 200_000

Entry = tuple[int, int, int, str]
"""Of one name: its type, its size, when it was changed, and its hash or where it leads."""


def entry(path: Path) -> Entry:
    """What stands at *path*, followed nowhere."""
    found = path.lstat()
    kind = stat.S_IFMT(found.st_mode)
    inside = ""
    if stat.S_ISREG(kind):
        inside = hashlib.sha256(path.read_bytes()).hexdigest()
    elif stat.S_ISLNK(kind):
        inside = str(path.readlink())
    return kind, found.st_size, found.st_mtime_ns, inside


def around(pack: Path) -> dict[str, Entry]:
    """Everything in the folder around *pack*, by its name, but the pack itself."""
    found = {}
    for folder, folders, files in os.walk(pack.parent):
        folders[:] = [name for name in folders if Path(folder, name) != pack]
        for name in (*folders, *files):
            if Path(folder, name) != pack:
                found[os.path.relpath(Path(folder, name), pack.parent)] = entry(Path(folder, name))
    return found


@pytest.fixture(autouse=True)
def _nothing_hangs() -> Iterator[None]:
    def late(*_: object) -> None:
        raise TimeoutError(f"not done after {LONGEST_S} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(LONGEST_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A course and its pack; only copies of the pack are changed."""
    folder = tmp_path_factory.mktemp("template")
    course = write_course(folder, formats='"tab"')
    built(course, folder / "out", "--zip")
    return course, folder / "out"


@pytest.fixture
def begun(template: tuple[Path, Path], tmp_path: Path) -> tuple[Path, Path]:
    """A course that was built a moment ago, and its pack, with a victim beside it."""
    course = write_course(template[0].parent, formats='"tab"')
    shutil.copytree(template[1], tmp_path / "out")
    victim = tmp_path / "victim"
    (victim / "letters").mkdir(parents=True)
    (victim / "thesis.txt").write_text("ten years of work")
    (victim / "letters" / "first.txt").write_text("Dear Mara")
    return course, tmp_path / "out"


def told(done: Result) -> None:
    """It ended well, or with a sentence."""
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exc_info
    assert done.exit_code in (0, 1, 2)
    assert "Traceback" not in done.output


def everything_done_with(course: Path, out: Path) -> list[Result]:
    """Plan it, clean it, build it, and build it again when there may be nothing to do."""
    course.write_text(course.read_text() + "# looked at anew\n")
    commands = (
        ("pack", course, "--out", out, "--zip", "--plan"),
        ("clean", out),
        ("pack", course, "--out", out, "--zip"),
        ("pack", course, "--out", out, "--zip"),
    )
    done = [run(*each) for each in commands]
    for each in done:
        told(each)
    return done


# --- every place, and everything that can stand there ----------------------------------


def link_to(target: str) -> Callable[[Path], None]:
    """Makes a link, to a path from the folder around the pack when it is not whole."""

    def make(place: Path) -> None:
        around = next(each.parent for each in place.parents if each.name == "out")
        place.symlink_to(around / target)

    return make


def device(place: Path) -> None:
    """The device that zeros come from; a link to it where only root may make one."""
    if os.geteuid() == 0:
        os.mknod(place, stat.S_IFCHR | 0o666, os.makedev(1, 5))
    else:
        place.symlink_to("/dev/zero")


def loop(place: Path) -> None:
    place.symlink_to(place.name)


def folder_of_somebody(place: Path) -> None:
    place.mkdir()
    (place / "mine.txt").write_text("mine")


KINDS: dict[str, Callable[[Path], None]] = {
    "a link to a file": link_to("victim/thesis.txt"),
    "a link to a folder": link_to("victim"),
    "a link to nothing": link_to("victim/new"),
    "a link to itself": loop,
    "a pipe": os.mkfifo,
    "a device": device,
    "a folder": folder_of_somebody,
}

ELSEWHERE = f"{'0' * 24}.json"  # the ledger of a curriculum nobody knows
FILES = (
    ".reedmill/lock", ".reedmill/journal", ".reedmill/README", ".reedmill/last-build.json",
    ".reedmill/.last-build.json.part", ".reedmill/packs/LEDGER.json",
    ".reedmill/packs/LEDGER.facts", f".reedmill/packs/{ELSEWHERE}", "index.html", "evenings.zip",
    "01-first/01-alpha-c-2nd.txt",
)  # fmt: skip
FOLDERS = (".reedmill", ".reedmill/objects", ".reedmill/packs", ".reedmill/scratch", "01-first")


def placed(place: str, kind: str, course: Path, out: Path) -> Path:
    """Put something of *kind* where *place* was; where that is."""
    path = out / place.replace("LEDGER", ledger_name(course).removesuffix(".json"))
    if path.is_dir():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)
    KINDS[kind](path)
    return path


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("place", FILES)
def test_something_odd_in_the_place_of_a_file_stays_and_nothing_outside_changes(
    begun: tuple[Path, Path], place: str, kind: str
) -> None:
    course, out = begun
    path = placed(place, kind, course, out)
    outside, here = around(out), entry(path)
    everything_done_with(course, out)
    assert around(out) == outside
    assert entry(path) == here


@pytest.mark.parametrize("kind", [each for each in KINDS if each != "a folder"])
@pytest.mark.parametrize("place", FOLDERS)
def test_something_odd_in_the_place_of_a_folder_stays_and_nothing_outside_changes(
    begun: tuple[Path, Path], place: str, kind: str
) -> None:
    course, out = begun
    path = placed(place, kind, course, out)
    outside, here = around(out), entry(path)
    done = everything_done_with(course, out)
    assert around(out) == outside
    assert entry(path) == here
    said = done[2].output
    assert done[2].exit_code == 1
    assert str(path) in said
    assert " is a " in said


def test_objects_that_are_odd_are_neither_read_nor_written_nor_removed(
    begun: tuple[Path, Path],
) -> None:
    """Of books and pages: to be bound they are read from the store."""
    course, out = begun
    objects = sorted((out / ".reedmill" / "objects").glob("??/*"))
    assert len(objects) > len(KINDS)  # each kind takes its turn
    for path, make in zip(objects, itertools.cycle(KINDS.values()), strict=False):
        path.unlink()
        make(path)
    outside, here = around(out), [entry(path) for path in objects]
    everything_done_with(course, out)
    assert around(out) == outside
    assert [entry(path) for path in objects] == here


def test_two_hundred_and_fifty_six_links_in_the_place_of_object_folders_lead_nowhere(
    begun: tuple[Path, Path],
) -> None:
    """A name of two letters is a link to a folder with files: a clean once emptied it."""
    course, out = begun
    objects = out / ".reedmill" / "objects"
    shutil.rmtree(objects)
    objects.mkdir()
    for short in (*(f"{n:02x}" for n in range(256)), "zz"):
        (objects / short).symlink_to(out.parent / "victim")
    outside = around(out)
    _, _, done, *_ = everything_done_with(course, out)
    assert around(out) == outside
    assert "is a link to another place" in done.output


def test_what_is_written_over_never_has_a_second_name_outside(begun: tuple[Path, Path]) -> None:
    """Hard links: one file, two names.  New content goes into a new file."""
    course, out = begun
    inside = [
        out / ".reedmill" / name
        for name in ("journal", "README", "last-build.json", ".last-build.json.part", "lock")
    ]
    inside += (out / ".reedmill" / "packs").iterdir()
    inside += [out / "index.html", out / "01-first" / "01-alpha-c-2nd.txt", out / "evenings.zip"]
    for number, path in enumerate(inside):
        path.unlink(missing_ok=True)
        victim = out.parent / "victim" / f"{number}.txt"
        victim.write_text("mine")
        os.link(victim, path)
    outside = around(out)
    everything_done_with(course, out)
    assert around(out) == outside


def test_what_others_put_into_a_pack_stays_at_every_level(begun: tuple[Path, Path]) -> None:
    course, out = begun
    store = out / ".reedmill"
    wrong = hashlib.sha256(b"another").hexdigest()
    (store / "objects" / "zz").mkdir()
    (store / "objects" / wrong[:2]).mkdir(exist_ok=True)
    files = [
        out / "notes.txt", out / "01-first" / "notes.txt", store / "notes.txt",
        store / "packs" / "notes.json", store / "objects" / "notes", store / "objects/zz/notes",
        store / "objects" / "zz" / ("z" * 64), store / "objects" / wrong[:2] / "notes",
        store / "objects" / wrong[:2] / wrong,
    ]  # fmt: skip
    for path in files:
        path.write_text("harder than it looks")
    folders = [out, out / "01-first", store, store / "packs", store / "objects"]
    folders += [store / "objects" / "zz", store / "objects" / wrong[:2]]
    for number, (kind, make) in enumerate(KINDS.items()):
        for folder in folders:
            path = folder / f"{kind.replace(' ', '-')}-{number}"
            make(path)
            files.append(path)
    outside, here = around(out), [entry(path) for path in files]
    write_course(course.parent, formats='"tab"', harps='"A"')  # other files than before
    everything_done_with(course, out)
    done = run("clean", out)  # of what the build before needed
    told(done)
    assert around(out) == outside
    assert [entry(path) for path in files] == here
    assert not (out / "01-first" / "01-alpha-c-2nd.txt").exists()  # ours went
    assert f"kept     {store / 'objects' / wrong[:2] / wrong}: it was changed" in done.output


def test_the_scratch_folder_is_emptied_and_its_links_are_not_followed(
    begun: tuple[Path, Path],
) -> None:
    course, out = begun
    scratch = out / ".reedmill" / "scratch"
    (scratch / "deep" / "deeper").mkdir(parents=True)
    for folder in (scratch, scratch / "deep", scratch / "deep" / "deeper"):
        for number, make in enumerate(KINDS.values()):
            make(folder / f"odd-{number}")
    outside = around(out)
    assert run("pack", course, "--out", out).exit_code == 0
    assert around(out) == outside
    assert not scratch.exists()


def test_a_scratch_folder_fifteen_hundred_folders_deep_is_swept(begun: tuple[Path, Path]) -> None:
    """Deeper than Python's calls may be nested, and than a process may have files open."""
    course, out = begun
    (out / ".reedmill" / "scratch").mkdir()
    here = os.open(out / ".reedmill" / "scratch", os.O_RDONLY)
    for _ in range(1500):
        os.mkdir("a", dir_fd=here)
        inner = os.open("a", os.O_RDONLY, dir_fd=here)
        os.close(here)
        here = inner
    os.close(here)
    assert run("pack", course, "--out", out).exit_code == 0
    assert not (out / ".reedmill" / "scratch").exists()


# --- damaged, or made to do damage -----------------------------------------------------


@pytest.mark.parametrize(
    ("name", "text"),
    [("journal", f"null\n1e999\n{{}}\n{NESTED}\n" + "\0" * 3_000_000)]
    + [
        (name, text)
        for name in ("LEDGER.json", "LEDGER.facts", "last-build.json")
        for text in (NESTED, "\0" * 3_000_000, "null")
    ],
    ids=lambda text: text[:15],
)
def test_a_damaged_record_costs_nothing_but_looking(
    begun: tuple[Path, Path], name: str, text: str
) -> None:
    course, out = begun
    before = contents(out)
    path = out / ".reedmill" / name
    if name.startswith("LEDGER"):
        path = out / ".reedmill" / "packs" / name.replace(
            "LEDGER", ledger_name(course).removesuffix(".json")
        )  # fmt: skip
    path.write_text(text)
    for options in (("--zip", "--plan"), ("--zip",), ("--zip",)):
        done = run("pack", course, "--out", out, *options)
        told(done)
        assert done.exit_code == 0, done.output
    assert contents(out) == before


def test_after_a_lost_journal_changed_drills_are_built_over_the_files_of_the_ledger(
    begun: tuple[Path, Path],
) -> None:
    """What the ledger and the hash say is ours may be replaced, and nothing else."""
    course, out = begun
    (out / ".reedmill" / "journal").write_text(NESTED)
    marked = out / "01-first" / "01-beta-c-2nd.txt"
    marked.write_text("with a fingering of mine")
    write_course(course.parent, formats='"tab"', tempi={"Alpha": 66, "Beta": 66})
    done = run("pack", course, "--out", out, "--lesson", "1")
    assert done.exit_code == 1
    assert f"{marked} is there already and was not made for this pack" in done.output
    assert marked.read_text() == "with a fingering of mine"
    assert "66" in (out / "01-first" / "01-alpha-c-2nd.txt").read_text()


@pytest.mark.parametrize("text", [NESTED, '{"format":1}', ""])
def test_a_clean_removes_nothing_while_a_ledger_cannot_be_read(
    begun: tuple[Path, Path], text: str
) -> None:
    """Its curriculum needs files, and nobody knows which."""
    course, out = begun
    ledger = out / ".reedmill" / "packs" / ledger_name(course)
    ledger.write_text(text)
    before = contents(out)
    done = run("clean", out)
    assert done.exit_code == 1
    assert f"{ledger} is damaged, so Reedmill cannot tell which files" in done.output
    assert contents(out) == before
    built(course, out, "--zip")
    assert run("clean", out).exit_code == 0
    assert contents(out) == before


def test_a_journal_larger_than_any_of_ours_is_refused(begun: tuple[Path, Path]) -> None:
    course, out = begun
    with (out / ".reedmill" / "journal").open("r+b") as file:
        file.truncate(10**12)  # a hole: it takes no room
    done = run("pack", course, "--out", out, "--lesson", "1")
    assert done.exit_code == 1
    assert "journal is 1,000,000,000,000 bytes long, and Reedmill writes at most" in done.output
    ledger = out / ".reedmill" / "packs" / ledger_name(course)
    (out / ".reedmill" / "journal").unlink()
    with ledger.open("r+b") as file:
        file.truncate(10**12)
    assert made(built(course, out), out) == {}


def rows(out: Path) -> list[dict[str, Any]]:
    lines = (out / ".reedmill" / "journal").read_bytes().splitlines()
    return [json.loads(line) for line in lines]


@pytest.mark.parametrize(
    ("key", "value"),
    [("seconds", "a"), ("seconds", 1e400), ("seconds", -1), ("amount", []), ("amount", True),
     ("kind", 3), ("parts", 5), ("parts", [[]]), ("parts", [[1, 2, 3, 4]]),
     ("parts", [[".pdf", "../../../victim/thesis.txt", 17, "book"]]),
     ("parts", [["/../../x.pdf", "0" * 64, 17, "book"]]),
     ("parts", [[".pdf", "0" * 64, -1, "book"]]),
     ("parts", [[".pdf", "0" * 64, 1, "book", "", "x"]]),
     ("parts", [[".pdf", "0" * 64, 1, *"123456789"]])],
)  # fmt: skip
def test_a_line_of_the_journal_that_we_would_not_have_written_is_passed_over(
    begun: tuple[Path, Path], key: str, value: object
) -> None:
    course, out = begun
    text = "".join(json.dumps({**row, key: value}) + "\n" for row in rows(out) if "step" in row)
    (out / ".reedmill" / "journal").write_text(text)
    assert read_records(out) == {}
    outside = around(out)
    done = run("pack", course, "--out", out, "--plan")
    assert done.exit_code == 0, done.output
    assert around(out) == outside


@pytest.mark.parametrize(
    "change",
    [{"curriculum": ["x"]}, {"curriculum": "x" * 5000}, {"curriculum": "a\0b"},
     {"files": [[["x"], *"123456789abc"]]}, {"files": [["../../victim/thesis.txt"]]},
     {"builds": {"a": ["b", "c", "d"]}}, {"builds": {"a": [1, {}, [None, None, False]]}},
     {"builds": []}, {"format": NESTED[:3]}],
)  # fmt: skip
def test_a_ledger_may_say_anything(begun: tuple[Path, Path], change: dict[str, object]) -> None:
    course, out = begun
    mine = out / ".reedmill" / "packs" / ledger_name(course)
    text = json.dumps(json.loads(mine.read_text()) | change)
    before = contents(out)
    for ledger in (mine, mine.with_name(ELSEWHERE)):
        ledger.write_text(text)
        everything_done_with(course, out)
        assert contents(out) == before


# --- between a look and what follows it -------------------------------------------------


def exchange(folder: Path, other: Path) -> None:
    """Put a link to *other* where *folder* was."""
    folder.rename(folder.with_name(f"{folder.name}-away"))
    folder.symlink_to(other)


def test_a_folder_exchanged_for_a_link_while_a_file_is_copied_into_it_is_not_left(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    (out / "01-first" / "01-alpha-c-2nd.txt").unlink()
    outside = around(out)
    real, victim = placing.copy, out.parent / "victim"

    def copy(*of: Any) -> None:
        real(*of)
        if not (out / "01-first").is_symlink():
            exchange(out / "01-first", victim)

    monkeypatch.setattr(placing, "copy", copy)
    told(run("pack", course, "--out", out, "--zip"))
    assert (out / "01-first").is_symlink()
    assert around(out) == outside


def test_a_store_exchanged_for_a_link_in_the_middle_of_a_build_takes_nothing_with_it(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Workers and LilyPond too: they have begun, and go on in the folder they were given."""
    course, out = begun
    write_course(course.parent, formats='"tab"', tempi={"Alpha": 66, "Gamma": 66})
    victim = out.parent / "victim"
    for name in ("objects", "packs", "scratch"):
        (victim / name).mkdir()
    outside = around(out)
    real = placing.copy

    def copy(*of: Any) -> None:
        real(*of)
        if not (out / ".reedmill").is_symlink():
            exchange(out / ".reedmill", victim)

    monkeypatch.setattr(placing, "copy", copy)
    told(run("pack", course, "--out", out, "--zip", anew=True))
    assert (out / ".reedmill").is_symlink()
    assert around(out) == outside


@pytest.mark.parametrize("place", ["01-first", ".reedmill/objects/HASH"])
def test_a_folder_exchanged_for_a_link_while_its_files_are_read_is_not_cleaned_elsewhere(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    course, out = begun
    write_course(course.parent, formats='"tab"', harps='"A"')
    built(course, out, "--zip")
    tab = out / "01-first" / "01-alpha-c-2nd.txt"
    sha256 = hashlib.sha256(tab.read_bytes()).hexdigest()
    folder = out / place.replace("HASH", sha256[:2])
    victim = out.parent / "victim" / "twin"
    shutil.copytree(folder, victim)  # the same bytes by the same names
    outside = around(out)
    real = hashlib.file_digest

    def file_digest(*of: Any) -> Any:
        if not folder.is_symlink():
            exchange(folder, victim)
        return real(*of)

    monkeypatch.setattr(hashlib, "file_digest", file_digest)
    told(run("clean", out))
    assert folder.is_symlink()
    assert around(out) == outside


def test_a_file_saved_anew_while_the_old_one_is_read_is_not_cleaned_away(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    write_course(course.parent, formats='"tab"', harps='"A"')
    built(course, out, "--zip")
    tab = out / "01-first" / "01-alpha-c-2nd.txt"
    real = hashlib.file_digest

    def file_digest(*of: Any) -> Any:
        found = real(*of)
        if tab.exists():
            tab.unlink()
            tab.write_text("mine now")
        return found

    monkeypatch.setattr(hashlib, "file_digest", file_digest)
    assert f"kept     {tab}" in run("clean", out).output
    assert tab.read_text() == "mine now"


def test_a_folder_exchanged_for_a_link_while_it_is_swept_is_not_swept_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "out" / "waste" / "inner").mkdir(parents=True)
    (tmp_path / "out" / "waste" / "inner" / "x").write_text("waste")
    (tmp_path / "victim").mkdir()
    (tmp_path / "victim" / "x").write_text("mine")
    inner, real = tmp_path / "out" / "waste" / "inner", Folder.look

    def look(self: Folder, name: str) -> os.stat_result | None:
        found = real(self, name)
        if name == "inner" and not inner.is_symlink():
            exchange(inner, tmp_path / "victim")
        return found

    monkeypatch.setattr(Folder, "look", look)
    with Folder.top(tmp_path / "out") as top, pytest.raises(StrangeEntryError):
        top.remove_tree("waste")
    assert (tmp_path / "victim" / "x").read_text() == "mine"


def test_a_file_exchanged_for_a_pipe_after_it_was_looked_at_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, real = tmp_path / "sheet.pdf", Folder.refuse_odd
    path.write_text("x")

    def refuse_odd(self: Folder, name: str) -> None:
        real(self, name)
        path.unlink()
        os.mkfifo(path)

    monkeypatch.setattr(Folder, "refuse_odd", refuse_odd)
    with pytest.raises(StrangeEntryError, match="is a named pipe"):
        open_own_file(path)


@pytest.mark.parametrize("name", ["", ".", "..", "a/b", "/etc", "../x", "a\0b"])
def test_nothing_but_single_names_is_looked_for_in_a_folder(tmp_path: Path, name: str) -> None:
    with Folder.top(tmp_path) as top:
        for use in (top.look, top.folder, top.reading, top.creating, top.remove, top.remove_tree):
            with pytest.raises(RenderError, match="is not the name of a file"):
                use(name)


def test_an_archive_takes_nothing_from_a_pipe_or_a_device(tmp_path: Path) -> None:
    for number, kind in enumerate(("a pipe", "a device", "a link to itself")):
        path = tmp_path / f"{number}.txt"
        KINDS[kind](path)
        with (
            (tmp_path / "x.zip").open("wb") as file,
            pytest.raises(RenderError, match="is not a plain"),
        ):
            write_archive(file, [("x.txt", path)])


# --- gone in the middle -----------------------------------------------------------------


@pytest.mark.parametrize("moved", [False, True])
def test_a_pack_removed_while_it_is_built_is_told_and_not_begun_again(
    tmp_path: Path, moved: bool
) -> None:
    course = write_course(tmp_path / "course", formats='"sheet", "tab"')
    out = tmp_path / "out"
    process = subprocess.Popen(
        command(course, out), env=environment(), stderr=subprocess.PIPE, text=True
    )
    while "lilypond" not in str(at_work_in(out)):  # so that something is being made
        assert process.poll() is None
        time.sleep(0.01)
    if moved:
        out.rename(tmp_path / "elsewhere")
    else:
        while out.exists():  # whoever is at work in it may be quicker
            shutil.rmtree(out, ignore_errors=True)
            time.sleep(0.001)
    _, said = process.communicate(timeout=LONGEST_S)
    assert process.returncode == 1
    assert said == (f"{out} was removed or moved while its pack was being built. Build it again.\n")
    assert not out.exists()
    built(course, out)


@pytest.mark.parametrize("gone", ["01-first", ".reedmill/objects"])
def test_a_folder_of_a_pack_removed_while_it_is_built_is_made_again_by_the_next_build(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, gone: str
) -> None:
    course, out = begun
    before = contents(out)
    write_course(course.parent, formats='"tab"', tempi={"Beta": 66})
    real = placing.copy

    def copy(*of: Any) -> None:
        real(*of)
        shutil.rmtree(out / gone, ignore_errors=True)

    monkeypatch.setattr(placing, "copy", copy)
    told(run("pack", course, "--out", out, "--zip"))
    monkeypatch.undo()
    write_course(course.parent, formats='"tab"')
    built(course, out, "--zip")
    assert contents(out) == before


def test_a_store_is_found_by_workers_wherever_its_folder_goes(tmp_path: Path) -> None:
    """Where the system has paths for what is open; elsewhere it is a path like any other."""
    with Store(tmp_path / "out") as store:
        assert store.scratch.is_absolute()
        assert store.scratch.samefile(tmp_path / "out" / ".reedmill" / "scratch")
        if sys.platform == "linux":
            (tmp_path / "out").rename(tmp_path / "moved")
            (store.scratch / "x").write_text("x")
            assert (tmp_path / "moved" / ".reedmill" / "scratch" / "x").read_text() == "x"
