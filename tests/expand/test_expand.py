"""The laws of expansion, as properties of drills written at random and read back.

What each law says is worked out here a second time, from the words alone and with
counts of its own; nothing is compared with an earlier output.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import oracles
from reedmill.base.errors import InputError, PatternError, ReedmillError
from reedmill.base.gathering import gathering
from reedmill.base.source import Span
from reedmill.expand import expand, versions
from reedmill.expand.breath import without_breaths
from reedmill.expand.playing import refusals
from reedmill.harp import LAYOUTS, RICHTER, Harp, Layout
from reedmill.harp.together import holes_tab
from reedmill.language import parse, parse_together
from reedmill.score.score import LipShape, Role, Score
from reedmill.theory.positions import Position

CROSS_C = (Harp("C"), Position(2))
RUNG_WORDS = ("rung", "previous", "next", "first", "last")


def score_of(text: str, harp: Harp = CROSS_C[0], position: Position = CROSS_C[1]) -> Score:
    """The score of the last drill of *text*."""
    return expand(parse(text)[-1], harp, position)


def played(score: Score) -> list[tuple[Fraction, Fraction, str, Role, bool]]:
    """What is heard, without where it was written, and before breaths are taken from it."""
    notes = without_breaths(score).notes
    return [(n.start, n.length, n.tab, n.role, n.joined) for n in notes]


def tabs(score: Score) -> list[str]:
    return [note.tab for note in score.notes]


# --- drills written at random, and what they must sound like ---


@dataclass(frozen=True)
class Word:
    """One word of a phrase: a reed, a role or r, its length, and whether it is slid into."""

    name: str
    length: Fraction | None = None
    slide: bool = False

    @property
    def text(self) -> str:
        """As it is written, without the sign of a slide."""
        return self.name + (f":{self.length}" if self.length else "")


@dataclass(frozen=True)
class Written:
    """The lines of a drill with rungs."""

    anchor: str
    rungs: tuple[str, ...]
    order: tuple[str, ...]
    phrase: tuple[Word, ...]
    ending: tuple[Word, ...]
    usual: Fraction
    meter: int

    @property
    def lines(self) -> dict[str, str]:
        """The first word of each line and what follows it."""
        lines = {
            "meter": f"{self.meter}/4",
            "length": str(self.usual),
            "anchor": self.anchor,
            "rungs": " ".join(self.rungs),
            "order": ", ".join(self.order),
            "phrase": music_text(self.phrase),
            "ending": music_text(self.ending),
        }
        return {word: rest for word, rest in lines.items() if rest}

    @property
    def text(self) -> str:
        """The whole drill."""
        return drill_text(self.lines)


def music_text(words: Sequence[Word]) -> str:
    return "".join(("~" if w.slide else " ") + w.text for w in words).strip()


def drill_text(lines: dict[str, str], title: str = "Any") -> str:
    return f'drill "{title}"\n' + "".join(f"  {word} {rest}\n" for word, rest in lines.items())


lengths = st.builds(Fraction, st.integers(1, 11), st.sampled_from([1, 2, 3, 4, 6, 8]))
reeds = st.sampled_from(oracles.PLAIN_TABS)
roles = st.sampled_from(["anchor", *RUNG_WORDS])


def words(names: st.SearchStrategy[str], least: int = 1) -> st.SearchStrategy[tuple[Word, ...]]:
    word = st.builds(Word, names, st.none() | lengths)
    return st.lists(word, min_size=least, max_size=6).map(tuple)


# Two neighbours, an octave split of two gaps, a chord: of one breath, anywhere on the harp.
several = st.builds(
    lambda sign, hole, shape: sign + "&".join(str(hole + step) for step in shape),
    st.sampled_from(["", "-"]), st.integers(1, 6), st.sampled_from([(0, 1), (0, 3), (0, 1, 2)]),
)  # fmt: skip
places = reeds | several


def height(tab: str) -> int:
    """Semitones over hole 1 blow of a reed, or of the highest hole of several."""
    sign = "-" if tab.startswith("-") and "&" in tab else ""
    return oracles.plain_semitones(sign + tab.rpartition("&")[2])


ladders = st.lists(places, min_size=1, max_size=6, unique_by=height).map(tuple)
orders = st.lists(st.sampled_from(["down", "up", "listed"]), max_size=3).map(tuple)
drills = st.builds(
    Written, places, ladders, orders, words(places | roles | st.just("r")),
    words(places | st.sampled_from(["anchor", "first", "last", "r"]), least=0),
    lengths, st.integers(1, 7),
)  # fmt: skip


def turns(written: Written) -> list[str]:
    """The rungs in the order they are played, by the pitches of the published layout."""
    high_to_low = sorted(written.rungs, key=height, reverse=True)
    found: list[str] = []
    for word in written.order or ("listed",):
        if word == "listed":
            found += written.rungs
        else:
            found += high_to_low if word == "down" else reversed(high_to_low)
    return found


def spoken(written: Written) -> list[tuple[Word, str]]:
    """Every word in the order it is played, with the reed (or r) it stands for."""
    run = turns(written)
    fixed = {"anchor": written.anchor, "first": written.rungs[0], "last": written.rungs[-1]}
    found: list[tuple[Word, str]] = []
    for at, rung in enumerate(run):
        before = run[at - 1] if at > 0 else rung
        after = run[at + 1] if at + 1 < len(run) else rung
        names = fixed | {"rung": rung, "previous": before, "next": after}
        found += [(word, names.get(word.name, word.name)) for word in written.phrase]
    return found + [(word, fixed.get(word.name, word.name)) for word in written.ending]


def role_of(word: Word) -> Role:
    if word.name == "anchor":
        return Role.ANCHOR
    return Role.RUNG if word.name in RUNG_WORDS else Role.FREE


def expected(written: Written) -> tuple[list[tuple[Fraction, Fraction, str, Role, bool]], Fraction]:
    """The notes of a drill without slides, and where its music ends."""
    now, notes = Fraction(0), []
    for word, reed in spoken(written):
        length = word.length or written.usual
        if reed != "r":
            notes.append((now, length, reed, role_of(word), False))
        now += length
    return notes, now


# --- who plays what, and when ---


@given(drills)
def test_every_note_comes_where_the_words_say_exactly(written: Written) -> None:
    """Order, roles, default length, previous and next, lengths that add up: all at once."""
    score = score_of(written.text)
    notes, end = expected(written)
    assert played(score) == notes
    assert sum((n.length for n in score.notes), Fraction(0)) <= end <= score.length


@given(drills)
def test_the_last_bar_is_filled_and_no_bar_is_added(written: Written) -> None:
    _, end = expected(written)
    score = score_of(written.text)
    assert score.length % written.meter == 0
    assert 0 <= score.length - end < written.meter
    assert score.bars * written.meter == score.length


@given(drills)
def test_notes_are_in_order_never_overlap_and_are_exact(written: Written) -> None:
    score = score_of(written.text)
    for a, b in pairwise(score.notes):
        assert a.end <= b.start
    for note in score.notes:
        assert type(note.start) is type(note.length) is Fraction
        assert note.length > 0
    assert type(score.length) is Fraction


def test_music_of_rests_alone_fills_one_bar() -> None:
    score = score_of('drill "Quiet"\n meter 3/4\n play r r:1/2')
    assert not score.notes
    assert (score.length, score.bars) == (Fraction(3), 1)


def test_no_music_at_all_is_a_bar_of_rest() -> None:
    assert score_of('drill "Blank"\n meter 5/4\n play |').length == 5


def test_the_ending_of_music_without_a_phrase_comes_last() -> None:
    assert tabs(score_of('drill "A"\n ending -1\n play -2 -4')) == ["-2", "-4", "-1"]


def test_thirds_and_eighths_add_up_to_whole_bars_without_a_trace() -> None:
    """33 thirds are 11 and 24 eighths are 3: a float would end beside beat 14."""
    score = score_of('drill "Exact"\n meter 7/4\n play -2:1/3 x33 -3:1/8 x24 | -1')
    assert score.notes[33].start == 11
    assert score.notes[-1].start == 14
    assert score.bars == 3


def test_thirds_are_not_whole_until_there_are_three() -> None:
    with pytest.raises(PatternError, match="this bar has 3 2/3 beats"):
        score_of('drill "Short"\n play -2:1/3 x11 |')


@given(drills)
def test_order_words_turn_by_turn(written: Written) -> None:
    """With a phrase of the rung alone, the music is the turns themselves."""
    bare = replace(written, phrase=(Word("rung"),), ending=())
    ladder = list(written.rungs)
    down = sorted(ladder, key=height, reverse=True)
    order = {"listed": ladder, "down": down, "up": down[::-1]}
    assert tabs(score_of(bare.text)) == [
        reed for word in bare.order or ("listed",) for reed in order[word]
    ]


@given(ladders)
def test_down_up_on_a_ladder_listed_highest_first_is_the_list_and_its_reverse(
    ladder: tuple[str, ...],
) -> None:
    falling = sorted(ladder, key=height, reverse=True)
    score = score_of(f'drill "Ladder"\n rungs {" ".join(falling)}\n order down, up\n phrase rung')
    assert tabs(score) == falling + falling[::-1]


def test_reeds_of_one_pitch_keep_their_order_down_and_turn_it_going_up() -> None:
    """Draw 2 and blow 3 are one note (OEIS A291810)."""
    lines = {"rungs": "-3 3 -2 -1", "order": "down up", "phrase": "rung"}
    assert tabs(score_of(drill_text(lines))) == ["-3", "3", "-2", "-1", "-1", "-2", "3", "-3"]


def test_previous_and_next_at_the_ends_are_the_rung_itself() -> None:
    lines = {"rungs": "-3 -3' -3''", "order": "down, up", "phrase": "previous rung next"}
    going_down = "-3 -3 -3'  -3 -3' -3''  -3' -3'' -3''"
    going_up = "-3'' -3'' -3'  -3'' -3' -3  -3' -3 -3"
    assert tabs(score_of(drill_text(lines))) == going_down.split() + going_up.split()


def test_first_and_last_are_the_ends_of_the_list_whatever_the_order() -> None:
    lines = {"rungs": "-3' -3'' -4 -3", "order": "up", "phrase": "first last", "ending": "last"}
    assert tabs(score_of(drill_text(lines))) == ["-3'", "-3"] * 4 + ["-3"]


def test_the_phrase_is_played_for_each_rung_and_the_ending_once() -> None:
    """Five rungs of a phrase of 2 1/2 beats, and an ending of 1 1/4: 13 3/4 beats."""
    lines = {
        "anchor": "-2", "rungs": "-3 -3' -3'' -3' -3", "phrase": "anchor rung:3/2",
        "ending": "anchor:5/4",
    }  # fmt: skip
    score = score_of(drill_text(lines))
    assert len(score.notes) == 11
    assert score.notes[-1].start == Fraction(25, 2)
    assert score.notes[-1].end == Fraction(55, 4)
    assert score.bars == 4


@pytest.mark.parametrize(
    ("word", "role"),
    [("anchor", Role.ANCHOR), ("-2", Role.FREE), *((w, Role.RUNG) for w in RUNG_WORDS)],
)
def test_roles(word: str, role: Role) -> None:
    """A reed written out has no role, even where it is the anchor's."""
    score = score_of(drill_text({"anchor": "-2", "rungs": "-3 -4", "phrase": word}))
    assert {note.role for note in score.notes} == {role}


