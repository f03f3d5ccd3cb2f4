"""Builds that go wrong: killed, stopped, out of room, without LilyPond; the rest is made."""

from __future__ import annotations

import errno
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path
from typing import IO

import pytest

from pack_builds import (
    at_work_in,
    built,
    command,
    contents,
    environment,
    made,
    run,
    run_apart,
    strays,
    write_course,
)
from reedmill.pack.keep import placing, store

KILLS, ALL_KILLS = 14, 50
LESSON = ("--lesson", "1")

# Run by Python at the start of every process: where a title is met, something happens.
_OVER_A_TITLE = """
import os
import reedmill.formats.midi as midi
original = midi.midi_bytes
def midi_bytes(score, *more, **named):
    if score.title == "Beta":
        {event}
    return original(score, *more, **named)
midi.midi_bytes = midi_bytes
"""


@pytest.fixture(scope="module")
def clean_pack(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A course, and what a build of its first lesson comes to that nothing disturbs."""
    folder = tmp_path_factory.mktemp("clean")
    course = write_course(folder, formats='"sheet", "midi", "tab"')
    built(course, folder / "out", *LESSON)
    return course, contents(folder / "out")


# --- stopped ----------------------------------------------------------------------------


def test_killed_at_any_moment_a_pack_is_never_half_written(
    clean_pack: tuple[Path, dict[str, str]], tmp_path: Path, whole: bool
) -> None:
    """At fourteen moments, or at fifty with ``--whole``; with one worker or two, in turn."""
    course, wanted = clean_pack
    out = tmp_path / "out"
    kills = ALL_KILLS if whole else KILLS
    moments = random.Random(5)
    longest_s, finished, interrupted = 2.0, 0, 0
    while finished + interrupted < kills:
        began = time.monotonic()
        jobs = ("--jobs", str(1 + (finished + interrupted) % 2))
        process = subprocess.Popen(
            command(course, out, *LESSON, *jobs), env=environment(), stdout=subprocess.DEVNULL
        )
        try:
            process.wait(timeout=moments.uniform(0, longest_s))
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
            interrupted += 1
            # whatever is there by now is whole
            assert contents(out).items() <= wanted.items()
            continue
        finished += 1
        assert process.returncode == 0
        longest_s = max(longest_s, time.monotonic() - began)
        assert contents(out) == wanted
        assert strays(out) == []
        shutil.rmtree(out)  # and from the beginning
    built(course, out, *LESSON)
    assert contents(out) == wanted
    assert strays(out) == []
    assert interrupted > kills / 3
    until_gone(out)


def said_when_stopped(out: Path) -> str:
    return (
        "Stopped. Nothing unfinished was left behind.\n"
        f"What was finished is kept in {out}: give the same command again, and it makes only the "
        "rest.\n"
    )


def until_gone(out: Path) -> None:
    """Wait for what was killed to be gone: nobody is left at work in *out*."""
    for _ in range(100):
        if not at_work_in(out):
            return
        time.sleep(0.05)
    assert at_work_in(out) == []


def test_ctrl_c_stops_the_workers_too_and_the_next_build_goes_on(
    clean_pack: tuple[Path, dict[str, str]], tmp_path: Path
) -> None:
    course, wanted = clean_pack
    out = tmp_path / "out"
    process = subprocess.Popen(
        command(course, out, *LESSON, "--jobs", "2"), env=environment(), stderr=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    journal = out / ".reedmill" / "journal"
    for _ in range(3000):  # until something is done, and LilyPond is at work
        if journal.is_file() and journal.stat().st_size and "lilypond" in str(at_work_in(out)):
            break
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=20)
    assert process.returncode == 130  # of shells for a program that Ctrl-C ended
    assert said.endswith(said_when_stopped(out))
    until_gone(out)
    assert strays(out) == []
    done = journal.read_text().count('"step"')
    assert done > 0
    built(course, out, *LESSON)
    assert contents(out) == wanted
    ids = [line for line in journal.read_text().splitlines() if '"step"' in line]
    assert len(ids) == len(set(ids))  # nothing was done twice


def test_a_pack_that_is_terminated_says_on_a_line_of_its_own_what_is_kept(
    clean_pack: tuple[Path, dict[str, str]], tmp_path: Path
) -> None:
    """Outside facts: TERM is signal 15, and shells add 128 to it (POSIX.1-2017, 2.8.2)."""
    course, wanted = clean_pack
    out = tmp_path / "out"
    terminal, end = os.openpty()
    words = command(course, out, *LESSON, "--jobs", "1")
    process = subprocess.Popen(words, env=environment(COLUMNS="200"), stdout=end, stderr=end)
    os.close(end)
    shown = ""
    while " made, " not in shown:  # the line of progress
        shown += os.read(terminal, 4096).decode()
    process.send_signal(signal.SIGTERM)
    with suppress(OSError):  # Linux's end of a terminal whose other side is closed
        while more := os.read(terminal, 4096):
            shown += more.decode()
    os.close(terminal)
    assert process.wait(timeout=20) == 128 + 15
    *_, stopped, kept = [line.strip() for line in re.split(r"[\r\n]+", shown.rstrip())]
    assert f"{stopped}\n{kept}\n" == said_when_stopped(out)
    built(course, out, *LESSON)
    assert contents(out) == wanted


def test_two_builds_at_once_share_a_folder(
    clean_pack: tuple[Path, dict[str, str]], tmp_path: Path
) -> None:
    course, wanted = clean_pack
    out = tmp_path / "out"
    both = [
        subprocess.Popen(
            command(course, out, *LESSON), env=environment(), stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )
        for _ in range(2)
    ]  # fmt: skip
    said = sorted((each.communicate(timeout=60) for each in both), key=lambda pair: pair[1])
    assert [each.returncode for each in both] == [0, 0]
    assert contents(out) == wanted
    assert strays(out) == []
    (first, nothing), (second, waited) = said
    book = f"Open {out / '01-first' / '01-first.pdf'}\n"
    assert first == f"{out}: {len(wanted)} files made, 0 as they were\n{book}"
    assert nothing == ""
    assert second == f"{out}: 0 files made, {len(wanted)} as they were\n{book}"
    told = f"Another build is at work in {out}; this one starts when it has finished.\n"
    assert waited == told


def test_a_build_that_waits_says_so(tmp_path: Path) -> None:
    said: list[str] = []
    with store.Store(tmp_path / "out"):
        waiting = store.Store(tmp_path / "out", lambda: said.append("waits"))

        def stop(*_: object) -> None:
            raise KeyboardInterrupt

        signal.signal(signal.SIGALRM, stop)
        signal.setitimer(signal.ITIMER_REAL, 0.2)
        with pytest.raises(KeyboardInterrupt), waiting:
            pass
    assert said == ["waits"]


# --- one of many ------------------------------------------------------------------------


def test_a_worker_that_dies_loses_nothing_but_the_drill_that_kills_it(tmp_path: Path) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"
    sabotage = _OVER_A_TITLE.format(event="os.kill(os.getpid(), 9)")
    done = run_apart(course, out, *LESSON, sabotage=sabotage)
    assert done.returncode == 1
    assert done.stderr.startswith("not made: Beta, C harp, 2nd position (midi): ")
    assert "was stopped twice by something else (signal 9)" in done.stderr
    assert {path.name for path in (out / "01-first").iterdir()} == {
        "01-alpha-c-2nd.mid", "01-alpha-c-2nd.txt", "01-beta-c-2nd.txt", "01-first.pdf",
    }  # fmt: skip
    assert strays(out) == []
    why = made(built(course, out, *LESSON), out)  # without the sabotage
    assert set(why) == {"01-first/01-beta-c-2nd.mid"}


def test_a_worker_that_dies_once_is_not_missed(tmp_path: Path) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"
    mark = repr(str(tmp_path / "x"))
    once = f"os.path.exists({mark}) or os.mkdir({mark}) or os._exit(3)"
    done = run_apart(course, out, *LESSON, sabotage=_OVER_A_TITLE.format(event=once))
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "x").is_dir()  # it did die
    assert len(list((out / "01-first").iterdir())) == 5


def test_a_drill_that_fails_is_named_and_the_rest_is_made(tmp_path: Path) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"
    sabotage = _OVER_A_TITLE.format(event="raise ValueError('no such reed')")
    done = run_apart(course, out, *LESSON, sabotage=sabotage)
    assert done.returncode == 1
    assert done.stderr == (
        "not made: Beta, C harp, 2nd position (midi): Reedmill failed over it "
        "(ValueError: no such reed). That is a mistake in Reedmill; please report it with the "
        "drill.\n"
    )
    assert (out / "01-first" / "01-alpha-c-2nd.mid").is_file()


def test_one_sheet_lilypond_cannot_draw_takes_no_other_with_it(tmp_path: Path) -> None:
    course, out = write_course(tmp_path, formats='"sheet"'), tmp_path / "out"
    sabotage = (
        "import reedmill.sheet.page as page\nreal = page._book\n"
        "def book(number, score, *rest, **more):\n"
        "    text = real(number, score, *rest, **more)\n"
        "    return text + ' }' if score.title == 'Alpha' else text\n"
        "page._book = book\n"
    )
    done = run_apart(course, out, sabotage=sabotage)
    assert done.returncode == 1
    [line] = [each for each in done.stderr.splitlines() if "not made" in each]
    assert "Alpha, C harp, 2nd position (sheet)" in line  # beside the page that tells of it
    assert "Beta" not in line
    assert "LilyPond could not draw this sheet without complaint" in line
    assert [path.name for path in sorted(out.rglob("*-2nd.pdf"))] == [
        "01-beta-c-2nd.pdf", "02-gamma-c-2nd.pdf",
    ]  # fmt: skip
    assert (out / "evenings.pdf").is_file()


def test_a_row_that_cannot_be_played_stops_no_other(tmp_path: Path) -> None:
    course, out = write_course(tmp_path, formats='"tab"'), tmp_path / "out"
    text = course.read_text().replace('"Gamma"\n', '"Gamma"\n  harps = ["C", "Bb"]\n')
    course.write_text(text + '\n[[students]]\nname = "Ada"\nharps = ["C"]\n')
    done = run("pack", course, "--out", out, "--lesson", "2")
    assert done.exit_code == 1
    assert re.search(
        r"not made: 02-gamma-bb in lesson 2 for ada: \S+\.toml:\d+:\d+: Ada has no Bb harp",
        done.output,
    )
    assert (out / "ada" / "02-second" / "02-gamma-c-2nd.txt").is_file()


# --- the machine ------------------------------------------------------------------------


def test_without_lilypond_all_but_the_pages_is_made(tmp_path: Path) -> None:
    course, out = write_course(tmp_path, formats='"sheet", "tab"'), tmp_path / "out"
    sabotage = "import os, sys\nsys.modules['lilypond'] = None\nos.environ['PATH'] = '/nowhere'\n"
    done = run_apart(course, out, *LESSON, sabotage=sabotage)
    assert done.returncode == 1
    [line] = done.stderr.splitlines()  # said once, whatever it keeps from being made
    assert "LilyPond is missing, which draws the sheets. Install it with: pip" in line
    assert "Alpha, C harp, 2nd position (sheet); Beta, C harp, 2nd position (sheet)" in line
    assert {path.name for path in out.rglob("*") if path.is_file() and path.suffix == ".txt"} == {
        "01-alpha-c-2nd.txt", "01-beta-c-2nd.txt",
    }  # fmt: skip


def test_a_full_disk_is_told_and_what_fits_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = write_course(tmp_path, formats='"midi", "tab"'), tmp_path / "out"

    def full(source: IO[bytes], target: IO[bytes]) -> None:
        if os.fstat(source.fileno()).st_size > 500:
            target.write(source.read(100))
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        shutil.copyfileobj(source, target)

    monkeypatch.setattr(placing, "copy", full)
    done = run("pack", course, "--out", out, *LESSON)
    assert done.exit_code == 1
    assert "cannot be written (No space left on device)" in done.output
    assert strays(out) == []
    there = contents(out)
    assert all((out / path).stat().st_size <= 500 for path in there)
    monkeypatch.undo()
    built(course, out, *LESSON)
    assert there.items() < contents(out).items()


def test_files_that_would_be_too_large_fail_alone(tmp_path: Path) -> None:
    course = write_course(tmp_path, formats='"audio", "tab"')
    out = tmp_path / "out"
    most = 100_000  # bytes of a file: the tones of two notes are more

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    done = subprocess.run(
        command(course, out, *LESSON), env=environment(), capture_output=True, text=True,
        preexec_fn=limit, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert "Alpha, C harp, 2nd position (audio)" in done.stderr
    assert "File too large" in done.stderr
    assert (out / "01-first" / "01-alpha-c-2nd.txt").is_file()
    assert strays(out) == []
    assert list(out.rglob("*.wav")) == []


def test_a_full_disk_tears_no_line_of_the_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with store.Store(tmp_path) as opened:
        opened.note_placed("a", "1")
        real = os.write
        monkeypatch.setattr(os, "write", lambda file, data: real(file, data[: len(data) // 2]))
        with pytest.raises(OSError, match="No space left"):
            opened.note_placed("b", "2")
        monkeypatch.undo()
        opened.note_placed("c", "3")
    with store.Store(tmp_path) as opened:
        assert opened.placed == {"a": {"1"}, "c": {"3"}}


def test_a_journal_torn_by_a_power_cut_keeps_its_whole_lines(tmp_path: Path) -> None:
    with store.Store(tmp_path) as opened:
        opened.note_placed("a", "1")
        opened.note_placed("b", "2")
    journal = tmp_path / ".reedmill" / "journal"
    whole = journal.read_bytes()
    for length in range(len(whole)):
        journal.write_bytes(whole[:length])
        with store.Store(tmp_path) as opened:
            assert set(opened.placed) == set("ab"[: whole[:length].count(b"\n")])
            opened.note_placed("c", "3")
        with store.Store(tmp_path) as opened:
            assert "c" in opened.placed


@pytest.mark.parametrize("error", [errno.EROFS, errno.EACCES, errno.ENOSPC])
def test_a_folder_that_cannot_be_written_is_told_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: int
) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"

    def refuse(*_: object, **__: object) -> None:
        raise OSError(error, os.strerror(error))

    monkeypatch.setattr(Path, "mkdir", refuse)
    done = run("pack", course, "--out", out)
    assert done.exit_code == 1
    assert done.output == f"{out}/.reedmill: cannot be written ({os.strerror(error)}).\n"


def test_a_file_in_the_way_is_told(tmp_path: Path) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"
    out.write_text("a file")
    done = run("pack", course, "--out", out)
    assert done.exit_code == 1
    assert "cannot be written (Not a directory)" in done.output
    assert out.read_text() == "a file"


def test_a_store_that_is_a_link_is_refused(tmp_path: Path) -> None:
    course, out, elsewhere = write_course(tmp_path), tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / ".reedmill").symlink_to(elsewhere)
    done = run("pack", course, "--out", out)
    assert done.exit_code == 1
    assert "is a link to another place" in done.output
    assert list(elsewhere.iterdir()) == []


def test_a_letter_of_another_script_fails_nothing_and_is_said_once(tmp_path: Path) -> None:
    course, out = write_course(tmp_path, formats='"sheet"'), tmp_path / "out"
    drills = tmp_path / "own.drill"
    text = drills.read_text("utf-8").replace('"Alpha"\n', '"Alpha"\n  about "\U0001f3b5 \u10d0"\n')
    drills.write_text(text, "utf-8")
    done = run("pack", course, "--out", out)
    assert done.exit_code == 0
    [line] = [each for each in done.stderr.splitlines() if "Left out on paper" in each]
    assert "U+1F3B5" in line
    assert '"Alpha"' in line
