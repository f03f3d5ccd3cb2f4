"""Make backings: arrangements in, files out, each whole or not there at all."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.writing import Parts
from reedmill.formats.table import BAND_FORMATS, Maker, Usual, made_by, usual_in
from reedmill.formats.written import band_file
from reedmill.harp import Harp
from reedmill.make.made_files import Before, RequestedFile, check_free, place, tentative
from reedmill.make.material import RenderedFile, gone_notice
from reedmill.make.naming import (
    backing_file_name,
    mix_words,
    page_words,
    soundfonts_heard,
    writer_words,
)
from reedmill.make.wanted_formats import formats_named
from reedmill.practice.practice import Recording
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Score
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.sheet.look import Look

BACKING_FORMATS = tuple(BAND_FORMATS)
FOR_BACKING = " for a backing"
DEFAULT_BACKING_FORMATS = usual_in(Usual.BACKING, BAND_FORMATS)
_ROWS = {row.kind: row for row in BAND_FORMATS.values()}


@dataclass(frozen=True, slots=True)
class MadeBacking:
    """One file of a backing."""

    path: Path
    kind: str  # of a row of formats.table
    arrangement: Arrangement
    stem: str | None = None  # for audio: mix, backing, drone or click; what is in it
    notice: str = ""  # what a player should know of the file: a sentence or two, or nothing
    before: Before = Before.NOTHING  # what was at its place

    @property
    def replaced(self) -> bool:
        """True when the file replaced another."""
        return self.before is not Before.NOTHING

    def data(self) -> dict[str, object]:
        """Return the row for ``--json``; ``stem`` only for audio."""
        played = self.arrangement
        row: dict[str, object] = {
            "path": str(self.path),
            "kind": self.kind,
            "form": played.form,
            "feel": played.feel,
            "key": played.key.name,
            "meter": played.meter.name,
            "tempo": played.tempo_bpm,
            "choruses": played.choruses,
            "bars": int(played.length / played.meter.beats),
            "seed": played.seed,
            "replaced": self.replaced,
        }
        return row | ({"stem": self.stem} if self.stem else {})


def make_backing(
    arrangement: Arrangement,
    out: Path,
    to: Sequence[str] = DEFAULT_BACKING_FORMATS,
    *,
    harp: Harp,
    position: Position,
    reference_hz: float = 440.0,
    recording: Recording | None = None,
    look: Look | None = None,
    progress: Callable[[str], None] | None = None,
    replace: bool = False,
) -> list[MadeBacking]:
    """Render *arrangement* into the folder *out* and return the files made, in order.

    *to* names formats of ``BACKING_FORMATS``.  *recording* says who plays and what sounds
    besides; the tones of a drill never do.  *harp* and *position* are what the backing is
    for, and *look* is that of the chart.  The same request replaces its own files; anything
    else that is in the way only with *replace*.  Raises ``InputError`` for an unknown format
    and ``InTheWayError``, which is one, for a file that may not be replaced;
    ``RenderError`` when a file cannot be made.  Then none is written.
    """
    to = formats_named(to, BAND_FORMATS, FOR_BACKING)
    score = silent_score(arrangement, harp, position, reference_hz)
    sounding = recording or Recording(guided=False, backing=True)
    planned = _planned(score, to, sounding, look)
    check_free(out, planned, replace=replace)
    wanted: list[RequestedFile] = []
    drafts: list[MadeBacking] = []
    with Parts() as parts:
        for each in _contents(arrangement, score, to, sounding, look):
            wanted.append(_wanted(score, each.ending, each.kind, sounding, look))
            parts.write(tentative(out, wanted[-1]), each.writable())
            notice = _notice(each, arrangement)
            drafts.append(MadeBacking(out, each.kind, arrangement, each.stem, notice))
        placed = place(parts, out, wanted, replace=replace)
    made = [
        dataclasses.replace(
            draft,
            path=there.path,
            notice=" ".join(filter(None, (draft.notice, gone_notice(there)))),
            before=there.before,
        )
        for there, draft in zip(placed, drafts, strict=True)
    ]
    if progress:
        for file in made:
            progress(file.path.name)
    return made


def _notice(rendered: RenderedFile, arrangement: Arrangement) -> str:
    """Return a notice for the player: on the sound, or on letters the chart leaves out."""
    if not isinstance(rendered.content, bytes):
        return rendered.content.notice
    if _ROWS[rendered.kind].maker is not Maker.LILYPOND:
        return ""
    from reedmill.sheet.letters import left_out

    return left_out({arrangement.form: (arrangement.form, arrangement.feel)})


def _planned(
    score: Score, to: Sequence[str], recording: Recording, look: Look | None
) -> list[RequestedFile]:
    """Return the files that will be made."""
    rows = [BAND_FORMATS[name] for name in to]
    found = [(row.ending, row.kind) for row in rows if row.maker is not Maker.SOUND]
    for row in made_by(Maker.SOUND, to, BAND_FORMATS):
        from reedmill.sound.recording.record import planned_sounds

        for each in planned_sounds(recording):
            found.append((_sound_ending(each.ending, each.holds, recording), row.kind))
    return [_wanted(score, ending, kind, recording, look) for ending, kind in found]


def _sound_ending(ending: str, holds: tuple[str, ...], recording: Recording) -> str:
    """Return the ending of a sound file; the one with every sound has the plain ending."""
    return Path(ending).suffix if holds == recording.mixed else ending


def _wanted(
    score: Score, ending: str, kind: str, recording: Recording, look: Look | None
) -> RequestedFile:
    """Return a requested file, with the words that tell its *kind* from others in its name."""
    row, fonts = _ROWS[kind], tuple[str, ...]()
    if row.maker is Maker.LILYPOND:
        words = page_words(look)
    elif row.maker is Maker.WRITER:
        told = writer_words(row, recording, band=True)
        words = tuple(word for word in told if word != "without tones")
    else:
        words = mix_words(recording, Path(ending).suffix[1:])
        fonts = soundfonts_heard(recording, mixed=True)
    return RequestedFile(backing_file_name(score, words, fonts), ending)


def silent_score(
    arrangement: Arrangement, harp: Harp, position: Position, reference_hz: float = 440.0
) -> Score:
    """Return a score in which only the band plays, as long as the arrangement."""
    return Score(
        title=arrangement.form,
        about=arrangement.feel,
        level=None,
        tempo_bpm=arrangement.tempo_bpm,
        meter=arrangement.meter,
        harp=harp,
        position=position,
        notes=(),
        length=arrangement.length,
        reference_hz=reference_hz,
        band=arrangement,
    )


def _contents(
    arrangement: Arrangement,
    score: Score,
    to: Sequence[str],
    recording: Recording,
    look: Look | None,
) -> Iterator[RenderedFile]:
    """Yield the content of every file; LilyPond draws the chart while the rest is made."""
    with ExitStack() as stack:
        charts = [
            (row, _started_chart(arrangement, score, look, stack))
            for row in made_by(Maker.LILYPOND, to, BAND_FORMATS)
        ]
        for row in made_by(Maker.WRITER, to, BAND_FORMATS):
            yield RenderedFile(row.ending, band_file(row, score, recording), row.kind)
        for row in made_by(Maker.SOUND, to, BAND_FORMATS):
            from reedmill.sound.recording.record import sound_files

            for file in sound_files(score, recording):
                ending = _sound_ending(file.ending, file.holds, recording)
                yield RenderedFile(ending, file, row.kind, file.stem)
        for row, finish in charts:
            yield RenderedFile(row.ending, finish(), row.kind)


def _started_chart(
    arrangement: Arrangement, score: Score, look: Look | None, stack: ExitStack
) -> Callable[[], bytes]:
    """Start LilyPond on the chart, and return a function that collects its page."""
    from reedmill.sheet.chord_chart import chord_chart
    from reedmill.sheet.engrave import Engraver
    from reedmill.sheet.look import Look

    engraver = stack.enter_context(Engraver())
    engraver.feed(chord_chart(arrangement, score.harp, score.position, look or Look()))
    return lambda: engraver.sheets(1)[0]
