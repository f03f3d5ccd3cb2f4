"""Several holes in one breath, quarter tones, marks of style and slow slides, as they are written.

What one mouth can do is worked out here again, from the words of the rules: common practice, no
published source.  Chords and their notes come from music21, the reeds from the published layout
(OEIS A291810) in ``oracles``.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise, product

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

import oracles
from reedmill.base.errors import PatternError
from reedmill.expand import expand, ways
from reedmill.formats.data import score_data
from reedmill.formats.musicxml import details
from reedmill.harp import Breath, Harp
from reedmill.language import parse
from reedmill.language.formatter import tidy
from reedmill.score.score import LipShape, Role, Score
from reedmill.score.style import Mark
from reedmill.theory.positions import Position
from together import together

HOLES = range(1, 11)


def score_of(*lines: str, harp: str = "C", position: int = 2) -> Score:
    text = 'drill "Any"\n' + "".join(f"  {line}\n" for line in lines)
    return expand(parse(text)[-1], Harp.parse(harp), Position(position))


def refusal(*lines: str, position: int = 2) -> PatternError:
    with pytest.raises(PatternError) as caught:
        score_of(*lines, position=position)
    return caught.value


def tab_of(holes: tuple[int, ...], sign: str) -> str:
    return sign + "&".join(map(str, holes))


# --- what one breath can give ---


def fits_a_mouth(holes: tuple[int, ...]) -> bool:
    """Five neighbouring holes hold them, and what is left out lies side by side."""
    out = [hole for hole in range(holes[0], holes[-1]) if hole not in holes]
    return holes[-1] - holes[0] < 5 and (not out or out == list(range(out[0], out[-1] + 1)))


SETS = [holes for count in (2, 3, 4, 5, 6) for holes in combinations(HOLES, count)]


@pytest.mark.parametrize("sign", ["", "-"])
def test_every_set_of_holes_is_played_or_refused_as_the_mouth_allows(sign: str) -> None:
    for holes in SETS:
        line = f"play {tab_of(holes, sign)}"
        if fits_a_mouth(holes):
            [note] = score_of(line).notes
            assert [reed.hole for reed in note.reeds] == list(holes)
            assert {reed.tab[:1] == "-" for reed in note.reeds} == {sign == "-"}
            assert note.tongue_on == tuple(
                hole for hole in range(holes[0], holes[-1]) if hole not in holes
            )
        else:
            assert refusal(line).key in ("holes-too-far-apart", "two-gaps")


@together("two", [*pairwise(HOLES), (1, 4), (3, 7)])
def test_two_neighbours_bend_together_by_a_semitone_and_no_others_do(two: tuple[int, int]) -> None:
    low, high = two
    for sign in ("", "-"):
        for ticks in ("'", "''"):
            line = f"play {sign}{low}{ticks}&{high}"
            depth = oracles.plain_semitones(f"{sign}{low}") - len(ticks)
            bends = f"{sign}{low}{ticks}" in oracles.PLAIN_TABS
            if bends and high - low == 1 and ticks == "'":
                [note] = score_of(line).notes
                assert note.reeds[0].bend == 1
                assert note.beside[0].pitch.midi - 60 == depth
            else:
                refusal(line)


def test_overbends_are_played_alone() -> None:
    assert refusal("play 5&6^").key == "overbend-among-holes"


@pytest.mark.parametrize(
    ("tab", "numeral", "position"),
    [
        ("1&2&3", "C", 1), ("4&5&6", "C", 1), ("-1&2&3", "G/D", 2), ("-2&3&4", "G", 2),
        ("-4&5&6", "d", 3), ("-2&3&4&5", "G7", 2), ("-8&9&10", "d", 3),
    ],
)  # fmt: skip
def test_chords_are_the_ones_a_c_harp_has(tab: str, numeral: str, position: int) -> None:
    """Blow C, draw G to G7 from hole 2 and D minor from hole 4: harmony of music21."""
    [note] = score_of(f"play {tab}", position=position).notes
    symbol = numeral.partition("/")[0]
    named = music21.harmony.ChordSymbol(symbol.upper() + ("m" if symbol.islower() else ""))
    pitches = {pitch.pitchClass for pitch in named.pitches}
    assert {each.pitch.midi % 12 for each in note.sounded} == pitches
    keys = [each.pitch.midi for each in note.sounded]
    assert keys == sorted(keys)


def test_the_highest_hole_leads_and_the_sign_of_the_breath_is_needed_once() -> None:
    texts = ["-2&3", "-2&-3", "-3&2", "-2 & 3", "\u22122&3"]
    for text in texts:
        [note] = score_of(f"play {text}").notes
        assert (note.reed.tab, note.tab, note.words) == ("-3", "-2&3", "draw 2 and 3")
        assert note.reed.breath is Breath.DRAW
    assert score_of("play +2&3").notes[0].tab == "2&3"
    assert score_of("play 3 & 4").notes[0].tab == "3&4"
    assert refusal("play 3q & 4").key == "bend-of-the-other-reed"  # and reads it all the same
    assert refusal("play -2&+3").key == "two-breaths"
    assert refusal("play 2&-3").key == "two-breaths"


def test_an_octave_split_says_where_the_tongue_is() -> None:
    [note] = score_of("play -1&4").notes
    assert note.words == "draw 1 and 4, the tongue on 2 and 3"
    low, high = (each.pitch.midi for each in note.sounded)
    assert high - low == 12


def test_several_holes_slide_together_where_each_of_them_can() -> None:
    score = score_of("play -2&3~-2'&3'")
    assert [(note.tab, note.joined) for note in score.notes] == [("-2&3", False), ("-2'&3'", True)]
    assert refusal("play -2&3~-2'").key == "lift-moves-hole"
    assert refusal("play -2&3~-3'&4'").key == "lift-moves-hole"
    assert score_of("play -2&3~-2&3:2").notes[0].length == 3  # it goes on


# --- as anchor and rungs ---

OCTAVES = ("anchor -1&4", "rungs 1&4 2&5 -3 3&6")


def tabs(score: Score) -> list[str]:
    return [note.tab for note in score.notes]


def test_every_word_for_anchor_and_rungs_stands_for_all_holes() -> None:
    score = score_of(*OCTAVES, "phrase first previous rung next last", "ending anchor first last")
    turns = ["1&4", "2&5", "-3", "3&6"]
    around = zip(turns[:1] + turns, turns, turns[1:] + turns[-1:], strict=False)
    said = [tab for one in around for tab in ("1&4", *one, "3&6")]
    assert tabs(score) == [*said, "-1&4", "1&4", "3&6"]
    assert {note.role for note in score.notes[-3:]} == {Role.ANCHOR, Role.RUNG}
    assert (score.anchor, [reed.tab for reed in score.rungs]) == (None, ["-3"])


def test_rungs_of_several_holes_go_by_the_highest_which_is_heard_as_the_tune() -> None:
    """Highest holes of a Richter harp (OEIS A291810): blow 4 under draw 4, draw 6 over blow 6."""
    score = score_of("rungs 4 -1&4 -3&6 2&3&4", "order down, up", "phrase rung")
    down = ["-3&6", "-1&4", "4", "2&3&4"]
    assert tabs(score) == [*down, *down[::-1]]


def test_rungs_slide_where_each_of_their_holes_can() -> None:
    score = score_of("anchor -2&3", "rungs -2'&3' -2&3", "phrase anchor~rung:2 r")
    notes = [(note.tab, note.joined, str(note.length)) for note in score.notes]
    assert notes[:2] == [("-2&3", False, "1"), ("-2'&3'", True, "2")]
    assert notes[2:] == [("-2&3", False, "3")]  # to itself it goes on
    assert tabs(score_of("anchor -1&4", "rungs -4", "phrase anchor~rung r")) == ["-1&4", "-4"]
    assert refusal("anchor -2&3", "rungs -4", "phrase anchor~rung").key == "nothing-held"
    assert refusal("anchor -1&4", "rungs -4'", "phrase anchor~rung").key == "lift-moves-hole"


def test_anchor_and_rungs_of_several_holes_have_the_marks_such_holes_can_have() -> None:
    score = score_of(*OCTAVES, "echo", "phrase slap anchor mute rung (rung anchor)x2")
    assert [note.style.words for note in score.notes[:2]] == [("slap",), ("mute",)]
    assert score.echoes[0] == (Fraction(6), Fraction(12))
    assert refusal("anchor -1&4", "rungs -3", "phrase scoop anchor").key == "scoop-of-several"
    held = score_of(*OCTAVES, "embouchure anchors lips, rungs tongue left", "phrase anchor rung")
    holds = [note.embouchure for note in held.notes if len(note.reeds) == 1]
    assert holds == [LipShape.TONGUE_LEFT]  # elsewhere the holes say where the tongue is
    assert all(note.embouchure is None for note in held.notes if len(note.reeds) > 1)


def test_a_root_is_nearest_to_any_hole_of_the_rungs() -> None:
    """G is draw 2, blow 3, blow 6 and blow 9 of a C harp; the breath of the rung comes first."""
    for rungs, root in (("-1&4", "-2"), ("6&9 -2", "6"), ("8&9&10", "9")):
        assert tabs(score_of("anchor root", f"rungs {rungs}", "phrase anchor"))[0] == root


def test_a_tune_takes_an_anchor_of_several_holes_as_it_stands() -> None:
    assert tabs(score_of("anchor -1&4", "tune 1 anchor:2 r 5")) == ["-2", "-1&4", "-4"]


def test_holes_of_an_anchor_or_rung_move_together_and_are_refused_by_their_own_words() -> None:
    home = ["anchor -1&4", "rungs -2'&3'", "phrase rung anchor"]
    text = 'drill "Home"\n' + "".join(f"  {line}\n" for line in home)
    moved = f'{text}drill "Up"\n  from "Home"\n  move up 1\n'
    assert tabs(expand(parse(text)[0], Harp("C"), Position(2))) == ["-2'&3'", "-1&4"]
    assert tabs(expand(parse(moved)[1], Harp("C"), Position(2))) == ["-3'&4'", "-2&5"]
    too_far = moved.replace("up 1", "up 3")
    with pytest.raises(
        PatternError, match=r"moving -2'&3' by \+3 leads to a note that is not there"
    ):
        expand(parse(too_far)[1], Harp("C"), Position(2))
    with pytest.raises(PatternError, match=r"hole 11"):
        parse(moved.replace("up 1", "up 7"))


@pytest.mark.parametrize(
    ("line", "key", "caret"),
    [
        ("anchor -1&6", "holes-too-far-apart", "-1&6"),
        ("anchor -1&+4", "two-breaths", "-1&+4"),
        ("rungs -3 -1&3&5 4", "two-gaps", "-1&3&5"),
        ("rungs -3 -2''&3''", "two-bent-too-far", "-2''&3''"),
        ("rungs 4 5'&6'", "no-note-to-bend-to", "5'&6'"),
        ("rungs -3&4&", "and-without-holes", "&"),
        ("rungs bends of -2&3", "several-in-a-run", "&"),
    ],
)
def test_holes_that_no_breath_gives_are_refused_where_they_stand(
    line: str, key: str, caret: str
) -> None:
    found = refusal(line, "rungs -3" if "anchor" in line else "anchor -2", "phrase anchor rung")
    assert found.key == key
    place = found.span.column - 3  # the two spaces before the line
    assert line[place : place + found.span.width] == caret
    if key in ("and-without-holes", "several-in-a-run"):
        assert place == line.rindex("&")


@pytest.mark.parametrize(
    ("line", "instead"),
    [
        ("anchor -1-4", "Write -1&4 for all of them at once."),
        ("anchor -1+4", "Write -1 alone."),
        ("rungs -2-3", "Write -2&3 for all of them at once, or -2 -3 for a rung each."),
    ],
)
def test_an_anchor_or_rung_without_a_space_is_asked_about(line: str, instead: str) -> None:
    assert str(refusal(line)).endswith(instead)


def test_data_and_musicxml_have_all_holes_of_the_anchor_and_the_rungs() -> None:
    score = score_of(*OCTAVES, "phrase anchor rung")
    data = score_data(score)
    assert (data["anchor"], data["rungs"]) == ("-1&4", ["1&4", "2&5", "-3", "3&6"])
    fields = dict(details(score))
    assert (fields["anchor"], fields["rungs"]) == ("-1&4", "1&4 2&5 -3 3&6")


# --- lifts: holes that sound on while others join or leave ---


def lifts(here: tuple[str, ...], there: tuple[str, ...]) -> bool:
    """The rule in its own words: other holes, one breath, and what is in both is the same reed."""

    def hole(tab: str) -> int:
        return int(tab.strip("-'"))

    both = {hole(tab) for tab in here} & {hole(tab) for tab in there}
    one_breath = len({tab.startswith("-") for tab in (*here, *there)}) == 1
    same = all(tab in there for tab in here if hole(tab) in both)
    others = {hole(tab) for tab in here} != {hole(tab) for tab in there}
    return others and one_breath and bool(both) and same


BREATHS = [
    ("-4",), ("-1", "-4"), ("-1", "-2", "-3", "-4"), ("-2", "-3"), ("-3",), ("-3'",), ("-2", "-3'"),
    ("-2'", "-3'"), ("-2",), ("-5", "-6"), ("-4", "-5"), ("4",), ("1", "4"), ("1", "2", "3", "4"),
    ("2", "3"), ("-4", "-5", "-6", "-7", "-8"),
]  # fmt: skip


def joined_tab(breath: tuple[str, ...]) -> str:
    return "&".join([breath[0], *(tab.strip("-") for tab in breath[1:])])


def test_two_breaths_are_joined_as_a_lift_or_refused_as_the_rule_says() -> None:
    """Common practice, no published source; bends of one hole slide, and are none."""
    for here, there in product(BREATHS, repeat=2):
        play = f"play {joined_tab(here)} r {joined_tab(here)}~{joined_tab(there)}"
        if lifts(here, there):
            *_, before, note = score_of(play).notes
            assert (before.tab, note.tab, note.joined) == (
                joined_tab(here),
                joined_tab(there),
                True,
            )
            held = {int(tab.strip("-'")) for tab in here} & {int(tab.strip("-'")) for tab in there}
            assert score_of(play).held_over(note) == tuple(sorted(held))
        elif here != there and len({tab.strip("'") for tab in (*here, *there)}) > len(here):
            assert refusal(play).key in ("nothing-held", "lift-moves-hole", "slide-between-reeds")


def test_nothing_is_held_over_into_a_slide_or_an_attack() -> None:
    score = score_of("play -2&3~-2'&3' -4 -1&2&3&4 -3~-3' -3'~-2&3'~-2&3':2")
    assert [score.held_over(note) for note in score.notes] == [(), (), (), (), (), (), (), (3,)]


def test_what_brackets_shape_is_left_out_where_a_lift_cannot_have_it() -> None:
    """A shake begins with one hole, and a slap is an attack; refused where they are asked for."""
    notes = score_of("play shake (-4~-4&5) slap (-4~-1&4)").notes
    assert [note.style.words for note in notes] == [(), (), ("slap",), ()]
    assert refusal("play -4~slap -1&4").key == "mark-on-slide"
    assert refusal("play -4~-4&5~shake -4&5").key == "shake-after-lift"
    assert refusal("play pull -4~-1&4").key == "slide-after-end"


def test_a_tune_keeps_a_degree_through_a_lift() -> None:
    notes = score_of("tune 5~1&5~5 r 1~1&3&5").notes
    assert [note.tab for note in notes] == ["-4", "-2&4", "-4", "-2", "-2&3&4"]
    assert refusal("tune 1~5&b7").key == "nothing-held-in-tune"


def test_a_hole_that_sounds_on_keeps_the_name_it_has() -> None:
    """Draw 3 is the #4 of F where that is written, and a Cb could not be tied to a B."""
    score = score_of("tune #4~#4&6~6 r", position=12)
    assert [note.tab for note in score.notes] == ["-3", "-3&4", "-4"]
    assert [[each.pitch.name for each in note.sounded] for note in score.notes] == [
        ["B4"], ["B4", "D5"], ["D5"],
    ]  # fmt: skip
    assert [note.degrees for note in score.notes] == ["#4", "#4&6", "6"]


