"""Where to breathe: the model of the lungs stated a second time and walked through music.

The model is common practice, no published source: drawing fills and blowing empties the
lungs by a second of air a second, half a second of rest is a breath, and between two breaths the
air goes from its lowest to its highest by no more than the level of the drill allows.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reedmill.expand import expand
from reedmill.expand.breath import with_breaths, without_breaths
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.notation import bars
from reedmill.score.repeats import printed
from reedmill.score.score import AirWay, Breathing, Score
from reedmill.theory.positions import Position

MOST_S, REST_S = 10, Fraction(1, 2)  # level 4 on a C harp


@dataclass(frozen=True)
class Blown:
    """One attack with the slides after it, or a rest: a word or several, and beats."""

    text: str
    beats: Fraction
    way: int  # 1 draws, -1 blows, 0 rests
    last: Fraction  # beats of its last note


@dataclass(frozen=True)
class Music:
    """Music at a tempo; a shuffle plays the second half of a beat at two thirds of it."""

    attacks: tuple[Blown, ...]
    tempo: int
    shuffle: bool = False
    meter: int = 4

    def on(self, harp: str) -> Score:
        """What the project makes of it on a harp."""
        feel = "shuffle" if self.shuffle else "straight"
        words = " ".join(each.text for each in self.attacks)
        text = f'drill "Air"\n level 4\n feel {feel}\n meter {self.meter}/4\n play {words}\n'
        return expand(parse(text)[0], Harp.parse(harp), Position(2), tempo_bpm=self.tempo)

    @property
    def score(self) -> Score:
        """What the project makes of it on a C harp."""
        return self.on("C")

    def seconds(self, beats: Fraction) -> Fraction:
        """When the notated place *beats*, a multiple of a half, is played."""
        late = Fraction(1, 6) if self.shuffle and beats % 1 else 0
        return (beats + late) * 60 / self.tempo

    @property
    def sounding(self) -> list[tuple[Fraction, Fraction, Blown]]:
        """Start and end in beats of each attack that is not a rest."""
        now, found = Fraction(0), []
        for each in self.attacks:
            if each.way:
                found.append((now, now + each.beats, each))
            now += each.beats
        return found


def places(score: Score) -> tuple[Fraction, ...]:
    """The beats at which the notes before the breaths end in the drill itself."""
    return tuple(each.at + each.rest for each in score.breaths)


@dataclass(frozen=True)
class Stretch:
    """The attacks between two breaths, with the air after each in seconds, 0 before the first."""

    air_s: tuple[Fraction, ...]
    ends: tuple[Fraction, ...]  # beats
    texts: tuple[str, ...]

    @property
    def reach_s(self) -> Fraction:
        """From the lowest to the highest."""
        return reach(self.air_s)


def reach(air_s: Sequence[Fraction]) -> Fraction:
    """From the lowest to the highest of the air, which is 0 at first."""
    whole = (Fraction(0), *air_s)
    return max(whole) - min(whole)


def stretches(music: Music, breaths: Sequence[Fraction]) -> list[Stretch]:
    """The music between its breaths, at *breaths* (beats) and in every long rest."""
    found: list[list[tuple[Fraction, Fraction, str]]] = []
    last_end, air = None, Fraction(0)
    for start, end, each in music.sounding:
        gap_s = music.seconds(start) - music.seconds(last_end) if last_end is not None else 0
        if last_end is None or last_end in breaths or gap_s >= REST_S:
            found.append([])
            air = Fraction(0)
        air += each.way * (music.seconds(end) - music.seconds(start))
        found[-1].append((air, end, each.text))
        last_end = end
    return [Stretch(*zip(*each, strict=True)) for each in found]


halves = st.builds(Fraction, st.integers(1, 12), st.just(2))
natural = st.sampled_from([("-2", 1), ("2", -1), ("-4", 1), ("5", -1), ("10", -1)])


def one(reed: tuple[str, int], beats: Fraction) -> Blown:
    return Blown(f"{reed[0]}:{beats}", beats, reed[1], beats)


def slid(lengths: list[Fraction]) -> Blown:
    """A slide to and fro between draw 3 and its bend."""
    reeds = ["-3", "-3''"] * len(lengths)
    text = "~".join(f"{reed}:{beats}" for reed, beats in zip(reeds, lengths, strict=False))
    return Blown(text, sum(lengths, Fraction(0)), 1, lengths[-1])


blown = st.one_of(
    st.builds(one, natural, halves),
    st.builds(one, natural, halves),
    st.builds(slid, st.lists(halves, min_size=2, max_size=4)),
    st.builds(one, st.just(("r", 0)), halves),
)
music = st.builds(
    Music,
    st.lists(blown, min_size=1, max_size=25).map(tuple),
    st.integers(20, 200),
    st.booleans(),
    st.integers(2, 5),
)
slow = st.integers(20, 42)  # at which half a beat leaves the time of a breath, and a fifth of it


@given(music)
def test_no_breath_lasts_longer_than_the_level_allows_unless_a_warning_says_so(
    music: Music,
) -> None:
    """Whatever is drawn and blown; the warnings are exactly those notes nobody can divide."""
    score = music.score
    over = [each for each in stretches(music, places(score)) if each.reach_s > MOST_S]
    assert all(len(each.texts) == 1 for each in over)
    told = [each for each in score.warnings if "in one breath" in each.fact]
    assert len(told) == len(over)
    for caution, each in zip(told, over, strict=True):
        reed = each.texts[0].partition(":")[0]
        breath = "draw" if reed.startswith("-") else "blow"
        assert caution.fact.startswith(f"{breath} {reed.strip(chr(39) + '-')}")
        assert "at level 4, 10 seconds one way are the most" in caution.fact
        assert caution.span.width == len(each.texts[0].partition("~")[0])


@given(music)
def test_a_breath_leaves_half_a_second_of_silence_or_a_warning_says_so(music: Music) -> None:
    """The note before it goes on sounding for a fifth of its length at least."""
    score = music.score
    beat_s = Fraction(60, music.tempo)
    sung = [(note, *score.sounding(note)) for note in score.notes]
    tight = False
    for (note, start, length), (_, after, _) in pairwise(sung):
        breath = score.breath_after(note)
        whole = score.performed(note.end) - score.performed(note.start)
        if breath is None:
            assert length == whole
            continue
        gap_s = (after - start - length) * beat_s
        assert gap_s >= breath.seconds
        assert length >= whole / 5
        tight |= breath.seconds < REST_S
        if breath.seconds < REST_S:
            assert (length, breath.rest) == (whole / 5, Fraction(0)), "as much as there is"
    assert tight == any("there is no time for it" in each.fact for each in score.warnings)


@given(music)
def test_a_breath_stands_between_two_attacks_and_never_inside_a_slide(music: Music) -> None:
    score = music.score
    ends = [end for _, end, _ in music.sounding]
    assert set(places(score)) <= set(ends[:-1]), "after an attack, and not after the last"
    assert list(places(score)) == sorted(set(places(score))), "one at a time"


@given(music)
def test_bars_add_up_with_the_rests_of_breaths(music: Music) -> None:
    """A written rest takes half of its note at most, and nothing else moves."""
    score = music.score
    assert all(sum(each.length for each in bar) == music.meter for bar in bars(score))
    plain = without_breaths(score)
    starts = [start for start, _, _ in music.sounding]
    assert [attack[0].start for attack in plain.attacks()] == starts
    ends = [end for _, end, _ in music.sounding]
    assert [attack[-1].end for attack in plain.attacks()] == ends
    for note, before in zip(score.notes, plain.notes, strict=True):
        breath = score.breath_after(note)
        assert note.length + (breath.rest if breath else 0) == before.length
        assert note.length >= before.length / 2
    assert with_breaths(plain).breaths == score.breaths


@given(music)
def test_no_breath_where_the_rests_are_enough(music: Music) -> None:
    rested = stretches(music, ())
    assume(all(each.reach_s <= MOST_S for each in rested))
    assert (music.score.breaths, music.score.warnings) == ((), ())


@given(music)
def test_air_goes_out_where_more_was_drawn_and_in_where_more_was_blown(music: Music) -> None:
    score = music.score
    net = {each.ends[-1]: each.air_s[-1] for each in stretches(music, places(score))}
    for breath in score.breaths:
        air_s = net[breath.at + breath.rest]
        if air_s:
            assert breath.way is (AirWay.OUT if air_s > 0 else AirWay.IN)


@given(st.lists(st.builds(one, natural, halves), min_size=1, max_size=25).map(tuple), slow)
def test_no_breath_before_half_of_the_air_is_used(attacks: tuple[Blown, ...], tempo: int) -> None:
    """Unless the very next attack would not fit; where every note leaves the time of a breath."""
    music = Music(attacks, tempo)
    found = places(music.score)
    for mark in found:
        here = next(each for each in stretches(music, found) if each.ends[-1] == mark)
        without = stretches(music, [each for each in found if each != mark])
        there = next(each for each in without if mark in each.ends)
        next_s = there.air_s[there.ends.index(mark) + 1]
        assert here.reach_s >= MOST_S / 2 or reach((*here.air_s, next_s)) > MOST_S


one_way = st.lists(st.one_of(
    st.builds(one, st.sampled_from([("-2", 1), ("-4", 1)]), halves),
    st.builds(slid, st.lists(halves, min_size=2, max_size=3)),
), min_size=1, max_size=25).map(tuple)  # fmt: skip


@given(one_way, slow, slow, st.integers(2, 5))
def test_a_slower_tempo_never_needs_fewer_breaths(
    attacks: tuple[Blown, ...], tempo: int, other: int, meter: int
) -> None:
    """Of music that only draws.

    With short rests it would be false: played slower they become long enough to breathe in.
    """
    slower, faster = (
        len(Music(attacks, bpm, meter=meter).score.breaths) for bpm in sorted([tempo, other])
    )
    assert slower >= faster


@given(one_way, slow, st.integers(2, 5))
def test_a_low_harp_never_needs_fewer_breaths_than_a_high_one(
    attacks: tuple[Blown, ...], tempo: int, meter: int
) -> None:
    music = Music(attacks, tempo, meter=meter)
    low, usual, high = (len(music.on(harp).breaths) for harp in ("low F", "C", "high G"))
    assert low >= usual == high


turned = st.lists(st.tuples(st.booleans(), halves), min_size=1, max_size=25)


@given(turned, st.integers(20, 200))
def test_blowing_for_drawing_and_drawing_for_blowing_is_breathed_alike(
    notes: list[tuple[bool, Fraction]], tempo: int
) -> None:
    """The lungs of the model are as far from full as from empty."""
    reeds = {True: ("-4", 1), False: ("4", -1)}
    one_voice = Music(tuple(one(reeds[draw], beats) for draw, beats in notes), tempo).score
    mirrored = Music(tuple(one(reeds[not draw], beats) for draw, beats in notes), tempo).score
    turn = {AirWay.OUT: AirWay.IN, AirWay.IN: AirWay.OUT}
    assert mirrored.breaths == tuple(
        replace(each, way=turn[each.way]) for each in one_voice.breaths
    )
    assert len(one_voice.warnings) == len(mirrored.warnings)


@given(one_way, st.integers(20, 200))
def test_music_that_only_draws_has_a_breath_for_every_ten_seconds_at_least(
    attacks: tuple[Blown, ...], tempo: int
) -> None:
    """A count from the whole length alone, but for the notes that are too long themselves."""
    music = Music(attacks, tempo)
    assume(all(music.seconds(each.beats) <= MOST_S for each in attacks))
    whole_s = music.seconds(sum((each.beats for each in attacks), Fraction(0)))
    assert len(music.score.breaths) >= -(-whole_s // MOST_S) - 1


# --- by hand ---


def score_of(play: str, tempo: int = 60, lines: str = "", harp: str = "C") -> Score:
    level = "" if "level" in lines else " level 4\n"
    [drill] = parse(f'drill "Air"\n{level}{lines} play {play}\n')
    return expand(drill, Harp.parse(harp), Position(2), tempo_bpm=tempo)


def out(at: str, rest: str = "0", seconds: str = "1/2") -> Breathing:
    return Breathing(Fraction(at), AirWay.OUT, Fraction(seconds), Fraction(rest))


def test_ten_seconds_are_one_breath_and_a_beat_more_is_two() -> None:
    assert score_of("-2:10").breaths == ()
    assert score_of("-2 -3 -2 -3 -2 -3 -2 -3 -2 -3").breaths == ()
    at_the_bar_line = (Fraction(8),)
    assert places(score_of("-2 -3 -2 -3 -2 -3 -2 -3 -2 -3 -2")) == at_the_bar_line


@pytest.mark.parametrize(
    ("level", "harp", "most"),
    [
        (1, "C", 6), (2, "C", 6), (3, "C", 8), (4, "C", 10), (5, "C", 10), (0, "C", 8),
        (1, "low F", 4), (3, "low F", 6), (5, "low F", 7), (1, "G", 6), (1, "low A", 4),
        (3, "high G", 8), (0, "low D", 6),
    ],
)  # fmt: skip
def test_beats_of_a_second_that_one_breath_holds(level: int, harp: str, most: int) -> None:
    """6, 8 and 10 by level, 8 without one; three quarters of it on harps under the G harp."""
    lines = f" level {level}\n" if level else ' about "No level"\n'
    assert score_of(f"-2 x{most}", lines=lines, harp=harp).breaths == ()
    assert len(score_of(f"-2 x{most + 1}", lines=lines, harp=harp).breaths) == 1


def test_drawing_and_blowing_in_turn_need_no_breath() -> None:
    assert score_of("(-2 2)x40").breaths == ()
    assert score_of("(-2 2)x40", tempo=20).breaths == ()


def test_what_was_blown_before_does_not_make_a_draw_longer() -> None:
    """Six seconds out and six in: at level 1 the draw itself is what counts."""
    [breath] = score_of("2:6 -2:6 -3 r", lines=" level 1\n").breaths
    assert (breath.at + breath.rest, breath.way) == (Fraction(12), AirWay.OUT)


def test_a_shuffle_that_always_draws_the_long_half_fills_the_lungs() -> None:
    """A third of a second each pair, at 60: full after thirty beats."""
    music = "(-2:1/2 2:1/2)x40"
    assert score_of(music).breaths == ()
    assert len(score_of(music, lines=" feel shuffle\n").breaths) >= 1


def test_half_a_second_of_rest_is_a_breath_and_less_is_not() -> None:
    """A rest of half a beat: 1/2 s at 60, less at 66, where the music is 10 10/11 s long."""
    assert score_of("-2:6 r:1/2 -3:6", tempo=60).breaths == ()
    assert places(score_of("-2:6 r:1/2 -3:6", tempo=66)) == (Fraction(6),)


def test_the_time_left_for_an_echo_is_a_breath() -> None:
    assert len(score_of("(-2:4 -3:4)x3").breaths) >= 2
    text = "drill \"A\"\n level 4\n anchor -2\n rungs -3 -3' -3''\n phrase anchor:4 rung:4\n"
    [with_echo] = parse(text + " echo\n")
    [without] = parse(text)
    assert expand(with_echo, Harp("C"), Position(2)).breaths == ()
    assert len(expand(without, Harp("C"), Position(2)).breaths) == 2


def test_a_written_rest_is_the_shortest_that_leaves_a_plain_note() -> None:
    """At 60 half a beat is half a second; of four beats it would leave three and a half."""
    assert score_of("-2:4 -3:4 -2:4").breaths == (out("7", "1"),)
    assert score_of("-2:4 -3:2 -3:2 -2:4").breaths == (out("15/2", "1/2"),)
    assert score_of("-2:4 -3:3 -3:1 -2:4").breaths == (out("15/2", "1/2"),)
    assert score_of("-2:4 -3:4 -2:4", tempo=80).breaths == ()
    assert score_of("-2:8 -3:8 -2:8", tempo=120).breaths == (out("14", "2"),)


def test_a_rest_is_not_written_where_it_would_take_more_than_half_of_the_note() -> None:
    """At 80 half a second is two thirds of a beat; a whole one would leave nothing of it."""
    score = score_of("-2 x15", tempo=80)
    assert score.breaths == (out("12"),)
    before = score.notes[11]
    assert (before.length, score.sounding(before)) == (Fraction(1), (Fraction(11), Fraction(1, 3)))


def test_a_rest_is_not_written_into_a_triplet() -> None:
    score = score_of("triplet(-2 -2 -2)x2 triplet(-3 -3 -3)", 20, " length 2\n meter 4/4\n")
    assert [each.rest for each in score.breaths] == [0] * len(score.breaths)
    assert score.breaths


def test_in_a_shuffle_the_short_half_of_a_beat_is_too_short_a_rest() -> None:
    """A third of a second at 60: the rest is a beat, or nothing is written."""
    assert score_of("-2:4 -3:2 -3:2 -2:4", lines=" feel shuffle\n").breaths == (out("7", "1"),)


def test_a_note_before_a_breath_goes_on_for_a_fifth_of_its_length() -> None:
    """Quarter notes at 120 last half a second, and a breath has four fifths of it."""
    score = score_of("-2 x24", tempo=120)
    assert score.breaths == (out("20", seconds="2/5"),)
    assert score.sounding(score.notes[19]) == (Fraction(19), Fraction(1, 5))


def test_a_longer_note_is_breathed_after_though_it_comes_early() -> None:
    """Of eighth notes at 120 and one half note: after that there is time."""
    score = score_of("-2:1/2 x6 -3:2 -2:1/2 x40", tempo=120)
    assert (score.breaths[0].at + score.breaths[0].rest, score.breaths[0].seconds) == (
        Fraction(5),
        REST_S,
    )


def test_at_another_tempo_a_breath_takes_the_same_time() -> None:
    """On the tempi of a ladder the drill is the same, and so are its breaths."""
    score = score_of("-2 x12", tempo=70)
    [breath] = score.breaths
    note = next(each for each in score.notes if each.end == breath.at)
    for tempo in (60, 70, 85):
        paced = replace(score, tempo_bpm=tempo)
        silent_s = paced.seconds(paced.performed(breath.at + breath.rest) - paced.silent_from(note))
        assert silent_s == REST_S


def test_one_note_that_is_too_long_is_a_warning_at_its_place() -> None:
    score = score_of("-2 -3':11 -2")
    [caution] = score.warnings
    span = caution.span
    assert caution.fact == (
        "draw 3 bent a semitone is held for 11 seconds in one breath; "
        "at level 4, 10 seconds one way are the most"
    )
    assert caution.instead == "Write a shorter note with a rest r after it, or a faster tempo."
    assert (span.line, span.column, span.width) == (3, 10, len("-3':11"))
    assert places(score) == (Fraction(1), Fraction(12)), "before it and after it"


def test_notes_too_short_to_breathe_between_are_one_warning_at_the_first_place() -> None:
    """Sixteenth notes at 60; a low harp's limit is said to be one."""
    [caution] = score_of("-2:1/4 x80", harp="low F").warnings
    assert caution.fact == (
        "a breath is due after this note, and there is no time for it; "
        "at level 4 on a low harp, 7.5 seconds one way are the most"
    )
    assert caution.instead == "Write a rest r or a longer note there."
    [first] = score_of("-2:1/4 x28 -4:1/4 x80").warnings
    assert "no time for it, nor after" not in first.fact
    [several] = score_of("-2:1/4 x36 -4:1/4 x40 -3:1/4 x40").warnings
    at_bar_lines = "and there is no time for it, nor after 2 more; at level 4"  # 8, 16 and 24
    assert at_bar_lines in several.fact


