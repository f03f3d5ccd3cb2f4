"""The article before a word, by how the word sounds: a C harp, an F# harp, an SVG, an echo."""

from __future__ import annotations

import re

_LETTERS_WITH_AN = "AEFHILMNORSX"  # whose names begin with a vowel: an F, an S
_SPELLED_OUT = re.compile(r"[A-Z](?![A-Za-z])|[B-DF-HJ-NP-TV-Z]{2,}(?![A-Za-z])|MP3")
_SOUNDS_OTHERWISE = re.compile(r"(?:one|once|uni(?!m|n)|us[eu]|eu)", re.IGNORECASE)
_NUMBERS_WITH_AN = re.compile(r"(?:8\d*|1[18](?:\d{3})*)(?!\d)")  # eight, eighty, eleven, eighteen


def with_article(words: str) -> str:
    """Return *words* with ``a`` or ``an`` before them, as they are said.

    A single capital letter is a note or key, and capitals without a vowel are said letter by
    letter.

    >>> [with_article(each) for each in ("A harp", "Bb harp", "F# harp", "low F harp")]
    ['an A harp', 'a Bb harp', 'an F# harp', 'a low F harp']
    >>> [with_article(each) for each in ("octave", "unison", "SVG", "PDF", "MIDI file", "8th")]
    ['an octave', 'a unison', 'an SVG', 'a PDF', 'a MIDI file', 'an 8th']
    """
    return f"{'an' if _begins_with_a_vowel(words) else 'a'} {words}"


def _begins_with_a_vowel(words: str) -> bool:
    if key_with_flat := re.match(r"[A-G](?:b|#)?(?![A-Za-z])", words):
        return key_with_flat[0][0] in _LETTERS_WITH_AN
    if _SPELLED_OUT.match(words):
        return words[0] in _LETTERS_WITH_AN
    if words[:1].isdigit():
        return _NUMBERS_WITH_AN.match(words) is not None
    return words[:1].lower() in tuple("aeiou") and not _SOUNDS_OTHERWISE.match(words)