def test_a_lift_takes_the_air_of_the_holes_it_has() -> None:
    """Half as much again for each further hole: four beats of draw 4, two of four holes."""
    alone = score_of("level 3", "tempo 60", "play -4:6 r:2")
    opened = score_of("level 3", "tempo 60", "play -4:4~-1&2&3&4:2 r:2")
    assert not alone.warnings
    [warning] = opened.warnings  # 4 + 2 x 2.5
    assert "the breath that begins on draw 4 takes the air of 9 seconds" in warning.fact


# --- as degrees ---


@given(st.sampled_from(["1&3", "1&1+", "5-&5", "1&3&5", "3&5", "5&b7", "1&3&5&b7"]),
       st.sampled_from(oracles.HARPS))  # fmt: skip
def test_degrees_of_one_breath_sound_as_written(written: str, harp: object) -> None:
    """Semitones of the degrees from the major scale and its flat seventh, above one root."""
    above = {"1": 0, "3": 4, "5": 7, "b7": 10, "1+": 12, "5-": -5}
    [note] = score_of(f"tune {written}", harp=str(getattr(harp, "name", harp))).notes
    keys = [each.pitch.midi for each in note.sounded]
    wanted = sorted(above[each] for each in written.split("&"))
    assert [key - keys[0] for key in keys] == [each - wanted[0] for each in wanted]
    assert len({reed.breath for reed in note.reeds}) == 1
    assert fits_a_mouth(tuple(reed.hole for reed in note.reeds))


