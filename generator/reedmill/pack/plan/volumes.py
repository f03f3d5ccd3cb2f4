"""The books of an edition: one for each lesson, and one of them all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from reedmill.pack.course.course import Lesson
from reedmill.pack.keep.store import Store
from reedmill.pack.plan.pieces import (
    CAUTIONS,
    COVER,
    LOG,
    OPENING,
    EditionPlan,
    PlannedItem,
    folder,
    inside,
)
from reedmill.pack.steps.records import Record
from reedmill.pack.steps.steps import Step, step_of
from reedmill.pack.steps.work import Leaf, Volume


@dataclass(frozen=True, slots=True)
class Bound:
    """A book to be bound: its step and its place."""

    step: Step
    piece: PlannedItem
    leaves: tuple[Leaf, ...]
    contents: bool  # it has pages of contents


MOST_LEAVES = 200
"""Of one book of an edition; a longer one is bound in parts, so that memory has a bound."""


Find = Callable[[PlannedItem], Iterable[tuple[str, str]]]
"""Says which PDFs there are of a piece: the path of each and the SHA-256 of what is in it."""


def in_store(store: Store) -> Find:
    """Return a function that finds what *store* has by now."""

    def find(piece: PlannedItem) -> Iterator[tuple[str, str]]:
        record: Record | None = store.records.get(piece.step)
        for part in record.parts if record else ():
            if part.ending == ".pdf":
                yield str(store.object(part.sha256).resolve()), part.sha256

    return find


def books(of: EditionPlan, found: Find, *, whole: bool) -> Iterator[Bound]:
    """Yield every book of *of* from the pages *found*; missing ones are left out.

    *whole* asks for the book of the whole edition too.
    """
    course = of.edition.course
    lessons = {each.number: each for each in of.edition.lessons}
    chapters = [(lessons[each.number], _leaves(of, found, lessons[each.number]))
                for each in of.chapters]  # fmt: skip
    for lesson, leaves in chapters:
        volume = Volume(
            lesson.title, leaves, of.edition.look, author=course.author, subject=lesson.goal,
            running=course.title,
        )  # fmt: skip
        place = inside(folder(of.edition, lesson), lesson.name)
        yield from _bound(of, volume, place, lesson.number)
    if whole:
        yield from _whole(of, [*_front(of, found)], [leaves for _, leaves in chapters])


def _whole(
    of: EditionPlan, front: list[Leaf], chapters: Sequence[tuple[Leaf, ...]]
) -> Iterator[Bound]:
    """Yield the book of the whole edition, or its parts."""
    course = of.edition.course
    parts = list(_parts(chapters))
    for number, leaves in enumerate(parts, start=1):
        several = len(parts) > 1
        name = f"{course.slug}-part-{number}" if several else course.slug
        title = f"{course.title}, part {number} of {len(parts)}" if several else course.title
        cover = bool(front) and front[0].title == course.title
        volume = Volume(
            title, (*front, *leaves), of.edition.look, author=course.author, subject=course.about,
            cover=cover, contents=True,
        )  # fmt: skip
        yield from _bound(of, volume, inside(folder(of.edition), name), 0)


def _parts(chapters: Sequence[tuple[Leaf, ...]]) -> Iterator[list[Leaf]]:
    """Yield the leaves of whole lessons, as many lessons as one book holds."""
    part: list[Leaf] = []
    for leaves in chapters:
        if part and len(part) + len(leaves) > MOST_LEAVES:
            yield part
            part = []
        part += leaves
    yield part


def _bound(of: EditionPlan, volume: Volume, place: str, lesson: int) -> Iterator[Bound]:
    if not volume.leaves:
        return
    step, facts = step_of(volume)
    title = f"Book of lesson {lesson}" if lesson else "Book"
    kinds = ("book",)
    yield Bound(
        step,
        PlannedItem(place, step.id, step.kind, kinds, facts, of.edition.slug, lesson, drill=title),
        volume.leaves,
        volume.contents,
    )


def _front(of: EditionPlan, found: Find) -> Iterator[Leaf]:
    titles = {COVER: of.edition.course.title, CAUTIONS: "Take care"}
    for piece in of.pages_of(0):
        yield from _leaf(piece, found, titles[_name(piece)])


def _leaves(of: EditionPlan, found: Find, lesson: Lesson) -> tuple[Leaf, ...]:
    """Return the pages of a lesson: its opening, its sheets, its charts, its log."""
    return tuple(_lesson_leaves(of, found, lesson))


def _lesson_leaves(of: EditionPlan, found: Find, lesson: Lesson) -> Iterator[Leaf]:
    [chapter] = [each for each in of.chapters if each.number == lesson.number]
    numbers = {each.name: each.number for each in chapter.exercises}
    for piece in of.pages_of(lesson.number):
        if _name(piece) == OPENING:
            yield from _leaf(piece, found, lesson.title, label=str(lesson.number))
        elif _name(piece) == LOG:
            yield from _leaf(piece, found, "Practice log", deep=True)
        elif piece.kind == "roles" or "sheet-pdf" in piece.kinds:
            yield from _leaf(
                piece,
                found,
                piece.drill,
                label=numbers.get(_name(piece), ""),
                detail=piece.place_played,
                deep=True,
                mouth=piece.embouchure,
            )


def _name(piece: PlannedItem) -> str:
    return piece.place.rpartition("/")[2]


def _leaf(
    piece: PlannedItem,
    found: Find,
    title: str,
    *,
    label: str = "",
    detail: str = "",
    deep: bool = False,
    mouth: str = "",
) -> Iterator[Leaf]:
    for file, sha256 in found(piece):
        yield Leaf(title, file, sha256, label, detail, deep, mouth)