def test_a_note_without_a_length_lasts_a_beat_or_what_the_length_line_says() -> None:
    assert [n.length for n in score_of('drill "A"\n play -2 -3:2').notes] == [1, 2]
    score = score_of('drill "A"\n length 3/8\n play -2 -3:2 -1')
    assert [n.length for n in score.notes] == [Fraction(3, 8), 2, Fraction(3, 8)]


@given(words(reeds | st.just("r")), st.integers(1, 5), st.integers(1, 3))
def test_repeats_are_the_music_written_out(music: tuple[Word, ...], n: int, m: int) -> None:
    inner = music_text(music)
    folded = f"(({inner})x{n} -5:3/4)x{m}"
    written_out = " ".join([" ".join([inner] * n) + " -5:3/4"] * m)
    assert played(score_of(f'drill "A"\n play {folded}')) == played(
        score_of(f'drill "A"\n play {written_out}')
    )


@given(st.builds(Word, reeds, st.none() | lengths), st.integers(1, 9))
def test_a_note_repeats_as_if_it_were_written_out(word: Word, times: int) -> None:
    folded = score_of(f'drill "A"\n play -2:1/3 {word.text}x{times} -1')
    plain = score_of('drill "A"\n play -2:1/3 ' + f"{word.text} " * times + "-1")
    assert played(folded) == played(plain)


