"""Signs over the notes for marks of style and slow slides, and the key that explains them.

They are our own: a wave, a double arrow and two curves, each as wide as a few letters, and short
words where a drawing would have to be learned first.
"""

from __future__ import annotations

from reedmill.score.notation import NotatedValue
from reedmill.score.score import Score
from reedmill.score.sign_key import ExplainedSign, NoteSign, Sign, explained_signs
from reedmill.score.style import Mark
from reedmill.sheet.hole_row import QUARTER_SIGN
from reedmill.sheet.markup import (
    INK,
    at,
    coloured,
    curve,
    lilypond_string,
    overlay,
    polyline,
    resized,
    slab,
    small,
)

SIGN_ROW = 2.0
"""Height in staff spaces of one sign over a note."""

_LETTERS = -3.0  # their size in steps
_LETTER, _GAP = 0.84, 0.5  # mean width of one, and what is free between a sign and its count
_LINE = 0.2
_HALF_HEAD = 0.65
_AT_END = (Mark.FALL, Mark.PULL)  # shape the end of a note, and stand over its last head


def signs_over(written: NotatedValue) -> list[str]:
    """Return the names of the signs over one notehead, the lowest first: ``vibrato4``, ``~:2``.

    >>> from fractions import Fraction
    >>> signs_over(NotatedValue(None, Fraction(0), Fraction(1)))
    []
    """
    note = written.note
    if note is None:
        return []
    slid = [f"~:{note.slide_beats}"] if note.slide_beats is not None else []
    begun = [] if written.tied_on else slid
    for mark, word in zip(note.style.marks, note.style.words, strict=True):
        at_end = mark in _AT_END
        if not (written.tied_over if at_end else written.tied_on):
            begun.append(word)
    return begun


def style_signs(written: NotatedValue, scale: float) -> str:
    """Return the signs over a notehead as one markup over its middle; nothing where it has none.

    *scale* is a staff space of the music in those of the page.
    """
    drawn = [
        at(_HALF_HEAD * scale, place * SIGN_ROW * scale, coloured(INK, _sign(name, scale)))
        for place, name in enumerate(signs_over(written))
    ]
    return overlay(*drawn) if drawn else ""


def _sign(name: str, scale: float) -> str:
    """Return the sign with this *name* around the zero of a line of small letters."""
    mark = next((each for each in _DRAWN if name.startswith(each.value)), None)
    if mark is None:
        return f"\\sans \\center-align {_letters(name)}"
    count = name.removeprefix(mark.value)
    room = (_GAP + _LETTER * len(count)) * scale if count else 0.0
    drawn = _DRAWN[mark](scale)
    number = [at((_WIDE / 2 + _GAP) * scale, 0, f"\\sans {_letters(count)}")] if count else []
    return at(-room / 2, 0, overlay(at(0, _MIDDLE * scale, drawn), *number))


def _letters(text: str) -> str:
    return resized(_LETTERS, lilypond_string(text))


_WIDE, _MIDDLE = 2.4, 0.55  # of a drawn sign: its width, and how high its middle is


def _wave(scale: float) -> str:
    """Draw one and a half waves, whatever the count: the figure after them says it."""
    step, high = _WIDE / 6 * scale, 0.95 * scale
    ends = [(-_WIDE / 2 * scale + 2 * step * number, 0.0) for number in range(4)]
    bows = [
        ((x + step * 0.8, side * high), (x + step * 1.2, side * high), (x + 2 * step, 0.0))
        for (x, _), side in zip(ends[:-1], (1, -1, 1), strict=True)
    ]
    return curve(ends[0], bows, _LINE * scale)


def _double_arrow(scale: float) -> str:
    half, head = _WIDE / 2 * scale, 0.42 * scale
    shaft = polyline([(head - half, 0), (half - head, 0)], _LINE * scale)
    wings = [
        polyline([(side * (half - head), head), (side * half, 0), (side * (half - head), -head)],
                 _LINE * scale)
        for side in (-1, 1)
    ]  # fmt: skip
    return overlay(shaft, *wings)


def _scoop(scale: float) -> str:
    return _bow(scale, -1)


def _fall(scale: float) -> str:
    return _bow(scale, 1)


def _bow(scale: float, side: int) -> str:
    """Draw a bow to a level line at the right (-1), or from one at the left that drops off (1)."""
    half, deep = _WIDE / 2 * scale * 0.85, 0.75 * scale
    begin, end = (side * -half, 0.45 * scale), (side * half, 0.45 * scale - 2 * deep)
    return curve(begin, [((side * half * 0.4, begin[1]), (side * half, 0.0), end)], _LINE * scale)


_DRAWN = {Mark.VIBRATO: _wave, Mark.SHAKE: _double_arrow, Mark.SCOOP: _scoop, Mark.FALL: _fall}


# --- the key -------------------------------------------------------------------------------


def key_phrases(score: Score) -> list[str]:
    """Return what stands in the key, each drawn sign as wide as some letters."""
    return [f"{_SHOWN.get(each.sign, 'mmm')}  {_words(each)}" for each in explained_signs(score)]


def sign_key(score: Score, width: float) -> list[str]:
    """Return the key to the signs that *score* has, in lines *width* long; nothing without any."""
    entries = [
        f"\\concat {{ {coloured(INK, _key_sign(each))} {small(f'  {_words(each)}')} }}"
        for each in explained_signs(score)
    ]
    if not entries:
        return []
    line = f"\\override #'(line-width . {width:g}) \\override #'(word-space . 1.9)"
    return [f"{line} \\wordwrap {{ {' '.join(entries)} }}"]


def _words(explained: ExplainedSign) -> str:
    """Return the meaning of a sign; a drawn one needs its name too."""
    mark = explained.sign
    return f"{mark.value}: {explained.meaning}" if mark in _DRAWN else explained.meaning


_SHOWN: dict[Sign, str] = {
    NoteSign.HOLES: "2 3", NoteSign.QUARTER: QUARTER_SIGN, NoteSign.SLOW_SLIDE: "~:2",
    Mark.SLAP: "slap", Mark.PULL: "pull", Mark.MUTE: "mute",
}  # fmt: skip


def _key_sign(explained: ExplainedSign) -> str:
    sign = explained.sign
    if sign is NoteSign.TONGUE:
        return slab(0, 0.05, 0.9, 1.1)
    if sign is NoteSign.LIFT:
        return curve((0, 0.6), [((0.5, -0.1), (1.5, -0.1), (2.0, 0.6))], _LINE)
    if sign is NoteSign.QUARTER:
        letter = _bold(QUARTER_SIGN)
        return f"\\concat {{ {letter} \\hspace #0.7 \\raise #0.6 \\fontsize #-3 \\semiflat }}"
    if sign in _DRAWN:
        return f"\\left-align {_sign(explained.written, 1.0)}"
    return _bold(explained.written.removeprefix("-").replace("&", " "))


def _bold(text: str) -> str:
    return f"\\sans \\bold {_letters(text)}"
