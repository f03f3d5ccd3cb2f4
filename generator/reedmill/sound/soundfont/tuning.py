"""The tuning error of each key of a SoundFont preset, and whether it can be corrected.

Each key is played, its pitch measured, the tone read at the speed that puts it right, and
measured again: the figure after correction is heard, not calculated.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass
from enum import Enum

import numpy as np

from reedmill.sound.signal.loudness import Samples
from reedmill.sound.soundfont import cache
from reedmill.sound.soundfont.file import Preset, SoundFont
from reedmill.sound.soundfont.pitch_tracking import FRAME_S, TonePitches, silent, track
from reedmill.sound.soundfont.player import SYNTH_RATE, play_keys
from reedmill.sound.soundfont.resampling import Recorded, recorded
from reedmill.theory.pitch import equal_hz

HARP_KEYS_MIDI = range(43, 105)
"""What is measured unless other keys are asked for: every note from a low G harp, hole 1 blow,
to a high G harp with its overbends."""

STEADY_CENTS = 5.0
"""How far a tone may waver about its own pitch.  About what an ear can tell apart, so a
learner would hear more as wrong (common practice, no published source)."""

RIGHT_CENTS = 2.0
"""What a corrected key may still be out."""

_FAR_CENTS = 100.0  # beyond that a key plays another note than its own
_HELD_S = 2.0  # long enough for a vibrato that sets in late
_SETTLED_BY_S = 0.5  # the attack of a blown note is over by then
_SETTLED_CENTS = 1.0  # from the steady pitch: less than anybody hears
_FEWEST_FRAMES = 8  # of a steady part: 0.16 s, a period of a 6 Hz vibrato
_AT_A_TIME = 64  # keys: two minutes of sound from one start of FluidSynth
_UNHEARD_S = FRAME_S / 3  # at the beginning of a frame its window lets next to nothing through


class Fault(Enum):
    """A reason why a key cannot be trusted."""

    NONE = ""
    SILENT = "silent"
    SHORT = "short"
    NO_PITCH = "no pitch"
    OTHER_NOTE = "other note"
    WAVERS = "wavers"


@dataclass(frozen=True, slots=True)
class KeyTuning:
    """The measured tuning of one key."""

    key: int  # MIDI
    fault: Fault
    hz: float = 0.0  # as the font plays it, once it is steady; 0 when it has no pitch
    wavers_cents: float = 0.0  # the furthest it strays from that
    settles_s: float = 0.0  # from when on it strays no further
    after_cents: float = 0.0  # from its target after correction

    @property
    def before_cents(self) -> float:
        """Cents above equal temperament at A4 = 440 Hz in the font; 0 without a pitch."""
        return _cents(self.hz, equal_hz(self.key)) if self.hz else 0.0

    @property
    def trusted(self) -> bool:
        """True when the key sounds right after correction."""
        return self.fault is Fault.NONE and abs(self.after_cents) <= RIGHT_CENTS


@dataclass(frozen=True, slots=True)
class PresetTuning:
    """The measured tuning of a preset, key by key, lowest first."""

    font: SoundFont
    preset: Preset
    keys: tuple[KeyTuning, ...]

    @property
    def trusted(self) -> bool:
        """True when every measured key sounds right after correction."""
        return all(each.trusted for each in self.keys)


def measure_preset(
    font: SoundFont, preset: Preset, keys: Iterable[int] = HARP_KEYS_MIDI
) -> PresetTuning:
    """Measure *preset* at each of *keys* (MIDI, 0 to 127); keep the result for the next time.

    Raises what ``play_keys`` raises.
    """
    digest = cache.content_hash(font)
    known = {row[0]: _from_row(row) for row in cache.load(digest, preset).values() if _likely(row)}
    wanted = sorted(set(keys))
    missing = [key for key in wanted if key not in known]
    if missing:
        known |= {each.key: each for each in _measured(font, preset, missing)}
        # Where all is silent the synth may lack what the font needs, and get it one day.
        if any(each.fault is not Fault.SILENT for each in known.values()):
            cache.save_tunings(digest, preset, [_to_row(known[key]) for key in sorted(known)])
    return PresetTuning(font, preset, tuple(known[key] for key in wanted))


def _likely(row: cache.CachedRow) -> bool:
    """Tell whether a kept row is plausible: its pitch is near the key it corrects."""
    if row.fault == Fault.NONE.value:
        return row.hz > 0 and abs(_cents(row.hz, equal_hz(row.key))) <= _FAR_CENTS
    return row.fault in {each.value for each in Fault}


def _to_row(found: KeyTuning) -> cache.CachedRow:
    key, fault, *numbers = astuple(found)
    return cache.CachedRow(key, fault.value, *numbers)


def _from_row(row: cache.CachedRow) -> KeyTuning:
    key, fault, *numbers = row
    return KeyTuning(key, Fault(fault), *numbers)


def _measured(font: SoundFont, preset: Preset, keys: list[int]) -> Iterator[KeyTuning]:
    count = round(_HELD_S * SYNTH_RATE)
    for start in range(0, len(keys), _AT_A_TIME):
        some = keys[start : start + _AT_A_TIME]
        sounds = play_keys(font, preset, [(key, count) for key in some])
        for key, sound in zip(some, sounds, strict=True):
            yield measure_key(key, sound)


def measure_key(key: int, sound: Samples) -> KeyTuning:
    """Measure *sound*, the MIDI *key* held for two seconds at ``SYNTH_RATE``."""
    if silent(sound):
        return KeyTuning(key, Fault.SILENT)
    heard = track(sound, SYNTH_RATE)
    if not len(heard.hz):
        return KeyTuning(key, Fault.NO_PITCH)
    if len(heard.hz) < 2 * _FEWEST_FRAMES:
        return KeyTuning(key, Fault.SHORT)
    hz, wavers, settles_s = _steady(heard)
    found = KeyTuning(key, _fault(key, hz, wavers), hz, wavers, settles_s)
    if found.fault is not Fault.NONE:
        return found
    after = _after_cents(found, sound)
    if after is None:
        return KeyTuning(key, Fault.SHORT)
    return KeyTuning(key, found.fault, hz, wavers, settles_s, after)


def _steady(heard: TonePitches) -> tuple[float, float, float]:
    """Return the pitch of the steady part in Hz, its spread in cents, and its start in seconds."""
    late = (heard.starts_s >= _SETTLED_BY_S).astype(bool)
    if np.count_nonzero(late) < _FEWEST_FRAMES:  # a plucked tone that dies away
        late = np.arange(len(late)) >= len(late) // 2
    hz = float(np.median(heard.hz[late]))
    strays = np.abs(1200 * np.log2(heard.hz / hz))
    wavers = float(strays[late].max())
    loose = np.flatnonzero(strays > max(wavers, _SETTLED_CENTS))
    first = int(loose[-1]) + 1 if len(loose) else 0
    return hz, wavers, float(heard.starts_s[first]) + _UNHEARD_S


def _fault(key: int, hz: float, wavers_cents: float) -> Fault:
    if wavers_cents > STEADY_CENTS:
        return Fault.WAVERS
    far = abs(_cents(hz, equal_hz(key))) > _FAR_CENTS
    return Fault.OTHER_NOTE if far else Fault.NONE


def corrected(found: KeyTuning, sound: Samples, highest_hz: float, rate: int) -> Recorded:
    """Return *sound*, the key of *found*, in tune as a tone to read along a phase.

    It begins where the tone has settled: a recorded attack scoops from up to 80 cents
    below, and a learner copies what sounds.  *highest_hz* is the highest pitch it will
    be read at, *rate* the samples a second it is read for.
    """
    speed = highest_hz / found.hz * SYNTH_RATE / rate
    return recorded(sound, found.settles_s * SYNTH_RATE, SYNTH_RATE / found.hz, speed)


def _after_cents(found: KeyTuning, sound: Samples) -> float | None:
    """Return the error left when the key is played at its target, as heard.

    None when too little of it is left to be heard once it has settled.
    """
    target_hz = equal_hz(found.key)
    left = (len(sound) / SYNTH_RATE - found.settles_s) * found.hz  # periods
    cycles = np.arange(0, left - 2, target_hz / SYNTH_RATE)
    heard = track(corrected(found, sound, target_hz, SYNTH_RATE).along(cycles), SYNTH_RATE)
    return _cents(float(np.median(heard.hz)), target_hz) if len(heard.hz) else None


def _cents(hz: float, from_hz: float) -> float:
    return float(1200 * np.log2(hz / from_hz))