def test_bar_checks_take_no_time() -> None:
    with_bars = score_of('drill "A"\n play -2 -3:3 | -4:1/2 -1:7/2 |')
    without = score_of('drill "A"\n play -2 -3:3 -4:1/2 -1:7/2')
    assert played(with_bars) == played(without)


# --- slides ---

on_one_reed = st.sampled_from(["-3", "-3'", "-3''", "-3'''"])


@st.composite
def sliding_music(draw: Any) -> tuple[Word, ...]:
    """Notes on draw 3, any of them but the first slid into."""
    music = draw(words(on_one_reed))
    slides = draw(st.lists(st.booleans(), min_size=len(music), max_size=len(music)))
    return tuple(
        replace(w, slide=s and at > 0) for at, (w, s) in enumerate(zip(music, slides, strict=True))
    )


@given(sliding_music())
def test_slides_join_and_a_slide_from_a_note_to_itself_is_one_longer_note(
    music: tuple[Word, ...],
) -> None:
    score = without_breaths(score_of(f'drill "A"\n play {music_text(music)}'))
    sounds: list[list[Any]] = []  # tab, length, joined
    for word in music:
        length = word.length or Fraction(1)
        if word.slide and sounds[-1][0] == word.name:
            sounds[-1][1] += length
        else:
            sounds.append([word.name, length, word.slide])
    assert [[n.reed.tab, n.length, n.joined] for n in score.notes] == sounds
    assert all(a.end == b.start for a, b in pairwise(score.notes))


@given(drills)
def test_sliding_to_the_same_role_again_is_writing_its_length_in_one(written: Written) -> None:
    """A tie: rung:2/3~rung:3/4 lasts 17/12, whatever the rung."""
    two, third = Fraction(2, 3), Fraction(3, 4)
    tied = replace(written, phrase=(Word("rung", two), Word("rung", third, slide=True)), ending=())
    score = without_breaths(score_of(tied.text))
    assert [n.length for n in score.notes] == [two + third] * len(turns(written))
    assert not any(n.joined for n in score.notes)


def test_a_tie_keeps_the_role_and_the_place_of_its_first_note() -> None:
    score = score_of(drill_text({"anchor": "-2", "rungs": "-3", "phrase": "anchor~-2 rung"}))
    assert [(n.role, n.length, n.span.column) for n in score.notes] == [
        (Role.ANCHOR, Fraction(2), 10),
        (Role.RUNG, Fraction(1), 20),
    ]


def test_a_tie_over_a_bar_line() -> None:
    score = score_of('drill "A"\n play -2:3 -3 | ~-3:2 -2:2 |')
    assert tabs(score) == ["-2", "-3", "-2"]
    assert [n.length for n in score.notes] == [3, 3, 2]


@pytest.mark.parametrize("music", ["-3~-2", "-3~3", "-3'~-4'", "6~6^", "7^~7", "-3 r ~-3'"])
def test_a_slide_stays_on_one_reed_without_a_gap(music: str) -> None:
    music = music.replace("7^~7", "-7^~-7")
    with pytest.raises(PatternError, match=r"no slide leads from|there is no note to slide from"):
        score_of(f'drill "A"\n play {music}')


def test_no_slide_without_a_note_before() -> None:
    with pytest.raises(PatternError, match="there is no note to slide from here"):
        score_of(drill_text({"rungs": "-3", "phrase": "~rung"}))


