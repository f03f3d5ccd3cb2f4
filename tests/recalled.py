"""Work on packs that is done once for all tests of a run: whoever asks for it again gets copies.

A hundred tests build the same small packs to see what stays, goes or is refused.  What a worker
makes of a job depends on the job and its surroundings alone (the tests of building hold that), so
the first one has it done by a worker as ever, and the next ones get the same files.  Which tests
want workers of their own, because these are the point, says ``pack_builds.run``.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import mkdtemp
from types import TracebackType

import pytest

from reedmill.pack.build import building
from reedmill.pack.run.workers import Answer, Job, LocalPool
from reedmill.pack.steps.records import Fresh
from reedmill.pack.steps.steps import Step
from reedmill.pack.steps.work import Leaf, Volume, unpack_work
from sharing import shared_folder

_ANSWER = "answer"


@contextmanager
def recalling() -> Iterator[None]:
    """While the block runs, builds of this process take what was made before."""
    if shared_folder() is None or vars(building)["LocalPool"] is not LocalPool:  # a test's own
        yield
        return
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(building, "LocalPool", RecallingPool)
        yield


class RecallingPool:
    """Workers that are asked only for what no test of this run has had made before."""

    def __init__(self, scratch: Path, workers: int) -> None:
        self._pool = LocalPool(scratch, workers)
        self.workers, self.slots = self._pool.workers, self._pool.slots
        self._scratch = scratch
        self._ready: deque[Answer] = deque()
        self._names: dict[int, str] = {}

    def start(self, job: Job) -> None:
        """Copy what came of *job* before, or have it done."""
        name = _name_of(job)
        if name is not None and _leaves_are_sound(job):
            self._names[job.number] = name
            kept = _kept_in() / name
            if (kept / _ANSWER).is_file() and self._copy(job, kept):
                return
        self._pool.start(job)

    def _copy(self, job: Job, kept: Path) -> bool:
        """Answer with copies of what is *kept*, where there is still a place for them."""
        folder = self._scratch / f"job-{job.number}"
        try:
            self._ready.append(_copied(job, kept, folder))
        except OSError:  # the test has taken the pack away meanwhile: let a worker find out
            shutil.rmtree(folder, ignore_errors=True)
            return False
        return True

    def finished(self) -> Answer:
        """The next job that is done; what is new of it is kept."""
        if self._ready:
            return self._ready.popleft()
        answer = self._pool.finished()
        whole = not answer.died and not answer.overdue_s
        if whole and answer.job.number in self._names:
            _keep(answer, _kept_in() / self._names[answer.job.number])
        return answer

    def __enter__(self) -> RecallingPool:
        self._pool.__enter__()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._pool.__exit__(kind, error, trace)


def _kept_in() -> Path:
    folder = shared_folder()
    assert folder is not None
    (folder / "jobs").mkdir(exist_ok=True)
    return folder / "jobs"


def _name_of(job: Job) -> str:
    """A hash of all that decides what comes of *job*: its works, their code, what surrounds it."""
    around = sorted(item for item in os.environ.items() if not item[0].startswith("PYTEST_"))
    steps = [(each.id, each.kind, _without_places(each)) for each in job.steps]
    return hashlib.sha256(pickle.dumps((steps, around))).hexdigest()


def _without_places(step: Step) -> bytes:
    """The work of *step*; of a book's leaves what is in them, and not where they are."""
    work = unpack_work(step.packed)
    if not isinstance(work, Volume):
        return step.packed
    return pickle.dumps(replace(work, leaves=tuple(replace(each, file="") for each in work.leaves)))


def _leaves_are_sound(job: Job) -> bool:
    """Whether a worker would find every leaf as it was; else a worker says what is wrong."""
    works = [unpack_work(each.packed) for each in job.steps if each.kind == "book"]
    return all(
        _is_sound(leaf) for work in works if isinstance(work, Volume) for leaf in work.leaves
    )


def _is_sound(leaf: Leaf) -> bool:
    path = Path(leaf.file)
    try:
        plain = path.is_file() and not path.is_symlink()
        return plain and hashlib.sha256(path.read_bytes()).hexdigest() == leaf.sha256
    except OSError:
        return False


def _keep(answer: Answer, place: Path) -> None:
    """Put a copy of what came of a job to *place*, at once; not where a part of it failed."""
    made = [each for each in answer.outcomes if isinstance(each, tuple)]
    if place.exists() or len(made) < len(answer.job.steps):
        return
    folder = Path(mkdtemp(dir=place.parent))
    try:
        for each in (fresh for outcome in made for fresh in outcome):
            shutil.copyfile(each.file, folder / Path(each.file).name)
    except OSError:  # the test has taken the pack away meanwhile
        shutil.rmtree(folder)
        return
    (folder / _ANSWER).write_bytes(pickle.dumps((made, answer.seconds)))
    try:
        folder.rename(place)
    except OSError:  # another process was quicker
        shutil.rmtree(folder)


def _copied(job: Job, kept: Path, folder: Path) -> Answer:
    """The same answer as before, its files in the *folder* of this job."""
    made, seconds = pickle.loads((kept / _ANSWER).read_bytes())  # noqa: S301  our own
    folder.mkdir()
    outcomes = []
    for outcome in made:
        fresh = [Fresh(each.part, str(folder / Path(each.file).name)) for each in outcome]
        for each in fresh:
            shutil.copyfile(kept / Path(each.file).name, each.file)
        outcomes.append(tuple(fresh))
    return Answer(job, tuple(outcomes), seconds=seconds)
