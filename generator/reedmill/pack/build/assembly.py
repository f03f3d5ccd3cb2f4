"""Assembly of a pack: results into the store, pieces into their places, failures listed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from reedmill.base.below import os_errors_worded
from reedmill.base.errors import ReedmillError, RenderError
from reedmill.base.remedies import Words
from reedmill.pack.build.result import MADE, RESTORED, REUSED, Built, Failure, File
from reedmill.pack.keep.ledger import Ledger, LedgerEntry, Origin, Seen
from reedmill.pack.keep.placing import Placing
from reedmill.pack.keep.store import Store
from reedmill.pack.plan.explain import Reasons
from reedmill.pack.plan.pieces import PlannedItem
from reedmill.pack.plan.tracks import track_of
from reedmill.pack.run.carry_out import Done
from reedmill.pack.steps.facts import digest
from reedmill.pack.steps.records import Fresh, Record, StepFile
from reedmill.sound.signal.tags import InAlbum

_LEAST_FREE = 1_000_000  # bytes; with fewer a disk is full
_NUMBERED = "track"  # the scratch file of a sound that gets its number
_STATES = {"missing": "its file was missing", "altered": "its file had been changed"}


class Assembly:
    """A pack under construction, from the first piece to the last.

    *before* and *origins* are what the last build came to, *others* the files of other
    curricula in the same folder; ``origins_now`` becomes what this build comes to.
    """

    def __init__(
        self, out: Path, store: Store, before: Ledger, origins: dict[str, Origin],
        others: Mapping[str, str], words: Words,
    ) -> None:  # fmt: skip
        self.store, self.before, self.origins = store, before, origins
        self.built = Built(out)
        self._words = words
        self.placing = Placing(out, store, before.files, others)
        self.origins_now: dict[str, Origin] = {}
        self.whole: set[str] = set()  # keys of the pieces all of whose files are in place
        self._placed: dict[str, StepFile] = {}  # by path: what is there, which has its track number
        self.reasons: Reasons | None = None

    # --- the store ----------------------------------------------------------------------

    def has_sound(self, piece: PlannedItem) -> bool:
        """Return True when the store has the intact files for *piece*."""
        return self.store.has(piece.step) and not self.is_spoilt(piece)

    def is_spoilt(self, piece: PlannedItem) -> bool:
        """Return True when a stored file for *piece* is damaged or missing."""
        record = self.store.records.get(piece.step)
        if record is None:
            return False
        bound = [part for part in record.parts if part.ending == ".pdf"]
        taken = [
            part
            for path, part in files_of(piece, record)
            if self._state(path, self._known(piece, path, part))[0] != "right"
        ]
        return not all(map(self.store.is_sound, {*bound, *taken}))

    def take(self, done: Done, pieces: list[PlannedItem]) -> None:
        """Store what a step has made, and place it in the pack."""
        reason = self._kept(done)
        for piece in pieces:
            if reason:
                self.fail_piece(piece, reason)
            else:
                self.place(piece, fresh=True)

    def _kept(self, done: Done) -> ReedmillError | None:
        """Store the result of a step; return the error when that fails."""
        if isinstance(done.outcome, ReedmillError):
            return self.full_disk() or done.outcome
        parts = tuple(each.part for each in done.outcome)
        record = Record(done.step.kind, parts, done.seconds, done.step.amount)
        return self.keep(done.step.id, record, done.outcome)

    def keep(self, step: str, record: Record, fresh: tuple[Fresh, ...]) -> ReedmillError | None:
        """Store files; return the error when that fails."""
        try:
            with os_errors_worded(self.store.root):
                self.store.keep(step, record, fresh)
        except RenderError as error:
            return self.full_disk() or error
        return None

    def full_disk(self) -> RenderError | None:
        """Return the error for a full disk, whatever the failed program says.

        ``RenderError`` when the whole pack is not there any more: then nothing more can be made.
        """
        self.store.check_there()
        free = self.store.inside.free()
        if free >= _LEAST_FREE:
            return None
        return RenderError(
            f"the disk is full: {self.built.out} has no room left. Make some and build again."
        )

    # --- the pack -----------------------------------------------------------------------

    def place(self, piece: PlannedItem, *, fresh: bool = False) -> None:
        """Put every file of *piece* in its place, unless it is there already."""
        try:
            for path, part in files_of(piece, self.store.records[piece.step]):
                self._place(piece, path, part, fresh=fresh)
        except RenderError as error:
            self.fail_piece(piece, self.full_disk() or error)
            return
        self.finish(piece)

    def _place(self, piece: PlannedItem, path: str, part: StepFile, *, fresh: bool) -> None:
        known, made = self._known(piece, path, part), ""
        state, seen = self._state(path, known)
        track = self._track(piece, part)
        if track and seen is None:  # only now is it known what the file has to be
            known, made = self.placing.numbered(part, track, _NUMBERED), _NUMBERED
            state, seen = self._state(path, known)
        status, why = REUSED, ""
        if seen is None:
            again = fresh or (bool(track) and not self._is_as_before(piece))
            status, why = MADE if again else RESTORED, self.why(piece, state)
            seen = self.placing.put(path, known or part, made)
        self.list_file(piece, path, known or part, seen, status, why)

    def _track(self, piece: PlannedItem, part: StepFile) -> InAlbum | None:
        """Return the album track of the copy of *part* for *piece*, if it is one."""
        if piece.track is None:
            return None
        return track_of(piece.track, self.store.records[piece.step].parts, part)

    def _known(self, piece: PlannedItem, path: str, part: StepFile) -> StepFile | None:
        """Return the file due at *path*: *part*, or the album track made of it last time.

        ``None`` for a track that was not made, or not of the same sound with the same number.
        """
        track = self._track(piece, part)
        if track is None:
            return part
        before = self.before.files.get(path)
        if before is None or (before.step, before.track) != (piece.step, digest(track)):
            return None
        return replace(part, sha256=before.sha256, size=before.seen.size)

    def _state(self, path: str, known: StepFile | None) -> tuple[str, Seen | None]:
        return self.placing.state(path, known) if known else ("missing", None)

    def placed_of(self, piece: PlannedItem) -> list[StepFile]:
        """Return the hashes and sizes of the placed files of *piece*."""
        record = self.store.records[piece.step]
        return [self._placed[path] for path, _ in files_of(piece, record)]

    def finish(self, piece: PlannedItem) -> None:
        """Record that *piece* is in its place."""
        self.origins_now[piece.key] = Origin(
            piece.kind, piece.step, piece.edition, piece.lesson, piece.drill, piece.facts
        )
        self.whole.add(piece.key)

    def why(self, piece: PlannedItem, state: str) -> str:
        """Return the reason for placing *piece*, whose file is *state*."""
        if self._is_as_before(piece):
            return _STATES[state]
        return self.reasons.why(piece) if self.reasons else ""

    def _is_as_before(self, piece: PlannedItem) -> bool:
        before = self.origins.get(piece.key)
        return before is not None and (before.step, before.facts) == (piece.step, piece.facts)

    def list_file(
        self, piece: PlannedItem, path: str, part: StepFile, seen: Seen, status: str, why: str
    ) -> None:
        """Add a file to the result of the build."""
        track = self._track(piece, part)
        entry = LedgerEntry(
            path, part.sha256, seen, piece.step, piece.edition, piece.lesson, part.kind,
            piece.exercise, piece.drill, piece.harp, piece.position, part.tempo or piece.tempo,
            part.stem, piece.embouchure, digest(track) if track else "",
        )  # fmt: skip
        self._placed[path] = part
        self.built.files.append(File(entry, status, why))

    def fail_piece(self, piece: PlannedItem, reason: ReedmillError) -> None:
        """Report that *piece* was not made; it is still compared with what it was."""
        self.refuse(f"{piece.what} ({piece.kind})", reason)
        if piece.key in self.origins:
            self.origins_now[piece.key] = self.origins[piece.key]

    def refuse(self, what: str, reason: ReedmillError) -> None:
        """Report a failure with its remedy in the words of the caller."""
        self.fail(what, str(reason.worded(self._words) if self._words else reason))

    def fail(self, what: str, reason: str) -> None:
        """Report a failure."""
        self.built.failed.append(Failure(what, reason))


def files_of(piece: PlannedItem, record: Record) -> Iterator[tuple[str, StepFile]]:
    """Yield path and file of each wanted file of *piece*."""
    for part in record.parts:
        if part.kind in piece.kinds:
            yield piece.place + part.ending, part
