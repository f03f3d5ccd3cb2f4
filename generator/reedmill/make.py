"""Make practice material: scores in, files out, each whole or not there at all."""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from reedmill.errors import InputError, RenderError, close_match
from reedmill.score import Score
from reedmill.text import printable, slug

FORMATS = ("sheet", "midi", "wav", "tab", "json")
DEFAULT_FORMATS = ("sheet", "midi", "wav", "tab")
_ORDER = {"sheet-pdf": 0, "audio": 1, "midi": 2, "tab": 3, "json": 4}
# One LilyPond process draws many sheets faster than many processes do.
_SHEETS_A_RUN = 20

Progress = Callable[[str], None]
"""Called with the name of each file as it is finished."""


@dataclass(frozen=True, slots=True)
class Made:
    """One file that was made."""

    path: Path
    kind: str  # sheet-pdf, midi, audio, tab or json
    drill: str
    harp: str
    position: int
    tempo: int  # beats a minute
    stem: str | None = None  # for audio: guide or mix

    def data(self) -> dict[str, object]:
        """The row for ``--json``; ``stem`` only for audio."""
        row: dict[str, object] = {
            "path": str(self.path),
            "kind": self.kind,
            "drill": self.drill,
            "harp": self.harp,
            "position": self.position,
            "tempo": self.tempo,
        }
        return row | ({"stem": self.stem} if self.stem else {})


def make(
    scores: Sequence[Score],
    out: Path,
    to: Sequence[str] = DEFAULT_FORMATS,
    *,
    drone: bool = False,
    click: bool = False,
    progress: Progress | None = None,
) -> list[Made]:
    """Render *scores* into the folder *out* and return what was made, in order.

    *to* names formats of ``FORMATS``.  ``wav`` makes the reference tones alone; with
    *drone* or *click* it also makes a mix of the tones with these.  Raises
    ``InputError`` for an unknown format, ``RenderError`` when a file cannot be made;
    then no file of the same twenty scores is written.
    """
    for name in to:
        if name not in FORMATS:
            raise InputError(
                f'there is no format "{name}".{close_match(name, FORMATS)} '
                f"Choose from: {', '.join(FORMATS)}."
            )
    scores = [_readable(score) for score in scores]
    made: list[Made] = []
    names = _file_names(scores)
    for start in range(0, len(scores), _SHEETS_A_RUN):
        run = scores[start : start + _SHEETS_A_RUN]
        # all of it is rendered before any is written; the page comes first for each score
        rendered = sorted(_rendered(run, to, drone=drone, click=click), key=_place)
        paths = [out / f"{names[start + at]}{ending}" for at, ending, *_ in rendered]
        write_files([(path, each[2]) for path, each in zip(paths, rendered, strict=True)])
        for path, (at, _, _, kind, stem) in zip(paths, rendered, strict=True):
            if progress:
                progress(path.name)
            score = run[at]
            where = (score.title, score.harp.name, score.position.number, score.tempo_bpm)
            made.append(Made(path, kind, *where, stem))
    return made


Rendered = tuple[int, str, bytes, str, str | None]
"""Which score, the end of the file name, the content, the kind and the stem."""


def _place(rendered: Rendered) -> tuple[int, int]:
    at, _, _, kind, _ = rendered
    return at, _ORDER[kind]


def _readable(score: Score) -> Score:
    """*score* with texts fit to print, also when another program made it."""
    return replace(score, title=printable(score.title), about=printable(score.about))


def _rendered(
    scores: list[Score], to: Sequence[str], *, drone: bool, click: bool
) -> Iterator[Rendered]:
    """Everything asked for.  LilyPond runs alongside while the rest is rendered."""
    with ExitStack() as stack:
        if "sheet" in to:
            from reedmill.sheet.engrave import Engraver

            engraver = stack.enter_context(Engraver())
            from reedmill.sheet.page import pages

            engraver.feed(pages(scores))
        for at, score in enumerate(scores):
            yield from _quick_ones(at, score, to)
            if "wav" in to:
                yield from _audio(at, score, drone=drone, click=click)
        if "sheet" in to:
            for at, pdf in enumerate(engraver.sheets(len(scores))):
                yield at, ".pdf", pdf, "sheet-pdf", None


def _quick_ones(at: int, score: Score, to: Sequence[str]) -> Iterator[Rendered]:
    if "midi" in to:
        from reedmill.formats.midi import midi_bytes

        yield at, ".mid", midi_bytes(score), "midi", None
    if "tab" in to:
        from reedmill.formats.text import tab_text

        yield at, ".txt", tab_text(score).encode(), "tab", None
    if "json" in to:
        from reedmill.formats.data import score_data

        content = json.dumps({"drills": [score_data(score)]}, ensure_ascii=False, indent=1)
        yield at, ".json", content.encode() + b"\n", "json", None


def _audio(at: int, score: Score, *, drone: bool, click: bool) -> Iterator[Rendered]:
    from reedmill.sound.mix import wav_bytes

    yield at, ".wav", wav_bytes(score), "audio", "guide"
    if drone or click:
        yield at, ".mix.wav", wav_bytes(score, drone=drone, click=click), "audio", "mix"


def _file_names(scores: Sequence[Score]) -> list[str]:
    """A name for each score, from generated parts only, no two alike."""
    names: list[str] = []
    for score in scores:
        harp = slug(score.harp.name.replace("#", " sharp"))
        plan = f"-{slug(score.embouchure.short)}" if score.embouchure else ""
        name = base = f"{slug(score.title)}-{harp}-{score.position.ordinal}{plan}"
        again = 1
        while name in names:
            again += 1
            name = f"{base}-{again}"
        names.append(name)
    return names


def write_files(files: Sequence[tuple[Path, bytes]]) -> None:
    """Write each file beside its place, then rename them all.

    A final name only ever holds a whole file, and a disk that fills up leaves none of them.
    """
    parts = [path.with_name(f".{secrets.token_hex(6)}.part") for path, _ in files]
    try:
        for (path, content), part in zip(files, parts, strict=True):
            path.parent.mkdir(parents=True, exist_ok=True)
            _save(part, content)
        for (path, _), part in zip(files, parts, strict=True):
            part.replace(path)
    except OSError as error:
        raise RenderError(f"{path}: cannot be written ({error.strerror}).") from None
    finally:
        for part in parts:
            with suppress(OSError):  # also when its folder is none
                part.unlink()


def _save(part: Path, content: bytes) -> None:
    with part.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
