"""A process that plays single notes of a SoundFont through FluidSynth, within limits.

A font is a stranger's file and FluidSynth is C: should it crash or hang, only this process
does.  It reads what to play as JSON from its standard input, writes raw samples (32-bit
float, left and right in turn) to its standard output, and says by its exit code what went
wrong.  ``soundfont_player`` starts it by its path; it imports nothing else of ours.

On Linux and macOS it gives itself limits before it sees the font: processor time, size of
what it writes, open files, no core dump, and on Linux memory.  There it also dies when the
program that started it does.
"""

from __future__ import annotations

import ctypes
import json
import math
import os
import resource
import signal
import sys
import time
from pathlib import Path
from typing import Any, BinaryIO, TypedDict

NO_BINDING, NO_LIBRARY, BROKEN_LIBRARY, FONT_REFUSED, PRESET_REFUSED = 11, 12, 13, 14, 15
OUT_OF_MEMORY = 16

_FONT_BYTES = 256_000_000  # of memory that the font may add: its samples, its zones, its voices
_MOST_FILES = 64  # open at once
_LOAD_S = 4.0  # of processor time, to load a font or a preset; measured: 1.2 for a packed piano
_NOTE_S, _NOTE_SHARE = 1.0, 0.05  # to play a note, and for each second of it; measured: 0.01
_STEP = 64 * 512  # samples written at a time, so that a long note takes no memory
_BLOCK = 64  # samples; FluidSynth begins notes only at multiples of it
_SILENCE = 64 * 32  # samples between keys, so that none hears the one before


def main() -> int:
    """Play the notes asked for on standard input; return the exit code."""
    # pyfluidsynth prints where it found the library when the variable CI is set: that would
    # stand after our own last line, which is the one that counts.
    os.environ.pop("CI", None)
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _die_with_parent()  # one that has died before this has left nothing to read
    ask = json.load(sys.stdin)
    _limit_work(ask["seconds"], ask["bytes"])
    try:
        import fluidsynth
    except ModuleNotFoundError:
        return NO_BINDING
    except ImportError:
        return NO_LIBRARY
    except Exception as error:  # whatever a damaged library makes of being loaded
        return _broken(error)
    try:
        return _play(fluidsynth, ask, out)
    except MemoryError:
        return OUT_OF_MEMORY


class _Ask(TypedDict):
    """A request: bank, program, key, velocity and samples of each note."""

    path: str
    rate: int
    notes: list[tuple[int, int, int, int, int]]


def _play(fluidsynth: Any, ask: _Ask, out: BinaryIO) -> int:
    try:
        synth = _synth(fluidsynth, ask["rate"])
    except Exception as error:  # an old library lacks functions, which are None then
        return _broken(error)
    _limit_memory()
    _hush(fluidsynth)
    _allow(_LOAD_S)
    font = fluidsynth.fluid_synth_sfload(synth.synth, os.fsencode(ask["path"]), 0)
    if font == -1:
        return FONT_REFUSED
    for bank, number, key, velocity, count in ask["notes"]:
        _allow(_LOAD_S)
        if synth.program_select(0, font, bank, number) != 0:
            print(number + 1, file=sys.stderr)
            return PRESET_REFUSED
        _allow(_NOTE_S + _NOTE_SHARE * count / ask["rate"])
        # The first block of a note keeps a trace (1e-8) of the note before it: let that be
        # itself, so that a key sounds the same to the last bit whatever else is played.
        _hold(fluidsynth, synth, key, velocity, _BLOCK, None)
        _hold(fluidsynth, synth, key, velocity, count, out)
    out.flush()
    return 0


def _synth(fluidsynth: Any, rate: int) -> Any:
    """Return a synth without effects, so that only the font is heard."""
    options = {
        "synth.reverb.active": 0,
        "synth.chorus.active": 0,
        "synth.lock-memory": 0,
        "synth.dynamic-sample-loading": 1,  # a font of 145 MB loads in 50 ms
    }
    # twice the usual gain: nothing is played together, and the tone is measured
    synth = fluidsynth.Synth(gain=0.4, samplerate=float(rate), channels=16, **options)
    _writer(fluidsynth)
    return synth


