"""Write drills by the grammar, most of them playable, and make everything of them.

    python tests/fuzz/fuzz_rendering.py [DRILLS] [--seed SEED] [--first NUMBER]
                                        [--processes N] [--only NUMBER]

Drill NUMBER of a seed is always the same text on the same harp.  What can be played is
laid out anew, cut into bars, and made into tab, MIDI, MusicXML, data, a timeline, LilyPond
input (LilyPond does not run), playability, a way of practising it, and where that goes, a
drill over a band.  A drill fails when

- anything but ``ReedmillError`` is raised;
- the written values of a bar do not follow each other and fill it;
- MIDI has another number of attacks or of lyrics than the score, or stops elsewhere, or a key
  that goes on through a lift is struck again;
- MusicXML is not well-formed, or its durations do not fill its bars;
- tab, data, timeline or LilyPond input lack a note or have it elsewhere;
- all of that takes more than two seconds of processor time; one that does not end is given
  up, and the run goes on.

DRILLS counts those that can be played.  Not a test that pytest collects: it takes most of an hour.
``tests/language/test_fuzz.py`` runs a sample.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import re
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from types import FrameType
from xml.etree import ElementTree as ET

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator"), str(HERE)]

from fuzz_parser import FoundError, check_layout, check_message  # noqa: E402
from mido import MidiFile  # noqa: E402

from reedmill.band.accompany import Accompaniment, accompanied  # noqa: E402
from reedmill.base.errors import InputError, PatternError, ReedmillError, RenderError  # noqa: E402
from reedmill.base.ranges import TEMPI_BPM as TEMPI  # noqa: E402
from reedmill.cli.picture import timeline  # noqa: E402
from reedmill.expand import expand, versions, ways  # noqa: E402
from reedmill.expand.playing import home_root  # noqa: E402
from reedmill.formats.band_text import backing_text  # noqa: E402
from reedmill.formats.data import score_data  # noqa: E402
from reedmill.formats.midi import backing_midi_bytes, midi_bytes  # noqa: E402
from reedmill.formats.musicxml import musicxml_bytes  # noqa: E402
from reedmill.formats.text_tab import COLUMNS, tab_lines, tab_text  # noqa: E402
from reedmill.harp import HARP_KEYS, LAYOUTS, Harp, Reed, note_on_harp  # noqa: E402
from reedmill.language import Drill, parse  # noqa: E402
from reedmill.practice.practice import Practice, plan_recording  # noqa: E402
from reedmill.score.notation import bars  # noqa: E402
from reedmill.score.playability import playability  # noqa: E402
from reedmill.score.repeats import printed  # noqa: E402
from reedmill.score.score import Meter, Score  # noqa: E402
from reedmill.sheet.look import Look  # noqa: E402
from reedmill.sheet.page import pages  # noqa: E402
from reedmill.theory.intonation import EQUAL, INTONATIONS, Intonation  # noqa: E402
from reedmill.theory.positions import Position  # noqa: E402

NAME = "fuzz.drill"
MOST_S = 2.0  # of processor time, for every text format of a score
HANGS_S = 12  # of processor time, after which a drill is given up
ENDLESS = f"does not end within {HANGS_S} s"
SHEET_EACH = 5  # one drill in so many is also drawn for SVG and in other looks


# --- drills -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Drawn:
    """A text, and what its last drill is played on."""

    text: str
    harp: Harp
    position: Position
    tempo_bpm: int | None = None
    intonation: Intonation = EQUAL
    reference_hz: float = 440.0


METERS = ("4/4", "4/4", "3/4", "2/4", "6/8", "12/8", "9/8", "2/2", "5/4", "7/8", "3/8", "3/2")
# What fills so many beats; @ is a note.  The later ones are rarer.
FILLS: dict[int, tuple[str, ...]] = {
    1: (
        "@", "@:1/2 @:1/2", "r", "@:1/3 @:1/3 @:1/3", "@:3/4 @:1/4", "@:1/2. @:1/4", "r:1/2 @:1/2",
        "triplet(@:1/2 @:1/2 @:1/2)", "@:2/3 @:1/3", "@:1/3 r:1/3 @:1/3", "@:1/4 @:1/2 @:1/4",
        "@:1/6 @:1/6 @:1/3 @:1/3", "@:1/8 @:1/8 @:1/4 @:1/2", "(@:1/4)x4", "@:1/2.. @:1/8",
        "triplet(@ @:1/2)", "@:1/2 r:1/3 @:1/6", "@:3/8 @:5/8", "(@:1/6)x6", "r:1/8 @:7/8",
    ),
    2: (
        "@:2", "@:3/2 @:1/2", "triplet(@ @ @)", "@:1. @:1/2", "@:1/2 @ @:1/2", "@ r", "(@:1/2)x4",
        "triplet(@:2 @)", "triplet(@ r @)", "@:4/3 @:2/3", "@:1.. @:1/4", "@:5/3 @:1/3",
        "(@:1/2 @:1/2)x2", "triplet(@:1/2)x6", "r:2", "triplet(@:3/2 @:1/2 @)",
    ),
    3: ("@:3", "@:3/2 @:3/2", "@:2 @", "r:3", "@ @ @", "(@)x3", "@:2. ", "@ @:2"),
    4: ("@:4", "@:3 @", "(@ @)x2", "r:4", "(@) 1st (@) 2nd (@)", "@:7/2 @:1/2"),
}  # fmt: skip
LOOSE = (
    "1", "1/2", "1/3", "2/3", "1/4", "3/4", "1/6", "5/6", "1/8", "3/8", "7/8", "2", "3", "5/2",
    "4/3", "7/3", "1/2.", "1.", "1..", "1/4..", "2..", "6", "9", "13", "64", "63/2", "11/6", "17/8",
)  # fmt: skip
WORDS = (
    "Home", "from every rung", "\u00e9t\u00fcde",
    "\\\"so\\\"", "\\\\", "#{x}", "<b>&amp;", "$(x)", "\u97f3\u697d",
    "100 %", "'", "]]>", "a" * 40, "~ | :", "\\n", "\u202e", "\ufb03", "e\u0301",
)  # fmt: skip


def words(chance: random.Random, most: int) -> str:
    """A text in quotes, short more often than long."""
    count = chance.choice([1, 1, 2, 3, 12])
    text = " ".join(chance.choice(WORDS) for _ in range(count))[:most]
    return '"t' + re.sub(r"(?<!\\)((\\\\)*)\\$", r"\1", text) + '"'


@dataclass
class Writer:
    """Writes the music of one drill for one harp, at random but playable."""

    chance: random.Random
    harp: Harp
    position: Position
    meter: Meter
    usual: str  # the length of a note that does not say one

    def reed(self) -> Reed:
        """A reed of the harp; overbends seldom."""
        reeds = self.harp.reeds(overbends=self.chance.random() < 0.1)
        return self.chance.choice(reeds)

    def several(self) -> str:
        """Neighbours, an octave split or a chord, of natural notes in one breath."""
        shape = self.chance.choice([(0, 1), (0, 3), (0, 1, 2)])
        hole = self.chance.randint(1, 10 - shape[-1])
        return self.chance.choice(["", "-"]) + "&".join(str(hole + step) for step in shape)

    def note(self) -> str:
        """A reed, perhaps with an accent."""
        return self.reed().tab + self.chance.choice(["", "", "", "", "!"])

    def degree(self) -> str:
        """A degree that the harp has, counted from the home of a tune."""
        reed = self.chance.choice(list(self.harp.reeds(overbends=False)))
        degree = note_on_harp(self.harp, self.position, reed).degree
        home = home_root(self.harp, self.position)
        octave = (self.harp.midi(reed) - home - degree.semitones) // 12
        name = degree.name
        if octave == 1 and self.chance.random() < 0.4:
            alter, number = re.fullmatch(r"([b#]?)(\d)", name).groups()  # type: ignore[union-attr]
            return f"{alter}{int(number) + 7}"
        return name + "+" * octave + "-" * -octave

    def role(self) -> str:
        """A word of a phrase, or a reed."""
        roles = ("rung", "rung", "rung", "anchor", "previous", "next", "first", "last")
        return self.note() if self.chance.random() < 0.2 else self.chance.choice(roles)

    def filled(self, beats: int, note: Callable[[], str]) -> str:
        """Music that lasts so many whole beats."""
        found: list[str] = []
        while beats:
            size = self.chance.choice([n for n in FILLS if n <= beats])
            choices = FILLS[size]
            fill = choices[min(int(self.chance.expovariate(0.25)), len(choices) - 1)]
            found.append(re.sub("@", lambda _: note() + "~", fill))
            beats -= size
        return self.lengths(" ".join(found))

    def lengths(self, text: str) -> str:
        """*text* with a length of 1 for every note that has none, and slides here and there.

        ``~`` stands behind each note that was filled in.
        """
        pieces = re.sub(r"~(?!:)", "~:1" if self.usual != "1" else "~", text).replace("~", "")
        return re.sub(r"\br\b(?!:)", "r:1", pieces) if self.usual != "1" else pieces

    def slid(self) -> str:
        """A run of slides on one hole, as long as its notes say."""
        bent = [each for each in self.harp.reeds(overbends=False) if each.bend]
        first = self.chance.choice(bent)
        runs = [each for each in self.harp.reeds(overbends=False)
                if (each.hole, each.breath) == (first.hole, first.breath)]  # fmt: skip
        count = self.chance.choice([2, 2, 3, 5])
        sizes = [
            f"{self.chance.choice(runs).tab}:{self.chance.choice(LOOSE[:16])}" for _ in range(count)
        ]
        return "~".join(sizes)

    def lifted(self) -> str:
        """Holes that join and leave in one breath, around one that goes on."""
        stays = self.chance.randint(1, 10)
        near = [hole for hole in range(stays - 4, stays + 5) if hole in range(1, 11)]
        sign = self.chance.choice(["", "-"])
        breaths = []
        for _ in range(self.chance.choice([2, 3, 5])):
            low = self.chance.choice([hole for hole in near if stays - 4 <= hole <= stays])
            high = self.chance.choice([h for h in near if stays <= h < low + 5])
            gap = (
                range(low + 1, high) if stays in (low, high) and self.chance.random() < 0.4 else ()
            )
            holes = [str(hole) for hole in range(low, high + 1) if hole not in gap]
            breaths.append(f"{sign}{'&'.join(holes)}:{self.chance.choice(LOOSE[:16])}")
        return "~".join(breaths)

    def loose(self, note: Callable[[], str]) -> str:
        """Music without bar lines, of any lengths."""
        found = []
        for _ in range(self.chance.choice([1, 3, 6, 12])):
            kind = self.chance.random()
            size = self.chance.choice(LOOSE if kind < 0.3 else LOOSE[:9])
            each = "r" if kind > 0.85 else note()
            found.append(f"{each}:{size}" if kind < 0.7 else each)
        return self.grouped(found)

    def grouped(self, pieces: list[str]) -> str:
        """Some of *pieces* in brackets with repeats, endings or as triplets."""
        start = self.chance.randrange(len(pieces))
        end = self.chance.randint(start + 1, len(pieces))
        inside = " ".join(pieces[start:end])
        times = self.chance.choice([2, 2, 3, 4, 10])
        tail = pieces[start]
        group = self.chance.choice([
            f"({inside})x{times}", f"({inside}) 1st ({tail}) 2nd ({tail} {tail})", f"({inside})",
            f"(({inside})x2 {tail})x{times}",
            f"({inside}) 1st ({tail}) 2nd ({tail}) 3rd ({pieces[-1]})",
            inside, inside, inside,
        ])  # fmt: skip
        return " ".join([*pieces[:start], group, *pieces[end:]])

    def barred(self, note: Callable[[], str], pickup: int = 0) -> str:
        """Whole bars with their bar lines, some of them repeated."""
        found = [f"{self.filled(pickup, note)} |"] if pickup else []
        for _ in range(self.chance.choice([1, 2, 2, 4, 8])):
            bar = f"{self.filled(self.meter.beats, note)} |"
            other = f"{self.filled(self.meter.beats, note)} |"
            found.append(self.chance.choices(
                [bar, f"({bar})x{self.chance.choice([2, 3, 12])}", f"({bar} {other})x2",
                 f"({bar}) 1st ({other}) 2nd ({bar})",
                 f"({bar}) 1st ({other}) 2nd ({other}) 3rd ({bar})"],
                [10, 2, 1, 1, 1])[0])  # fmt: skip
        return " ".join(found)

    def music(self, note: Callable[[], str], pickup: int = 0) -> str:
        """The rest of a music line."""
        kind = self.chance.random()
        if kind < 0.55 or pickup:
            return self.barred(note, pickup)
        if kind < 0.65 and note == self.note:
            return f"{self.slid()} {self.chance.choice([self.slid, self.lifted])()} {self.slid()}"
        return self.loose(note)

    def rungs(self) -> str:
        """The rest of a rungs line."""
        deep = [r for r in self.harp.reeds(overbends=False) if r.bend]
        items = []
        for _ in range(self.chance.choice([1, 1, 2, 4])):
            run = self.chance.choice(deep)
            items.append(self.chance.choice([
                self.reed().tab, self.reed().tab, self.several(), f"all of {run.natural.tab}",
                f"bends of {run.natural.tab}", f"all of {run.natural.tab} down to {run.tab}",
            ]))  # fmt: skip
        return " ".join(items)

    def laddered(self) -> list[str]:
        """Anchor, rungs, order and phrase, all of them lines."""
        anchor = self.chance.choice(["root", self.reed().tab, self.reed().tab, self.several()])
        lines = [f"anchor {anchor}", f"rungs {self.rungs()}"]
        if self.chance.random() < 0.5:
            orders = self.chance.choices(["down", "up", "listed"], k=self.chance.choice([1, 2, 3]))
            lines.append(f"order {', '.join(orders)}")
        return lines

    def phrase(self) -> list[str]:
        """A phrase for a drill with rungs, perhaps with an ending."""
        ending = self.chance.choice(
            ["anchor:2", "last anchor:2", "first:3 r", "anchor r:1/2 anchor!"]
        )
        lines = [f"phrase {self.music(self.role)}"]
        return lines + ([f"ending {ending}"] if self.chance.random() < 0.3 else [])


def maybe(chance: random.Random, share: float, line: str) -> list[str]:
    return [line] if chance.random() < share else []


def heading(chance: random.Random, usual: str, meter: str) -> list[str]:
    """The lines that are not music."""
    slow = chance.choice([20, 56, 60, 90, 120, 300])
    plans = (
        "lips",
        "tongue left",
        "anchors tongue left, rungs lips",
        "anchors lips rungs tongue right",
    )
    chosen = chance.sample(plans, chance.choice([1, 1, 2]))
    return [
        *maybe(chance, 0.5, f"about {words(chance, 300)}"),
        *maybe(chance, 0.3, f"listen {words(chance, 300)}"),
        *maybe(chance, 0.3, f"level {chance.randint(1, 5)}"),
        *maybe(chance, 0.2, f"positions {', '.join(map(str, chance.sample(range(1, 13), 3)))}"),
        *maybe(chance, 0.6, f"tempo {slow}" + chance.choice(["", "", f" to {max(slow, 84)}"])),
        *maybe(chance, 0.3, f"feel {chance.choice(['straight', 'shuffle', 'shuffle'])}"),
        *([f"length {usual}"] if usual != "1" else []),
        *([f"meter {meter}"] if meter != "4/4" else []),
        *maybe(chance, 0.2, "allow overbends"),
        *maybe(chance, 0.3, f"embouchure {' or '.join(chosen)}"),
        *maybe(chance, 0.2, "echo"),
    ]  # fmt: skip


def draw(seed: int, number: int) -> Drawn:
    """Drill *number* of *seed*, and what it is to be played on."""
    chance = random.Random(f"rendering {seed}:{number}")
    layout = chance.choice(list(LAYOUTS.values()))
    harp = Harp(chance.choice(["C", *HARP_KEYS]), chance.choice(["", "", "low", "high"]), layout)
    position = Position(chance.choice([2, chance.randint(1, 12)]))
    name = chance.choice([*METERS, f"{chance.randint(1, 16)}/{chance.choice([2, 4, 8])}"])
    beats, unit = map(int, name.split("/"))
    usual = chance.choice(["1", "1", "1", "1/2", "1/3", "2", "3/8"])
    writer = Writer(chance, harp, position, Meter(beats, unit), usual)
    text = written_drill(writer, name)
    if chance.random() < 0.15:
        text += derived_drill(writer)
    tuned = chance.choice(list(INTONATIONS.values()))
    return Drawn(
        text, harp, position, chance.choice([None, None, chance.choice(TEMPI)]), tuned,
        chance.choice([440.0, 440.0, 390.0, 442.5, 490.0]),
    )  # fmt: skip


def written_drill(writer: Writer, meter: str) -> str:
    """A drill with music of every kind."""
    chance = writer.chance
    lines = heading(chance, writer.usual, meter)
    kind = chance.choice(["play", "play", "tune", "ladder", "ladder", "sections"])
    pickup = 0
    if kind in ("play", "tune") and chance.random() < 0.2 and writer.meter.beats > 1:
        pickup = chance.randint(1, writer.meter.beats - 1)
        lines.append(f"pickup {pickup}")
    elif chance.random() < 0.05:
        lines.append(f"pickup {chance.choice(['1/2', '1/3', '3/4', '2/3'])}")
    if kind in ("ladder", "sections"):
        lines += writer.laddered()
    chance.shuffle(lines)
    makers: dict[str, Callable[[], list[str]]] = {
        "play": lambda: [f"play {writer.music(writer.note, pickup)}"],
        "tune": lambda: [f"tune {writer.music(writer.degree, pickup)}"],
        "ladder": writer.phrase,
        "sections": lambda: list(sections(writer)),
    }
    lines += makers[kind]()
    if kind == "tune":
        lines += maybe(chance, 0.2, "octave low")
    if kind == "play" and chance.random() < 0.3:
        lines.append(f"play {writer.music(writer.note)}")
    return "\n  ".join([f"drill {words(chance, 100)}", *lines]) + "\n"


def sections(writer: Writer) -> Iterator[str]:
    """Named parts, each with music of its own."""
    chance = writer.chance
    for number in range(chance.choice([1, 2, 3, 6])):
        yield f'section "{number} {chance.choice(["Part", "Slow: fast", "|", "-3", "1st"])}"'
        yield from maybe(chance, 0.15, "echo")
        yield from maybe(chance, 0.1, "order up, down")
        makers: list[Callable[[], list[str]]] = [
            writer.phrase, lambda: [f"play {writer.music(writer.note)}"],
            lambda: [f"tune {writer.music(writer.degree)}"],
        ]  # fmt: skip
        yield from chance.choice(makers)()


def derived_drill(writer: Writer) -> str:
    """A drill that takes the rest from the one before it."""
    chance = writer.chance
    lines = [
        *maybe(chance, 0.5, f"move {chance.choice(['up', 'down'])} {chance.choice([1, 1, 2])}"),
        *maybe(chance, 0.3, "tempo 100"), *maybe(chance, 0.2, "feel shuffle"),
        *maybe(chance, 0.2, 'about "Another way."'), *maybe(chance, 0.1, "echo"),
    ]  # fmt: skip
    return "\n  ".join(['drill "Another"', "from {before}", *lines]) + "\n"


# --- what is made of them ------------------------------------------------------------------


def expect(what: str, found: object, wanted: object) -> None:
    """Refuse what is *found* where something else is *wanted*."""
    if found != wanted:
        raise FoundError(f"{what}: {found!r:.300} and not {wanted!r:.300}")


def rendered(drawn: Drawn, number: int) -> Iterator[str]:
    """Make everything of a drill; says what became of each step."""
    text = drawn.text
    if "{before}" in text:
        [title] = re.findall(r"\Adrill (\".*\")$", text, re.MULTILINE)
        text = text.replace("{before}", title)
    try:
        check_layout(text)
        drill = parse(text, NAME)[-1]
        scores = [_score(drill, drawn, version) for version in versions(drill)[:2]]
        ways(drill, drawn.harp, drawn.position)
    except ReedmillError as error:
        check_message(error, text)
        yield f"refused: {getattr(error, 'key', type(error).__name__)}"
        return
    yield "played"
    for score in scores[: 2 if number % SHEET_EACH == 0 else 1]:
        yield from checked(score, number)
    if scores[0].meter.name in ("4/4", "12/8", "6/8", "3/4", "2/2") and number % 4 == 0:
        yield from over_a_band(scores[0], number)


def _score(drill: Drill, drawn: Drawn, version: int) -> Score:
    return expand(
        drill, drawn.harp, drawn.position, tempo_bpm=drawn.tempo_bpm, intonation=drawn.intonation,
        reference_hz=drawn.reference_hz, version=version,
    )  # fmt: skip


def checked(score: Score, number: int) -> Iterator[str]:
    """Every text format of *score*; says which of them refuse it."""
    began_s = time.process_time()
    check_score(score)
    check_practice(score, number)
    for check in (check_bars, check_midi, check_musicxml, check_tab, check_data):
        try:
            check(score)
        except (RenderError, PatternError) as error:
            yield f"{check.__name__} refused: {str(error)[:40]}"
    took_s = time.process_time() - began_s
    if took_s > MOST_S:
        raise FoundError(f"takes {took_s:.2f} s")
    if number % 3:  # to draw takes as long as all else
        return
    try:
        check_sheet(score, number)
    except (RenderError, PatternError) as error:
        yield f"sheet refused: {str(error)[:40]}"


def check_score(score: Score) -> None:
    """The notes follow each other, and the whole is so many bars."""
    for before, after in pairwise(score.notes):
        if before.end > after.start or after.length <= 0:
            raise FoundError(f"notes lie on one another at beat {after.start}")
    expect("last bar", score.length % score.meter.beats, 0)
    if score.notes and score.notes[-1].end > score.length:
        raise FoundError("a note lasts longer than the score")


def _bar_beats(score: Score, at: int) -> Fraction:
    """The beats that are written of bar *at*."""
    return score.pickup if score.pickup and at == 0 else Fraction(score.meter.beats)


def check_bars(score: Score) -> None:
    """Written values fill every bar and are values that exist."""
    found = bars(score)
    expect("bars", len(found), score.bars)
    for at, bar in enumerate(found):
        now = (at + 1) * score.meter.beats - _bar_beats(score, at)
        for each in bar:
            expect(f"start of a value in bar {at + 1}", each.start, now)
            now += each.length
            if each.length <= 0 or each.value.numerator not in (1, 2, 3, 4, 6, 8, 12, 16, 24, 32):
                raise FoundError(f"a value of {each.value} beats is written in bar {at + 1}")
        expect(f"end of bar {at + 1}", now, (at + 1) * score.meter.beats)
    heads = [each.note for bar in found for each in bar if each.note and not each.tied_on]
    expect("noteheads", heads, list(score.notes))
    shown = printed(score)
    expect("printed bars", sum(1 + len(bar.again) for bar in shown), score.bars)


def check_midi(score: Score) -> None:
    """One key for each hole of an attack, held while it goes on, and one lyric for each note."""
    file = MidiFile(file=io.BytesIO(midi_bytes(score)), clip=False, charset="utf-8")
    guide = file.tracks[1]
    played = [each for track in file.tracks if track.name.startswith("Guide") for each in track]
    on = [each.note for each in played if each.type == "note_on" and each.velocity]
    off = [each.note for each in played if each.type == "note_off"]
    expect("MIDI attacks", sorted(on), sorted(struck(score)))
    expect("MIDI note ends", sorted(off), sorted(on))
    lyrics = [each.text for each in guide if each.type == "lyrics"]
    expect("MIDI lyrics", lyrics, [note.tab for note in score.notes])
    ticks = sum(each.time for each in guide)
    whole = score.length * 4 * file.ticks_per_beat / score.meter.unit
    if ticks < round(whole):
        raise FoundError(f"MIDI ends at tick {ticks} and not at {whole}")


def struck(score: Score) -> Iterator[int]:
    """The keys that are struck: those of an attack, and of each hole that joins it later."""
    for attack in score.attacks():
        keys: dict[int, int] = {}  # of each hole, at its first note of the attack
        for before, note in zip((None, *attack), attack, strict=False):
            sounding = {each.reed.hole for each in before.sounded} if before else set()
            for each in note.sounded:
                key = keys.setdefault(each.reed.hole, each.pitch.midi)
                if each.reed.hole not in sounding:
                    yield key


def check_musicxml(score: Score) -> None:
    """Well-formed, and in each bar durations that fill it."""
    root = ET.fromstring(musicxml_bytes(score))  # noqa: S314  our own text
    divisions = int(root.findtext(".//divisions") or 0)
    measures = root.findall("part/measure")
    expect("MusicXML bars", len(measures), score.bars)
    quarters = Fraction(4 * divisions, score.meter.unit)
    for at, measure in enumerate(measures):
        first = [note for note in measure.iterfind("note") if note.find("chord") is None]
        lasting = sum(int(note.findtext("duration") or 0) for note in first)
        expect(f"MusicXML bar {at + 1}", lasting, _bar_beats(score, at) * quarters)
    tabs = [each.text for each in root.iterfind(".//other-technical")]
    expect("MusicXML tabs", tabs, [note.tab for note in score.notes])
    expect("MusicXML title", root.findtext("movement-title"), score.title)


def check_tab(score: Score) -> None:
    """Every reed in its order, in lines of 88 columns."""
    names = [f"{name}:" for _, name in score.sections]
    music = []
    for line in tab_lines(score):
        if names and line.startswith(names[0]):
            music.append(line.removeprefix(names.pop(0)))
        else:
            music.append(line)
            if len(line) > COLUMNS:
                raise FoundError(f"a line of tab has more than {COLUMNS} columns")
    expect("sections left over in the tab", names, [])
    found = re.findall(r"-?\d+'*\^?(?:&\d+)*", " ".join(music))
    expect("tab", found, [note.tab for note in score.notes])
    expect("bars in the tab", " ".join(music).count("|"), score.bars)
    if "\x1b" in tab_text(score):
        raise FoundError("the tab leaks an escape")


def check_data(score: Score) -> None:
    """The data of every note, and a line of the timeline for each."""
    data = json.loads(json.dumps(score_data(score)))
    starts = [(Fraction(row["start"]), row["tab"]) for row in data["notes"]]
    expect("data", starts, [(note.start, note.tab) for note in score.notes])
    expect("timeline", len(timeline(score).splitlines()), len(score.notes) + 1)
    for each in playability(score):
        if len(each.violators) > each.total:
            raise FoundError(f"more break the rule {each.rule} than were asked")


def check_practice(score: Score, number: int) -> None:
    """Passes follow each other, and every note is in as many as there are times through."""
    asked = WAYS_TO_PRACTISE[number % len(WAYS_TO_PRACTISE)]
    with suppress(InputError):  # longer than anyone records
        found = plan_recording(score, asked)
        for before, after in pairwise(found.passes):
            wait = after.score.seconds(Fraction(after.count_in_bars * score.meter.beats))
            expect("start of a pass", after.start_s, before.end_s + wait)
        many = asked.repeats * max(1, len(asked.tempi_bpm)) * 2  # and once more left open
        notes = sum(len(each.notes) for each in found.passes)
        expect("notes practised", notes, many * len(score.notes))
        attacks = sum(len(each.attacks()) for each in found.passes)
        expect("attacks practised", attacks, many * len(score.attacks()))


WAYS_TO_PRACTISE = (
    Practice(repeats=2, echo_bars=1, count_in_bars=1),
    Practice(tempi_bpm=tuple(TEMPI[::90]), echo_bars=0),
    Practice(repeats=3, fade_out=True, echo_bars=2),
)


def check_sheet(score: Score, number: int) -> None:
    """LilyPond input whose brackets close, with each note of the printed bars."""
    look, ids = Look(), False
    if number % SHEET_EACH == 0:
        ids = True
        show = ("both", "notation", "tab")[number // SHEET_EACH % 3]
        look = Look(show=show)
    source = pages([score], look, ids=ids)
    bare = re.sub(r'"(\\.|[^"\\])*"', '""', source)
    bare = re.sub(r"%.*", "", bare)
    expect("brackets of the sheet", bare.count("{"), bare.count("}"))
    shown = [each for bar in printed(score) for each in bar.written]
    sounding = [each.note for each in shown if each.note and not each.tied_on]
    heads = sum(1 if look.show == "tab" else len(note.reeds) for note in sounding)
    if ids:
        expect("heads of the sheet", source.count("data-hole"), heads)


BANDS = (("Twelve bars", "Medium shuffle"), ("Eight bars", "Straight eighths"),
         ("Twelve bars", "Slow twelve-eight"), ("Sixteen bars", "Two-beat"))  # fmt: skip


def over_a_band(score: Score, number: int) -> Iterator[str]:
    """*score* over a band, where the two go together."""
    form, feel = BANDS[number // 4 % len(BANDS)]
    way = ("loop", "once", "chords")[number // 16 % 3]
    try:
        laid = accompanied(score, Accompaniment(form, feel, way, seed=number % 3))
    except InputError:
        yield "does not go over the band"
        return
    yield "over a band"
    yield from checked(laid, number)
    if laid.band is not None:
        backing_text(laid.band)
        MidiFile(file=io.BytesIO(backing_midi_bytes(laid)), clip=False, charset="utf-8")


# --- the run -------------------------------------------------------------------------------


class Hang(BaseException):
    """A drill that would not end; no ``except Exception`` of the code under test hides it."""


def give_up(_signal: int, _frame: FrameType | None) -> None:
    raise Hang


@dataclass
class Tally:
    """What became of a run of drills."""

    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    slowest: tuple[float, int, int] = (0.0, -1, -1)  # seconds, seed, number
    processor_s: float = 0.0

    def add(self, other: Tally) -> None:
        """Take in what another process counted."""
        self.counts += other.counts
        self.failures += other.failures
        self.slowest = max(self.slowest, other.slowest)
        self.processor_s += other.processor_s


def run_one(drawn: Drawn, number: int, tally: Tally) -> str:
    """Make everything of a drill; returns what is wrong with it, or nothing."""
    signal.setitimer(signal.ITIMER_PROF, HANGS_S)
    try:
        for what in rendered(drawn, number):
            tally.counts[what] += 1
    except Hang as hang:
        frames = traceback.extract_tb(hang.__traceback__)[-6:-1]
        return f"{ENDLESS}: {' > '.join(frame.name for frame in frames)}"
    except FoundError as error:
        return str(error)
    except Exception:  # whatever it is, it is the find
        return f"raises {traceback.format_exc(limit=-3)}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return ""


def run_share(seed: int, share: Sequence[int]) -> Tally:
    """All drills of one process."""
    signal.signal(signal.SIGPROF, give_up)
    warm = Drawn('drill "warm"\n play -2\n', Harp("C"), Position(2))
    run_one(warm, 0, tally := Tally())  # loads the grammar and the heavy packages
    tally.counts.clear()
    for number in share:
        drawn = draw(seed, number)
        began_s = time.process_time()
        wrong = run_one(drawn, number, tally)
        took_s = time.process_time() - began_s
        tally.processor_s += took_s
        if wrong:
            place = f"{drawn.harp.name} {drawn.harp.layout.name} harp, {drawn.position.label}"
            tally.failures.append(f"drill {number} of seed {seed} ({place}): {wrong}\n{drawn.text}")
        if not wrong.startswith(ENDLESS):
            tally.slowest = max(tally.slowest, (took_s, seed, number))
    return tally


def main() -> int:
    """Run the drills, print the figures; 1 when anything failed."""
    options = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    options.add_argument("drills", nargs="?", type=int, default=20_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--first", type=int, default=0, help="the drill to go on with, from 0")
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--only", type=int, help="print and run this drill alone")
    chosen = options.parse_args()
    if chosen.only is not None:
        print(draw(chosen.seed, chosen.only))
        return report(run_share(chosen.seed, [chosen.only]), 0.0)
    began_s = time.perf_counter()
    total, start = Tally(), chosen.first
    with ProcessPoolExecutor(chosen.processes) as pool:
        while total.counts["played"] < chosen.drills:
            stop = start + _A_PIECE
            shares = [range(start + n, stop, chosen.processes) for n in range(chosen.processes)]
            seeds = [chosen.seed] * chosen.processes
            for tally in pool.map(run_share, seeds, shares):
                total.add(tally)
                print(*tally.failures, sep="\n", flush=True, end="\n" if tally.failures else "")
            print(f"drills {start} to {stop - 1} of seed {chosen.seed}: {total.counts['played']:,} "
                  f"played by now, {len(total.failures)} failures", flush=True)  # fmt: skip
            start = stop
    return report(total, time.perf_counter() - began_s)


_A_PIECE = 500


def report(total: Tally, took_s: float) -> int:
    """Print the figures; 1 when anything failed."""
    for failure in total.failures[:40]:
        print(f"FAILED: {failure}")
    for what, count in sorted(total.counts.items()):
        print(f"{count:8,} {what}")
    seconds, seed, number = total.slowest
    print(f"{took_s:.0f} s, of processor time {total.processor_s:.0f} s; "
          f"slowest: drill {number} of seed {seed}, {seconds:.2f} s of processor time")  # fmt: skip
    print(f"failures: {len(total.failures)}")
    return 1 if total.failures else 0


if __name__ == "__main__":
    sys.exit(main())
