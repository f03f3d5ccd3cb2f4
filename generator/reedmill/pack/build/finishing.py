"""The last files of an edition: the page that opens it, playlists, app, manifest and archive."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from pathlib import Path

from reedmill.base.below import os_errors_worded
from reedmill.base.errors import ReedmillError, RenderError
from reedmill.base.hashing import hashed_file
from reedmill.pack.build.archive import write_archive
from reedmill.pack.build.assembly import Assembly
from reedmill.pack.build.result import MADE, REUSED
from reedmill.pack.course.course import Course, Edition, editions
from reedmill.pack.keep.ledger import ARCHIVE, LedgerEntry
from reedmill.pack.plan.pieces import EditionPlan, PlannedItem, folder, inside
from reedmill.pack.site.entrance import Text, entrance
from reedmill.pack.site.students import StudentLink, top_html
from reedmill.pack.steps.facts import plain_facts, step_id
from reedmill.pack.steps.records import Fresh, Record, StepFile

_TITLES = {
    "page": "Page that opens the pack", "playlist": "Playlist", "manifest": "Manifest",
    "app-manifest": "Web app manifest", "icon": "Icon", "worker": "Service worker",
}  # fmt: skip


def write_texts(pack: Assembly, of: EditionPlan, bound: Sequence[PlannedItem]) -> None:
    """Write the opening page, playlists, app and manifest of *of*; *bound* are the books."""
    mine = [piece for piece in bound if piece.edition == of.edition.slug]
    made = [  # in the order of the course, in whatever order it was made
        (piece, part)
        for piece in (*of.pieces, *mine)
        if piece.key in pack.whole
        for part in pack.placed_of(piece)
    ]
    for text in entrance(of, made):
        _write(pack, of.edition.slug, text)


def _write(pack: Assembly, edition: str, text: Text) -> None:
    piece, reason = _text_piece(pack, edition, text)
    if reason:
        pack.fail_piece(piece, reason)
    else:
        pack.place(piece, fresh=True)


def _text_piece(
    pack: Assembly, edition: str, text: Text
) -> tuple[PlannedItem, ReedmillError | None]:
    """Store *text* unless it is stored; return its piece, and the error if that fails."""
    sha256 = hashlib.sha256(text.content).hexdigest()
    piece = _named(edition, text, sha256)
    if pack.has_sound(piece):
        return piece, None
    scratch = pack.store.scratch / "text"
    try:
        with os_errors_worded(pack.store.working.path):
            pack.store.working.write(scratch.name, text.content)
    except RenderError as error:
        return piece, pack.full_disk() or error
    part = StepFile(text.ending, sha256, len(text.content), text.kind)
    record = Record(text.kind, (part,), 0.0, 1.0)
    return piece, pack.keep(piece.step, record, (Fresh(part, str(scratch)),))


def _named(edition: str, text: Text, sha256: str) -> PlannedItem:
    facts = plain_facts(contents=f"#{sha256}")
    return PlannedItem(
        text.place, step_id(text.kind, facts), text.kind, (text.kind,), facts, edition,
        text.lesson, drill=_TITLES[text.kind],
    )  # fmt: skip


def write_top(pack: Assembly, course: Course) -> None:
    """Write the top page of the pack, with links to every student's, built now or before."""
    known = pack.before.files | {each.placed.path: each.placed for each in pack.built.files}
    doors = tuple(_door(edition, known.values()) for edition in editions(course))
    text = Text("index", ".html", "page", 0, top_html(course, doors))
    _write(pack, "", text)


def _door(edition: Edition, known: Iterable[LedgerEntry]) -> StudentLink:
    home = folder(edition)
    page = inside(home, "index.html")
    mine = [each for each in known if each.edition == edition.slug and not each.lesson]
    books = tuple(sorted(each.path for each in mine if each.kind == "book"))
    return StudentLink(edition, page if any(each.path == page for each in mine) else "", books)


def write_archive_of(pack: Assembly, of: EditionPlan) -> None:
    """Write one ZIP of the whole edition, of which the store keeps no second copy."""
    home = folder(of.edition)
    members = {
        each.placed.path.removeprefix(f"{home}/"): each.placed
        for each in pack.built.files
        if each.placed.edition == of.edition.slug
    }
    facts = plain_facts(members=sorted((name, each.sha256) for name, each in members.items()))
    name = "-".join(filter(None, (of.edition.course.slug, home)))
    piece = PlannedItem(
        inside(home, name), step_id(ARCHIVE, facts), ARCHIVE, (), facts, of.edition.slug, 0,
        drill="Archive",
    )  # fmt: skip
    paths = [(name, Path(each.path)) for name, each in members.items()]
    try:
        _put_archive(pack, piece, paths)
    except RenderError as error:
        pack.fail_piece(piece, pack.full_disk() or error)


def _put_archive(pack: Assembly, piece: PlannedItem, members: Sequence[tuple[str, Path]]) -> None:
    path, status, why = f"{piece.place}.zip", REUSED, ""
    known = pack.before.files.get(path)
    part = StepFile(".zip", known.sha256, known.seen.size, ARCHIVE) if known else None
    state, seen = pack.placing.state(path, part) if part else ("missing", None)
    if part is None or seen is None or (known and known.step != piece.step):
        status, why = MADE, pack.why(piece, state)
        working = pack.store.working
        with os_errors_worded(working.path / ARCHIVE):
            with working.creating(ARCHIVE) as file:
                write_archive(file, members, pack.placing.opened)
            with working.reading(ARCHIVE) as file:
                part = StepFile(".zip", *hashed_file(file), ARCHIVE)
        seen = pack.placing.put(path, part, ARCHIVE)
    pack.list_file(piece, path, part, seen, status, why)
    pack.finish(piece)
