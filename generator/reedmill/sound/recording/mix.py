"""Stems and their sum: the sound of a plan, as blocks of samples or as a WAV file.

Before it is levelled a mix is exactly the sum of its stems; levelling multiplies all of it
by one factor (see ``level``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from reedmill.base.errors import InputError, close_match
from reedmill.practice.practice import Click, ClickLevel, Recording, RecordingPlan, plan_recording
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Score
from reedmill.sound.reed.click import click as click_stem
from reedmill.sound.reed.drone import drone as drone_stem
from reedmill.sound.reed.still_tone import REED
from reedmill.sound.reed.voice import guide
from reedmill.sound.signal.clock import RATE, checked_rate, sample_count, sample_of
from reedmill.sound.signal.level import UNDER_LU, Level, measured
from reedmill.sound.signal.limiter import Stem
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.tags import tags_of
from reedmill.sound.signal.wav import wav_stream

STEMS = ("tones", "drone", "click")
"""What a score alone can give; with an arrangement there is the stem ``backing`` too."""

# Left and right.  A voice in the middle has half its power in either.
_PLACES = {
    "tones": (1.0, 0.0), "drone": (0.0, 1.0),
    "click": (0.5**0.5, 0.5**0.5), "backing": (0.5**0.5, 0.5**0.5),
}  # fmt: skip

_LOUDER_LU = 5.0  # a loud click over the music

_SHORT_S = 60  # a stem so short is made once and kept


@dataclass(frozen=True, slots=True)
class StemSet:
    """The stems of a plan, all of one length."""

    plan: RecordingPlan
    stems: dict[str, Stem]
    count: int  # samples in every stem
    rate: int
    wide: bool = False
    notice: str = ""  # what a player should know of the sound, one sentence or nothing

    @property
    def channels(self) -> int:
        """1, or 2 when the stems are placed left and right."""
        return 2 if self.wide else 1

    def blocks(self, names: Sequence[str], factor: float = 1.0) -> Iterator[Samples]:
        """Yield the sum of the stems *names*, second by second: (samples, channels)."""
        for first in range(0, self.count, self.rate):
            last = min(first + self.rate, self.count)
            block = np.zeros((last - first, self.channels))
            for name in names:
                sound = self.stems[name](first, last)
                for channel, share in enumerate(_PLACES[name] if self.wide else (1.0,)):
                    if share:
                        block[:, channel] += sound * share
            block *= factor
            yield block

    @property
    def lead_in(self) -> int:
        """Samples of silence before the stems in a file."""
        return sample_of(self.plan.lead_in_s, self.rate)

    def file_blocks(self, names: Sequence[str], factor: float = 1.0) -> Iterator[Samples]:
        """Yield ``blocks`` as they are in a file, the silence of the lead-in before them."""
        for first in range(0, self.lead_in, self.rate):
            yield np.zeros((min(self.rate, self.lead_in - first), self.channels))
        yield from self.blocks(names, factor)

    @property
    def file_count(self) -> int:
        """Samples in a file."""
        return self.lead_in + self.count

    def level(self, names: Sequence[str]) -> Level:
        """Return the loudness of the sum of the stems *names*."""
        return measured(self.blocks(names), self.rate)


def take(plan: RecordingPlan, recording: Recording, *, rate: int = RATE) -> StemSet:
    """Return the stems of *plan* that *recording* asks for.

    They are as long as the bars and a tail, or until the band has rung out.  ``InputError`` for a
    rate out of range; and whatever ``named_guide`` and ``backing`` raise.
    """
    checked_rate(rate)
    count = sample_count(plan, rate)
    stems: dict[str, Stem] = {"tones": _guide(plan, recording, rate)}
    notice = ""
    if recording.backing:
        from reedmill.sound.band.stem import backing  # three dozen instruments and drums

        band = backing(plan, _arrangement(plan.score), rate, recording.band)
        count, notice = max(count, band.end), band.notice
        stems["backing"] = band.between
    if recording.drone:
        stems["drone"] = drone_stem(plan, recording.drone, rate, count)
    if recording.clicking:
        stems["click"] = click_stem(plan, recording.clicking, rate, _beside_lufs(recording))
    if count <= _SHORT_S * rate:
        stems = {name: _kept(stem, count) for name, stem in stems.items()}
    return StemSet(plan, stems, count, rate, recording.wide, notice)


def _beside_lufs(recording: Recording) -> float | None:
    """Return how loud a click is to be, ``None`` for one behind the music.

    The tones are as loud as a reed; without them there is a band or a drone, which lie under.
    """
    if recording.click_level is ClickLevel.QUIET:
        return None
    music_lufs = REED.lufs if recording.guided else REED.lufs - UNDER_LU
    return music_lufs + (_LOUDER_LU if recording.click_level is ClickLevel.LOUD else 0.0)


def _guide(plan: RecordingPlan, recording: Recording, rate: int) -> Stem:
    if not recording.voice:
        return guide(plan, rate, still=recording.pure)
    from reedmill.sound.soundfont.font_voice import named_guide  # what reads SoundFonts

    return named_guide(plan, recording.voice, rate)


def _arrangement(score: Score) -> Arrangement:
    if score.band is None:
        raise InputError(
            f'no band plays under "{score.title}". Lay it over a form, or leave the band out.'
        )
    return score.band


def _kept(stem: Stem, count: int) -> Stem:
    """Return *stem*, rendered on first use and kept; callers must not change its samples."""
    whole = cache(lambda: stem(0, count))
    return lambda first, last: whole()[first:last]


EVERYTHING = Recording(drone=("root",), click=Click.BEATS)


def stem(score: Score, name: str, *, pure: bool = False, sample_rate: int = RATE) -> Samples:
    """Return the stem ``tones``, ``drone`` or ``click`` of *score*; mono, -1 to 1.

    Tones that are *pure* keep still, as of ``Recording``.
    ``InputError`` for another name, or for a sample rate out of range.
    """
    if name not in STEMS:
        raise InputError(
            f'there is no stem "{name}".{close_match(name, STEMS)} Choose from: {", ".join(STEMS)}.'
        )
    taken = take(plan_recording(score), replace(EVERYTHING, pure=pure), rate=sample_rate)
    return taken.stems[name](0, taken.count).copy()


def render(
    score: Score,
    *,
    drone: bool = False,
    click: bool = False,
    pure: bool = False,
    sample_rate: int = RATE,
) -> Samples:
    """Return the tones of *score*, with drone and click if asked for: shape (samples,), mono.

    Exactly the sum of the stems, 0.3 s longer than the bars, not levelled.
    """
    taken, names = _asked_for(score, drone=drone, click=click, pure=pure, rate=sample_rate)
    return np.concatenate([block[:, 0] for block in taken.blocks(names)])


def wav_bytes(
    score: Score,
    *,
    drone: bool = False,
    click: bool = False,
    pure: bool = False,
    sample_rate: int = RATE,
) -> bytes:
    """Return ``render`` as a levelled WAV file with its tags; equal scores give equal bytes."""
    taken, names = _asked_for(score, drone=drone, click=click, pure=pure, rate=sample_rate)
    blocks = taken.blocks(names, taken.level(names).factor)
    tags = tags_of(taken.plan, names)
    return b"".join(wav_stream(blocks, taken.count, rate=sample_rate, tags=tags))


def _asked_for(
    score: Score, *, drone: bool, click: bool, pure: bool, rate: int
) -> tuple[StemSet, tuple[str, ...]]:
    wanted = replace(
        EVERYTHING,
        drone=EVERYTHING.drone if drone else (),
        click=EVERYTHING.click if click else None,
        pure=pure,
    )
    return take(plan_recording(score), wanted, rate=rate), wanted.mixed
