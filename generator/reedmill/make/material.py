"""Make practice material: scores in, files out, each whole or not there at all."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.text import printable
from reedmill.base.writing import Content, Parts
from reedmill.formats.table import (
    DRILL_FORMATS,
    DRILL_KINDS,
    Format,
    Maker,
    Usual,
    made_by,
    usual_in,
)
from reedmill.formats.written import drill_files, endings, files_together
from reedmill.harp import Harp, Reed
from reedmill.harp.chord_roles import BLUES
from reedmill.make.early import PRINTED, drawn
from reedmill.make.made_files import Before, PlacedFile, RequestedFile, check_free, place, tentative
from reedmill.make.naming import (
    case_chart_name,
    chart_words,
    mix_words,
    page_words,
    role_chart_name,
    score_name,
    soundfonts_heard,
    tones_words,
    writer_words,
)
from reedmill.make.tone_check import MeasuredNote, hearing_data
from reedmill.make.wanted_formats import formats_named
from reedmill.practice.practice import Click, Recording
from reedmill.practice.sound_limits import check_scores, check_sound_length
from reedmill.score.score import Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.make.made_files import FileName
    from reedmill.sheet.engrave import Engraver
    from reedmill.sheet.look import Look
    from reedmill.sound.recording.record import SoundFile

FORMATS = tuple(DRILL_FORMATS)
DEFAULT_FORMATS = usual_in(Usual.PYTHON, DRILL_FORMATS)
_ROWS = {row.kind: row for row in DRILL_FORMATS.values()}
# One LilyPond process draws many sheets faster than many processes do.
_SHEETS_A_RUN = 20

Progress = Callable[[str], None]
"""Called with the name of each file as it is finished."""


@dataclass(frozen=True, slots=True)
class Made:
    """One file that was made of a score."""

    path: Path
    kind: str  # of a row of formats.table
    drill: str
    harp: str
    position: int
    tempo: int  # beats a minute
    stem: str | None = None  # for audio: guide, mix, backing, drone or click
    heard: tuple[MeasuredNote, ...] = ()  # what the listening check found, where it was asked for
    notice: str = ""  # what a player should know of the file: a sentence or two, or nothing
    before: Before = Before.NOTHING  # what was at its place

    @property
    def replaced(self) -> bool:
        """True when the file replaced another."""
        return self.before is not Before.NOTHING

    def data(self) -> dict[str, object]:
        """Return the row for ``--json``; ``stem`` only for audio, ``heard`` only when checked."""
        row: dict[str, object] = {
            "path": str(self.path),
            "kind": self.kind,
            "drill": self.drill,
            "harp": self.harp,
            "position": self.position,
            "tempo": self.tempo,
            "replaced": self.replaced,
        }
        row |= {"stem": self.stem} if self.stem else {}
        return row | ({"heard": hearing_data(self.heard)} if self.heard else {})


def make(
    scores: Sequence[Score],
    out: Path,
    to: Sequence[str] = DEFAULT_FORMATS,
    *,
    drone: bool = False,
    click: bool = False,
    recording: Recording | None = None,
    look: Look | None = None,
    engraver: Engraver | None = None,
    progress: Progress | None = None,
    replace: bool = False,
) -> list[Made]:
    """Render *scores* into the folder *out* and return the files made, in order.

    *to* names formats of ``FORMATS``.  ``wav`` makes the reference tones alone; with
    *drone* or *click* it also makes a mix of the tones with these.  *recording* says more
    about the sound, and takes the place of both; *look* about the sheet.  *engraver* is
    a LilyPond started beforehand, see ``early.early_engraver``.

    The same request replaces its own files; anything else that is in the way only with
    *replace*.  Raises ``InputError`` for an unknown format and ``InTheWayError``, which is
    one, for a file that may not be replaced, before anything is made; ``RenderError`` when a
    file cannot be made.  Then no file of the same twenty scores is written.
    """
    recording = recording or Recording(
        drone=("root",) if drone else (), click=Click.BEATS if click else None
    )
    to = formats_named(to, DRILL_FORMATS)
    check_scores(len(scores), sum(len(score.notes) for score in scores))
    if made_by(Maker.SOUND, to, DRILL_FORMATS):
        check_sound_length(scores, recording)
    scores = [_paced(_readable(score), recording.practice.tempi_bpm) for score in scores]
    asked = _Asked(tuple(to), recording, look, out, replace)
    pieces = _told_apart(scores)
    check_free(out, [each for piece in pieces for each in _planned(piece, asked)], replace=replace)
    made: list[Made] = []
    for start in range(0, len(pieces), _SHEETS_A_RUN):
        run = pieces[start : start + _SHEETS_A_RUN]
        found = _make_run(run, asked, engraver if start == 0 else None)
        for each in found:
            if progress:
                progress(each.path.name)
        made += found
    return _with_notice(made, scores)


@dataclass(frozen=True, slots=True)
class _Asked:
    """The options of one call, the same for every score."""

    to: tuple[str, ...]
    recording: Recording
    look: Look | None
    out: Path
    replace: bool


@dataclass(frozen=True, slots=True)
class _Piece:
    """A score, and its number among those that want the same names."""

    score: Score
    again: int


def _make_run(run: list[_Piece], asked: _Asked, engraver: Engraver | None) -> list[Made]:
    """Make the files of up to twenty scores, placed together, each score's page first."""
    written: list[RenderedFile] = []
    wanted: list[RequestedFile] = []
    with Parts() as parts:
        scores = [piece.score for piece in run]
        for each in _rendered(scores, asked.to, asked.recording, asked.look, engraver):
            wanted.append(_wanted(run[each.number], each.ending, each.kind, asked))
            parts.write(tentative(asked.out, wanted[-1]), each.writable())
            written.append(each)
        placed = place(parts, asked.out, wanted, replace=asked.replace)
    pairs = sorted(zip(placed, written, strict=True), key=lambda pair: _place(pair[1]))
    return [_made(there, run[each.number].score, each, asked.recording) for there, each in pairs]


