"""Precedence of defaults, lesson and exercise: the nearest one that has a key counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reedmill.base.toml_places import TablePath
from reedmill.pack.course.pointing import Pointer
from reedmill.practice.practice import Click, Practice, Recording

if TYPE_CHECKING:
    from reedmill.pack.course.models import ChartTable, PracticeKeys

SOUND_KEYS = (
    "drone", "click", "count_in", "repeat", "echo", "fade_out", "ladder", "apart", "stems",
    "wide", "loop", "pure", "audio", "backing",
)  # fmt: skip
"""The keys that go into a sound file."""

_SWITCHES = ("stems", "wide", "apart", "loop", "pure")

Layer = tuple[TablePath, "PracticeKeys | ChartTable"]
"""A table of practice keys, and where it stands; of a chart that has two of them, too."""


@dataclass(frozen=True, slots=True)
class Settled:
    """The practice keys of one exercise, each with the table that decides it."""

    layers: tuple[Layer, ...]  # defaults first, the exercise or the chart last

    def value(self, name: str, otherwise: Any) -> Any:
        """Return the value of *name*; *otherwise* where nothing, or "none", was written."""
        found = getattr(self.layers[self._deepest(name)][1], name)
        return otherwise if found is None else found

    def nearer(self, name: str, other: str) -> bool:
        """Tell whether *name* says something, and *other* nothing in a table that is nearer."""
        said = self.value(name, None) is not None
        beaten = self.value(other, None) is not None and self._deepest(other) > self._deepest(name)
        return said and not beaten

    def path(self, *names: str) -> TablePath:
        """Return where the nearest one of *names* was written."""
        name = max(names, key=self._deepest)
        return (*self.layers[self._deepest(name)][0], name)

    def _deepest(self, name: str) -> int:
        """Return the index of the nearest layer that has *name*; 0 when none does."""
        saying = [at for at, (_, table) in enumerate(self.layers) if name in table.model_fields_set]
        return max(saying, default=0)


def settled_recording(settled: Settled, pointer: Pointer) -> Recording:
    """Return the recording of an exercise; ``PatternError`` for conflicting options."""
    _check_together(settled, pointer)
    click = settled.value("click", None)
    with pointer.at(settled.path(*SOUND_KEYS)):
        return Recording(
            drone=settled.value("drone", ()),
            click=Click(click) if click else None,
            backing=settled.value("backing", None) is not None,
            practice=Practice(
                count_in_bars=settled.value("count_in", 0),
                repeats=settled.value("repeat", 1),
                echo_bars=settled.value("echo", None),
                fade_out=settled.value("fade_out", False),
                tempi_bpm=settled.value("ladder", ()),
            ),
            types=tuple(dict.fromkeys(settled.value("audio", ("wav",)))),
            **{name: settled.value(name, False) for name in _SWITCHES},
        )


_BESIDE = ("drone", "click", "count_in", "backing")  # what makes a mix of the tones

# A wish, what it needs one of, the fact without it, and the way out.
_NEEDS: tuple[tuple[str, Sequence[str], str, str], ...] = (
    (
        "fade_out",
        ("repeat",),
        "the tones can only fade out over repeats, and there are none here",
        "Write for example: repeat = 4",
    ),
    (
        "apart",
        ("ladder",),
        "apart gives each tempo of a ladder its own file, and there is no ladder here",
        'Write for example: ladder = "60 to 90 by 5"',
    ),
    (
        "loop",
        ("drone",),
        "loop makes a drone that can be looped, and there is no drone here",
        'Write for example: drone = "root"',
    ),
    (
        "stems",
        _BESIDE,
        "stems need something beside the tones, and there is no drone, click or band here",
        'Write for example: drone = "root"',
    ),
    (
        "wide",
        _BESIDE,
        "wide needs something beside the tones, and there is no drone, click or band here",
        'Write for example: drone = "root"',
    ),
)


def _check_together(settled: Settled, pointer: Pointer) -> None:
    for wish, needs, fact, remedy in _NEEDS:
        wanted = settled.value(wish, False)
        if wanted and not any(_there(settled, need) for need in needs):
            raise pointer.error(settled.path(wish, *needs), fact, remedy)


def _there(settled: Settled, name: str) -> bool:
    return bool(settled.value(name, None)) if name != "repeat" else settled.value(name, 1) > 1