def test_degrees_that_no_breath_gives_at_once_are_refused() -> None:
    assert refusal("tune 1&2").key == "no-breath-for-degrees"
    assert refusal("tune 1&1").key == "degree-twice"


def test_the_ways_of_a_tune_know_several_notes_and_quarter_tones() -> None:
    text = 'drill "Any"\n  tune 1 1&5 3q 1\n'
    [[best, *_]] = ways(parse(text)[0], Harp("C"), Position(2))
    assert [reed.tab for reed in best.reeds][2] == "-3q"


# --- quarter tones ---


@pytest.mark.parametrize(("tab", "above"), [("-3q", "B4"), ("-5q", "F5"), ("-3'q", "Bb4"),
                                            ("8q", "E6"), ("7q", "C6")])  # fmt: skip
def test_a_quarter_tone_is_fifty_cents_lower(tab: str, above: str) -> None:
    """Half of a tempered semitone; the frequency above it is music21's."""
    [note] = score_of(f"play {tab}").notes
    hz = music21.pitch.Pitch(above.replace("b", "-")).frequency
    assert note.hz == pytest.approx(hz * 2 ** (-50 / 1200), rel=1e-9, abs=0)
    assert note.degree.name.endswith("q")
    assert note.tab == tab


@pytest.mark.parametrize("tab", ["-3'''q", "3q", "5q", "-7q", "-2''q", "4q", "-5'q", "6^q"])
def test_a_quarter_tone_needs_room_below(tab: str) -> None:
    refusal(f"play {tab}")