def make_role_chart(
    harp: Harp,
    reeds: Sequence[Reed],
    out: Path,
    look: Look,
    chords: Sequence[Chord] = BLUES,
    position: Position | None = None,
    *,
    replace: bool = False,
) -> PlacedFile:
    """Draw the role of *reeds* in every position as a PDF in *out*; return its place.

    Below stands what they are over *chords* of *position*, cross harp if not said.  Raises
    ``InputError`` for too many reeds, and for a file in its way unless it may *replace* that;
    ``RenderError`` when it cannot be made.
    """
    from reedmill.sheet.role_chart import CROSS_HARP, role_chart

    where = position or CROSS_HARP
    words = (*chart_words(harp, reeds, chords, where), *page_words(look))
    wanted = RequestedFile(role_chart_name(harp, words), ".pdf")
    source = role_chart(harp, reeds, look, chords, where)
    return _drawn_chart(source, out, wanted, replace=replace)


def make_case_chart(
    harps: Sequence[Harp], out: Path, look: Look, *, replace: bool = False
) -> PlacedFile:
    """Draw in which position each of *harps* plays each key, as a PDF in *out*; return its place.

    Raises ``InputError`` for too many harps, and for a file in its way unless it may *replace*
    that; ``RenderError`` when it cannot be made.
    """
    from reedmill.sheet.case_chart import case_chart

    wanted = RequestedFile(case_chart_name(harps, page_words(look)), ".pdf")
    return _drawn_chart(case_chart(harps, look), out, wanted, replace=replace)


def _drawn_chart(source: str, out: Path, wanted: RequestedFile, *, replace: bool) -> PlacedFile:
    """Draw the one page of *source* as a PDF in *out* and return its place."""
    from reedmill.sheet.engrave import Engraver

    check_free(out, [wanted], replace=replace)
    with Engraver() as engraver:
        engraver.feed(source)
        [pdf] = engraver.sheets(1)
    with Parts() as parts:
        parts.write(tentative(out, wanted), pdf)
        return place(parts, out, [wanted], replace=replace)[0]


def _made(placed: PlacedFile, score: Score, rendered: RenderedFile, recording: Recording) -> Made:
    content, kind, stem = rendered.content, rendered.kind, rendered.stem
    path, before, gone = placed.path, placed.before, gone_notice(placed)
    where = (score.title, score.harp.full_name, score.position.number)
    if isinstance(content, bytes):
        return Made(path, kind, *where, score.tempo_bpm, stem, notice=gone, before=before)
    heard = _verified(path, content, recording) if recording.verify else ()
    notice = " ".join(filter(None, (content.notice, gone)))
    return Made(path, kind, *where, content.tempo_bpm, stem, heard, notice, before)


