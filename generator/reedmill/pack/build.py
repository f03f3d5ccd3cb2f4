"""Build a pack: make what the store lacks, put every file in its place, remember what it came to.

Whatever is interrupted stays whole: a step is in the store or it is not, a file of the pack
is the old one or the new one.  A later build goes on from there.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path

from reedmill.errors import RenderError
from reedmill.pack.archive import write_archive
from reedmill.pack.carry_out import Done, carry_out
from reedmill.pack.course import Course
from reedmill.pack.entrance import Text, entrance
from reedmill.pack.explain import Reasons
from reedmill.pack.facts import plain_facts, step_id
from reedmill.pack.ledger import (
    ARCHIVE,
    Fed,
    Finished,
    Ledger,
    Origin,
    Placed,
    Seen,
    Share,
    ledger_bytes,
    ledger_path,
    origins_bytes,
    origins_path,
    read_ledger,
    read_origins,
)
from reedmill.pack.placing import Placing
from reedmill.pack.plan import EditionPlan, Piece, Plan, folder, inside, plan
from reedmill.pack.progress import Silent, sized
from reedmill.pack.rates import rates
from reedmill.pack.records import Fresh, Part, Record
from reedmill.pack.render import hashed
from reedmill.pack.report import FAILED, MADE, RESTORED, REUSED, write_report
from reedmill.pack.steps import Step
from reedmill.pack.store import Store, replace_file, told
from reedmill.pack.volumes import books
from reedmill.pack.workers import Crew, LocalCrew

CrewMaker = Callable[[Path], AbstractContextManager[Crew]]
"""Called with the scratch folder."""

_LEAST_FREE = 1_000_000  # bytes; with fewer a disk is full


@dataclass(frozen=True, slots=True)
class Source:
    """Where a course comes from."""

    curriculum: Path
    fed: Fed  # everything that was read, and by which code
    options: str  # those that choose what is made: equal, and the same is made


@dataclass(frozen=True, slots=True)
class File:
    """One file of the pack after a build."""

    placed: Placed
    status: str  # MADE, RESTORED or REUSED
    why: str = ""  # it was made or restored


@dataclass(frozen=True, slots=True)
class Failure:
    """Something that was not made, and why."""

    what: str
    reason: str  # a sentence


@dataclass(slots=True)
class Built:
    """What came of a build."""

    out: Path
    files: list[File] = field(default_factory=list)
    failed: list[Failure] = field(default_factory=list)


def local_crew(workers: int) -> CrewMaker:
    """Worker processes on this machine."""
    return lambda scratch: LocalCrew(scratch.resolve(), workers)


def build(
    course: Course,
    source: Source,
    out: Path,
    share: Share,
    *,
    crew: CrewMaker,
    binders: CrewMaker | None = None,
    progress: Silent | None = None,
) -> Built:
    """Make *share* of *course* in the folder *out*.

    *crew* makes what takes long.  Books need the store at hand: they are bound by *binders*
    when the crew is somewhere else.  What cannot be made is listed in the result and stops
    nothing else.  ``RenderError`` when the folder cannot be used at all.
    """
    shown = progress or Silent()

    def wait() -> None:
        shown.say(f"Another build is at work in {out}; this one starts when it has finished.")

    with Store(out, wait) as store:
        return _Build(course, source, out, share, store, shown).carried_out(crew, binders)


class _Build:
    """One build, from the plan to the ledger."""

    def __init__(
        self, course: Course, source: Source, out: Path, share: Share, store: Store,
        progress: Silent,
    ) -> None:  # fmt: skip
        self._course, self._source, self._share = course, source, share
        self._store, self._progress = store, progress
        self._ledger_path = ledger_path(store.root, source.curriculum)
        self._before = read_ledger(self._ledger_path, str(source.curriculum))
        self._origins = read_origins(self._ledger_path)
        self._placing = Placing(out, store, self._before.files)
        self._built = Built(out)
        self._now: dict[str, Origin] = {}
        self._whole: set[str] = set()  # keys of the pieces all of whose files are in place

    def carried_out(self, crew: CrewMaker, binders: CrewMaker | None) -> Built:
        found = self._planned()
        for edition, row in found.failed:
            self._fail(f"{row.name} in lesson {row.lesson} for {edition.slug}", row.message)
        self._reasons = Reasons(self._origins, found.pieces, self._share)
        with crew(self._store.scratch) as working:
            self._make(found.pieces, found.steps, working)
            bound = self._bind(found, working) if binders is None else []
        if binders:
            with binders(self._store.scratch) as working:
                bound = self._bind(found, working)
        if self._share.lesson is None:
            for each in found.editions:
                self._write_texts(each, bound)
                if self._share.archive:
                    self._zip(each)
        self._built.files.sort(key=lambda each: each.placed.path)
        try:
            self._write_ledger()
        except RenderError as error:  # what was made is told all the same
            self._fail("the record of this build", self._full_disk() or str(error))
        return self._built

    def _planned(self) -> Plan:
        """The plan, from a store in which whatever will be taken from it is sound."""
        while True:
            found = plan(self._course, self._share, self._store.has)
            spoilt = {piece.step for piece in found.pieces if self._spoilt(piece)}
            if not spoilt:
                return found
            for step in spoilt:
                self._store.records.pop(step, None)

    def _spoilt(self, piece: Piece) -> bool:
        record = self._store.records.get(piece.step)
        if record is None:
            return False
        bound = [part for part in record.parts if part.ending == ".pdf"]
        taken = [
            part
            for path, part in _files(piece, record)
            if self._placing.state(path, part)[0] != "right"
        ]
        return not all(map(self._store.is_sound, {*bound, *taken}))

    # --- making -------------------------------------------------------------------------

    def _make(self, pieces: list[Piece], steps: dict[str, Step], crew: Crew) -> None:
        """Have *steps* carried out; every piece is placed as soon as it is there."""
        waiting: dict[str, list[Piece]] = {}
        for piece in pieces:
            if piece.step in steps:
                waiting.setdefault(piece.step, []).append(piece)
            else:
                self._place(piece)
        if not steps:
            return
        cost = rates(self._store.records.values())
        expected = {each.id: cost[each.kind].seconds * each.amount for each in steps.values()}
        self._warn_of_size(sum(cost[each.kind].size * each.amount for each in steps.values()))
        self._progress.begin(len(steps), sum(expected.values()))
        for job, done in carry_out(list(steps.values()), crew):
            for each in done:
                self._take(each, waiting.pop(each.step.id))
            shutil.rmtree(self._store.scratch / f"job-{job.number}", ignore_errors=True)
            self._progress.done(len(done), sum(expected[each.step.id] for each in done))
        self._progress.end()

    def _warn_of_size(self, size: float) -> None:
        """Say beforehand when there is hardly room for *size* bytes in the pack and its store."""
        free = shutil.disk_usage(self._store.root).free
        if 2 * size > free:
            self._progress.say(
                f"This takes about {sized(2 * size)} in {self._built.out}, and the disk has "
                f"{sized(free)} left."
            )

    def _bind(self, found: Plan, crew: Crew) -> list[Piece]:
        """The books, of whatever there is for them by now."""
        whole = self._share.lesson is None
        bound = [each for of in found.editions for each in books(of, self._store, whole=whole)]
        steps = {each.step.id: each.step for each in bound if not self._has_sound(each.piece)}
        pieces = [each.piece for each in bound]
        self._make(pieces, steps, crew)
        return pieces

    def _has_sound(self, piece: Piece) -> bool:
        return self._store.has(piece.step) and not self._spoilt(piece)

    def _take(self, done: Done, pieces: list[Piece]) -> None:
        """Put away what a step has made, and put it where it belongs."""
        reason = self._kept(done)
        for piece in pieces:
            if reason:
                self._fail_piece(piece, reason)
            else:
                self._place(piece, fresh=True)

    def _kept(self, done: Done) -> str:
        """Put it into the store; why not, when that fails."""
        if isinstance(done.outcome, str):
            return self._full_disk() or done.outcome
        record = Record(
            done.step.kind, tuple(each.part for each in done.outcome), done.seconds,
            done.step.amount,
        )  # fmt: skip
        return self._keep(done.step.id, record, done.outcome)

    def _keep(self, step: str, record: Record, fresh: tuple[Fresh, ...]) -> str:
        try:
            with told(self._store.root):
                self._store.keep(step, record, fresh)
        except RenderError as error:
            return self._full_disk() or str(error)
        return ""

    def _full_disk(self) -> str:
        """What is to be said when there is no room left, whatever the program says that failed."""
        free = shutil.disk_usage(self._store.root).free
        full = f"the disk is full: {self._built.out} has no room left. Make some and build again."
        return full if free < _LEAST_FREE else ""

    # --- placing ------------------------------------------------------------------------

    def _place(self, piece: Piece, *, fresh: bool = False) -> None:
        """Put every file of *piece* in its place, where it is not there already."""
        try:
            for path, part in _files(piece, self._store.records[piece.step]):
                state, seen = self._placing.state(path, part)
                status, why = REUSED, ""
                if seen is None:
                    status, why = self._why(piece, state, fresh=fresh)
                    seen = self._placing.put(path, part)
                self._list(piece, path, part, seen, status, why)
        except RenderError as error:
            self._fail_piece(piece, self._full_disk() or str(error))
            return
        self._now[piece.key] = _origin(piece)
        self._whole.add(piece.key)

    def _why(self, piece: Piece, state: str, *, fresh: bool) -> tuple[str, str]:
        before = self._origins.get(piece.key)
        if before and before.step == piece.step:
            why = {"missing": "its file was missing", "altered": "its file had been changed"}[state]
            return MADE if fresh else RESTORED, why
        return MADE if fresh else RESTORED, self._reasons.why(piece)

    def _list(self, piece: Piece, path: str, part: Part, seen: Seen, status: str, why: str) -> None:
        entry = Placed(
            path, part.sha256, seen, piece.step, piece.edition, piece.lesson, part.kind,
            piece.exercise, piece.drill, piece.harp, piece.position, part.tempo or piece.tempo,
            part.stem,
        )  # fmt: skip
        self._built.files.append(File(entry, status, why))

    def _fail_piece(self, piece: Piece, reason: str) -> None:
        self._fail(f"{piece.what} ({piece.kind})", reason)
        if piece.key in self._origins:  # what it still is, and is compared with next time
            self._now[piece.key] = self._origins[piece.key]

    def _fail(self, what: str, reason: str) -> None:
        self._built.failed.append(Failure(what, reason))

    # --- the whole edition --------------------------------------------------------------

    def _write_texts(self, of: EditionPlan, bound: list[Piece]) -> None:
        mine = [piece for piece in bound if piece.edition == of.edition.slug]
        made = [  # in the order of the course, in whatever order it was made
            (piece, part)
            for piece in (*of.pieces, *mine)
            if piece.key in self._whole
            for _, part in _files(piece, self._store.records[piece.step])
        ]
        for text in entrance(of, made):
            piece, reason = self._text_piece(of, text)
            if reason:
                self._fail_piece(piece, reason)
            else:
                self._place(piece, fresh=True)

    def _text_piece(self, of: EditionPlan, text: Text) -> tuple[Piece, str]:
        """The piece of *text*, which is put into the store unless it is there."""
        scratch = self._store.scratch / "text"
        try:
            with told(scratch):
                scratch.write_bytes(text.content)
        except RenderError as error:
            return _named(of, text, ""), self._full_disk() or str(error)
        sha256, size = hashed(scratch)
        piece = _named(of, text, sha256)
        if self._has_sound(piece):
            return piece, ""
        part = Part(text.ending, sha256, size, text.kind)
        fresh = Fresh(part, str(scratch))
        return piece, self._keep(piece.step, Record(text.kind, (part,), 0.0, 1.0), (fresh,))

    def _zip(self, of: EditionPlan) -> None:
        """Everything of the edition in one file, which the store does not keep a second time."""
        home = folder(of.edition)
        inner = [
            each.placed for each in self._built.files if each.placed.edition == of.edition.slug
        ]
        members = {each.path.removeprefix(f"{home}/"): each for each in inner}
        facts = plain_facts(members=sorted((name, each.sha256) for name, each in members.items()))
        name = "-".join(filter(None, (of.edition.course.slug, home)))
        place, step = inside(home, name), step_id(ARCHIVE, facts)
        piece = Piece(place, step, ARCHIVE, (), facts, of.edition.slug, 0, drill="Archive")
        known = self._before.files.get(f"{place}.zip")
        paths = [(name, self._built.out / each.path) for name, each in members.items()]
        try:
            self._put_archive(piece, known, paths)
        except RenderError as error:
            self._fail_piece(piece, self._full_disk() or str(error))

    def _put_archive(
        self, piece: Piece, known: Placed | None, members: list[tuple[str, Path]]
    ) -> None:
        path, status, why = f"{piece.place}.zip", REUSED, ""
        part = Part(".zip", known.sha256, known.seen.size, ARCHIVE) if known else None
        state, seen = self._placing.state(path, part) if part else ("missing", None)
        if part is None or seen is None or (known and known.step != piece.step):
            status, why = self._why(piece, state, fresh=True)
            scratch = self._store.scratch / "archive"
            with told(scratch), scratch.open("wb") as file:
                write_archive(file, members)
            part = Part(".zip", *hashed(scratch), ARCHIVE)
            seen = self._placing.put(path, part, scratch)
        self._list(piece, path, part, seen, status, why)
        self._now[piece.key] = Origin(
            ARCHIVE, piece.step, piece.edition, 0, piece.drill, piece.facts
        )

    # --- remembering --------------------------------------------------------------------

    def _write_ledger(self) -> None:
        with told(self._store.root):
            origins = self._other_origins() | self._now
            content = origins_bytes(origins.items()), ledger_bytes(self._ledger())
            paths = origins_path(self._ledger_path), self._ledger_path
            self._ledger_path.parent.mkdir(exist_ok=True)
            for path, each in zip(paths, content, strict=True):  # the facts first
                replace_file(path, each, self._store.scratch)
            rows = [(each.placed.path, each.status, each.why) for each in self._built.files]
            rows += [(each.what, FAILED, each.reason) for each in self._built.failed]
            write_report(self._store.root, rows)

    def _other_origins(self) -> dict[str, Origin]:
        return {
            key: origin
            for key, origin in self._origins.items()
            if not self._share.holds(origin.edition, origin.lesson)
        }

    def _ledger(self) -> Ledger:
        """What it came to; builds that were fed something else are no longer finished."""
        fed = self._source.fed
        builds = {name: each for name, each in self._before.builds.items() if each.fed == fed}
        builds.pop(self._source.options, None)
        if not self._built.failed:
            builds[self._source.options] = Finished(fed, self._share)
        archived = any(each.share.archive for each in builds.values())
        files = {
            path: each
            for path, each in self._before.files.items()
            if not self._share.holds(each.edition, each.lesson)
            or (archived and each.kind == ARCHIVE)
        }
        files |= {each.placed.path: each.placed for each in self._built.files}
        return replace(self._before, builds=builds, files=dict(sorted(files.items())))


def _origin(piece: Piece) -> Origin:
    return Origin(piece.kind, piece.step, piece.edition, piece.lesson, piece.drill, piece.facts)


def _named(of: EditionPlan, text: Text, sha256: str) -> Piece:
    facts = plain_facts(contents=f"#{sha256}")
    step = step_id(text.kind, facts)
    titles = {"page": "Page that opens the pack", "playlist": "Playlist", "manifest": "Manifest"}
    return Piece(
        text.place, step, text.kind, (text.kind,), facts, of.edition.slug, text.lesson,
        drill=titles[text.kind],
    )  # fmt: skip


def _files(piece: Piece, record: Record) -> Iterator[tuple[str, Part]]:
    """The wanted files of *piece*: where in the pack, and what."""
    for part in record.parts:
        if part.kind in piece.kinds:
            yield piece.place + part.ending, part
