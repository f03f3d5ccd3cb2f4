"""From the files of takes to their drill and harp, by their tags or names."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.errors import InputError
from reedmill.base.ranges import REFERENCES_HZ, TEMPI_BPM
from reedmill.base.reading import read_bytes, shown_name, unreadable
from reedmill.base.shipped import patterns_dir
from reedmill.base.text import file_slug
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import (
    Shelved,
    is_title,
    placement_tasks,
    shipped,
    usual_position,
    whole_library,
)
from reedmill.theory.intonation import INTONATIONS
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.ear import ScoreFit, Take
    from reedmill.score.score import Score

MOST_TAKES = 200
"""Of one command; each of them may last an hour."""

SOUND_ENDINGS = (
    ".wav", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".m4a", ".aac", ".mp4", ".m4v", ".mov",
    ".webm", ".mka", ".mkv", ".3gp", ".caf", ".aif", ".aiff", ".avi", ".au", ".w64",
)  # fmt: skip
"""How the files in a folder end that are taken for takes."""

_MOST_BYTES = 10_000_000  # more than any drill may have
_LONGEST_TAG = 400  # letters of a tag that are looked at
_POSITION = r"(\d{1,2}(?:st|nd|rd|th))"
_NAME = re.compile(rf"-(?P<harp>[a-z-]{{1,40}}?)-(?P<position>{_POSITION})(?P<more>-.*)?")
_TITLE_TAG = re.compile(r"(?P<title>.+) \((?P<more>[^()]*)\)")


@dataclass(frozen=True, slots=True)
class Told:
    """The facts a take's file gives: the title of a drill of the library, and how it is played."""

    title: str
    harp: str | None = None
    position: str | None = None
    tempo_bpm: int | None = None
    reference_hz: float | None = None
    intonation: str | None = None
    by: str = "name"  # or tags


def take_files(paths: Sequence[Path]) -> list[Path]:
    """Return the files that *paths* name, those in a folder by name; each once.

    ``InputError`` for a folder without takes, and for more than ``MOST_TAKES``.
    """
    found: list[Path] = []
    for path in paths:
        if os.path.isdir(path):  # noqa: PTH112  no error for odd names
            found += _inside(path)
        else:
            found.append(path)
        if len(found) > MOST_TAKES:
            raise InputError(
                f"these are more than {MOST_TAKES} takes. Give some of them at a time."
            )
    return list(dict.fromkeys(found))


def _inside(folder: Path) -> list[Path]:
    try:
        names = sorted(os.listdir(folder))  # noqa: PTH208  names that are not text, too
    except OSError as error:
        raise unreadable(folder, error) from None
    sounds = [name for name in names if name.lower().endswith(SOUND_ENDINGS)
              and not name.startswith(".")]  # fmt: skip
    if not sounds:
        raise InputError(
            f"{shown_name(folder)}: no recording is in this folder. Name the file of your take."
        )
    return [folder / name for name in sounds]


def told_by(take: Take) -> Told | None:
    """Return what the tags or file name of *take* say, as Reedmill writes them."""
    tags = {name.upper(): value[:_LONGEST_TAG] for name, value in reversed(take.tags)}
    return _by_tags(tags) or _by_name(Path(take.name).stem[:_LONGEST_TAG])


def _by_tags(tags: dict[str, str]) -> Told | None:
    match = _TITLE_TAG.fullmatch(tags.get("TITLE", ""))
    harp, position = tags.get("HARP", ""), tags.get("POSITION", "")
    if not (match and is_title(match["title"]) and _is_harp(harp) and _is_position(position)):
        return None
    tempo = re.fullmatch(r"(\d{2,3})", tags.get("TEMPO", tags.get("BPM", "")), re.ASCII)
    return Told(
        match["title"], harp, position, _tempo(tempo[1] if tempo else None), by="tags",
    )  # fmt: skip


def _by_name(stem: str) -> Told | None:
    """Return the drill whose slug *stem* begins with, the longest where several do."""
    slug = file_slug(stem) if len(stem) <= 60 else stem.lower()
    titles = {file_slug(each.drill.title): each.drill.title for each in whole_library()}
    own = max((each for each in titles if _begins(slug, each)), key=len, default="")
    if not own:
        return _by_number(slug)
    match = _NAME.fullmatch(slug[len(own) :])
    if not match or not (_is_harp(match["harp"]) and _is_position(match["position"])):
        return Told(titles[own])
    more = match["more"] or ""
    return Told(
        titles[own], match["harp"], match["position"], _tempo(_found(r"(\d{2,3})-bpm", more)),
        _reference(_found(r"a(\d{3}(?:-\d{1,2})?)", more)),
        next((name for name in INTONATIONS if name != "equal" and f"-{name}-" in f"{more}-"), None),
    )  # fmt: skip