def _verified(path: Path, content: SoundFile, recording: Recording) -> tuple[MeasuredNote, ...]:
    """Return every note of the finished file *path*, when it holds the guide alone."""
    if content.stem != "tones":
        return ()
    from reedmill.make.verifying import verified  # reads NumPy

    # The voice of a font may swell, and MP3 and OGG blur an attack.
    attacks = not recording.voice and path.suffix in {".wav", ".flac"}
    return tuple(verified(path, content.taken.plan, attacks=attacks))


def gone_notice(placed: PlacedFile) -> str:
    """Return a notice on our own files that a file made obsolete; nothing for none."""
    if not placed.outdated:
        return ""
    names = ", ".join(placed.outdated)
    return f"{names} belonged to the {placed.path.name} before this one, and went with it."


def _with_notice(made: list[Made], scores: Sequence[Score]) -> list[Made]:
    """Add one sentence to the pages of *made* on the letters left out on all of them."""
    pages = {each.drill for each in made if _is_page(each)}
    if not pages:
        return made
    from reedmill.sheet.letters import left_out, score_texts

    texts: dict[str, tuple[str, ...]] = {
        score.title: score_texts(score) for score in scores if score.title in pages
    }
    notice = left_out(texts)
    if not notice:
        return made
    return [replace(each, notice=notice) if _is_page(each) else each for each in made]


def _is_page(made: Made) -> bool:
    return _ROWS[made.kind].maker is Maker.LILYPOND


def _paced(score: Score, tempi_bpm: tuple[int, ...]) -> Score:
    """Return *score* as practised: a tempo ladder replaces its own tempo and goal."""
    if not tempi_bpm:
        return score
    goal = tempi_bpm[-1] if tempi_bpm[-1] > tempi_bpm[0] else None
    return replace(score, tempo_bpm=tempi_bpm[0], tempo_goal_bpm=goal, tempi_bpm=tempi_bpm)


@dataclass(frozen=True, slots=True)
class RenderedFile:
    """The content of a file that has no name yet, and what its name depends on."""

    ending: str  # of the file name: .mix.wav
    content: bytes | SoundFile
    kind: str  # of a row of formats.table
    stem: str | None = None  # for audio: tones, mix, backing, drone or click
    number: int = 0  # of its score among those rendered together, from 0

    def writable(self) -> Content:
        """Return the bytes, or the function that writes the sound to a path."""
        return self.content if isinstance(self.content, bytes) else self.content.save


def _place(rendered: RenderedFile) -> tuple[int, int]:
    return rendered.number, DRILL_KINDS.index(rendered.kind)


def _readable(score: Score) -> Score:
    """Return *score* with printable texts, even when another program made it."""
    return replace(
        score,
        title=printable(score.title),
        about=printable(score.about),
        listen=printable(score.listen),
        sections=tuple((start, printable(name)) for start, name in score.sections),
    )


def _rendered(
    scores: list[Score],
    to: Sequence[str],
    recording: Recording,
    look: Look | None,
    engraver: Engraver | None,
) -> Iterator[RenderedFile]:
    """Yield the content of every file; LilyPond runs while the rest is rendered."""
    with ExitStack() as stack:
        printer, drawer = (engraver, None) if drawn(to) & PRINTED else (None, engraver)
        sheets = _started_sheets(scores, to, look, printer, stack)
        yield from _made_together(scores, to, drawer)
        for at, score in enumerate(scores):
            yield from _quick_ones(at, score, to, recording)
            for row in made_by(Maker.SOUND, to, DRILL_FORMATS):
                yield from _audio(at, score, recording, row)
        for finish in sheets:
            yield from finish()


def _started_sheets(
    scores: list[Score],
    to: Sequence[str],
    look: Look | None,
    engraver: Engraver | None,
    stack: ExitStack,
) -> list[Callable[[], Iterator[RenderedFile]]]:
    """Start LilyPond on the pages in *to*; return functions that collect each kind."""
    wanted = drawn(to)
    if not wanted:
        return []
    from reedmill.sheet.engrave import Engraver

    # both start before the music is made: abjad takes as long to import as LilyPond to start
    printer = engraver
    if printer is None and wanted & PRINTED:
        printer = stack.enter_context(Engraver(png=".png" in wanted))
    drawer = stack.enter_context(Engraver(svg=True)) if ".svg" in wanted else None
    from reedmill.sheet.page import pages

    count = len(scores)
    collect: list[Callable[[], Iterator[RenderedFile]]] = []
    if printer:
        printer.feed(pages(scores, look))
        if ".pdf" in wanted:
            collect.append(lambda: _pdfs(printer.sheets(count)))
        if ".png" in wanted:
            collect.append(lambda: _pictures(printer.pictures(count, "png"), "png"))
    if drawer:
        drawer.feed(pages(scores, look, ids=True))
        collect.append(lambda: _pictures(drawer.pictures(count, "svg"), "svg"))
    return collect


