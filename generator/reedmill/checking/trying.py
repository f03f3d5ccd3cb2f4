"""Trial expansion of drills on harps and in positions, to tell which each mistake is for.

Mistakes are gathered, see ``base.gathering``; on one harp or on twelve, the same mistake at the
same place is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from reedmill.base.errors import InputError, PatternError, pointing
from reedmill.base.gathering import apart, gathering, identity
from reedmill.base.source import Span
from reedmill.expand import expand, versions
from reedmill.expand.playing import refusals
from reedmill.expand.taken_over import mistakes_placed_in, placed
from reedmill.formats.writable import check_writable
from reedmill.harp import Harp
from reedmill.language import Drill
from reedmill.library import not_meant_for, usual_position
from reedmill.practice.practice import Recording
from reedmill.practice.sound_limits import check_sound_length
from reedmill.score.score import Score
from reedmill.theory.positions import Position


@dataclass(frozen=True, slots=True)
class Setting:
    """A harp and a position that a drill is tried on and in."""

    harp: Harp
    position: Position | None  # None: any, where something lies with the harp alone


Tried = dict[Setting, None]


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings that drills were tried on, and those each mistake and warning belongs to."""

    tried: dict[str, Tried] = field(default_factory=dict)  # by the titles of the drills
    found: dict[object, Tried] = field(default_factory=dict)  # by the identity of the error
    drills: dict[object, set[str]] = field(default_factory=dict)  # their titles, likewise

    def note(self, error: InputError, drill: Drill, setting: Setting) -> None:
        """Record that *error* was found in *drill* on *setting*."""
        self.found.setdefault(identity(error), {})[setting] = None
        self.drills.setdefault(identity(error), set()).add(drill.title)

    def of(self, error: InputError) -> tuple[Setting, ...]:
        """Return the settings *error* was found on; none for a mistake of the file itself."""
        return tuple(self.found.get(identity(error), ()))

    def words(self, error: InputError) -> str:
        """Say which of several harps and positions *error* is for, as a sentence.

        Nothing where one alone was tried, or where the error names them itself.
        """
        found = self.of(error)
        titles = self.drills.get(identity(error), ())
        tried = [setting for title in titles for setting in self.tried[title]]
        fact = error.fact if isinstance(error, PatternError) else str(error)
        return _told(found, tried, fact)


def _told(found: Sequence[Setting], tried: Sequence[Setting], fact: str) -> str:
    together: dict[tuple[Position, ...], list[Harp]] = {}  # harps by their positions
    for harp in _harps(found):
        here = _positions([each for each in found if each.harp == harp])
        together.setdefault(here, []).append(harp)
    parts = (_part(harps, where, tried, fact) for where, harps in together.items())
    said = _listed(list(filter(None, parts)))
    return f"That is so {said}." if said else ""


def _part(
    harps: Sequence[Harp], positions: Sequence[Position], tried: Sequence[Setting], fact: str
) -> str:
    """Return the part of *tried* that *fact* leaves open: ``on the G harp in 2nd position``."""
    most_harps, most_positions = len(_harps(tried)), len(_positions(tried))
    every_harp, every_position = len(harps) == most_harps, len(positions) == most_positions
    there = most_positions > 1 and bool(positions)
    placed_by_fact = there and all(each.ordinal in fact for each in positions)
    harps_by_fact = all(each.label in fact for each in harps) or (every_harp and placed_by_fact)
    on = "on every harp" if every_harp else _on(harps)
    where = "in every position" if every_position else _in(positions)
    words = [
        on if most_harps > 1 and not harps_by_fact else "",
        where if there and not placed_by_fact else "",
    ]
    return (" and " if every_harp and every_position else " ").join(filter(None, words))


def _harps(some: Sequence[Setting]) -> tuple[Harp, ...]:
    return tuple(dict.fromkeys(each.harp for each in some))


def _positions(some: Sequence[Setting]) -> tuple[Position, ...]:
    return tuple(dict.fromkeys(each.position for each in some if each.position))


def _on(some: Sequence[Harp]) -> str:
    return f"on the {_listed([each.full_name for each in some])} harp{'s' * (len(some) > 1)}"


def _in(some: Sequence[Position]) -> str:
    return f"in {_listed([each.ordinal for each in some])} position" if some else ""


def _listed(words: Sequence[str]) -> str:
    """Join words as English does: ``C``, ``C and G``, ``C, G and Bb``."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


@dataclass(frozen=True, slots=True)
class Tries:
    """Expands drills on harps, in *positions* or in all that each is meant for."""

    positions: tuple[Position, ...]
    scores: list[Score] = field(default_factory=list)  # those that are asked for
    warnings: list[PatternError] = field(default_factory=list)
    settings: Settings = field(default_factory=Settings)

    def play(self, drill: Drill, harp: Harp) -> None:
        """Try *drill* on *harp* in each position; keep its scores in the wanted ones."""
        refused = list(refusals(drill, harp))
        alone = Setting(harp, None)
        self.settings.tried.setdefault(drill.title, {})[alone] = None
        with self._found_on(drill, alone):
            for each in refused:
                with apart():
                    raise placed(each, drill)
        if refused or drill.broken:
            return
        asked = self.positions or (usual_position(drill),)
        meant = () if self.positions else tuple(map(Position, drill.positions))
        for where in dict.fromkeys((*asked, *meant)):
            self._try(drill, Setting(harp, where), where, kept=where in asked)

    def _try(self, drill: Drill, setting: Setting, position: Position, *, kept: bool) -> None:
        self.settings.tried[drill.title][setting] = None
        told = not_meant_for(drill, setting.harp, position)
        self._warn(drill, drill.span, told, setting)
        for version in versions(drill):
            with self._found_on(drill, setting), mistakes_placed_in(drill), _at(drill):
                score = expand(drill, setting.harp, position, version=version)
                check_writable(score, ("sheet", "tab"))  # what make makes unasked
                check_sound_length([score], Recording())
                if kept:
                    self.scores.append(score)
                    for each in score.warnings:
                        self._warn(drill, each.span, each.fact, setting, each.instead)

    def _warn(
        self, drill: Drill, span: Span, said: str, setting: Setting, instead: str = ""
    ) -> None:
        if said:
            warning = PatternError(said, instead, span, key=PLAYED)
            self.warnings.append(warning.with_source(drill.texts.get(span.file, "")))
            self.settings.note(warning, drill, setting)

    @contextmanager
    def _found_on(self, drill: Drill, setting: Setting) -> Iterator[None]:
        """Gather the mistakes inside the block as those of *drill* on *setting*."""
        with gathering() as found:
            yield
        for each in found:
            self.settings.note(each, drill, setting)
            with apart():
                raise each


PLAYED = "how-it-is-played"
"""The key of a warning that ``make`` gives too."""


@contextmanager
def _at(drill: Drill) -> Iterator[None]:
    """Show the excess of a whole *drill* at its title."""
    try:
        yield
    except PatternError:
        raise
    except InputError as error:
        raise pointing(error, drill.span) from None
