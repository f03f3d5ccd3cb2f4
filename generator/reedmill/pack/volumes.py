"""The books of an edition: one for each lesson, and one of them all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reedmill.pack.course import Lesson
from reedmill.pack.plan import CAUTIONS, COVER, LOG, OPENING, EditionPlan, Piece, folder, inside
from reedmill.pack.records import Record
from reedmill.pack.steps import Step, step_of
from reedmill.pack.store import Store
from reedmill.pack.work import Leaf, Volume


@dataclass(frozen=True, slots=True)
class Bound:
    """A book to be: its step and its place."""

    step: Step
    piece: Piece


def books(of: EditionPlan, store: Store, *, whole: bool) -> Iterator[Bound]:
    """Every book of *of* from what the store has by now; what is missing is left out.

    *whole* asks for the book of the whole edition too.
    """
    course = of.edition.course
    lessons = {each.number: each for each in of.edition.lessons}
    chapters = [lessons[each.number] for each in of.chapters]
    for lesson in chapters:
        volume = Volume(
            lesson.title, tuple(_leaves(of, store, lesson)), course.look, author=course.author,
            subject=lesson.goal, running=course.title,
        )  # fmt: skip
        yield from _bound(of, volume, lesson)
    if whole:
        leaves = [*_front(of, store)]
        leaves += [leaf for lesson in chapters for leaf in _leaves(of, store, lesson)]
        cover = bool(leaves) and leaves[0].title == course.title
        volume = Volume(
            course.title, tuple(leaves), course.look, author=course.author, subject=course.about,
            cover=cover, contents=True,
        )  # fmt: skip
        yield from _bound(of, volume, None)


def _bound(of: EditionPlan, volume: Volume, lesson: Lesson | None) -> Iterator[Bound]:
    if not volume.leaves:
        return
    step, facts = step_of(volume)
    number, name = (lesson.number, lesson.name) if lesson else (0, of.edition.course.slug)
    place = inside(folder(of.edition, lesson), name)
    title = f"Book of lesson {number}" if lesson else "Book"
    yield Bound(
        step, Piece(place, step.id, step.kind, ("book",), facts, of.edition.slug, number, "", title)
    )


def _front(of: EditionPlan, store: Store) -> Iterator[Leaf]:
    titles = {COVER: of.edition.course.title, CAUTIONS: "Take care"}
    for piece in of.pages_of(0):
        yield from _leaf(piece, store, titles[_name(piece)])


def _leaves(of: EditionPlan, store: Store, lesson: Lesson) -> Iterator[Leaf]:
    """The pages of a lesson: its opening, its sheets, its charts, its log."""
    for piece in of.pages_of(lesson.number):
        if _name(piece) == OPENING:
            yield from _leaf(piece, store, lesson.title, label=str(lesson.number))
        elif _name(piece) == LOG:
            yield from _leaf(piece, store, "Practice log", deep=True)
        elif piece.kind == "roles" or "sheet-pdf" in piece.kinds:
            yield from _leaf(piece, store, piece.drill, detail=piece.detail, deep=True)


def _name(piece: Piece) -> str:
    return piece.place.rpartition("/")[2]


def _leaf(
    piece: Piece, store: Store, title: str, *, label: str = "", detail: str = "", deep: bool = False
) -> Iterator[Leaf]:
    record: Record | None = store.records.get(piece.step)
    for part in record.parts if record else ():
        if part.ending == ".pdf":
            file: Path = store.object(part.sha256).resolve()
            yield Leaf(title, str(file), part.sha256, label, detail, deep)
