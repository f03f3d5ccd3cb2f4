"""Records of steps in the store; this module imports nothing, because it must be quick."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from reedmill.base.errors import ReedmillError


@dataclass(frozen=True, slots=True)
class StepFile:
    """One file a step has made, wherever in the pack it will stand."""

    ending: str  # of the file's name: .pdf, -page2.png, .mix.wav
    sha256: str  # of its bytes, hexadecimal
    size: int  # bytes
    kind: str  # as in --json: sheet-pdf, audio, ...
    stem: str = ""  # of audio: tones, mix, drone, click, backing
    tempo: int = 0  # beats a minute, where it is not the drill's own
    seconds: float = 0.0  # of sound
    width: int = 0  # of a picture, in pixels
    height: int = 0
    pages: int = 0  # of a PDF

    def data(self) -> list[Any]:
        """Return a row of JSON, from which ``StepFile(*row)`` makes it again."""
        row = [getattr(self, each.name) for each in fields(self)]
        while row[-1] in (0, "", 0.0):
            row.pop()
        return row


@dataclass(frozen=True, slots=True)
class Record:
    """A step that was carried out."""

    kind: str
    parts: tuple[StepFile, ...]
    seconds: float  # of one processor, its share of the run it was in
    amount: float  # how much of its kind it was, see ``Step.amount``


@dataclass(frozen=True, slots=True)
class Fresh:
    """A part whose bytes are in a scratch file, on their way into the store."""

    part: StepFile
    file: str  # absolute path


Outcome: TypeAlias = "tuple[Fresh, ...] | ReedmillError"
"""What came of one step: its files, or why there are none."""