def _by_number(slug: str) -> Told | None:
    """Return the task whose number *slug* has: ``task-3``, ``ada-task-03``."""
    found = re.search(r"(?:^|-)task-?0?(\d{1,2})(?=-|$)", slug, re.ASCII)
    tasks = placement_tasks() if found else ()
    if found and 1 <= int(found[1]) <= len(tasks):
        return Told(str(tasks[int(found[1]) - 1].drill.title))
    return None


def _begins(slug: str, title: str) -> bool:
    return slug == title or slug.startswith(f"{title}-")


def _found(pattern: str, more: str) -> str | None:
    match = re.search(rf"(?:^|-){pattern}(?=-|$)", more, re.ASCII)
    return match[1] if match else None


def _tempo(text: str | None) -> int | None:
    return int(text) if text and int(text) in TEMPI_BPM else None


def _reference(text: str | None) -> float | None:
    hz = float(text.replace("-", ".")) if text else 0.0
    return hz if REFERENCES_HZ[0] <= hz <= REFERENCES_HZ[1] else None


def _is_harp(text: str) -> bool:
    with suppress(InputError):
        return bool(Harp.parse(text))
    return False


def _is_position(text: str) -> bool:
    with suppress(InputError):
        return bool(Position.parse(text))
    return False


def library_fits(take: Take) -> list[ScoreFit]:
    """Return the drills of the library *take* may be of, each with its harp, best first.

    Drills whose notes are the same stand side by side: a pitch does not tell which of them it was.
    """
    from reedmill.ear import fits

    return fits(take, [each.score for each in shipped()])


@dataclass(frozen=True, slots=True)
class TaskTold:
    """The task a take is of, with its harp and position, and the clue that told it."""

    task: Shelved
    harp: Harp
    position: Position
    by: str  # name or sound


def task_told(take: Take, harp: Harp | None = None) -> TaskTold:
    """Return which of the ten tasks *take* is of: by its name, else by how it sounds.

    *harp* is the one it was played on, whatever the file says; else a C harp where nothing does.
    ``InputError`` for a take of another drill, and where nothing tells.
    """
    told = told_by(take)
    tasks = {str(each.drill.title): each for each in placement_tasks()}
    if told and told.title not in tasks:
        raise InputError(
            f'{take.name}: this is a take of "{told.title}", and not of one of the ten tasks.'
        )
    if told and told.by == "tags":
        raise InputError(
            f"{take.name}: these are the tones of the task, and not a recording of you. Put your "
            "recordings in a folder of their own."
        )
    on = harp or Harp.parse((told and told.harp) or "C")
    task = tasks[told.title] if told else _task_like(take, on)
    said = told and told.position
    position = Position.parse(said) if said else usual_position(task.drill)
    return TaskTold(task, on, position, "name" if told else "sound")


def _task_like(take: Take, harp: Harp) -> Shelved:
    """Return the task that *take* sounds most like on *harp*; ``InputError`` where none stands out.

    Some tasks on one harp are others on another, so the harp is not sought.
    """
    from reedmill.ear import fits

    scores = {each.drill.title: each for each in placement_tasks()}
    found = [
        fit
        for fit in fits(take, [expand(each.drill, harp, usual_position(each.drill))
                               for each in scores.values()])
        if fit.harp == harp
    ]  # fmt: skip
    if not found or (len(found) > 1 and found[0].share == found[1].share):
        raise InputError(
            f"{take.name}: nothing says which of the ten tasks this is, and on {harp.spoken} it "
            "sounds like none of them more than like another. Give the file the number of its "
            "task: task-3.m4a"
        )
    return scores[found[0].score.title]


def recorded_at(take: Take) -> str | None:
    """Return when *take* was recorded (``2027-01-31T18:05:00Z``), if its file says so."""
    said = next((value for name, value in take.tags if name.lower() == "creation_time"), "")
    with suppress(ValueError, OverflowError):
        at = datetime.fromisoformat(said[:40].strip())
        if at.tzinfo is not None and at.year >= 1990:
            return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return None


def source_sha256(score: Score) -> str:
    """Return the SHA-256 of the file that the drill of *score* is in; empty where there is none."""
    for path in _sources(score.origin):
        with suppress(InputError):
            return hashlib.sha256(read_bytes(path, _MOST_BYTES)).hexdigest()
    return ""


def _sources(origin: str) -> Iterator[Path]:
    if origin:
        yield Path(origin)
        yield patterns_dir() / origin
