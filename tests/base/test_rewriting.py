"""Tidying a file in place: it stays the file it was, and its text is never in danger."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from reedmill.base.errors import RenderError
from reedmill.base.rewriting import rewrite
from reedmill.cli import cli

UNTIDY = 'drill   "Home"\nplay -2   -3\n'
TIDY = 'drill "Home"\n  play  -2 -3\n'


@pytest.fixture
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "mine.drill"
    path.write_text(UNTIDY)
    return path


def here() -> list[str]:
    return sorted(path.name for path in Path().iterdir())


def tidied(name: str = "mine.drill") -> Result:
    return CliRunner().invoke(cli, ["format", name])


def test_the_untidy_text_is_tidied(mine: Path) -> None:
    result = tidied()
    assert (result.exit_code, result.output) == (0, "mine.drill: tidied\n")
    assert mine.read_text() == TIDY
    assert here() == ["mine.drill"]


@pytest.mark.parametrize("target", ["shelf/real.drill", "../real.drill"])
def test_a_link_stays_a_link_and_its_target_is_tidied(
    target: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a" / "shelf").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "a")
    Path(target).write_text(UNTIDY)
    Path("first.drill").symlink_to(target)
    Path("second.drill").symlink_to("first.drill")
    assert tidied("second.drill").exit_code == 0
    assert Path("first.drill").readlink() == Path(target)
    assert Path("second.drill").readlink() == Path("first.drill")
    assert Path(target).read_text() == TIDY
    assert not Path(target).is_symlink()


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755, 0o2644])
def test_permissions_stay(mode: int, mine: Path) -> None:
    mine.chmod(mode)
    assert tidied().exit_code == 0
    assert stat.S_IMODE(mine.stat().st_mode) == mode
    assert mine.read_text() == TIDY


def test_the_owner_stays(mine: Path) -> None:
    """Only the administrator can give a file away; for others it stays their own."""
    owner = (4321, 8765) if os.geteuid() == 0 else (os.getuid(), os.getgroups()[-1])
    os.chown(mine, *owner)
    assert tidied().exit_code == 0
    assert (mine.stat().st_uid, mine.stat().st_gid) == owner
    assert mine.read_text() == TIDY


def test_a_file_we_may_write_but_not_give_away_is_written_where_it_is(
    mine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """chown(2): EPERM for everyone but the administrator."""

    def refused(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "chown", refused)
    number = mine.stat().st_ino
    assert tidied().exit_code == 0
    assert (mine.stat().st_ino, mine.read_text()) == (number, TIDY)
    assert here() == ["mine.drill"]


def test_every_name_of_a_file_gets_the_tidy_text(mine: Path) -> None:
    Path("also.drill").hardlink_to(mine)
    assert tidied().exit_code == 0
    assert mine.read_text() == Path("also.drill").read_text() == TIDY
    assert mine.stat().st_nlink == 2
    assert here() == ["also.drill", "mine.drill"]


def test_a_write_protected_file_stays_as_it_is(mine: Path) -> None:
    mine.chmod(0o444)
    result = tidied()
    assert result.exit_code == 1
    assert result.output == (
        "mine.drill: this file is write-protected, so it stays as it is. "
        "Give yourself permission to write it, or tidy a copy.\n"
    )
    assert mine.read_text() == UNTIDY
    assert stat.S_IMODE(mine.stat().st_mode) == 0o444


def test_a_write_protected_folder_is_told(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's refusal is put on by hand, because it refuses nothing to its administrator."""
    really = os.open

    def refused(path: Path, flags: int, *rest: int) -> int:
        if flags & os.O_CREAT:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return really(path, flags, *rest)

    monkeypatch.setattr(os, "open", refused)
    result = tidied()
    assert result.exit_code == 1
    assert "mine.drill: cannot be written: its folder is write-protected. Give" in result.output
    assert mine.read_text() == UNTIDY


def test_a_file_changed_meanwhile_is_left_alone(mine: Path) -> None:
    mine.write_text("changed")
    with pytest.raises(RenderError, match="another program changed this file"):
        rewrite(mine, UNTIDY.encode(), TIDY.encode())
    assert mine.read_text() == "changed"
    assert here() == ["mine.drill"]


@pytest.mark.parametrize("names", [1, 2])
@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left"), KeyboardInterrupt()])
def test_what_stops_the_writing_leaves_the_old_text(
    names: int, error: BaseException, mine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if names == 2:
        Path("also.drill").hardlink_to(mine)
    really = os.fsync
    calls = []

    def stopped(opened: int) -> None:
        calls.append(opened)
        if len(calls) == names:  # of the file beside it, then of the file itself
            raise error
        really(opened)

    monkeypatch.setattr(os, "fsync", stopped)
    assert tidied().exit_code in (1, 130)
    assert mine.read_text() == UNTIDY
    assert here() == ["also.drill", "mine.drill"][2 - names :]


def test_where_even_the_old_text_cannot_be_put_back_the_whole_text_is_named(
    mine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("also.drill").hardlink_to(mine)
    really = os.fsync
    calls = []

    def failing(opened: int) -> None:
        calls.append(opened)
        if len(calls) > 1:
            raise OSError(errno.EIO, "Input/output error")
        really(opened)

    monkeypatch.setattr(os, "fsync", failing)
    result = tidied()
    [part] = Path().glob(".*.part")
    assert result.exit_code == 1
    assert result.output.startswith("mine.drill: only a part of it could be written (Input/output")
    assert part.name in result.output
    assert part.read_text() == TIDY


_KILLED = """\
import sys, time
from pathlib import Path
from reedmill.base.errors import RenderError
from reedmill.base.rewriting import rewrite
path = Path("mine.drill")
before, after = path.read_bytes(), Path("after").read_bytes()
print("ready", flush=True)
while True:
    rewriting.rewrite(path, before, after)
    rewriting.rewrite(path, after, before)
"""


@pytest.mark.parametrize("names", [1, 2])
def test_whenever_it_is_killed_one_whole_text_is_there(names: int, mine: Path) -> None:
    """SIGKILL cannot be caught: signal(7)."""
    before, after = b"#" * 190_000, b"%" * 170_001
    if names == 2:
        Path("also.drill").hardlink_to(mine)
    Path("after").write_bytes(after)
    for wait_s in (0.0, 0.003, 0.011, 0.017):
        mine.write_bytes(before)
        for part in Path().glob(".*.part"):
            part.unlink()
        run = subprocess.Popen([sys.executable, "-c", _KILLED], stdout=subprocess.PIPE)
        assert run.stdout is not None
        run.stdout.readline()
        time.sleep(wait_s)
        run.send_signal(signal.SIGKILL)
        run.communicate()
        held = [path.read_bytes() for path in (mine, *Path().glob(".*.part"))]
        assert before in held or after in held
        if names == 1:
            assert held[0] in (before, after)
