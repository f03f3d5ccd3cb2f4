"""Rendering of works: plain data in, files out, the same bytes on every machine.

A work that fails takes no other with it: LilyPond's runs of many sheets are halved until
the guilty one stands alone.
"""

from __future__ import annotations

import hashlib
import re
import resource
import struct
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import chain, count
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.below import open_own_file
from reedmill.base.errors import PatternError, ReedmillError, RenderError, reason_of
from reedmill.base.hashing import hashed
from reedmill.base.remedies import Remedy
from reedmill.base.writing import jot
from reedmill.formats.table import Format
from reedmill.formats.written import drill_files, files_in_pack
from reedmill.pack.steps.records import Fresh, Outcome, StepFile
from reedmill.pack.steps.work import (
    WRITTEN,
    Drawing,
    Leaf,
    Page,
    Roles,
    ScoreFile,
    Sheet,
    SoundWork,
    Volume,
    Work,
)
from reedmill.practice.practice import Recording

if TYPE_CHECKING:
    from reedmill.sheet.engrave import Engraver

_NAMES = count()
_HANGS = "LilyPond hung on other sheets and drew nothing, so it was not started again."
_KINDS: dict[type[Work], str] = {Sheet: "sheet-pdf", Page: "page", Roles: "role-chart"}


def rendered_in_turn(works: Sequence[Work], folder: Path) -> Iterator[list[Outcome]]:
    """Yield the outcome of each of *works*, all of one kind and look; files go to *folder*.

    As it comes: all at once where LilyPond draws them in one run, else one by one.
    """
    match works[0]:
        case Sheet() | Drawing() | Page() | Roles():
            yield _halved(works, folder)
        case ScoreFile(form=form) if WRITTEN[form].together:
            yield _halved(works, folder)
        case _:
            for work in works:
                yield [_one(work, folder)]


def measured_in_turn(works: Sequence[Work], folder: Path) -> Iterator[tuple[list[Outcome], float]]:
    """Yield outcomes as ``rendered_in_turn`` does, with the processor seconds of each turn.

    The seconds are those of this process and of all it started and waited for: LilyPond, and
    what it started.  Time in which they waited, for a disk or for a turn on a busy machine, is
    not work.
    """
    before = _processor_s()
    for outcomes in rendered_in_turn(works, folder):
        now = _processor_s()
        yield outcomes, now - before
        before = _processor_s()  # what was done with the outcomes is not work on the next one


def _processor_s() -> float:
    """Return the processor seconds used so far by this process and its children (getrusage(2))."""
    spent = (resource.getrusage(each) for each in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in spent)


def _halved(works: Sequence[Work], folder: Path) -> list[Outcome]:
    """Render all in one run; when that fails, each half alone, down to the work that fails.

    The one LilyPond hangs over is known: the rest is drawn without it.  Where it hangs over
    nothing at all, nothing more is tried.
    """
    from reedmill.sheet.engrave import Hung, hangs_always

    if hangs_always():
        return [RenderError(_HANGS, way_out=Remedy.ONE_DRAWN_ALONE)] * len(works)
    try:
        return [tuple(each) for each in _engraved(works, folder)]
    except Hung as hang:
        at = min(hang.drawn, len(works) - 1)
        rest = [*works[:at], *works[at + 1 :]]
        others = _halved(rest, folder) if rest else []
        return [*others[:at], reason(hang), *others[at:]]
    except Exception as error:  #  whatever one sheet does, the others are made
        if len(works) == 1:
            return [reason(error)]
    middle = len(works) // 2
    return _halved(works[:middle], folder) + _halved(works[middle:], folder)


def _one(work: Work, folder: Path) -> Outcome:
    try:
        match work:
            case SoundWork():
                return tuple(_sounded(work, folder))
            case Volume():
                return tuple(_bound(work, folder))
            case _:
                return tuple(_text(work, folder))
    except Exception as error:  #  whatever one drill does, the others are made
        return reason(error)


def reason(error: Exception) -> RenderError:
    """Return the error for a musician, in a form that can be sent between processes."""
    match error:
        case PatternError():
            return RenderError(*error.lines)
        case ReedmillError():
            return RenderError(*error.args, way_out=error.way_out, **error.values)
        case OSError():
            return RenderError(f"a file cannot be written ({reason_of(error)}).")
        case MemoryError():
            return RenderError("this machine does not have enough memory for it.")
        case _:
            return RenderError(
                f"Reedmill failed over it ({type(error).__name__}: {reason_of(error)}). That is a "
                "mistake in Reedmill; please report it with the drill."
            )


# --- LilyPond ---------------------------------------------------------------------------


def _engraved(works: Sequence[Work], folder: Path) -> list[list[Fresh]]:
    if isinstance(works[0], ScoreFile):
        return _with_music_inside(works, WRITTEN[works[0].form], folder)
    from reedmill.sheet.engrave import Engraver

    png = any(isinstance(work, Sheet) and work.png for work in works)
    svg = isinstance(works[0], Drawing)
    with Engraver(png=png, svg=svg) as engraver:  # warms up while the music is made
        engraver.feed(_source(works))
        kind = "" if svg else _KINDS[type(works[0])]
        made = list(_read(engraver, len(works), kind, png=png))
    return [
        [_kept(folder, part, content) for part, content in chain.from_iterable(each)]
        for each in zip(*made, strict=True)
    ]


