"""What a file is called: all that tells it from the drill as it is written, in words.

A name has the title, the harp, the position, then whatever was asked for besides, so that
two different requests never share a name: ``two-bars-home-c-2nd-48-bpm-a442-large.pdf``.
A word stands only in the names of the files it changes: large print in those of pages, an
echo in those of sound, MIDI and data.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.text import file_slug
from reedmill.harp import Harp
from reedmill.practice import PLAIN_BAND, Click, Practice, Recording
from reedmill.score import Score
from reedmill.theory.degrees import CHROMATIC
from reedmill.theory.intonation import INTONATIONS, Intonation

if TYPE_CHECKING:
    from reedmill.sheet.look import Look

_USUAL_HZ = 440.0
_MOST_BYTES = 200  # of a name in UTF-8; file systems have 255, and an ending is still to come


def harp_words(harp: Harp) -> str:
    """A harp in a file name: ``low-f-sharp``, ``c-natural-minor``."""
    return file_slug(harp.full_name.replace("#", " sharp"))


def score_name(score: Score) -> str:
    """The name that every file of *score* begins with.

    Title, harp and position, then what is not as the drill is written: embouchure, form,
    tempo, tuning.
    """
    return joined(
        file_slug(score.title), harp_words(score.harp), score.position.ordinal,
        *map(file_slug, _score_words(score)),
    )  # fmt: skip


def _score_words(score: Score) -> Iterator[str]:
    if score.embouchure:
        yield score.embouchure.short
    if score.band and score.notes:
        yield f"over {score.band.form}"
    yield from score.variant
    yield from tuning_words(score.reference_hz, score.intonation)


def tuning_words(reference_hz: float, intonation: Intonation) -> Iterator[str]:
    """The tuning, where it is not equal temperament at A4 = 440 Hz: ``a442``, ``just5``."""
    if reference_hz != _USUAL_HZ:
        yield f"a{reference_hz:g}"
    base = next((name for name in INTONATIONS if intonation.name.startswith(name)), "")
    if base != "equal":
        yield base or intonation.name
    for degree, cents in zip(CHROMATIC, intonation.offsets_cents or (0,) * 12, strict=True):
        if cents:
            yield f"{degree.name} {'up' if cents > 0 else 'down'} {abs(cents):g}"


def page_words(look: Look) -> tuple[str, ...]:
    """What is not usual about a page."""
    words = {
        look.paper: look.paper != "a4",
        "large": look.large,
        "black": look.black,
        f"{look.show} alone": look.show != "both",
    }
    return tuple(word for word, unusual in words.items() if unusual)


def practice_words(practice: Practice) -> tuple[str, ...]:
    """How a drill is gone through, where it is not once from beginning to end."""
    echo = practice.echo_bars
    words = {
        "echo": echo == 0,
        f"echo {echo}": bool(echo),
        f"{practice.repeats} times": practice.repeats > 1,
        "fading": practice.fade_out,
        _ladder(practice.tempi_bpm): bool(practice.tempi_bpm),
        f"count-in {practice.count_in_bars}": practice.count_in_bars > 0,
    }
    return tuple(word for word, unusual in words.items() if unusual)


def _ladder(tempi_bpm: Sequence[int]) -> str:
    if len(tempi_bpm) < 2:
        return " ".join(map(str, tempi_bpm))
    step = abs(tempi_bpm[1] - tempi_bpm[0])
    return f"{tempi_bpm[0]} to {tempi_bpm[-1]} by {step}"


def tones_words(recording: Recording) -> tuple[str, ...]:
    """What tells the tones alone from those of another recording."""
    return (*practice_words(recording.practice), *_voice(recording), *_bits(recording))


def mix_words(recording: Recording) -> tuple[str, ...]:
    """What tells a mix, and the stems cut from it, from those of another recording."""
    words = {
        "without tones": not recording.guided and not recording.backing,
        _band(recording.band): bool(recording.band),
        f"drone {' '.join(recording.drone[1:])}": bool(recording.drone),
        "click": recording.click is Click.BEATS,
        "offbeats": recording.click is Click.OFFBEATS,
        "wide": recording.wide,
    }
    return (*tones_words(recording), *(word for word, there in words.items() if there))


def midi_words(recording: Recording) -> tuple[str, ...]:
    """What tells a MIDI file or data from those of another recording."""
    words = {
        f"drone {' '.join(recording.drone[1:])}": len(recording.drone) > 1,
        "offbeats": recording.click is Click.OFFBEATS,
    }
    there = (word for word, asked in words.items() if asked)
    return (*practice_words(recording.practice), *there)


def _voice(recording: Recording) -> tuple[str, ...]:
    return (f"voice {_font(recording.voice)}",) if recording.voice else ()


def _bits(recording: Recording) -> tuple[str, ...]:
    return (f"{recording.bits} bit",) if recording.bits != Recording().bits else ()


def _band(font: str) -> str:
    return "plain band" if font == PLAIN_BAND else f"band {_font(font)}"


def _font(named: str) -> str:
    """A SoundFont by the name of its file, and the program if one is named."""
    path, colon, program = named.rpartition(":")
    if colon and program.isdigit():
        return f"{Path(path).stem} {program}"
    return Path(named).stem


def joined(*words: str) -> str:
    """One file name from slugs, shortened by a digest when it would be too long for a disk.

    >>> joined("home", "", "c", "2nd")
    'home-c-2nd'
    """
    name = "-".join(filter(None, words))
    if len(name.encode()) <= _MOST_BYTES:
        return name
    digest = hashlib.sha256(name.encode()).hexdigest()[:8]
    kept = name.encode()[: _MOST_BYTES - len(digest) - 1].decode("utf-8", "ignore")
    return f"{kept.rstrip('-')}-{digest}"


def with_words(name: str, words: Sequence[str]) -> str:
    """*name* with more words after it."""
    return joined(name, *map(file_slug, words))
