"""Single notes of a SoundFont played through FluidSynth, in a process of its own.

A font is a stranger's file and FluidSynth is C: should it crash or hang, only this process
does.  It reads what to play as JSON from its standard input, writes raw samples (32-bit
float, left and right in turn) to its standard output, and says by its exit code what went
wrong.  ``soundfont_player`` starts it by its path; it imports nothing else of ours.
"""

from __future__ import annotations

import ctypes
import json
import os
import sys
from typing import Any, BinaryIO

NO_BINDING, NO_LIBRARY, BROKEN_LIBRARY, FONT_REFUSED, PRESET_REFUSED = 11, 12, 13, 14, 15

_MOST_BYTES = 6 * 1024**3  # of address space; the synth shares threads' and file mappings
_BLOCK = 64  # samples; FluidSynth begins notes only at multiples of it
_SILENCE = 64 * 32  # samples between keys, so that none hears the one before


def main() -> int:
    """Play what standard input asks for; the exit code."""
    # pyfluidsynth prints where it found the library when the variable CI is set.
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _limit_memory()
    ask = json.load(sys.stdin)
    try:
        import fluidsynth
    except ModuleNotFoundError:
        return NO_BINDING
    except ImportError:
        return NO_LIBRARY
    except Exception as error:  # whatever a damaged library makes of being loaded
        return _broken(error)
    return _play(fluidsynth, ask, out)


def _play(fluidsynth: Any, ask: dict[str, Any], out: BinaryIO) -> int:
    try:
        synth = _synth(fluidsynth, ask["rate"])
    except Exception as error:  # an old library lacks functions, which are None then
        return _broken(error)
    font = fluidsynth.fluid_synth_sfload(synth.synth, os.fsencode(ask["path"]), 0)
    if font == -1:
        return FONT_REFUSED
    for bank, number, key, velocity, count in ask["notes"]:
        if synth.program_select(0, font, bank, number) != 0:
            print(number + 1, file=sys.stderr)
            return PRESET_REFUSED
        # The first block of a note keeps a trace (1e-8) of the note before it: let that be
        # itself, so that a key sounds the same to the last bit whatever else is played.
        _held(fluidsynth, synth, key, velocity, _BLOCK)
        out.write(_held(fluidsynth, synth, key, velocity, count))
    out.flush()
    return 0


def _synth(fluidsynth: Any, rate: int) -> Any:
    """A synth without effects, so that what is heard is the font alone."""
    options = {
        "synth.reverb.active": 0,
        "synth.chorus.active": 0,
        "synth.lock-memory": 0,
        "synth.dynamic-sample-loading": 1,  # a font of 145 MB loads in 50 ms
    }
    synth = fluidsynth.Synth(gain=0.4, samplerate=float(rate), channels=16, **options)
    _writer(fluidsynth)
    return synth


def _writer(fluidsynth: Any) -> Any:
    """FluidSynth's output in floating point; pyfluidsynth knows only the 16-bit one."""
    pointer, whole = ctypes.c_void_p, ctypes.c_int
    names = ("synth", "len", "left", "left_at", "left_step", "right", "right_at", "right_step")
    types = (pointer, whole, pointer, whole, whole, pointer, whole, whole)
    arguments = [(name, kind, 1) for name, kind in zip(names, types, strict=True)]
    write = fluidsynth.cfunc("fluid_synth_write_float", whole, *arguments)
    if write is None:
        raise RuntimeError("fluid_synth_write_float is missing")
    return write


def _held(fluidsynth: Any, synth: Any, key: int, velocity: int, count: int) -> bytes:
    synth.noteon(0, key, velocity)
    sound = _samples(fluidsynth, synth, count)
    synth.all_sounds_off(0)
    _samples(fluidsynth, synth, _SILENCE)
    return sound


def _samples(fluidsynth: Any, synth: Any, count: int) -> bytes:
    whole = -(-count // _BLOCK) * _BLOCK
    both = (ctypes.c_float * (2 * whole))()
    _writer(fluidsynth)(synth.synth, whole, both, 0, 2, both, 1, 2)
    return memoryview(both).cast("B")[: 8 * count].tobytes()


def _broken(error: Exception) -> int:
    print(f"{type(error).__name__}: {error}", file=sys.stderr)
    return BROKEN_LIBRARY


def _limit_memory() -> None:
    if sys.platform == "linux":
        import resource

        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        most = _MOST_BYTES if hard == resource.RLIM_INFINITY else min(_MOST_BYTES, hard)
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))


if __name__ == "__main__":
    sys.exit(main())
