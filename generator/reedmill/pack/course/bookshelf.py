"""The drills a course may name: those of the library, and of files beside it."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path

from reedmill.base.errors import InputError, close_match
from reedmill.base.gathering import all_or_nothing
from reedmill.base.remedies import Remedy
from reedmill.base.text import same_title
from reedmill.language import Drill, parse, read_pattern
from reedmill.library import SUFFIX, Wanted, search, whole_library
from reedmill.pack.course.beside import beside


class Bookshelf:
    """Finds drills for a course in *folder*; reads each file once."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._files: dict[str, tuple[Drill, ...]] = {}

    @cached_property
    def _titles(self) -> dict[str, Drill]:
        return {same_title(each.drill.title): each.drill for each in whole_library()}

    def titled(self, title: str) -> Drill:
        """Return the library's drill *title*, in any case; ``InputError`` if there is none."""
        found = self._titles.get(same_title(title))
        if found is None:
            titles = [each.title for each in self._titles.values()]
            raise InputError(
                f'there is no drill "{title}".{close_match(title, titles)}',
                way_out=Remedy.FIND_DRILL,
            )
        return found

    def filed(self, name: str) -> tuple[Drill, ...]:
        """Return the drills of the file called *name* in the folder of the course.

        ``InputError`` for a file that lies anywhere else, ``PatternError`` for what is wrong
        inside it.
        """
        if name not in self._files:
            text = read_pattern(beside(self._folder, name, SUFFIX))
            library = tuple(self._titles.values())
            with all_or_nothing():
                drills = parse(text, str(self._folder / name), library)
            self._files[name] = drills
        return self._files[name]

    def filed_as(self, name: str, title: str) -> Drill:
        """Return the drill called *title* in the file called *name*.

        ``InputError`` with the nearest title where the file has no such drill.
        """
        drills = self.filed(name)
        for drill in drills:
            if same_title(drill.title) == same_title(title):
                return drill
        titles = [drill.title for drill in drills]
        raise InputError(
            f'there is no drill "{title}" in {name}.{close_match(title, titles)} '
            f"It has: {', '.join(titles):.400}."
        )

    def about(self, topic: str | None, level: int | None) -> tuple[Drill, ...]:
        """Return the drills of the library of a topic and level, easiest first.

        ``InputError`` where there is none.
        """
        found = search(Wanted(topic=topic, level=level))
        if not found:
            raise InputError(
                f'there is no drill of level {level} about "{topic}".',
                way_out=Remedy.FIND_ON_TOPIC,
                topic=str(topic),
            )
        return tuple(each.drill for each in found)