def test_the_blue_third_is_a_degree() -> None:
    score = score_of("tune 1 3q 1")
    assert [note.tab for note in score.notes] == ["-2", "-3q", "-2"]
    assert [note.degree.name for note in score.notes] == ["1", "3q", "1"]


# --- marks of style ---

MARKED = {"vibrato -4": Mark.VIBRATO, "shake -4&5": Mark.SHAKE, "scoop -4": Mark.SCOOP,
          "fall -4": Mark.FALL, "slap -4": Mark.SLAP, "pull -4": Mark.PULL,
          "mute -4": Mark.MUTE}  # fmt: skip


@pytest.mark.parametrize("text", MARKED)
def test_a_mark_stands_before_its_note(text: str) -> None:
    score = score_of(f"play -2 {text}:2 -2")
    assert [note.style.marks for note in score.notes] == [(), (MARKED[text],), ()]
    assert [note.length for note in score.notes] == [1, 2, 1]


@pytest.mark.parametrize(
    ("tempo", "vibrato", "shake"), [(60, 5, 6), (75, 4, 5), (100, 3, 4), (150, 2, 2), (300, 1, 1)]
)
def test_a_vibrato_goes_in_time_near_its_usual_speed(tempo: int, vibrato: int, shake: int) -> None:
    """5 and 6 times a second, by hand: the whole number of times a beat that is nearest."""
    score = score_of(f"tempo {tempo}", "play vibrato -4:4 shake -4&5:4 vibrato7 -4:4")
    assert [note.style.a_beat for note in score.notes] == [vibrato, shake, 7]