def _pdfs(sheets: list[bytes]) -> Iterator[RenderedFile]:
    for at, pdf in enumerate(sheets):
        yield RenderedFile(".pdf", pdf, "sheet-pdf", number=at)


def _pictures(sheets: list[list[bytes]], ending: str) -> Iterator[RenderedFile]:
    """Yield the pages of each sheet, numbered where there are several."""
    for at, pages in enumerate(sheets):
        for number, page in enumerate(pages, start=1):
            place = f"-page{number}" if len(pages) > 1 else ""
            yield RenderedFile(f"{place}.{ending}", page, f"sheet-{ending}", number=at)


def _made_together(
    scores: list[Score], to: Sequence[str], engraver: Engraver | None
) -> Iterator[RenderedFile]:
    """Yield the files whose music one LilyPond draws for all of *scores*."""
    for row in made_by(Maker.WRITER, to, DRILL_FORMATS):
        if row.together:
            for at, content in enumerate(files_together(row, scores, engraver)):
                yield RenderedFile(row.ending, content, row.kind, number=at)


def _quick_ones(
    at: int, score: Score, to: Sequence[str], recording: Recording
) -> Iterator[RenderedFile]:
    for row in made_by(Maker.WRITER, to, DRILL_FORMATS):
        if row.together:
            continue
        for ending, content in drill_files(row, score, recording):
            yield RenderedFile(ending, content, row.kind, number=at)


def _audio(at: int, score: Score, recording: Recording, row: Format) -> Iterator[RenderedFile]:
    from reedmill.sound.recording.record import sound_files

    for file in sound_files(score, recording):
        yield RenderedFile(file.ending, file, row.kind, file.stem, at)


def _told_apart(scores: Sequence[Score]) -> list[_Piece]:
    """Return each score with its number among those that want the same names."""
    counts: Counter[FileName] = Counter()
    pieces: list[_Piece] = []
    for score in scores:
        name = score_name(score)
        counts[name] += 1
        pieces.append(_Piece(score, counts[name]))
    return pieces


def _planned(piece: _Piece, asked: _Asked) -> Iterator[RequestedFile]:
    """Yield the files to be made of *piece*; of the pages of a picture only the first."""
    for row in (DRILL_FORMATS[name] for name in asked.to):
        for ending in _planned_endings(row, asked.recording):
            yield _wanted(piece, ending, row.kind, asked)


def _planned_endings(row: Format, recording: Recording) -> list[str]:
    match row.maker:
        case Maker.LILYPOND:
            return [row.ending, f"-page1{row.ending}"] if row.page_each else [row.ending]
        case Maker.WRITER:
            return [ending for ending, _ in endings(row, recording)]
        case Maker.SOUND:
            from reedmill.sound.recording.record import planned_sounds

            return [each.ending for each in planned_sounds(recording)]


def _wanted(piece: _Piece, ending: str, kind: str, asked: _Asked) -> RequestedFile:
    """Return a requested file, with the words that tell its *kind* from others in its name."""
    recording, score, fonts = asked.recording, piece.score, tuple[str, ...]()
    row = _ROWS[kind]
    if row.maker is Maker.LILYPOND:
        words = page_words(asked.look)
    elif row.maker is Maker.WRITER:
        words = writer_words(row, recording, band=score.band is not None)
    else:
        alone = _tones_alone(ending, recording)
        fonts = soundfonts_heard(recording, mixed=not alone)
        words = (tones_words if alone else mix_words)(recording, Path(ending).suffix[1:])
    name = score_name(score, words, fonts)
    if piece.again > 1:
        name = replace(name, purpose=f"{name.purpose} | {piece.again}")
    return RequestedFile(name, ending)


def _tones_alone(ending: str, recording: Recording) -> bool:
    """Return True for the plain tones without any addition."""
    plain = re.fullmatch(r"(\.\d+-bpm)?\.[a-z0-9]+", ending) is not None
    return plain and recording.guided
