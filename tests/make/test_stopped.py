"""Stopped is stopped: the exit code says so, nothing half made stays, and nobody lives on."""

from __future__ import annotations

import io
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib import util
from pathlib import Path
from types import ModuleType

import lilypond
import pypdf
import pytest
from click.testing import CliRunner

from pack_builds import at_work_in, environment, run, strays, write_course
from reedmill.base import writing
from reedmill.base.children import Child
from reedmill.base.errors import RenderError
from reedmill.base.scratch import Scratch, sweep
from reedmill.cli import cli, ticking
from reedmill.pack.run import render
from reedmill.pack.steps import steps
from reedmill.sheet import engrave
from reedmill.sheet.engrave import Engraver

MAKE = [sys.executable, "-m", "reedmill.cli", "make", "Two bars home"]


def _storm() -> ModuleType:
    place = Path(__file__).parents[1] / "fuzz" / "storm_of_signals.py"
    found = util.spec_from_file_location("storm_of_signals", place)
    assert found is not None
    assert found.loader is not None
    module = util.module_from_spec(found)
    sys.modules[found.name] = module  # where dataclasses look for it
    found.loader.exec_module(module)
    return module


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder for temporary files, empty, for this process and those it starts."""
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setenv("TMPDIR", str(place))
    monkeypatch.setattr("tempfile.tempdir", str(place))
    return place


def until(is_so: object, seconds: float = 20.0) -> None:
    """Wait until the function *is_so* says yes."""
    latest = time.monotonic() + seconds
    while time.monotonic() < latest:
        if callable(is_so) and is_so():
            return
        time.sleep(0.01)
    raise AssertionError("it never happened")


# --- make ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["wav", "flac", "ogg", "mp3"])
def test_a_make_stopped_while_it_encodes_leaves_no_file_and_says_so(kind: str) -> None:
    """A file is whole when it has the bytes of an undisturbed run."""
    [row] = _storm().storm([kind], ["INT"], 2, repeats=2, seed=7, earliest=0.4)
    assert row.clean, f"{_storm().HEAD}\n{row}"
    assert row.tries == 2


def test_whatever_ends_a_make_the_next_run_finds_nothing_of_it_nor_a_child() -> None:
    rows = _storm().storm(["sheet"], ["TERM", "HUP", "KILL"], 2, repeats=1, seed=3, earliest=0.3)
    assert [str(row) for row in rows if not row.clean] == []
    assert sum(row.stopped for row in rows) >= 3


@pytest.mark.parametrize("sign", ["TERM", "HUP"])
def test_a_polite_kill_and_a_closed_terminal_are_told_as_control_c_is(
    sign: str, tmp_path: Path, temporary: Path
) -> None:
    out = tmp_path / "out"
    command = [*MAKE, "--to", "wav", "--repeat", "12", "--out", str(out)]
    with subprocess.Popen(command, env=environment(), stderr=subprocess.PIPE, text=True) as one:
        until(lambda: any(out.glob(".*.part/*")))
        one.send_signal(signal.Signals[f"SIG{sign}"])
        _, told = one.communicate(timeout=30)
    assert told == "Stopped. Nothing unfinished was left behind.\n"
    assert one.returncode == 128 + signal.Signals[f"SIG{sign}"]  # POSIX shells, "$?"
    assert not out.exists()
    assert list(temporary.iterdir()) == []


def test_a_signal_that_is_ignored_stays_ignored(tmp_path: Path) -> None:
    """So says POSIX of nohup: the command it starts does not end when the terminal closes."""
    program = (
        "import os, signal, sys; signal.signal(signal.SIGHUP, signal.SIG_IGN);"
        "from reedmill.base.stopping import heed; heed();"
        "os.kill(os.getpid(), signal.SIGHUP); print('goes on')"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], env=environment(), capture_output=True, text=True,
        cwd=tmp_path, check=True,
    )  # fmt: skip
    assert done.stdout == "goes on\n"


def test_control_c_in_a_program_that_uses_us_waits_for_the_end_of_a_block() -> None:
    program = (
        "import os, signal\n"
        "from reedmill.base.stopping import held\n"
        "try:\n"
        "    with held():\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "        print('whole')\n"
        "    print('too far')\n"
        "except KeyboardInterrupt:\n"
        "    print('stopped', signal.getsignal(signal.SIGINT) is signal.default_int_handler)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], env=environment(), capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert done.stdout == "whole\nstopped True\n"


def test_a_stop_that_a_library_swallows_still_stops_before_files_get_their_names(
    tmp_path: Path,
) -> None:
    program = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from reedmill.base import stopping, writing\n"
        "stopping.heed()\n"
        "with writing.Parts() as parts:\n"
        "    parts.write(Path(sys.argv[1]) / 'a.txt', b'a')\n"
        "    try:\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "    except BaseException:\n"
        "        pass  # as a callback from C does\n"
        "    parts.finish()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)], env=environment(), capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert "Stopped" in done.stderr
    assert list(tmp_path.iterdir()) == []


# --- while it goes on -----------------------------------------------------------------------


class Terminal(io.StringIO):
    """A stream that says it is one."""

    def isatty(self) -> bool:
        """So that a line is drawn on it."""
        return True


def test_a_terminal_says_what_is_being_made_and_for_how_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ticking, "_EVERY_S", 0.02)
    terminal = Terminal()

    def slowly(part: Path) -> None:
        part.write_bytes(b"x" * 3_400_000)
        until(lambda: "3.4 MB so far" in terminal.getvalue())

    monkeypatch.setattr(sys, "stderr", terminal)
    with ticking.Ticking() as shown, writing.Parts() as parts:
        parts.write(tmp_path / "home.mp3", slowly)
        shown.done("home.mp3")
    said = terminal.getvalue().split("\r")
    assert any(re.fullmatch(r"home\.mp3: 3\.4 MB so far, \d+ s *", each) for each in said)
    assert said[-2].strip() == ""  # the line is gone in the end


@pytest.mark.parametrize(("stream", "quiet"), [(io.StringIO(), False), (Terminal(), True)])
def test_other_programs_are_told_nothing_meanwhile(
    stream: io.StringIO, quiet: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stderr", stream)
    with ticking.Ticking(quiet=quiet) as shown:
        shown.done("home.mp3")
    assert stream.getvalue() == ""


# --- what is swept --------------------------------------------------------------------------


def test_only_what_is_ours_and_whose_owner_is_dead_is_swept(
    tmp_path: Path, temporary: Path
) -> None:
    abandoned = (
        "import os, sys; from pathlib import Path; from reedmill.base.scratch import Scratch\n"
        "for each in Scratch(Path(sys.argv[1])), Scratch(): (each.path / 'x').touch()\n"
        "os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", abandoned, str(tmp_path)], env=environment(), check=False)
    [left] = tmp_path.glob(".reedmill-*.part")
    assert len(list(temporary.iterdir())) == 1
    theirs = [
        tmp_path / ".0123456789ab.part", tmp_path / ".reedmill-notes.part",
        tmp_path / "song.part", temporary / "reedmill-songs", temporary / "reedmill-x.scratch",
    ]  # fmt: skip
    for each in theirs:
        each.mkdir()
    link = tmp_path / f".reedmill-{'0' * 16}.part"
    link.symlink_to(temporary)
    with Scratch(tmp_path) as alive, Scratch() as apart:
        sweep(tmp_path)
        sweep()
        assert alive.path.is_dir()
        assert apart.path.is_dir()
        assert not left.exists()
        assert {*tmp_path.iterdir()} == {temporary, link, alive.path, *theirs[:3]}
        assert {*temporary.iterdir()} == {apart.path, *theirs[3:]}


def test_a_folder_removed_meanwhile_is_told_in_one_sentence(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with writing.Parts() as parts:
        parts.write(out / "a.txt", b"a")
        shutil.rmtree(out)
        with pytest.raises(RenderError, match=r"a\.txt: .*folder .* was removed meanwhile"):
            parts.finish()
    assert list(tmp_path.iterdir()) == []


def test_where_one_name_is_taken_by_a_folder_no_other_file_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old", "utf-8")
    (tmp_path / "b.txt").mkdir()
    with pytest.raises(RenderError, match=r"b\.txt: cannot be written \(Is a directory\)"):
        writing.write_files([(tmp_path / "a.txt", b"new"), (tmp_path / "b.txt", b"new")])
    assert (tmp_path / "a.txt").read_text("utf-8") == "old"
    assert {path.name for path in tmp_path.iterdir()} == {"a.txt", "b.txt"}


# --- children -------------------------------------------------------------------------------


def test_a_child_ends_with_its_own_code_or_signal() -> None:
    for script, code in (("exit 7", 7), ("kill -15 $$", -15), ("kill -9 $$", -9), ("true", 0)):
        with Child(["sh", "-c", script]) as child:
            assert child.process.wait(20) == code, script


@pytest.mark.parametrize("how", ["stop", "kill"])
def test_children_and_their_children_end_with_us(how: str, tmp_path: Path) -> None:
    program = (
        "import os, sys, time; from reedmill.base.children import Child\n"
        "child = Child(['sh', '-c', 'sleep 60 & sleep 60'], cwd=sys.argv[1])\n"
        "print(flush=True); sys.stdin.readline(); child.stop()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path)], env=environment(), text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    ) as owner:  # fmt: skip
        assert owner.stdout is not None
        owner.stdout.readline()
        until(lambda: sum("sleep" in each for each in at_work_in(tmp_path)) >= 2)
        if how == "kill":
            owner.kill()
        else:
            owner.communicate("\n", timeout=20)
        until(lambda: not at_work_in(tmp_path), seconds=5)  # of a noisy machine; one at rest: 10 ms


# --- LilyPond that hangs, or is not to be believed --------------------------------------------


@pytest.fixture
def instead(
    tmp_path: Path, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Path]:  # fmt: skip
    """A program in LilyPond's place, to be written, on a clock that runs fast."""
    program = tmp_path / "lilypond"
    program.write_text("", "utf-8")
    program.chmod(0o755)
    monkeypatch.setattr(lilypond, "executable", lambda: program)
    monkeypatch.setattr(engrave, "_SECONDS_WITHOUT_A_SHEET", 2.0)
    monkeypatch.setattr(engrave._Trust, "hangs", 0)
    yield program
    assert list(temporary.iterdir()) == []


