"""Where to breathe: the model of the lungs stated a second time and walked through music.

The model is common practice, no published source: drawing fills and blowing empties the
lungs by a second of air a second, ten seconds either way are the most, and half a second
of rest sets them back to the middle.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.score import Score
from reedmill.theory.positions import Position

MOST_S, REST_S = 10, Fraction(1, 2)


@dataclass(frozen=True)
class Blown:
    """One attack with the slides after it, or a rest: a word or several, and beats."""

    text: str
    beats: Fraction
    way: int  # 1 draws, -1 blows, 0 rests


@dataclass(frozen=True)
class Music:
    """Music at a tempo; a shuffle plays the second half of a beat at two thirds of it."""

    attacks: tuple[Blown, ...]
    tempo: int
    shuffle: bool = False
    meter: int = 4

    @property
    def score(self) -> Score:
        """What the project makes of it."""
        feel = "shuffle" if self.shuffle else "straight"
        words = " ".join(each.text for each in self.attacks)
        [drill] = parse(f'drill "Air"\n feel {feel}\n meter {self.meter}/4\n play {words}\n')
        return expand(drill, Harp("C"), Position(2), tempo_bpm=self.tempo)

    def seconds(self, beats: Fraction) -> Fraction:
        """When the notated place *beats*, a multiple of a half, is played."""
        late = Fraction(1, 6) if self.shuffle and beats % 1 else 0
        return (beats + late) * 60 / self.tempo

    @property
    def sounding(self) -> list[tuple[Fraction, Fraction, int, str]]:
        """Start and end in beats, way, text of each attack that is not a rest."""
        now, found = Fraction(0), []
        for each in self.attacks:
            if each.way:
                found.append((now, now + each.beats, each.way, each.text))
            now += each.beats
        return found


@dataclass(frozen=True)
class Filled:
    """The lungs after an attack: seconds of air, and whether it is the first since a breath."""

    air_s: Fraction
    first: bool
    end: Fraction  # beats
    text: str
    own_s: Fraction


def lungs(music: Music, breaths: set[Fraction]) -> list[Filled]:
    """The air after every attack, with a breath at *breaths* (beats) and in every long rest."""
    air, found, last_end = Fraction(0), [], None
    for start, end, way, text in music.sounding:
        own_s = music.seconds(end) - music.seconds(start)
        gap_s = music.seconds(start) - music.seconds(last_end) if last_end is not None else 0
        fresh = last_end is None or last_end in breaths or gap_s >= REST_S
        air = (0 if fresh else air) + way * own_s
        found.append(Filled(air, fresh, end, text, own_s))
        last_end = end
    return found


halves = st.builds(Fraction, st.integers(1, 12), st.just(2))
natural = st.sampled_from([("-2", 1), ("2", -1), ("-4", 1), ("5", -1), ("10", -1)])


def one(reed: tuple[str, int], beats: Fraction) -> Blown:
    return Blown(f"{reed[0]}:{beats}", beats, reed[1])


def slid(lengths: list[Fraction]) -> Blown:
    """A slide to and fro between draw 3 and its bend."""
    reeds = ["-3", "-3''"] * len(lengths)
    text = "~".join(f"{reed}:{beats}" for reed, beats in zip(reeds, lengths, strict=False))
    return Blown(text, sum(lengths, Fraction(0)), 1)


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


@given(music)
def test_no_breath_lasts_longer_than_ten_seconds_unless_a_warning_says_so(music: Music) -> None:
    """Whatever is drawn and blown; the warnings are exactly those notes nobody can divide."""
    score = music.score
    found = lungs(music, set(score.breathe_at))
    over = [each for each in found if abs(each.air_s) > MOST_S]
    assert all(each.first and each.own_s > MOST_S for each in over)
    assert len(score.warnings) == len(over)
    for caution, each in zip(score.warnings, over, strict=True):
        reed = each.text.partition(":")[0]
        breath = "draw" if reed.startswith("-") else "blow"
        assert caution.fact.startswith(f"{breath} {reed.strip(chr(39) + '-')}")
        assert "more than 10 seconds" in caution.fact
        assert caution.span.width == len(each.text.partition("~")[0])


@given(music)
def test_a_breath_stands_between_two_attacks_and_never_inside_a_slide(music: Music) -> None:
    score = music.score
    ends = [end for _, end, _, _ in music.sounding]
    assert set(score.breathe_at) <= set(ends[:-1]), "after an attack, and not after the last"
    assert list(score.breathe_at) == sorted(set(score.breathe_at))


@given(music)
def test_no_breath_where_the_rests_are_enough(music: Music) -> None:
    rested = lungs(music, set())
    assume(all(abs(each.air_s) <= MOST_S for each in rested))
    assert (music.score.breathe_at, music.score.warnings) == ((), ())


@given(music)
def test_no_breath_before_half_of_the_air_is_used(music: Music) -> None:
    """Unless the very next attack would not fit; and never at a rest that is a breath already."""
    score = music.score
    found = lungs(music, set(score.breathe_at))
    without = {each.end: each for each in found}
    for at, mark in enumerate(score.breathe_at):
        others = set(score.breathe_at) - {mark}
        following = next(f for f in lungs(music, others) if f.end > mark)
        assert not following.first, "a long rest follows"
        half = abs(without[mark].air_s) >= MOST_S / 2
        assert half or abs(following.air_s) > MOST_S, (at, mark)


one_way = st.lists(st.one_of(
    st.builds(one, st.sampled_from([("-2", 1), ("-4", 1)]), halves),
    st.builds(slid, st.lists(halves, min_size=2, max_size=3)),
), min_size=1, max_size=25).map(tuple)  # fmt: skip


@given(one_way, st.integers(20, 200), st.integers(20, 200), st.integers(2, 5))
def test_a_slower_tempo_never_needs_fewer_breaths(
    attacks: tuple[Blown, ...], tempo: int, other: int, meter: int
) -> None:
    """Of music that only draws.

    With short rests it would be false: played slower they become long enough to breathe in.
    """
    slow, fast = (
        len(Music(attacks, bpm, meter=meter).score.breathe_at) for bpm in sorted([tempo, other])
    )
    assert slow >= fast


turned = st.lists(st.tuples(st.booleans(), halves), min_size=1, max_size=25)


@given(turned, st.integers(20, 200))
def test_blowing_for_drawing_and_drawing_for_blowing_is_breathed_alike(
    notes: list[tuple[bool, Fraction]], tempo: int
) -> None:
    """The lungs of the model are as far from full as from empty."""
    reeds = {True: ("-4", 1), False: ("4", -1)}
    one_voice = Music(tuple(one(reeds[draw], beats) for draw, beats in notes), tempo).score
    mirrored = Music(tuple(one(reeds[not draw], beats) for draw, beats in notes), tempo).score
    assert one_voice.breathe_at == mirrored.breathe_at
    assert len(one_voice.warnings) == len(mirrored.warnings)


@given(one_way, st.integers(20, 200))
def test_music_that_only_draws_has_a_breath_for_every_ten_seconds_at_least(
    attacks: tuple[Blown, ...], tempo: int
) -> None:
    """A count from the whole length alone, but for the notes that are too long themselves."""
    music = Music(attacks, tempo)
    assume(all(music.seconds(each.beats) <= MOST_S for each in attacks))
    whole_s = music.seconds(sum((each.beats for each in attacks), Fraction(0)))
    assert len(music.score.breathe_at) >= -(-whole_s // MOST_S) - 1


# --- by hand ---


def score_of(play: str, tempo: int = 60, lines: str = "") -> Score:
    [drill] = parse(f'drill "Air"\n{lines} play {play}\n')
    return expand(drill, Harp("C"), Position(2), tempo_bpm=tempo)


def test_ten_seconds_are_one_breath_and_a_beat_more_is_two() -> None:
    assert score_of("-2:10").breathe_at == ()
    assert score_of("-2 -3 -2 -3 -2 -3 -2 -3 -2 -3").breathe_at == ()
    at_the_bar_line = (Fraction(8),)
    assert score_of("-2 -3 -2 -3 -2 -3 -2 -3 -2 -3 -2").breathe_at == at_the_bar_line


def test_drawing_and_blowing_in_turn_need_no_breath() -> None:
    assert score_of("(-2 2)x40").breathe_at == ()
    assert score_of("(-2 2)x40", tempo=20).breathe_at == ()


def test_a_shuffle_that_always_draws_the_long_half_fills_the_lungs() -> None:
    """A third of a second each pair, at 60: full after thirty beats."""
    music = "(-2:1/2 2:1/2)x40"
    assert score_of(music).breathe_at == ()
    assert len(score_of(music, lines=" feel shuffle\n").breathe_at) == 1


def test_half_a_second_of_rest_is_a_breath_and_less_is_not() -> None:
    """A rest of half a beat: 1/2 s at 60, less at 66, where the music is 10 10/11 s long."""
    assert score_of("-2:6 r:1/2 -3:6", tempo=60).breathe_at == ()
    assert score_of("-2:6 r:1/2 -3:6", tempo=66).breathe_at == (Fraction(6),)


def test_the_time_left_for_an_echo_is_a_breath() -> None:
    assert len(score_of("(-2:4 -3:4)x3").breathe_at) == 2
    text = "drill \"A\"\n anchor -2\n rungs -3 -3' -3''\n phrase anchor:4 rung:4\n"
    [with_echo] = parse(text + " echo\n")
    [without] = parse(text)
    assert expand(with_echo, Harp("C"), Position(2)).breathe_at == ()
    assert len(expand(without, Harp("C"), Position(2)).breathe_at) == 2


def test_one_note_that_is_too_long_is_a_warning_at_its_place() -> None:
    score = score_of("-2 -3':11 -2")
    [caution] = score.warnings
    span = caution.span
    assert caution.fact == "draw 3 bent a semitone is held for more than 10 seconds of one breath"
    assert (span.line, span.column, span.width) == (2, 10, len("-3':11"))
    assert score.breathe_at == (Fraction(1), Fraction(12)), "before it and after it"


def test_a_gap_is_the_best_place_then_a_section_then_a_bar_line() -> None:
    gap = score_of("-2 -2 -2 -2 -2 -2 -2:3/4 r:1/4 -2 -2 -2 -2")
    assert gap.breathe_at == (Fraction(27, 4),)
    section = parse('drill "A"\n meter 3/4\n play -2 x6\n section "B"\n  play -2 x6\n')[0]
    assert expand(section, Harp("C"), Position(2)).breathe_at == (Fraction(6),)
    assert score_of("-2 x12", lines=" meter 3/4\n").breathe_at == (Fraction(9),)
    long_note = score_of("-2 -2 -2:5/2 -2:3 -2 -2 -2", lines=" meter 12/4\n")
    assert long_note.breathe_at == (Fraction(15, 2),)


def test_among_notes_of_one_length_the_end_of_a_beat_is_better_than_the_last_one() -> None:
    """Dotted quarters from the first half beat: they end on 5, 6 1/2, 8 and 9 1/2 of 10 beats."""
    score = score_of("-2:1/2" + " -2:3/2" * 7, lines=" meter 12/4\n")
    assert score.breathe_at == (Fraction(8),)


@pytest.mark.parametrize(("first", "breath"), [("5", "5"), ("19/4", "33/4")])
def test_a_gap_is_taken_from_half_of_the_air_on(first: str, breath: str) -> None:
    """After five seconds of ten a short rest is taken, and before that the end of the next note."""
    second = Fraction(33, 4) - Fraction(1, 4) - Fraction(first)
    score = score_of(f"-2:{first} r:1/4 -2:{second} -2:3", lines=" meter 16/4\n")
    assert score.breathe_at == (Fraction(breath),)


def test_full_lungs_are_not_told_to_fill_up() -> None:
    """Nine seconds drawn, then blown out again and on: the breath comes where air is short."""
    score = score_of("-2:9 2 x20 2 x2")
    [breath] = score.breathe_at
    assert 9 + 9 + 5 <= breath <= 9 + 9 + 10


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
    return [(n.start, n.length, n.reed) for n in score.notes]


def test_a_breath_changes_no_note() -> None:
    """A mark is a mark: the same notes come with it and without."""
    slow, fast = score_of("-2 x30", tempo=40), score_of("-2 x30", tempo=300)
    assert slow.breathe_at
    assert not fast.breathe_at
    assert notes_of(slow) == notes_of(fast)
