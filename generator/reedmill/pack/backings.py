"""A band of the library under an exercise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from reedmill.accompany import laid
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.shelf import shipped_feels, shipped_forms
from reedmill.errors import InputError, close_match
from reedmill.pack.course import Backing
from reedmill.score import Score
from reedmill.text import slug

Kind = TypeVar("Kind", Form, BandFeel)


def form_titled(title: str) -> Form:
    """The form of the library called *title*, in any case; ``InputError`` if none is."""
    return _titled(title, shipped_forms(), "form")


def feel_titled(title: str) -> BandFeel:
    """The feel of the library called *title*, in any case; ``InputError`` if none is."""
    return _titled(title, shipped_feels(), "feel")


def _titled(title: str, known: Sequence[Kind], what: str) -> Kind:
    for each in known:
        if slug(each.title) == slug(title):
            return each
    titles = [each.title for each in known]
    raise InputError(
        f'there is no {what} "{title}".{close_match(title, titles)} '
        f"The {what}s are: {'; '.join(titles)}."
    )


def with_band(score: Score, backing: Backing) -> Score:
    """*score* over its *backing*, at its own tempo and in its own key.

    Raises ``InputError`` when the two do not go together.
    """
    form, feel = form_titled(backing.form), feel_titled(backing.feel)
    return laid(score, form, feel, backing.choruses, backing.way)
