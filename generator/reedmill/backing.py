"""Make backings: arrangements in, files out, each whole or not there at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.arrangement import Arrangement
from reedmill.base.choosing import known_word
from reedmill.base.errors import InputError, close_match
from reedmill.base.text import slug
from reedmill.base.writing import Parts
from reedmill.harp import Harp
from reedmill.practice import TYPES, Recording
from reedmill.score import Score
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.sheet.look import Look
    from reedmill.sound.record import SoundFile

BACKING_FORMATS = ("midi", "wav", "chart", "text")
DEFAULT_BACKING_FORMATS = ("midi", "wav", "chart")


@dataclass(frozen=True, slots=True)
class MadeBacking:
    """One file of a backing."""

    path: Path
    kind: str  # midi, audio, chart-pdf or text
    arrangement: Arrangement
    stem: str | None = None  # for audio: mix, backing, drone or click; what is in it
    notice: str = ""  # what a player should know of it: one sentence, or nothing

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
) -> list[MadeBacking]:
    """Render *arrangement* into the folder *out* and return what was made, in order.

    *to* names formats of ``BACKING_FORMATS``.  *recording* says who plays and what sounds
    besides; the tones of a drill never do.  *harp* and *position* are what the backing is
    for, and *look* is that of the chart.  Raises ``InputError`` for an unknown format,
    ``RenderError`` when a file cannot be made; then none is written.
    """
    to = formats_named(to)
    made: list[MadeBacking] = []
    score = silent_score(arrangement, harp, position, reference_hz)
    with Parts() as parts:
        for ending, content, kind, stem in _contents(arrangement, score, to, recording, look):
            path = out / f"{backing_name(arrangement)}{ending}"
            parts.write(path, content if isinstance(content, bytes) else content.save)
            notice = _notice(kind, arrangement, content)
            made.append(MadeBacking(path, kind, arrangement, stem, notice))
        parts.finish()
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
            f'there is no format "{name}" for a backing: {kind.upper()} is a kind of sound. '
            f"Write --to wav --audio {kind}"
        )
    raise InputError(
        f'there is no format "{name}" for a backing.{close_match(name, BACKING_FORMATS)} '
        f"Choose from: {', '.join(BACKING_FORMATS)}."
    )


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


def backing_name(arrangement: Arrangement) -> str:
    """The start of its file names: form, feel, key and tempo, and the seed unless it is 0."""
    key = slug(arrangement.key.name.replace("#", " sharp"))
    seed = f"-seed-{arrangement.seed}" if arrangement.seed else ""
    titles = f"{slug(arrangement.form)}-{slug(arrangement.feel)}"
    return f"{titles}-{key}-{arrangement.tempo_bpm}-bpm{seed}"


def _contents(
    arrangement: Arrangement,
    score: Score,
    to: Sequence[str],
    recording: Recording | None,
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
            from reedmill.sound.record import sound_files

            wanted = recording or Recording(guided=False, backing=True)
            for file in sound_files(score, wanted):
                # what holds all that sounds has the plain name, whatever else there is
                whole = file.holds == wanted.mixed
                yield f".{file.form.kind}" if whole else file.ending, file, "audio", file.stem
        if finish:
            # it shows where the notes are on this harp, so its name says which
            on = slug(score.harp.name.replace("#", " sharp"))
            yield f"-{on}-harp-{score.position.ordinal}.pdf", finish(), "chart-pdf", None


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