def test_a_gap_is_the_best_place_then_a_section_then_a_bar_line() -> None:
    gap = score_of("-2 -2 -2 -2 -2 -2 -2:3/4 r:1/4 -2 -2 -2 -2")
    assert places(gap) == (Fraction(27, 4),)
    text = 'drill "A"\n level 4\n meter 3/4\n play -2 x6\n section "B"\n  play -2 x6\n'
    assert places(expand(parse(text)[0], Harp("C"), Position(2))) == (Fraction(6),)
    assert places(score_of("-2 x12", lines=" meter 3/4\n")) == (Fraction(9),)
    long_note = score_of("-2 -2 -2:5/2 -2:3 -2 -2 -2", lines=" meter 12/4\n")
    assert places(long_note) == (Fraction(15, 2),)


def test_among_notes_of_one_length_the_end_of_a_beat_is_better_than_the_last_one() -> None:
    """Dotted quarters from the first half beat: they end on 5, 6 1/2, 8 and 9 1/2 of 10 beats."""
    score = score_of("-2:1/2" + " -2:3/2" * 7, lines=" meter 12/4\n")
    assert places(score) == (Fraction(8),)


@pytest.mark.parametrize(("first", "breath"), [("5", "5"), ("19/4", "33/4")])
def test_a_gap_is_taken_from_half_of_the_air_on(first: str, breath: str) -> None:
    """After five seconds of ten a short rest is taken, and before that the end of the next note."""
    second = Fraction(33, 4) - Fraction(1, 4) - Fraction(first)
    score = score_of(f"-2:{first} r:1/4 -2:{second} -2:3", lines=" meter 16/4\n")
    assert places(score) == (Fraction(breath),)


