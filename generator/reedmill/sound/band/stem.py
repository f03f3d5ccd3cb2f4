"""The stem of the band: every stroke of an arrangement where each pass of a plan has it.

Each tone is made once, whole, and laid down wherever it is struck; so any stretch of a
recording can be made by itself, and an hour needs no more memory than a minute.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from reedmill.base.errors import InputError, ReedmillError
from reedmill.practice.practice import PLAIN_BAND, RecordingPlan
from reedmill.score.arrangement import Arrangement, Part
from reedmill.sound.band.soundfont import font_tones
from reedmill.sound.band.strokes import ToneStroke, strokes
from reedmill.sound.band.synth import plain_tones
from reedmill.sound.band.tones import Tone, ToneLengths, ToneSamples
from reedmill.sound.reed.still_tone import REED
from reedmill.sound.signal.level import UNDER_LU, measured
from reedmill.sound.signal.limiter import Stem, limited
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.rumble import without_rumble
from reedmill.sound.soundfont.file import open_soundfont
from reedmill.sound.soundfont.player import default_soundfont

_PARTS_LUFS = {Part.BASS: -26.0, Part.COMP: -28.0, Part.DRUMS: -27.0}  # against one another
# A level is that of stretches spread over all choruses, because the first may be quieter than the
# rest; so a long recording costs no more than one of two minutes.
_STRETCH_S, _STRETCHES = 4, 24
_GOLDEN = 0.618034  # steps of it fall into step with no bars
_CEILING = 0.4  # of the band's peaks; 1 would be full scale

_MOST_RING_S = 4.0  # after the last bar
_FADE_S = 0.3  # of what is still ringing then


@dataclass(frozen=True, slots=True)
class BandStem:
    """The stem of a band, and notices about its sound."""

    between: Stem  # mono samples from a first to a last one
    end: int  # the first sample after the last sound
    notice: str  # what a player should know of the sound, one sentence or nothing


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """The strokes of a band in time order, one row each, and the tones they use."""

    tones: tuple[ToneSamples, ...]
    which: NDArray[np.int64]  # the tone of each stroke
    starts: NDArray[np.int64]  # samples
    let_go: NDArray[np.int64]  # samples: from here on it falls
    falls: NDArray[np.int64]  # samples: where it would have fallen to nothing
    ends: NDArray[np.int64]  # samples: where it ends, which may be sooner
    levels: Samples  # amplitude
    fades_at: int  # sample where all that rings begins to fade
    end: int  # the first sample after the last sound

    def between(self, first: int, last: int) -> Samples:
        """Return mono samples from *first* to *last*."""
        sound = np.zeros(last - first)
        longest = max(map(len, self.tones), default=0)
        low, high = np.searchsorted(self.starts, (first - longest, last))
        for at in (np.flatnonzero(self.ends[low:high] > first) + low).tolist():
            self._lay(sound, first, at)
        fading = sound[max(self.fades_at - first, 0) :]
        places = max(first, self.fades_at) + np.arange(len(fading))
        left = np.clip((self.end - places) / max(self.end - self.fades_at, 1), 0, 1)
        fading *= np.sin(np.pi / 2 * left) ** 2
        return sound

    def _lay(self, sound: Samples, first: int, at: int) -> None:
        """Add one stroke to *sound*, which begins at sample *first*."""
        start, end = int(self.starts[at]), int(self.ends[at])
        let_go, falls = int(self.let_go[at]), int(self.falls[at])
        begin, until = max(start, first), min(end, first + len(sound))
        part = self.tones[self.which[at]][begin - start : until - start] * float(self.levels[at])
        falling = part[max(let_go - begin, 0) :]
        if len(falling):
            fallen = max(begin, let_go) - let_go + np.arange(len(falling))
            falling *= np.cos(np.pi / 2 * fallen / (falls - let_go)) ** 2
        sound[begin - first : until - first] += part

    def scaled(self, levels: Samples) -> _Laid:
        """Return the same strokes, each times its share of *levels*."""
        return replace(self, levels=self.levels * levels)

    def lufs(self, rows: NDArray[np.bool_], rate: int) -> float:
        """Return the integrated loudness of some of the strokes."""
        some = replace(
            self, which=self.which[rows], starts=self.starts[rows], let_go=self.let_go[rows],
            falls=self.falls[rows], ends=self.ends[rows], levels=self.levels[rows],
        )  # fmt: skip
        return _lufs(some.between, self.end, rate)


def backing(plan: RecordingPlan, arrangement: Arrangement, rate: int, band: str = "") -> BandStem:
    """Return *arrangement* played along with *plan* by *band*, ``UNDER_LU`` under the tones.

    Every pass has the strokes of its own bars, at the pass's tempo; a score longer than the
    arrangement hears it again from its start.  *band* is a SoundFont, ``plain`` for the
    built-in band, or nothing: the usual font where it can be played, else the built-in band,
    with a ``notice``.  ``InputError`` for another meter than the score's; and whatever
    ``font_tones`` raises.
    """
    _check_meter(plan, arrangement)
    played = strokes(plan, arrangement, rate)
    wanted: dict[Tone, int] = {}
    for each in played:
        wanted[each.tone] = max(wanted.get(each.tone, 0), each.end - each.start)
    tones, notice = _tones(band, wanted, plan.score.reference_hz, rate)
    laid = _laid_out(played, tones, round(plan.length_s * rate), rate)
    return BandStem(_levelled(laid, played, rate), laid.end, notice)


def _check_meter(plan: RecordingPlan, arrangement: Arrangement) -> None:
    ours, theirs = plan.score.meter, arrangement.meter
    if ours != theirs:
        raise InputError(
            f'the band plays "{arrangement.feel}" in {theirs.name}, but "{plan.score.title}" '
            f"is in {ours.name}. Choose a feel in {ours.name}."
        )


def _tones(
    band: str, wanted: ToneLengths, reference_hz: float, rate: int
) -> tuple[dict[Tone, ToneSamples], str]:
    """Return the tones, and a notice about them."""
    if band == PLAIN_BAND:
        return plain_tones(wanted, reference_hz, rate), ""
    if band:
        return font_tones(open_soundfont(Path(band)), wanted, reference_hz, rate), ""
    try:
        font = open_soundfont(default_soundfont())
        return font_tones(font, wanted, reference_hz, rate), ""
    except ReedmillError as error:
        told = f"no SoundFont player here: the plain built-in band plays. {error}"
        return plain_tones(wanted, reference_hz, rate), told


def _laid_out(
    played: list[ToneStroke], tones: Mapping[Tone, ToneSamples], bars_end: int, rate: int
) -> _Laid:
    """Lay out the strokes as rows; a tone that has died away ends its stroke."""
    order = {tone: at for at, tone in enumerate(tones)}
    which = np.array([order[each.tone] for each in played], dtype=np.int64)
    starts = np.array([each.start for each in played], dtype=np.int64)
    lengths = np.array([len(sound) for sound in tones.values()], dtype=np.int64)
    ends = np.minimum(starts + lengths[which], [each.end for each in played])
    end = min(int(ends.max(initial=0)), bars_end + round(_MOST_RING_S * rate))
    return _Laid(
        tuple(tones.values()),
        which,
        starts,
        np.array([each.let_go for each in played], dtype=np.int64),
        np.array([each.end for each in played], dtype=np.int64),
        ends,
        np.array([each.level for each in played]),
        max(end - round(_FADE_S * rate), bars_end),
        end,
    )


def _levelled(laid: _Laid, played: list[ToneStroke], rate: int) -> Stem:
    """Balance the players against one another, and all of them under the tones.

    The rumble goes that low strings and skins leave below the music.  Drums have peaks so high
    that a file could not have its loudness; these are limited.
    """
    for part, lufs in _PARTS_LUFS.items():
        rows = np.array([each.tone.part is part for each in played], dtype=bool)
        factor = _factor(laid.lufs(rows, rate), lufs)
        laid = laid.scaled(np.where(rows, factor, 1.0))
    stem = without_rumble(limited(laid.between, _CEILING, rate), rate)
    factor = _factor(_lufs(stem, laid.end, rate), REED.lufs - UNDER_LU)
    return lambda first, last: stem(first, last) * factor


def _lufs(stem: Stem, end: int, rate: int) -> float:
    """Return the integrated loudness of stretches of *stem*, taken for the whole."""
    cuts = (
        range(first, min(first + _STRETCH_S * rate, end) + rate - 1, rate)
        for first in _heard_at(end, rate)
    )
    seconds = ((at, min(at + rate, end)) for each in cuts for at in each[:-1])
    return measured((stem(*pair)[:, np.newaxis] for pair in seconds), rate).lufs


def _heard_at(end: int, rate: int) -> list[int]:
    """Return where the stretches begin from which a level is taken, of sound up to *end*."""
    size = _STRETCH_S * rate
    there = -(-end // size)
    if there <= _STRETCHES:
        return [number * size for number in range(there)]
    apart = there / _STRETCHES
    return [int((number + number * _GOLDEN % 1) * apart) * size for number in range(_STRETCHES)]


def _factor(lufs: float, wanted: float) -> float:
    """Return the amplitude factor from one loudness to another; 1 for silence."""
    return float(10 ** ((wanted - lufs) / 20)) if np.isfinite(lufs) else 1.0
