"""Import of only those parts of abjad that write a staff; the rest on demand.

All of abjad takes 0.12 s of processor time to import, half of it for some fifty instruments, a
parser with its tables and what draws graphs; its release for Python 3.11 imports Sphinx besides,
another 0.4 s.  No score needs these, see ``base/unread.py``.
"""

from __future__ import annotations

import dataclasses
import importlib
import operator
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from functools import partial
from importlib.util import find_spec
from types import ModuleType
from typing import Any, cast

from reedmill.base.unread import IMPORTING, begin, put_off

# Where the names are that write a staff; a context, such as Voice, is asked for by abjad itself.
_NAMES = {
    "score": ("Chord", "Container", "Note", "Rest", "Score", "Staff", "Tuplet", "Voice"),
    "indicators": (
        "Articulation", "BarLine", "Clef", "Glissando", "KeySignature", "LilyPondLiteral",
        "Markup", "Mode", "Tie", "TimeSignature",
    ),
    "bind": ("attach",),
    "enums": ("UP",),
    "pitch": ("NamedPitch", "NamedPitchClass"),
    "duration": ("Duration",),
    "tweaks": ("tweak",),
}  # fmt: skip
_FIRST = "abjad._updatelib"  # as the ``__init__`` begins: its modules import each other in circles
_UNASKED = "abjad.instruments"  # imported by those above, and asked for by no staff of ours
_NUMERALS = "roman"  # likewise, for letters as numbers


class _Known:
    abjad: ModuleType | None = None  # once all that a staff needs is there


def quick_abjad() -> Any:
    """Return the abjad module, imported on the first call.

    >>> quick_abjad().Staff.__name__
    'Staff'
    """
    if _Known.abjad is None:
        with IMPORTING:
            if "abjad" not in sys.modules:
                _begin()
            _Known.abjad = sys.modules["abjad"]
    return _Known.abjad


def _begin() -> None:
    package = begin("abjad")
    put_off(_UNASKED)
    if _NUMERALS not in sys.modules and find_spec(_NUMERALS) is not None:
        begin(_NUMERALS)
    with _ordered_by_few():
        importlib.import_module(_FIRST)
        for place, names in _NAMES.items():
            module = importlib.import_module(f"abjad.{place}")
            for name in names:
                setattr(package, name, getattr(module, name))


@contextmanager
def _ordered_by_few() -> Iterator[None]:
    """Give dataclasses made meanwhile the same four functions that tell which comes first.

    Of abjad's some sixty classes each has its own otherwise, written as text and compiled: a
    third of the time that they take, and no staff asks which of two clefs is greater.
    """
    usual = dataclasses.dataclass

    def made(cls: type | None = None, /, *, order: bool = False, **asked: bool) -> object:
        if cls is None:
            return partial(made, order=order, **asked)
        new: type = usual(cls, **asked)
        for name in _ORDERS if order else ():
            setattr(new, name, _compared(getattr(operator, name)))
        return new

    setattr(dataclasses, _MAKER, made)
    try:
        yield
    finally:
        setattr(dataclasses, _MAKER, usual)


_MAKER = "dataclass"
_ORDERS = ("__lt__", "__le__", "__gt__", "__ge__")


def _compared(by: Callable[[object, object], bool]) -> Callable[[object, object], object]:
    """Return the method of a dataclass that compares two of one class by their fields."""

    def method(self: object, other: object) -> object:
        if other.__class__ is not self.__class__ or not dataclasses.is_dataclass(self):
            return NotImplemented
        names = [each.name for each in dataclasses.fields(self) if each.compare]
        ours, theirs = (tuple(getattr(one, name) for name in names) for one in (self, other))
        return by(ours, theirs)

    return method


# --- what releases of abjad do each in their way --------------------------------------------


def abjad_note(pitch: str, length: Fraction) -> object:
    """Return a note of *pitch*, in abjad's English names, and *length* in whole notes.

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


def abjad_chord(pitches: Sequence[str], length: Fraction) -> object:
    """Return a chord of *pitches*, in abjad's English names, and *length* in whole notes.

    >>> lilypond_of(abjad_chord(["g'", "bqf'"], Fraction(1, 4)))
    "<g' bqf'>4"
    """
    abjad = quick_abjad()
    named = [abjad.NamedPitch(each) for each in pitches]
    value = abjad.Duration(length.numerator, length.denominator)
    if hasattr(abjad.Chord, "from_duration_and_pitches"):
        return abjad.Chord.from_duration_and_pitches(value, named)
    return abjad.Chord(named, value)


def heads_of(leaf: object) -> list[object]:
    """Return the noteheads of a note or a chord, the lowest first; abjad 3.31 made them methods."""
    several = getattr(leaf, "note_heads", None)
    found = getattr(leaf, "note_head", None) if several is None else several
    found = found() if callable(found) else found
    return [found] if several is None else [*cast(Sequence[object], found)]


def put_in_brackets(head: Any) -> None:
    """Have *head* print its accidental in brackets, a reminder; abjad 3.31 sets it by a method."""
    if hasattr(head, "set_is_cautionary"):
        head.set_is_cautionary(True)
    else:
        head.is_cautionary = True


def abjad_rest(length: Fraction) -> object:
    """Return a rest of *length* in whole notes.

    >>> lilypond_of(abjad_rest(Fraction(1, 8)))
    'r8'
    """
    abjad = quick_abjad()
    value = abjad.Duration(length.numerator, length.denominator)
    if hasattr(abjad.Rest, "from_duration"):
        return abjad.Rest.from_duration(value)
    return abjad.Rest(value)


def lilypond_of(component: object) -> str:
    """Return a component of a score as LilyPond input, as ``abjad.lilypond`` gives it.

    abjad's own is in a module which makes folders in the player's home.
    """
    abjad = quick_abjad()
    written = abjad.score.Component._get_lilypond_format(component)
    found: str = abjad.format.remove_site_comments(written)
    return found
