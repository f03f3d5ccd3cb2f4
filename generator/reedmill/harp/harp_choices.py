"""The choice of a harp: from the key of a song to harps and positions, and from harps to keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reedmill.harp.harp import Harp
from reedmill.harp.harp_places import HarpPlace, SongFit
from reedmill.harp.layouts import RICHTER, Layout
from reedmill.harp.names import HARP_KEYS, harp_key_on
from reedmill.theory.modes import FIFTH, MINOR_THIRD
from reedmill.theory.pitch import place_on_fifths, tonic_on_fifths
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import BLUES, MAJOR, MINOR, PLAIN, SongKey, read_tonic

POSITIONS_THERE_ARE = tuple(map(Position, range(1, 13)))

# What is offered for a song, the usual choice first: a scale, and the position it is meant for
# where another that gives it would be an odd choice.  Common practice, no published source.
_Offer = tuple[str, int | None]
_OFFERED: dict[str, tuple[_Offer, ...]] = {
    PLAIN: (("mixolydian", 2), ("aeolian", 2), ("ionian", 1), ("dorian", None)),
    BLUES: (("mixolydian", 2), ("aeolian", 2), ("dorian", None), ("ionian", 1)),
    MAJOR: (("ionian", None), ("mixolydian", 2), ("lydian", None)),
    MINOR: (
        ("aeolian", 2), ("dorian", None), ("harmonic minor", None), ("aeolian", None),
        ("mixolydian", 2), ("phrygian", None),
    ),
}  # fmt: skip
_FALLBACK = POSITIONS_THERE_ARE[:3]  # on a layout that gives none of these scales


def harp_for(song: SongKey, position: Position, layout: Layout = RICHTER) -> Harp:
    """Return the harp of the usual register that plays *song* in *position*.

    >>> harp_for(SongKey.parse("E"), Position(2)).name
    'A'
    """
    return Harp(harp_key_on(song.pitch_class - FIFTH * (position.number - 1)), layout=layout)


def position_for(song: SongKey, harp: Harp) -> Position:
    """Return the position in which *harp* plays *song*.

    >>> position_for(SongKey.parse("E"), Harp("D")).number
    3
    """
    return _position_on(song.pitch_class, harp)


def choices_for(song: SongKey, layout: Layout = RICHTER) -> tuple[HarpPlace, ...]:
    """Return the harps of *layout* to take for *song*, each with its position, the usual first.

    >>> [(each.harp.name, each.position.number) for each in choices_for(SongKey.parse("E"))]
    [('A', 2), ('E', 1), ('D', 3)]
    """
    places = [HarpPlace(harp_for(song, each, layout), each) for each in POSITIONS_THERE_ARE]
    return _offered(song, places) or tuple(places[: len(_FALLBACK)])


def choices_in(song: SongKey, harps: Sequence[Harp]) -> tuple[HarpPlace, ...]:
    """Return the *harps* that are ready for *song*, the usual choice first, hard ones left out."""
    places = [HarpPlace(harp, position_for(song, harp)) for harp in harps]
    first = _offered(song, places)
    others = (each for each in places if each not in first and each.fit is not SongFit.HARD)
    suited = (each for each in others if _suits(song, each))
    return (*first, *sorted(suited, key=lambda each: each.position.number))


def _offered(song: SongKey, places: Sequence[HarpPlace]) -> tuple[HarpPlace, ...]:
    """Return those of *places* that are offered for *song*, in the order of the table."""
    found: list[HarpPlace] = []
    for scale, position in _OFFERED.get(song.kind, ((song.kind, None),)):
        here = [
            each
            for each in places
            if each not in found
            and scale in each.scales
            and position in (None, each.position.number)
        ]
        first = min(here, key=lambda each: each.position.number, default=None)
        # two harps of one key, low and usual, are both offered
        found += [each for each in here if first and each.position == first.position]
    return tuple(found)


def _suits(song: SongKey, place: HarpPlace) -> bool:
    """Tell whether the natural third of *place* is that of *song*, where one is said."""
    said = {None: "", MINOR_THIRD: "minor"}.get(song.third, "major")
    return not said or place.third in (said, "both")


# --- a case of harps --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CaseKey:
    """One key of songs, and in which position each harp of a case plays it."""

    names: tuple[str, ...]  # Db and C#, where a root has two
    places: tuple[HarpPlace, ...]  # in the order of the harps

    @property
    def label(self) -> str:
        """The key in words: ``C``, ``Db (C#)``."""
        first, *others = self.names
        return f"{first} ({others[0]})" if others else first

    def fits(self, third: str) -> frozenset[SongFit]:
        """Return how well the harps fit songs with this *third*, major or minor."""
        return frozenset(each.fit for each in self.places if each.third in (third, "both"))


def keys_of_case(harps: Sequence[Harp]) -> tuple[CaseKey, ...]:
    """Return the twelve keys from C up, each with the position of every one of *harps*.

    >>> [each.position.number for each in keys_of_case([Harp("C"), Harp("A")])[0].places]
    [1, 10]
    """
    return tuple(
        CaseKey(
            _names(root),
            tuple(HarpPlace(harp, _position_on(root, harp)) for harp in harps),
        )
        for root in range(len(HARP_KEYS))
    )


def _position_on(root: int, harp: Harp) -> Position:
    return next(each for each in POSITIONS_THERE_ARE if harp.key_in(each).pitch_class == root)


def _names(root: int) -> tuple[str, ...]:
    """Return the name of *root* as a harp has it, then its other name if it has one."""
    name = harp_key_on(root)
    letter, alter = read_tonic(name) or ("C", 0)
    if not alter:
        return (name,)
    other = tonic_on_fifths(place_on_fifths(letter, alter) - 12 * alter)
    return name, SongKey(*other, PLAIN).name


def with_care(keys: Sequence[CaseKey], third: str) -> tuple[CaseKey, ...]:
    """Return those of *keys* in which songs with this *third* are played with care alone."""
    found = {each: each.fits(third) for each in keys}
    return tuple(
        key for key, fits in found.items() if SongFit.CARE in fits and SongFit.GOOD not in fits
    )


def not_there(keys: Sequence[CaseKey], third: str) -> tuple[CaseKey, ...]:
    """Return those of *keys* in which no harp plays songs with this *third*, major or minor."""
    return tuple(each for each in keys if not each.fits(third) & {SongFit.GOOD, SongFit.CARE})


def left_out_words(keys: Sequence[CaseKey]) -> tuple[str, ...]:
    """Return sentences on the keys that a case does not play, or plays with care alone."""
    missing = _third_by_third(keys, not_there)
    careful = _third_by_third(keys, with_care)
    return (
        f"Not on these harps: {missing}." if missing else "Every key is there, major and minor.",
        *([f"Only with care: {careful}."] if careful else []),
    )


def _third_by_third(
    keys: Sequence[CaseKey], find: Callable[[Sequence[CaseKey], str], Sequence[CaseKey]]
) -> str:
    """Return the keys that *find* finds: ``major Db (C#), B; minor F``."""
    found = {third: [each.label for each in find(keys, third)] for third in ("major", "minor")}
    return "; ".join(f"{third} {', '.join(names)}" for third, names in found.items() if names)
