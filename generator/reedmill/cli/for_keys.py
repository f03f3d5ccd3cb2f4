"""From the key of a song, as ``--key`` names it, to the harps that play in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NoReturn

from reedmill.harp.harp_choices import harp_for, position_for
from reedmill.harp.harp_places import HarpPlace
from reedmill.harp.harp_thirds import third_apart
from reedmill.theory.song_keys import SongKey

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reedmill.harp import Harp, Layout
    from reedmill.theory.positions import Position


def places_for_keys(
    keys: Sequence[SongKey], harps: Sequence[Harp], positions: Sequence[Position], layout: Layout
) -> list[HarpPlace]:
    """Return the harp of *layout* for each of *keys* in each of *positions*.

    Where *harps* are named too they are taken, if they play in the same keys; ``InputError``
    with both ways out if they do not.
    """
    if not harps:
        return [HarpPlace(harp_for(key, each, layout), each) for key in keys for each in positions]
    named = [HarpPlace(harp, each) for harp in harps for each in positions]
    wanted, there = {key.pitch_class for key in keys}, {each.root for each in named}
    for each in named:
        if each.root not in wanted:
            _refuse(each, keys)
    for key in keys:
        if key.pitch_class not in there:
            _refuse(named[-1], [key])
    return named


def _refuse(place: HarpPlace, keys: Sequence[SongKey]) -> NoReturn:
    """Refuse a harp that is named beside a key it does not play in; raises ``InputError``."""
    from reedmill.base.errors import InputError

    asked, harp, where = keys[0], place.harp, place.position
    played = harp.key_in(where).name
    right = harp_for(asked, where, harp.layout)
    named = " or ".join(each.name for each in keys)
    raise InputError(
        f"in {where.ordinal} position {harp.spoken} plays in {played}, and the song is in {named}. "
        f"Leave out --harp: {right.spoken} plays in {asked.name} there. "
        f"{harp.spoken[:1].upper()}{harp.spoken[1:]} does in {position_for(asked, harp).ordinal} "
        "position."
    )


def notices_of_thirds(keys: Sequence[SongKey], places: Sequence[HarpPlace]) -> Iterator[str]:
    """Yield a notice for each place whose natural third is not the one that its key is said to be.

    Nothing where nothing is said of the third.
    """
    for key in keys:
        for place in places:
            if place.root == key.pitch_class:
                apart = third_apart(key, place)
                yield apart.told("--position {}") if apart else ""
