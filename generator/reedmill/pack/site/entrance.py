"""The entrance of an edition: the page that opens it, its playlists, app and manifest."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.pack.pages.chapter import front_of
from reedmill.pack.plan.pieces import EditionPlan, PlannedItem, folder, inside
from reedmill.pack.site.app_files import (
    APP_MANIFEST,
    ICONS,
    WORKER,
    app_manifest,
    packaged,
    service_worker,
)
from reedmill.pack.site.index_page import Site, site_html
from reedmill.pack.site.manifest import MANIFEST, PackFile, manifest_json
from reedmill.pack.site.playlist import listened_first, playlist
from reedmill.pack.steps.records import StepFile


@dataclass(frozen=True, slots=True)
class Text:
    """A file written at once, because it takes no time."""

    place: str  # path in the pack without the ending
    ending: str
    kind: str
    lesson: int  # 0: of the whole edition
    content: bytes


def entrance(of: EditionPlan, made: Sequence[tuple[PlannedItem, StepFile]]) -> Iterator[Text]:
    """Yield the texts of *of*, whose other files are *made*."""
    course, home = of.edition.course, folder(of.edition)
    files = [_pack_file(home, piece, part) for piece, part in made]
    texts: list[Text] = []
    for text in _playlists(of, files):
        texts.append(text)
        files.append(_of_text(home, text))
    front = front_of(of.edition)
    site = Site(front, of.chapters, tuple(files), course.cautions)
    for name, kind, content in (
        ("index.html", "page", site_html(site)),
        (APP_MANIFEST, "app-manifest", app_manifest(front)),
        *((icon, "icon", packaged(icon)) for icon, _, _ in ICONS),
    ):
        texts.append(_named(home, name, kind, content))
        files.append(_of_text(home, texts[-1]))
    texts.append(_named(home, WORKER, "worker", service_worker(files)))
    files.append(_of_text(home, texts[-1]))
    manifest = manifest_json(course.title, of.edition.slug, files)
    texts.append(_named(home, MANIFEST, "manifest", manifest))
    yield from texts


def _named(home: str, name: str, kind: str, content: bytes) -> Text:
    stem, _, ending = name.partition(".")
    return Text(inside(home, stem), f".{ending}", kind, 0, content)


def _playlists(of: EditionPlan, files: Sequence[PackFile]) -> Iterator[Text]:
    """Yield one playlist of everything, and one for each lesson with sound."""
    home, lessons = folder(of.edition), {each.number: each for each in of.edition.lessons}
    heard = listened_first(files)
    if heard:
        content = playlist(of.edition.course.title, heard)
        yield Text(inside(home, of.edition.course.slug), ".m3u8", "playlist", 0, content)
    for chapter in of.chapters:
        mine = [each for each in heard if each.lesson == chapter.number]
        if mine:
            lesson = lessons[chapter.number]
            content = playlist(f"{chapter.label}: {chapter.title}", mine, lesson.name)
            place = inside(folder(of.edition, lesson), lesson.name)
            yield Text(place, ".m3u8", "playlist", chapter.number, content)


def _pack_file(home: str, piece: PlannedItem, part: StepFile) -> PackFile:
    return PackFile(
        (piece.place + part.ending).removeprefix(f"{home}/"), part.kind, part.size, part.sha256,
        lesson=piece.lesson or None, exercise=piece.exercise,
        drill=piece.drill if piece.exercise else "", harp=piece.harp,
        position=piece.position or None, tempo=part.tempo or piece.tempo or None,
        embouchure=piece.embouchure, stem=part.stem, seconds=part.seconds or None,
        width=part.width, height=part.height,
    )  # fmt: skip


def _of_text(home: str, text: Text) -> PackFile:

    path = (text.place + text.ending).removeprefix(f"{home}/")
    sha256 = hashlib.sha256(text.content).hexdigest()
    return PackFile(path, text.kind, len(text.content), sha256, lesson=text.lesson or None)
