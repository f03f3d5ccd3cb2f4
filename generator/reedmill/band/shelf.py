"""The forms and feels that come with Reedmill, and those in a player's own files."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from typing import TypedDict, TypeVar

from reedmill.band.backing_parser import BAND_KINDS, FormOrFeel, parse_band, parse_band_file
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form, bars_text, chorus_text
from reedmill.base.errors import InputError, close_match
from reedmill.base.kinds import check_kind
from reedmill.base.remedies import Remedy
from reedmill.base.shipped import patterns_dir
from reedmill.base.text import same_title
from reedmill.language import read_pattern
from reedmill.language.words import MAX_TITLE

ShelfItem = TypeVar("ShelfItem", Form, BandFeel)

SUFFIXES = (".form", ".feel")

WHAT: dict[type[Form | BandFeel], str] = {Form: "form", BandFeel: "feel"}
_INSTEAD = {"form": Remedy.FORM_INSTEAD, "feel": Remedy.FEEL_INSTEAD}
_MOST_NAMED = 3  # of what a file holds, in one message


@cache
def _shipped() -> tuple[tuple[str, FormOrFeel], ...]:
    """Return every shipped form and feel with its file name below the folder of patterns."""
    root = patterns_dir()
    paths = sorted(path for suffix in SUFFIXES for path in root.rglob(f"*{suffix}"))
    found: list[tuple[str, FormOrFeel]] = []
    for path in paths:
        file = path.relative_to(root).as_posix()
        found += [(file, each) for each in parse_band(read_pattern(path, BAND_KINDS), file)]
    return tuple(found)


def shipped_forms() -> tuple[Form, ...]:
    """Return every shipped form, the shortest first and then by title."""
    forms = [each for _, each in _shipped() if isinstance(each, Form)]
    return tuple(sorted(forms, key=lambda form: (len(form.bars), form.title)))


def shipped_feels() -> tuple[BandFeel, ...]:
    """Return every shipped feel, the slowest first."""
    feels = [each for _, each in _shipped() if isinstance(each, BandFeel)]
    return tuple(sorted(feels, key=lambda feel: (feel.usual_tempo_bpm, feel.title)))


def find_form(wanted: str) -> Form:
    """Return the form that *wanted* names: a shipped one by title, or one of a file.

    A title may be given in any case or as the name of its output files.  A file that holds
    several is asked for as ``mine.form:Title``.  Raises ``InputError``.
    """
    return _found(wanted, Form, shipped_forms())


def find_feel(wanted: str) -> BandFeel:
    """Return the feel that *wanted* names; as ``find_form``.

    ``InputError`` for one that is not there, in a file or by title.
    """
    return _found(wanted, BandFeel, shipped_feels())


def _found(wanted: str, kind: type[ShelfItem], known: tuple[ShelfItem, ...]) -> ShelfItem:
    path, title = _as_file(wanted)
    if path:
        return chosen(parse_band_file(Path(path)), kind, title, path)
    for each in known:
        if same_title(each.title) == same_title(wanted):
            return each
    check_kind(b"", wanted, WHAT[kind], *BAND_KINDS)  # its ending tells
    what, titles = WHAT[kind], [each.title for each in known]
    meant = close_match(wanted, titles)
    all_of_them = "" if meant else f"; the {what}s are: {'; '.join(titles)}"
    raise InputError(
        f'there is no {what} "{wanted:.{MAX_TITLE}}".{meant} '
        f"Put a whole title in quotes{all_of_them}. A file of your own ends in .{what}."
    )


def in_a_file(wanted: str) -> tuple[str, str]:
    """Split ``mine.form:Title`` into path and title; the path is empty for a title alone.

    >>> in_a_file("mine.form:Two: bars"), in_a_file("b.feel"), in_a_file("Rumba")
    (('mine.form', 'Two: bars'), ('b.feel', ''), ('', 'Rumba'))
    """
    for suffix in SUFFIXES:
        path, sign, title = wanted.partition(f"{suffix}:")
        if sign:
            return path + suffix, title
    return (wanted, "") if wanted.endswith(SUFFIXES) else ("", wanted)


def _as_file(wanted: str) -> tuple[str, str]:
    """Split as ``in_a_file``, and accept any name of an existing file as a path."""
    is_file = os.path.isfile(wanted)  # noqa: PTH113  odd names
    return (wanted, "") if is_file else in_a_file(wanted)


def chosen(held: tuple[FormOrFeel, ...], kind: type[ShelfItem], title: str, file: str) -> ShelfItem:
    """Return the form or feel of a *file* that *title* names, or its only one.

    *held* is what the file holds; no *title* asks for the only one of its *kind*.  Raises
    ``InputError`` when there is none or several.
    """
    what = WHAT[kind]
    own = [each for each in held if isinstance(each, kind)]
    if not own:
        other = "feel" if what == "form" else "form"
        titles = ", ".join(f'"{each.title}"' for each in held[:_MOST_NAMED])
        raise InputError(
            f"{file}: there is no {what} in this file. It holds the {other} {titles}.",
            way_out=_INSTEAD[other],
            asked=file + (f":{title}" if title else ""),
        )
    fitting = [each for each in own if not title or same_title(each.title) == same_title(title)]
    if len(fitting) == 1:
        return fitting[0]
    named = ", ".join(f'"{file}:{each.title}"' for each in own)
    raise InputError(f"{file} holds {_amount(len(own), what)}. Say which one: {named}")


def _amount(count: int, what: str) -> str:
    return f"{count} {what}{'s' if count > 1 else ''}"


class FormData(TypedDict):
    """A form as plain data."""

    title: str
    file: str
    about: str
    bars: int
    positions: list[int]
    chords: str
    turnaround: str
    ending: str
    stops: str
    breaks: str


class FeelData(TypedDict):
    """A feel as plain data."""

    title: str
    file: str
    about: str
    meter: str
    tempo: int
    tempo_goal: int | None
    swing: str


class ShelfData(TypedDict):
    """The shipped forms and feels as ``backing --list --json`` prints them."""

    forms: list[FormData]
    feels: list[FeelData]


def shelf_data() -> ShelfData:
    """Return the shipped forms and feels as plain data: what ``backing --list --json`` prints."""
    files = {id(each): file for file, each in _shipped()}
    return {
        "forms": [
            {
                "title": form.title,
                "file": files[id(form)],
                "about": form.about,
                "bars": len(form.bars),
                "positions": list(form.positions),
                "chords": chorus_text(form.bars),
                "turnaround": chorus_text(form.turnaround),
                "ending": chorus_text(form.ending),
                "stops": bars_text(form.stops),
                "breaks": bars_text(form.breaks),
            }
            for form in shipped_forms()
        ],
        "feels": [
            {
                "title": feel.title,
                "file": files[id(feel)],
                "about": feel.about,
                "meter": feel.meter.name,
                "tempo": feel.tempo_bpm,
                "tempo_goal": feel.tempo_goal_bpm,
                "swing": str(feel.swing),
            }
            for feel in shipped_feels()
        ],
    }
