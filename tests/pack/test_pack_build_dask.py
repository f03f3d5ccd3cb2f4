"""A pack made on a Dask scheduler: the same bytes, also when one of its workers dies."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from pack_builds import (
    built,
    command,
    contents,
    environment,
    run,
    run_apart,
    strays,
    write_course,
)

FORMATS = '"sheet", "midi", "audio"'


@dataclass(frozen=True, slots=True)
class Cluster:
    """A scheduler and its workers, each a process of its own."""

    address: str
    workers: list[subprocess.Popen[bytes]]


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """A scheduler with two workers of one thread, which no nanny starts again."""
    file = tmp_path / "scheduler.json"
    # nobody but this machine is to reach it
    scheduler = _dask("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                      "--scheduler-file", str(file))  # fmt: skip
    workers = []
    try:
        for _ in range(200):
            if file.is_file() and file.read_text().rstrip().endswith("}"):
                break
            time.sleep(0.1)
        import json

        address = json.loads(file.read_text())["address"]
        workers += [
            _dask("worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                  "--host", "127.0.0.1", "--local-directory", str(tmp_path / "dask"))
            for _ in range(2)
        ]  # fmt: skip
        _wait_for_workers(address)
        yield Cluster(address, workers)
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def _dask(*arguments: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "dask", *arguments], env=environment(),
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip


def _wait_for_workers(address: str) -> None:
    program = (
        "from distributed import Client\n"
        f"with Client({address!r}, set_as_default=False) as client:\n"
        "    client.wait_for_workers(2, timeout=30)\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60, capture_output=True)


def test_a_scheduler_makes_the_same_bytes_and_a_worker_may_die(
    cluster: Cluster, tmp_path: Path
) -> None:
    course = write_course(tmp_path, formats=FORMATS)
    built(course, tmp_path / "here", "--lesson", "1")
    wanted = contents(tmp_path / "here")
    there = tmp_path / "there"
    options = ("--lesson", "1", "--on", "dask", "--scheduler", cluster.address)
    done = run_apart(course, there, *options)
    assert (done.returncode, done.stderr) == (0, "")
    assert contents(there) == wanted
    assert strays(there) == []
    # and once more, with a worker that dies as soon as something has been made
    again = tmp_path / "again"
    process = subprocess.Popen(
        command(course, again, *options), env=environment(), stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    journal = again / ".reedmill" / "journal"
    while process.poll() is None and not (journal.is_file() and journal.stat().st_size):
        time.sleep(0.01)
    still_building = process.poll() is None
    cluster.workers[0].send_signal(signal.SIGKILL)
    said, _ = process.communicate(timeout=60)
    assert still_building
    assert process.returncode == 0, said
    assert contents(again) == wanted


def test_a_scheduler_that_does_not_answer_is_told(tmp_path: Path) -> None:
    course = write_course(tmp_path)
    sabotage = "from reedmill.pack.run import dask_engine\ndask_engine._CONNECT_S = 1\n"
    done = run_apart(
        course, tmp_path / "out", "--on", "dask", "--scheduler", "tcp://127.0.0.1:9",
        sabotage=sabotage,
    )  # fmt: skip
    assert done.returncode == 1
    assert "no Dask scheduler answers at tcp://127.0.0.1:9" in done.stderr
    assert "Traceback" not in done.stderr


def test_without_the_package_the_remedy_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    course = write_course(tmp_path)
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = run(
        "pack", course, "--out", tmp_path / "out", "--on", "dask", "--scheduler", "tcp://x:1"
    )
    assert done.exit_code == 2
    assert done.output == (
        "--on dask needs the package distributed, which is not installed. Install it with: "
        "pip install 'reedmill[dask]'\n"
    )


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--on", "dask"), "--on dask needs to know the scheduler. Add --scheduler"),
        (("--scheduler", "tcp://x:1"), "--scheduler is for --on dask."),
    ],
)
def test_the_two_options_belong_together(
    tmp_path: Path, options: tuple[str, ...], said: str
) -> None:
    done = run("pack", write_course(tmp_path), "--out", tmp_path / "out", *options)
    assert done.exit_code == 2
    assert said in done.output
    assert not (tmp_path / "out").exists()
