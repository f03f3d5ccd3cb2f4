"""A SoundFont preset as the voice, every note at the pitch the score asks for.

A recorded key is read along the phase of the score's own pitch curve, so equal and just
notes, another reference pitch and slides all come out as exactly as the key was measured.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy
from reedmill.practice.practice import RecordingPlan
from reedmill.sound.reed.hole_lines import MUTED_ABOVE_HZ, MUTED_DB, BreathLines, breath_lines
from reedmill.sound.reed.shape import outline, sounding_attacks
from reedmill.sound.reed.still_tone import REED
from reedmill.sound.signal.loudness import Samples, k_gain, scale_to_lufs
from reedmill.sound.soundfont.file import Preset, SoundFont, open_soundfont, parse_voice
from reedmill.sound.soundfont.pitch_tracking import silent
from reedmill.sound.soundfont.player import SYNTH_RATE, play_keys
from reedmill.sound.soundfont.resampling import Recorded
from reedmill.sound.soundfont.tuning import KeyTuning, corrected, measure_preset
from reedmill.theory.pitch import equal_hz

_REACH = 3  # semitones a neighbour may stand in for a key that cannot be trusted
_PEAK = 0.46  # as high as the reed voice comes, see the levels of the mix
_LOUD_S = 0.4  # the span a loudness meter looks at
_SPARE_S = 0.05  # more than is read, so that the kernel never reaches the end
_LONGEST_S = 600  # of all recordings together; a breath lasts 40 s at most

_HEARD_HZ = 20_000.0  # the highest that people hear
_ATTACK_S = 0.005  # the recording sets in at full strength, where its own attack is over

BreathCurve = tuple[Sequence[float], float]
"""One attack and the slides after it: its frequencies in Hz in order, and its seconds."""


@dataclass(frozen=True, slots=True, eq=False)
class SoundFontVoice:
    """The keys of a preset that some music needs, played once and kept."""

    keys: Mapping[int, KeyTuning]  # for the key nearest to a breath, the one that stands for it
    sounds: Mapping[int, Samples]  # the recordings by their own key, levelled

    def tone(self, hz: Sequence[float], rate: int) -> Recorded:
        """Return the tone for a breath through the frequencies *hz*, read along a phase."""
        found = self.keys[nearest_key(hz[0])]
        return corrected(found, self.sounds[found.key], max(hz), rate)


def nearest_key(hz: float) -> int:
    """Return the MIDI key nearest to a frequency.

    >>> nearest_key(440.0), nearest_key(262.0)
    (69, 60)
    """
    return round(69 + 12 * float(np.log2(hz / 440.0)))


def soundfont_voice(
    font: SoundFont, preset: Preset, breaths: Iterable[BreathCurve]
) -> SoundFontVoice:
    """Prepare *preset* to play *breaths*: measure it if not yet done, and record it.

    ``InputError`` when no key near a note can be trusted, or a breath is too long; and
    whatever ``play_keys`` raises.
    """
    breaths = list(breaths)
    wanted = {nearest_key(hz[0]) for hz, _ in breaths}
    around = {key + step for key in wanted for step in range(-_REACH, _REACH + 1)}
    tuning = measure_preset(font, preset, around & set(range(128)))
    trusted = {each.key: each for each in tuning.keys if each.trusted}
    keys = {key: _stand_in(trusted, key, font, preset) for key in wanted}
    lengths: dict[int, int] = {}
    for hz, seconds in breaths:
        found = keys[nearest_key(hz[0])]
        count = _needed(found, max(hz), seconds)
        lengths[found.key] = max(count, lengths.get(found.key, 0))
    if sum(lengths.values()) > _LONGEST_S * SYNTH_RATE:
        raise InputError(
            "the notes of this music are too long for a SoundFont voice. "
            "Choose a faster tempo, or the reed voice."
        )
    return SoundFontVoice(keys, _levelled(font, preset, keys, lengths))


def _stand_in(
    trusted: Mapping[int, KeyTuning], key: int, font: SoundFont, preset: Preset
) -> KeyTuning:
    """Return the trusted key nearest to *key*, the lower of two."""
    near = sorted(trusted, key=lambda each: (abs(each - key), each))
    if not near or abs(near[0] - key) > _REACH:
        raise InputError(
            f"program {preset.program} ({preset.name}) of {font.path} has no tone that can be "
            f"trusted near MIDI key {key} ({equal_hz(key):.0f} Hz).",
            way_out=Remedy.ANOTHER_VOICE,
        )
    return trusted[near[0]]


def _needed(found: KeyTuning, highest_hz: float, seconds: float) -> int:
    """Return the samples to record of a key for a breath of *seconds*."""
    return round((found.settles_s + seconds * highest_hz / found.hz + _SPARE_S) * SYNTH_RATE)


def _levelled(
    font: SoundFont, preset: Preset, keys: Mapping[int, KeyTuning], lengths: Mapping[int, int]
) -> dict[int, Samples]:
    by_key = {found.key: found for found in keys.values()}
    least = round(2 * _LOUD_S * SYNTH_RATE)  # a level needs some sound to be taken from
    asked = [(key, max(count, least)) for key, count in sorted(lengths.items())]
    sounds = play_keys(font, preset, asked) if asked else []
    return {
        key: sound * _factor(sound, by_key[key].settles_s)
        for (key, _), sound in zip(asked, sounds, strict=True)
    }


def _factor(sound: Samples, settles_s: float) -> float:
    """Return the factor to the loudness of the reed voice, with the peak held under its own."""
    start = round(settles_s * SYNTH_RATE)
    part = sound[start : start + round(_LOUD_S * SYNTH_RATE)]
    window = np.hanning(len(part))
    lines = np.abs(np.fft.rfft(part * window))[1:]
    power = len(part) * float(np.sum(window**2))
    amplitudes = np.asarray(2 * lines / np.sqrt(power), dtype=np.float64)
    hz = np.arange(1, len(lines) + 1, dtype=np.float64) * (SYNTH_RATE / len(part))
    peak = float(np.max(np.abs(sound[start:])))
    if silent(part) or not np.any(amplitudes):
        raise InputError(
            "the SoundFont's tone has died away before its pitch is steady. "
            "Choose another font, or the reed voice."
        )
    return min(scale_to_lufs(amplitudes, hz, REED.lufs), _PEAK / peak)


# --- the guide of a plan -------------------------------------------------------------------


def soundfont_guide(
    plan: RecordingPlan, font: SoundFont, preset: Preset, rate: int
) -> Callable[[int, int], Samples]:
    """Return the notes of *plan* in the voice of *preset*, instead of ``voice.guide``.

    A function from first and last sample to mono samples; equal plans give equal samples.
    Raises what ``soundfont_voice`` raises.
    """
    struck = [
        _Struck(breath_lines(heard, breath, rate), amplitude)
        for heard in plan.passes
        for breath, amplitude in sounding_attacks(heard)
    ]
    wanted = [(line.hz_range, each.seconds) for each in struck for line in each.lines.lines]
    voice = soundfont_voice(font, preset, wanted)
    starts = [each.start for each in struck]

    @lru_cache(maxsize=4)
    def played(at: int) -> Samples:
        return struck[at].sound(voice)

    def block(first: int, last: int) -> Samples:
        sound = np.zeros(last - first)
        for at in range(max(bisect_right(starts, first) - 1, 0), bisect_right(starts, last - 1)):
            part = played(at)[max(first - starts[at], 0) : last - starts[at]]
            begin = max(starts[at] - first, 0)
            sound[begin : begin + len(part)] = part
        return sound

    return block


def named_guide(plan: RecordingPlan, voice: str, rate: int) -> Callable[[int, int], Samples]:
    """Return ``soundfont_guide`` in the *voice* a player names: ``font.sf2`` or ``font.sf2:23``.

    Raises what ``parse_voice``, ``open_soundfont`` and ``soundfont_voice`` raise.
    """
    path, program = parse_voice(voice)
    font = open_soundfont(path)
    return soundfont_guide(plan, font, font.preset(program), rate)


@dataclass(frozen=True, slots=True)
class _Struck:
    """One attack and the slides after it."""

    lines: BreathLines
    amplitude: float

    @property
    def start(self) -> int:
        return self.lines.start

    @property
    def seconds(self) -> float:
        return self.lines.count / self.lines.rate

    def sound(self, voice: SoundFontVoice) -> Samples:
        """Return all samples of the attack."""
        count, rate = self.lines.count, self.lines.rate
        if not count:
            return np.zeros(0)
        # Recorded tones have phases by chance: their powers add, so this is as loud as one.
        factors = [max(len(span.sounding), 1) ** -0.5 for span in self.lines.spans]
        tone = np.zeros(count)
        for number, line in enumerate(self.lines.lines):
            passed = np.cumsum(line.step_hz(rate))
            cycles = np.concatenate([[0.0], passed[:-1]]) / rate
            played = voice.tone(line.hz_range, rate).along(cycles)
            for closed in (False, True):
                gain = self.lines.gain(number, factors, closed=closed)
                if not gain.silent:
                    share = gain.between(0, count)
                    hands = _muffled(played, rate) if closed else played
                    tone += hands if share is None else hands * share
        tone *= self.amplitude
        outline(count, _ATTACK_S, rate).give(tone)
        return tone


def _muffled(sound: Samples, rate: int) -> Samples:
    """Return *sound* from closed hands: duller as the reed voice is, and softer by as much."""
    count = 2 * len(sound)  # with silence, so that its end does not run into its beginning
    spectrum = np.fft.rfft(sound, count)
    hz = np.fft.rfftfreq(count, 1 / rate)
    duller = spectrum * np.hypot(1, hz / REED.soft_above_hz) / np.hypot(1, hz / MUTED_ABOVE_HZ)
    heard = k_gain(np.minimum(hz, _HEARD_HZ))
    before, after = (float(np.sum(np.abs(each * heard) ** 2)) for each in (spectrum, duller))
    factor = np.sqrt(before / after) * 10 ** (-MUTED_DB / 20) if after else 0.0
    return np.asarray(factor * np.fft.irfft(duller, count)[: len(sound)], dtype=np.float64)