def _hush(fluidsynth: Any) -> None:
    """Turn off FluidSynth's log: a font may cause a million warnings."""
    arguments = [("level", ctypes.c_int, 1), ("write", ctypes.c_void_p, 1),
                 ("data", ctypes.c_void_p, 1)]  # fmt: skip
    tell = fluidsynth.cfunc("fluid_set_log_function", ctypes.c_void_p, *arguments)
    for level in range(5 if tell else 0):  # panic, error, warning, information, debugging
        tell(level, None, None)


def _writer(fluidsynth: Any) -> Any:
    """Return FluidSynth's float output; pyfluidsynth knows only the 16-bit one."""
    pointer, whole = ctypes.c_void_p, ctypes.c_int
    names = ("synth", "len", "left", "left_at", "left_step", "right", "right_at", "right_step")
    types = (pointer, whole, pointer, whole, whole, pointer, whole, whole)
    arguments = [(name, kind, 1) for name, kind in zip(names, types, strict=True)]
    write = fluidsynth.cfunc("fluid_synth_write_float", whole, *arguments)
    if write is None:
        raise RuntimeError("fluid_synth_write_float is missing")
    return write


def _hold(
    fluidsynth: Any, synth: Any, key: int, velocity: int, count: int, out: BinaryIO | None
) -> None:
    """Write *count* samples of a key held down, then silence it completely."""
    synth.noteon(0, key, velocity)
    for first in range(0, count, _STEP):
        sound = _samples(fluidsynth, synth, min(_STEP, count - first))
        if out is not None:
            out.write(sound)
    synth.all_sounds_off(0)
    _samples(fluidsynth, synth, _SILENCE)


def _samples(fluidsynth: Any, synth: Any, count: int) -> bytes:
    whole = -(-count // _BLOCK) * _BLOCK
    both = (ctypes.c_float * (2 * whole))()
    _writer(fluidsynth)(synth.synth, whole, both, 0, 2, both, 1, 2)
    return memoryview(both).cast("B")[: 8 * count].tobytes()


def _broken(error: Exception) -> int:
    print(f"{type(error).__name__}: {error}", file=sys.stderr)
    return BROKEN_LIBRARY


def _die_with_parent() -> None:
    if sys.platform == "linux":
        # prctl(PR_SET_PDEATHSIG): the kernel does it, whatever the parent dies of
        ctypes.CDLL(None).prctl(1, signal.SIGKILL, 0, 0, 0)


def _limit_work(seconds: int, written: int) -> None:
    """Limit processor time, and the bytes that may be written to any one file."""
    if sys.platform != "win32":
        _limit(resource.RLIMIT_CPU, seconds, seconds)
        _limit(resource.RLIMIT_FSIZE, written, written)
        _limit(resource.RLIMIT_NOFILE, _MOST_FILES, _MOST_FILES)
        _limit(resource.RLIMIT_CORE, 0, 0)


def _allow(seconds: float) -> None:
    """End by SIGXCPU when the next work takes longer than *seconds* of processor time."""
    if sys.platform != "win32":
        _, all_of_it = resource.getrlimit(resource.RLIMIT_CPU)
        _limit(resource.RLIMIT_CPU, math.ceil(time.process_time() + seconds), all_of_it)


def _limit_memory() -> None:
    """Limit the memory the font may add to that in use, which differs by system."""
    if sys.platform == "linux":
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
        most = pages * resource.getpagesize() + _FONT_BYTES
        _limit(resource.RLIMIT_AS, most, most)


def _limit(kind: int, soft: int, hard: int) -> None:
    """Set a limit, never above the one there is."""
    _, now = resource.getrlimit(kind)
    hard = hard if now == resource.RLIM_INFINITY else min(hard, now)
    resource.setrlimit(kind, (soft if hard == resource.RLIM_INFINITY else min(soft, hard), hard))


if __name__ == "__main__":
    sys.exit(main())