def _with_music_inside(works: Sequence[Work], row: Format, folder: Path) -> list[list[Fresh]]:
    files = [work for work in works if isinstance(work, ScoreFile)]
    made = files_in_pack(row, [each.score for each in files], [each.recording for each in files])
    return [[_kept(folder, _part(row.ending, row.kind, content), content)] for content in made]


def _source(works: Sequence[Work]) -> str:
    """Return the LilyPond input of all *works*."""
    match works[0]:
        case Page(_, look):
            from reedmill.pack.pages.lesson_pages import source

            return source([work.body for work in works if isinstance(work, Page)], look)
        case Sheet(_, look) | Drawing(_, look):
            from reedmill.sheet.page import pages

            scores = [work.score for work in works if isinstance(work, Sheet | Drawing)]
            return pages(scores, look, ids=isinstance(works[0], Drawing))
        case Roles(harp, reeds, look):
            from reedmill.sheet.role_chart import role_chart

            return role_chart(harp, reeds, look)  # a run of its own, see steps.batches
        case _:
            raise TypeError(f"LilyPond draws no {type(works[0]).__name__}")


def _read(
    engraver: Engraver, number: int, kind: str, *, png: bool
) -> Iterator[list[list[tuple[StepFile, bytes]]]]:
    """Yield each kind of page of every sheet: PDF of this *kind*, or SVG when there is none."""
    if kind:
        yield [[(_part(".pdf", kind, pdf), pdf)] for pdf in engraver.sheets(number)]
    for wanted, ending in ((png, "png"), (not kind, "svg")):
        if wanted:
            yield [list(_pictures(each, ending)) for each in engraver.pictures(number, ending)]


def _pictures(pages: Sequence[bytes], ending: str) -> Iterator[tuple[StepFile, bytes]]:
    for number, page in enumerate(pages, start=1):
        place = f"-page{number}" if len(pages) > 1 else ""
        yield _part(f"{place}.{ending}", f"sheet-{ending}", page), page


# --- the rest ---------------------------------------------------------------------------


def _text(work: Work, folder: Path) -> Iterator[Fresh]:
    assert isinstance(work, ScoreFile)  # noqa: S101  the other kinds went elsewhere
    row = WRITTEN[work.form]
    followed = work.recording or Recording()
    for ending, content in drill_files(row, work.score, followed):
        yield _kept(folder, _part(ending, work.form, content), content)


def _sounded(work: SoundWork, folder: Path) -> Iterator[Fresh]:
    """Write the sound as a stream: an hour of it takes no more memory than a minute."""
    from reedmill.sound.recording.record import sound_files

    for file in sound_files(work.score, work.recording):
        path = _free(folder)
        file.save(path)
        if work.art and file.form.kind != "wav":
            _give_cover(path, file.form.kind, work.art)
        sha256, size = hashed(path)
        tempo = file.tempo_bpm if file.tempo_bpm != work.score.tempo_bpm else 0
        seconds = round(file.taken.file_count / file.taken.rate, 3)
        part = StepFile(file.ending, sha256, size, "audio", file.stem, tempo, seconds)
        yield Fresh(part, str(path))


def _give_cover(path: Path, kind: str, art: tuple[str, str]) -> None:
    from reedmill.pack.pages.cover import with_cover

    jot(path, with_cover(path.read_bytes(), kind, _art(*art)))


@cache
def _art(title: str, label: str) -> bytes:
    """Return the picture of a lesson's sound files, drawn once in each worker."""
    from reedmill.pack.pages.cover import cover_art

    return cover_art(title, label)


# --- books ------------------------------------------------------------------------------


def _bound(work: Volume, folder: Path) -> Iterator[Fresh]:
    from reedmill.pack.pages.book import Book, BookSection, join

    sections = tuple(
        BookSection(each.title, _leaf(each), each.label, each.detail, each.deep, mouth=each.mouth)
        for each in work.leaves
    )
    content = join(
        Book(
            work.title, sections, work.look, author=work.author, subject=work.subject,
            running=work.running, cover=work.cover, contents=work.contents,
        )
    )  # fmt: skip
    yield _kept(folder, _part(".pdf", "book", content), content)


def _leaf(leaf: Leaf) -> bytes:
    """Return the PDF of *leaf*; it may be gone or replaced since it was looked at."""
    with open_own_file(Path(leaf.file)) as file:
        content = file.read()
    if hashlib.sha256(content).hexdigest() != leaf.sha256:
        raise RenderError(f"{leaf.file} was changed while the pack was built. Build it again.")
    return content


# --- files ------------------------------------------------------------------------------


# ISO 32000-1, 7.7.3.3: each page is a dictionary of this type.  Neither LilyPond nor pypdf hides
# it in a compressed stream here.
_PAGE = re.compile(rb"/Type\s*/Page(?![A-Za-z])")


def _part(ending: str, kind: str, content: bytes) -> StepFile:
    sha256 = hashlib.sha256(content).hexdigest()
    # PNG (W3C), 11.2.2: width and height are the first two numbers of the first chunk
    edges = struct.unpack(">II", content[16:24]) if kind == "sheet-png" else (0, 0)
    pages = len(_PAGE.findall(content)) if ending == ".pdf" else 0
    return StepFile(
        ending, sha256, len(content), kind, width=edges[0], height=edges[1], pages=pages
    )


def _kept(folder: Path, part: StepFile, content: bytes) -> Fresh:
    path = _free(folder)
    jot(path, content)
    return Fresh(part, str(path))


def _free(folder: Path) -> Path:
    """Return a path in *folder* that no other work has taken."""
    return folder / f"made-{next(_NAMES)}"
