"""Files that come from anywhere: every command says what is wrong with one, and soon."""

from __future__ import annotations

import ast
import errno
import os
import resource
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import click
import pytest
from click.testing import CliRunner

import reedmill
from odd_files import COURSE, DRILL, KINDS, OPENINGS, RIGHT, Ended, Opening, prepared
from reedmill import library as library_module
from reedmill.band import shelf
from reedmill.base.errors import InputError, PatternError, reason_of
from reedmill.base.reading import decoded, open_plain, read_bytes, read_text
from reedmill.cli import cli
from reedmill.cli.accompanying import complete_form
from reedmill.cli.options import complete_drill
from reedmill.pack.build.unchanged import inputs_of_build

PACKAGE = Path(reedmill.__file__).parent
SOON_S = 2.0  # of the processor
MEMORY = 1_500_000_000  # bytes more than are in use


class HangsError(BaseException):
    """Raised by the alarm; no code under test takes it for an error of a file."""


@contextmanager
def bounded_run() -> Iterator[None]:
    """Let nothing inside wait for ever or take all memory."""

    def wake(_number: int, _frame: FrameType | None) -> None:
        raise HangsError

    before = signal.signal(signal.SIGALRM, wake)
    limits = resource.getrlimit(resource.RLIMIT_AS)
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    resource.setrlimit(resource.RLIMIT_AS, (pages * resource.getpagesize() + MEMORY, limits[1]))
    signal.alarm(60)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
        resource.setrlimit(resource.RLIMIT_AS, limits)


def ended_here(opening: Opening, kind: str) -> Ended:
    """As ``odd_files.ended``, in this process, which has read the library once."""
    words = prepared(opening, kind, Path.cwd())
    began = time.process_time()
    try:
        with bounded_run():
            result = CliRunner().invoke(cli, words)
    except HangsError:
        return Ended(None, "", 60.0)
    seconds = time.process_time() - began
    said = result.output
    if result.exception and not isinstance(result.exception, SystemExit):
        said += f"Traceback {result.exception!r}"
    return Ended(result.exit_code, said, seconds)


@pytest.fixture(scope="module", autouse=True)
def library() -> None:
    """Everything that is read once, so that what is measured is the reading of odd files."""
    for words in (["drills"], ["backing"], ["check", "none.toml"], ["check", "none.form"]):
        CliRunner().invoke(cli, words)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("opening", OPENINGS, ids=[each.name for each in OPENINGS])
