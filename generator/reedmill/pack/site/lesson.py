"""A lesson on the page of a pack: its text, and each exercise with players, sheet and files.

Its HTML is in ``templates/lesson.html``; every address is a safe relative path of the pack.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from reedmill.formats.table import PACK_FORMATS
from reedmill.pack.course.markdown import read_markdown
from reedmill.pack.pages.chapter import Chapter, Exercise
from reedmill.pack.site.hypertext import blocks_html
from reedmill.pack.site.manifest import PackFile
from reedmill.pack.site.playlist import relative
from reedmill.pack.site.sounds import AudioPlayer, players, sounds_of
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

_SHOWN = (".png", "", ".page.html")  # pictures and sounds are on the page itself
_PRACTICE = "practice-page"
_FILES = {row.kind: row.label for row in PACK_FORMATS.values() if row.ending not in _SHOWN} | {
    "book": "PDF",
    "role-chart": "Role chart",
    "playlist": "Playlist",
    "archive": "Everything, ZIP",
}


@dataclass(frozen=True, slots=True)
class Fact:
    """A name with its value: ``Tempo``, ``56 to 84``."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Link:
    """A file that can be opened or kept."""

    name: str
    address: str
    size: str


@dataclass(frozen=True, slots=True)
class Picture:
    """One page of a sheet."""

    address: str
    words: str  # for those who do not see it
    width: int = 0  # pixels
    height: int = 0


@dataclass(frozen=True, slots=True)
class ExerciseView:
    """One exercise as the page shows it."""

    name: str
    title: str
    harp: str
    about: str
    note: str
    facts: list[Fact]
    players: list[AudioPlayer]
    pictures: list[Picture]
    files: list[Link]
    practice: Link | None = None  # its practice page, where there is one


@dataclass(frozen=True, slots=True)
class LessonView:
    """One lesson as the page shows it."""

    name: str
    number: int
    label: str
    title: str
    goal: str
    text: Markup
    files: list[Link]
    exercises: list[ExerciseView]
    playlists: list[Link]


def lesson_view(chapter: Chapter, files: Sequence[PackFile]) -> LessonView:
    """Return the lesson with those of *files* that are its own."""
    name = f"lesson-{chapter.number}"
    mine = [each for each in files if each.lesson == chapter.number]
    exercises = {each.name for each in chapter.exercises}
    own = [each for each in mine if each.exercise not in exercises]
    return LessonView(
        name,
        chapter.number,
        chapter.label,
        chapter.title,
        chapter.goal,
        text=blocks_html(read_markdown(chapter.text), prefix=name, level=3),
        files=downloads([each for each in own if each.kind != "playlist"]),
        exercises=[_exercise(each, mine) for each in chapter.exercises],
        playlists=downloads([each for each in own if each.kind == "playlist"]),
    )


def _exercise(exercise: Exercise, files: Sequence[PackFile]) -> ExerciseView:
    mine = [each for each in files if each.exercise == exercise.name]
    sounds = sounds_of(exercise, mine)
    rest = [(_file_name(each), each) for each in mine if each.kind in _FILES]
    return ExerciseView(
        f"exercise-{exercise.name}",
        exercise.title,
        exercise.harp,
        exercise.about,
        exercise.note,
        facts=_facts(exercise),
        players=players(exercise, sounds),
        pictures=_pictures(exercise, [each for each in mine if each.kind == "sheet-png"]),
        files=_links(rest + [(each.filed, each.file) for each in sounds]),
        practice=next(
            iter(_links([(each.kind, each) for each in mine if each.kind == _PRACTICE])), None
        ),
    )


def _facts(exercise: Exercise) -> list[Fact]:
    position = Position(exercise.position).label
    return named_values(
        [
            ("Harp", with_signs(exercise.harp)),
            ("Position", position.replace(" position", "")),
            ("Key", with_signs(exercise.key)),
            ("Tempo", exercise.tempo),
            ("Embouchure", exercise.embouchure),
        ]
    )


def _pictures(exercise: Exercise, pages: Sequence[PackFile]) -> list[Picture]:
    words = f"Sheet of {exercise.title}, {exercise.where}"
    several = len(pages) > 1
    return [
        Picture(
            relative(each.path),
            words + (f", page {number} of {len(pages)}" if several else ""),
            each.width,
            each.height,
        )
        for number, each in enumerate(pages, start=1)
    ]


# --- facts and files --------------------------------------------------------------------


def named_values(named: Iterable[tuple[str, str]]) -> list[Fact]:
    """Return names with their values, where there is a value."""
    return [Fact(name, value) for name, value in named if value]


def downloads(files: Sequence[PackFile]) -> list[Link]:
    """Return links to *files* with their kinds and sizes."""
    return _links([(_file_name(each), each) for each in files if each.kind in _FILES])


def _links(named: Iterable[tuple[str, PackFile]]) -> list[Link]:
    return [Link(name, relative(each.path), _size(each.size)) for name, each in named]


def _file_name(each: PackFile) -> str:
    whole = each.lesson is None
    match each.kind:
        case "role-chart":
            return f"{_FILES[each.kind]}, {with_signs(each.harp)} harp"
        case "book":
            return "The whole course, PDF" if whole else "This lesson, PDF"
        case "playlist":
            return "Playlist of the whole course" if whole else "Playlist of this lesson"
        case _:
            return _FILES[each.kind]


def _size(count: int) -> str:
    """Return a size in thousands, as file managers show it: ``12 kB``, ``3.4 MB``."""
    for unit, size in (("GB", 10**9), ("MB", 10**6)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{max(1, round(count / 1000))} kB"