def test_a_mark_before_brackets_is_for_each_attack_inside() -> None:
    score = score_of("play slap (-2 -3~-3' mute -4 r)x2 -2")
    marks = [tuple(mark.value for mark in note.style.marks) for note in score.notes]
    assert marks == [("slap",), ("slap",), (), ("mute", "slap")] * 2 + [()]
    mixed = score_of("play slap (-1&2&3 -2 -1&4) scoop (4 -4)")  # each note that can have it
    assert [bool(note.style.marks) for note in mixed.notes] == [False, True, True, False, True]
    assert refusal("play (slap -1&2&3 -2)").key == "slap-of-chord"
    ends = score_of("play fall (-3~-3' -4) -2")
    assert [bool(note.style.marks) for note in ends.notes] == [False, True, True, False]


def test_marks_go_with_roles_and_degrees() -> None:
    ladder = score_of("anchor -2", "rungs -3 -3'", "phrase slap anchor vibrato4 rung:2")
    assert [note.style.words for note in ladder.notes] == [("slap",), ("vibrato4",)] * 2
    assert score_of("tune scoop 5 1").notes[0].style.words == ("scoop",)


@given(st.permutations(["mute", "slap", "vibrato4", "fall"]))
def test_the_order_of_marks_does_not_matter(words: list[str]) -> None:
    [note] = score_of(f"play {' '.join(words)} -4:2").notes
    assert note.style.words == ("mute", "slap", "vibrato4", "fall")


