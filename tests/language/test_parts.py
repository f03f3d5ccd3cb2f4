"""Sections, echoes, endings, triplets, dots, moves, roots, plans and accents.

Each law is worked out here again from the words alone; pitches and bends come from the
published layout (OEIS A291810) in ``oracles``, note values from music21.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

import music21
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import oracles
from reedmill.base.errors import PatternError, ReedmillError
from reedmill.base.text import printable
from reedmill.expand import expand, versions, ways
from reedmill.expand.breath import without_breaths
from reedmill.formats.midi import midi_bytes
from reedmill.harp import LAYOUTS, Harp, Layout
from reedmill.harp.together import holes_tab
from reedmill.language import parse
from reedmill.score.notation import bars
from reedmill.score.score import Feel, LipShape, Score
from reedmill.sound.recording.mix import stem
from reedmill.theory.positions import Position

CROSS_C = (Harp("C"), Position(2))


def score_of(text: str, harp: str = "C", position: int = 2) -> Score:
    """The score of the last drill of *text*."""
    return expand(parse(text)[-1], Harp.parse(harp), Position(position))


def drill(*lines: str, title: str = "Any") -> str:
    return f'drill "{title}"\n' + "".join(f"  {line}\n" for line in lines)


def played(score: Score) -> list[tuple[Fraction, Fraction, str, bool, bool]]:
    """What is heard, without where it was written, and before breaths are taken from it."""
    notes = without_breaths(score).notes
    return [(n.start, n.length, n.tab, n.joined, n.accent) for n in notes]


def tabs(score: Score) -> list[str]:
    return [note.tab for note in score.notes]


@dataclass(frozen=True)
class Word:
    """A reed, or r, with its length in beats."""

    name: str
    beats: Fraction

    @property
    def text(self) -> str:
        """As it is written."""
        return f"{self.name}:{self.beats}"


def text_of(words: Sequence[Word]) -> str:
    return " ".join(word.text for word in words)


def beats_of(words: Sequence[Word]) -> Fraction:
    return sum((word.beats for word in words), Fraction(0))


def notes_from(words: Sequence[Word], now: Fraction) -> list[tuple[Fraction, Fraction, str]]:
    found = []
    for word in words:
        if word.name != "r":
            found.append((now, word.beats, word.name))
        now += word.beats
    return found


def timed(score: Score) -> list[tuple[Fraction, Fraction, str]]:
    return [(n.start, n.length, n.tab) for n in without_breaths(score).notes]


lengths = st.builds(Fraction, st.integers(1, 9), st.sampled_from([1, 2, 4]))
reeds = st.sampled_from(oracles.PLAIN_TABS)
music = st.lists(st.builds(Word, reeds | st.just("r"), lengths), min_size=1, max_size=5)
meters = st.integers(2, 7)
harps = st.sampled_from(oracles.HARPS)
positions = st.sampled_from(oracles.POSITIONS)


# --- sections ---


@given(st.none() | music, st.lists(music, min_size=1, max_size=4), meters, st.none() | lengths)
def test_each_section_starts_on_a_bar_line(
    own: list[Word] | None, sections: list[list[Word]], meter: int, pickup: Fraction | None
) -> None:
    """With the drill's own music before them or without, after a pick-up or not."""
    assume(pickup is None or pickup < meter)
    lines = [f"meter {meter}/4"]
    lines += [f"pickup {pickup}"] if pickup else []
    lines += [f"play {text_of(own)}"] if own else []
    for number, words in enumerate(sections):
        lines += [f'section "Part {number}"', f"  play {text_of(words)}"]
    score = score_of(drill(*lines))
    first = now = meter - pickup if pickup else Fraction(0)
    notes = notes_from(own, now) if own else []
    now += beats_of(own) if own else 0
    starts = []
    for words in sections:
        now = now if now == first else Fraction(-(-now // meter) * meter)
        starts.append(now)
        notes += notes_from(words, now)
        now += beats_of(words)
    assert timed(score) == notes
    assert score.sections == tuple((at, f"Part {n}") for n, at in enumerate(starts))
    assert score.length == -(-now // meter) * meter


def test_a_section_takes_over_length_order_and_echo_unless_it_has_its_own() -> None:
    score = score_of(
        drill(
            "length 1/2", "order up", "rungs -3 -3'", "phrase rung", "echo",
            'section "Same"', "  phrase rung",
            'section "Own"', "  length 2", "  order down", "  phrase rung",
            'section "Music"', "  play -1",
        )
    )  # fmt: skip
    half, two = Fraction(1, 2), Fraction(2)
    assert timed(score) == [
        (Fraction(0), half, "-3'"), (Fraction(1), half, "-3"),
        (Fraction(4), half, "-3'"), (Fraction(5), half, "-3"),
        (Fraction(8), two, "-3"), (Fraction(12), two, "-3'"),
        (Fraction(16), half, "-1"),
    ]  # fmt: skip
    assert [end - start for start, end in score.echoes] == [half] * 4 + [two] * 2 + [half]


def test_sections_may_be_of_every_kind() -> None:
    score = score_of(
        drill(
            "anchor -2", "rungs -3 -3'",
            'section "Ladder"', "  phrase anchor rung", "  ending anchor:2",
            'section "Riff"', "  play -2 4 | -4:4 |",
            'section "Tune"', "  tune 1 b3 anchor",
        ).replace("-2 4 |", "-2:2 4:2 |")
    )  # fmt: skip
    assert tabs(score) == ["-2", "-3", "-2", "-3'", "-2", "-2", "4", "-4", "-2", "-3'", "-2"]
    assert [name for _, name in score.sections] == ["Ladder", "Riff", "Tune"]
    assert [at for at, _ in score.sections] == [0, 8, 16]


def test_music_of_a_section_may_go_on_over_lines() -> None:
    parts = ('section "A"', "  play -2 -3", "  play -4", 'section "B"', "  tune 1", "  tune 5")
    assert tabs(score_of(drill(*parts))) == ["-2", "-3", "-4", "-2", "-4"]


def test_a_bar_check_in_a_section_counts_from_its_bar_line() -> None:
    score_of(drill("play -2", 'section "A"', "  play -2:4 | -3:4 |"))
    with pytest.raises(PatternError, match="this bar has 3 beats"):
        score_of(drill("play -2", 'section "A"', "  play -2:3 | -3:4 |"))


# --- echoes ---


@given(music, st.lists(reeds, min_size=1, max_size=4), music, meters)
def test_an_echo_leaves_the_time_of_every_phrase_open(
    phrase: list[Word], rungs: list[str], ending: list[Word], meter: int
) -> None:
    """Phrase, the same time again, phrase; the ending has none."""
    score = score_of(
        drill(f"meter {meter}/4", f"rungs {' '.join(rungs)}", "echo",
              f"phrase rung:1/2 {text_of(phrase)}", f"ending {text_of(ending)}")
    )  # fmt: skip
    long = beats_of(phrase) + Fraction(1, 2)
    notes, echoes, now = [], [], Fraction(0)
    for rung in rungs:
        notes += notes_from([Word(rung, Fraction(1, 2)), *phrase], now)
        echoes.append((now + long, now + 2 * long))
        now += 2 * long
    assert timed(score) == notes + notes_from(ending, now)
    assert score.echoes == tuple(echoes)


@pytest.mark.parametrize(
    "line", ["play -2 -4:1/2 -3:3/2", "tune 1 5:1/2 3:3/2", "play (-2 r)x2 -3:2"]
)
@pytest.mark.parametrize("feel", ["straight", "shuffle"])
def test_the_guide_is_silent_while_the_student_answers(line: str, feel: str) -> None:
    """As long as the line itself; the click goes on."""
    score = score_of(drill(f"feel {feel}", line, "echo"))
    [(start, end)] = score.echoes
    long = 6 if "x2" in line else 3
    assert [start, end] == [long, 2 * long]
    guide, click = stem(score, "tones"), stem(score, "click")
    open_part = slice(44_100 * start.numerator, 44_100 * end.numerator)
    assert not np.any(guide[open_part])
    assert np.any(guide[: 44_100 * start.numerator])
    assert np.any(click[open_part])


def test_several_echoes_are_silent_too() -> None:
    score = score_of(drill("anchor -2", "rungs -3 -3'", "phrase anchor rung:1/2", "echo"))
    guide = stem(score, "tones")
    assert score.echoes == ((Fraction(3, 2), Fraction(3)), (Fraction(9, 2), Fraction(6)))
    for start, end in score.echoes:
        assert not np.any(guide[int(44_100 * start) : int(44_100 * end)])


# --- endings, triplets, dots ---


@given(music, st.lists(music, min_size=1, max_size=4), music)
def test_endings_are_the_music_written_out(
    head: list[Word], endings: list[list[Word]], tail: list[Word]
) -> None:
    names = ["1st", "2nd", "3rd", "4th"]
    voltas = " ".join(
        f"{name} ({text_of(words)})" for name, words in zip(names, endings, strict=False)
    )
    out = " ".join(f"{text_of(head)} {text_of(words)}" for words in endings)
    folded = score_of(drill(f"play ({text_of(head)}) {voltas} {text_of(tail)}"))
    assert played(folded) == played(score_of(drill(f"play {out} {text_of(tail)}")))


def test_endings_stand_inside_brackets_and_brackets_inside_endings() -> None:
    folded = score_of(drill("play ((-2) 1st (-3 -4) 2nd ((-1)x2))x2"))
    assert tabs(folded) == ["-2", "-3", "-4", "-2", "-1", "-1", "-2", "-3", "-4", "-2", "-1", "-1"]


def test_a_slide_may_lead_into_an_ending() -> None:
    folded = score_of(drill("play (-2 -3) 1st (~-3' -4) 2nd (~-3'' -2)"))
    assert [(n.tab, n.joined) for n in folded.notes] == [
        ("-2", False), ("-3", False), ("-3'", True), ("-4", False),
        ("-2", False), ("-3", False), ("-3''", True), ("-2", False),
    ]  # fmt: skip


def a_triplet(inside: list[Word]) -> bool:
    """False for two or four notes alike, which no triplet has."""
    return len(inside) not in (2, 4) or len({word.beats for word in inside}) > 1


@given(music, st.integers(1, 3), music)
def test_a_triplet_plays_its_notes_in_two_thirds_of_their_time(
    inside: list[Word], times: int, after: list[Word]
) -> None:
    assume(a_triplet(inside))
    score = score_of(drill(f"play triplet({text_of(inside)})x{times} {text_of(after)}"))
    shrunk = [Word(word.name, word.beats * Fraction(2, 3)) for word in inside]
    assert timed(score) == notes_from([*shrunk * times, *after], Fraction(0))


def test_three_halves_in_a_triplet_fill_a_beat() -> None:
    """Three eighths in the time of two: a tuplet of music21 says the same."""
    eighth = music21.duration.Duration("eighth")
    eighth.appendTuplet(music21.duration.Tuplet(3, 2, "eighth"))
    score = score_of(drill("play triplet(-2:1/2 -3:1/2 -4:1/2) -1"))
    assert [n.length for n in score.notes[:3]] == [Fraction(eighth.quarterLength)] * 3
    assert score.notes[3].start == 1


@pytest.mark.parametrize(
    ("length", "kind", "dots"),
    [
        ("1.", "quarter", 1), ("1..", "quarter", 2), ("1/2.", "eighth", 1),
        ("1/2..", "eighth", 2), ("2.", "half", 1), ("2..", "half", 2), ("1/4.", "16th", 1),
        ("4.", "whole", 1),
    ],
)  # fmt: skip
def test_dots_lengthen_as_they_do_on_paper(length: str, kind: str, dots: int) -> None:
    """Against music21's dotted values, a beat being a quarter."""
    value = music21.duration.Duration(type=kind, dots=dots)
    [note] = score_of(drill(f"play -2:{length}")).notes
    assert note.length == Fraction(value.quarterLength)


def test_a_third_of_a_third_is_refused_where_it_stands() -> None:
    """No note value is two ninths of a beat long."""
    for line, width in [
        ("play -2 triplet(-3:1/3 -4:1/2)", len("-3:1/3")),
        ("play -2 triplet(triplet(-3 -2) -4)", len("-3")),
        ("length 1/3\n  play triplet(-3)", len("-3")),
        ("play triplet(r:1/6)", len("r:1/6")),
    ]:
        with pytest.raises(PatternError, match=r"a length of \d/\d+ cannot be counted") as caught:
            score_of(drill(line))
        shown = caught.value.source_line[caught.value.span.column - 1 :][:width]
        assert shown in ("-3:1/3", "-3", "r:1/6")
        assert caught.value.span.width == width


# --- from and move ---

naturals = st.builds("{}{}".format, st.sampled_from(["", "-"]), st.integers(3, 8))
octaves = st.builds("{}{}&{}".format, st.sampled_from(["", "-"]), st.just(3), st.integers(6, 7))
plain_music = st.lists(st.builds(Word, naturals | st.just("r"), lengths), min_size=1, max_size=5)


@dataclass(frozen=True)
class Movable:
    """A drill of natural notes in holes 3 to 8, with everything a move must reach."""

    anchor: str
    rungs: tuple[str, ...]
    phrase: tuple[Word, ...]
    ending: tuple[Word, ...]
    section: tuple[Word, ...]

    @property
    def text(self) -> str:
        """The whole drill, called Parent."""
        inner = f"(anchor {text_of(self.phrase)} rung) 1st (rung) 2nd (first -4)"
        return drill(
            f"anchor {self.anchor}", f"rungs {' '.join(self.rungs)}", "order up, listed",
            f"phrase {inner}", f"ending ({text_of(self.ending)})x2 anchor",
            'section "B"', f"  play triplet({text_of(self.section)}) last",
            title="Parent",
        )  # fmt: skip

    def derived(self, *moves: str) -> str:
        """The drill and a child after *moves*, each of one more generation."""
        found, parent = self.text, "Parent"
        for number, line in enumerate(moves):
            found += drill(f'from "{parent}"', line, title=f"Child {number}")
            parent = f"Child {number}"
        return found


movable = st.builds(
    Movable, naturals | octaves, st.lists(naturals | octaves, min_size=1, max_size=3).map(tuple),
    plain_music.map(tuple), plain_music.map(tuple), plain_music.filter(a_triplet).map(tuple),
)  # fmt: skip
shifts = st.integers(-2, 2).filter(bool)


def as_line(holes: int) -> str:
    return f"move {'up' if holes > 0 else 'down'} {abs(holes)}"


def shifted(tab: str, holes: int) -> str:
    moved = "&".join(str(int(hole) + holes) for hole in tab.strip("-").split("&"))
    return ("-" if tab.startswith("-") else "") + moved


@given(movable, shifts)
def test_a_move_shifts_every_reed_and_nothing_else(parent: Movable, holes: int) -> None:
    """An order by pitch may turn where neighbours are a different step apart, so as listed."""
    text = parent.text.replace("order up, listed", "order listed")
    here = without_breaths(score_of(text))
    there = without_breaths(score_of(text + drill('from "Parent"', as_line(holes), title="Child")))
    assert tabs(there) == [shifted(tab, holes) for tab in tabs(here)]
    assert [(n.start, n.length, n.role, n.span) for n in there.notes] == [
        (n.start, n.length, n.role, n.span) for n in here.notes
    ]
    assert holes_tab(there.anchor_holes) == shifted(parent.anchor, holes)
    assert list(map(holes_tab, there.rung_holes)) == [shifted(tab, holes) for tab in parent.rungs]


@given(movable, shifts, harps, harps)
def test_moving_the_drill_then_the_harp_is_moving_the_harp_then_the_drill(
    parent: Movable, holes: int, one: str, other: str
) -> None:
    """The step between two harps is the same for the moved drill as for the drill itself."""
    text = parent.derived(as_line(holes))
    step = oracles.key_number(oracles.HOLE_1[other]) - oracles.key_number(oracles.HOLE_1[one])
    for last in (parent.text, text):
        here, there = score_of(last, one), score_of(last, other)
        assert played(here) == played(there)
        assert all(
            b.pitch.midi - a.pitch.midi == step
            for a, b in zip(here.notes, there.notes, strict=True)
        )


@given(movable, shifts)
def test_moves_add_up_and_a_move_back_undoes_one(parent: Movable, holes: int) -> None:
    twice = parent.derived(as_line(holes // abs(holes)), as_line(holes // abs(holes)))
    once = parent.derived(as_line(2 * (holes // abs(holes))))
    assert played(score_of(twice)) == played(score_of(once))
    back = parent.derived(as_line(holes), as_line(-holes))
    assert played(score_of(back)) == played(score_of(parent.text))


def test_a_move_reaches_runs_and_their_floors() -> None:
    text = drill("rungs all of -3 down to -3'", "phrase rung", title="P") + drill(
        'from "P"', "move down 1", title="C"
    )
    assert tabs(score_of(text)) == ["-2", "-2'"]
    on_five = drill("rungs all of -5 down to -5'", "phrase rung", title="P")
    with pytest.raises(PatternError, match="does not bend a semitone"):
        score_of(on_five)  # OEIS A291810: no note lies between E and F
    assert tabs(score_of(on_five + drill('from "P"', "move up 1", title="C"))) == ["-6", "-6'"]


def test_a_move_leaves_tunes_and_lines_of_its_own_alone() -> None:
    parent = drill("anchor -2", "tune 1 b3 5 anchor", title="P")
    moved = parent + drill('from "P"', "move up 2", title="C")
    assert tabs(score_of(parent)) == ["-2", "-3'", "-4", "-2"]
    assert tabs(score_of(moved)) == ["-2", "-3'", "-4", "-4"]
    own = parent + drill('from "P"', "move up 2", "anchor -1", title="C")
    assert tabs(score_of(own))[-1] == "-1"


def test_a_move_leaves_the_root_to_be_found_anew() -> None:
    text = drill("anchor root", "rungs -6 -5", "phrase anchor rung", title="P")
    moved = score_of(text + drill('from "P"', "move down 3", title="C"))
    assert tabs(moved) == ["-2", "-3", "-2", "-2"]


@pytest.mark.parametrize(
    ("own", "out"),
    [
        (["tempo 77"], ["tempo 77", "length 1/2", 'section "A"', "play -2", 'section "B"',
                        "tune 1 b3"]),
        (["length 2"], ["length 2", 'section "A"', "play -2", 'section "B"', "tune 1 b3"]),
        (["play -1"], ["length 1/2", "play -1"]),
        (["tune 5"], ["length 1/2", "tune 5"]),
        (['section "C"', "play 4"], ["length 1/2", 'section "C"', "play 4"]),
        (["rungs -3 -4", "phrase rung"], ["length 1/2", "rungs -3 -4", "phrase rung"]),
    ],
)  # fmt: skip
def test_from_takes_over_sections_unless_there_is_music_of_ones_own(
    own: list[str], out: list[str]
) -> None:
    parent = drill("length 1/2", 'section "A"', "play -2", 'section "B"', "tune 1 b3", title="P")
    child, written_out = (
        score_of(parent + drill('from "P"', *own, title="C")),
        score_of(drill(*out)),
    )
    assert played(child) == played(written_out)
    assert child.sections == written_out.sections
    assert (child.tempo_bpm, child.length) == (written_out.tempo_bpm, written_out.length)


@pytest.mark.parametrize(
    ("own", "reeds_"),
    [(["rungs -4 -3"], "-4 -2 -3 -2"), (["anchor -1"], "-3 -1 -3' -1"), (["play 4"], "4")],
)
def test_from_takes_over_rungs_and_phrase_of_a_ladder(own: list[str], reeds_: str) -> None:
    parent = drill("anchor -2", "rungs -3 -3'", "phrase rung anchor", title="P")
    assert tabs(score_of(parent + drill('from "P"', *own, title="C"))) == reeds_.split()


def test_from_takes_over_feel_pickup_plans_and_the_rest() -> None:
    parent = drill(
        "listen \"Hear.\"", "tempo 60 to 90", "feel shuffle", "pickup 1", "allow overbends",
        "embouchure lips or tongue left", "echo", "tune 1 b3+ 1", title="P",
    )  # fmt: skip
    child = score_of(parent + drill('from "P"', "tune b3+ 1", title="C"))
    assert (child.listen, child.tempo_bpm, child.tempo_goal_bpm) == ("Hear.", 60, 90)
    assert child.feel is Feel.SHUFFLE
    assert child.pickup == 1
    assert tabs(child)[0] == "6^"
    assert len(child.echoes) == 1
    assert child.embouchure
    assert child.embouchure.anchors is LipShape.LIPS


def test_an_octave_line_is_taken_over_with_the_tune_and_put_aside_with_it() -> None:
    """The middle root of cross harp on C is blow 6, the low one draw 2."""
    parent = drill("octave middle", "tune 1 4 1", title="P")
    assert tabs(score_of(parent + drill('from "P"', "tune 1 2 1", title="C"))) == ["6", "-6", "6"]
    assert tabs(score_of(parent + drill('from "P"', "octave low", title="C")))[-1] == "-2"
    assert tabs(score_of(parent + drill('from "P"', "play 4 3", title="C"))) == ["4", "3"]
    with pytest.raises(PatternError, match="has no tune"):
        score_of(parent + drill('from "P"', "octave low", "play 4 3", title="C"))


# --- the root that is nearest ---


def nearest_root(rungs: Sequence[str], harp: str, position: int) -> str:
    """Natural first, then the breath of the first rung, the smaller move, the lower note."""
    holes = [int(tab.strip("-'")) for tab in rungs]
    roots = [
        tab
        for tab in oracles.PLAIN_TABS
        if (oracles.sounding(harp, tab) - oracles.root(harp, position).midi) % 12 == 0
    ]

    def order(tab: str) -> tuple[bool, bool, int, int]:
        away = min(abs(int(tab.strip("-'")) - hole) for hole in holes)
        other_breath = tab.startswith("-") != rungs[0].startswith("-")
        return "'" in tab, other_breath, away, oracles.plain_semitones(tab)

    return min(roots, key=order)


@given(st.lists(reeds, min_size=1, max_size=4), harps, positions)
def test_anchor_root_is_the_nearest_root(rungs: list[str], harp: str, position: int) -> None:
    score = score_of(
        drill("anchor root", f"rungs {' '.join(rungs)}", "phrase anchor rung"), harp, position
    )
    assert score.anchor
    assert score.anchor.tab == nearest_root(rungs, harp, position)
    assert score.notes[0].degree.name == "1"
    assert (score.notes[0].pitch.midi - oracles.root(harp, position).midi) % 12 == 0


@pytest.mark.parametrize("position", oracles.POSITIONS)
def test_anchor_root_in_every_position_of_a_ladder_on_draw_3(position: int) -> None:
    score = score_of(drill("anchor root", "rungs all of -3", "phrase anchor rung"), "C", position)
    assert score.anchor
    assert score.anchor.tab == nearest_root(oracles.run(3), "C", position)


@pytest.mark.parametrize(
    ("position", "rungs", "root"),
    [
        (2, "-3 -3'", "-2"),  # cross harp: draw 2, not blow 3, the same note
        (2, "8 8'", "9"),  # blow bends: the high root is blow 9
        (1, "-4 -4'", "4"),  # straight: C is blow alone
        (3, "-3 -3'", "-4"),  # D: draw 4 is a hole away, draw 1 two
        (12, "-2 -3", "-5"),  # F: draw 5 is natural, draw 2 bent two semitones is not
    ],
)
def test_the_roots_players_take(position: int, rungs: str, root: str) -> None:
    """Common practice, no published source; the notes are those of OEIS A291810."""
    score = score_of(drill("anchor root", f"rungs {rungs}", "phrase anchor rung"), "C", position)
    assert tabs(score)[0] == root


def test_without_rungs_the_root_is_the_nearest_to_draw_2() -> None:
    assert tabs(score_of(drill("anchor root", "play anchor -4"))) == ["-2", "-4"]
    assert tabs(score_of(drill("anchor root", "play anchor"), "C", 1)) == [
        nearest_root(["-2"], "C", 1)
    ]


def test_a_harp_without_the_root_says_so_and_still_plays_its_other_degrees() -> None:
    """Every reed of this harp is a C, so that G, the root of cross harp, is missing."""
    only_c = Harp("C", "", Layout(printable("c"), (0,) * 10, (0,) * 10))
    [named] = parse(drill("anchor root", "play anchor"))
    with pytest.raises(PatternError, match="this harp has no root in 2nd position"):
        expand(named, only_c, Position(2))
    [tune] = parse(drill("tune 4-"))
    assert [note.pitch.name for note in expand(tune, only_c, Position(2)).notes] == ["C4"]
    [missing] = parse(drill("tune 1"))
    with pytest.raises(PatternError, match="no reed gives 1"):
        expand(missing, only_c, Position(2))


# --- embouchure ---

HOLDS = {
    "lips": LipShape.LIPS,
    "tongue left": LipShape.TONGUE_LEFT,
    "tongue right": LipShape.TONGUE_RIGHT,
}
holds = st.sampled_from(list(HOLDS))
plans = st.lists(st.tuples(holds, holds, st.booleans()), min_size=1, max_size=4)


@given(plans, st.sampled_from([",", ""]))
def test_each_plan_is_a_version_and_says_how_every_note_is_held(
    wanted: list[tuple[str, str, bool]], comma: str
) -> None:
    """Anchors one way, all else the other; the anchor's reed written out is home as well."""
    texts = [
        f"anchors {home}{comma} rungs {away}" if split else away for home, away, split in wanted
    ]
    line = f"embouchure {' or '.join(texts)}"
    [found] = parse(
        drill(line, "anchor -2", "rungs -3 -2", "phrase anchor rung -2 -4 first", "ending anchor")
    )
    assert list(versions(found)) == list(range(len(wanted)))
    for version, (home, away, split) in enumerate(wanted):
        score = expand(found, *CROSS_C, version=version)
        at_home = HOLDS[home if split else away]
        rest = HOLDS[away]
        turn = [at_home, rest, at_home, rest, rest]  # anchor, rung, -2, -4, first
        assert [note.embouchure for note in score.notes] == [*turn, *turn, at_home]
        assert score.embouchure
        assert (score.embouchure.anchors, score.embouchure.rungs) == (at_home, rest)


def test_without_a_plan_there_is_one_version_and_no_hold() -> None:
    [found] = parse(drill("anchor -2", "play anchor -4"))
    assert list(versions(found)) == [0]
    assert {note.embouchure for note in expand(found, *CROSS_C).notes} == {None}


@given(plans)
def test_plans_change_no_note(wanted: list[tuple[str, str, bool]]) -> None:
    line = "embouchure " + " or ".join(away for _, away, _ in wanted)
    parts = ("anchor -2", "rungs all of -3", "phrase anchor:1/2 rung~-3")
    [with_plans], [plain] = parse(drill(line, *parts)), parse(drill(*parts))
    for version in versions(with_plans):
        assert played(expand(with_plans, *CROSS_C, version=version)) == played(
            expand(plain, *CROSS_C)
        )


# --- accents ---


@given(st.lists(st.tuples(reeds, st.booleans(), st.none() | lengths), min_size=1, max_size=8))
def test_an_accent_marks_its_own_note(notes: list[tuple[str, bool, Fraction | None]]) -> None:
    words = [reed + "!" * accent + (f":{beats}" if beats else "") for reed, accent, beats in notes]
    score = score_of(drill(f"play {' '.join(words)}"))
    assert [note.accent for note in score.notes] == [accent for _, accent, _ in notes]


def test_accents_on_roles_degrees_groups_and_repeats() -> None:
    ladder = score_of(drill("anchor -2", "rungs -3 -4", "phrase anchor! rung", "ending last!"))
    assert [note.accent for note in ladder.notes] == [True, False, True, False, True]
    assert [n.accent for n in score_of(drill("tune 1! b3 1+!:2")).notes] == [True, False, True]
    assert [n.accent for n in score_of(drill("play (-2! -3)x2 -4!x2")).notes] == [
        True, False, True, False, True, True,
    ]  # fmt: skip
    assert [n.accent for n in score_of(drill("play triplet(-2! -3 -4)")).notes] == [
        True, False, False,
    ]  # fmt: skip


def test_a_tie_keeps_the_accent_of_its_first_note() -> None:
    [note] = score_of(drill("play -2! ~-2")).notes
    assert note.accent
    assert note.length == 2


# --- what is refused ---

REFUSED = {
    "a pick-up as long as the bar": (["pickup 4", "play -2"], "pickup-too-long"),
    "a pick-up longer than a short bar": (
        ["meter 2/4", "pickup 5/2", "play -2"],
        "pickup-too-long",
    ),
    "a section without music": (["play -2", 'section "B"'], "nothing-to-play"),
    "a section with an echo alone": (["play -2", 'section "B"', "echo"], "nothing-to-play"),
    "something else to allow": (["allow bends", "play -2"], None),
    "a feel nobody knows": (["feel swing", "play -2"], None),
    "a tempo inside a section": (['section "B"', "tempo 60", "play -2"], None),
    "a second echo line": (["echo", "echo", "play -2"], None),
    "a move without a parent": (["move up 1", "play -2"], "nothing-to-move"),
    "endings out of order": (["play (-2) 2nd (-3)"], None),
    "an anchor that is a word": (["anchor home", "play -2"], None),
    "a degree of the third octave up": (["tune 1++++"], None),
    "a degree 15": (["tune 15"], None),
    "both play and tune": (["play -2", "tune 1"], "two-kinds-of-music"),
    "rung outside a phrase": (["rungs -3", "play rung"], "rung-outside-phrase"),
    "rung in a tune": (["rungs -3", "tune 1 rung"], "rung-outside-phrase"),
    "an anchor in a tune that is not named": (["tune 1 anchor"], "anchor-not-named"),
}


@pytest.mark.parametrize(("lines", "key"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_meant_is_refused_at_its_place(lines: list[str], key: str | None) -> None:
    with pytest.raises(PatternError) as caught:
        score_of(drill(*lines))
    error = caught.value
    assert key is None or error.key == key
    assert error.source_line in drill(*lines).split("\n")
    assert error.remedy


def test_a_tempo_range_of_one_tempo_is_a_tempo() -> None:
    score = score_of(drill("tempo 60 to 60", "play -2"))
    assert (score.tempo_bpm, score.tempo_goal_bpm) == (60, 60)


def test_a_move_off_the_harp_is_refused_at_the_move() -> None:
    with pytest.raises(PatternError, match="moving -9 by 2 leaves the harp") as caught:
        score_of(drill("play -2 -9", title="P") + drill('from "P"', "move up 2", title="C"))
    assert caught.value.source_line.strip() == "move up 2"


def test_a_move_to_a_reed_that_does_not_bend_is_refused_at_the_move() -> None:
    """Draw 6 bends a semitone, draw 2 two (OEIS A291810)."""
    with pytest.raises(PatternError, match=r"moving -2'' by \+4 .*: -6'' bends too far") as caught:
        score_of(drill("play -2''", title="P") + drill('from "P"', "move up 4", title="C"))
    assert caught.value.source_line.strip() == "move up 4"
    assert caught.value.led_to is not None
    assert caught.value.led_to.source_line.strip() == "play -2''"


# --- how much a small file may ask for ---


def numbered(count: int, *lines: str) -> str:
    """Drills whose lines may name the one before as {before}."""
    return "".join(
        drill(*(line.format(before=f"No. {n - 1}") for line in lines), title=f"No. {n}")
        for n in range(1, count + 1)
    )


def test_a_file_may_have_ten_thousand_notes_in_all() -> None:
    assert len(parse(numbered(5, "play ((-2)x100)x20"))) == 5
    with pytest.raises(PatternError, match="with this drill the file would have more than 10,000"):
        parse(numbered(5, "play ((-2)x100)x20") + drill("play -2"))


def test_a_longer_file_may_have_a_note_for_each_of_its_characters() -> None:
    comment = "#" + "-" * 12_500 + "\n"
    assert len(parse(comment + numbered(6, "play ((-2)x100)x20"))) == 6
    with pytest.raises(PatternError, match=r"the file would have more than 1\d,\d\d\d notes"):
        parse(comment + numbered(7, "play ((-2)x100)x20"))


def test_notes_of_rungs_and_of_children_count_too() -> None:
    """Seven turns of 1,600, most of them taken over by a line of ten characters."""
    ladder = drill("rungs all of -3", "phrase (rung x100)x4", title="No. 0")
    assert len(parse(ladder + numbered(5, 'from "{before}"'))) == 6
    with pytest.raises(PatternError, match="more than 10,000 notes") as caught:
        parse(ladder + numbered(6, 'from "{before}"'))
    assert caught.value.source_line == 'drill "No. 6"'


def test_a_long_line_of_descent_is_read_in_no_time() -> None:
    """It was climbed anew for every drill: over a second for 250 of them."""
    text = drill("play -5", title="No. 0") + numbered(250, 'from "{before}"', "level 2")
    began = time.process_time()
    assert len(parse(text)) == 251
    assert time.process_time() - began < 0.5


# --- whatever is written ---

natural = st.builds("{}{}".format, st.sampled_from(["", "-"]), st.integers(1, 10))
odd = st.builds("{}{}".format, natural, st.sampled_from(["'", "''", "^"]))
bend = st.sampled_from([each for each in oracles.PLAIN_TABS if "'" in each])
tab = st.one_of(natural, natural, natural, natural, bend, bend, odd)
roles = st.sampled_from(["anchor", "rung", "previous", "next", "first", "last"])
degree = st.builds(
    "{}{}{}".format, st.sampled_from(["", "b", "#"]), st.integers(1, 14),
    st.sampled_from(["", "", "+", "-", "--"]),
)  # fmt: skip
ends = st.sampled_from(["", "", "", "!", ":1/3", ":1/2.", "!:2", ":7/8..", " x2"])
joins = st.sampled_from([" "] * 8 + ["~", " r ", " | "])


def items(words: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    """Music of *words*: notes, groups, triplets and endings inside each other."""
    note = st.builds("{}{}".format, words, ends)
    line = st.lists(st.tuples(note, joins), min_size=1, max_size=4).map(
        lambda found: "".join(word + join for word, join in found).rstrip("~")
    )
    return st.recursive(
        line,
        lambda inner: st.one_of(
            st.builds("({})x{}".format, inner, st.integers(1, 3)),
            st.builds("triplet({})".format, inner),
            st.builds("({}) 1st ({}) 2nd ({})".format, inner, inner, inner),
            st.builds("{} {}".format, inner, inner),
        ),
        max_leaves=5,
    )


def own_line(word: str, values: st.SearchStrategy[Any]) -> st.SearchStrategy[str]:
    return st.just("") | values.map(lambda value: f"  {word} {value}\n")


heads = st.tuples(
    own_line("meter", st.sampled_from(["3/4", "6/8", "2/2", "16/8", "1/4"])),
    own_line("feel", st.sampled_from(["shuffle", "straight"])),
    own_line("pickup", st.sampled_from(["1", "1/2", "1/3", "5"])),
    own_line("length", st.sampled_from(["1/2", "1/3", "3/8", "2"])),
    own_line("tempo", st.sampled_from(["40", "60 to 90", "300"])),
    own_line("allow", st.just("overbends")),
    own_line("embouchure", st.sampled_from(["lips or tongue left", "anchors lips, rungs lips"])),
    (natural | st.just("root")).map("  anchor {}\n".format),
    (tab | st.builds("all of -{} {}".format, st.integers(1, 10), tab)).map("  rungs {}\n".format),
    own_line("order", st.sampled_from(["down, up", "up", "listed down"])),
).map("".join)
parts = st.one_of(
    items(tab | roles).map("  phrase {}\n".format),
    items(tab).map("  play {}\n".format),
    items(degree).map("  tune {}\n".format),
    items(degree | st.just("anchor")).map("  tune {}\n".format),
    st.builds(
        "  octave {}\n  tune {}\n".format, st.sampled_from(["low", "middle", "high"]), items(degree)
    ),
    st.builds("  phrase rung {}\n  ending {}\n  echo\n".format, items(roles), items(tab)),
)
sections = st.lists(parts.map('  section "S"\n{}'.format), max_size=2).map("".join)
children = st.sampled_from(
    ["", "move up 1", "move down 2", "length 1/4", "echo", "tune 1 3 5", "anchor root"]
).map(lambda line: f'drill "C"\n  from "D"\n  {line}\n' if line else "")
whole = st.builds('drill "D"\n{}{}{}{}'.format, heads, st.just("") | parts, sections, children)
layouts = st.sampled_from(list(LAYOUTS.values())) | st.builds(
    Layout, st.just("any"), *[st.tuples(*[st.integers(0, 30)] * 10)] * 2
)


@settings(max_examples=300, deadline=None)
@given(whole, layouts, harps, positions)
def test_any_drill_is_a_score_that_can_be_written_or_an_error_of_ours(
    text: str, layout: Layout, harp: str, position: int
) -> None:
    """What can be expanded fills its bars, on paper and in MIDI, and its ways can be asked for."""
    try:
        found = parse(text)
    except ReedmillError:
        return
    refused: list[PatternError] = []
    for each in found:
        try:
            score = expand(each, Harp.parse(harp, layout), Position(position))
        except PatternError as error:
            refused.append(error)
            continue
        assert all(a.end <= b.start for a, b in pairwise(score.notes))
        left_out = score.meter.beats - score.pickup if score.pickup else 0
        assert sum(w.length for bar in bars(score) for w in bar) == score.length - left_out
        assert midi_bytes(score)
        assert all(ways(each, score.harp, score.position))
    assert all(error.source_line in text.split("\n") for error in refused)


def test_an_echo_that_begins_inside_a_rest_begins_a_written_rest() -> None:
    """Whatever marks the stretch left open needs a sign to stand on."""
    score = score_of(drill("anchor -2", "rungs -3", "echo", "phrase anchor rung r"))
    [(begin, end)] = score.echoes
    assert (begin, end) == (Fraction(3), Fraction(6))
    assert begin in {written.start for bar in bars(score) for written in bar}
