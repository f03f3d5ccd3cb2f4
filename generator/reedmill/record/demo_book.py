"""A record book to look at: invented players, whose takes are a simulation and nothing else.

Each has places that are out on a register of harp, and that come nearer over eight weeks of
three or four days; whatever he plays scatters about its place, and some of it is missed.  The
figures are made up, with no claim that a student learns so.  The same seed and moment make the
same takes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import accumulate
from pathlib import Path
from random import Random

from reedmill.base.text import ForeignText, printable
from reedmill.base.writing import write_files
from reedmill.ear.advice import advise, by_rung
from reedmill.ear.heard_take import HeardNote
from reedmill.ear.take_json import VERSION, note_data, rung_data
from reedmill.harp import Harp, Reed
from reedmill.harp.harp_registers import register
from reedmill.record.kept_take import KeptTake, StudentTakes, TakeData
from reedmill.record.record_book import StudentRow, open_book
from reedmill.score.score import Role
from reedmill.score.verdicts import Tolerance, Verdict
from reedmill.theory.pitch import equal_hz

WEEKS = 8
_DAYS_A_WEEK = 7
_DAYS_IN_WEEK = (3, 4)  # that are practised
_TAKES_A_DAY = (2, 3)
_PASSES = 2
_MOST_APART = timedelta(minutes=4)  # from one take of a day to the next
_REFERENCE_HZ = 440.0
_TOLERANCE = Tolerance()

# How anybody plays here; in cents unless said.
_SCATTER, _LAST_SCATTER = 11.0, 7.0  # of the tries of one day, in the first week and the last
_OF_THE_DAY = 2.5  # some days all is a little further out
_MISSED, _ANOTHER = 0.03, 0.02  # shares of the tries


@dataclass(frozen=True, slots=True)
class DemoDrill:
    """A drill of the library as it is played in 2nd and 3rd position: tab, and beats of each."""

    title: str
    tempo: int
    tabs: str
    beats: str

    @property
    def notes(self) -> list[tuple[Reed, float]]:
        """Every note with its length in beats."""
        lengths = map(float, self.beats.split())
        return list(zip(map(Reed.parse, self.tabs.split()), lengths, strict=True))


HOLE_2 = DemoDrill(
    "Home from every rung, hole 2", 56,
    "-1 -2 -1 -2' -1 -2'' -1 -2'' -1 -2' -1 -2 -1", "1 1 1 1 1 1 1 1 1 1 1 1 2",
)  # fmt: skip
HOLE_3 = DemoDrill(
    "Home from every rung", 56,
    "-2 -3 -2 -3' -2 -3'' -2 -3'' -2 -3' -2 -3 -2", "1 1 1 1 1 1 1 1 1 1 1 1 2",
)  # fmt: skip
HOLE_4 = DemoDrill(
    "Home from every rung, hole 4", 56, "-2 -4 -2 -4' -2 -4' -2 -4 -2", "1 1 1 1 1 1 1 1 2"
)
STEPS = DemoDrill(
    "Step from the rung before", 56,
    "-2 -3 -3 -2 -3 -3' -2 -3' -3'' -2 -3'' -3'' -2 -3'' -3' -2 -3' -3 -2",
    "1 .5 .5 1 .5 .5 1 .5 .5 1 .5 .5 1 .5 .5 1 .5 .5 2",
)  # fmt: skip
DRILLS = (HOLE_2, HOLE_3, HOLE_4, STEPS)
"""What is played; a test holds each against the library."""


@dataclass(frozen=True, slots=True)
class WeakPlace:
    """A rung that is out where it is reached from a note, on harps of a register."""

    tab: str
    came_from: str
    register: str
    first_cents: float  # over its place, in the first week; negative is flat
    last_cents: float


@dataclass(frozen=True, slots=True)
class DemoPiece:
    """A drill on a harp in a position."""

    drill: DemoDrill
    harp: str
    position: int = 2


@dataclass(frozen=True, slots=True)
class DemoPlayer:
    """An invented player: what he plays, what comes nearer, and what stays where it is."""

    first_name: str
    pieces: tuple[DemoPiece, ...]
    weak: tuple[WeakPlace, ...]
    stays: tuple[WeakPlace, ...] = ()

    @property
    def name(self) -> ForeignText:
        """The name in the book, which says what he is."""
        return printable(f"{self.first_name} (simulated)")


PLAYERS = (
    DemoPlayer(
        "Ada",
        (DemoPiece(HOLE_3, "C"), DemoPiece(STEPS, "C"), DemoPiece(HOLE_3, "A")),
        (WeakPlace("-3''", "-2", "middle", 52, 9), WeakPlace("-3'", "-2", "low", -44, -6)),
    ),
    DemoPlayer(
        "Ben",
        (DemoPiece(HOLE_2, "F"), DemoPiece(HOLE_3, "F"), DemoPiece(HOLE_2, "D")),
        (WeakPlace("-2''", "-1", "high", 56, 14), WeakPlace("-3'", "-2", "high", 46, 5)),
        (WeakPlace("-2'", "-1", "middle", 19, 19),),
    ),
    DemoPlayer(
        "Cleo",
        (DemoPiece(HOLE_3, "low F"), DemoPiece(HOLE_4, "low F"), DemoPiece(HOLE_3, "C", 3)),
        (WeakPlace("-3''", "-2", "low", -54, -12), WeakPlace("-4'", "-2", "low", -46, -8)),
    ),
    DemoPlayer(
        "Dan",
        (DemoPiece(STEPS, "Bb"), DemoPiece(HOLE_2, "C"), DemoPiece(HOLE_4, "E")),
        (WeakPlace("-3'", "-3''", "low", 48, 8), WeakPlace("-2''", "-1", "middle", 54, 10)),
        (WeakPlace("-3", "-2", "low", -18, -18),),
    ),
)  # fmt: skip


def make_demo_book(path: Path, now: datetime, seed: int = 1) -> list[StudentRow]:
    """Make a record book of the ``PLAYERS`` at *path*; return the students that are in it.

    Any file there is replaced: whoever asks for a book sees first that there is none.
    ``RenderError`` where it cannot be written; then there is none.
    """
    rows: list[StudentRow] = []

    def fill(part: Path) -> None:
        with open_book(part, new=True) as book:
            book.add_all(demo_takes(now, seed), now)
            rows.extend(book.students())

    write_files([(path, fill)])
    return rows


def demo_takes(now: datetime, seed: int = 1) -> list[StudentTakes]:
    """Return the takes of all ``PLAYERS``, the last ones of the day and hour of *now*."""
    return [
        StudentTakes(player.name, tuple(_Practising(player, now.astimezone(UTC), seed).takes()))
        for player in PLAYERS
    ]


class _Practising:
    """One player's eight weeks."""

    def __init__(self, player: DemoPlayer, now: datetime, seed: int) -> None:
        self.player, self.now = player, now
        self.chance = Random(f"{seed} {player.first_name}")  # noqa: S311  no secret

    def takes(self) -> Iterator[KeptTake]:
        """Yield the takes, the oldest first."""
        turn = 0
        for back in self._days():
            done = 1 - back / (WEEKS * _DAYS_A_WEEK)
            moments = list(self._moments(self.now - timedelta(days=back)))
            out = self.chance.gauss(0, _OF_THE_DAY)
            for at in moments:
                piece = self.player.pieces[turn % len(self.player.pieces)]
                yield KeptTake(self._take(piece, at, done, out))
                turn += 1

    def _days(self) -> Iterator[int]:
        """Yield how many days ago was practised; the last time is today."""
        for week in reversed(range(WEEKS)):
            many = self.chance.choice(_DAYS_IN_WEEK)
            days = self.chance.sample(range(1, _DAYS_A_WEEK), many - 1)
            for day in sorted([0, *days], reverse=True):
                yield week * _DAYS_A_WEEK + day

    def _moments(self, last: datetime) -> Iterator[datetime]:
        """Yield when the takes of a day were recorded, all of them between midnight and *last*."""
        many = self.chance.choice(_TAKES_A_DAY)
        midnight = last.replace(hour=0, minute=0, second=0, microsecond=0)
        apart = min(_MOST_APART, (last - midnight) / many)
        for number in reversed(range(many)):
            yield (last - number * apart).replace(microsecond=0)

    def _take(self, piece: DemoPiece, at: datetime, done: float, out: float) -> TakeData:
        """Return a take of *piece*; *done* is the share of the weeks that is over."""
        drill, harp = piece.drill, Harp.parse(piece.harp)
        tempo = 2 * round(drill.tempo * (0.75 + 0.25 * done) / 2)
        heard_tempo = tempo + self.chance.gauss(0, 1)
        beat_s = 60 / heard_tempo
        once_s = sum(beats for _, beats in drill.notes) * beat_s
        passes = [
            (1 + number * once_s, self._pass(piece, harp, 1 + number * once_s, beat_s, done, out))
            for number in range(_PASSES)
        ]
        notes = [note for _, each in passes for note in each]
        rungs = by_rung(notes)
        return {
            "reedmill_take": VERSION,
            "recorded": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "drill": {"title": drill.title, "source_sha256": None},
            "harp": harp.name,
            "position": piece.position,
            "tuning": harp.layout.name,
            "intonation": "equal",
            "reference_hz": _REFERENCE_HZ,
            "tempo": tempo,
            "tempo_heard": round(heard_tempo, 1),
            "harp_cents": 0.0,
            "tolerance": {"on": _TOLERANCE.on_cents, "near": _TOLERANCE.near_cents},
            "sound": {"seconds": round(2 + _PASSES * once_s, 2), "level_dbfs": -20.0,
                      "noise_dbfs": -60.0, "clipped_share": 0.0},
            "passes": [
                {"start_s": round(start_s, 3), "end_s": round(start_s + once_s, 3),
                 "notes": [note_data(each) for each in played]}
                for start_s, played in passes
            ],
            "extra": [],
            "by_rung": [rung_data(each) for each in rungs],
            "advice": list(advise(notes, rungs, _TOLERANCE)),
        }  # fmt: skip

    def _pass(
        self, piece: DemoPiece, harp: Harp, start_s: float, beat_s: float, done: float, out: float
    ) -> list[HeardNote]:
        notes = piece.drill.notes
        anchor = notes[0][0]
        starts = accumulate((beats * beat_s for _, beats in notes), initial=start_s)
        before: Reed | None = None
        found = []
        for index, ((reed, beats), at_s) in enumerate(zip(notes, starts, strict=False)):
            role = Role.ANCHOR if reed == anchor else Role.RUNG
            plain = HeardNote(index, reed, role, before, _hz(harp, reed), Verdict.MISSED)
            cents = self._place(reed, before, register(harp), done, out)
            length_s = beats * beat_s
            found.append(self._tried(plain, cents, at_s, length_s, anchor_is=role is Role.ANCHOR))
            before = reed
        return found

    def _place(self, reed: Reed, before: Reed | None, on: str, done: float, out: float) -> float:
        """Return how many cents over its place a try comes to rest."""
        middle = next(
            (_between(each, done) for each in (*self.player.weak, *self.player.stays)
             if before is not None
             and (each.tab, each.came_from, each.register) == (reed.tab, before.tab, on)),
            2.0 if reed.bend else 0.0,
        )  # fmt: skip
        scatter = _SCATTER + (_LAST_SCATTER - _SCATTER) * done
        share = 1.0 if reed.bend else 0.5  # a natural note is moved about less
        return middle + share * (out + self.chance.gauss(0, scatter))

    def _tried(
        self, note: HeardNote, cents: float, at_s: float, length_s: float, *, anchor_is: bool
    ) -> HeardNote:
        """Return *note* as it was heard, or missed, or as the natural note of its reed."""
        draw = self.chance.random()
        if not anchor_is and draw < _MISSED:
            return note
        note = replace(
            note, start_s=at_s, end_s=at_s + 0.9 * length_s, found_after_s=0.06,
            early_ms=self.chance.gauss(0, 25),
        )  # fmt: skip
        if note.reed.bend and draw < _MISSED + _ANOTHER:
            hz = note.wanted_hz * 2 ** (note.reed.bend / 12)
            return replace(note, verdict=Verdict.ANOTHER_NOTE, hz=hz, heard_as=note.reed.natural)
        return replace(
            note,
            verdict=_TOLERANCE.verdict(round(cents, 1)),
            hz=note.wanted_hz * 2 ** (cents / 1200),
            cents=cents,
            cents_from_anchor=cents,
            steadiness_cents=abs(self.chance.gauss(3, 1)),
        )


def _between(place: WeakPlace, done: float) -> float:
    """Return where a weak place is: it comes nearer quickly at first, then more slowly."""
    eased = (1 - math.exp(-1.5 * done)) / (1 - math.exp(-1.5))
    return place.first_cents + (place.last_cents - place.first_cents) * eased


def _hz(harp: Harp, reed: Reed) -> float:
    return equal_hz(harp.midi(reed), _REFERENCE_HZ)
