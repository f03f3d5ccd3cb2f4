"""Single notes of a SoundFont as samples, played by FluidSynth in another process."""

from __future__ import annotations

import json
import math
import signal
import sys
import tempfile
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import BinaryIO, NamedTuple

import numpy as np

from reedmill.base.children import TimeoutExpired, run_into
from reedmill.base.errors import InputError, RenderError, reason_of
from reedmill.base.scratch import temporary_folder
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.soundfont import font_process
from reedmill.sound.soundfont.file import ANOTHER, Preset, SoundFont
from reedmill.sound.soundfont.samples import KeyStroke, check_notes

SYNTH_RATE = 44_100
"""Samples a second of everything FluidSynth renders for us."""

VELOCITY = 100
"""How hard every key is struck; a font may have layers, and each its own tuning."""

_START_S = 60  # by the clock: for a large font on a slow disk
_SLOWEST = 0.5  # by the clock, of the seconds of sound: for a machine that is busy
_WORK_S = 8.0  # of processor time in all, to load a font; measured: 1.2 for a packed piano
_WORK_SHARE = 0.04  # of the seconds of sound; measured: 0.001, and 0.013 for the most voices
_TOLD_BYTES = 65_536  # that the worker may write to its log
_RUN_S = 130  # of sound from one start of the worker, to bound the disk space and the memory
_LOUDEST = 1000.0  # times full scale: more is not a sound but an error in the arithmetic

INSTALL = {
    "linux": "apt-get install libfluidsynth3 (Fedora: dnf install fluidsynth-libs, "
    "Arch: pacman -S fluidsynth)",
    "darwin": "brew install fluid-synth",
    "win32": "choco install fluidsynth",
}
"""What installs libfluidsynth, by ``sys.platform``."""


def default_soundfont() -> Path:
    """Return the font of the Python package pretty_midi, without importing that.

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
    """One note to play: its preset, key, velocity and length in samples."""

    bank: int
    number: int  # the program from 0
    key: int  # MIDI
    velocity: int
    samples: int


def play_keys(font: SoundFont, preset: Preset, keys: Sequence[tuple[int, int]]) -> list[Samples]:
    """Play each of *keys* (MIDI key, samples) as ``play_notes`` does, at ``VELOCITY``."""
    where = (preset.bank, preset.number)
    return play_notes(font, [Ask(*where, key, VELOCITY, count) for key, count in keys])


def play_notes(font: SoundFont, notes: Sequence[Ask]) -> list[Samples]:
    """Play each of *notes* by itself: the key struck and held for its length.

    Each is mono, at ``SYNTH_RATE``, from the moment the key is struck, never released; a key
    without a sound in the font is silence.  Equal input gives equal samples.
    ``InputError`` when the font is damaged, asks for too much or is refused by FluidSynth,
    ``RenderError`` when FluidSynth is missing, crashes or takes too long.
    """
    runs = _runs(notes)
    for run in runs:
        check_notes(font, [KeyStroke(*note[:4]) for note in run])
    return [sound for run in runs for sound in _played(font, run)]


def _runs(notes: Sequence[Ask]) -> list[list[Ask]]:
    """Return *notes* in order, in runs of one program each, so that only one is in memory."""
    runs: list[list[Ask]] = []
    length = 0
    for note in notes:
        other = not runs or runs[-1][0][:2] != note[:2]
        if other or length + note.samples > _RUN_S * SYNTH_RATE:
            runs.append([])
            length = 0
        runs[-1].append(note)
        length += note.samples
    return runs


def _played(font: SoundFont, notes: Sequence[Ask]) -> list[Samples]:
    """Play *notes* in one start of the worker, which writes to nameless files."""
    try:
        place = temporary_folder()
        with tempfile.TemporaryFile(dir=place) as sound, tempfile.TemporaryFile(dir=place) as told:
            _run(font, notes, sound, told)
            sound.seek(0)
            return [_mono(font, sound.read(8 * note.samples)) for note in notes]
    except OSError as error:
        raise RenderError(f"FluidSynth could not be started ({reason_of(error)}).") from None


def _mono(font: SoundFont, raw: bytes) -> Samples:
    both = np.frombuffer(raw, "<f4")
    if not np.all(np.abs(both) < _LOUDEST):  # which is not so for what is not a number, either
        raise InputError(f"{font.path} makes FluidSynth play numbers that are not sound. {ANOTHER}")
    mono: Samples = both.reshape(-1, 2).mean(axis=1, dtype=np.float64)
    return mono


def _run(font: SoundFont, notes: Sequence[Ask], sound: BinaryIO, told: BinaryIO) -> None:
    """Start the worker; ``-P`` keeps the current folder out of its imports."""
    count = sum(note.samples for note in notes)
    work_s = math.ceil(_WORK_S + count / SYNTH_RATE * _WORK_SHARE)
    limit_s = _START_S + count / SYNTH_RATE * _SLOWEST
    ask = {
        "path": str(font.path.absolute()), "rate": SYNTH_RATE, "notes": list(notes),
        "seconds": work_s, "bytes": 8 * count + _TOLD_BYTES,
    }  # fmt: skip
    command = [sys.executable, "-P", font_process.__file__]
    try:
        code = run_into(command, json.dumps(ask).encode(), sound, told, limit_s)
    except TimeoutExpired:
        raise RenderError(
            f"FluidSynth did not finish playing {font.path} within {limit_s:.0f} s "
            "and was stopped. Try another font."
        ) from None
    if code or sound.seek(0, 2) != 8 * count:
        told.seek(max(0, told.seek(0, 2) - _TOLD_BYTES))
        raise _failure(font, code, told.read(_TOLD_BYTES))


def _failure(font: SoundFont, code: int, said: bytes) -> InputError | RenderError:
    install = INSTALL.get(sys.platform, "your system's package of FluidSynth")
    last = (said.decode("utf-8", "replace").strip().splitlines() or [f"exit code {code}"])[-1]
    if code == font_process.NO_BINDING:
        return RenderError(
            "SoundFonts need the Python package pyfluidsynth. "
            'Install it: pip install "reedmill[soundfont]"'
        )
    if code == font_process.NO_LIBRARY:
        return RenderError(f"SoundFonts need the library libfluidsynth. Install it: {install}")
    if code == font_process.BROKEN_LIBRARY:
        return RenderError(
            f"the library libfluidsynth is there but does not work ({last[:200]}). "
            f"Install it again: {install}"
        )
    if code == font_process.FONT_REFUSED:
        return InputError(f"{font.path} cannot be played: FluidSynth does not accept it.")
    if code == font_process.PRESET_REFUSED:
        return InputError(f"{font.path} has no program {last[:9]} that FluidSynth can play.")
    if code == font_process.OUT_OF_MEMORY:
        return InputError(f"{font.path} needs too much memory. {ANOTHER}")
    if sys.platform != "win32" and code in (-signal.SIGXCPU, -signal.SIGKILL):
        return InputError(
            f"FluidSynth needs more time or memory for {font.path} than a font is given. {ANOTHER}"
        )
    return RenderError(
        f"FluidSynth broke down while it played {font.path} ({last[:200]}). Try another font."
    )
