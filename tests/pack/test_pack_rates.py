"""What a plan learns of earlier builds: the work of a processor, of each kind and type of file."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType

import pytest

from pack_builds import built, run, write_course
from reedmill.pack.keep.store import read_records
from reedmill.pack.run import render
from reedmill.pack.run.carry_out import carry_out
from reedmill.pack.run.rates import Rates, rates
from reedmill.pack.run.render import measured_in_turn
from reedmill.pack.run.workers import Answer, Job
from reedmill.pack.steps.records import Outcome, Record, StepFile
from reedmill.pack.steps.steps import Step
from reedmill.pack.steps.work import Work

WORK_S = 0.4
_BUSY = f"import time\nwhile time.process_time() < {WORK_S}: pass"


def waiting() -> None:
    time.sleep(3 * WORK_S)


def working() -> None:
    until = time.process_time() + WORK_S
    while time.process_time() < until:
        pass


def having_worked() -> None:
    """As with LilyPond: the work is that of a program this process waits for."""
    subprocess.run([sys.executable, "-c", _BUSY], check=True)


def test_a_step_that_waits_is_not_counted_as_work(monkeypatch: pytest.MonkeyPatch) -> None:
    def turns(_: Sequence[Work], __: Path) -> Iterator[list[Outcome]]:
        for turn in (waiting, working, having_worked, waiting):
            turn()
            yield [()]

    monkeypatch.setattr(render, "rendered_in_turn", turns)
    began = time.perf_counter()
    first, own, others, last = (seconds for _, seconds in measured_in_turn([], Path()))
    assert time.perf_counter() - began >= 6 * WORK_S  # as it was counted on a clock
    assert max(first, last) < WORK_S / 4
    assert min(own, others) >= WORK_S


# --- what a build learns, and a plan uses --------------------------------------------------


def heard(name: str, kind: str, amount: float) -> Step:
    return Step(name, "audio", b"", "", amount, (kind,))


class Paid:
    """A pool that does nothing, in the time that is stated for each step."""

    slots = workers = 2

    def __init__(self, seconds: dict[str, float]) -> None:
        self._seconds, self._jobs = seconds, list[Job]()

    def start(self, job: Job) -> None:
        """Take *job* on."""
        self._jobs.append(job)

    def finished(self) -> Answer:
        """The last one that was taken on."""
        job = self._jobs.pop()
        seconds = tuple(self._seconds[step.id] for step in job.steps)
        return Answer(job, ((),) * len(job.steps), seconds=seconds)

    def __enter__(self) -> Paid:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        pass


def learned(cost: dict[str, float]) -> Rates:
    """What is learned of six steps of a hundred seconds of each type, made one after another."""
    steps = [heard(f"{kind} {number}", kind, 100.0) for number in range(6) for kind in cost]
    done = carry_out(steps, Paid({each.id: cost[each.forms[0]] for each in steps}))
    return rates(
        Record(
            "audio", (StepFile(f".{each.step.forms[0]}", "0" * 64, 1000, "audio"),), each.seconds,
            each.step.amount,
        )
        for _, all_ in done for each in all_
    )  # fmt: skip


def test_each_type_of_sound_file_has_the_rate_that_was_measured_of_it() -> None:
    """Types that are made in one run do not share their cost: an MP3 takes five times a FLAC."""
    found = learned({"flac": 0.5, "mp3": 2.5})
    for kind, each_s in (("flac", 0.005), ("mp3", 0.025)):
        rate = found.of(heard("new", kind, 1.0))
        assert rate.measured
        assert rate.seconds == pytest.approx(each_s)
        assert rate.size == pytest.approx(10.0)


def test_a_type_that_was_not_measured_has_the_usual_rate() -> None:
    found = learned({"flac": 50.0})
    step = heard("new", "ogg", 100.0)
    assert found.of(step) == Rates().of(step)
    assert not found.of(replace(step, forms=("flac", "mp3"))).measured


def test_a_busy_machine_teaches_what_an_idle_one_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each step of a real build is held up for a second, and none of it is remembered."""
    held_up = tmp_path / "held"
    held_up.mkdir()
    (held_up / "sitecustomize.py").write_text(
        "import sys, time\n"
        "if 'reedmill.pack.run.worker' in sys.orig_argv:\n"
        "    from reedmill.pack.run import render\n"
        "    one = render._one\n"
        "    render._one = lambda *given: (time.sleep(1), one(*given))[1]\n"
    )
    course, out = write_course(tmp_path, formats='"tab"'), tmp_path / "out"
    monkeypatch.setenv("PYTHONPATH", str(held_up))
    began = time.perf_counter()
    built(course, out, anew=True)
    assert time.perf_counter() - began >= 3
    tabs = [each for each in read_records(out).values() if each.kind == "tab"]
    assert len(tabs) == 3
    assert max(each.seconds for each in tabs) < 0.9
    assert run("pack", course, "--out", out, "--plan").exit_code == 0
