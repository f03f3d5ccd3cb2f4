"""Make practice material: scores in, files out, each whole or not there at all."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.amounts import check_scores, check_sound
from reedmill.base.choosing import chosen_word
from reedmill.base.errors import RenderError
from reedmill.base.text import printable, slug
from reedmill.base.writing import Content, Parts, write_files
from reedmill.chord_roles import BLUES
from reedmill.harp import Harp, Reed
from reedmill.hearing import Heard, hearing_data
from reedmill.practice import Click, Recording
from reedmill.score import Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.sheet.engrave import Engraver
    from reedmill.sheet.look import Look
    from reedmill.sound.record import SoundFile

FORMATS = ("sheet", "png", "svg", "midi", "wav", "tab", "musicxml", "json")
DEFAULT_FORMATS = ("sheet", "png", "svg", "midi", "wav", "tab")
_KINDS = ("sheet-pdf", "sheet-png", "sheet-svg", "audio", "midi", "tab", "musicxml", "json")
# One LilyPond process draws many sheets faster than many processes do.
_SHEETS_A_RUN = 20

Progress = Callable[[str], None]
"""Called with the name of each file as it is finished."""


@dataclass(frozen=True, slots=True)
class Made:
    """One file that was made."""

    path: Path
    kind: str  # one of _KINDS
    drill: str
    harp: str
    position: int
    tempo: int  # beats a minute
    stem: str | None = None  # for audio: guide, mix, backing, drone or click
    heard: tuple[Heard, ...] = ()  # what the listening check found, where it was asked for
    notice: str = ""  # what a player should know of it: one sentence, or nothing

    def data(self) -> dict[str, object]:
        """The row for ``--json``; ``stem`` only for audio, ``heard`` only when checked."""
        row: dict[str, object] = {
            "path": str(self.path),
            "kind": self.kind,
            "drill": self.drill,
            "harp": self.harp,
            "position": self.position,
            "tempo": self.tempo,
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
) -> list[Made]:
    """Render *scores* into the folder *out* and return what was made, in order.

    *to* names formats of ``FORMATS``.  ``wav`` makes the reference tones alone; with
    *drone* or *click* it also makes a mix of the tones with these.  *recording* says more
    about the sound, and takes the place of both; *look* about the sheet.  *engraver* is
    a LilyPond started beforehand, see ``early_engraver``.  Raises
    ``InputError`` for an unknown format, ``RenderError`` when a file cannot be made; then
    no file of the same twenty scores is written.
    """
    recording = recording or Recording(
        drone=("root",) if drone else (), click=Click.BEATS if click else None
    )
    to = formats_named(to)
    check_scores(len(scores), sum(len(score.notes) for score in scores))
    if "wav" in to:
        check_sound(scores, recording)
    scores = [_paced(_readable(score), recording.practice.tempi_bpm) for score in scores]
    made: list[Made] = []
    names = _file_names(scores)
    for start in range(0, len(scores), _SHEETS_A_RUN):
        run = scores[start : start + _SHEETS_A_RUN]
        written: list[tuple[Path, Rendered]] = []
        with Parts() as parts:
            for each in _rendered(run, to, recording, look, engraver if start == 0 else None):
                path = out / f"{names[start + each[0]]}{each[1]}"
                parts.write(path, _content(each[2]))
                written.append((path, each))
            parts.finish()
        # the page comes first for each score
        for path, each in sorted(written, key=lambda pair: _place(pair[1])):
            if progress:
                progress(path.name)
            made.append(_made(path, run[each[0]], each, verify=recording.verify))
    return _with_notice(made, scores)


def formats_named(names: Sequence[str]) -> tuple[str, ...]:
    """The formats called *names*, in any case, each once; ``InputError`` for one there is not."""
    return tuple(dict.fromkeys(chosen_word("format", name, FORMATS) for name in names))


@contextmanager
def early_engraver(to: Sequence[str]) -> Iterator[Engraver | None]:
    """LilyPond started before the drills are even read, when *to* will need it for pages.

    Its start takes as long as all else a sheet waits for, so what is started first is
    finished first.  ``None`` when no page is wanted or there is no LilyPond; whoever draws
    says so.
    """
    if not {"sheet", "png"} & set(to):
        yield None
        return
    from reedmill.sheet.engrave import Engraver

    with ExitStack() as stack:
        engraver = None
        with suppress(RenderError):
            engraver = stack.enter_context(Engraver(png="png" in to))
        yield engraver


def make_role_chart(
    harp: Harp,
    reeds: Sequence[Reed],
    out: Path,
    look: Look,
    chords: Sequence[Chord] = BLUES,
    position: Position | None = None,
) -> Path:
    """Draw what *reeds* are in every position as a PDF in *out*, and return its path.

    Below stands what they are over *chords* of *position*, cross harp if not said.  Raises
    ``InputError`` for too many reeds, ``RenderError`` when it cannot be made.
    """
    from reedmill.sheet.engrave import Engraver
    from reedmill.sheet.role_chart import CROSS_HARP, role_chart

    path = out / f"roles-{slug(harp.name.replace('#', ' sharp'))}.pdf"
    source = role_chart(harp, reeds, look, chords, position or CROSS_HARP)
    with Engraver() as engraver:
        engraver.feed(source)
        [pdf] = engraver.sheets(1)
    write_files([(path, pdf)])
    return path


def _made(path: Path, score: Score, rendered: Rendered, *, verify: bool) -> Made:
    _, _, content, kind, stem = rendered
    where = (score.title, score.harp.full_name, score.position.number)
    if isinstance(content, bytes):
        return Made(path, kind, *where, score.tempo_bpm, stem)
    heard = content.listen(path) if verify else ()
    return Made(path, kind, *where, content.tempo_bpm, stem, heard, content.notice)


def _with_notice(made: list[Made], scores: Sequence[Score]) -> list[Made]:
    """*made*, the pages with what is left out on all of them, in one sentence."""
    pages = {each.drill for each in made if each.kind.startswith("sheet-")}
    if not pages:
        return made
    from reedmill.sheet.letters import left_out, score_texts

    texts = {score.title: score_texts(score) for score in scores if score.title in pages}
    notice = left_out(texts)
    if not notice:
        return made
    return [
        replace(each, notice=notice) if each.kind.startswith("sheet-") else each for each in made
    ]


def _paced(score: Score, tempi_bpm: tuple[int, ...]) -> Score:
    """*score* as it is practised: its own tempo and goal give way to a ladder."""
    if not tempi_bpm:
        return score
    goal = tempi_bpm[-1] if tempi_bpm[-1] > tempi_bpm[0] else None
    return replace(score, tempo_bpm=tempi_bpm[0], tempo_goal_bpm=goal, tempi_bpm=tempi_bpm)


Rendered = tuple[int, str, "bytes | SoundFile", str, str | None]
"""Which score, the end of the file name, the content, the kind and the stem."""


def _content(rendered: bytes | SoundFile) -> Content:
    return rendered if isinstance(rendered, bytes) else rendered.save


def _place(rendered: Rendered) -> tuple[int, int]:
    at, _, _, kind, _ = rendered
    return at, _KINDS.index(kind)


def _readable(score: Score) -> Score:
    """*score* with texts fit to print, also when another program made it."""
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
) -> Iterator[Rendered]:
    """Everything asked for.  LilyPond runs alongside while the rest is rendered."""
    with ExitStack() as stack:
        sheets = _started_sheets(scores, to, look, engraver, stack)
        for at, score in enumerate(scores):
            yield from _quick_ones(at, score, to, recording)
            if "wav" in to:
                yield from _audio(at, score, recording)
        for finish in sheets:
            yield from finish()


def _started_sheets(
    scores: list[Score],
    to: Sequence[str],
    look: Look | None,
    engraver: Engraver | None,
    stack: ExitStack,
) -> list[Callable[[], Iterator[Rendered]]]:
    """LilyPond at work on what *to* wants of it, and how to collect each kind of page."""
    if not {"sheet", "png", "svg"} & set(to):
        return []
    from reedmill.sheet.engrave import Engraver

    # both start before the music is made: abjad takes as long to import as LilyPond to start
    printer = engraver
    if printer is None and {"sheet", "png"} & set(to):
        printer = stack.enter_context(Engraver(png="png" in to))
    drawer = stack.enter_context(Engraver(svg=True)) if "svg" in to else None
    from reedmill.sheet.page import pages

    count = len(scores)
    collect: list[Callable[[], Iterator[Rendered]]] = []
    if printer:
        printer.feed(pages(scores, look))
        if "sheet" in to:
            collect.append(lambda: _pdfs(printer.sheets(count)))
        if "png" in to:
            collect.append(lambda: _pictures(printer.pictures(count, "png"), "png"))
    if drawer:
        drawer.feed(pages(scores, look, ids=True))
        collect.append(lambda: _pictures(drawer.pictures(count, "svg"), "svg"))
    return collect


def _pdfs(sheets: list[bytes]) -> Iterator[Rendered]:
    for at, pdf in enumerate(sheets):
        yield at, ".pdf", pdf, "sheet-pdf", None


def _pictures(sheets: list[list[bytes]], ending: str) -> Iterator[Rendered]:
    """The pages of each sheet, numbered where there are several."""
    for at, pages in enumerate(sheets):
        for number, page in enumerate(pages, start=1):
            place = f"-page{number}" if len(pages) > 1 else ""
            yield at, f"{place}.{ending}", page, f"sheet-{ending}", None


def _quick_ones(
    at: int, score: Score, to: Sequence[str], recording: Recording
) -> Iterator[Rendered]:
    if "midi" in to:
        from reedmill.formats.midi import midi_bytes

        for tempo, each in recording.one_by_one():
            named = f".{tempo}-bpm" if tempo else ""
            yield at, f"{named}.mid", midi_bytes(score, each), "midi", None
    if "tab" in to:
        from reedmill.formats.text import tab_text

        yield at, ".txt", tab_text(score).encode(), "tab", None
    if "musicxml" in to:
        from reedmill.formats.musicxml import musicxml_bytes

        yield at, ".musicxml", musicxml_bytes(score), "musicxml", None
    if "json" in to:
        from reedmill.formats.data import recording_data, score_data

        asked = recording_data(score, recording) if recording != Recording() else {}
        content = json.dumps({"drills": [score_data(score) | asked]}, ensure_ascii=False, indent=1)
        yield at, ".json", content.encode() + b"\n", "json", None


def _audio(at: int, score: Score, recording: Recording) -> Iterator[Rendered]:
    from reedmill.sound.record import sound_files

    for file in sound_files(score, recording):
        yield at, file.ending, file, "audio", file.stem


def _file_names(scores: Sequence[Score]) -> list[str]:
    """A name for each score, from generated parts only, no two alike."""
    names: dict[str, int] = {}  # every name, and how many were made from it
    for score in scores:
        harp = slug(score.harp.name.replace("#", " sharp"))
        plan = f"-{slug(score.embouchure.short)}" if score.embouchure else ""
        under = f"-over-{slug(score.band.form)}" if score.band else ""
        name = base = f"{slug(score.title)}-{harp}-{score.position.ordinal}{plan}{under}"
        while name in names:
            names[base] += 1
            name = f"{base}-{names[base]}"
        names[name] = 1
    return list(names)
