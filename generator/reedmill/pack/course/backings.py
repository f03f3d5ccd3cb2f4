"""The band under an exercise: forms and feels of the library and of files beside a course."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

from reedmill.band.accompany import laid
from reedmill.band.backing_parser import BAND_KINDS, FormOrFeel, parse_band
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.shelf import (
    SUFFIXES,
    WHAT,
    chosen,
    in_a_file,
    shipped_feels,
    shipped_forms,
)
from reedmill.base.errors import InputError, close_match
from reedmill.base.gathering import all_or_nothing
from reedmill.base.text import same_title
from reedmill.language import read_pattern
from reedmill.pack.course.beside import beside
from reedmill.pack.course.course import ExerciseBand
from reedmill.score.score import Score

FormOrFeelType = TypeVar("FormOrFeelType", Form, BandFeel)


class Bandstand:
    """Finds forms and feels for a course in *folder*; reads each file once.

    Each is asked for by its title in the library, or as ``mine.form`` or
    ``mine.form:Title``.  Raises ``InputError`` when there is none, or for a file that lies
    anywhere else, and ``PatternError`` for what is wrong inside one.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._files: dict[str, tuple[FormOrFeel, ...]] = {}

    def form(self, wanted: str) -> Form:
        """Return the form that *wanted* names."""
        return self._found(wanted, Form, shipped_forms())

    def feel(self, wanted: str) -> BandFeel:
        """Return the feel that *wanted* names."""
        return self._found(wanted, BandFeel, shipped_feels())

    def _found(
        self, wanted: str, kind: type[FormOrFeelType], library: Sequence[FormOrFeelType]
    ) -> FormOrFeelType:
        name, title = in_a_file(wanted)
        if not name:
            return _titled(wanted, library, WHAT[kind])
        return chosen(self._filed(name), kind, title, name)

    def _filed(self, name: str) -> tuple[FormOrFeel, ...]:
        if name not in self._files:
            [suffix] = [each for each in SUFFIXES if name.endswith(each)]
            text = read_pattern(beside(self._folder, name, suffix), BAND_KINDS)
            with all_or_nothing():
                held = parse_band(text, str(self._folder / name))
            self._files[name] = held
        return self._files[name]


def _titled(title: str, known: Sequence[FormOrFeelType], what: str) -> FormOrFeelType:
    for each in known:
        if same_title(each.title) == same_title(title):
            return each
    titles = [each.title for each in known]
    raise InputError(
        f'there is no {what} "{title}".{close_match(title, titles)} '
        f"The {what}s are: {'; '.join(titles)}. "
        f'For one of your own, name its file: {what} = "mine.{what}"'
    )


def with_band(score: Score, backing: ExerciseBand) -> Score:
    """Return *score* over its *backing*, at its own tempo and in its own key.

    Raises ``InputError`` when the two do not go together.
    """
    return laid(score, backing.form, backing.feel, backing.choruses, backing.lay)
