"""What sounds near a player and is not he: a drone, a band, a click, coughs, talk, a quiet room.

Talk is eSpeak NG's, which Praat carries; a cough is Praat's formant synthesis, KlattGrid (Weenink,
"The KlattGrid speech synthesizer", Interspeech 2009), in the three phases a cough has: a burst, the
air after it, and a voice that falls (Korpas, Sadlonova and Vrabec, "Analysis of the cough sound: an
overview", Pulmonary Pharmacology 9, 1996).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from parselmouth.praat import call, run

from hearing.conditions import band, click, drone, encoded, loudness, pink
from hearing.evaluation import score_of, taken
from hearing.playing import FAULTLESS, Played, play
from hearing.sounding import RATE, Samples, drawn_tone, sound
from reedmill.base.errors import InputError
from reedmill.ear import HeardTake, Verdict, hear
from reedmill.score.score import Score

OtherSound = Callable[[float, Score, np.random.Generator], Samples]

PAUSE_S, ALONE_S = 1.5, 16.0
THROUGH = ("drone", "band", "click", "room noise")  # go on while somebody plays

_WORDS = (
    "Play that again, a little slower, and listen to where it comes to rest.",
    "One, two, three, four. No, that was too low! Once more, from the anchor.",
    "Where did I put the other one? Oh, there it is, under the music stand.",
)
_VOICES = ("Female1", "Male1", "Female3")


def speech(seconds: float, _score: Score, rng: np.random.Generator) -> Samples:
    """Three people who talk, one after another."""
    first = int(rng.integers(len(_VOICES)))
    spoken = _spoken()
    return _for(seconds, np.concatenate([*spoken[first:], *spoken[:first]]))


@cache
def _spoken() -> tuple[Samples, ...]:
    """What each of them says; made at once, because a voice remembers what was said before."""
    return tuple(_said(voice, words) for voice, words in zip(_VOICES, _WORDS, strict=True))


def _said(voice: str, words: str) -> Samples:
    synthesizer: Any = call("Create SpeechSynthesizer", "English (Great Britain)", voice)
    sound = call(synthesizer, "To Sound", words, "no")
    return np.asarray((sound[0] if isinstance(sound, list) else sound).values[0])


def coughing(seconds: float, _score: Score, rng: np.random.Generator) -> Samples:
    """Somebody who coughs every second or so, sometimes twice, each time a little otherwise."""
    whole = np.zeros(int(seconds * RATE))
    at_s = 0.3
    while at_s < seconds - 0.6:
        cough = _cough(int(rng.integers(6)))
        first = int(at_s * RATE)
        whole[first : first + len(cough)] += cough[: len(whole) - first]
        at_s += float(rng.choice([0.5, 1.1, 1.6]))
    return whole


@cache
def _cough(number: int) -> Samples:
    rng = np.random.default_rng(number)
    grid: Any = call("Create KlattGrid", "cough", 0, 0.45, 5, 0, 0, 0, 0, 0, 0)
    formants = rng.uniform([550, 1000, 2100, 3300, 4100], [850, 1600, 2900, 3900, 4800])
    for at, hz in enumerate(formants, 1):
        call(grid, "Add oral formant frequency point", at, 0.1, float(hz))
        call(grid, "Add oral formant bandwidth point", at, 0.1, 80.0 + 0.06 * float(hz))
    top = float(rng.uniform(220, 420))
    for at_s, hz in ((0.2, top), (0.4, 0.55 * top)):
        call(grid, "Add pitch point", at_s, hz)
    for at_s, level_db in ((0.0, 0), (0.005, 90), (0.05, 78), (0.2, 70), (0.43, 30)):
        call(grid, "Add aspiration amplitude point", at_s, level_db)
    for at_s, level_db in ((0.19, 0), (0.24, 68), (0.33, 66), (0.42, 0)):
        call(grid, "Add voicing amplitude point", at_s, level_db)
    run(f"random_initializeWithSeedUnsafelyButPredictably ({number + 1})")  # so Praat calls it
    sound = call(grid, "To Sound")
    return np.asarray(call(sound, "Resample", RATE, 50).values[0])


def silent_room(seconds: float, _score: Score, _rng: np.random.Generator) -> Samples:
    """Nothing at all."""
    return np.zeros(int(seconds * RATE))


def room_noise(seconds: float, _score: Score, rng: np.random.Generator) -> Samples:
    """A fan, and the hum of the mains at 50 Hz with its harmonics."""
    at_s = np.arange(int(seconds * RATE)) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * k * at_s) / k for k in range(1, 9))
    return np.asarray(pink(len(at_s), rng) + 0.7 * hum)


def _for(seconds: float, sound: Samples) -> Samples:
    return np.resize(sound, int(seconds * RATE))


OTHER_SOUNDS: dict[str, OtherSound] = {
    "drone": drone,
    "band": band,
    "click": click,
    "cough": coughing,
    "speech": speech,
    "silence": silent_room,
    "room noise": room_noise,
}


def at_level(sound: Samples, level_db: float) -> Samples:
    """*sound* with so many dB against full scale where it sounds."""
    loud = sound[np.abs(sound) > 0.05 * np.max(np.abs(sound), initial=0.0)]
    return sound * (10 ** (level_db / 20) / np.sqrt(np.mean(loud**2))) if len(loud) else sound


# --- heard alone, and beside a player --------------------------------------------------------


@dataclass(frozen=True)
class FalseVerdicts:
    """What one take came to."""

    what: str
    level_db: float
    takes: int = 1
    judged: int = 0  # notes with a verdict that nobody played
    extra: int = 0  # tones said to be put in that nobody played
    played: int = 0  # notes that were played, all in place
    told: int = 0  # ... and are said to be
    told_of: tuple[str, ...] = ()  # each mistake, for whoever looks into it


def alone(what: str, level_db: float, drill: str, harp: str) -> FalseVerdicts:
    """A take that holds nothing else."""
    score = score_of(drill, harp)
    rng = np.random.default_rng(len(what) + round(-level_db))
    heard = _heard(at_level(OTHER_SOUNDS[what](ALONE_S, score, rng), level_db), rng, drill, harp)
    return replace(_compared(heard, [], f"{what} {level_db:g} dB {drill} {harp}"),
                   what=what, level_db=level_db)  # fmt: skip


def between(what: str, level_db: float, drill: str, harp: str) -> FalseVerdicts:
    """A faultless take with *what* in its pauses."""
    score = score_of(drill, harp)
    rng = np.random.default_rng(len(what) + round(-level_db))
    played = paused(play(score, FAULTLESS, rng))
    tones = sound(played, drawn_tone(rng), played[-1].end_s + PAUSE_S, rng)
    beside = np.resize(OTHER_SOUNDS[what](len(tones) / RATE, score, rng), len(tones))
    if what not in THROUGH:
        beside = beside * in_pauses(len(tones), played)
    own_db = 20 * np.log10(loudness(tones, played))
    heard = _heard(tones + at_level(beside, own_db + level_db), rng, drill, harp)
    return replace(_compared(heard, played, f"{what} {level_db:g} dB {drill} {harp}"),
                   what=what, level_db=level_db)  # fmt: skip


def paused(played: Sequence[Played]) -> list[Played]:
    """*played* with a pause after each breath."""
    found: list[Played] = []
    later = 0.0
    for each in played:
        later += PAUSE_S if found and not each.slid else 0.0
        found.append(replace(each, start_s=each.start_s + later, end_s=each.end_s + later))
    return found


def in_pauses(count: int, played: Sequence[Played]) -> Samples:
    """1 where nobody plays, 0 where somebody does, with soft edges."""
    there = np.ones(count)
    for each in played:
        there[int((each.start_s - 0.08) * RATE) : int((each.end_s + 0.08) * RATE)] = 0
    return np.convolve(there, np.ones(441) / 441, "same")


def _heard(samples: Samples, rng: np.random.Generator, drill: str, harp: str) -> HeardTake | None:
    samples = samples + (1e-5 * rng.normal(0, 1, len(samples)) if np.any(samples) else 0.0)
    content = encoded(np.clip(samples, -1, 1), "wav", "pcm_s16le", None, RATE)
    try:
        return hear(taken(content, ".wav"), score_of(drill, harp))
    except InputError:
        return None


def _compared(heard: HeardTake | None, played: Sequence[Played], where: str) -> FalseVerdicts:
    true = {each.index: each for each in played if each.index is not None}
    if heard is None:
        refused = (f"{where}: refused",) if played else ()
        return FalseVerdicts("", 0.0, played=len(true), told_of=refused)
    judged = [note for note in heard.notes if note.start_s is not None
              and (note.verdict.measured or note.verdict is Verdict.ANOTHER_NOTE)]  # fmt: skip
    own = [note for note in judged if note.index in true
           and abs((note.start_s or 0.0) - true[note.index].start_s) < 0.25]  # fmt: skip
    ours = {id(note) for note in own}
    false = [f"{where}: note {note.index} at {note.start_s:.1f} s: {note.verdict.value}"
             for note in judged if id(note) not in ours]  # fmt: skip
    extra = [f"{where}: extra at {each.start_s:.1f} s: {each.hz:.0f} Hz" for each in heard.extra]
    told = {note.index for note in own if note.verdict is Verdict.ON}
    lost = [f"{where}: note {index} is not said to be on" for index in true if index not in told]
    return FalseVerdicts("", 0.0, 1, len(false), len(extra), len(true), len(told),
                 (*false, *extra, *lost))  # fmt: skip
