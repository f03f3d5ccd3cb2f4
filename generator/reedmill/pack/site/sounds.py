"""The sounds of an exercise on the page of a pack: players with their lengths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.pack.pages.chapter import Exercise, ladder_words
from reedmill.pack.site.manifest import PackFile
from reedmill.pack.site.playlist import fullness, relative

_STEMS = {
    "tones": "Reference tones",
    "mix": "Full mix",
    "backing": "Band",
    "drone": "Drone",
    "click": "Click",
}
_LOOP = ".drone-loop."
_TYPES = {"wav": "audio/wav", "flac": "audio/flac", "ogg": "audio/ogg", "mp3": "audio/mpeg"}


@dataclass(frozen=True, slots=True)
class NamedSound:
    """A sound file with its name: ``Full mix``, and ``tempo 50`` where it needs one."""

    file: PackFile
    name: str
    tempo: str = ""  # of the one file among several
    ladder: str = ""  # of a file that goes through several tempi

    @property
    def heard(self) -> str:
        """The name over its player, equal for all file types."""
        return ", ".join(filter(None, (self.name, self.tempo or self.ladder)))

    @property
    def filed(self) -> str:
        """The name among the downloads."""
        return ", ".join(filter(None, (self.name, self.tempo, _ending(self.file).upper())))


def sounds_of(exercise: Exercise, files: Sequence[PackFile]) -> list[NamedSound]:
    """Return the sounds of *exercise*, the fullest first."""
    found = [each for each in files if each.kind == "audio"]
    apart = len({each.tempo for each in found if _LOOP not in each.path}) > 1
    found.sort(key=lambda each: fullness(each.stem))
    return [_sound(each, exercise, apart=apart) for each in found]


def _sound(each: PackFile, exercise: Exercise, *, apart: bool) -> NamedSound:
    name = _STEMS.get(each.stem, each.stem or "Sound")
    if _LOOP in each.path:
        return NamedSound(each, f"{name}, to loop")
    if exercise.tempi_bpm and not apart:
        return NamedSound(each, name, ladder=ladder_words(exercise.tempi_bpm))
    other = each.tempo and (apart or each.tempo != exercise.tempo_bpm)
    return NamedSound(each, name, tempo=f"tempo {each.tempo}" if other else "")


@dataclass(frozen=True, slots=True)
class MediaSource:
    """One type of file that an audio player on the page can play."""

    address: str
    type: str  # MIME


@dataclass(frozen=True, slots=True)
class AudioPlayer:
    """One recording with every type of file it comes in."""

    name: str
    label: str  # what is read aloud: with the exercise it belongs to
    length: str  # ``1:08``; empty where nobody knows
    sources: tuple[MediaSource, ...]


def players(exercise: Exercise, sounds: Sequence[NamedSound]) -> list[AudioPlayer]:
    """Return a player for each sound, with every type of file of it."""
    groups: dict[str, list[PackFile]] = {}
    for each in sounds:
        groups.setdefault(each.heard, []).append(each.file)
    return [_player(exercise, name, group) for name, group in groups.items()]


def _player(exercise: Exercise, name: str, files: Sequence[PackFile]) -> AudioPlayer:
    seconds = files[0].seconds
    return AudioPlayer(
        name,
        label=f"{name}: {exercise.title}, {exercise.where}",
        length="" if seconds is None else clock(seconds),
        sources=tuple(
            MediaSource(relative(each.path), _TYPES.get(_ending(each), "audio/*")) for each in files
        ),
    )


def _ending(each: PackFile) -> str:
    return each.path.rpartition(".")[2].lower()


def clock(seconds: float) -> str:
    """Format whole minutes and seconds, with hours where there are any, as players do.

    >>> clock(68.9), clock(3725)
    ('1:08', '1:02:05')
    """
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
