"""Make backings: arrangements in, files out, each whole or not there at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.choosing import known_word
from reedmill.base.errors import InputError, close_match
from reedmill.base.remedies import Remedy
from reedmill.base.writing import Parts
from reedmill.harp import Harp
from reedmill.make.made_files import Before, Wanted, check_free, place, tentative
from reedmill.make.material import gone_notice
from reedmill.make.naming import backing_file_name, fonts_of, midi_words, mix_words, page_words
from reedmill.practice.practice import TYPES, Recording
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Score
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.sheet.look import Look
    from reedmill.sound.recording.record import SoundFile

BACKING_FORMATS = ("midi", "wav", "chart", "text")
DEFAULT_BACKING_FORMATS = ("midi", "wav", "chart")


@dataclass(frozen=True, slots=True)
class MadeBacking:
    """One file of a backing."""

    path: Path
    kind: str  # midi, audio, chart-pdf or text
    arrangement: Arrangement
    stem: str | None = None  # for audio: mix, backing, drone or click; what is in it
    notice: str = ""  # what a player should know of the file: a sentence or two, or nothing
    before: Before = Before.NOTHING  # what was at its place

    @property
    def replaced(self) -> bool:
        """True when it stands where another file was."""
        return self.before is not Before.NOTHING

    def data(self) -> dict[str, object]:
        """The row for ``--json``; ``stem`` only for audio."""
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


Content = tuple[str, "bytes | SoundFile", str, str | None]
"""The end of the file name, the content, the kind and the stem."""


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
    """Render *arrangement* into the folder *out* and return what was made, in order.

    *to* names formats of ``BACKING_FORMATS``.  *recording* says who plays and what sounds
    besides; the tones of a drill never do.  *harp* and *position* are what the backing is
    for, and *look* is that of the chart.  The same request replaces its own files; anything
    else that is in the way only with *replace*.  Raises ``InputError`` for an unknown format
    and ``InTheWayError``, which is one, for a file that may not be replaced;
    ``RenderError`` when a file cannot be made.  Then none is written.
    """
    to = formats_named(to)
    score = silent_score(arrangement, harp, position, reference_hz)
    sounding = recording or Recording(guided=False, backing=True)
    planned = _planned(score, to, sounding, look)
    check_free(out, planned, replace=replace)
    wanted: list[Wanted] = []
    rows: list[tuple[str, str | None, str]] = []
    with Parts() as parts:
        for ending, content, kind, stem in _contents(arrangement, score, to, sounding, look):
            wanted.append(_wanted(score, ending, kind, sounding, look))
            parts.write(
                tentative(out, wanted[-1]), content if isinstance(content, bytes) else content.save
            )
            rows.append((kind, stem, _notice(kind, arrangement, content)))
        placed = place(parts, out, wanted, replace=replace)
    made = [
        MadeBacking(
            there.path, kind, arrangement, stem,
            " ".join(filter(None, (notice, gone_notice(there)))), there.before,
        )
        for there, (kind, stem, notice) in zip(placed, rows, strict=True)
    ]  # fmt: skip
    if progress:
        for each in made:
            progress(each.path.name)
    return made


def _notice(kind: str, arrangement: Arrangement, content: bytes | SoundFile) -> str:
    """What a player should know: of the sound, or of letters the chart leaves out."""
    if not isinstance(content, bytes):
        return content.notice
    if kind != "chart-pdf":
        return ""
    from reedmill.sheet.letters import left_out

    return left_out({arrangement.form: (arrangement.form, arrangement.feel)})


def formats_named(names: Sequence[str]) -> tuple[str, ...]:
    """The formats of a backing called *names*, in any case; ``InputError`` for none of them."""
    return tuple(dict.fromkeys(map(_format_named, names)))


def _format_named(name: str) -> str:
    found, kind = known_word(name, BACKING_FORMATS), known_word(name, TYPES)
    if found is not None:
        return found
    if kind is not None:
        raise InputError(
            f'there is no format "{name}" for a backing: {kind.upper()} is a kind of sound.',
            way_out=Remedy.KIND_OF_SOUND,
            kind=kind,
        )
    raise InputError(
        f'there is no format "{name}" for a backing.{close_match(name, BACKING_FORMATS)} '
        f"Choose from: {', '.join(BACKING_FORMATS)}."
    )


def _planned(
    score: Score, to: Sequence[str], recording: Recording, look: Look | None
) -> list[Wanted]:
    """The files that will be made."""
    endings = {"midi": (".mid", "midi"), "chart": (".pdf", "chart-pdf"), "text": (".txt", "text")}
    found = [endings[name] for name in to if name != "wav"]
    if "wav" in to:
        from reedmill.sound.recording.record import planned_sounds

        for ending, _, holds in planned_sounds(recording):
            found.append((_sound_ending(ending, holds, recording), "audio"))
    return [_wanted(score, ending, kind, recording, look) for ending, kind in found]


def _sound_ending(ending: str, holds: tuple[str, ...], recording: Recording) -> str:
    """What holds all that sounds has the plain name, whatever else there is."""
    return Path(ending).suffix if holds == recording.mixed else ending


def _wanted(
    score: Score, ending: str, kind: str, recording: Recording, look: Look | None
) -> Wanted:
    """The name of a file, with the words for what tells its *kind* from others."""
    words, fonts = tuple[str, ...](), tuple[str, ...]()
    if kind == "midi":
        words = tuple(word for word in midi_words(recording, band=True) if word != "without tones")
    elif kind == "audio":
        words = mix_words(recording, Path(ending).suffix[1:])
        fonts = fonts_of(recording, mixed=True)
    elif kind == "chart-pdf":
        words = page_words(look)
    return Wanted(backing_file_name(score, words, fonts), ending)


def silent_score(
    arrangement: Arrangement, harp: Harp, position: Position, reference_hz: float = 440.0
) -> Score:
    """A score in which the band plays and nobody else, as long as the arrangement."""
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
) -> Iterator[Content]:
    """Everything asked for.  LilyPond draws the chart while the rest is made."""
    with ExitStack() as stack:
        finish = _started_chart(arrangement, score, look, stack) if "chart" in to else None
        if "midi" in to:
            from reedmill.formats.midi import backing_midi_bytes

            yield ".mid", backing_midi_bytes(score, recording), "midi", None
        if "text" in to:
            from reedmill.formats.band_text import backing_text

            yield ".txt", backing_text(arrangement).encode(), "text", None
        if "wav" in to:
            from reedmill.sound.recording.record import sound_files

            for file in sound_files(score, recording):
                ending = _sound_ending(file.ending, file.holds, recording)
                yield ending, file, "audio", file.stem
        if finish:
            yield ".pdf", finish(), "chart-pdf", None


def _started_chart(
    arrangement: Arrangement, score: Score, look: Look | None, stack: ExitStack
) -> Callable[[], bytes]:
    """LilyPond at work on the chart, and how to collect its page."""
    from reedmill.sheet.chord_chart import chord_chart
    from reedmill.sheet.engrave import Engraver
    from reedmill.sheet.look import Look

    engraver = stack.enter_context(Engraver())
    engraver.feed(chord_chart(arrangement, score.harp, score.position, look or Look()))
    return lambda: engraver.sheets(1)[0]
