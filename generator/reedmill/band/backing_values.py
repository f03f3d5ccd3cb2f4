"""Single values of a form or feel (texts, numbers, players, chords), each range-checked."""

from __future__ import annotations

from contextvars import ContextVar

from lark import Token

from reedmill.band.backing_mistakes import backing_mistake
from reedmill.base.errors import InputError, close_match
from reedmill.base.source import Span
from reedmill.base.text import MOST_DIGITS, ForeignText, printable, whole_number
from reedmill.language.music_builder import unescaped
from reedmill.language.words import MAX_TITLE
from reedmill.score.arrangement import Part
from reedmill.theory.chords import Chord, sign_in_front
from reedmill.theory.positions import POSITION_WORDS, Position

READING: ContextVar[str] = ContextVar("reading_band", default="band")
"""The name of the file being read, for spans; one parser then serves every file."""

ABOVE: ContextVar[int] = ContextVar("above_in_band", default=0)
"""The lines of that file above the text being read, when it is read in pieces."""

_NOTE_NAMES = frozenset("ABCDEFG")
_PARTS = {"bass": Part.BASS, "comp": Part.COMP, "drums": Part.DRUMS}


def token_span(token: Token) -> Span:
    """Return the place of *token* in the file being read."""
    line = ABOVE.get() + (token.line or 1)
    return Span(READING.get(), line, token.column or 1, max(1, len(token)))


def title_in(token: Token, block: str) -> ForeignText:
    """Return the title between the quotes of *token*; *block* is form or feel.

    ``PatternError`` for a title of no letters, or one that is too long.
    """
    text = text_in(token, MAX_TITLE, "title")
    if not text.strip():
        raise backing_mistake("empty-title", token_span(token), block=block)
    return text


def text_in(token: Token, most: int, what: str) -> ForeignText:
    """Return the text between the quotes of *token*, printable and at most *most* characters.

    ``PatternError`` for a text that is longer.
    """
    inside = token[1:-1]
    if len(inside) > most:
        raise backing_mistake(
            "text-too-long", token_span(token), what=what, count=len(inside), most=most
        )
    return printable(unescaped(inside))


def number_in(word: Token, token: Token, allowed: range) -> int:
    """Return the whole number in *token*, on a line that starts with *word*.

    ``PatternError`` with the range of that line for any other.
    """
    number = whole_in(token, token)
    if number not in allowed:
        raise backing_mistake(
            "number-out-of-range", token_span(token), word=word, number=token,
            least=allowed[0], most=allowed[-1],
        )  # fmt: skip
    return number


def position_in(word: Token, token: Token) -> int:
    """Return the position *token* names, as a number or in the words of the command line.

    ``PatternError`` for any other word.
    """
    if token.isdigit():
        return number_in(word, token, range(1, 13))
    try:
        return Position.parse(token).number
    except InputError:
        hint = close_match(token[:MAX_TITLE], POSITION_WORDS)
        raise backing_mistake(
            "no-such-position", token_span(token), word=token, hint=hint
        ) from None


def whole_in(token: Token, digits: str) -> int:
    """Return the number *digits* writes, a part of *token*; refuse too many digits, never cut."""
    number = whole_number(digits)
    if number is None:
        raise backing_mistake(
            "number-too-long", token_span(token), digits=len(digits), most=MOST_DIGITS
        )
    return number


def player_in(token: Token, known: tuple[str, ...]) -> Part:
    """Return the player called *token*, who must be one of *known*.

    ``PatternError`` with all of them for any other.
    """
    if token not in known:
        hint = close_match(token, known)
        raise backing_mistake(
            "unknown-player", token_span(token), word=token, hint=hint, known=" or ".join(known)
        )
    return _PARTS[token]


def chord_in(token: Token) -> Chord:
    """Return the chord in *token*; refuse a chord of one key and say how forms write it."""
    try:
        return Chord.parse(str(token))
    except InputError:
        meant = sign_in_front(str(token))
        if meant:
            sign = "sharp" if meant[0] == "#" else "flat"
            at = token_span(token)
            raise backing_mistake("sign-behind", at, chord=token, meant=meant, sign=sign) from None
        key = "chord-by-name" if token[0] in _NOTE_NAMES else "unknown-chord"
        raise backing_mistake(key, token_span(token), chord=token) from None
