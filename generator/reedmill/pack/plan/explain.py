"""The reason something is made again, in musical words: old facts against new ones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from reedmill.formats.table import STEPS
from reedmill.pack.keep.ledger import BuildScope, Origin
from reedmill.pack.plan.pieces import PlannedItem

# Facts that follow from others, which are told in their place.
_CAUSES = {
    "notes": {"drill"},
    "pitches": {"harp", "position", "reference pitch", "intonation", "notes"},
    "length": {"notes", "meter"},
    "breaths": {"tempo", "notes", "meter", "length"},
}
_PROGRAM = "Reedmill"
_TOOLS = {
    "lilypond": "LilyPond", "abjad": "abjad", "numpy": "NumPy", "soundfile": "soundfile",
    "mutagen": "mutagen", "mido": "mido", "pypdf": "pypdf", "pretty-midi": "pretty_midi",
    "pyfluidsynth": "pyfluidsynth",
}  # fmt: skip
_DIGESTS = (
    "notes",
    "pitches",
    "layout",
    "voice's SoundFont",
    "band's SoundFont",
)  # facts that are never anything but digests


class Reasons:
    """Explains for each piece why it has to be made again.

    *before* are the origins of last time, *now* the pieces of *share*.
    """

    def __init__(
        self, before: Mapping[str, Origin], now: Iterable[PlannedItem], share: BuildScope
    ) -> None:
        self._before = before
        self._drills = {(each.edition, each.drill) for each in before.values()}
        kept = {piece.key for piece in now}
        self._free: dict[tuple[str, str, str], list[Origin]] = {}
        for key, origin in before.items():  # what has no successor of its name
            if key not in kept and share.holds(origin.edition, origin.lesson):
                self._free.setdefault(_family(origin), []).append(origin)

    def why(self, piece: PlannedItem) -> str:
        """Return the reason *piece* has to be made."""
        before = self._before.get(piece.key) or self._nearest(piece)
        if before is None:
            return self._new(piece)
        changes = changed(before.facts, piece.facts)
        return "; ".join(changes) if changes else "its result was not in the store"

    def _nearest(self, piece: PlannedItem) -> Origin | None:
        """Return the most similar earlier piece: the same drill on another harp, for example."""
        free = self._free.get(_family(piece), [])
        return max(free, key=lambda each: _alike(each.facts, piece.facts), default=None)

    def _new(self, piece: PlannedItem) -> str:
        if not piece.exercise or piece.kind == "roles":
            return f"new {_NAMES.get(piece.kind, piece.kind)}"
        known = (piece.edition, piece.drill) in self._drills
        what = _NAMES.get(piece.kind, piece.kind)
        return f"new {what} of a drill that was there" if known else "new drill"


_NAMES = {"roles": "role chart"} | {kind: row.words for kind, row in STEPS.items()}


def _family(each: Origin | PlannedItem) -> tuple[str, str, str]:
    return each.kind, each.edition, each.drill


def _alike(one: Mapping[str, str], other: Mapping[str, str]) -> int:
    return sum(one.get(name) == value for name, value in other.items())


def changed(before: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """Return each change from *before* to *now* in words, causes only.

    >>> changed({"tempo": "80", "harp": "C"}, {"tempo": "96", "harp": "C"})
    ['tempo changed, 80 to 96']
    """
    names = [name for name in now if before.get(name) != now[name]]
    names += [name for name in before if name not in now]
    causes = [name for name in names if not _CAUSES.get(name, set()) & set(names)]
    causes = causes or names
    return list(dict.fromkeys(_in_words(name, before.get(name), now.get(name)) for name in causes))


def _in_words(name: str, before: str | None, now: str | None) -> str:
    if name == _PROGRAM:
        return "Reedmill itself changed"
    what = _TOOLS.get(name, name)
    long = name in _DIGESTS or any(each is None or each.startswith("#") for each in (before, now))
    if long:
        verb = "were changed" if name in ("notes", "pitches") else "changed"
        return f"{what} {verb}"
    return f"{what} changed, {_value(before)} to {_value(now)}"


def _value(text: str | None) -> str:
    return text or "nothing"
