"""Output formats looked up by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reedmill.base.choosing import known_word
from reedmill.base.errors import InputError, close_match
from reedmill.base.remedies import Remedy
from reedmill.formats.table import Format, Maker


def formats_named(
    names: Sequence[str], among: Mapping[str, Format], of: str = ""
) -> tuple[str, ...]:
    """Return the formats *among* those of *of* (``" for a backing"``) called *names*.

    *names* may be in any case.  ``InputError`` for a name there is not, with what to write instead.
    """
    return tuple(dict.fromkeys(_named(name.strip(), among, of) for name in names))


def _named(name: str, among: Mapping[str, Format], of: str) -> str:
    found = known_word(name, among)
    if found is not None:
        return found
    fact = f'there is no format "{name:.60}"{of}'
    from reedmill.practice.practice import TYPES  # asked for by a mistake alone

    kind = known_word(name, TYPES)
    if kind is not None:
        sound = f"{fact}: {kind.upper()} is a kind of sound."
        raise InputError(sound, way_out=Remedy.KIND_OF_SOUND, kind=kind)
    drawn = [row for row in among.values() if row.maker is Maker.LILYPOND]
    for row in drawn:  # whoever asks for pages as others call them
        if f".{name.casefold()}" == row.ending:
            told = f"{fact}: the {name.upper()} is the {row.words}."
            raise InputError(told, way_out=Remedy.FORMAT_OF_ENDING, format=row.name)
    raise InputError(f"{fact}.{close_match(name, among)} Choose from: {', '.join(among)}.")
