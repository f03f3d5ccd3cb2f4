"""The files of a format that a function of ours writes at once, by its row in the table."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib import import_module

from reedmill.formats.table import Format
from reedmill.practice.practice import Recording
from reedmill.score.score import Score

Write = Callable[..., bytes | str]
"""Takes a Score, and the Recording too where its row follows the sound."""


def function_at(path: str) -> Write:
    """The function at *path*, ``module:function``; its module is imported now."""
    module, _, name = path.partition(":")
    found: Write = getattr(import_module(module), name)
    return found


def endings(row: Format, recording: Recording) -> list[tuple[str, Recording]]:
    """The end of the name of each file of *row*, and the recording that the file follows."""
    if not row.each_tempo:
        return [(row.ending, recording)]
    return [
        (f".{tempo}-bpm{row.ending}" if tempo else row.ending, each)
        for tempo, each in recording.one_by_one()
    ]


def drill_files(
    row: Format, score: Score, recording: Recording, *, in_pack: bool = False
) -> Iterator[tuple[str, bytes]]:
    """Every file of *score* in the format *row*: the end of its name, and its content."""
    path = row.drill_in_pack if in_pack else row.drill
    for ending, each in endings(row, recording):
        yield ending, _written(row, path, score, each)


def band_file(row: Format, score: Score, recording: Recording) -> bytes:
    """The file of the band that plays alone in *score* in the format *row*."""
    return _written(row, row.band, score, recording)


def _written(row: Format, path: str, score: Score, recording: Recording) -> bytes:
    write = function_at(path)
    content = write(score, recording) if row.follows_sound else write(score)
    return content.encode() if isinstance(content, str) else content
