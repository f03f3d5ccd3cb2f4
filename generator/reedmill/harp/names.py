"""Names of harps: the key in many spellings, the register and the tuning.

Common practice, no published source: flats and sharps are said, written with a sign, with b
and #, or in the German way (Es, Fis, H for B); makers print the low register as ``LF`` or
``Low F``; a harp's key is the major key of its blow chord, so "major" may be said with it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from reedmill.base.errors import close_match
from reedmill.harp.layouts import LAYOUTS
from reedmill.theory.pitch import pitch_class
from reedmill.theory.song_keys import in_letters, read_tonic

HARP_KEYS = ("G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#")
"""The twelve common harps, lowest first."""

_LOWEST = 7  # of them, as semitones above C
_REGISTERS = {"low": "low", "lo": "low", "l": "low", "high": "high", "hi": "high", "h": "high"}
_LAYOUTS = {each.words.lower(): name for name, each in LAYOUTS.items()}


@dataclass(frozen=True, slots=True)
class HarpName:
    """A harp's name split into key, register and layout."""

    key: str  # one of HARP_KEYS
    register: str = ""  # "", "low" or "high"
    layout: str = ""  # the name of a shipped layout, or empty where none is said


def read_harp_name(text: str) -> HarpName | None:
    """Parse the name of a harp; ``None`` when *text* names none.

    >>> read_harp_name("B flat"), read_harp_name("LF"), read_harp_name("low Fis harp")
    (HarpName(key='Bb', register='', layout=''), HarpName(key='F', register='low', layout=''), \
HarpName(key='F#', register='low', layout=''))
    """
    words = re.split(r"[\s_-]+", in_letters(text.strip()))
    words, layout = _without_layout(_without("harp", _without("harmonica", words)))
    words = _without("major", _without("maj", words))
    words, register = _without_register(words)
    key = _key("".join(words)) if len(words) in (1, 2) else None
    return None if key is None else HarpName(key, register, layout)


def harp_key_on(root: int) -> str:
    """Return the key of the harp whose blow chord is on *root*, semitones above C.

    >>> harp_key_on(0), harp_key_on(1)
    ('C', 'Db')
    """
    return HARP_KEYS[(root - _LOWEST) % len(HARP_KEYS)]


def several(text: str) -> list[str]:
    """Split *text* at commas and the word and; nothing between two commas names nothing.

    >>> several("A, low F and B flat,, C,")
    ['A', ' low F', 'B flat', ' C']
    """
    parts = re.split(r",|\s+(?:and|&)\s+", text)
    return [part for part in parts if part.strip()] or [text]


def refusal(text: str) -> str:
    """Return the message for *text*, which names no harp."""
    known = [*HARP_KEYS, *(f"low {key}" for key in HARP_KEYS)]
    minor = _in_minor(text)
    if minor:
        return (
            f'there is no harp "{text:.40}": a harp is called by the key of its blow chord. A '
            f"natural minor harp sold as {minor.key}m, by the key of draw 2 as most are, is here: "
            f"{' '.join(filter(None, (minor.register, _by_blow_chord(minor.key))))} natural minor"
        )
    if len(text.split()) > 1 and all(map(read_harp_name, text.split()[:_MOST_SPLIT])):
        return (
            f'there is no harp "{text:.40}". Write commas between several: '
            f"{', '.join(text.split()):.200}"
        )
    return (
        f'there is no harp "{text:.40}".{close_match(text[:40], known)} '
        f"Harps are {', '.join(HARP_KEYS)}; put low or high before one for an "
        "octave under or over."
    )


_MOST_SPLIT = 12  # as many harps as there are keys
_FIFTH = 7  # semitones from the blow chord up to draw 2


def _by_blow_chord(key: str) -> str:
    """Return the blow chord's key of a harp whose draw 2 is *key*: a fifth lower."""
    return HARP_KEYS[(HARP_KEYS.index(key) - _FIFTH) % len(HARP_KEYS)]


def _without(word: str, words: list[str]) -> list[str]:
    return words[:-1] if len(words) > 1 and words[-1].lower() == word else words


def _without_layout(words: list[str]) -> tuple[list[str], str]:
    for length in (2, 1):
        said = " ".join(words[-length:]).lower()
        if said in _LAYOUTS and len(words) > length:
            return words[:-length], _LAYOUTS[said]
    return words, ""


def _without_register(words: list[str]) -> tuple[list[str], str]:
    """Split off a register before or after the words, or run into the key: ``LF``."""
    if len(words) > 1:
        for at in (0, -1):
            register = _REGISTERS.get(words[at].lower())
            if register and (at == 0 or len(words[at]) > 1):
                return (words[1:] if at == 0 else words[:-1]), register
    together = re.fullmatch(r"([LH])([A-G](?:[b#]|[ei]?s)?)", words[0]) if len(words) == 1 else None
    if together:
        return [together[2]], _REGISTERS[together[1].lower()]
    return words, ""


def _key(said: str) -> str | None:
    tonic = read_tonic(said)
    return None if tonic is None else harp_key_on(pitch_class(*tonic))


def _in_minor(text: str) -> HarpName | None:
    """Return the harp for the key in ``Am`` or ``low C minor``; ``None`` for another text."""
    found = re.fullmatch(r"\s*(.{1,10}?)\s*(m|min|minor|moll)\s*", text, re.IGNORECASE)
    return read_harp_name(found[1]) if found else None