def test_full_lungs_are_not_told_to_fill_up() -> None:
    """Nine seconds drawn, then blown out again and on: the breath comes where air is short."""
    score = score_of("-2:9 2 x20 2 x2")
    late = [each for each in score.breaths if each.at > 18]
    assert late
    assert all(each.way is AirWay.IN for each in late)


# --- repeats ---


def test_a_breath_that_one_time_needs_has_every_time() -> None:
    """A bar that draws for four seconds, six times: without signs every second would do."""
    score = score_of("(-2 -3 -2:2 |)x6")
    assert places(score) == tuple(map(Fraction, range(4, 25, 4)))
    assert len(printed(score)) == 1
    assert {note.length for note in score.notes[2::3]} == {Fraction(3, 2)}


def test_times_that_end_otherwise_are_breathed_alike_in_what_they_share() -> None:
    score = score_of("(-2 -3 -2:2 | -3 -2 -3:2 |) 1st (4:4 |) 2nd (-4:4 |) 3rd (-4:4 |)")
    inside = [{each.at - start for each in score.breaths if start < each.at < start + 8}
              for start in (0, 12, 24)]  # fmt: skip
    assert inside[0] == inside[1] == inside[2] != set()
    assert len(printed(score)) == 4


repeated = st.lists(
    st.sampled_from(["-2", "-3'", "4", "-4:2", "-2:1/2", "r", "-3:3"]), min_size=1, max_size=6
)