# --- runs of rungs, on every layout ---


def ticks(layout: Layout, hole: int, sign: str) -> int:
    """Bends of one reed: the notes strictly between the hole's two, if it is the higher.

    Bahnson, Antaki and Beery, J. Acoust. Soc. Am. 103(4), 2134-2144 (1998).
    """
    blow, draw = layout.blow[hole - 1], layout.draw[hole - 1]
    high, low = (draw, blow) if sign else (blow, draw)
    return len(range(low + 1, high))


ten_notes = st.tuples(*[st.integers(0, 30)] * 10)
layouts = st.sampled_from(list(LAYOUTS.values())) | st.builds(
    Layout, st.just("any"), ten_notes, ten_notes
)


@given(layouts, st.integers(1, 10), st.sampled_from(["", "-"]), st.data())
def test_runs_of_rungs_are_the_list_written_out(
    layout: Layout, hole: int, sign: str, data: Any
) -> None:
    harp, natural, depth = Harp("C", "", layout), f"{sign}{hole}", ticks(layout, hole, sign)
    floor = data.draw(st.integers(0, depth))
    column = [natural + "'" * bend for bend in range(depth + 1)]
    runs = {
        f"all of {natural}": column,
        f"all of {natural} down to {column[floor]}": column[: floor + 1],
        f"bends of {natural}": column[1:],
        f"bends of {natural} down to {column[floor]}": column[1 : floor + 1],
    }
    for run, rungs in runs.items():
        lines = {"rungs": f"5 {run}", "phrase": "rung:1/2 first last"}
        if rungs:
            written_out = lines | {"rungs": f"5 {' '.join(rungs)}"}
            assert played(score_of(drill_text(lines), harp)) == played(
                score_of(drill_text(written_out), harp)
            )
        else:
            with pytest.raises(PatternError, match=f"{hole} has no bends"):
                score_of(drill_text(lines), harp)


@pytest.mark.parametrize(
    ("run", "fact", "remedy"),
    [
        (
            "bends of -5", "draw 5 has no bends on this harp",
            "Write -5 for the natural note, or choose another hole.",
        ),
        (
            "bends of 3", "blow 3 has no bends on this harp",
            "Write 3 for the natural note, or choose another hole.",
        ),
        (
            "bends of -3 down to -3", "draw 3 has no bends above itself",
            "Write -3 for the natural note, or bends of -3.",
        ),
    ],
)  # fmt: skip
def test_a_run_without_a_bend_is_refused_at_its_place(run: str, fact: str, remedy: str) -> None:
    """Holes 5 and 7 have no note between theirs, and 3 bends on the draw (OEIS A291810)."""
    text = drill_text({"rungs": f"-4 {run}", "phrase": "rung"})
    with pytest.raises(PatternError) as caught:
        score_of(text)
    error = caught.value
    assert (error.fact, error.remedy) == (fact, remedy)
    assert error.span.line == 2
    assert error.source_line[error.span.column - 1 :][: error.span.width] == run


def test_a_run_deeper_than_the_hole_bends_is_refused() -> None:
    with pytest.raises(PatternError, match="-2'''"):
        score_of(drill_text({"rungs": "all of -2 down to -2'''", "phrase": "rung"}))


def test_runs_follow_the_harp_not_the_page() -> None:
    """Natural minor lowers draw 3 a semitone and so takes a bend away (common practice)."""
    text = drill_text({"rungs": "all of -3", "phrase": "rung"})
    assert tabs(score_of(text)) == ["-3", "-3'", "-3''", "-3'''"]
    other = Harp("C", "", LAYOUTS["natural-minor"])
    assert tabs(score_of(text, other)) == ["-3", "-3'", "-3''"]


# --- other harps ---

harps = st.sampled_from(oracles.HARPS)
positions = st.integers(1, 12)


@given(drills, harps, harps, positions, positions)
def test_the_same_holes_on_every_harp_a_constant_step_apart(
    written: Written, one: str, other: str, here: int, there: int
) -> None:
    """The step is that of the two harps' first holes: encyclopaedia, and music21's numbers."""
    a = score_of(written.text, Harp.parse(one), Position(here))
    b = score_of(written.text, Harp.parse(other), Position(there))
    assert played(a) == played(b)
    step = oracles.sounding(other, "1") - oracles.sounding(one, "1")
    assert {m.pitch.midi - n.pitch.midi for m, n in zip(b.notes, a.notes, strict=True)} <= {step}


@given(drills, harps, positions)
def test_a_score_says_what_it_was_made_for(written: Written, name: str, number: int) -> None:
    harp, position = Harp.parse(name), Position(number)
    score = score_of(written.text, harp, position)
    assert (score.harp, score.position, score.title) == (harp, position, "Any")
    assert score.meter.name == f"{written.meter}/4"
    assert holes_tab(score.anchor_holes) == written.anchor
    assert list(map(holes_tab, score.rung_holes)) == list(written.rungs)


# --- where every note was written ---


def text_at(span: Span, texts: dict[str, str]) -> str:
    line = texts[span.file].split("\n")[span.line - 1]
    return line[span.column - 1 :][: span.width]


@given(drills)
def test_every_note_points_at_the_word_that_made_it(written: Written) -> None:
    texts = {"mine.drill": "# A comment first.\n" + written.text}
    [drill] = parse_together(texts)
    sources = [text_at(note.span, texts) for note in expand(drill, *CROSS_C).notes]
    assert sources == [word.text for word, reed in spoken(written) if reed != "r"]


