"""Import of abjad only what writes a staff; the rest of it when somebody asks for it.

All of abjad takes 0.12 s of processor time to import, half of it for some fifty instruments, a
parser with its tables and what draws graphs; its release for Python 3.11 imports Sphinx besides,
another 0.4 s.  No score needs these.  So the package stands there before its ``__init__`` has
run: its modules are imported one by one, and the ``__init__`` runs as soon as a name is asked
for that only it would know.  Whoever else imports abjad in the same program finds all of it.
"""

from __future__ import annotations

import importlib
import sys
from fractions import Fraction
from importlib.machinery import ModuleSpec
from importlib.util import LazyLoader, find_spec, module_from_spec
from threading import RLock
from types import ModuleType
from typing import Any

# Where the names are that write a staff; a context, such as Voice, is asked for by abjad itself.
_NAMES = {
    "score": ("Container", "Note", "Rest", "Score", "Staff", "Tuplet", "Voice"),
    "indicators": (
        "Articulation", "BarLine", "Clef", "Glissando", "KeySignature", "LilyPondLiteral",
        "Markup", "Mode", "Tie", "TimeSignature",
    ),
    "bind": ("attach",),
    "enums": ("UP",),
    "pitch": ("NamedPitch", "NamedPitchClass"),
    "duration": ("Duration",),
}  # fmt: skip
_FIRST = "_updatelib"  # as the ``__init__`` begins: its modules import each other in circles
_UNASKED = "instruments"  # imported by those above, and asked for by no staff of ours
_IMPORTING = RLock()


class _Unread(ModuleType):
    """The package before its ``__init__`` has run."""

    def __getattr__(self, name: str) -> Any:
        if find_spec(f"{self.__name__}.{name}") is not None:
            return importlib.import_module(f"{self.__name__}.{name}")
        with _IMPORTING:
            if isinstance(self, _Unread):
                self.__class__ = ModuleType  # type: ignore[assignment]
                _loader(self.__spec__).exec_module(self)
        return getattr(self, name)


class _Known:
    abjad: ModuleType | None = None  # once all that a staff needs is there


def quick_abjad() -> Any:
    """The abjad module; imported on the first call.

    >>> quick_abjad().NamedPitch("bf'").octave
    Octave(number=4)
    """
    if _Known.abjad is None:
        with _IMPORTING:
            if "abjad" not in sys.modules:
                _begin()
            _Known.abjad = sys.modules["abjad"]
    return _Known.abjad


def _begin() -> None:
    package = _unrun("abjad")
    package.__class__ = _Unread
    _put_off(f"abjad.{_UNASKED}", package)
    importlib.import_module(f"abjad.{_FIRST}")
    for place, names in _NAMES.items():
        module = importlib.import_module(f"abjad.{place}")
        for name in names:
            setattr(package, name, getattr(module, name))


def _unrun(name: str) -> ModuleType:
    """The module *name* among those imported, but nothing of it run."""
    spec = find_spec(name)
    if spec is None:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)
    sys.modules[name] = module = module_from_spec(spec)
    return module


def _put_off(name: str, package: ModuleType) -> None:
    """Import *name* of *package* when the first thing in it is asked for."""
    module = _unrun(name)
    LazyLoader(_loader(module.__spec__)).exec_module(module)
    setattr(package, name.rpartition(".")[2], module)


def _loader(spec: ModuleSpec | None) -> Any:
    assert spec is not None  # noqa: S101  it was found by it
    return spec.loader


# --- what releases of abjad do each in their way --------------------------------------------


def abjad_note(pitch: str, length: Fraction) -> Any:
    """A note of *pitch*, written in abjad's English, and *length* in whole notes.

    It could be written as text too, but reading that takes a parser whose tables abjad keeps in
    the player's home folder.

    >>> lilypond_of(abjad_note("bf'", Fraction(3, 8)))
    "bf'4."
    """
    abjad = quick_abjad()
    named, value = abjad.NamedPitch(pitch), abjad.Duration(length.numerator, length.denominator)
    if hasattr(abjad.Note, "from_duration_and_pitch"):
        return abjad.Note.from_duration_and_pitch(value, named)
    return abjad.Note(named, value)


def abjad_rest(length: Fraction) -> Any:
    """A rest of *length* in whole notes.

    >>> lilypond_of(abjad_rest(Fraction(1, 8)))
    'r8'
    """
    abjad = quick_abjad()
    value = abjad.Duration(length.numerator, length.denominator)
    if hasattr(abjad.Rest, "from_duration"):
        return abjad.Rest.from_duration(value)
    return abjad.Rest(value)


def lilypond_of(component: Any) -> str:
    """A component of a score as LilyPond input, as ``abjad.lilypond`` gives it.

    That one stands in a module which makes folders in the player's home.
    """
    abjad = quick_abjad()
    found: str = abjad.format.remove_site_comments(component._get_lilypond_format())
    return found