@given(repeated, st.integers(2, 6), st.integers(40, 160))
def test_what_is_printed_once_is_played_alike_every_time(
    items: list[str], times: int, tempo: int
) -> None:
    beats = [Fraction(each.partition(":")[2] or 1) for each in items]
    whole = sum(beats, Fraction(0))
    fill = -(-whole // 4) * 4 - whole
    bar = " ".join([*items, *([f"-2:{fill}"] if fill else [])])
    assume("-" in bar or "4" in items)
    score = score_of(f"({bar} |)x{times} -2:4", tempo)
    span = whole + fill
    if len(printed(score)) == span // 4 + 1:
        each_time = [
            [(each.at - start, each.way, each.rest) for each in score.breaths
             if start < each.at <= start + span] for start in (span * n for n in range(times))
        ]  # fmt: skip
        assert all(each == each_time[0] for each in each_time)


@pytest.mark.parametrize("music", ["(-2 x100)x20", "((-2 2)x100)x10", "((-2:1/8 r:1/8)x100)x10"])
def test_two_thousand_notes_are_breathed_through_fast(music: str) -> None:
    """In some passes over the notes: one pass for each note took half a minute."""

    def seconds(count: str) -> float:
        [drill] = parse(f'drill "Long"\n tempo 300\n play {count}\n')
        began = time.process_time()
        expand(drill, Harp("C"), Position(2))
        return time.process_time() - began

    assert min(seconds(music) for _ in range(3)) < 1


def notes_of(score: Score) -> list[Any]:
    return [(n.start, n.reed) for n in score.notes]


def test_a_breath_moves_no_note() -> None:
    """The same notes begin at the same beats with it and without."""
    slow, fast = score_of("-2 x30", tempo=40), score_of("-2 x30", tempo=300)
    assert slow.breaths
    assert not fast.breaths
    assert notes_of(slow) == notes_of(fast)


def test_a_chord_that_is_held_too_long_takes_the_air_of_more_than_one_hole() -> None:
    """Half as much for each further hole, by hand: 4 seconds of three holes are as 8 of one."""
    [drill] = parse('drill "Held"\n  level 2\n  tempo 60\n  play -1&2&3:4 r:4 3:8\n')
    several, one = expand(drill, Harp("C"), Position(2)).warnings
    assert several.fact.startswith("draw 1, 2 and 3 take the air of 8 seconds in one breath;")
    assert one.fact.startswith("blow 3 is held for 8 seconds in one breath;")
