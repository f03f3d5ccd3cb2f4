"""Single notes of a SoundFont as samples, by way of FluidSynth in another process."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

import numpy as np

from reedmill.base.children import TimeoutExpired, run
from reedmill.base.errors import InputError, RenderError, reason_of
from reedmill.sound import soundfont_worker as worker
from reedmill.sound.loudness import Samples
from reedmill.sound.soundfont_file import Preset, SoundFont

SYNTH_RATE = 44_100
"""Samples a second of everything FluidSynth renders for us."""

VELOCITY = 100
"""How hard every key is struck; a font may have layers, and each its own tuning."""

_START_S = 60  # for a large font on a slow disk
_SLOWEST = 2  # times real time; measured: 100 and more

INSTALL = {
    "linux": "apt-get install libfluidsynth3 (Fedora: dnf install fluidsynth-libs, "
    "Arch: pacman -S fluidsynth)",
    "darwin": "brew install fluid-synth",
    "win32": "choco install fluidsynth",
}
"""What installs libfluidsynth, by ``sys.platform``."""


def default_soundfont() -> Path:
    """The font that comes with the Python package pretty_midi, which is not imported.

    ``InputError`` when the package is not there.
    """
    found = find_spec("pretty_midi")
    for folder in (found and found.submodule_search_locations) or ():
        path = Path(folder) / "TimGM6mb.sf2"
        if path.is_file():
            return path
    raise InputError(
        "no SoundFont is named and the usual one is not installed. "
        'Name a file, or install it: pip install "reedmill[soundfont]"'
    )


class Ask(NamedTuple):
    """One note to play: which, how hard and for how many samples."""

    bank: int
    number: int  # the program from 0
    key: int  # MIDI
    velocity: int
    samples: int


def play_keys(font: SoundFont, preset: Preset, keys: Sequence[tuple[int, int]]) -> list[Samples]:
    """``play_notes`` for each of *keys*, a MIDI key and a number of samples, at ``VELOCITY``."""
    where = (preset.bank, preset.number)
    return play_notes(font, [Ask(*where, key, VELOCITY, count) for key, count in keys])


def play_notes(font: SoundFont, notes: Sequence[Ask]) -> list[Samples]:
    """Each of *notes* by itself: the key struck and held so long.

    Mono, at ``SYNTH_RATE``, from the moment the key is struck, never released; a key
    without a sound in the font is silence.  Equal input gives equal samples.
    ``RenderError`` when FluidSynth is missing, crashes or takes too long, ``InputError``
    when it refuses the font.
    """
    ask = {"path": str(font.path.absolute()), "rate": SYNTH_RATE, "notes": list(notes)}
    raw = _run(font, json.dumps(ask), sum(note.samples for note in notes))
    both = np.frombuffer(raw, "<f4")
    if not np.all(np.isfinite(both)):
        raise RenderError(f"{font.path} makes FluidSynth play numbers that are no sound.")
    mono = both.reshape(-1, 2).mean(axis=1, dtype=np.float64)
    return np.split(mono, np.cumsum([note.samples for note in notes])[:-1])


def _run(font: SoundFont, ask: str, count: int) -> bytes:
    """What the worker writes; ``-P`` keeps the folder we are in out of its imports."""
    limit_s = _START_S + count / SYNTH_RATE * _SLOWEST
    command = [sys.executable, "-P", worker.__file__]
    try:
        done = run(command, ask.encode(), limit_s)
    except TimeoutExpired:
        raise RenderError(
            f"FluidSynth did not finish playing {font.path} within {limit_s:.0f} s "
            "and was stopped. Try another font."
        ) from None
    except OSError as error:
        raise RenderError(f"FluidSynth could not be started ({reason_of(error)}).") from None
    if done.returncode or len(done.stdout) != 8 * count:
        raise _failure(font, done.returncode, done.stderr)
    return done.stdout


def _failure(font: SoundFont, code: int, said: bytes) -> InputError | RenderError:
    install = INSTALL.get(sys.platform, "your system's package of FluidSynth")
    last = (said.decode("utf-8", "replace").strip().splitlines() or [f"exit code {code}"])[-1]
    if code == worker.NO_BINDING:
        return RenderError(
            "SoundFonts need the Python package pyfluidsynth. "
            'Install it: pip install "reedmill[soundfont]"'
        )
    if code == worker.NO_LIBRARY:
        return RenderError(f"SoundFonts need the library libfluidsynth. Install it: {install}")
    if code == worker.BROKEN_LIBRARY:
        return RenderError(
            f"the library libfluidsynth is there but does not work ({last[:200]}). "
            f"Install it again: {install}"
        )
    if code == worker.FONT_REFUSED:
        return InputError(f"{font.path} cannot be played: FluidSynth does not accept it.")
    if code == worker.PRESET_REFUSED:
        return InputError(f"{font.path} has no program {last[:9]} that FluidSynth can play.")
    return RenderError(f"FluidSynth broke down while it played {font.path} ({last[:200]}).")
