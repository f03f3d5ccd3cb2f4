"""The one way to look a word up in a list, whatever its case."""

from __future__ import annotations

from collections.abc import Iterable

from reedmill.base.errors import InputError, close_match

_LONGEST_SHOWN = 40  # letters of a word that is none of them


def known_word(word: str, known: Iterable[str]) -> str | None:
    """Return the name in *known* equal to *word* in any case; ``None`` when there is none.

    >>> known_word(" Letter", ("a4", "letter")), known_word("legal", ("a4", "letter"))
    ('letter', None)
    """
    names = {name.casefold(): name for name in known}
    return names.get(word.strip().casefold())


def chosen_word(what: str, word: str, known: Iterable[str], beyond: str = "") -> str:
    """Return the name in *known* equal to *word* in any case; raise ``InputError`` for none.

    ``InputError`` with the nearest name and all of them when it is none; *what* is the
    thing that is chosen, and *beyond* what else may be written.
    """
    names = tuple(known)
    found = known_word(word, names)
    if found is None:
        raise InputError(
            f'there is no {what} "{word:.{_LONGEST_SHOWN}}".{close_match(word, names)} '
            f"Choose from: {', '.join(names)}{beyond}."
        )
    return found
