"""The exercises of a lesson: their drills, harps and ways of practising."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NoReturn

from reedmill.base.gathering import apart
from reedmill.base.source import Span
from reedmill.base.toml_places import TablePath
from reedmill.formats.table import PACK_FORMATS, Maker, Usual, made_by, usual_in
from reedmill.harp import Harp, Layout
from reedmill.harp.harp_registers import REGISTERS
from reedmill.language import Drill
from reedmill.library import usual_position
from reedmill.pack.course.backings import Bandstand
from reedmill.pack.course.bookshelf import Bookshelf
from reedmill.pack.course.course import Entry, ExerciseBand
from reedmill.pack.course.pointing import Pointer
from reedmill.pack.course.registers import TURNS, Every, HarpChoice, InKeys, Named, Rotation
from reedmill.pack.course.settling import SOUND_KEYS, Layer, Settled, settled_recording
from reedmill.practice.practice import Recording
from reedmill.score.score import Embouchure
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import SongKey

if TYPE_CHECKING:
    from reedmill.pack.course.models import BackingTable, ExerciseTable

_NAMING = ("drill", "file", "topic", "level")  # the keys that say which drills
DEFAULT_FORMATS = usual_in(Usual.COURSE, PACK_FORMATS)


@dataclass(frozen=True, slots=True)
class Practised:
    """The settings with which the drills of one exercise are practised."""

    harps: HarpChoice
    positions: tuple[Position, ...]  # empty: the one each drill is meant for
    formats: tuple[str, ...]
    recording: Recording | None
    tempo_bpm: int | None
    plans: Sequence[Embouchure] | None  # None: the drill's own
    backing: ExerciseBand | None

    def entry(self, drill: Drill, note: str, exercise: int, place: Span) -> Entry:
        """Return the exercise of *drill*, number *exercise* of its lesson."""
        if self.plans is not None:
            drill = replace(drill, embouchures=tuple(dict.fromkeys(self.plans)))
        positions = self.positions or (usual_position(drill),)
        return Entry(
            drill, self.harps, positions, self.formats, self.recording, self.tempo_bpm,
            self.backing, note, exercise, place,
        )  # fmt: skip


def has_sound(settled: Settled) -> bool:
    """Return True where sound files are handed out."""
    formats = tuple(settled.value("hand_out", DEFAULT_FORMATS))
    return bool(made_by(Maker.SOUND, formats, PACK_FORMATS))


@dataclass(frozen=True, slots=True)
class Exercises:
    """Reads the exercises of a course; raises ``PatternError`` for every mistake in one."""

    pointer: Pointer
    bookshelf: Bookshelf
    bandstand: Bandstand
    layout: Layout

    def entries(self, settled: Settled, table: ExerciseTable, path: TablePath) -> Iterator[Entry]:
        """Yield one entry for each drill of the exercise at *path*."""
        practised = self.practised(settled, table, path)
        named = [each for each in _NAMING if getattr(table, each) is not None]
        place = self.pointer.places.value((*path, *named[:1]))
        number = int(path[-1]) + 1
        for drill in self._drills(table, path):
            yield practised.entry(drill, table.note, number, place)

    # --- drills ---------------------------------------------------------------------------

    def _drills(self, table: ExerciseTable, path: TablePath) -> tuple[Drill, ...]:
        """Return the drills an exercise names, in one of the ways there are."""
        if table.topic is not None or table.level is not None:
            return self._chosen(table, path)
        if table.drill is not None:
            return tuple(self._titled(table, path))
        if table.file is not None:
            with self.pointer.at((*path, "file")):
                return self.bookshelf.filed(table.file)
        raise self.pointer.error(
            path,
            "this exercise names no drill",
            'Write for example: drill = "Home from every rung"',
        )

    def _chosen(self, table: ExerciseTable, path: TablePath) -> tuple[Drill, ...]:
        where = (*path, "topic" if table.topic is not None else "level")
        if table.drill is not None or table.file is not None:
            raise self.pointer.error(
                where,
                "topic and level choose from the library, and this exercise names its drills too",
                "Make two exercises of it.",
            )
        with self.pointer.at(where):
            return self.bookshelf.about(table.topic, table.level)

    def _titled(self, table: ExerciseTable, path: TablePath) -> Iterator[Drill]:
        if table.file is not None:
            with self.pointer.at((*path, "file")):
                self.bookshelf.filed(table.file)
        for at, title in enumerate(table.drill or ()):
            with apart(), self.pointer.at((*path, "drill", at)):
                if table.file is not None:
                    yield self.bookshelf.filed_as(table.file, title)
                else:
                    yield self.bookshelf.titled(title)

    # --- practice -------------------------------------------------------------------------

    def practised(self, settled: Settled, table: ExerciseTable, path: TablePath) -> Practised:
        """Return how the drills of the exercise at *path* are practised."""
        formats = tuple(dict.fromkeys(settled.value("hand_out", DEFAULT_FORMATS)))
        sounding = has_sound(settled)
        if not sounding:
            self._check_no_sound(table, path)
        recording = settled_recording(settled, self.pointer)
        backing = self._backing(settled)
        positions = dict.fromkeys(settled.value("positions", ()))
        return Practised(
            harps=self.choice(settled),
            positions=tuple(Position(number) for number in positions),
            formats=formats,
            recording=recording if sounding else None,
            tempo_bpm=settled.value("tempo", None),
            plans=settled.value("embouchure", None),
            backing=backing,
        )

    def _check_no_sound(self, table: ExerciseTable, path: TablePath) -> None:
        """Refuse an exercise that sets sound options but hands out no sound.

        A band is no such wish: its chords and bars stand on the sheet too.
        """
        for name in (each for each in SOUND_KEYS if each != "backing"):
            if name in table.model_fields_set and getattr(table, name) not in (None, False):
                raise self.pointer.error(
                    (*path, name),
                    f"{name} is about sound files, and none are handed out here",
                    'Add audio: hand_out = ["sheet", "audio"]',
                )

    def _backing(self, settled: Settled) -> ExerciseBand | None:
        table: BackingTable | None = settled.value("backing", None)
        if table is None:
            return None
        path = settled.path("backing")
        with self.pointer.at((*path, "form")):
            form = self.bandstand.form(table.form)
        with self.pointer.at((*path, "feel")):
            feel = self.bandstand.feel(table.feel)
        return ExerciseBand(form, feel, table.choruses, table.lay)

    # --- harps ----------------------------------------------------------------------------

    def choice(self, settled: Settled) -> HarpChoice:
        """Return the harps that *settled* comes to: by name or by key, whichever is nearer."""
        if settled.nearer("key", "harps"):
            return InKeys(SongKey.parse_list(*settled.value("key", ())))
        path, words = settled.path("harps"), settled.value("harps", ["rotate"])
        if list(words) == ["rotate"]:
            registers = tuple(settled.value("rotation", REGISTERS))
            return Rotation(registers, settled.value("turn", TURNS[0]))
        if list(words) == ["all"]:
            return Every()
        for word in ("rotate", "all"):
            if word in words:
                raise self.pointer.error(
                    path,
                    f'"{word}" is written alone, and here it is in a list with harps',
                    f'Write harps = "{word}", or name the harps.',
                )
        return Named(tuple(dict.fromkeys(Harp.parse(word, self.layout) for word in words)))

    def check_harps(self, layer: Layer) -> None:
        """Refuse a table that says in two ways which harps are played."""
        path, table = layer
        if table.key is not None and table.harps is not None:
            raise self.pointer.error(
                (*path, "key"),
                "key says which harp to take, and harps says so too",
                "Leave out one of them: with key alone the harp follows from the position.",
            )
        if table.key is None and (table.harps is None or "rotate" in table.harps):
            return
        for name in ("rotation", "turn"):
            if getattr(table, name, None) is not None:
                self._refuse_turns(path, name, by_key=table.key is not None)

    def _refuse_turns(self, path: TablePath, name: str, *, by_key: bool) -> NoReturn:
        """Refuse *name*, which is about turns, beside harps that are known."""
        why = "the key says which harp to take" if by_key else "the harps are named"
        raise self.pointer.error(
            (*path, name),
            f"{name} is about harps that take turns, and here {why}",
            f"Leave out key or {name}."
            if by_key
            else 'Write harps = "rotate", or leave one of the two out.',
        )
