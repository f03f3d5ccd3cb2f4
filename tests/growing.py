"""Drills of any size in several shapes, and the stages that have to keep pace with them."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache

from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.base.errors import InputError
from reedmill.cli.picture import timeline
from reedmill.expand import expand, ways
from reedmill.expand.breath import with_breaths
from reedmill.formats.band_text import backing_text
from reedmill.formats.data import score_data
from reedmill.formats.midi import backing_midi_bytes, midi_bytes
from reedmill.formats.musicxml import musicxml_bytes
from reedmill.formats.text_tab import tab_lines
from reedmill.harp import Harp
from reedmill.language import Drill, parse
from reedmill.language.formatter import tidy
from reedmill.practice.practice import Practice, plan_recording
from reedmill.score.notation import bars
from reedmill.score.playability import playability
from reedmill.score.repeats import printed
from reedmill.score.score import Score
from reedmill.sheet.page import pages
from reedmill.theory.positions import Position

C_HARP, CROSS = Harp("C"), Position(2)
BAND = "over a band"


def _many(piece: str, notes: int, each: int) -> str:
    """*piece* with its *each* notes so often that there are *notes* of them."""
    return " ".join([piece] * (notes // each))


def _sections(notes: int) -> str:
    parts = (f'section "Part {at}"\n    play -2:2 -3:2 -4:2 4:2' for at in range(notes // 4))
    return "tempo 20\n  " + "\n  ".join(parts)


_ECHO = "anchor -1\n  echo\n  phrase anchor rung:2 r\n  rungs"
_SPLIT = "embouchure anchors tongue left, rungs lips\n  anchor -1\n  phrase anchor rung\n  rungs"
# Each has twice as much of what it is about when it has twice the notes.
_TEXTS: dict[str, Callable[[int], str]] = {
    "plain": lambda n: f"play {_many('-2 -3 -4:1/2 4:1/2', n, 4)}",
    "triplets": lambda n: f"play {_many('-2:1/3 -3:1/3 -4:1/3', n, 3)}",
    "wide triplets": lambda n: f"play {_many('triplet(-2 -3 -4) -2 -1', n, 5)}",
    "triplets and ties": lambda n: f"play {_many('triplet(-2 -3 -4) -1:30', n, 4)}",
    "breaths": lambda n: f"tempo 20\n  play {_many('-2:2 -3:2', n, 2)}",
    "repeats": lambda n: f"play {_many('(-2 -3 -4 4)x2', n, 8)}",
    "endings": lambda n: f"play {_many('(-2:4) 1st (-3:4) 2nd (4:4)', n, 4)}",
    "repeated triplets": lambda n: f"play {_many('(triplet(-2 -3 -4) -2:2)x2', n, 8)}",
    "one repeat": lambda n: f"play ({_many('-2 -3 -4 4', n // 10, 4)})x10",
    "played very often": lambda n: f"tempo 20\n  play ((-2:2 -3:2)x{n // 40})x20",
    "echoes": lambda n: f"{_ECHO} {_many('-3 -4', n, 4)}",
    "sections": _sections,
    "slides": lambda n: "play " + _many("-3:1/2~-3':1/2", n, 2),
    "one long slide": lambda n: "play -3:1/8 " + _many("~-3':1/8 ~-3:1/8", n, 2),
    "ties": lambda n: f"play {_many('-3:7 4:3/4', n, 2)}",
    "holds": lambda n: f"{_SPLIT} {_many('-3 -4', n, 4)}",
    "shuffle": lambda n: f"feel shuffle\n  play {_many('-2:1/2 -3:1/2 4:1', n, 3)}",
    "tune": lambda n: f"tune {_many('1 b3:1/2 4:1/2 5', n, 4)}",
    "long bars": lambda n: f"meter 12/8\n  play {_many('-2:12 | -3:12 |', n, 2)}",
    # enough of them that a breath is needed in the shorter drill too
    "short notes": lambda n: f"meter 16/8\n  play {_many('-2:1/8 -3:1/8', 4 * n, 2)}",
    BAND: lambda _: f"play {_many('-2 -3 -4 4', 48, 4)}",
}  # fmt: skip
SHAPES = tuple(_TEXTS)


@dataclass(frozen=True)
class Grown:
    """A drill of about so many notes: as text, as it was read, and as a score."""

    text: str
    drill: Drill
    score: Score


@cache
def grown(shape: str, notes: int) -> Grown:
    """The drill of this shape with about *notes* notes."""
    text = f'drill "Grown"\n  {_TEXTS[shape](notes)}\n'
    [drill] = parse(text)
    score = expand(drill, C_HARP, CROSS)
    if shape == BAND:
        under = Accompaniment("Twelve bars", choruses=max(1, notes // 48))
        score = accompanied(score, under)
    return Grown(text, drill, score)


def _practised(it: Grown) -> object:
    return [plan_recording(it.score, Practice(echo_bars=1, tempi_bpm=(300,))).length_s]


def _over(it: Grown) -> object:
    """The drill over as many choruses as it takes, where a band has its meter."""
    with suppress(InputError):
        return accompanied(it.score, Accompaniment("Twelve bars", "Straight eighths"))
    return None


def _band(it: Grown) -> object:
    band = it.score.band
    return band and (backing_text(band), backing_midi_bytes(it.score))


STAGES: dict[str, Callable[[Grown], object]] = {
    "parse": lambda it: parse(it.text),
    "tidy": lambda it: tidy(it.text),
    "expand": lambda it: expand(it.drill, C_HARP, CROSS),
    "ways": lambda it: ways(it.drill, C_HARP, CROSS),
    "over": _over,
    "breath": lambda it: with_breaths(it.score),
    "notation": lambda it: bars(it.score),
    "repeats": lambda it: printed(it.score),
    "tab": lambda it: tab_lines(it.score),
    "MIDI": lambda it: midi_bytes(it.score),
    "MusicXML": lambda it: musicxml_bytes(it.score),
    "JSON": lambda it: json.dumps(score_data(it.score)),
    "timeline": lambda it: timeline(it.score),
    "playability": lambda it: playability(it.score),
    "practice": _practised,
    "band": _band,
    "sheet": lambda it: pages([it.score], ids=True),
}
"""All that is done with a drill between its text and a file, but for LilyPond and sound."""
