"""Carry out steps: jobs to a pool, a bounded number at a time, repeated when a worker dies.

A worker that dies over a batch may have been the victim of something else, so the batch is
tried once more, elsewhere.  When it dies again the batch is halved, until the step that
kills its worker stands alone; only that one is given up.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, count, islice, repeat

from reedmill.base.errors import RenderError
from reedmill.base.remedies import Remedy
from reedmill.pack.run.workers import Answer, Job, WorkerPool
from reedmill.pack.steps.records import Outcome
from reedmill.pack.steps.steps import Step, batches


@dataclass(frozen=True, slots=True)
class Done:
    """A step with its outcome."""

    step: Step
    outcome: Outcome
    seconds: float  # of one processor, its share of the run it was in


def carry_out(steps: Sequence[Step], pool: WorkerPool) -> Iterator[tuple[Job, list[Done]]]:
    """Yield each finished job with the outcomes of its *steps*, in the order they finish."""
    numbers = count()
    waiting = deque(Job(next(numbers), batch) for batch in batches(steps, pool.workers))
    running = 0
    while waiting or running:
        while waiting and running < pool.slots:
            pool.start(waiting.popleft())
            running += 1
        answer = pool.finished()
        running -= 1
        again = list(_again(answer, numbers))
        waiting.extendleft(again)
        done = [] if answer.died and again else list(_done(answer))
        if done:
            yield answer.job, done


def _again(answer: Answer, numbers: Iterator[int]) -> Iterator[Job]:
    """Yield the jobs that replace one over which a worker died, or the rest of it."""
    job = answer.job
    if answer.overdue_s:
        # a run of LilyPond's has to be done one by one to know which step it was
        rest = _rest(answer)
        together = job.in_hand(0) == job.steps
        for each in [(step,) for step in rest] if together else [rest] if rest else []:
            yield Job(next(numbers), each)
    elif not answer.died:
        return
    elif not job.deaths:
        yield replace(job, number=next(numbers), deaths=1)
    elif len(job.steps) > 1:
        middle = len(job.steps) // 2
        for half in (job.steps[:middle], job.steps[middle:]):
            yield Job(next(numbers), half, deaths=1)


def _rest(answer: Answer) -> tuple[Step, ...]:
    """Return the steps left of a job in which one took too long."""
    job, done = answer.job, len(answer.outcomes)
    if job.in_hand(done) == job.steps and len(job.steps) > 1:
        return job.steps
    return job.steps[done + 1 :]


def _done(answer: Answer) -> Iterator[Done]:
    steps = answer.job.steps
    outcomes = answer.outcomes
    if answer.overdue_s:
        given_up = RenderError(
            f"it took longer than {answer.overdue_s:.0f} s, far more than it should, and was "
            "stopped. Make the drill or text shorter; if it is short, please report it."
        )
        outcomes = () if _rest(answer) == steps else (*outcomes, given_up)
        steps = steps[: len(outcomes)]
    elif answer.died:
        outcomes = (
            RenderError(
                "the program that makes it was stopped twice by something else "
                f"({answer.died}). Perhaps this machine is short of memory.",
                way_out=Remedy.ONE_JOB,
            ),
        )
    shares = chain(answer.seconds, repeat(0.0))  # what was given up is not remembered anyway
    for step, outcome, seconds in zip(steps, outcomes, islice(shares, len(steps)), strict=True):
        yield Done(step, outcome, seconds)
