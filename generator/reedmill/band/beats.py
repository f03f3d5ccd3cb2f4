"""Places in a bar as musicians count them, and the strokes on them."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

from lark import Token

from reedmill.band.backing_keywords import BASS_WORDS, COMP_WORDS, MAX_STROKES
from reedmill.band.backing_mistakes import backing_mistake
from reedmill.band.backing_values import token_span, whole_in
from reedmill.band.feel import ACCENT, GHOST, FeelStroke
from reedmill.band.instruments import DRUMS, SEVERAL, drum_named
from reedmill.base.errors import close_match
from reedmill.score.score import Meter

_PLACE = re.compile(r"(\(?)(\d+)([ea&+]?)(!?)(?::([\d/]+))?\)?", re.ASCII)
# Counted aloud "one e and a" in quarters of a beat, "one and a" in thirds of a tap.
_SIMPLE = {"": Fraction(0), "e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4)}
_COMPOUND = {"": Fraction(0), "&": Fraction(1), "a": Fraction(2)}

_WORDS: dict[str, Collection[str]] = {
    "bass": BASS_WORDS, "comp": COMP_WORDS, "drums": DRUMS, "ending": (),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Strokes:
    """One stroke word of a feel and the places after it, as written: ``fifth on 2& 4``."""

    words: tuple[Token, ...]
    places: tuple[Token, ...]


def bar_of(written: Sequence[Strokes], meter: Meter, player: str) -> tuple[FeelStroke, ...]:
    """Return one bar of strokes for *player*, in time order.

    *player* is ``bass``, ``comp``, ``drums`` or, for the last bar of all, ``ending``.
    Raises ``PatternError``.
    """
    count = sum(len(each.places) for each in written)
    if count > MAX_STROKES:
        at = token_span(written[-1].places[0])
        raise backing_mistake("too-many-strokes", at, count=count, most=MAX_STROKES)
    found: list[FeelStroke] = []
    taken: set[tuple[str, Fraction]] = set()
    for each in written:
        word = _word(each, player)
        for place in each.places:
            stroke = _stroke(place, word, meter, player)
            once = (word if player == "drums" else "", stroke.at)
            if once in taken:
                raise backing_mistake("place-twice", token_span(place), place=place)
            taken.add(once)
            found.append(stroke)
    return tuple(sorted(found, key=lambda stroke: stroke.at))


def beat_of(number: int, part: str, meter: Meter) -> Fraction | None:
    """Return the beats from the bar line to ``2&``; ``None`` when the bar has no such place.

    >>> beat_of(2, "&", Meter(4, 4)), beat_of(2, "&", Meter(12, 8))
    (Fraction(3, 2), Fraction(4, 1))
    """
    inside = (_COMPOUND if meter.compound else _SIMPLE).get(part.replace("+", "&"))
    start = (number - 1) * meter.pulse
    if inside is None or number < 1 or start >= meter.beats:
        return None
    return start + inside


def _stroke(place: Token, word: str, meter: Meter, player: str) -> FeelStroke:
    match = _PLACE.fullmatch(place)
    assert match is not None  # noqa: S101  the grammar knows the same places
    soft, number, part, loud, length = match.groups()
    at = beat_of(whole_in(place, number), part, meter)
    if at is None:
        raise backing_mistake(
            "no-such-beat", token_span(place), place=place.strip("()"), meter=meter.name
        )
    if word == "lead" and at == 0:
        raise backing_mistake("lead-on-one", token_span(place))
    if length and player in ("drums", "ending"):
        raise backing_mistake(
            "drums-with-length", token_span(place), place=place, beat=number + part
        )
    louder = ACCENT if loud else GHOST if soft else 0
    return FeelStroke(word, at, louder, _length(place, length, meter))


def _length(place: Token, text: str | None, meter: Meter) -> Fraction | None:
    if text is None:
        return None
    above, _, below = text.partition("/")
    parts = whole_in(place, below) if below else 1
    beats = Fraction(whole_in(place, above), parts) if parts else Fraction(0)
    if not 0 < beats <= meter.beats or beats.denominator > 8:
        raise backing_mistake("length-out-of-range", token_span(place), place=place)
    return beats


def _word(strokes: Strokes, player: str) -> str:
    """Return the word for a stroke, once it is known to the arranger."""
    text = " ".join(strokes.words)
    known = _WORDS[player]
    if player == "drums" and drum_named(text):
        return drum_named(text)
    if text in known or (not text and player in ("comp", "ending")):
        return text
    if not text:
        what = "which tone of the chord" if player == "bass" else "which drum"
        raise backing_mistake("nothing-named", token_span(strokes.places[0]), what=what)
    span = token_span(strokes.words[0]).until(token_span(strokes.words[-1]))
    raise backing_mistake(
        f"unknown-{player}",
        span,
        word=text,
        hint=_one_of_several(text) or close_match(text, known),
        known=", ".join(known),
    )


def _one_of_several(text: str) -> str:
    """Suggest the drums that a word might mean: `` Did you mean "crash" or "ride"?``."""
    several = SEVERAL.get(text.replace("-", " "), ())
    named = " or ".join(f'"{each}"' for each in several)
    return f" Did you mean {named}?" if several else ""
