"""The files of text and data formats, written by functions named in the format table."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from importlib import import_module
from typing import cast

from reedmill.formats.table import Format
from reedmill.practice.practice import Recording
from reedmill.score.score import Score

Write = Callable[..., bytes | str]
"""Takes a Score, and the Recording too where its row follows the sound."""


def function_at(path: str) -> Write:
    """Import and return the function at *path*, ``module:function``."""
    module, _, name = path.partition(":")
    found: Write = getattr(import_module(module), name)
    return found


def endings(row: Format, recording: Recording) -> list[tuple[str, Recording]]:
    """Return the file ending of each file of *row*, and the recording that it follows."""
    if not row.each_tempo:
        return [(row.ending, recording)]
    return [
        (f".{tempo}-bpm{row.ending}" if tempo else row.ending, each)
        for tempo, each in recording.one_by_one()
    ]


def drill_files(row: Format, score: Score, recording: Recording) -> Iterator[tuple[str, bytes]]:
    """Yield every file of *score* in the format *row*: its file ending and its content."""
    for ending, each in endings(row, recording):
        yield ending, _written(row, row.drill, score, each)


def files_together(
    row: Format, scores: Sequence[Score], engraver: object = None
) -> Sequence[bytes]:
    """Return the file of each of *scores* in the format *row*, which makes them together.

    *engraver* is a LilyPond for SVG that was started beforehand, or ``None``.
    """
    return _maker(row.together)(scores, engraver)


def files_in_pack(
    row: Format, scores: Sequence[Score], recordings: Sequence[Recording | None]
) -> Sequence[bytes]:
    """Return the same for a pack, where *recordings* are those beside the files."""
    beside = (recordings,) if row.pack and row.pack.beside_sound else ()
    return _maker(row.together_in_pack)(scores, None, *beside)


def _maker(path: str) -> Callable[..., Sequence[bytes]]:
    return cast(Callable[..., Sequence[bytes]], function_at(path))


def band_file(row: Format, score: Score, recording: Recording) -> bytes:
    """Return the file of the band alone in *score*, in the format *row*."""
    return _written(row, row.band, score, recording)


def _written(row: Format, path: str, score: Score, recording: Recording) -> bytes:
    write = function_at(path)
    content = write(score, recording) if row.follows_sound else write(score)
    return content.encode() if isinstance(content, str) else content
