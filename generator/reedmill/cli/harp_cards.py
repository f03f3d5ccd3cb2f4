"""Harps to take for a song as text for a terminal: cards, and a case of harps as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reedmill.cli.folding import folded
from reedmill.cli.picture import text_columns
from reedmill.harp import Reed
from reedmill.harp.harp_choices import CaseKey, left_out_words
from reedmill.harp.harp_places import HarpPlace, SongFit
from reedmill.theory.modes import MINOR_THIRD
from reedmill.theory.song_keys import SongKey

_INDENT = "    "
_SIGNS = (
    "* with care: one note of its scale is foreign to most songs. In brackets: home or its fifth "
    "is a bend."
)


def place_card(place: HarpPlace, width: int, song: SongKey | None = None) -> list[str]:
    """Return what a harp gives in a position: scale, home, thirds, and what it is good for.

    With a *song* it is a choice of a harp for it, whose root has the name it has in the song.
    """
    own = place.harp.key_in(place.position).name
    root = song.name if song else own
    head = f"{place.position.label}: {root} {place.scale}".rstrip()
    lines = [
        f"{place.harp.label}, {head}" if song else head,
        *([f"{root} is called {own} on this harp."] if root != own else []),
        *_notes(place),
        f"Good for {place.good_for(in_minor=_in_minor(song))}.",
    ]
    first, *others = lines
    return [
        *folded(first, width, _INDENT),
        *(line for each in others for line in folded(each, width, _INDENT, _INDENT)),
    ]


def _in_minor(song: SongKey | None) -> bool:
    return song is not None and song.third == MINOR_THIRD


def _notes(place: HarpPlace) -> Iterator[str]:
    """Yield the natural notes as degrees, where home is, and the bends to a flat third."""
    if place.home:
        bent = f", or bent {_tabs(place.bent_home)}" if _bends(place) else ""
        yield f"{' '.join(place.degrees)}; home is {_tabs(place.home)}{bent}"
    elif place.bent_home:
        kind = "a bend" if _bends(place) else "an overbend"
        yield f"Home is {kind}: {_tabs(place.bent_home)}"
    else:
        yield "Home is not on this harp."
    if place.third == "major" and place.bent_thirds:
        yield f"The flat third is a bend: {_tabs(place.bent_thirds)}"


def _bends(place: HarpPlace) -> bool:
    """Tell whether home is a bend somewhere: an overbend is not offered beside natural notes."""
    return any(reed.bend for reed in place.bent_home)


def _tabs(reeds: Sequence[Reed]) -> str:
    return " ".join(reed.tab for reed in reeds)


def case_table(keys: Sequence[CaseKey], width: int) -> list[str]:
    """Return the position of each harp in each key, as a table or, where narrow, key by key."""
    heads = ("key", *(place.harp.full_name for place in keys[0].places))
    rows = [(each.label, *map(_cell, each.places)) for each in keys]
    table = text_columns(heads, rows).split("\n")
    if max(map(len, table)) > width:
        table = [line for each in keys for line in _line(each, width)]
    notes = (_SIGNS, *left_out_words(keys))
    return [*table, "", *(line for each in notes for line in folded(each, width))]


def _cell(place: HarpPlace) -> str:
    """Return a position with its third; with care has a star, and a hard one brackets."""
    ordinal = place.position.ordinal
    if place.fit is SongFit.HARD:
        return f"({ordinal})"
    return f"{ordinal} {place.third}".rstrip() + ("*" if place.fit is SongFit.CARE else "")


def _line(key: CaseKey, width: int) -> list[str]:
    """Return the harps that play in *key* as a line of words, hard ones left out."""
    there = [
        f"{each.harp.full_name} {_cell(each)}"
        for each in key.places
        if each.fit is not SongFit.HARD
    ]
    return folded(f"{key.label}: {', '.join(there) or 'none'}", width, _INDENT)