def test_the_limits_end_a_hang_within_a_minute() -> None:
    assert engrave._SECONDS_WITHOUT_A_SHEET < 60
    both = engrave._SECONDS_WITHOUT_A_SHEET + engrave._SECONDS_AFTER_A_HANG
    assert both < 60  # a pack asks twice


@pytest.mark.parametrize("script", ["sleep 60 & sleep 60", "exec 0<&-; sleep 60"])
def test_a_lilypond_that_takes_no_input_is_stopped(instead: Path, script: str) -> None:
    instead.write_text(f"#!/bin/sh\n{script}\n", "utf-8")
    began = time.monotonic()
    with Engraver() as engraver, pytest.raises(RenderError, match=r"took too long|stopped early"):
        engraver.feed("% nothing\n" * 100_000)  # more than a pipe holds
    assert time.monotonic() - began < 30


def test_a_run_that_goes_on_making_sheets_may_take_longer_than_a_hang(instead: Path) -> None:
    pdf = _pdf()
    (instead.parent / "one.pdf").write_bytes(pdf)
    copy = f"cp {instead.parent / 'one.pdf'}"
    steps_ = "".join(f"sleep 0.7; {copy} sheet-{number}.pdf\n" for number in range(5))
    instead.write_text(f"#!/bin/sh\ncat >/dev/null\n{steps_}", "utf-8")
    with Engraver() as engraver:
        engraver.feed("% nothing\n")
        assert engraver.sheets(5) == [pdf] * 5


