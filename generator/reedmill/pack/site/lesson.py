"""A lesson on the page of a pack: its text, and each exercise with its players, sheet and files.

Every letter of a course is escaped here; every address is a safe relative path of the pack.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

from reedmill.formats.table import PACK_FORMATS
from reedmill.pack.course.markdown import read_markdown
from reedmill.pack.pages.chapter import Chapter, Exercise
from reedmill.pack.site.hypertext import blocks_html
from reedmill.pack.site.manifest import PackFile
from reedmill.pack.site.playlist import relative
from reedmill.pack.site.sounds import players_html, sounds_of
from reedmill.theory.positions import Position

_SHOWN = (".png", "")  # pictures and sounds are on the page itself
_FILES = {row.kind: row.label for row in PACK_FORMATS.values() if row.ending not in _SHOWN} | {
    "book": "PDF",
    "role-chart": "Role chart",
    "playlist": "Playlist",
    "archive": "Everything, ZIP",
}
_ACCIDENTAL = re.compile(r"\b([A-G])(b\b|#)")


def lesson_id(chapter: Chapter) -> str:
    """What links to a lesson are called."""
    return f"lesson-{chapter.number}"


def lesson_html(chapter: Chapter, files: Sequence[PackFile]) -> str:
    """The lesson with those of *files* that are its own."""
    name = lesson_id(chapter)
    mine = [each for each in files if each.lesson == chapter.number]
    exercises = {each.name for each in chapter.exercises}
    own = [each for each in mine if each.exercise not in exercises]
    text = blocks_html(read_markdown(chapter.text), prefix=name, level=3)
    parts = [
        f'<section class="lesson" id="{name}" aria-labelledby="{name}-title">',
        f'<p class="label">{chapter.label}</p>',
        f'<h2 id="{name}-title" dir="auto">{escape(chapter.title)}</h2>',
        *([f'<p class="goal" dir="auto">{escape(chapter.goal)}</p>'] if chapter.goal else []),
        *([f'<div class="text">\n{text}\n</div>'] if text else []),
        downloads_html([each for each in own if each.kind != "playlist"]),
        *(_exercise(each, mine) for each in chapter.exercises),
        downloads_html([each for each in own if each.kind == "playlist"]),
        "</section>",
    ]
    return "\n".join(part for part in parts if part)


def _exercise(exercise: Exercise, files: Sequence[PackFile]) -> str:
    mine = [each for each in files if each.exercise == exercise.name]
    position = Position(exercise.position).label
    facts = [
        ("Harp", with_signs(exercise.harp)),
        ("Position", position.replace(" position", "")),
        ("Key", with_signs(exercise.key)),
        ("Tempo", exercise.tempo),
        ("Embouchure", exercise.embouchure),
    ]
    name = escape(f"exercise-{exercise.name}")
    sounds = sounds_of(exercise, mine)
    rest = [(_file_name(each), each) for each in mine if each.kind in _FILES]
    parts = [
        f'<article class="exercise" id="{name}" data-harp="{escape(exercise.harp)}" '
        f'aria-labelledby="{name}-title">',
        f'<h3 id="{name}-title" dir="auto">{escape(exercise.title)}</h3>',
        *(
            [f'<p class="purpose" dir="auto">{escape(exercise.about)}</p>']
            if exercise.about
            else []
        ),
        facts_html(facts),
        *([f'<p class="note" dir="auto">{escape(exercise.note)}</p>'] if exercise.note else []),
        players_html(exercise, sounds),
        _sheets(exercise, [each for each in mine if each.kind == "sheet-png"]),
        links_html(rest + [(each.filed, each.file) for each in sounds]),
        "</article>",
    ]
    return "\n".join(part for part in parts if part)


def _sheets(exercise: Exercise, pictures: Sequence[PackFile]) -> str:
    if not pictures:
        return ""
    words = f"Sheet of {exercise.title}, {exercise.where}"
    images = []
    for number, each in enumerate(pictures, start=1):
        page = f", page {number} of {len(pictures)}" if len(pictures) > 1 else ""
        size = f' width="{each.width}" height="{each.height}"' if each.width else ""
        images.append(
            f'<a href="{relative(each.path)}"><img src="{relative(each.path)}" loading="lazy"'
            f'{size} alt="{escape(words + page)}"></a>'
        )
    count = f" ({len(pictures)} pages)" if len(pictures) > 1 else ""
    body = "\n".join(images)
    return (
        f"<details open>\n<summary>Sheet{count}"
        f'<span class="visually-hidden"> of {escape(exercise.title)}</span></summary>\n'
        f'<div class="sheets">\n{body}\n</div>\n</details>'
    )


# --- facts and files --------------------------------------------------------------------


def with_signs(name: str) -> str:
    """A key or harp with the signs of music: ``low B♭``, ``F♯ minor``."""
    return _ACCIDENTAL.sub(lambda found: found[1] + ("♭" if found[2] == "b" else "♯"), name)


def facts_html(facts: Iterable[tuple[str, str]]) -> str:
    """Names with their values, where there is a value."""
    rows = "".join(
        f"<div><dt>{name}</dt><dd>{escape(value)}</dd></div>" for name, value in facts if value
    )
    return f'<dl class="facts">{rows}</dl>' if rows else ""


def downloads_html(files: Sequence[PackFile]) -> str:
    """Links to *files* with their kinds and sizes."""
    return links_html([(_file_name(each), each) for each in files if each.kind in _FILES])


def links_html(named: Iterable[tuple[str, PackFile]]) -> str:
    """Links to files by these names, with their sizes."""
    rows = "\n".join(
        f'<li><a href="{relative(each.path)}">{escape(name)}</a> '
        f"<span>{_size(each.size)}</span></li>"
        for name, each in named
    )
    return f'<ul class="files">\n{rows}\n</ul>' if rows else ""


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
    """``12 kB``, ``3.4 MB``, ``1.2 GB``: in thousands, as file managers show it."""
    for unit, size in (("GB", 10**9), ("MB", 10**6)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{max(1, round(count / 1000))} kB"
