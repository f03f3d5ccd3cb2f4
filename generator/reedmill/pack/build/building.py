"""Build a pack: make what the store lacks, place every file, record the result.

Whatever is interrupted stays whole: a step is in the store or it is not, a file of the pack
is the old one or the new one.  A later build goes on from there.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path

from reedmill.base.below import os_errors_worded
from reedmill.base.errors import RenderError
from reedmill.base.remedies import Words
from reedmill.pack.build.assembly import Assembly
from reedmill.pack.build.build_report import write_report
from reedmill.pack.build.finishing import write_archive_of, write_texts, write_top
from reedmill.pack.build.progress import Silent, size_in_words
from reedmill.pack.build.result import Built, CourseSource
from reedmill.pack.course.course import Course
from reedmill.pack.keep.ledger import (
    ARCHIVE,
    BuildScope,
    Finished,
    Ledger,
    Origin,
    ledger_bytes,
    ledger_name,
    origins_bytes,
    origins_name,
    other_files,
    read_ledger,
    read_origins,
    whole_path,
)
from reedmill.pack.keep.store import Store
from reedmill.pack.plan.explain import Reasons
from reedmill.pack.plan.pieces import PackPlan, PlannedItem, plan_pack
from reedmill.pack.plan.volumes import books, in_store
from reedmill.pack.run.carry_out import carry_out
from reedmill.pack.run.rates import rates
from reedmill.pack.run.workers import LocalPool, WorkerPool
from reedmill.pack.steps.steps import Step

PoolMaker = Callable[[Path], AbstractContextManager[WorkerPool]]
"""Called with the scratch folder."""


def local_pool(workers: int) -> PoolMaker:
    """Return a maker of worker processes on this machine."""
    return lambda scratch: LocalPool(scratch, workers)


def build(
    course: Course,
    source: CourseSource,
    out: Path,
    scope: BuildScope,
    *,
    pool: PoolMaker,
    binders: PoolMaker | None = None,
    progress: Silent | None = None,
    words: Words | None = None,
) -> Built:
    """Build *scope* of *course* in the folder *out*.

    *pool* makes what takes long.  Books need the store at hand: they are bound by *binders*
    when the pool is on other machines.  What cannot be made is listed in the result, with its way
    out in the *words* of whoever asked, and stops nothing else.  ``RenderError`` when the folder
    cannot be used at all.
    """
    shown = progress or Silent()

    def wait() -> None:
        shown.say(f"Another build is at work in {out}; this one starts when it has finished.")

    try:
        with Store(out, wait) as store:
            return _Build(course, source, out, scope, store, shown, words or {}).carried_out(
                pool, binders
            )
    finally:
        shown.end()  # stopped or failed: what is said of it begins a line


class _Build:
    """One build, from the plan to the ledger."""

    def __init__(
        self, course: Course, source: CourseSource, out: Path, scope: BuildScope, store: Store,
        progress: Silent, words: Words,
    ) -> None:  # fmt: skip
        self._course, self._source, self._share = course, source, scope
        self._store, self._progress = store, progress
        self._name = name = ledger_name(source.curriculum)
        before = read_ledger(store.packs, name, whole_path(source.curriculum))
        origins, others = read_origins(store.packs, name), other_files(store.packs, name)
        self._pack = Assembly(out, store, before, origins, others, words)

    def carried_out(self, pool: PoolMaker, binders: PoolMaker | None) -> Built:
        found = self._planned()
        for edition, row in found.failed:
            self._pack.fail(f"{row.name} in lesson {row.lesson} for {edition.slug}", row.reason)
        self._pack.reasons = Reasons(self._pack.origins, found.pieces, self._share)
        bound = self._made(found, pool, binders)
        if self._share.lesson is None:
            for each in found.editions:
                write_texts(self._pack, each, bound)
                if self._share.archive:
                    write_archive_of(self._pack, each)
            if self._course.students:
                write_top(self._pack, self._course)
        self._pack.built.files.sort(key=lambda each: each.placed.path)
        self._remember()
        return self._pack.built

    def _planned(self) -> PackPlan:
        """Return the plan, from a store whose needed files are intact."""
        while True:
            found = plan_pack(self._course, self._share, self._store.has)
            spoilt = {piece.step for piece in found.pieces if self._pack.is_spoilt(piece)}
            if not spoilt:
                return found
            for step in spoilt:
                self._store.records.pop(step, None)

    # --- making -------------------------------------------------------------------------

    def _made(
        self, found: PackPlan, pool: PoolMaker, binders: PoolMaker | None
    ) -> list[PlannedItem]:
        """Make all that takes long; return the books."""
        with pool(self._store.scratch) as working:
            self._make(found.pieces, found.steps, working)
            if binders is None:
                return self._bind(found, working)
        with binders(self._store.scratch) as working:
            return self._bind(found, working)

    def _make(self, pieces: list[PlannedItem], steps: dict[str, Step], pool: WorkerPool) -> None:
        """Carry out *steps*; place each piece as soon as it is made."""
        waiting: dict[str, list[PlannedItem]] = {}
        for piece in pieces:
            if piece.step in steps:
                waiting.setdefault(piece.step, []).append(piece)
            else:
                self._pack.place(piece)
        if not steps:
            return
        cost = rates(self._store.records.values())
        expected = {each.id: cost.of(each).seconds * each.amount for each in steps.values()}
        self._warn_of_size(sum(cost.of(each).size * each.amount for each in steps.values()))
        self._progress.begin(len(steps), sum(expected.values()))
        for job, done in carry_out(list(steps.values()), pool):
            for each in done:
                self._pack.take(each, waiting.pop(each.step.id))
            self._store.drop_scratch(f"job-{job.number}")
            self._progress.done(len(done), sum(expected[each.step.id] for each in done))
        self._progress.end()

    def _warn_of_size(self, size: float) -> None:
        """Warn beforehand when there is hardly room for *size* bytes in the pack and store."""
        free = self._store.inside.free()
        if 2 * size > free:
            self._progress.say(
                f"This takes about {size_in_words(2 * size)} in {self._pack.built.out}, and the "
                f"disk has {size_in_words(free)} left."
            )

    def _bind(self, found: PackPlan, pool: WorkerPool) -> list[PlannedItem]:
        """Bind the books from the pages there are by now."""
        whole = self._share.lesson is None
        have = in_store(self._store)
        bound = [each for of in found.editions for each in books(of, have, whole=whole)]
        steps = {each.step.id: each.step for each in bound if not self._pack.has_sound(each.piece)}
        pieces = [each.piece for each in bound]
        self._make(pieces, steps, pool)
        return pieces

    # --- remembering --------------------------------------------------------------------

    def _remember(self) -> None:
        """Write the ledger; report the files made even when that fails."""
        built = self._pack.built
        try:
            with os_errors_worded(self._store.root):
                content = origins_bytes(self._origins().items()), ledger_bytes(self._ledger())
                names = origins_name(self._name), self._name
                for name, each in zip(names, content, strict=True):  # the facts first
                    self._store.replace(self._store.packs, name, each)
                write_report(self._store.inside, built.files, built.failed)
        except RenderError as error:
            self._pack.refuse("the record of this build", self._pack.full_disk() or error)

    def _origins(self) -> dict[str, Origin]:
        """Return the facts of the pieces of this build, and known ones of the rest."""
        rest = {
            key: origin
            for key, origin in self._pack.origins.items()
            if not self._share.holds(origin.edition, origin.lesson)
        }
        return rest | self._pack.origins_now

    def _ledger(self) -> Ledger:
        """Return the ledger of this build; builds with other inputs count as unfinished."""
        inputs_seen, before, built = self._source.inputs_seen, self._pack.before, self._pack.built
        builds = {
            name: each for name, each in before.builds.items() if each.inputs_seen == inputs_seen
        }
        builds.pop(self._source.options, None)
        if not built.failed:
            builds[self._source.options] = Finished(inputs_seen, self._share)
        archived = any(each.scope.archive for each in builds.values())
        # what could not be made anew stays what it was
        failed = set(self._pack.origins_now) - self._pack.whole
        steps = {self._pack.origins_now[key].step for key in failed}
        files = {
            path: each
            for path, each in before.files.items()
            if not self._share.holds(each.edition, each.lesson)
            or (archived and each.kind == ARCHIVE)
            or each.step in steps
        }
        files |= {each.placed.path: each.placed for each in built.files}
        return replace(before, builds=builds, files=dict(sorted(files.items())))