@pytest.mark.parametrize(("text", "laid_out"), [
    ("-2 & 3 slap  ( -3 -3')", "-2&3 slap (-3 -3')"),
    ("-3 ~ :1 -3'':2", "-3~:1 -3'':2"),
    ("mute  slap -1&-4 :2 !", "mute slap -1&4:2 !"),
])  # fmt: skip
def test_the_layout_of_the_new_words(text: str, laid_out: str) -> None:
    if "!" in text:
        text, laid_out = text.replace(" :2 !", " ! :2"), laid_out.replace(":2 !", "!:2")
    tidied = tidy(f'drill "x"\n  play {text}\n')
    assert tidied == f'drill "x"\n  play  {laid_out}\n'


# --- slow slides ---


@given(st.builds(Fraction, st.integers(1, 8), st.sampled_from([1, 2, 4])),
       st.builds(Fraction, st.integers(0, 8), st.sampled_from([1, 2, 4])),
       st.integers(30, 240))  # fmt: skip
def test_a_slide_takes_as_long_as_is_written(slide: Fraction, stay: Fraction, tempo: int) -> None:
    """Beats to seconds by hand."""
    score = score_of(f"tempo {tempo}", f"play -3:2~:{slide} -3'':{slide + stay}")
    _, note = score.notes
    assert (note.length, note.slide_beats) == (slide + stay, slide)
    assert score.glide_s(note) == pytest.approx(float(slide) * 60 / tempo, rel=1e-12, abs=0)


def test_lengths_add_up_and_one_breath_follows_the_other() -> None:
    line = "play -1&4 -2&3:2 | shake -4&5:2 slap -2:1/2 1&4:1/2 | r -3:1~:1/2 -3'':1"
    score = score_of("meter 3/4", line)
    assert sum((note.length for note in score.notes), Fraction(1)) == score.length
    assert all(here.end <= there.start for here, there in pairwise(score.notes))
    for note in score.notes:
        assert len({reed.breath for reed in note.reeds}) == 1


def test_the_grammar_knows_every_mark_also_where_music_goes_on_below() -> None:
    for mark in Mark:
        note = {"shake": "-4&5"}.get(mark.value, "-4")
        text = f'drill "Any"\n  play -2\n    {mark.value} {note}:2\n'
        notes = expand(parse(text)[0], Harp("C"), Position(2)).notes
        assert [each.style.marks for each in notes] == [(), (mark,)]
