"""A pool of worker processes, each fed one job at a time by a thread.

A worker that dies loses the job it had and nothing else; the next job gets a new worker.
The workers run in sessions of their own, so that Ctrl-C on a terminal reaches this process
alone, which then stops them and whatever they had started.  So it does with a worker that
takes far longer over a step than it should.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from types import TracebackType
from typing import Protocol

from reedmill.base.children import Child
from reedmill.base.errors import RenderError, reason_of
from reedmill.pack.run.worker import receive, send
from reedmill.pack.steps.records import Outcome
from reedmill.pack.steps.steps import TOGETHER, Step, limit_s

MOST_WORKERS = 64


@dataclass(frozen=True, slots=True)
class Job:
    """Steps of one kind that are carried out in one go."""

    number: int  # no two alike in a build
    steps: tuple[Step, ...]
    deaths: int = 0  # how many workers died over it

    def in_hand(self, done: int) -> tuple[Step, ...]:
        """Return the steps in progress once *done* are finished: one, or a whole LilyPond run."""
        return self.steps if self.steps[0].kind in TOGETHER else self.steps[done : done + 1]


@dataclass(frozen=True, slots=True)
class Answer:
    """The result of a job: an outcome for each step, or a worker that died over it.

    Where one took too long, there are only the outcomes of the steps before it.
    """

    job: Job
    outcomes: tuple[Outcome, ...]
    died: str = ""  # how, if it did
    seconds: tuple[float, ...] = ()  # of one processor, for each outcome; empty: not known
    overdue_s: float = 0.0  # the limit that was not kept to, if one was not


def time_shares(seconds: float, number: int) -> list[float]:
    """Share *seconds* among *number* steps done together: sheets count equally.

    >>> time_shares(3.0, 2)
    [1.5, 1.5]
    """
    return [seconds / number] * number


class WorkerPool(Protocol):
    """A pool that carries out jobs; ``finished`` waits for the next one that is done."""

    @property
    def slots(self) -> int:
        """The number of jobs that may be started ahead of the ones that have finished."""

    @property
    def workers(self) -> int:
        """The number of jobs that run at once."""

    def start(self, job: Job) -> None:
        """Take *job* on; return at once."""

    def finished(self) -> Answer:
        """Return the next job that is done, in any order."""

    def __enter__(self) -> WorkerPool:
        """Return the pool; no worker starts before there is a job."""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop all work in progress."""


def usual_workers() -> int:
    """Return as many workers as this process may use processors."""
    seen = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return min(seen or 1, MOST_WORKERS)


class LocalPool:
    """Worker processes on this machine; their scratch files go to *scratch*."""

    def __init__(self, scratch: Path, workers: int) -> None:
        self.workers = workers
        self.slots = 2 * workers  # so that no worker waits while results are put away
        self._scratch = scratch
        self._jobs: SimpleQueue[Job | None] = SimpleQueue()
        self._answers: SimpleQueue[Answer] = SimpleQueue()
        self._running: set[_Worker] = set()
        self._lock = threading.Lock()
        self._stopped = False
        self._threads = [threading.Thread(target=self._serve, daemon=True) for _ in range(workers)]

    def __enter__(self) -> LocalPool:
        for thread in self._threads:
            thread.start()
        return self

    def start(self, job: Job) -> None:
        """Take *job* on."""
        self._jobs.put(job)

    def finished(self) -> Answer:
        """Return the next job that is done."""
        return self._answers.get()

    def _serve(self) -> None:
        worker: _Worker | None = None
        while (job := self._jobs.get()) is not None and not self._stopped:
            try:
                worker = worker or self._new_worker()
            except OSError as error:  # no folder any more, or too many processes
                said = RenderError(f"a worker cannot be started ({reason_of(error)}).")
                self._answers.put(Answer(job, (said,) * len(job.steps)))
                continue
            if worker is None:
                return
            answer = worker.answer(job)
            self._answers.put(answer)
            if answer.died or answer.overdue_s:
                self._let_go(worker)
                worker = None

    def _new_worker(self) -> _Worker | None:
        with self._lock:  # none starts once all are being stopped
            if self._stopped:
                return None
            worker = _Worker(self._scratch)
            self._running.add(worker)
            return worker

    def _let_go(self, worker: _Worker) -> None:
        worker.stop()
        with self._lock:
            self._running.discard(worker)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with self._lock:
            self._stopped = True
            running = tuple(self._running)
        for worker in running:
            worker.stop()
        for _ in self._threads:
            self._jobs.put(None)
        for thread in self._threads:
            thread.join()


class _Worker:
    """One worker process."""

    def __init__(self, scratch: Path) -> None:
        package = Path(__file__).resolve().parents[3]
        paths = [str(package), os.environ.get("PYTHONPATH", "")]
        environment = {
            **os.environ,
            "TMPDIR": str(scratch),  # LilyPond's scratch files are ours to sweep
            "OPENBLAS_NUM_THREADS": "1",  # there is a worker for each processor
            "PYTHONPATH": os.pathsep.join(filter(None, paths)),
        }
        # -P: no module is to come from the folder the command happens to be given in
        self._child = Child(
            [sys.executable, "-P", "-m", "reedmill.pack.run.worker"],
            cwd=scratch, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._scratch = scratch

    def answer(self, job: Job) -> Answer:
        """Have *job* done, and return its result."""
        process = self._child.process
        folder = self._scratch / f"job-{job.number}"
        assert process.stdin is not None and process.stdout is not None  # noqa: S101, PT018
        outcomes: list[Outcome] = []
        seconds: list[float] = []
        watch = _Watch(self._child)
        try:
            folder.mkdir()
            with watch.over(job.in_hand(0)):
                send(process.stdin, ([step.packed for step in job.steps], str(folder)))
            while len(outcomes) < len(job.steps):
                with watch.over(job.in_hand(len(outcomes))):
                    turn, turn_s = receive(process.stdout)
                outcomes += turn
                seconds += time_shares(turn_s, len(turn))
        except (EOFError, BrokenPipeError, ValueError):  # ValueError: it is being stopped
            died = self._how_it_died()
            if watch.gave_up_s:
                return Answer(
                    job, tuple(outcomes), seconds=tuple(seconds), overdue_s=watch.gave_up_s
                )
            return Answer(job, (), died=died)
        except OSError as error:  # no folder could be made
            said = RenderError(f"a scratch folder cannot be made ({reason_of(error)}).")
            return Answer(job, (said,) * len(job.steps))
        return Answer(job, tuple(outcomes), seconds=tuple(seconds))

    def _how_it_died(self) -> str:
        self.stop()
        code = self._child.process.returncode
        return f"signal {-code}" if code < 0 else f"exit code {code}"

    def stop(self) -> None:
        """End the worker and all it started, and wait until it is gone."""
        self._child.stop()


class _Watch:
    """Ends a worker that exceeds its time limit."""

    def __init__(self, child: Child) -> None:
        self._child = child
        self.gave_up_s = 0.0  # the limit it did not keep to, if it was ended

    @contextmanager
    def over(self, steps: Sequence[Step]) -> Iterator[None]:
        """Watch *steps* while the block runs."""
        limit = limit_s(steps)
        timer = threading.Timer(limit, self._give_up, [limit])
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()

    def _give_up(self, limit: float) -> None:
        self.gave_up_s = limit
        self._child.end()
