"""Plain data of harps and the keys they play, for ``reedmill keys --json`` and Python."""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.harp import Harp
from reedmill.harp.harp_choices import (
    POSITIONS_THERE_ARE,
    CaseKey,
    keys_of_case,
    not_there,
    with_care,
)
from reedmill.harp.harp_places import HarpPlace
from reedmill.theory.modes import MINOR_THIRD
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import SongKey

_Rows = dict[str, object]


def song_data(song: SongKey, places: Sequence[HarpPlace]) -> dict[str, object]:
    """Return *song* and the harps to take for it, each in a position: *places*.

    The schema ``keys`` of ``formats.schemas`` says what each field means.
    """
    in_minor = song.third == MINOR_THIRD
    return {
        "key": song.label,
        "root": song.name,
        "choices": [place_data(each, in_minor=in_minor) for each in places],
    }


def positions_data(
    harp: Harp, positions: Sequence[Position] = POSITIONS_THERE_ARE
) -> dict[str, object]:
    """Return what *harp* gives in each of *positions*: key, scale, home, and what it is good for.

    The schema ``keys-harp`` of ``formats.schemas`` says what each field means.
    """
    return {
        "harp": harp.full_name,
        "tuning": harp.layout.name,
        "positions": [place_data(HarpPlace(harp, each)) for each in positions],
    }


def case_data(harps: Sequence[Harp]) -> dict[str, object]:
    """Return in which position each of *harps* plays each of the twelve keys.

    The schema ``keys-case`` of ``formats.schemas`` says what each field means.
    """
    keys = keys_of_case(harps)
    return {
        "harps": [each.full_name for each in harps],
        "keys": [_key_row(each) for each in keys],
        "with_care": _roots(with_care(keys, "major"), with_care(keys, "minor")),
        "not_there": _roots(not_there(keys, "major"), not_there(keys, "minor")),
    }


def _roots(major: Sequence[CaseKey], minor: Sequence[CaseKey]) -> _Rows:
    return {
        third: [each.names[0] for each in keys]
        for third, keys in (("major", major), ("minor", minor))
    }


def _key_row(key: CaseKey) -> _Rows:
    return {
        "key": key.names[0],
        "names": list(key.names),
        "places": [
            {
                "harp": each.harp.full_name,
                "position": each.position.number,
                "third": each.third or None,
                "fit": each.fit.value,
            }
            for each in key.places
        ],
    }


def place_data(place: HarpPlace, *, in_minor: bool = False) -> dict[str, object]:
    """Return what a harp gives in a position; *in_minor* says what for, of a song in minor."""
    return {
        "harp": place.harp.full_name,
        "tuning": place.harp.layout.name,
        "position": place.position.number,
        "key": place.harp.key_in(place.position).name,
        "scales": list(place.scales),
        "degrees": list(place.degrees),
        "home": [reed.tab for reed in place.home],
        "bent_home": [reed.tab for reed in place.bent_home],
        "third": place.third or None,
        "bent_thirds": [reed.tab for reed in place.bent_thirds],
        "fit": place.fit.value,
        "good_for": place.good_for(in_minor=in_minor),
    }