def test_every_command_says_what_is_wrong_with_a_file(
    opening: Opening, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    end = ended_here(opening, kind)
    if (opening.name, kind) in RIGHT:
        assert end.code == 0, end.said
        return
    assert not end.fault, f"{end.fault}: {end.said}"
    assert end.seconds < SOON_S
    assert "odd" in end.said  # it names the file
    assert not list(tmp_path.rglob("*.part"))


@pytest.mark.parametrize("opening", OPENINGS, ids=[each.name for each in OPENINGS])
def test_a_file_without_permission_is_told(
    opening: Opening, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The system's refusal is put on by hand, because it refuses nothing to its administrator."""
    monkeypatch.chdir(tmp_path)
    really = os.open

    def refused(path: str | Path, *rest: int) -> int:
        if "odd" in str(path):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return really(path, *rest)

    monkeypatch.setattr(os, "open", refused)
    end = ended_here(opening, "UTF-16")
    assert not end.fault, f"{end.fault}: {end.said}"
    assert "permission" in end.said.lower() or opening.name == "clean"


# --- the reader ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "said"),
    {
        "a pipe": "it is a pipe between programs, not a plain file. Name a plain file",
        "a link to a device": "it is a device, not a plain file. Name a plain file",
        "a folder": "it is a folder. Name a file in it.",
        "a socket": "it is a socket, not a plain file. Name a plain file",
        "nothing": "it is not there. Check how its name and its folder are spelled.",
        "a link in a circle": "its links lead in a circle. Name the file itself",
    }.items(),
)
def test_what_is_no_file_is_called_what_it_is(kind: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.drill"
    KINDS[kind](path)
    with bounded_run(), pytest.raises(InputError) as caught:
        read_text(path, 1000)
    assert str(caught.value).startswith(f"{path}: cannot read this file: {said}")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "a\0b",
            "a[U+0000]b: cannot read this file: its name has a character in it that no file name "
            "can have",
        ),
        ("x" * 5_000, "its name is too long. Give it a shorter one."),
        ("a.drill/b", "its path leads through a file as if that were a folder"),
    ],
)
def test_a_name_no_file_can_have(
    name: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("a.drill").write_text(DRILL)
    with pytest.raises(InputError) as caught:
        read_bytes(Path(name), 1000)
    assert said in str(caught.value)
    assert len(str(caught.value)) < 400


def test_a_file_is_read_up_to_its_bound_and_no_further(tmp_path: Path) -> None:
    path = tmp_path / "a.drill"
    for size in (0, 1, 999, 1000):
        path.write_bytes(b"#" * size)
        assert read_bytes(path, 1000) == b"#" * size
    path.write_bytes(b"#" * 1001)
    with pytest.raises(InputError, match=r"this file is larger than 1 kB\. Split it into several"):
        read_bytes(path, 1000)


def test_a_file_that_says_it_is_empty_is_bounded_all_the_same() -> None:
    """proc(5): files below /proc have a size of 0, whatever is in them."""
    path = Path("/proc/kallsyms")
    assert path.stat().st_size == 0
    with pytest.raises(InputError, match="this file is larger than 1 kB"):
        read_bytes(path, 1000)


def test_a_file_that_grows_while_it_is_read_is_bounded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "growing.drill"
    path.write_bytes(b"#")
    really = os.read

    def read(opened: int, size: int) -> bytes:
        with path.open("ab") as file:
            file.write(b"#" * 700)
        return really(opened, size)

    monkeypatch.setattr(os, "read", read)
    with pytest.raises(InputError, match="larger than 2 kB"):
        read_bytes(path, 2000)


def test_what_a_file_became_after_it_was_looked_at_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the look and the opening somebody puts a pipe in its place."""
    path = tmp_path / "a.drill"
    path.write_text(DRILL)
    really = os.open

    def exchanged(name: Path, *rest: int) -> int:
        path.unlink()
        os.mkfifo(path)
        return really(name, *rest)

    monkeypatch.setattr(os, "open", exchanged)
    with bounded_run(), pytest.raises(InputError, match="it is a pipe"):
        read_bytes(path, 1000)


def test_a_link_is_no_plain_file_where_links_are_not_followed(tmp_path: Path) -> None:
    (tmp_path / "a.drill").write_text(DRILL)
    (tmp_path / "link.drill").symlink_to("a.drill")
    with open_plain(tmp_path / "link.drill") as file:
        assert file.read() == DRILL.encode()
    with pytest.raises(OSError, match="it is a link"):
        open_plain(tmp_path / "link.drill", follow=False)


def test_text_with_a_byte_order_mark_is_read_and_its_mistakes_stand_where_they_are() -> None:
    """The mark is the three bytes EF BB BF: the Unicode Standard, 23.8."""
    mark = b"\xef\xbb\xbf"
    assert decoded(mark + b"Home", "a") == "Home"
    for before in (b"", mark):
        with pytest.raises(PatternError) as caught:
            decoded(before + b"one\ntw\xe9", "a")
        assert caught.value.span.place == "a:2:3"
        assert "0xE9" in caught.value.fact


# --- no reason is empty -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (OSError(errno.ENOSPC, "No space left on device", "a.wav"), "No space left on device"),
        (OSError("the disk went away."), "the disk went away"),
        (OSError(), "the system gave no reason"),
        (OSError(None, None), "the system gave no reason"),
        (MemoryError(), "this machine does not have enough memory for it"),
        (RecursionError(), "it is nested too deeply"),
        (ValueError("a\x1b[31m\nb"), "a[U+001B][31m b"),
        (KeyError(), "of an error called KeyError"),
    ],
)
def test_an_error_always_has_a_reason(error: Exception, reason: str) -> None:
    assert reason_of(error) == reason


def test_no_message_is_made_of_the_systems_reason_alone() -> None:
    """It may be missing: ``OSError("...")`` has none, and the message would end in None."""
    found = [
        f"{path.relative_to(PACKAGE)}:{node.lineno}"
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "strerror"
        and ast.unparse(node.value) != "os"
    ]  # fmt: skip
    assert found == []


# --- one way to open ----------------------------------------------------------------------

# Everything else that opens a file for reading or by its name, and why it may.
ALLOWED = {
    "base/reading.py": "the one way itself",
    "base/hashing.py": "what this build has made, or is about to compare with it",
    "base/rewriting.py": "writes over a file that was read by base/reading.py",
    "make/made_files.py": "the folder of the output, to hold a lock on it; nothing is read from it",
    "base/grammar_tables.py": "a grammar and its tables, files of the program",
    "base/toml_grammar.py": "the grammar, a file of the program",
    "page/practice_page.py": "the template, style and program of the page, files of the program",
    "pack/site/app_files.py": "our own icons and bundled programs, files of the program",
    "pack/site/templating.py": "templates, style and script of the page, files of the program",
    "pack/steps/versions.py": "the program's own code",
    "record_pages/record_frame.py": "templates and style of the pages, files of the program",
    "sheet/engrave.py": "a private folder that only our LilyPond writes",
    "pack/run/render.py": "leaves and sounds that this build has just made in its scratch folder",
    "pack/run/dask_engine.py": "what this build has just made in its scratch folder",
    "pack/build/archive.py": "opens an entry inside the archive that it writes",
    "sound/recording/audio_files.py": "makes new files",
    "base/writing.py": "makes new files",
    "base/scratch.py": "folders of our own, to lock them",
    "cli/saying.py": "the null device, so that what is left to print goes nowhere",
    "base/children.py": "asks the system what is wrong with a program that is not there",
    "base/below.py": "reaches what a pack holds from its open folder, never through a link",
    "sound/soundfont/font_process.py": "its own standard output",
}
OPENERS = {"open", "read_bytes", "read_text", "memmap", "fromfile"}
READERS = {
    "tomllib.load", "json.load", "wave.open", "soundfile.SoundFile", "zipfile.ZipFile", "av.open",
}  # fmt: skip
OPEN_ALREADY = {"plain", "plain.fileno()", "sys.stdin", "file", "_Source(file)"}
OURS = {"read_bytes", "read_text"}  # by their bare name they are those of base.reading


def opens(node: ast.AST) -> bool:
    """True for a call that opens a file by its name, but for those of ``base.reading``."""
    if not isinstance(node, ast.Call):
        return False
    if ast.unparse(node.func) in READERS:  # right for what is open already
        return ast.unparse(node.args[0]) not in OPEN_ALREADY
    words = ast.unparse(node.func).split(".")
    return words[-1] in OPENERS and not (len(words) == 1 and words[0] in OURS)


def test_no_other_module_opens_a_file() -> None:
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if opens(node)
    }
    assert found - set(ALLOWED) == set()
    assert set(ALLOWED) - found == set()  # no longer needed


def test_completion_offers_files_where_the_library_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shell would show a traceback in the middle of the player's line."""
    for suffix in ("drill", "form"):
        os.mkfifo(tmp_path / f"odd.{suffix}")
    for module in (library_module, shelf):
        monkeypatch.setattr(module, "patterns_dir", lambda: tmp_path)
    caches = (library_module.shipped, library_module._texts, shelf._shipped)
    for cache in caches:
        cache.cache_clear()
    context = click.Context(cli)
    argument = click.Argument(["file"])
    try:
        with bounded_run():
            for complete in (complete_drill, complete_form):
                assert [item.type for item in complete(context, argument, "od")] == ["file"]
    finally:
        for cache in caches:
            cache.cache_clear()


def test_what_a_pack_is_fed_is_bounded_before_it_is_read_as_toml(tmp_path: Path) -> None:
    """A name of 60,000 dots fills several GB when tomllib reads it: it keeps every beginning."""
    for kind in ("a name of 60,000 dots", "a link to a device", "a pipe", "many brackets"):
        path = tmp_path / f"{kind}.toml"
        KINDS[kind](path)
        with bounded_run():
            assert set(inputs_of_build(path).inputs) == {path.name}


@pytest.mark.parametrize(
    "kind", ["a pipe", "a link to a device", "a folder", "a socket", "NUL bytes", "many brackets"]
)
@pytest.mark.parametrize("place", ["packs/m.json", "packs/m.facts", "journal"])
def test_odd_files_in_the_folder_of_a_pack_stop_nothing_for_long(
    place: str, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever hands a pack on may have put anything there; nothing waits or breaks."""
    monkeypatch.chdir(tmp_path)
    Path("m.toml").write_text(COURSE)
    store = tmp_path / "pack" / ".reedmill"
    (store / "packs").mkdir(parents=True)
    for name in {"journal", "packs/m.json", "packs/m.facts"} - {place}:
        (store / name).write_bytes(b"")
    KINDS[kind](store / place)
    for words in (["pack", "m.toml", "--out", "pack", "--plan"], ["clean", "pack"]):
        with bounded_run():
            result = CliRunner().invoke(cli, words)
        assert result.exception is None or isinstance(result.exception, SystemExit), words
        assert result.exit_code in (0, 1, 2)
        assert result.output.strip()
