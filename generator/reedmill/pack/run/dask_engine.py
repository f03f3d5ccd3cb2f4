"""Jobs on an existing Dask scheduler, whose workers send the files back as bytes.

A Dask worker draws one job at a time, because neither abjad nor LilyPond's scratch folders
gain by threads: give it one thread and have as many workers as processors.  A worker that
dies loses nothing; the scheduler hands its job to another.  A worker with another Reedmill,
or other releases of its tools, could make other bytes, so it is refused.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from itertools import count
from pathlib import Path
from types import TracebackType
from typing import Any

from reedmill.base.errors import InputError, ReedmillError, RenderError, reason_of
from reedmill.base.remedies import Remedy
from reedmill.base.scratch import Scratch
from reedmill.base.writing import jot
from reedmill.pack.run.workers import Answer, Job, time_shares
from reedmill.pack.steps.records import Fresh, Outcome, StepFile
from reedmill.pack.steps.versions import everything_version

_CONNECT_S = 10
_ONE_AT_A_TIME = threading.Lock()

_Sent = tuple[tuple[StepFile, bytes], ...] | ReedmillError
"""What came of one step, as it travels."""


def rendered_there(packed: Sequence[bytes], version: str) -> list[tuple[_Sent, float]]:
    """Render works on a Dask worker; return outcomes and processor seconds of each.

    Nothing it needs is anywhere but in its arguments.
    """
    from reedmill.pack.run.render import measured_in_turn  # in the process that is to do it
    from reedmill.pack.steps.work import unpack_work  # in the process that is to do it

    if everything_version() != version:
        said = RenderError(
            "the Dask worker that was to make it has another Reedmill, or other releases of its "
            "tools, and could make something else. Install the same there."
        )
        return [(said, 0.0)] * len(packed)
    with _ONE_AT_A_TIME, Scratch() as scratch:
        works = [unpack_work(each) for each in packed]
        return [
            (_sent(outcome), seconds)
            for turn, turn_s in measured_in_turn(works, scratch.path)
            for outcome, seconds in zip(turn, time_shares(turn_s, len(turn)), strict=True)
        ]


def _sent(outcome: Outcome) -> _Sent:
    if isinstance(outcome, ReedmillError):
        return outcome
    return tuple((each.part, Path(each.file).read_bytes()) for each in outcome)


class DaskPool:
    """The workers of a Dask scheduler as a pool; their files go to *scratch*."""

    def __init__(self, address: str, scratch: Path) -> None:
        self._address, self._scratch = address, scratch
        self._names = count()
        self.workers = self.slots = 1

    def __enter__(self) -> DaskPool:
        distributed = _distributed()
        try:
            self._client = distributed.Client(
                self._address, timeout=_CONNECT_S, set_as_default=False
            )
        except (OSError, ValueError, TimeoutError) as error:
            raise RenderError(
                f"no Dask scheduler answers at {self._address} ({type(error).__name__}).",
                way_out=Remedy.DASK_STARTED,
            ) from None
        self.workers = max(1, len(self._client.nthreads()))
        self.slots = 2 * self.workers
        self._done = distributed.as_completed(loop=self._client.loop)
        self._jobs: dict[str, Job] = {}
        return self

    def start(self, job: Job) -> None:
        """Send *job* to the scheduler."""
        packed = [step.packed for step in job.steps]
        key = f"reedmill-{id(self):x}-{next(self._names)}"
        future = self._client.submit(
            rendered_there, packed, everything_version(), key=key, pure=False
        )
        self._jobs[key] = job
        self._done.add(future)

    def finished(self) -> Answer:
        """Return the next job that is done."""
        future: Any = next(self._done)
        job = self._jobs.pop(future.key)
        if future.status != "finished":
            return Answer(job, (), died=type(future.exception()).__name__)
        sent, seconds = zip(*future.result(), strict=True)
        folder = self._scratch / f"job-{job.number}"
        try:
            folder.mkdir()
            outcomes = tuple(self._received(each, folder) for each in sent)
        except OSError as error:
            said = RenderError(f"a scratch file cannot be written ({reason_of(error)}).")
            outcomes = (said,) * len(job.steps)
        return Answer(job, outcomes, seconds=seconds)

    def _received(self, sent: _Sent, folder: Path) -> Outcome:
        if isinstance(sent, ReedmillError):
            return sent
        return tuple(self._fresh(part, content, folder) for part, content in sent)

    def _fresh(self, part: StepFile, content: bytes, folder: Path) -> Fresh:
        path = folder / f"made-{next(self._names)}"
        jot(path, content)
        return Fresh(part, str(path))

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._done.clear()
        self._client.close()


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise InputError(
            "dask needs the package distributed, which is not installed.",
            way_out=Remedy.DASK_INSTALLED,
        ) from None
    return distributed