@given(sliding_music())
def test_a_slide_points_at_its_target_without_the_sign(music: tuple[Word, ...]) -> None:
    texts = {"mine.drill": f'drill "A"\n  play {music_text(music)}'}
    [drill] = parse_together(texts)
    known = [word.text for word in music]
    for note in expand(drill, *CROSS_C).notes:
        source = text_at(note.span, texts)
        assert source in known
        assert source.partition(":")[0] == note.reed.tab


def test_lines_taken_over_point_into_the_other_file() -> None:
    texts = {
        "b.drill": 'drill "Child"\n  from "Parent"\n  ending -1:3\n',
        "a.drill": '# one\ndrill "Parent"\n  rungs -3 -4\n  phrase -2 rung:1/2\n  ending r\n',
    }
    child = expand(parse_together(texts)[0], *CROSS_C)
    assert [(n.span.file, text_at(n.span, texts)) for n in child.notes] == [
        ("a.drill", "-2"), ("a.drill", "rung:1/2"), ("a.drill", "-2"), ("a.drill", "rung:1/2"),
        ("b.drill", "-1:3"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("own", "place", "shown"),
    [("", "a.drill:2:12", "  rungs -3 -5' -4"), ("  rungs -4''\n", "b.drill:3:9", "  rungs -4''")],
)
def test_a_mistake_shows_the_file_the_line_was_taken_from(own: str, place: str, shown: str) -> None:
    texts = {
        "b.drill": f'drill "Child"\n  from "Parent"\n{own}',
        "a.drill": 'drill "Parent"\n  rungs -3 -5\' -4\n  phrase rung\n',
    }
    child = parse_together(texts)[0]
    with pytest.raises(PatternError) as caught:
        expand(child, *CROSS_C)
    assert caught.value.span.place == place
    assert caught.value.source_line == shown


# --- from ---


@given(drills, drills, st.sets(st.sampled_from(
    ["meter", "length", "anchor", "rungs", "order", "phrase", "ending"])))  # fmt: skip
def test_from_takes_over_every_line_that_is_not_written_again(
    parent: Written, child: Written, changed: set[str]
) -> None:
    own = {word: rest for word, rest in child.lines.items() if word in changed}
    derived = drill_text(parent.lines, "Parent") + drill_text({"from": '"Parent"'} | own, "Child")
    written_out = drill_text(parent.lines | own)
    a, b = score_of(derived), score_of(written_out)
    assert played(a) == played(b)
    assert (a.length, a.meter, a.anchor_holes) == (b.length, b.meter, b.anchor_holes)
    assert a.rung_holes == b.rung_holes


def test_from_takes_over_tempo_level_and_purpose_too() -> None:
    text = (
        'drill "P"\n about "Why."\n level 4\n tempo 91\n play -2\ndrill "C"\n from "P"\n tempo 92\n'
    )
    score = score_of(text)
    assert (score.title, score.about, score.level, score.tempo_bpm) == ("C", "Why.", 4, 92)


def test_what_a_drill_says_for_its_reader_stands_in_its_score() -> None:
    [said] = parse('drill "A"\n about "Why."\n listen "How."\n level 3\n play -2', "mine.drill")
    [silent] = parse('drill "A"\n play -2', "mine.drill")
    score, other = expand(said, *CROSS_C), expand(silent, *CROSS_C)
    assert (score.about, score.listen, score.level) == ("Why.", "How.", 3)
    assert (other.about, other.listen, other.level) == ("", "", None)
    assert not other.anchor_holes
    assert score.origin == "mine.drill"


def test_an_echo_is_as_long_as_what_it_answers_and_stands_after_it() -> None:
    """A phrase of a beat for each of three rungs, a line of two; what is played once has none."""
    lines = 'echo\n rungs -3 -3\' -4\n phrase rung\n ending -2\n section "B"\n play -2 -3'
    score = score_of(f'drill "x"\n {lines}\n')
    assert [beat for stretch in score.echoes for beat in stretch] == [1, 2, 3, 4, 5, 6, 10, 12]
    assert [note.start for note in score.notes] == [0, 2, 4, 6, 8, 9]
    assert score.length == 12


@pytest.mark.parametrize(
    ("lines", "places"),
    [
        ('section "A"\n play -2:4\n section "B"\n play -3', [0, 4]),
        ('section "A"\n play -2\n section "B"\n play -3', [0, 4]),  # on the next bar line
        ('pickup 1\n section "A"\n play -2 | -2:4 |\n section "B"\n play -3', [3, 8]),
        ('play -2:5\n section "A"\n play -3', [8]),
    ],
)
def test_a_section_starts_on_a_bar_line_and_the_first_where_the_music_does(
    lines: str, places: list[int]
) -> None:
    score = score_of(f'drill "x"\n {lines}\n')
    assert [start for start, _ in score.sections] == places
    assert {start for start, _ in score.sections} <= {note.start for note in score.notes}


# --- tempo and reference ---


def test_tempo_is_that_asked_for_else_the_drills_own_else_60() -> None:
    [plain] = parse('drill "A"\n play -2')
    [quick] = parse('drill "A"\n tempo 131\n play -2')
    assert expand(plain, *CROSS_C).tempo_bpm == 60
    assert expand(quick, *CROSS_C).tempo_bpm == 131
    assert expand(quick, *CROSS_C, tempo_bpm=47).tempo_bpm == 47


def test_another_tempo_than_the_drills_own_is_told_in_the_names_of_its_files() -> None:
    [quick] = parse('drill "A"\n tempo 131\n play -2')
    assert expand(quick, *CROSS_C, tempo_bpm=47).variant == ("47 bpm",)
    assert expand(quick, *CROSS_C, tempo_bpm=131).variant == ()
    assert expand(quick, *CROSS_C).variant == ()


@pytest.mark.parametrize("tempo", [20, 300])
def test_tempos_that_can_be_played(tempo: int) -> None:
    assert expand(parse('drill "A"\n play -2')[0], *CROSS_C, tempo_bpm=tempo).tempo_bpm == tempo


@pytest.mark.parametrize("tempo", [0, -60, 19, 301, 10**12])
def test_tempos_that_cannot(tempo: int) -> None:
    with pytest.raises(InputError) as caught:
        expand(parse('drill "A"\n tempo 80\n play -2')[0], *CROSS_C, tempo_bpm=tempo)
    assert str(caught.value) == f"a tempo of {tempo} cannot be played; write 20 to 300."


@pytest.mark.parametrize("reference", [390.0, 442.0, 490.0])
def test_reference_pitches(reference: float) -> None:
    score = expand(parse('drill "A"\n play -2')[0], *CROSS_C, reference_hz=reference)
    assert score.reference_hz == reference
    assert score.notes[0].hz == pytest.approx(oracles.tempered_hz(67) * reference / 440)


@pytest.mark.parametrize(
    ("reference", "shown"),
    [(389.9, "389.9"), (490.5, "490.5"), (0.0, "0"), (float("nan"), "nan"), (float("inf"), "inf")],
)
def test_references_no_harp_is_tuned_to(reference: float, shown: str) -> None:
    with pytest.raises(InputError) as caught:
        expand(parse('drill "A"\n play -2')[0], *CROSS_C, reference_hz=reference)
    assert str(caught.value) == f"A4 = {shown} Hz is not a pitch for harps; write 390 to 490."


# --- how much a small file may ask for ---

MANY = {
    "repeats in repeats": {"play": "(((-2 -3)x100)x100)x50"},
    "six deep": {"play": "((((((-2)x100)x100)x100)x100)x100)x100"},
    "one note": {"play": "-2 x100 " * 21},
    "an ending": {"rungs": "-3", "phrase": "rung", "ending": "((-2)x100)x100"},
    "rungs times order times phrase": {
        "rungs": "-3 -4 " * 50, "order": "down up " * 50, "phrase": "(rung)x100",
    },
    "rungs times order": {
        "rungs": "-3 -4 " * 100, "order": "down up " * 500, "phrase": "rung",
    },
    "bar lines": {"play": "((|)x100)x100"},
}  # fmt: skip


@pytest.mark.parametrize("lines", MANY.values(), ids=MANY)
def test_a_small_file_that_asks_for_too_many_notes_is_refused_fast(lines: dict[str, str]) -> None:
    text = drill_text(lines)
    assert len(text) < 10_000
    [drill] = parse(text)
    began = time.perf_counter()
    with pytest.raises(PatternError, match=r"would have [\d,]+ notes; the most is 2,000"):
        expand(drill, *CROSS_C)
    assert time.perf_counter() - began < 1


def test_the_most_a_drill_may_have_is_played() -> None:
    score = score_of('drill "A"\n play ((-2 -3)x100)x10')
    assert len(score.notes) == 2_000
    with pytest.raises(PatternError, match="would have 2,001 notes"):
        score_of('drill "A"\n play ((-2 -3)x100)x10 -1')


def test_an_order_without_a_phrase_costs_nothing() -> None:
    """A drill of music may have rungs, for their names alone."""
    lines = {"rungs": "-3 -4 " * 100, "order": "up down " * 1_000, "play": "first last"}
    [drill] = parse(drill_text(lines))
    began = time.perf_counter()
    assert tabs(expand(drill, *CROSS_C)) == ["-3", "-4"]
    assert time.perf_counter() - began < 1


# --- whatever is written ---

natural_reeds = st.builds("{}{}".format, st.sampled_from(["", "-"]), st.integers(1, 10))
bent_reeds = st.builds("{}{}".format, natural_reeds, st.sampled_from(["", "", "'", "''", "^"]))
words_for_rungs = bent_reeds | st.builds(
    "{0} of {1}{2}".format, st.sampled_from(["all", "bends"]), natural_reeds, st.just("")
) | st.builds(
    "{0} of {1} down to {1}{2}".format,
    st.sampled_from(["all", "bends"]), natural_reeds, st.sampled_from(["", "'", "''", "^"]),
)  # fmt: skip
notes = st.builds(
    "{}{}{}".format,
    st.sampled_from(["", "", "", "~"]),
    bent_reeds | st.sampled_from(["anchor", *RUNG_WORDS]),
    st.sampled_from(["", "", ":1/3", ":5/2"]),
)  # fmt: skip
pieces = st.one_of(
    notes, notes, st.sampled_from(["r", "|"]), st.builds("({} {})x3".format, notes, notes)
)


def line(word: str, parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.lists(parts, min_size=1, max_size=4).map(lambda found: f" {word} {' '.join(found)}\n")


with_rungs = st.builds(
    'drill "D"\n anchor {}\n{} order {}\n meter {}/8\n{}{}'.format,
    natural_reeds, line("rungs", words_for_rungs), st.sampled_from(["up", "down, up"]),
    st.integers(1, 16), line("phrase", pieces), st.just("") | line("ending", bent_reeds),
)  # fmt: skip
music_alone = st.builds(
    'drill "D"\n anchor {}\n{}{}'.format,
    natural_reeds, st.just("") | line("rungs", words_for_rungs), line("play", pieces),
)  # fmt: skip


@settings(max_examples=300)
@given(with_rungs | music_alone, layouts, harps, positions)
def test_expanding_what_was_read_gives_a_score_or_an_error_of_ours(
    text: str, layout: Layout, harp: str, number: int
) -> None:
    try:
        found = parse(text)
    except ReedmillError:
        return  # read or refused: that is the language's own matter
    for drill in found:
        try:
            score = expand(drill, Harp.parse(harp, layout), Position(number))
        except PatternError as error:
            problem: PatternError = error
        else:
            assert score.length >= sum(note.length for note in score.notes)
            continue
        assert problem.span.file == "pattern"
        assert problem.source_line == text.split("\n")[problem.span.line - 1]
        assert problem.remedy


def test_equal_text_gives_equal_scores() -> None:
    text = drill_text({"anchor": "-2", "rungs": "all of -3", "phrase": "anchor previous~rung"})
    assert score_of(text) == score_of(text)
    assert score_of(text) != score_of(text, harp=Harp("D"))


def test_the_built_in_layout_is_the_published_one() -> None:
    """OEIS A291810: what the tables of this file stand on."""
    assert [RICHTER.blow, RICHTER.draw] == [
        tuple(oracles.A291810[::2]), tuple(oracles.A291810[1::2]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("range_bpm", "asked", "told"),
    [
        ("56 to 84", None, (56, 84)), ("56 to 84", 48, (48, 84)),
        ("56 to 84", 84, (84, None)), ("56 to 84", 100, (100, None)),
        ("60 to 40", None, (60, 40)), ("60 to 40", 72, (72, 40)),
        ("60 to 40", 40, (40, None)), ("60 to 40", 36, (36, None)),
    ],
)  # fmt: skip
def test_who_starts_beyond_the_goal_has_none(
    range_bpm: str, asked: int | None, told: tuple[int, int | None]
) -> None:
    [drill] = parse(f'drill "A"\n tempo {range_bpm}\n play -2', "a.drill")
    score = expand(drill, Harp("C"), Position(2), tempo_bpm=asked)
    assert (score.tempo_bpm, score.tempo_goal_bpm) == told


def test_everything_a_harp_cannot_play_of_a_drill_is_named_and_nothing_else() -> None:
    """A Richter harp (A291810) bends neither draw 5, draw 7 nor blow 4 by a semitone."""
    text = "\n".join(
        [
            'drill "x"',
            "  anchor -5'",
            "  rungs -2 -7' -3'''",
            "  phrase anchor rung",
            "  ending r -5' -2",
            'drill "y"',
            "  play -2 r (4' -2 |) 1st (-7' |) 2nd (-2 |) | -3'''",
        ]
    )
    told = [
        [(error.span.line, error.span.column) for error in refusals(drill, Harp("C"))]
        for drill in parse(text)
    ]
    assert told == [[(3, 12), (2, 10), (5, 12)], [(7, 14), (7, 28)]]


def test_lines_that_are_taken_over_wrongly_are_told_at_the_from_line() -> None:
    """Four beats fill a bar of 4/4 and are one too many in 3/4; the lines are right at home."""
    text = 'drill "a"\n  play -2 -3 4 -4 |\ndrill "b"\n  from "a"\n  meter 3/4\n'
    home, child = parse(text)
    assert expand(home, Harp("C"), Position(2)).bars == 1
    with pytest.raises(PatternError) as refused:
        expand(child, Harp("C"), Position(2))
    assert refused.value.span is not None
    assert refused.value.span.line == 4
    assert "line 2" in str(refused.value)


@pytest.mark.parametrize(
    ("text", "key", "line"),
    [
        ('drill "a"\n play -2:4 |\ndrill "b"\n from "a"\n play -2 |\n', "bar-does-not-add-up", 5),
        (
            'drill "b"\n from "a"\n meter 3/4\ndrill "a"\n play -2:4 |\n',
            "does-not-go-with-from",
            2,
        ),
        ('drill "a"\n play -2\ndrill "b"\n from "a"\n pickup 4\n', "pickup-too-long", 3),
        (
            'drill "a"\n play -2:4 |\ndrill "b"\n from "a"\n move up 1\n meter 3/4\n',
            "does-not-go-with-from",
            4,
        ),
    ],
)
def test_a_wrong_line_is_told_where_the_drill_s_author_wrote_it(
    text: str, key: str, line: int
) -> None:
    """A bar of its own is the drill's own fault, and one of the drill after it is not."""
    [child] = [drill for drill in parse(text) if drill.title == "b"]
    with pytest.raises(PatternError) as refused:
        expand(child, *CROSS_C)
    assert (refused.value.key, refused.value.span.line) == (key, line)


@pytest.mark.parametrize(
    ("music", "times"),
    [("-2 -3 4 -4", []), ("triplet(-2:2 -3:2 -4:2)", []), ("(-2:4)x2", [2])],
)
def test_only_what_is_played_again_is_a_repeat(music: str, times: list[int]) -> None:
    score = score_of(f'drill "x"\n  play {music}\n')
    assert [len(repeat.passes) for repeat in score.repeats] == times


def test_where_a_repeat_begins_and_where_its_times_end() -> None:
    """Three times a bar; then a bar with an ending of one bar and one of two."""
    score = score_of('drill "x"\n  play (-2:4 |)x3 (-3:4 |) 1st (-4:4 |) 2nd (-1:8 |)\n')
    first, second = score.repeats
    assert (first.start, second.start) == (Fraction(0), Fraction(12))
    assert [float(beat) for times in first.passes for beat in times] == [4, 4, 8, 8, 12, 12]
    assert [float(beat) for times in second.passes for beat in times] == [16, 20, 24, 32]
    assert [each.body for each in score.repeats] == [4, 4]


def test_every_bar_that_does_not_add_up_is_told_and_no_bar_after_it_that_does() -> None:
    """One beat and three are not four; the bars of four between and after them are right."""
    [drill] = parse('drill "x"\n  play -2 | -2 -2 -2 -2 | -2 -2 -2 | -2:4 |\n')
    with gathering() as found:
        expand(drill, *CROSS_C)
    facts = [f"this bar has {beats}, but 4/4 has 4" for beats in ("1 beat", "3 beats")]
    assert [error.fact for error in found if isinstance(error, PatternError)] == facts


@pytest.mark.parametrize(
    "music", ["triplet(-2:1/3 -3:1/3 -4:1/3)", "triplet(triplet(-2 -3 4) 5 6)"]
)
def test_no_note_value_shows_a_third_of_a_third(music: str) -> None:
    with pytest.raises(PatternError) as refused:
        score_of(f'drill "x"\n  play {music}\n')
    assert refused.value.key == "uncountable-length"


def test_a_plan_holds_the_anchor_one_way_and_all_else_another() -> None:
    """The anchor's reed written out is home as well; the last rung, that reed too, is not."""
    lines = "embouchure lips or anchors tongue left, rungs lips\n anchor -2\n rungs -3 -2\n"
    music = " phrase anchor rung -2 -4\n"
    [planned] = parse(f'drill "x"\n {lines}{music}')
    first, second = (expand(planned, *CROSS_C, version=version) for version in versions(planned))
    assert expand(planned, *CROSS_C) == first
    home, lips = LipShape.TONGUE_LEFT, LipShape.LIPS
    assert {note.embouchure for note in first.notes} == {lips}
    assert [note.embouchure for note in second.notes] == [home, lips, home, lips] * 2
    [plain] = parse('drill "x"\n play -2 -4\n')
    assert list(versions(plain)) == [0]
    assert {note.embouchure for note in expand(plain, *CROSS_C).notes} == {None}


def test_a_move_to_no_note_names_the_reed_as_it_is_written() -> None:
    """Hole 4 draw of a Richter harp bends a semitone and hole 5 draw does not (OEIS A291810)."""
    moved = 'drill "a"\n play -2 -4\':2\ndrill "b"\n from "a"\n move up 1\n'
    _, child = parse(moved)
    with pytest.raises(PatternError) as refused:
        expand(child, *CROSS_C)
    assert refused.value.fact.startswith("moving -4':2 by +1 leads to a note that is not there")
    assert refused.value.span.line == 5


@pytest.mark.parametrize(
    ("position", "rungs", "anchor"),
    [
        # Cross harp on C: G is draw 2, blow 3, blow 6 and blow 9.
        (2, "-3 -3'", "-2"),
        (2, "3", "3"),  # the breath of the first rung
        (2, "8", "9"),  # the smaller move
        (2, "5", "6"),
        # First position: C is blow 1, 4, 7 and 10, whatever the breath of the rung.
        (1, "-4", "4"),
        (1, "-10", "10"),
        # Third position: D is draw 1, 4 and 8; draw 6 lies between two of them.
        (3, "-5", "-4"),
        (3, "-6", "-4"),  # the lower note
        # Fourth position: A is draw 6 and draw 10, and draw 3 bent a whole tone.
        (4, "-3 -3'", "-6"),  # a natural note, though the bend is in the same hole
        # Sixth position: B is draw 3 and draw 7, and blow 10 bent a semitone.
        (6, "10 -10", "-7"),
    ],
)
def test_an_anchor_called_root_is_the_root_nearest_to_the_rungs(
    position: int, rungs: str, anchor: str
) -> None:
    text = f'drill "x"\n  anchor root\n  rungs {rungs}\n  phrase anchor rung\n'
    found = score_of(text, position=Position(position)).anchor
    assert found is not None
    assert found.tab == anchor


@pytest.mark.parametrize(
    ("tab", "mistake"),
    [
        ("-2'''", "bend-too-deep"),
        ("10'''", "bend-too-deep"),
        ("4'", "bend-of-the-other-reed"),
        ("-8'", "bend-of-the-other-reed"),
        ("-5'", "no-note-to-bend-to"),
        ("7'", "no-note-to-bend-to"),
        ("-1^", "no-overbend"),
    ],
)
def test_which_mistake_it_is_to_ask_for_a_reed_that_is_not_there(tab: str, mistake: str) -> None:
    """Holes 1 to 6 of a Richter harp bend on the draw, 7 to 10 on the blow; 5 and 7 do not."""
    [drill] = parse(f'drill "x"\n  play {tab}\n')
    assert [error.key for error in refusals(drill, Harp("C"))] == [mistake]
