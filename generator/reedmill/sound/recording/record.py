"""The sound files of a recording, each ready to be written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from reedmill.practice.practice import Recording, RecordingPlan
from reedmill.score.score import Score
from reedmill.sound.recording.audio_files import AudioFormat, save_sound
from reedmill.sound.recording.mix import StemSet, take
from reedmill.sound.reed.drone import drone_loop
from reedmill.sound.signal.clock import RATE


@dataclass(frozen=True, slots=True)
class SoundFile:
    """One sound file to be written."""

    ending: str  # of the file name: .wav, .mix.flac, .60-bpm.drone.wav
    stem: str  # mix, tones, backing, drone or click
    taken: StemSet
    holds: tuple[str, ...]  # the stems in it
    factor: float
    form: AudioFormat

    @property
    def tempo_bpm(self) -> int:
        """The tempo of its first pass."""
        return self.taken.plan.score.tempo_bpm

    @property
    def notice(self) -> str:
        """A notice for the player about the sound: one sentence, or nothing."""
        return self.taken.notice

    def save(self, path: Path) -> None:
        """Write the file to *path*; raises as ``save_sound``."""
        save_sound(path, self.taken, self.holds, self.factor, self.form)


def sound_files(score: Score, recording: Recording) -> Iterator[SoundFile]:
    """Yield every file of *recording*: the tones, the mix, the other stems, the drone loop.

    Without the guide the mix, or its only stem, is all there is but the stems asked for.

    Guide and mix are brought to one loudness, each by itself; where the stems are asked for
    all of them take the factor of the mix, so that they sum to it.
    """
    for tempo, each in recording.one_by_one():
        taken = take(each.plan(score), each)
        named = f".{tempo}-bpm" if tempo else ""
        for stem, holds, factor in _cuts(taken, each):
            ending = f"{named}{_ending(stem, each)}"
            yield from _typed(each, ending, stem, taken, holds, factor)
    if recording.loop:
        taken = _loop(score, recording)
        factor = taken.level(("drone",)).factor
        yield from _typed(recording, ".drone-loop", "drone", taken, ("drone",), factor)


def whole_mix(plan: RecordingPlan, recording: Recording) -> Iterator[SoundFile]:
    """Yield the mix of *plan*, whatever was planned, in each type of file; the tempo is its own."""
    taken = take(plan, recording)
    factor = taken.level(recording.mixed).factor
    yield from _typed(recording, "", "mix", taken, recording.mixed, factor)


_ENDINGS = {
    "tones": "", "mix": ".mix", "backing": ".backing", "drone": ".drone", "click": ".click",
}  # fmt: skip


def _ending(stem: str, recording: Recording) -> str:
    """Return the file ending; tones as a stem have their mix's level, so another name."""
    cut = stem == "tones" and recording.stems and len(recording.mixed) > 1
    return ".tones" if cut else _ENDINGS[stem]


@dataclass(frozen=True, slots=True)
class PlannedSound:
    """A sound file before its sound is made."""

    ending: str  # of the file name: .wav, .mix.flac, .60-bpm.drone.wav
    stem: str  # mix, tones, backing, drone or click
    holds: tuple[str, ...]  # the stems in it


def planned_sounds(recording: Recording) -> Iterator[PlannedSound]:
    """Yield each file that ``sound_files`` will yield, in that order."""
    for tempo, each in recording.one_by_one():
        named = f".{tempo}-bpm" if tempo else ""
        for stem, holds in _held(each):
            for kind in each.types:
                yield PlannedSound(f"{named}{_ending(stem, each)}.{kind}", stem, holds)
    if recording.loop:
        for kind in recording.types:
            yield PlannedSound(f".drone-loop.{kind}", "drone", ("drone",))


def _held(recording: Recording) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield each stem and its contents."""
    mixed = recording.mixed
    if len(mixed) == 1:
        yield mixed[0], mixed
        return
    if recording.guided:
        yield "tones", ("tones",)
    yield "mix", mixed
    for stem in mixed if recording.stems else ():
        if stem != "tones":
            yield stem, (stem,)


def _cuts(taken: StemSet, recording: Recording) -> Iterator[tuple[str, tuple[str, ...], float]]:
    """Yield each stem, its contents, and its factor."""
    factor = taken.level(recording.mixed).factor
    for stem, holds in _held(recording):
        alone = stem == "tones" and not recording.stems and len(recording.mixed) > 1
        yield stem, holds, taken.level(holds).factor if alone else factor


def _typed(
    recording: Recording,
    ending: str,
    stem: str,
    taken: StemSet,
    holds: tuple[str, ...],
    factor: float,
) -> Iterator[SoundFile]:
    for kind in recording.types:
        form = AudioFormat(kind, recording.bits)
        yield SoundFile(f"{ending}.{kind}", stem, taken, holds, factor, form)


def _loop(score: Score, recording: Recording) -> StemSet:
    sound = drone_loop(score.root_hz, recording.drone, RATE)
    plan = replace(recording.plan(score), lead_in_s=Fraction(0))  # it would be a gap in the loop
    return StemSet(plan, {"drone": lambda first, last: sound[first:last]}, len(sound), RATE)