def _pdf(pages: int = 1) -> bytes:
    """A whole PDF of blank pages by pypdf."""
    writer, file = pypdf.PdfWriter(), io.BytesIO()
    for _ in range(pages):
        writer.add_blank_page(100, 100)
    writer.write(file)
    return file.getvalue()


PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 40 + b"IEND\xaeB\x60\x82"
UNTRUE = {
    "an empty sheet": ({"sheet-0.pdf": b""}, "PDF that is not whole"),
    "a sheet cut short": ({"sheet-0.pdf": _pdf()[:-20]}, "PDF that is not whole"),
    "a sheet without its end": (
        {"sheet-0.pdf": _pdf().replace(b"%%EOF", b"")}, "PDF that is not whole",
    ),
    "a sheet with a hole": (
        {"sheet-0.pdf": _pdf()[:60] + _pdf()[90:]}, "PDF that is not whole",
    ),
    "no picture": ({"sheet-0.pdf": _pdf()}, "left no sheet to read"),
    "half a picture": ({"sheet-0.pdf": _pdf(), "sheet-0.png": PNG[:-6]}, "PNG that is not whole"),
    "fewer pictures than pages": (
        {"sheet-0.pdf": _pdf(2), "sheet-0.png": PNG}, "drew 1 of 2 pages",
    ),
    "a picture left out": (
        {"sheet-0.pdf": _pdf(3), "sheet-0-1.png": PNG, "sheet-0-3.png": PNG}, "drew 2 of 3 pages",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", UNTRUE)
def test_a_lilypond_that_ends_well_without_whole_pages_is_not_believed(
    instead: Path, what: str
) -> None:
    files, said = UNTRUE[what]
    for name, content in files.items():
        (instead.parent / name).write_bytes(content)
    copied = " ".join(str(instead.parent / name) for name in files)
    instead.write_text(f"#!/bin/sh\ncat >/dev/null\ncp {copied} .\n", "utf-8")
    out = instead.parent / "out"
    words = ["make", "Two bars home", "--to", "sheet,png", "--out", str(out)]
    done = CliRunner().invoke(cli, words)
    assert (done.exit_code, done.stdout) == (1, "")
    assert re.search(said, done.stderr), done.stderr
    assert not out.exists()


# --- packs ----------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", ["TERM", "HUP", "KILL"])
def test_a_pack_that_is_stopped_leaves_nobody_at_work(sign: str, tmp_path: Path) -> None:
    course, out = write_course(tmp_path, formats='"sheet"'), tmp_path / "out"
    command = [sys.executable, "-m", "reedmill.cli", "pack", str(course), "--out", str(out)]
    number = signal.Signals[f"SIG{sign}"]
    with subprocess.Popen(command, env=environment(), stderr=subprocess.PIPE, text=True) as one:
        until(lambda: "lilypond" in str(at_work_in(out)), seconds=60)
        one.send_signal(number)
        _, told = one.communicate(timeout=20)
    until(lambda: not at_work_in(out), seconds=5)
    if sign == "KILL":
        assert one.returncode == -number
        return
    assert told == (
        "Stopped. Nothing unfinished was left behind.\n"
        f"What was finished is kept in {out}: give the same command again, and it makes only the "
        "rest.\n"
    )
    assert one.returncode == 128 + number
    assert strays(out) == []


def test_a_drill_that_comes_to_no_end_is_named_and_the_rest_of_the_course_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"
    place = tmp_path / "sabotage"
    place.mkdir()
    (place / "sitecustomize.py").write_text(
        "import time\nimport reedmill.formats.midi as midi\noriginal = midi.midi_bytes\n"
        "def midi_bytes(score, *more, **named):\n"
        "    while score.title == 'Beta':\n        time.sleep(1)\n"
        "    return original(score, *more, **named)\n"
        "midi.midi_bytes = midi_bytes\n",
        "utf-8",
    )
    monkeypatch.setenv("PYTHONPATH", f"{place}{os.pathsep}{environment()['PYTHONPATH']}")
    monkeypatch.setitem(steps._LIMITS_S, "midi", (8.0, 0.0))
    done = run("pack", course, "--out", out, anew=True)
    assert done.exit_code == 1
    assert done.stderr.startswith("not made: Beta, C harp, 2nd position (midi): it took longer")
    assert "8 s" in done.stderr
    made = {path.name for path in out.rglob("*") if ".reedmill" not in path.parts}
    assert {"01-alpha-c-2nd.mid", "01-alpha-c-2nd.txt", "01-beta-c-2nd.txt"} <= made
    assert "02-gamma-c-2nd.mid" in made
    assert strays(out) == []
    until(lambda: not at_work_in(out), seconds=5)


@pytest.mark.parametrize("bad", [0, 2, 4])
def test_the_sheet_lilypond_hangs_over_is_left_out_and_the_others_are_drawn(
    bad: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(engrave._Trust, "hangs", 0)

    def drawn(works: list[int], _folder: Path) -> list[list[int]]:
        if bad in works:
            raise engrave.Hung("it came to no end", works.index(bad))
        return [[each] for each in works]

    monkeypatch.setattr(render, "_engraved", drawn)
    outcomes = render._halved([0, 1, 2, 3, 4], tmp_path)  # type: ignore[list-item]
    told = [str(each) if isinstance(each, RenderError) else each for each in outcomes]
    assert told == [("it came to no end" if each == bad else (each,)) for each in range(5)]


def test_a_lilypond_that_hung_twice_and_drew_nothing_is_not_started_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(engrave._Trust, "hangs", 2)
    monkeypatch.setattr(render, "_engraved", None)  # nobody draws
    outcomes = render._halved([0, 1], tmp_path)  # type: ignore[list-item]
    assert [str(each).startswith("LilyPond hung") for each in outcomes] == [True] * 2


def test_an_hour_of_sound_may_take_an_hour() -> None:
    step = steps.Step("x", "audio", b"", "", 3600.0)
    assert steps.limit_s([step]) > 3600
    assert set(steps._ORDER) == set(steps._LIMITS_S)
