"""Several holes in one breath: double stops, chords and octave splits, and what one mouth can do.

The rules are common practice, no published source: one breath blows or draws through all of
its holes; a mouth covers five holes at the most; the tongue covers one run of neighbouring
holes among them; and two neighbours can be bent together by a semitone or less, while more
holes, or holes with the tongue between them, cannot be bent.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.harp.reeds import Reed

MOUTH_HOLES = 5
"""The holes that a mouth covers at the most."""

OneBreath = tuple[Reed, ...]
"""The reeds that one breath sounds, by hole, the lowest first; one alone as often as not."""


def low_to_high(reeds: Sequence[Reed]) -> tuple[Reed, ...]:
    """Return *reeds* by their holes, the lowest first."""
    return tuple(sorted(reeds, key=lambda reed: reed.hole))


def holes_tab(reeds: Sequence[Reed]) -> str:
    """Return the tab of holes played together, the sign of the breath once: ``-2&3``.

    >>> holes_tab([Reed.parse("-1"), Reed.parse("-4")]), holes_tab([Reed.parse("3")])
    ('-1&4', '3')
    """
    first, *others = reeds
    return "&".join([first.tab, *(reed.bare_tab for reed in others)])


def holes_words(reeds: Sequence[Reed]) -> str:
    """Return holes played together as a teacher says them.

    >>> holes_words([Reed.parse(tab) for tab in ("-2", "-3", "-4")])
    'draw 2, 3 and 4'
    >>> holes_words([Reed.parse("1"), Reed.parse("4")])
    'blow 1 and 4, the tongue on 2 and 3'
    """
    first, *others = reeds
    words = _listed([first.words, *(reed.bare_words for reed in others)])
    covered = tongue_holes(reeds)
    return f"{words}, the tongue on {hole_numbers(covered)}" if covered else words


def hole_numbers(holes: Sequence[int]) -> str:
    """Return the numbers of some holes as a teacher says them: ``2, 3 and 4``."""
    return _listed([str(hole) for hole in holes])


def _listed(words: Sequence[str]) -> str:
    *before, last = words
    return f"{', '.join(before)} and {last}" if before else last


def tongue_holes(reeds: Sequence[Reed]) -> tuple[int, ...]:
    """Return the holes between *reeds* that the tongue covers; none where all are neighbours.

    >>> tongue_holes([Reed.parse("-1"), Reed.parse("-4")])
    (2, 3)
    """
    played = {reed.hole for reed in reeds}
    return tuple(hole for hole in range(min(played), max(played)) if hole not in played)


def held_holes(here: Sequence[Reed], there: Sequence[Reed]) -> tuple[int, ...]:
    """Return the holes that sound on where *here* is joined to *there*, as in a tongue lift.

    A lift has other holes there than here, of the same breath, and at least one of both, which
    stays the very same reed.  Empty where it is none: the same holes are held or slide, and
    different reeds need a new attack.  (Common practice, no published source.)

    >>> held_holes([Reed.parse("-4")], [Reed.parse(tab) for tab in ("-1", "-2", "-3", "-4")])
    (4,)
    >>> held_holes([Reed.parse("-3")], [Reed.parse("-2"), Reed.parse("-3'")])
    ()
    """
    if {reed.hole for reed in here} == {reed.hole for reed in there}:
        return ()
    both = shared_holes(here, there)
    return both if all(reed in there for reed in here if reed.hole in both) else ()


def shared_holes(here: Sequence[Reed], there: Sequence[Reed]) -> tuple[int, ...]:
    """Return the holes of *here* that *there* has as well, in the same breath."""
    played = {(reed.hole, reed.breath) for reed in there}
    return tuple(reed.hole for reed in here if (reed.hole, reed.breath) in played)


def together_refusal(reeds: Sequence[Reed]) -> tuple[str, dict[str, object]] | None:
    """Return why one breath cannot sound *reeds* (a key and its values); ``None`` when it can.

    Each of them must be playable by itself.
    """
    tab = holes_tab(low_to_high(reeds))
    holes = sorted(reed.hole for reed in reeds)
    if len({reed.breath for reed in reeds}) > 1:
        return "two-breaths", {"tab": " and ".join(reed.tab for reed in reeds)}
    if len(set(holes)) < len(holes):
        twice = next(hole for hole in holes if holes.count(hole) > 1)
        return "hole-twice", {"hole": twice}
    if any(reed.over for reed in reeds):
        return "overbend-among-holes", {"tab": tab}
    if holes[-1] - holes[0] >= MOUTH_HOLES:
        return "holes-too-far-apart", {"low": holes[0], "high": holes[-1], "most": MOUTH_HOLES}
    covered = tongue_holes(reeds)
    if covered and covered[-1] - covered[0] + 1 > len(covered):
        return "two-gaps", {"tab": tab}
    deepest = max(2 * reed.bend + reed.quarter for reed in reeds)
    if deepest and (len(reeds) > 2 or covered):
        return "bend-among-holes", {"tab": tab}
    if deepest > 2:
        return "two-bent-too-far", {"tab": tab}
    return None
