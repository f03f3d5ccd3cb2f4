"""The album track of each sound file of a pack.

The album is the course as one student gets it, its tracks are numbered in reading order.  A
recording in several types of file has one number, so that whoever copies only the MP3s to a
phone has all of them from first to last.

The number is put into the copy in the pack and not into what the store keeps: an exercise
that is added in front of others then renumbers their files and records nothing again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from reedmill.pack.course.course import Edition
from reedmill.pack.course.tasks import LessonRow, at_pace, planned
from reedmill.pack.steps.records import StepFile
from reedmill.sound.signal.tags import InAlbum


@dataclass(frozen=True, slots=True)
class Numbering:
    """The first track of every row with sound, by the row's name, and their total."""

    album: str
    first: dict[str, int]
    total: int

    def of(self, row: str) -> InAlbum | None:
        """Return the first track of the row with this name; ``None`` without sound."""
        number = self.first.get(row)
        return InAlbum(self.album, number, self.total) if number else None


def numbering(edition: Edition) -> Numbering:
    """Number the tracks of the whole *edition*, whatever part of it is built.

    A row that turns out not to be playable keeps its numbers, so that the others do not change
    once it is mended.
    """
    first: dict[str, int] = {}
    number = 1
    for row in planned(edition):
        recording = at_pace(row)[1] if isinstance(row, LessonRow) else None
        if recording:
            first[row.name] = number
            number += recording.file_count // len(recording.types)
    return Numbering(edition.course.title, first, number - 1)


def track_of(first: InAlbum, parts: Iterable[StepFile], part: StepFile) -> InAlbum:
    """Return the track of *part*, of a row with *parts* whose first track is *first*."""
    recordings = list(dict.fromkeys(_recording(each) for each in parts))
    return replace(first, number=first.number + recordings.index(_recording(part)))


def _recording(part: StepFile) -> str:
    """Return what tells a recording from others of its row, in any file type: ``.mix``."""
    return part.ending.rpartition(".")[0]
